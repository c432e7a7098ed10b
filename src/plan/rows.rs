//! Rows of the problem: one for each way round each pumped circuit.

use super::crowd::Crowd;
use super::loose::Loose;
use super::model::{Model, Way, loss_pa};
use super::offer::Offers;
use super::passage::{Passage, tees};
use super::problem::{Problem, Row};
use super::site::Site;
use super::twin::least_loss_pa;
use crate::network::{ElementId, Emitter, Network, PlaceId};
use crate::solve::SolveError;
use crate::view::{Path, Required};
use std::collections::{BTreeMap, BTreeSet};

/// At which flows rows are made.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Flows {
    /// Only what cannot move counts: a bound.
    Sure,
    /// As if what moves stood as it does today: a guide.
    OfToday,
}

/// Slots by what they change.
pub(super) struct Owners {
    /// The slot that decides the pipe of an element.
    pub pipe: BTreeMap<ElementId, usize>,
    /// Every slot that changes an element's loss.
    pub all: BTreeMap<ElementId, Vec<usize>>,
}

impl Owners {
    fn of(offers: &Offers) -> Self {
        let mut owners = Self {
            pipe: BTreeMap::new(),
            all: BTreeMap::new(),
        };
        for (s, slot) in offers.slots.iter().enumerate() {
            for (id, _) in &slot.offers[0].laws {
                owners.all.entry(*id).or_default().push(s);
                if matches!(slot.site, Site::Pipe(_)) {
                    owners.pipe.entry(*id).or_insert(s);
                }
            }
        }
        owners
    }
}

/// What is lost on one way: what stands, and by slot and choice what that choice adds to it.
struct Sums {
    limit_pa: f64,
    by_slot: BTreeMap<usize, Vec<f64>>,
    tied: Vec<usize>,
}

impl Sums {
    /// Ends of what its ties lie between.
    fn between(&self, network: &Network, m: &Model) -> BTreeSet<PlaceId> {
        let emitters = self.tied.iter().map(|&t| &network.emitters[m.tied[t]]);
        let between = emitters.filter_map(|e| e.one_pipe.as_ref().map(|one| one.between));
        between
            .flat_map(|id| [network.ends(id).0, network.ends(id).1])
            .collect()
    }

    fn add(&mut self, m: &Model, slot: usize, more: impl Fn(usize) -> f64) {
        let loads = self
            .by_slot
            .entry(slot)
            .or_insert_with(|| vec![0.0; m.offers[slot].len()]);
        for (c, load) in loads.iter_mut().enumerate() {
            *load += more(c);
        }
    }
}

/// Fills in the rows; returns what they are for people, and circuits without a curve.
pub(super) fn rows(
    network: &Network,
    required: &[Required],
    offers: &Offers,
    m: &Model,
    problem: &mut Problem,
    flows: Flows,
) -> Result<(Vec<Way>, Vec<String>), SolveError> {
    let owners = Owners::of(offers);
    let mut found: Vec<Sums> = Vec::new();
    let (mut ways, mut no_curve) = (Vec::new(), Vec::new());
    for (r, loose) in required.iter().zip(&m.loose) {
        let moves = |id: ElementId| flows == Flows::Sure && loose.is(id);
        let crowd = Crowd::new(network, offers, m, &owners);
        let tees = tees(network, r, &owners.pipe, m, offers, &moves)?;
        for circuit in &r.circuits {
            let Some(available) = circuit.available_pa else {
                if !no_curve.contains(&circuit.name) {
                    no_curve.push(circuit.name.clone());
                }
                continue;
            };
            // a pump whose flow moves gives another head
            let pump = circuit.pump.and_then(|p| network.pumps.get(p));
            if pump.is_some_and(|p| moves(p.element)) {
                continue;
            }
            for path in &circuit.paths {
                let mut sums = Sums {
                    limit_pa: available.max(0.0),
                    by_slot: BTreeMap::new(),
                    tied: tied(network, r, m, path, &moves),
                };
                let between = sums.between(network, m);
                for (id, _) in &path.elements {
                    if !moves(*id) {
                        element(network, r, offers, m, &owners, &crowd, *id, &mut sums)?;
                    }
                }
                // what tees of a tie lose is in its loads
                let own = |t: &&Passage| t.on(path) && !between.contains(&t.place);
                for t in tees.iter().filter(own) {
                    match t.slot {
                        None => sums.limit_pa -= t.loss_pa[0],
                        Some(s) => sums.add(m, s, |c| t.loss_pa[c]),
                    }
                    if let Some((s, more_pa)) = &t.more_pa {
                        sums.add(m, *s, |c| more_pa[c]);
                    }
                }
                seconds(network, offers, m, &tees, &crowd, path, r, &mut sums)?;
                found.push(sums);
                ways.push(Way {
                    circuit: circuit.name.clone(),
                    through: path.through.name(network),
                    available_pa: available,
                });
            }
        }
    }
    put(found, problem);
    Ok((ways, no_curve))
}

/// Ties that a way passes and whose loads it counts: what they count moves, and so nothing else counts it.
fn tied(
    network: &Network,
    r: &Required,
    m: &Model,
    path: &Path,
    moves: &dyn Fn(ElementId) -> bool,
) -> Vec<usize> {
    let passes = |e: &Emitter| {
        let one = e.one_pipe.as_ref();
        let own =
            |id: ElementId| e.branch.contains(&id) || one.is_some_and(|one| one.between == id);
        let move_all = one.is_some_and(|one| moves(one.between));
        let runs = r.flow_kg_s[e.body.index()] > 0.0;
        move_all && runs && path.elements.iter().any(|(id, _)| own(*id))
    };
    let all = m.tied.iter().enumerate();
    all.filter(|(_, e)| passes(&network.emitters[**e]))
        .map(|(t, _)| t)
        .collect()
}

/// What one element of a way loses, tees apart.
#[allow(clippy::too_many_arguments)]
fn element(
    network: &Network,
    r: &Required,
    offers: &Offers,
    m: &Model,
    owners: &Owners,
    crowd: &Crowd,
    id: ElementId,
    sums: &mut Sums,
) -> Result<(), SolveError> {
    let e = id.index();
    let flow = r.flow_kg_s[e].abs();
    let at = crate::view::properties(network, id, r.temperature_c[e])?;
    let plain = super::crowd::without(&network.element(id).law);
    let now = loss_pa(&plain, at, flow);
    sums.limit_pa -= now;
    let slots = owners.all.get(&id).map_or(&[][..], Vec::as_slice);
    for &s in slots {
        sums.add(m, s, |c| {
            let offer = &offers.slots[s].offers[m.offers[s][c]];
            let Some((_, law)) = offer.laws.iter().find(|(e, _)| *e == id) else {
                return 0.0;
            };
            match offer.beside.iter().find(|(e, _)| *e == id) {
                Some((_, second)) => least_loss_pa(law, second, at, flow) - now,
                None => loss_pa(law, at, flow) - now,
            }
        });
    }
    match owners.pipe.get(&id) {
        Some(&s) => sums.add(m, s, |c| crowd.least_pa(id, Some(c), at, flow)),
        None => sums.limit_pa -= crowd.least_pa(id, None, at, flow),
    }
    Ok(())
}

/// A second pipe makes other tees of the places where it joins: whatever a way loses there now may be gone.
#[allow(clippy::too_many_arguments)]
fn seconds(
    network: &Network,
    offers: &Offers,
    m: &Model,
    tees: &[Passage],
    crowd: &Crowd,
    path: &Path,
    r: &Required,
    sums: &mut Sums,
) -> Result<(), SolveError> {
    for (s, slot) in offers.slots.iter().enumerate() {
        let doubled = m.offers[s]
            .iter()
            .map(|&o| !slot.offers[o].beside.is_empty());
        let doubled: Vec<bool> = doubled.collect();
        if !doubled.contains(&true) {
            continue;
        }
        let ends: Vec<_> = slot.offers[0]
            .laws
            .iter()
            .flat_map(|(id, _)| [network.ends(*id).0, network.ends(*id).1])
            .collect();
        let mut gone = 0.0;
        for t in tees
            .iter()
            .filter(|t| ends.contains(&t.place) && t.on(path))
        {
            gone += t.most_pa();
        }
        for (id, _) in &path.elements {
            let (a, b) = network.ends(*id);
            if ends.contains(&a) || ends.contains(&b) {
                let e = id.index();
                let at = crate::view::properties(network, *id, r.temperature_c[e])?;
                gone += crowd.most_pa(*id, at, r.flow_kg_s[e].abs());
            }
        }
        if gone > 0.0 {
            sums.add(m, s, |c| if doubled[c] { -gone } else { 0.0 });
        }
    }
    Ok(())
}

/// What a choice loses at least in every row that it is in goes to the choice, the rest to the row; loads are not
/// negative, so that a gain goes to the limit.
fn put(mut found: Vec<Sums>, problem: &mut Problem) {
    for tie in problem.ties.iter().enumerate() {
        for sums in found.iter_mut().filter(|sums| sums.tied.contains(&tie.0)) {
            for (d, by) in &tie.1.beside {
                let none = || vec![0.0; by.first().map_or(0, Vec::len)];
                sums.by_slot.entry(*d).or_insert_with(none);
            }
        }
    }
    // what counts beside a tie counts in every row of its decision, or not at all
    for (t, tie) in problem.ties.iter_mut().enumerate() {
        tie.beside.retain(|(d, _)| {
            let mut with = found.iter().filter(|sums| sums.by_slot.contains_key(d));
            with.all(|sums| sums.tied.contains(&t))
        });
    }
    let beside: BTreeSet<usize> = problem
        .ties
        .iter()
        .flat_map(|tie| tie.beside.iter().map(|(d, _)| *d))
        .collect();
    let mut least: Vec<Vec<f64>> = problem
        .decisions
        .iter()
        .map(|d| vec![f64::INFINITY; d.choices.len()])
        .collect();
    for sums in &mut found {
        for (&s, loads) in &mut sums.by_slot {
            let low = loads.iter().copied().fold(f64::INFINITY, f64::min);
            sums.limit_pa -= low;
            for (load, least) in loads.iter_mut().zip(&mut least[s]) {
                *load -= low;
                *least = least.min(*load);
            }
        }
        // a slot that makes no difference here is not in the row
        sums.by_slot
            .retain(|s, loads| beside.contains(s) || loads.iter().any(|l| *l > 0.0));
    }
    for (s, loads) in least.iter().enumerate() {
        for (choice, load) in problem.decisions[s].choices.iter_mut().zip(loads) {
            choice.load_pa = if load.is_finite() { *load } else { 0.0 };
        }
    }
    for sums in found {
        let mut row = Row {
            decisions: sums.by_slot.keys().copied().collect(),
            limit_pa: sums.limit_pa,
            also: Vec::new(),
            tied: sums.tied,
        };
        for (s, loads) in sums.by_slot {
            let more: Vec<f64> = loads
                .iter()
                .zip(&least[s])
                .map(|(a, b)| (a - b).max(0.0))
                .collect();
            if more.iter().any(|m| *m > 1e-9) {
                row.also.push((s, more));
            }
        }
        problem.rows.push(row);
    }
}

/// The slots that decide whether a way holds: those along it, those whose pipes join it, and those that move its flows.
pub(super) fn scope_of_way(network: &Network, loose: &Loose, path: &Path) -> Vec<usize> {
    let mut slots = std::collections::BTreeSet::new();
    for (id, _) in &path.elements {
        let (a, b) = network.ends(*id);
        for place in [a, b] {
            slots.extend(loose.at_place.get(&place).into_iter().flatten());
        }
        slots.extend(&loose.by[id.index()]);
    }
    slots.into_iter().collect()
}
