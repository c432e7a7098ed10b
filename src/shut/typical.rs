//! The typical combination: half of the valves shut, and of those the one of middling flow.

use super::enumerate::{SEED, ways};
use super::sets::Mask;
use super::state::{Facts, read_light, still};
use super::tally::ANY_HEAT_W;
use super::valves::Closable;
use crate::network::Network;
use crate::solve::{Setting, SolveError, Solver};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::collections::BTreeSet;

/// Combinations with half of the valves shut that are looked at.
const LOOKED_AT: usize = 129;

/// The middle one by flow of the combinations with half of the valves shut that do not trip and take heat, seeded draws
/// where there are many; `None` if there is none.
pub fn typical(network: &Network, base: &Setting, valves: &[Closable]) -> Option<Facts> {
    let n = valves.len();
    if n < 2 {
        return None;
    }
    let mut random = ChaCha8Rng::seed_from_u64(SEED);
    let mut masks: BTreeSet<Mask> = BTreeSet::new();
    for _ in 0..LOOKED_AT {
        let mut mask: Mask = 0;
        while (mask.count_ones() as usize) < n / 2 {
            mask |= 1 << random.random_range(0..n);
        }
        masks.insert(mask);
    }
    let (solver, ways) = (Solver::new(network), ways(valves));
    let mut states = solver.states(base, &ways).ok()?;
    let mut found: Vec<Facts> = masks
        .into_iter()
        .filter_map(|mask| match states.solve(mask) {
            Ok(light) => Some(read_light(network, base, &light, mask)),
            Err(SolveError::NothingMoves) => Some(still(network, base, mask)),
            Err(_) => None,
        })
        .filter(|facts| !facts.trips() && facts.heat_w > ANY_HEAT_W)
        .collect();
    found.sort_by(|a, b| {
        a.flow_m3_s
            .total_cmp(&b.flow_m3_s)
            .then(a.shut.cmp(&b.shut))
    });
    found.get(found.len() / 2).copied()
}
