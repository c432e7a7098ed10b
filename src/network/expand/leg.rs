//! A leg becomes pieces: pipe and fittings as losses in series, valves with a law of their own as pieces between.

use super::build::Builder;
use super::lookup::{self, short};
use super::piece::Piece;
use super::surroundings;
use crate::catalogue::{Catalogue, Class, Loss, Pipe};
use crate::diag::{Diagnostic, Span};
use crate::network::{Law, Part, PartGroup, PartLaw, Role};
use crate::quantity::Metre;
use crate::survey::{Item, ItemKind, Leg, LossAt, PipeSize, Side};

/// A pipe to go on with after one that the catalogue does not know; the run's error stops the work later.
const STAND_IN_M: Metre = Metre(0.0202);

/// A leg's pipe and what it becomes, in the order in which the water meets it.
pub(super) struct LaidLeg {
    pub pipe: Pipe,
    pub pieces: Vec<Piece>,
}

/// How a leg is laid.
#[derive(Clone, Copy)]
pub(super) struct Laying {
    /// Which pipe of a pair it is; `None` for a single pipe, which gets every item.
    pub side: Option<Side>,
    /// The water meets the items in the opposite order to the writing.
    pub reversed: bool,
    /// Group of the pipe's friction: an emitter's own for a floor loop.
    pub friction: PartGroup,
}

impl Laying {
    /// One pipe of a pair.
    pub fn pair(side: Side) -> Self {
        Self {
            side: Some(side),
            reversed: side == Side::Return,
            friction: PartGroup::Pipe,
        }
    }

    /// A single pipe in the direction of its flow.
    pub fn single() -> Self {
        Self {
            side: None,
            reversed: false,
            friction: PartGroup::Pipe,
        }
    }
}

impl Builder<'_> {
    /// The pipe of a leg at its likeliest, with its condition worked in.
    pub fn leg_pipe(&mut self, leg: &Leg, subject: &str) -> Pipe {
        let catalogue = Catalogue::embedded();
        let option = lookup::likeliest(&leg.pipe);
        let mut pipe = match option.map(|o| &o.pipe) {
            Some(PipeSize::Bore { bore, roughness }) => {
                let pipe = Pipe::of_bore(bore.likeliest, *roughness);
                if roughness.is_none() {
                    let said = format!(
                        "roughness {} mm of a pipe known by its bore",
                        short(pipe.roughness.0 * 1e3)
                    );
                    self.assume(subject, &said, &pipe.roughness_source);
                }
                Pipe {
                    word: pipe.size.clone(),
                    ..pipe
                }
            }
            Some(PipeSize::Word(word)) => match catalogue.pipe(word) {
                Some(pipe) => {
                    let said = format!(
                        "{} roughness {} mm",
                        pipe.material,
                        short(pipe.roughness.0 * 1e3)
                    );
                    if leg.condition.is_none() {
                        self.assume("pipes", &said, &pipe.roughness_source);
                    }
                    pipe.clone()
                }
                None => {
                    let span = option.map_or(leg.span.clone(), |o| o.span.clone());
                    self.faults.push(Diagnostic::error(
                        "unknown-pipe",
                        span,
                        format!("`{word}` is no pipe of the catalogue"),
                    ));
                    Pipe::of_bore(STAND_IN_M, None)
                }
            },
            None => Pipe::of_bore(STAND_IN_M, None),
        };
        if let Some(word) = &leg.condition {
            self.age(&mut pipe, word, leg, subject);
        }
        pipe
    }

    /// Works age and condition into a pipe: likeliest, or one end of the band.
    fn age(&mut self, pipe: &mut Pipe, word: &str, leg: &Leg, subject: &str) {
        let (plain, band) = Band::of(word);
        let Some(row) = Catalogue::embedded().condition(plain, &pipe.material) else {
            self.faults.push(Diagnostic::error(
                "unknown-condition",
                leg.span.clone(),
                format!("`{plain}` says nothing about the condition of a pipe"),
            ));
            return;
        };
        let pick = |(likeliest, low, high): (Metre, Metre, Metre)| match band {
            Band::Likeliest => likeliest,
            Band::Best => low,
            Band::Worst => high,
        };
        pipe.roughness = pick(row.roughness);
        // a bore can shrink, never vanish
        let loss = pick(row.bore_loss).0.min(0.5 * pipe.bore.0);
        pipe.bore = Metre(pipe.bore.0 - loss);
        let said = format!(
            "{plain}: roughness {} mm, {} mm off the bore",
            short(pipe.roughness.0 * 1e3),
            short(loss * 1e3)
        );
        self.assume(subject, &said, &row.source);
    }

    /// Pieces of one pipe of a leg.
    pub fn lay(&mut self, leg: &Leg, subject: &str, how: Laying) -> LaidLeg {
        let pipe = self.leg_pipe(leg, subject);
        let length_m = leg.length.likeliest.0;
        let mut parts: Vec<Part> = Vec::new();
        let mut pieces: Vec<Piece> = Vec::new();
        let heat = surroundings::heat(self, leg, &pipe, subject);
        let volume_m3 = pipe.water_per_metre().0 * length_m;
        let friction = Part {
            group: how.friction,
            words: format!("{}, {} m", pipe.size, short(length_m)),
            symbol: String::new(),
            count: 1,
            law: PartLaw::Friction {
                length_m,
                bore_m: pipe.bore.0,
                roughness_m: pipe.roughness.0,
            },
            source: pipe.source.clone(),
            span: Some(leg.span.clone()),
        };
        let mut pipe_laid = false;
        let mut close = |parts: &mut Vec<Part>, pieces: &mut Vec<Piece>, pipe_in: bool| {
            if parts.is_empty() {
                return;
            }
            let words = if pieces.iter().any(|p: &Piece| p.words.is_empty()) {
                "rest"
            } else {
                ""
            };
            let mut piece = Piece::parts(
                words,
                Role::Pipe,
                std::mem::take(parts),
                Some(leg.span.clone()),
            );
            if pipe_in && !pipe_laid {
                pipe_laid = true;
                piece = piece.heat(heat).volume(volume_m3);
            }
            pieces.push(piece);
        };
        // the pipe is one part: where along it an item sits changes nothing
        if !how.reversed {
            parts.push(friction.clone());
        }
        let here =
            |item: &&Item| how.side.is_none() || item.side.is_none() || item.side == how.side;
        let items: Vec<&Item> = leg.items.iter().filter(here).collect();
        let ordered: Vec<&Item> = if how.reversed {
            items.into_iter().rev().collect()
        } else {
            items
        };
        for item in ordered {
            match self.item(item, &pipe, length_m) {
                ItemLaw::Part(part) => parts.push(part),
                ItemLaw::Own(piece) => {
                    let pipe_in = parts.iter().any(is_friction);
                    close(&mut parts, &mut pieces, pipe_in);
                    for _ in 0..item.count.clamp(1, 8) {
                        pieces.push(piece.clone());
                    }
                }
                ItemLaw::Nothing => {}
            }
        }
        if how.reversed {
            parts.push(friction);
        }
        let pipe_in = parts.iter().any(is_friction);
        close(&mut parts, &mut pieces, pipe_in);
        LaidLeg { pipe, pieces }
    }

    fn item(&mut self, item: &Item, pipe: &Pipe, length_m: f64) -> ItemLaw {
        let count = f64::from(item.count);
        let counted = |words: &str| match item.count {
            1 => words.to_owned(),
            n => format!("{n} {words}"),
        };
        let part = |group, words: &str, symbol: &str, law, source: &str| {
            ItemLaw::Part(Part {
                group,
                words: counted(words),
                symbol: symbol.to_owned(),
                count: item.count,
                law,
                source: source.to_owned(),
                span: Some(item.span.clone()),
            })
        };
        // n alike in series: each its own loss, so the kv of all is kv/√n
        let in_series = |kv: f64| PartLaw::Kv {
            kv_m3h: kv / count.max(1.0).sqrt(),
        };
        let bore_m = pipe.bore.0;
        match &item.kind {
            ItemKind::Zeta(zeta) => {
                let law = PartLaw::Zeta {
                    zeta: zeta * count,
                    bore_m,
                };
                part(
                    PartGroup::Fittings,
                    &format!("ζ {}", short(*zeta)),
                    "",
                    law,
                    crate::network::THE_FILE,
                )
            }
            ItemKind::Kv(kv) => part(
                PartGroup::Devices,
                &format!("kv {}", short(kv.0)),
                "",
                in_series(kv.0),
                crate::network::THE_FILE,
            ),
            ItemKind::Loss(loss) => part(
                PartGroup::Devices,
                "device",
                "",
                self.loss(*loss, count),
                crate::network::THE_FILE,
            ),
            ItemKind::FrictionShare(share) => {
                let law = PartLaw::Friction {
                    length_m: length_m * share * count,
                    bore_m,
                    roughness_m: pipe.roughness.0,
                };
                let words = format!("bends, {} % of the pipe", short(share * 100.0));
                part(
                    PartGroup::Fittings,
                    &words,
                    "bend",
                    law,
                    crate::network::THE_FILE,
                )
            }
            ItemKind::Named {
                word,
                kv,
                insert,
                opening,
                holds,
            } => {
                let catalogue = Catalogue::embedded();
                let (Some(row), Some(known)) = (
                    catalogue.item(word),
                    catalogue.item_loss(word, pipe, *insert),
                ) else {
                    self.faults.push(Diagnostic::error(
                        "unknown-item",
                        item.span.clone(),
                        format!("`{word}` is no fitting or device of the catalogue"),
                    ));
                    return ItemLaw::Nothing;
                };
                let symbol = row.word.as_str();
                let group = match row.class {
                    Class::Fitting => PartGroup::Fittings,
                    Class::Valve => PartGroup::Valves,
                    Class::Device => PartGroup::Devices,
                };
                let own = |law: Law, role: Role| {
                    let piece = Piece::parts(symbol, role, Vec::new(), Some(item.span.clone()));
                    ItemLaw::Own(Piece { law, ..piece })
                };
                match (known.loss, kv) {
                    (Loss::OneWay(opens, usual), kv) => {
                        let opening_pa = opening.unwrap_or(opens).0;
                        let kv_m3h = kv.unwrap_or(usual).0;
                        if kv.is_none() || opening.is_none() {
                            let said = format!(
                                "{symbol} opens at {} kPa, kv {}",
                                short(opening_pa / 1e3),
                                short(kv_m3h)
                            );
                            self.assume("valves", &said, &known.source);
                        }
                        own(Law::OneWay { opening_pa, kv_m3h }, Role::CheckValve)
                    }
                    (Loss::Hold(usual), kv) => {
                        let Some(holds) = holds else {
                            self.faults.push(
                                Diagnostic::error(
                                    "holds-missing",
                                    item.span.clone(),
                                    format!("`{word}` does not say which flow it holds"),
                                )
                                .label("its flow is missing")
                                .help(format!("write `{symbol} holds 6 l/min`")),
                            );
                            return ItemLaw::Nothing;
                        };
                        let kv_m3h = kv.unwrap_or(usual).0;
                        if kv.is_none() {
                            self.assume(
                                "valves",
                                &format!("{symbol} kv {}", short(kv_m3h)),
                                &known.source,
                            );
                        }
                        let flow_kg_s = holds.0 * self.density(self.mean_c());
                        own(Law::HoldFlow { flow_kg_s, kv_m3h }, Role::FlowHolder)
                    }
                    (_, Some(kv)) => part(
                        group,
                        symbol,
                        symbol,
                        in_series(kv.0),
                        crate::network::THE_FILE,
                    ),
                    (Loss::Kv(usual), None) => {
                        self.assume(
                            "valves and devices",
                            &format!("{symbol} kv {}", short(usual.0)),
                            &known.source,
                        );
                        part(group, symbol, symbol, in_series(usual.0), &known.source)
                    }
                    (Loss::Zeta(zeta), None) => {
                        self.fittings_note(&known.source);
                        let law = PartLaw::Zeta {
                            zeta: zeta * count,
                            bore_m,
                        };
                        part(group, symbol, symbol, law, &known.source)
                    }
                    (Loss::Length(each), None) => {
                        self.fittings_note(&known.source);
                        let law = PartLaw::Friction {
                            length_m: each.0 * count,
                            bore_m,
                            roughness_m: pipe.roughness.0,
                        };
                        part(group, symbol, symbol, law, &known.source)
                    }
                    (Loss::None, None) => {
                        let law = PartLaw::Zeta { zeta: 0.0, bore_m };
                        part(group, symbol, symbol, law, &known.source)
                    }
                }
            }
        }
    }

    fn fittings_note(&mut self, source: &str) {
        self.assume(
            "fittings",
            "losses by the catalogue, give or take 30 %",
            source,
        );
    }

    /// A loss at a flow, `count` times.
    pub fn loss(&self, loss: LossAt, count: f64) -> PartLaw {
        PartLaw::Power {
            dp_ref_pa: self.pascal(loss.loss) * count,
            q_ref_m3h: loss.flow.0 * 3600.0,
            exponent: loss.exponent,
        }
    }

    /// The loss of a thing whose own loss was written (a coil, an emitter, one side of an exchanger).
    pub fn own_loss(
        &self,
        words: &str,
        group: PartGroup,
        kind: &ItemKind,
        bore_m: Option<f64>,
        span: &Span,
    ) -> Part {
        let law = match kind {
            ItemKind::Kv(kv) | ItemKind::Named { kv: Some(kv), .. } => PartLaw::Kv { kv_m3h: kv.0 },
            ItemKind::Zeta(zeta) => PartLaw::Zeta {
                zeta: *zeta,
                bore_m: bore_m.unwrap_or(0.0202),
            },
            ItemKind::Loss(loss) => self.loss(*loss, 1.0),
            ItemKind::Named { .. } | ItemKind::FrictionShare(_) => PartLaw::Zeta {
                zeta: 0.0,
                bore_m: bore_m.unwrap_or(0.0202),
            },
        };
        Part {
            group,
            words: words.to_owned(),
            symbol: String::new(),
            count: 1,
            law,
            source: crate::network::THE_FILE.to_owned(),
            span: Some(span.clone()),
        }
    }
}

enum ItemLaw {
    Part(Part),
    Own(Piece),
    Nothing,
}

fn is_friction(part: &Part) -> bool {
    matches!(part.law, PartLaw::Friction { .. })
}

/// Which value of a condition's band is used. The alternatives of a doubt write it behind the word, which no file can.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Band {
    Likeliest,
    Best,
    Worst,
}

impl Band {
    const BEST: &str = "\u{0}best";
    const WORST: &str = "\u{0}worst";

    /// A condition's word with the end of its band.
    pub fn on(self, word: &str) -> String {
        match self {
            Band::Likeliest => word.to_owned(),
            Band::Best => format!("{word}{}", Self::BEST),
            Band::Worst => format!("{word}{}", Self::WORST),
        }
    }

    fn of(word: &str) -> (&str, Self) {
        if let Some(plain) = word.strip_suffix(Self::BEST) {
            (plain, Band::Best)
        } else if let Some(plain) = word.strip_suffix(Self::WORST) {
            (plain, Band::Worst)
        } else {
            (word, Band::Likeliest)
        }
    }
}
