//! The schematic as plain text: what hangs on what, from the source outwards, with size, flow and what fails.
//!
//! Flow side only; each line speaks for both pipes of a pair. Pipe that goes on from tee to tee, as in a one-pipe loop or
//! a reverse return, is listed flat. Where water comes together again (rings, headers) the line says where it joins.

use super::layout::name;
use super::sketch_lines::{Line, lay_out};
use super::sketch_summary::summary;
use super::speak::Speak;
use crate::check::{Study, Subject};
use crate::network::{ElementId, Network, PlaceId, Role, RunKind};
use crate::survey::{Side, Units};
use crate::view::{Required, Running};
use std::collections::BTreeSet;

/// Widest indent; a tree deeper than this goes on without going further in.
const DEEPEST: usize = 24;

/// Draws one state of the house: the figures that duty requires, or, if `as_it_runs` or where nothing is required, those
/// as it runs.
pub fn text(study: &Study, units: &Units, state: usize, as_it_runs: bool) -> String {
    let running = study.running.iter().find(|r| r.state == state);
    let required = study
        .required
        .iter()
        .find(|r| r.state == state)
        .filter(|_| !as_it_runs || running.is_none());
    let shut = study.network.states.get(state).map_or(&[][..], |s| &s.shut);
    let mut sketch = Sketch {
        study,
        speak: Speak::new(study, units),
        state,
        required,
        running,
        index: required.map(index).unwrap_or_default(),
        shut: shut.iter().copied().collect(),
        seen: BTreeSet::new(),
        done: BTreeSet::new(),
        lines: Vec::new(),
    };
    let head = summary(&sketch.speak, study, state, required, running);
    sketch.all();
    let mut out = format!("{head}{}", lay_out(&sketch.lines));
    let key = "* index circuit; > goes on from the pipe above; [ ] emitter; { } plant; ( ) devices on that pipe. Each line \
               speaks for a flow pipe and its return, with the worst verdict about it.";
    out.push('\n');
    out.push_str(&super::layout::paragraph_in("", key, super::layout::WIDE));
    out
}

/// Elements of every index circuit.
fn index(required: &Required) -> BTreeSet<ElementId> {
    let paths = required
        .circuits
        .iter()
        .filter_map(|c| c.paths.get(c.index));
    paths.flat_map(|p| p.elements.iter().map(|e| e.0)).collect()
}

pub(super) struct Sketch<'a> {
    pub(super) study: &'a Study,
    pub(super) speak: Speak<'a>,
    pub(super) state: usize,
    pub(super) required: Option<&'a Required>,
    pub(super) running: Option<&'a Running>,
    pub(super) index: BTreeSet<ElementId>,
    pub(super) shut: BTreeSet<ElementId>,
    pub(super) seen: BTreeSet<PlaceId>,
    /// Runs and emitters that have their line.
    pub(super) done: BTreeSet<Branch>,
    pub(super) lines: Vec<Line>,
}

/// One thing that leaves a place.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Branch {
    Run(usize),
    Emitter(usize),
    /// Something without a run of its own: a valve, a vessel's port, a mixing set.
    Through(ElementId),
}

impl Sketch<'_> {
    pub(super) fn network(&self) -> &Network {
        &self.study.network
    }

    fn all(&mut self) {
        let study = self.study;
        for (i, source) in study.network.sources.iter().enumerate() {
            let mut words = name(&source.name, 40);
            if let Some(w) = source.output_w {
                words.push_str(&format!(", {}", self.speak.power(w)));
            }
            let mut about = vec![Subject::Source(i)];
            about.extend(source.pump.map(Subject::Pump));
            self.heading(words, &about);
            self.branches(source.flow_place, "");
        }
        // circuits with no source of their own, such as the far side of an exchanger
        for (i, exchanger) in study.network.exchangers.iter().enumerate() {
            let (_, warm) = study.network.ends(exchanger.far);
            if !self.seen.contains(&warm) {
                let words = format!("behind {}", name(&exchanger.name, 40));
                self.heading(words, &[Subject::Exchanger(i)]);
                self.branches(warm, "");
            }
        }
        // parts that no source reaches
        for (i, run) in study.network.runs.iter().enumerate() {
            let aside = run.side == Some(Side::Return)
                || matches!(run.kind, RunKind::FloorLoop | RunKind::Tail);
            if !aside && !self.done.contains(&Branch::Run(i)) && !self.seen.contains(&run.from) {
                self.heading("a part by itself".into(), &[]);
                self.branches(run.from, "");
            }
        }
        let missed = (0..study.network.emitters.len())
            .filter(|i| !self.done.contains(&Branch::Emitter(*i)))
            .collect::<Vec<_>>();
        if !missed.is_empty() {
            self.heading("not on a way from a source".into(), &[]);
            for i in missed {
                self.emitter(i, "|- ", "|  ");
            }
        }
        self.rings();
    }

    fn heading(&mut self, words: String, about: &[Subject]) {
        self.lines.push(Line::default());
        let mut line = Line {
            name: words,
            ..Line::default()
        };
        self.judge(&mut line, about, None);
        self.lines.push(line);
    }

    /// What leaves a place, in file order.
    fn leaving(&self, place: PlaceId) -> Vec<Branch> {
        let network = self.network();
        let mut all = Vec::new();
        let own: BTreeSet<usize> = network
            .emitters
            .iter()
            .flat_map(|e| [e.tails.0, e.tails.1])
            .flatten()
            .collect();
        for (i, run) in network.runs.iter().enumerate() {
            // the way home of a one-pipe loop is its last piece, not the return of a pair
            let warm = run.side != Some(Side::Return) || run.kind == RunKind::Loop;
            let body = run.kind == RunKind::FloorLoop;
            if run.from == place && warm && !body && !own.contains(&i) {
                all.push(Branch::Run(i));
            }
        }
        for (i, emitter) in network.emitters.iter().enumerate() {
            if emitter.ends.0 == place {
                all.push(Branch::Emitter(i));
            }
        }
        let carried: BTreeSet<ElementId> = network
            .emitters
            .iter()
            .flat_map(|e| e.branch.iter().copied())
            .collect();
        for id in network.element_ids() {
            let element = network.element(id);
            let stands = matches!(
                element.role,
                Role::Valve
                    | Role::Vessel
                    | Role::Pump
                    | Role::BlendInlet
                    | Role::FlowHolder
                    | Role::Bypass
                    | Role::Coil
                    | Role::ExchangerSide
            );
            if stands
                && element.run.is_none()
                && !carried.contains(&id)
                && network.ends(id).0 == place
            {
                all.push(Branch::Through(id));
            }
        }
        all
    }

    /// Whether anything is to be told of what lies behind an element, or it is itself plant to be named.
    fn tells(&self, id: ElementId) -> bool {
        let end = self.network().ends(id).1;
        self.plant(id).is_some() || (!self.seen.contains(&end) && !self.leaving(end).is_empty())
    }

    fn branches(&mut self, place: PlaceId, indent: &str) {
        if !self.seen.insert(place) {
            return;
        }
        let mut all = self.leaving(place);
        all.retain(|b| !matches!(b, Branch::Through(id) if !self.tells(*id)));
        let last = all.len().saturating_sub(1);
        for (i, branch) in all.into_iter().enumerate() {
            let mark = if i == last { "`- " } else { "|- " };
            let beyond = if i == last { "   " } else { "|  " };
            let mut next = self.one(branch, indent, mark, beyond);
            // from tee to tee without going further in, so that a long main is a list
            while let Some((end, below)) = next.take() {
                if self.seen.contains(&end) {
                    break;
                }
                let onward: Vec<Branch> = self
                    .leaving(end)
                    .into_iter()
                    .filter(|b| match b {
                        Branch::Emitter(_) => false,
                        Branch::Through(id) => self.tells(*id),
                        Branch::Run(_) => true,
                    })
                    .collect();
                if let [only] = onward[..] {
                    self.seen.insert(end);
                    for emitter in self.leaving(end) {
                        if let Branch::Emitter(e) = emitter {
                            self.emitter(e, &format!("{below}- "), &format!("{below}  "));
                        }
                    }
                    let mark = if i == last { "`> " } else { "|> " };
                    next = self.one(only, indent, mark, beyond);
                } else {
                    self.branches(end, &below);
                }
            }
        }
    }

    /// One branch; where it ends, and the indent of what hangs there.
    fn one(
        &mut self,
        branch: Branch,
        indent: &str,
        mark: &str,
        beyond: &str,
    ) -> Option<(PlaceId, String)> {
        let lead = format!("{indent}{mark}");
        let beside = format!("{indent}{beyond}");
        let below = if beside.len() > DEEPEST {
            indent.to_owned()
        } else {
            beside.clone()
        };
        match branch {
            Branch::Run(run) => {
                let end = self.network().runs[run].to;
                let joins = self.seen.contains(&end);
                self.run(run, &lead, &beside, joins);
                Some((end, below))
            }
            Branch::Emitter(emitter) => {
                self.emitter(emitter, &lead, &beside);
                None
            }
            Branch::Through(id) => {
                let end = self.network().ends(id).1;
                self.through(id, &lead, &beside);
                let plant = self.network().element(id).role;
                let ends = matches!(plant, Role::Coil | Role::ExchangerSide | Role::Bypass);
                let vessel = plant == Role::Vessel && self.plant(id).is_some();
                (!ends && !vessel).then_some((end, below))
            }
        }
    }
}
