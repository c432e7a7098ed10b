//! The elements of a network as the hydraulics see them in one setting: a law, and a mode that says whether the flow is
//! free, fixed or none.

use super::Setting;
use crate::fluid::Properties;
use crate::hydraulics::{self, local::M3_H, pump};
use crate::network::{Law, Network, PumpControl, PumpCurve};

/// What an element's flow may do at present.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Mode {
    /// Follows its law.
    Free,
    /// Held at its cap (kg/s): a flow-holding valve at work, a pump that runs slower.
    AtCap,
    /// A capped pump that others push beyond its cap: it stands and lets water through.
    Pushed,
    /// A one-way element that is shut.
    Shut,
}

/// How an element can switch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Gate {
    /// Never.
    None,
    /// Closed by hand.
    Closed,
    /// Flow held by the setting, kg/s.
    Held(f64),
    /// Flow only forwards.
    OneWay,
    /// Flow at most this, kg/s, by throttling.
    Valve(f64),
    /// Flow at most this, kg/s, by slowing down.
    Pump(f64),
}

/// Law of a free element.
#[derive(Clone, Debug)]
pub(super) enum Kind<'a> {
    /// By the network's own law.
    Plain(&'a Law),
    /// A running pump.
    Pump(&'a PumpCurve, PumpControl),
    /// A pump that stands: no loss, no gain.
    Standing,
}

#[derive(Clone, Debug)]
pub(super) struct Edge<'a> {
    pub ends: (usize, usize),
    pub kind: Kind<'a>,
    pub gate: Gate,
    pub mode: Mode,
    pub at: Properties,
}

impl Edge<'_> {
    /// Loss, Pa, and slope, Pa s/kg, at a flow.
    pub fn loss(&self, flow_kg_s: f64) -> (f64, f64) {
        match &self.kind {
            Kind::Plain(law) => hydraulics::element(law, self.at, flow_kg_s),
            Kind::Standing => (0.0, 0.0),
            Kind::Pump(..) if self.mode == Mode::Pushed => (0.0, 0.0),
            Kind::Pump(curve, control) => {
                let per_kg = M3_H / self.at.rho_kg_m3;
                let (head, slope) = controlled_head(curve, *control, flow_kg_s * per_kg);
                (-head, -slope * per_kg)
            }
        }
    }

    /// Whether water may pass, and freely.
    pub fn is_free(&self) -> bool {
        matches!(self.mode, Mode::Free | Mode::Pushed)
            && !matches!(self.gate, Gate::Closed | Gate::Held(_))
    }

    /// The flow that is imposed, if it is.
    pub fn fixed_flow(&self) -> Option<f64> {
        match (self.gate, self.mode) {
            (Gate::Held(flow), _) => Some(flow),
            (Gate::Valve(cap) | Gate::Pump(cap), Mode::AtCap) => Some(cap),
            _ => None,
        }
    }
}

/// Pressure added by a pump under its control, Pa, and slope, Pa per m³/h. What the control asks for is given as far as
/// the curve at full speed reaches; held flows are a matter of [`Gate::Pump`].
pub(super) fn controlled_head(curve: &PumpCurve, control: PumpControl, q_m3h: f64) -> (f64, f64) {
    let full = pump::head(curve, 1.0, q_m3h);
    let asked = match control {
        PumpControl::FixedSpeed(speed) => return pump::head(curve, speed, q_m3h),
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
        PumpControl::HeldToFlow(_) | PumpControl::HeldToDrop { .. } => return full,
    };
    if asked.0 < full.0 { asked } else { full }
}

/// All elements in one setting; `caps` is the present cap of each pump and of each flow-holding element, kg/s.
pub(super) fn edges<'a>(
    network: &'a Network,
    setting: &'a Setting,
    at: &[Properties],
    pump_caps: &[Option<f64>],
    valve_caps: &[Option<f64>],
) -> Vec<Edge<'a>> {
    let mut edges: Vec<Edge<'a>> = network
        .element_ids()
        .map(|id| {
            let (i, element) = (id.index(), network.element(id));
            let (from, to) = network.ends(id);
            let law = setting.law.get(&id).unwrap_or(&element.law);
            let gate = match law {
                _ if !element.open || setting.shut[i] => Gate::Closed,
                _ if setting.held_kg_s[i].is_some() => {
                    Gate::Held(setting.held_kg_s[i].unwrap_or(0.0))
                }
                Law::OneWay { .. } => Gate::OneWay,
                Law::HoldFlow { flow_kg_s, .. } => Gate::Valve(valve_caps[i].unwrap_or(*flow_kg_s)),
                _ => Gate::None,
            };
            // a pump that no control is told of stands
            let kind = if matches!(law, Law::Pump(_)) {
                Kind::Standing
            } else {
                Kind::Plain(law)
            };
            Edge {
                ends: (from.index(), to.index()),
                kind,
                gate,
                mode: Mode::Free,
                at: at[i],
            }
        })
        .collect();
    for (p, info) in network.pumps.iter().enumerate() {
        let law = setting
            .law
            .get(&info.element)
            .unwrap_or(&network.element(info.element).law);
        let edge = &mut edges[info.element.index()];
        let standing = setting.stopped[p]
            || matches!(setting.control[p], PumpControl::FixedSpeed(s) if s <= 0.0);
        if let (Law::Pump(curve), false) = (law, standing) {
            edge.kind = Kind::Pump(curve, setting.control[p]);
            if let (Some(cap), Gate::None) = (pump_caps[p], edge.gate) {
                edge.gate = Gate::Pump(cap);
            }
        }
    }
    edges
}
