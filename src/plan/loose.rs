//! Flows that the choice of sizes moves, and which choices move them.

use super::offer::Offers;
use super::site::Site;
use crate::network::{ElementId, Network, PlaceId};
use crate::solve::SolveError;
use crate::view::Required;
use std::collections::{BTreeMap, BTreeSet};

/// Flows of one required view that are not fixed by sums over what the rooms need.
#[derive(Clone, Debug, Default)]
pub struct Loose {
    /// By element: slots that can move its flow; empty where sums fix it.
    pub by: Vec<BTreeSet<usize>>,
    /// Slots by the place that their elements touch.
    pub at_place: BTreeMap<PlaceId, BTreeSet<usize>>,
    /// Rooms that several emitters share and in which one of them may change: their duties hang on what is chosen.
    pub rooms: Vec<usize>,
}

impl Loose {
    /// Whether sizes on offer move the flow of an element.
    pub fn is(&self, id: ElementId) -> bool {
        !self.by[id.index()].is_empty()
    }

    /// Whether an emitter's duty hangs on another's radiator.
    pub fn shares_room(&self, network: &Network, emitter: usize) -> bool {
        self.rooms.contains(&network.emitters[emitter].room)
    }
}

/// What moves in a required view.
///
/// # Errors
/// Where properties of the water are not known.
pub fn loose(network: &Network, r: &Required, offers: &Offers) -> Result<Loose, SolveError> {
    let blocks = crate::view::blocks(network, r.state)?;
    let mut at_place: BTreeMap<PlaceId, BTreeSet<usize>> = BTreeMap::new();
    for (s, slot) in offers.slots.iter().enumerate() {
        for (id, _) in &slot.offers[0].laws {
            let (a, b) = network.ends(*id);
            at_place.entry(a).or_default().insert(s);
            at_place.entry(b).or_default().insert(s);
        }
    }
    // a block's flows hang on its own elements and, by its tees, on what joins it at its places
    let mut of_block: BTreeMap<usize, BTreeSet<usize>> = BTreeMap::new();
    for id in network.element_ids() {
        if let Some(block) = blocks[id.index()] {
            let (a, b) = network.ends(id);
            let slots = of_block.entry(block).or_default();
            slots.extend([a, b].iter().filter_map(|p| at_place.get(p)).flatten());
        }
    }
    let mut by: Vec<BTreeSet<usize>> = blocks
        .iter()
        .map(|block| block.map_or_else(BTreeSet::new, |b| of_block[&b].clone()))
        .collect();
    // emitters that share a room share its need by what they give, so another radiator moves the flows to all of them
    let mut rooms = Vec::new();
    for (index, room) in network.rooms.iter().enumerate() {
        if room.emitters.len() < 2 {
            continue;
        }
        let slots: BTreeSet<usize> = offers
            .slots
            .iter()
            .enumerate()
            .filter(|(_, s)| {
                matches!(s.site, Site::Radiator(_))
                    && s.emitter.is_some_and(|e| room.emitters.contains(&e))
            })
            .map(|(s, _)| s)
            .collect();
        if slots.is_empty() {
            continue;
        }
        rooms.push(index);
        // what every way to the room passes carries their sum, which stands if all have one drop; the rest does not
        let ways: Vec<BTreeSet<ElementId>> = r
            .circuits
            .iter()
            .flat_map(|c| &c.paths)
            .filter(|p| {
                matches!(p.through, crate::view::Through::Emitter(e) if room.emitters.contains(&e))
            })
            .map(|p| p.elements.iter().map(|(id, _)| *id).collect())
            .collect();
        let first = room.emitters.first().map(|e| network.emitters[*e].drop_k);
        let plain = room.emitters.iter().all(|&e| {
            let e = &network.emitters[e];
            let blended = e
                .manifold
                .is_some_and(|m| network.manifolds[m].blend.is_some());
            e.one_pipe.is_none() && !blended && Some(e.drop_k) == first
        });
        for id in network.element_ids() {
            let on_all = plain && ways.iter().all(|w| w.contains(&id));
            let on_any = !plain || ways.iter().any(|w| w.contains(&id));
            if on_any && !on_all {
                by[id.index()].extend(&slots);
            }
        }
    }
    Ok(Loose {
        by,
        at_place,
        rooms,
    })
}
