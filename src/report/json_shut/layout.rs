//! The layout of what `shut --json` prints; its schema is made from these types.

use schemars::JsonSchema;
use serde::Serialize;

#[derive(Serialize, JsonSchema)]
pub(super) struct Out {
    /// `pipecarry.shut`.
    pub schema: &'static str,
    /// Version of this layout.
    pub version: u32,
    pub made_by: &'static str,
    /// Title of the job.
    pub job: String,
    /// What can shut on its own.
    pub valves: Vec<String>,
    /// Emitters that stay open whatever happens.
    pub always_open: Vec<String>,
    /// What statements about combinations rest on.
    pub reached: &'static str,
    /// What bounds prove, where they hold and are needed.
    pub bounds: Option<Bounds>,
    /// Number of all combinations.
    pub combinations: f64,
    /// Of these, how many were solved.
    pub solved: usize,
    /// Of these, how many have no converged answer: none of them counts as safe.
    pub unanswered: usize,
    /// How many of those solved trip the unit.
    pub tripping: usize,
    /// Everything open.
    pub open: State,
    /// The one that trips furthest, or nearest to a trip: least margin, by spare head where the pump holds by itself.
    pub worst: Option<State>,
    /// Of those that do not trip, the one nearest to it in the same order.
    pub nearest_to_a_trip: Option<State>,
    /// Of those that do not trip, the one that takes least heat.
    pub least_heat: Option<State>,
    /// Largest loss across an open valve.
    pub loudest: Option<State>,
    /// By number of valves open.
    pub by_open: Vec<ByOpen>,
    /// All heads throttled alike.
    pub throttled: Vec<ThrottledOut>,
    /// Share of their design kv at which the unit trips.
    pub throttled_trips_at: Option<f64>,
    /// Smallest sets of shut valves that trip the unit.
    pub smallest_tripping: Vec<Vec<String>>,
    /// Smallest sets of valves that keep it safe while they are open; null where they are too many to list exactly.
    pub smallest_safe: Option<Vec<Vec<String>>>,
    /// One safe set of few valves; null where there is none.
    pub one_safe: Option<Vec<String>>,
    /// With up to so many shut, whichever they are, it does not trip; null where nothing says so.
    pub never_trips_up_to_shut: Option<usize>,
    /// With so many shut or more, whichever they are, it always trips; null where nothing says so.
    pub always_trips_from_shut: Option<usize>,
    /// Bounds by counts of valves, where sets are too many to be found one by one.
    pub by_counts: Option<ByCounts>,
    /// Overflow valves, of the file or thought of.
    pub overflow: Vec<Overflow>,
    /// The combination with least water in circulation.
    pub least_water: State,
    /// That water by what holds it.
    pub water: Vec<Held>,
    /// Rules that ask for water.
    pub water_rules: Vec<Rule>,
    /// A defrost in heating and with the diverter on a coil.
    pub defrosts: Vec<DefrostOut>,
    /// Next size of volume vessel for the rule that is shortest.
    pub vessel_m3: Option<f64>,
    pub days_worst: Vec<DayOut>,
    pub days_worst_with_vessel: Vec<DayOut>,
    pub days_typical: Vec<DayOut>,
    pub days_open: Vec<DayOut>,
    pub other_states: Vec<Other>,
    pub stands_open: Vec<Leak>,
    pub shut_off_vessels: Vec<String>,
    pub four_port: Vec<FourPortOut>,
    pub kept_open: Vec<Kept>,
    /// Valves that, always open, are enough for the water rules of heating, and for flow where a safe set is among them.
    pub enough_water_if_open: Option<Vec<String>>,
    /// Solved with those open together and everything else shut.
    pub enough_water_state: Option<State>,
}

#[derive(Serialize, JsonSchema)]
pub(super) struct ByCounts {
    /// Groups of valves; each list of counts below has one for each.
    pub groups: Vec<GroupOut>,
    /// Combinations that are sure to trip.
    pub sure_to_trip: f64,
    /// Combinations that are not sure not to trip.
    pub may_trip: f64,
    /// With so many of each group shut, whichever, it always trips: least counts.
    pub trips_if_shut: Vec<Vec<usize>>,
    /// With so many of each group never shut, whichever, it never trips: least counts.
    pub safe_if_open: Vec<Vec<usize>>,
}

#[derive(Serialize, JsonSchema)]
pub(super) struct GroupOut {
    /// A manifold, a place, or a valve by itself.
    pub name: String,
    pub valves: Vec<String>,
}

#[derive(Serialize, JsonSchema)]
pub(super) struct Bounds {
    /// The lists of sets are complete and exact.
    pub exact: bool,
    /// Combinations that are sure to trip.
    pub sure_to_trip: Option<f64>,
    /// Combinations that are not sure not to trip.
    pub may_trip: Option<f64>,
    /// Coldest water that was allowed for.
    pub coldest_c: Option<f64>,
    /// Hottest water that was allowed for.
    pub hottest_c: Option<f64>,
}

#[derive(Serialize, JsonSchema)]
pub(super) struct ByOpen {
    pub open: usize,
    pub least_m3_h: Option<f64>,
    pub greatest_m3_h: Option<f64>,
    pub solved: usize,
    pub tripping: usize,
}

#[derive(Serialize, JsonSchema)]
pub(super) struct ThrottledOut {
    /// Share of the design kv.
    pub kv_share: f64,
    pub flow_m3_h: Option<f64>,
    pub heat_w: Option<f64>,
    pub valve_loss_pa: Option<f64>,
    pub trips: bool,
}

#[derive(Serialize, JsonSchema)]
pub(super) struct Held {
    pub what: &'static str,
    pub water_m3: Option<f64>,
}

#[derive(Serialize, JsonSchema)]
pub(super) struct DefrostOut {
    /// House state; null for heating with as much shut as can be.
    pub state: Option<String>,
    pub return_c: Option<f64>,
    pub outside_c: Option<f64>,
    pub fall_k: Option<f64>,
    pub refused: bool,
    pub flow_m3_h: Option<f64>,
    pub water_m3: Option<f64>,
}

#[derive(Serialize, JsonSchema)]
pub(super) struct RemedyOut {
    pub change: String,
    /// Null where nothing trips any more.
    pub from_pa: Option<f64>,
    pub to_pa: Option<f64>,
}

#[derive(Serialize, JsonSchema)]
pub(super) struct Other {
    pub state: String,
    pub answered: bool,
    pub flow_m3_h: Option<f64>,
    pub margin: Option<f64>,
    pub trips: bool,
}

#[derive(Serialize, JsonSchema)]
pub(super) struct Leak {
    pub name: String,
    pub share: Option<f64>,
    pub return_c: Option<f64>,
}

#[derive(Serialize, JsonSchema)]
pub(super) struct FourPortOut {
    pub vessel: Option<String>,
    pub primary_m3_h: Option<f64>,
    pub secondary_m3_h: Option<f64>,
    pub flow_c: Option<f64>,
    pub emitters_c: Option<f64>,
    pub emitters_return_c: Option<f64>,
    pub source_return_c: Option<f64>,
    pub supply_lost_k: Option<f64>,
    pub mean_lost_k: Option<f64>,
    /// Electricity that mixing costs in a year.
    pub year_kwh: Option<f64>,
    pub pump_w: Option<f64>,
    pub pump_year_kwh: Option<f64>,
    pub seasonal_efficiency: f64,
    pub slope_percent_a_k: Option<f64>,
    pub heat_of_a_year_kwh: Option<f64>,
}

#[derive(Serialize, JsonSchema)]
pub(super) struct Kept {
    pub name: String,
    pub water_m3: Option<f64>,
    pub heat_w: Option<f64>,
    pub still_trip: usize,
}

#[derive(Serialize, JsonSchema)]
pub(super) struct State {
    pub shut: Vec<String>,
    pub flow_m3_h: Option<f64>,
    pub margin: Option<f64>,
    /// Where the pump holds a drop or a flow by itself: share of its full-speed head at the least flow that is left.
    pub spare_head_share: Option<f64>,
    pub trips: bool,
    pub water_m3: Option<f64>,
    pub heat_w: Option<f64>,
    pub valve_loss_pa: Option<f64>,
    /// Flow through the valve with that loss.
    pub valve_flow_m3_h: Option<f64>,
    pub return_c: Option<f64>,
    pub head_pa: Option<f64>,
}

#[derive(Serialize, JsonSchema)]
pub(super) struct Overflow {
    pub stands: String,
    pub in_file: bool,
    pub kv_m3_h: Option<f64>,
    pub above_pa: Option<f64>,
    pub below_pa: Option<f64>,
    pub can_be_set: bool,
    pub kv_needed_m3_h: Option<f64>,
    /// With everything open, at its highest setting.
    pub leak_share: Option<f64>,
    pub leak_return_c: Option<f64>,
    /// Changes that would open a window.
    pub remedies: Vec<RemedyOut>,
}

#[derive(Serialize, JsonSchema)]
pub(super) struct Rule {
    pub rule: &'static str,
    /// House state; null for heating with as much shut as leaves least water.
    pub state: Option<String>,
    pub asked_m3: Option<f64>,
    pub counts_m3: Option<f64>,
    pub short_m3: Option<f64>,
}

#[derive(Serialize, JsonSchema)]
pub(super) struct DayOut {
    pub outside_c: f64,
    pub load_share: Option<f64>,
    pub flow_c: Option<f64>,
    pub run_s: Option<f64>,
    pub stop_s: Option<f64>,
    pub starts_per_hour: Option<f64>,
    pub return_swing_k: Option<f64>,
}
