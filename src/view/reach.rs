//! Where water can come from and go to, by open elements alone.

use super::paths::around;
use crate::network::{ElementId, Heat, Network, PlaceId, VesselKind};
use crate::solve::Setting;

/// Places that a running source reaches without passing an emitter or a short way from flow to return (a vessel, a mixing
/// pipe, a bypass); exchangers' far circuits included. What only the return reaches gets no heat.
pub(crate) fn reach(network: &Network, setting: &Setting) -> Vec<bool> {
    let mut across = vec![false; network.graph.edge_count()];
    for vessel in &network.vessels {
        across[vessel.body.index()] = !matches!(vessel.kind, VesselKind::Series { .. });
    }
    for blend in network.manifolds.iter().filter_map(|m| m.blend) {
        across[blend.mixing.index()] = true;
    }
    for bypass in &network.bypasses {
        across[bypass.element.index()] = true;
    }
    let passes = |id: ElementId| {
        let through = matches!(
            network.element(id).heat,
            Heat::Emitter(_) | Heat::Cylinder(_)
        );
        network.element(id).open && !setting.shut[id.index()] && !across[id.index()] && !through
    };
    let mut seen = vec![false; network.graph.node_count()];
    let mut queue: Vec<PlaceId> = Vec::new();
    for (source, s) in network.sources.iter().zip(&setting.sources) {
        if s.runs {
            queue.extend([source.flow_place, source.return_place]);
        }
    }
    loop {
        while let Some(place) = queue.pop() {
            if std::mem::replace(&mut seen[place.index()], true) {
                continue;
            }
            for (id, other) in around(network, place) {
                if passes(id) && !seen[other.index()] {
                    queue.push(other);
                }
            }
        }
        for exchanger in &network.exchangers {
            let (near, far) = (network.ends(exchanger.near), network.ends(exchanger.far));
            if seen[near.0.index()] && seen[near.1.index()] && !seen[far.0.index()] {
                queue.extend([far.0, far.1]);
            }
        }
        if queue.is_empty() {
            return seen;
        }
    }
}

/// Number of the separate circuit that each place belongs to.
pub(crate) fn circuits(network: &Network) -> Vec<usize> {
    let mut circuit = vec![usize::MAX; network.graph.node_count()];
    for start in network.place_ids() {
        let mut queue = vec![start];
        while let Some(place) = queue.pop() {
            if circuit[place.index()] == usize::MAX {
                circuit[place.index()] = start.index();
                queue.extend(around(network, place).map(|(_, other)| other));
            }
        }
    }
    circuit
}

/// Whether two places are joined by elements that `free` lets through.
pub(crate) fn joined(
    network: &Network,
    a: PlaceId,
    b: PlaceId,
    free: impl Fn(ElementId) -> bool,
) -> bool {
    let mut seen = vec![false; network.graph.node_count()];
    let mut queue = vec![a];
    while let Some(place) = queue.pop() {
        if place == b {
            return true;
        }
        if !std::mem::replace(&mut seen[place.index()], true) {
            let next = around(network, place).filter(|(id, _)| free(*id));
            queue.extend(next.map(|(_, other)| other));
        }
    }
    false
}
