//! The index circuit: loss by stretch, their sum, what the pump gives, what is left.

use super::arithmetic::{Expr, n, s, sum};
use super::{Evidence, Input, Step, Trace, Unit, What, properties};
use crate::check::{Kind, Study};
use crate::hydraulics::local;
use crate::network::{ElementId, Law, Network, PumpControl, PumpCurve, PumpInfo};
use crate::view::{Path, PumpedCircuit, Required};

const PA: Unit = Unit::Kind(Kind::PressurePa);

pub(super) fn trace(study: &Study, index: usize, view: Option<&Required>) -> Trace {
    let mut trace = Trace::new(What::Circuit(index), view.map(|v| v.state));
    let network = &study.network;
    let Some((view, circuit)) = view.and_then(|v| Some((v, v.circuits.get(index)?))) else {
        return trace;
    };
    needed(&mut trace, network, view, circuit);
    let curves = pumps(network, circuit);
    if let (Some(available), [pump]) = (circuit.available_pa, &curves[..]) {
        let i = pump.element.index();
        let at = At {
            flow_kg_s: view.flow_kg_s.get(i).copied().unwrap_or(0.0).abs(),
            celsius: view.temperature_c.get(i).copied().unwrap_or(f64::NAN),
            mode: pump.mode,
            how: "see the trace of the source",
        };
        given(&mut trace, network, pump, &at, available);
    } else if let Some(available) = circuit.available_pa {
        trace.input(Input {
            symbol: "p_pump".into(),
            what: "head that the pumps in series give together".into(),
            value: available,
            unit: PA,
            evidence: Evidence::Table,
            source: "their curves".into(),
            span: None,
        });
    } else {
        trace
            .notes
            .push("No pump curve is given: nothing is known of what is left.".into());
    }
    if let Some(available) = circuit.available_pa {
        let left = available - circuit.needed_pa;
        let formula = s("p_pump", available) - s("dp", circuit.needed_pa);
        trace.steps.push(Step::new(
            "left (below zero: short)",
            "p_left",
            formula,
            left,
            PA,
        ));
        if available > 0.0 {
            let formula = s("p_left", left) / s("p_pump", available);
            trace.steps.push(Step::new(
                "share left",
                "margin",
                formula,
                left / available,
                Unit::Kind(Kind::Ratio),
            ));
        }
    }
    trace
        .notes
        .push("Lockshields stand fully open, valves at their design kv, strainers clean.".into());
    if let Some(source) = circuit.pump.and_then(|p| network.pumps.get(p)?.source) {
        trace.see.push(What::Source(source));
    }
    trace
}

/// Loss of the index path by stretch of one run or one device, and its sum.
fn needed(trace: &mut Trace, network: &Network, view: &Required, circuit: &PumpedCircuit) {
    let Some(path) = circuit.paths.get(circuit.index) else {
        return;
    };
    let stretches = stretches(network, path, |id, forward| {
        let i = id.index();
        let loss = view.loss_pa.get(i).copied().unwrap_or(0.0);
        let along = forward == (view.flow_kg_s.get(i).copied().unwrap_or(0.0) >= 0.0);
        if along { loss } else { -loss }
    });
    for run in stretches.iter().filter_map(|s| s.run) {
        if !trace.see.contains(&What::Run(run)) {
            trace.see.push(What::Run(run));
        }
    }
    for (number, stretch) in stretches.iter().enumerate() {
        trace.input(Input {
            symbol: format!("dp{}", number + 1),
            what: format!("loss in {}", stretch.name),
            value: stretch.loss_pa,
            unit: PA,
            evidence: Evidence::Found,
            source: "its own trace".into(),
            span: None,
        });
    }
    let terms = stretches
        .iter()
        .enumerate()
        .map(|(i, stretch)| s(format!("dp{}", i + 1), stretch.loss_pa));
    let formula = sum(terms.collect::<Vec<_>>());
    trace.steps.push(
        Step::new(
            "needed on the index circuit",
            "dp",
            formula,
            circuit.needed_pa,
            PA,
        )
        .from("losses in series"),
    );
}

/// A piece of a way round: neighbours of one run or one emitter.
pub(super) struct Stretch {
    pub run: Option<usize>,
    pub name: String,
    pub loss_pa: f64,
    /// Its first element.
    pub first: ElementId,
}

/// A way round by its pieces that lose anything.
pub(super) fn stretches(
    network: &Network,
    path: &Path,
    loss_pa: impl Fn(ElementId, bool) -> f64,
) -> Vec<Stretch> {
    let mut list: Vec<Stretch> = Vec::new();
    for &(id, forward) in &path.elements {
        let loss_pa = loss_pa(id, forward);
        if loss_pa == 0.0 {
            continue;
        }
        let run = network.element(id).run.filter(|r| *r < network.runs.len());
        let name = match run {
            Some(run) => format!("{} {}", network.runs[run].name, network.runs[run].tag),
            None => network.element(id).name.clone(),
        };
        match list.last_mut() {
            Some(last) if run.is_some() && last.run == run => last.loss_pa += loss_pa,
            _ => list.push(Stretch {
                run,
                name,
                loss_pa,
                first: id,
            }),
        }
    }
    list
}

/// Pumps on the index path.
fn pumps<'a>(network: &'a Network, circuit: &PumpedCircuit) -> Vec<&'a PumpInfo> {
    let on = |id: ElementId| {
        let path = circuit.paths.get(circuit.index);
        path.is_some_and(|p| p.elements.iter().any(|(e, _)| *e == id))
    };
    network.pumps.iter().filter(|p| on(p.element)).collect()
}

/// What a pump is asked.
pub(super) struct At {
    pub flow_kg_s: f64,
    pub celsius: f64,
    pub mode: PumpControl,
    /// Where the flow is from.
    pub how: &'static str,
}

/// What the pump gives at a flow.
pub(super) fn given(
    trace: &mut Trace,
    network: &Network,
    pump: &PumpInfo,
    asked: &At,
    available: f64,
) {
    let (flow, celsius) = (asked.flow_kg_s, asked.celsius);
    let Some(at) = properties(network, pump.element, celsius) else {
        return;
    };
    let q = flow / at.rho_kg_m3 * local::M3_H;
    let input = |symbol: &str, what: &str, value: f64, unit: Unit| Input {
        symbol: symbol.into(),
        what: what.into(),
        value,
        unit,
        evidence: Evidence::Stated,
        source: format!("curve of {}", pump.name),
        span: pump.span.clone(),
    };
    trace.input(Input {
        evidence: Evidence::Found,
        source: asked.how.into(),
        span: None,
        ..input(
            "m",
            "flow through the pump",
            flow,
            Unit::Kind(Kind::MassFlowKgS),
        )
    });
    trace.input(super::property(
        network,
        pump.element,
        celsius,
        ("rho", "density", at.rho_kg_m3, "kg/m3"),
    ));
    let formula = n(3600.0) * s("m", flow) / s("rho", at.rho_kg_m3);
    trace.steps.push(Step::new(
        "flow through the pump",
        "q",
        formula,
        q,
        Unit::Plain("m3/h"),
    ));
    let (speed, mode_bound) = match asked.mode {
        PumpControl::FixedSpeed(speed) => (speed, None),
        PumpControl::ConstantHead(pa) => (
            1.0,
            Some((
                s("p_set", pa),
                input("p_set", "head that it is set to", pa, PA),
            )),
        ),
        PumpControl::ProportionalHead { head_pa, at_m3h } => {
            let formula = s("p_set", head_pa) * (n(0.5) + n(0.5) * s("q", q) / s("q_end", at_m3h));
            trace.input(input(
                "q_end",
                "flow at which the set head holds",
                at_m3h,
                Unit::Plain("m3/h"),
            ));
            (
                1.0,
                Some((
                    formula,
                    input("p_set", "head that it is set to", head_pa, PA),
                )),
            )
        }
        PumpControl::HeldToFlow(_) | PumpControl::HeldToDrop { .. } => (1.0, None),
    };
    let Law::Pump(curve) = &network.element(pump.element).law else {
        return;
    };
    let share = (speed != 1.0).then(|| {
        trace.input(input("s", "share of full speed", speed, Unit::Plain("")));
        s("s", speed)
    });
    let full = match curve {
        PumpCurve::Points(points) => {
            let at_full = q / speed;
            let piece = points
                .windows(2)
                .find(|w| at_full <= w[1].0)
                .or_else(|| points.windows(2).last());
            let Some(&[(q0, h0), (q1, h1)]) = piece else {
                return;
            };
            for (symbol, what, value, unit) in [
                ("q1", "flow of the point before", q0, Unit::Plain("m3/h")),
                ("p1", "head at it", h0, PA),
                ("q2", "flow of the point after", q1, Unit::Plain("m3/h")),
                ("p2", "head at it", h1, PA),
            ] {
                trace.input(input(symbol, what, value, unit));
            }
            let q_is = match &share {
                Some(share) => s("q", q) / share.clone(),
                None => s("q", q),
            };
            let (q0, h0, q1, h1) = (s("q1", q0), s("p1", h0), s("q2", q1), s("p2", h1));
            let straight = h0.clone() + (q_is - q0.clone()) * (h1 - h0) / (q1 - q0);
            match share {
                Some(share) => share.squared() * straight,
                None => straight,
            }
        }
        PumpCurve::Quadratic { a_pa, b_pa, c_pa } => {
            for (symbol, value) in [("a", *a_pa), ("b", *b_pa), ("c", *c_pa)] {
                trace.input(input(
                    symbol,
                    "coefficient of the curve, Pa with flow in m3/h",
                    value,
                    Unit::Plain(""),
                ));
            }
            let (a, b, c, q) = (s("a", *a_pa), s("b", *b_pa), s("c", *c_pa), s("q", q));
            let (first, second) = match share {
                Some(share) => (share.clone().squared() * a, share * b * q.clone()),
                None => (a, b * q.clone()),
            };
            first + second + c * q.squared()
        }
    };
    step(trace, full, mode_bound, available);
}

/// The head that decides: the curve, or the lesser one that the control asks for.
fn step(trace: &mut Trace, full: Expr, bound: Option<(Expr, Input)>, available: f64) {
    let by_curve = (full.value(15) - available).abs() <= 1e-6 * available.abs().max(1.0);
    match bound.filter(|_| !by_curve) {
        Some((formula, input)) => {
            trace.input(input);
            trace.steps.push(Step::new("the pump gives what its control asks for", "p_pump", formula, available, PA));
        }
        None if !by_curve => trace
            .notes
            .push("What the pump gives is bounded by its control; its curve alone does not tell it.".into()),
        None => trace.steps.push(
            Step::new("the pump gives", "p_pump", full, available, PA)
                .by("straight between the points of its curve; heads in metres are of the fluid that is pumped")
                .from("the maker's curve, and the affinity laws where its speed is less than full"),
        ),
    }
}
