//! A run's figures: heat and flow, velocity, friction, every part, the sum.

use super::arithmetic::{Expr, n, s, sum};
use super::{Evidence, Input, Step, Trace, Unit, What, loss, properties, property, running};
use crate::check::{Kind, Study};
use crate::network::{ElementId, Network};
use crate::view::{BasisUsed, Required, Through};

/// Share by which a flow may differ from the sum that is said to make it.
const SAME: f64 = 1e-7;

pub(super) fn trace(study: &Study, run: usize, view: Option<&Required>) -> Trace {
    let mut trace = Trace::new(What::Run(run), view.map(|v| v.state));
    let network = &study.network;
    let Some(of) = network.runs.get(run) else {
        return trace;
    };
    let Some(view) = view else {
        trace
            .notes
            .push("No pipe is asked to carry anything in this state.".into());
        return trace;
    };
    let flow = |id: ElementId| view.flow_kg_s.get(id.index()).copied().unwrap_or(0.0);
    let wet: Vec<ElementId> = of
        .elements
        .iter()
        .copied()
        .filter(|id| flow(*id) != 0.0)
        .collect();
    let Some(&first) = wet.first() else {
        trace
            .notes
            .push("No water passes it in this state as duty requires.".into());
        return trace;
    };
    mass_flow(&mut trace, study, view, first);
    let several = wet.len() > 1;
    let mut terms = Vec::new();
    for (number, &id) in wet.iter().enumerate() {
        let tag = if several {
            format!("_{}", (b'a' + number.min(25) as u8) as char)
        } else {
            String::new()
        };
        if several {
            let m = s("m", flow(first).abs());
            trace.steps.push(Step::new(
                format!("flow in {}", network.element(id).name),
                format!("m{tag}"),
                if (flow(id).abs() - flow(first).abs()).abs() < SAME {
                    m
                } else {
                    s("m_own", flow(id).abs())
                },
                flow(id).abs(),
                Unit::Kind(Kind::MassFlowKgS),
            ));
        }
        terms.extend(loss::element(&mut trace, network, view, id, &tag));
    }
    let along: f64 = of
        .elements
        .iter()
        .filter_map(|id| view.loss_pa.get(id.index()))
        .sum();
    if !terms.is_empty() {
        trace.steps.push(Step::new(
            format!("loss along {} {}", of.name, of.tag),
            "dp",
            sum(terms),
            along,
            Unit::Kind(Kind::PressurePa),
        ));
    }
    for &doubt in &of.doubts {
        if let Some(doubt) = network.doubts.get(doubt) {
            let others: Vec<&str> = doubt
                .alternatives
                .iter()
                .map(|a| a.words.as_str())
                .collect();
            trace.notes.push(format!(
                "A guess: {} is taken as {}; the file also admits {}.",
                doubt.name,
                doubt.likeliest,
                others.join("; ")
            ));
        }
    }
    if let Some(runs) = running(study, Some(view)) {
        let carries = runs
            .solved
            .flow_kg_s
            .get(first.index())
            .copied()
            .unwrap_or(0.0);
        trace.notes.push(format!(
            "As the house runs, {carries:.4} kg/s pass it; the same formulas hold with that flow."
        ));
    }
    trace
}

/// What makes the flow through an element: heat over heat capacity and drop, a sum of emitters, the basis of the source,
/// or the balance at its place.
fn mass_flow(trace: &mut Trace, study: &Study, view: &Required, id: ElementId) {
    let network = &study.network;
    let m = view.flow_kg_s.get(id.index()).copied().unwrap_or(0.0).abs();
    let fed = fed(view, id);
    let close = |value: f64| (value - m).abs() <= SAME * m;
    let total: f64 = fed
        .iter()
        .filter_map(|e| view.emitters.get(*e))
        .map(|e| e.flow_kg_s)
        .sum();
    let unit = Unit::Kind(Kind::MassFlowKgS);
    if !fed.is_empty() && close(total) {
        let mut terms = Vec::new();
        let mut duties = Vec::new();
        for (number, &e) in fed.iter().enumerate() {
            let emitter = &network.emitters[e];
            let symbol = format!("m{}", number + 1);
            let duty = format!("Q{}", number + 1);
            terms.push((symbol, emitter.name.clone(), view.emitters[e].flow_kg_s));
            duties.push((duty, emitter, emitter.duty_w));
            trace.see.push(What::Emitter(e));
        }
        // one heat capacity and one drop for all: heat makes the flow at once
        let same = fed
            .iter()
            .all(|e| network.emitters[*e].drop_k == network.emitters[fed[0]].drop_k);
        if let Some((cp, celsius)) = heat_capacity(network, view, fed[0]).filter(|_| same) {
            let drop = network.emitters[fed[0]].drop_k;
            let heat: f64 = duties.iter().map(|(_, _, w)| w).sum();
            if close(heat / (cp * drop)) {
                for (symbol, emitter, w) in &duties {
                    trace.input(super::emitter::duty_input(emitter, symbol, *w));
                }
                let formula = sum(duties
                    .iter()
                    .map(|(symbol, _, w)| s(symbol.clone(), *w))
                    .collect::<Vec<_>>());
                trace.steps.push(Step::new(
                    "heat that it has to carry",
                    "Q",
                    formula,
                    heat,
                    Unit::Kind(Kind::PowerW),
                ));
                let body = network.emitters[fed[0]].body;
                trace.input(property(
                    network,
                    body,
                    celsius,
                    ("cp", "heat capacity", cp, "J/(kg K)"),
                ));
                trace.input(super::emitter::drop_input(network, fed[0], "dT"));
                trace.steps.push(
                    Step::new(
                        "flow",
                        "m",
                        s("Q", heat) / (s("cp", cp) * s("dT", drop)),
                        m,
                        unit,
                    )
                    .from("heat balance"),
                );
                return;
            }
        }
        for (symbol, name, value) in &terms {
            trace.input(found(
                symbol,
                &format!("flow of {name}; see its own trace"),
                *value,
            ));
        }
        let formula = sum(terms
            .into_iter()
            .map(|(symbol, _, value)| s(symbol, value))
            .collect::<Vec<_>>());
        trace.steps.push(Step::new(
            "flow: the sum of the emitters behind it",
            "m",
            formula,
            m,
            unit,
        ));
        return;
    }
    for (source, basis) in view.basis.iter().enumerate() {
        if close(basis.flow_kg_s) && m > 0.0 {
            trace.input(found(
                "m_unit",
                "flow of the unit's own circuit; see the trace of the source",
                basis.flow_kg_s,
            ));
            trace.see.push(What::Source(source));
            let what = match basis.used {
                BasisUsed::Output => "flow: the unit's own, which the whole output asks for",
                _ => "flow: the unit's own",
            };
            trace
                .steps
                .push(Step::new(what, "m", s("m_unit", basis.flow_kg_s), m, unit));
            return;
        }
    }
    if let Some(formula) = balance(trace, network, view, id).filter(|f| close(f.value(15))) {
        trace.steps.push(Step::new(
            "flow: what comes to its place and goes no other way",
            "m",
            formula,
            m,
            unit,
        ));
        return;
    }
    trace.input(found(
        "m_found",
        "flow found by the solver: it balances at every place, losses round every loop",
        m,
    ));
    trace
        .steps
        .push(Step::new("flow", "m", s("m_found", m) * n(1.0), m, unit));
}

/// A figure that the solver found.
fn found(symbol: &str, what: &str, value: f64) -> Input {
    Input {
        symbol: symbol.into(),
        what: what.into(),
        value,
        unit: Unit::Kind(Kind::MassFlowKgS),
        evidence: Evidence::Found,
        source: "found by the solver".into(),
        span: None,
    }
}

/// Emitters whose way round passes an element, in order.
fn fed(view: &Required, id: ElementId) -> Vec<usize> {
    let mut list: Vec<usize> = view
        .circuits
        .iter()
        .flat_map(|c| &c.paths)
        .filter(|p| p.elements.iter().any(|(e, _)| *e == id))
        .filter_map(|p| match p.through {
            Through::Emitter(e) => Some(e),
            _ => None,
        })
        .collect();
    list.sort_unstable();
    list.dedup();
    list
}

/// Heat capacity at which an emitter's flow follows from its duty, with its temperature.
pub(super) fn heat_capacity(
    network: &Network,
    view: &Required,
    emitter: usize,
) -> Option<(f64, f64)> {
    let of = network.emitters.get(emitter)?;
    let asks = view.emitters.get(emitter)?;
    let set = of
        .manifold
        .and_then(|m| network.manifolds.get(m))
        .and_then(|m| m.blend)
        .map(|b| b.set_c);
    let supply = set.map_or(network.design.flow_temperature_c, |c| {
        c.min(network.design.flow_temperature_c)
    });
    let mean = view
        .ends_c
        .get(of.body.index())
        .copied()
        .flatten()
        .map(|(a, b)| (a + b) / 2.0);
    let candidates = [Some(supply - of.drop_k / 2.0), mean];
    candidates.into_iter().flatten().find_map(|celsius| {
        let cp = properties(network, of.body, celsius)?.cp_j_kgk;
        let flow = of.duty_w / (cp * of.drop_k);
        ((flow - asks.flow_kg_s).abs() <= SAME * flow).then_some((cp, celsius))
    })
}

/// The sum of the other flows at the place where an element begins.
fn balance(trace: &mut Trace, network: &Network, view: &Required, id: ElementId) -> Option<Expr> {
    let own = view.flow_kg_s.get(id.index()).copied()?;
    let (from, to) = network.ends(id);
    let place = if own > 0.0 { from } else { to };
    let mut formula: Option<Expr> = None;
    let mut inputs = Vec::new();
    for other in network.element_ids().filter(|e| *e != id) {
        let flow = view.flow_kg_s.get(other.index()).copied().unwrap_or(0.0);
        let (a, b) = network.ends(other);
        if flow == 0.0 || a == b || (a != place && b != place) {
            continue;
        }
        let comes = (b == place) == (flow > 0.0);
        let symbol = format!("m{}", inputs.len() + 1);
        let term = s(symbol.clone(), flow.abs());
        inputs.push(found(
            &symbol,
            &format!("flow in {}", network.element(other).name),
            flow.abs(),
        ));
        formula = Some(match (formula, comes) {
            (None, true) => term,
            (None, false) => n(0.0) - term,
            (Some(before), true) => before + term,
            (Some(before), false) => before - term,
        });
    }
    let formula = formula?;
    if (formula.value(15) - own.abs()).abs() <= SAME * own.abs() {
        inputs.into_iter().for_each(|input| trace.input(input));
    }
    Some(formula)
}
