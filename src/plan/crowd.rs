//! Places where more than three pipes meet: each pipe but the common one and the widest loses a branch's ζ there, and
//! which is the widest hangs on the sizes chosen.

use super::model::{Model, loss_pa};
use super::offer::Offers;
use super::passage::bore_m;
use super::rows::Owners;
use crate::fluid::Properties;
use crate::network::{ElementId, Law, Network, Part, PartLaw};
use std::collections::BTreeMap;

/// Whether a part is the loss that expanding puts where more than three pipes meet; what the file writes has its place.
fn is_crowd(part: &Part) -> bool {
    part.symbol == "tee branch" && part.span.is_none()
}

/// A law without what crowded places add to it.
pub(super) fn without(law: &Law) -> Law {
    match law {
        Law::Parts(parts) => Law::Parts(parts.iter().filter(|p| !is_crowd(p)).cloned().collect()),
        other => other.clone(),
    }
}

/// A branch at a crowded place.
struct Branch {
    zeta: f64,
    /// Bore of the widest there, as narrow as any choice leaves it, m.
    widest_m: f64,
    /// On a tie it stays a branch.
    later: bool,
    /// Bore now, m.
    bore_m: f64,
}

/// Branches at crowded places, and the bores that each can have.
pub(super) struct Crowd {
    branches: BTreeMap<ElementId, Vec<Branch>>,
    bores: BTreeMap<ElementId, Vec<f64>>,
}

impl Crowd {
    pub(super) fn new(network: &Network, offers: &Offers, m: &Model, owners: &Owners) -> Self {
        let mut bores: BTreeMap<ElementId, Vec<f64>> = BTreeMap::new();
        for (&id, &s) in &owners.pipe {
            let now = bore_m(&network.element(id).law);
            let of = m.offers[s].iter().map(|&o| {
                let laws = &offers.slots[s].offers[o].laws;
                let law = laws.iter().find(|(e, _)| *e == id).map(|(_, law)| law);
                law.and_then(bore_m).or(now).unwrap_or(f64::INFINITY)
            });
            bores.insert(id, of.collect());
        }
        let narrowest = |id: ElementId| match bores.get(&id) {
            Some(of) => of.iter().copied().fold(f64::INFINITY, f64::min),
            None => bore_m(&network.element(id).law).unwrap_or(0.0),
        };
        let parts = |id: ElementId| match &network.element(id).law {
            Law::Parts(parts) => parts.as_slice(),
            _ => &[],
        };
        let mut branches: BTreeMap<ElementId, Vec<Branch>> = BTreeMap::new();
        for id in network.element_ids() {
            let own = parts(id);
            for (at, part) in own.iter().enumerate().filter(|(_, p)| is_crowd(p)) {
                let PartLaw::Zeta { zeta, bore_m } = part.law else {
                    continue;
                };
                let dividing = at == 0;
                let place = |id: ElementId| match dividing {
                    true => network.ends(id).0,
                    false => network.ends(id).1,
                };
                // the one that goes straight on has no such part at its end here
                let straight = network.element_ids().filter(|other| {
                    let theirs = parts(*other);
                    let part = if dividing {
                        theirs.first()
                    } else {
                        theirs.last()
                    };
                    *other != id && place(*other) == place(id) && !part.is_some_and(is_crowd)
                });
                let widest = straight
                    .map(|other| (narrowest(other), other))
                    .min_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)));
                branches.entry(id).or_default().push(Branch {
                    zeta,
                    widest_m: widest.map_or(0.0, |w| w.0),
                    later: widest.is_some_and(|w| id > w.1),
                    bore_m,
                });
            }
        }
        Self { branches, bores }
    }

    /// The least that an element can lose at crowded places with a choice of its own slot, Pa.
    pub(super) fn least_pa(
        &self,
        id: ElementId,
        choice: Option<usize>,
        at: Properties,
        flow_kg_s: f64,
    ) -> f64 {
        let of = self.branches.get(&id).map_or(&[][..], Vec::as_slice);
        let bores = self.bores.get(&id);
        let loss = of.iter().map(|b| {
            let bore = choice
                .and_then(|c| bores?.get(c))
                .copied()
                .unwrap_or(b.bore_m);
            let stays = bore < b.widest_m || (bore == b.widest_m && b.later);
            if stays {
                zeta_pa(b.zeta, bore, at, flow_kg_s)
            } else {
                0.0
            }
        });
        loss.sum()
    }

    /// The most that it can lose there, Pa.
    pub(super) fn most_pa(&self, id: ElementId, at: Properties, flow_kg_s: f64) -> f64 {
        let of = self.branches.get(&id).map_or(&[][..], Vec::as_slice);
        let narrowest = |b: &Branch| {
            let of = self.bores.get(&id).into_iter().flatten().copied();
            of.fold(b.bore_m, f64::min)
        };
        of.iter()
            .map(|b| zeta_pa(b.zeta, narrowest(b), at, flow_kg_s))
            .sum()
    }
}

fn zeta_pa(zeta: f64, bore_m: f64, at: Properties, flow_kg_s: f64) -> f64 {
    let part = Part {
        group: crate::network::PartGroup::Fittings,
        words: String::new(),
        symbol: String::new(),
        count: 1,
        law: PartLaw::Zeta { zeta, bore_m },
        source: String::new(),
        span: None,
    };
    loss_pa(&Law::Parts(vec![part]), at, flow_kg_s)
}
