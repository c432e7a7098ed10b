//! The least that a tee can lose on each of its ways, whatever sizes on offer are chosen round it.

use super::model::Model;
use super::offer::Offers;
use crate::hydraulics::tee;
use crate::network::{ElementId, Law, Network, PartLaw, Tee};
use crate::solve::SolveError;
use crate::view::Required;
use std::collections::BTreeMap;

/// Bore of the narrowest pipe of a law, m.
fn bore_m(law: &Law) -> Option<f64> {
    let Law::Parts(parts) = law else { return None };
    let bores = parts.iter().filter_map(|p| match p.law {
        PartLaw::Friction { bore_m, .. } => Some(bore_m),
        _ => None,
    });
    bores.reduce(f64::min)
}

/// What passing a tee from its common leg to another gains or loses over the tee as it is, by choice of the common leg.
pub(super) struct Passage {
    common: ElementId,
    leg: ElementId,
    /// Slot of the common leg.
    pub slot: Option<usize>,
    /// By choice of that slot, Pa; one figure where it has none.
    pub change_pa: Vec<f64>,
}

impl Passage {
    /// Whether a way passes it.
    pub fn on(&self, path: &crate::view::Path) -> bool {
        let has = |id| path.elements.iter().any(|(e, _)| *e == id);
        has(self.leg) && has(self.common)
    }
}

/// The least that each tee can lose on each of its ways.
pub(super) fn tees(
    network: &Network,
    r: &Required,
    owner: &BTreeMap<ElementId, usize>,
    m: &Model,
    offers: &Offers,
) -> Result<Vec<Passage>, SolveError> {
    let mut list = Vec::new();
    for t in &network.tees {
        let ids = [t.straight.0, t.straight.1, t.branch];
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
        let now = tee::pressures(flow_in, bores, rho);
        let others: Vec<usize> = (0..3).filter(|leg| *leg != common).collect();
        let swaps = may_swap(t, &ids, &others, bores, owner, m, offers);
        let slot = owner.get(&ids[common]).copied();
        let choices: Vec<f64> = match slot {
            None => vec![bores[common]],
            Some(s) => {
                let laws = m.offers[s].iter().map(|&o| &offers.slots[s].offers[o].laws);
                laws.map(|laws| {
                    let law = laws
                        .iter()
                        .find(|(e, _)| *e == ids[common])
                        .map(|(_, law)| law);
                    law.and_then(bore_m).unwrap_or(bores[common])
                })
                .collect()
            }
        };
        for &leg in &others {
            // loss in the direction of flow: the common leg's pressure is the place's
            let sign = flow_in[leg].signum();
            let change_pa: Vec<f64> = choices
                .iter()
                .map(|&bore| {
                    let mut b = bores;
                    b[common] = bore;
                    let mut loss = sign * tee::pressures(flow_in, b, rho)[leg];
                    if swaps {
                        // the other of the two in line with the common leg
                        for (order, was) in swapped(common) {
                            let f = order.map(|k| flow_in[k]);
                            let p = tee::pressures(f, order.map(|k| b[k]), rho);
                            if let Some(at) = was.iter().position(|k| *k == leg) {
                                loss = loss.min(sign * p[at]);
                            }
                        }
                    }
                    loss - sign * now[leg]
                })
                .collect();
            if change_pa.iter().any(|c| *c != 0.0) {
                list.push(Passage {
                    common: ids[common],
                    leg: ids[leg],
                    slot,
                    change_pa,
                });
            }
        }
    }
    Ok(list)
}

/// The two ways to put the other legs at a tee, as orders of (straight, straight, branch) with the same twice, once to
/// read flows by and once to find a leg again.
fn swapped(common: usize) -> [([usize; 3], [usize; 3]); 2] {
    let (a, b) = ((common + 1) % 3, (common + 2) % 3);
    let (one, two) = ([common, a, b], [common, b, a]);
    [(one, one), (two, two)]
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
    let range = |leg: usize| {
        let Some(&s) = owner.get(&ids[leg]) else {
            return (bores[leg], bores[leg]);
        };
        let of = m.offers[s].iter().filter_map(|&o| {
            let laws = &offers.slots[s].offers[o].laws;
            laws.iter()
                .find(|(e, _)| *e == ids[leg])
                .and_then(|(_, l)| bore_m(l))
        });
        of.fold((bores[leg], bores[leg]), |(low, high), b| {
            (low.min(b), high.max(b))
        })
    };
    let (a, b) = (range(others[0]), range(others[1]));
    !(a.0 > b.1 || b.0 > a.1)
}
