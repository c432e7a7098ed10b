//! Emitters: tails, valve, body and lockshield in series from tee to tee.

use super::build::{Builder, Ports, RunSpec};
use super::leg::{LaidLeg, Laying};
use super::lines::valve_part;
use super::lookup;
use super::piece::Piece;
use crate::diag::{Diagnostic, Span};
use crate::network::{
    ElementId, Emitter, Heat, Law, Part, PartGroup, PartLaw, PlaceId, Role, RunKind,
};
use crate::survey::{self, At, EmitterKind, Leg, Side};

/// Loss of a radiator's body on the velocity in its tail.
const BODY_ZETA: f64 = 3.0;
const BODY_SOURCE: &str = "M. Doninelli, Le reti di distribuzione (1993), from memory";

/// Valve and lockshield of an emitter, resolved.
struct Valves {
    valve: Option<(String, f64, Option<Span>)>,
    valve_kind: String,
    lockshield: Option<(f64, Option<Span>)>,
    set: bool,
}

/// What stands in series between an emitter's two tees.
#[derive(Default)]
pub(super) struct Branch {
    pub flow_tail: Option<LaidLeg>,
    valve: Option<Piece>,
    pub body: Vec<Piece>,
    pub body_at: usize,
    lockshield: Option<Piece>,
    pub return_tail: Option<LaidLeg>,
}

impl Builder<'_> {
    /// Every emitter, in file order.
    pub fn emitters(&mut self) {
        let survey = self.survey;
        for (index, emitter) in survey.emitters.iter().enumerate() {
            self.one_emitter(index, emitter);
        }
    }

    fn one_emitter(&mut self, index: usize, e: &survey::Emitter) {
        let name = e.name.value.as_str();
        let manifold = e.from.as_ref().and_then(|from| {
            self.network
                .manifolds
                .iter()
                .position(|m| m.name == from.value)
        });
        let Some(ends) = self.emitter_ends(e) else {
            return;
        };
        let law = self.heat_law(e);
        let valves = self.valves(e);
        let mut branch = self.branch(e, index, &valves);
        if let Some(manifold) = manifold {
            self.ports_of_manifold(manifold, &mut branch);
        }
        let laid = self.lay_branch(e, &mut branch, ends);
        let loop_ends = self.loop_ends.get(name).map(|l| (l.one_pipe, l.drop_k));
        let drop_k = e
            .drop
            .as_ref()
            .map(|k| k.value.0)
            .or_else(|| {
                let survey = self.survey;
                let name = &self.network.manifolds.get(manifold?)?.name;
                let written = survey.manifolds.iter().find(|m| &m.name.value == name)?;
                written.drop.as_ref().map(|k| k.value.0)
            })
            .or_else(|| loop_ends.and_then(|(_, drop)| drop))
            .unwrap_or(self.network.design.drop_k);
        if let Some(manifold) = manifold {
            let here = self.network.emitters.len();
            self.network.manifolds[manifold].emitters.push(here);
        }
        let (type_words, symbol, panel) = look(&e.kind);
        let survey = self.survey;
        self.network.emitters.push(Emitter {
            name: name.to_owned(),
            type_words,
            symbol,
            panel,
            body: laid.body,
            valve: laid.valve,
            lockshield: laid.lockshield,
            lockshield_is_set: valves.set,
            lockshield_open_kv: e
                .lockshield
                .as_ref()
                .map(|kv| kv.value.0)
                .filter(|kv| kv.is_finite()),
            port: manifold
                .filter(|_| e.lockshield.as_ref().is_none_or(|kv| kv.span.is_empty()))
                .filter(|_| !valves.set)
                .and_then(|_| self.port_of(&laid.all)),
            valve_table: self.valve_table(e.valve_table.as_ref()),
            lockshield_table: self.valve_table(e.lockshield_table.as_ref()).or_else(|| {
                let name = &self.network.manifolds.get(manifold?)?.name;
                let written = survey.manifolds.iter().find(|m| &m.name.value == name)?;
                self.valve_table(written.port_table.as_ref())
            }),
            branch: laid.all.clone(),
            ends,
            tails: laid.tails,
            room: 0,
            duty_w: 0.0,
            drop_k,
            law,
            manifold,
            one_pipe: loop_ends.map(|(one_pipe, _)| one_pipe),
            always_open: e.always_open,
            zone: e
                .zone
                .as_ref()
                .and_then(|zone| survey.zones.iter().position(|z| z.name.value == zone.value)),
            wall: e
                .wall
                .as_ref()
                .map(|w| (w.value.0.0, w.value.1.0, w.value.2.0)),
            storey: e.storey.clone(),
            order: e.order,
            valve_kind: valves.valve_kind,
            span: Some(e.span.clone()),
        });
    }

    /// Where an emitter hangs: at the place it names, on the loop or ring that names it, or between two single runs.
    fn emitter_ends(&mut self, e: &survey::Emitter) -> Option<(PlaceId, PlaceId)> {
        if let Some(from) = &e.from {
            let Ports {
                flow_out,
                return_in,
                ..
            } = self.ports(&from.value);
            return Some((flow_out, return_in));
        }
        if let Some(on_loop) = self.loop_ends.get(&e.name.value) {
            return Some(on_loop.ends);
        }
        if let Some(ports) = self.ports.get(&e.name.value) {
            return Some((ports.flow_out, ports.return_in));
        }
        self.faults.push(
            Diagnostic::error(
                "emitter-not-joined",
                e.name.span.clone(),
                format!("nothing leads to `{}`", e.name.value),
            )
            .label("no `from`, and no ring, loop or run names it")
            .help("say where it is teed from, e.g. from = \"landing\""),
        );
        None
    }

    /// Valve and lockshield as the survey has them; the reader has already put its defaults in, which have no place of
    /// their own in the file.
    fn valves(&self, e: &survey::Emitter) -> Valves {
        let written = |span: &Span| (!span.is_empty() && *span != e.span).then(|| span.clone());
        let valve = e
            .valve
            .as_ref()
            .filter(|v| !matches!(v.value.kind.as_str(), "none" | "open"));
        let lockshield = match (&e.lockshield_set, &e.lockshield) {
            (Some(set), _) => Some(set),
            (None, open) => open.as_ref().filter(|kv| kv.value.0.is_finite()),
        };
        Valves {
            valve: valve.map(|v| (valve_words(&v.value.kind), v.value.kv.0, written(&v.span))),
            valve_kind: valve.map_or_else(String::new, |v| v.value.kind.clone()),
            lockshield: lockshield.map(|kv| (kv.value.0, written(&kv.span))),
            set: e.lockshield_set.is_some(),
        }
    }

    fn branch(&mut self, e: &survey::Emitter, index: usize, valves: &Valves) -> Branch {
        let name = e.name.value.as_str();
        let mut branch = Branch::default();
        if let Some(leg) = &e.leg {
            branch.flow_tail = Some(self.lay(&leg.value, name, Laying::pair(Side::Flow)));
        }
        if let Some(leg) = e.return_leg.as_ref().or(e.leg.as_ref()) {
            branch.return_tail = Some(self.lay(&leg.value, name, Laying::pair(Side::Return)));
        }
        if let Some((words, kv, span)) = &valves.valve {
            let part = valve_part(words, *kv, span.clone());
            let span = span.clone().or(Some(e.name.span.clone()));
            branch.valve = Some(Piece::parts(words, Role::EmitterValve, vec![part], span));
        }
        if let Some((kv, span)) = &valves.lockshield {
            let part = valve_part("lockshield", *kv, span.clone());
            let span = span.clone().or(Some(e.name.span.clone()));
            branch.lockshield = Some(Piece::parts(
                "lockshield",
                Role::Lockshield,
                vec![part],
                span,
            ));
        }
        self.body(e, index, &mut branch);
        branch
    }

    fn body(&mut self, e: &survey::Emitter, index: usize, branch: &mut Branch) {
        let tail_bore_m = branch.flow_tail.as_ref().map(|t| t.pipe.bore.0);
        let own = e.loss.as_ref().map(|loss| {
            self.own_loss(
                "body",
                PartGroup::Emitter,
                &loss.value,
                tail_bore_m,
                &loss.span,
            )
        });
        if let EmitterKind::Floor { circuit, .. } = &e.kind {
            let laying = Laying {
                side: None,
                reversed: false,
                friction: PartGroup::Emitter,
            };
            let laid = self.lay(&circuit.value, &e.name.value, laying);
            branch.body = laid.pieces;
            // the pipe itself is the body; a valve met along the loop stays an element beside it
            branch.body_at = branch
                .body
                .iter()
                .position(|p| matches!(p.law, Law::Parts(_)))
                .unwrap_or(0);
            if let Some(piece) = branch.body.get_mut(branch.body_at) {
                piece.role = Role::EmitterBody;
                piece.heat = Heat::Emitter(index);
                if let (Law::Parts(parts), Some(own)) = (&mut piece.law, own) {
                    parts.push(own);
                }
            }
            return;
        }
        let parts = match (own, tail_bore_m, &e.kind) {
            (Some(own), ..) => vec![own],
            (None, Some(bore_m), EmitterKind::Rated { .. } | EmitterKind::Panel { .. }) => {
                self.assume(
                    "emitters",
                    "body ζ 3 on the velocity in the tail",
                    BODY_SOURCE,
                );
                vec![Part {
                    group: PartGroup::Emitter,
                    words: "body".to_owned(),
                    symbol: String::new(),
                    count: 1,
                    law: PartLaw::Zeta {
                        zeta: BODY_ZETA,
                        bore_m,
                    },
                    source: BODY_SOURCE.to_owned(),
                    span: None,
                }]
            }
            _ => Vec::new(),
        };
        let volume_m3 = self.emitter_water(e);
        branch.body = vec![
            Piece::parts("", Role::EmitterBody, parts, Some(e.span.clone()))
                .heat(Heat::Emitter(index))
                .volume(volume_m3),
        ];
    }

    /// Lays all of a branch from tee to tee.
    fn lay_branch(
        &mut self,
        e: &survey::Emitter,
        branch: &mut Branch,
        ends: (PlaceId, PlaceId),
    ) -> LaidBranch {
        let name = e.name.value.as_str();
        let mut laid = LaidBranch::default();
        let mut here = ends.0;
        // what comes after decides whether a step ends at the second tee or at a joint
        let mut steps: Vec<Step> = Vec::new();
        if let Some(tail) = branch.flow_tail.take() {
            let leg = e.leg.as_ref().map(|l| &l.value);
            steps.push(Step::Tail(tail, leg, Side::Flow));
        }
        steps.extend(branch.valve.take().map(|p| Step::One(p, Slot::Valve)));
        let circuit = match &e.kind {
            EmitterKind::Floor { circuit, .. } => Some(circuit),
            _ => None,
        };
        let body = std::mem::take(&mut branch.body);
        steps.push(Step::Body(body, branch.body_at, circuit));
        steps.extend(
            branch
                .lockshield
                .take()
                .map(|p| Step::One(p, Slot::Lockshield)),
        );
        if let Some(tail) = branch.return_tail.take() {
            let leg = e.return_leg.as_ref().or(e.leg.as_ref()).map(|l| &l.value);
            steps.push(Step::Tail(tail, leg, Side::Return));
        }
        let last = steps.len().saturating_sub(1);
        for (i, step) in steps.into_iter().enumerate() {
            let next = if i == last {
                ends.1
            } else {
                self.place(&format!("{name}, joint {}", i + 1), None, None)
            };
            let ids = match step {
                Step::Tail(tail, leg, side) => {
                    let Some(leg) = leg else { continue };
                    let word = if side == Side::Flow { "flow" } else { "return" };
                    let spec = RunSpec {
                        name,
                        element_name: format!("{name} tail ({word})"),
                        side: Some(side),
                        kind: RunKind::Tail,
                        pipe: tail.pipe,
                        leg,
                        pieces: tail.pieces,
                        span: Some(e.span.clone()),
                    };
                    let run = self.run(spec, here, next);
                    match side {
                        Side::Flow => laid.tails.0 = Some(run),
                        Side::Return => laid.tails.1 = Some(run),
                    }
                    self.network.runs[run].elements.clone()
                }
                Step::One(piece, slot) => {
                    let id = self.element(here, next, name, piece, None);
                    match slot {
                        Slot::Valve => laid.valve = Some(id),
                        Slot::Lockshield => laid.lockshield = Some(id),
                    }
                    vec![id]
                }
                Step::Body(pieces, at, circuit) => {
                    let ids = match circuit {
                        Some(circuit) => self.floor_run(name, circuit, pieces, (here, next)),
                        None => self.chain(here, next, name, pieces, None, None),
                    };
                    laid.body = ids.get(at).or(ids.first()).copied().unwrap_or_default();
                    ids
                }
            };
            laid.all.extend(ids);
            here = next;
        }
        if let (Some(flow), Some(back)) = laid.tails {
            self.partners(flow, back);
        }
        laid
    }

    fn floor_run(
        &mut self,
        name: &str,
        circuit: &At<Leg>,
        pieces: Vec<Piece>,
        (from, to): (PlaceId, PlaceId),
    ) -> Vec<ElementId> {
        let pipe = self.leg_pipe(&circuit.value, name);
        let spec = RunSpec {
            name,
            element_name: name.to_owned(),
            side: None,
            kind: RunKind::FloorLoop,
            pipe,
            leg: &circuit.value,
            pieces,
            span: Some(circuit.span.clone()),
        };
        let run = self.run(spec, from, to);
        self.network.runs[run].elements.clone()
    }
}

enum Slot {
    Valve,
    Lockshield,
}

enum Step<'a> {
    Tail(LaidLeg, Option<&'a Leg>, Side),
    One(Piece, Slot),
    Body(Vec<Piece>, usize, Option<&'a At<Leg>>),
}

#[derive(Default)]
struct LaidBranch {
    body: ElementId,
    valve: Option<ElementId>,
    lockshield: Option<ElementId>,
    all: Vec<ElementId>,
    tails: (Option<usize>, Option<usize>),
}

fn valve_words(kind: &str) -> String {
    match kind {
        "actuator" => "actuator".to_owned(),
        other => format!("{other} valve"),
    }
}

/// Words for people, symbol, and panel of an emitter.
fn look(kind: &EmitterKind) -> (String, &'static str, Option<(String, f64, f64)>) {
    match kind {
        EmitterKind::Panel {
            panel_type,
            height,
            width,
            ..
        } => (
            format!(
                "{panel_type} {}×{}",
                lookup::short(height.0 * 1e3),
                lookup::short(width.0 * 1e3)
            ),
            "radiator",
            Some((panel_type.clone(), height.0, width.0)),
        ),
        EmitterKind::Rated { kind, .. } => {
            let symbol = match kind.as_str() {
                "towel rail" => "towel rail",
                "fan convector" => "fan convector",
                _ => "radiator",
            };
            (kind.clone(), symbol, None)
        }
        EmitterKind::Floor { .. } => ("floor loop".to_owned(), "floor loop", None),
        EmitterKind::Fixed => ("fixed draw".to_owned(), "fixed", None),
    }
}
