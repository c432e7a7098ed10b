//! What follows pipe and length: fittings, devices and losses in the order met, and words about the run itself.

use super::{Reader, clip};
use crate::diag::nearest;
use crate::quantity::{Kv, Metre, Pressure, VolumeFlow};
use crate::survey::{Item, ItemKind, Leg, LossAt, PipeSize, Side};
use crate::units::{self, Quantity, Sign};

/// Words of the language itself, for `did you mean`.
const KEYWORDS: [&str; 8] = [
    "zeta", "kv", "loss", "lagging", "storey", "fittings", "insert", "holds",
];

const MOST_OF_ONE: u32 = 10_000;

impl Reader<'_, '_> {
    /// One part of the leg after its length.
    pub(super) fn part(&mut self, leg: &mut Leg, comma: bool) {
        self.cursor.skip_blanks();
        let start = self.cursor.at;
        if self.run_word(leg, start) {
            return;
        }
        if self.cursor.eat_word(&["on"]) {
            self.side_of_last(leg, start);
            return;
        }
        if !comma && self.qualifier(leg) {
            return;
        }
        let count = match self.count() {
            Ok(count) => count,
            Err(()) => return,
        };
        let begun = self.cursor.at;
        if let Some(kind) = self.item_kind(start, count) {
            leg.items.push(Item {
                count: count.unwrap_or(1),
                kind,
                side: None,
                span: (self.place)(start..self.cursor.at.max(begun)),
            });
        }
    }

    /// Words about the run: where it lies, lagging, storey, condition. True if one was met.
    fn run_word(&mut self, leg: &mut Leg, start: usize) -> bool {
        let text = self.cursor.text;
        for phrase in self.cursor.phrases(4) {
            let words = &text[phrase.clone()];
            if let Some(lies) = self.catalogue.lies(words) {
                self.cursor.at = phrase.end;
                if leg.lies.is_some_and(|old| old != lies) {
                    self.mistake("place-twice", phrase, |d| {
                        d.message =
                            format!("`{}`: this leg already lies somewhere else", clip(words));
                        d.label = "one leg lies in one place".into();
                        d.help = Some("write a second run for the other stretch".into());
                    });
                }
                leg.lies = Some(lies);
                return true;
            }
            let lower = words.to_lowercase();
            if self.catalogue.conditions.iter().any(|c| c.word == lower) {
                self.cursor.at = phrase.end;
                leg.condition = Some(lower);
                return true;
            }
        }
        if self.cursor.eat_word(&["lagging", "lagged"]) {
            if let Some(read) = self.prefix(Quantity::Size, "lagging") {
                leg.lagging = Some(Metre(read.value));
            }
            return true;
        }
        if self.cursor.eat_word(&["storey"]) {
            leg.storey = self.cursor.quoted();
            if leg.storey.is_none() {
                self.mistake("storey-missing", start..self.cursor.at, |d| {
                    d.message = "storey: its name is missing".into();
                    d.label = "expected a name after this".into();
                    d.help = Some("for example `storey ground` or `storey 'first floor'`".into());
                });
            }
            return true;
        }
        false
    }

    fn side_of_last(&mut self, leg: &mut Leg, start: usize) {
        let side = if self.cursor.eat_word(&["flow"]) {
            Side::Flow
        } else if self.cursor.eat_word(&["return"]) {
            Side::Return
        } else {
            let range = self.cursor.word_or_end();
            let word = clip(&self.cursor.text[range.clone()]);
            self.mistake("side-wrong", range.clone(), |d| {
                d.message = format!("`on {word}` names no pipe of a pair");
                d.label = "expected `flow` or `return`".into();
                d.help = Some(format!(
                    "did you mean `on {}`?",
                    nearest(&word, ["flow", "return"]).unwrap_or("return")
                ));
            });
            self.cursor.at = self.cursor.at.max(range.end);
            return;
        };
        match leg.items.last_mut() {
            Some(item) => {
                item.side = Some(side);
                item.span.end = item.span.end.max((self.place)(start..self.cursor.at).end);
            }
            None if self.mistakes.is_empty() => {
                self.mistake("side-wrong", start..self.cursor.at, |d| {
                    d.message = "there is nothing before this that could sit on one pipe".into();
                    d.label = "expected after a fitting or device".into();
                    d.help = Some("for example `strainer kv 9 on return`".into());
                })
            }
            None => {}
        }
    }

    /// `kv 9`, `insert 9mm`, `opens at 1kPa`, `holds 12 l/min` of the item just read.
    fn qualifier(&mut self, leg: &mut Leg) -> bool {
        let start = self.cursor.at;
        let Some(Item {
            kind:
                ItemKind::Named {
                    kv,
                    insert,
                    opening,
                    holds,
                    ..
                },
            ..
        }) = leg.items.last_mut()
        else {
            return false;
        };
        let next = self.cursor.word_or_end();
        let next = self.cursor.text[next].to_ascii_lowercase();
        let bare = next.trim_end_matches(|c: char| c.is_ascii_digit() || c == '.');
        match bare {
            "kv" | "cv" | "kvs" if kv.is_none() => match self.prefix(Quantity::Kv, "kv") {
                Some(read) => *kv = Some(Kv(read.value)),
                None => return true,
            },
            "insert" if insert.is_none() => {
                self.cursor.eat_word(&["insert"]);
                match self.prefix(Quantity::Size, "insert") {
                    Some(read) => *insert = Some(Metre(read.value)),
                    None => return true,
                }
            }
            "opens" | "opening" if opening.is_none() => {
                self.cursor.eat_word(&["opens", "opening"]);
                self.cursor.eat_word(&["at"]);
                match self.prefix(Quantity::Pressure, "opens at") {
                    Some(read) => *opening = Some(Pressure(read.value)),
                    None => return true,
                }
            }
            "holds" | "holding" if holds.is_none() => {
                self.cursor.eat_word(&["holds", "holding"]);
                match self.prefix(Quantity::Flow, "holds") {
                    Some(read) => *holds = Some(VolumeFlow(read.value)),
                    None => return true,
                }
            }
            _ => return false,
        }
        let end = (self.place)(start..self.cursor.at).end;
        if let Some(item) = leg.items.last_mut() {
            item.span.end = item.span.end.max(end);
        }
        true
    }

    /// `6`, `6x`, `6×` before an item.
    fn count(&mut self) -> Result<Option<u32>, ()> {
        if !self.cursor.at_number() {
            return Ok(None);
        }
        let start = self.cursor.at;
        let rest = self.cursor.rest();
        let digits = rest.bytes().take_while(u8::is_ascii_digit).count();
        let after = &rest[digits..];
        let whole = digits > 0 && !after.starts_with('.') && !after.starts_with('/');
        let count = rest[..digits]
            .parse::<u32>()
            .ok()
            .filter(|n| whole && (1..=MOST_OF_ONE).contains(n));
        let Some(count) = count else {
            let range = self.cursor.word_or_end();
            let word = clip(&self.cursor.text[range.clone()]);
            self.cursor.at = range.end;
            self.mistake("count-wrong", range, |d| {
                d.message = format!("`{word}` is not a number of fittings");
                d.label = "expected a whole number from 1".into();
                d.help =
                    Some("for example `6 elbow`; the length stands before the fittings".into());
            });
            return Err(());
        };
        self.cursor.advance(digits);
        for cross in ["x ", "× "] {
            if self.cursor.eat_str(cross) {
                break;
            }
        }
        self.cursor.skip_blanks();
        if self.cursor.at_end()
            || self.cursor.rest().starts_with([',', ';', '|', '?'])
            || self.cursor.at_number()
        {
            self.mistake("item-missing", start..start + digits, |d| {
                d.message = format!("{count} of what?");
                d.label = "expected a fitting or device after this number".into();
                d.help = Some(format!("for example `{count} elbow`"));
            });
            return Err(());
        }
        Ok(Some(count))
    }

    fn item_kind(&mut self, start: usize, count: Option<u32>) -> Option<ItemKind> {
        if count.is_none() && self.cursor.eat_word(&["fittings"]) {
            return self.friction_share(start);
        }
        let next = self.cursor.word_or_end();
        let next = self.cursor.text[next].to_lowercase();
        let bare = next.trim_end_matches(|c: char| c.is_ascii_digit() || c == '.');
        match bare {
            "zeta" | "ζ" => {
                let letters = bare.len();
                self.cursor.advance(letters);
                return Some(ItemKind::Zeta(
                    self.prefix(Quantity::Number, "zeta").and_then(|read| {
                        let fine = read.value >= 0.0;
                        if !fine {
                            self.mistake("number-negative", start..self.cursor.at, |d| {
                                d.message =
                                    "zeta: a loss coefficient in a leg cannot be negative".into();
                                d.label = "must be zero or more".into();
                                d.help = Some(
                                    "tees that gain pressure are counted by themselves".into(),
                                );
                            });
                        }
                        fine.then_some(read.value)
                    })?,
                ));
            }
            "kv" | "cv" | "kvs" => {
                return Some(ItemKind::Kv(Kv(self.prefix(Quantity::Kv, "kv")?.value)));
            }
            "loss" => {
                self.cursor.eat_word(&["loss"]);
                return self.loss();
            }
            _ => {}
        }
        let text = self.cursor.text;
        for phrase in self.cursor.phrases(4) {
            if let Some(item) = self.catalogue.item(&text[phrase.clone()]) {
                self.cursor.at = phrase.end;
                return Some(ItemKind::Named {
                    word: item.word.clone(),
                    kv: None,
                    insert: None,
                    opening: None,
                    holds: None,
                });
            }
        }
        self.unknown_word();
        None
    }

    fn friction_share(&mut self, start: usize) -> Option<ItemKind> {
        let read = self.prefix(Quantity::Share, "fittings")?;
        if read.value > 5.0 {
            self.mistake("share-wrong", start..self.cursor.at, |d| {
                d.message = "fittings: more than five times the pipe itself".into();
                d.label = "expected a share of the pipe's friction".into();
                d.help = Some("for example `fittings +20%`".into());
            });
            return None;
        }
        Some(ItemKind::FrictionShare(read.value))
    }

    /// `5 kPa at 6 l/min [exponent 1.8]` after `loss`.
    fn loss(&mut self) -> Option<ItemKind> {
        let loss = match units::prefix_head(self.value_text(), Sign::Positive) {
            Ok((head, len)) => {
                self.cursor.advance(len);
                head
            }
            Err(error) => {
                self.value_mistake(&error, "loss");
                return None;
            }
        };
        if !self.cursor.eat_word(&["at"]) {
            self.mistake("loss-flow-missing", self.cursor.word_or_end(), |d| {
                d.message = "loss: the flow at which it is met is missing".into();
                d.label = "expected `at` and a flow".into();
                d.help = Some("for example `loss 5 kPa at 6 l/min`".into());
            });
            return None;
        }
        let flow = VolumeFlow(self.prefix(Quantity::Flow, "loss")?.value);
        let mut exponent = 2.0;
        if self.cursor.eat_word(&["exponent"]) {
            self.cursor.skip_blanks();
            let start = self.cursor.at;
            exponent = self.prefix(Quantity::Number, "exponent")?.value;
            if !(1.0..=2.5).contains(&exponent) {
                self.mistake("exponent-wrong", start..self.cursor.at, |d| {
                    d.message = "exponent: no loss of water grows so".into();
                    d.label = "expected 1 to 2.5, usually 1.75 to 2".into();
                    d.help = Some("leave it out for 2".into());
                });
                return None;
            }
        }
        Some(ItemKind::Loss(LossAt {
            loss,
            flow,
            exponent,
        }))
    }

    fn unknown_word(&mut self) {
        let range = self.cursor.word_or_end();
        let text = self.cursor.text;
        let near = self.nearest(&text[range.clone()]).or_else(|| {
            let two = self.cursor.phrases(2).first().cloned()?;
            self.nearest(&text[two])
        });
        let word = clip(&text[range.clone()]);
        self.cursor.at = range.end;
        let pipe = self.catalogue.pipe(&word).is_some();
        self.mistake("unknown-word", range, |d| {
            if pipe {
                d.message = format!("`{word}`: a leg has one pipe, and it stands first");
                d.label = "expected a fitting, a device or a place".into();
                d.help = Some("write a second run for a second pipe; alternatives are joined by `|`".into());
            } else {
                d.message = format!("`{word}` is no fitting, device or place that I know");
                d.label = "expected a fitting, a device, a loss, or where the run lies".into();
                d.help = Some(match near {
                    Some(near) => format!("did you mean `{near}`? `pipecarry catalogue items` lists all"),
                    None => "`pipecarry catalogue items` lists all; anything else can be written as `kv 9`".into(),
                });
            }
        });
    }

    fn nearest(&self, word: &str) -> Option<String> {
        let items = self
            .catalogue
            .items
            .iter()
            .flat_map(|i| std::iter::once(&i.word).chain(&i.also));
        let places = self.catalogue.lies.iter().map(|row| &row.word);
        let conditions = self.catalogue.conditions.iter().map(|row| &row.word);
        let words = items
            .chain(places)
            .chain(conditions)
            .map(String::as_str)
            .chain(KEYWORDS);
        nearest(word, words).map(str::to_owned)
    }

    /// An insert must be narrower than every pipe that the leg may be.
    pub(super) fn check_inserts(&mut self, leg: &Leg) {
        let bore = |size: &PipeSize| match size {
            PipeSize::Word(word) => self.catalogue.pipe(word).map(|p| p.bore.0),
            PipeSize::Bore { bore, .. } => Some(bore.low.0),
        };
        let Some(pipe) = leg
            .pipe
            .options
            .iter()
            .filter_map(|o| bore(&o.pipe))
            .reduce(f64::min)
        else {
            return;
        };
        for item in &leg.items {
            let ItemKind::Named {
                insert: Some(insert),
                ..
            } = item.kind
            else {
                continue;
            };
            if insert.0 >= pipe {
                let mut diagnostic = crate::diag::Diagnostic::error(
                    "insert-too-wide",
                    item.span.clone(),
                    format!(
                        "insert: {} mm does not go into a bore of {} mm",
                        mm(insert.0),
                        mm(pipe)
                    ),
                );
                diagnostic.label = "an insert is narrower than its pipe".into();
                diagnostic.help =
                    Some("the bore of the insert is meant, in mm, not the pipe's size".into());
                self.mistakes.push(diagnostic);
            }
        }
    }
}

fn mm(metres: f64) -> f64 {
    (metres * 1e4).round() / 10.0
}
