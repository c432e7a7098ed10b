//! The schematic as plain text: what hangs on what, from the source outwards, with size, flow and what fails.
//!
//! Flow side only; each line speaks for both pipes of a pair. Where water comes together again (rings, headers) the line
//! says where it joins.

use super::layout::{WIDTH, name};
use super::speak::Speak;
use super::words;
use crate::check::{Study, Subject, Verdict};
use crate::network::{ElementId, Network, PlaceId, Role};
use crate::survey::{Side, Units};
use crate::view::{Required, Running};
use std::collections::BTreeSet;
use unicode_width::UnicodeWidthStr;

/// Columns of the tree before the figures.
const TREE: usize = 34;

/// Draws one state of the house; figures are those that duty requires, else those as it runs.
pub fn text(study: &Study, units: &Units, state: usize) -> String {
    let speak = Speak::new(study, units);
    let required = study.required.iter().find(|r| r.state == state);
    let mut sketch = Sketch {
        study,
        speak,
        state,
        required,
        running: study.running.iter().find(|r| r.state == state),
        index: required.map(index).unwrap_or_default(),
        seen: BTreeSet::new(),
        out: String::new(),
    };
    let title = name(&study.network.title, 50);
    sketch
        .out
        .push_str(&format!("{title}, {}\n", sketch.speak.state(state)));
    for source in &study.network.sources {
        sketch
            .out
            .push_str(&format!("\n{}\n", name(&source.name, 40)));
        sketch.branches(source.flow_place, "");
    }
    // circuits with no source of their own, such as the far side of an exchanger
    for exchanger in &study.network.exchangers {
        let (_, warm) = study.network.ends(exchanger.far);
        if !sketch.seen.contains(&warm) {
            sketch
                .out
                .push_str(&format!("\n{}\n", name(&exchanger.name, 40)));
            sketch.branches(warm, "");
        }
    }
    let key = "* index circuit. Each line is a flow pipe and its return, with the worst verdict about it before the figures.";
    sketch
        .out
        .push_str(&format!("\n{}", super::layout::paragraph("", key)));
    sketch.out
}

/// Elements of every index circuit.
fn index(required: &Required) -> BTreeSet<ElementId> {
    let paths = required
        .circuits
        .iter()
        .filter_map(|c| c.paths.get(c.index));
    paths.flat_map(|p| p.elements.iter().map(|e| e.0)).collect()
}

struct Sketch<'a> {
    study: &'a Study,
    speak: Speak<'a>,
    state: usize,
    required: Option<&'a Required>,
    running: Option<&'a Running>,
    index: BTreeSet<ElementId>,
    seen: BTreeSet<PlaceId>,
    out: String,
}

/// One thing that leaves a place.
#[derive(Clone, Copy)]
enum Branch {
    Run(usize),
    Emitter(usize),
    /// Something without a run of its own: a valve, a vessel's port, a mixing set.
    Through(ElementId),
}

impl Sketch<'_> {
    fn network(&self) -> &Network {
        &self.study.network
    }

    /// What leaves a place, in file order.
    fn leaving(&self, place: PlaceId) -> Vec<Branch> {
        let network = self.network();
        let warm = |side: Option<Side>| side != Some(Side::Return);
        let mut all = Vec::new();
        let own: BTreeSet<usize> = network
            .emitters
            .iter()
            .flat_map(|e| [e.tails.0, e.tails.1])
            .flatten()
            .collect();
        for (i, run) in network.runs.iter().enumerate() {
            if run.from == place && warm(run.side) && !own.contains(&i) {
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
                Role::Valve | Role::Vessel | Role::Pump | Role::BlendInlet | Role::FlowHolder
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

    fn branches(&mut self, place: PlaceId, indent: &str) {
        const DEEPEST: usize = 40; // a deeper tree cannot be shown in 80 columns
        if !self.seen.insert(place) || indent.len() > DEEPEST * 2 {
            return;
        }
        let all = self.leaving(place);
        let last = all.len().saturating_sub(1);
        for (i, branch) in all.into_iter().enumerate() {
            let (mark, below) = if i == last {
                ("`- ", "   ")
            } else {
                ("|- ", "|  ")
            };
            let below = format!("{indent}{below}");
            match branch {
                Branch::Run(run) => {
                    let end = self.network().runs[run].to;
                    self.run(run, &format!("{indent}{mark}"), self.seen.contains(&end));
                    self.branches(end, &below);
                }
                Branch::Emitter(emitter) => self.emitter(emitter, &format!("{indent}{mark}")),
                Branch::Through(id) => {
                    let end = self.network().ends(id).1;
                    if !self.seen.contains(&end) && !self.leaving(end).is_empty() {
                        let words = name(&self.network().element(id).name, 36);
                        self.line(
                            &format!("{indent}{mark}{words}"),
                            self.index.contains(&id),
                            "",
                            "",
                        );
                        self.branches(end, &below);
                    }
                }
            }
        }
    }

    fn line(&mut self, tree: &str, on_index: bool, figures: &str, verdict: &str) {
        let pad = " ".repeat(TREE.saturating_sub(tree.width()));
        let star = if on_index { "*" } else { " " };
        let line = format!("{tree}{pad} {star} {verdict:<7} {figures}");
        // a deep tree pushes figures out of the page: names are short enough for any tree that houses have
        self.out.push_str(name(line.trim_end(), WIDTH).trim_end());
        self.out.push('\n');
    }

    fn flow(&self, id: ElementId) -> Option<f64> {
        let required = self.required.and_then(|r| r.flow_kg_s.get(id.index()));
        let running = self
            .running
            .and_then(|r| r.solved.flow_kg_s.get(id.index()));
        required.or(running).copied()
    }

    fn run(&mut self, i: usize, before: &str, joins: bool) {
        let run = &self.network().runs[i];
        let capacity = self
            .required
            .and_then(|r| r.capacity.iter().find(|c| c.run == i));
        let flow = run
            .elements
            .first()
            .and_then(|&e| self.flow(e))
            .map(|q| self.speak.mass_flow(q));
        let velocity = capacity.map(|c| self.speak.velocity(c.velocity_m_s));
        let joined = if joins { "joins above" } else { "" };
        let figures: Vec<String> = [
            Some(name(&run.size, 14)),
            flow,
            velocity,
            Some(joined.into()),
        ]
        .into_iter()
        .flatten()
        .filter(|s| !s.is_empty())
        .collect();
        let on_index = run.elements.iter().any(|e| self.index.contains(e));
        let tree = format!("{before}{} {}", name(&run.name, 16), name(&run.tag, 8));
        let verdict = self.verdict(&[Subject::Run(i)], run.partner);
        self.line(&tree, on_index, &figures.join(", "), verdict);
    }

    fn emitter(&mut self, i: usize, before: &str) {
        let emitter = &self.network().emitters[i];
        let flow = self
            .flow(emitter.body)
            .map(|q| self.speak.mass_flow(q))
            .unwrap_or_default();
        let figures = format!("{}, {flow}", self.speak.power(emitter.duty_w));
        let on_index = self.index.contains(&emitter.body);
        let tree = format!(
            "{before}[{}] {}",
            name(&emitter.name, 16),
            name(&emitter.type_words, 12)
        );
        let mut about = vec![Subject::Emitter(i), Subject::Room(emitter.room)];
        about.extend(
            [emitter.tails.0, emitter.tails.1]
                .into_iter()
                .flatten()
                .map(Subject::Run),
        );
        let verdict = self.verdict(&about, None);
        self.line(&tree, on_index, &figures, verdict);
    }

    /// The worst verdict about any of these, if it asks for anything.
    fn verdict(&self, about: &[Subject], partner: Option<usize>) -> &'static str {
        let worst = self
            .study
            .findings
            .iter()
            .filter(|f| f.state.is_none_or(|s| s == self.state))
            .filter(|f| {
                about.contains(&f.subject) || partner.is_some_and(|p| f.subject == Subject::Run(p))
            })
            .map(|f| f.verdict)
            .min();
        match worst {
            Some(v @ (Verdict::Fails | Verdict::Depends | Verdict::Tight)) => words::verdict(v),
            _ => "",
        }
    }
}
