//! Local losses: ζ, kv, and a loss stated at a flow with an exponent. Each takes a mass flow in kg/s and returns the loss
//! in Pa with the sign of the flow, and its slope in Pa s/kg.

use super::friction::area_m2;
use crate::maths;

/// m³/h from m³/s.
pub const M3_H: f64 = 3600.0;

/// ζ·ρv²/2 on the velocity in `bore_m`.
pub fn zeta(zeta: f64, bore_m: f64, rho: f64, flow_kg_s: f64) -> (f64, f64) {
    let area = area_m2(bore_m);
    square(zeta / (2.0 * rho * area * area), flow_kg_s)
}

/// 1e5 Pa·(ρ/1000)·(Q/kv)², Q in m³/h: the definition of kv (IEC 60534-1), which is stated for water of 1000 kg/m³.
pub fn kv(kv_m3h: f64, rho: f64, flow_kg_s: f64) -> (f64, f64) {
    square(kv_coefficient(kv_m3h, rho), flow_kg_s)
}

/// Pa per (kg/s)² of a kv.
pub fn kv_coefficient(kv_m3h: f64, rho: f64) -> f64 {
    let per_kg = M3_H / (rho * kv_m3h);
    1e5 * (rho / 1000.0) * per_kg * per_kg
}

/// dp_ref·(|Q|/q_ref)^n.
pub fn power(
    dp_ref_pa: f64,
    q_ref_m3h: f64,
    exponent: f64,
    rho: f64,
    flow_kg_s: f64,
) -> (f64, f64) {
    let x = flow_kg_s.abs() * M3_H / (rho * q_ref_m3h);
    if x == 0.0 {
        let slope = if exponent == 1.0 {
            dp_ref_pa * M3_H / (rho * q_ref_m3h)
        } else {
            0.0
        };
        return (0.0, slope);
    }
    let dp = if exponent == 2.0 {
        dp_ref_pa * x * x
    } else {
        dp_ref_pa * maths::pow(x, exponent)
    };
    (dp.copysign(flow_kg_s), exponent * dp / flow_kg_s.abs())
}

fn square(k: f64, flow_kg_s: f64) -> (f64, f64) {
    let m = flow_kg_s.abs();
    (k * flow_kg_s * m, 2.0 * k * m)
}
