//! What the two ends of a single run mean: `heat pump.flow`, `lounge.return`, or a bare place.

use super::build::Builder;
use crate::network::PlaceId;
use crate::survey::{At, Side, Survey};
use std::collections::{BTreeMap, BTreeSet};

/// A name with its side, if one is written behind it.
pub(super) fn split(name: &str) -> (&str, Option<Side>) {
    if let Some(place) = name.strip_suffix(".flow") {
        (place, Some(Side::Flow))
    } else if let Some(place) = name.strip_suffix(".return") {
        (place, Some(Side::Return))
    } else {
        (name, None)
    }
}

/// Names that have a flow and a return side because something other than a single run meets them.
fn two_sided(survey: &Survey) -> BTreeSet<&str> {
    let mut names: BTreeSet<&str> = BTreeSet::new();
    names.extend(survey.sources.iter().map(|s| s.name.value.as_str()));
    for pair in &survey.pairs {
        names.insert(&pair.from.value);
        names.insert(&pair.to.value);
    }
    for ring in &survey.rings {
        names.insert(&ring.from.value);
        names.extend(
            ring.flow
                .iter()
                .chain(&ring.back)
                .map(|s| s.to.value.as_str()),
        );
    }
    names.extend(survey.loops.iter().map(|l| l.from.value.as_str()));
    for manifold in &survey.manifolds {
        names.insert(&manifold.name.value);
        names.extend(manifold.from.iter().map(|f| f.value.as_str()));
    }
    for emitter in &survey.emitters {
        names.insert(&emitter.name.value);
        names.extend(emitter.from.iter().map(|f| f.value.as_str()));
    }
    names.extend(survey.vessels.iter().map(|v| v.name.value.as_str()));
    names.extend(survey.cylinders.iter().map(|c| c.from.value.as_str()));
    for exchanger in &survey.exchangers {
        names.insert(&exchanger.name.value);
        names.extend(exchanger.from.iter().map(|f| f.value.as_str()));
    }
    names.extend(survey.bypasses.iter().map(|b| b.at.value.as_str()));
    names.extend(
        survey
            .runs
            .iter()
            .flat_map(|r| [&r.from, &r.to])
            .filter_map(|end| {
                let (place, side) = split(&end.value);
                side.map(|_| place)
            }),
    );
    names
}

/// Side of each bare word of a single run that stands for a place with two sides: the side of the run's other end,
/// passed on from run to run. `None` where nothing tells.
pub(super) fn bare_sides(builder: &Builder) -> BTreeMap<String, Option<Side>> {
    let survey = builder.survey;
    let two = two_sided(survey);
    let mut sides: BTreeMap<&str, Option<Side>> = BTreeMap::new();
    for run in &survey.runs {
        for end in [&run.from, &run.to] {
            let (place, side) = split(&end.value);
            if side.is_none() && two.contains(place) {
                sides.insert(place, None);
            }
        }
    }
    // each round settles at least one word or ends
    let mut known: BTreeMap<&str, Side> = BTreeMap::new();
    for _ in 0..=survey.runs.len() {
        let mut settled = false;
        for run in &survey.runs {
            let ends = [(&run.from, &run.to), (&run.to, &run.from)];
            for (end, other) in ends {
                let (_, side) = split(&other.value);
                let side = side.or_else(|| known.get(other.value.as_str()).copied());
                let bare = split(&end.value).1.is_none();
                if let (true, Some(side)) = (bare, side)
                    && !known.contains_key(end.value.as_str())
                {
                    known.insert(&end.value, side);
                    settled = true;
                }
            }
        }
        if !settled {
            break;
        }
    }
    sides
        .keys()
        .map(|place| ((*place).to_owned(), known.get(place).copied()))
        .collect()
}

impl Builder<'_> {
    /// The node that one end of a single run stands for. `starts` where the water enters the run there.
    pub fn terminal(
        &mut self,
        at: &At<String>,
        starts: bool,
        sides: &BTreeMap<String, Option<Side>>,
    ) -> Option<PlaceId> {
        let (place, written) = split(&at.value);
        if written.is_none() && !sides.contains_key(place) {
            return Some(self.main_place(place));
        }
        let side = written.or_else(|| sides.get(place).copied().flatten());
        let Some(side) = side else {
            self.faults.push(
                crate::diag::Diagnostic::error(
                    "side-missing",
                    at.span.clone(),
                    format!("`{place}` has a flow and a return side"),
                )
                .label("which of the two?")
                .help(format!("write `{place}.flow` or `{place}.return`")),
            );
            return None;
        };
        let (source, emitter) = (
            self.source_named(place),
            self.survey
                .emitters
                .iter()
                .any(|e| e.name.value == place && e.from.is_none()),
        );
        // water leaves a source by its flow and an emitter by its return
        let wrong = match side {
            Side::Flow => (source && !starts) || (emitter && starts),
            Side::Return => (source && starts) || (emitter && !starts),
        };
        if wrong {
            let (word, other) = match side {
                Side::Flow => ("flow", "return"),
                Side::Return => ("return", "flow"),
            };
            let verb = if starts { "leave" } else { "enter" };
            self.crossed(
                at,
                format!("water does not {verb} `{place}` by its {word}"),
                "flow and return are crossed here",
                format!("write `{place}.{other}`, or turn the run round: from, to is the way the water goes"),
            );
            return None;
        }
        let ports = self.ports(place);
        Some(match (side, starts) {
            (Side::Flow, true) => ports.flow_out,
            (Side::Flow, false) => ports.flow_in,
            (Side::Return, true) => ports.return_out,
            (Side::Return, false) => ports.return_in,
        })
    }
}
