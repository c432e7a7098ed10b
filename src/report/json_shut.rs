//! What happens when valves close, as JSON and as CSV: keys carry their unit, the same whatever the user reads.

use super::{MADE_BY, csv, rounded};
use crate::network::Network;
use crate::shut::Shut;
use crate::shut::bypass::Stands;
use crate::shut::cost::{Cost, FourPort};
use crate::shut::cycle::Rhythm;
use crate::shut::enumerate::Reached;
use crate::shut::season::{Day, Of};
use crate::shut::special::{Special, What};
use crate::shut::state::Facts;
use crate::shut::study::names;
use crate::shut::water::RuleKind;
use serde::Serialize;

/// Version of the layout; it rises when a reader of the old one would go wrong.
pub const VERSION: u32 = 1;

#[derive(Serialize)]
struct Out {
    schema: &'static str,
    version: u32,
    made_by: &'static str,
    job: String,
    valves: Vec<String>,
    always_open: Vec<String>,
    reached: &'static str,
    combinations: f64,
    solved: usize,
    unanswered: usize,
    tripping: usize,
    open: State,
    worst: Option<State>,
    nearest_to_a_trip: Option<State>,
    smallest_tripping: Vec<Vec<String>>,
    smallest_safe: Option<Vec<Vec<String>>>,
    overflow: Vec<Overflow>,
    least_water: State,
    water_rules: Vec<Rule>,
    vessel_m3: Option<f64>,
    days_worst: Vec<DayOut>,
    days_worst_with_vessel: Vec<DayOut>,
    days_typical: Vec<DayOut>,
    days_open: Vec<DayOut>,
    other_states: Vec<Other>,
    stands_open: Vec<Leak>,
    shut_off_vessels: Vec<String>,
    four_port: Vec<FourPortOut>,
    kept_open: Vec<Kept>,
    enough_water_if_open: Option<Vec<String>>,
}

#[derive(Serialize)]
struct Other {
    state: String,
    answered: bool,
    flow_m3_h: Option<f64>,
    margin: Option<f64>,
    trips: bool,
}

#[derive(Serialize)]
struct Leak {
    name: String,
    share: Option<f64>,
    return_c: Option<f64>,
}

#[derive(Serialize)]
struct FourPortOut {
    vessel: Option<String>,
    primary_m3_h: Option<f64>,
    secondary_m3_h: Option<f64>,
    flow_c: Option<f64>,
    emitters_c: Option<f64>,
    emitters_return_c: Option<f64>,
    source_return_c: Option<f64>,
    supply_lost_k: Option<f64>,
    mean_lost_k: Option<f64>,
    year_kwh: Option<f64>,
}

#[derive(Serialize)]
struct Kept {
    name: String,
    water_m3: Option<f64>,
    heat_w: Option<f64>,
    still_trip: usize,
}

#[derive(Serialize)]
struct State {
    shut: Vec<String>,
    flow_m3_h: Option<f64>,
    margin: Option<f64>,
    trips: bool,
    water_m3: Option<f64>,
    heat_w: Option<f64>,
    valve_loss_pa: Option<f64>,
    return_c: Option<f64>,
    head_pa: Option<f64>,
}

#[derive(Serialize)]
struct Overflow {
    stands: String,
    in_file: bool,
    kv_m3_h: Option<f64>,
    above_pa: Option<f64>,
    below_pa: Option<f64>,
    can_be_set: bool,
    kv_needed_m3_h: Option<f64>,
}

#[derive(Serialize)]
struct Rule {
    rule: &'static str,
    asked_m3: Option<f64>,
    counts_m3: Option<f64>,
    short_m3: Option<f64>,
}

#[derive(Serialize)]
struct DayOut {
    outside_c: f64,
    load_share: Option<f64>,
    flow_c: Option<f64>,
    run_s: Option<f64>,
    stop_s: Option<f64>,
    starts_per_hour: Option<f64>,
    return_swing_k: Option<f64>,
}

fn state(shut: &Shut, f: &Facts) -> State {
    State {
        shut: names(&shut.valves, f.shut),
        flow_m3_h: rounded(f.flow_m3_s * 3600.0),
        margin: rounded(f.margin),
        trips: f.trips(),
        water_m3: rounded(f.water_m3),
        heat_w: rounded(f.heat_w),
        valve_loss_pa: f.valve_dp_pa.and_then(|(pa, _)| rounded(pa)),
        return_c: f.return_c.and_then(rounded),
        head_pa: rounded(f.head_pa),
    }
}

fn day(d: &Day) -> DayOut {
    let (run_s, stop_s, starts_per_hour, return_swing_k) = match d.rhythm {
        Rhythm::Cycles {
            run_s,
            stop_s,
            starts_per_hour,
            return_swing_k,
        } => (
            rounded(run_s),
            rounded(stop_s),
            rounded(starts_per_hour),
            rounded(return_swing_k),
        ),
        Rhythm::Steady { .. } => (None, Some(0.0), Some(0.0), Some(0.0)),
        Rhythm::Stands => (Some(0.0), None, Some(0.0), None),
    };
    DayOut {
        outside_c: d.outside_c,
        load_share: rounded(d.load_share),
        flow_c: rounded(d.flow_c),
        run_s,
        stop_s,
        starts_per_hour,
        return_swing_k,
    }
}

fn days(shut: &Shut, of: Of) -> Vec<DayOut> {
    shut.seasons
        .iter()
        .filter(|s| s.of == of)
        .flat_map(|s| s.days.iter().map(day))
        .collect()
}

fn other(special: &Special) -> Other {
    let facts = special.facts.as_ref().ok();
    Other {
        state: match &special.what {
            What::ZonePumpsOff => "zone pumps off".to_owned(),
            What::Overrun => "pump overrun, all shut".to_owned(),
            What::Frost => "frost circulation, all shut".to_owned(),
            What::House(name) => name.clone(),
        },
        answered: facts.is_some(),
        flow_m3_h: facts.and_then(|f| rounded(f.flow_m3_s * 3600.0)),
        margin: facts.and_then(|f| rounded(f.margin)),
        trips: facts.is_some_and(Facts::trips),
    }
}

fn four_ports(cost: &Cost) -> Vec<FourPortOut> {
    let of = |case: &FourPort| FourPortOut {
        vessel: cost.in_file.clone(),
        primary_m3_h: rounded(case.primary_m3_s * 3600.0),
        secondary_m3_h: rounded(case.secondary_m3_s * 3600.0),
        flow_c: rounded(cost.flow_c),
        emitters_c: rounded(case.mixing.emitters_c),
        emitters_return_c: rounded(case.mixing.emitters_return_c),
        source_return_c: rounded(case.mixing.source_return_c),
        supply_lost_k: rounded(case.mixing.supply_lost_k),
        mean_lost_k: rounded(case.mixing.mean_lost_k),
        year_kwh: rounded(case.year_j / 3.6e6),
    };
    cost.cases.iter().map(of).collect()
}

/// The whole study.
pub fn text(network: &Network, shut: &Shut) -> String {
    let c = &shut.combinations;
    let lists = |masks: &[u64]| {
        masks
            .iter()
            .map(|m| names(&shut.valves, *m))
            .collect::<Vec<_>>()
    };
    let out = Out {
        schema: "pipecarry.shut",
        version: VERSION,
        made_by: MADE_BY,
        job: network.title.clone(),
        valves: shut.valves.iter().map(|v| v.name.clone()).collect(),
        always_open: shut.always_open.clone(),
        reached: match c.reached {
            Reached::All => "all solved",
            Reached::Sampled { .. } if c.proved.is_ok() => "sets proved by monotony",
            Reached::Sampled { .. } => "few shut, few open and a seeded sample",
        },
        combinations: c.total,
        solved: c.tally.solved,
        unanswered: c.tally.unanswered.len(),
        tripping: c.tripping(),
        open: state(shut, &shut.open),
        worst: c.worst().map(|f| state(shut, f)),
        nearest_to_a_trip: c.nearest_miss().map(|f| state(shut, f)),
        smallest_tripping: lists(&c.trips),
        smallest_safe: c.safe.as_ref().map(|s| lists(s)),
        overflow: shut
            .windows
            .iter()
            .map(|w| Overflow {
                stands: match &w.stands {
                    Stands::File(n) | Stands::FirstPlace(n) | Stands::FarEnd(n) => n.clone(),
                },
                in_file: matches!(w.stands, Stands::File(_)),
                kv_m3_h: rounded(w.kv_m3h),
                above_pa: rounded(w.above_pa),
                below_pa: w.below_pa.and_then(rounded),
                can_be_set: w.width_pa().is_some(),
                kv_needed_m3_h: w.kv_needed_m3h.and_then(rounded),
            })
            .collect(),
        least_water: state(shut, &shut.driest),
        water_rules: shut
            .rules
            .iter()
            .map(|r| Rule {
                rule: match r.kind {
                    RuleKind::Maker => "maker's least water",
                    RuleKind::Defrost => "one defrost",
                    RuleKind::RunTime => "least run at least output",
                },
                asked_m3: rounded(r.asked_m3),
                counts_m3: rounded(r.counts_m3),
                short_m3: rounded(r.short_m3()),
            })
            .collect(),
        vessel_m3: shut.vessel_m3,
        days_worst: days(shut, Of::Worst),
        days_worst_with_vessel: days(shut, Of::WorstWithVessel),
        days_typical: days(shut, Of::Typical),
        days_open: days(shut, Of::Open),
        other_states: shut.special.iter().map(other).collect(),
        stands_open: shut
            .leaks
            .iter()
            .map(|(name, share, return_c)| Leak {
                name: name.clone(),
                share: rounded(*share),
                return_c: return_c.and_then(rounded),
            })
            .collect(),
        shut_off_vessels: shut.cut_off.iter().map(|(name, _)| name.clone()).collect(),
        four_port: shut.cost.iter().flat_map(four_ports).collect(),
        kept_open: shut
            .kept_open
            .iter()
            .map(|(name, water_m3, heat_w, still_trip)| Kept {
                name: name.clone(),
                water_m3: rounded(*water_m3),
                heat_w: rounded(*heat_w),
                still_trip: *still_trip,
            })
            .collect(),
        enough_water_if_open: shut.enough_open.as_ref().map(|rows| {
            rows.iter()
                .filter_map(|r| Some(shut.kept_open.get(*r)?.0.clone()))
                .collect()
        }),
    };
    super::json::any(&out)
}

/// How a table of combinations begins.
pub const COMBINATIONS_BEGIN: &str = "shut,open,flow_m3_h,";

#[derive(Serialize)]
struct Row {
    shut: String,
    open: usize,
    flow_m3_h: Option<f64>,
    margin: Option<f64>,
    trips: bool,
    water_m3: Option<f64>,
    heat_w: Option<f64>,
    valve_loss_pa: Option<f64>,
    return_c: Option<f64>,
    head_pa: Option<f64>,
}

/// Every combination that was solved, a row each.
pub fn combinations(shut: &Shut) -> String {
    let rows = shut.combinations.tally.kept.iter().flatten().map(|f| {
        let s = state(shut, f);
        Row {
            open: shut.valves.len() - s.shut.len(),
            shut: csv::cell(&s.shut.join("; ")),
            flow_m3_h: s.flow_m3_h,
            margin: s.margin,
            trips: s.trips,
            water_m3: s.water_m3,
            heat_w: s.heat_w,
            valve_loss_pa: s.valve_loss_pa,
            return_c: s.return_c,
            head_pa: s.head_pa,
        }
    });
    csv::table(rows)
}
