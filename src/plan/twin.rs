//! Two pipes side by side: how a flow splits between them, and the least that it can lose in them.

use super::model::loss_pa;
use crate::fluid::Properties;
use crate::network::Law;

/// Halvings of the interval: to the last digit.
const ROUNDS: usize = 60;

/// The flows at which both lose the same, kg/s: the first's and the second's.
pub(super) fn split(first: &Law, second: &Law, at: Properties, flow_kg_s: f64) -> (f64, f64) {
    let (mut low, mut high) = (0.0, flow_kg_s);
    for _ in 0..ROUNDS {
        let x = 0.5 * (low + high);
        if loss_pa(first, at, x) < loss_pa(second, at, flow_kg_s - x) {
            low = x;
        } else {
            high = x;
        }
    }
    (low, flow_kg_s - low)
}

/// The least that a flow can lose from one end to the other, Pa, tees at the ends left out.
///
/// The loss is the same along both; it is the mean of both weighted with their flows, and no split has a lesser mean than
/// the one sought here. Tees add to that mean, whatever they add to one way alone.
pub(super) fn least_loss_pa(first: &Law, second: &Law, at: Properties, flow_kg_s: f64) -> f64 {
    if flow_kg_s <= 0.0 {
        return 0.0;
    }
    let mean = |x: f64| {
        let other = flow_kg_s - x;
        (x * loss_pa(first, at, x) + other * loss_pa(second, at, other)) / flow_kg_s
    };
    // a coarse look, since the band between laminar and turbulent bends the curve
    const LOOKS: usize = 32;
    let step = flow_kg_s / LOOKS as f64;
    let best = (0..=LOOKS)
        .map(|k| k as f64 * step)
        .min_by(|a, b| mean(*a).total_cmp(&mean(*b)))
        .unwrap_or(0.0);
    let (mut low, mut high) = ((best - step).max(0.0), (best + step).min(flow_kg_s));
    for _ in 0..ROUNDS {
        let (a, b) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
        if mean(a) < mean(b) {
            high = b;
        } else {
            low = a;
        }
    }
    // less than the rounding of what the solver says of the same split
    mean(0.5 * (low + high)) * (1.0 - 1e-9)
}
