//! Whether every name in the file leads somewhere: places met twice, references, circuits that close.

use super::plant::split_side;
use super::reader::{Reader, list, short};
use crate::diag::{Diagnostic, Span, nearest};
use crate::survey::{At, Side, Survey, VesselKind};
use std::collections::{BTreeMap, BTreeSet};

/// Where a place was named.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Role {
    /// Beginning of a pair.
    PairFrom,
    /// End of a pair.
    PairTo,
    /// Beginning of a single run.
    RunFrom,
    /// End of a single run.
    RunTo,
    /// Something is fed from here: emitter, ring, loop, manifold, vessel, cylinder, exchanger, bypass.
    Feeds,
    /// A ring passes.
    RingVisit,
    /// A one-pipe loop passes.
    LoopVisit,
}

/// All names of the file, whether or not what they name could be read.
#[derive(Debug, Default)]
pub(super) struct Names {
    /// Names given by a table's key, by section.
    pub given: BTreeMap<&'static str, BTreeMap<String, Span>>,
    /// Places named, in the order they were read, with the thing that names them.
    pub met: Vec<(At<String>, Role, String)>,
}

impl Names {
    /// Names given in a section.
    pub fn of(&self, section: &str) -> impl Iterator<Item = &str> + Clone {
        self.given
            .get(section)
            .into_iter()
            .flatten()
            .map(|(n, _)| n.as_str())
    }

    /// Whether a section gives this name.
    pub fn is(&self, section: &str, name: &str) -> bool {
        self.given
            .get(section)
            .is_some_and(|names| names.contains_key(name))
    }

    /// Sections whose names are places by themselves.
    pub const PLACES: &'static [&'static str] =
        &["source", "manifold", "vessel", "cylinder", "exchanger"];
}

impl Reader<'_> {
    /// All checks of names.
    pub fn check_names(&mut self, survey: &Survey) {
        self.given_once();
        self.visits_known();
        self.places_met_twice();
        self.sides(survey);
        self.references(survey);
        super::joined::check(self, survey);
    }

    /// No two things that runs may lead to share a name, and no two runs do.
    fn given_once(&mut self) {
        for group in [
            &[
                "source",
                "manifold",
                "vessel",
                "cylinder",
                "exchanger",
                "emitter",
            ][..],
            &["pair", "run", "ring", "loop"][..],
        ] {
            let mut first: BTreeMap<String, (&str, Span)> = BTreeMap::new();
            let mut twice = Vec::new();
            for section in group {
                for (name, span) in self.names.given.get(section).into_iter().flatten() {
                    if let Some((other, at)) = first.get(name) {
                        twice.push((
                            At::new(name.clone(), span.clone()),
                            *section,
                            *other,
                            at.clone(),
                        ));
                    } else {
                        first.insert(name.clone(), (section, span.clone()));
                    }
                }
            }
            for (name, section, other, span) in twice {
                self.say(
                    Diagnostic::error(
                        "duplicate-name",
                        name.span,
                        format!("`{}` is the name of two things", short(&name.value)),
                    )
                    .label(format!("a {section} here"))
                    .also(span, format!("a {other} here"))
                    .help("give one of them another name"),
                );
            }
        }
    }

    /// A loop passes emitters; a ring passes emitters or places that are met elsewhere.
    fn visits_known(&mut self) {
        let elsewhere: BTreeSet<String> = (self.names.met.iter())
            .filter(|(_, role, _)| !matches!(role, Role::RingVisit | Role::LoopVisit))
            .map(|(name, ..)| split_side(&name.value).0.to_owned())
            .chain(
                Names::PLACES
                    .iter()
                    .flat_map(|s| self.names.of(s))
                    .map(str::to_owned),
            )
            .collect();
        let mut unknown: BTreeMap<String, At<String>> = BTreeMap::new();
        // who visits an emitter first, and where
        let mut visits: BTreeMap<&str, (&str, Span)> = BTreeMap::new();
        let mut twice = Vec::new();
        for (name, role, by) in &self.names.met {
            if !matches!(role, Role::RingVisit | Role::LoopVisit) {
                continue;
            }
            let is_emitter = self.names.is("emitter", &name.value);
            if !is_emitter && (*role == Role::LoopVisit || !elsewhere.contains(&name.value)) {
                unknown
                    .entry(name.value.clone())
                    .or_insert_with(|| name.clone());
                continue;
            }
            let (first_by, first) = visits
                .entry(&name.value)
                .or_insert_with(|| (by, name.span.clone()));
            if *first_by != by && is_emitter {
                twice.push((name.clone(), first.clone()));
            }
        }
        let emitters: Vec<String> = self.names.of("emitter").map(str::to_owned).collect();
        for name in unknown.into_values() {
            self.unknown_name("emitter", &name, emitters.iter().map(String::as_str));
        }
        for (name, first) in twice {
            self.say(
                Diagnostic::error(
                    "joined-twice",
                    name.span,
                    format!("emitter `{}` is joined twice", short(&name.value)),
                )
                .label("a second ring or loop")
                .also(first, "the first")
                .help("give the second radiator a name of its own"),
            );
        }
    }

    /// A misspelt place never becomes a new one silently.
    fn places_met_twice(&mut self) {
        let mut count: BTreeMap<String, usize> = BTreeMap::new();
        let mut first: BTreeMap<String, (At<String>, Role, String)> = BTreeMap::new();
        for section in Names::PLACES {
            for name in self.names.of(section) {
                *count.entry(name.to_owned()).or_default() += 2;
            }
        }
        let mut by_whom = BTreeSet::new();
        for (name, role, by) in &self.names.met {
            let base = split_side(&name.value).0.to_owned();
            if self.names.is("emitter", &base)
                && (base != name.value || matches!(role, Role::RingVisit | Role::LoopVisit))
            {
                continue; // a terminal of an emitter
            }
            if !by_whom.insert((base.clone(), by.clone())) {
                continue; // flow and return of one ring are one meeting
            }
            *count.entry(base.clone()).or_default() += 1;
            first
                .entry(base)
                .or_insert_with(|| (name.clone(), *role, by.clone()));
        }
        let mut once: Vec<&(At<String>, Role, String)> = first
            .iter()
            .filter(|(name, _)| count.get(*name) == Some(&1))
            .map(|(_, m)| m)
            .collect();
        once.sort_by_key(|(name, ..)| name.span.start);
        let mut said = BTreeSet::new();
        let mut found = Vec::new();
        for (name, role, by) in once.iter().rev().take(2 * super::MOST_SAID) {
            let base = split_side(&name.value).0;
            if said.contains(base) || matches!(role, Role::RingVisit | Role::LoopVisit) {
                continue;
            }
            if self.names.is("emitter", base) {
                found.push(
                    Diagnostic::error("emitter-as-place", name.span.clone(), format!("{by} leads to the emitter `{}`", short(base)))
                        .label("an emitter, not a place")
                        .help(format!("end {by} at a place and write it as `from` of `{}`; the emitter's own `leg` is its tails", short(base))),
                );
                continue;
            }
            let others = count.keys().map(String::as_str).filter(|o| *o != base);
            let near = nearest(base, others).map(str::to_owned);
            let diagnostic = match (&near, role) {
                (Some(near), _) => Diagnostic::error(
                    "unknown-place",
                    name.span.clone(),
                    format!("the place `{}` is met only once", short(base)),
                )
                .label("met only here")
                .help(format!(
                    "did you mean `{}`? A place is made by meeting it twice",
                    short(near)
                )),
                (None, Role::PairTo | Role::RunTo) => Diagnostic::error(
                    "leads-nowhere",
                    name.span.clone(),
                    format!("{by} leads nowhere: nothing else meets `{}`", short(base)),
                )
                .label("met only here")
                .help("join an emitter or another run there, or take this one out"),
                (None, _) => Diagnostic::error(
                    "unknown-place",
                    name.span.clone(),
                    format!("the place `{}` is met only once", short(base)),
                )
                .label("met only here")
                .help(format!(
                    "no run leads there; the places are {}",
                    list(
                        count
                            .keys()
                            .map(String::as_str)
                            .filter(|o| *o != base)
                            .take(12)
                    )
                )),
            };
            let diagnostic = match near
                .as_ref()
                .and_then(|n| first.get(n).filter(|_| count.get(n) == Some(&1)))
            {
                Some((other, ..)) => {
                    said.insert(split_side(&other.value).0.to_owned());
                    diagnostic.also(other.span.clone(), "met only here too")
                }
                None => diagnostic,
            };
            found.push(diagnostic);
        }
        self.found.extend(found);
    }

    /// Single runs name a side where there are two, and lead away from flows and towards returns.
    fn sides(&mut self, survey: &Survey) {
        let two_sided: BTreeSet<&str> = (self.names.met.iter())
            .filter(|(_, role, _)| !matches!(role, Role::RunFrom | Role::RunTo))
            .map(|(name, ..)| name.value.as_str())
            .collect();
        let mut found = Vec::new();
        for run in &survey.runs {
            if found.len() > 2 * super::MOST_SAID {
                break;
            }
            for (end, leaving) in [(&run.from, true), (&run.to, false)] {
                let (base, side) = split_side(&end.value);
                let emitter = self.names.is("emitter", base);
                let source = self.names.is("source", base);
                let has_sides = emitter
                    || Names::PLACES.iter().any(|s| self.names.is(s, base))
                    || two_sided.contains(base);
                let by = format!("run `{}`", short(&run.name.value));
                if side.is_none() && has_sides {
                    found.push(
                        Diagnostic::error(
                            "side-missing",
                            end.span.clone(),
                            format!("{by} does not say which side of `{}` it joins", short(base)),
                        )
                        .label("flow or return?")
                        .help(format!(
                            "write `{}.flow` or `{}.return`",
                            short(base),
                            short(base)
                        )),
                    );
                }
                if side.is_some() && !has_sides {
                    let names = Names::PLACES
                        .iter()
                        .chain(&["emitter"])
                        .flat_map(|s| self.names.of(s))
                        .chain(two_sided.iter().copied());
                    let help = match nearest(base, names) {
                        Some(near) => format!("did you mean `{}`?", short(near)),
                        None => {
                            "a place of single runs has one side: write its name alone".to_owned()
                        }
                    };
                    found.push(
                        Diagnostic::error(
                            "unknown-place",
                            end.span.clone(),
                            format!("`{}` has no flow and return side", short(base)),
                        )
                        .label("not a source, emitter, vessel or place of pairs")
                        .help(help),
                    );
                }
                let crossed = match (source, emitter, side) {
                    // water leaves a source by its flow and an emitter by its return
                    (true, _, Some(side)) => leaving != (side == Side::Flow),
                    (_, true, Some(side)) => leaving != (side == Side::Return),
                    _ => false,
                };
                if crossed {
                    let (thing, right) = if source {
                        ("source", "return")
                    } else {
                        ("emitter", "flow")
                    };
                    let right = match leaving {
                        false => right,
                        true if source => "flow",
                        true => "return",
                    };
                    found.push(
                        Diagnostic::error(
                            "crossed",
                            end.span.clone(),
                            format!(
                                "flow and return are crossed: {by} {} the {thing} by its {}",
                                if leaving { "leaves" } else { "enters" },
                                if right == "flow" { "return" } else { "flow" }
                            ),
                        )
                        .label("a run is written in the direction of its flow")
                        .help(format!(
                            "write `{}.{right}`, or turn the run round",
                            short(base)
                        )),
                    );
                }
            }
        }
        self.found.extend(found);
    }

    /// Names of pairs, zones, sources and pumps that other lines mention.
    fn references(&mut self, survey: &Survey) {
        let given = |r: &Self, sections: &[&str]| -> Vec<String> {
            sections
                .iter()
                .flat_map(|s| r.names.of(s))
                .map(str::to_owned)
                .collect()
        };
        let pairs = given(self, &["pair", "run"]);
        let zones = given(self, &["zone"]);
        let sources = given(self, &["source"]);
        let shut = given(
            self,
            &[
                "zone", "emitter", "pair", "run", "ring", "loop", "manifold", "cylinder", "bypass",
            ],
        );
        let stopped = given(self, &["source", "vessel", "manifold", "exchanger", "zone"]);
        let mut wanted: Vec<(&str, &At<String>, &[String])> = Vec::new();
        for zone in &survey.zones {
            wanted.extend(zone.on.iter().map(|n| ("pair", n, &pairs[..])));
        }
        for vessel in &survey.vessels {
            if let VesselKind::Series { on, .. } = &vessel.kind {
                wanted.push(("pair", on, &pairs));
            }
        }
        for tee in &survey.tees {
            wanted.extend(tee.straight.iter().map(|n| ("pair", n, &pairs[..])));
        }
        for emitter in &survey.emitters {
            wanted.extend(emitter.zone.iter().map(|n| ("zone", n, &zones[..])));
        }
        let tables = given(self, &["valve_table"]);
        let table = |n| ("valve_table", n, &tables[..]);
        for emitter in &survey.emitters {
            let named = emitter.valve_table.iter().chain(&emitter.lockshield_table);
            wanted.extend(named.map(table));
        }
        wanted.extend(
            survey
                .manifolds
                .iter()
                .filter_map(|m| m.port_table.as_ref())
                .map(table),
        );
        let readable = given(self, &["emitter", "source"]);
        for reading in &survey.readings {
            wanted.push(("emitter", &reading.name, &readable));
        }
        for state in &survey.states {
            wanted.extend(state.sources.iter().map(|n| ("source", n, &sources[..])));
            wanted.extend(
                state
                    .shut
                    .iter()
                    .map(|n| ("zone, emitter or pair", n, &shut[..])),
            );
            wanted.extend(state.stopped.iter().map(|n| ("pump of", n, &stopped[..])));
        }
        for (sort, name, names) in wanted {
            if !names.contains(&name.value) {
                self.unknown_name(sort, name, names.iter().map(String::as_str));
            }
        }
        let places: BTreeSet<String> = (self.names.met.iter())
            .filter(|(_, role, _)| !matches!(role, Role::LoopVisit))
            .map(|(name, ..)| split_side(&name.value).0.to_owned())
            .chain(given(self, Names::PLACES))
            .collect();
        for tee in &survey.tees {
            if !places.contains(&tee.place.value) {
                self.unknown_name("place", &tee.place, places.iter().map(String::as_str));
            }
        }
        for zone in survey.zones.iter().filter(|z| z.on.is_empty()) {
            if !survey
                .emitters
                .iter()
                .any(|e| e.zone.as_ref().is_some_and(|n| n.value == zone.name.value))
            {
                self.say(
                    Diagnostic::error(
                        "zone-empty",
                        zone.name.span.clone(),
                        format!("zone `{}` shuts nothing", short(&zone.name.value)),
                    )
                    .label("no `on`, and no emitter names it")
                    .help("say which pairs it shuts: `on = [\"riser\"]`"),
                );
            }
        }
    }
}
