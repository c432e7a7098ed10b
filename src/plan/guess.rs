//! Plans to begin with and plans near the best where ways round are tangled, as on a reverse return.

use super::answer::{Answer, Cut};
use super::model::Model;
use super::priced::first_guess;
use super::problem::Problem;
use super::search::{FailsBy, Found, NEAREST, Plan, Search};

/// Times that a guess is mended.
const GUESSES: usize = 60;
/// Pa by which every way is tightened where a guess fails otherwise than by its head.
const TIGHTER_PA: f64 = 200.0;
/// Money that stands for "not this", hundredths: more than any plan costs.
const NOT_THIS: i64 = 1_000_000_000;

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
