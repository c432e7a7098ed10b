//! Every key figure traced to its inputs.

use super::{Block, Maker, Reader, Table, Text};
use crate::report::explain::{si, speak_long, title, users, value, whence};
use crate::report::text;
use crate::trace::{What, trace};

/// Anchor of a trace by its number.
pub(super) fn anchor(number: usize) -> String {
    format!("trace-{}", number + 1)
}

/// What is traced for a reader: the head balance and the flow for all; what stands in the way for who does the work;
/// every run and emitter for who has to be convinced.
pub(super) fn wanted(make: &Maker<'_>) -> Vec<(What, Option<usize>)> {
    let study = make.study();
    let first = make.first();
    let Some(view) = study.required.iter().find(|r| Some(r.state) == first) else {
        return Vec::new();
    };
    let mut list: Vec<(What, Option<usize>)> = Vec::new();
    list.extend((0..view.circuits.len()).map(|i| (What::Circuit(i), first)));
    let at_work = view
        .basis
        .iter()
        .enumerate()
        .filter(|(_, b)| b.flow_kg_s > 0.0);
    list.extend(at_work.map(|(i, _)| (What::Source(i), first)));
    if make.choice.reader == Reader::Client {
        return list;
    }
    const MOST: usize = 20;
    let numbered = text::numbered(study, make.choice.state);
    list.extend(
        numbered
            .into_iter()
            .take(MOST)
            .map(|i| (What::Finding(i), None)),
    );
    if make.choice.reader == Reader::Installer {
        return list;
    }
    list.extend(view.capacity.iter().map(|c| (What::Run(c.run), first)));
    let emitters = view
        .emitters
        .iter()
        .enumerate()
        .filter(|(_, e)| e.flow_kg_s > 0.0);
    list.extend(emitters.map(|(i, _)| (What::Emitter(i), first)));
    list
}

impl Maker<'_> {
    pub(super) fn traces(&mut self) {
        let all = self.traced.clone();
        if all.is_empty() {
            return;
        }
        self.paragraph(
            "Formulas are in SI units and can be put into a calculator as they stand; the figure in the report's units follows. \
             The same comes from pipecarry's command explain, for any run, emitter or finding.",
        );
        for (number, (what, state)) in all.into_iter().enumerate() {
            self.one(number, what, state);
        }
    }

    fn one(&mut self, number: usize, what: What, state: Option<usize>) {
        let study = self.study();
        let found = trace(study, what, state);
        let mut head = title(study, &self.speak, what);
        if let What::Finding(index) = what {
            let numbered = text::numbered(study, self.choice.state);
            if let Some(place) = numbered.iter().position(|i| *i == index) {
                head = format!("Finding {}: {head}", place + 1);
            }
            if let Some(state) = found.state.filter(|_| study.network.states.len() > 1) {
                head.push_str(&format!(", {}", self.speak.state(state)));
            }
            // the subject has a trace of its own in this document: only what the finding adds is shown
            let subject = found
                .see
                .last()
                .copied()
                .and_then(|w| self.way(w, found.state).map(|way| (w, way)));
            if let Some((subject, way)) = subject {
                self.blocks.push(Block::Heading(Some(anchor(number)), head));
                self.steps(found.steps.iter().rev().take(1).collect());
                let name = title(study, &self.speak, subject);
                self.blocks.push(Block::Paragraph(
                    vec![
                        "The figure itself: ".into(),
                        Text::to(name, Some(way)),
                        ".".into(),
                    ],
                    false,
                ));
                return;
            }
        }
        self.blocks.push(Block::Heading(Some(anchor(number)), head));
        self.steps(found.steps.iter().collect());
        let mut table = Table::new("Put in", &["Symbol", "#Value", "What", "Known by"]);
        for input in &found.inputs {
            table.row(vec![
                input.symbol.clone().into(),
                value(&self.speak, input).into(),
                self.speak.clean(&input.what).into(),
                whence(&self.speak, self.material.source, input).into(),
            ]);
        }
        self.table(table);
        self.list(found.notes.iter().map(|n| speak_long(n)).collect());
    }

    fn steps(&mut self, steps: Vec<&crate::trace::Step>) {
        let mut lines = Vec::new();
        for step in steps {
            let source = if step.source.is_empty() {
                String::new()
            } else {
                format!(" [{}]", step.source)
            };
            lines.push(format!("{}{source}", self.speak.clean(&step.what)));
            let (formula, numbers) = (step.formula.symbols(), step.numbers());
            if formula != numbers {
                lines.push(format!("  {} = {formula}", step.symbol));
            }
            let comes = si(step.value, step.unit);
            let users = users(&self.speak, step.value, step.unit).filter(|u| *u != comes);
            let users = users.map_or(String::new(), |u| format!(", shown as {u}"));
            lines.push(format!("  {} = {numbers} = {comes}{users}", step.symbol));
        }
        if !lines.is_empty() {
            self.blocks.push(Block::Formula(lines));
        }
    }
}
