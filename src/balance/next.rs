//! From what was read to the next adjustment.
//!
//! A reading tells the flow through an emitter: its heat law at the temperatures read, over heat capacity and drop, or a
//! meter. That flow is then held in the house as the valves stood; what pressure is left over or lacking across the
//! emitter is what the file does not know of its branch (a pipe that is longer, a valve that is not as its sheet says).
//! All of the branch, its valve included, is taken to resist more or less in that proportion; the house is balanced
//! again with that, and each valve's step is the difference.

use super::expect::{CLAMP_K, Day};
use super::settle::{Ground, Laws, Settled, heat_w, law_loss_pa, left_over_pa};
use crate::hydraulics::liquid;
use crate::network::{
    ElementId, HeatLaw, Law, Network, Part, PartGroup, PartLaw, PumpControl, Reading,
};
use crate::solve::SolveError;
use crate::view::running::{setter_loss_pa, solve_blended};

/// More of a branch's own loss than this is never taken off again: something must resist the flow.
const MOST_OFF: f64 = 0.9;
/// Flows further from the design's than this are surely to be changed even where a meter reads them; a valve that nobody
/// read is left alone below it.
const METER: f64 = 0.05;

/// What was read at an emitter, and what follows.
#[derive(Clone, Debug, PartialEq)]
pub struct Read {
    /// Index into `emitters`.
    pub emitter: usize,
    /// Kv at which its valve stood, m³/h.
    pub stood_kv_m3h: f64,
    /// Flow that the reading means, kg/s.
    pub flow_kg_s: f64,
    /// The least and greatest that the instrument admits, kg/s.
    pub admits_kg_s: (f64, f64),
    /// Flow that it is to have, kg/s.
    pub wanted_kg_s: f64,
    /// Drop that was read, K; `None` at a meter.
    pub drop_k: Option<f64>,
    /// Drop that should have been read then, K.
    pub should_k: Option<f64>,
    /// Whether the instrument cannot tell it from what it should be.
    pub within: bool,
    /// Whether a flow-holding valve on its way is at work: it takes whatever is too much, and hides what the rest takes.
    pub held: bool,
}

/// What is to be done after a round of readings.
#[derive(Clone, Debug)]
pub struct Next {
    /// What was read.
    pub read: Vec<Read>,
    /// By emitter: kv to set now, m³/h.
    pub kv: Vec<Option<f64>>,
    /// By emitter: kv at which its valve stood, m³/h.
    pub stood: Vec<Option<f64>>,
    /// By pump: how it ran while things were read.
    pub ran: Vec<PumpControl>,
    /// By emitter that was not read: by which share of its design flow it would be off if its valve were left as it
    /// stood while the rest is set.
    pub if_left: Vec<Option<f64>>,
    /// By pump: how to run it now.
    pub control: Vec<PumpControl>,
    /// Everything found.
    pub settled: Settled,
}

/// By pump: how it runs while things are read: as the file says, else as it was set.
pub fn pumps(network: &Network, set: &Settled) -> Vec<PumpControl> {
    let list = network.pumps.iter().zip(&set.control);
    list.map(|(info, &set)| if info.mode_given { info.mode } else { set })
        .collect()
}

/// The next adjustments from the house's readings, taken with the pumps run as given; `None` if nothing was read that
/// means a flow.
///
/// # Errors
/// Whatever stops the solver.
pub fn next(
    ground: &Ground<'_>,
    set: &Settled,
    design: &Day,
    readings: &[Reading],
    pumps: &[PumpControl],
) -> Result<Option<Next>, SolveError> {
    let network = ground.network;
    let stood: Vec<Option<f64>> = (0..network.emitters.len())
        .map(|i| stood(ground, set, readings, i))
        .collect();
    let source_c = readings.iter().find(|r| r.source).and_then(|r| r.flow_c);
    let read: Vec<Read> = readings
        .iter()
        .filter(|r| !r.source)
        .filter_map(|r| {
            let wanted = ground.target(r.at)?;
            one(network, design, r, source_c, wanted, stood[r.at]?)
        })
        .collect();
    if read.is_empty() {
        return Ok(None);
    }
    let (laws, gain) = unknown(ground, set, &stood, &read, pumps)?;
    let settled = ground.settle(&laws, &gain)?;
    let mut kv = settled.kv.clone();
    for r in read.iter().filter(|r| r.held) {
        kv[r.emitter] = stood[r.emitter];
    }
    let if_left = if_left(ground, &settled, &kv, &read, &stood, (&laws, &gain))?;
    for (i, off) in if_left.iter().enumerate() {
        // nobody looked at it, and no reading would tell it from what it should be
        if off.is_some_and(|off| off.abs() <= METER) {
            kv[i] = stood[i];
        }
    }
    Ok(Some(Next {
        read,
        kv,
        stood,
        if_left,
        ran: pumps.to_vec(),
        control: settled.control.clone(),
        settled,
    }))
}

/// By emitter that can be set and was not read: how far off its flow would be with its valve left alone, all that were
/// read set as they are to be and the pumps run as they are to be.
fn if_left(
    ground: &Ground<'_>,
    settled: &Settled,
    set: &[Option<f64>],
    read: &[Read],
    stood: &[Option<f64>],
    (laws, gain): (&Laws, &[f64]),
) -> Result<Vec<Option<f64>>, SolveError> {
    let was_read = |i: usize| read.iter().any(|r| r.emitter == i);
    let stands = (0..stood.len()).map(|i| {
        let nominal = if was_read(i) { set[i] } else { stood[i] };
        nominal.map(|kv| kv * gain[i])
    });
    let stands: Vec<Option<f64>> = stands.collect();
    let mut setting = ground.setting(laws, &stands, &settled.branch_kv);
    setting.control.clone_from(&settled.control);
    let solved = solve_blended(ground.network, &mut setting)?;
    let emitters = ground.network.emitters.iter().enumerate();
    Ok(emitters
        .map(|(i, e)| {
            let wanted = ground.target(i).filter(|_| !was_read(i))?;
            Some(solved.flow_kg_s[e.body.index()] / wanted - 1.0)
        })
        .collect())
}

/// Kv at which a valve stood: as the reading says, else as the file does, else as it was balanced.
fn stood(ground: &Ground<'_>, set: &Settled, readings: &[Reading], emitter: usize) -> Option<f64> {
    let setter = ground.setters[emitter].as_ref()?;
    let own = readings.iter().find(|r| !r.source && r.at == emitter);
    let table = setter
        .table
        .and_then(|t| ground.network.valve_tables.get(t));
    let by_turns = || Some(table?.kv(own?.stood?));
    own.and_then(|r| r.stood_kv_m3h)
        .or_else(by_turns)
        .or(setter.stands_kv_m3h)
        .or(set.kv[emitter])
}

/// Share of what a flow-holding valve holds from which it counts as at work.
const HELD: f64 = 0.995;

/// Whether a flow is what a flow-holding valve on the emitter's way holds.
fn held(network: &Network, emitter: usize, flow_kg_s: f64) -> bool {
    network.emitters[emitter].branch.iter().any(|&id| {
        matches!(network.element(id).law, Law::HoldFlow { flow_kg_s: most, .. } if flow_kg_s >= HELD * most)
    })
}

/// What one reading means.
fn one(
    network: &Network,
    design: &Day,
    r: &Reading,
    source_c: Option<f64>,
    wanted_kg_s: f64,
    stood_kv_m3h: f64,
) -> Option<Read> {
    let e = &network.emitters[r.at];
    let reckoned = design.emitters[r.at]?;
    let made_c = design.sources.first().map(|s| s.flow_c);
    // a unit that made other water than at design feeds every emitter by as much cooler; a mixing set keeps its own
    let blended = e
        .manifold
        .is_some_and(|m| network.manifolds[m].blend.is_some());
    let cooler = match (source_c, made_c) {
        (Some(now), Some(made)) if !blended => made - now,
        _ => 0.0,
    };
    let in_c = match (r.flow_c, r.return_c, r.drop_k) {
        (Some(c), ..) => c,
        (None, Some(back), Some(drop)) => back + drop,
        _ => reckoned.in_c - cooler,
    };
    let out_c = r.return_c.or(r.drop_k.map(|k| in_c - k));
    let room_c = r.room_c.unwrap_or(network.rooms[e.room].temperature_c);
    let liquid = liquid(&network.fluids[network.element(e.body).fluid]);
    let flow = |out_c: f64| {
        let at = liquid.at(0.5 * (in_c + out_c)).ok()?;
        let kg_s = heat_w(&e.law, in_c, out_c, room_c) / (at.cp_j_kgk * (in_c - out_c));
        (kg_s.is_finite() && kg_s > 0.0).then_some(kg_s)
    };
    let should_k = drop_at(&e.law, in_c, room_c, wanted_kg_s, &|c| {
        liquid.at(c).ok().map(|p| p.cp_j_kgk)
    });
    if let Some(m3_s) = r.rate_m3_s {
        let kg_s = m3_s * liquid.at(out_c.unwrap_or(in_c)).ok()?.rho_kg_m3;
        return Some(Read {
            emitter: r.at,
            stood_kv_m3h,
            flow_kg_s: kg_s,
            admits_kg_s: (kg_s * (1.0 - METER), kg_s * (1.0 + METER)),
            wanted_kg_s,
            drop_k: None,
            should_k,
            within: (kg_s / wanted_kg_s - 1.0).abs() <= METER,
            held: held(network, r.at, kg_s),
        });
    }
    let out_c = out_c.filter(|c| *c < in_c)?;
    let drop_k = in_c - out_c;
    let flow_kg_s = flow(out_c)?;
    Some(Read {
        emitter: r.at,
        stood_kv_m3h,
        flow_kg_s,
        admits_kg_s: (
            flow(out_c - CLAMP_K).unwrap_or(0.0),
            flow(out_c + CLAMP_K)
                .filter(|_| drop_k > CLAMP_K)
                .unwrap_or(f64::INFINITY),
        ),
        wanted_kg_s,
        drop_k: Some(drop_k),
        should_k,
        within: should_k.is_some_and(|k| (k - drop_k).abs() <= CLAMP_K),
        held: held(network, r.at, flow_kg_s),
    })
}

/// Drop of an emitter at a flow, K: where its heat is what the water loses; by halving, since heat falls and loss rises
/// with the drop.
fn drop_at(
    law: &HeatLaw,
    in_c: f64,
    room_c: f64,
    flow_kg_s: f64,
    cp: &dyn Fn(f64) -> Option<f64>,
) -> Option<f64> {
    let (mut low, mut high) = (0.0, in_c - room_c);
    if let HeatLaw::Fixed(w) = law {
        return Some(w / (flow_kg_s * cp(in_c)?));
    }
    if high <= 0.0 {
        return None;
    }
    for _ in 0..60 {
        let k = 0.5 * (low + high);
        let loses = flow_kg_s * cp(in_c - 0.5 * k)? * k;
        if heat_w(law, in_c, in_c - k, room_c) > loses {
            low = k;
        } else {
            high = k;
        }
    }
    Some(0.5 * (low + high))
}

/// What the file does not know of each branch that was read: as a law of its emitter for all but the valve that is set,
/// and what that valve really has of its kv.
fn unknown(
    ground: &Ground<'_>,
    set: &Settled,
    stood: &[Option<f64>],
    read: &[Read],
    pumps: &[PumpControl],
) -> Result<(Laws, Vec<f64>), SolveError> {
    let network = ground.network;
    let mut setting = ground.setting(&Laws::new(), stood, &set.branch_kv);
    setting.control.copy_from_slice(pumps);
    for (circuit, required) in set.circuits.iter().zip(&ground.required.circuits) {
        // flows are read: what a pump that holds its flow would do about them is left open
        if let Some(p) = required.pump
            && matches!(
                setting.control[p],
                PumpControl::HeldToFlow(_) | PumpControl::HeldToDrop { .. }
            )
        {
            setting.control[p] = PumpControl::ConstantHead(circuit.needed_pa);
        }
    }
    for r in read {
        setting.held_kg_s[network.emitters[r.emitter].body.index()] = Some(r.flow_kg_s);
    }
    let solved = solve_blended(network, &mut setting)?;
    let mut laws = Laws::new();
    let mut gain = vec![1.0; network.emitters.len()];
    for r in read.iter().filter(|r| !r.held) {
        let e = &network.emitters[r.emitter];
        let Some(pa) = left_over_pa(network, &setting, &solved, e.body) else {
            continue;
        };
        let loss = |&id: &ElementId| {
            let law = setting.law.get(&id).unwrap_or(&network.element(id).law);
            law_loss_pa(network, id, law, r.flow_kg_s, solved.at_c[id.index()])
        };
        let own_pa: f64 = e.branch.iter().map(loss).sum();
        let Some(setter) = ground.setters[r.emitter].filter(|_| own_pa > 0.0) else {
            continue;
        };
        let stands = crate::network::Setter {
            open_kv_m3h: r.stood_kv_m3h,
            ..setter
        };
        let at_c = solved.at_c[setter.element.index()];
        let valve_pa = setter_loss_pa(network, &stands, r.flow_kg_s, at_c);
        let share = (pa / own_pa).max(-MOST_OFF);
        gain[r.emitter] = 1.0 / (1.0 + share).sqrt();
        let pa = share * (own_pa - valve_pa);
        let fluid = &network.fluids[network.element(e.body).fluid];
        let Ok(at) = liquid(fluid).at(solved.at_c[e.body.index()]) else {
            continue;
        };
        let Law::Parts(parts) = &network.element(e.body).law else {
            continue;
        };
        let mut parts = parts.clone();
        parts.push(resistance(pa, r.flow_kg_s, at.rho_kg_m3));
        laws.insert(e.body, Law::Parts(parts));
    }
    Ok((laws, gain))
}

/// A resistance that takes `pa` at a flow, as ζ on a bore of 15 mm; below zero where a branch resists less than known.
fn resistance(pa: f64, flow_kg_s: f64, rho_kg_m3: f64) -> Part {
    const BORE_M: f64 = 0.015;
    let area = std::f64::consts::PI * BORE_M * BORE_M / 4.0;
    let v = flow_kg_s / (rho_kg_m3 * area);
    Part {
        group: PartGroup::Fittings,
        words: "as read".to_owned(),
        symbol: String::new(),
        count: 1,
        law: PartLaw::Zeta {
            zeta: pa / (0.5 * rho_kg_m3 * v * v),
            bore_m: BORE_M,
        },
        source: "readings".to_owned(),
        span: None,
    }
}
