//! How the house runs: the source and pumps at their operating points, what each emitter gets and gives.

use super::{Paint, heading};
use crate::check::Study;
use crate::network::{PumpControl, StateKind};
use crate::report::layout::{Table, name, paragraph};
use crate::report::speak::{Speak, bare, unit};
use crate::solve::SourceLimit;
use crate::view::{LockshieldFrom, Required, Running};

pub(super) fn text(study: &Study, speak: &Speak<'_>, view: &Running, paint: Paint) -> String {
    let mut out = heading(&format!("As it runs: {}", speak.state(view.state)), paint);
    out.push_str(&paragraph("  ", lockshields(view)));
    for line in sources(study, speak, view)
        .into_iter()
        .chain(pumps(study, speak, view))
    {
        out.push_str(&paragraph("  - ", &line));
    }
    out.push_str(&mixing(study, speak, view));
    out.push_str(&emitters(study, speak, view));
    out
}

/// How lockshields stand, said on the first line.
fn lockshields(view: &Running) -> &'static str {
    let any = |from: LockshieldFrom| view.lockshields.iter().any(|(_, f)| *f == from);
    match (
        any(LockshieldFrom::Balanced),
        any(LockshieldFrom::Open),
        any(LockshieldFrom::File),
    ) {
        (true, _, true) => {
            "Lockshields as the file sets them; where it is silent, as balancing would set them."
        }
        (true, _, false) => {
            "Lockshields stand as balancing would set them (--unset open shows them open)."
        }
        (_, true, true) => "Lockshields as the file sets them; where it is silent, fully open.",
        (_, true, false) => "Lockshields stand fully open.",
        (false, false, true) => "Lockshields as the file sets them.",
        (false, false, false) => "There are no lockshields.",
    }
}

fn sources(study: &Study, speak: &Speak<'_>, view: &Running) -> Vec<String> {
    let sources = study.network.sources.iter().zip(&view.solved.sources);
    sources
        .map(|(source, at)| {
            let who = speak.name(&source.name);
            let temperatures = match (at.flow_c, at.return_c) {
                (Some(flow), Some(back)) => format!(
                    ", flow {}, return {}, drop {}",
                    speak.temperature(flow),
                    speak.temperature(back),
                    speak.difference(flow - back)
                ),
                _ => String::new(),
            };
            let made = format!("{who} makes {}{temperatures}", speak.kilowatt(at.output_w));
            match at.limit {
                SourceLimit::FlowTemperature => format!("{made}; the house takes no more at this flow temperature"),
                SourceLimit::Output => {
                    format!("{made}; that is all it can, and the flow temperature has fallen until it is enough")
                }
                SourceLimit::LeastOutput => format!("{made}; that is under its least output: it stops and starts"),
                SourceLimit::WarmReturn => {
                    format!("{who} gives nothing{temperatures}; the water it gets is warmer than the water it would make")
                }
                SourceLimit::Idle => format!("{who} stands still"),
            }
        })
        .collect()
}

fn pumps(study: &Study, speak: &Speak<'_>, view: &Running) -> Vec<String> {
    let most = view
        .solved
        .pumps
        .iter()
        .fold(0.0_f64, |most, at| most.max(at.flow_m3_s.abs()));
    let pumps = study.network.pumps.iter().zip(&view.solved.pumps);
    pumps
        // a trickle beside the house's greatest flow is rounding: the pump stands still
        .filter(|(_, at)| at.flow_m3_s.abs() > 1e-6 * most)
        .map(|(pump, at)| {
            let mode = match pump.mode {
                PumpControl::FixedSpeed(_) => "at fixed speed".to_owned(),
                PumpControl::ConstantHead(pa) => {
                    format!("at constant head, set to {}", speak.pressure(pa))
                }
                PumpControl::ProportionalHead { head_pa, .. } => {
                    format!("at proportional head, set to {}", speak.pressure(head_pa))
                }
                PumpControl::HeldToFlow(kg_s) => format!("held to {}", speak.mass_flow(kg_s)),
                PumpControl::HeldToDrop { drop_k, .. } => {
                    format!("held to a drop of {}", speak.difference(drop_k))
                }
            };
            let given = if pump.mode_given { "" } else { " (assumed)" };
            let limited = if at.limited {
                "; it cannot do what it is set to"
            } else {
                ""
            };
            format!(
                "pump of {}: {} at {}, {} of full speed, {mode}{given}{limited}",
                speak.name(&pump.name),
                speak.flow(at.flow_m3_s),
                speak.pressure(at.head_pa),
                speak.show.percent(at.speed)
            )
        })
        .collect()
}

fn mixing(study: &Study, speak: &Speak<'_>, view: &Running) -> String {
    let mut out = String::new();
    for m in &view.mixing {
        let Some(vessel) = study.network.vessels.get(m.vessel) else {
            continue;
        };
        let text = format!(
            "{}: {} from the unit at {}, {} to the emitters at {}; the emitters' mean temperature loses {}",
            speak.name(&vessel.name),
            speak.mass_flow(m.primary_kg_s),
            speak.temperature(m.primary_c.0),
            speak.mass_flow(m.secondary_kg_s),
            speak.temperature(m.secondary_c.0),
            speak.difference(m.lost_on_mean_k)
        );
        out.push_str(&paragraph("  - ", &text));
    }
    out
}

/// While hot water is made the emitters wait; water that passes one all the same is said.
fn standing(study: &Study, speak: &Speak<'_>, view: &Running) -> String {
    // under a millionth of the source's flow is rounding
    let most = view
        .solved
        .flow_kg_s
        .iter()
        .fold(0.0_f64, |most, q| most.max(q.abs()));
    let emitters = study.network.emitters.iter().zip(&view.emitters);
    let moved: Vec<String> = emitters
        .filter(|(_, at)| at.flow_kg_s.abs() > 1e-6 * most)
        .map(|(emitter, at)| {
            format!(
                "{} {}",
                speak.name(&emitter.name),
                speak.mass_flow(at.flow_kg_s)
            )
        })
        .collect();
    let text = if moved.is_empty() {
        "the emitters stand still meanwhile".to_owned()
    } else {
        format!("water passes emitters all the same: {}", moved.join(", "))
    };
    paragraph("  - ", &text)
}

/// What each emitter gets and gives, against what it needs; and what it asks for.
fn emitters(study: &Study, speak: &Speak<'_>, view: &Running) -> String {
    let network = &study.network;
    if network
        .states
        .get(view.state)
        .is_some_and(|s| s.kind == StateKind::HotWater)
    {
        return standing(study, speak, view);
    }
    let required: Option<&Required> = study.required.iter().find(|r| r.state == view.state);
    let flow_unit = unit(&speak.mass_flow(0.1));
    let degree = unit(&speak.temperature(20.0));
    let kelvin = unit(&speak.difference(5.0));
    let mut table = Table::new(&[
        "<emitter", "<kind", &degree, "needs", "gives", "wants", &flow_unit, &kelvin, "asks for",
        "<",
    ]);
    for (i, (emitter, at)) in network.emitters.iter().zip(&view.emitters).enumerate() {
        if at.flow_kg_s == 0.0 && at.need_w == 0.0 {
            continue;
        }
        let room = network.rooms.get(emitter.room).map(|r| r.temperature_c);
        let asks = required.and_then(|r| r.emitters.get(i));
        let drop = at.in_c.zip(at.out_c).map(|(a, b)| a - b);
        let power_unit = unit(&speak.power(500.0));
        let temperature = |c: Option<f64>| {
            c.map(|c| bare(&speak.temperature(c), &degree))
                .unwrap_or_default()
        };
        table.row(vec![
            name(&emitter.name, 14),
            name(&emitter.type_words, 12),
            temperature(room),
            bare(&speak.power(at.need_w), &power_unit),
            bare(&speak.power(at.heat_w), &power_unit),
            asks.map(|a| bare(&speak.mass_flow(a.flow_kg_s), &flow_unit))
                .unwrap_or_default(),
            bare(&speak.mass_flow(at.flow_kg_s), &flow_unit),
            drop.map(|k| bare(&speak.difference(k), &kelvin))
                .unwrap_or_default(),
            temperature(asks.and_then(|a| a.source_c)),
            if at.heat_w < at.need_w * 0.999 {
                "short".into()
            } else {
                String::new()
            },
        ]);
    }
    if table.is_empty() {
        return String::new();
    }
    let asks = if required.is_some() {
        "; `wants` is the flow that its duty takes, `asks for` the flow temperature at the heat source at which that \
         flow gives what the room needs"
    } else {
        ""
    };
    let note = format!(
        "Emitters: heat in {}{asks}. Excess temperatures by the {} mean.",
        unit(&speak.power(500.0)),
        match network.design.mean {
            crate::survey::Mean::Logarithmic => "logarithmic",
            crate::survey::Mean::Arithmetic => "arithmetic",
        }
    );
    format!("\n{}{}", paragraph("  ", &note), table.text())
}
