//! Formulas of findings whose figure no trace of a run, an emitter or a circuit holds: noise at valves, mixing in a vessel,
//! heat of rooms, surfaces of floors, the drop and the flow of a unit.

use super::arithmetic::{Expr, n, s, sum};
use super::{Evidence, Input, Step, Trace, Unit, What, properties, states};
use crate::check::{Finding, Kind, Study, Subject};
use crate::network::{HeatLaw, Law, PartLaw};
use crate::view::Running;

const FOUND: &str = "found by the solver";

/// Whether a finding's figure is not that of its subject: its trace starts afresh.
pub(super) fn alone(study: &Study, finding: &Finding) -> bool {
    match (finding.check, finding.subject) {
        ("source-least-flow" | "source-greatest-flow" | "defrost-flow" | "least-output", _) => true,
        ("room-heat", Subject::Room(_)) => true,
        ("head-kind", Subject::Source(i)) => {
            let kind = study.network.sources.get(i).and_then(|s| s.free_head);
            kind == Some(false)
        }
        _ => false,
    }
}

/// Adds the steps of a finding's own figure, where its check has any.
pub(super) fn steps(trace: &mut Trace, study: &Study, finding: &Finding) {
    let Some(measured) = finding.measured else {
        return;
    };
    let running = study
        .running
        .iter()
        .find(|r| Some(r.state) == finding.state);
    let network = &study.network;
    let made = match (finding.check, finding.subject) {
        ("valve-noise", Subject::Emitter(i)) => running.and_then(|r| noise(study, r, i)),
        ("vessel-mixing", _) => mixing(finding),
        ("room-heat", Subject::Room(i)) => {
            let emitters = network.rooms.get(i).map_or(&[][..], |r| &r.emitters);
            running.and_then(|r| room(trace, study, finding, r, emitters))
        }
        ("room-heat", Subject::Emitter(i)) if made_alone(study, finding) => {
            running.and_then(|r| room(trace, study, finding, r, &[i]))
        }
        ("source-drop" | "small-drop", Subject::Source(i)) => running.and_then(|r| drop(r, i)),
        ("source-least-flow" | "source-greatest-flow", Subject::Source(i)) => {
            if let Some(run) = running {
                super::plant::flow(trace, study, i, (&run.solved, "as the house runs"), None);
            }
            required_flow(study, finding, i)
        }
        ("defrost-flow" | "head-kind", Subject::Source(i)) if alone(study, finding) => {
            let full = running.and_then(|r| {
                crate::view::running::at_full_speed(network, r.state, &r.lockshields, |_| {}).ok()
            });
            if let Some(solved) = full {
                let when = (&solved, "with the pump at full speed");
                let mode = Some(crate::network::PumpControl::FixedSpeed(1.0));
                super::plant::flow(trace, study, i, when, mode);
            }
            None
        }
        ("least-output", Subject::Source(i)) => {
            if let Some(run) = running {
                super::plant::made(trace, network, i, &run.solved);
            }
            None
        }
        ("floor-surface", Subject::Emitter(i)) => surface(study, finding, i),
        ("reverse-flow" | "idle-flow", _) => running.and_then(|r| states::stray(study, finding, r)),
        ("vessel-short-circuit", Subject::Vessel(i)) => {
            running.and_then(|r| states::short_circuit(study, finding, r, i))
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
        .is_some_and(|((_, w), m)| (m - w).abs() > 1e-9 * m.abs());
    limited && !study.running.is_empty()
}

/// A figure with what it is made of.
pub(super) struct Made {
    pub what: &'static str,
    pub symbol: &'static str,
    pub formula: Expr,
    pub source: &'static str,
    pub inputs: Vec<Input>,
}

pub(super) fn input(
    symbol: &str,
    what: String,
    value: f64,
    unit: Unit,
    evidence: Evidence,
) -> Input {
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

/// Heat of all emitters of a room: as it runs, or where surplus heat is held back by valves, with no limit to what the unit
/// makes.
fn room(
    trace: &mut Trace,
    study: &Study,
    finding: &Finding,
    running: &Running,
    emitters: &[usize],
) -> Option<Made> {
    let network = &study.network;
    let free = match made_alone(study, finding) {
        true => crate::view::running::without_output_limit(network, running)
            .ok()
            .flatten(),
        false => None,
    };
    let (solved, when) = match &free {
        Some(state) => (state, "if the unit's output knew no limit"),
        None => (&running.solved, "as the house runs"),
    };
    if free.is_some() {
        trace.notes.push(
            "What is judged is the heat that the room would get if the unit's output knew no limit, since valves of warm rooms \
             hold surplus heat back: a unit that is too small is found by its own check."
                .into(),
        );
    }
    let mut terms = Vec::new();
    let mut inputs = Vec::new();
    for (number, &e) in emitters.iter().enumerate() {
        let emitter = network.emitters.get(e)?;
        let i = emitter.body.index();
        let heat = solved.heat_w.get(i).copied()?;
        let ends = solved
            .in_c
            .get(i)
            .copied()
            .flatten()
            .zip(solved.out_c.get(i).copied().flatten());
        let tag = format!("_r{}", number + 1);
        let worked = ends.and_then(|(a, b)| {
            super::emitter::heat(trace, network, emitter, (a, b, heat), (&tag, when))
        });
        let term = worked.unwrap_or_else(|| {
            let symbol = format!("Q{tag}");
            let evidence = match emitter.law {
                HeatLaw::Fixed(_) => Evidence::Stated,
                HeatLaw::Rated { .. } | HeatLaw::Floor { .. } => Evidence::Found,
            };
            let what = format!(
                "heat of {}, as given, or nothing if no water passes it",
                emitter.name
            );
            inputs.push(input(
                &symbol,
                what,
                heat,
                Unit::Kind(Kind::PowerW),
                evidence,
            ));
            s(symbol, heat)
        });
        terms.push(term);
        if !trace.see.contains(&What::Emitter(e)) {
            trace.see.push(What::Emitter(e));
        }
    }
    (terms.len() > 1).then(|| Made {
        what: "heat of all emitters of the room",
        symbol: "Q_room",
        formula: sum(terms),
        source: "heat balance",
        inputs,
    })
}

/// The required flow through a unit, where that is what is held against the greatest that the maker allows.
fn required_flow(study: &Study, finding: &Finding, source: usize) -> Option<Made> {
    let pump = study.network.sources.get(source)?.pump?;
    let view = study
        .required
        .iter()
        .find(|r| Some(r.state) == finding.state)?;
    let circuit = view.circuits.iter().find(|c| c.pump == Some(pump))?;
    let element = study.network.pumps.get(pump)?.element;
    let celsius = *view.temperature_c.get(element.index())?;
    let at = properties(&study.network, element, celsius)?;
    Some(Made {
        what: "volume flow that is required",
        symbol: "q_required",
        formula: s("m_required", circuit.flow_kg_s) / s("rho_required", at.rho_kg_m3),
        source: "",
        inputs: vec![
            input(
                "m_required",
                "flow that is required; see the trace of the unit".into(),
                circuit.flow_kg_s,
                Unit::Kind(Kind::MassFlowKgS),
                Evidence::Found,
            ),
            input(
                "rho_required",
                format!("density at {celsius:.1} °C"),
                at.rho_kg_m3,
                Unit::Plain("kg/m3"),
                Evidence::Table,
            ),
        ],
    })
}

/// Mean temperature of a heated floor's surface.
fn surface(study: &Study, finding: &Finding, emitter: usize) -> Option<Made> {
    let of = study.network.emitters.get(emitter)?;
    let HeatLaw::Floor {
        area_m2: Some(area),
        ..
    } = of.law
    else {
        return None;
    };
    let room = study.network.rooms.get(of.room)?.temperature_c;
    let detail = finding.detail.iter().find(|(k, _)| *k == "heat_w_m2");
    let heat = detail.map(|(_, v)| v * area)?;
    let (evidence, what) = match (heat - of.duty_w).abs() <= 1e-9 * heat {
        true => (Evidence::Stated, "heat that the floor has to give"),
        false => (
            Evidence::Found,
            "heat that the floor gives as the house runs; see the emitter's trace",
        ),
    };
    let flux = s("Q_floor", heat) / s("A_floor", area);
    let mut area_is = input(
        "A_floor",
        format!("area of {}", of.name),
        area,
        Unit::Plain("m2"),
        Evidence::Stated,
    );
    area_is.span.clone_from(&of.span);
    Some(Made {
        what: "mean temperature of the floor's surface",
        symbol: "t_surface",
        formula: s("t_air", room) + (flux / n(8.92)).pow(n(1.0) / n(1.1)),
        source: "basic characteristic curve of EN 1264-2",
        inputs: vec![
            input(
                "Q_floor",
                what.into(),
                heat,
                Unit::Kind(Kind::PowerW),
                evidence,
            ),
            area_is,
            input(
                "t_air",
                "room temperature".into(),
                room,
                Unit::Kind(Kind::TemperatureC),
                Evidence::Stated,
            ),
        ],
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
