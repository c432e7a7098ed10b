//! Choices that are out of the question whatever else is changed, and emitters that nothing on offer can help.

use super::loose::Loose;
use super::model::{Breaks, HAIR_K};
use super::offer::{Offer, Slot};
use super::site::Site;
use super::twin;
use crate::network::{ElementId, Law, Network, Run};
use crate::solve::SolveError;
use crate::view::Required;
use crate::view::limits::{limit, noise_limit};
use crate::view::required::inlet_for;
use std::collections::BTreeSet;

/// What breaks, what it comes to and the limit, SI.
pub type Broken = (Breaks, (f64, f64));

/// Emitters that no slot can change and that ask for more than they get.
pub(super) fn too_cold(
    network: &Network,
    required: &[Required],
    loose: &[Loose],
    slots: &[Slot],
) -> Vec<(usize, f64, f64)> {
    let mut list = Vec::new();
    for (r, loose) in required.iter().zip(loose) {
        for (i, asks) in r.emitters.iter().enumerate() {
            let changes = slots
                .iter()
                .any(|s| s.emitter == Some(i) && s.offers.iter().any(|o| o.heat.is_some()));
            let body = network.emitters[i].body;
            let Some((_, (c_in, _))) = asks.inlet_c.zip(r.ends_c[body.index()]) else {
                continue;
            };
            let Some(drop_k) = least_drop(network, r, loose, i) else {
                continue;
            };
            let e = &network.emitters[i];
            let room_c = network.rooms[e.room].temperature_c;
            let inlet = inlet_for(&e.law, e.duty_w, drop_k, room_c);
            if let Some(inlet) = inlet.filter(|inlet| !changes && *inlet > c_in + HAIR_K) {
                list.push((i, inlet, c_in));
            }
        }
    }
    list
}

/// The least drop that any choice on offer can leave an emitter with, K; on a one-pipe loop whose split may move
/// that of all the main's water going through it. `None` where its duty itself hangs on what is chosen elsewhere.
fn least_drop(network: &Network, r: &Required, loose: &Loose, i: usize) -> Option<f64> {
    let e = &network.emitters[i];
    if loose.shares_room(network, i) {
        return None;
    }
    let body = e.body.index();
    let drop_k = r.emitters[i].drop_k;
    match e.one_pipe {
        Some(one) if loose.is(e.body) => {
            let (own, past) = (
                r.flow_kg_s[body].abs(),
                r.flow_kg_s[one.between.index()].abs(),
            );
            Some(drop_k * own / (own + past).max(f64::MIN_POSITIVE))
        }
        _ => Some(drop_k),
    }
}

/// Elements whose pipe is some slot's to decide.
pub(super) fn laid_anew(slots: &[Slot]) -> BTreeSet<ElementId> {
    let pipes = slots.iter().filter(|s| matches!(s.site, Site::Pipe(_)));
    let offers = pipes.flat_map(|s| &s.offers);
    offers
        .flat_map(|o| o.laws.iter().chain(&o.beside))
        .map(|(id, _)| *id)
        .collect()
}

/// What one choice breaks by itself. `sure`: whatever else is chosen; otherwise at the flows of today.
pub(super) fn ruled_out(
    network: &Network,
    required: &[Required],
    loose: &[Loose],
    laid_anew: &BTreeSet<ElementId>,
    (slot, offer): (&Slot, &Offer),
    sure: bool,
) -> Result<Option<Broken>, SolveError> {
    for (r, loose) in required.iter().zip(loose) {
        if let (Some(i), Site::Radiator(_)) = (slot.emitter, slot.site) {
            let e = &network.emitters[i];
            let (law, duty_w) = offer.heat.unwrap_or((e.law, e.duty_w));
            let drop_k = match sure {
                true => least_drop(network, r, loose, i),
                false => Some(r.emitters[i].drop_k),
            };
            if let Some(((c_in, _), drop_k)) = r.ends_c[e.body.index()].zip(drop_k) {
                let room_c = network.rooms[e.room].temperature_c;
                let asks = inlet_for(&law, duty_w, drop_k, room_c);
                if let Some(asks) = asks.filter(|asks| *asks > c_in + HAIR_K) {
                    return Ok(Some((Breaks::FlowTemperature, (asks, c_in))));
                }
            }
        }
        for (id, law) in &offer.laws {
            // a device's law holds the bore of today, of which the pipe's own slot decides
            let pipe = matches!(slot.site, Site::Pipe(_));
            if sure && loose.is(*id) || !pipe && laid_anew.contains(id) {
                continue;
            }
            let flow = r.flow_kg_s[id.index()].abs();
            let Some(run) = network.element(*id).run.map(|run| &network.runs[run]) else {
                continue;
            };
            if flow == 0.0 {
                continue;
            }
            let material = offer.material.as_ref().unwrap_or(&run.material);
            let at = crate::view::properties(network, *id, r.temperature_c[id.index()])?;
            let broken = match offer.beside.iter().find(|(e, _)| e == id) {
                // a second pipe is on offer where both keep their limits at the split that their own losses make
                Some((_, second)) => {
                    let (own, other) = twin::split(law, second, at, flow);
                    breaks(network, run, &run.material, law, at, own)
                        .or_else(|| breaks(network, run, &run.material, second, at, other))
                }
                None => breaks(network, run, material, law, at, flow),
            };
            if broken.is_some() {
                return Ok(broken);
            }
        }
    }
    Ok(None)
}

/// Runs whose pipe no slot decides and that break a limit at a flow that nothing on offer moves: run, what, figures.
pub(super) fn stuck(
    network: &Network,
    required: &[Required],
    loose: &[Loose],
    laid_anew: &BTreeSet<ElementId>,
) -> Result<Vec<(usize, Broken)>, SolveError> {
    let mut list: Vec<(usize, Broken)> = Vec::new();
    for (r, loose) in required.iter().zip(loose) {
        for id in network.element_ids() {
            let flow = r.flow_kg_s[id.index()].abs();
            let Some(index) = network.element(id).run.filter(|_| flow > 0.0) else {
                continue;
            };
            if laid_anew.contains(&id) || loose.is(id) || list.iter().any(|(i, _)| *i == index) {
                continue;
            }
            list.extend(broken(network, r, id)?.map(|b| (index, b)));
        }
    }
    Ok(list)
}

/// What an element of a run breaks as it lies.
pub(super) fn broken(
    network: &Network,
    r: &Required,
    id: ElementId,
) -> Result<Option<Broken>, SolveError> {
    let flow = r.flow_kg_s[id.index()].abs();
    let element = network.element(id);
    let Some(run) = element.run.filter(|_| flow > 0.0) else {
        return Ok(None);
    };
    let run = &network.runs[run];
    let at = crate::view::properties(network, id, r.temperature_c[id.index()])?;
    Ok(breaks(network, run, &run.material, &element.law, at, flow))
}

/// What a law breaks in a run at a flow.
fn breaks(
    network: &Network,
    run: &Run,
    material: &str,
    law: &Law,
    at: crate::fluid::Properties,
    flow_kg_s: f64,
) -> Option<Broken> {
    use crate::network::RunKind::{FloorLoop, LoopBetween, Tail};
    let pipe = crate::view::in_pipe(law, at, flow_kg_s)?;
    let (v, name) = (pipe.velocity_m_s, Some(run.name.as_str()));
    let over = |value: f64, most: f64| value > most * (1.0 + 1e-12);
    if let Some(l) = noise_limit(network, run).filter(|l| l.counts && over(v, l.value)) {
        return Some((Breaks::Velocity, (v, l.value)));
    }
    let l = limit(network, "erosion", name).filter(|l| l.counts && material == "copper");
    if let Some(l) = l.filter(|l| over(v, l.value)) {
        return Some((Breaks::Erosion, (v, l.value)));
    }
    let l = limit(network, "gradient", name).filter(|l| l.counts);
    if let Some(l) = l.filter(|l| over(pipe.gradient_pa_m, l.value)) {
        return Some((Breaks::Gradient, (pipe.gradient_pa_m, l.value)));
    }
    let main = !matches!(run.kind, Tail | FloorLoop | LoopBetween);
    let l = limit(network, "low velocity", name).filter(|l| l.counts && main);
    l.filter(|l| over(l.value, v))
        .map(|l| (Breaks::Slow, (v, l.value)))
}
