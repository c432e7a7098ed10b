//! A finding: the figure of its subject, what it is held against, and what is left.

use super::arithmetic::{Expr, n, s};
use super::{Evidence, Input, Step, Trace, Unit, What, trace as of};
use crate::check::{Kind, Study, Subject};

pub(super) fn trace(study: &Study, index: usize) -> Trace {
    let Some(finding) = study.findings.get(index) else {
        return Trace::new(What::Finding(index), None);
    };
    let view = finding
        .state
        .and_then(|state| study.required.iter().find(|r| r.state == state));
    let room = |room: usize| study.network.rooms.get(room)?.emitters.first().copied();
    let about = match finding.subject {
        Subject::Run(run) => Some(What::Run(run)),
        Subject::Emitter(emitter) => Some(What::Emitter(emitter)),
        Subject::Room(index) => driver(study, finding)
            .or_else(|| room(index))
            .map(What::Emitter),
        // free head left is a figure of the circuit
        Subject::Source(source) if finding.check == "head-kind" => {
            let pump = study.network.sources.get(source).and_then(|s| s.pump);
            let circuits = view.map_or(&[][..], |v| &v.circuits);
            let own = circuits
                .iter()
                .position(|c| c.pump.is_some() && c.pump == pump);
            own.map(What::Circuit)
        }
        Subject::Source(source) => Some(What::Source(source)),
        Subject::Pump(pump) => {
            let circuit = view.and_then(|v| v.circuits.iter().position(|c| c.pump == Some(pump)));
            circuit.map(What::Circuit)
        }
        _ => None,
    };
    let about = about.filter(|_| !super::own::alone(study, finding));
    let mut trace = match about {
        Some(what) => of(study, what, finding.state.filter(|_| view.is_some())),
        None => Trace::new(What::Finding(index), finding.state),
    };
    trace.what = What::Finding(index);
    trace
        .see
        .extend(about.filter(|what| !trace.see.contains(what)));
    let unit = Unit::Kind(finding.kind);
    let Some(measured) = finding.measured else {
        trace
            .notes
            .push("Nothing is measured here: data are missing.".into());
        return trace;
    };
    super::own::steps(&mut trace, study, finding);
    let x = known(&trace, unit, measured).unwrap_or_else(|| {
        let plainly = super::states::plainly(study, finding);
        let (what, evidence) = plainly.unwrap_or_else(|| {
            let what = format!(
                "what `{}` measures, from the solution of this state",
                finding.check
            );
            (what, Evidence::Found)
        });
        trace.input(Input {
            symbol: "found".into(),
            what,
            value: measured,
            unit,
            evidence,
            source: match evidence {
                Evidence::Found => "found by the solver".into(),
                _ => String::new(),
            },
            span: None,
        });
        s("found", measured)
    });
    let Some(limit) = finding.limit else {
        return trace;
    };
    trace.input(Input {
        symbol: "limit".into(),
        what: "what it is held against".into(),
        value: limit,
        unit,
        evidence: Evidence::Table,
        source: finding.limit_source.clone(),
        span: None,
    });
    let Some(margin) = finding.margin else {
        return trace;
    };
    let l = s("limit", limit);
    let mut shares = Vec::new();
    if finding.kind == Kind::TemperatureC {
        // temperatures have no zero of their own: the scale is what the limit lies over the room
        let room = trace
            .inputs
            .iter()
            .find(|i| matches!(i.symbol.as_str(), "t_room" | "t_air"));
        if let Some(room) = room {
            let scale = l.clone() - s(room.symbol.clone(), room.value);
            shares.push((l.clone() - x.clone()) / scale);
        }
    } else {
        shares.push((l.clone() - x.clone()) / l.clone());
        shares.push((x.clone() - l.clone()) / l.clone());
        shares.push(l.clone() - x.clone());
        shares.push(x - l);
    }
    let fits = shares
        .into_iter()
        .find(|f| (f.value(15) - margin).abs() <= 1e-7 * margin.abs().max(1e-3));
    if let Some(formula) = fits {
        let what = "share of the limit left (below zero: broken)";
        trace.steps.push(Step::new(
            what,
            "margin",
            formula,
            margin,
            Unit::Kind(Kind::Ratio),
        ));
    }
    trace
}

/// The figure among the steps and inputs of a trace: the last step that comes to it, else an input.
fn known(trace: &Trace, unit: Unit, measured: f64) -> Option<Expr> {
    let close = |value: f64| (value - measured).abs() <= 1e-6 * measured.abs();
    let same = |of: Unit| of == unit || (of == Unit::Plain("") && unit == Unit::Kind(Kind::Count));
    let step = |step: &&Step| same(step.unit) && close(step.value);
    if let Some(step) = trace.steps.iter().rev().find(step) {
        return Some(s(step.symbol.clone(), step.value));
    }
    // volume flows of pumps are worked out per hour
    if unit == Unit::Kind(Kind::VolumeFlowM3S) {
        let hourly = |step: &&Step| step.unit == Unit::Plain("m3/h") && close(step.value / 3600.0);
        if let Some(step) = trace.steps.iter().rev().find(hourly) {
            return Some(s(step.symbol.clone(), step.value) / n(3600.0));
        }
    }
    let input = |input: &&Input| input.unit == unit && close(input.value);
    let found = trace.inputs.iter().find(input)?;
    Some(s(found.symbol.clone(), found.value))
}

/// The emitter that a room's flow temperature is about: the one that asks most.
fn driver(study: &Study, finding: &crate::check::Finding) -> Option<usize> {
    let name = finding
        .names
        .get(1)
        .filter(|_| finding.check == "flow-temperature")?;
    study.network.emitters.iter().position(|e| e.name == *name)
}
