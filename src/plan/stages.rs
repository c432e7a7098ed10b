//! The order of work: stages each of which leaves a house that works as well as it did, with what holds after each.
//!
//! A stage is what is done while one place is open. An order is sought in which no check that passed before the work
//! fails after any stage; where there is none, the stage that breaks one says which.

use super::change::Change;
use super::search::{Found, Plan, Search, views};
use super::verify::named;
use crate::check::{self, Verdict};
use crate::network::{Network, expand};
use std::collections::{BTreeMap, BTreeSet};

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
    /// Checks that fail after it, with what they are about.
    pub failing: Vec<String>,
    /// Those of them that passed before the work began: no order of work on offer avoids it.
    pub breaks: Vec<String>,
    /// Head to spare on the worst circuit after it, Pa; negative if short; `None` if no circuit's pump is known.
    pub spare_pa: Option<f64>,
    /// Flow temperature that the worst emitter asks for after it, °C.
    pub asks_c: Option<f64>,
}

/// A place, if one is opened, with slots and their offers.
type Group = (Option<usize>, Vec<(usize, usize)>);

/// Looks in full that are spent on finding an order; then the stages follow as they help.
const MOST_LOOKS: usize = 200;
/// Stages beyond which each next one is not compared with all that are left.
const COMPARED: usize = 24;

/// The plan's changes by place, in an order in which each stage leaves what worked working; among such orders each time
/// the stage that helps the head most, then the temperature.
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
    let mut order = Order {
        search,
        groups,
        looks: 0,
        known: BTreeMap::new(),
        dead: BTreeSet::new(),
    };
    let before: BTreeSet<String> = order.look(&[]).failing.into_iter().collect();
    let mut done = Vec::new();
    if !order.extend(&mut done, &before) {
        // no such order, or none found in time: as it helps most
        while done.len() < order.groups.len() {
            let next = order.ranked(&done);
            done.extend(next.first().copied());
        }
    }
    (1..=done.len())
        .map(|n| order.stage(&done[..n], &before))
        .collect()
}

/// What holds after some stages.
#[derive(Clone)]
struct After {
    failing: Vec<String>,
    spare_pa: Option<f64>,
    asks_c: Option<f64>,
}

struct Order<'s> {
    search: &'s Search<'s>,
    groups: Vec<Group>,
    looks: usize,
    known: BTreeMap<Vec<usize>, After>,
    /// Sets of stages from which no order leads on.
    dead: BTreeSet<Vec<usize>>,
}

impl Order<'_> {
    /// The house after some stages.
    fn network(&self, done: &[usize]) -> Option<Network> {
        let mut survey = self.search.house.survey.clone();
        let mut changes: Vec<(usize, usize)> = done
            .iter()
            .flat_map(|&g| &self.groups[g].1)
            .copied()
            .collect();
        changes.sort_unstable();
        for (s, o) in changes {
            self.search.offers.slots[s].offers[o]
                .change
                .apply(&mut survey);
        }
        expand(&survey).ok().map(|(network, _)| network)
    }

    /// What holds then, looked at in full.
    fn look(&mut self, done: &[usize]) -> After {
        let mut key = done.to_vec();
        key.sort_unstable();
        if let Some(after) = self.known.get(&key) {
            return after.clone();
        }
        self.looks += 1;
        let network = self.network(done);
        let (spare_pa, asks_c) = network.as_ref().map_or((None, None), spare);
        let study = network.and_then(|n| check::study(&n, &check::Options::default()).ok());
        let failing = match study {
            Some(study) => {
                let failing = study.findings.iter();
                let failing = failing.filter(|f| f.verdict == Verdict::Fails);
                let mut names: Vec<String> = failing
                    .map(|f| named(&study.network, f.check, f.subject))
                    .collect();
                names.dedup();
                names
            }
            None => vec!["the house has no answer".to_owned()],
        };
        let after = After {
            failing,
            spare_pa,
            asks_c,
        };
        self.known.insert(key, after.clone());
        after
    }

    /// Stages that are left, the one that helps most first.
    fn ranked(&self, done: &[usize]) -> Vec<usize> {
        let left: Vec<usize> = (0..self.groups.len())
            .filter(|g| !done.contains(g))
            .collect();
        if left.len() > COMPARED {
            return left;
        }
        let mut ranked: Vec<(f64, f64, usize)> = left
            .into_iter()
            .map(|g| {
                let mut then = done.to_vec();
                then.push(g);
                let network = self.network(&then);
                let (spare, asks) = network.as_ref().map_or((None, None), spare);
                let short = spare.unwrap_or(f64::NEG_INFINITY).min(0.0);
                (short, -asks.unwrap_or(0.0), g)
            })
            .collect();
        ranked.sort_by(|a, b| {
            b.0.total_cmp(&a.0)
                .then(b.1.total_cmp(&a.1))
                .then(a.2.cmp(&b.2))
        });
        ranked.into_iter().map(|(_, _, g)| g).collect()
    }

    /// Goes on with an order, back where it ends; whether it came to its end.
    fn extend(&mut self, done: &mut Vec<usize>, before: &BTreeSet<String>) -> bool {
        if done.len() == self.groups.len() {
            return true;
        }
        let mut key = done.clone();
        key.sort_unstable();
        if self.dead.contains(&key) {
            return false;
        }
        for g in self.ranked(done) {
            if self.looks >= MOST_LOOKS {
                return false;
            }
            done.push(g);
            let failing = self.look(done).failing;
            if failing.iter().all(|f| before.contains(f)) && self.extend(done, before) {
                return true;
            }
            done.pop();
        }
        self.dead.insert(key);
        false
    }

    fn stage(&mut self, done: &[usize], before: &BTreeSet<String>) -> Stage {
        let after = self.look(done);
        let (place, group) = match done.last() {
            Some(&g) => self.groups[g].clone(),
            None => (None, Vec::new()),
        };
        let places = &self.search.offers.openings;
        let mut money = place.map_or(0, |p| places[p].cost.money);
        let mut changes = Vec::new();
        for &(s, o) in &group {
            let offer = &self.search.offers.slots[s].offers[o];
            money += offer.money;
            changes.push(offer.change.clone());
        }
        Stage {
            place: place.map(|p| places[p].name.clone()),
            words: self.search.words(&group),
            changes,
            money,
            breaks: after
                .failing
                .iter()
                .filter(|f| !before.contains(*f))
                .cloned()
                .collect(),
            failing: after.failing,
            spare_pa: after.spare_pa,
            asks_c: after.asks_c,
        }
    }
}

/// Head to spare on the worst circuit, Pa, and the flow temperature that the worst emitter asks for, °C.
pub fn spare(network: &Network) -> (Option<f64>, Option<f64>) {
    let required = views(network).unwrap_or_default();
    let circuits = required.iter().flat_map(|r| &r.circuits);
    let spare = circuits
        .filter_map(|c| Some(c.available_pa? - c.needed_pa))
        .reduce(f64::min);
    let asks = required.iter().flat_map(|r| &r.emitters);
    let asks = asks.filter_map(|e| e.source_c).reduce(f64::max);
    (spare, asks)
}
