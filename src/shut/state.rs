//! One combination of shut valves, solved: what matters of it, small enough to keep for every combination.

use super::sets::Mask;
use super::valves::Closable;
use crate::hydraulics::{local::M3_H, pump};
use crate::network::{Element, ElementId, Law, Network, PumpControl, Role, Source};
use crate::solve::{Light, Setting, SolveError, Solver, State};
use crate::view::running::source_flow_m3_s;

/// What matters of a combination.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Facts {
    /// Valves shut.
    pub shut: Mask,
    /// Least flow through a running source, m³/s; 0 if nothing moves.
    pub flow_m3_s: f64,
    /// Share of that source's least flow that is left over, negative if it trips; infinite if no least flow is known.
    pub margin: f64,
    /// Where that source's pump holds a drop or a flow by itself and the unit does not trip: share of its full-speed head at
    /// the least flow that is left over there. How far that is from a trip, the flow it holds does not say.
    pub spare: Option<f64>,
    /// Water that circulates, m³.
    pub water_m3: f64,
    /// Heat that leaves the water, W.
    pub heat_w: f64,
    /// Largest pressure difference across an open valve of an emitter, Pa, and the emitter.
    pub valve_dp_pa: Option<(f64, usize)>,
    /// Flow through that valve, m³/s.
    pub valve_flow_m3_s: Option<f64>,
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

    /// How far it is from a trip, for an order of combinations: less is nearer, and negative is one.
    pub fn near(&self) -> f64 {
        match self.spare {
            Some(spare) if !self.trips() => spare.max(0.0),
            _ => self.margin,
        }
    }
}

/// Share of the largest flow under which water counts as standing: it then turns over in hours, not within a defrost or a
/// run, and what leaks through a stopped pump past a header is no circulation.
const STANDING: f64 = 1e-3;

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
    match solver.solve(setting) {
        Ok(state) => Ok((read(network, setting, &state, shut), Some(state))),
        Err(SolveError::NothingMoves) => Ok((still(network, setting, shut), None)),
        Err(error) => Err(error),
    }
}

/// Facts of a solved combination.
pub fn read(network: &Network, setting: &Setting, state: &State, shut: Mask) -> Facts {
    let mut facts = still(network, setting, shut);
    facts.margin = f64::INFINITY;
    let mut least_flow = f64::INFINITY;
    let mut nearest = None;
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
            nearest = Some(source);
        }
    }
    let pump_flow_kg_s = |id: ElementId| state.flow_kg_s[id.index()];
    facts.spare = nearest.and_then(|s| spare(network, setting, s, &facts, &pump_flow_kg_s));
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
        let kg_s = state.flow_kg_s[valve.index()];
        let dp_pa = state.dp_pa[valve.index()].filter(|_| kg_s != 0.0);
        let Some(dp_pa) = dp_pa.map(f64::abs) else {
            continue;
        };
        if facts.valve_dp_pa.is_none_or(|(most, _)| dp_pa > most) {
            let rho = rho_kg_m3(network, valve, state.in_c[valve.index()]);
            facts.valve_dp_pa = Some((dp_pa, e));
            facts.valve_flow_m3_s = Some(kg_s.abs() / rho);
        }
    }
    facts
}

/// The same of a state that is looked at in place.
pub fn read_light(network: &Network, setting: &Setting, light: &Light<'_>, shut: Mask) -> Facts {
    let mut facts = still(network, setting, shut);
    facts.margin = f64::INFINITY;
    let mut least_flow = f64::INFINITY;
    let mut nearest = None;
    for (source, _) in network
        .sources
        .iter()
        .zip(&setting.sources)
        .filter(|(_, s)| s.runs)
    {
        let body = source.body;
        let rho = rho_kg_m3(network, body, light.in_c(body));
        let flow_m3_s = light.flow_kg_s(body).abs() / rho;
        let margin = source
            .least_flow_m3_s
            .map_or(f64::INFINITY, |least| flow_m3_s / least - 1.0);
        if margin < facts.margin || (margin == facts.margin && flow_m3_s < least_flow) {
            least_flow = flow_m3_s;
            facts.margin = margin;
            facts.flow_m3_s = flow_m3_s;
            facts.return_c = light.in_c(body);
            nearest = Some(source);
        }
    }
    let flow = |id: ElementId| light.flow_kg_s(id);
    facts.water_m3 = circulating(network, &flow).map(|e| e.volume_m3).sum();
    facts.heat_w = network.emitters.iter().map(|e| light.heat_w(e.body)).sum();
    let mut loudest = None;
    for (e, emitter) in network.emitters.iter().enumerate() {
        let Some(valve) = emitter.valve.filter(|v| flow(*v) != 0.0) else {
            continue;
        };
        let Some(dp_pa) = light.dp_pa(valve).map(f64::abs) else {
            continue;
        };
        if facts.valve_dp_pa.is_none_or(|(most, _)| dp_pa > most) {
            facts.valve_dp_pa = Some((dp_pa, e));
            loudest = Some(valve);
        }
    }
    facts.valve_flow_m3_s =
        loudest.map(|valve| flow(valve).abs() / rho_kg_m3(network, valve, light.in_c(valve)));
    facts.head_pa = nearest
        .and_then(|s| s.pump)
        .map_or(0.0, |p| light.head_pa(p));
    facts.spare = nearest.and_then(|s| spare(network, setting, s, &facts, &flow));
    facts
}

/// Share of its head at full speed and the source's least flow that a pump which holds a drop or a flow by itself has left.
/// What the house takes is known at the flow that is held; at the least flow, where that is less, it is at least what a
/// square law makes of it, and no more than a little above.
fn spare(
    network: &Network,
    setting: &Setting,
    source: &Source,
    facts: &Facts,
    flow_kg_s: &dyn Fn(ElementId) -> f64,
) -> Option<f64> {
    let (pump, least_m3_s) = (source.pump?, source.least_flow_m3_s?);
    let holds = matches!(
        setting.control[pump],
        PumpControl::HeldToDrop { .. } | PumpControl::HeldToFlow(_)
    );
    if !holds || setting.stopped[pump] || facts.trips() || facts.flow_m3_s <= 0.0 {
        return None;
    }
    let id = network.pumps[pump].element;
    let Law::Pump(curve) = setting.law.get(&id).unwrap_or(&network.element(id).law) else {
        return None;
    };
    let down = (least_m3_s / facts.flow_m3_s).min(1.0);
    let flow_m3_h = flow_kg_s(id).abs() / rho_kg_m3(network, id, facts.return_c) * M3_H;
    let (full_pa, _) = pump::head(curve, 1.0, down * flow_m3_h);
    (full_pa > 0.0).then(|| 1.0 - down * down * facts.head_pa / full_pa)
}

/// Density in an element, kg/m³.
fn rho_kg_m3(network: &Network, id: ElementId, in_c: Option<f64>) -> f64 {
    let at_c = in_c.unwrap_or(network.design.flow_temperature_c);
    crate::hydraulics::liquid(&network.fluids[network.element(id).fluid])
        .at(at_c)
        .map_or(1000.0, |p| p.rho_kg_m3)
}

/// Facts of a combination in which nothing moves.
pub fn still(network: &Network, setting: &Setting, shut: Mask) -> Facts {
    let knows_least = network
        .sources
        .iter()
        .enumerate()
        .any(|(s, source)| setting.sources[s].runs && source.least_flow_m3_s.is_some());
    Facts {
        shut,
        flow_m3_s: 0.0,
        margin: if knows_least { -1.0 } else { f64::INFINITY },
        spare: None,
        water_m3: 0.0,
        heat_w: 0.0,
        valve_dp_pa: None,
        valve_flow_m3_s: None,
        return_c: None,
        head_pa: 0.0,
    }
}

/// Elements that flow, in circuits that pass a source: what shut valves cut off does not count, nor does a coil that is
/// not in circuit, nor what only goes round by a pump of its own. The far side of an exchanger holds no heat for a defrost.
fn circulating<'n>(
    network: &'n Network,
    flow: &'n dyn Fn(ElementId) -> f64,
) -> impl Iterator<Item = &'n Element> {
    let largest = network
        .element_ids()
        .fold(0.0_f64, |most, id| most.max(flow(id).abs()));
    let flows = move |id: ElementId| flow(id).abs() > STANDING * largest;
    // places that flowing water joins, each with one that stands for all of its part
    let mut part: Vec<usize> = (0..network.graph.node_count()).collect();
    let top = |part: &mut [usize], mut place: usize| {
        while part[place] != place {
            part[place] = part[part[place]];
            place = part[place];
        }
        place
    };
    for id in network.element_ids().filter(|id| flows(*id)) {
        let (a, b) = network.ends(id);
        let (a, b) = (top(&mut part, a.index()), top(&mut part, b.index()));
        part[a] = b;
    }
    for place in 0..part.len() {
        part[place] = top(&mut part, place);
    }
    let of = move |id: ElementId| part[network.ends(id).0.index()];
    let bodies = network.sources.iter().map(|s| s.body);
    let sources: Vec<usize> = bodies.filter(|id| flows(*id)).map(&of).collect();
    network
        .element_ids()
        .filter(move |id| flows(*id) && sources.contains(&of(*id)))
        .map(|id| network.element(id))
}

/// Circulating water, m³.
pub fn circulating_m3(network: &Network, state: &State) -> f64 {
    let flow = |id: ElementId| state.flow_kg_s[id.index()];
    circulating(network, &flow).map(|e| e.volume_m3).sum()
}

/// Circulating water by what holds it, m³: source, pipes, emitters, vessels, coil.
pub fn water_by_kind(network: &Network, state: &State) -> [(&'static str, f64); 5] {
    let flow = |id: ElementId| state.flow_kg_s[id.index()];
    let mut parts = [
        ("the unit", 0.0),
        ("pipes", 0.0),
        ("emitters", 0.0),
        ("vessels", 0.0),
        ("cylinder coil", 0.0),
    ];
    for element in circulating(network, &flow) {
        let part = match element.role {
            Role::SourceBody => 0,
            Role::EmitterBody => 2,
            Role::Vessel => 3,
            Role::Coil => 4,
            _ => 1,
        };
        parts[part].1 += element.volume_m3;
    }
    parts
}
