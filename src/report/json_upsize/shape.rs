//! The shape of the JSON.

use super::buying::Buy;
use schemars::JsonSchema;
use serde::Serialize;

/// The result of `upsize`.
#[derive(Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Out {
    /// Name of this layout.
    pub(super) schema: &'static str,
    /// Version of this layout.
    pub(super) version: u32,
    /// Words that mark the file as made by this program.
    pub(super) made_by: &'static str,
    /// Title of the job.
    pub(super) job: String,
    /// Whether a plan on offer works.
    pub(super) works: bool,
    /// Sign or word of the currency in which all money is.
    pub(super) currency: String,
    /// The plan: least by what was asked to be least.
    pub(super) plan: Option<PlanOut>,
    /// A larger drop at one emitter that the plan goes with.
    pub(super) drop: Option<DropOut>,
    /// What a larger drop at one emitter would make of it, where that was not asked for and comes cheaper.
    pub(super) with_a_larger_drop: Option<OtherOut>,
    /// Whether nothing better on offer is left to look at.
    pub(super) proved: bool,
    /// Money under which no plan works, where money is what is least.
    pub(super) lower_bound: f64,
    /// Whose prices the lower bound rests on: `the file's`, or `invented` if any of the plan is.
    pub(super) lower_bound_prices: &'static str,
    /// Share by which the plan may be dearer than the least, 0 if proved.
    pub(super) gap: f64,
    /// Whether the search ended on its limit of looks.
    pub(super) search_ended_early: bool,
    /// Sets that the pumps could serve and that failed a check in full.
    pub(super) looked_at_in_full_and_failed: usize,
    /// What the lower bound covers, where it leaves something out.
    pub(super) bound_covers: Option<String>,
    /// Whether a larger drop was tried at each emitter that has one of its own; where ways round share their parts in no
    /// order, only if asked for.
    pub(super) larger_drops_tried: bool,
    /// Places whose sizes move the design flows.
    pub(super) moving: Vec<String>,
    /// Cheaper sets that come nearest to working, of those that were looked at.
    pub(super) cheaper: Vec<FailsOut>,
    /// Whether only sets that differ from the plan in one place were weighed for that.
    pub(super) cheaper_differ_in_one_place: bool,
    /// The best plan that leaves something of the best out.
    pub(super) next_best: Option<PlanOut>,
    /// Whether nothing between it and the plan is left to look at; without one, whether there is none.
    pub(super) next_best_proved: bool,
    /// Best trades between disruption and money, least disruption first.
    pub(super) frontier: Vec<TradeOut>,
    /// Whether nothing with less disruption than the first of them is left to look at; nothing if it was not asked for.
    pub(super) frontier_ended: Option<bool>,
    /// Order of work.
    pub(super) stages: Vec<StageOut>,
    /// What to buy, and work.
    pub(super) shopping: Vec<Buy>,
    /// Guesses of the file on which the plan rests, that to look at first in front.
    pub(super) rests_on: Vec<Guess>,
    /// Which emitters hold the flow temperature up, then which once these are changed.
    pub(super) ladder: Vec<Rung>,
    /// Why the ladder ends: the `last` emitter is met, `more` rungs were not sought, or the house has `no answer`.
    pub(super) ladder_ends: &'static str,
    /// Emitters that ask for no flow temperature.
    pub(super) ladder_apart: Vec<String>,
    /// Cheapest complete plan by flow temperature and drop.
    pub(super) temperatures: Vec<StepOut>,
    /// What running is reckoned with.
    pub(super) seasonal: Seasonal,
    /// What keeps every plan from working.
    pub(super) missing: Vec<String>,
    /// Checks that no change on offer mends, by their code.
    pub(super) stays_failing: Vec<String>,
    /// What was taken for granted.
    pub(super) assumed: Vec<String>,
    /// What is not on offer, and why.
    pub(super) not_offered: Vec<String>,
}

/// A set of changes that works.
#[derive(Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct PlanOut {
    /// In units of the currency.
    pub(super) money: f64,
    /// Rooms that are upset times days.
    pub(super) room_days: f64,
    /// Whose prices: `the file's`, or `invented` if any part is.
    pub(super) prices: &'static str,
    /// What is changed, in words.
    pub(super) changes: Vec<ChangeOut>,
    /// Places that are opened once.
    pub(super) openings: Vec<OpeningOut>,
}

/// A trade between disruption and money.
#[derive(Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct TradeOut {
    /// In units of the currency.
    pub(super) money: f64,
    /// Whose prices: `the file's`, or `invented` if any part is.
    pub(super) prices: &'static str,
    /// Rooms that are upset times days.
    pub(super) room_days: f64,
    /// What is changed, in words.
    pub(super) changes: Vec<ChangeOut>,
    /// Places that are opened once.
    pub(super) openings: Vec<OpeningOut>,
    /// Whether it is proved the cheapest for its disruption.
    pub(super) proved: bool,
}

/// One change.
#[derive(Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct ChangeOut {
    /// In words.
    pub(super) what: String,
    /// In units of the currency.
    pub(super) money: f64,
    /// Whose prices: `the file's`, or `invented` if any part is.
    pub(super) prices: &'static str,
}

/// A place that is opened once.
#[derive(Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct OpeningOut {
    /// The place.
    pub(super) place: String,
    /// In units of the currency.
    pub(super) money: f64,
    /// Whose price: `the file's` or `invented`.
    pub(super) prices: &'static str,
}

/// A larger drop at one emitter.
#[derive(Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct DropOut {
    /// The emitter.
    pub(super) emitter: String,
    /// Drop.
    pub(super) drop_k: f64,
}

/// A larger drop and the plan with it.
#[derive(Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct OtherOut {
    /// The emitter.
    pub(super) emitter: String,
    /// Drop.
    pub(super) drop_k: f64,
    /// The plan: least by what was asked to be least.
    pub(super) plan: PlanOut,
}

/// A set that fails.
#[derive(Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct FailsOut {
    /// In units of the currency.
    pub(super) money: f64,
    /// Whose prices: `the file's`, or `invented` if any part is.
    pub(super) prices: &'static str,
    /// What is changed, in words.
    pub(super) changes: Vec<String>,
    /// Code of the check that it fails.
    pub(super) check: String,
    /// What the way goes through that is short of head, or the emitter that stays cold.
    pub(super) through: Option<String>,
    /// By how much the head is short.
    pub(super) over_pa: Option<f64>,
    /// By how much the flow temperature is short.
    pub(super) short_k: Option<f64>,
    /// How far it is from holding, as a share of the limit; of temperatures, of an excess of 25 K.
    pub(super) short_share: Option<f64>,
    /// What fails and by how much, in words.
    pub(super) says: String,
}

/// One stage of the work.
#[derive(Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct StageOut {
    /// The place.
    pub(super) place: Option<String>,
    /// What is changed, in words.
    pub(super) changes: Vec<String>,
    /// In units of the currency.
    pub(super) money: f64,
    /// Whose prices: `the file's`, or `invented` if any part is.
    pub(super) prices: &'static str,
    /// Checks that fail after it, with what they are about.
    pub(super) failing_checks: Vec<String>,
    /// Those of them that passed before the work began.
    pub(super) breaks: Vec<String>,
    /// On the worst circuit; negative if short.
    pub(super) head_to_spare_pa: Option<f64>,
    /// Flow temperature that is asked for.
    pub(super) asks_c: Option<f64>,
}

/// A guess on which the plan rests.
#[derive(Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Guess {
    /// The guess, in the file's words.
    pub(super) guess: String,
    /// How it is taken.
    pub(super) taken_as: String,
    /// Checks that another value of it would break, in words.
    pub(super) checks: Vec<String>,
}

/// Emitters that hold the flow temperature up together, to a tenth of a kelvin.
#[derive(Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Rung {
    /// Flow temperature that the worst of them asks for.
    pub(super) asks_c: Option<f64>,
    /// What the house asks for once they are changed; nothing at the last.
    pub(super) then_c: Option<f64>,
    /// By how much the house comes down then.
    pub(super) buys_k: Option<f64>,
    /// The emitters.
    pub(super) emitters: Vec<SwapOut>,
}

/// An emitter and the radiator that is put in.
#[derive(Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct SwapOut {
    /// The emitter.
    pub(super) emitter: String,
    /// The radiator: the plan's, else the cheapest on offer that gets down to the next; nothing where none
    /// better is on offer.
    pub(super) by: Option<String>,
    /// In units of the currency.
    pub(super) money: Option<f64>,
    /// Whose price: `the file's` or `invented`.
    pub(super) prices: Option<&'static str>,
    /// Whether the plan makes this change.
    pub(super) of_plan: bool,
    /// What the radiator there gives at 75/65/20.
    pub(super) output_w: Option<f64>,
    /// What one must give at 75/65/20 to ask for no more than the next emitter.
    pub(super) output_needed_w: Option<f64>,
}

/// The cheapest plan at one flow temperature and drop.
#[derive(Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct StepOut {
    /// Flow temperature at the source.
    pub(super) flow_c: f64,
    /// Drop.
    pub(super) drop_k: f64,
    /// Money of the works; nothing if no plan works.
    pub(super) works_money: Option<f64>,
    /// Whose prices the works rest on: `the file's`, or `invented` if any part is.
    pub(super) works_prices: Option<&'static str>,
    /// Whether nothing better on offer is left to look at.
    pub(super) proved: bool,
    /// What is changed, in words.
    pub(super) changes: Vec<String>,
    /// What keeps every plan from working, what is farthest from holding first.
    pub(super) missing: Option<String>,
    /// Heat over electricity in a year.
    pub(super) seasonal_efficiency: Option<f64>,
    /// Money of a year's electricity.
    pub(super) running_money_a_year: f64,
}

/// What running is reckoned with.
#[derive(Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Seasonal {
    /// At `at_c`.
    pub(super) efficiency: f64,
    /// Flow temperature of the file.
    pub(super) at_c: f64,
    /// Percent of it that one kelvin costs.
    pub(super) slope_percent_a_k: f64,
    /// Heat of a year.
    pub(super) heat_kwh_a_year: Option<f64>,
    /// Price of electricity.
    pub(super) money_a_kwh: f64,
    /// Whose the efficiency is: `the file's` or `assumed`.
    pub(super) efficiency_is: &'static str,
    /// Whose the slope is: `the file's` or `assumed`.
    pub(super) slope_is: &'static str,
    /// Whose the heat of a year is: `the file's` or `assumed`.
    pub(super) heat_is: &'static str,
    /// Whose the price of electricity is: `the file's` or `invented`.
    pub(super) money_a_kwh_is: &'static str,
}
