//! What heat asks of flow: a drop to hold across a source, a temperature to mix.

use super::Setting;
use super::heat::Temperatures;
use crate::fluid::{Liquid, Properties};
use crate::network::{ElementId, Law, Network, PumpControl};

/// A cap that heat decides.
#[derive(Clone, Copy, Debug)]
pub(super) enum Asked {
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

pub(super) fn asked(network: &Network, setting: &Setting) -> Vec<Asked> {
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

pub(super) fn element_of(network: &Network, asked: &Asked) -> ElementId {
    match *asked {
        Asked::Drop { pump, .. } => network.pumps[pump].element,
        Asked::Blend { manifold } => network.manifolds[manifold]
            .blend
            .map_or(ElementId::new(0), |b| b.inlet),
    }
}

pub(super) fn first_guess(
    network: &Network,
    setting: &Setting,
    asked: &Asked,
    at: &[Properties],
) -> f64 {
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
pub(super) fn wanted(
    network: &Network,
    setting: &Setting,
    asked: &Asked,
    cap: f64,
    flow: &[f64],
    (mean_cp, liquids): (&[f64], &[Liquid]),
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
            (share * output / (mean_cp[body] * drop_k)).clamp(least, greatest.max(least))
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
                    let liquid = &liquids[network.element(blend.inlet).fluid];
                    let [hot, cool, set] =
                        [hot, cool, blend.set_c].map(|t| liquid.enthalpy_j_kg(t));
                    (total * (set - cool) / (hot - cool)).clamp(0.0, f64::INFINITY)
                }
                (None, Some(cool)) if cool >= blend.set_c => 0.0,
                // nothing is drawn: it must find its way from zero, too
                (None, Some(_)) => cap * 2.0 + 0.01 * total,
                _ => cap * 2.0,
            }
        }
    }
}
