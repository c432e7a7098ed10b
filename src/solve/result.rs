//! A converged solve as the state that others read.

use super::Setting;
use super::edge::{self, Edge, Gate, Mode};
use super::flow::{self, Extra};
use super::heat::Temperatures;
use super::state::{PumpState, SourceLimit, SourceState, State, Stats};
use crate::hydraulics::{local::M3_H, pump};
use crate::network::{Network, PumpControl};

pub(super) fn state(
    network: &Network,
    setting: &Setting,
    edges: &[Edge],
    flow: Vec<f64>,
    found: Option<Temperatures>,
    at_c: &[f64],
    stats: Stats,
) -> State {
    let places = network.graph.node_count();
    let tees = |_: &[f64], _: &mut [f64], _: &mut [f64]| {};
    let drops = flow::drops(places, edges, &flow, &mut Extra { add: &tees });
    let mut pressure_pa = vec![None; places];
    for &(place, fixed) in &network.reference {
        let root = drops.part[place.index()];
        for p in 0..places {
            if drops.part[p] == root {
                pressure_pa[p] = Some(drops.pressure[p] - drops.pressure[place.index()] + fixed);
            }
        }
    }
    let dp_pa: Vec<Option<f64>> = edges
        .iter()
        .enumerate()
        .map(|(e, edge)| {
            let own = edge.is_free() && !(edge.gate == Gate::OneWay && flow[e] == 0.0);
            if own {
                Some(drops.loss[e])
            } else {
                drops.across(edge)
            }
        })
        .collect();
    let pumps = network.pumps.iter().map(|info| {
        let e = info.element.index();
        pump_state(&edges[e], flow[e], dp_pa[e])
    });
    let sources =
        (0..network.sources.len()).map(|s| source_state(network, setting, s, found.as_ref()));
    let elements = edges.len();
    State {
        pumps: pumps.collect(),
        sources: sources.collect(),
        tee_dp_pa: vec![0.0; elements],
        dp_pa,
        pressure_pa,
        place_c: found
            .as_ref()
            .map_or_else(|| vec![None; places], |f| f.place_c.clone()),
        in_c: found
            .as_ref()
            .map_or_else(|| vec![None; elements], |f| f.in_c.clone()),
        out_c: found
            .as_ref()
            .map_or_else(|| vec![None; elements], |f| f.out_c.clone()),
        heat_w: found.map_or_else(|| vec![0.0; elements], |f| f.heat_w),
        at_c: at_c.to_vec(),
        flow_kg_s: flow,
        stats,
    }
}

fn pump_state(edge: &Edge, flow: f64, dp: Option<f64>) -> PumpState {
    let q_m3h = flow / edge.at.rho_kg_m3 * M3_H;
    let head_pa = -dp.unwrap_or(0.0);
    let (speed, limited) = match &edge.kind {
        edge::Kind::Pump(_, PumpControl::FixedSpeed(speed)) => (*speed, false),
        edge::Kind::Pump(..) if edge.mode == Mode::Pushed => (0.0, true),
        edge::Kind::Pump(curve, control) => {
            let full = pump::head(curve, 1.0, q_m3h).0;
            let at_full = match control {
                PumpControl::HeldToFlow(_) | PumpControl::HeldToDrop { .. } => {
                    edge.mode == Mode::Free && !matches!(edge.gate, Gate::Held(_))
                }
                _ => edge::controlled_head(curve, *control, q_m3h).0 >= full,
            };
            (
                if at_full {
                    1.0
                } else {
                    pump::speed_for(curve, q_m3h, head_pa).unwrap_or(1.0)
                },
                at_full,
            )
        }
        _ => (0.0, false),
    };
    PumpState {
        flow_m3_s: flow / edge.at.rho_kg_m3,
        head_pa,
        speed,
        limited,
    }
}

fn source_state(
    network: &Network,
    setting: &Setting,
    s: usize,
    found: Option<&Temperatures>,
) -> SourceState {
    let (source, aim) = (&network.sources[s], &setting.sources[s]);
    let e = source.body.index();
    let idle = SourceState {
        output_w: 0.0,
        flow_c: None,
        return_c: None,
        limit: SourceLimit::Idle,
    };
    let Some(found) = found.filter(|f| f.in_c[e].is_some() && aim.runs) else {
        return idle;
    };
    let output_w = -found.heat_w[e];
    let limit = if found.limited[s] {
        SourceLimit::Output
    } else if source.least_output_w.is_some_and(|least| output_w < least) {
        SourceLimit::LeastOutput
    } else {
        SourceLimit::FlowTemperature
    };
    SourceState {
        output_w,
        flow_c: found.out_c[e],
        return_c: found.in_c[e],
        limit,
    }
}
