//! Temperatures of the required view: flows are known, the sources make their flow temperature, emitters take their
//! design drop (or what their duty takes from the water on a one-pipe loop), and places mix what flows in.

use crate::network::{ElementId, Network};

/// By element: temperature where the water enters and leaves, °C; `None` where nothing flows.
pub(crate) type Ends = Vec<Option<(f64, f64)>>;

/// What decides the temperature at which an element lets its water out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Outlet {
    /// As it came in.
    AsInlet,
    /// At this temperature, °C.
    At(f64),
    /// Colder than it came in by this much, K.
    Drop(f64),
    /// Heated by an exchanger's near side: index of the near element, heat in W, UA in W/K, both capacity flows in W/K.
    Exchanger {
        near: ElementId,
        heat_w: f64,
        ua_w_k: f64,
        near_w_k: f64,
        far_w_k: f64,
    },
}

/// Temperature where the water enters and leaves each element, °C; `None` where nothing flows.
///
/// `outlet` by element; `mixed` holds places whose temperature a controller keeps at or under a set value, °C. Sweeps in
/// the order in which water leaves the sources; loops through a vessel or a mixing pipe settle geometrically.
pub(crate) fn march(
    network: &Network,
    flow_kg_s: &[f64],
    outlet: &[Outlet],
    mixed: &[(usize, f64)],
    start_c: f64,
) -> Ends {
    let order = order(network, flow_kg_s, outlet);
    let places = network.graph.node_count();
    let mut into: Vec<Vec<usize>> = vec![Vec::new(); places];
    for &(id, _, to) in &order {
        into[to].push(id);
    }
    let mut ends: Ends = vec![None; flow_kg_s.len()];
    // enough for any loop that mixes a twentieth of fresh water each round to settle within 1e-9 K
    for _ in 0..400 {
        let mut change: f64 = 0.0;
        for &(id, from, _) in &order {
            let mut inlet = place_c(&into[from], flow_kg_s, &ends).unwrap_or(start_c);
            if let Some(&(_, set_c)) = mixed.iter().find(|(place, _)| *place == from) {
                inlet = inlet.min(set_c);
            }
            let out = match outlet[id] {
                Outlet::AsInlet => inlet,
                Outlet::At(c) => c,
                Outlet::Drop(k) => inlet - k,
                Outlet::Exchanger {
                    near,
                    heat_w,
                    ua_w_k,
                    near_w_k,
                    far_w_k,
                } => match ends[near.index()] {
                    Some((near_in, _)) => near_in - warm_end_k(heat_w, ua_w_k, near_w_k, far_w_k),
                    None => inlet,
                },
            };
            let (old_in, old_out) = ends[id].unwrap_or((f64::MAX, f64::MAX));
            change = change
                .max((inlet - old_in).abs())
                .max((out - old_out).abs());
            ends[id] = Some((inlet, out));
        }
        if change < 1e-9 {
            break;
        }
    }
    ends
}

/// Mix of what flows into a place, °C.
fn place_c(into: &[usize], flow_kg_s: &[f64], ends: &[Option<(f64, f64)>]) -> Option<f64> {
    let (mut mass, mut heat) = (0.0, 0.0);
    for &id in into {
        if let Some((_, out)) = ends[id] {
            mass += flow_kg_s[id].abs();
            heat += flow_kg_s[id].abs() * out;
        }
    }
    (mass > 0.0).then(|| heat / mass)
}

/// Difference at the warm end of a counter-flow exchanger, K: `heat = UA·LMTD`, capacity flows in W/K.
fn warm_end_k(heat_w: f64, ua_w_k: f64, near_w_k: f64, far_w_k: f64) -> f64 {
    let lmtd = heat_w / ua_w_k;
    // warm end less cold end
    let skew = heat_w / near_w_k - heat_w / far_w_k;
    if skew.abs() < 1e-9 * lmtd.abs().max(1.0) {
        lmtd
    } else {
        // a − b = skew and (a − b)/ln(a/b) = lmtd, solved for a
        skew / -crate::maths::exp_m1(-skew / lmtd)
    }
}

/// Elements that carry water as (element, upstream place, downstream place), in the order in which water coming from
/// fixed temperatures reaches them.
fn order(network: &Network, flow_kg_s: &[f64], outlet: &[Outlet]) -> Vec<(usize, usize, usize)> {
    let places = network.graph.node_count();
    let mut leaving: Vec<Vec<(usize, usize, usize)>> = vec![Vec::new(); places];
    let mut queue = std::collections::VecDeque::new();
    for id in network.element_ids() {
        let flow = flow_kg_s[id.index()];
        if flow == 0.0 {
            continue;
        }
        let (a, b) = network.ends(id);
        let (from, to) = if flow > 0.0 { (a, b) } else { (b, a) };
        let step = (id.index(), from.index(), to.index());
        if matches!(outlet[id.index()], Outlet::At(_)) {
            queue.push_back(step);
        } else {
            leaving[from.index()].push(step);
        }
    }
    let mut order = Vec::new();
    let mut seen = vec![false; places];
    loop {
        while let Some(step) = queue.pop_front() {
            order.push(step);
            if !std::mem::replace(&mut seen[step.2], true) {
                queue.extend(leaving[step.2].drain(..));
            }
        }
        // a circuit without a source of its own (the far side of an exchanger) begins at its exchanger, else anywhere
        let rest = leaving.iter().flatten();
        let next = rest
            .clone()
            .find(|step| matches!(outlet[step.0], Outlet::Exchanger { .. }))
            .or_else(|| rest.clone().next())
            .copied();
        match next {
            Some(step) => {
                leaving[step.1].retain(|other| other.0 != step.0);
                queue.push_back(step);
            }
            None => return order,
        }
    }
}
