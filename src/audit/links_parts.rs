//! Relations of emitters, and of the parts of a way round.

use super::claim::{About, Claims, What};
use super::figures::Seen;
use super::links::{ANY, Links, Variable, stated_of};
use super::relation::{Interval, Relation};
use crate::maths;
use crate::network::HeatLaw;
use std::collections::BTreeSet;

pub(super) fn emitters(seen: &Seen, claims: &Claims, links: &mut Links) {
    let network = seen.network;
    let capacity = links.at(Variable::Capacity, ANY);
    let house_drop = links.stated(About::House, What::Drop);
    let hot = links.stated(About::House, What::FlowTemperature);
    let mixes = network.manifolds.iter().any(|m| m.blend.is_some())
        || network
            .vessels
            .iter()
            .any(|v| !matches!(v.kind, crate::network::VesselKind::Series { .. }))
        || !network.exchangers.is_empty();
    for about in stated_of(claims, |a| matches!(a, About::Emitter(_))) {
        let About::Emitter(i) = about else { continue };
        let Some(emitter) = network.emitters.get(i) else {
            continue;
        };
        // its own drop where that is claimed, else the house's
        let own = claims
            .list
            .iter()
            .any(|c| c.about == about && c.row.what == What::Drop);
        let drop = if own {
            links.stated(about, What::Drop)
        } else {
            house_drop
        };
        let [needs, flow] = [What::Needs, What::Flow].map(|w| links.stated(about, w));
        if emitter.one_pipe.is_none() {
            links.product("heat-flow-drop", needs, &[capacity, flow, drop], 1.0);
        }
        let HeatLaw::Rated { exponent, .. } = emitter.law else {
            continue;
        };
        if mixes || emitter.one_pipe.is_some() {
            continue;
        }
        let [output, rated] = [What::Output, What::Rated].map(|w| links.stated(about, w));
        let excess = links.help(Interval {
            low: 0.5,
            high: 100.0,
        });
        // arithmetic or logarithmic mean, 50 K or 49.83 K: a few percent cover the conventions
        let mean = links.help(Interval {
            low: 0.97,
            high: 1.01,
        });
        let room = claims
            .list
            .iter()
            .any(|c| c.about == about && c.row.what == What::Room);
        let room_c = network
            .rooms
            .get(emitter.room)
            .map_or(20.0, |r| r.temperature_c);
        let mut terms = vec![(hot, 1.0), (drop, -0.5)];
        if room {
            terms.push((links.stated(about, What::Room), -1.0));
        }
        let constant = if room { 0.0 } else { -room_c };
        links.sum("rating-excess-output", excess, &terms, constant);
        links.relations.push((
            "rating-excess-output",
            Relation::Product {
                result: output,
                factors: vec![(rated, 1.0), (excess, exponent), (mean, 1.0)],
                constant: maths::pow(50.0, -exponent),
            },
        ));
    }
    // all emitters stated: the house is their sum
    let every = |what: What| {
        let stated: Vec<About> = claims
            .list
            .iter()
            .filter(|c| c.row.what == what)
            .map(|c| c.about)
            .collect();
        let emitters = 0..network.emitters.len();
        network.emitters.len() > 1
            && emitters
                .into_iter()
                .all(|i| stated.contains(&About::Emitter(i)))
    };
    let one_pipe = network.emitters.iter().any(|e| e.one_pipe.is_some());
    for (what, whole) in [(What::Needs, What::Load), (What::Flow, What::Flow)] {
        if every(what) && !(what == What::Flow && (mixes || one_pipe)) {
            let whole = links.stated(About::House, whole);
            let parts: Vec<usize> = (0..network.emitters.len())
                .map(|i| links.stated(About::Emitter(i), what))
                .collect();
            // a declared load or the maker's nominal flow may be more than the sum
            links.at_least("parts-sum", whole, &parts);
        }
    }
}

/// The head is that of the way that loses most: no way round loses more in the runs that are stated.
pub(super) fn ways_round(seen: &Seen, claims: &Claims, links: &mut Links) {
    let Some(circuit) = seen.circuit() else {
        return;
    };
    let head = links.stated(About::House, What::Head);
    let with_loss: Vec<About> = claims
        .list
        .iter()
        .filter(|c| c.row.what == What::Loss)
        .map(|c| c.about)
        .collect();
    let mut done: BTreeSet<Vec<About>> = BTreeSet::new();
    for path in &circuit.paths {
        let on = |run: &usize| {
            let elements = seen.network.runs.get(*run).map(|r| &r.elements);
            elements.is_some_and(|e| {
                e.iter()
                    .all(|id| path.elements.iter().any(|(p, _)| p == id))
            })
        };
        let mut taken: BTreeSet<usize> = BTreeSet::new();
        let mut parts: Vec<About> = Vec::new();
        for about in &with_loss {
            let pipes = seen.pipes(*about);
            if !pipes.is_empty() && pipes.iter().all(|p| on(p) && !taken.contains(p)) {
                taken.extend(pipes);
                parts.push(*about);
            }
        }
        if !parts.is_empty() && done.insert(parts.clone()) {
            let parts: Vec<usize> = parts.iter().map(|a| links.stated(*a, What::Loss)).collect();
            links.at_least("parts-sum", head, &parts);
        }
    }
}
