//! Tees by flow split in the iteration.
//!
//! A tee's loss depends on two flows. Newton's method on nodes takes the loss as it is and, for the slope, only the secant
//! of each leg's own loss where that resists: its matrix stays symmetric and its steps stay short, at linear convergence.
//! The steps in loop space that follow use the full derivatives, and converge quadratically again.

use super::classes::{Classes, NONE};
use crate::fluid::Properties;
use crate::hydraulics::tee;
use crate::network::Network;

#[derive(Clone, Debug)]
struct Legs {
    elements: [u32; 3],
    /// +1 if the element points into the place.
    into: [f64; 3],
    bores_m: [f64; 3],
    rho: f64,
}

/// All tees of a network that have three legs.
#[derive(Clone, Debug, Default)]
pub(super) struct Tees {
    list: Vec<Legs>,
}

impl Tees {
    pub fn new(network: &Network) -> Self {
        let list = network.tees.iter().filter_map(|tee| {
            let ids = [tee.straight.0, tee.straight.1, tee.branch];
            let mut into = [0.0; 3];
            for (leg, id) in ids.iter().enumerate() {
                let (from, to) = network.ends(*id);
                into[leg] = match (from == tee.place, to == tee.place) {
                    (false, true) => 1.0,
                    (true, false) => -1.0,
                    _ => return None,
                };
            }
            let bores_m = [tee.bores_m.0, tee.bores_m.1, tee.bores_m.2];
            let usable = bores_m.iter().all(|b| b.is_finite() && *b > 0.0);
            usable.then(|| Legs {
                elements: ids.map(|id| id.index() as u32),
                into,
                bores_m,
                rho: 1000.0,
            })
        });
        Self {
            list: list.collect(),
        }
    }

    pub fn is_empty(&self) -> bool {
        self.list.is_empty()
    }

    /// Takes the density by element.
    pub fn refresh(&mut self, at: &[Properties]) {
        for legs in &mut self.list {
            legs.rho = at[legs.elements[0] as usize].rho_kg_m3;
        }
    }

    fn class(classes: &Classes, legs: &Legs, leg: usize) -> Option<(usize, f64)> {
        let e = legs.elements[leg] as usize;
        let class = classes.of[e];
        // sign of the class's flow into the place
        (class != NONE).then(|| (class as usize, classes.sign[e] * legs.into[leg]))
    }

    fn flows(classes: &Classes, legs: &Legs, q: &[f64]) -> [f64; 3] {
        std::array::from_fn(|leg| {
            Self::class(classes, legs, leg).map_or(0.0, |(c, sign)| sign * q[c])
        })
    }

    /// Adds to losses and slopes of classes.
    #[inline]
    pub fn add(&self, classes: &Classes, q: &[f64], h: &mut [f64], slope: &mut [f64]) {
        for legs in &self.list {
            let flow = Self::flows(classes, legs, q);
            let above = tee::pressures(flow, legs.bores_m, legs.rho);
            let total = flow.iter().fold(0.0_f64, |m, f| m.max(f.abs()));
            for leg in 0..3 {
                if let Some((c, sign)) = Self::class(classes, legs, leg) {
                    h[c] += sign * above[leg];
                    if above[leg] * flow[leg] > 0.0 {
                        slope[c] += above[leg].abs() / flow[leg].abs().max(tee::BLEND * total);
                    }
                }
            }
        }
    }

    /// Derivatives of the losses of classes by flows of classes: `each(of, by, Pa s/kg)`.
    pub fn derivatives(
        &self,
        classes: &Classes,
        q: &[f64],
        mut each: impl FnMut(usize, usize, f64),
    ) {
        for legs in &self.list {
            let flow = Self::flows(classes, legs, q);
            let step = 1e-6 * flow.iter().fold(0.0_f64, |m, f| m.max(f.abs()));
            if step == 0.0 {
                continue;
            }
            for by in 0..3 {
                let Some((j, sign_j)) = Self::class(classes, legs, by) else {
                    continue;
                };
                let moved = |d: f64| {
                    let mut f = flow;
                    f[by] += d;
                    tee::pressures(f, legs.bores_m, legs.rho)
                };
                let (up, down) = (moved(step), moved(-step));
                for of in 0..3 {
                    if let Some((i, sign_i)) = Self::class(classes, legs, of) {
                        each(i, j, sign_i * sign_j * (up[of] - down[of]) / (2.0 * step));
                    }
                }
            }
        }
    }

    /// The same for one element.
    pub fn on(&self, element: usize, flow: impl Fn(usize) -> f64) -> f64 {
        let mut dp = 0.0;
        for legs in &self.list {
            for leg in (0..3).filter(|&leg| legs.elements[leg] as usize == element) {
                let into = std::array::from_fn(|k| legs.into[k] * flow(legs.elements[k] as usize));
                dp += legs.into[leg] * tee::pressures(into, legs.bores_m, legs.rho)[leg];
            }
        }
        dp
    }

    /// Loss that tees add to each element, p(from) − p(to) in Pa, from the flows of elements.
    pub fn by_element(&self, flow: &[f64]) -> Vec<f64> {
        let mut dp = vec![0.0; flow.len()];
        for legs in &self.list {
            let flow_in =
                std::array::from_fn(|leg| legs.into[leg] * flow[legs.elements[leg] as usize]);
            let above = tee::pressures(flow_in, legs.bores_m, legs.rho);
            for leg in 0..3 {
                dp[legs.elements[leg] as usize] += legs.into[leg] * above[leg];
            }
        }
        dp
    }
}
