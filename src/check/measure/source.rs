//! The unit: its output, its flow, its drop, its sheet.

use super::{Measured, given};
use crate::check::facts::Facts;
use crate::check::{Kind, Subject};
use crate::network::{Source, StateKind};
use crate::solve::SourceLimit;
use crate::view::limits::{drop_limit, limit};
use crate::view::running::source_flow_m3_s;

/// Output at design against what the house needs, by the unit's share.
pub(in crate::check) fn output(facts: &Facts, list: &mut Vec<Measured>) {
    for required in &facts.required {
        if facts.network.states[required.state].kind == StateKind::HotWater {
            continue;
        }
        for (i, (source, basis)) in facts
            .network
            .sources
            .iter()
            .zip(&required.basis)
            .enumerate()
        {
            let need = basis.rooms_w.max(basis.load_w.unwrap_or(0.0));
            if need <= 0.0 {
                continue;
            }
            let subject = Subject::Source(i);
            let m = match source.output_w {
                Some(output) => {
                    let output = given(
                        output,
                        "the unit's sheet at design outside and flow temperature",
                    );
                    Measured::at_most(subject, required.state, Kind::PowerW, need, &output)
                }
                None => Measured::missing(subject, required.state, Kind::PowerW, Some(need)),
            };
            let load = basis.load_w.map(|w| ("load_w", w));
            let detail: Vec<_> = std::iter::once(("rooms_w", basis.rooms_w))
                .chain(load)
                .collect();
            list.push(m.with(&detail).named([source.name.clone()]));
        }
    }
}

/// Every source that runs with flow, as the house runs, with its flow in m³/s.
fn each<'a>(facts: &'a Facts) -> impl Iterator<Item = (usize, usize, &'a Source, f64)> + use<'a> {
    facts.running.iter().flat_map(move |run| {
        let sources = facts.network.sources.iter().enumerate();
        let runs = move |i: usize| facts.network.states[run.state].sources.contains(&i);
        sources
            .filter(move |(i, _)| runs(*i))
            .map(move |(i, source)| {
                (
                    run.state,
                    i,
                    source,
                    source_flow_m3_s(facts.network, i, &run.solved),
                )
            })
    })
}

/// Whether a limit that the sheet does not give is worth a line in this state: once, in the first.
fn first(facts: &Facts, state: usize) -> bool {
    facts.running.first().is_some_and(|run| run.state == state)
}

/// Flow as it runs, in every state, against the flow under which the unit trips.
pub(in crate::check) fn least_flow(facts: &Facts, list: &mut Vec<Measured>) {
    for (state, i, source, flow) in each(facts) {
        let (subject, kind) = (Subject::Source(i), Kind::VolumeFlowM3S);
        match source.least_flow_m3_s {
            Some(least) => {
                let least = given(least, "the unit's sheet");
                let m = Measured::at_least(subject, state, kind, flow, &least);
                list.push(m.named([source.name.clone()]));
            }
            None if first(facts, state) => {
                let m = Measured::missing(subject, state, kind, Some(flow));
                list.push(m.named([source.name.clone()]));
            }
            None => {}
        }
    }
}

/// Flow as it runs, and as required, against the greatest that the maker allows.
pub(in crate::check) fn greatest_flow(facts: &Facts, list: &mut Vec<Measured>) {
    for (state, i, source, flow) in each(facts) {
        let Some(greatest) = source.greatest_flow_m3_s else {
            continue;
        };
        let circuit = facts
            .required
            .iter()
            .filter(|r| r.state == state)
            .find_map(|r| {
                r.circuits
                    .iter()
                    .find(|c| c.pump.is_some() && c.pump == source.pump)
            });
        let required = circuit.map_or(0.0, |c| c.flow_m3_s);
        let greatest = given(greatest, "the unit's sheet");
        let kind = Kind::VolumeFlowM3S;
        let m = Measured::at_most(
            Subject::Source(i),
            state,
            kind,
            flow.max(required),
            &greatest,
        );
        let detail = [("running_m3_s", flow), ("required_m3_s", required)];
        list.push(m.with(&detail).named([source.name.clone()]));
    }
}

/// Drop across the unit as it runs in heating and hot water, against what units are made for.
pub(in crate::check) fn drop(facts: &Facts, list: &mut Vec<Measured>) {
    for (state, i, source, drop_k, design_k) in drops(facts) {
        let Some(limit) = drop_limit(facts.network, design_k) else {
            return;
        };
        let m = Measured::at_most(Subject::Source(i), state, Kind::DifferenceK, drop_k, &limit);
        list.push(
            m.with(&[("design_k", design_k)])
                .named([source.name.clone()]),
        );
    }
}

/// A drop much smaller than design: normal at part load, a bypass or surplus flow otherwise. Said, never counted unless
/// the file makes it a limit.
pub(in crate::check) fn small_drop(facts: &Facts, list: &mut Vec<Measured>) {
    let Some(mut limit) = limit(facts.network, "least drop", None) else {
        return;
    };
    limit.counts = limit.from_file;
    for (state, i, source, drop_k, design_k) in drops(facts) {
        if limit.counts || drop_k < limit.value {
            let m =
                Measured::at_least(Subject::Source(i), state, Kind::DifferenceK, drop_k, &limit);
            list.push(
                m.with(&[("design_k", design_k)])
                    .named([source.name.clone()]),
            );
        }
    }
}

/// (state, source, source, drop as it runs, design drop), K.
fn drops<'a>(
    facts: &'a Facts,
) -> impl Iterator<Item = (usize, usize, &'a Source, f64, f64)> + use<'a> {
    each(facts).filter_map(move |(state, i, source, _)| {
        let house = &facts.network.states[state];
        let design_k = match house.kind {
            StateKind::Heating => facts.network.design.drop_k,
            StateKind::HotWater => {
                let fed = |c: &&crate::network::Cylinder| !house.shut.contains(&c.diverter_coil);
                facts.network.cylinders.iter().find(fed).map(|c| c.drop_k)?
            }
            StateKind::Named => return None,
        };
        let at = facts.run_of(state)?.solved.sources.get(i).copied()?;
        Some((state, i, source, at.flow_c? - at.return_c?, design_k))
    })
}

/// Flow with the pump at full speed against what a defrost needs.
pub(in crate::check) fn defrost_flow(facts: &Facts, list: &mut Vec<Measured>) {
    let Some(state) = facts.heating().map(|r| r.state) else {
        return;
    };
    for (i, source) in facts.network.sources.iter().enumerate() {
        let (subject, kind) = (Subject::Source(i), Kind::VolumeFlowM3S);
        let flow = facts.full_speed_m3_s.get(i).copied().flatten();
        let m = match (source.defrost_flow_m3_s, flow) {
            (Some(need), Some(flow)) => {
                Measured::at_least(subject, state, kind, flow, &given(need, "the unit's sheet"))
            }
            (None, _) if !facts.network.states[state].sources.contains(&i) => continue,
            _ => Measured::missing(subject, state, kind, flow),
        };
        list.push(m.named([source.name.clone()]));
    }
}

/// Less heat taken than the unit can make without stopping: it cycles.
pub(in crate::check) fn cycles(facts: &Facts, list: &mut Vec<Measured>) {
    for run in &facts.running {
        for (i, source) in facts.network.sources.iter().enumerate() {
            let at = run.solved.sources.get(i);
            if let Some(at) = at.filter(|at| at.limit == SourceLimit::LeastOutput) {
                let m = Measured::note(Subject::Source(i), run.state, Kind::PowerW, at.output_w);
                let least = source.least_output_w.map(|w| ("least_output_w", w));
                let detail: Vec<_> = least.into_iter().collect();
                list.push(m.with(&detail).named([source.name.clone()]));
            }
        }
    }
}

/// Water that comes to a unit warmer than the unit would make it: it gives nothing.
pub(in crate::check) fn warm_return(facts: &Facts, list: &mut Vec<Measured>) {
    for run in &facts.running {
        let house = &facts.network.states[run.state];
        let coil_c = facts
            .network
            .cylinders
            .iter()
            .filter(|c| house.kind == StateKind::HotWater && !house.shut.contains(&c.diverter_coil))
            .map(|c| c.flow_temperature_c);
        let coil_c = coil_c.fold(f64::NEG_INFINITY, f64::max);
        for (i, source) in facts.network.sources.iter().enumerate() {
            let at = run.solved.sources.get(i);
            let at = at.filter(|at| at.limit == SourceLimit::WarmReturn);
            if let Some(return_c) = at.and_then(|at| at.return_c) {
                let makes_c = source.flow_temperature_c.max(coil_c);
                let makes = given(makes_c, "its own flow temperature");
                let (subject, kind) = (Subject::Source(i), Kind::TemperatureC);
                let m = Measured::at_most(subject, run.state, kind, return_c, &makes);
                list.push(m.named([source.name.clone()]));
            }
        }
    }
}

/// Free and total head are easily taken for one another. For a curve of free head: the unit's own loss that would break
/// the head balance if the curve were the pump's whole head after all. For a curve of total head: the flow at full speed,
/// and the flow that reading the sheet as free head would promise.
pub(in crate::check) fn head_kind(facts: &Facts, list: &mut Vec<Measured>) {
    let Some(required) = facts.heating() else {
        return;
    };
    for (i, source) in facts.network.sources.iter().enumerate() {
        let circuit = required
            .circuits
            .iter()
            .find(|c| c.pump.is_some() && c.pump == source.pump);
        let subject = Subject::Source(i);
        let m = match source.free_head {
            Some(true) => {
                let Some((circuit, available)) = circuit.and_then(|c| Some((c, c.available_pa?)))
                else {
                    continue;
                };
                let left = available - circuit.needed_pa;
                Measured::note(subject, required.state, Kind::PressurePa, left)
                    .with(&[("left_pa", left), ("flow_m3_s", circuit.flow_m3_s)])
            }
            Some(false) => {
                let Some((right, wrong)) = facts.misread_m3_s.get(i).copied().flatten() else {
                    continue;
                };
                let detail = [
                    ("total_head_m3_s", right),
                    ("read_as_free_m3_s", wrong),
                    ("excess", wrong / right - 1.0),
                ];
                let m = Measured::note(subject, required.state, Kind::VolumeFlowM3S, right);
                m.with(&detail)
            }
            None => continue,
        };
        list.push(m.named([source.name.clone()]));
    }
}
