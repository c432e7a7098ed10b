//! What a defrost asks of the house as it then stands: flow, a return that is warm enough, and so much water that what it
//! draws does not cool the return below where the unit gives up.

use super::season::{NO_HEATING_C, mean_room_c, weather_flow_c};
use super::special::{Special, What};
use super::state::Facts;
use super::water::{Rule, RuleKind, defrost_m3};
use crate::fluid::Properties;
use crate::network::{Network, Source, StateKind};

/// Outside temperature up to which frost forms on a coil, °C (common practice, no source): the water is then coolest.
const MILDEST_C: f64 = 7.0;

/// A defrost in one state of the house.
#[derive(Clone, Debug, PartialEq)]
pub struct Defrost {
    /// The house state; `None` for heating with as much shut as can be.
    pub state: Option<String>,
    /// Return temperature as it begins, °C.
    pub return_c: f64,
    /// At this outside temperature, °C; `None` where the flow temperature does not follow the weather.
    pub outside_c: Option<f64>,
    /// By how much it may cool the water, K; `None` where nothing says so, not positive where it is refused.
    pub fall_k: Option<f64>,
    /// The return floor leaves less than the maker's allowed fall.
    pub by_floor: bool,
    /// Flow there, m³/s: the least of all combinations, or that of the house state.
    pub flow_m3_s: f64,
    /// Water that circulates there, m³.
    pub water_m3: f64,
}

impl Defrost {
    /// Whether the return is too cold for it to begin.
    pub fn refused(&self) -> bool {
        self.by_floor && self.fall_k.is_some_and(|k| k <= 0.0)
    }

    /// The rule that it makes for the water, where it can be made.
    pub fn rule(&self, energy_j: Option<f64>, at: Properties) -> Option<Rule> {
        let fall_k = self.fall_k.filter(|k| *k > 0.0)?;
        Some(Rule {
            kind: RuleKind::Defrost,
            state: self.state.clone(),
            asked_m3: defrost_m3(energy_j?, fall_k, at.rho_kg_m3, at.cp_j_kgk),
            counts_m3: self.water_m3,
        })
    }
}

/// A defrost in heating, at least flow and least water, and with the diverter on each coil; nothing where the file says
/// nothing of defrosts.
pub fn defrosts(
    network: &Network,
    source: &Source,
    driest: &Facts,
    least_flow_m3_s: f64,
    special: &[Special],
    at: Properties,
) -> Vec<Defrost> {
    let known = [
        source.defrost_energy_j,
        source.defrost_flow_m3_s,
        source.defrost_return_c,
    ];
    if known.iter().all(Option::is_none) {
        return Vec::new();
    }
    let fall = |return_c: f64| {
        let by_floor = source.defrost_return_c.map(|floor| return_c - floor);
        match (source.defrost_fall_k, by_floor) {
            (Some(fall), Some(floor)) => (Some(fall.min(floor)), floor < fall),
            (None, Some(floor)) => (Some(floor), true),
            (fall, None) => (fall, false),
        }
    };
    let mut out = Vec::new();
    if driest.flow_m3_s > 0.0 {
        let (outside_c, share) = match network.design.outside_c {
            Some(t) if t < MILDEST_C => (
                Some(MILDEST_C),
                (MILDEST_C - NO_HEATING_C) / (t - NO_HEATING_C),
            ),
            _ => (None, 1.0),
        };
        let flow_c = weather_flow_c(source.flow_temperature_c, mean_room_c(network), share);
        let capacity = driest.flow_m3_s * at.rho_kg_m3 * at.cp_j_kgk;
        let return_c = flow_c - share * driest.heat_w / capacity;
        let (fall_k, by_floor) = fall(return_c);
        out.push(Defrost {
            state: None,
            return_c,
            outside_c,
            fall_k,
            by_floor,
            flow_m3_s: least_flow_m3_s,
            water_m3: driest.water_m3,
        });
    }
    for state in special {
        let (What::House(name), Ok(facts)) = (&state.what, &state.facts) else {
            continue;
        };
        let coil =
            |s: &crate::network::HouseState| s.name == *name && s.kind == StateKind::HotWater;
        let Some(return_c) = facts.return_c.filter(|_| network.states.iter().any(coil)) else {
            continue;
        };
        let (fall_k, by_floor) = fall(return_c);
        out.push(Defrost {
            state: Some(name.clone()),
            return_c,
            outside_c: None,
            fall_k,
            by_floor,
            flow_m3_s: facts.flow_m3_s,
            water_m3: facts.water_m3,
        });
    }
    out
}
