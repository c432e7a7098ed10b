//! A converged solve as the state that others read.

use super::Setting;
use super::couple::Coupled;
use super::edge::{self, Gate, GateKind, Mode};
use super::flow::Hydraulics;
use super::heat::{Made, Temperatures};
use super::state::{PumpState, SourceLimit, SourceState, State};
use crate::hydraulics::{self, local::M3_H, pump};
use crate::network::{ElementId, Law, Network, PumpControl};

/// The whole state of a solve that has converged.
pub(super) fn state(coupled: &Coupled) -> State {
    let (network, setting, hydraulics) = (coupled.network, coupled.setting, &coupled.hydraulics);
    let (flow, found) = (coupled.flow.clone(), coupled.found().cloned());
    let (places, elements) = (network.graph.node_count(), network.graph.edge_count());
    let pressures = Pressures::new(network, setting, hydraulics, &flow);
    let mut pressure_pa = vec![None; places];
    for &(place, fixed) in &network.reference {
        let root = pressures.part[place.index()];
        for p in 0..places {
            if pressures.part[p] == root {
                pressure_pa[p] = Some(pressures.above[p] - pressures.above[place.index()] + fixed);
            }
        }
    }
    let dp_pa: Vec<Option<f64>> = network
        .element_ids()
        .map(|id| pressures.drop(network, id))
        .collect();
    let pumps = (0..network.pumps.len()).map(|p| pump_state(network, hydraulics, p, &flow, &dp_pa));
    let sources =
        (0..network.sources.len()).map(|s| source_state(network, setting, s, found.as_ref()));
    let (pumps, sources) = (pumps.collect(), sources.collect());
    let found = found.unwrap_or_else(|| Temperatures {
        place_c: vec![None; places],
        in_c: vec![None; elements],
        out_c: vec![None; elements],
        heat_w: vec![0.0; elements],
        mean_cp: Vec::new(),
        made_by: Vec::new(),
    });
    State {
        pumps,
        sources,
        tee_dp_pa: pressures.tees,
        dp_pa,
        pressure_pa,
        place_c: found.place_c,
        in_c: found.in_c,
        out_c: found.out_c,
        heat_w: found.heat_w,
        at_c: coupled.at_c.clone(),
        flow_kg_s: flow,
        stats: coupled.stats,
    }
}

/// Pressures of places by a walk over the elements whose law says what they lose.
struct Pressures {
    /// Above the first place of the part, Pa.
    above: Vec<f64>,
    part: Vec<usize>,
    /// Own loss with tees, Pa; `None` where the element's law does not say.
    loss: Vec<Option<f64>>,
    tees: Vec<f64>,
}

impl Pressures {
    fn new(network: &Network, setting: &Setting, hydraulics: &Hydraulics, flow: &[f64]) -> Self {
        let places = network.graph.node_count();
        let mut gate_of: Vec<Option<&Gate>> = vec![None; flow.len()];
        hydraulics
            .gates
            .iter()
            .for_each(|g| gate_of[g.element as usize] = Some(g));
        let tees = hydraulics.tees.by_element(flow);
        let loss: Vec<Option<f64>> = network
            .element_ids()
            .map(|id| {
                let e = id.index();
                let law = setting.law.get(&id).unwrap_or(&network.element(id).law);
                let gate = gate_of[e];
                let unknown = unknown(setting, network, hydraulics, id, law, flow, gate);
                (!unknown).then(|| own_loss(network, hydraulics, id, law, flow[e]) + tees[e])
            })
            .collect();
        let mut next_to: Vec<Vec<(ElementId, f64)>> = vec![Vec::new(); places];
        for id in network.element_ids() {
            if loss[id.index()].is_some() {
                let (from, to) = network.ends(id);
                next_to[from.index()].push((id, 1.0));
                next_to[to.index()].push((id, -1.0));
            }
        }
        let mut above = vec![0.0; places];
        let mut part = vec![usize::MAX; places];
        for root in 0..places {
            if part[root] != usize::MAX {
                continue;
            }
            part[root] = root;
            let mut stack = vec![root];
            while let Some(place) = stack.pop() {
                for &(id, sign) in &next_to[place] {
                    let (from, to) = network.ends(id);
                    let to = if sign > 0.0 { to } else { from }.index();
                    if part[to] == usize::MAX {
                        part[to] = root;
                        above[to] = above[place] - sign * loss[id.index()].unwrap_or(0.0);
                        stack.push(to);
                    }
                }
            }
        }
        Self {
            above,
            part,
            loss,
            tees,
        }
    }

    /// p(from) − p(to): what the law says, else the difference of the places if something joins them.
    fn drop(&self, network: &Network, id: ElementId) -> Option<f64> {
        self.loss[id.index()].or_else(|| {
            let (from, to) = network.ends(id);
            let (a, b) = (from.index(), to.index());
            (self.part[a] == self.part[b]).then(|| self.above[a] - self.above[b])
        })
    }
}

/// p(from) − p(to) of one element, Pa: by its law, else what the rest of its class leaves of the difference of pressures.
pub(super) fn drop_pa(coupled: &Coupled, id: ElementId) -> Option<f64> {
    let (network, hydraulics) = (coupled.network, &coupled.hydraulics);
    let by_law = |id: ElementId| {
        let e = id.index();
        let law = coupled.setting.law.get(&id);
        let law = law.unwrap_or(&network.element(id).law);
        let gate = hydraulics.gates.iter().find(|g| g.element as usize == e);
        if unknown(
            coupled.setting,
            network,
            hydraulics,
            id,
            law,
            &coupled.flow,
            gate,
        ) {
            return None;
        }
        let tees = hydraulics.tees.on(e, |e| coupled.flow[e]);
        Some(own_loss(network, hydraulics, id, law, coupled.flow[e]) + tees)
    };
    by_law(id).or_else(|| {
        let mut between = hydraulics.between(id)?;
        for &other in hydraulics
            .classes
            .members(hydraulics.classes.of[id.index()] as usize)
        {
            let other = ElementId::new(other as usize);
            if other != id {
                between -= hydraulics.classes.sign[other.index()] * by_law(other)?;
            }
        }
        Some(hydraulics.classes.sign[id.index()] * between)
    })
}

/// Whether the law does not say what an element loses: it is shut, held, or a gate at work.
fn unknown(
    setting: &Setting,
    network: &Network,
    hydraulics: &Hydraulics,
    id: ElementId,
    law: &Law,
    flow: &[f64],
    gate: Option<&Gate>,
) -> bool {
    let e = id.index();
    edge::closed(network, setting, id)
        || hydraulics.beyond.contains(&id)
        || setting.held_kg_s[e].is_some()
        || gate.is_some_and(|g| g.fixed().is_some())
        // a one-way element without flow may bear any smaller difference
        || (matches!(law, Law::OneWay { .. }) && flow[e] == 0.0)
}

fn own_loss(
    network: &Network,
    hydraulics: &Hydraulics,
    id: ElementId,
    law: &Law,
    flow: f64,
) -> f64 {
    let at = hydraulics.at[id.index()];
    if !matches!(law, Law::Pump(_)) {
        return hydraulics::element(law, at, flow).0;
    }
    let pump = network.pumps.iter().position(|p| p.element == id);
    pump.map_or(0.0, |p| {
        -hydraulics.running().head(p, flow * M3_H / at.rho_kg_m3).0
    })
}

fn pump_state(
    network: &Network,
    hydraulics: &Hydraulics,
    p: usize,
    flow: &[f64],
    dp: &[Option<f64>],
) -> PumpState {
    let e = network.pumps[p].element.index();
    let rho = hydraulics.at[e].rho_kg_m3;
    let q_m3h = flow[e] / rho * M3_H;
    let head_pa = 0.0 - dp[e].unwrap_or(0.0);
    let gate = hydraulics
        .gates
        .iter()
        .find(|g| g.kind == GateKind::Pump(p));
    let (speed, limited) = match hydraulics.running().curves[p] {
        None => (0.0, false),
        Some((_, PumpControl::FixedSpeed(speed))) => (speed, false),
        Some(_) if gate.is_some_and(|g| g.mode == Mode::Pushed) => (0.0, true),
        Some((curve, control)) => {
            let at_full = match control {
                PumpControl::HeldToFlow(_) | PumpControl::HeldToDrop { .. } => {
                    gate.is_some_and(|g| g.mode == Mode::Free)
                }
                _ => {
                    edge::controlled_head(curve, control, q_m3h).0
                        >= pump::head(curve, 1.0, q_m3h).0
                }
            };
            let speed = if at_full {
                1.0
            } else {
                pump::speed_for(curve, q_m3h, head_pa).unwrap_or(1.0)
            };
            (speed, at_full)
        }
    };
    PumpState {
        flow_m3_s: flow[e] / rho,
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
    let limit = if found.made_by[s] == Made::Output {
        SourceLimit::Output
    } else if found.made_by[s] == Made::Nothing {
        SourceLimit::WarmReturn
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
