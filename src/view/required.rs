//! The required view: every emitter gets duty/(cp·drop), pipes carry the sums, and each pumped circuit is asked for the
//! head that its index path needs at that flow.
//!
//! Emitter flows are held and pumps joined, so that the solver finds the flows that sums do not fix (rings, parallel
//! paths, the branches of a one-pipe loop). Lockshields stand fully open, valves at their design kv. Temperatures are
//! marched with the design drops, and every element's loss is then taken at its own temperature.

use super::demand::{Demand, demand};
use super::losses::{ByGroup, GROUPS, by_group, properties, row};
use super::march::{Ends, Outlet, march};
use super::{
    BasisUsed, Bites, EmitterAsks, FlowBasis, Mixing, Path, PumpedCircuit, Required, capacity,
    paths,
};
use crate::hydraulics::{self, heat, local};
use crate::maths;
use crate::network::{
    Element, ElementId, Emitter, HeatLaw, Law, Network, PartGroup, PlaceId, PumpControl, PumpInfo,
};
use crate::solve::{SolveError, State, solve};
use crate::survey::Mean;

/// Tees' losses as they stand.
const AS_TABLED: f64 = 1.0;

/// What the duty requires of every pipe and pump in house state `state`.
///
/// # Errors
/// [`SolveError::NothingMoves`] where nothing is required in this state; otherwise whatever stops the solver.
pub fn required(network: &Network, state: usize) -> Result<Required, SolveError> {
    look(network, state, AS_TABLED, true)
}

/// Whether anything is required in a state of the house.
pub fn requires(network: &Network, state: usize) -> bool {
    demand(network, state)
        .is_ok_and(|d| d.setting.held_kg_s.iter().flatten().any(|flow| *flow > 0.0))
}

/// The required view with tees' losses multiplied by `tees`; capacities only where asked for.
pub(crate) fn look(
    network: &Network,
    state: usize,
    tees: f64,
    capacities: bool,
) -> Result<Required, SolveError> {
    let mut demand = demand(network, state)?;
    if !demand
        .setting
        .held_kg_s
        .iter()
        .flatten()
        .any(|flow| *flow > 0.0)
    {
        return Err(SolveError::NothingMoves);
    }
    let (solved, ends_c) = settle(network, &mut demand)?;
    let basis = bases(network, &demand, &solved)?;
    let mut flow_kg_s: Vec<f64> = solved
        .flow_kg_s
        .iter()
        .map(|q| if q.abs() < STILL { 0.0 } else { *q })
        .collect();
    let circuits = paths::circuits(network, &demand, &flow_kg_s);
    let mixing = mixing(network, &flow_kg_s, &ends_c);
    let raised = raise_to_basis(network, &demand, &basis, &mut flow_kg_s);

    // a duty that asks a trickle of a one-pipe loop for more than it holds is a finding (the flow temperature asked for);
    // the trickle's loss is then taken at the coldest that a room can make it
    let active = (network.emitters.iter().zip(&demand.active)).filter(|(_, active)| **active);
    let coldest_c = active
        .map(|(emitter, _)| network.rooms[emitter.room].temperature_c)
        .fold(demand.setting.return_c, f64::min);
    let mut temperature_c = Vec::with_capacity(flow_kg_s.len());
    let mut groups: Vec<ByGroup> = Vec::with_capacity(flow_kg_s.len());
    let mut tee_loss_pa = Vec::with_capacity(flow_kg_s.len());
    for id in network.element_ids() {
        let i = id.index();
        let c = ends_c[i].map_or(demand.setting.return_c, |(a, b)| (a + b) / 2.0);
        let c = c.max(coldest_c);
        let at = properties(network, id, c)?;
        let mut own = by_group(&network.element(id).law, at, flow_kg_s[i]);
        let tee = tees * raised[i] * raised[i] * solved.tee_dp_pa[i] * solved.flow_kg_s[i].signum();
        if flow_kg_s[i] != 0.0 {
            own[row(PartGroup::Tees)] += tee;
        }
        temperature_c.push(c);
        tee_loss_pa.push(own[row(PartGroup::Tees)]);
        groups.push(own);
    }
    let mut required = Required {
        state,
        loss_pa: groups.iter().map(|g| g.iter().sum()).collect(),
        flow_kg_s,
        tee_loss_pa,
        temperature_c,
        emitters: asks(network, &demand, &solved, &ends_c),
        ends_c,
        mixing,
        basis,
        circuits: Vec::new(),
        capacity: Vec::new(),
    };
    for circuit in circuits {
        let pumped = pumped(network, &required, &groups, circuit)?;
        required.circuits.push(pumped);
    }
    if capacities {
        capacity::fill(network, &mut required, &groups)?;
    }
    Ok(required)
}

/// Flows of a state as required, kg/s by element, and the temperatures at both ends of each element. Unlike the whole view
/// it has an answer also where a duty would cool the water to a temperature at which none of its properties are known.
pub(crate) fn flows(network: &Network, state: usize) -> Result<(Vec<f64>, Ends), SolveError> {
    let mut demand = demand(network, state)?;
    let (solved, ends_c) = settle(network, &mut demand)?;
    Ok((solved.flow_kg_s, ends_c))
}

/// Flow under which an element counts as still, kg/s: far under a drop a minute, far over the solver's rounding.
const STILL: f64 = 1e-9;

/// Solves, marches the temperatures, and solves again while mixing sets draw differently at the temperature they get.
fn settle(network: &Network, demand: &mut Demand) -> Result<(State, Ends), SolveError> {
    for id in network.element_ids() {
        if let Some(open) = super::demand::fully_open(&network.element(id).law) {
            demand.setting.law.insert(id, open);
        }
    }
    // a draw depends on temperatures only where something mixes upstream of the set; that settles geometrically
    const ROUNDS: usize = 20;
    let mut round = 0;
    loop {
        let solved = solve(network, &demand.setting)?;
        let mut outlet = demand.outlet.clone();
        for (i, emitter) in network.emitters.iter().enumerate() {
            let flow = solved.flow_kg_s[emitter.body.index()].abs();
            if emitter.one_pipe.is_some() && demand.active[i] && flow > STILL {
                outlet[emitter.body.index()] =
                    Outlet::Drop(drop_k(network, emitter, flow, demand)?);
            }
        }
        for exchanger in &network.exchangers {
            let (near, far) = (exchanger.near, exchanger.far);
            let c = demand.setting.return_c;
            let w_k = |id: ElementId| -> Result<f64, SolveError> {
                Ok(solved.flow_kg_s[id.index()].abs() * properties(network, id, c)?.cp_j_kgk)
            };
            let (near_now, far_now) = (w_k(near)?, w_k(far)?);
            if let Outlet::Exchanger {
                near_w_k, far_w_k, ..
            } = &mut outlet[far.index()]
                && near_now > 0.0
                && far_now > 0.0
            {
                (*near_w_k, *far_w_k) = (near_now, far_now);
            }
        }
        let ends = march(
            network,
            &solved.flow_kg_s,
            &outlet,
            &demand.mixed,
            demand.setting.flow_c,
        );
        let inlets: Vec<Option<f64>> = network
            .manifolds
            .iter()
            .map(|m| {
                m.blend
                    .and_then(|b| ends[b.inlet.index()])
                    .map(|(inlet, _)| inlet)
            })
            .collect();
        round += 1;
        if !demand.hold_blends(network, Some(&inlets)) || round == ROUNDS {
            return Ok((solved, ends));
        }
    }
}

/// Drop that a duty takes from a given flow, K.
fn drop_k(
    network: &Network,
    emitter: &Emitter,
    flow_kg_s: f64,
    demand: &Demand,
) -> Result<f64, SolveError> {
    let c = demand.setting.flow_c - emitter.drop_k / 2.0;
    Ok(emitter.duty_w / (flow_kg_s * properties(network, emitter.body, c)?.cp_j_kgk))
}

fn bases(network: &Network, demand: &Demand, solved: &State) -> Result<Vec<FlowBasis>, SolveError> {
    let sources = network.sources.iter().enumerate();
    sources
        .map(|(i, source)| {
            let sum = solved.flow_kg_s[source.body.index()].abs();
            demand.basis(network, i, (!demand.separated[i]).then_some(sum))
        })
        .collect()
}

/// Raises the flow of the elements in series with each source to what its circuit has to carry, where a declared load or
/// the maker's nominal flow asks for more than the emitters' sum. Returns the factor by element.
fn raise_to_basis(
    network: &Network,
    demand: &Demand,
    basis: &[FlowBasis],
    flow_kg_s: &mut [f64],
) -> Vec<f64> {
    let mut raised = vec![1.0; flow_kg_s.len()];
    for (source, basis) in network.sources.iter().zip(basis) {
        let own = flow_kg_s[source.body.index()].abs();
        let rises = matches!(
            basis.used,
            BasisUsed::Load | BasisUsed::Nominal | BasisUsed::HeldFlow
        );
        if own > 0.0 && rises {
            let factor = basis.flow_kg_s / own;
            for id in in_series(network, demand, source.body) {
                raised[id.index()] = factor;
                flow_kg_s[id.index()] *= factor;
            }
        }
    }
    raised
}

/// An element and those before and after it up to the first places where flow splits.
pub(crate) fn in_series(network: &Network, demand: &Demand, start: ElementId) -> Vec<ElementId> {
    let mut list = vec![start];
    let (a, b) = network.ends(start);
    for end in [a, b] {
        let (mut place, mut last): (PlaceId, ElementId) = (end, start);
        loop {
            let mut others = paths::around(network, place)
                .filter(|(id, _)| *id != last && !demand.setting.shut[id.index()]);
            let (Some((id, next)), None) = (others.next(), others.next()) else {
                break;
            };
            if id == start || list.contains(&id) {
                break;
            }
            list.push(id);
            (place, last) = (next, id);
        }
    }
    list
}

/// What each vessel between two sides mixes, from flows and the temperatures at both ends of each element.
pub(crate) fn mixing(network: &Network, flow_kg_s: &[f64], ends_c: &Ends) -> Vec<Mixing> {
    let mut list = Vec::new();
    for (vessel, v) in network.vessels.iter().enumerate() {
        let (top, bottom) = match v.kind {
            crate::network::VesselKind::Series { .. } => continue,
            crate::network::VesselKind::FourPort { top, bottom, .. }
            | crate::network::VesselKind::ThreePort { top, bottom, .. } => (top, bottom),
        };
        let sum = |place: PlaceId, entering: bool| {
            let (mut mass, mut heat) = (0.0, 0.0);
            for (id, _) in paths::around(network, place).filter(|(id, _)| *id != v.body) {
                let flow = flow_kg_s[id.index()];
                let enters = (network.ends(id).1 == place) == (flow > 0.0);
                if let (true, Some((c_in, c_out))) =
                    (flow != 0.0 && enters == entering, ends_c[id.index()])
                {
                    mass += flow.abs();
                    heat += flow.abs() * if entering { c_out } else { c_in };
                }
            }
            (mass > 0.0).then(|| (mass, heat / mass))
        };
        let sides = (
            sum(top, true),
            sum(bottom, false),
            sum(top, false),
            sum(bottom, true),
        );
        if let (Some(hot), Some(back), Some(to), Some(home)) = sides {
            list.push(Mixing {
                vessel,
                primary_kg_s: hot.0,
                secondary_kg_s: to.0,
                primary_c: (hot.1, back.1),
                secondary_c: (to.1, home.1),
                lost_on_flow_k: hot.1 - to.1,
                lost_on_mean_k: (hot.1 + back.1) / 2.0 - (to.1 + home.1) / 2.0,
            });
        }
    }
    list
}

/// What every emitter gets and asks for.
fn asks(network: &Network, demand: &Demand, solved: &State, ends_c: &Ends) -> Vec<EmitterAsks> {
    let emitters = network.emitters.iter().enumerate();
    emitters
        .map(|(i, emitter)| {
            let flow_kg_s = solved.flow_kg_s[emitter.body.index()].abs();
            let Some((c_in, c_out)) = ends_c[emitter.body.index()].filter(|_| demand.active[i])
            else {
                return EmitterAsks::default();
            };
            let room_c = network.rooms[emitter.room].temperature_c;
            let inlet_c = inlet_for(&emitter.law, emitter.duty_w, c_in - c_out, room_c);
            let mean = match emitter.law {
                HeatLaw::Rated { mean, .. } | HeatLaw::Floor { mean, .. } => mean,
                HeatLaw::Fixed(_) => Mean::Logarithmic,
            };
            let excess_k = heat::excess(c_in, c_out, room_c, mean);
            let rated = match emitter.law {
                _ if excess_k <= 0.0 => None,
                HeatLaw::Rated {
                    base_k, exponent, ..
                } => Some(emitter.duty_w / maths::pow(excess_k / base_k, exponent)),
                HeatLaw::Floor { .. } => Some(emitter.duty_w / excess_k),
                HeatLaw::Fixed(_) => None,
            };
            let blended = emitter
                .manifold
                .is_some_and(|m| network.manifolds[m].blend.is_some());
            let lost_k = if blended {
                0.0
            } else {
                demand.hottest_c() - c_in
            };
            EmitterAsks {
                flow_kg_s,
                drop_k: c_in - c_out,
                inlet_c,
                rated,
                source_c: inlet_c.map(|c| c + lost_k),
            }
        })
        .collect()
}

/// Inlet temperature, °C, at which an emitter gives `heat_w` with its water falling by `drop_k`, in a room at `room_c`;
/// `None` for a fixed heat. EN 442-2's law inverted in closed form for both means.
pub fn inlet_for(law: &HeatLaw, heat_w: f64, drop_k: f64, room_c: f64) -> Option<f64> {
    let (excess_k, mean) = match *law {
        HeatLaw::Rated {
            output_w,
            base_k,
            exponent,
            mean,
        } => (base_k * maths::pow(heat_w / output_w, 1.0 / exponent), mean),
        HeatLaw::Floor { w_per_k, mean, .. } => (heat_w / w_per_k, mean),
        HeatLaw::Fixed(_) => return None,
    };
    Some(match mean {
        _ if drop_k <= 0.0 => room_c + excess_k,
        Mean::Arithmetic => room_c + excess_k + drop_k / 2.0,
        // excess = drop/ln(a/b) with a = b + drop
        Mean::Logarithmic => room_c + drop_k + drop_k / maths::exp_m1(drop_k / excess_k),
    })
}

fn pumped(
    network: &Network,
    required: &Required,
    groups: &[ByGroup],
    circuit: paths::Circuit,
) -> Result<PumpedCircuit, SolveError> {
    let drive = circuit.element.index();
    let at = properties(network, circuit.element, required.temperature_c[drive])?;
    let flow_kg_s = required.flow_kg_s[drive].abs();
    let paths: Vec<Path> = circuit
        .routes
        .into_iter()
        .map(|route| {
            let mut sum = [0.0; 8];
            for &(id, forward) in &route.elements {
                let along = forward == (required.flow_kg_s[id.index()] >= 0.0);
                for (total, own) in sum.iter_mut().zip(groups[id.index()]) {
                    *total += if along { own } else { -own };
                }
            }
            let breakdown: Vec<(PartGroup, f64)> = GROUPS
                .into_iter()
                .zip(sum)
                .filter(|(_, pa)| *pa != 0.0)
                .collect();
            Path {
                through: route.through,
                elements: route.elements,
                loss_pa: breakdown.iter().map(|(_, pa)| pa).sum(),
                breakdown,
            }
        })
        .collect();
    let index = index_of(&paths);
    let mut available_pa = None;
    if let Some(path) = paths.get(index) {
        for &(id, _) in &path.elements {
            if let Some(pump) = network.pumps.iter().find(|p| p.element == id) {
                let c = required.temperature_c[id.index()];
                let rho = properties(network, id, c)?.rho_kg_m3;
                let q_m3h = required.flow_kg_s[id.index()].abs() / rho * local::M3_H;
                let head = head_bound(pump, network.element(id), q_m3h);
                available_pa = head.map(|pa| pa + available_pa.unwrap_or(0.0));
            }
        }
    }
    Ok(PumpedCircuit {
        pump: circuit.pump,
        name: circuit.name,
        flow_kg_s,
        flow_m3_s: flow_kg_s / at.rho_kg_m3,
        needed_pa: paths.get(index).map_or(0.0, |p| p.loss_pa),
        paths,
        index,
        available_pa,
        carries: Vec::<(f64, f64, Bites)>::new(),
    })
}

/// The path that needs most. On a ring or a one-pipe loop several need the same but for rounding: the first written.
fn index_of(paths: &[Path]) -> usize {
    let greatest = paths
        .iter()
        .map(|p| p.loss_pa)
        .fold(f64::NEG_INFINITY, f64::max);
    let close = greatest - 1e-9 * greatest.abs();
    paths.iter().position(|p| p.loss_pa >= close).unwrap_or(0)
}

/// Head that a pump gives at a flow, Pa: its curve at full speed, or less where its control bounds it.
pub fn head_bound(pump: &PumpInfo, element: &Element, q_m3h: f64) -> Option<f64> {
    let Law::Pump(curve) = &element.law else {
        return None;
    };
    let full = hydraulics::pump::head(curve, 1.0, q_m3h).0;
    Some(match pump.mode {
        PumpControl::FixedSpeed(speed) => hydraulics::pump::head(curve, speed, q_m3h).0,
        PumpControl::ConstantHead(pa) => full.min(pa),
        PumpControl::ProportionalHead { head_pa, at_m3h } => {
            full.min(head_pa * (0.5 + 0.5 * q_m3h / at_m3h))
        }
        PumpControl::HeldToFlow(_) | PumpControl::HeldToDrop { .. } => full,
    })
}
