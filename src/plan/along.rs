//! A one-pipe loop as it runs: what the radiators before take more than they must, those after it lack.
//!
//! The main's water is colder after each radiator by the heat that it gives, so that a larger one before asks for a larger one
//! after. The search along the loop ([`super::labels`]) keeps, by kind of the last stretch, what is worth keeping of price,
//! loss and temperature. The main's flow hangs on what is lost all the way round; it is searched by steps. No set that runs
//! between two steps loses more than the pump gives at the lower one, and none leaves the water warmer than the upper one
//! does: so the least over all steps is a bound of what works as the house runs. Towards a plan the lower step counts for
//! both, and what a look in full finds lacking is asked for next time.
//!
//! How the water splits at a radiator is solved for ([`super::splits`]).

use super::guess::wants_flow;
use super::labels::{Lean, Stages};
use super::laid::Loop;
use super::model::Model;
use super::search::{FailsBy, Plan, Search};
use super::step::Step;
use super::ties::Looked;
use std::collections::BTreeSet;

/// Steps of the main's flow to begin with, as multiples of what is required: from less than colder water brings it to, to more
/// than a pump can move that gives a plan its head.
const STEPS: [f64; 9] = [0.9, 0.98, 1.0, 1.05, 1.12, 1.25, 1.5, 2.0, 10.0];
/// Which of them a plan is sought at.
const PLANS: std::ops::Range<usize> = 2..7;
/// Steps that are looked at, those that are halved among them.
const MOST_STEPS: usize = 45;
/// Partial ways that are looked at before no more steps are halved.
const MOST_PARTIAL: u64 = 150_000_000;
/// A step is halved down to this share of its flow, and as long as its bound leaves a gap of more than this.
const NARROW: f64 = 0.001;
const GAP: f64 = 0.01;
/// Looks in full for a plan, in all and at one flow.
const LOOKS: usize = 80;
const LOOKS_AT_ONE: usize = 12;
/// Share of heat and Pa by which what was found wanting is asked for more at least.
const MORE: f64 = 0.0005;
const MORE_PA: f64 = 5.0;
/// Pa that are asked for more where the unit lacks water.
const MORE_FLOW_PA: f64 = 150.0;

/// One search along a loop.
pub(super) struct Along<'s> {
    search: &'s Search<'s>,
    model: &'s Model,
    one: Loop,
    /// The least price that something works at.
    known: Option<i64>,
    looks: usize,
    /// Partial ways that were looked at.
    partial: u64,
}

impl<'s> Along<'s> {
    /// Of a house in which a one-pipe loop is all that is heated; nothing where something on it is not known.
    pub fn of(search: &'s Search<'s>, model: &'s Model, looked: Looked) -> Option<Self> {
        let one = Loop::of(search, model, looked, 0)?;
        Some(Self {
            search,
            model,
            one,
            known: None,
            looks: 0,
            partial: 0,
        })
    }

    fn price(&self, plan: &Plan) -> i64 {
        self.search.objective.price(plan.money, plan.disruption)
    }

    /// What is worth looking for.
    fn cap(&self) -> i64 {
        self.known.map_or(i64::MAX, |known| known - 1)
    }

    fn step(&self, times: f64, until: f64) -> Option<Step> {
        Step::at(self.search, self.model, &self.one, (times, until))
    }

    /// A plan, if one is found.
    pub fn plan(&mut self) -> Option<Plan> {
        let mut best = None;
        for &times in &STEPS[PLANS] {
            let step = self.step(times, times)?;
            // the widest is the likeliest, and what is known spares most of the rest
            for hub in (0..self.one.hubs).rev() {
                best = self.planned(&step, hub).or(best);
            }
        }
        best
    }

    /// A plan that is cheaper than what is known, at one flow and with one main between the tees.
    fn planned(&mut self, step: &Step, hub: usize) -> Option<Plan> {
        let model = self.model;
        let mut stages = self
            .search
            .stages(model, &self.one, step, hub, Lean::Plan)?;
        for _ in 0..LOOKS_AT_ONE {
            let way = stages.cheapest(self.cap(), &mut self.partial)?;
            let mut picks = vec![0; model.problem.decisions.len()];
            self.one.put(model, hub, &way, &mut picks);
            if self.looks >= LOOKS {
                return None;
            }
            self.looks += 1;
            let fails = match self.search.verify(model, &picks) {
                Ok(plan) => {
                    self.known = Some(self.price(&plan));
                    return Some(plan);
                }
                Err(fails) => fails,
            };
            match &fails.by {
                FailsBy::Head(_, _, short_pa, _) => stages.limit_pa -= short_pa + MORE_PA,
                by if wants_flow(by) => {
                    stages.limit_pa -= MORE_FLOW_PA;
                }
                _ if fails.lacking.is_empty() => return None,
                _ => {
                    for (emitter, share) in fails.lacking {
                        let tie = model.tied.iter().position(|e| *e == emitter)?;
                        stages.ask(tie, share + MORE);
                    }
                }
            }
        }
        None
    }

    /// A lower bound of the price of all that works as the house runs, and a cheaper plan where one was found on the way;
    /// `known` is what some plan costs. Nothing where the bound would rest on what is not known.
    pub fn bound(&mut self, known: i64) -> Option<(i64, Option<Plan>)> {
        self.known = Some(self.known.map_or(known, |k| k.min(known)));
        let mut better = None;
        let mut open: Vec<(i64, f64, f64)> = Vec::new();
        for ends in STEPS.windows(2) {
            open.push((self.least((ends[0], ends[1]))?, ends[0], ends[1]));
        }
        let mut tried = BTreeSet::new();
        for _ in STEPS.len()..MOST_STEPS {
            let known = self.known.unwrap_or(known);
            let at = (0..open.len()).min_by(|&a, &b| open[a].0.cmp(&open[b].0).then(a.cmp(&b)))?;
            let (lower, times, until) = open[at];
            let near = (known - lower) as f64 <= GAP * known as f64;
            if near || until / times < 1.0 + NARROW || self.partial > MOST_PARTIAL {
                break;
            }
            // under the flow that is required nothing is won, and once is enough where nothing cheaper is known since
            if times >= 1.0 && tried.insert((times.to_bits(), known)) {
                let step = self.step(times, times)?;
                for hub in 0..self.one.hubs {
                    better = self.planned(&step, hub).or(better);
                }
            }
            let middle = (times * until).sqrt();
            open.swap_remove(at);
            for (a, b) in [(times, middle), (middle, until)] {
                open.push((self.least((a, b))?.max(lower), a, b));
            }
        }
        let lower = open.iter().map(|o| o.0).min()?;
        Some((lower.min(self.known.unwrap_or(known)), better))
    }

    fn stages(&self, step: &Step, hub: usize) -> Option<Stages> {
        self.search
            .stages(self.model, &self.one, step, hub, Lean::Bound)
    }

    /// The least price within a step; what is known where nothing is less.
    fn least(&mut self, (times, until): (f64, f64)) -> Option<i64> {
        let step = self.step(times, until)?;
        let mut least = i64::MAX;
        for hub in 0..self.one.hubs {
            // only what is less than with another main between the tees counts
            let cap = self.cap().min(least.saturating_sub(1));
            let stages = self.stages(&step, hub)?;
            let way = stages.cheapest(cap, &mut self.partial);
            least = way.map_or(least, |w| w.price);
        }
        Some(least)
    }
}
