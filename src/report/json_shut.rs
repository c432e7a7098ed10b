//! What happens when valves close, as JSON and as CSV: keys carry their unit, the same whatever the user reads.

mod layout;

use self::layout::*;
use super::sheet::row;
use super::{MADE_BY, csv, rounded};
use crate::network::Network;
use crate::network::PumpControl;
use crate::shut::Shut;
use crate::shut::alike;
use crate::shut::bypass::Stands;
use crate::shut::bypass::{Change, Remedy};
use crate::shut::cost::{Cost, FourPort};
use crate::shut::counted::Counted;
use crate::shut::cycle::Rhythm;
use crate::shut::defrost::Defrost;
use crate::shut::enumerate::Reached;
use crate::shut::season::{Day, Of};
use crate::shut::sets::Mask;
use crate::shut::special::{Special, What};
use crate::shut::state::Facts;
use crate::shut::study::names;
use crate::shut::tally::Level;
use crate::shut::water::RuleKind;

/// Version of the layout; it rises when a reader of the old one would go wrong.
pub const VERSION: u32 = 1;

fn state(shut: &Shut, f: &Facts) -> State {
    State {
        shut: names(&shut.valves, f.shut),
        flow_m3_h: rounded(f.flow_m3_s * 3600.0),
        margin: rounded(f.margin),
        spare_head_share: f.spare.and_then(rounded),
        trips: f.trips(),
        water_m3: rounded(f.water_m3),
        heat_w: rounded(f.heat_w),
        valve_loss_pa: f.valve_dp_pa.and_then(|(pa, _)| rounded(pa)),
        valve_flow_m3_h: f.valve_flow_m3_s.and_then(|q| rounded(q * 3600.0)),
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
        pump_w: rounded(case.pump.0),
        pump_year_kwh: rounded(case.pump.1 / 3.6e6),
        seasonal_efficiency: cost.year.scop.0,
        slope_percent_a_k: rounded(100.0 * cost.year.slope_per_k.0),
        heat_of_a_year_kwh: rounded(cost.year.heat_j.0 / 3.6e6),
    };
    cost.cases.iter().map(of).collect()
}

fn by_open(levels: &[Option<Level>]) -> Vec<ByOpen> {
    let valves = levels.len().saturating_sub(1);
    let row = |(shut, level): (usize, &Option<Level>)| {
        let level = (*level)?;
        Some(ByOpen {
            open: valves - shut,
            least_m3_h: rounded(level.least * 3600.0),
            greatest_m3_h: rounded(level.greatest * 3600.0),
            solved: level.solved,
            tripping: level.tripping,
        })
    };
    levels.iter().enumerate().filter_map(row).collect()
}

fn defrost(d: &Defrost) -> DefrostOut {
    DefrostOut {
        state: d.state.clone(),
        return_c: rounded(d.return_c),
        outside_c: d.outside_c,
        fall_k: d.fall_k.and_then(rounded),
        refused: d.refused(),
        flow_m3_h: rounded(d.flow_m3_s * 3600.0),
        water_m3: rounded(d.water_m3),
    }
}

fn remedy(shut: &Shut, remedy: &Remedy) -> RemedyOut {
    let change = match &remedy.change {
        Change::OneMoreOpen(valve) => {
            let name = shut.valves.get(*valve).map_or("one more", |v| &v.name);
            format!("{name} always open")
        }
        Change::Pump(PumpControl::FixedSpeed(_)) => "pump at full speed".to_owned(),
        Change::Pump(PumpControl::ConstantHead(_)) => "pump on constant head".to_owned(),
        Change::Pump(PumpControl::ProportionalHead { .. }) => {
            "pump on proportional head".to_owned()
        }
        Change::Pump(_) => "another pump mode".to_owned(),
    };
    RemedyOut {
        change,
        from_pa: remedy.window_pa.and_then(|w| rounded(w.0)),
        to_pa: remedy.window_pa.and_then(|w| rounded(w.1)),
    }
}

fn counts(network: &Network, shut: &Shut, counted: &Counted) -> ByCounts {
    ByCounts {
        groups: counted
            .groups
            .iter()
            .map(|g| GroupOut {
                name: alike::name(network, &shut.valves, &counted.groups, g),
                valves: g
                    .valves
                    .iter()
                    .filter_map(|v| Some(shut.valves.get(*v)?.name.clone()))
                    .collect(),
            })
            .collect(),
        sure_to_trip: counted.tripping.0,
        may_trip: counted.tripping.1,
        trips_if_shut: counted.trips.clone(),
        safe_if_open: counted.safe.clone(),
    }
}

/// The layout, as JSON Schema.
pub fn schema() -> String {
    let mut schema = schemars::schema_for!(Out);
    schema.insert("title".into(), "Result of pipecarry shut".into());
    super::json::any(&schema)
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
            Reached::Sampled { .. } if c.proved.as_ref().is_ok_and(|p| p.exact) => {
                "sets exact by bounds; the rest few shut, few open and a seeded sample"
            }
            Reached::Sampled { .. } if c.proved.is_ok() => {
                "safe sets by bounds; the rest few shut, few open and a seeded sample"
            }
            Reached::Sampled { .. } => "few shut, few open and a seeded sample",
        },
        bounds: c.proved.as_ref().ok().map(|p| Bounds {
            exact: p.exact,
            sure_to_trip: p.tripping.map(|t| t.0),
            may_trip: p.tripping.map(|t| t.1),
            coldest_c: p.water_c.and_then(|t| rounded(t.0)),
            hottest_c: p.water_c.and_then(|t| rounded(t.1)),
        }),
        combinations: c.total,
        solved: c.tally.solved,
        unanswered: c.tally.unanswered.len(),
        tripping: c.tripping(),
        open: state(shut, &shut.open),
        worst: c.worst().map(|f| state(shut, f)),
        nearest_to_a_trip: c.nearest_miss().map(|f| state(shut, f)),
        least_heat: c.tally.idlest.as_ref().map(|f| state(shut, f)),
        loudest: c.tally.loudest.as_ref().map(|f| state(shut, f)),
        by_open: by_open(&c.tally.levels),
        throttled: shut
            .throttled
            .iter()
            .flat_map(|t| &t.rows)
            .map(|(share, f)| ThrottledOut {
                kv_share: *share,
                flow_m3_h: rounded(f.flow_m3_s * 3600.0),
                heat_w: rounded(f.heat_w),
                valve_loss_pa: f.valve_dp_pa.and_then(|(pa, _)| rounded(pa)),
                trips: f.trips(),
            })
            .collect(),
        throttled_trips_at: shut.throttled.as_ref().and_then(|t| rounded(t.trips_at?.0)),
        smallest_tripping: lists(&c.trips),
        smallest_safe: c.safe_listed.then(|| lists(&c.safe)),
        one_safe: c.safe.first().map(|s| names(&shut.valves, *s)),
        never_trips_up_to_shut: c.whichever().0,
        always_trips_from_shut: c.whichever().1,
        by_counts: c.counted.as_ref().map(|c| counts(network, shut, c)),
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
                leak_share: w.leak.and_then(|l| rounded(l.0)),
                leak_return_c: w.leak.and_then(|l| rounded(l.1?)),
                remedies: w.remedies.iter().map(|r| remedy(shut, r)).collect(),
            })
            .collect(),
        least_water: state(shut, &shut.driest),
        water: shut
            .water
            .iter()
            .map(|(what, m3)| Held {
                what,
                water_m3: rounded(*m3),
            })
            .collect(),
        defrosts: shut.defrosts.iter().map(defrost).collect(),
        water_rules: shut
            .rules
            .iter()
            .map(|r| Rule {
                rule: match r.kind {
                    RuleKind::Maker => "maker's least water",
                    RuleKind::Defrost => "one defrost",
                    RuleKind::RunTime => "least run at least output",
                },
                state: r.state.clone(),
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
            .map(|row| Kept {
                name: row.name.clone(),
                water_m3: rounded(row.water_m3),
                heat_w: rounded(row.heat_w),
                still_trip: row.still_trip,
            })
            .collect(),
        enough_water_if_open: shut.enough_open.map(|left| names(&shut.valves, left.open)),
        enough_water_state: shut.enough_open.map(|left| state(shut, &left.facts)),
    };
    super::json::any(&out)
}

/// How a table of combinations begins.
pub const COMBINATIONS_BEGIN: &str = "shut,open,flow_m3_h,";

row! {
    struct Row {
        shut: String,
        open: usize,
        flow_m3_h: Option<f64>,
        margin: Option<f64>,
        trips: Option<bool>,
        water_m3: Option<f64>,
        heat_w: Option<f64>,
        valve_loss_pa: Option<f64>,
        valve_flow_m3_h: Option<f64>,
        return_c: Option<f64>,
        head_pa: Option<f64>,
        spare_head_share: Option<f64>,
        answered: bool,
    }
}

/// Every combination that was looked at, a row each; one without an answer has no figures.
pub fn combinations(shut: &Shut) -> String {
    let tally = &shut.combinations.tally;
    let solved = tally.kept.iter().flatten().map(|f| (f.shut, Some(f)));
    let unanswered = tally.unanswered.iter().map(|(mask, _)| (*mask, None));
    let mut all: Vec<(Mask, Option<&Facts>)> = solved.chain(unanswered).collect();
    all.sort_by_key(|(mask, _)| *mask);
    let rows = all.into_iter().map(|(mask, facts)| {
        let solved = facts.map(|f| state(shut, f));
        let of = |figure: fn(&State) -> Option<f64>| solved.as_ref().and_then(figure);
        Row {
            shut: names(&shut.valves, mask).join("; "),
            open: shut.valves.len() - mask.count_ones() as usize,
            flow_m3_h: of(|s| s.flow_m3_h),
            margin: of(|s| s.margin),
            trips: facts.map(Facts::trips),
            water_m3: of(|s| s.water_m3),
            heat_w: of(|s| s.heat_w),
            valve_loss_pa: of(|s| s.valve_loss_pa),
            valve_flow_m3_h: of(|s| s.valve_flow_m3_h),
            return_c: of(|s| s.return_c),
            head_pa: of(|s| s.head_pa),
            spare_head_share: of(|s| s.spare_head_share),
            answered: facts.is_some(),
        }
    });
    csv::table(rows)
}
