//! The search over a house: the least set whose rows hold, looked at in full, cut if a check fails, until one works.
//!
//! The rows never ask more than the required view does, so no set that works is passed over; what they let through too
//! much is cut, with every set that fails for the same choices. A search that ends on its limit of looks states its gap.

use super::answer::{Answer, Cut, End, Look};
use super::exact::cheapest_that;
use super::model::{Model, model};
use super::offer::{Offers, offers};
use super::problem::{Objective, Problem};
use super::site::settled;
pub use super::verify::{Excused, Fails, FailsBy, Plan};
use crate::network::{Network, StateKind, expand};
use crate::solve::SolveError;
use crate::survey::Survey;
use crate::view::{self, Required};

/// Sets that are looked at in full before a search ends.
pub const MOST_LOOKS: usize = 2_000;
/// A search whose gap is wider than this goes on to ten times as many.
pub const WIDE_GAP: f64 = 0.05;
/// Of them, sets that fail for no reason that rules out others with them.
const BLIND_LOOKS: usize = 80;
/// Sets that are looked at for a guide where sizes move the flows.
pub(super) const GUIDE_LOOKS: usize = 120;
/// Sets that are looked at on a one-pipe loop before its water is followed along it.
const FIRST_LOOKS: usize = 40;
/// Sets that are looked at for the next-best plan.
pub(super) const NEXT_LOOKS: usize = 200;
/// Failing sets that are kept with what they fail by.
const KEPT: usize = 200;
/// Cheaper sets that are shown.
pub const NEAREST: usize = 10;

/// Why there is no answer at all.
#[derive(Clone, Debug)]
pub enum Stop {
    /// The house as written has no answer.
    Solve(SolveError),
    /// Nothing is heated.
    NothingRequired,
    /// The network came from a solved case, which has no words to change.
    Broken(Vec<crate::diag::Diagnostic>),
}

impl From<SolveError> for Stop {
    fn from(error: SolveError) -> Self {
        Self::Solve(error)
    }
}

/// A house ready for searching: settled, laid, looked at.
#[derive(Clone, Debug)]
pub struct House {
    /// The survey with its doubts settled.
    pub survey: Survey,
    /// Its network.
    pub network: Network,
    /// Required views of heating and hot water.
    pub required: Vec<Required>,
}

impl House {
    /// Of a settled survey.
    ///
    /// # Errors
    /// What stops the solver, or a house in which nothing is required.
    pub fn new(survey: Survey) -> Result<Self, Stop> {
        let (network, _) = expand(&survey).map_err(Stop::Broken)?;
        let required = views(&network)?;
        if required.is_empty() {
            return Err(Stop::NothingRequired);
        }
        Ok(Self {
            survey,
            network,
            required,
        })
    }
}

/// Required views of the states that duty is designed for.
pub fn views(network: &Network) -> Result<Vec<Required>, SolveError> {
    let mut required = Vec::new();
    for (i, state) in network.states.iter().enumerate() {
        if state.kind != StateKind::Named && view::required::requires(network, i) {
            required.push(view::look(network, i, 1.0, false)?);
        }
    }
    Ok(required)
}

/// Result of one search.
#[derive(Clone, Debug)]
pub struct Found {
    /// The numbers.
    pub model: Model,
    /// The best plan that works.
    pub best: Option<Plan>,
    /// Proved lower bound in the objective's own steps, and what was reached; equal where the best is proved.
    pub bound: (i64, i64),
    /// The bound in money, hundredths, where the objective is money.
    pub bound_money: i64,
    /// Share by which the plan may be dearer than the best.
    pub gap: f64,
    /// Sets that passed the rows and failed in full, the first two hundred of them.
    pub cut: Vec<Fails>,
    /// How many did.
    pub looked_at: usize,
    /// The choices by which they fail.
    pub cuts: Vec<Cut>,
    /// The search ended on its limit of looks.
    pub stopped: bool,
    /// Ways round share their parts in no order, as on a reverse return: the gap is stated, sets near the plan are sought
    /// by single changes of it.
    pub tangled: bool,
    /// Lower bound of what works as the house runs, in the objective's own steps, where there are one-pipe loops. It rests on the
    /// heat and loss of each radiator solved apart, by steps of flow and temperature; and with more than one loop, or with
    /// something beside it, on all else having half of the water that it must have at least, and what is balanced about the
    /// loop's share of it.
    pub running_bound: Option<i64>,
    /// There is more than one loop, or something beside it.
    pub beside_loops: bool,
    /// No set was passed over on a guess.
    pub(super) sure: bool,
}

impl Found {
    /// Whether the plan is proved the least: nothing under its price is left to look at.
    pub fn proved(&self) -> bool {
        self.best.is_some() && self.gap == 0.0
    }

    /// Whether the bound leaves something out, so that it is said what it covers.
    pub fn loosely_bound(&self) -> bool {
        self.tangled || !self.model.moving.is_empty()
    }

    /// States a bound and the gap to it, in the objective's own steps.
    pub(super) fn bounded(&mut self, objective: Objective, lower: i64) {
        let price = |p: &Plan| objective.price(p.money, p.disruption);
        let reached = self.best.as_ref().map_or(lower, price);
        self.bound = (lower.min(reached), reached);
        let money = self.best.as_ref().map_or(0, |p| p.money);
        let lower_money = objective.money_of(self.bound.0);
        self.bound_money = lower_money.unwrap_or(0).min(money);
        self.gap = 0.0;
        if reached > self.bound.0 {
            self.gap = match lower_money {
                Some(_) => (money - self.bound_money) as f64 / money.max(1) as f64,
                None => (reached - self.bound.0) as f64 / reached.max(1) as f64,
            };
        } else {
            self.bound_money = money;
        }
    }
}

/// Everything that a search needs beside the house.
pub struct Search<'h> {
    /// The house.
    pub house: &'h House,
    /// What is on offer there.
    pub offers: &'h Offers,
    /// What is to be least.
    pub objective: Objective,
    /// What may go on failing.
    pub excused: &'h Excused,
    /// Sets that are looked at in full before it ends.
    pub most_looks: usize,
    /// Whether it goes on to ten times as many while the gap is wide.
    pub thorough: bool,
}

/// What sets are looked at for.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Aim {
    /// A plan to begin with: failures are laid to what most likely causes them.
    Guide,
    /// A few looks, which prove the least set where hardly any fails.
    First,
    /// That nothing cheaper works.
    Proof,
    /// The next-best plan.
    Next,
}

impl Search<'_> {
    /// The least set that works.
    ///
    /// # Errors
    /// What stops the solver on the house as it is.
    pub fn run(&self) -> Result<Found, Stop> {
        let house = self.house;
        let mut found = Found {
            model: model(&house.network, &house.required, self.offers)?,
            best: None,
            bound: (0, 0),
            bound_money: 0,
            gap: 0.0,
            cut: Vec::new(),
            looked_at: 0,
            cuts: Vec::new(),
            stopped: false,
            tangled: false,
            running_bound: None,
            beside_loops: false,
            sure: true,
        };
        let mut seen = Vec::new();
        if found.model.impossible.is_empty() {
            seen = super::ties::tie(house, self.offers, &mut found.model);
            if !found.model.problem.ties.is_empty() {
                let model = &mut found.model;
                model.lay_rows(&house.network, &house.required, self.offers)?;
            }
        }
        let m = &found.model;
        if !(m.impossible.is_empty() && m.too_cold.is_empty() && m.stuck.is_empty()) {
            return Ok(found);
        }
        if m.problem.ties.is_empty() {
            self.untied(&mut found);
        } else {
            self.tied(&mut found, seen);
        }
        Ok(found)
    }

    /// Looks at the sets that the rows let through, cheapest first, until one works.
    ///
    /// # Errors
    /// `None` if none cheaper than what is known does; the price under which nothing works if the search ended on its limit.
    pub(super) fn seek(
        &self,
        problem: &Problem,
        found: &mut Found,
        known: Option<i64>,
        aim: Aim,
    ) -> Result<Plan, Option<i64>> {
        let mut plan = None;
        // cuts of a guide are a guide's own
        let mut cuts = found.cuts.clone();
        let end = {
            let Found {
                model,
                cut,
                looked_at,
                sure,
                ..
            } = &mut *found;
            let begun = *looked_at;
            let mut blind = 0;
            let mut look = |answer: &Answer| {
                let gap = known.map(|k| (k - answer.bound.0) as f64 / k.max(1) as f64);
                let wide = self.thorough && gap.is_some_and(|gap| gap > WIDE_GAP);
                let more = if wide { 10 } else { 1 };
                let (most, most_blind) = match aim {
                    Aim::Guide => (GUIDE_LOOKS, GUIDE_LOOKS),
                    Aim::First => (FIRST_LOOKS, FIRST_LOOKS),
                    Aim::Proof => (self.most_looks * more, BLIND_LOOKS * more),
                    Aim::Next => (NEXT_LOOKS, NEXT_LOOKS),
                };
                if *looked_at - begun >= most || blind >= most_blind {
                    return Look::Enough;
                }
                match self.verify(model, &answer.picks) {
                    Ok(works) => {
                        plan = Some(works);
                        Look::Works
                    }
                    Err(fails) => {
                        *looked_at += 1;
                        let guess =
                            !matches!(aim, Aim::First | Aim::Proof) && fails.likely != fails.scope;
                        *sure &= !guess;
                        let scope = if guess { &fails.likely } else { &fails.scope }.clone();
                        blind += usize::from(scope.len() == answer.picks.len());
                        if cut.len() < KEPT && !cut.iter().any(|c| c.changes == fails.changes) {
                            cut.push(fails);
                        }
                        Look::Fails(scope)
                    }
                }
            };
            let cap = known.map_or(i64::MAX, |k| k - 1);
            cheapest_that(problem, self.objective, &mut cuts, cap, None, &mut look)
        };
        if matches!(aim, Aim::First | Aim::Proof) || found.sure {
            found.cuts = cuts;
        }
        match (end, plan) {
            (End::Found(_), Some(plan)) => Ok(plan),
            (End::Stopped(price), _) => Err(Some(price)),
            _ => Err(None),
        }
    }
}

/// A house of a survey as written, with what is on offer there.
///
/// # Errors
/// As [`House::new`].
pub fn prepare(survey: &Survey) -> Result<(House, Offers), Stop> {
    let house = House::new(settled(survey))?;
    let offers = offers(&house.survey, &house.network);
    Ok((house, offers))
}
