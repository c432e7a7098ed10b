//! The laws of single elements: loss of pressure at a flow, pump heads, heat from an emitter at a flow.

pub mod friction;
pub mod heat;
pub mod local;
pub mod pump;
pub mod tee;

use crate::fluid::{Liquid, Properties};
use crate::network::{FluidData, Law, Part, PartLaw};
use crate::survey::Fluid;

/// The liquid that a network's fluid stands for.
pub fn liquid(data: &FluidData) -> Liquid {
    match *data {
        FluidData::ByTemperature(Fluid::Water) => Liquid::Water,
        FluidData::ByTemperature(Fluid::Glycol {
            propylene: true,
            percent,
        }) => Liquid::Propylene(percent),
        FluidData::ByTemperature(Fluid::Glycol {
            propylene: false,
            percent,
        }) => Liquid::Ethylene(percent),
        FluidData::ByTemperature(Fluid::Given {
            density,
            heat_capacity,
            viscosity,
        }) => Liquid::Constant(Properties {
            rho_kg_m3: density,
            mu_pa_s: viscosity,
            cp_j_kgk: heat_capacity,
        }),
        FluidData::Constant {
            rho_kg_m3,
            mu_pa_s,
            cp_j_kgk,
        } => Liquid::Constant(Properties {
            rho_kg_m3,
            mu_pa_s,
            cp_j_kgk,
        }),
    }
}

/// Loss of one part, Pa, with the sign of the flow, and its slope, Pa s/kg.
pub fn part(law: &PartLaw, at: Properties, flow_kg_s: f64) -> (f64, f64) {
    match *law {
        PartLaw::Friction {
            length_m,
            bore_m,
            roughness_m,
        } => friction::loss(
            length_m,
            bore_m,
            roughness_m,
            at.rho_kg_m3,
            at.mu_pa_s,
            flow_kg_s,
        ),
        PartLaw::Zeta { zeta, bore_m } => local::zeta(zeta, bore_m, at.rho_kg_m3, flow_kg_s),
        PartLaw::Kv { kv_m3h } => local::kv(kv_m3h, at.rho_kg_m3, flow_kg_s),
        PartLaw::Power {
            dp_ref_pa,
            q_ref_m3h,
            exponent,
        } => local::power(dp_ref_pa, q_ref_m3h, exponent, at.rho_kg_m3, flow_kg_s),
    }
}

/// Sum over parts in series.
pub fn parts(parts: &[Part], at: Properties, flow_kg_s: f64) -> (f64, f64) {
    parts.iter().fold((0.0, 0.0), |(dp, slope), p| {
        let (more, steeper) = part(&p.law, at, flow_kg_s);
        (dp + more, slope + steeper)
    })
}

/// Loss of an element by its own law alone, p(from) − p(to) in Pa, and its slope. A pump counts at full speed; a one-way
/// element as open, a flow-holding one as fully open.
pub fn element(law: &Law, at: Properties, flow_kg_s: f64) -> (f64, f64) {
    match law {
        Law::Parts(list) => parts(list, at, flow_kg_s),
        Law::Pump(curve) => {
            let per_kg = local::M3_H / at.rho_kg_m3;
            let (head, slope) = pump::head(curve, 1.0, flow_kg_s * per_kg);
            (-head, -slope * per_kg)
        }
        Law::OneWay { opening_pa, kv_m3h } => {
            let (dp, slope) = local::kv(*kv_m3h, at.rho_kg_m3, flow_kg_s);
            (dp + opening_pa, slope)
        }
        Law::HoldFlow { kv_m3h, .. } => local::kv(*kv_m3h, at.rho_kg_m3, flow_kg_s),
    }
}
