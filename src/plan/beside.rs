//! What stands beside the plan: cheaper sets that come nearest, the next-best plan, the frontier between disruption and
//! money. Each says what of it is proved.

use super::answer::{Answer, Cut, End, Look};
use super::exact::{ROUNDING_PA, changes, cheapest_that, nearest_cheaper};
use super::guess::stands;
use super::near::Near;
use super::problem::{Objective, Problem};
use super::search::{Aim, Fails, FailsBy, Found, GUIDE_LOOKS, NEAREST, NEXT_LOOKS, Plan, Search};

/// The least plan that does not contain the best.
#[derive(Clone, Debug)]
pub struct Next {
    /// The plan, if one was found.
    pub plan: Option<Plan>,
    /// Nothing between it and the best is left to look at; without a plan: there is none.
    pub proved: bool,
}

/// The frontier between disruption and money.
#[derive(Clone, Debug, Default)]
pub struct Trades {
    /// Plans, least disruption first, and whether each is proved the cheapest for its disruption.
    pub plans: Vec<(Plan, bool)>,
    /// Nothing with less disruption than the first of them is left to look at.
    pub ended: bool,
}

impl Search<'_> {
    /// The ten cheaper sets that come nearest to holding, with what each fails.
    pub(super) fn nearest(&self, found: &Found) -> Near {
        let Some(best) = &found.best else {
            return Near::default();
        };
        let answer = Answer {
            picks: best.picks.clone(),
            money: best.money,
            disruption: best.disruption,
            excess_pa: (0.0, 0),
            bound: found.bound,
            nodes: 0,
        };
        // what the rows let through and a look in full did not comes nearest of all
        let mut list: Vec<Fails> = found
            .cut
            .iter()
            .filter(|f| self.objective.price(f.money, f.disruption) < found.bound.1)
            .cloned()
            .collect();
        list.sort_by(|a, b| a.by.short().total_cmp(&b.by.short()));
        let open = NEAREST.saturating_sub(list.len());
        // where ways round are tangled or ties are many, only those one place away are looked at
        let sought = match found.tangled {
            true => None,
            false => nearest_cheaper(&found.model.problem, self.objective, &answer, open),
        };
        let all = sought.is_some() && found.proved();
        let cheaper = sought.unwrap_or_else(|| self.neighbours(found, &answer));
        list.extend(cheaper.into_iter().filter_map(|a| {
            let way = found.model.ways.get(a.excess_pa.1)?;
            Some(Fails {
                scope: Vec::new(),
                likely: Vec::new(),
                changes: self.words(&self.changes(&found.model.chosen(&a.picks))),
                money: a.money,
                own: self
                    .offers
                    .own(&self.changes(&found.model.chosen(&a.picks))),
                disruption: a.disruption,
                by: FailsBy::Head(
                    way.circuit.clone(),
                    way.through.clone(),
                    a.excess_pa.0,
                    way.available_pa,
                ),
                lacking: Vec::new(),
            })
        }));
        list.truncate(NEAREST);
        Near { sets: list, all }
    }

    /// The next-best plan; `None` where the best changes nothing.
    pub fn next_best(&self, found: &Found) -> Option<Next> {
        let best = found.best.as_ref()?;
        let cut = changes(&best.picks, &found.model.keep());
        if cut.is_empty() {
            return None;
        }
        if found.tangled {
            return Some(Next {
                plan: self.next_guess(found, &cut),
                proved: false,
            });
        }
        let mut other = Found {
            best: None,
            cuts: found.cuts.iter().cloned().chain([cut.clone()]).collect(),
            ..found.clone()
        };
        other.sure = true;
        let (problem, all) = match &found.model.guide {
            // at the flows of today: far fewer sets, and no proof
            Some(guide) if other.cut.len() > NEXT_LOOKS / 4 => (guide, false),
            _ => (&found.model.problem, true),
        };
        let sought = self.seek(problem, &mut other, None, Aim::Next);
        let ended = !matches!(sought, Err(Some(_)));
        let proved = ended && all && other.sure;
        let near = (!proved).then(|| self.one_place_away(found, &cut));
        let price = |p: &Plan| self.objective.price(p.money, p.disruption);
        let plans = [sought.ok(), near.flatten()].into_iter().flatten();
        Some(Next {
            plan: plans.min_by_key(price),
            proved,
        })
    }

    /// The cheapest plan that differs from the best in one of its changes.
    fn one_place_away(&self, found: &Found, cut: &Cut) -> Option<Plan> {
        let best = found.best.as_ref()?;
        let problem = &found.model.problem;
        let mut sets: Vec<(i64, Vec<usize>)> = Vec::new();
        for &(d, _) in cut {
            for choice in (0..problem.decisions[d].choices.len()).filter(|c| *c != best.picks[d]) {
                let mut picks = best.picks.clone();
                picks[d] = choice;
                if stands(problem, &picks) && problem.excess(&picks).0 <= ROUNDING_PA {
                    let (money, disruption) = problem.cost(&picks);
                    sets.push((self.objective.price(money, disruption), picks));
                }
            }
        }
        sets.retain(|(price, _)| *price >= found.bound.1);
        sets.sort();
        sets.truncate(NEXT_LOOKS);
        let look = |(_, picks): (i64, Vec<usize>)| self.verify(&found.model, &picks).ok();
        sets.into_iter().find_map(look)
    }

    /// The frontier between disruption and money. Where a search ends on its limit, what else is found stands there
    /// unproved.
    pub fn frontier(&self, found: &Found) -> Trades {
        let mut cuts = found.cuts.clone();
        let mut trades = Trades {
            plans: Vec::new(),
            ended: true,
        };
        let (mut most, mut looks) = (None, 0);
        loop {
            let problem = &found.model.problem;
            let all = (&mut looks, self.most_looks, false);
            let next = match self.within(found, problem, most, &mut cuts, all) {
                Ok(Some(plan)) => Some((plan, true)),
                Ok(None) => {
                    trades.ended = true;
                    break;
                }
                Err(()) => {
                    trades.ended = false;
                    self.some_within(found, most).map(|plan| (plan, false))
                }
            };
            let Some((plan, proved)) = next else { break };
            let disruption = plan.disruption;
            // what is not proved may turn out dearer than something less disruptive
            trades.plans.retain(|(p, _)| p.money < plan.money);
            trades.plans.push((plan, proved));
            if disruption == 0 {
                trades.ended = true;
                break;
            }
            most = Some(disruption - 1);
        }
        trades.plans.reverse();
        trades
    }

    /// The cheapest plan within a disruption, `None` if there is none.
    ///
    /// # Errors
    /// If the search ended on its limit. `looks`: how many there were, how many there may be, whether failures are laid to
    /// what most likely causes them.
    fn within(
        &self,
        found: &Found,
        problem: &Problem,
        most: Option<u32>,
        cuts: &mut Vec<Cut>,
        (looks, most_looks, guess): (&mut usize, usize, bool),
    ) -> Result<Option<Plan>, ()> {
        let mut plan = None;
        let mut look = |answer: &Answer| {
            *looks += 1;
            if *looks > most_looks {
                return Look::Enough;
            }
            match self.verify(&found.model, &answer.picks) {
                Ok(works) => {
                    plan = Some(works);
                    Look::Works
                }
                Err(fails) if guess => Look::Fails(fails.likely),
                Err(fails) => Look::Fails(fails.scope),
            }
        };
        let money = Objective::Money;
        match cheapest_that(problem, money, cuts, i64::MAX, most, &mut look) {
            End::Stopped(_) => Err(()),
            End::Found(_) | End::None => Ok(plan),
        }
    }

    /// Some plan within a disruption where the cheapest was not found: that which is known, or what a guide leads to.
    fn some_within(&self, found: &Found, most: Option<u32>) -> Option<Plan> {
        let within = |p: &Plan| most.is_none_or(|most| p.disruption <= most);
        if let Some(best) = found.best.as_ref().filter(|p| within(p)) {
            return Some(best.clone());
        }
        if found.tangled {
            let least = Search {
                objective: Objective::Disruption,
                ..*self
            };
            let plan = least.guess(&found.model, &found.model.problem, None);
            return plan.filter(within);
        }
        let problem = found.model.guide.as_ref().unwrap_or(&found.model.problem);
        let (mut cuts, mut looks) = (found.cuts.clone(), 0);
        let looks = (&mut looks, GUIDE_LOOKS, true);
        self.within(found, problem, most, &mut cuts, looks)
            .ok()
            .flatten()
    }
}
