//! Whether all places hang together: every circuit reaches a source, sources are apart, single runs close.

use super::names::{Names, Role};
use super::plant::split_side;
use super::reader::{Reader, short};
use crate::diag::{Diagnostic, Span, nearest};
use crate::survey::{Side, Survey, VesselKind};
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
    sources_apart(r, survey);
    runs_close(r, survey);
}

/// Joins what hangs together. `apart`: the two sides of a four-port vessel and of an exchanger count as different.
fn joined(survey: &Survey, apart: bool) -> Sets {
    let mut sets = Sets::default();
    let splits: BTreeSet<&str> = (survey.vessels.iter())
        .filter(|v| matches!(v.kind, VesselKind::FourPort { .. }))
        .map(|v| v.name.value.as_str())
        .chain(survey.exchangers.iter().map(|x| x.name.value.as_str()))
        .filter(|_| apart)
        .collect();
    let primary = |name: &str| match splits.contains(name) {
        true => format!("{name}\u{0}primary"),
        false => name.to_owned(),
    };
    for pair in &survey.pairs {
        sets.join(&pair.from.value, &primary(&pair.to.value));
    }
    for run in &survey.runs {
        sets.join(
            split_side(&run.from.value).0,
            &primary(split_side(&run.to.value).0),
        );
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
            sets.join(&from.value, &primary(&vessel.name.value));
        }
    }
    for exchanger in &survey.exchangers {
        if let Some(from) = &exchanger.from {
            sets.join(&from.value, &primary(&exchanger.name.value));
        }
    }
    sets
}

fn reaches_source(r: &mut Reader<'_>, survey: &Survey) {
    let mut sets = joined(survey, false);
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
    for (name, span) in lost.into_values() {
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

/// Two sources on one circuit push against each other unless the file says which of them run together.
fn sources_apart(r: &mut Reader<'_>, survey: &Survey) {
    if survey.states.iter().any(|s| !s.sources.is_empty()) {
        return;
    }
    let mut sets = joined(survey, true);
    let mut first: BTreeMap<usize, &crate::survey::At<String>> = BTreeMap::new();
    let mut found = Vec::new();
    for source in &survey.sources {
        let set = sets.set(&source.name.value);
        match first.get(&set) {
            None => {
                first.insert(set, &source.name);
            }
            Some(other) => found.push(
                Diagnostic::error(
                    "sources-together",
                    source.name.span.clone(),
                    format!("the sources `{}` and `{}` are on one circuit, unseparated", short(&other.value), short(&source.name.value)),
                )
                .label("the second source")
                .also(other.span.clone(), "the first")
                .help("put a vessel with `ports = 4` or an exchanger between them, or name each combination that runs: `[state.both]` with `sources = [...]`"),
            ),
        }
    }
    r.found.extend(found);
}

/// Water that comes by single runs must also go, and the other way round.
fn runs_close(r: &mut Reader<'_>, survey: &Survey) {
    // for each end of runs: does water come, does water go, where was it named first
    let mut ends: BTreeMap<&str, (bool, bool, Span)> = BTreeMap::new();
    for run in &survey.runs {
        for (end, comes) in [(&run.to, true), (&run.from, false)] {
            let entry = ends
                .entry(&end.value)
                .or_insert_with(|| (false, false, end.span.clone()));
            if comes {
                entry.0 = true;
            } else {
                entry.1 = true;
            }
        }
    }
    let mut found = Vec::new();
    for (name, (comes, goes, span)) in &ends {
        let (base, side) = split_side(name);
        if side.is_none() && comes != goes {
            let (does, not) = if *comes {
                ("comes to", "leave")
            } else {
                ("leaves", "come to")
            };
            found.push(
                Diagnostic::error("not-closed", span.clone(), format!("the circuit does not close: water {does} `{}` and cannot {not} it", short(name)))
                    .label(if *comes { "no run leads on from here" } else { "no run leads here" })
                    .help("runs are written in the direction of their flow; check both ends of those that meet here"),
            );
        }
        // a source or emitter on runs alone needs both its sides
        let alone =
            r.names.is("emitter", base) || (r.names.is("source", base) && !pairs_meet(r, base));
        if let (true, Some(side)) = (alone, side) {
            let other = format!(
                "{base}.{}",
                if side == Side::Flow { "return" } else { "flow" }
            );
            if !ends.contains_key(other.as_str()) {
                found.push(
                    Diagnostic::error(
                        "not-closed",
                        span.clone(),
                        format!(
                            "the circuit does not close: nothing joins `{}`",
                            short(&other)
                        ),
                    )
                    .label("only this side is joined")
                    .help(format!("write the run that joins `{}`", short(&other))),
                );
            }
        }
    }
    r.found.extend(found);
}

fn pairs_meet(r: &Reader<'_>, name: &str) -> bool {
    let runs = [Role::RunFrom, Role::RunTo];
    r.names
        .met
        .iter()
        .any(|(n, role, _)| n.value == name && !runs.contains(role))
        || Names::PLACES
            .iter()
            .any(|s| *s != "source" && r.names.is(s, name))
}
