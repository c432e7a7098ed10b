//! What happens when valves close, as JSON and as CSV: keys carry their unit, the same whatever the user reads.

use super::{MADE_BY, csv, rounded};
use crate::network::Network;
use crate::shut::Shut;
use crate::shut::bypass::Stands;
use crate::shut::cycle::Rhythm;
use crate::shut::enumerate::Reached;
use crate::shut::season::Day;
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
    days_open: Vec<DayOut>,
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
        days_worst: shut.days.0.iter().map(day).collect(),
        days_open: shut.days.1.iter().map(day).collect(),
    };
    super::json::any(&out)
}

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
