//! Loss of each element at a known flow and temperature, split into the groups under which reports add it up.

use crate::fluid::Properties;
use crate::hydraulics;
use crate::network::{ElementId, Law, Network, PartGroup, PartLaw};
use crate::solve::SolveError;

/// The groups in the order in which a breakdown lists them.
pub(crate) const GROUPS: [PartGroup; 8] = [
    PartGroup::Pipe,
    PartGroup::Fittings,
    PartGroup::Tees,
    PartGroup::Valves,
    PartGroup::Devices,
    PartGroup::Emitter,
    PartGroup::Source,
    PartGroup::Plant,
];

/// Losses by group, Pa, in the order of [`GROUPS`].
pub(crate) type ByGroup = [f64; 8];

/// Place of a group in [`GROUPS`].
pub(crate) fn row(group: PartGroup) -> usize {
    match group {
        PartGroup::Pipe => 0,
        PartGroup::Fittings => 1,
        PartGroup::Tees => 2,
        PartGroup::Valves => 3,
        PartGroup::Devices => 4,
        PartGroup::Emitter => 5,
        PartGroup::Source => 6,
        PartGroup::Plant => 7,
    }
}

/// Properties of an element's fluid at a temperature in °C.
///
/// # Errors
/// Where the temperature lies outside the range in which they are known.
pub(crate) fn properties(
    network: &Network,
    element: ElementId,
    temperature_c: f64,
) -> Result<Properties, SolveError> {
    let liquid = hydraulics::liquid(&network.fluids[network.element(element).fluid]);
    liquid
        .at(temperature_c)
        .map_err(|_| SolveError::TemperatureOutOfRange {
            element,
            temperature_c,
        })
}

/// Loss of an element by group, Pa, in the direction of its flow; a pump counts nothing, a valve that opens or holds
/// counts as fully open.
pub(crate) fn by_group(law: &Law, at: Properties, flow_kg_s: f64) -> ByGroup {
    let mut groups = [0.0; 8];
    let flow = flow_kg_s.abs();
    if flow > 0.0 {
        match law {
            Law::Parts(parts) => {
                for part in parts {
                    groups[row(part.group)] += hydraulics::part(&part.law, at, flow).0;
                }
            }
            Law::Pump(_) => {}
            Law::OneWay { .. } | Law::HoldFlow { .. } => {
                groups[row(PartGroup::Valves)] = hydraulics::element(law, at, flow).0;
            }
        }
    }
    groups
}

/// Velocity, friction gradient and Reynolds number of the narrowest pipe in an element; `None` without pipe.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct InPipe {
    pub velocity_m_s: f64,
    pub gradient_pa_m: f64,
    pub reynolds: f64,
    pub area_m2: f64,
}

/// Figures of the fastest pipe among the parts of a law at a flow.
pub(crate) fn in_pipe(law: &Law, at: Properties, flow_kg_s: f64) -> Option<InPipe> {
    let Law::Parts(parts) = law else { return None };
    let mut fastest: Option<InPipe> = None;
    for part in parts {
        let PartLaw::Friction {
            bore_m,
            roughness_m,
            ..
        } = part.law
        else {
            continue;
        };
        let area_m2 = hydraulics::friction::area_m2(bore_m);
        let velocity_m_s = flow_kg_s.abs() / (at.rho_kg_m3 * area_m2);
        if fastest.is_none_or(|f| velocity_m_s > f.velocity_m_s) {
            let metre = PartLaw::Friction {
                length_m: 1.0,
                bore_m,
                roughness_m,
            };
            fastest = Some(InPipe {
                velocity_m_s,
                gradient_pa_m: hydraulics::part(&metre, at, flow_kg_s.abs()).0,
                reynolds: hydraulics::friction::reynolds(flow_kg_s, bore_m, at.mu_pa_s),
                area_m2,
            });
        }
    }
    fastest
}
