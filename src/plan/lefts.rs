//! How much of its excess over the room water keeps in a radiator, by table.
//!
//! The balance capacity·(a − b) = k·(mean of a and b)ⁿ of the excesses a at the inlet and b at the outlet says b/a by
//! ln(k·aⁿ⁻¹/capacity) alone, for each n and kind of mean: what a search asks a million times is solved a few hundred.

use crate::hydraulics::heat::Body;
use crate::maths;

/// Logarithms between which the table stands, and its steps.
const FROM: f64 = -12.0;
const TO: f64 = 5.0;
const STEP: f64 = 1.0 / 32.0;

/// Tables of all bodies of a loop.
#[derive(Clone, Debug, Default)]
pub(super) struct Lefts(Vec<Left>);

#[derive(Clone, Debug)]
struct Left {
    body: Body,
    by: Vec<f64>,
}

/// A body and its table.
#[derive(Clone, Copy, Debug)]
pub(super) enum Cooler {
    /// A fixed heat, W.
    Fixed(f64),
    /// ln k, n − 1, and which table.
    ByExcess(f64, f64, usize),
}

/// Water at an inlet.
#[derive(Clone, Copy, Debug)]
pub(super) struct Inlet {
    /// Excess over the room, K.
    excess_k: f64,
    ln_excess: f64,
}

impl Inlet {
    pub fn new(c: f64, room_c: f64) -> Self {
        let excess_k = c - room_c;
        Self {
            excess_k,
            ln_excess: maths::ln(excess_k.max(f64::MIN_POSITIVE)),
        }
    }
}

impl Lefts {
    /// A body, and its table beside those that are there.
    pub fn cooler(&mut self, body: &Body) -> Cooler {
        let (k, n) = match body.strength() {
            Ok(strength) => strength,
            Err(heat_w) => return Cooler::Fixed(heat_w),
        };
        let known = self.0.iter().position(|l| l.body.same_form(body));
        let at = known.unwrap_or_else(|| {
            let count = ((TO - FROM) / STEP) as usize + 1;
            let by = (0..count).map(|i| body.left(FROM + STEP * i as f64));
            self.0.push(Left {
                body: *body,
                by: by.collect(),
            });
            self.0.len() - 1
        });
        Cooler::ByExcess(maths::ln(k), n - 1.0, at)
    }

    /// How far water cools in a body, K; its capacity in W/K and that one's logarithm.
    pub fn drop_k(&self, cooler: Cooler, inlet: Inlet, (w_k, ln_w_k): (f64, f64)) -> f64 {
        match cooler {
            Cooler::Fixed(heat_w) => heat_w / w_k,
            Cooler::ByExcess(..) if inlet.excess_k <= 0.0 => 0.0,
            Cooler::ByExcess(ln_k, less, at) => {
                let x = ln_k + less * inlet.ln_excess - ln_w_k;
                inlet.excess_k * (1.0 - self.0[at].at(x))
            }
        }
    }
}

impl Left {
    /// By cubics through four rows (Lagrange).
    fn at(&self, x: f64) -> f64 {
        if x < FROM + STEP {
            // hardly any, and as good as proportional
            return 1.0 - maths::exp(x);
        }
        let at = (x - FROM) / STEP;
        let row = at as usize;
        let Some([a, b, c, d]) = self.by.get(row - 1..row + 3) else {
            return self.body.left(x);
        };
        let t = at - row as f64;
        let (before, after) = (t + 1.0, t - 2.0);
        let inner = before * after / 2.0;
        inner * ((t - 1.0) * b - t * c) + t * (t - 1.0) / 6.0 * (before * d - after * a)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::hydraulics::heat::emitter;
    use crate::network::HeatLaw;
    use crate::survey::Mean;

    /// What is looked up is what is solved, far outside the table too.
    #[test]
    fn the_table_says_what_the_law_says() {
        let mut lefts = Lefts::default();
        let rated = |output_w, exponent, mean| HeatLaw::Rated {
            output_w,
            base_k: 49.83,
            exponent,
            mean,
        };
        let floor = HeatLaw::Floor {
            w_per_k: 80.0,
            mean: Mean::Logarithmic,
            area_m2: None,
            surface_limit_c: 29.0,
        };
        let laws = [
            rated(900.0, 1.3, Mean::Logarithmic),
            rated(2500.0, 1.3, Mean::Logarithmic),
            rated(1200.0, 1.36, Mean::Logarithmic),
            rated(1200.0, 1.3, Mean::Arithmetic),
            rated(700.0, 1.0, Mean::Arithmetic),
            floor,
            HeatLaw::Fixed(400.0),
        ];
        for law in &laws {
            let cooler = lefts.cooler(&Body::new(law));
            for (in_c, w_k) in [55.0, 41.3, 25.0, 20.5, 19.0]
                .into_iter()
                .flat_map(|c| [0.05, 3.0, 37.0, 120.0, 900.0, 3e6].map(move |w| (c, w)))
            {
                let solved = in_c - emitter(law, in_c, w_k, 20.0).out_c;
                let inlet = Inlet::new(in_c, 20.0);
                let read = lefts.drop_k(cooler, inlet, (w_k, maths::ln(w_k)));
                assert!(
                    (read - solved).abs() < 2e-7 * solved.abs() + 1e-9,
                    "{law:?} {in_c} {w_k}: {read} {solved}"
                );
            }
        }
        // those of one exponent and mean share a table
        assert_eq!(lefts.0.len(), 5);
    }
}
