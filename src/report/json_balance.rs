//! How to set a house, as JSON and as CSV: keys carry their unit, the same whatever the user reads.

mod shape;

use super::sheet::{Sheet, row};
use super::{MADE_BY, csv, rounded};
use crate::balance::{Balance, CLAMP_K, Day, Lack, Mild, Valve, Warning, Why};
use crate::hydraulics::local::M3_H;
use crate::network::{Network, PumpControl, SetterKind};
use schemars::JsonSchema;
use serde::Serialize;
use shape::{
    Answer, Branch, DayOut, EmitterOut, LackOut, NextOut, Out, ReadOut, Setting, SourceOut, StepOut,
};

/// Version of the layout; it rises when a reader of the old one would go wrong.
pub const VERSION: u32 = 1;

/// How every table of settings begins.
pub const BEGIN: &str = "walk,emitter,storey,sets,kv_m3_h,";

row! {
    /// The settings of one pump at which it gives the head needed.
    #[derive(Serialize, JsonSchema)]
    #[serde(deny_unknown_fields)]
    pub(super) struct Pump {
        /// The pump.
        pump: String,
        /// How it is run: `fixed speed`, `constant head`, `proportional head`, `held to flow` or `held to drop`.
        mode: &'static str,
        /// Flow through it.
        flow_m3_h: Option<f64>,
        /// Head needed there.
        needed_pa: Option<f64>,
        /// Head that it gives there at full speed.
        full_speed_pa: Option<f64>,
        /// Head that it lacks; 0 where it is enough.
        short_pa: Option<f64>,
        /// The unit's least flow, where that is more than the emitters are to get.
        least_flow_m3_h: Option<f64>,
        /// Setting where it is run at constant head; nothing where it lacks head.
        constant_head_pa: Option<f64>,
        /// Setting where it is run at proportional head: the head at which its line meets the curve, half of it at no flow.
        proportional_head_pa: Option<f64>,
        /// Setting where it is run at fixed speed, as a share of full speed.
        speed: Option<f64>,
        /// The emitter whose valve stands fully open.
        index: Option<String>,
    }
}

fn sets(kind: SetterKind) -> &'static str {
    match kind {
        SetterKind::Lockshield => "lockshield",
        SetterKind::Valve => "valve",
        SetterKind::Port => "port",
        SetterKind::Branch => "branch",
    }
}

fn mode(control: PumpControl) -> &'static str {
    match control {
        PumpControl::FixedSpeed(_) => "fixed speed",
        PumpControl::ConstantHead(_) => "constant head",
        PumpControl::ProportionalHead { .. } => "proportional head",
        PumpControl::HeldToFlow(_) => "held to flow",
        PumpControl::HeldToDrop { .. } => "held to drop",
    }
}

fn warning(warning: &Warning) -> &'static str {
    match warning {
        Warning::BelowTable(_) => "below its table",
        Warning::AboveTable(_) => "above its table",
        Warning::NearlyShut(_) => "nearly shut",
        Warning::LowAuthority(..) => "low authority",
        Warning::Noise(..) => "may be heard",
    }
}

fn because(why: &Why) -> &'static str {
    match why {
        Why::NothingToSet => "nothing can be set",
        Why::OnePipe => "one-pipe main",
        Why::PumpShort(..) => "the pump lacks head",
        Why::LeastFlow(..) => "the unit's least flow is more",
        Why::Held(_) => "a flow-holding valve holds less",
        Why::Others => "others cannot be set",
        Why::NotAsked => "not asked",
    }
}

/// A setting on the valve's own scale: turns or number.
fn on_scale(network: &Network, v: &Valve, kv: Option<f64>) -> (Option<f64>, Option<f64>) {
    let table = v
        .setter
        .and_then(|s| s.table)
        .and_then(|t| network.valve_tables.get(t));
    match (table, kv) {
        (Some(t), Some(kv)) if t.presets => (None, rounded(t.mark(kv))),
        (Some(t), Some(kv)) => (rounded(t.mark(kv)), None),
        _ => (None, None),
    }
}

fn setting(network: &Network, b: &Balance, i: usize) -> Setting {
    let v = &b.valves[i];
    let (turns, number) = on_scale(network, v, v.kv_m3h);
    let answers = b.answers[i].iter().flatten().enumerate();
    Setting {
        emitter: network.emitters[i].name.clone(),
        storey: b.walk.storeys[i].clone(),
        sets: v.setter.map(|s| sets(s.kind)),
        kv_m3_h: v.kv_m3h.and_then(rounded),
        turns,
        number,
        fully_open: v.open,
        index: v.index,
        wanted_kg_s: rounded(v.wanted_kg_s),
        gets_kg_s: rounded(v.gets_kg_s),
        loss_pa: rounded(v.loss_pa),
        authority: v.authority.and_then(rounded),
        warnings: v.warnings.iter().map(warning).collect(),
        off_because: v.why.as_ref().map(because),
        fit_kv_m3_h: v.fit.and_then(|f| rounded(f.kv_m3h)),
        answers: answers
            .map(|(j, kg_s)| Answer {
                emitter: network.emitters[j].name.clone(),
                flow_kg_s: rounded(*kg_s),
            })
            .collect(),
    }
}

fn lack(network: &Network, lack: &Lack) -> LackOut {
    let none = LackOut {
        lack: "heat",
        room: None,
        source: None,
        heat_w: None,
        needs_w: None,
        flow_m3_h: None,
        limit_m3_h: None,
    };
    let of_source = |lack, source: usize, flow_m3_s: f64, limit_m3_s: f64| LackOut {
        lack,
        source: Some(network.sources[source].name.clone()),
        flow_m3_h: rounded(flow_m3_s * M3_H),
        limit_m3_h: rounded(limit_m3_s * M3_H),
        ..none.clone()
    };
    match *lack {
        Lack::Heat {
            room,
            gets_w,
            needs_w,
            heads_open,
        } => LackOut {
            lack: if heads_open {
                "heat while heads are open"
            } else {
                "heat"
            },
            room: Some(network.rooms[room].name.clone()),
            heat_w: rounded(gets_w),
            needs_w: rounded(needs_w),
            ..none
        },
        Lack::LeastFlow {
            source,
            flow_m3_s,
            least_m3_s,
        } => of_source("least flow", source, flow_m3_s, least_m3_s),
        Lack::GreatestFlow {
            source,
            flow_m3_s,
            greatest_m3_s,
        } => of_source("greatest flow", source, flow_m3_s, greatest_m3_s),
    }
}

fn day(network: &Network, day: &Day) -> DayOut {
    let emitters = network.emitters.iter().zip(&day.emitters);
    DayOut {
        outside_c: day.outside_c.and_then(rounded),
        share: rounded(day.share),
        sources: day
            .sources
            .iter()
            .map(|at| SourceOut {
                source: network.sources[at.source].name.clone(),
                flow_c: rounded(at.flow_c),
                return_c: rounded(at.return_c),
                flow_m3_h: rounded(at.flow_m3_s * M3_H),
                output_w: rounded(at.output_w),
            })
            .collect(),
        emitters: emitters
            .filter_map(|(emitter, at)| {
                let at = at.as_ref()?;
                Some(EmitterOut {
                    emitter: emitter.name.clone(),
                    flow_kg_s: rounded(at.flow_kg_s),
                    in_c: rounded(at.in_c),
                    out_c: rounded(at.out_c),
                    drop_k: rounded(at.drop_k()),
                    heat_w: rounded(at.heat_w),
                })
            })
            .collect(),
    }
}

fn pump_rows<'a>(network: &'a Network, b: &'a Balance) -> impl Iterator<Item = Pump> + 'a {
    b.pumps.iter().map(|p| Pump {
        pump: network.pumps[p.pump].name.clone(),
        mode: mode(p.control),
        flow_m3_h: rounded(p.flow_m3_s * M3_H),
        needed_pa: rounded(p.needed_pa),
        full_speed_pa: rounded(p.full_pa),
        short_pa: rounded(p.short_pa),
        least_flow_m3_h: p.least_m3_s.and_then(|q| rounded(q * M3_H)),
        constant_head_pa: rounded(p.needed_pa).filter(|_| p.short_pa == 0.0),
        proportional_head_pa: p.proportional_pa.and_then(rounded),
        speed: p.speed.and_then(rounded),
        index: p.index.map(|i| network.emitters[i].name.clone()),
    })
}

/// How each pump is set.
pub fn pumps(network: &Network, balance: Option<&Balance>) -> Sheet {
    let rows = balance.into_iter().flat_map(|b| pump_rows(network, b));
    Sheet::of("pumps", rows)
}

/// JSON Schema of the result, as published.
pub fn schema() -> String {
    let mut schema = schemars::schema_for!(Out);
    schema.insert("title".into(), "Result of pipecarry balance".into());
    super::json::any(&schema)
}

/// The whole balance.
pub fn text(network: &Network, b: &Balance) -> String {
    let emitter = |i: usize| network.emitters[i].name.clone();
    let out = Out {
        schema: "pipecarry.balance",
        version: VERSION,
        made_by: MADE_BY,
        job: network.title.clone(),
        pumps: pump_rows(network, b).collect(),
        valves: (0..b.valves.len())
            .map(|i| setting(network, b, i))
            .collect(),
        branches: b
            .branches
            .iter()
            .filter_map(|v| {
                Some(Branch {
                    valve: network.element(v.setter?.element).name.clone(),
                    kv_m3_h: v.kv_m3h.and_then(rounded),
                    fully_open: v.open,
                    loss_pa: rounded(v.loss_pa),
                })
            })
            .collect(),
        walk: b.walk.order.iter().map(|&i| emitter(i)).collect(),
        walk_m: rounded(b.walk.length_m),
        walk_is_shortest: b.walk.exact,
        lacks: b.lacks.iter().map(|l| lack(network, l)).collect(),
        design_day: day(network, &b.design),
        mild_day: match &b.mild {
            Mild::Day(mild) => Some(day(network, mild)),
            Mild::NotColder | Mild::NoAnswer => None,
        },
        clamp_difference_k: CLAMP_K,
        next: b.next.as_ref().map(|next| NextOut {
            read: next
                .read
                .iter()
                .map(|r| ReadOut {
                    emitter: emitter(r.emitter),
                    flow_kg_s: rounded(r.flow_kg_s),
                    least_kg_s: rounded(r.admits_kg_s.0),
                    greatest_kg_s: rounded(r.admits_kg_s.1),
                    wanted_kg_s: rounded(r.wanted_kg_s),
                    drop_k: r.drop_k.and_then(rounded),
                    should_be_k: r.should_k.and_then(rounded),
                    within_instrument: r.within,
                    held_by_valve: r.held,
                })
                .collect(),
            set: (0..b.valves.len())
                .filter(|&i| b.valves[i].setter.is_some())
                .map(|i| {
                    let (turns, number) = on_scale(network, &b.valves[i], next.kv[i]);
                    StepOut {
                        emitter: emitter(i),
                        stood_kv_m3_h: next.stood[i].and_then(rounded),
                        kv_m3_h: next.kv[i].and_then(rounded),
                        turns,
                        number,
                        off_if_left: next.if_left[i].and_then(rounded),
                    }
                })
                .collect(),
        }),
    };
    super::json::any(&out)
}

row! {
    struct Row {
        walk: Option<usize>,
        emitter: String,
        storey: String,
        sets: &'static str,
        kv_m3_h: Option<f64>,
        turns: Option<f64>,
        number: Option<f64>,
        fully_open: bool,
        index: bool,
        wanted_kg_s: Option<f64>,
        gets_kg_s: Option<f64>,
        loss_pa: Option<f64>,
        authority: Option<f64>,
        design_in_c: Option<f64>,
        design_out_c: Option<f64>,
        mild_in_c: Option<f64>,
        mild_out_c: Option<f64>,
        next_kv_m3_h: Option<f64>,
        warnings: String,
        off_because: &'static str,
    }
}

/// A row for each emitter, in the order of the file, as CSV.
pub fn rows(network: &Network, b: &Balance) -> String {
    csv::text(&valves(network, Some(b)))
}

/// A row for each emitter, in the order of the file.
pub fn valves(network: &Network, balance: Option<&Balance>) -> Sheet {
    let rows = balance.into_iter().flat_map(|b| valve_rows(network, b));
    Sheet::of("valves", rows)
}

fn valve_rows<'a>(network: &'a Network, b: &'a Balance) -> impl Iterator<Item = Row> + 'a {
    let mild = |i: usize| match &b.mild {
        Mild::Day(day) => day.emitters[i],
        Mild::NotColder | Mild::NoAnswer => None,
    };
    (0..b.valves.len()).map(move |i| {
        let s = setting(network, b, i);
        let design = b.design.emitters[i];
        Row {
            walk: b.walk.order.iter().position(|&k| k == i).map(|k| k + 1),
            emitter: s.emitter.clone(),
            storey: s.storey.clone().unwrap_or_default(),
            sets: s.sets.unwrap_or_default(),
            kv_m3_h: s.kv_m3_h,
            turns: s.turns,
            number: s.number,
            fully_open: s.fully_open,
            index: s.index,
            wanted_kg_s: s.wanted_kg_s,
            gets_kg_s: s.gets_kg_s,
            loss_pa: s.loss_pa,
            authority: s.authority,
            design_in_c: design.and_then(|a| rounded(a.in_c)),
            design_out_c: design.and_then(|a| rounded(a.out_c)),
            mild_in_c: mild(i).and_then(|a| rounded(a.in_c)),
            mild_out_c: mild(i).and_then(|a| rounded(a.out_c)),
            next_kv_m3_h: b.next.as_ref().and_then(|n| n.kv[i]).and_then(rounded),
            warnings: s.warnings.join("; "),
            off_because: s.off_because.unwrap_or_default(),
        }
    })
}
