//! What stands beside the unit's own circuit in heating: second pumps, hot water, scales of valves, sound.

use super::claim::{Claim, Claims, What};
use super::figures::{Expected, Seen, known};
use crate::maths;
use crate::network::{PartGroup, StateKind};
use crate::view::{self, Path, PumpedCircuit, Required, Through};

const NO_HEATING: &str = "nothing is required of its circuit in heating";

impl Seen<'_> {
    /// A claim about the circuit of a pump.
    pub fn of_circuit(&self, pump: usize, claim: &Claim) -> Result<Expected, String> {
        let found = self.required.circuits.iter().find(|c| c.pump == Some(pump));
        let Some(circuit) = found else {
            return Err(NO_HEATING.into());
        };
        let path = circuit.paths.get(circuit.index);
        match claim.row.what {
            What::Flow => Ok(Expected::Figure(circuit.flow_m3_s)),
            What::Head => Ok(Expected::Figure(circuit.needed_pa - own_pa(path))),
            What::HeadAvailable => known(
                circuit.available_pa.map(|pa| pa - own_pa(path)),
                "the file gives its pump no curve",
            ),
            What::Index => match path {
                Some(path) => Ok(Expected::Words(path.through.name(self.network))),
                None => Err(NO_HEATING.into()),
            },
            _ => Err("nothing of this kind is worked out for a circuit".into()),
        }
    }

    /// A claim about a cylinder: the house looked at once more while it is heated.
    pub fn of_cylinder(&self, i: usize, claim: &Claim) -> Result<Expected, String> {
        let Some(cylinder) = self.network.cylinders.get(i) else {
            return Err("the house has no such cylinder".into());
        };
        match claim.row.what {
            What::Volume => {
                return known(
                    cylinder.volume_m3,
                    "the file does not say how much it stores",
                );
            }
            What::FlowTemperature => return Ok(Expected::Figure(cylinder.flow_temperature_c)),
            _ => {}
        }
        let cold = "nothing is required of its coil in any state";
        for (state, of) in self.network.states.iter().enumerate() {
            if of.kind == StateKind::Heating {
                continue;
            }
            let Ok(required) = view::required(self.network, state) else {
                return Err("there is no converged answer while it is heated".into());
            };
            let Some((_, path)) = through(&required, i) else {
                continue;
            };
            return match claim.row.what {
                What::Flow => known(self.flow_in(&required, cylinder.coil), cold),
                What::Head => Ok(Expected::Figure(path.loss_pa - own_pa(Some(path)))),
                _ => Err("nothing of this kind is worked out for a cylinder".into()),
            };
        }
        Err(cold.into())
    }

    /// Where an emitter's setter stands on its own scale.
    pub fn mark(&self, i: usize) -> Result<Expected, String> {
        let kv = self.lockshields.get(i).and_then(|(kv, _)| *kv);
        let Some((kv, setter)) = kv.zip(self.network.setter(i)) else {
            return Err("it has nothing that could be set".into());
        };
        let table = setter.table.and_then(|t| self.network.valve_tables.get(t));
        let Some(table) = table else {
            return Err(format!(
                "the file gives no `valve_table` of its valve, so turns cannot be told; its kv is {kv:.2}"
            ));
        };
        let mark = table.mark(kv);
        Ok(Expected::Figure(if table.presets {
            mark.round()
        } else {
            mark
        }))
    }
}

/// The circuit and way round that passes a cylinder's coil.
fn through(required: &Required, cylinder: usize) -> Option<(&PumpedCircuit, &Path)> {
    required.circuits.iter().find_map(|c| {
        let path = c
            .paths
            .iter()
            .find(|p| p.through == Through::Cylinder(cylinder))?;
        Some((c, path))
    })
}

/// Loss of the unit itself on a way round, Pa; zero where its sheet gives free head.
fn own_pa(path: Option<&Path>) -> f64 {
    let parts = path.map(|p| p.breakdown.iter());
    let own = parts
        .into_iter()
        .flatten()
        .filter(|(g, _)| *g == PartGroup::Source);
    own.map(|(_, pa)| pa).sum()
}

/// Level in the open at a distance from a source of sound over reflecting planes, all as stated.
pub(super) fn noise(claims: &Claims) -> Result<Expected, String> {
    let (Some(power), Some(distance_m), Some(factor)) = (
        claims.of_house(What::SoundPower),
        claims.of_house(What::SoundDistance),
        claims.of_house(What::SoundFactor),
    ) else {
        return Err(
            "the file says nothing of the unit's sound or its place: state `sound_power`, `sound_distance` and \
             `sound_factor` beside it; screens, rooms and the local rule are not looked at"
                .into(),
        );
    };
    let spread = factor / (4.0 * std::f64::consts::PI * distance_m * distance_m);
    known(
        Some(power + 10.0 * maths::log10(spread)),
        "its distance cannot be",
    )
}
