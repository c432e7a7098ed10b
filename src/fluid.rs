//! Density, heat capacity and viscosity of water and of glycol mixtures at a temperature.
//!
//! Water is IAPWS-IF97 (IAPWS R7-97 and R12-08, through `seuif97`; heat capacity brought up to IAPWS-95) at 1.5 bar absolute, tabulated once at every kelvin
//! and read between by a cubic: a solve asks for thousands of values. Glycol is our own polynomial in concentration and
//! temperature.

use crate::maths;
use std::sync::OnceLock;

/// Properties of a liquid at one temperature.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Properties {
    /// Density, kg/m³.
    pub rho_kg_m3: f64,
    /// Dynamic viscosity, Pa s.
    pub mu_pa_s: f64,
    /// Heat capacity, J/(kg K).
    pub cp_j_kgk: f64,
}

/// What flows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Liquid {
    /// Water.
    Water,
    /// Propylene glycol in water, percent by volume of pure glycol (over the sum of the unmixed volumes at 20 °C).
    Propylene(f64),
    /// Ethylene glycol in water, percent by volume of pure glycol.
    Ethylene(f64),
    /// The same at every temperature.
    Constant(Properties),
}

/// A temperature or concentration outside the range in which the properties are known.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum OutOfRange {
    /// °C asked for, and the range.
    #[error(
        "{asked_c:.1} °C lies outside {least_c:.0} to {greatest_c:.0} °C, where the properties of the liquid are known"
    )]
    Temperature {
        /// Asked for, °C.
        asked_c: f64,
        /// Least known, °C.
        least_c: f64,
        /// Greatest known, °C.
        greatest_c: f64,
    },
    /// Percent asked for.
    #[error("{asked:.0} % glycol: properties are known for 0 to {greatest:.0} %")]
    Concentration {
        /// Asked for, percent by volume.
        asked: f64,
        /// Greatest known, percent by volume.
        greatest: f64,
    },
}

/// Highest temperature of water here, °C: below boiling at 1.5 bar absolute (111 °C).
const WATER_GREATEST_C: f64 = 105.0;
/// Highest temperature of the glycol tables, °C (their last row is 80 °C; ten more by extrapolation).
const GLYCOL_GREATEST_C: f64 = 90.0;
/// Highest concentration of the glycol tables, percent by volume.
const GLYCOL_GREATEST_PERCENT: f64 = 50.0;

impl Liquid {
    /// Properties at `t_c` °C.
    ///
    /// # Errors
    /// Outside the range in which they are known: liquid water from 0 to 105 °C; glycol to 50 % by volume, from its
    /// freezing point to 90 °C.
    pub fn at(&self, t_c: f64) -> Result<Properties, OutOfRange> {
        match *self {
            Liquid::Constant(properties) => Ok(properties),
            Liquid::Water => water(t_c),
            Liquid::Propylene(percent) => glycol(&PROPYLENE, percent, t_c),
            Liquid::Ethylene(percent) => glycol(&ETHYLENE, percent, t_c),
        }
    }

    /// Specific enthalpy at `t_c` °C, J/kg above that at 0 °C: the integral of heat capacity. Beyond the known range the
    /// heat capacity at its end goes on, so that a search may pass there.
    pub fn enthalpy_j_kg(&self, t_c: f64) -> f64 {
        self.heat(t_c).0
    }

    /// Temperature, °C, at which the liquid has an enthalpy in J/kg: Newton from `near_c`.
    pub fn temperature_c(&self, enthalpy_j_kg: f64, near_c: f64) -> f64 {
        self.at_enthalpy(enthalpy_j_kg, near_c).0
    }

    /// The same with the heat capacity, J/(kg K), to 1e-5 K of there.
    pub(crate) fn at_enthalpy(&self, enthalpy_j_kg: f64, near_c: f64) -> (f64, f64) {
        let (mut t_c, mut slope) = (near_c, 1.0);
        for _ in 0..20 {
            let (h, cp) = self.heat(t_c);
            let step = (enthalpy_j_kg - h) / cp;
            (t_c, slope) = (t_c + step, cp);
            // heat capacity changes by less than 1e-3 a kelvin: a step s leaves 1e-3·s²
            if step.abs() <= 1e-6 {
                break;
            }
        }
        (t_c, slope)
    }

    /// Mean heat capacity between two temperatures, J/(kg K): what the enthalpy changes, per kelvin.
    pub fn mean_cp_j_kgk(&self, a_c: f64, b_c: f64) -> f64 {
        if let Liquid::Constant(properties) = self {
            return properties.cp_j_kgk;
        }
        // of nearby temperatures the quotient loses digits that the middle does not
        if (a_c - b_c).abs() < 0.01 {
            return self.heat(0.5 * (a_c + b_c)).1;
        }
        (self.enthalpy_j_kg(a_c) - self.enthalpy_j_kg(b_c)) / (a_c - b_c)
    }

    /// Enthalpy, J/kg, and its slope, the heat capacity.
    pub(crate) fn heat(&self, t_c: f64) -> (f64, f64) {
        match *self {
            Liquid::Constant(p) => (p.cp_j_kgk * t_c, p.cp_j_kgk),
            Liquid::Water => water_heat(t_c),
            Liquid::Propylene(percent) => glycol_heat(&PROPYLENE, percent, t_c),
            Liquid::Ethylene(percent) => glycol_heat(&ETHYLENE, percent, t_c),
        }
    }

    /// Whether the properties are the same at every temperature.
    pub fn is_constant(&self) -> bool {
        matches!(self, Liquid::Constant(_))
    }
}

/// Water between two whole kelvins: each property as a cubic in the distance from the lower, and the enthalpy there.
struct Piece {
    rho: [f64; 4],
    mu: [f64; 4],
    cp: [f64; 4],
    enthalpy_j_kg: f64,
}

/// One piece for each kelvin from 0 to 105 °C.
fn water_table() -> &'static [Piece] {
    static TABLE: OnceLock<Vec<Piece>> = OnceLock::new();
    TABLE.get_or_init(|| {
        let known = |t: f64| {
            // IF97's region 1 reaches down to 273.15 K exactly
            let of = |id: i32| round_digits(seuif97::pt(0.15, t.max(0.0), id));
            [
                of(seuif97::OD),
                of(seuif97::ODV),
                of(seuif97::OCP) * 1000.0 + cp_difference(t),
            ]
        };
        let mut rows: Vec<[f64; 3]> = (0..=107).map(|t| known(f64::from(t))).collect();
        // extrapolated, so that the first cubic has a neighbour below
        let before = [0, 1, 2].map(|k| 3.0 * rows[0][k] - 3.0 * rows[1][k] + rows[2][k]);
        rows.insert(0, before);
        let mut enthalpy_j_kg = 0.0;
        let pieces = rows.windows(4).map(|row| {
            let cubic = |k: usize| cubic([row[0][k], row[1][k], row[2][k], row[3][k]]);
            let piece = Piece {
                rho: cubic(0),
                mu: cubic(1),
                cp: cubic(2),
                enthalpy_j_kg,
            };
            enthalpy_j_kg += integral(&piece.cp, 1.0);
            piece
        });
        pieces.collect()
    })
}

/// Coefficients, lowest first, of the cubic through values at −1, 0, 1 and 2 (Lagrange); between 0 and 1 its error is below
/// 1e-7 of the value.
fn cubic([a, b, c, d]: [f64; 4]) -> [f64; 4] {
    [
        b,
        -a / 3.0 - b / 2.0 + c - d / 6.0,
        (a + c) / 2.0 - b,
        (b - c) / 2.0 + (d - a) / 6.0,
    ]
}

fn horner(c: &[f64], x: f64) -> f64 {
    c.iter().rev().fold(0.0, |sum, c| sum * x + c)
}

/// A cubic at x, written out: it is asked for in every round of every state.
#[inline]
fn at(c: &[f64; 4], x: f64) -> f64 {
    c[0] + x * (c[1] + x * (c[2] + x * c[3]))
}

/// Integral of a cubic from 0 to x.
fn integral(c: &[f64; 4], x: f64) -> f64 {
    x * (c[0] + x * (c[1] / 2.0 + x * (c[2] / 3.0 + x * (c[3] / 4.0))))
}

/// Heat capacity of IAPWS-95 (IAPWS R6-95) less that of the industrial formulation at 1.5 bar, J/(kg K), every 5 K from
/// 0 to 90 °C, as an open property library computes both; the industrial one is off by up to 0.052 %.
const CP_DIFFERENCE: [f64; 19] = [
    0.016, 0.091, -0.288, -0.634, -0.744, -0.582, -0.201, 0.311, 0.862, 1.374, 1.789, 2.067, 2.190,
    2.155, 1.973, 1.658, 1.238, 0.737, 0.184,
];

/// Straight between the entries; none above 90 °C.
fn cp_difference(t_c: f64) -> f64 {
    let x = t_c.max(0.0) / 5.0;
    let at = |k: usize| CP_DIFFERENCE.get(k).copied().unwrap_or(0.0);
    let k = x as usize;
    at(k) + (at(k + 1) - at(k)) * (x - k as f64)
}

/// Ten significant digits: the formulation is given to fewer, and a maths library's last bit cannot show through.
fn round_digits(x: f64) -> f64 {
    format!("{x:.9e}").parse().unwrap_or(x)
}

fn water(t_c: f64) -> Result<Properties, OutOfRange> {
    if !(0.0..=WATER_GREATEST_C).contains(&t_c) {
        return Err(OutOfRange::Temperature {
            asked_c: t_c,
            least_c: 0.0,
            greatest_c: WATER_GREATEST_C,
        });
    }
    let below = t_c as usize;
    let (piece, x) = (&water_table()[below], t_c - below as f64);
    Ok(Properties {
        rho_kg_m3: at(&piece.rho, x),
        mu_pa_s: at(&piece.mu, x),
        cp_j_kgk: at(&piece.cp, x),
    })
}

/// Enthalpy, J/kg, and heat capacity, J/(kg K).
fn water_heat(t_c: f64) -> (f64, f64) {
    let known_c = t_c.clamp(0.0, WATER_GREATEST_C);
    let below = known_c as usize;
    let (piece, x) = (&water_table()[below], known_c - below as f64);
    let cp = at(&piece.cp, x);
    let beyond = cp * (t_c - known_c);
    (piece.enthalpy_j_kg + integral(&piece.cp, x) + beyond, cp)
}

/// Coefficients of one glycol: `c[i][j]·(x − 0.3)^i·((t − 40)/40)^j` with x the volume fraction and t in °C, a least-squares
/// fit of ours to property tables after Å. Melinder (IIR 2010, as computed by an open property library) between 10 and
/// 50 % and freezing point and 80 °C. Largest deviation from them: density 0.08 %, heat capacity 0.18 %, viscosity 1.8 %;
/// published fits differ from one another by more (heat capacity 4 %, viscosity 7 %).
struct Glycol {
    rho: [[f64; 3]; 3],
    cp: [[f64; 3]; 3],
    ln_mu: [[f64; 4]; 3],
    /// Percent by volume and freezing point, °C, of the same tables.
    freezing: [(f64, f64); 7],
}

const PROPYLENE: Glycol = Glycol {
    rho: [
        [1013.93, -22.3827, -3.88629],
        [66.6376, -31.5659, 6.46963],
        [-27.7109, 6.60842, -11.7362],
    ],
    cp: [
        [3899.62, 107.353, -1.83048],
        [-1273.28, 248.267, -17.9842],
        [-1373.75, -63.5294, 126.501],
    ],
    ln_mu: [
        [-6.43241, -1.07113, 0.356803, -0.101679],
        [3.04029, -1.24818, 0.554893, -0.139199],
        [0.449066, -0.426095, -0.370587, 0.503146],
    ],
    freezing: [
        (0.0, 0.0),
        (10.0, -2.99),
        (20.0, -7.47),
        (25.0, -10.18),
        (30.0, -13.31),
        (40.0, -21.42),
        (50.0, -33.55),
    ],
};

const ETHYLENE: Glycol = Glycol {
    rho: [
        [1031.7, -20.893, -4.07215],
        [128.427, -23.1296, 6.51608],
        [-12.8737, 23.4202, -10.2201],
    ],
    cp: [
        [3737.03, 119.522, -9.826],
        [-1738.81, 403.486, -74.2264],
        [-828.114, -1.08242, 132.89],
    ],
    ln_mu: [
        [-6.60062, -0.915202, 0.256573, -0.0493552],
        [2.52315, -0.406956, 0.127985, -0.113414],
        [0.00431287, 0.627545, -0.0964731, -0.521193],
    ],
    freezing: [
        (0.0, 0.0),
        (10.0, -3.76),
        (20.0, -8.97),
        (25.0, -12.4),
        (30.0, -16.48),
        (40.0, -26.73),
        (50.0, -39.83),
    ],
};

impl Glycol {
    fn freezing_c(&self, percent: f64) -> f64 {
        let piece = self.freezing.windows(2).find(|w| percent <= w[1].0);
        piece.map_or(self.freezing[6].1, |w| {
            w[0].1 + (w[1].1 - w[0].1) * (percent - w[0].0) / (w[1].0 - w[0].0)
        })
    }

    fn fit(&self, percent: f64, t_c: f64) -> Properties {
        let (x, t) = (percent / 100.0 - 0.3, (t_c - 40.0) / 40.0);
        let quadratic = |c: &[[f64; 3]; 3]| horner(&c.map(|row| horner(&row, t)), x);
        Properties {
            rho_kg_m3: quadratic(&self.rho),
            cp_j_kgk: quadratic(&self.cp),
            mu_pa_s: maths::exp(horner(&self.ln_mu.map(|row| horner(&row, t)), x)),
        }
    }

    /// Enthalpy, J/kg, and heat capacity, J/(kg K), from the same polynomial.
    fn heat(&self, percent: f64, t_c: f64) -> (f64, f64) {
        let x = percent / 100.0 - 0.3;
        let [a, b, c] = [0, 1, 2].map(|j| horner(&self.cp.map(|row| row[j]), x));
        let known_c = t_c.clamp(self.freezing_c(percent), GLYCOL_GREATEST_C);
        let at = |t_c: f64| {
            let t = (t_c - 40.0) / 40.0;
            40.0 * t * (a + t * (b / 2.0 + t * c / 3.0))
        };
        let t = (known_c - 40.0) / 40.0;
        let cp = a + t * (b + t * c);
        (at(known_c) - at(0.0) + cp * (t_c - known_c), cp)
    }
}

/// Below the tables' first column between water and that, as heat capacity is.
fn glycol_heat(mixture: &Glycol, percent: f64, t_c: f64) -> (f64, f64) {
    let percent = percent.clamp(0.0, GLYCOL_GREATEST_PERCENT);
    if percent >= 10.0 {
        return mixture.heat(percent, t_c);
    }
    let (water, ten) = (water_heat(t_c), mixture.heat(10.0, t_c));
    let between = |a: f64, b: f64| a + (b - a) * (percent / 10.0);
    (between(water.0, ten.0), between(water.1, ten.1))
}

fn glycol(mixture: &Glycol, percent: f64, t_c: f64) -> Result<Properties, OutOfRange> {
    if !(0.0..=GLYCOL_GREATEST_PERCENT).contains(&percent) {
        return Err(OutOfRange::Concentration {
            asked: percent,
            greatest: GLYCOL_GREATEST_PERCENT,
        });
    }
    let least_c = mixture.freezing_c(percent);
    if !(least_c..=GLYCOL_GREATEST_C).contains(&t_c) {
        return Err(OutOfRange::Temperature {
            asked_c: t_c,
            least_c,
            greatest_c: GLYCOL_GREATEST_C,
        });
    }
    if percent >= 10.0 {
        return Ok(mixture.fit(percent, t_c));
    }
    // below the tables' first column: between water and 10 %; under 0 °C water's own values end
    let (water, ten) = (water(t_c.max(0.0))?, mixture.fit(10.0, t_c));
    let x = percent / 10.0;
    let between = |a: f64, b: f64| a + (b - a) * x;
    Ok(Properties {
        rho_kg_m3: between(water.rho_kg_m3, ten.rho_kg_m3),
        cp_j_kgk: between(water.cp_j_kgk, ten.cp_j_kgk),
        mu_pa_s: maths::exp(between(maths::ln(water.mu_pa_s), maths::ln(ten.mu_pa_s))),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const LIQUIDS: [Liquid; 5] = [
        Liquid::Water,
        Liquid::Propylene(25.0),
        Liquid::Ethylene(40.0),
        Liquid::Propylene(5.0),
        Liquid::Constant(Properties {
            rho_kg_m3: 990.0,
            mu_pa_s: 6e-4,
            cp_j_kgk: 4179.0,
        }),
    ];

    /// Enthalpy is the integral of heat capacity, by Simpson's rule on small steps, and its inverse finds back.
    #[test]
    fn enthalpy_is_the_integral_of_heat_capacity_and_has_an_inverse() {
        for liquid in LIQUIDS {
            let cp = |t: f64| liquid.at(t).expect("known").cp_j_kgk;
            let mut sum = liquid.enthalpy_j_kg(5.0);
            for k in 0..800 {
                let t = 5.0 + 0.1 * f64::from(k);
                sum += 0.1 * (cp(t) + 4.0 * cp(t + 0.05) + cp(t + 0.1)) / 6.0;
                let h = liquid.enthalpy_j_kg(t + 0.1);
                assert!((h - sum).abs() < 1e-9 * h, "{liquid:?} at {t}: {h} {sum}");
                let back = liquid.temperature_c(h, 45.0);
                assert!((back - t - 0.1).abs() < 1e-11, "{liquid:?} at {t}: {back}");
            }
            let mean = liquid.mean_cp_j_kgk(55.0, 45.0) * 10.0;
            let rise = liquid.enthalpy_j_kg(55.0) - liquid.enthalpy_j_kg(45.0);
            assert!((mean - rise).abs() < 1e-12 * rise);
            // about one middle (not one where the heat capacity has a kink), on either side of where the quotient takes over
            let near = liquid.mean_cp_j_kgk(52.3049, 52.2951);
            let far = liquid.mean_cp_j_kgk(52.3051, 52.2949);
            assert!((near - far).abs() < 1e-6, "{near} {far}");
        }
    }

    /// Beyond the known range the enthalpy goes on straight, so that no search meets a jump.
    #[test]
    fn enthalpy_goes_on_beyond_the_known_range() {
        for liquid in LIQUIDS {
            let mut before = liquid.enthalpy_j_kg(-60.0);
            for k in -119..400 {
                let h = liquid.enthalpy_j_kg(0.5 * f64::from(k));
                assert!(
                    h - before > 1500.0 && h - before < 2300.0,
                    "{liquid:?} at {k}/2"
                );
                before = h;
            }
        }
    }

    /// The formulation has an enthalpy of its own (IAPWS R7-97, eq. 7 with table 3): it agrees to what our heat capacity,
    /// brought up to IAPWS-95, adds to it.
    #[test]
    fn enthalpy_of_water_agrees_with_the_formulations_own() {
        let of = |t: f64| 1000.0 * seuif97::pt(0.15, t, seuif97::OH);
        for k in 1..=18 {
            let t = 5.0 * f64::from(k);
            let trapezium = |k: usize| 2.5 * (CP_DIFFERENCE[k] + CP_DIFFERENCE[k + 1]);
            let added: f64 = (0..k as usize).map(trapezium).sum();
            let (ours, theirs) = (Liquid::Water.enthalpy_j_kg(t), of(t) - of(0.0) + added);
            assert!(
                (ours - theirs).abs() < 2e-6 * theirs,
                "{t}: {ours} {theirs}"
            );
        }
    }
}
