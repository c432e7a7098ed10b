//! All combinations of shut valves, or as much of them as can be looked at, each solved with the pump in its real mode.
//!
//! Each combination is solved from the state with everything open, and what is seen of it is added up in the order of
//! combinations, so the outcome does not depend on how many threads share the work.

use super::counted::{Counted, choose, counted};
use super::kept::looked_at;
use super::monotone::{Houses, Proved, WhyNot, prove_between};
use super::sets::{Mask, minimal, smallest_hitting, smallest_safe, smallest_trips, some_hitting};
use super::state::{Facts, read_light, still};
use super::tally::Tally;
use super::valves::Closable;
use crate::network::{ElementId, Network};
use crate::solve::{Setting, SolveError, Solver, Way};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::collections::BTreeSet;
use std::ops::ControlFlow;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Up to this many valves every combination is solved.
pub const ALL_UP_TO: usize = 16;
/// Valves beyond which a mask cannot tell them apart.
pub const MOST: usize = 60;
/// Tripping sets of a sample up to which all smallest safe sets are listed, and safe sets on the way.
const HITTING: usize = 500;
/// Tripping sets of a sample that are made as small as can be.
const SHRUNK: usize = 24;
/// Smallest sets beyond which they are not searched for one by one.
const LISTED: f64 = 2000.0;
/// Combinations asked of the house itself, to find one of fewest valves shut that trips.
const ASKED: usize = 2000;
/// Combinations after which progress is told again.
const TOLD: usize = 128;
/// Seed of the sample, printed with it.
pub const SEED: u64 = 20_261_125;

/// How much is looked at beyond [`ALL_UP_TO`] valves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Extent {
    /// Most combinations of few shut and few open valves.
    pub few: usize,
    /// Combinations drawn at random of the rest.
    pub drawn: usize,
}

impl Default for Extent {
    fn default() -> Self {
        Self {
            few: 24_000,
            drawn: 4096,
        }
    }
}

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
    /// Smallest sets that keep the unit safe when left open.
    pub safe: Vec<Mask>,
    /// Whether that list is complete for what it rests on; else it is one set that was found.
    pub safe_listed: bool,
    /// Bounds by counts of valves, where the sets are too many to be listed.
    pub counted: Option<Counted>,
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
    /// How much to look at where not all can be.
    pub extent: Extent,
    /// Look for sets; else counts and extremes are enough.
    pub sets: bool,
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
        let (masks, reached) = some_masks(n, asked.extent);
        (Masks::Some(masks), reached)
    };
    let tally = solve_all(asked, &masks)?;
    let unanswered = || tally.unanswered.iter().map(|(mask, _)| *mask);
    let mut found = Combinations {
        reached,
        proved: Err(WhyNot::NotNeeded),
        total: 2f64.powi(n as i32),
        trips: Vec::new(),
        safe: Vec::new(),
        safe_listed: true,
        counted: None,
        tally: Tally::new(0, 0, false),
    };
    if !asked.sets {
        found.tally = tally;
        return Ok(found);
    }
    if reached == Reached::All {
        let mut tripping = vec![false; 1 << n];
        tally
            .trips
            .iter()
            .for_each(|m| tripping[*m as usize] = true);
        found.trips = smallest_trips(n as u32, &tripping);
        // what has no answer may trip: a set is called safe only if it keeps clear of that too
        unanswered().for_each(|m| tripping[m as usize] = true);
        found.safe = smallest_safe(n as u32, &tripping);
        found.tally = tally;
        return Ok(found);
    }
    (found.proved, found.counted) = bounds(asked);
    match &found.proved {
        Ok(proved) => {
            // sets that are only sure to trip, and not the smallest, do not replace those that were met
            found.trips = match proved.exact {
                true => proved.trips.clone(),
                false => shrunk(asked, &tally.trips),
            };
            found.safe = proved.safe.clone();
        }
        Err(_) => {
            let mut trips = shrunk(asked, &tally.trips);
            let doubtful = || trips.iter().copied().chain(tally.trips.iter().copied());
            let hit = minimal(doubtful().chain(unanswered()).collect());
            let sure = found.counted.as_ref().and_then(|c| c.least_safe);
            let listed = (sure.is_none() && hit.len() <= HITTING)
                .then(|| smallest_hitting(&hit, HITTING))
                .flatten();
            found.safe_listed = listed.is_some();
            found.safe =
                listed.unwrap_or_else(|| sure.or_else(|| some_hitting(&hit)).into_iter().collect());
            if let Some(counted) = &found.counted {
                trips.extend(first_to_trip(asked, &counted.ask));
                trips = minimal(trips);
            }
            found.trips = trips;
        }
    }
    found.tally = tally;
    Ok(found)
}

/// Sets proved one by one, or by counts where they are too many for that.
fn bounds(asked: &Asked<'_>) -> (Result<Proved, WhyNot>, Option<Counted>) {
    let houses = match Houses::of(asked.network, asked.base, asked.valves) {
        Ok(Some(houses)) => houses,
        Ok(None) => return (Err(WhyNot::NotNeeded), None),
        Err(why) => return (Err(why), None),
    };
    let by_count = counted(asked.network, asked.valves, &houses, asked.progress).ok();
    if by_count.as_ref().is_some_and(|c| c.sets() > LISTED) {
        return (Err(WhyNot::TooMany), by_count);
    }
    match prove_between(asked.network, &houses, asked.valves) {
        Err(WhyNot::TooMany) => (Err(WhyNot::TooMany), by_count),
        proved => (proved, None),
    }
}

/// Tripping sets, the smallest of those met, each with valves opened again for as long as it still trips.
fn shrunk(asked: &Asked<'_>, trips: &[Mask]) -> Vec<Mask> {
    let (network, base) = (asked.network, asked.base);
    let (solver, ways) = (Solver::new(network), ways(asked.valves));
    let Ok(mut states) = solver.states(base, &ways) else {
        return minimal(trips.to_vec());
    };
    let mut trips_at = |mask: Mask| match states.solve(mask) {
        Ok(light) => read_light(network, base, &light, mask).trips(),
        Err(SolveError::NothingMoves) => still(network, base, mask).trips(),
        Err(_) => false,
    };
    let mut out: Vec<Mask> = Vec::new();
    for mut mask in minimal(trips.to_vec()).into_iter().take(SHRUNK) {
        for valve in 0..asked.valves.len() {
            let less = mask & !(1 << valve);
            if less != mask && trips_at(less) {
                mask = less;
            }
        }
        out.push(mask);
    }
    minimal(out)
}

/// The first of some combinations that trips.
fn first_to_trip(asked: &Asked<'_>, masks: &[Mask]) -> Option<Mask> {
    let masks = &masks[..masks.len().min(ASKED)];
    // few at a time: the first is often near the front
    masks.chunks(64).find_map(|some| {
        let facts = looked_at(asked, some);
        let first = facts.iter().flatten().find(|f| f.trips());
        first.map(|f| f.shut)
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
    let solved = AtomicUsize::new(0);
    let tell = || {
        let done = solved.fetch_add(1, Ordering::Relaxed) + 1;
        if done.is_multiple_of(TOLD) || done as u64 == len {
            (asked.progress)(done, len as usize);
        }
    };
    let ended = Solver::new(network)
        .fold_states(
            setting,
            &ways(asked.valves),
            len,
            |k| masks.at(k),
            nothing,
            |tally, mask, answer| {
                match answer {
                    Ok(light) => {
                        let facts = read_light(network, setting, &light, mask);
                        let at = asked.spots.iter().map(|spot| light.dp_pa(*spot));
                        tally.add(facts, &at.collect::<Vec<_>>());
                    }
                    Err(SolveError::NothingMoves) => tally.add(still(network, setting, mask), &[]),
                    Err(error) => tally.unanswered.push((mask, error)),
                }
                tell();
            },
            |block, _| {
                sum.and(block);
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
fn some_masks(n: usize, extent: Extent) -> (Vec<Mask>, Reached) {
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
        if levels >= 1 && masks.len() + 2 * next.len() > extent.few {
            break;
        }
        masks.extend(next.iter().flat_map(|&m| [m, all ^ m]));
        levels += 1;
        level = next;
    }
    let before = masks.len();
    let mut random = ChaCha8Rng::seed_from_u64(SEED);
    for _ in 0..extent.drawn {
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

    /// With up to how many valves shut, whichever, it does not trip, and from how many shut on it always does: by all
    /// combinations of such numbers, or by bounds. `None` where neither says so.
    pub fn whichever(&self) -> (Option<usize>, Option<usize>) {
        let levels = &self.tally.levels;
        let valves = levels.len().saturating_sub(1);
        let open_end = |k: usize| {
            self.tally
                .unanswered
                .iter()
                .any(|(mask, _)| mask.count_ones() as usize == k)
        };
        let all_of = |k: usize, tripping: bool| {
            levels[k].is_some_and(|l| {
                let trips = if tripping { l.solved } else { 0 };
                l.solved as f64 == choose(valves, k) && l.tripping == trips
            }) && !open_end(k)
        };
        let never = (0..levels.len()).take_while(|k| all_of(*k, false)).count();
        let always = (0..levels.len())
            .rev()
            .take_while(|k| all_of(*k, true))
            .count();
        let never = never.checked_sub(1);
        let always = (always > 0).then(|| levels.len() - always);
        let Some(counted) = &self.counted else {
            return (never, always);
        };
        let both = always.zip(counted.trips_from);
        (
            never.max(counted.safe_up_to),
            both.map(|(a, b)| a.min(b))
                .or(always)
                .or(counted.trips_from),
        )
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
