//! What each valve would give if it never shut, and how many of them would make up for water that is short.

use super::enumerate::{Asked, Combinations, ways};
use super::sets::Mask;
use super::state::{Facts, read_light, still};
use crate::solve::{SolveError, Solver};

/// What leaving one valve open gives, with everything else shut.
#[derive(Clone, Debug, PartialEq)]
pub struct Kept {
    /// Its name.
    pub name: String,
    /// Its index.
    pub valve: usize,
    /// Water that then circulates beyond what does without it, m³.
    pub water_m3: f64,
    /// Heat that then leaves beyond what does without it, W.
    pub heat_w: f64,
    /// Combinations that trip although it is open.
    pub still_trip: usize,
}

/// All valves, those first that avert most trips, then those that give most water.
pub fn kept_open(asked: &Asked<'_>, found: &Combinations) -> Vec<Kept> {
    let n = asked.valves.len();
    let all = all_of(n);
    let alone: Vec<Mask> = (0..n).map(|v| all & !(1 << v)).collect();
    let masks: Vec<Mask> = std::iter::once(all).chain(alone).collect();
    let facts = looked_at(asked, &masks);
    let Some((Some(none), others)) = facts.split_first() else {
        return Vec::new();
    };
    let mut rows: Vec<Kept> = asked
        .valves
        .iter()
        .zip(others)
        .enumerate()
        .filter_map(|(valve, (closable, facts))| {
            let facts = facts.as_ref()?;
            Some(Kept {
                name: closable.name.clone(),
                valve,
                water_m3: (facts.water_m3 - none.water_m3).max(0.0),
                heat_w: (facts.heat_w - none.heat_w).max(0.0),
                still_trip: found.tally.trips_with_open.get(valve).copied().unwrap_or(0),
            })
        })
        .collect();
    rows.sort_by(|a, b| {
        a.still_trip
            .cmp(&b.still_trip)
            .then(b.water_m3.total_cmp(&a.water_m3))
            .then(a.valve.cmp(&b.valve))
    });
    rows
}

/// Valves (rows of the list) that, always open, are enough by `enough`, which is asked with everything else shut: those with
/// most water first, as few as that order needs; `None` if all together are not.
pub fn enough_open(
    asked: &Asked<'_>,
    rows: &[Kept],
    enough: &dyn Fn(&Facts, Mask) -> bool,
) -> Option<Vec<usize>> {
    let all = all_of(asked.valves.len());
    let mut order: Vec<usize> = (0..rows.len()).collect();
    order.sort_by(|a, b| {
        let water = rows[*b].water_m3.total_cmp(&rows[*a].water_m3);
        water.then(a.cmp(b))
    });
    let mut kept: Mask = 0;
    for (k, row) in order.iter().enumerate() {
        kept |= 1 << rows[*row].valve;
        let facts = looked_at(asked, &[all & !kept]).pop().flatten()?;
        if enough(&facts, kept) {
            return Some(order[..=k].to_vec());
        }
    }
    None
}

/// A mask with all of `n` valves.
fn all_of(n: usize) -> Mask {
    (0..n).fold(0, |mask, v| mask | 1 << v)
}

/// Facts of some combinations; `None` where one has no answer.
pub fn looked_at(asked: &Asked<'_>, masks: &[Mask]) -> Vec<Option<Facts>> {
    let (network, base) = (asked.network, asked.base);
    let (solver, ways) = (Solver::new(network), ways(asked.valves));
    let Ok(mut states) = solver.states(base, &ways) else {
        return vec![None; masks.len()];
    };
    masks
        .iter()
        .map(|&mask| match states.solve(mask) {
            Ok(light) => Some(read_light(network, base, &light, mask)),
            Err(SolveError::NothingMoves) => Some(still(network, base, mask)),
            Err(_) => None,
        })
        .collect()
}
