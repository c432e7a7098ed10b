//! One combination of shut valves, solved: what matters of it, small enough to keep for every combination.

use super::sets::Mask;
use super::valves::Closable;
use crate::network::{ElementId, Network, Role};
use crate::solve::{Setting, SolveError, Solver, State};
use crate::view::running::{solve_blended, source_flow_m3_s};

/// What matters of a combination.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Facts {
    /// Valves shut.
    pub shut: Mask,
    /// Least flow through a running source, m³/s; 0 if nothing moves.
    pub flow_m3_s: f64,
    /// Share of that source's least flow that is left over, negative if it trips; infinite if no least flow is known.
    pub margin: f64,
    /// Water that circulates, m³.
    pub water_m3: f64,
    /// Heat that leaves the water, W.
    pub heat_w: f64,
    /// Largest pressure difference across an open valve of an emitter, Pa, and the emitter.
    pub valve_dp_pa: Option<(f64, usize)>,
    /// Return temperature at that source, °C.
    pub return_c: Option<f64>,
    /// Head of that source's pump, Pa.
    pub head_pa: f64,
}

impl Facts {
    /// Whether the unit trips on low flow.
    pub fn trips(&self) -> bool {
        // a pump held to the least flow meets it to rounding
        self.margin < -1e-6
    }
}

/// Share of the largest flow under which water counts as standing: rounding of the balance, not a flow.
const STANDING: f64 = 1e-6;

/// A setting with more valves shut.
pub fn with_shut(base: &Setting, valves: &[Closable], shut: Mask) -> Setting {
    let mut setting = base.clone();
    for (_, valve) in valves
        .iter()
        .enumerate()
        .filter(|(i, _)| shut >> i & 1 == 1)
    {
        for id in &valve.elements {
            setting.shut[id.index()] = true;
        }
        for &pump in &valve.pumps {
            setting.stopped[pump] = true;
        }
    }
    setting
}

/// Solves one combination.
///
/// A combination in which nothing can move is an answer, not an error: no flow, no heat, no water.
///
/// # Errors
/// What stops the solver otherwise.
pub fn facts(
    network: &Network,
    solver: &Solver<'_>,
    setting: &Setting,
    shut: Mask,
) -> Result<(Facts, Option<State>), SolveError> {
    match answer(network, solver, setting) {
        Ok(state) => Ok((read(network, setting, &state, shut), Some(state))),
        Err(SolveError::NothingMoves) => Ok((still(network, setting, shut), None)),
        Err(error) => Err(error),
    }
}

/// Solves a setting; where a manifold mixes, with the draw searched for as the running view does.
///
/// # Errors
/// What stops the solver.
pub fn answer(
    network: &Network,
    solver: &Solver<'_>,
    setting: &Setting,
) -> Result<State, SolveError> {
    if network.manifolds.iter().any(|m| m.blend.is_some()) {
        solve_blended(network, &mut setting.clone())
    } else {
        solver.solve(setting)
    }
}

/// Facts of a solved combination.
pub fn read(network: &Network, setting: &Setting, state: &State, shut: Mask) -> Facts {
    let mut facts = still(network, setting, shut);
    facts.margin = f64::INFINITY;
    let mut least_flow = f64::INFINITY;
    for (s, source) in network
        .sources
        .iter()
        .enumerate()
        .filter(|(s, _)| setting.sources[*s].runs)
    {
        let flow_m3_s = source_flow_m3_s(network, s, state);
        let margin = source
            .least_flow_m3_s
            .map_or(f64::INFINITY, |least| flow_m3_s / least - 1.0);
        if margin < facts.margin || (margin == facts.margin && flow_m3_s < least_flow) {
            least_flow = flow_m3_s;
            facts.margin = margin;
            facts.flow_m3_s = flow_m3_s;
            facts.return_c = state.in_c[source.body.index()];
            facts.head_pa = source.pump.map_or(0.0, |p| state.pumps[p].head_pa);
        }
    }
    facts.water_m3 = circulating_m3(network, state);
    facts.heat_w = network
        .emitters
        .iter()
        .map(|e| state.heat_w[e.body.index()])
        .sum();
    for (e, emitter) in network.emitters.iter().enumerate() {
        let Some(valve) = emitter.valve.filter(|v| !setting.shut[v.index()]) else {
            continue;
        };
        let open = state.flow_kg_s[valve.index()] != 0.0;
        let Some(dp_pa) = state.dp_pa[valve.index()].filter(|_| open).map(f64::abs) else {
            continue;
        };
        if facts.valve_dp_pa.is_none_or(|(most, _)| dp_pa > most) {
            facts.valve_dp_pa = Some((dp_pa, e));
        }
    }
    facts
}

/// Facts of a combination in which nothing moves.
fn still(network: &Network, setting: &Setting, shut: Mask) -> Facts {
    let knows_least = network
        .sources
        .iter()
        .enumerate()
        .any(|(s, source)| setting.sources[s].runs && source.least_flow_m3_s.is_some());
    Facts {
        shut,
        flow_m3_s: 0.0,
        margin: if knows_least { -1.0 } else { f64::INFINITY },
        water_m3: 0.0,
        heat_w: 0.0,
        valve_dp_pa: None,
        return_c: None,
        head_pa: 0.0,
    }
}

/// Water in elements that flow, m³: what shut valves cut off does not count, nor does a coil that is not in circuit.
///
/// Only circuits that pass a running source count; the far side of an exchanger holds no heat for a defrost.
pub fn circulating_m3(network: &Network, state: &State) -> f64 {
    let largest = state
        .flow_kg_s
        .iter()
        .fold(0.0_f64, |most, flow| most.max(flow.abs()));
    let near: Vec<usize> = network
        .sources
        .iter()
        .map(|s| network.element(s.body).fluid)
        .collect();
    network
        .element_ids()
        .filter(|id| state.flow_kg_s[id.index()].abs() > STANDING * largest)
        .map(|id| network.element(id))
        .filter(|element| near.contains(&element.fluid))
        .map(|element| element.volume_m3)
        .sum()
}

/// Circulating water by what holds it, m³: source, pipes, emitters, vessels, coil.
pub fn water_by_kind(network: &Network, state: &State) -> [(&'static str, f64); 5] {
    let largest = state
        .flow_kg_s
        .iter()
        .fold(0.0_f64, |most, flow| most.max(flow.abs()));
    let sum = |wanted: &dyn Fn(Role) -> bool| {
        network
            .element_ids()
            .filter(|id: &ElementId| state.flow_kg_s[id.index()].abs() > STANDING * largest)
            .map(|id| network.element(id))
            .filter(|e| wanted(e.role))
            .map(|e| e.volume_m3)
            .sum::<f64>()
    };
    [
        ("the unit", sum(&|r| matches!(r, Role::SourceBody))),
        (
            "pipes",
            sum(&|r| {
                !matches!(
                    r,
                    Role::SourceBody | Role::EmitterBody | Role::Vessel | Role::Coil
                )
            }),
        ),
        ("emitters", sum(&|r| matches!(r, Role::EmitterBody))),
        ("vessels", sum(&|r| matches!(r, Role::Vessel))),
        ("cylinder coil", sum(&|r| matches!(r, Role::Coil))),
    ]
}
