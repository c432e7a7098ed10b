//! Pipes and pumps at the required flow.

use super::{Measured, Tight, given};
use crate::check::facts::Facts;
use crate::check::{Kind, Subject};
use crate::network::{ElementId, Law, PumpCurve, Run, RunKind};
use crate::view::limits::{limit, noise_limit};
use crate::view::{PumpedCircuit, RunFigures};

/// Every run in every required view.
fn each_run<'a>(
    facts: &'a Facts,
) -> impl Iterator<Item = (usize, &'a RunFigures, &'a Run)> + use<'a> {
    let views = facts.required.iter().zip(&facts.pipes);
    views.flat_map(move |(required, pipes)| {
        let runs = &facts.network.runs;
        pipes
            .iter()
            .map(move |figures| (required.state, figures, &runs[figures.run]))
    })
}

/// Velocity against what is heard in a lived-in room, or in a plant space.
pub(in crate::check) fn velocity(facts: &Facts, list: &mut Vec<Measured>) {
    for (state, f, run) in each_run(facts) {
        if let Some(limit) = noise_limit(facts.network, run) {
            let subject = Subject::Run(f.run);
            let m = Measured::at_most(subject, state, Kind::VelocityMs, f.velocity_m_s, &limit);
            list.push(m.with(&[("flow_kg_s", f.flow_kg_s), ("bore_m", run.bore_m)]));
        }
    }
}

/// Velocity against what wears copper away.
pub(in crate::check) fn erosion(facts: &Facts, list: &mut Vec<Measured>) {
    for (state, f, run) in each_run(facts).filter(|(_, _, run)| run.material == "copper") {
        if let Some(limit) = limit(facts.network, "erosion", Some(&run.name)) {
            let subject = Subject::Run(f.run);
            list.push(Measured::at_most(
                subject,
                state,
                Kind::VelocityMs,
                f.velocity_m_s,
                &limit,
            ));
        }
    }
}

/// Friction per metre.
pub(in crate::check) fn gradient(facts: &Facts, list: &mut Vec<Measured>) {
    for (state, f, run) in each_run(facts) {
        if let Some(limit) = limit(facts.network, "gradient", Some(&run.name)) {
            let subject = Subject::Run(f.run);
            list.push(Measured::at_most(
                subject,
                state,
                Kind::GradientPaM,
                f.gradient_pa_m,
                &limit,
            ));
        }
    }
}

/// Velocity against what keeps a main clear of sludge; tails are left out, where slow flow is the rule.
pub(in crate::check) fn low_velocity(facts: &Facts, list: &mut Vec<Measured>) {
    let main = |run: &Run| {
        !matches!(
            run.kind,
            RunKind::Tail | RunKind::FloorLoop | RunKind::LoopBetween
        )
    };
    for (state, f, run) in each_run(facts).filter(|(_, _, run)| main(run)) {
        let Some(limit) = limit(facts.network, "low velocity", Some(&run.name)) else {
            continue;
        };
        if limit.counts || f.velocity_m_s < limit.value {
            let subject = Subject::Run(f.run);
            list.push(Measured::at_least(
                subject,
                state,
                Kind::VelocityMs,
                f.velocity_m_s,
                &limit,
            ));
        }
    }
}

/// Flow between laminar and turbulent, where no law is agreed.
pub(in crate::check) fn transitional(facts: &Facts, list: &mut Vec<Measured>) {
    use crate::hydraulics::friction::{LAMINAR_TO, TURBULENT_FROM};
    for (state, f, _) in each_run(facts) {
        if f.reynolds > LAMINAR_TO && f.reynolds < TURBULENT_FROM {
            list.push(Measured::note(
                Subject::Run(f.run),
                state,
                Kind::Count,
                f.reynolds,
            ));
        }
    }
}

/// Whom a circuit's figures are about.
fn of_circuit(circuit: &PumpedCircuit) -> Subject {
    circuit.pump.map_or(Subject::House, Subject::Pump)
}

/// Head needed on the index circuit against what the pump gives at that flow.
pub(in crate::check) fn head(facts: &Facts, list: &mut Vec<Measured>) {
    for required in &facts.required {
        for circuit in &required.circuits {
            let (subject, state) = (of_circuit(circuit), required.state);
            let needed = circuit.needed_pa;
            let mut m = match circuit.available_pa {
                Some(available) => {
                    let limit = given(available.max(0.0), "the pump's curve at this flow");
                    Measured::at_most(subject, state, Kind::PressurePa, needed, &limit)
                        .with(&[("left_pa", available - needed)])
                }
                None => Measured::missing(subject, state, Kind::PressurePa, Some(needed)),
            };
            if let Some(margin) = limit(facts.network, "head margin", None) {
                m.tight = Tight::ByShareOr(margin.value);
            }
            let through = circuit
                .paths
                .get(circuit.index)
                .map(|p| p.through.name(facts.network));
            list.push(
                m.with(&[
                    ("flow_m3_s", circuit.flow_m3_s),
                    ("flow_kg_s", circuit.flow_kg_s),
                ])
                .named([circuit.name.clone()].into_iter().chain(through)),
            );
        }
    }
}

/// Flow where a curve ends: its last point, or no head, m³/s.
fn end_of_curve_m3_s(curve: &PumpCurve) -> f64 {
    crate::hydraulics::pump::end_of_curve_m3h(curve) / crate::hydraulics::local::M3_H
}

fn curve<'a>(facts: &Facts<'a>, element: ElementId) -> Option<&'a PumpCurve> {
    match &facts.network.graph[element].law {
        Law::Pump(curve) => Some(curve),
        Law::Parts(_) | Law::OneWay { .. } | Law::HoldFlow { .. } => None,
    }
}

/// The flow asked for against the end of the sheet's curve: beyond it nothing is known.
pub(in crate::check) fn beyond_curve(facts: &Facts, list: &mut Vec<Measured>) {
    for required in &facts.required {
        for circuit in &required.circuits {
            let Some(pump) = circuit.pump else { continue };
            let Some(curve) = curve(facts, facts.network.pumps[pump].element) else {
                continue;
            };
            let end = given(end_of_curve_m3_s(curve), "the end of the pump's curve");
            let subject = Subject::Pump(pump);
            let kind = Kind::VolumeFlowM3S;
            let m = Measured::at_most(subject, required.state, kind, circuit.flow_m3_s, &end);
            // ending a hair above the flow is no fault of the house: only beyond it is one
            list.push(
                Measured {
                    tight: Tight::Never,
                    ..m
                }
                .named([circuit.name.clone()]),
            );
        }
    }
}

/// A maker's curve is for water.
pub(in crate::check) fn glycol_on_curve(facts: &Facts, list: &mut Vec<Measured>) {
    let Some(required) = facts.required.first() else {
        return;
    };
    for (i, pump) in facts.network.pumps.iter().enumerate() {
        let element = facts.network.element(pump.element);
        if curve(facts, pump.element).is_some() && facts.glycol(element.fluid) {
            let flow = required.flow_kg_s[pump.element.index()].abs();
            let m = Measured::note(Subject::Pump(i), required.state, Kind::MassFlowKgS, flow);
            list.push(m.named([pump.name.clone()]));
        }
    }
}
