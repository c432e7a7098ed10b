//! Water that goes where it should not, in one state of the house: backwards, through what stands still, straight back.

use super::arithmetic::s;
use super::own::{Made, input};
use super::{Evidence, Unit};
use crate::check::{Finding, Kind, Study};
use crate::network::StateKind;
use crate::view::{Required, Running};

/// What a figure without a formula is: nothing that could be worked out further.
pub(super) fn plainly(study: &Study, finding: &Finding) -> Option<(String, Evidence)> {
    let nothing = finding.measured == Some(0.0);
    match finding.check {
        "reverse-flow" if nothing => {
            let running = study.running.iter().find(|r| Some(r.state) == finding.state)?;
            let least = running.emitters.iter().enumerate();
            let least = least.min_by(|a, b| a.1.flow_kg_s.total_cmp(&b.1.flow_kg_s));
            let name = least.and_then(|(i, _)| study.network.emitters.get(i)).map(|e| &e.name)?;
            Some((
                format!(
                    "share of its design flow that passes an emitter backwards: none, for no flow is below zero; the least is \
                     that of {name}"
                ),
                Evidence::Found,
            ))
        }
        "idle-flow" if nothing => {
            Some(("flow through emitters whose pump stands still: none".into(), Evidence::Found))
        }
        "vessel-short-circuit" if nothing => Some((
            "share of the unit's water that comes straight back through the vessel: none, for the water in it stands still or \
             flows the other way"
                .into(),
            Evidence::Found,
        )),
        "antifreeze-glycol" => Some((
            "antifreeze valves of the file that stand in a circuit with glycol".into(),
            Evidence::Stated,
        )),
        _ => None,
    }
}

/// Flow backwards, or where a pump stands still, as a share of the design flow of the emitter that has most of it.
pub(super) fn stray(study: &Study, finding: &Finding, running: &Running) -> Option<Made> {
    let measured = finding.measured.filter(|m| *m > 0.0)?;
    let back = finding.check == "reverse-flow";
    let heating = |r: &&Required| {
        let state = study.network.states.get(r.state);
        state.is_some_and(|s| s.kind == StateKind::Heating)
    };
    let design = study.required.iter().find(heating)?;
    let worst = design.emitters.iter().enumerate().find(|(i, asks)| {
        let runs = running.emitters.get(*i).map_or(0.0, |e| e.flow_kg_s);
        let share = if back { -runs } else { runs.abs() } / asks.flow_kg_s;
        (share - measured).abs() <= 1e-9 * measured
    });
    let (i, asks) = worst?;
    let name = &study.network.emitters.get(i)?.name;
    let runs = running.emitters.get(i)?.flow_kg_s.abs();
    let flow = Unit::Kind(Kind::MassFlowKgS);
    let way = if back { "backwards" } else { "" };
    Some(Made {
        what: "flow as a share of the emitter's design flow",
        symbol: "share",
        formula: s("m_stray", runs) / s("m_design", asks.flow_kg_s),
        source: "",
        inputs: vec![
            input(
                "m_stray",
                format!("flow that passes {name} {way} in this state"),
                runs,
                flow,
                Evidence::Found,
            ),
            input(
                "m_design",
                format!("design flow of {name}; see its own trace"),
                asks.flow_kg_s,
                flow,
                Evidence::Found,
            ),
        ],
    })
}

/// Share of the unit's water that comes straight back through a vessel.
pub(super) fn short_circuit(
    study: &Study,
    finding: &Finding,
    running: &Running,
    vessel: usize,
) -> Option<Made> {
    finding.measured.filter(|m| *m > 0.0)?;
    let of = study.network.vessels.get(vessel)?;
    let down = running.solved.flow_kg_s.get(of.body.index())?.abs();
    let (_, primary) = *finding.detail.iter().find(|(k, _)| *k == "primary_kg_s")?;
    let flow = |symbol: &str, what: &str, value: f64| {
        let unit = Unit::Kind(Kind::MassFlowKgS);
        input(symbol, what.into(), value, unit, Evidence::Found)
    };
    Some(Made {
        what: "share of the unit's water that comes straight back",
        symbol: "share",
        formula: s("m_vessel", down) / s("m_units", primary),
        source: "flow balance of the vessel",
        inputs: vec![
            flow(
                "m_vessel",
                "flow down through the vessel as the house runs",
                down,
            ),
            flow("m_units", "flow of the units as the house runs", primary),
        ],
    })
}
