//! How a pump is to be set so that it gives one head at one flow: constant head, proportional head, a share of full
//! speed, or a flow that it holds.

use super::settle::Circuit;
use crate::hydraulics::local::M3_H;
use crate::hydraulics::pump;
use crate::network::{Law, Network, PumpControl, PumpCurve};
use crate::view::Required;

/// The settings of one pump at which it gives the head needed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PumpSetting {
    /// Index into `pumps`.
    pub pump: usize,
    /// Flow through it, m³/s.
    pub flow_m3_s: f64,
    /// Head needed there, Pa.
    pub needed_pa: f64,
    /// Head at full speed there, Pa.
    pub full_pa: f64,
    /// Head that it lacks, Pa; zero where it is enough.
    pub short_pa: f64,
    /// Share of full speed.
    pub speed: Option<f64>,
    /// Proportional head, as its setting is named: Pa where its line meets the curve; half of it at no flow.
    pub proportional_pa: Option<f64>,
    /// As it was run in the file.
    pub was: PumpControl,
    /// As it is to be run, in the same mode.
    pub control: PumpControl,
    /// The emitter whose valve stands open.
    pub index: Option<usize>,
    /// The unit's least flow, m³/s, where that is more than the emitters are to get.
    pub least_m3_s: Option<f64>,
}

/// Least flow of the unit that a pump belongs to, m³/s, where a flow lies below it.
pub(super) fn below_least(network: &Network, pump: usize, flow_m3_s: f64) -> Option<f64> {
    let source = network.pumps[pump].source?;
    let least = network.sources[source].least_flow_m3_s?;
    (flow_m3_s < least * (1.0 - 1e-6)).then_some(least)
}

/// Curve of a pump.
fn curve(network: &Network, pump: usize) -> Option<&PumpCurve> {
    match &network.element(network.pumps[pump].element).law {
        Law::Pump(curve) => Some(curve),
        Law::Parts(_) | Law::OneWay { .. } | Law::HoldFlow { .. } => None,
    }
}

/// Head of a pump at full speed, Pa, at a flow in m³/s.
pub(super) fn full_pa(network: &Network, at: usize, flow_m3_s: f64) -> Option<f64> {
    Some(pump::head(curve(network, at)?, 1.0, flow_m3_s * M3_H).0)
}

/// Flow, m³/h, at which a curve at full speed gives a head in Pa; by halving, the curve never rises.
fn flow_at(curve: &PumpCurve, head_pa: f64) -> f64 {
    let (mut low, mut high) = (0.0, 2.0 * pump::end_of_curve_m3h(curve).max(1e-6));
    for _ in 0..80 {
        let middle = 0.5 * (low + high);
        if pump::head(curve, 1.0, middle).0 > head_pa {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

/// Proportional head whose line gives `needed_pa` at `q_m3h`, Pa, with the flow that it refers to, m³/h.
fn proportional(curve: &PumpCurve, q_m3h: f64, needed_pa: f64) -> Option<(f64, f64)> {
    let at = |head_pa: f64| flow_at(curve, head_pa);
    let gives = |head_pa: f64| head_pa * (0.5 + 0.5 * q_m3h / at(head_pa).max(1e-9));
    // on the curve itself the whole is given where the line meets it; at no flow half
    let (mut low, mut high) = (needed_pa * 0.5, 2.0 * needed_pa);
    if needed_pa <= 0.0 || gives(high) < needed_pa {
        return None;
    }
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if gives(middle) < needed_pa {
            low = middle;
        } else {
            high = middle;
        }
    }
    let head_pa = 0.5 * (low + high);
    (pump::head(curve, 1.0, 0.0).0 >= head_pa).then(|| (head_pa, at(head_pa)))
}

/// What each circuit's pump is to be set to.
pub fn settings(network: &Network, required: &Required, circuits: &[Circuit]) -> Vec<PumpSetting> {
    let mut list = Vec::new();
    for (circuit, set) in required.circuits.iter().zip(circuits) {
        let Some(p) = circuit.pump else { continue };
        let info = &network.pumps[p];
        let (Some(curve), Some(full_pa)) = (curve(network, p), full_pa(network, p, set.flow_m3_s))
        else {
            continue;
        };
        let q_m3h = set.flow_m3_s * M3_H;
        let enough = set.short_pa == 0.0;
        let speed = pump::speed_for(curve, q_m3h, set.needed_pa)
            .filter(|s| enough && *s > 0.0 && *s <= 1.0 + 1e-9);
        let line = proportional(curve, q_m3h, set.needed_pa).filter(|_| enough);
        let least_m3_s = below_least(network, p, set.flow_m3_s);
        let control = match info.mode {
            _ if !enough => PumpControl::FixedSpeed(1.0),
            PumpControl::FixedSpeed(_) => PumpControl::FixedSpeed(speed.unwrap_or(1.0)),
            PumpControl::ProportionalHead { .. } => match line {
                Some((head_pa, at_m3h)) => PumpControl::ProportionalHead { head_pa, at_m3h },
                None => PumpControl::ConstantHead(set.needed_pa),
            },
            PumpControl::ConstantHead(_) => PumpControl::ConstantHead(set.needed_pa),
            PumpControl::HeldToFlow(_) | PumpControl::HeldToDrop { .. } => {
                // a unit that holds its flow by itself goes no lower than its least
                let rise = least_m3_s.map_or(1.0, |least| least / set.flow_m3_s);
                PumpControl::HeldToFlow(set.flow_kg_s * rise)
            }
        };
        list.push(PumpSetting {
            pump: p,
            flow_m3_s: set.flow_m3_s,
            needed_pa: set.needed_pa,
            full_pa,
            short_pa: set.short_pa,
            speed,
            proportional_pa: line.map(|l| l.0),
            was: info.mode,
            control,
            index: set.index,
            least_m3_s,
        });
    }
    list
}

/// By pump: how it is to be run; those on no circuit as before.
pub(super) fn controls(
    network: &Network,
    required: &Required,
    circuits: &[Circuit],
) -> Vec<PumpControl> {
    let mut control: Vec<PumpControl> = network.pumps.iter().map(|p| p.mode).collect();
    for set in settings(network, required, circuits) {
        control[set.pump] = set.control;
    }
    control
}
