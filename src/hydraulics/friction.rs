//! Friction in straight pipe: Darcy–Weisbach with the factor of the regime.

use crate::maths;

/// Reynolds number up to which flow is laminar.
pub const LAMINAR_TO: f64 = 2300.0;
/// Reynolds number from which flow is turbulent.
pub const TURBULENT_FROM: f64 = 4000.0;
/// ln 10.
const LN_10: f64 = std::f64::consts::LN_10;

/// Darcy friction factor (dimensionless) and its slope by Reynolds number, for Re > 0 and relative roughness ε/d.
///
/// - Re ≤ 2300: f = 64/Re (Hagen–Poiseuille).
/// - Re ≥ 4000: [`colebrook`].
/// - between: no law is agreed. The cubic in Re that meets both in value and slope, so that Newton's method sees no kink;
///   f dips and rises, while the loss f·Re² rises throughout.
pub fn factor(re: f64, relative_roughness: f64) -> (f64, f64) {
    if re <= LAMINAR_TO {
        (64.0 / re, -64.0 / (re * re))
    } else if re >= TURBULENT_FROM {
        colebrook(re, relative_roughness)
    } else {
        Blend::new(relative_roughness).at(re)
    }
}

/// Friction factor and its slope by Re after C. F. Colebrook (J. Inst. Civ. Eng. 11, 1939):
/// 1/√f = −2·log₁₀(ε/(3.7 d) + 2.51/(Re √f)), solved to machine precision.
pub fn colebrook(re: f64, relative_roughness: f64) -> (f64, f64) {
    let (a, b) = (relative_roughness / 3.7, 2.51 / re);
    // start: the explicit form of P. K. Swamee and A. K. Jain (J. Hydraulics Div. ASCE 102, 1976)
    let mut x = -2.0 * maths::log10(a + 5.74 / maths::pow(re, 0.9));
    for _ in 0..4 {
        let (next, _) = improve(a, b, x);
        let done = (next - x).abs() <= 1e-15 * x.abs();
        x = next;
        if done {
            break;
        }
    }
    (1.0 / (x * x), slope(a, b, x, re))
}

/// One third-order (Halley) step for x = 1/√f of x + 2·log₁₀(a + b·x) = 0, and 2/ln 10·b/(a + b·x) before it; a good start
/// is exact after two.
#[inline]
pub fn improve(a: f64, b: f64, x: f64) -> (f64, f64) {
    let y = a + b * x;
    let residual = x + (2.0 / LN_10) * maths::ln(y);
    let u = (2.0 / LN_10) * b / y;
    // first and second derivative: 1 + u and −u²·ln 10/2
    let d1 = 1.0 + u;
    (
        x - residual * d1 / (d1 * d1 + (0.25 * LN_10) * residual * u * u),
        u,
    )
}

/// df/dRe at the solution x = 1/√f.
#[inline]
pub fn slope(a: f64, b: f64, x: f64, re: f64) -> f64 {
    let y = a + b * x;
    let k = (2.0 / LN_10) * b / y;
    let dx = k * x / re / (1.0 + k);
    -2.0 * dx / (x * x * x)
}

/// The cubic between the laminar and the turbulent law, for one relative roughness.
#[derive(Clone, Copy, Debug)]
pub struct Blend {
    f_turbulent: f64,
    slope_turbulent: f64,
}

impl Blend {
    /// Fits the cubic to both ends.
    pub fn new(relative_roughness: f64) -> Self {
        let (f_turbulent, slope_turbulent) = colebrook(TURBULENT_FROM, relative_roughness);
        Self {
            f_turbulent,
            slope_turbulent,
        }
    }

    /// Factor and slope at a Reynolds number of the band.
    pub fn at(&self, re: f64) -> (f64, f64) {
        const H: f64 = TURBULENT_FROM - LAMINAR_TO;
        let t = (re - LAMINAR_TO) / H;
        let (f1, m1) = (64.0 / LAMINAR_TO, -64.0 / (LAMINAR_TO * LAMINAR_TO));
        let (f2, m2) = (self.f_turbulent, self.slope_turbulent);
        let (t2, t3) = (t * t, t * t * t);
        let f = (2.0 * t3 - 3.0 * t2 + 1.0) * f1
            + (t3 - 2.0 * t2 + t) * H * m1
            + (-2.0 * t3 + 3.0 * t2) * f2
            + (t3 - t2) * H * m2;
        let slope = (6.0 * t2 - 6.0 * t) * f1 / H
            + (3.0 * t2 - 4.0 * t + 1.0) * m1
            + (-6.0 * t2 + 6.0 * t) * f2 / H
            + (3.0 * t2 - 2.0 * t) * m2;
        (f, slope)
    }
}

/// Area of a round bore, m².
pub fn area_m2(bore_m: f64) -> f64 {
    std::f64::consts::FRAC_PI_4 * bore_m * bore_m
}

/// Reynolds number of a mass flow in a round bore: 4·|m|/(π·d·μ).
pub fn reynolds(flow_kg_s: f64, bore_m: f64, mu_pa_s: f64) -> f64 {
    4.0 * flow_kg_s.abs() / (std::f64::consts::PI * bore_m * mu_pa_s)
}

/// Friction loss, Pa, with the sign of the flow, and its slope, Pa s/kg: f·L/d·ρv²/2.
///
/// Laminar flow is written without a division by the flow, so that loss and slope are exact at zero.
pub fn loss(
    length_m: f64,
    bore_m: f64,
    roughness_m: f64,
    rho: f64,
    mu: f64,
    flow_kg_s: f64,
) -> (f64, f64) {
    let area = area_m2(bore_m);
    let re = reynolds(flow_kg_s, bore_m, mu);
    if re <= LAMINAR_TO {
        let k = 32.0 * mu * length_m / (bore_m * bore_m * area * rho);
        return (k * flow_kg_s, k);
    }
    let (f, slope) = factor(re, roughness_m / bore_m);
    let k = length_m / bore_m / (2.0 * rho * area * area);
    let m = flow_kg_s.abs();
    (k * f * flow_kg_s * m, k * m * (2.0 * f + re * slope))
}
