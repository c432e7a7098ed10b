//! The flow of a unit as the house runs, or with its pump at full speed: what the pump gives at it, and what the way round
//! loses at it. The two are equal at this flow and at no other, which is how it was found.

use super::arithmetic::{s, sum};
use super::circuit::{At, given, stretches};
use super::{Evidence, Input, Step, Trace, Unit, What, properties, property};
use crate::check::{Kind, Study};
use crate::network::{Network, PumpControl, PumpInfo, Source};
use crate::solve::State;
use crate::view::Path;

const FLOW: Unit = Unit::Kind(Kind::MassFlowKgS);
const PA: Unit = Unit::Kind(Kind::PressurePa);

/// Share of the head by which the way round may differ from what the pump gives.
const SAME: f64 = 1e-5;

/// Steps to a unit's volume flow in a solved state of the house.
pub(super) fn flow(
    trace: &mut Trace,
    study: &Study,
    index: usize,
    (solved, when): (&State, &str),
    mode: Option<PumpControl>,
) {
    let network = &study.network;
    let Some(source) = network.sources.get(index) else {
        return;
    };
    trace.see.push(What::Source(index));
    let pump = source.pump.and_then(|p| network.pumps.get(p));
    if let Some(pump) = pump {
        operating(
            trace,
            study,
            source,
            pump,
            solved,
            mode.unwrap_or(pump.mode),
        );
    }
    let i = source.body.index();
    let flow = solved.flow_kg_s.get(i).copied().unwrap_or(0.0).abs();
    let celsius = solved.in_c.get(i).copied().flatten();
    let celsius = celsius.unwrap_or(network.design.flow_temperature_c);
    let Some(at) = properties(network, source.body, celsius) else {
        return;
    };
    found(
        trace,
        "m_unit",
        format!("flow through {} {when}", source.name),
        flow,
        FLOW,
    );
    trace.input(property(
        network,
        source.body,
        celsius,
        ("rho_unit", "density of the return", at.rho_kg_m3, "kg/m3"),
    ));
    trace.steps.push(Step::new(
        format!("volume flow {when}"),
        "q_unit",
        s("m_unit", flow) / s("rho_unit", at.rho_kg_m3),
        flow / at.rho_kg_m3,
        Unit::Kind(Kind::VolumeFlowM3S),
    ));
}

fn found(trace: &mut Trace, symbol: &str, what: String, value: f64, unit: Unit) {
    trace.input(Input {
        symbol: symbol.into(),
        what,
        value,
        unit,
        evidence: Evidence::Found,
        source: "found by the solver".into(),
        span: None,
    });
}

/// The pump's head at its flow, and the loss of a way round at the same.
fn operating(
    trace: &mut Trace,
    study: &Study,
    source: &Source,
    pump: &PumpInfo,
    solved: &State,
    mode: PumpControl,
) {
    let network = &study.network;
    let i = pump.element.index();
    let head = solved.dp_pa.get(i).copied().flatten().map(|dp| -dp);
    let (Some(head), Some(&flow), Some(&celsius)) =
        (head, solved.flow_kg_s.get(i), solved.at_c.get(i))
    else {
        return;
    };
    let before = (trace.steps.len(), trace.inputs.len(), trace.notes.len());
    let at = At {
        flow_kg_s: flow.abs(),
        celsius,
        mode,
        how: "found by the solver",
    };
    given(trace, network, pump, &at, head);
    if !trace.steps.iter().any(|s| s.symbol == "p_pump") {
        // it is held back: its curve says only what it could
        trace.steps.truncate(before.0);
        trace.inputs.truncate(before.1);
        trace.notes.truncate(before.2);
        let held = match mode {
            PumpControl::HeldToFlow(_) => "a flow",
            PumpControl::HeldToDrop { .. } => "a drop",
            _ => "what its control asks for",
        };
        trace.notes.push(format!(
            "The pump of {} is held to {held}: it slows down until that is so, as long as full speed reaches it.",
            source.name
        ));
        if let PumpControl::HeldToDrop { .. } = mode {
            fallen(trace, study, source, solved);
        }
    }
    let Some((path, total)) = way(study, source, solved, head) else {
        return;
    };
    let stretches = stretches(network, path, |id, forward| {
        if id == pump.element {
            return 0.0;
        }
        let dp = solved
            .dp_pa
            .get(id.index())
            .copied()
            .flatten()
            .unwrap_or(0.0);
        if forward { dp } else { -dp }
    });
    let mut terms = Vec::new();
    for (number, stretch) in stretches.iter().enumerate() {
        let symbol = format!("dp{}", number + 1);
        let passes = solved
            .flow_kg_s
            .get(stretch.first.index())
            .copied()
            .unwrap_or(0.0);
        found(
            trace,
            &symbol,
            format!(
                "loss in {} while {:.4} kg/s pass it",
                stretch.name,
                passes.abs()
            ),
            stretch.loss_pa,
            PA,
        );
        terms.push(s(symbol, stretch.loss_pa));
        if let Some(run) = stretch.run.filter(|r| !trace.see.contains(&What::Run(*r))) {
            trace.see.push(What::Run(run));
        }
    }
    let what = format!(
        "lost on the way round through {}",
        path.through.name(network)
    );
    trace
        .steps
        .push(Step::new(what, "dp", sum(terms), total, PA).from("losses in series"));
    trace.notes.push(
        "What the pump gives at this flow is what the way round loses at it; at any other flow the two differ. Each loss \
         follows from its run's formulas with the flow named beside it."
            .into(),
    );
}

/// The drop to which a pump is held: flow temperature less return temperature.
fn fallen(trace: &mut Trace, study: &Study, source: &Source, solved: &State) {
    let index = study
        .network
        .sources
        .iter()
        .position(|s| std::ptr::eq(s, source));
    let at = index.and_then(|i| solved.sources.get(i));
    let Some((hot, cold)) = at.and_then(|at| at.flow_c.zip(at.return_c)) else {
        return;
    };
    let degrees = Unit::Kind(Kind::TemperatureC);
    found(
        trace,
        "t_flow",
        "flow temperature in this state".into(),
        hot,
        degrees,
    );
    found(
        trace,
        "t_return",
        "return temperature in this state".into(),
        cold,
        degrees,
    );
    trace.steps.push(Step::new(
        "drop at this flow",
        "drop",
        s("t_flow", hot) - s("t_return", cold),
        hot - cold,
        Unit::Kind(Kind::DifferenceK),
    ));
}

/// A way round the unit's circuit whose losses come to the head, and their sum.
fn way<'a>(
    study: &'a Study,
    source: &Source,
    solved: &State,
    head: f64,
) -> Option<(&'a Path, f64)> {
    let circuits = study.required.iter().flat_map(|r| &r.circuits);
    let own = circuits.filter(|c| c.pump.is_some() && c.pump == source.pump);
    let element = source
        .pump
        .and_then(|p| study.network.pumps.get(p))?
        .element;
    let sum_of = |path: &Path| -> Option<f64> {
        let parts = path.elements.iter().filter(|(id, _)| *id != element);
        parts
            .map(|&(id, forward)| {
                let flow = solved.flow_kg_s.get(id.index()).copied()?;
                let dp = solved.dp_pa.get(id.index()).copied().flatten()?;
                (flow != 0.0).then_some(if forward { dp } else { -dp })
            })
            .sum()
    };
    own.flat_map(|c| {
        let first = c.paths.get(c.index).into_iter();
        first.chain(&c.paths)
    })
    .find_map(|path| {
        let sum = sum_of(path)?;
        ((sum - head).abs() <= SAME * head.abs()).then_some((path, sum))
    })
}

/// Heat that a unit makes as the house runs: flow, heat capacity and both temperatures.
pub(super) fn made(trace: &mut Trace, network: &Network, index: usize, solved: &State) {
    let (Some(source), Some(at)) = (network.sources.get(index), solved.sources.get(index)) else {
        return;
    };
    let (Some(hot), Some(cold)) = (at.flow_c, at.return_c) else {
        return;
    };
    let flow = solved
        .flow_kg_s
        .get(source.body.index())
        .copied()
        .unwrap_or(0.0)
        .abs();
    let Some(fluid) = network.fluids.get(network.element(source.body).fluid) else {
        return;
    };
    let cp = crate::hydraulics::liquid(fluid).mean_cp_j_kgk(cold, hot);
    let value = flow * cp * (hot - cold);
    if (value - at.output_w).abs() > 1e-6 * at.output_w.abs() {
        return;
    }
    found(
        trace,
        "m_unit",
        format!("flow through {} as the house runs", source.name),
        flow,
        FLOW,
    );
    let degrees = Unit::Kind(Kind::TemperatureC);
    found(
        trace,
        "t_flow",
        "flow temperature as the house runs".into(),
        hot,
        degrees,
    );
    found(
        trace,
        "t_return",
        "return temperature as the house runs".into(),
        cold,
        degrees,
    );
    trace.input(property(
        network,
        source.body,
        (hot + cold) / 2.0,
        (
            "cp_unit",
            "heat capacity, mean between both temperatures,",
            cp,
            "J/(kg K)",
        ),
    ));
    trace.steps.push(
        Step::new(
            "heat that the unit makes as the house runs",
            "Q_unit",
            s("m_unit", flow) * s("cp_unit", cp) * (s("t_flow", hot) - s("t_return", cold)),
            at.output_w,
            Unit::Kind(Kind::PowerW),
        )
        .from("heat balance"),
    );
}
