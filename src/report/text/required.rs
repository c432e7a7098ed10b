//! What the emitters' duty requires: head on the index circuit by group, every run, what each could carry.

use super::{Paint, heading, headline};
use crate::check::{Study, Subject, Verdict};
use crate::network::{PartGroup, RunKind};
use crate::report::layout::{Table, name, paragraph};
use crate::report::speak::{Speak, bare, unit};
use crate::report::words;
use crate::view::{PumpedCircuit, Required, RunCapacity};

/// Columns that a run's name takes.
const NAME: usize = 20;

pub(super) fn text(study: &Study, speak: &Speak<'_>, view: &Required, paint: Paint) -> String {
    let mut out = heading(&format!("Required: {}", speak.state(view.state)), paint);
    out.push_str(&paragraph("  ", &basis(study, speak, view)));
    for circuit in &view.circuits {
        out.push_str(&breakdown(study, speak, circuit));
    }
    out.push_str(&runs(study, speak, view));
    out.push_str(&capacity(study, speak, view));
    out
}

/// The candidates for the unit's flow, and the one used.
fn basis(study: &Study, speak: &Speak<'_>, view: &Required) -> String {
    let mut lines = Vec::new();
    for (source, basis) in study.network.sources.iter().zip(&view.basis) {
        if basis.flow_kg_s <= 0.0 {
            continue;
        }
        let mut beside = vec![format!("room needs {}", speak.kilowatt(basis.rooms_w))];
        beside.extend(
            basis
                .load_w
                .map(|w| format!("declared load {}", speak.kilowatt(w))),
        );
        beside.extend(
            basis
                .nominal_kg_s
                .map(|q| format!("nominal flow {}", speak.mass_flow(q))),
        );
        let used = match basis.used {
            crate::view::BasisUsed::Rooms => "the room needs",
            crate::view::BasisUsed::Load => "the declared load",
            crate::view::BasisUsed::Nominal => "the nominal flow",
            crate::view::BasisUsed::Output => "the unit's full output",
            crate::view::BasisUsed::HeldFlow => "the flow that the pump is held to",
        };
        lines.push(format!(
            "{} carries {} by {used} ({}).",
            speak.name(&source.name),
            speak.mass_flow(basis.flow_kg_s),
            beside.join(", ")
        ));
    }
    lines.push("Lockshields fully open, valves at their design kv.".into());
    lines.join(" ")
}

fn group(group: PartGroup) -> &'static str {
    match group {
        PartGroup::Pipe => "straight pipe",
        PartGroup::Fittings => "fittings",
        PartGroup::Tees => "tees",
        PartGroup::Valves => "valves",
        PartGroup::Devices => "strainers, meters and the like",
        PartGroup::Emitter => "the emitter itself",
        PartGroup::Source => "the unit itself",
        PartGroup::Plant => "vessels, coils, exchangers",
    }
}

/// The index circuit's loss by group, to its sum.
fn breakdown(study: &Study, speak: &Speak<'_>, circuit: &PumpedCircuit) -> String {
    let Some(path) = circuit.paths.get(circuit.index) else {
        return String::new();
    };
    let through = speak.name(&path.through.name(&study.network));
    let mut out = String::from("\n");
    out.push_str(&paragraph(
        "  ",
        &format!(
            "Index circuit: {} through {through}, {}",
            speak.name(&circuit.name),
            speak.flow(circuit.flow_m3_s)
        ),
    ));
    let mut table = Table::new(&["<", "loss", "share"]);
    for &(g, loss) in &path.breakdown {
        let share = if path.loss_pa == 0.0 {
            0.0
        } else {
            loss / path.loss_pa
        };
        table.row(vec![
            group(g).into(),
            speak.pressure(loss),
            speak.show.percent(share),
        ]);
    }
    table.row(vec![
        "needed in all".into(),
        speak.pressure(path.loss_pa),
        String::new(),
    ]);
    if let Some(available) = circuit.available_pa {
        table.row(vec![
            "the pump gives".into(),
            speak.pressure(available),
            String::new(),
        ]);
        let left = available - circuit.needed_pa;
        let word = if left < 0.0 { "short" } else { "left" };
        let share = if available > 0.0 {
            speak.show.percent(left.abs() / available)
        } else {
            String::new()
        };
        table.row(vec![word.into(), speak.pressure(left.abs()), share]);
    }
    out.push_str(&table.text());
    let mut others: Vec<_> = circuit
        .paths
        .iter()
        .enumerate()
        .filter(|(i, _)| *i != circuit.index)
        .collect();
    others.sort_by(|a, b| b.1.loss_pa.total_cmp(&a.1.loss_pa));
    let shown: Vec<String> = others
        .iter()
        .map(|(_, p)| {
            format!(
                "{} {}",
                speak.name(&p.through.name(&study.network)),
                speak.pressure(p.loss_pa)
            )
        })
        .collect();
    if !shown.is_empty() {
        out.push_str(&paragraph(
            "  ",
            &format!("Other ways round: {}.", shown.join(", ")),
        ));
    }
    out
}

/// Runs that are shown: the flow pipe of a pair speaks for both.
fn speaks(study: &Study, run: usize) -> bool {
    study.network.runs[run]
        .partner
        .is_none_or(|partner| run < partner)
}

fn title(speak: &Speak<'_>, run: &crate::network::Run) -> String {
    let partner = run.partner.and_then(|p| speak.network.runs.get(p));
    let tags = match partner {
        Some(partner) => format!("{}/{}", run.tag, partner.tag),
        None => run.tag.clone(),
    };
    format!(
        "{} {}",
        name(&run.name, NAME.saturating_sub(tags.len() + 1)),
        name(&tags, 12)
    )
}

/// The worst verdict that counts on a run or its partner.
fn mark(study: &Study, state: usize, run: usize) -> &'static str {
    let partner = study.network.runs[run].partner;
    let about = |s: Subject| matches!(s, Subject::Run(r) if r == run || Some(r) == partner);
    let of = study
        .findings
        .iter()
        .filter(|f| f.state == Some(state) && about(f.subject));
    match of.map(|f| f.verdict).min() {
        Some(v @ (Verdict::Fails | Verdict::Depends | Verdict::Tight)) => words::verdict(v),
        _ => "",
    }
}

/// Every run with water in it.
fn runs(study: &Study, speak: &Speak<'_>, view: &Required) -> String {
    let network = &study.network;
    let flow_unit = unit(&speak.mass_flow(0.1));
    let pressure_unit = unit(&speak.pressure(1e4));
    let velocity_unit = unit(&speak.velocity(1.0));
    let gradient_unit = unit(&speak.gradient(100.0));
    let mut table = Table::new(&[
        "<pipe",
        "<size",
        &unit(&speak.show.length(crate::quantity::Metre(1.0))),
        &flow_unit,
        &velocity_unit,
        &gradient_unit,
        &pressure_unit,
        "<",
    ]);
    for capacity in view
        .capacity
        .iter()
        .filter(|c| c.run < network.runs.len() && speaks(study, c.run))
    {
        let run = &network.runs[capacity.run];
        let flow = run
            .elements
            .first()
            .and_then(|e| view.flow_kg_s.get(e.index()))
            .copied()
            .unwrap_or(0.0);
        let loss = capacity.loss_pa + partner_loss(study, view, capacity.run);
        table.row(vec![
            title(speak, run),
            name(&run.size, 18),
            bare(
                &speak.show.length(crate::quantity::Metre(run.length_m)),
                &unit(&speak.show.length(crate::quantity::Metre(1.0))),
            ),
            bare(&speak.mass_flow(flow), &flow_unit),
            bare(&speak.velocity(capacity.velocity_m_s), &velocity_unit),
            bare(&speak.gradient(capacity.gradient_pa_m), &gradient_unit),
            bare(&speak.pressure(loss), &pressure_unit),
            mark(study, view.state, capacity.run).into(),
        ]);
    }
    if table.is_empty() {
        return String::new();
    }
    let note = "Every run. Length and velocity are those of one pipe; the loss is that of flow and return together:";
    format!("\n{}{}", paragraph("  ", note), table.text())
}

fn partner_loss(study: &Study, view: &Required, run: usize) -> f64 {
    let partner = study.network.runs[run].partner;
    let of = partner.and_then(|p| view.capacity.iter().find(|c| c.run == p));
    of.map_or(0.0, |c| c.loss_pa)
}

/// The lesser of two pipes' capacities, drop by drop.
fn lesser(a: &RunCapacity, b: Option<&RunCapacity>) -> Vec<(f64, f64, f64, Option<f64>)> {
    let Some(b) = b else { return a.carries.clone() };
    let least = |x: Option<f64>, y: Option<f64>| match (x, y) {
        (Some(x), Some(y)) => Some(x.min(y)),
        (x, y) => x.or(y),
    };
    a.carries
        .iter()
        .zip(&b.carries)
        .map(|(x, y)| (x.0, x.1.min(y.1), x.2.min(y.2), least(x.3, y.3)))
        .collect()
}

/// What each run could carry before each limit bites, mains first.
fn capacity(study: &Study, speak: &Speak<'_>, view: &Required) -> String {
    let network = &study.network;
    let power = |w: f64| {
        if !w.is_finite() {
            return "-".to_owned();
        }
        let shown = speak.kilowatt(w);
        shown.split(' ').next().unwrap_or_default().to_owned()
    };
    let power_unit = unit(&speak.kilowatt(1000.0));
    let Some(first) = view.capacity.first() else {
        return String::new();
    };
    let mut heads = vec!["<pipe".to_owned(), "needs".into()];
    for (drop, ..) in &first.carries {
        heads.push(format!("{} v", speak.show.number(*drop, 0)));
        heads.push("g".into());
        heads.push("h".into());
    }
    let heads: Vec<&str> = heads.iter().map(String::as_str).collect();
    let mut table = Table::new(&heads);
    for c in view
        .capacity
        .iter()
        .filter(|c| c.run < network.runs.len() && speaks(study, c.run))
    {
        let run = &network.runs[c.run];
        if matches!(run.kind, RunKind::FloorLoop | RunKind::LoopBetween) {
            continue;
        }
        let partner = run
            .partner
            .and_then(|p| view.capacity.iter().find(|o| o.run == p));
        let mut row = vec![title(speak, run), power(c.duty_w)];
        for (_, velocity, gradient, head) in lesser(c, partner) {
            row.extend([
                power(velocity),
                power(gradient),
                head.map_or("-".into(), power),
            ]);
        }
        table.row(row);
    }
    let mut out = String::from("\n");
    out.push_str(&paragraph(
        "  ",
        &format!(
            "What each run could carry, in {power_unit}, at a drop of 5, 7 and 10 K before velocity (v), \
             friction per metre (g) and the head left for it (h) are used up:"
        ),
    ));
    out.push_str(&table.text());
    for circuit in &view.circuits {
        let each: Vec<String> = circuit
            .carries
            .iter()
            .map(|&(drop, w, bites)| {
                format!(
                    "{} at {} ({})",
                    speak.kilowatt(w),
                    speak.drop(drop),
                    headline::bites(study, speak, bites)
                )
            })
            .collect();
        if !each.is_empty() {
            let text = format!(
                "The whole circuit of {}: {}.",
                speak.name(&circuit.name),
                each.join(", ")
            );
            out.push_str(&paragraph("  ", &text));
        }
    }
    out
}
