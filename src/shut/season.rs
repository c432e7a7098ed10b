//! Run time and starts per hour at several outdoor temperatures, down the load line of the house.

use super::cycle::{Plant, Rhythm, Takes, simulate};
use super::state::Facts;
use crate::fluid::Properties;
use crate::network::{Network, Source};

/// Outside temperature at which no heating is needed, °C (EN 14825: the load line meets zero at 16 °C).
pub const NO_HEATING_C: f64 = 16.0;
/// Outside temperatures looked at, °C (EN 14825 part-load points with two between).
pub const OUTSIDE_C: [f64; 6] = [-7.0, -2.0, 2.0, 7.0, 10.0, 12.0];
/// Band of the control where the file is silent, K (common practice, no source).
pub const BAND_K: f64 = 5.0;
/// Least stop where the file is silent, s (common practice, no source).
pub const LEAST_STOP_S: f64 = 180.0;
/// Exponent of the house's emitters together (EN 442 panels; common practice for a mix).
const EXPONENT: f64 = 1.3;

/// One outdoor temperature.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Day {
    /// °C.
    pub outside_c: f64,
    /// Share of the design load by the load line, (t − 16)/(t_design − 16).
    pub load_share: f64,
    /// Flow temperature by weather compensation, °C.
    pub flow_c: f64,
    /// How the source runs.
    pub rhythm: Rhythm,
}

/// A combination down the load line.
#[derive(Clone, Debug, PartialEq)]
pub struct Season {
    /// Which combination.
    pub of: Of,
    /// What is shut.
    pub shut: u64,
    /// Rise of the water through the source at its least output, K.
    pub least_rise_k: f64,
    /// Width of the control band, K: with a larger rise the source stops as soon as it starts.
    pub band_k: f64,
    /// At several outdoor temperatures.
    pub days: Vec<Day>,
}

/// Combinations that are followed down the load line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Of {
    /// The one with the least flow.
    Worst,
    /// The same with the volume vessel that the water rules ask for.
    WorstWithVessel,
    /// Half of the valves shut, the one of middling flow.
    Typical,
    /// Everything open.
    Open,
}

/// Where the circulating water of a state is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Water {
    /// Plug flow in pipes, m³.
    pub plug_m3: f64,
    /// Mixed in the emitters, m³.
    pub emitters_m3: f64,
    /// Mixed vessel on the flow, m³.
    pub flow_vessel_m3: f64,
    /// Mixed vessel on the return, m³.
    pub return_vessel_m3: f64,
}

/// Simulates a state down the load line; empty without a least output, a design outside temperature or a load.
pub fn days(
    network: &Network,
    source: &Source,
    facts: &Facts,
    water: Water,
    at: Properties,
) -> Vec<Day> {
    let design = &network.design;
    let (Some(least_output_w), Some(outside_c)) = (source.least_output_w, design.outside_c) else {
        return Vec::new();
    };
    let room_c = mean_room_c(network);
    if facts.heat_w <= 0.0 || facts.flow_m3_s <= 0.0 || outside_c >= NO_HEATING_C {
        return Vec::new();
    }
    OUTSIDE_C
        .iter()
        .filter(|t| **t >= outside_c)
        .filter_map(|&t| {
            let load_share = (t - NO_HEATING_C) / (outside_c - NO_HEATING_C);
            let flow_c = weather_flow_c(source.flow_temperature_c, room_c, load_share);
            let plant = Plant {
                flow_kg_s: facts.flow_m3_s * at.rho_kg_m3,
                cp_j_kgk: at.cp_j_kgk,
                flow_side_kg: 0.5 * water.plug_m3 * at.rho_kg_m3,
                return_side_kg: 0.5 * water.plug_m3 * at.rho_kg_m3,
                emitters_kg: water.emitters_m3 * at.rho_kg_m3,
                flow_vessel_kg: water.flow_vessel_m3 * at.rho_kg_m3,
                return_vessel_kg: water.return_vessel_m3 * at.rho_kg_m3,
                least_output_w,
                output_w: source
                    .output_w
                    .unwrap_or(least_output_w)
                    .max(least_output_w),
                flow_c,
                band_k: source.control_band_k.unwrap_or(BAND_K),
                least_stop_s: source.least_stop_s.unwrap_or(LEAST_STOP_S),
                takes: Takes::Emitters {
                    heat_w: facts.heat_w * load_share,
                    inlet_c: flow_c,
                    room_c,
                    exponent: EXPONENT,
                },
            };
            Some(Day {
                outside_c: t,
                load_share,
                flow_c,
                rhythm: simulate(&plant)?,
            })
        })
        .collect()
}

/// Flow temperature by weather compensation, °C: the emitters' excess follows the load by their exponent.
pub fn weather_flow_c(design_c: f64, room_c: f64, load_share: f64) -> f64 {
    room_c + (design_c - room_c) * crate::maths::pow(load_share, 1.0 / EXPONENT)
}

/// Mean room temperature, weighted by what the emitters have to give; °C.
pub fn mean_room_c(network: &Network) -> f64 {
    let total: f64 = network.emitters.iter().map(|e| e.duty_w).sum();
    let weighted: f64 = network
        .emitters
        .iter()
        .map(|e| e.duty_w * network.rooms[e.room].temperature_c)
        .sum();
    if total > 0.0 { weighted / total } else { 20.0 }
}
