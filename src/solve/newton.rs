//! Newton's method for the flows: the global gradient (E. Todini and S. Pilati 1988) on classes of equal flow.
//!
//! Unknowns are flows q and node pressures p. With h the losses, D their slopes and A the incidence of classes and nodes,
//! one step solves AᵀD⁻¹A·p = AᵀD⁻¹h − Aᵀq (plus what held flows bring) and moves q by D⁻¹(A·p − h). After each step the
//! flows of a spanning tree are taken from balance, so continuity never depends on how well the matrix was conditioned.
//! Slopes have a floor of a small share of head over flow: a vessel of nearly no resistance would spoil the matrix and
//! follows from balance anyway.

use super::classes::{Classes, NONE};
use super::forest::Forest;
use super::loops::MOST_LOOPS;
use super::sparse::Nodal;
use super::tees::Tees;
use super::terms::{Running, Terms};

/// Steps before giving up; houses take five to ten.
const MOST_STEPS: u32 = 120;
/// Least slope, as a share of the largest loss over the largest flow: keeps the matrix's condition near 1e5.
const FLOOR: f64 = 1e-5;
/// Pa s/kg, where nothing else gives a scale.
const LEAST_SLOPE: f64 = 1e-6;
/// A step of at most this share of the largest flow ends the iteration: the error that it leaves is its square.
const SMALL_STEP: f64 = 1e-6;
/// Twice the most that friction bends more than a square law does: between laminar and turbulent flow.
const CURVATURE: f64 = 10.0;
/// On the way: share of what flows may be off that a step may leave, which is a larger share of a small flow, and that loop
/// sums may be.
const LEFT_AHEAD: f64 = 0.003;
const SUMS_AHEAD: f64 = 0.03;
/// Loop sums at the end, as a share of the largest loss.
const CLOSED: f64 = 1e-10;

/// How an iteration ended.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum End {
    /// Converged; flows are within 1e-10 of the largest.
    Converged,
    /// Flows are as close as was asked; losses are still those before the step.
    Ahead,
    /// Close, but what is left wants the steps in loop space.
    Polish,
    /// A figure of this class became infinite or not a number.
    NotFinite(usize),
}

/// Flows and losses by class, and room to work in.
#[derive(Clone, Debug, Default)]
pub(super) struct Flows {
    /// kg/s.
    pub q: Vec<f64>,
    /// Pa.
    pub h: Vec<f64>,
    /// Pa s/kg.
    pub slope: Vec<f64>,
    /// Pressure of each row above its root, Pa.
    pub pressure: Vec<f64>,
    /// Largest flow and loss.
    pub largest: f64,
    pub head: f64,
    next: Vec<f64>,
    step: Vec<f64>,
    surplus: Vec<f64>,
    active: Vec<u32>,
}

/// What does not change in an iteration.
pub(super) struct Frame<'a> {
    pub classes: &'a Classes,
    /// Ends of the classes in rows.
    pub ends: &'a [(u32, u32)],
    pub forest: &'a Forest,
    /// Imposed flow of each class, NaN where it is free.
    pub fixed: &'a [f64],
    /// Classes at rest because nothing drives their part.
    pub idle: &'a [bool],
    pub running: &'a Running<'a>,
    pub tees: &'a Tees,
}

impl Frame<'_> {
    /// Whether a class is neither imposed nor at rest.
    #[inline]
    pub fn flows(&self, class: usize) -> bool {
        self.fixed[class].is_nan() && !self.idle[class]
    }

    /// Chords that may flow.
    pub fn chords(&self) -> impl Iterator<Item = usize> + '_ {
        self.forest
            .chords
            .iter()
            .map(|&c| c as usize)
            .filter(|&c| self.flows(c))
    }
}

impl Flows {
    /// Room for so many classes and rows.
    pub fn new(classes: usize, rows: usize) -> Self {
        Self {
            q: vec![0.0; classes],
            h: vec![0.0; classes],
            slope: vec![0.0; classes],
            pressure: vec![0.0; rows],
            next: vec![0.0; classes],
            step: vec![0.0; classes],
            surplus: vec![0.0; rows],
            active: Vec::with_capacity(classes),
            largest: 0.0,
            head: 0.0,
        }
    }

    /// Losses and slopes at the present flows.
    pub fn evaluate(&mut self, frame: &Frame, terms: &mut Terms) {
        for &c in &self.active {
            let c = c as usize;
            let (h, slope) = terms.loss(c, self.q[c], frame.running);
            self.h[c] = h;
            self.slope[c] = slope;
        }
        frame
            .tees
            .add(frame.classes, &self.q, &mut self.h, &mut self.slope);
    }

    /// Solves from straight lines through the loss at a usual flow, or from the flows that stand if `warm`; `brief` is
    /// how far off, as a share of the largest flow, it may end where less than the last digits is asked, and `ahead` the
    /// same where the losses after the step are not wanted.
    pub fn solve(
        &mut self,
        frame: &Frame,
        terms: &mut Terms,
        nodal: &mut Nodal,
        (warm, brief, ahead): (bool, Option<f64>, Option<f64>),
        counts: &mut (u32, u32),
    ) -> End {
        self.active.clear();
        let count = frame.fixed.len();
        self.active
            .extend((0..count as u32).filter(|&c| frame.flows(c as usize)));
        for c in 0..count {
            if !frame.flows(c) {
                self.q[c] = if frame.fixed[c].is_nan() {
                    0.0
                } else {
                    frame.fixed[c]
                };
                self.h[c] = 0.0;
                self.slope[c] = 0.0;
            }
        }
        let mut floor;
        if warm {
            self.evaluate(frame, terms);
            self.measure();
            floor = FLOOR * self.head.max(terms.head_pa) / self.largest.max(1e-12);
        } else {
            let mut usual = 0.0_f64;
            for k in 0..self.active.len() {
                let c = self.active[k] as usize;
                let m = terms.nominal[c];
                usual = usual.max(m);
                let (still, _) = terms.loss(c, 0.0, frame.running);
                let (h, _) = terms.loss(c, m, frame.running);
                self.q[c] = 0.0;
                self.h[c] = still;
                self.slope[c] = (h - still) / m;
            }
            floor = FLOOR * terms.head_pa.max(1.0) / usual.max(1e-6);
        }
        // loop space cannot take over a district, so there any progress is worth another step
        let enough = if frame.forest.chords.len() > MOST_LOOPS {
            0.9
        } else {
            0.3
        };
        // slopes that are not the derivative's
        let secants = !frame.tees.is_empty() || frame.running.rises();
        let mut best = f64::INFINITY;
        let mut before_change = None;
        for round in 0..MOST_STEPS {
            self.direction(frame, nodal, floor);
            counts.0 += 1;
            let before: f64 = self
                .active
                .iter()
                .map(|&c| self.h[c as usize] * self.step[c as usize])
                .sum();
            std::mem::swap(&mut self.q, &mut self.next);
            if let Some(brief) = ahead.filter(|_| round == 0)
                && !secants
                && !self.floored(floor)
            {
                self.largest = largest(&self.q);
                if self.curved(1.0) <= LEFT_AHEAD * brief * self.largest {
                    return End::Ahead;
                }
            }
            self.evaluate(frame, terms);
            let mut share = 1.0;
            // the first step brings balance, wherever it started: it is taken whole
            if round > 0 {
                // h·step is the slope of the content along the step: it must not rise far beyond the minimum
                let after: f64 = self
                    .active
                    .iter()
                    .map(|&c| self.h[c as usize] * self.step[c as usize])
                    .sum();
                if before < 0.0 && after > 0.5 * -before {
                    share = self.shorten(frame, terms, before, counts);
                }
            }
            let mut change = 0.0_f64;
            for &c in &self.active {
                let c = c as usize;
                if !self.h[c].is_finite() || !self.q[c].is_finite() {
                    return End::NotFinite(c);
                }
                change = change.max((share * self.step[c]).abs());
            }
            self.measure();
            if self.largest == 0.0 {
                return End::Converged;
            }
            floor = (FLOOR * self.head / self.largest).max(LEAST_SLOPE);
            if let Some(brief) = brief {
                let (may, residual) = (brief * self.largest, self.residual(frame));
                // steps of secants fall by three or more each, and much as they did from the one before to this one
                let next = match before_change {
                    _ if share < 1.0 => change,
                    _ if !secants && !self.floored(floor) => {
                        let left = ahead.map_or(1.0, |_| LEFT_AHEAD);
                        self.curved(share) / left
                    }
                    Some(before) => 3.0 * change * change / before,
                    None => change,
                };
                // on the way the next solve goes on from here, and only the end has to be sure
                let ahead = ahead.is_some_and(|share| residual <= SUMS_AHEAD * share);
                let small = change <= may && residual <= 30.0 * brief;
                if ahead || small || (next <= may && residual <= 3.0 * brief) {
                    return End::Converged;
                }
            }
            before_change = Some(change).filter(|_| share == 1.0);
            if change <= SMALL_STEP * self.largest {
                let residual = self.residual(frame);
                if residual <= CLOSED {
                    // a loop that consists of floored slopes may stand anywhere: loop space decides
                    let loose = frame.chords().any(|c| self.slope[c] < floor);
                    return if loose { End::Polish } else { End::Converged };
                }
                if residual > enough * best {
                    return End::Polish;
                }
                best = best.min(residual);
            }
        }
        End::Polish
    }

    /// What the step that was taken leaves at most, kg/s: a step s at a flow q leaves s²/2q where losses go with the square.
    /// `q` stands after the step, `next` before it.
    fn curved(&self, share: f64) -> f64 {
        let mut most = 0.0_f64;
        for &c in &self.active {
            let c = c as usize;
            let moved = (share * self.step[c]).abs();
            let least = self.q[c].abs().min(self.next[c].abs());
            let left = CURVATURE * moved * moved / least.max(f64::MIN_POSITIVE);
            // `max` swallows what is not a number
            if left.is_nan() {
                return f64::INFINITY;
            }
            most = most.max(left);
        }
        most
    }

    /// Whether a slope is below the floor that the matrix gives it: then a step is no longer the derivative's.
    fn floored(&self, floor: f64) -> bool {
        self.active.iter().any(|&c| self.slope[c as usize] < floor)
    }

    /// Takes the largest flow and loss.
    pub fn measure(&mut self) {
        self.largest = largest(&self.q);
        self.head = self
            .active
            .iter()
            .fold(0.0, |m: f64, &c| m.max(self.h[c as usize].abs()));
    }

    /// The full step, in `step`, and the flows after it, in `next`.
    fn direction(&mut self, frame: &Frame, nodal: &mut Nodal, floor: f64) {
        nodal.clear();
        for &c in &self.active {
            let c = c as usize;
            let conductance = 1.0 / self.slope[c].max(floor);
            self.step[c] = conductance;
            self.next[c] = self.q[c] - conductance * self.h[c];
            nodal.add(c, conductance, self.next[c]);
        }
        self.surplus.fill(0.0);
        for c in 0..frame.fixed.len() {
            let flow = frame.fixed[c];
            if !flow.is_nan() {
                self.next[c] = flow;
                if flow != 0.0 {
                    nodal.add_flow(c, flow);
                    self.leave(frame, c);
                }
            } else if frame.idle[c] {
                self.next[c] = 0.0;
            }
        }
        for &root in &frame.forest.roots {
            nodal.ground(root as usize);
        }
        let potential = nodal.solve();
        for &c in &frame.forest.chords {
            let c = c as usize;
            if !frame.flows(c) {
                continue;
            }
            let (a, b) = frame.ends[c];
            self.next[c] += self.step[c] * (potential[a as usize] - potential[b as usize]);
            self.surplus[a as usize] -= self.next[c];
            self.surplus[b as usize] += self.next[c];
        }
        frame.forest.balance(&mut self.surplus, &mut self.next);
        for c in (0..frame.idle.len()).filter(|&c| frame.idle[c]) {
            self.next[c] = 0.0;
        }
        for &c in &self.active {
            let c = c as usize;
            self.step[c] = self.next[c] - self.q[c];
        }
    }

    fn leave(&mut self, frame: &Frame, c: usize) {
        let (a, b) = frame.ends[c];
        self.surplus[a as usize] -= self.next[c];
        self.surplus[b as usize] += self.next[c];
    }

    /// Halves towards the minimum of the content along the step; `q` stands at the full step, `next` before it.
    fn shorten(
        &mut self,
        frame: &Frame,
        terms: &mut Terms,
        before: f64,
        counts: &mut (u32, u32),
    ) -> f64 {
        let (mut low, mut high, mut share) = (0.0, 1.0, 1.0);
        for _ in 0..40 {
            share = 0.5 * (low + high);
            counts.1 += 1;
            for &c in &self.active {
                let c = c as usize;
                self.q[c] = self.next[c] + share * self.step[c];
            }
            self.evaluate(frame, terms);
            let here: f64 = self
                .active
                .iter()
                .map(|&c| self.h[c as usize] * self.step[c as usize])
                .sum();
            if here > 0.0 {
                high = share
            } else {
                low = share
            }
            if here.abs() < 0.1 * before.abs() {
                break;
            }
        }
        share
    }

    /// Largest loop sum over the largest loss; leaves the pressures of the rows.
    pub fn residual(&mut self, frame: &Frame) -> f64 {
        frame.forest.pressures(&self.h, &mut self.pressure);
        let mut worst = 0.0_f64;
        for c in frame.chords() {
            let (a, b) = frame.ends[c];
            worst = worst
                .max((self.pressure[a as usize] - self.pressure[b as usize] - self.h[c]).abs());
        }
        if self.head > 0.0 {
            worst / self.head
        } else {
            0.0
        }
    }

    /// The chord with the largest loop sum, and that sum, Pa.
    pub fn worst(&self, frame: &Frame) -> (usize, f64) {
        let mut worst = (frame.chords().next().unwrap_or(0), 0.0);
        for c in frame.chords() {
            let (a, b) = frame.ends[c];
            let off = (self.pressure[a as usize] - self.pressure[b as usize] - self.h[c]).abs();
            if off > worst.1 {
                worst = (c, off);
            }
        }
        worst
    }

    /// Classes that are neither fixed nor idle.
    pub fn active(&self) -> &[u32] {
        &self.active
    }

    /// What held flows leave over at the roots, as (row, kg/s), if it is more than rounding.
    pub fn unbalanced(&mut self, frame: &Frame) -> Option<(usize, f64)> {
        self.surplus.fill(0.0);
        let mut scale = 0.0_f64;
        for c in 0..frame.fixed.len() {
            if !frame.fixed[c].is_nan() && frame.fixed[c] != 0.0 {
                self.next[c] = frame.fixed[c];
                scale = scale.max(frame.fixed[c].abs());
                self.leave(frame, c);
            }
        }
        if scale == 0.0 {
            return None;
        }
        for &row in frame.forest.walk.iter().rev() {
            let above = frame.forest.above[row as usize];
            let surplus = self.surplus[row as usize];
            if above != NONE {
                self.surplus[above as usize] += surplus;
            } else if surplus.abs() > 1e-9 * scale {
                return Some((row as usize, surplus));
            }
        }
        None
    }
}

fn largest(q: &[f64]) -> f64 {
    q.iter().fold(0.0, |m: f64, q| m.max(q.abs()))
}
