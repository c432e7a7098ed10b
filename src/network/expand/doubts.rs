//! Doubts: for each value that the file admits beside the likeliest, the house is laid again with it, and what differs
//! is the alternative. So everything that follows from a pipe's size (fittings, ports, tees, heat, water) comes along.

use super::leg::Band;
use super::lookup::{self, short};
use crate::catalogue::Catalogue;
use crate::diag::Span;
use crate::network::{Alternative, Doubt, Follow, Law, Network, PartGroup};
use crate::quantity::Metre;
use crate::survey::{Leg, PipeSize, PipeWord, Range, Survey, VesselKind};
use std::collections::BTreeSet;

/// One change of one leg.
#[derive(Clone, Debug)]
enum Change {
    Pipe(PipeSize),
    Length(Metre),
    Condition(Band),
}

/// One value that a doubt admits, on every leg that it concerns.
#[derive(Clone, Debug)]
struct Admitted {
    words: String,
    odds: Option<f64>,
    changes: Vec<(usize, Change)>,
}

#[derive(Clone, Debug)]
struct Spec {
    /// Name of a doubt that several legs share, with its kind, so that a shared pipe and a shared length stay apart.
    shared: Option<(String, &'static str)>,
    name: String,
    likeliest: String,
    admitted: Vec<Admitted>,
    span: Span,
}

/// All doubts of a survey against the network laid at the likeliest values; `lay` lays a survey.
pub(super) fn find(survey: &Survey, base: &mut Network, lay: impl Fn(&Survey) -> Network) {
    let mut trial = survey.clone();
    for spec in specs(survey) {
        let mut alternatives = Vec::new();
        let mut runs: BTreeSet<usize> = BTreeSet::new();
        for admitted in &spec.admitted {
            apply(&mut trial, &admitted.changes);
            let other = lay(&trial);
            trial = survey.clone();
            let alternative = difference(base, &other, admitted);
            runs.extend(pipes_changed(base, &alternative));
            alternatives.push(alternative);
        }
        let index = base.doubts.len();
        for run in &runs {
            base.runs[*run].doubts.push(index);
        }
        base.doubts.push(Doubt {
            name: spec.name,
            likeliest: spec.likeliest,
            alternatives,
            runs: runs.into_iter().collect(),
            span: Some(spec.span),
        });
    }
}

/// Runs whose own pipe an alternative changes; a tee beyond may lose more or less without being in doubt itself.
fn pipes_changed<'a>(
    base: &'a Network,
    alternative: &'a Alternative,
) -> impl Iterator<Item = usize> + 'a {
    let pipe = |law: &Law| match law {
        Law::Parts(parts) => parts
            .iter()
            .find(|p| matches!(p.group, PartGroup::Pipe | PartGroup::Emitter))
            .map(|p| p.law.clone()),
        _ => None,
    };
    alternative.edits.iter().filter_map(move |(id, law)| {
        let old = base.element(*id);
        (pipe(&old.law) != pipe(law)).then_some(old.run).flatten()
    })
}

fn difference(base: &Network, other: &Network, admitted: &Admitted) -> Alternative {
    let mut alternative = Alternative {
        words: admitted.words.clone(),
        odds: admitted.odds,
        edits: Vec::new(),
        follow: Follow::default(),
    };
    // a size changes no joint, so both have the same elements; anything else would be a mistake of ours
    debug_assert_eq!(base.graph.edge_count(), other.graph.edge_count());
    if base.graph.edge_count() != other.graph.edge_count() {
        return alternative;
    }
    for id in base.element_ids() {
        let (old, new) = (base.element(id), other.element(id));
        if old.law != new.law {
            alternative.edits.push((id, new.law.clone()));
        }
        if old.heat != new.heat || old.volume_m3 != new.volume_m3 {
            alternative
                .follow
                .elements
                .push((id, new.heat, new.volume_m3));
        }
    }
    for (i, (old, new)) in base.runs.iter().zip(&other.runs).enumerate() {
        let pipe = new.run_pipe();
        if old.run_pipe() != pipe {
            alternative.follow.runs.push((i, pipe));
        }
    }
    for (i, (old, new)) in base.tees.iter().zip(&other.tees).enumerate() {
        if old != new {
            alternative.follow.tees.push((i, new.clone()));
        }
    }
    alternative
}

fn apply(survey: &mut Survey, changes: &[(usize, Change)]) {
    let mut index = 0;
    each_leg(survey, &mut |_, leg| {
        for (_, change) in changes.iter().filter(|(at, _)| *at == index) {
            match change {
                Change::Pipe(pipe) => {
                    if let Some(mut option) = lookup::likeliest(&leg.pipe).cloned() {
                        option.pipe = pipe.clone();
                        leg.pipe = PipeWord {
                            options: vec![option],
                            guess: false,
                            shared: None,
                        };
                    }
                }
                Change::Length(length) => {
                    leg.length = Range {
                        likeliest: *length,
                        low: *length,
                        high: *length,
                    };
                }
                Change::Condition(band) => {
                    leg.condition = leg.condition.as_ref().map(|word| band.on(word));
                }
            }
        }
        index += 1;
    });
}

/// Doubts in the order in which their legs are met; a shared one at its first leg.
fn specs(survey: &Survey) -> Vec<Spec> {
    let mut specs: Vec<Spec> = Vec::new();
    let mut legs = survey.clone();
    let mut index = 0;
    each_leg(&mut legs, &mut |owner, leg| {
        for spec in [
            pipe_doubt(owner, leg, index),
            length_doubt(owner, leg, index),
            age_doubt(owner, leg, index),
        ] {
            let Some(spec) = spec.filter(|s| !s.admitted.is_empty()) else {
                continue;
            };
            let same = specs
                .iter_mut()
                .find(|s| s.shared.is_some() && s.shared == spec.shared);
            match same {
                Some(same) => same.join(spec),
                None => specs.push(spec),
            }
        }
        index += 1;
    });
    specs
}

impl Spec {
    /// Takes in another leg that is right or wrong together with these.
    fn join(&mut self, other: Spec) {
        for (i, theirs) in other.admitted.into_iter().enumerate() {
            match self.admitted.get_mut(i) {
                Some(mine) => {
                    if !mine.words.split(" / ").any(|w| w == theirs.words) {
                        mine.words = format!("{} / {}", mine.words, theirs.words);
                    }
                    mine.changes.extend(theirs.changes);
                }
                None => self.admitted.push(theirs),
            }
        }
        if !self.likeliest.split(" / ").any(|w| w == other.likeliest) {
            self.likeliest = format!("{} / {}", self.likeliest, other.likeliest);
        }
    }
}

fn size_words(pipe: &PipeSize) -> String {
    match pipe {
        PipeSize::Word(word) => Catalogue::embedded()
            .pipe(word)
            .map_or_else(|| word.clone(), |p| p.size.clone()),
        PipeSize::Bore { bore, .. } => format!("bore {} mm", short(bore.likeliest.0 * 1e3)),
    }
}

fn plain_words(pipe: &PipeSize) -> String {
    match pipe {
        PipeSize::Word(word) => word.clone(),
        PipeSize::Bore { bore, .. } if bore.low != bore.high => {
            format!(
                "bore {}..{} mm",
                short(bore.low.0 * 1e3),
                short(bore.high.0 * 1e3)
            )
        }
        PipeSize::Bore { .. } => size_words(pipe),
    }
}

fn pipe_doubt(owner: &str, leg: &Leg, index: usize) -> Option<Spec> {
    let likeliest = lookup::likeliest(&leg.pipe)?;
    let one = |pipe: PipeSize, odds| Admitted {
        words: size_words(&pipe),
        odds,
        changes: vec![(index, Change::Pipe(pipe))],
    };
    let (admitted, words): (Vec<Admitted>, String) = if leg.pipe.options.len() > 1 {
        let others = leg.pipe.options.iter().filter(|o| *o != likeliest);
        let all: Vec<String> = leg
            .pipe
            .options
            .iter()
            .map(|o| plain_words(&o.pipe))
            .collect();
        (
            others.map(|o| one(o.pipe.clone(), o.odds)).collect(),
            all.join(" | "),
        )
    } else {
        match &likeliest.pipe {
            PipeSize::Bore { bore, roughness } if bore.low != bore.high => {
                let at = |end: Metre| PipeSize::Bore {
                    bore: Range {
                        likeliest: end,
                        low: end,
                        high: end,
                    },
                    roughness: *roughness,
                };
                let ends = vec![one(at(bore.low), None), one(at(bore.high), None)];
                (ends, plain_words(&likeliest.pipe))
            }
            PipeSize::Word(word) if leg.pipe.guess => {
                let guesses = Catalogue::embedded().guess(word);
                let admitted = guesses
                    .into_iter()
                    .map(|p| one(PipeSize::Word(p.word.clone()), None));
                (admitted.collect(), format!("{word}?"))
            }
            _ => return None,
        }
    };
    Some(Spec {
        name: leg
            .pipe
            .shared
            .clone()
            .unwrap_or_else(|| format!("{owner}: {words}")),
        shared: leg.pipe.shared.clone().map(|s| (s, "pipe")),
        likeliest: size_words(&likeliest.pipe),
        admitted,
        span: likeliest.span.clone(),
    })
}

fn length_doubt(owner: &str, leg: &Leg, index: usize) -> Option<Spec> {
    let Range {
        likeliest,
        low,
        high,
    } = &leg.length;
    if low == high {
        return None;
    }
    let one = |length: Metre| Admitted {
        words: format!("{} m", short(length.0)),
        odds: None,
        changes: vec![(index, Change::Length(length))],
    };
    let shared = leg.length_shared.clone();
    Some(Spec {
        name: match &shared {
            // one name for a shared pipe and another for a shared length
            Some(shared) if leg.pipe.shared.as_ref() == Some(shared) => format!("{shared} length"),
            Some(shared) => shared.clone(),
            None => format!("{owner}: {}..{} m", short(low.0), short(high.0)),
        },
        shared: shared.map(|s| (s, "length")),
        likeliest: format!("{} m", short(likeliest.0)),
        admitted: vec![one(*low), one(*high)],
        span: leg.span.clone(),
    })
}

fn age_doubt(owner: &str, leg: &Leg, index: usize) -> Option<Spec> {
    let word = leg.condition.as_ref()?;
    let one = |band: Band, words: &str| Admitted {
        words: format!("{word}, {words}"),
        odds: None,
        changes: vec![(index, Change::Condition(band))],
    };
    Some(Spec {
        shared: None,
        name: format!("{owner}: {word}"),
        likeliest: word.clone(),
        admitted: vec![
            one(Band::Best, "at its best"),
            one(Band::Worst, "at its worst"),
        ],
        span: leg.span.clone(),
    })
}

/// Every leg of a survey with the name of what it belongs to, always in the same order.
fn each_leg(survey: &mut Survey, visit: &mut dyn FnMut(&str, &mut Leg)) {
    for pair in &mut survey.pairs {
        visit(&pair.name.value, &mut pair.leg.value);
    }
    for run in &mut survey.runs {
        visit(&run.name.value, &mut run.leg.value);
    }
    for ring in &mut survey.rings {
        for stretch in &mut ring.flow {
            visit(
                &format!("{} to {}", ring.name.value, stretch.to.value),
                &mut stretch.leg.value,
            );
        }
        for stretch in &mut ring.back {
            visit(
                &format!("{} return to {}", ring.name.value, stretch.to.value),
                &mut stretch.leg.value,
            );
        }
    }
    for one in &mut survey.loops {
        for stretch in &mut one.main {
            visit(
                &format!("{} to {}", one.name.value, stretch.to.value),
                &mut stretch.leg.value,
            );
        }
        visit(&format!("{} home", one.name.value), &mut one.home.value);
        visit(
            &format!("{} between tees", one.name.value),
            &mut one.between.value,
        );
    }
    for manifold in &mut survey.manifolds {
        if let Some(leg) = &mut manifold.leg {
            visit(&manifold.name.value, &mut leg.value);
        }
    }
    for vessel in &mut survey.vessels {
        if let VesselKind::FourPort { leg: Some(leg), .. }
        | VesselKind::ThreePort { leg: Some(leg), .. } = &mut vessel.kind
        {
            visit(&vessel.name.value, &mut leg.value);
        }
    }
    for cylinder in &mut survey.cylinders {
        visit(&cylinder.name.value, &mut cylinder.leg.value);
    }
    for exchanger in &mut survey.exchangers {
        if let Some(leg) = &mut exchanger.leg {
            visit(&exchanger.name.value, &mut leg.value);
        }
    }
    for emitter in &mut survey.emitters {
        if let Some(leg) = &mut emitter.leg {
            visit(&emitter.name.value, &mut leg.value);
        }
        if let Some(leg) = &mut emitter.return_leg {
            visit(&format!("{} return", emitter.name.value), &mut leg.value);
        }
        if let crate::survey::EmitterKind::Floor { circuit, .. } = &mut emitter.kind {
            visit(&format!("{} loop", emitter.name.value), &mut circuit.value);
        }
    }
    for bypass in &mut survey.bypasses {
        if let Some(leg) = &mut bypass.leg {
            visit(&bypass.name.value, &mut leg.value);
        }
    }
}
