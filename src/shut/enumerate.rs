//! All combinations of shut valves, or as much of them as can be looked at, each solved with the pump in its real mode.
//!
//! Combinations are independent and each is solved from a cold start in blocks of fixed size, so the outcome does not
//! depend on how many threads share the work.

use super::sets::{Mask, minimal, smallest_hitting, smallest_trips};
use super::state::{Facts, facts, with_shut};
use super::valves::Closable;
use crate::network::Network;
use crate::solve::{Setting, SolveError, Solver};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;
use std::collections::BTreeSet;

/// Up to this many valves every combination is solved.
pub const ALL_UP_TO: usize = 16;
/// Combinations that one block solves.
const BLOCK: usize = 256;
/// Valves beyond which a mask cannot tell them apart.
pub const MOST: usize = 60;
/// Combinations drawn at random beyond [`ALL_UP_TO`] valves.
const SAMPLE: usize = 4096;
/// Most combinations of few shut and few open valves looked at beyond [`ALL_UP_TO`] valves.
const FEW: usize = 24_000;
/// Safe sets on the way to the smallest ones before the list is given up.
const HITTING: usize = 20_000;
/// Seed of the sample, printed with it.
pub const SEED: u64 = 20_261_125;

/// How a statement about all combinations was reached.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Reached {
    /// Every combination was solved.
    All,
    /// Up to so many shut and up to so many open were solved, and others drawn at random.
    Sampled {
        /// Every combination with up to this many shut.
        up_to_shut: usize,
        /// Every combination with up to this many open.
        up_to_open: usize,
        /// Drawn at random beyond those.
        drawn: usize,
        /// Share of combinations that trip could be up to this without one in the sample, with 95 % confidence.
        missed_share: f64,
    },
}

/// Everything found about the combinations.
#[derive(Clone, Debug, PartialEq)]
pub struct Combinations {
    /// What was solved, in the order of masks.
    pub facts: Vec<Facts>,
    /// Combinations without a converged answer, and what stopped each. They are never taken for safe.
    pub unanswered: Vec<(Mask, SolveError)>,
    /// How much of all that is.
    pub reached: Reached,
    /// Number of all combinations.
    pub total: f64,
    /// Smallest sets of shut valves that trip the unit.
    pub trips: Vec<Mask>,
    /// Smallest sets that keep the unit safe when left open, `None` where too many to list exactly.
    pub safe: Option<Vec<Mask>>,
}

/// Solves the combinations. `interrupted` is asked between blocks; `progress` is told how many are done of how many.
///
/// `None` if it was interrupted.
pub fn combinations(
    network: &Network,
    base: &Setting,
    valves: &[Closable],
    progress: &(dyn Fn(usize, usize) + Sync),
    interrupted: &(dyn Fn() -> bool + Sync),
) -> Option<Combinations> {
    let n = valves.len().min(MOST);
    let (masks, reached) = if n <= ALL_UP_TO {
        ((0..1u64 << n).collect::<Vec<Mask>>(), Reached::All)
    } else {
        some_masks(n)
    };
    let (found, unanswered) = solve_all(network, base, valves, &masks, progress, interrupted)?;
    let trips = match reached {
        Reached::All => {
            let mut tripping = vec![false; 1 << n];
            for fact in found.iter().filter(|f| f.trips()) {
                tripping[fact.shut as usize] = true;
            }
            smallest_trips(n as u32, &tripping)
        }
        Reached::Sampled { .. } => {
            minimal(found.iter().filter(|f| f.trips()).map(|f| f.shut).collect())
        }
    };
    // what has no answer may trip: a set is called safe only if it keeps clear of that too
    let doubtful = trips
        .iter()
        .copied()
        .chain(unanswered.iter().map(|(mask, _)| *mask));
    let safe = smallest_hitting(&minimal(doubtful.collect()), HITTING);
    let total = 2f64.powi(n as i32);
    Some(Combinations {
        facts: found,
        unanswered,
        reached,
        total,
        trips,
        safe,
    })
}

/// Combinations with an answer, and those without.
type Answers = (Vec<Facts>, Vec<(Mask, SolveError)>);

fn solve_all(
    network: &Network,
    base: &Setting,
    valves: &[Closable],
    masks: &[Mask],
    progress: &(dyn Fn(usize, usize) + Sync),
    interrupted: &(dyn Fn() -> bool + Sync),
) -> Option<Answers> {
    let done = std::sync::atomic::AtomicUsize::new(0);
    let blocks: Vec<Option<Answers>> = masks
        .par_chunks(BLOCK)
        .map(|block| {
            if interrupted() {
                return None;
            }
            let solver = Solver::new(network);
            let mut answers = Answers::default();
            for &mask in block {
                let setting = with_shut(base, valves, mask);
                match facts(network, &solver, &setting, mask) {
                    Ok((facts, _)) => answers.0.push(facts),
                    Err(error) => answers.1.push((mask, error)),
                }
            }
            let all = done.fetch_add(block.len(), std::sync::atomic::Ordering::Relaxed);
            progress(all + block.len(), masks.len());
            Some(answers)
        })
        .collect();
    let mut out = Answers::default();
    for block in blocks {
        let (facts, unanswered) = block?;
        out.0.extend(facts);
        out.1.extend(unanswered);
    }
    Some(out)
}

/// Few shut, few open, and a seeded sample of the rest.
fn some_masks(n: usize) -> (Vec<Mask>, Reached) {
    let all: Mask = (1 << n) - 1;
    let mut masks: BTreeSet<Mask> = BTreeSet::from([0, all]);
    // the same number of levels from both ends, as many as the budget allows; at least one
    let mut level: BTreeSet<Mask> = BTreeSet::from([0]);
    let mut levels = 0;
    while 2 * levels < n {
        let next: BTreeSet<Mask> = level
            .iter()
            .flat_map(|&m| {
                (0..n)
                    .filter(move |b| m >> b & 1 == 0)
                    .map(move |b| m | 1 << b)
            })
            .collect();
        if levels >= 1 && masks.len() + 2 * next.len() > FEW {
            break;
        }
        masks.extend(next.iter().flat_map(|&m| [m, all ^ m]));
        levels += 1;
        level = next;
    }
    let before = masks.len();
    let mut random = ChaCha8Rng::seed_from_u64(SEED);
    for _ in 0..SAMPLE {
        // every number of shut valves alike, so that half-shut houses do not drown the rest
        let shut = random.random_range(levels..=n.saturating_sub(levels).max(levels));
        let mut mask: Mask = 0;
        while (mask.count_ones() as usize) < shut.min(n) {
            mask |= 1 << random.random_range(0..n);
        }
        masks.insert(mask);
    }
    let drawn = masks.len() - before;
    // rule of three: no event in N draws bounds its share by 3/N with 95 % confidence (Hanley, Lippman-Hand 1983)
    let missed_share = 3.0 / drawn.max(1) as f64;
    let reached = Reached::Sampled {
        up_to_shut: levels,
        up_to_open: levels,
        drawn,
        missed_share,
    };
    (masks.into_iter().collect(), reached)
}

impl Combinations {
    /// The worst combination: least margin, then least flow, then least mask.
    pub fn worst(&self) -> Option<&Facts> {
        self.facts.iter().min_by(|a, b| {
            a.margin
                .total_cmp(&b.margin)
                .then(a.flow_m3_s.total_cmp(&b.flow_m3_s))
                .then(a.shut.count_ones().cmp(&b.shut.count_ones()))
                .then(a.shut.cmp(&b.shut))
        })
    }

    /// Among the combinations that do not trip, the one nearest to it.
    pub fn nearest_miss(&self) -> Option<&Facts> {
        self.facts
            .iter()
            .filter(|f| !f.trips())
            .min_by(|a, b| a.margin.total_cmp(&b.margin).then(a.shut.cmp(&b.shut)))
    }

    /// How many of the solved combinations trip.
    pub fn tripping(&self) -> usize {
        self.facts.iter().filter(|f| f.trips()).count()
    }

    /// Least and greatest flow by number of open valves, m³/s: (open, least, greatest).
    pub fn by_open(&self, valves: usize) -> Vec<(usize, f64, f64)> {
        let mut rows: Vec<Option<(f64, f64)>> = vec![None; valves + 1];
        for fact in &self.facts {
            let open = valves - fact.shut.count_ones() as usize;
            let row = &mut rows[open];
            let (low, high) = row.unwrap_or((f64::INFINITY, f64::NEG_INFINITY));
            *row = Some((low.min(fact.flow_m3_s), high.max(fact.flow_m3_s)));
        }
        rows.into_iter()
            .enumerate()
            .rev()
            .filter_map(|(open, row)| row.map(|(l, h)| (open, l, h)))
            .collect()
    }
}
