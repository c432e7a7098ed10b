//! Whether every place hangs together with a source by the names alone. What only pipes can tell, a circuit that does
//! not close or two sources that meet, `expand` says.

use super::names::Role;
use super::plant::split_side;
use super::reader::{Reader, short};
use crate::diag::{Diagnostic, Span, nearest};
use crate::survey::{Survey, VesselKind};
use std::collections::{BTreeMap, BTreeSet};

/// Sets of names that hang together.
#[derive(Default)]
struct Sets {
    index: BTreeMap<String, usize>,
    parent: Vec<usize>,
}

impl Sets {
    fn id(&mut self, name: &str) -> usize {
        if let Some(i) = self.index.get(name) {
            return *i;
        }
        let i = self.parent.len();
        self.parent.push(i);
        self.index.insert(name.to_owned(), i);
        i
    }

    fn root(&mut self, mut i: usize) -> usize {
        while let Some(p) = self.parent.get(i).copied().filter(|p| *p != i) {
            let grand = self.parent.get(p).copied().unwrap_or(p);
            if let Some(slot) = self.parent.get_mut(i) {
                *slot = grand;
            }
            i = grand;
        }
        i
    }

    fn set(&mut self, name: &str) -> usize {
        let i = self.id(name);
        self.root(i)
    }

    fn join(&mut self, a: &str, b: &str) {
        let (a, b) = (self.set(a), self.set(b));
        if let Some(slot) = self.parent.get_mut(a) {
            *slot = b;
        }
    }
}

/// All checks of how things hang together.
pub(super) fn check(r: &mut Reader<'_>, survey: &Survey) {
    if r.names.of("source").next().is_none() {
        let end = r.file.len().min(r.file.find('\n').unwrap_or(r.file.len()));
        r.say(
            Diagnostic::error("no-source", 0..end, "the file has no source of heat")
                .label("no [source] in this file")
                .help("describe the heat pump: `[source.\"heat pump\"]` with its output, least flow and free head"),
        );
        return;
    }
    let wrong_so_far = r
        .found
        .iter()
        .any(|d| d.severity == crate::diag::Severity::Error);
    if wrong_so_far {
        return; // a misspelt place would break the house in two and be said twice
    }
    reaches_source(r, survey);
}

/// Joins what hangs together by name.
fn joined(survey: &Survey) -> Sets {
    let mut sets = Sets::default();
    for pair in &survey.pairs {
        sets.join(&pair.from.value, &pair.to.value);
    }
    for run in &survey.runs {
        sets.join(split_side(&run.from.value).0, split_side(&run.to.value).0);
    }
    for emitter in &survey.emitters {
        if let Some(from) = &emitter.from {
            sets.join(&from.value, &format!("{}\u{0}emitter", emitter.name.value));
        }
    }
    for ring in &survey.rings {
        for stop in ring.flow.iter().chain(&ring.back) {
            sets.join(&ring.from.value, &stop.to.value);
        }
    }
    for manifold in &survey.manifolds {
        if let Some(from) = &manifold.from {
            sets.join(&from.value, &manifold.name.value);
        }
    }
    for vessel in &survey.vessels {
        if let VesselKind::FourPort {
            from: Some(from), ..
        }
        | VesselKind::ThreePort {
            from: Some(from), ..
        } = &vessel.kind
        {
            sets.join(&from.value, &vessel.name.value);
        }
    }
    for exchanger in &survey.exchangers {
        if let Some(from) = &exchanger.from {
            sets.join(&from.value, &exchanger.name.value);
        }
    }
    sets
}

fn reaches_source(r: &mut Reader<'_>, survey: &Survey) {
    let mut sets = joined(survey);
    let fed: BTreeSet<usize> = survey
        .sources
        .iter()
        .map(|s| sets.set(&s.name.value))
        .collect();
    let mut lost: BTreeMap<usize, (String, Span)> = BTreeMap::new();
    for (name, role, _) in &r.names.met {
        if matches!(role, Role::LoopVisit | Role::RingVisit) {
            continue;
        }
        let base = split_side(&name.value).0;
        let set = sets.set(base);
        if !fed.contains(&set) && !r.names.is("emitter", base) {
            let first = lost
                .entry(set)
                .or_insert_with(|| (base.to_owned(), name.span.clone()));
            if name.span.start < first.1.start {
                *first = (base.to_owned(), name.span.clone());
            }
        }
    }
    let mut near_names: Vec<String> = Vec::new();
    let all: Vec<String> = sets
        .index
        .keys()
        .filter(|n| !n.contains('\u{0}'))
        .cloned()
        .collect();
    for name in all {
        if fed.contains(&sets.set(&name)) {
            near_names.push(name);
        }
    }
    for (name, span) in lost.into_values().take(super::MOST_SAID) {
        let help = match nearest(&name, near_names.iter().map(String::as_str)) {
            Some(near) => format!("did you mean `{}`, which is joined?", short(near)),
            None => "join it with a pair or a run that begins at a source, or at a place that leads to one".to_owned(),
        };
        r.say(
            Diagnostic::error(
                "not-joined",
                span,
                format!(
                    "what hangs on `{}` is not joined to any source",
                    short(&name)
                ),
            )
            .label("no way from here to a source")
            .help(help),
        );
    }
}
