//! Flow temperature: which emitter drives it and what another buys, and the cheapest plan for every flow temperature and
//! design drop.

use super::change::What;
use super::offer::{Offers, Slot};
use super::problem::Objective;
use super::search::{Excused, House, MOST_LOOKS, Search, Stop};
use super::site::Site;
use crate::catalogue::PriceTable;
use crate::quantity::{Celsius, Kelvin};
use crate::survey::{At, Survey};
use crate::view::required::inlet_for;

/// One rung: an emitter that drives the flow temperature once those before it are changed.
#[derive(Clone, Debug, PartialEq)]
pub struct Ladder {
    /// The emitter.
    pub emitter: String,
    /// Flow temperature at the source that it asks for, °C.
    pub asks_c: f64,
    /// What the next asks for, °C: so far the house comes down if this one is changed.
    pub then_c: Option<f64>,
    /// The cheapest radiator on offer that gets there, and its money in hundredths.
    pub by: Option<(String, i64)>,
}

/// Rungs from the emitter that asks most downwards.
pub fn ladder(house: &House, offers: &Offers) -> Vec<Ladder> {
    let network = &house.network;
    let Some(r) = house.required.first() else {
        return Vec::new();
    };
    let mut order: Vec<(usize, f64)> = r
        .emitters
        .iter()
        .enumerate()
        .filter_map(|(i, e)| Some((i, e.source_c?)))
        .collect();
    order.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    let mut rungs = Vec::new();
    for (k, &(i, asks_c)) in order.iter().enumerate() {
        let then_c = order.get(k + 1).map(|(_, c)| *c);
        let e = &network.emitters[i];
        let lost_k = asks_c - r.emitters[i].inlet_c.unwrap_or(asks_c);
        let slot: Option<&Slot> = offers
            .slots
            .iter()
            .find(|s| s.emitter == Some(i) && matches!(s.site, Site::Radiator(_)));
        let by = then_c.zip(slot).and_then(|(then_c, slot)| {
            let fits = slot.offers.iter().filter(|o| {
                o.heat.is_some_and(|(law, duty_w)| {
                    let room_c = network.rooms[e.room].temperature_c;
                    inlet_for(&law, duty_w, r.emitters[i].drop_k, room_c)
                        .is_some_and(|c| c + lost_k <= then_c)
                })
            });
            let cheapest = fits.min_by_key(|o| o.money)?;
            match &cheapest.change.what {
                What::Radiator(panel) => Some((panel.words(), cheapest.money)),
                _ => None,
            }
        });
        rungs.push(Ladder {
            emitter: e.name.clone(),
            asks_c,
            then_c,
            by,
        });
    }
    rungs
}

/// The cheapest plan for one flow temperature and drop.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// °C.
    pub flow_c: f64,
    /// K.
    pub drop_k: f64,
    /// Money of the works, hundredths; `None` if no plan on offer works.
    pub money: Option<i64>,
    /// Whether that is proved the least.
    pub proved: bool,
    /// Changes in words.
    pub changes: Vec<String>,
    /// What is missing, where none works.
    pub missing: Option<String>,
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
    let mut steps = Vec::new();
    for &flow_c in flows_c {
        for &drop_k in drops_k {
            let mut other = survey.clone();
            other.design.flow_temperature = Some(At::new(Celsius(flow_c), 0..0));
            other.design.drop = Some(At::new(Kelvin(drop_k), 0..0));
            let house = House::new(other)?;
            if let Some(why) = hopeless(&house, offers, excused) {
                steps.push(Step {
                    flow_c,
                    drop_k,
                    money: None,
                    proved: false,
                    changes: Vec::new(),
                    missing: Some(why),
                    scop: cost.scop_at(flow_c),
                    running: cost.year(flow_c),
                });
                continue;
            }
            let search = Search {
                house: &house,
                offers,
                objective: Objective::Money,
                excused,
                most_looks: MOST_LOOKS,
                thorough: false,
            };
            let found = search.run()?;
            let missing = found.best.is_none().then(|| {
                super::missing::missing(&house, offers, &found)
                    .into_iter()
                    .next()
                    .unwrap_or_default()
            });
            steps.push(Step {
                flow_c,
                drop_k,
                money: found.best.as_ref().map(|b| b.money),
                proved: found.proved(),
                changes: found.best.as_ref().map_or_else(Vec::new, |b| {
                    b.changes.iter().map(|c| c.words(&house.survey)).collect()
                }),
                missing,
                scop: cost.scop_at(flow_c),
                running: cost.year(flow_c),
            });
        }
    }
    Ok(steps)
}

/// A check beyond those that the house fails anyway that fails here, also with the largest change everywhere.
fn hopeless(house: &House, offers: &Offers, excused: &Excused) -> Option<String> {
    let before = crate::check::study(&house.network, &crate::check::Options::default()).ok()?;
    let here = Excused::of(house, &before, offers);
    let (check, subject) = here.0.iter().find(|f| !excused.0.contains(f))?;
    Some(super::verify::named(&house.network, check, *subject))
}
