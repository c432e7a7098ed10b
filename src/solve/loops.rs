//! The last digits: Newton's method in the space of circulations.
//!
//! Unknowns are the flows of the chords; the tree's flows follow, so continuity holds to rounding and elements of nearly
//! no resistance do no harm. For each loop the losses must sum to zero. The matrix is dense and small. Here every slope is
//! the true one: tees with all their derivatives, heads that rise with flow.

use super::dense;
use super::newton::{Flows, Frame};
use super::terms::Terms;

/// More loops than this are left to the sparse iteration.
pub(super) const MOST_LOOPS: usize = 400;
const MOST_STEPS: u32 = 150;
/// A step of this share of the largest flow is rounding.
const ROUNDING: f64 = 1e-15;
/// Loop sums as a share of the largest loss: what is left when rounding has the word. A state above it is no answer.
pub(super) const ACCEPTED: f64 = 1e-10;

/// Loops of a forest, and room to work in.
#[derive(Clone, Debug, Default)]
pub(super) struct Loops {
    chords: Vec<u32>,
    first: Vec<u32>,
    members: Vec<(u32, f64)>,
    one: Vec<(u32, f64)>,
    /// Loops through each class, as (loop, sign).
    through_first: Vec<u32>,
    through: Vec<(u32, f64)>,
    matrix: Vec<f64>,
    step: Vec<f64>,
    before: Vec<f64>,
}

impl Loops {
    fn build(&mut self, frame: &Frame) {
        self.first.clear();
        self.members.clear();
        self.chords.clear();
        self.chords.extend(frame.chords().map(|c| c as u32));
        for &chord in &self.chords {
            self.first.push(self.members.len() as u32);
            frame.forest.cycle(chord, frame.ends, &mut self.one);
            self.members.extend_from_slice(&self.one);
        }
        self.first.push(self.members.len() as u32);
        let classes = frame.fixed.len();
        self.through_first.clear();
        self.through_first.resize(classes + 1, 0);
        for m in &self.members {
            self.through_first[m.0 as usize + 1] += 1;
        }
        for c in 0..classes {
            self.through_first[c + 1] += self.through_first[c];
        }
        let mut at = self.through_first.clone();
        self.through.clear();
        self.through.resize(self.members.len(), (0, 0.0));
        for k in 0..self.chords.len() {
            for m in &self.members[self.first[k] as usize..self.first[k + 1] as usize] {
                self.through[at[m.0 as usize] as usize] = (k as u32, m.1);
                at[m.0 as usize] += 1;
            }
        }
    }

    fn through(&self, class: usize) -> &[(u32, f64)] {
        &self.through[self.through_first[class] as usize..self.through_first[class + 1] as usize]
    }

    /// Improves flows until rounding stops it; the loop residual that is left, over the largest loss.
    pub fn polish(
        &mut self,
        flows: &mut Flows,
        frame: &Frame,
        terms: &mut Terms,
        counts: &mut (u32, u32),
    ) -> f64 {
        let n = frame.chords().count();
        flows.evaluate(frame, terms);
        flows.measure();
        let mut residual = flows.residual(frame);
        if n == 0 || n > MOST_LOOPS || flows.largest == 0.0 {
            return residual;
        }
        self.build(frame);
        let plain = frame.tees.is_empty() && !frame.running.rises();
        let mut stalled = 0;
        for _ in 0..MOST_STEPS {
            self.direction(flows, frame, terms, plain);
            counts.0 += 1;
            self.before.clear();
            self.before.extend_from_slice(&flows.q);
            let content = self.content(flows);
            let mut share = 1.0;
            self.moved(flows, frame, terms, share);
            let mut next = flows.residual(frame);
            let worse = |next: f64| next.is_nan() || next > residual.max(1e-13);
            if plain && content < 0.0 && self.content(flows) > 0.5 * -content {
                // convex: the minimum of the content along the step
                let (mut low, mut high) = (0.0, 1.0);
                for _ in 0..40 {
                    share = 0.5 * (low + high);
                    counts.1 += 1;
                    self.moved(flows, frame, terms, share);
                    let here = self.content(flows);
                    if here > 0.0 {
                        high = share
                    } else {
                        low = share
                    }
                    if here.abs() < 0.1 * content.abs() {
                        break;
                    }
                }
                next = flows.residual(frame);
            } else if !plain {
                for _ in 0..12 {
                    if !worse(next) {
                        break;
                    }
                    share *= 0.5;
                    counts.1 += 1;
                    self.moved(flows, frame, terms, share);
                    next = flows.residual(frame);
                }
            }
            flows.measure();
            let change = self
                .step
                .iter()
                .fold(0.0_f64, |m, s| m.max((share * s).abs()));
            if next.is_nan() || change.is_nan() {
                return f64::INFINITY;
            }
            stalled += u32::from(next > 0.5 * residual);
            residual = next;
            let small = change <= 1e-9 * flows.largest;
            if change <= ROUNDING * flows.largest || (small && stalled > 1) || flows.largest == 0.0
            {
                break;
            }
            if !small {
                stalled = stalled.min(60);
            }
        }
        residual
    }

    /// Slope of the content along the step: Σ h·Δq.
    fn content(&self, flows: &Flows) -> f64 {
        let mut sum = 0.0;
        for (k, s) in self.step.iter().enumerate() {
            let members = &self.members[self.first[k] as usize..self.first[k + 1] as usize];
            sum += s * members
                .iter()
                .map(|&(c, sign)| sign * flows.h[c as usize])
                .sum::<f64>();
        }
        sum
    }

    fn moved(&self, flows: &mut Flows, frame: &Frame, terms: &mut Terms, share: f64) {
        flows.q.copy_from_slice(&self.before);
        for (k, &s) in self.step.iter().enumerate() {
            for &(c, sign) in &self.members[self.first[k] as usize..self.first[k + 1] as usize] {
                flows.q[c as usize] += sign * share * s;
            }
        }
        flows.evaluate(frame, terms);
    }

    fn direction(&mut self, flows: &Flows, frame: &Frame, terms: &mut Terms, plain: bool) {
        let n = self.chords.len();
        let mut matrix = std::mem::take(&mut self.matrix);
        self.fill(&mut matrix, flows, frame, terms, plain);
        self.step.clear();
        for k in 0..n {
            let members = &self.members[self.first[k] as usize..self.first[k + 1] as usize];
            self.step.push(
                -members
                    .iter()
                    .map(|&(c, sign)| sign * flows.h[c as usize])
                    .sum::<f64>(),
            );
        }
        if plain {
            dense::cholesky(&mut matrix, n, &mut self.step);
        } else {
            dense::eliminate(&mut matrix, n, &mut self.step);
        }
        self.matrix = matrix;
    }

    /// Slopes of all loop sums by the chords' flows.
    fn fill(
        &self,
        matrix: &mut Vec<f64>,
        flows: &Flows,
        frame: &Frame,
        terms: &mut Terms,
        plain: bool,
    ) {
        let n = self.chords.len();
        matrix.clear();
        matrix.resize(n * n, 0.0);
        let floor = 1e-12 * flows.head / flows.largest;
        let mut couple = |i: &[(u32, f64)], j: &[(u32, f64)], slope: f64| {
            for &(a, sa) in i {
                for &(b, sb) in j {
                    matrix[a as usize * n + b as usize] += sa * sb * slope;
                }
            }
        };
        for &c in flows.active() {
            let c = c as usize;
            let slope = terms.slope(c, flows.q[c], frame.running);
            let slope = if plain { slope.max(floor) } else { slope };
            couple(self.through(c), self.through(c), slope);
        }
        if !plain {
            frame
                .tees
                .derivatives(frame.classes, &flows.q, |i, j, slope| {
                    couple(self.through(i), self.through(j), slope)
                });
        }
    }

    /// How the flows of all classes answer if the loss of one grows: for each (class, Pa), kg/s by class. At a solved
    /// state, gates as they stand, fluid properties as they are. `None` beyond [`MOST_LOOPS`] loops.
    pub fn tangents(
        &mut self,
        flows: &Flows,
        frame: &Frame,
        terms: &mut Terms,
        changes: &[(usize, f64)],
    ) -> Option<Vec<Vec<f64>>> {
        let n = frame.chords().count();
        if n > MOST_LOOPS {
            return None;
        }
        let still = vec![0.0; flows.q.len()];
        if n == 0 || flows.largest == 0.0 {
            return Some(vec![still; changes.len()]);
        }
        self.build(frame);
        let plain = frame.tees.is_empty() && !frame.running.rises();
        let mut answers = Vec::with_capacity(changes.len());
        let mut matrix = Vec::new();
        for &(class, pa) in changes {
            self.fill(&mut matrix, flows, frame, terms, plain);
            let mut step = vec![0.0; n];
            for &(k, sign) in self.through(class) {
                step[k as usize] -= sign * pa;
            }
            // pivoting costs nothing here and is right for every slope
            dense::eliminate(&mut matrix, n, &mut step);
            let mut answer = still.clone();
            for (k, s) in step.iter().enumerate() {
                for &(c, sign) in &self.members[self.first[k] as usize..self.first[k + 1] as usize]
                {
                    answer[c as usize] += sign * s;
                }
            }
            answers.push(answer);
        }
        Some(answers)
    }
}
