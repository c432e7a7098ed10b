//! The cheapest plan for every flow temperature and design drop, with seasonal efficiency and running cost.

use super::missing::{Missing, missing, of_model};
use super::model::model;
use super::offer::Offers;
use super::problem::Objective;
use super::search::{Excused, House, MOST_LOOKS, Search, Stop};
use super::verify::with_largest;
use crate::catalogue::PriceTable;
use crate::quantity::{Celsius, Kelvin};
use crate::survey::{At, Survey};
use rayon::prelude::*;

/// The cheapest plan for one flow temperature and drop.
#[derive(Clone, Debug)]
pub struct Step {
    /// °C.
    pub flow_c: f64,
    /// K.
    pub drop_k: f64,
    /// Money of the works, hundredths; `None` if no plan on offer works.
    pub money: Option<i64>,
    /// All of it by prices of the file.
    pub own: bool,
    /// Whether that is proved the least.
    pub proved: bool,
    /// Changes in words.
    pub changes: Vec<String>,
    /// What is missing, where none works; what is farthest from holding first.
    pub missing: Vec<Missing>,
    /// Seasonal efficiency.
    pub scop: f64,
    /// Money of a year's electricity, hundredths.
    pub running: i64,
}

/// What running is reckoned with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RunningCost {
    /// Seasonal efficiency at `at_c`.
    pub scop: f64,
    /// °C: the file's own flow temperature.
    pub at_c: f64,
    /// Percent per kelvin.
    pub slope: f64,
    /// kWh of heat a year.
    pub heat_kwh: f64,
    /// Money per kWh.
    pub per_kwh: f64,
    /// Which of the four are the file's: efficiency, slope, heat, price.
    pub own: [bool; 4],
}

impl RunningCost {
    /// Of a house.
    pub fn of(house: &House) -> Self {
        let (plan, table) = (&house.survey.plan, PriceTable::embedded().running);
        let needs_w: f64 = house.network.emitters.iter().map(|e| e.duty_w).sum();
        let own = [
            plan.scop.is_some(),
            plan.slope.is_some(),
            plan.heat_j.is_some(),
            plan.per_kwh.is_some(),
        ];
        let value = |at: &Option<At<f64>>, other: f64| at.as_ref().map_or(other, |a| a.value);
        Self {
            scop: value(&plan.scop, table.scop),
            at_c: house.network.design.flow_temperature_c,
            slope: value(&plan.slope, table.slope),
            heat_kwh: plan
                .heat_j
                .as_ref()
                .map_or(needs_w / 1e3 * table.full_load_hours, |h| h.value / 3.6e6),
            per_kwh: value(&plan.per_kwh, table.per_kwh),
            own,
        }
    }

    /// Seasonal efficiency at a flow temperature: straight with it, and never below 1.
    pub fn scop_at(&self, flow_c: f64) -> f64 {
        (self.scop * (1.0 + self.slope / 100.0 * (self.at_c - flow_c))).max(1.0)
    }

    /// Money of a year, hundredths.
    pub fn year(&self, flow_c: f64) -> i64 {
        super::price::hundredths(self.heat_kwh / self.scop_at(flow_c) * self.per_kwh)
    }
}

/// The cheapest complete plan for each flow temperature and each drop.
///
/// # Errors
/// What stops the solver on the house at one of them.
pub fn sweep(
    survey: &Survey,
    offers: &Offers,
    excused: &Excused,
    cost: &RunningCost,
    flows_c: &[f64],
    drops_k: &[f64],
) -> Result<Vec<Step>, Stop> {
    let all: Vec<(f64, f64)> = flows_c
        .iter()
        .flat_map(|flow_c| drops_k.iter().map(move |drop_k| (*flow_c, *drop_k)))
        .collect();
    let step = |(flow_c, drop_k): &(f64, f64)| {
        let mut other = survey.clone();
        other.design.flow_temperature = Some(At::new(Celsius(*flow_c), 0..0));
        other.design.drop = Some(At::new(Kelvin(*drop_k), 0..0));
        let house = House::new(other)?;
        let step = Step {
            flow_c: *flow_c,
            drop_k: *drop_k,
            money: None,
            own: true,
            proved: false,
            changes: Vec::new(),
            missing: Vec::new(),
            scop: cost.scop_at(*flow_c),
            running: cost.year(*flow_c),
        };
        cheapest(&house, offers, excused, step)
    };
    // no search knows of another; the first that stops, in their order, is told of
    let steps: Vec<Result<Step, Stop>> = all.par_iter().map(step).collect();
    steps.into_iter().collect()
}

/// The cheapest plan of a house, in an empty step.
fn cheapest(
    house: &House,
    offers: &Offers,
    excused: &Excused,
    mut step: Step,
) -> Result<Step, Stop> {
    let worst_first = |mut list: Vec<Missing>| {
        list.sort_by(|a, b| b.short().total_cmp(&a.short()));
        list
    };
    if let Some(check) = hopeless(house, offers, excused) {
        let model = model(&house.network, &house.required, offers)?;
        step.missing = worst_first(of_model(house, offers, &model));
        if step.missing.is_empty() {
            step.missing.push(check);
        }
        return Ok(step);
    }
    let search = Search {
        house,
        offers,
        objective: Objective::Money,
        excused,
        most_looks: MOST_LOOKS,
        thorough: false,
    };
    let found = search.run()?;
    match &found.best {
        Some(best) => {
            step.money = Some(best.money);
            step.own = offers.own_changes(&best.changes);
            step.proved = found.proved();
            step.changes = best
                .changes
                .iter()
                .map(|c| c.words(&house.survey))
                .collect();
        }
        None => {
            step.missing = worst_first(missing(house, offers, &found));
        }
    }
    Ok(step)
}

/// A check beyond those that the house fails anyway that fails here, also with the largest change everywhere.
fn hopeless(house: &House, offers: &Offers, excused: &Excused) -> Option<Missing> {
    let before = crate::check::study(&house.network, &crate::check::Options::default()).ok()?;
    let here = Excused::of(house, &before, offers);
    let fails = here.0.iter().find(|f| !excused.0.contains(f))?;
    let study = with_largest(house, offers)?;
    let mut findings = study.findings.iter();
    let finding = findings.find(|f| (f.check, f.subject) == *fails)?.clone();
    Some(Missing::Check(Box::new((finding, study.network))))
}
