//! Several one-pipe loops on one pump, or loops beside other circuits.
//!
//! Once the pipes that their ways share are chosen, each loop is followed along its own water as one by itself is
//! ([`super::along`]), and what hangs on no loop is the least that its own rows let through. Towards a plan all run at one
//! multiple of what is required ([`towards`]). For a bound each loop may take the flow that suits it, from half of what is
//! required up ([`bound`]): less would have to cool twice as far. All else then runs at the share of its flow that the head there
//! gives it, and at half of it at least. Where one loop stands beside what is balanced, the drop across the unit counts too
//! ([`super::others`]).

mod bound;
mod towards;

use super::exact::cheapest_that;
use super::labels::{Lean, Stages, Way};
use super::laid::Loop;
use super::model::Model;
use super::others::{Others, Point, cheapest};
use super::problem::Problem;
use super::search::Search;
use super::step::Step;
use super::ties::Looked;
use super::{End, Look};
use rayon::prelude::*;
use std::collections::BTreeSet;
use std::sync::Arc;

/// Share of another's loss under which a pipe loses clearly less, at any flow.
const CLEARLY: f64 = 0.97;
/// Pa by which losses may differ that are the same.
const SAME_PA: f64 = 1e-6;
/// Sets of shared pipes that are tried.
const MOST_SHARED: usize = 100;

/// One search along several loops.
pub(super) struct Several<'s> {
    search: &'s Search<'s>,
    model: &'s Model,
    loops: Vec<Loop>,
    /// Decisions on the ways of a loop and of something else.
    shared: Vec<usize>,
    /// Choices of the shared decisions, with what is the least beside the loops then.
    sets: Vec<Set>,
    /// What is heated beside the only loop, where the unit's drop hangs on both alone.
    others: Option<Others>,
}

/// Shared pipes, and what is the cheapest on no loop with them.
#[derive(Clone)]
struct Set {
    /// By shared decision: choices that lose the same on the loops' ways.
    choices: Vec<(usize, Vec<usize>)>,
    /// By decision; what loops choose is kept.
    picks: Vec<usize>,
    price: i64,
    /// The same without radiators that are chosen by their heat: as they stand, and as if they lost nothing.
    rest: i64,
    least: i64,
}

/// What can be chosen along a loop, by its main between the tees, and how that fits each set of shared pipes.
struct Laid {
    stages: Vec<Stages>,
    fits: Vec<Fit>,
    /// What can stand beside it.
    points: Arc<Vec<Point>>,
}

/// What shared pipes change along a loop.
struct Fit {
    /// How much less may be lost, Pa.
    less_pa: f64,
    /// What the first and the last stretch of its main lose more, by choice, Pa.
    ends: [Vec<f64>; 2],
}

impl Laid {
    fn with(&self, hub: usize, set: usize) -> Stages {
        let (mut stages, fit) = (self.stages[hub].clone(), &self.fits[set]);
        stages.limit_pa -= fit.less_pa;
        let first = stages.stages.first_mut().map(|stage| &mut stage.pipes);
        let ends = [first, Some(&mut stages.home_pipes)];
        for (pipes, more_pa) in ends.into_iter().zip(&fit.ends) {
            for pipe in pipes.into_iter().flatten() {
                pipe.load_pa += more_pa.get(pipe.choice).unwrap_or(&0.0);
            }
        }
        stages
    }
}

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
            others: None,
        };
        several.others = Others::of(search, model, &several.loops);
        several.sets = several.sets()?;
        Some(several)
    }

    /// All choices of the shared decisions, cheapest first; nothing if they are too many or nothing holds.
    fn sets(&self) -> Option<Vec<Set>> {
        let worth = |d: &usize| (*d, self.worth(*d));
        let worth: Vec<(usize, Vec<Vec<usize>>)> = self.shared.iter().map(worth).collect();
        let all: usize = worth.iter().map(|(_, of)| of.len()).product();
        if all > MOST_SHARED {
            return None;
        }
        let set = |at: usize| {
            let mut rest = at;
            let choices = worth.iter().map(|(d, of)| {
                let alike = of[rest % of.len()].clone();
                rest /= of.len();
                (*d, alike)
            });
            self.beside(choices.collect(), 0.0)
        };
        // one that was not searched to its end would leave a hole in the bound
        let sets: Option<Vec<Option<Set>>> = (0..all).map(set).collect();
        let mut sets: Vec<Set> = sets?.into_iter().flatten().collect();
        sets.sort_by_key(|set| set.price);
        (!sets.is_empty()).then_some(sets)
    }

    /// Choices of a shared pipe that no other beats in price and, clearly, in every loss. Of one beside the loops' ways, on which
    /// only a tee hangs, those that are alike there together.
    fn worth(&self, d: usize) -> Vec<Vec<usize>> {
        let problem = &self.model.problem;
        let choices = &problem.decisions[d].choices;
        let rows = problem.rows.iter().enumerate();
        let of_loops = rows.filter(|(_, row)| !row.tied.is_empty() && row.decisions.contains(&d));
        let of_loops: Vec<usize> = of_loops.map(|(r, _)| r).collect();
        let lost = |c: usize| -> Vec<f64> {
            let each = of_loops.iter().map(|&r| problem.choice_pa(r, d, c));
            each.collect()
        };
        let mut alike: Vec<(Vec<f64>, Vec<usize>)> = Vec::new();
        for c in 0..choices.len() {
            let own = lost(c);
            let same = |of: &[f64]| of.iter().zip(&own).all(|(a, b)| (a - b).abs() <= SAME_PA);
            match alike.iter_mut().find(|(of, _)| same(of)) {
                Some((_, all)) => all.push(c),
                None => alike.push((own, vec![c])),
            }
        }
        if alike.len() < choices.len() {
            return alike.into_iter().map(|(_, all)| all).collect();
        }
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
        worth.map(|c| vec![c]).collect()
    }

    /// What is the cheapest beside the loops, if anything holds, with shared pipes as chosen and so much less to lose on every
    /// way. Nothing where the search for it ended on its limit.
    fn beside(&self, choices: Vec<(usize, Vec<usize>)>, less_pa: f64) -> Option<Option<Set>> {
        let mut problem = self.model.problem.clone();
        problem.ties.clear();
        problem.rows.retain(|row| row.tied.is_empty());
        for row in &mut problem.rows {
            row.limit_pa -= less_pa;
        }
        for (d, decision) in problem.decisions.iter_mut().enumerate() {
            let chosen = choices.iter().find(|(of, _)| *of == d);
            let of_loop = self.loops.iter().any(|one| !one.apart.contains(&d));
            if let Some((_, alike)) = chosen {
                let own = alike.iter().map(|c| decision.choices[*c].clone());
                decision.choices = own.collect();
                for row in &mut problem.rows {
                    let own = row.also.iter_mut().filter(|(of, _)| *of == d);
                    own.for_each(|(_, by)| *by = alike.iter().map(|c| by[*c]).collect());
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
        let Some(mut picks) = self.least_of(&problem)? else {
            return Some(None);
        };
        let price = self.price_of(&problem, &picks);
        // what radiators lose is small, and where it is none their heat can be chosen apart
        let (mut rest, mut least) = (price, price);
        if let Some(others) = &self.others {
            for (d, prices) in others.decide() {
                rest -= prices[picks[d]];
                for choice in &mut problem.decisions[d].choices {
                    (choice.money, choice.load_pa) = (0, 0.0);
                    choice.opens.clear();
                }
                for row in &mut problem.rows {
                    row.also.retain(|(of, _)| *of != d);
                }
            }
            let picks = self.least_of(&problem)??;
            least = self.price_of(&problem, &picks);
        }
        for (d, alike) in &choices {
            picks[*d] = alike[picks[*d]];
        }
        Some(Some(Set {
            choices,
            picks,
            price,
            rest,
            least,
        }))
    }

    /// The least picks for which all rows hold, if any do. Nothing where the search for them ended on its limit.
    fn least_of(&self, problem: &Problem) -> Option<Option<Vec<usize>>> {
        let mut works = |_: &_| Look::Works;
        let objective = self.search.objective;
        match cheapest_that(
            problem,
            objective,
            &mut Vec::new(),
            i64::MAX,
            None,
            &mut works,
        ) {
            End::Found(answer) => Some(Some(answer.picks)),
            End::None => Some(None),
            End::Stopped(_) => None,
        }
    }

    fn price_of(&self, problem: &Problem, picks: &[usize]) -> i64 {
        let (money, disruption) = problem.cost(picks);
        self.search.objective.price(money, disruption)
    }

    /// What can be chosen along a loop, and how it fits sets of shared pipes.
    fn laid(&self, one: &Loop, step: &Step, lean: Lean, sets: &[&Set]) -> Option<Laid> {
        let stages = (0..one.hubs).map(|hub| self.search.stages(self.model, one, step, hub, lean));
        let fits = { sets.par_iter() }.map(|set| self.fit(one, step, set));
        let runs_at = match lean {
            Lean::Bound => step.until,
            Lean::Plan => step.times,
        };
        let points = match &self.others {
            Some(others) => others.points(one, runs_at, lean),
            None => vec![Point::NOTHING],
        };
        Some(Laid {
            stages: stages.collect::<Option<_>>()?,
            fits: fits.collect::<Option<_>>()?,
            points: Arc::new(points),
        })
    }

    /// What a loop's way loses otherwise once shared pipes are chosen: a tee's loss hangs on two pipes.
    fn fit(&self, one: &Loop, step: &Step, set: &Set) -> Option<Fit> {
        let with = step.with(self.search, self.model, &set.choices)?;
        let row = one.row(&step.problem)?;
        let lost = |problem: &Problem, d: usize, c: usize| problem.choice_pa(row, d, c);
        let mut fit = Fit {
            less_pa: step.problem.rows[row].limit_pa - with.rows[row].limit_pa,
            ends: one.ends().map(|_| Vec::new()),
        };
        for d in 0..with.decisions.len() {
            let choices = 0..with.decisions[d].choices.len();
            if self.shared.contains(&d) {
                let own = choices.map(|c| lost(&with, d, c));
                fit.less_pa += own.fold(f64::INFINITY, f64::min);
                continue;
            }
            let more = choices.map(|c| lost(&with, d, c) - lost(&step.problem, d, c));
            match one.ends().iter().position(|end| *end == Some(d)) {
                Some(end) => fit.ends[end] = more.collect(),
                None => fit.less_pa += more.fold(f64::INFINITY, f64::min),
            }
        }
        Some(fit)
    }

    /// The cheapest way along a loop with what stands beside it then, within a cap: what nothing is cheaper than, and the best
    /// found. So many W are kept from the loop.
    fn with_others(
        &self,
        one: &Loop,
        (stages, points): (&Stages, &[Point]),
        cap: i64,
        kept_w: f64,
    ) -> (i64, Option<(i64, Point, Way)>) {
        let at = |k: usize, cap: i64| {
            let mut own = stages.clone();
            let most_w = points[k].leaves_w - kept_w;
            own.end_above(one.start_c - most_w / own.water.w_k[1]);
            let way = own.cheapest(cap, &mut 0)?;
            Some((way.price, way))
        };
        let (lower, best) = cheapest(points, cap, at);
        let best = best.map(|(price, k, way)| (price, points[k].clone(), way));
        (lower, best)
    }
}
