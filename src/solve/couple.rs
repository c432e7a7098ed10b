//! Hydraulics and heat together: properties at local temperature, pumps held to a drop, blended inlets.
//!
//! Rounds of flow and temperature repeat until both stand still. What heat asks of flow (a drop to hold, a temperature to
//! mix) is a short vector of caps; Broyden's rank-one updates let it settle in a few rounds.

use super::Setting;
use super::edge::{self, Edge, Mode};
use super::flow::{self, Extra};
use super::heat::{self, Temperatures};
use super::result;
use super::state::{SolveError, State, Stats};
use crate::fluid::{Liquid, OutOfRange, Properties};
use crate::hydraulics::{self, local::M3_H, pump};
use crate::network::{ElementId, Law, Network, PartLaw, PumpControl};
use crate::survey::Side;

/// Rounds of heat and flow before giving up.
const MOST_ROUNDS: u32 = 200;
/// Largest change of a temperature that properties were taken at, K: viscosity changes by 2 % a kelvin, so flows then
/// stand to 1e-11.
const STEADY_K: f64 = 1e-8;
/// Largest change of a cap, as a share of the largest flow.
const STEADY_FLOW: f64 = 1e-11;

/// A cap that heat decides.
#[derive(Clone, Copy, Debug)]
enum Asked {
    /// Pump (by index) that holds a drop over its source.
    Drop {
        pump: usize,
        source: usize,
        drop_k: f64,
        least: f64,
        greatest: f64,
    },
    /// Inlet of a blended manifold.
    Blend { manifold: usize },
}

pub(super) fn solve(network: &Network, setting: &Setting) -> Result<State, SolveError> {
    let liquids: Vec<Liquid> = network.fluids.iter().map(hydraulics::liquid).collect();
    let variable = liquids.iter().any(|l| !l.is_constant());
    let mut at_c = start_temperatures(network, setting);
    let mut asked = asked(network, setting);
    if !setting.heat {
        asked.retain(|a| matches!(a, Asked::Drop { .. }));
    }
    let mut at = properties(network, &liquids, &at_c)?;
    let mut caps: Vec<f64> = asked
        .iter()
        .map(|a| first_guess(network, setting, a, &at))
        .collect();
    let mut stats = Stats::default();
    let mut broyden = Broyden::new(caps.len());
    let mut modes: Option<Vec<Mode>> = None;
    let mut change_k = 0.0;
    for round in 1..=MOST_ROUNDS {
        let (pump_caps, valve_caps) = spread(network, setting, &asked, &caps);
        let mut edges = edge::edges(network, setting, &at, &pump_caps, &valve_caps);
        if let Some(modes) = &modes {
            edges.iter_mut().zip(modes).for_each(|(e, m)| e.mode = *m);
        }
        let nominal: Vec<f64> = edges
            .iter()
            .enumerate()
            .map(|(e, edge)| nominal(network, e, edge))
            .collect();
        let tees = |_: &[f64], _: &mut [f64], _: &mut [f64]| {};
        let mut extra = Extra { add: &tees };
        let flow = flow::settle(
            network.graph.node_count(),
            &mut edges,
            &nominal,
            &mut extra,
            &mut stats,
        )?;
        modes = Some(edges.iter().map(|e| e.mode).collect());
        if !setting.heat {
            return Ok(result::state(
                network, setting, &edges, flow, None, &at_c, stats,
            ));
        }
        stats.heat_rounds = round;
        let cp: Vec<f64> = at.iter().map(|p| p.cp_j_kgk).collect();
        let found = heat::solve(network, setting, &flow, &cp).map_err(|change_k| {
            SolveError::HeatNotConverged {
                change_k,
                rounds: round,
            }
        })?;
        change_k = 0.0;
        if variable {
            for e in 0..at_c.len() {
                if let (Some(a), Some(b)) = (found.in_c[e], found.out_c[e]) {
                    let mean = 0.5 * (a + b);
                    if !liquids[network.graph[ElementId::new(e)].fluid].is_constant() {
                        change_k = f64::max(change_k, (mean - at_c[e]).abs());
                    }
                    at_c[e] = mean;
                }
            }
        }
        let largest = flow.iter().fold(0.0_f64, |m, f| m.max(f.abs()));
        let wanted: Vec<f64> = asked
            .iter()
            .zip(&caps)
            .map(|(a, cap)| wanted(network, setting, a, *cap, &flow, &at, &found))
            .collect();
        let off = wanted
            .iter()
            .zip(&caps)
            .zip(&asked)
            .fold(0.0_f64, |m, ((w, c), a)| {
                let e = element_of(network, a).index();
                // a cap above what flows is not at work; it may stand anywhere there
                let idle = flow[e] < c * (1.0 - 1e-9) && *w >= flow[e];
                if idle { m } else { m.max((w - c).abs()) }
            });
        if change_k <= STEADY_K && off <= STEADY_FLOW * largest {
            if largest == 0.0
                && setting.stopped.iter().all(|s| *s)
                && !setting.held_kg_s.iter().any(Option::is_some)
            {
                return Err(SolveError::NothingMoves);
            }
            return Ok(result::state(
                network,
                setting,
                &edges,
                flow,
                Some(found),
                &at_c,
                stats,
            ));
        }
        caps = broyden.next(&caps, &wanted);
        at = properties(network, &liquids, &at_c)?;
    }
    Err(SolveError::HeatNotConverged {
        change_k,
        rounds: MOST_ROUNDS,
    })
}

/// Fixed point x = g(x) by Broyden's second method, kept positive and near what g says.
struct Broyden {
    inverse: Vec<f64>,
    last: Option<(Vec<f64>, Vec<f64>)>,
}

impl Broyden {
    fn new(n: usize) -> Self {
        let mut inverse = vec![0.0; n * n];
        (0..n).for_each(|i| inverse[i * n + i] = 1.0);
        Self {
            inverse,
            last: None,
        }
    }

    /// The next x from x and g(x).
    fn next(&mut self, x: &[f64], g: &[f64]) -> Vec<f64> {
        let n = x.len();
        let residual: Vec<f64> = g.iter().zip(x).map(|(g, x)| g - x).collect();
        if let Some((x0, r0)) = &self.last {
            let dx: Vec<f64> = x.iter().zip(x0).map(|(a, b)| a - b).collect();
            let dr: Vec<f64> = residual.iter().zip(r0).map(|(a, b)| a - b).collect();
            let norm: f64 = dr.iter().map(|d| d * d).sum();
            if norm > 0.0 {
                for i in 0..n {
                    let row: f64 = (0..n).map(|j| self.inverse[i * n + j] * dr[j]).sum();
                    // x moves against the residual: inverse approximates −(dr/dx)⁻¹
                    let miss = (-dx[i] - row) / norm;
                    for j in 0..n {
                        self.inverse[i * n + j] += miss * dr[j];
                    }
                }
            }
        }
        self.last = Some((x.to_vec(), residual.clone()));
        (0..n)
            .map(|i| {
                let step: f64 = (0..n).map(|j| self.inverse[i * n + j] * residual[j]).sum();
                let (low, high) = (0.25 * x[i].min(g[i]), 4.0 * x[i].max(g[i]));
                (x[i] + step).clamp(low, high)
            })
            .collect()
    }
}

/// Where properties are taken before heat is known: by side, bodies between.
fn start_temperatures(network: &Network, setting: &Setting) -> Vec<f64> {
    let of = |side: Option<Side>| match side {
        Some(Side::Flow) => Some(setting.flow_c),
        Some(Side::Return) => Some(setting.return_c),
        _ => None,
    };
    let middle = 0.5 * (setting.flow_c + setting.return_c);
    network
        .element_ids()
        .map(|id| {
            let (from, to) = network.ends(id);
            match (of(network.graph[from].side), of(network.graph[to].side)) {
                (Some(a), Some(b)) => 0.5 * (a + b),
                (Some(a), None) | (None, Some(a)) => a,
                (None, None) => middle,
            }
        })
        .collect()
}

fn properties(
    network: &Network,
    liquids: &[Liquid],
    at_c: &[f64],
) -> Result<Vec<Properties>, SolveError> {
    network
        .element_ids()
        .map(|id| {
            let temperature_c = at_c[id.index()];
            liquids[network.element(id).fluid]
                .at(temperature_c)
                .map_err(|e: OutOfRange| match e {
                    OutOfRange::Temperature { .. } | OutOfRange::Concentration { .. } => {
                        SolveError::TemperatureOutOfRange {
                            element: id,
                            temperature_c,
                        }
                    }
                })
        })
        .collect()
}

fn asked(network: &Network, setting: &Setting) -> Vec<Asked> {
    let mut asked = Vec::new();
    for (pump, info) in network.pumps.iter().enumerate() {
        if let PumpControl::HeldToDrop {
            drop_k,
            least_kg_s,
            greatest_kg_s,
        } = setting.control[pump]
            && !setting.stopped[pump]
            && let Some(source) = info.source
        {
            asked.push(Asked::Drop {
                pump,
                source,
                drop_k,
                least: least_kg_s,
                greatest: greatest_kg_s,
            });
        }
    }
    for (manifold, info) in network.manifolds.iter().enumerate() {
        if let Some(blend) = info.blend
            && setting.held_kg_s[blend.inlet.index()].is_none()
            && !setting.shut[blend.inlet.index()]
        {
            asked.push(Asked::Blend { manifold });
        }
    }
    asked
}

fn element_of(network: &Network, asked: &Asked) -> ElementId {
    match *asked {
        Asked::Drop { pump, .. } => network.pumps[pump].element,
        Asked::Blend { manifold } => network.manifolds[manifold]
            .blend
            .map_or(ElementId::new(0), |b| b.inlet),
    }
}

fn first_guess(network: &Network, setting: &Setting, asked: &Asked, at: &[Properties]) -> f64 {
    let e = element_of(network, asked).index();
    match *asked {
        Asked::Drop {
            source,
            drop_k,
            least,
            greatest,
            ..
        } => {
            let duties: f64 = network.emitters.iter().map(|e| e.duty_w).sum();
            let output = setting.sources[source]
                .output_w
                .or(network.sources[source].output_w)
                .unwrap_or(duties);
            (output / (at[e].cp_j_kgk * drop_k)).clamp(least, greatest.max(least))
        }
        Asked::Blend { .. } => match network.graph[ElementId::new(e)].law {
            Law::HoldFlow { flow_kg_s, .. } if flow_kg_s > 0.0 => flow_kg_s,
            _ => 0.05,
        },
    }
}

/// The flow that heat asks for, from the present round.
fn wanted(
    network: &Network,
    setting: &Setting,
    asked: &Asked,
    cap: f64,
    flow: &[f64],
    at: &[Properties],
    found: &Temperatures,
) -> f64 {
    match *asked {
        Asked::Drop {
            source,
            drop_k,
            least,
            greatest,
            pump,
        } => {
            let body = network.sources[source].body.index();
            let output = -found.heat_w[body];
            if !setting.sources[source].runs || output <= 0.0 {
                return least.max(0.0);
            }
            let pump = network.pumps[pump].element.index();
            // where the body does not carry the whole of the pump's flow, the drop is still the body's own
            let share = if flow[body] != 0.0 {
                flow[pump].abs() / flow[body].abs()
            } else {
                1.0
            };
            (share * output / (at[body].cp_j_kgk * drop_k)).clamp(least, greatest.max(least))
        }
        Asked::Blend { manifold } => {
            let Some(blend) = network.manifolds[manifold].blend else {
                return cap;
            };
            let (inlet, mixing) = (blend.inlet.index(), blend.mixing.index());
            let total = flow[inlet].abs() + flow[mixing].abs();
            match (found.out_c[inlet], found.out_c[mixing]) {
                (Some(hot), _) if hot <= blend.set_c => total.max(cap) * 2.0,
                (Some(hot), Some(cool)) if hot > cool => {
                    (total * (blend.set_c - cool) / (hot - cool)).clamp(0.0, f64::INFINITY)
                }
                _ => cap * 2.0,
            }
        }
    }
}

fn spread(
    network: &Network,
    setting: &Setting,
    asked: &[Asked],
    caps: &[f64],
) -> (Vec<Option<f64>>, Vec<Option<f64>>) {
    let mut pump_caps: Vec<Option<f64>> = setting
        .control
        .iter()
        .map(|control| match control {
            PumpControl::HeldToFlow(flow) => Some(*flow),
            _ => None,
        })
        .collect();
    let mut valve_caps = vec![None; network.graph.edge_count()];
    for (a, &cap) in asked.iter().zip(caps) {
        match *a {
            Asked::Drop { pump, .. } => pump_caps[pump] = Some(cap),
            Asked::Blend { .. } => valve_caps[element_of(network, a).index()] = Some(cap),
        }
    }
    (pump_caps, valve_caps)
}

/// A usual flow through an element, kg/s: the scale of its first slope.
fn nominal(network: &Network, e: usize, edge: &Edge) -> f64 {
    let rho = edge.at.rho_kg_m3;
    let by_kv = |kv: f64| 0.3 * kv / M3_H * rho;
    match &network.graph[ElementId::new(e)].law {
        Law::Parts(parts) => {
            let each = parts.iter().map(|p| match p.law {
                PartLaw::Friction { bore_m, .. } | PartLaw::Zeta { bore_m, .. } => {
                    0.4 * rho * hydraulics::friction::area_m2(bore_m)
                }
                PartLaw::Kv { kv_m3h } => by_kv(kv_m3h),
                PartLaw::Power { q_ref_m3h, .. } => q_ref_m3h / M3_H * rho,
            });
            let least = each.fold(f64::INFINITY, f64::min);
            if least.is_finite() && least > 0.0 {
                least
            } else {
                0.1
            }
        }
        Law::Pump(curve) => (0.5 * pump::end_of_curve_m3h(curve) / M3_H * rho).max(1e-6),
        Law::OneWay { kv_m3h, .. } | Law::HoldFlow { kv_m3h, .. } => by_kv(*kv_m3h).max(1e-6),
    }
}
