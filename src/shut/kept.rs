//! What each valve would give if it never shut, and how many of them would make up for water that is short.

use super::enumerate::{Asked, Combinations, ways};
use super::sets::Mask;
use super::state::{Facts, read_light, still};
use super::valves::ClosableKind;
use crate::solve::{SolveError, Solver};

/// Water that does not count as more, m³.
const LITTLE_M3: f64 = 1e-6;

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

/// Valves that never shut, and the house with everything else shut.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LeftOpen {
    /// The valves.
    pub open: Mask,
    /// Solved with all of them open together and everything else shut.
    pub facts: Facts,
}

/// Of some sets of valves the one that leaves the largest margin, then most water, with everything else shut.
pub fn best_of(asked: &Asked<'_>, sets: &[Mask]) -> Option<LeftOpen> {
    let all = all_of(asked.valves.len());
    let shut: Vec<Mask> = sets.iter().map(|open| all & !open).collect();
    let facts = looked_at(asked, &shut);
    let solved = sets.iter().zip(facts).filter_map(|(open, facts)| {
        let (open, facts) = (*open, facts?);
        Some(LeftOpen { open, facts })
    });
    // the first on a tie
    solved.fold(None, |best: Option<LeftOpen>, next| match best {
        Some(best) if !better(&next.facts, &best.facts) => Some(best),
        _ => Some(next),
    })
}

fn better(a: &Facts, b: &Facts) -> bool {
    let order = a.near().total_cmp(&b.near());
    order.then(a.water_m3.total_cmp(&b.water_m3)).is_gt()
}

/// Valves that, always open beside those of `from`, are enough by `enough`, which is asked with everything else shut: again
/// and again the one that then brings most water, or a zone and a valve behind it where none alone brings any; `None` if
/// all together are not enough.
pub fn enough_open(
    asked: &Asked<'_>,
    from: Mask,
    enough: &dyn Fn(&Facts, Mask) -> bool,
) -> Option<LeftOpen> {
    let n = asked.valves.len();
    let all = all_of(n);
    let at = |open: Mask| looked_at(asked, &[all & !open]).pop().flatten();
    let mut now = LeftOpen {
        open: from,
        facts: at(from)?,
    };
    while !enough(&now.facts, now.open) {
        let left: Vec<Mask> = (0..n)
            .map(|v| 1 << v)
            .filter(|v| v & now.open == 0)
            .collect();
        let with = |more: &[Mask]| {
            let masks: Vec<Mask> = more.iter().map(|m| all & !(now.open | m)).collect();
            let facts = looked_at(asked, &masks);
            let solved = more.iter().zip(facts).filter_map(|(m, f)| Some((*m, f?)));
            solved.fold(None, |best: Option<(Mask, Facts)>, next| match best {
                Some(best) if next.1.water_m3 <= best.1.water_m3 => Some(best),
                _ => Some(next),
            })
        };
        let gains = |best: &(Mask, Facts)| best.1.water_m3 > now.facts.water_m3 + LITTLE_M3;
        let best = with(&left).filter(gains).or_else(|| {
            let zones = left.iter().filter(|v| {
                let valve = asked.valves.get(v.trailing_zeros() as usize);
                valve.is_some_and(|v| matches!(v.kind, ClosableKind::Zone(_)))
            });
            let pairs: Vec<Mask> = zones
                .flat_map(|zone| left.iter().map(move |v| zone | v))
                .filter(|pair| pair.count_ones() == 2)
                .collect();
            with(&pairs).filter(gains)
        });
        let (more, facts) = best?;
        now = LeftOpen {
            open: now.open | more,
            facts,
        };
    }
    Some(now)
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
