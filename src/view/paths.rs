//! Ways round each pumped circuit: from the pump along the flow to an emitter and back, through vessels and mixing
//! pipes where those close the circuit.

use super::Through;
use super::demand::Demand;
use crate::network::{ElementId, Heat, Network, PlaceId, VesselKind};
use petgraph::Direction::{Incoming, Outgoing};
use petgraph::visit::EdgeRef;
use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// A circuit and its ways round.
#[derive(Clone, Debug)]
pub(crate) struct Circuit {
    /// Index into `pumps`; `None` if a source without a known pump drives it.
    pub pump: Option<usize>,
    /// For people.
    pub name: String,
    /// The pump, or the source's body.
    pub element: ElementId,
    /// In the order of emitters, then coils, vessels, manifolds, exchangers.
    pub routes: Vec<Route>,
}

/// One way round, as [`super::Path`] has it.
#[derive(Clone, Debug)]
pub(crate) struct Route {
    pub through: Through,
    pub elements: Vec<(ElementId, bool)>,
}

/// Costs of passing an element. Ordinary elements count, so that the shortest way is taken; what belongs to another
/// circuit is passed only where nothing else closes this one (pumps in series without a vessel between them).
const BRIDGE: u64 = 1;
const PLAIN: u64 = 10;
const MIXING_INLET: u64 = 1_000_000;
const FOREIGN: u64 = 1_000_000_000;
/// Reached without passing what belongs to another circuit.
const OWN: u64 = MIXING_INLET;

/// Elements at a place with the place at their other end.
pub(crate) fn around(
    network: &Network,
    place: PlaceId,
) -> impl Iterator<Item = (ElementId, PlaceId)> + '_ {
    let out = network
        .graph
        .edges_directed(place, Outgoing)
        .map(|e| (e.id(), e.target()));
    let into = network
        .graph
        .edges_directed(place, Incoming)
        .map(|e| (e.id(), e.source()));
    out.chain(into)
}

/// What passing each element costs; `None` where no way goes through.
struct Costs {
    cost: Vec<Option<u64>>,
    bridge: Vec<bool>,
}

impl Costs {
    fn of(network: &Network, demand: &Demand, flow_kg_s: &[f64]) -> Self {
        let n = network.graph.edge_count();
        let mut bridge = vec![false; n];
        for vessel in &network.vessels {
            if !matches!(vessel.kind, VesselKind::Series { .. }) {
                bridge[vessel.body.index()] = true;
            }
        }
        let mut inlet = vec![false; n];
        for blend in network.manifolds.iter().filter_map(|m| m.blend) {
            bridge[blend.mixing.index()] = true;
            inlet[blend.inlet.index()] = blend.pump.is_some();
        }
        let mut cost: Vec<Option<u64>> = network
            .element_ids()
            .map(|id| {
                let i = id.index();
                if demand.setting.shut[i] || (flow_kg_s[i] == 0.0 && !bridge[i]) {
                    return None;
                }
                match network.element(id).heat {
                    // an exchanger's far side is to its circuit what the unit's body is to the first
                    Heat::Emitter(_) | Heat::Cylinder(_) | Heat::Exchanger(_, true) => None,
                    Heat::Exchanger(_, false) => Some(PLAIN),
                    Heat::Source(_) => Some(FOREIGN),
                    Heat::None | Heat::Loss { .. } if bridge[i] => Some(BRIDGE),
                    Heat::None | Heat::Loss { .. } if inlet[i] => Some(MIXING_INLET),
                    Heat::None | Heat::Loss { .. } => Some(PLAIN),
                }
            })
            .collect();
        for pump in &network.pumps {
            if let Some(cost) = &mut cost[pump.element.index()] {
                *cost = FOREIGN;
            }
        }
        Self { cost, bridge }
    }
}

/// Cheapest way to every place: cost and the element by which it is entered, with the place before.
struct Ways {
    cost: Vec<u64>,
    by: Vec<Option<(ElementId, PlaceId)>>,
}

/// From `start` with the flow, or against it if `back`. `own` is free: a source in series with its own pump.
fn ways(
    network: &Network,
    costs: &Costs,
    flow_kg_s: &[f64],
    start: PlaceId,
    back: bool,
    own: Option<ElementId>,
    closed: ElementId,
) -> Ways {
    let n = network.graph.node_count();
    let mut best = Ways {
        cost: vec![u64::MAX; n],
        by: vec![None; n],
    };
    let mut heap = BinaryHeap::from([Reverse((0_u64, start.index()))]);
    best.cost[start.index()] = 0;
    while let Some(Reverse((cost, at))) = heap.pop() {
        if cost > best.cost[at] {
            continue;
        }
        let place = PlaceId::new(at);
        for (id, other) in around(network, place) {
            let Some(mut more) = costs.cost[id.index()] else {
                continue;
            };
            if id == closed {
                continue;
            }
            if Some(id) == own {
                more = PLAIN;
            }
            let along = (network.ends(id).0 == place) == (flow_kg_s[id.index()] > 0.0);
            if along == back && !costs.bridge[id.index()] {
                continue;
            }
            let total = cost + more;
            if total < best.cost[other.index()] {
                best.cost[other.index()] = total;
                best.by[other.index()] = Some((id, place));
                heap.push(Reverse((total, other.index())));
            }
        }
    }
    best
}

impl Ways {
    /// Elements from the start to a place, each with whether it is passed from its `from` to its `to`; for ways found
    /// against the flow, from the place to the start.
    fn elements(&self, network: &Network, place: PlaceId, back: bool) -> Vec<(ElementId, bool)> {
        let mut list = Vec::new();
        let mut at = place;
        while let Some((id, before)) = self.by[at.index()] {
            let (first, second) = if back { (at, before) } else { (before, at) };
            list.push((id, network.ends(id) == (first, second)));
            at = before;
        }
        if !back {
            list.reverse();
        }
        list
    }
}

/// Something that drives a circuit.
struct Drive {
    pump: Option<usize>,
    name: String,
    element: ElementId,
    forward: bool,
    /// The source's body in series with it.
    own: Option<ElementId>,
}

/// Every pumped circuit with its ways round, at flows that settled.
pub(crate) fn circuits(network: &Network, demand: &Demand, flow_kg_s: &[f64]) -> Vec<Circuit> {
    let costs = Costs::of(network, demand, flow_kg_s);
    let drives = drives(network, flow_kg_s);
    let searched: Vec<(Ways, Ways)> = drives
        .iter()
        .map(|drive| {
            let (a, b) = network.ends(drive.element);
            let (inlet, outlet) = if drive.forward { (a, b) } else { (b, a) };
            let search = |start, back| {
                ways(
                    network,
                    &costs,
                    flow_kg_s,
                    start,
                    back,
                    drive.own,
                    drive.element,
                )
            };
            (search(outlet, false), search(inlet, true))
        })
        .collect();
    let mut circuits: Vec<Circuit> = drives
        .iter()
        .map(|drive| Circuit {
            pump: drive.pump,
            name: drive.name.clone(),
            element: drive.element,
            routes: Vec::new(),
        })
        .collect();
    for (through, element, end) in targets(network, demand) {
        let flow = flow_kg_s[element.index()];
        let crossing = !matches!(through, Through::Emitter(_) | Through::Cylinder(_));
        let vessel = matches!(through, Through::Vessel(_));
        if flow == 0.0 && !vessel {
            continue;
        }
        let forward = flow > 0.0 || vessel;
        let (a, b) = network.ends(element);
        let (u, v) = if forward { (a, b) } else { (b, a) };
        let v = end.unwrap_or(v);
        let reached = |d: &usize| {
            let (out, home) = &searched[*d];
            let (out, home) = (out.cost[u.index()], home.cost[v.index()]);
            (out != u64::MAX && home != u64::MAX).then_some((out.max(home), *d))
        };
        let all = (0..drives.len()).filter_map(|d| reached(&d));
        // a vessel or mixing set is a far end of every circuit that meets it on its own ground; an emitter of the
        // nearest pump alone
        let chosen: Vec<usize> = if crossing {
            all.filter(|(cost, _)| *cost < OWN)
                .map(|(_, d)| d)
                .collect()
        } else {
            all.min().map(|(_, d)| d).into_iter().collect()
        };
        for d in chosen {
            let (out, home) = &searched[d];
            let mut elements = vec![(drives[d].element, drives[d].forward)];
            elements.extend(out.elements(network, u, false));
            elements.push((element, forward));
            elements.extend(home.elements(network, v, true));
            if drives[d].pump.is_some() || elements.len() > 1 {
                circuits[d].routes.push(Route { through, elements });
            }
        }
    }
    circuits.retain(|circuit| !circuit.routes.is_empty());
    circuits
}

/// Pumps through which water flows; a source without a pump only where no pump is known.
fn drives(network: &Network, flow_kg_s: &[f64]) -> Vec<Drive> {
    let flow = |id: ElementId| flow_kg_s[id.index()];
    let pumps = network
        .pumps
        .iter()
        .enumerate()
        .filter(|(_, p)| flow(p.element) != 0.0);
    let list: Vec<Drive> = pumps
        .map(|(i, pump)| Drive {
            pump: Some(i),
            name: pump.name.clone(),
            element: pump.element,
            forward: flow(pump.element) > 0.0,
            own: pump.source.map(|s| network.sources[s].body),
        })
        .collect();
    if !list.is_empty() {
        return list;
    }
    let sources = network.sources.iter().filter(|s| flow(s.body) != 0.0);
    sources
        .map(|source| Drive {
            pump: None,
            name: source.name.clone(),
            element: source.body,
            forward: flow(source.body) > 0.0,
            own: None,
        })
        .collect()
}

/// Far ends of circuits, with the element that a path goes through there and, if not that element's own, the place where
/// the way back begins.
fn targets(network: &Network, demand: &Demand) -> Vec<(Through, ElementId, Option<PlaceId>)> {
    let mut list = Vec::new();
    for (i, emitter) in network.emitters.iter().enumerate() {
        if demand.active[i] {
            list.push((Through::Emitter(i), emitter.body, None));
        }
    }
    for (i, cylinder) in network.cylinders.iter().enumerate() {
        if demand.coil_w[i] > 0.0 {
            list.push((Through::Cylinder(i), cylinder.coil, None));
        }
    }
    for (i, vessel) in network.vessels.iter().enumerate() {
        let pump = match vessel.kind {
            VesselKind::Series { .. } => continue,
            VesselKind::FourPort { pump, .. } | VesselKind::ThreePort { pump, .. } => pump,
        };
        // without pumps beyond it a header only joins: the emitters' own ways say all
        let beyond = pump.is_some() || network.zones.iter().any(|z| z.pump.is_some());
        if beyond {
            list.push((Through::Vessel(i), vessel.body, None));
        }
    }
    for (i, manifold) in network.manifolds.iter().enumerate() {
        if let Some(blend) = manifold.blend.filter(|b| b.pump.is_some()) {
            list.push((Through::Manifold(i), blend.inlet, None));
        }
    }
    for (i, exchanger) in network.exchangers.iter().enumerate() {
        if demand.exchanger_w[i] > 0.0 {
            list.push((Through::Exchanger(i), exchanger.near, None));
        }
    }
    list
}
