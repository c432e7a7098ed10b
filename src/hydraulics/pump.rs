//! What a pump adds to the pressure: curve and affinity laws.

use crate::network::PumpCurve;

/// Pressure added, Pa, and its slope, Pa per m³/h, at `q_m3h` and `speed` (1 = full). Affinity laws:
/// Δp(Q, s) = s²·Δp(Q/s, 1).
pub fn head(curve: &PumpCurve, speed: f64, q_m3h: f64) -> (f64, f64) {
    match curve {
        PumpCurve::Quadratic { a_pa, b_pa, c_pa } => (
            speed * speed * a_pa + speed * b_pa * q_m3h + c_pa * q_m3h * q_m3h.abs(),
            speed * b_pa + 2.0 * c_pa * q_m3h.abs(),
        ),
        PumpCurve::Points(points) => {
            let speed = speed.max(LEAST_SPEED);
            let (head, slope) = between(points, q_m3h / speed);
            (speed * speed * head, speed * slope)
        }
    }
}

/// A curve of points cannot be scaled to a standstill; a stopped pump is a passage without loss instead.
const LEAST_SPEED: f64 = 1e-6;

/// Straight pieces between the points, the end pieces extended.
fn between(points: &[(f64, f64)], q: f64) -> (f64, f64) {
    let piece = points
        .windows(2)
        .find(|w| q <= w[1].0)
        .or_else(|| points.windows(2).last());
    match piece {
        Some(&[(q0, h0), (q1, h1)]) if q1 > q0 => {
            let slope = (h1 - h0) / (q1 - q0);
            (h0 + slope * (q - q0), slope)
        }
        _ => (points.first().map_or(0.0, |p| p.1), 0.0),
    }
}

/// Speed at which the pump adds `head_pa` at `q_m3h`; `None` if full speed does not reach it.
pub fn speed_for(curve: &PumpCurve, q_m3h: f64, head_pa: f64) -> Option<f64> {
    if head(curve, 1.0, q_m3h).0 < head_pa {
        return None;
    }
    let (mut low, mut high) = (0.0, 1.0);
    // the head at a fixed flow rises with speed; sixty halvings end at the last digit
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if head(curve, middle, q_m3h).0 < head_pa {
            low = middle
        } else {
            high = middle
        }
    }
    Some(high)
}

/// Flow, m³/h, at which the curve at full speed reaches zero head; the scale of the pump.
pub fn end_of_curve_m3h(curve: &PumpCurve) -> f64 {
    match curve {
        PumpCurve::Quadratic { a_pa, b_pa, c_pa } => {
            let root = (b_pa * b_pa - 4.0 * c_pa * a_pa).max(0.0).sqrt();
            if *c_pa < 0.0 {
                (b_pa + root) / (-2.0 * c_pa)
            } else if *b_pa < 0.0 {
                a_pa / -b_pa
            } else {
                1.0
            }
        }
        PumpCurve::Points(points) => points.last().map_or(1.0, |p| p.0),
    }
}
