//! Heat of a floor loop per kelvin of mean excess temperature: given, from a resistance, or by EN 1264-2 from spacing
//! and covering.

use super::build::Builder;
use super::lookup;
use crate::diag::Diagnostic;
use crate::maths;
use crate::network::HeatLaw;
use crate::survey::{At, Emitter, EmitterKind};

/// Heat transfer from floor to room, W/(m² K): EN 1264-2.
const FLOOR_W_M2K: f64 = 10.8;
/// Basic coefficient of EN 1264-2 for pipes in screed, W/(m² K).
const BASE_W_M2K: f64 = 6.7;
const SOURCE: &str = "EN 1264-2, pipes in screed with 45 mm over them, tables from memory";
/// Spacing where the file gives an area but no spacing, m.
const SPACING_M: f64 = 0.15;

/// Resistance of the covering, m² K/W: columns of the two tables.
const COVERING: [f64; 4] = [0.0, 0.05, 0.10, 0.15];
/// Spacing factor a_T by covering.
const A_T: [f64; 4] = [1.23, 1.188, 1.156, 1.134];
/// Spacing, m: rows of the diameter factor.
const SPACING: [f64; 8] = [0.05, 0.075, 0.10, 0.15, 0.20, 0.225, 0.30, 0.375];
/// Diameter factor a_D by spacing and covering.
const A_D: [[f64; 4]; 8] = [
    [1.013, 1.013, 1.012, 1.011],
    [1.021, 1.019, 1.016, 1.014],
    [1.029, 1.025, 1.022, 1.018],
    [1.040, 1.034, 1.029, 1.024],
    [1.046, 1.040, 1.035, 1.030],
    [1.049, 1.043, 1.038, 1.033],
    [1.053, 1.049, 1.044, 1.039],
    [1.056, 1.051, 1.046, 1.042],
];

/// Heat per area and kelvin of a floor with pipes in screed (EN 1264-2, type A), W/(m² K): spacing and outside
/// diameter of the pipe in m, resistance of the covering in m² K/W. Screed of 45 mm over the pipe, 1.0 W/(m K).
/// Beyond the tables (spacing 50 to 375 mm, covering to 0.15) the nearest row is used.
pub fn floor_w_m2k(spacing_m: f64, covering_m2k_w: f64, outside_m: f64) -> f64 {
    let spacing = spacing_m.clamp(0.05, 0.375);
    let covering = covering_m2k_w.clamp(0.0, 0.15);
    let screed = 1.0 / FLOOR_W_M2K + 0.045;
    let a_b = screed / (screed + covering);
    let a_t = between(&COVERING, &A_T, covering);
    let by_spacing = A_D.map(|row| between(&COVERING, &row, covering));
    let a_d = between(&SPACING, &by_spacing, spacing);
    let m_t = 1.0 - spacing / 0.075;
    let m_d = 250.0 * (outside_m - 0.020);
    BASE_W_M2K * a_b * maths::pow(a_t, m_t) * maths::pow(a_d, m_d)
}

/// Straight between rows; the rows' ends hold beyond them.
fn between<const N: usize>(x: &[f64; N], y: &[f64; N], at: f64) -> f64 {
    let pairs = x.windows(2).zip(y.windows(2));
    for (xs, ys) in pairs {
        if let ([x0, x1], [y0, y1]) = (xs, ys)
            && at <= *x1
        {
            return y0 + (y1 - y0) * ((at - x0) / (x1 - x0)).max(0.0);
        }
    }
    y.last().copied().unwrap_or_default()
}

/// The heat law of a floor loop.
pub(super) fn law(builder: &mut Builder, e: &Emitter) -> HeatLaw {
    let EmitterKind::Floor {
        w_per_k,
        area_m2,
        spacing,
        covering_m2k_w,
        resistance_m2k_w,
        zone,
        circuit,
    } = &e.kind
    else {
        return HeatLaw::Fixed(0.0);
    };
    let mean = builder.network.design.mean;
    let surface_limit_c = match zone.as_ref().map(|z| z.value.as_str()) {
        Some("bathroom") => 33.0,
        Some("edge") => 35.0,
        _ => 29.0,
    };
    let area = area_m2.as_ref().map(|a| a.value);
    let subject = e.name.value.as_str();
    let pipe = builder.leg_pipe(&circuit.value, subject);
    let value = |at: &Option<At<f64>>| at.as_ref().map(|a| a.value);
    let w_per_k = match (value(w_per_k), value(resistance_m2k_w), area) {
        (Some(given), ..) => given,
        (None, Some(resistance), Some(area)) => {
            builder.assume(subject, "10.8 W/(m² K) from floor to room", "EN 1264-2");
            area / (resistance + 1.0 / FLOOR_W_M2K)
        }
        (None, _, area) => {
            let spacing_m = spacing.as_ref().map(|s| s.value.0);
            // pipe per area fixes one of the two by the other
            let (area, spacing_m) = match (area, spacing_m) {
                (Some(area), Some(spacing_m)) => (area, spacing_m),
                (Some(area), None) => {
                    builder.assume(subject, "pipes 150 mm apart", "common practice, no source");
                    (area, SPACING_M)
                }
                (None, Some(spacing_m)) => {
                    builder.assume(subject, "area = length of loop × spacing", "geometry");
                    (circuit.value.length.likeliest.0 * spacing_m, spacing_m)
                }
                (None, None) => {
                    builder.faults.push(
                        Diagnostic::error(
                            "floor-heat-missing",
                            circuit.span.clone(),
                            format!("`{subject}` does not say how much heat its floor gives"),
                        )
                        .label("neither `per_kelvin` nor `area` stands beside the loop")
                        .help("add per_kelvin = \"75 W/K\", or area = \"14 m2\" with spacing and covering"),
                    );
                    return HeatLaw::Fixed(0.0);
                }
            };
            let covering = match value(covering_m2k_w) {
                Some(covering) => covering,
                None => {
                    builder.assume(
                        subject,
                        "floor covering 0.1 m²K/W",
                        "EN 1264 default for living rooms, from memory",
                    );
                    0.10
                }
            };
            let outside_m = pipe.outside.map_or(pipe.bore.0 + 0.004, |m| m.0);
            let per_area = floor_w_m2k(spacing_m, covering, outside_m);
            builder.assume(
                subject,
                &format!("{} W/(m² K) of floor", lookup::short(per_area)),
                SOURCE,
            );
            per_area * area
        }
    };
    HeatLaw::Floor {
        w_per_k: w_per_k * e.factor,
        area_m2: area,
        surface_limit_c,
        mean,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn floors_give_what_the_standard_form_says() {
        // source: EN 1264-2 by its own form: no covering, 20 mm pipe, so that only B, a_B = 1 and a_T count:
        // q = 6.7 · 1.23^(1 − T/0.075)
        for (spacing, expected) in [
            (0.075, 6.7),
            (0.15, 6.7 / 1.23),
            (0.30, 6.7 / 1.23 / 1.23 / 1.23),
        ] {
            let got = floor_w_m2k(spacing, 0.0, 0.020);
            assert!(
                (got / expected - 1.0).abs() < 1e-12,
                "{spacing}: {got} against {expected}"
            );
        }
        // a carpet of 0.1 m²K/W takes off 42 % before the spacing's factor
        let (bare, carpet) = (floor_w_m2k(0.075, 0.0, 0.02), floor_w_m2k(0.075, 0.1, 0.02));
        assert!((carpet / bare - 0.1376 / 0.2376).abs() < 1e-3);
    }
}
