//! A one-pipe loop as it runs: what the radiators before take more than they must, those after it lack.
//!
//! The main's water is colder after each radiator by the heat that it gives, so that a larger one before asks for a larger one
//! after. The search along the loop ([`super::labels`]) keeps, by kind of the last stretch, what is worth keeping of price,
//! loss and temperature. The main's flow hangs on what is lost all the way round; it is searched by steps. No set that runs
//! between two steps loses more than the pump gives at the lower one, and none leaves the water warmer than the upper one
//! does: so the least over all steps is a bound of what works as the house runs. Towards a plan the lower step counts for
//! both, and what a look in full finds lacking is asked for next time.
//!
//! How the water splits at a radiator is looked up ([`super::ties`]) at several flows about a step: the share changes where
//! the flow through its tails turns from laminar to turbulent, which a colder water does as a smaller flow does.

use super::labels::{Lean, Stages};
use super::laid::{Loop, Margins, Seens, Step};
use super::model::Model;
use super::search::{FailsBy, Plan, Search};
use super::ties::{Looked, Wanted, looked};
use crate::check::Subject;
use crate::maths;
use std::collections::{BTreeMap, BTreeSet};

/// Steps of the main's flow to begin with, as multiples of what is required; the last ends at more than a pump can move that
/// gives a plan its head.
const STEPS: [f64; 7] = [1.0, 1.05, 1.12, 1.25, 1.5, 2.0, 10.0];
/// Steps that are looked at, those that are halved among them.
const MOST_STEPS: usize = 30;
/// A step is halved down to this share of its flow, and as long as its bound leaves a gap of more than this.
const NARROW: f64 = 0.005;
const GAP: f64 = 0.01;
/// Flows at which shares are looked up are apart by this factor; those about a step by at least as much count for it, which
/// stands for a kelvin.
const APART: f64 = 1.02;
/// The last of them.
const LAST: i32 = 24;
/// Looks in full for a plan, in all and at one flow.
const LOOKS: usize = 80;
const LOOKS_AT_ONE: usize = 12;
/// Share of heat and Pa by which what was found wanting is asked for more at least.
const MORE: f64 = 0.0005;
const MORE_PA: f64 = 5.0;
/// Pa that are asked for more where the unit lacks water.
const MORE_FLOW_PA: f64 = 150.0;

/// Powers of [`APART`], as multiples of the flow that is required.
fn times_of(power: i32) -> f64 {
    maths::pow(APART, f64::from(power))
}

fn power_of(times: f64) -> f64 {
    maths::ln(times) / maths::ln(APART)
}

/// One search along a loop.
pub(super) struct Along<'s> {
    search: &'s Search<'s>,
    model: &'s Model,
    one: Loop,
    /// Looks by power of [`APART`].
    looked: BTreeMap<i32, Looked>,
    /// The least price that something works at.
    known: Option<i64>,
    looks: usize,
}

impl<'s> Along<'s> {
    /// Of a house in which a one-pipe loop is all that is heated; nothing in another.
    pub fn of(search: &'s Search<'s>, model: &'s Model, first: Looked) -> Option<Self> {
        // a room that may go on lacking heat says nothing about its radiator
        let lacks = |(check, _): &(&str, Subject)| *check == "room-heat";
        if search.excused.0.iter().any(lacks) {
            return None;
        }
        let one = Loop::of(search.house, model)?;
        Some(Self {
            search,
            model,
            one,
            looked: BTreeMap::from([(0, first)]),
            known: None,
            looks: 0,
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
        Step::at(self.search, self.model, (times, until))
    }

    /// Looks by powers of [`APART`].
    fn seens(&self, powers: std::ops::RangeInclusive<i32>) -> Seens<'_> {
        let looked = self.looked.range(powers);
        looked.map(|(p, l)| (times_of(*p), l)).collect()
    }

    /// A plan, if one is found.
    pub fn plan(&mut self) -> Option<Plan> {
        let mut best = None;
        for &times in &STEPS[..STEPS.len() - 2] {
            let step = self.step(times, times)?;
            for hub in 0..self.one.hubs {
                best = self.planned(&step, hub).or(best);
            }
        }
        best
    }

    /// A plan that is cheaper than what is known, at one flow and with one main between the tees.
    fn planned(&mut self, step: &Step, hub: usize) -> Option<Plan> {
        let model = self.model;
        let power = power_of(step.times).round() as i32;
        let mut margins = Margins {
            heat: vec![0.0; model.tied.len()],
            head_pa: 0.0,
        };
        for _ in 0..LOOKS_AT_ONE {
            let picks = {
                let nearest = *self.looked.range(..=power.max(0)).next_back()?.0;
                let seens = self.seens(nearest..=nearest);
                let (at, margins) = ((step, &seens), Some(&margins));
                let stages = self
                    .search
                    .stages(model, &self.one, at, hub, Lean::Plan, margins)?;
                let way = stages.cheapest(self.cap())?;
                self.one.picks(model, seens[0].1, hub, &way)
            };
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
                FailsBy::Head(_, _, short_pa, _) => margins.head_pa += short_pa + MORE_PA,
                FailsBy::Check(about) if matches!(about.0.subject, Subject::Source(_)) => {
                    margins.head_pa += MORE_FLOW_PA;
                }
                _ if fails.lacking.is_empty() => return None,
                _ => {
                    for (emitter, share) in fails.lacking {
                        let tie = model.tied.iter().position(|e| *e == emitter)?;
                        margins.heat[tie] += share + MORE;
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
        let first = self.step(STEPS[0], STEPS[1])?;
        let (mut hubs, mut wanted) = (Vec::new(), BTreeSet::new());
        for hub in 0..self.one.hubs {
            let seens = self.seens(0..=0);
            // what no set can hold at the flow that is required none can hold at more
            let stages = self.stages((&first, &seens), hub)?;
            if let Some(stages) = stages.thinned(self.cap()) {
                hubs.push(hub);
                let model = self.model;
                wanted.extend(self.one.noted(model, seens[0].1, hub, &stages));
            }
        }
        let mut open: Vec<(i64, f64, f64)> = Vec::new();
        for ends in STEPS.windows(2) {
            open.push((
                self.least((ends[0], ends[1]), &hubs, &wanted)?,
                ends[0],
                ends[1],
            ));
        }
        for _ in STEPS.len()..MOST_STEPS {
            let known = self.known.unwrap_or(known);
            let at = (0..open.len()).min_by(|&a, &b| open[a].0.cmp(&open[b].0).then(a.cmp(&b)))?;
            let (lower, times, until) = open[at];
            if (known - lower) as f64 <= GAP * known as f64 || until / times < 1.0 + NARROW {
                break;
            }
            let step = self.step(times, times)?;
            for &hub in &hubs {
                better = self.planned(&step, hub).or(better);
            }
            let middle = (times * until).sqrt();
            open.swap_remove(at);
            for (a, b) in [(times, middle), (middle, until)] {
                open.push((self.least((a, b), &hubs, &wanted)?.max(lower), a, b));
            }
        }
        let lower = open.iter().map(|o| o.0).min()?;
        Some((lower.min(self.known.unwrap_or(known)), better))
    }

    fn stages(&self, at: (&Step, &Seens), hub: usize) -> Option<Stages> {
        let model = self.model;
        self.search
            .stages(model, &self.one, at, hub, Lean::Bound, None)
    }

    /// The least price within a step; what is known where nothing is less.
    fn least(
        &mut self,
        (times, until): (f64, f64),
        hubs: &[usize],
        wanted: &Wanted,
    ) -> Option<i64> {
        let step = self.step(times, until)?;
        let mut open = Vec::new();
        for &hub in hubs {
            let seens = self.seens(0..=0);
            // price and head alone rule out most, and hang on no share
            let stages = self.stages((&step, &seens), hub)?;
            open.extend(stages.thinned(self.cap()).map(|_| hub));
        }
        if open.is_empty() {
            return Some(i64::MAX);
        }
        let from = (power_of(times) - 1.0 + 1e-9).floor() as i32;
        let to = ((power_of(until) + 1.0 - 1e-9).ceil() as i32).min(LAST);
        for power in from.min(to)..=to {
            if !self.looked.contains_key(&power) {
                let (house, offers) = (self.search.house, self.search.offers);
                let times = times_of(power);
                let looked = looked(house, offers, self.model, 0, times, Some(wanted))?;
                self.looked.insert(power, looked);
            }
        }
        let mut least = i64::MAX;
        for hub in open {
            let seens = self.seens(from.min(to)..=to);
            let way = self.stages((&step, &seens), hub)?.cheapest(self.cap());
            least = least.min(way.map_or(i64::MAX, |w| w.price));
        }
        Some(least)
    }
}
