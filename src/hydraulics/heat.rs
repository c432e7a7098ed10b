//! Heat from emitters, floors and pipes at a flow: outlet temperature from inlet temperature.

use crate::maths;
use crate::network::HeatLaw;
use crate::survey::Mean;

/// An outlet temperature, °C, and how much it rises per kelvin of inlet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Outlet {
    /// °C.
    pub out_c: f64,
    /// Dimensionless.
    pub slope: f64,
}

/// Excess of water over room, K, by the mean asked for, from inlet, outlet and room temperature in °C.
/// Zero where the water is not warmer than the room.
pub fn excess(in_c: f64, out_c: f64, room_c: f64, mean: Mean) -> f64 {
    let (a, b) = (in_c - room_c, out_c - room_c);
    match mean {
        Mean::Arithmetic => (0.5 * (a + b)).max(0.0),
        Mean::Logarithmic if a <= 0.0 || b <= 0.0 => 0.0,
        Mean::Logarithmic => {
            let x = (a - b) / b;
            // near a = b the quotient loses digits; its series does not
            if x.abs() < 1e-5 {
                0.5 * (a + b) - (a - b) * (a - b) / (6.0 * (a + b))
            } else {
                (a - b) / maths::ln_1p(x)
            }
        }
    }
}

/// Heat of a rated emitter or floor, W, from its mean excess in K; a fixed heat as it stands.
pub fn output_w(law: &HeatLaw, excess_k: f64) -> f64 {
    match *law {
        HeatLaw::Rated {
            output_w,
            base_k,
            exponent,
            ..
        } => output_w * maths::pow(excess_k.max(0.0) / base_k, exponent),
        HeatLaw::Floor { w_per_k, .. } => w_per_k * excess_k.max(0.0),
        HeatLaw::Fixed(heat_w) => heat_w,
    }
}

/// What a solve of an emitter leaves for the next one of the same: its unknown, and the logarithm of the excess at its
/// inlet.
#[derive(Clone, Copy, Debug)]
pub struct Begun {
    z: f64,
    excess_k: f64,
    ln_excess: f64,
}

impl Begun {
    /// Nothing is left from before.
    pub const NOTHING: Self = Self {
        z: f64::NAN,
        excess_k: f64::NAN,
        ln_excess: f64::NAN,
    };

    /// A start of the search; not a number is none.
    pub fn at(z: f64) -> Self {
        Self { z, ..Self::NOTHING }
    }

    /// What the search would start from.
    pub fn start(&self) -> f64 {
        self.z
    }
}

/// What gives heat, brought into the form of its equation: heat = k·(mean excess)ⁿ, or a fixed heat.
#[derive(Clone, Copy, Debug)]
pub struct Body {
    k: f64,
    n: f64,
    mean: Mean,
    fixed_w: Option<f64>,
}

impl Body {
    /// From its law: EN 442-2 characteristic equation for radiators, W/K for floors.
    pub fn new(law: &HeatLaw) -> Self {
        let (k, n, mean, fixed_w) = match *law {
            HeatLaw::Fixed(heat_w) => (0.0, 1.0, Mean::Arithmetic, Some(heat_w)),
            HeatLaw::Rated {
                output_w,
                base_k,
                exponent,
                mean,
            } => (
                output_w / maths::pow(base_k, exponent),
                exponent,
                mean,
                None,
            ),
            HeatLaw::Floor { w_per_k, mean, .. } => (w_per_k, 1.0, mean, None),
        };
        Self {
            k,
            n,
            mean,
            fixed_w,
        }
    }

    /// k and n of its equation; an error with its heat, W, where that is fixed.
    ///
    /// # Errors
    /// A fixed heat.
    pub fn strength(&self) -> Result<(f64, f64), f64> {
        self.fixed_w.map_or(Ok((self.k, self.n)), Err)
    }

    /// Whether what water keeps in both follows the same [`Self::left`].
    pub fn same_form(&self, other: &Self) -> bool {
        let fixed = self.fixed_w.is_some() || other.fixed_w.is_some();
        !fixed && self.n == other.n && self.mean == other.mean
    }

    /// Share of its excess over the room that water keeps, by x = ln(k·aⁿ⁻¹/capacity) with the excess a at the inlet: the
    /// balance of [`Self::outlet`] in the share b/a.
    pub fn left(&self, x: f64) -> f64 {
        match self.mean {
            Mean::Logarithmic => logarithmic(x / self.n, self.n, &mut { f64::NAN }).0,
            Mean::Arithmetic => arithmetic(maths::exp(x), self.n, 1.0, 1.0, 0.0).out_c,
        }
    }

    /// Outlet of water fed with `capacity` W/K (mass flow times heat capacity) at `in_c`, in a room at `room_c`, from
    /// capacity·(t_in − t_out) = output(excess). An emitter that is not warmer than its room gives nothing and takes
    /// nothing. `begun` keeps what a next time can use.
    pub fn outlet(&self, in_c: f64, capacity: f64, room_c: f64, begun: &mut Begun) -> Outlet {
        if let Some(heat_w) = self.fixed_w {
            return Outlet {
                out_c: in_c - heat_w / capacity,
                slope: 1.0,
            };
        }
        let a = in_c - room_c;
        if a <= 0.0 || self.k <= 0.0 {
            return Outlet {
                out_c: in_c,
                slope: 1.0,
            };
        }
        match self.mean {
            Mean::Logarithmic => {
                if begun.excess_k != a {
                    (begun.excess_k, begun.ln_excess) = (a, maths::ln(a));
                }
                let ln_c =
                    (maths::ln(self.k / capacity) + (self.n - 1.0) * begun.ln_excess) / self.n;
                let (left, slope) = logarithmic(ln_c, self.n, &mut begun.z);
                Outlet {
                    out_c: room_c + a * left,
                    slope,
                }
            }
            Mean::Arithmetic => arithmetic(self.k, self.n, a, capacity, room_c),
        }
    }
}

/// Outlet of an emitter: [`Body::outlet`] for one time.
pub fn emitter(law: &HeatLaw, in_c: f64, capacity: f64, room_c: f64) -> Outlet {
    Body::new(law).outlet(in_c, capacity, room_c, &mut { Begun::NOTHING })
}

/// With y = ln(a/b), a and b the excesses at inlet and outlet, the balance becomes
/// y = c·(1 − e^−y)^γ, γ = (n − 1)/n, c = (k/capacity·a^(n − 1))^(1/n): Newton in z = ln y, whose slope stays within 1/n…1.
/// Returns b/a and how much b rises with a.
fn logarithmic(ln_c: f64, n: f64, z: &mut f64) -> (f64, f64) {
    let gamma = (n - 1.0) / n;
    if z.is_nan() {
        *z = ln_c.min(n * ln_c);
    }
    let (mut steepness, mut y, mut left) = (1.0, 0.0, 1.0);
    for _ in 0..40 {
        y = maths::exp(*z);
        let e = -maths::exp_m1(-y);
        left = 1.0 - e;
        steepness = 1.0 - gamma * y * left / e.max(f64::MIN_POSITIVE);
        let step = (*z - ln_c - gamma * maths::ln(e.max(f64::MIN_POSITIVE))) / steepness;
        *z -= step;
        // quadratic convergence: after a step of 1e-8 the error is below 1e-16, and so is that of going on straight
        if step.abs() < 1e-8 {
            left += left * y * step;
            y -= y * step;
            break;
        }
    }
    (left, left * (1.0 - y * gamma / steepness))
}

/// In the mean excess M: k·Mⁿ + 2·capacity·M = 2·capacity·a, convex for n ≥ 1, so Newton from M = a falls on the root.
fn arithmetic(k: f64, n: f64, a: f64, capacity: f64, room_c: f64) -> Outlet {
    let (mut low, mut high, mut m) = (0.0, a, a);
    let mut slope = 2.0 * capacity;
    for _ in 0..200 {
        let power = if n == 1.0 {
            1.0
        } else {
            maths::pow(m, n - 1.0)
        };
        let residual = k * power * m + 2.0 * capacity * (m - a);
        slope = k * n * power + 2.0 * capacity;
        if residual > 0.0 {
            high = m
        } else {
            low = m
        }
        let newton = m - residual / slope;
        let next = if newton > low && newton < high {
            newton
        } else {
            0.5 * (low + high)
        };
        let step = next - m;
        m = next;
        if step.abs() <= 4.0 * f64::EPSILON * a {
            break;
        }
    }
    Outlet {
        out_c: room_c + 2.0 * m - a,
        slope: 4.0 * capacity / slope - 1.0,
    }
}

/// Outlet of a pipe that loses `u_w_mk` W/(m K) over `length_m` to surroundings at `ambient_c`:
/// t_out = t_a + (t_in − t_a)·exp(−u·L/capacity).
pub fn pipe(in_c: f64, capacity: f64, u_w_mk: f64, length_m: f64, ambient_c: f64) -> Outlet {
    let left = maths::exp(-u_w_mk * length_m / capacity);
    Outlet {
        out_c: ambient_c + (in_c - ambient_c) * left,
        slope: left,
    }
}

/// Effectiveness of a counterflow exchanger of `ua_w_k` between two capacity flows in W/K, on the smaller of them
/// (W. M. Kays and A. L. London, Compact Heat Exchangers, 1964).
pub fn counterflow_effectiveness(ua_w_k: f64, near: f64, far: f64) -> f64 {
    let (least, greatest) = (near.min(far), near.max(far));
    if least <= 0.0 {
        return 0.0;
    }
    let (ntu, ratio) = (ua_w_k / least, least / greatest);
    let slack = 1.0 - ratio;
    if slack * ntu < 1e-6 {
        return ntu / (1.0 + ntu);
    }
    let e = maths::exp(-ntu * slack);
    (1.0 - e) / (1.0 - ratio * e)
}

/// Heat from a heated floor, W/m², whose surface is `excess_k` warmer than the room on average: 8.92·Δθ^1.1
/// (EN 1264-2, basic characteristic curve, for any heated floor).
pub fn floor_surface_w_m2(excess_k: f64) -> f64 {
    8.92 * maths::pow(excess_k.max(0.0), 1.1)
}

/// The excess of a floor's surface over the room, K, that gives `heat_w_m2`: the inverse of [`floor_surface_w_m2`].
pub fn floor_surface_excess_k(heat_w_m2: f64) -> f64 {
    maths::pow(heat_w_m2.max(0.0) / 8.92, 1.0 / 1.1)
}

/// Heat passed by a cylinder's coil, W/(m² K) of coil surface between the water in it and the store. Common practice for
/// finned and plain tube coils with a heat pump's flow, no source; used only where the file gives a coil's surface.
pub const COIL_W_M2K: f64 = 600.0;

/// Conductance in W/K and store in °C of a coil of which only the drop at a flow temperature is known: one that passes
/// half of what it could (effectiveness 1 − e^−NTU = ½ at the design flow, so NTU = ln 2), to a store at twice the drop
/// below the flow; common practice, no source. The design flow carries `output_w` at the drop; without an output 10 kW is
/// taken (our own assumption).
pub fn coil_by_drop(flow_c: f64, drop_k: f64, output_w: Option<f64>) -> (f64, f64) {
    let capacity = output_w.unwrap_or(10_000.0) / drop_k;
    (std::f64::consts::LN_2 * capacity, flow_c - 2.0 * drop_k)
}
