//! The order in which to walk from valve to valve: shortest along the pipes, storey by storey.
//!
//! No floor plan is known. Pipes lie about as far as a person walks, so the way between two emitters is taken to be the
//! length of pipe between them, and stairs are counted so that a storey is finished before the next begins.

use crate::network::{Law, Network, PartLaw, PlaceId, Role};
use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// Metres that a change of storey counts: more than any way about a floor, so that nobody climbs twice.
const STAIRS_M: f64 = 100.0;
/// Up to so many stops the shortest order is found among all; beyond, by exchanges until none shortens it.
const EXACT: usize = 12;

/// A walk.
#[derive(Clone, Debug, PartialEq)]
pub struct Walk {
    /// Indices into `emitters`, in order, from the source on.
    pub order: Vec<usize>,
    /// By emitter: storey in the file's words.
    pub storeys: Vec<Option<String>>,
    /// Length along the pipes without stairs, m.
    pub length_m: f64,
    /// Whether no other order is shorter.
    pub exact: bool,
}

/// The walk from the first source past these emitters.
pub fn walk(network: &Network, emitters: &[usize]) -> Walk {
    let storeys: Vec<Option<String>> = (0..network.emitters.len())
        .map(|i| network.storey(i).map(str::to_owned))
        .collect();
    let starts: Vec<PlaceId> = network
        .sources
        .first()
        .map(|s| s.flow_place)
        .into_iter()
        .collect();
    let stops: Vec<PlaceId> = emitters
        .iter()
        .map(|&i| network.ends(network.emitters[i].body).0)
        .collect();
    let n = stops.len();
    // row 0 is the source
    let mut metres = vec![vec![0.0; n]; n + 1];
    for (row, place) in starts.iter().chain(&stops).enumerate() {
        let row = if starts.is_empty() { row + 1 } else { row };
        let reach = lengths(network, *place);
        for (k, stop) in stops.iter().enumerate() {
            let m = reach[stop.index()];
            metres[row][k] = if m.is_finite() { m } else { STAIRS_M };
        }
    }
    let climbs = |a: Option<usize>, b: usize| match (a, &storeys[emitters[b]]) {
        (Some(a), there) if &storeys[emitters[a]] != there => STAIRS_M,
        _ => 0.0,
    };
    let mut cost = metres.clone();
    for (row, line) in cost.iter_mut().enumerate() {
        for (k, c) in line.iter_mut().enumerate() {
            *c += climbs(row.checked_sub(1), k);
        }
    }
    let (order, exact) = if n <= EXACT {
        (best(&cost), true)
    } else {
        (exchanged(&cost), false)
    };
    let mut length_m = 0.0;
    let mut row = 0;
    for &k in &order {
        length_m += metres[row][k];
        row = k + 1;
    }
    Walk {
        order: order.into_iter().map(|k| emitters[k]).collect(),
        storeys,
        length_m,
        exact,
    }
}

/// Metres of pipe from a place to every other, the shortest way; not through floor loops.
fn lengths(network: &Network, from: PlaceId) -> Vec<f64> {
    let mut best = vec![f64::INFINITY; network.graph.node_count()];
    let mut next: Vec<Vec<(usize, f64)>> = vec![Vec::new(); best.len()];
    for id in network.element_ids() {
        let element = network.element(id);
        if element.role == Role::EmitterBody {
            continue;
        }
        let m = match &element.law {
            Law::Parts(parts) => parts
                .iter()
                .map(|p| match p.law {
                    PartLaw::Friction { length_m, .. } => length_m,
                    _ => 0.0,
                })
                .sum(),
            _ => 0.0,
        };
        let (a, b) = network.ends(id);
        next[a.index()].push((b.index(), m));
        next[b.index()].push((a.index(), m));
    }
    best[from.index()] = 0.0;
    // millimetres order the heap: whole numbers compare the same everywhere
    let mm = |m: f64| (m * 1e3) as u64;
    let mut heap = BinaryHeap::from([Reverse((0_u64, from.index()))]);
    while let Some(Reverse((at, place))) = heap.pop() {
        if at > mm(best[place]) {
            continue;
        }
        for &(to, m) in &next[place] {
            let there = best[place] + m;
            if there < best[to] {
                best[to] = there;
                heap.push(Reverse((mm(there), to)));
            }
        }
    }
    best
}

/// The shortest order by dynamic programming over sets (Held and Karp 1962), open at its end.
fn best(cost: &[Vec<f64>]) -> Vec<usize> {
    let n = cost.len() - 1;
    if n == 0 {
        return Vec::new();
    }
    let all = 1_usize << n;
    let mut least = vec![f64::INFINITY; all * n];
    let mut before = vec![usize::MAX; all * n];
    for k in 0..n {
        least[(1 << k) * n + k] = cost[0][k];
    }
    for set in 1..all {
        for last in (0..n).filter(|k| set >> k & 1 == 1) {
            let here = least[set * n + last];
            if here.is_infinite() {
                continue;
            }
            for to in (0..n).filter(|k| set >> k & 1 == 0) {
                let there = (set | 1 << to) * n + to;
                if here + cost[last + 1][to] < least[there] {
                    least[there] = here + cost[last + 1][to];
                    before[there] = last;
                }
            }
        }
    }
    let mut set = all - 1;
    let mut last = (0..n).fold(0, |m, k| {
        if least[set * n + k] < least[set * n + m] {
            k
        } else {
            m
        }
    });
    let mut order = vec![last];
    while let Some(&previous) = before.get(set * n + last).filter(|p| **p != usize::MAX) {
        set &= !(1 << last);
        last = previous;
        order.push(last);
    }
    order.reverse();
    order
}

/// Nearest first, then pieces turned round as long as that shortens the walk.
fn exchanged(cost: &[Vec<f64>]) -> Vec<usize> {
    let n = cost.len() - 1;
    let mut order: Vec<usize> = Vec::new();
    let mut row = 0;
    while order.len() < n {
        let left = (0..n).filter(|k| !order.contains(k));
        let near = left.fold(None, |m: Option<usize>, k| match m {
            Some(m) if cost[row][m] <= cost[row][k] => Some(m),
            _ => Some(k),
        });
        let Some(near) = near else { break };
        order.push(near);
        row = near + 1;
    }
    let total = |order: &[usize]| {
        let mut row = 0;
        let mut sum = 0.0;
        for &k in order {
            sum += cost[row][k];
            row = k + 1;
        }
        sum
    };
    let mut now = total(&order);
    for _ in 0..100 {
        let before = now;
        for i in 0..n {
            for j in i + 1..n {
                order[i..=j].reverse();
                let turned = total(&order);
                if turned < now - 1e-9 {
                    now = turned;
                } else {
                    order[i..=j].reverse();
                }
            }
        }
        if now == before {
            break;
        }
    }
    order
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Stops on a line at these metres, the source at zero.
    fn line(at: &[f64]) -> Vec<Vec<f64>> {
        let from = std::iter::once(0.0).chain(at.iter().copied());
        from.map(|a| at.iter().map(|b| (a - b).abs()).collect())
            .collect()
    }

    #[test]
    fn stops_on_a_line_are_met_in_their_order() {
        let cost = line(&[3.0, 1.0, 4.0, 2.0, 5.0]);
        assert_eq!(best(&cost), [1, 3, 0, 2, 4]);
        assert_eq!(exchanged(&cost), [1, 3, 0, 2, 4]);
        assert_eq!(best(&line(&[])), [] as [usize; 0]);
    }

    #[test]
    fn the_best_order_is_the_best_of_all_permutations() {
        // a made-up table of seven stops, not symmetric
        let n = 7;
        let cost: Vec<Vec<f64>> = (0..=n)
            .map(|i| {
                (0..n)
                    .map(|j| f64::from((i * 37 + j * 91 + i * j * 13) as u32 % 53))
                    .collect()
            })
            .collect();
        let total = |order: &[usize]| {
            let rows = std::iter::once(0).chain(order.iter().map(|k| k + 1));
            rows.zip(order).map(|(r, &k)| cost[r][k]).sum::<f64>()
        };
        fn all(order: &mut Vec<usize>, at: usize, each: &mut dyn FnMut(&[usize])) {
            if at == order.len() {
                return each(order);
            }
            for k in at..order.len() {
                order.swap(at, k);
                all(order, at + 1, each);
                order.swap(at, k);
            }
        }
        let mut least = f64::INFINITY;
        all(&mut (0..n).collect(), 0, &mut |order| {
            least = least.min(total(order))
        });
        assert_eq!(total(&best(&cost)), least);
        assert!(total(&exchanged(&cost)) >= least);
    }
}
