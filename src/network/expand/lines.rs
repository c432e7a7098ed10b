//! Pairs, single runs, and the legs that feed plant.

use super::build::{Builder, Ports, RunSpec};
use super::leg::{LaidLeg, Laying};
use super::piece::{Mark, Piece};
use super::terminal;
use crate::diag::{Diagnostic, Span};
use crate::network::{Part, PartGroup, PartLaw, PlaceId, Role, RunKind};
use crate::survey::{At, Leg, Side, VesselKind};

/// What stands on a line beside its own leg: zone valves, zone pumps, vessels in series.
#[derive(Default)]
struct Extras {
    /// Before the leg on the flow, nearest the source.
    flow: Vec<Piece>,
    /// After the leg on the return, nearest the source.
    back: Vec<Piece>,
}

impl Builder<'_> {
    /// Every pair.
    pub fn pairs(&mut self) {
        let survey = self.survey;
        for pair in &survey.pairs {
            if self.source_named(&pair.to.value) {
                self.crossed(
                    &pair.to,
                    format!(
                        "the pair `{}` ends at the source `{}`",
                        pair.name.value, pair.to.value
                    ),
                    "a pair is written from the source outwards",
                    format!(
                        "write {} = [\"{}\", \"{}\", …]",
                        pair.name.value, pair.to.value, pair.from.value
                    ),
                );
                continue;
            }
            if pair.from.value == pair.to.value {
                self.leads_nowhere(&pair.to, &pair.name.value);
                continue;
            }
            let from = self.ports(&pair.from.value);
            let to = self.ports(&pair.to.value);
            let span = Some(pair.name.span.clone());
            self.pair_runs(&pair.name.value, &pair.leg, (from, to), RunKind::Pair, span);
        }
    }

    /// Flow and return run of one line between two places, with all that stands on it.
    pub fn pair_runs(
        &mut self,
        name: &str,
        leg: &At<Leg>,
        (from, to): (Ports, Ports),
        kind: RunKind,
        span: Option<Span>,
    ) -> (usize, usize) {
        let flow = self.lay(&leg.value, name, Laying::pair(Side::Flow));
        let back = self.lay(&leg.value, name, Laying::pair(Side::Return));
        let extras = self.extras(name, &leg.value, flow.pipe.bore.0);
        let flow_pieces: Vec<Piece> = extras.flow.into_iter().chain(flow.pieces).collect();
        let back_pieces: Vec<Piece> = back.pieces.into_iter().chain(extras.back).collect();
        let spec = |side, word: &str, laid: &LaidLeg, pieces| RunSpec {
            name,
            element_name: format!("{name} ({word})"),
            side: Some(side),
            kind,
            pipe: laid.pipe.clone(),
            leg: &leg.value,
            pieces,
            span: span.clone(),
        };
        let f_spec = spec(
            Side::Flow,
            "flow",
            &LaidLeg {
                pipe: flow.pipe,
                pieces: Vec::new(),
            },
            flow_pieces,
        );
        let r_spec = spec(
            Side::Return,
            "return",
            &LaidLeg {
                pipe: back.pipe,
                pieces: Vec::new(),
            },
            back_pieces,
        );
        let f = self.run(f_spec, from.flow_out, to.flow_in);
        let r = self.run(r_spec, to.return_out, from.return_in);
        self.partners(f, r);
        self.lines
            .entry(name.to_owned())
            .or_insert((Some(f), Some(r)));
        (f, r)
    }

    /// The leg that feeds a piece of plant from a place, if it has one; `to` are its own ports.
    pub fn feed(
        &mut self,
        name: &str,
        from: Option<&At<String>>,
        leg: Option<&At<Leg>>,
        to: Ports,
    ) {
        let Some(from) = from else { return };
        let ports = self.ports(&from.value);
        match leg {
            Some(leg) => {
                let span = Some(leg.span.clone());
                self.pair_runs(name, leg, (ports, to), RunKind::Plant, span);
            }
            None => {
                self.chain(
                    ports.flow_out,
                    to.flow_in,
                    &format!("{name} (flow)"),
                    Vec::new(),
                    None,
                    Some(Side::Flow),
                );
                self.chain(
                    to.return_out,
                    ports.return_in,
                    &format!("{name} (return)"),
                    Vec::new(),
                    None,
                    Some(Side::Return),
                );
            }
        }
    }

    fn extras(&mut self, name: &str, leg: &Leg, bore_m: f64) -> Extras {
        let survey = self.survey;
        let mut extras = Extras::default();
        for (i, zone) in survey.zones.iter().enumerate() {
            if !zone.on.iter().any(|on| on.value == name) {
                continue;
            }
            if let Some(kv_m3h) = self.zone_kv(zone, leg) {
                let part = valve_part(
                    "zone valve",
                    kv_m3h,
                    zone.kv.as_ref().map(|k| k.span.clone()),
                );
                let words = format!("{} zone valve", zone.name.value);
                let piece = Piece::parts(
                    &words,
                    Role::Valve,
                    vec![part],
                    Some(zone.name.span.clone()),
                );
                extras.flow.push(piece.mark(Mark::Zone(i)));
            }
            if let Some(pump) = &zone.pump {
                let words = format!("{} pump", zone.name.value);
                extras
                    .flow
                    .push(Piece::pump(&words, pump.curve.span.clone()).mark(Mark::ZonePump(i)));
            }
        }
        for (i, vessel) in survey.vessels.iter().enumerate() {
            let VesselKind::Series { on, side } = &vessel.kind else {
                continue;
            };
            if on.value != name {
                continue;
            }
            let piece = Piece::parts(
                &vessel.name.value,
                Role::Vessel,
                vec![vessel_part(bore_m, vessel.name.span.clone())],
                Some(vessel.span.clone()),
            )
            .volume(vessel.water.as_ref().map_or(0.0, |v| v.value.0))
            .mark(Mark::Vessel(i));
            match side {
                Side::Flow => extras.flow.insert(0, piece),
                Side::Return => extras.back.push(piece),
            }
        }
        extras
    }

    /// Every single run.
    pub fn single_runs(&mut self) {
        let survey = self.survey;
        let sides = terminal::bare_sides(self);
        for run in &survey.runs {
            let from = self.terminal(&run.from, true, &sides);
            let to = self.terminal(&run.to, false, &sides);
            if self.returns_into_flow(&run.from, &run.to) {
                self.crossed(
                    &run.to,
                    format!(
                        "`{}` leads the return of `{}` into a flow pipe",
                        run.name.value,
                        terminal::split(&run.from.value).0
                    ),
                    "flow and return are crossed here",
                    format!("write `{}.return`", terminal::split(&run.to.value).0),
                );
                continue;
            }
            let (Some(from), Some(to)) = (from, to) else {
                continue;
            };
            if from == to {
                self.leads_nowhere(&run.to, &run.name.value);
                continue;
            }
            let name = run.name.value.as_str();
            let laid = self.lay(&run.leg.value, name, Laying::single());
            let extras = self.extras(name, &run.leg.value, laid.pipe.bore.0);
            let pieces = extras
                .flow
                .into_iter()
                .chain(laid.pieces)
                .chain(extras.back)
                .collect();
            let side = match (self.side_of(from), self.side_of(to)) {
                (Some(a), Some(b)) if a != b => None,
                (a, b) => a.or(b),
            };
            let spec = RunSpec {
                name,
                element_name: name.to_owned(),
                side,
                kind: RunKind::Single,
                pipe: laid.pipe,
                leg: &run.leg.value,
                pieces,
                span: Some(run.name.span.clone()),
            };
            let index = self.run(spec, from, to);
            let entry = match side {
                Some(Side::Return) => (None, Some(index)),
                _ => (Some(index), None),
            };
            self.lines.entry(name.to_owned()).or_insert(entry);
        }
    }

    /// Cool water from an emitter that is led to the flow side of something that is no emitter.
    fn returns_into_flow(&self, from: &At<String>, to: &At<String>) -> bool {
        let emitter = |name: &str| self.survey.emitters.iter().any(|e| e.name.value == name);
        let (from, from_side) = terminal::split(&from.value);
        let (to, to_side) = terminal::split(&to.value);
        let crossed = from_side == Some(Side::Return) && to_side == Some(Side::Flow);
        crossed && emitter(from) && !emitter(to)
    }

    fn side_of(&self, place: PlaceId) -> Option<Side> {
        self.network.graph.node_weight(place).and_then(|p| p.side)
    }

    /// Whether a name is that of a source.
    pub fn source_named(&self, name: &str) -> bool {
        self.survey.sources.iter().any(|s| s.name.value == name)
    }

    /// Flow and return are crossed at a word.
    pub fn crossed(&mut self, at: &At<String>, message: String, label: &str, help: String) {
        self.faults.push(
            Diagnostic::error("crossed", at.span.clone(), message)
                .label(label)
                .help(help),
        );
    }

    fn leads_nowhere(&mut self, at: &At<String>, run: &str) {
        self.faults.push(
            Diagnostic::error(
                "leads-nowhere",
                at.span.clone(),
                format!("`{run}` begins and ends at `{}`", at.value),
            )
            .label("the same place as where it begins")
            .help("name the place that it leads to"),
        );
    }
}

/// A valve by its kv.
pub(super) fn valve_part(words: &str, kv_m3h: f64, span: Option<Span>) -> Part {
    Part {
        group: PartGroup::Valves,
        words: words.to_owned(),
        symbol: words.to_owned(),
        count: 1,
        law: PartLaw::Kv { kv_m3h },
        source: if span.is_some() {
            crate::network::THE_FILE
        } else {
            "common practice, no source"
        }
        .to_owned(),
        span,
    }
}

/// Into a vessel and out of it again: ζ 1.0 and 0.5 on the joined pipe.
pub(super) fn vessel_part(bore_m: f64, span: Span) -> Part {
    Part {
        group: PartGroup::Plant,
        words: "into the vessel and out".to_owned(),
        symbol: "vessel".to_owned(),
        count: 1,
        law: PartLaw::Zeta { zeta: 1.5, bore_m },
        source: "DIN 1988-3, reprinted in a public press-fitting manual: inlet 1.0, outlet 0.5"
            .to_owned(),
        span: Some(span),
    }
}
