//! A lower bound along several loops.

use super::super::labels::Lean;
use super::super::laid::Loop;
use super::super::search::Plan;
use super::super::step::Step;
use super::{Set, Several};
use rayon::prelude::*;
use std::collections::BTreeSet;

/// Multiples of the flow that is required, between which a bound is looked for to begin with.
const STEPS: [f64; 13] = [
    0.5, 0.7, 0.8, 0.9, 0.95, 1.0, 1.02, 1.05, 1.12, 1.25, 1.5, 2.0, 10.0,
];
/// Share of what is required that all else than a loop runs at, at the least.
const OTHERS: f64 = 0.5;
/// Share of what follows from heads, for what is lost more in colder water and in tees.
const LESS: f64 = 0.99;
/// How the flow of what is balanced grows with the loop's, at the least: the loop loses by the exponent 1.75 of turbulent flow
/// (H. Blasius, 1913, from memory) at the least, a valve by 2. And which parts of that growth are tried.
const EVENED: f64 = 0.875;
const PARTS: [f64; 4] = [1.0, 0.75, 0.5, 0.25];
/// Steps that are halved; down to this share of the flow, and as long as the bound leaves a gap of more than this.
const MOST_STEPS: usize = 60;
const NARROW: f64 = 0.001;
const GAP: f64 = 0.01;
/// Sets that a plan is sought with on the way.
const TRIES: usize = 12;
/// How losses grow with the flow: the exponent by which it is told which of two limits says more.
const LOSS_BY_FLOW: f64 = 1.8;

/// A step of a loop's flow, and what it costs at least by set of shared pipes.
struct Open {
    ends: (f64, f64),
    own: Vec<i64>,
}

impl Several<'_> {
    /// A lower bound of the price of all that works as the house runs, and a cheaper plan where one was found on the way; `known`
    /// is what some plan costs. Nothing where the bound would rest on what is not known.
    pub fn bound(&self, mut known: i64) -> Option<(i64, Option<Plan>)> {
        let required: Vec<Step> = { self.loops.iter() }
            .map(|one| Step::beside(self.search, self.model, one, (1.0, 1.0), (1.0, 1.0)))
            .collect::<Option<_>>()?;
        let mut open: Vec<Vec<Open>> = self.loops.iter().map(|_| Vec::new()).collect();
        for (l, one) in self.loops.iter().enumerate() {
            for ends in STEPS.windows(2) {
                let none = vec![0; self.sets.len()];
                let own = self.own(
                    (l, one, &required[l]),
                    (ends[0], ends[1]),
                    &open,
                    (known, &none),
                )?;
                open[l].push(own);
            }
        }
        let (mut better, mut tried) = (None, BTreeSet::new());
        for _ in 0..MOST_STEPS {
            let sums = (0..self.sets.len()).map(|s| self.least(&open, s));
            let (lower, s) = sums.zip(0..).min()?;
            if (known - lower) as f64 <= GAP * known as f64 {
                break;
            }
            // the widest of what the least set is at
            let at = open.iter().enumerate().filter_map(|(l, steps)| {
                let k = (0..steps.len()).min_by_key(|k| steps[*k].own[s])?;
                Some((steps[k].ends.1 / steps[k].ends.0, l, k))
            });
            let at: Vec<(f64, usize, usize)> = at.collect();
            let times = at.iter().map(|(_, l, k)| open[*l][*k].ends.0);
            let times: Vec<f64> = times.collect();
            let bits: Vec<u64> = times.iter().map(|t| t.to_bits()).collect();
            if tried.len() < TRIES
                && tried.insert((s, bits))
                && let Some((price, plan)) = self.plan_with(s, &times, known - 1)
            {
                (known, better) = (price, Some(plan));
                continue;
            }
            let at = at.into_iter();
            let (wide, l, k) = at.max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)))?;
            if wide < 1.0 + NARROW {
                break;
            }
            let whole = open[l].swap_remove(k);
            let middle = (whole.ends.0 * whole.ends.1).sqrt();
            for ends in [(whole.ends.0, middle), (middle, whole.ends.1)] {
                let of = (l, &self.loops[l], &required[l]);
                let half = self.own(of, ends, &open, (known, &whole.own))?;
                open[l].push(half);
            }
        }
        let sums = (0..self.sets.len()).map(|s| self.least(&open, s));
        sums.min().map(|least| (least.min(known), better))
    }

    /// What a set costs at least, as far as is known.
    fn least(&self, open: &[Vec<Open>], s: usize) -> i64 {
        let own = open.iter().map(|steps| {
            let own = steps.iter().map(|step| step.own[s]);
            own.min().unwrap_or(0)
        });
        own.fold(self.sets[s].least, i64::saturating_add)
    }

    /// The least along a loop within a step, by set: not under what is known of it, and not looked for further than matters.
    fn own(
        &self,
        (l, one, required): (usize, &Loop, &Step),
        ends: (f64, f64),
        open: &[Vec<Open>],
        (known, at_least): (i64, &[i64]),
    ) -> Option<Open> {
        let (lost_at, others_at) = self.tighter(one, required, ends.0)?;
        let step = Step::beside(self.search, self.model, one, ends, (lost_at, others_at))?;
        let beside = |s: usize| {
            let elsewhere = open.iter().enumerate().filter(|(of, _)| *of != l);
            let least = elsewhere.map(|(_, steps)| steps.iter().map(|step| step.own[s]).min());
            least.fold(self.sets[s].least, |sum, own| {
                sum.saturating_add(own.unwrap_or(0))
            })
        };
        // what is as dear as what is known is not looked at further
        let cap = |s: usize| (known - 1).saturating_sub(beside(s));
        let all = 0..self.sets.len();
        let worth: Vec<usize> = all.filter(|s| cap(*s) >= at_least[*s]).collect();
        let sets: Vec<&Set> = worth.iter().map(|s| &self.sets[*s]).collect();
        let laid = self.laid(one, &step, Lean::Bound, &sets)?;
        let of_set = |(at, s): (usize, &usize)| {
            let mut cap = cap(*s);
            for hub in 0..one.hubs {
                if cap < at_least[*s] {
                    break;
                }
                let stages = laid.with(hub, at);
                let (lower, _) = self.with_others(one, (&stages, &laid.points), cap, 0.0);
                cap = cap.min(lower - 1);
            }
            (*s, (cap + 1).max(at_least[*s]))
        };
        let found: Vec<(usize, i64)> = worth.par_iter().enumerate().map(of_set).collect();
        let mut own: Vec<i64> = { 0..self.sets.len() }
            .map(|s| (cap(s) + 1).max(at_least[s]))
            .collect();
        found.into_iter().for_each(|(s, least)| own[s] = least);
        Some(Open { ends, own })
    }

    /// At which flow of a loop and of all else losses say more about it, where it runs at a multiple of what is required.
    fn tighter(&self, one: &Loop, required: &Step, times: f64) -> Option<(f64, f64)> {
        if times <= 1.0 {
            return Some((1.0, 1.0));
        }
        let row = one.row(&required.problem)?;
        let beside = |others_at: f64| {
            Step::beside(
                self.search,
                self.model,
                one,
                (times, times),
                (times, others_at),
            )
        };
        let mut others_at = self.others_at(one, required, &beside(1.0)?);
        if self.others.is_some() {
            // what is balanced runs at about the loop's share, as far as its own ways leave it that
            let most = crate::maths::pow(times, EVENED) - 1.0;
            for part in PARTS {
                let flow = 1.0 + part * most;
                if self.have(flow, one, required, &beside(flow)?) {
                    others_at = others_at.max(LESS * flow);
                    break;
                }
            }
        }
        let limit_pa = beside(others_at)?.problem.rows[row].limit_pa;
        let more = crate::maths::pow(times, LOSS_BY_FLOW);
        let says_more = limit_pa < required.problem.rows[row].limit_pa * more;
        Some(if says_more {
            (times, others_at)
        } else {
            (1.0, 1.0)
        })
    }

    /// Share of what is required that all else than a loop runs at, at the least, where the loop takes more: all else has the head
    /// at the flow that is required, and a share of that flow loses no more than this share of it.
    fn others_at(&self, one: &Loop, required: &Step, more: &Step) -> f64 {
        let mut share = 1.0_f64;
        for r in elsewhere(one, required) {
            for set in &self.sets {
                let there = self.left_pa(required, r, set);
                if there > 0.0 {
                    share = share.min(self.left_pa(more, r, set) / there);
                }
            }
        }
        (LESS * share).max(OTHERS)
    }

    /// Whether all else than a loop has the head for more than is required, whatever is chosen there: losses grow with the square
    /// of the flow at the most.
    fn have(&self, flow: f64, one: &Loop, required: &Step, more: &Step) -> bool {
        elsewhere(one, required).into_iter().all(|r| {
            let problem = &required.problem;
            let row = &problem.rows[r];
            let most = |d: &usize| {
                let choices = 0..problem.decisions[*d].choices.len();
                let each = choices.map(|c| problem.choice_pa(r, *d, c));
                each.fold(0.0, f64::max)
            };
            let own = row.decisions.iter().filter(|d| !self.shared.contains(d));
            let most_pa = own.map(most).sum::<f64>();
            let held = |set: &Set| {
                let lost = most_pa.min(self.left_pa(required, r, set));
                self.left_pa(more, r, set) >= flow * flow * lost
            };
            row.tied.is_empty() && self.sets.iter().all(held)
        })
    }

    /// What is left on a way for what is not shared, with a set of shared pipes, Pa.
    fn left_pa(&self, step: &Step, r: usize, set: &Set) -> f64 {
        let shared = self.shared.iter();
        let lost = shared.map(|&d| step.problem.choice_pa(r, d, set.picks[d]));
        step.problem.rows[r].limit_pa - lost.sum::<f64>()
    }
}

/// Ways that pass nothing of a loop.
fn elsewhere(one: &Loop, required: &Step) -> Vec<usize> {
    let ties = one.ties();
    let rows = required.problem.rows.iter().enumerate();
    let own = rows.filter(|(_, row)| !ties.clone().any(|t| row.tied.contains(&t)));
    own.map(|(r, _)| r).collect()
}
