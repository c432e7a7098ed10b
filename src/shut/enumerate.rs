//! All combinations of shut valves, or as much of them as can be looked at, each solved with the pump in its real mode.
//!
//! Each combination is solved from the state with everything open, in blocks of fixed size, so the outcome does not
//! depend on how many threads share the work.

use super::sets::{Mask, minimal, smallest_hitting, smallest_trips};
use super::state::{Facts, facts, read_light, with_shut};
use super::tally::Tally;
use super::valves::Closable;
use crate::network::{ElementId, Network, PlaceId};
use crate::solve::{Setting, SolveError, Solver, States};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

/// Up to this many valves every combination is solved.
pub const ALL_UP_TO: usize = 16;
/// Combinations that one block solves.
const BLOCK: usize = 512;
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
    /// Pairs of places whose pressure difference is wanted.
    pub spots: &'a [(PlaceId, PlaceId)],
    /// Keep every combination.
    pub keep: bool,
    /// Told how many are done of how many.
    pub progress: &'a (dyn Fn(usize, usize) + Sync),
    /// Asked between blocks.
    pub interrupted: &'a (dyn Fn() -> bool + Sync),
}

/// Solves the combinations; `None` if it was interrupted.
pub fn combinations(asked: &Asked<'_>) -> Option<Combinations> {
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
    // what has no answer may trip: a set is called safe only if it keeps clear of that too
    let doubtful = trips
        .iter()
        .copied()
        .chain(tally.unanswered.iter().map(|(mask, _)| *mask));
    let safe = smallest_hitting(&minimal(doubtful.collect()), HITTING);
    Some(Combinations {
        tally,
        reached,
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
    fn len(&self) -> usize {
        match self {
            Masks::All(end) => *end as usize,
            Masks::Some(list) => list.len(),
        }
    }

    fn at(&self, i: usize) -> Mask {
        match self {
            Masks::All(_) => i as Mask,
            Masks::Some(list) => list.get(i).copied().unwrap_or(0),
        }
    }
}

fn solve_all(asked: &Asked<'_>, masks: &Masks) -> Option<Tally> {
    let done = std::sync::atomic::AtomicUsize::new(0);
    let len = masks.len();
    let solver = Solver::new(asked.network);
    let settings = settings(asked);
    let blocks: Vec<Option<Tally>> = (0..len.div_ceil(BLOCK))
        .into_par_iter()
        .map(|block| {
            if (asked.interrupted)() {
                return None;
            }
            let range = block * BLOCK..((block + 1) * BLOCK).min(len);
            let count = range.len();
            let mut one = One::new(asked, &solver, &settings);
            for i in range {
                one.solve(masks.at(i));
            }
            let all = done.fetch_add(count, std::sync::atomic::Ordering::Relaxed);
            (asked.progress)(all + count, len);
            Some(one.tally)
        })
        .collect();
    let mut sum = Tally::new(asked.valves.len(), asked.spots.len(), asked.keep);
    for block in blocks {
        sum.and(block?);
    }
    Some(sum)
}

/// Most combinations of stopped pumps that are made ready beforehand: six zone pumps.
const READY: usize = 64;

/// The setting with everything open for each set of pumps that stop with a zone.
fn settings(asked: &Asked<'_>) -> BTreeMap<Mask, Setting> {
    let with_pump = pump_mask(asked.valves);
    let mut masks: Vec<Mask> = vec![0];
    for bit in (0..MOST).filter(|b| with_pump >> b & 1 == 1) {
        if masks.len() >= READY {
            break;
        }
        let more: Vec<Mask> = masks.iter().map(|m| m | 1 << bit).collect();
        masks.extend(more);
    }
    masks
        .into_iter()
        .map(|mask| {
            let mut setting = asked.base.clone();
            for (_, valve) in chosen(asked.valves, mask) {
                for &pump in &valve.pumps {
                    setting.stopped[pump] = true;
                }
            }
            (mask, setting)
        })
        .collect()
}

/// Valves that stop a pump when they shut.
fn pump_mask(valves: &[Closable]) -> Mask {
    let with = valves
        .iter()
        .enumerate()
        .filter(|(_, v)| !v.pumps.is_empty());
    with.fold(0, |mask, (i, _)| mask | 1 << i)
}

fn chosen(valves: &[Closable], mask: Mask) -> impl Iterator<Item = (usize, &Closable)> {
    valves
        .iter()
        .enumerate()
        .filter(move |(i, _)| mask >> i & 1 == 1)
}

/// One block at work.
struct One<'a, 's> {
    asked: &'a Asked<'a>,
    solver: &'s Solver<'s>,
    settings: &'s BTreeMap<Mask, Setting>,
    ready: BTreeMap<Mask, Result<States<'s>, SolveError>>,
    with_pump: Mask,
    blended: bool,
    tally: Tally,
}

impl<'a, 's> One<'a, 's> {
    fn new(
        asked: &'a Asked<'a>,
        solver: &'s Solver<'s>,
        settings: &'s BTreeMap<Mask, Setting>,
    ) -> Self {
        Self {
            asked,
            solver,
            settings,
            ready: BTreeMap::new(),
            with_pump: pump_mask(asked.valves),
            blended: asked.network.manifolds.iter().any(|m| m.blend.is_some()),
            tally: Tally::new(asked.valves.len(), asked.spots.len(), asked.keep),
        }
    }

    fn solve(&mut self, mask: Mask) {
        let asked = self.asked;
        let stopped = mask & self.with_pump;
        if !self.blended
            && let Some(setting) = self.settings.get(&stopped)
        {
            let solver = self.solver;
            let ready = self
                .ready
                .entry(stopped)
                .or_insert_with(|| solver.states(setting));
            if let Ok(states) = ready {
                let shut = chosen(asked.valves, mask)
                    .flat_map(|(_, v)| v.elements.iter().copied())
                    .collect::<Vec<ElementId>>();
                // without an answer a cold start may still find one
                if let Ok(light) = states.solve(shut) {
                    let (facts, at) = read_light(asked.network, setting, &light, mask, asked.spots);
                    self.tally.add(facts, &at);
                    return;
                }
            }
        }
        let setting = with_shut(asked.base, asked.valves, mask);
        match facts(asked.network, self.solver, &setting, mask) {
            Ok((facts, state)) => {
                let at: Vec<Option<f64>> = asked
                    .spots
                    .iter()
                    .map(|(a, b)| {
                        let pa = &state.as_ref()?.pressure_pa;
                        Some(pa[a.index()]? - pa[b.index()]?)
                    })
                    .collect();
                self.tally.add(facts, &at);
            }
            Err(error) => self.tally.unanswered.push((mask, error)),
        }
    }
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
