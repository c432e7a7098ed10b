//! The least that a tee can lose on each of its ways, whatever sizes on offer are chosen round it.

use super::model::Model;
use super::offer::Offers;
use crate::catalogue::Catalogue;
use crate::hydraulics::tee;
use crate::network::{ElementId, Law, Network, PartLaw, PlaceId, Tee};
use crate::solve::SolveError;
use crate::view::Required;
use std::collections::BTreeMap;

/// Bore of the narrowest pipe of a law, m.
pub(super) fn bore_m(law: &Law) -> Option<f64> {
    let Law::Parts(parts) = law else { return None };
    let bores = parts.iter().filter_map(|p| match p.law {
        PartLaw::Friction { bore_m, .. } => Some(bore_m),
        _ => None,
    });
    bores.reduce(f64::min)
}

/// What passing a tee from its common leg to another loses at least, by choice of the common leg and of the other.
pub(super) struct Passage {
    pub place: PlaceId,
    common: ElementId,
    leg: ElementId,
    /// Slot of the common leg.
    pub slot: Option<usize>,
    /// By choice of that slot, Pa; one figure where it has none. Negative where the stream gains.
    pub loss_pa: Vec<f64>,
    /// Slot of the other leg, and by its choice what is lost more at least, Pa: a narrow leg is not the one that goes straight on.
    pub more_pa: Option<(usize, Vec<f64>)>,
}

impl Passage {
    /// What it counts at most, Pa.
    pub fn most_pa(&self) -> f64 {
        let most = |by: &[f64]| by.iter().copied().fold(0.0, f64::max);
        most(&self.loss_pa) + self.more_pa.as_ref().map_or(0.0, |(_, by)| most(by))
    }

    /// Whether a way passes it.
    pub fn on(&self, path: &crate::view::Path) -> bool {
        let has = |id| path.elements.iter().any(|(e, _)| *e == id);
        has(self.leg) && has(self.common)
    }
}

/// The least that each tee can lose on each of its ways. `moves`: elements whose flow hangs on what is chosen.
pub(super) fn tees(
    network: &Network,
    r: &Required,
    owner: &BTreeMap<ElementId, usize>,
    m: &Model,
    offers: &Offers,
    moves: &dyn Fn(ElementId) -> bool,
) -> Result<Vec<Passage>, SolveError> {
    let mut list = Vec::new();
    for t in &network.tees {
        let ids = [t.straight.0, t.straight.1, t.branch];
        if ids.iter().any(|id| moves(*id)) {
            let narrowest = ids.iter().zip([t.bores_m.0, t.bores_m.1, t.bores_m.2]);
            let narrowest = narrowest
                .map(|(id, bore)| range(*id, bore, owner, m, offers).0)
                .fold(f64::INFINITY, f64::min);
            moving(network, r, t, (ids, narrowest), moves, &mut list)?;
            continue;
        }
        let mut flow_in = [0.0; 3];
        for (flow, id) in flow_in.iter_mut().zip(ids) {
            let into = if network.ends(id).1 == t.place {
                1.0
            } else {
                -1.0
            };
            *flow = into * r.flow_kg_s[id.index()];
        }
        let bores = [t.bores_m.0, t.bores_m.1, t.bores_m.2];
        let mut common = 0;
        for leg in 1..3 {
            if flow_in[leg].abs() > flow_in[common].abs() {
                common = leg;
            }
        }
        if flow_in[common] == 0.0 {
            continue;
        }
        let rho =
            crate::view::properties(network, ids[common], r.temperature_c[ids[common].index()])?
                .rho_kg_m3;
        let others: Vec<usize> = (0..3).filter(|leg| *leg != common).collect();
        let swaps = may_swap(t, &ids, &others, bores, owner, m, offers);
        let slot = owner.get(&ids[common]).copied();
        let of_common = by_choice(ids[common], bores[common], slot, m, offers);
        for (&leg, &other) in others.iter().zip(others.iter().rev()) {
            // loss in the direction of flow: the common leg's pressure is the place's
            let sign = flow_in[leg].signum();
            let lost = |order: [usize; 3], bore: f64| {
                let mut b = bores;
                b[common] = bore;
                let p = tee::pressures(order.map(|k| flow_in[k]), order.map(|k| b[k]), rho);
                let at = order.iter().position(|k| *k == leg);
                at.map_or(f64::INFINITY, |at| sign * p[at])
            };
            let own_slot = owner.get(&ids[leg]).copied();
            let of_own = by_choice(ids[leg], bores[leg], own_slot, m, offers);
            let range = range(ids[other], bores[other], owner, m, offers);
            // by choice of the leg: which orders there can be beside the one of today
            let orders: Vec<Vec<[usize; 3]>> = { of_own.iter() }
                .map(|own| {
                    let mut orders = vec![[0, 1, 2]];
                    if swaps {
                        let first = ids[leg] < ids[other];
                        if range.0 < *own || (first && range.0 == *own) {
                            orders.push([common, leg, other]);
                        }
                        if range.1 > *own || (!first && range.1 == *own) {
                            orders.push([common, other, leg]);
                        }
                    }
                    orders
                })
                .collect();
            let least = |orders: &[[usize; 3]], bore: f64| {
                let each = orders.iter().map(|order| lost(*order, bore));
                each.fold(f64::INFINITY, f64::min)
            };
            let loss = |bore: &f64| {
                let each = orders.iter().map(|orders| least(orders, *bore));
                each.fold(f64::INFINITY, f64::min)
            };
            let loss_pa: Vec<f64> = of_common.iter().map(loss).collect();
            let more_pa = own_slot.map(|s| {
                let more = |orders: &Vec<[usize; 3]>| {
                    let each = of_common.iter().zip(&loss_pa);
                    let each = each.map(|(bore, loss)| least(orders, *bore) - loss);
                    each.fold(f64::INFINITY, f64::min)
                };
                (s, orders.iter().map(more).collect())
            });
            list.push(Passage {
                place: t.place,
                common: ids[common],
                leg: ids[leg],
                slot,
                loss_pa,
                more_pa,
            });
        }
    }
    Ok(list)
}

/// A tee whose split moves loses on any of its ways at least what the table's least says of the largest flow that can
/// be there.
fn moving(
    network: &Network,
    r: &Required,
    t: &Tee,
    (ids, narrowest_m): ([ElementId; 3], f64),
    moves: &dyn Fn(ElementId) -> bool,
    list: &mut Vec<Passage>,
) -> Result<(), SolveError> {
    let largest = r.flow_kg_s.iter().fold(0.0_f64, |m, f| m.max(f.abs()));
    let standing = ids.iter().filter(|id| !moves(**id));
    // a leg that stands carries the total of the two that move against each other
    let total = match standing.clone().count() {
        1 => standing.map(|id| r.flow_kg_s[id.index()].abs()).sum(),
        _ => largest,
    };
    let rows = Catalogue::embedded().tees.iter();
    let least = rows
        .flat_map(|row| {
            [
                row.dividing_branch,
                row.dividing_through,
                row.combining_branch,
                row.combining_through,
            ]
        })
        .fold(0.0_f64, f64::min);
    let at = crate::view::properties(network, ids[0], r.temperature_c[ids[0].index()])?;
    let area = crate::hydraulics::friction::area_m2(narrowest_m);
    let loss = least * total * total / (2.0 * at.rho_kg_m3 * area * area);
    for (common, leg) in [(0, 1), (0, 2), (1, 2)] {
        list.push(Passage {
            place: t.place,
            common: ids[common],
            leg: ids[leg],
            slot: None,
            loss_pa: vec![loss],
            more_pa: None,
        });
    }
    Ok(())
}

/// Bore of an element by choice of the slot that decides its pipe, m; one figure where it has none.
fn by_choice(
    id: ElementId,
    now_m: f64,
    slot: Option<usize>,
    m: &Model,
    offers: &Offers,
) -> Vec<f64> {
    let Some(s) = slot else { return vec![now_m] };
    let laws = m.offers[s].iter().map(|&o| &offers.slots[s].offers[o].laws);
    laws.map(|laws| {
        let law = laws.iter().find(|(e, _)| *e == id);
        law.and_then(|(_, law)| bore_m(law)).unwrap_or(now_m)
    })
    .collect()
}

/// Whether sizes on offer can change which leg goes straight on.
fn may_swap(
    t: &Tee,
    ids: &[ElementId; 3],
    others: &[usize],
    bores: [f64; 3],
    owner: &BTreeMap<ElementId, usize>,
    m: &Model,
    offers: &Offers,
) -> bool {
    if t.bull_head || !others.iter().any(|&o| owner.contains_key(&ids[o])) {
        return false;
    }
    let of = |leg: usize| range(ids[leg], bores[leg], owner, m, offers);
    let (a, b) = (of(others[0]), of(others[1]));
    !(a.0 > b.1 || b.0 > a.1)
}

/// The least and the largest bore that any choice gives an element, m.
fn range(
    id: ElementId,
    now_m: f64,
    owner: &BTreeMap<ElementId, usize>,
    m: &Model,
    offers: &Offers,
) -> (f64, f64) {
    let Some(&s) = owner.get(&id) else {
        return (now_m, now_m);
    };
    let of = m.offers[s].iter().filter_map(|&o| {
        let laws = &offers.slots[s].offers[o].laws;
        laws.iter()
            .find(|(e, _)| *e == id)
            .and_then(|(_, l)| bore_m(l))
    });
    of.fold((now_m, now_m), |(low, high), b| (low.min(b), high.max(b)))
}
