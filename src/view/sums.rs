//! Which flows the emitters' demand fixes by sums alone, and which split by what the pipes lose.

use super::demand::demand;
use super::paths::around;
use crate::network::{Network, PlaceId};
use crate::solve::SolveError;

/// By element: the block in which its flow splits by losses; `None` where sums fix it, or nothing passes.
///
/// With the held elements taken away (emitters, mixing sets' draws, the main of a one-pipe loop), a flow is fixed by sums
/// if and only if its element is a bridge of the graph that is left; what is no bridge lies in a block, a two-edge
/// connected part whose flows hang together (Tarjan 1974 finds the bridges).
///
/// # Errors
/// Where a temperature lies outside the range in which the fluid is known.
pub(crate) fn blocks(network: &Network, state: usize) -> Result<Vec<Option<usize>>, SolveError> {
    let demand = demand(network, state)?;
    let n = network.graph.edge_count();
    let open: Vec<bool> = (0..n)
        .map(|e| !demand.setting.shut[e] && demand.setting.held_kg_s[e].is_none())
        .collect();
    let places = network.graph.node_count();
    let mut bridge = vec![false; n];
    // depth-first by hand: a district's main is longer than a thread's stack is deep
    let mut met = vec![usize::MAX; places];
    let mut low = vec![usize::MAX; places];
    let mut clock = 0;
    for root in 0..places {
        if met[root] != usize::MAX {
            continue;
        }
        let ways = |place: usize| -> Vec<(usize, usize)> {
            let list = around(network, PlaceId::new(place));
            list.map(|(id, other)| (id.index(), other.index()))
                .filter(|(e, _)| open[*e])
                .collect()
        };
        (met[root], low[root]) = (clock, clock);
        clock += 1;
        let mut stack = vec![(root, usize::MAX, ways(root), 0)];
        while let Some((place, by, list, at)) = stack.last_mut() {
            if let Some(&(e, other)) = list.get(*at) {
                *at += 1;
                let place = *place;
                if e == *by {
                    continue;
                }
                if met[other] == usize::MAX {
                    (met[other], low[other]) = (clock, clock);
                    clock += 1;
                    stack.push((other, e, ways(other), 0));
                } else {
                    low[place] = low[place].min(met[other]);
                }
            } else {
                let (place, by) = (*place, *by);
                stack.pop();
                if let Some((before, ..)) = stack.last() {
                    low[*before] = low[*before].min(low[place]);
                    bridge[by] = low[place] > met[*before];
                }
            }
        }
    }
    // what bridges leave joined are the blocks
    let mut part = vec![usize::MAX; places];
    let mut parts = 0;
    for root in 0..places {
        if part[root] != usize::MAX {
            continue;
        }
        let mut stack = vec![root];
        part[root] = parts;
        while let Some(place) = stack.pop() {
            for (id, other) in around(network, PlaceId::new(place)) {
                let e = id.index();
                if open[e] && !bridge[e] && part[other.index()] == usize::MAX {
                    part[other.index()] = parts;
                    stack.push(other.index());
                }
            }
        }
        parts += 1;
    }
    let ids = network.element_ids();
    Ok(ids
        .map(|id| {
            let e = id.index();
            (open[e] && !bridge[e]).then(|| part[network.ends(id).0.index()])
        })
        .collect())
}
