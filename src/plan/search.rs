//! The search over a house: the least set whose rows hold, looked at in full, cut if a check fails, until one works.
//!
//! The rows never ask more than the required view does, so no set that works is passed over; what they let through too
//! much is cut, one set at a time. A search that ends on its limit of cuts states its gap.

use super::model::{self, Model, model};
use super::offer::{Offers, offers};
use super::price::Line;
use super::problem::{Objective, Problem};
use super::site::{Change, settled};
use super::{Answer, cheapest, nearest_cheaper, not_containing};
use crate::check::{self, Finding, Study, Subject, Verdict};
use crate::network::{Network, StateKind, expand};
use crate::solve::SolveError;
use crate::survey::Survey;
use crate::view::{self, Required};

/// Sets that are looked at in full before a search ends.
const MOST_CUTS: usize = 80;
/// Cheaper sets that are shown.
pub const NEAREST: usize = 10;
/// Checks that pipes, radiators and valves can mend; any other that fails before and after the largest change on offer is
/// not theirs.
const MENDED: [&str; 6] = [
    "head",
    "flow-temperature",
    "velocity",
    "erosion",
    "gradient",
    "low-velocity",
];

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

/// A set of changes that was looked at in full.
#[derive(Clone, Debug)]
pub struct Plan {
    /// Choice of every decision of the model.
    pub picks: Vec<usize>,
    /// Changes, in the order of the sites.
    pub changes: Vec<Change>,
    /// Their bills, by change.
    pub bills: Vec<Vec<Line>>,
    /// Indices of opened places.
    pub opens: Vec<usize>,
    /// Money, hundredths.
    pub money: i64,
    /// Disruption, tenths of a room for a day.
    pub disruption: u32,
    /// The changed survey, settled.
    pub survey: Survey,
    /// The changed house from all sides.
    pub study: Study,
}

/// A set that fails, and what.
#[derive(Clone, Debug)]
pub struct Fails {
    /// Changes in words.
    pub changes: Vec<String>,
    /// Money, hundredths.
    pub money: i64,
    /// Disruption.
    pub disruption: u32,
    /// What fails.
    pub by: FailsBy,
}

/// What a set fails by.
#[derive(Clone, Debug)]
pub enum FailsBy {
    /// The head on a way: circuit, far end, Pa too much, Pa there.
    Head(String, String, f64, f64),
    /// A check as a finding, with the house that it is about.
    Check(Box<(Finding, Network)>),
    /// No converged answer.
    NoAnswer(SolveError),
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
    /// Sets that passed the rows and failed in full.
    pub cut: Vec<Fails>,
    /// The cut sets' picks.
    pub forbidden: Vec<Vec<usize>>,
    /// The search ended on its limit of cuts.
    pub stopped: bool,
    /// Slots whose choices move the design flows.
    pub moving: Vec<usize>,
}

impl Found {
    /// Whether the plan is proved the least: the bound is reached, the search ran to its end, and no size was seen to
    /// move the design flows. Which sizes do is found by trying one change at a time, and that is no proof.
    pub fn proved(&self) -> bool {
        self.best.is_some() && self.gap == 0.0 && !self.stopped && self.moving.is_empty()
    }
}

/// What may fail before and after because nothing on offer mends it.
#[derive(Clone, Debug, Default)]
pub struct Excused(pub Vec<(&'static str, Subject)>);

impl Excused {
    /// Failing checks of a house that the largest change on offer leaves failing.
    pub fn of(house: &House, before: &Study, offers: &Offers) -> Self {
        let fails = |s: &Study| -> Vec<(&'static str, Subject)> {
            let failing = s.findings.iter().filter(|f| f.verdict == Verdict::Fails);
            failing.map(|f| (f.check, f.subject)).collect()
        };
        let mut list = fails(before);
        list.retain(|(check, _)| !MENDED.contains(check));
        list.dedup();
        if list.is_empty() {
            return Self(list);
        }
        let mut survey = house.survey.clone();
        for slot in &offers.slots {
            if let Some(last) = slot.offers.last() {
                last.change.apply(&mut survey);
            }
        }
        let after = expand(&survey)
            .ok()
            .and_then(|(n, _)| check::study(&n, &check::Options::default()).ok());
        match after {
            Some(after) => {
                let after = fails(&after);
                list.retain(|f| after.contains(f));
            }
            None => list.clear(),
        }
        Self(list)
    }

    /// The worst failing check of a study that is not excused.
    pub fn first_failing<'s>(&self, study: &'s Study) -> Option<&'s Finding> {
        study
            .findings
            .iter()
            .find(|f| f.verdict == Verdict::Fails && !self.0.contains(&(f.check, f.subject)))
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
}

impl Search<'_> {
    /// Changes of a set of offers.
    fn changes(&self, chosen: &[usize]) -> Vec<(usize, usize)> {
        let slots = chosen.iter().enumerate();
        slots
            .filter(|(_, o)| **o != 0)
            .map(|(s, o)| (s, *o))
            .collect()
    }

    /// Looks at a set in full.
    ///
    /// # Errors
    /// What fails.
    pub fn verify(&self, model: &Model, picks: &[usize]) -> Result<Plan, Fails> {
        let chosen = self.changes(&model.chosen(picks));
        let (money, disruption) = model.problem.cost(picks);
        let mut survey = self.house.survey.clone();
        let mut plan_changes = Vec::new();
        let mut bills = Vec::new();
        let mut opens: Vec<usize> = Vec::new();
        for &(s, o) in &chosen {
            let offer = &self.offers.slots[s].offers[o];
            offer.change.apply(&mut survey);
            plan_changes.push(offer.change.clone());
            bills.push(offer.bill.clone());
            opens.extend(
                offer
                    .opens
                    .iter()
                    .filter(|o| !opens.contains(o))
                    .copied()
                    .collect::<Vec<_>>(),
            );
        }
        opens.sort_unstable();
        let fails = |by| Fails {
            changes: self.words(&chosen),
            money,
            disruption,
            by,
        };
        let Ok((network, _)) = expand(&survey) else {
            return Err(fails(FailsBy::NoAnswer(SolveError::NothingMoves)));
        };
        // the required view alone is far cheaper, and most sets that fail fail there
        let required = views(&network).map_err(|e| fails(FailsBy::NoAnswer(e)))?;
        for circuit in required.iter().flat_map(|r| &r.circuits) {
            if let Some(available) = circuit
                .available_pa
                .filter(|a| circuit.needed_pa > a.max(0.0))
            {
                let far = circuit.paths.get(circuit.index);
                return Err(fails(FailsBy::Head(
                    circuit.name.clone(),
                    far.map(|p| p.through.name(&network)).unwrap_or_default(),
                    circuit.needed_pa - available.max(0.0),
                    available,
                )));
            }
        }
        let study = check::study(&network, &check::Options::default())
            .map_err(|e| fails(FailsBy::NoAnswer(e)))?;
        if let Some(finding) = self.excused.first_failing(&study) {
            let by = FailsBy::Check(Box::new((finding.clone(), study.network.clone())));
            return Err(fails(by));
        }
        Ok(Plan {
            picks: picks.to_vec(),
            changes: plan_changes,
            bills,
            opens,
            money,
            disruption,
            survey,
            study,
        })
    }

    /// Changes in words.
    pub fn words(&self, chosen: &[(usize, usize)]) -> Vec<String> {
        chosen
            .iter()
            .map(|&(s, o)| {
                self.offers.slots[s].offers[o]
                    .change
                    .words(&self.house.survey)
            })
            .collect()
    }

    /// The least set that works.
    ///
    /// # Errors
    /// What stops the solver on the house as it is.
    pub fn run(&self) -> Result<Found, Stop> {
        let house = self.house;
        let model = model(&house.network, &house.required, self.offers)?;
        let mut found = Found {
            best: None,
            bound: (0, 0),
            bound_money: 0,
            gap: 0.0,
            cut: Vec::new(),
            forbidden: Vec::new(),
            stopped: false,
            moving: Vec::new(),
            model,
        };
        if !found.model.impossible.is_empty() || !found.model.too_cold.is_empty() {
            return Ok(found);
        }
        found.moving = model::moves_flows(&house.network, &house.required, self.offers)?;
        if !found.moving.is_empty() {
            // rows at the flows of today guide to a plan; only rows whose flows stand are a bound
            let guide = found.model.problem.clone();
            if let Some((plan, answer)) = self.until_verified(&guide, &mut found) {
                found.bound = answer.bound;
                found.best = Some(plan);
            }
            found.stopped = false;
            let moving = found.moving.clone();
            let mut at = 0;
            let rows = &mut found.model.problem.rows;
            let mut kept = Vec::new();
            rows.retain(|row| {
                let stands = !row.decisions.iter().any(|d| moving.contains(d));
                kept.push(stands);
                stands
            });
            found.model.ways.retain(|_| {
                at += 1;
                kept[at - 1]
            });
        }
        let problem = found.model.problem.clone();
        let guided = found.best.take().map(|p| (p, found.bound.1));
        let proved = self.until_verified(&problem, &mut found);
        match (guided, proved) {
            (_, Some((plan, answer))) => {
                found.bound = answer.bound;
                found.best = Some(plan);
                found.bound_money = found.best.as_ref().map_or(0, |p| p.money);
            }
            (Some((plan, reached)), None) => {
                // everything below the last bound was looked at
                let below = cheapest(&problem, self.objective, &found.forbidden);
                let bound = below.as_ref().map_or(reached, |a| a.bound.0.min(reached));
                found.bound_money = below.map_or(plan.money, |a| a.money.min(plan.money));
                found.bound = (bound, reached);
                found.best = Some(plan);
            }
            (None, None) => {}
        }
        if let Some(best) = &found.best {
            let reached = found.bound.1.max(1);
            found.gap = (found.bound.1 - found.bound.0).max(0) as f64 / reached as f64;
            if self.objective == Objective::Money && found.gap > 0.0 {
                let money = best.money.max(1);
                found.gap = (best.money - found.bound_money).max(0) as f64 / money as f64;
            }
        }
        Ok(found)
    }

    /// Cuts the least set that the rows let through until one works in full.
    fn until_verified(&self, problem: &Problem, found: &mut Found) -> Option<(Plan, Answer)> {
        for _ in 0..MOST_CUTS {
            let answer = cheapest(problem, self.objective, &found.forbidden)?;
            match self.verify(&found.model, &answer.picks) {
                Ok(plan) => return Some((plan, answer)),
                Err(fails) => {
                    found.forbidden.push(answer.picks);
                    found.cut.push(fails);
                }
            }
        }
        found.stopped = true;
        None
    }

    /// The ten cheaper sets that come nearest to holding, with what each fails.
    pub fn nearest(&self, found: &Found) -> Vec<Fails> {
        let Some(best) = &found.best else {
            return Vec::new();
        };
        let answer = Answer {
            picks: best.picks.clone(),
            money: best.money,
            disruption: best.disruption,
            excess_pa: (0.0, 0),
            bound: found.bound,
            nodes: 0,
        };
        let cheaper = nearest_cheaper(&found.model.problem, self.objective, &answer, NEAREST);
        let mut list: Vec<Fails> = found.cut.clone();
        list.extend(cheaper.into_iter().filter_map(|a| {
            let way = found.model.ways.get(a.excess_pa.1)?;
            Some(Fails {
                changes: self.words(&self.changes(&found.model.chosen(&a.picks))),
                money: a.money,
                disruption: a.disruption,
                by: FailsBy::Head(
                    way.circuit.clone(),
                    way.through.clone(),
                    a.excess_pa.0,
                    way.available_pa,
                ),
            })
        }));
        list.truncate(NEAREST);
        list
    }

    /// The next-best plan: the least that works and does not contain the best.
    pub fn next_best(&self, found: &Found) -> Option<Plan> {
        let best = found.best.as_ref()?;
        let keep: Vec<usize> = found
            .model
            .offers
            .iter()
            .map(|offers| offers.iter().position(|&o| o == 0).unwrap_or(usize::MAX))
            .collect();
        let mut forbidden = found.forbidden.clone();
        for _ in 0..MOST_CUTS {
            let answer = not_containing(
                &found.model.problem,
                self.objective,
                &best.picks,
                &keep,
                &forbidden,
            )?;
            match self.verify(&found.model, &answer.picks) {
                Ok(plan) => return Some(plan),
                Err(_) => forbidden.push(answer.picks),
            }
        }
        None
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
