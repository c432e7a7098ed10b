//! Several one-pipe loops on one pump, or loops beside other circuits.
//!
//! Once the pipes that their ways share are chosen, each loop is followed along its own water as one by itself is
//! ([`super::along`]), and what hangs on no loop is the least that its own rows let through. Towards a plan all run at one
//! multiple of what is required. For a bound each loop may take the flow that suits it, from half of what is required up, as long
//! as all else runs at half of what it must have at least: less would have to cool twice as far.

use super::exact::cheapest_that;
use super::guess::wants_flow;
use super::labels::{Lean, Stages, Way};
use super::laid::Loop;
use super::model::Model;
use super::problem::Problem;
use super::search::{Fails, FailsBy, Plan, Search};
use super::step::Step;
use super::ties::Looked;
use super::{End, Look};
use rayon::prelude::*;
use std::collections::BTreeSet;

/// Multiples of the flow that is required, at which a plan is sought and between which a bound is.
const PLANS: [f64; 4] = [1.0, 1.05, 1.12, 1.25];
const STEPS: [f64; 13] = [
    0.5, 0.7, 0.8, 0.9, 0.95, 1.0, 1.02, 1.05, 1.12, 1.25, 1.5, 2.0, 10.0,
];
/// Share of what is required that all else than a loop runs at, at the least.
const OTHERS: f64 = 0.5;
/// How losses grow with the flow: the exponent by which it is told which of two limits says more.
const LOSS_BY_FLOW: f64 = 1.8;
/// Share of another's loss under which a pipe loses clearly less, at any flow.
const CLEARLY: f64 = 0.97;
/// Sets of shared pipes that are tried.
const MOST_SHARED: usize = 100;
/// Of them, those that are mended towards a plan at one flow, and looks in full at each.
const BEST: usize = 3;
const LOOKS: usize = 25;
/// Share of heat and Pa by which what was found wanting is asked for more at least, and Pa where a unit lacks water.
const MORE: f64 = 0.0005;
const MORE_PA: f64 = 5.0;
const MORE_FLOW_PA: f64 = 100.0;

/// One search along several loops.
pub(super) struct Several<'s> {
    search: &'s Search<'s>,
    model: &'s Model,
    loops: Vec<Loop>,
    /// Decisions on the ways of a loop and of something else.
    shared: Vec<usize>,
    /// Choices of the shared decisions, with what is the least beside the loops then.
    sets: Vec<Set>,
}

/// Shared pipes, and what is the cheapest on no loop with them.
#[derive(Clone)]
struct Set {
    choices: Vec<(usize, usize)>,
    /// By decision; what loops choose is kept.
    picks: Vec<usize>,
    price: i64,
}

/// A way along every loop, each with its main between the tees.
type Ways = Vec<(usize, Way)>;

impl<'s> Several<'s> {
    /// Of a house with loops of which everything is known; nothing in another.
    pub fn of(search: &'s Search<'s>, model: &'s Model, looked: Vec<Looked>) -> Option<Self> {
        if looked.len() != search.house.survey.loops.len() {
            return None;
        }
        let mut loops = Vec::new();
        let mut first = 0;
        for looked in looked {
            let tied = model.tied.get(first..first + looked.own.len())?;
            let own = looked.own.iter().map(|own| own.emitter);
            if !own.eq(tied.iter().copied()) {
                return None;
            }
            first += tied.len();
            loops.push(Loop::of(search, model, looked, first - tied.len())?);
        }
        let problem = &model.problem;
        if first != problem.ties.len() {
            return None;
        }
        let along = |one: &Loop| one.along(problem);
        let along: Vec<BTreeSet<usize>> = loops.iter().map(along).collect();
        let mut shared = BTreeSet::new();
        for (l, one) in loops.iter_mut().enumerate() {
            let row = one.row(problem)?;
            let ties = one.ties();
            let rows = problem.rows.iter();
            let elsewhere = rows.filter(|r| !ties.clone().any(|t| r.tied.contains(&t)));
            let elsewhere: BTreeSet<usize> = elsewhere
                .flat_map(|r| r.decisions.iter().copied())
                .collect();
            let on_way: BTreeSet<usize> = problem.rows[row].decisions.iter().copied().collect();
            shared.extend(on_way.intersection(&elsewhere).copied());
            let own = on_way.union(&along[l]).copied();
            let own: BTreeSet<usize> = own.filter(|d| !elsewhere.contains(d)).collect();
            let all = 0..problem.decisions.len();
            one.apart = all.filter(|d| !own.contains(d)).collect();
        }
        let shared: Vec<usize> = shared.into_iter().collect();
        let mut several = Self {
            search,
            model,
            loops,
            shared,
            sets: Vec::new(),
        };
        several.sets = several.sets()?;
        Some(several)
    }

    /// All choices of the shared decisions, cheapest first; nothing if they are too many or nothing holds.
    fn sets(&self) -> Option<Vec<Set>> {
        let worth = |d: &usize| (*d, self.worth(*d));
        let worth: Vec<(usize, Vec<usize>)> = self.shared.iter().map(worth).collect();
        let all: usize = worth.iter().map(|(_, of)| of.len()).product();
        if all > MOST_SHARED {
            return None;
        }
        let set = |at: usize| {
            let mut rest = at;
            let choices = worth.iter().map(|(d, of)| {
                let c = of[rest % of.len()];
                rest /= of.len();
                (*d, c)
            });
            self.beside(choices.collect(), 0.0)
        };
        // one that was not searched to its end would leave a hole in the bound
        let sets: Option<Vec<Option<Set>>> = (0..all).map(set).collect();
        let mut sets: Vec<Set> = sets?.into_iter().flatten().collect();
        sets.sort_by_key(|set| set.price);
        (!sets.is_empty()).then_some(sets)
    }

    /// Choices of a shared pipe that no other beats in price and, clearly, in every loss.
    fn worth(&self, d: usize) -> Vec<usize> {
        let problem = &self.model.problem;
        let choices = &problem.decisions[d].choices;
        let also: Vec<&Vec<f64>> = { problem.rows.iter() }
            .flat_map(|row| row.also.iter().filter(|(of, _)| *of == d))
            .map(|(_, by)| by)
            .collect();
        let beats = |a: usize, b: usize| {
            let (x, y) = (&choices[a], &choices[b]);
            // of a pipe beside another it is not known what it loses
            x.load_pa > 0.0
                && x.money <= y.money
                && x.opens == y.opens
                && x.load_pa <= CLEARLY * y.load_pa
                && also.iter().all(|by| by[a] <= by[b])
        };
        let all = 0..choices.len();
        let worth = all.clone().filter(|b| !all.clone().any(|a| beats(a, *b)));
        worth.collect()
    }

    /// What is the cheapest beside the loops, if anything holds, with shared pipes as chosen and so much less to lose on every
    /// way. Nothing where the search for it ended on its limit.
    fn beside(&self, choices: Vec<(usize, usize)>, less_pa: f64) -> Option<Option<Set>> {
        let mut problem = self.model.problem.clone();
        problem.ties.clear();
        problem.rows.retain(|row| row.tied.is_empty());
        for row in &mut problem.rows {
            row.limit_pa -= less_pa;
        }
        for (d, decision) in problem.decisions.iter_mut().enumerate() {
            let chosen = choices.iter().find(|(of, _)| *of == d);
            let of_loop = self.loops.iter().any(|one| !one.apart.contains(&d));
            if let Some((_, c)) = chosen {
                decision.choices = vec![decision.choices[*c].clone()];
                for row in &mut problem.rows {
                    let mut own = row.also.iter_mut().filter(|(of, _)| *of == d);
                    own.by_ref().for_each(|(_, by)| *by = vec![by[*c]]);
                }
            } else if of_loop {
                decision.choices.truncate(1);
                decision.choices[0].money = 0;
                decision.choices[0].opens.clear();
            }
        }
        // loops pay for a share of what they open
        for (o, opening) in problem.openings.iter_mut().enumerate() {
            let opens = |d: usize| {
                let mut choices = self.model.problem.decisions[d].choices.iter();
                choices.any(|c| c.opens.contains(&o))
            };
            let mut own = self.loops.iter().flat_map(|one| {
                let all = 0..self.model.problem.decisions.len();
                all.filter(|d| !one.apart.contains(d))
            });
            if own.any(opens) {
                (opening.money, opening.disruption) = (0, 0);
            }
        }
        let mut works = |_: &_| Look::Works;
        let objective = self.search.objective;
        let end = cheapest_that(
            &problem,
            objective,
            &mut Vec::new(),
            i64::MAX,
            None,
            &mut works,
        );
        let answer = match end {
            End::Found(answer) => answer,
            End::None => return Some(None),
            End::Stopped(_) => return None,
        };
        let mut picks = answer.picks;
        for (d, c) in &choices {
            picks[*d] = *c;
        }
        Some(Some(Set {
            choices,
            picks,
            price: answer.bound.1,
        }))
    }

    /// What the shared pipes of a set lose on a loop's way, Pa.
    fn shared_pa(&self, problem: &Problem, one: &Loop, set: &Set) -> f64 {
        let Some(row) = one.row(problem).map(|row| &problem.rows[row]) else {
            return 0.0;
        };
        let lost = |d: &usize| {
            let also = row.also.iter().find(|(of, _)| of == d);
            let also = also.map_or(0.0, |(_, by)| by[set.picks[*d]]);
            problem.decisions[*d].choices[set.picks[*d]].load_pa + also
        };
        let shared = self.shared.iter().filter(|d| row.decisions.contains(d));
        shared.map(lost).sum()
    }

    /// A loop's stages, by its main between the tees, and what shared pipes lose on its way by set.
    fn laid(&self, one: &Loop, step: &Step, lean: Lean) -> Option<(Vec<Stages>, Vec<f64>)> {
        let stages = (0..one.hubs).map(|hub| self.search.stages(self.model, one, step, hub, lean));
        let stages: Option<Vec<Stages>> = stages.collect();
        let sets = self.sets.iter();
        let shared = sets.map(|set| self.shared_pa(&step.problem, one, set));
        Some((stages?, shared.collect()))
    }

    /// A plan, if one is found.
    pub fn plan(&self) -> Option<Plan> {
        let mut best: Option<(i64, Plan)> = None;
        for times in PLANS {
            let cap = best.as_ref().map_or(i64::MAX, |(price, _)| price - 1);
            best = self.plan_at(times, cap).or(best);
        }
        best.map(|(_, plan)| plan)
    }

    fn plan_at(&self, times: f64, cap: i64) -> Option<(i64, Plan)> {
        let laid = self.loops.iter().map(|one| {
            let step = Step::at(self.search, self.model, one, (times, times))?;
            self.laid(one, &step, Lean::Plan)
        });
        let laid: Vec<(Vec<Stages>, Vec<f64>)> = laid.collect::<Option<_>>()?;
        let with = |(stages, shared_pa): &(Vec<Stages>, Vec<f64>), hub: usize, s: usize| {
            let mut own = stages[hub].clone();
            own.limit_pa -= shared_pa[s];
            own
        };
        let ways = |s: usize| -> Option<(i64, usize, Ways)> {
            let mut price = self.sets[s].price;
            let mut ways = Vec::new();
            for of in &laid {
                let mut best: Option<(usize, Way)> = None;
                for hub in 0..of.0.len() {
                    let least = best.as_ref().map_or(i64::MAX, |(_, way)| way.price);
                    let cap = cap.saturating_sub(price).min(least - 1);
                    let way = with(of, hub, s).cheapest(cap, &mut 0);
                    best = way.map(|way| (hub, way)).or(best);
                }
                let way = best?;
                price += way.1.price;
                ways.push(way);
            }
            Some((price, s, ways))
        };
        let found = (0..self.sets.len()).into_par_iter().filter_map(ways);
        let mut found: Vec<_> = found.collect();
        found.sort_by_key(|(price, s, ..)| (*price, *s));
        let mut best: Option<(i64, Plan)> = None;
        for (price, s, ways) in found.into_iter().take(BEST) {
            let stages = laid.iter().zip(&ways);
            let stages: Vec<Stages> = stages.map(|(of, (hub, _))| with(of, *hub, s)).collect();
            // a unit that lacks water gets it from the loops, or from all that it serves
            let rows = &self.model.problem.rows;
            let beside = rows.iter().any(|row| row.tied.is_empty());
            for all in [false, true].into_iter().take(1 + usize::from(beside)) {
                let cap = best.as_ref().map_or(cap, |(price, _)| price - 1);
                if price <= cap {
                    let from = (stages.clone(), ways.clone());
                    best = self.mended(&self.sets[s], from, (cap, all)).or(best);
                }
            }
        }
        best
    }

    /// A plan from ways that are nearly one: what a look in full finds lacking is asked for.
    fn mended(
        &self,
        set: &Set,
        from: (Vec<Stages>, Ways),
        (cap, all): (i64, bool),
    ) -> Option<(i64, Plan)> {
        let (mut stages, mut ways) = from;
        let (mut less_pa, mut set) = (0.0, set.clone());
        for _ in 0..LOOKS {
            let mut picks = set.picks.clone();
            for (one, (hub, way)) in self.loops.iter().zip(&ways) {
                one.put(self.model, *hub, way, &mut picks);
            }
            let fails = match self.search.verify(self.model, &picks) {
                Ok(plan) => {
                    let price = self.search.objective.price(plan.money, plan.disruption);
                    return (price <= cap).then_some((price, plan));
                }
                Err(fails) => fails,
            };
            if !self.ask(&fails, &mut stages) {
                return None;
            }
            if all && wants_flow(&fails.by) {
                less_pa += MORE_FLOW_PA;
                set = self.beside(set.choices, less_pa)??;
            }
            for (stages, (_, way)) in stages.iter().zip(&mut ways) {
                *way = stages.cheapest(cap, &mut 0)?;
            }
            let price = ways.iter().map(|(_, way)| way.price).sum::<i64>();
            if set.price + price > cap {
                return None;
            }
        }
        None
    }

    /// Asks for what a look in full found lacking; false where that is none of a loop.
    fn ask(&self, fails: &Fails, stages: &mut [Stages]) -> bool {
        let emitters = &self.search.house.network.emitters;
        match &fails.by {
            FailsBy::Head(_, through, short_pa, _) => {
                let Some(e) = emitters.iter().position(|e| e.name == *through) else {
                    return false;
                };
                let own = self.loops.iter().zip(stages);
                let mut own = own.filter(|(one, _)| self.model.tied[one.ties()].contains(&e));
                own.next()
                    .map(|(_, s)| s.limit_pa -= short_pa + MORE_PA)
                    .is_some()
            }
            by if wants_flow(by) => {
                stages.iter_mut().for_each(|s| s.limit_pa -= MORE_FLOW_PA);
                true
            }
            _ => {
                let mut asked = false;
                for (emitter, share) in &fails.lacking {
                    for (one, stages) in self.loops.iter().zip(&mut *stages) {
                        let tied = &self.model.tied[one.ties()];
                        if let Some(t) = tied.iter().position(|e| e == emitter) {
                            stages.ask(t, share + MORE);
                            asked = true;
                        }
                    }
                }
                asked
            }
        }
    }

    /// A lower bound of the price of all that works as the house runs; `known` is what some plan costs. Nothing where the bound
    /// would rest on what is not known.
    pub fn bound(&self, known: i64) -> Option<i64> {
        // by set: what stands so far
        let mut least: Vec<i64> = self.sets.iter().map(|set| set.price).collect();
        for one in &self.loops {
            let mut own = vec![i64::MAX; self.sets.len()];
            for ends in STEPS.windows(2) {
                let (lost_at, others_at) = self.tighter(one, ends[0])?;
                let flow = ((ends[0], ends[1]), (lost_at, others_at));
                let step = Step::beside(self.search, self.model, one, flow.0, flow.1)?;
                let (stages, shared_pa) = self.laid(one, &step, Lean::Bound)?;
                let of_set = |(s, own): (usize, &mut i64)| {
                    for stages in &stages {
                        let cap = (known - 1).saturating_sub(least[s]).min(*own - 1);
                        let mut stages = stages.clone();
                        stages.limit_pa -= shared_pa[s];
                        if let Some(way) = stages.cheapest(cap, &mut 0) {
                            *own = way.price;
                        }
                    }
                };
                own.par_iter_mut().enumerate().for_each(of_set);
            }
            for (least, own) in least.iter_mut().zip(own) {
                *least = least.saturating_add(own);
            }
        }
        least.into_iter().min().map(|least| least.min(known))
    }

    /// At which flow of a loop and of all else losses say more about it, where it runs at a multiple of what is required.
    fn tighter(&self, one: &Loop, times: f64) -> Option<(f64, f64)> {
        if times <= 1.0 {
            return Some((1.0, 1.0));
        }
        let limit_pa = |flows: (f64, f64)| {
            let step = Step::beside(self.search, self.model, one, (times, times), flows)?;
            Some(step.problem.rows[one.row(&step.problem)?].limit_pa)
        };
        let running = (times, OTHERS);
        let more = crate::maths::pow(times, LOSS_BY_FLOW);
        let says_more = limit_pa(running)? < limit_pa((1.0, 1.0))? * more;
        Some(if says_more { running } else { (1.0, 1.0) })
    }
}
