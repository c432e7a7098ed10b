//! Overflow valves of a house: those in its file, and where one would be put.

use super::bypass::{self, Spot, Stands, USUAL_KV, Window};
use super::enumerate::{Asked, Combinations, combinations};
use super::study::running_source;
use crate::network::{ElementId, Law, Network, PlaceId};
use crate::solve::{Setting, SolveError, Solver, State};
use crate::survey::Side;
use crate::view::{self, Required};

/// Windows of valves that are only thought of.
///
/// # Errors
/// What stops the solver.
pub fn thought_of(
    asked: &Asked<'_>,
    found: &Combinations,
    spots: Vec<((PlaceId, PlaceId), Stands)>,
) -> Result<Vec<Window>, SolveError> {
    let mut out = Vec::new();
    let solver = Solver::new(asked.network);
    for (spot, (valve, (_, stands))) in asked.spots.iter().zip(spots).enumerate() {
        let mut base = asked.base.clone();
        base.shut[valve.index()] = false;
        let there = Spot {
            network: asked.network,
            solver: &solver,
            base: &base,
            valves: asked.valves,
            found,
            spot,
            valve: *valve,
            kv_m3h: USUAL_KV,
        };
        out.extend(bypass::window(&there, stands)?);
    }
    Ok(out)
}

/// Windows of the valves in the file, each from all combinations solved anew without it.
///
/// # Errors
/// What stops the solver.
pub fn in_file(asked: &Asked<'_>) -> Result<Vec<Window>, SolveError> {
    let mut out = Vec::new();
    let solver = Solver::new(asked.network);
    for b in &asked.network.bypasses {
        let law = &asked.network.element(b.element).law;
        if !matches!(law, Law::OneWay { .. }) {
            continue;
        }
        let mut without = asked.base.clone();
        without.shut[b.element.index()] = true;
        let Ok(found) = combinations(&Asked {
            base: &without,
            spots: &[b.element],
            keep: false,
            sets: false,
            progress: &|_, _| {},
            ..*asked
        }) else {
            return Ok(out);
        };
        let there = Spot {
            network: asked.network,
            solver: &solver,
            base: asked.base,
            valves: asked.valves,
            found: &found,
            spot: 0,
            valve: b.element,
            kv_m3h: view::running::kv_of(law).unwrap_or(USUAL_KV),
        };
        out.extend(bypass::window(&there, Stands::File(b.name.clone()))?);
    }
    Ok(out)
}

/// Overflow valves that stand open while every other valve does: name, share of the source's
/// flow, return temperature it makes, °C.
pub fn leaks(
    network: &Network,
    base: &Setting,
    open: Option<&State>,
) -> Vec<(String, f64, Option<f64>)> {
    let running = running_source(network, base);
    let (Some(state), Some(source)) = (open, running) else {
        return Vec::new();
    };
    let body = source.body.index();
    let all = state.flow_kg_s[body].abs();
    let share = |id: ElementId| state.flow_kg_s[id.index()].abs() / all.max(1e-12);
    let list = network.bypasses.iter().map(|b| (b, share(b.element)));
    list.filter(|(_, share)| *share > 1e-6)
        .map(|(b, share)| (b.name.clone(), share, state.in_c[body]))
        .collect()
}

/// Pressure difference at the first place with a state's flows, Pa: what the house loses beyond it.
pub fn pressure_at(spots: &[((PlaceId, PlaceId), Stands)], state: Option<&State>) -> Option<f64> {
    let first = spots
        .iter()
        .find(|(_, stands)| matches!(stands, Stands::FirstPlace(_)));
    let (((flow, back), _), state) = first.zip(state)?;
    let pa = |place: &PlaceId| state.pressure_pa.get(place.index()).copied().flatten();
    Some((pa(flow)? - pa(back)?).abs())
}

/// Where an overflow valve would be put: the first place, and the far end of the index circuit.
pub fn spots(network: &Network, required: Option<&Required>) -> Vec<((PlaceId, PlaceId), Stands)> {
    let mut spots = Vec::new();
    let Some(circuit) = required.and_then(|r| r.circuits.first()) else {
        return spots;
    };
    let Some(path) = circuit.paths.get(circuit.index) else {
        return spots;
    };
    let view::Through::Emitter(e) = path.through else {
        return spots;
    };
    let emitter = &network.emitters[e];
    let name = |place: PlaceId| {
        let place = &network.graph[place];
        place.user.clone().unwrap_or_else(|| place.name.clone())
    };
    // the first place that both pipes of the path meet: where a pair of the source's own ends
    let first = path
        .elements
        .iter()
        .filter_map(|(id, forward)| {
            let (from, to) = network.ends(*id);
            network.graph[if *forward { to } else { from }]
                .user
                .clone()
                .map(|u| (u, *id))
        })
        .find(|(user, _)| !network.sources.iter().any(|s| s.name == *user));
    if let Some((user, _)) = first {
        let side = |side: Side| {
            network.place_ids().find(|p| {
                network.graph[*p].user.as_ref() == Some(&user)
                    && network.graph[*p].side == Some(side)
            })
        };
        if let (Some(flow), Some(back)) = (side(Side::Flow), side(Side::Return)) {
            spots.push(((flow, back), Stands::FirstPlace(user)));
        }
    }
    if spots
        .first()
        .is_none_or(|(between, _)| *between != emitter.ends)
    {
        spots.push((emitter.ends, Stands::FarEnd(name(emitter.ends.0))));
    }
    spots
}
