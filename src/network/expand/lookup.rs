//! Small look-ups that every part of expanding needs: the likeliest pipe of a word, numbers in words, density.

use crate::fluid::Liquid;
use crate::network::FluidData;
use crate::survey::{Fluid, PipeOption, PipeWord};

/// Density of water near 40 °C, kg/m³: what is used where a temperature lies outside the known range, which the solver
/// then says.
const DENSITY_KG_M3: f64 = 992.0;
/// Heat capacity likewise, J/(kg K).
const HEAT_J_KGK: f64 = 4180.0;

/// The option of a pipe word that is used: the one with the greatest odds, the first on a tie.
pub(super) fn likeliest(word: &PipeWord) -> Option<&PipeOption> {
    let mut best: Option<&PipeOption> = None;
    for option in &word.options {
        if best.is_none_or(|b| option.odds.unwrap_or(0.0) > b.odds.unwrap_or(0.0)) {
            best = Some(option);
        }
    }
    best
}

/// A number as a person writes it: about three significant digits, no trailing zeros.
pub(super) fn short(x: f64) -> String {
    let decimals = match x.abs() {
        a if a >= 100.0 => 0,
        a if a >= 10.0 => 1,
        a if a >= 1.0 => 2,
        a if a >= 0.1 => 3,
        _ => 4,
    };
    let text = format!("{x:.decimals$}");
    match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        false => text,
    }
}

fn liquid(fluid: &FluidData) -> Option<Liquid> {
    Some(match fluid {
        FluidData::Constant { .. } => return None,
        FluidData::ByTemperature(Fluid::Water) => Liquid::Water,
        FluidData::ByTemperature(Fluid::Glycol {
            propylene: true,
            percent,
        }) => Liquid::Propylene(*percent),
        FluidData::ByTemperature(Fluid::Glycol {
            propylene: false,
            percent,
        }) => Liquid::Ethylene(*percent),
        FluidData::ByTemperature(Fluid::Given { .. }) => return None,
    })
}

/// Density of a fluid, kg/m³.
pub(super) fn density(fluid: &FluidData, at_c: f64) -> f64 {
    if let FluidData::Constant { rho_kg_m3, .. } = fluid {
        return *rho_kg_m3;
    }
    liquid(fluid)
        .and_then(|l| l.at(at_c).ok())
        .map_or(DENSITY_KG_M3, |p| p.rho_kg_m3)
}

/// Heat capacity of a fluid, J/(kg K).
pub(super) fn heat_capacity(fluid: &FluidData, at_c: f64) -> f64 {
    if let FluidData::Constant { cp_j_kgk, .. } = fluid {
        return *cp_j_kgk;
    }
    liquid(fluid)
        .and_then(|l| l.at(at_c).ok())
        .map_or(HEAT_J_KGK, |p| p.cp_j_kgk)
}
