//! Plans to begin with where no exact search leads to one, and plans near the best where ways round are tangled.

use super::answer::{Answer, Cut, Look};
use super::exact::{ROUNDING_PA, cheapest_that};
use super::model::{Model, Way};
use super::priced::first_guess;
use super::problem::{Problem, Tie};
use super::search::{Fails, FailsBy, Found, NEAREST, Plan, Search};
use crate::check::Subject;

/// Times that a guess is mended.
const GUESSES: usize = 60;
/// Times that rows and ties are made to ask more.
const TIGHTENINGS: usize = 150;
/// Parts that are looked at for that in all.
const TIGHTENING_NODES: usize = 800;
/// Pa by which every way is tightened where a guess fails otherwise than by its head.
const TIGHTER_PA: f64 = 200.0;
/// Sets that are looked at while a plan is made smaller.
const LEAVING_OUT_LOOKS: usize = 300;
/// K of mean water over the room that a room's whole heat stands for, where a share of it is lacking.
const EXCESS_K: f64 = 25.0;
/// K by which a radiator that was found wanting is to do better at least.
const WARMER_K: f64 = 0.05;
/// Money that stands for "not this", hundredths: more than any plan costs.
const NOT_THIS: i64 = 1_000_000_000;

/// Whether a set keeps to what can stand together.
pub(super) fn stands(problem: &Problem, picks: &[usize]) -> bool {
    let ties = problem.ties.iter();
    { ties }.all(|tie| tie.combination(picks).is_some() && tie.goes(picks))
}

/// Whether a unit as it runs fails a check of its own, its flow or its drop: with less lost on the ways it gets more water.
pub(super) fn wants_flow(by: &FailsBy) -> bool {
    matches!(by, FailsBy::Check(about) if matches!(about.0.subject, Subject::Source(_)))
}

impl Search<'_> {
    /// A plan to begin with: what a look in full finds short is asked for beforehand next time.
    pub(super) fn guess(
        &self,
        model: &Model,
        problem: &Problem,
        from: Option<Vec<usize>>,
    ) -> Option<Plan> {
        let mut problem = problem.clone();
        let mut picks = first_guess(&problem, self.objective, from)?;
        for _ in 0..GUESSES {
            let by = match self.verify(model, &picks) {
                Ok(plan) => return Some(plan),
                Err(fails) => fails.by,
            };
            for (way, row) in model.ways.iter().zip(&mut problem.rows) {
                match &by {
                    FailsBy::Head(circuit, through, short_pa, _) => {
                        if way.circuit == *circuit && way.through == *through {
                            row.limit_pa -= short_pa + 1.0;
                        }
                    }
                    _ => row.limit_pa -= TIGHTER_PA,
                }
            }
            picks = first_guess(&problem, self.objective, Some(picks))?;
        }
        None
    }

    /// Some plan where sets are short by what rows and ties do not count: the head that a look in full finds short is asked of
    /// every way, the heat of the radiator itself, and the least set is sought anew. What is sure of the sets that failed
    /// joins the cuts of `found`.
    pub(super) fn by_tightening(&self, found: &mut Found) -> Option<Plan> {
        let model = &found.model;
        let mut problem = model.problem.clone();
        let mut cuts = found.cuts.clone();
        let (mut looks, mut nodes, mut before) = (0, 0, 0);
        let mut sure: Vec<Cut> = Vec::new();
        for _ in 0..TIGHTENINGS {
            (before, nodes) = (before + nodes, 0);
            let (mut plan, mut lacking) = (None, None);
            let mut look = |answer: &Answer| {
                (looks, nodes) = (looks + 1, answer.nodes);
                if looks > TIGHTENINGS || before + nodes > TIGHTENING_NODES {
                    return Look::Enough;
                }
                let fails = match self.verify(model, &answer.picks) {
                    Ok(works) => {
                        plan = Some(works);
                        return Look::Works;
                    }
                    Err(fails) => fails,
                };
                let whole = fails.scope.len() == answer.picks.len();
                if fails.likely == fails.scope && !whole {
                    let scope = fails.scope.iter();
                    sure.push(scope.map(|&d| (d, answer.picks[d])).collect());
                }
                let warmer = self.warmer(model, &problem, &fails, &answer.picks);
                if !warmer.is_empty()
                    || matches!(fails.by, FailsBy::Head(..))
                    || wants_flow(&fails.by)
                {
                    lacking = Some((fails.by, warmer, answer.picks.clone()));
                    return Look::Enough;
                }
                Look::Fails(fails.likely)
            };
            cheapest_that(
                &problem,
                self.objective,
                &mut cuts,
                i64::MAX,
                None,
                &mut look,
            );
            let Some((by, warmer, picks)) = lacking else {
                found.cuts.extend(sure);
                return plan;
            };
            for (t, tie) in warmer {
                problem.ties[t] = tie;
            }
            let (circuit, short_pa) = match by {
                FailsBy::Head(circuit, _, short_pa, _) => (Some(circuit), short_pa),
                by if wants_flow(&by) => (None, TIGHTER_PA),
                _ => continue,
            };
            // a row that leaves much out is first brought down to what it really comes to
            let ways = model.ways.iter().enumerate();
            let asked = |way: &Way| circuit.as_ref().is_none_or(|c| way.circuit == *c);
            for (r, _) in ways.filter(|(_, way)| asked(way)) {
                let now = problem.loss_pa(r, &picks);
                let row = &mut problem.rows[r];
                row.limit_pa = row.limit_pa.min(now) - short_pa - 1.0;
            }
        }
        None
    }

    /// Ties of emitters that fail for want of heat, each with what does better than this set at it.
    fn warmer(
        &self,
        model: &Model,
        problem: &Problem,
        fails: &Fails,
        picks: &[usize],
    ) -> Vec<(usize, Tie)> {
        let mut lacking = fails.lacking.clone();
        if let FailsBy::Cold(name, ..) = &fails.by {
            let mut emitters = self.house.network.emitters.iter();
            let at = emitters.position(|e| e.name == *name);
            lacking.extend(at.map(|at| (at, fails.by.short())));
        }
        let tie = |&(emitter, share): &(usize, f64)| {
            let t = model.tied.iter().position(|e| *e == emitter)?;
            let more_k = (share * EXCESS_K).max(WARMER_K);
            // a step that leaves nothing is halved, down to the least
            let steps = [more_k, 0.5 * more_k, WARMER_K];
            let tie = steps
                .iter()
                .find_map(|step| problem.ties[t].warmer(picks, *step));
            Some((t, tie?))
        };
        lacking.iter().filter_map(tie).collect()
    }

    /// Some plan where nothing else leads to one: all as large as can stand together, then left out what is not needed, the
    /// dearest first.
    pub(super) fn by_leaving_out(&self, model: &Model) -> Option<Plan> {
        let ties = &model.problem.ties;
        let most = ties.iter().map(|t| t.can.len()).max().unwrap_or(1);
        let largest = (0..most).filter_map(|hub| self.largest(model, hub));
        let plan = { largest }.find_map(|picks| self.verify(model, &picks).ok())?;
        Some(self.left_out(model, plan))
    }

    /// A plan without what it does not need, one place after another, the dearest first.
    pub(super) fn left_out(&self, model: &Model, mut plan: Plan) -> Plan {
        let price = |picks: &[usize]| {
            let (money, disruption) = model.problem.cost(picks);
            self.objective.price(money, disruption)
        };
        let saved = |d: usize, plan: &Plan| {
            let choices = &model.problem.decisions[d].choices;
            choices[plan.picks[d]].money
        };
        let mut order: Vec<usize> = (0..plan.picks.len()).collect();
        order.sort_by_key(|&d| std::cmp::Reverse(saved(d, &plan)));
        let mut looks = 0;
        for d in order {
            let mut others: Vec<(i64, Vec<usize>)> = (0..model.offers[d].len())
                .map(|c| {
                    let mut picks = plan.picks.clone();
                    picks[d] = c;
                    (price(&picks), picks)
                })
                .filter(|(less, picks)| {
                    let rows = model.problem.excess(picks).0 <= ROUNDING_PA;
                    *less < price(&plan.picks) && rows && stands(&model.problem, picks)
                })
                .collect();
            others.sort();
            for (_, picks) in others {
                looks += 1;
                if looks > LEAVING_OUT_LOOKS {
                    return plan;
                }
                if let Ok(less) = self.verify(model, &picks) {
                    plan = less;
                    break;
                }
            }
        }
        plan
    }

    /// The widest pipe and the radiator that gives most everywhere, as far as ties let them stand with one choice of what
    /// they hang on.
    fn largest(&self, model: &Model, hub: usize) -> Option<Vec<usize>> {
        let slots = self.offers.slots.iter().zip(&model.offers);
        let mut picks: Vec<usize> = slots
            .map(|(slot, offers)| {
                let largest = slot.largest();
                let is = |o: &usize| largest.is_some_and(|l| *l == slot.offers[*o]);
                offers.iter().position(is).unwrap_or(offers.len() - 1)
            })
            .collect();
        for tie in &model.problem.ties {
            let can = tie.can.get(hub)?;
            let money = |combination: &Vec<usize>| -> i64 {
                let own = tie.of.iter().zip(combination);
                own.map(|(&d, &c)| model.problem.decisions[d].choices[c].money)
                    .sum()
            };
            let dearest = can.iter().max_by_key(|c| money(c))?;
            if let Some(d) = tie.hub {
                picks[d] = hub;
            }
            for (&d, &c) in tie.of.iter().zip(dearest) {
                picks[d] = c;
            }
        }
        Some(picks)
    }

    /// Sets that cost less than the plan and differ from it in one place, the ones nearest to holding first.
    pub(super) fn neighbours(&self, found: &Found, best: &Answer) -> Vec<Answer> {
        let problem = &found.model.problem;
        let price = |picks: &[usize]| {
            let (money, disruption) = problem.cost(picks);
            (self.objective.price(money, disruption), money, disruption)
        };
        let mut list = Vec::new();
        for d in 0..best.picks.len() {
            for c in 0..problem.decisions[d].choices.len() {
                let mut picks = best.picks.clone();
                picks[d] = c;
                let (all, money, disruption) = price(&picks);
                let excess_pa = problem.excess(&picks);
                if all < best.bound.1 && excess_pa.0 > 0.0 {
                    list.push(Answer {
                        picks,
                        money,
                        disruption,
                        excess_pa,
                        bound: (all, all),
                        nodes: 0,
                    });
                }
            }
        }
        list.sort_by(|a, b| {
            let by_pa = a.excess_pa.0.total_cmp(&b.excess_pa.0);
            by_pa
                .then(a.money.cmp(&b.money))
                .then(a.picks.cmp(&b.picks))
        });
        list.truncate(NEAREST);
        list
    }

    /// The cheapest plan found that does without one change of the best.
    pub(super) fn next_guess(&self, found: &Found, changes: &Cut) -> Option<Plan> {
        let best = found.best.as_ref()?;
        let mut next: Option<Plan> = None;
        for &(d, c) in changes {
            let mut problem = found.model.problem.clone();
            problem.decisions[d].choices[c].money += NOT_THIS;
            let plan = self.guess(&found.model, &problem, Some(best.picks.clone()));
            let price = |p: &Plan| self.objective.price(p.money, p.disruption);
            let other = plan.filter(|p| p.picks[d] != c);
            if let Some(other) = other
                && next.as_ref().is_none_or(|n| price(&other) < price(n))
            {
                next = Some(other);
            }
        }
        next
    }
}
