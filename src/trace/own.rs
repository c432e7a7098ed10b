//! Formulas of findings whose figure no trace of a run, an emitter or a circuit holds: noise at valves, mixing in a vessel,
//! rooms with several emitters, the drop over a source, a defrost's flow.

use super::arithmetic::{Expr, n, s, sum};
use super::{Evidence, Input, Step, Trace, Unit, properties};
use crate::check::{Finding, Kind, Study, Subject};
use crate::network::{Law, PartLaw};
use crate::view::Running;

const FOUND: &str = "found by the solver";

/// Adds the steps of a finding's own figure, where its check has any.
pub(super) fn steps(trace: &mut Trace, study: &Study, finding: &Finding) {
    let Some(measured) = finding.measured else {
        return;
    };
    let running = study
        .running
        .iter()
        .find(|r| Some(r.state) == finding.state);
    let made = match (finding.check, finding.subject) {
        ("valve-noise", Subject::Emitter(i)) => running.and_then(|r| noise(study, r, i)),
        ("vessel-mixing", _) => mixing(finding),
        ("room-heat", Subject::Room(i)) => running.and_then(|r| room(study, r, i)),
        ("room-heat", _) if made_alone(study, finding) => {
            trace.notes.push(
                "What is judged is the heat that the room would get if the unit's output knew no limit: a unit that is too \
                 small is found by its own check. As it runs, the room gets what stands above."
                    .into(),
            );
            None
        }
        ("source-drop" | "small-drop", Subject::Source(i)) => running.and_then(|r| drop(r, i)),
        ("defrost-flow", Subject::Source(_)) => {
            trace.notes.push(
                "The flow is found where the pump's curve at full speed meets the loss of the circuit with every emitter open."
                    .into(),
            );
            None
        }
        _ => None,
    };
    let Some(made) = made else { return };
    // a formula that does not come to the figure of the check is none of it
    if (made.formula.value(15) - measured).abs() > 1e-6 * measured.abs().max(1e-9) {
        return;
    }
    let known = |symbol: &str| trace.inputs.iter().any(|i| i.symbol == symbol);
    if made.inputs.iter().any(|i| known(&i.symbol)) {
        return;
    }
    made.inputs.into_iter().for_each(|i| trace.input(i));
    let unit = Unit::Kind(finding.kind);
    trace
        .steps
        .push(Step::new(made.what, made.symbol, made.formula, measured, unit).from(made.source));
}

/// Whether it is a room's heat found by a solution of its own, which no study keeps.
fn made_alone(study: &Study, finding: &Finding) -> bool {
    let as_runs = finding.detail.iter().find(|(k, _)| *k == "as_runs_w");
    let limited = as_runs
        .zip(finding.measured)
        .is_some_and(|((_, w), m)| (m - w).abs() > 1e-6 * m.abs());
    limited && !study.running.is_empty()
}

/// A figure with what it is made of.
struct Made {
    what: &'static str,
    symbol: &'static str,
    formula: Expr,
    source: &'static str,
    inputs: Vec<Input>,
}

fn input(symbol: &str, what: String, value: f64, unit: Unit, evidence: Evidence) -> Input {
    Input {
        symbol: symbol.into(),
        what,
        value,
        unit,
        evidence,
        source: match evidence {
            Evidence::Found => FOUND.into(),
            _ => String::new(),
        },
        span: None,
    }
}

/// Loss across an emitter's valve as the house runs.
fn noise(study: &Study, running: &Running, emitter: usize) -> Option<Made> {
    let network = &study.network;
    let of = network.emitters.get(emitter)?;
    let id = of.valve?;
    let (i, element) = (id.index(), network.element(id));
    let flow = running.solved.flow_kg_s.get(i)?.abs();
    let celsius = *running.solved.at_c.get(i)?;
    let at = properties(network, id, celsius)?;
    let Law::Parts(parts) = &element.law else {
        return None;
    };
    let [part] = &parts[..] else { return None };
    let PartLaw::Kv { kv_m3h } = part.law else {
        return None;
    };
    let volume = n(3600.0) * s("m_valve", flow) / s("rho_valve", at.rho_kg_m3);
    let formula =
        n(1e5) * s("rho_valve", at.rho_kg_m3) / n(1e3) * (volume / s("kv_valve", kv_m3h)).squared();
    let mut kv = input(
        "kv_valve",
        format!("flow factor of {}", part.words),
        kv_m3h,
        Unit::Plain("m3/h"),
        if part.span.is_some() {
            Evidence::Stated
        } else {
            Evidence::Assumed
        },
    );
    kv.source.clone_from(&part.source);
    kv.span.clone_from(&part.span);
    Some(Made {
        what: "loss across its valve as the house runs",
        symbol: "dp_valve",
        formula,
        source: "definition of kv, IEC 60534",
        inputs: vec![
            input(
                "m_valve",
                format!("flow through {} as the house runs", of.name),
                flow,
                Unit::Kind(Kind::MassFlowKgS),
                Evidence::Found,
            ),
            input(
                "rho_valve",
                format!("density at {celsius:.1} °C"),
                at.rho_kg_m3,
                Unit::Plain("kg/m3"),
                Evidence::Table,
            ),
            kv,
        ],
    })
}

/// How far apart the flows on both sides of a vessel are.
fn mixing(finding: &Finding) -> Option<Made> {
    let of = |key: &str| {
        finding
            .detail
            .iter()
            .find(|(k, _)| *k == key)
            .map(|(_, v)| *v)
    };
    let (first, second) = (of("primary_kg_s")?, of("secondary_kg_s")?);
    let flow = |symbol: &str, what: &str, value: f64| {
        input(
            symbol,
            what.into(),
            value,
            Unit::Kind(Kind::MassFlowKgS),
            Evidence::Found,
        )
    };
    let (a, b) = (s("m_1", first), s("m_2", second));
    let formula = match first >= second {
        true => (a.clone() - b) / a,
        false => (b.clone() - a) / b,
    };
    Some(Made {
        what: "difference of the two flows, as a share of the larger",
        symbol: "apart",
        formula,
        source: "flow balance of the vessel",
        inputs: vec![
            flow("m_1", "flow on the unit's side", first),
            flow("m_2", "flow on the emitters' side", second),
        ],
    })
}

/// Heat of all emitters of a room.
fn room(study: &Study, running: &Running, room: usize) -> Option<Made> {
    let of = study.network.rooms.get(room)?;
    let mut inputs = Vec::new();
    let mut terms = Vec::new();
    for (k, &e) in of.emitters.iter().enumerate() {
        let heat = running.emitters.get(e)?.heat_w;
        let symbol = format!("Q_room{}", k + 1);
        let name = &study.network.emitters.get(e)?.name;
        terms.push(s(symbol.clone(), heat));
        inputs.push(input(
            &symbol,
            format!("heat of {name} as the house runs; see its own trace"),
            heat,
            Unit::Kind(Kind::PowerW),
            Evidence::Found,
        ));
    }
    (terms.len() > 1).then(|| Made {
        what: "heat of all emitters of the room",
        symbol: "Q_room",
        formula: sum(terms),
        source: "heat balance",
        inputs,
    })
}

/// Flow less return temperature of a source as the house runs.
fn drop(running: &Running, source: usize) -> Option<Made> {
    let at = running.solved.sources.get(source)?;
    let (hot, cold) = (at.flow_c?, at.return_c?);
    let degrees = |symbol: &str, what: &str, value: f64| {
        input(
            symbol,
            what.into(),
            value,
            Unit::Kind(Kind::TemperatureC),
            Evidence::Found,
        )
    };
    Some(Made {
        what: "drop over the source as the house runs",
        symbol: "drop",
        formula: s("t_flow", hot) - s("t_return", cold),
        source: "",
        inputs: vec![
            degrees("t_flow", "flow temperature as the house runs", hot),
            degrees("t_return", "return temperature as the house runs", cold),
        ],
    })
}
