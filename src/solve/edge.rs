//! Elements that can switch: closed, held, one-way, capped. A gate at work fixes the flow of its whole class.

use super::Setting;
use super::classes::{Classes, NONE};
use crate::hydraulics::pump;
use crate::network::{ElementId, Law, Network, PumpControl, PumpCurve};

/// What a gate does at present.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Mode {
    /// Follows its law.
    Free,
    /// Holds its cap: a flow-holding valve at work, a pump that runs slower.
    AtCap,
    /// A capped pump that others push beyond its cap: it stands and lets water through.
    Pushed,
    /// A one-way element that is shut.
    Shut,
    /// The cap of a pump that stands: it asks for nothing.
    Off,
}

/// How a gate can switch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum GateKind {
    /// Flow only forwards; opens at a pressure difference, Pa.
    OneWay(f64),
    /// Flow at most the cap, by throttling.
    Valve,
    /// Flow at most the cap, by slowing down; index of the pump.
    Pump(usize),
}

/// An element that switches by itself.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Gate {
    pub element: u32,
    pub class: u32,
    pub sign: f64,
    pub kind: GateKind,
    /// kg/s in the element's direction; no meaning for a one-way element.
    pub cap: f64,
    pub mode: Mode,
}

impl Gate {
    /// Flow that it imposes on its class, kg/s in the class's direction.
    pub fn fixed(&self) -> Option<f64> {
        match self.mode {
            Mode::Free | Mode::Pushed | Mode::Off => None,
            Mode::AtCap => Some(self.sign * self.cap),
            Mode::Shut => Some(0.0),
        }
    }
}

/// Pressure added by a pump under its control, Pa, and slope, Pa per m³/h. What the control asks for is given as far as
/// the curve at full speed reaches; held flows are a matter of [`GateKind::Pump`].
pub(super) fn controlled_head(curve: &PumpCurve, control: PumpControl, q_m3h: f64) -> (f64, f64) {
    let asked = match control {
        PumpControl::FixedSpeed(speed) => return pump::head(curve, speed, q_m3h),
        PumpControl::HeldToFlow(_) | PumpControl::HeldToDrop { .. } => {
            return pump::head(curve, 1.0, q_m3h);
        }
        PumpControl::ConstantHead(head_pa) => (head_pa, 0.0),
        PumpControl::ProportionalHead { head_pa, at_m3h } => {
            if q_m3h > 0.0 {
                (
                    head_pa * (0.5 + 0.5 * q_m3h / at_m3h),
                    0.5 * head_pa / at_m3h,
                )
            } else {
                (0.5 * head_pa, 0.0)
            }
        }
    };
    let full = pump::head(curve, 1.0, q_m3h);
    if asked.0 < full.0 { asked } else { full }
}

/// Whether a setting or the network itself closes an element.
pub(super) fn closed(network: &Network, setting: &Setting, id: ElementId) -> bool {
    !network.element(id).open || setting.shut[id.index()]
}

/// All gates of a setting. Elements on bridges never flow and have none.
pub(super) fn gates(
    network: &Network,
    setting: &Setting,
    classes: &Classes,
    running: &[bool],
) -> Vec<Gate> {
    let mut gates = Vec::new();
    for id in network.element_ids() {
        let e = id.index();
        let class = classes.of[e];
        if class == NONE || closed(network, setting, id) || setting.held_kg_s[e].is_some() {
            continue;
        }
        let law = setting.law.get(&id).unwrap_or(&network.element(id).law);
        let (kind, cap) = match law {
            Law::OneWay { opening_pa, .. } => (GateKind::OneWay(*opening_pa), 0.0),
            Law::HoldFlow { flow_kg_s, .. } => (GateKind::Valve, *flow_kg_s),
            _ => continue,
        };
        gates.push(Gate {
            element: e as u32,
            class,
            sign: classes.sign[e],
            kind,
            cap,
            mode: Mode::Free,
        });
    }
    for (p, info) in network.pumps.iter().enumerate() {
        let e = info.element.index();
        let class = classes.of[e];
        let cap = match setting.control[p] {
            PumpControl::HeldToFlow(flow) => flow,
            // where heat is not solved: what it would be at the greatest
            PumpControl::HeldToDrop { greatest_kg_s, .. } => greatest_kg_s,
            _ => continue,
        };
        let free = running[p]
            && class != NONE
            && !closed(network, setting, info.element)
            && setting.held_kg_s[e].is_none();
        if free {
            let sign = classes.sign[e];
            gates.push(Gate {
                element: e as u32,
                class,
                sign,
                kind: GateKind::Pump(p),
                cap,
                mode: Mode::Free,
            });
        }
    }
    gates
}
