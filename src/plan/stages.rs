//! The order of work: stages each of which leaves a house that heats, with what holds after each.

use super::search::{Found, Plan, Search, views};
use super::site::Change;
use crate::check::{self, Verdict};
use crate::network::expand;

/// What is done while one place is open, or by itself.
#[derive(Clone, Debug, PartialEq)]
pub struct Stage {
    /// The place, if one is opened.
    pub place: Option<String>,
    /// Changes, in the order of the sites.
    pub changes: Vec<Change>,
    /// In words.
    pub words: Vec<String>,
    /// Money with opening the place, hundredths.
    pub money: i64,
    /// How many checks fail after it.
    pub failing: usize,
    /// Head to spare on the worst circuit after it, Pa; negative if short.
    pub spare_pa: f64,
    /// Flow temperature that the worst emitter asks for after it, °C.
    pub asks_c: Option<f64>,
}

/// A place, if one is opened, with slots and their offers.
type Group = (Option<usize>, Vec<(usize, usize)>);

/// The plan's changes by place, each time the one that helps the head most, then the temperature.
pub fn stages(search: &Search<'_>, found: &Found, plan: &Plan) -> Vec<Stage> {
    let chosen = found.model.chosen(&plan.picks);
    let mut groups: Vec<Group> = Vec::new();
    for (s, &o) in chosen.iter().enumerate().filter(|(_, o)| **o != 0) {
        let place = search.offers.slots[s].offers[o].opens.first().copied();
        match groups
            .iter_mut()
            .find(|(p, _)| place.is_some() && *p == place)
        {
            Some((_, group)) => group.push((s, o)),
            None => groups.push((place, vec![(s, o)])),
        }
    }
    let mut survey = search.house.survey.clone();
    let mut done = Vec::new();
    while !groups.is_empty() {
        let mut best: Option<(f64, f64, usize)> = None;
        // the greedy choice looks at every stage that is left; many stages are taken in the order of the sites
        let looked = if groups.len() > 24 { 1 } else { groups.len() };
        for (g, (_, group)) in groups.iter().enumerate().take(looked) {
            let mut trial = survey.clone();
            for &(s, o) in group {
                search.offers.slots[s].offers[o].change.apply(&mut trial);
            }
            let (spare_pa, asks_c) = expand(&trial)
                .ok()
                .and_then(|(n, _)| spare(&n))
                .unwrap_or((f64::NEG_INFINITY, None));
            let short = spare_pa.min(0.0);
            let asks = -asks_c.unwrap_or(0.0);
            let better = best.is_none_or(|(a, b, _)| (short, asks) > (a, b));
            if better {
                best = Some((short, asks, g));
            }
        }
        let Some((_, _, g)) = best else { break };
        let (place, group) = groups.remove(g);
        let mut money = place.map_or(0, |p| search.offers.openings[p].cost.money);
        let mut changes = Vec::new();
        for &(s, o) in &group {
            let offer = &search.offers.slots[s].offers[o];
            offer.change.apply(&mut survey);
            money += offer.money;
            changes.push(offer.change.clone());
        }
        let after = expand(&survey).ok();
        let study = after
            .as_ref()
            .and_then(|(n, _)| check::study(n, &check::Options::default()).ok());
        let (spare_pa, asks_c) = after
            .as_ref()
            .and_then(|(n, _)| spare(n))
            .unwrap_or((0.0, None));
        done.push(Stage {
            place: place.map(|p| search.offers.openings[p].name.clone()),
            words: search.words(&group),
            changes,
            money,
            failing: study.map_or(0, |s| {
                let failing = s.findings.iter();
                failing.filter(|f| f.verdict == Verdict::Fails).count()
            }),
            spare_pa,
            asks_c,
        });
    }
    done
}

/// Head to spare on the worst circuit, Pa, and the flow temperature that the worst emitter asks for.
pub fn spare(network: &crate::network::Network) -> Option<(f64, Option<f64>)> {
    let required = views(network).ok()?;
    let circuits = required.iter().flat_map(|r| &r.circuits);
    let spare = circuits
        .filter_map(|c| Some(c.available_pa? - c.needed_pa))
        .fold(f64::INFINITY, f64::min);
    let asks = required.iter().flat_map(|r| &r.emitters);
    let asks = asks.filter_map(|e| e.source_c).reduce(f64::max);
    spare.is_finite().then_some((spare, asks))
}
