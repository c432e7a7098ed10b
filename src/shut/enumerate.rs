//! All combinations of shut valves, or as much of them as can be looked at, each solved with the pump in its real mode.
//!
//! Each combination is solved from the state with everything open, and what is seen of it is added up in the order of
//! combinations, so the outcome does not depend on how many threads share the work.

use super::monotone::{self, Proved, WhyNot};
use super::sets::{Mask, minimal, smallest_hitting, smallest_trips};
use super::state::{Facts, read_light, still};
use super::tally::Tally;
use super::valves::Closable;
use crate::network::{ElementId, Network};
use crate::solve::{Setting, SolveError, Solver, Way};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::collections::BTreeSet;
use std::ops::ControlFlow;

/// Up to this many valves every combination is solved.
pub const ALL_UP_TO: usize = 16;
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
    /// Counts and extremes of what was solved.
    pub tally: Tally,
    /// How much of all that is.
    pub reached: Reached,
    /// Sets proved by monotony, or why they are not.
    pub proved: Result<Proved, WhyNot>,
    /// Number of all combinations.
    pub total: f64,
    /// Smallest sets of shut valves that trip the unit.
    pub trips: Vec<Mask>,
    /// Smallest sets that keep the unit safe when left open, `None` where too many to list exactly.
    pub safe: Option<Vec<Mask>>,
}

/// What is asked of the combinations.
pub struct Asked<'a> {
    /// The house.
    pub network: &'a Network,
    /// Everything open.
    pub base: &'a Setting,
    /// What can close.
    pub valves: &'a [Closable],
    /// Shut elements across which the pressure difference is wanted.
    pub spots: &'a [ElementId],
    /// Keep every combination.
    pub keep: bool,
    /// Told how many are done of how many.
    pub progress: &'a (dyn Fn(usize, usize) + Sync),
    /// Asked between blocks.
    pub interrupted: &'a (dyn Fn() -> bool + Sync),
}

/// Why there are no combinations.
#[derive(Clone, Debug, PartialEq)]
pub enum Ended {
    /// It was interrupted.
    Interrupted,
    /// The setting contradicts itself.
    Solve(SolveError),
}

/// What shuts with each valve.
pub fn ways(valves: &[Closable]) -> Vec<Way> {
    let way = |v: &Closable| Way {
        elements: v.elements.clone(),
        pumps: v.pumps.clone(),
    };
    valves.iter().map(way).collect()
}

/// Solves the combinations.
///
/// # Errors
/// See [`Ended`].
pub fn combinations(asked: &Asked<'_>) -> Result<Combinations, Ended> {
    let n = asked.valves.len().min(MOST);
    let (masks, reached) = if n <= ALL_UP_TO {
        (Masks::All(1 << n), Reached::All)
    } else {
        let (masks, reached) = some_masks(n);
        (Masks::Some(masks), reached)
    };
    let tally = solve_all(asked, &masks)?;
    let trips = match reached {
        Reached::All => {
            let mut tripping = vec![false; 1 << n];
            for mask in &tally.trips {
                tripping[*mask as usize] = true;
            }
            smallest_trips(n as u32, &tripping)
        }
        Reached::Sampled { .. } => minimal(tally.trips.clone()),
    };
    let proved = match reached {
        Reached::All => Err(WhyNot::NotNeeded),
        Reached::Sampled { .. } => monotone::prove(asked.network, asked.base, asked.valves),
    };
    // sets that are only sure to trip, and not the smallest, do not replace those that were met
    let trips = match &proved {
        Ok(proved) if proved.exact => proved.trips.clone(),
        _ => trips,
    };
    // what has no answer may trip: a set is called safe only if it keeps clear of that too
    let doubtful = trips
        .iter()
        .copied()
        .chain(tally.unanswered.iter().map(|(mask, _)| *mask));
    let safe = match &proved {
        Ok(proved) => Some(proved.safe.clone()),
        Err(_) => smallest_hitting(&minimal(doubtful.collect()), HITTING),
    };
    Ok(Combinations {
        tally,
        reached,
        proved,
        total: 2f64.powi(n as i32),
        trips,
        safe,
    })
}

/// Combinations to solve, in order.
enum Masks {
    /// All below this.
    All(u64),
    /// These.
    Some(Vec<Mask>),
}

impl Masks {
    fn len(&self) -> u64 {
        match self {
            Masks::All(end) => *end,
            Masks::Some(list) => list.len() as u64,
        }
    }

    fn at(&self, k: u64) -> Mask {
        match self {
            Masks::All(_) => k,
            Masks::Some(list) => list.get(k as usize).copied().unwrap_or(0),
        }
    }
}

fn solve_all(asked: &Asked<'_>, masks: &Masks) -> Result<Tally, Ended> {
    let (network, setting, len) = (asked.network, asked.base, masks.len());
    let nothing = || Tally::new(asked.valves.len(), asked.spots.len(), asked.keep);
    let mut sum = nothing();
    let ended = Solver::new(network)
        .fold_states(
            setting,
            &ways(asked.valves),
            len,
            |k| masks.at(k),
            nothing,
            |tally, mask, answer| match answer {
                Ok(light) => {
                    let facts = read_light(network, setting, &light, mask);
                    let at = asked.spots.iter().map(|spot| light.dp_pa(*spot));
                    tally.add(facts, &at.collect::<Vec<_>>());
                }
                Err(SolveError::NothingMoves) => tally.add(still(network, setting, mask), &[]),
                Err(error) => tally.unanswered.push((mask, error)),
            },
            |block, done| {
                sum.and(block);
                (asked.progress)(done as usize, len as usize);
                if (asked.interrupted)() {
                    ControlFlow::Break(())
                } else {
                    ControlFlow::Continue(())
                }
            },
        )
        .map_err(Ended::Solve)?;
    if ended.is_break() {
        return Err(Ended::Interrupted);
    }
    Ok(sum)
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
        self.tally.worst.as_ref()
    }

    /// Among the combinations that do not trip, the one nearest to it.
    pub fn nearest_miss(&self) -> Option<&Facts> {
        self.tally.nearest.as_ref()
    }

    /// How many of the solved combinations trip.
    pub fn tripping(&self) -> usize {
        self.tally.tripping
    }

    /// Least and greatest flow by number of open valves, m³/s: (open, least, greatest).
    pub fn by_open(&self) -> Vec<(usize, f64, f64)> {
        let valves = self.tally.levels.len().saturating_sub(1);
        self.tally
            .levels
            .iter()
            .enumerate()
            .filter_map(|(shut, level)| level.map(|l| (valves - shut, l.least, l.greatest)))
            .collect()
    }
}
