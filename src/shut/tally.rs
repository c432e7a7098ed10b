//! What is kept of thousands of combinations: counts, extremes and which of them trip, never the combinations
//! themselves. Tallies of blocks are added in the order of blocks, so that the sum does not depend on who made them.

use super::sets::Mask;
use super::state::Facts;
use crate::solve::SolveError;

/// Flow of all combinations with one number of valves shut.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Level {
    /// m³/s.
    pub least: f64,
    /// m³/s.
    pub greatest: f64,
    /// How many were solved.
    pub solved: usize,
    /// How many of them trip.
    pub tripping: usize,
}

/// Heat under which a house takes nothing, W.
pub(super) const ANY_HEAT_W: f64 = 1.0;

/// Sums and extremes of combinations.
#[derive(Clone, Debug, PartialEq)]
pub struct Tally {
    valves: usize,
    /// Combinations with an answer.
    pub solved: usize,
    /// Those that trip.
    pub tripping: usize,
    /// Which trip, in the order of masks.
    pub trips: Vec<Mask>,
    /// Combinations without an answer, and what stopped each.
    pub unanswered: Vec<(Mask, SolveError)>,
    /// Least margin.
    pub worst: Option<Facts>,
    /// Least margin of those that do not trip.
    pub nearest: Option<Facts>,
    /// Least heat of those that do not trip and give any: the one that stops and starts most.
    pub idlest: Option<Facts>,
    /// Least water in circulation of those in which water passes the unit.
    pub driest: Option<Facts>,
    /// Of those in which none does, the one with fewest valves shut.
    pub standing: Option<Facts>,
    /// Largest loss across an open valve of an emitter.
    pub loudest: Option<Facts>,
    /// By number of valves shut.
    pub levels: Vec<Option<Level>>,
    /// By valve: how many trip although it is open.
    pub trips_with_open: Vec<usize>,
    /// By valve: least margin of the combinations in which it is open.
    pub worst_with_open: Vec<Option<Facts>>,
    /// By spot: highest pressure difference there in a combination that does not trip, first of all of them, then by
    /// valve of those in which it is open.
    pub above_pa: Vec<Vec<Option<f64>>>,
    /// Every combination, where asked for.
    pub kept: Option<Vec<Facts>>,
}

impl Tally {
    /// Nothing yet.
    pub fn new(valves: usize, spots: usize, keep: bool) -> Self {
        Self {
            valves,
            solved: 0,
            tripping: 0,
            trips: Vec::new(),
            unanswered: Vec::new(),
            worst: None,
            nearest: None,
            idlest: None,
            driest: None,
            standing: None,
            loudest: None,
            levels: vec![None; valves + 1],
            trips_with_open: vec![0; valves],
            worst_with_open: vec![None; valves],
            above_pa: vec![vec![None; valves + 1]; spots],
            kept: keep.then(Vec::new),
        }
    }

    /// Counts one combination in.
    pub fn add(&mut self, facts: Facts, at_spots: &[Option<f64>]) {
        self.solved += 1;
        let trips = facts.trips();
        if trips {
            self.tripping += 1;
            self.trips.push(facts.shut);
        } else {
            keep_if(&mut self.nearest, &facts, nearer);
            if facts.heat_w > ANY_HEAT_W {
                keep_if(&mut self.idlest, &facts, idler);
            }
        }
        keep_if(&mut self.worst, &facts, worse);
        if facts.flow_m3_s > 0.0 {
            keep_if(&mut self.driest, &facts, drier);
        } else {
            keep_if(&mut self.standing, &facts, fewer);
        }
        keep_if(&mut self.loudest, &facts, louder);
        let level = Level {
            least: facts.flow_m3_s,
            greatest: facts.flow_m3_s,
            solved: 1,
            tripping: usize::from(trips),
        };
        if let Some(slot) = self.levels.get_mut(facts.shut.count_ones() as usize) {
            *slot = Some(slot.map_or(level, |l| l.and(level)));
        }
        for valve in (0..self.valves).filter(|v| facts.shut >> v & 1 == 0) {
            self.trips_with_open[valve] += usize::from(trips);
            keep_if(&mut self.worst_with_open[valve], &facts, worse);
        }
        for (spot, pa) in self.above_pa.iter_mut().zip(at_spots) {
            let Some(pa) = pa.filter(|_| !trips) else {
                continue;
            };
            higher(&mut spot[0], pa);
            for valve in (0..self.valves).filter(|v| facts.shut >> v & 1 == 0) {
                higher(&mut spot[valve + 1], pa);
            }
        }
        if let Some(kept) = &mut self.kept {
            kept.push(facts);
        }
    }

    /// Adds what comes after.
    pub fn and(&mut self, other: Tally) {
        self.solved += other.solved;
        self.tripping += other.tripping;
        self.trips.extend(other.trips);
        self.unanswered.extend(other.unanswered);
        for (mine, theirs, better) in [
            (&mut self.worst, other.worst, worse as Better),
            (&mut self.nearest, other.nearest, nearer),
            (&mut self.idlest, other.idlest, idler),
            (&mut self.driest, other.driest, drier),
            (&mut self.standing, other.standing, fewer),
            (&mut self.loudest, other.loudest, louder),
        ] {
            if let Some(theirs) = theirs {
                keep_if(mine, &theirs, better);
            }
        }
        for (mine, theirs) in self.levels.iter_mut().zip(other.levels) {
            *mine = match (*mine, theirs) {
                (Some(a), Some(b)) => Some(a.and(b)),
                (a, b) => a.or(b),
            };
        }
        for (mine, theirs) in self.trips_with_open.iter_mut().zip(other.trips_with_open) {
            *mine += theirs;
        }
        for (mine, theirs) in self.worst_with_open.iter_mut().zip(other.worst_with_open) {
            if let Some(theirs) = theirs {
                keep_if(mine, &theirs, worse);
            }
        }
        for (mine, theirs) in self.above_pa.iter_mut().zip(other.above_pa) {
            for (mine, theirs) in mine.iter_mut().zip(theirs) {
                if let Some(pa) = theirs {
                    higher(mine, pa);
                }
            }
        }
        if let (Some(mine), Some(theirs)) = (&mut self.kept, other.kept) {
            mine.extend(theirs);
        }
    }
}

impl Level {
    fn and(self, other: Level) -> Level {
        Level {
            least: self.least.min(other.least),
            greatest: self.greatest.max(other.greatest),
            solved: self.solved + other.solved,
            tripping: self.tripping + other.tripping,
        }
    }
}

type Better = fn(&Facts, &Facts) -> std::cmp::Ordering;

/// Keeps the new one if it comes before; the one that stood already on a tie.
fn keep_if(slot: &mut Option<Facts>, new: &Facts, order: Better) {
    if slot.as_ref().is_none_or(|old| order(new, old).is_lt()) {
        *slot = Some(*new);
    }
}

fn higher(slot: &mut Option<f64>, pa: f64) {
    if slot.is_none_or(|most| pa > most) {
        *slot = Some(pa);
    }
}

/// Nearest to a trip or furthest in, then least flow, then fewest shut, then least mask.
fn worse(a: &Facts, b: &Facts) -> std::cmp::Ordering {
    a.near()
        .total_cmp(&b.near())
        .then(a.flow_m3_s.total_cmp(&b.flow_m3_s))
        .then(a.shut.count_ones().cmp(&b.shut.count_ones()))
        .then(a.shut.cmp(&b.shut))
}

fn nearer(a: &Facts, b: &Facts) -> std::cmp::Ordering {
    a.near()
        .total_cmp(&b.near())
        .then(a.shut.count_ones().cmp(&b.shut.count_ones()))
        .then(a.shut.cmp(&b.shut))
}

fn idler(a: &Facts, b: &Facts) -> std::cmp::Ordering {
    a.heat_w.total_cmp(&b.heat_w).then(a.shut.cmp(&b.shut))
}

fn drier(a: &Facts, b: &Facts) -> std::cmp::Ordering {
    a.water_m3.total_cmp(&b.water_m3).then(a.shut.cmp(&b.shut))
}

fn fewer(a: &Facts, b: &Facts) -> std::cmp::Ordering {
    let count = |f: &Facts| f.shut.count_ones();
    count(a).cmp(&count(b)).then(a.shut.cmp(&b.shut))
}

fn louder(a: &Facts, b: &Facts) -> std::cmp::Ordering {
    let pa = |f: &Facts| f.valve_dp_pa.map_or(f64::NEG_INFINITY, |(pa, _)| pa);
    pa(b).total_cmp(&pa(a)).then(a.shut.cmp(&b.shut))
}
