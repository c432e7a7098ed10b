//! The law of each class: everything in series at one flow, added up where it adds up, as plain arrays.
//!
//! A class loses constant + quadratic·m|m| + friction of pipes (those of one bore and temperature merged) + powers + what
//! its pumps do. Friction carries x = 1/√f from one evaluation to the next and improves it by one third-order step each,
//! which is exact where the flow no longer moves.

use super::Setting;
use super::classes::{Classes, NONE};
use super::edge::controlled_head;
use crate::fluid::Properties;
use crate::hydraulics::friction::{self, Blend, LAMINAR_TO, TURBULENT_FROM};
use crate::hydraulics::local::M3_H;
use crate::hydraulics::pump;
use crate::maths;
use crate::network::{ElementId, Law, Network, PartLaw, PumpControl, PumpCurve};

/// Friction of the merged pipes of one bore in a class.
#[derive(Clone, Debug)]
struct Pipe {
    /// Element whose properties count.
    element: u32,
    length_m: f64,
    bore_m: f64,
    area_m2: f64,
    /// Relative roughness over 3.7.
    a: f64,
    blend: Blend,
    /// Re per kg/s at a viscosity of 1 Pa s, and 64 over that.
    re_mu: f64,
    laminar_re: f64,
    /// Re per kg/s.
    re: f64,
    /// Pa per (kg/s)² at f = 1.
    k: f64,
    /// Slope of laminar flow, Pa s/kg.
    laminar: f64,
    /// Start of x, and x as it stands.
    x_start: f64,
    x: f64,
}

/// Local losses of an element: ζ and kv, all ∝ m²/ρ.
#[derive(Clone, Debug)]
struct Square {
    class: u32,
    element: u32,
    /// Pa kg/m³ per (kg/s)².
    over_rho: f64,
}

/// A loss with an exponent other than 2.
#[derive(Clone, Debug)]
struct Power {
    element: u32,
    dp_ref_pa: f64,
    q_ref_m3h: f64,
    exponent: f64,
    /// Pa at 1 kg/s.
    k: f64,
}

/// A pump within a class.
#[derive(Clone, Debug)]
pub(super) struct Pump {
    pub pump: u32,
    pub element: u32,
    pub sign: f64,
    /// m³/h per kg/s.
    per_kg: f64,
}

/// Laws of all classes.
#[derive(Clone, Debug, Default)]
pub(super) struct Terms {
    pub constant: Vec<f64>,
    quadratic: Vec<f64>,
    pipes: Vec<Pipe>,
    pipe_first: Vec<u32>,
    powers: Vec<Power>,
    power_first: Vec<u32>,
    pumps: Vec<Pump>,
    pump_first: Vec<u32>,
    squares: Vec<Square>,
    /// Opening pressures of one-way elements by class, Pa in its direction.
    opening: Vec<(u32, f64)>,
    /// Usual flow of each class, kg/s.
    pub nominal: Vec<f64>,
    /// Largest pressure that anything adds at no flow, Pa: the scale of losses.
    pub head_pa: f64,
}

/// What a running pump may be told; a pump that stands is `None`.
#[derive(Clone, Debug, Default)]
pub(super) struct Running<'a> {
    pub curves: Vec<Option<(&'a PumpCurve, PumpControl)>>,
    /// A capped pump that others push beyond its cap stands for the time being.
    pub pushed: Vec<bool>,
}

impl<'a> Running<'a> {
    pub fn new(network: &'a Network, setting: &'a Setting) -> Self {
        let curves = network.pumps.iter().enumerate().map(|(p, info)| {
            let law = setting
                .law
                .get(&info.element)
                .unwrap_or(&network.element(info.element).law);
            let standing = setting.stopped[p]
                || matches!(setting.control[p], PumpControl::FixedSpeed(s) if s <= 0.0);
            match law {
                Law::Pump(curve) if !standing => Some((curve, setting.control[p])),
                _ => None,
            }
        });
        Self {
            curves: curves.collect(),
            pushed: vec![false; network.pumps.len()],
        }
    }

    /// Whether any control's head rises with flow.
    pub fn rises(&self) -> bool {
        self.curves
            .iter()
            .any(|c| matches!(c, Some((_, PumpControl::ProportionalHead { .. }))))
    }

    /// Pressure added and slope, Pa and Pa per m³/h.
    #[inline]
    pub fn head(&self, pump: usize, q_m3h: f64) -> (f64, f64) {
        match self.curves[pump] {
            Some((curve, control)) if !self.pushed[pump] => controlled_head(curve, control, q_m3h),
            _ => (0.0, 0.0),
        }
    }
}

impl Terms {
    /// Gathers the laws of a setting; figures that depend on temperature follow by [`Terms::refresh`].
    pub fn new(
        network: &Network,
        setting: &Setting,
        classes: &Classes,
        constant_fluid: bool,
    ) -> Self {
        let count = classes.count();
        let mut terms = Self {
            constant: vec![0.0; count],
            quadratic: vec![0.0; count],
            nominal: vec![f64::INFINITY; count],
            ..Self::default()
        };
        let mut pump_of = vec![NONE; network.graph.edge_count()];
        for (p, info) in network.pumps.iter().enumerate() {
            pump_of[info.element.index()] = p as u32;
        }
        for class in 0..count {
            terms.pipe_first.push(terms.pipes.len() as u32);
            terms.power_first.push(terms.powers.len() as u32);
            terms.pump_first.push(terms.pumps.len() as u32);
            let from = terms.pipes.len();
            for &element in classes.members(class) {
                let id = ElementId::new(element as usize);
                let law = setting.law.get(&id).unwrap_or(&network.element(id).law);
                let sign = classes.sign[element as usize];
                let square = |over_rho: f64| Square {
                    class: class as u32,
                    element,
                    over_rho,
                };
                match law {
                    Law::Parts(parts) => {
                        let mut sum = 0.0;
                        for part in parts {
                            match part.law {
                                PartLaw::Friction {
                                    length_m,
                                    bore_m,
                                    roughness_m,
                                } => {
                                    terms.add_pipe(
                                        from,
                                        element,
                                        (length_m, bore_m, roughness_m),
                                        constant_fluid,
                                    );
                                }
                                PartLaw::Zeta { zeta, bore_m } => {
                                    sum += zeta
                                        / (2.0
                                            * friction::area_m2(bore_m)
                                            * friction::area_m2(bore_m));
                                }
                                PartLaw::Kv { kv_m3h } => sum += kv_over_rho(kv_m3h),
                                PartLaw::Power {
                                    dp_ref_pa,
                                    q_ref_m3h,
                                    exponent: 2.0,
                                } => {
                                    let per_kg = M3_H / q_ref_m3h;
                                    // (Q/q_ref)² goes with 1/ρ²; one power of ρ more than the others
                                    terms.powers.push(Power {
                                        element,
                                        dp_ref_pa: dp_ref_pa * per_kg * per_kg,
                                        q_ref_m3h,
                                        exponent: 2.0,
                                        k: 0.0,
                                    });
                                }
                                PartLaw::Power {
                                    dp_ref_pa,
                                    q_ref_m3h,
                                    exponent,
                                } => {
                                    terms.powers.push(Power {
                                        element,
                                        dp_ref_pa,
                                        q_ref_m3h,
                                        exponent,
                                        k: 0.0,
                                    });
                                }
                            }
                        }
                        if sum != 0.0 {
                            terms.squares.push(square(sum));
                        }
                    }
                    Law::OneWay { kv_m3h, .. } | Law::HoldFlow { kv_m3h, .. } => {
                        terms.squares.push(square(kv_over_rho(*kv_m3h)));
                        if let Law::OneWay { opening_pa, .. } = law {
                            terms.opening.push((class as u32, sign * opening_pa));
                        }
                    }
                    Law::Pump(_) => {
                        let pump = pump_of[element as usize];
                        if pump != NONE {
                            terms.pumps.push(Pump {
                                pump,
                                element,
                                sign,
                                per_kg: 0.0,
                            });
                        }
                    }
                }
                let usual = usual_flow_m3_s(law);
                terms.nominal[class] = terms.nominal[class].min(usual);
            }
        }
        terms.pipe_first.push(terms.pipes.len() as u32);
        terms.power_first.push(terms.powers.len() as u32);
        terms.pump_first.push(terms.pumps.len() as u32);
        for flow in &mut terms.nominal {
            // density only matters for the first slope
            *flow = if flow.is_finite() && *flow > 0.0 {
                *flow * 1000.0
            } else {
                0.1
            };
        }
        terms
    }

    fn add_pipe(
        &mut self,
        from: usize,
        element: u32,
        (length_m, bore_m, roughness_m): (f64, f64, f64),
        merge: bool,
    ) {
        let a = roughness_m / bore_m / 3.7;
        let same =
            |p: &&mut Pipe| (merge || p.element == element) && p.bore_m == bore_m && p.a == a;
        if let Some(pipe) = self.pipes[from..].iter_mut().find(same) {
            pipe.length_m += length_m;
            return;
        }
        let blend = Blend::new(roughness_m / bore_m);
        let re_mu = 4.0 / (std::f64::consts::PI * bore_m);
        self.pipes.push(Pipe {
            element,
            length_m,
            bore_m,
            area_m2: friction::area_m2(bore_m),
            a,
            blend,
            re_mu,
            laminar_re: 64.0 / re_mu,
            re: 0.0,
            k: 0.0,
            laminar: 0.0,
            x_start: 0.0,
            x: 0.0,
        });
    }

    /// Takes fluid properties by element, and one-way elements' opening pressures.
    pub fn refresh(&mut self, running: &Running, at: &[Properties]) {
        self.quadratic.fill(0.0);
        self.constant.fill(0.0);
        for square in &self.squares {
            self.quadratic[square.class as usize] +=
                square.over_rho / at[square.element as usize].rho_kg_m3;
        }
        for pipe in &mut self.pipes {
            let Properties {
                rho_kg_m3: rho,
                mu_pa_s: mu,
                ..
            } = at[pipe.element as usize];
            let area = pipe.area_m2;
            pipe.re = pipe.re_mu / mu;
            pipe.k = pipe.length_m / (pipe.bore_m * 2.0 * rho * area * area);
            pipe.laminar = pipe.laminar_re * pipe.k * mu;
            if pipe.x_start == 0.0 {
                // a usual velocity; the step that follows forgives any
                let re = (0.4 * rho * area * pipe.re).max(2.0 * TURBULENT_FROM);
                pipe.x_start = 1.0 / friction::colebrook(re, pipe.a * 3.7).0.sqrt();
                pipe.x = pipe.x_start;
            }
        }
        for class in 0..self.constant.len() {
            for power in &mut self.powers
                [self.power_first[class] as usize..self.power_first[class + 1] as usize]
            {
                let rho = at[power.element as usize].rho_kg_m3;
                if power.exponent == 2.0 {
                    self.quadratic[class] += power.dp_ref_pa / (rho * rho);
                } else {
                    power.k = power.dp_ref_pa
                        * maths::pow(M3_H / (rho * power.q_ref_m3h), power.exponent);
                }
            }
        }
        for pump in &mut self.pumps {
            pump.per_kg = M3_H / at[pump.element as usize].rho_kg_m3;
        }
        self.head_pa = 0.0;
        for (curve, _) in running.curves.iter().flatten() {
            self.head_pa = self.head_pa.max(pump::head(curve, 1.0, 0.0).0.abs());
        }
        for &(class, opening_pa) in &self.opening {
            self.constant[class as usize] += opening_pa;
        }
    }

    /// Forgets what friction learnt, so that a solve does not depend on the one before.
    pub fn reset(&mut self) {
        for pipe in &mut self.pipes {
            pipe.x = pipe.x_start;
        }
    }

    /// x = 1/√f of each pipe as it stands.
    pub fn learnt(&self) -> impl Iterator<Item = f64> + '_ {
        self.pipes.iter().map(|p| p.x)
    }

    /// Takes x = 1/√f from another solve.
    pub fn learn(&mut self, x: &[f64]) {
        self.pipes.iter_mut().zip(x).for_each(|(p, x)| p.x = *x);
    }

    /// Whether anything but resistance acts in a class at no flow.
    pub fn drives(&self, class: usize, running: &Running) -> bool {
        self.constant[class] != 0.0
            || self
                .pumps_of(class)
                .iter()
                .any(|p| running.head(p.pump as usize, 0.0).0 != 0.0)
    }

    fn pumps_of(&self, class: usize) -> &[Pump] {
        &self.pumps[self.pump_first[class] as usize..self.pump_first[class + 1] as usize]
    }

    /// Loss, Pa, and slope, Pa s/kg, of a class at a flow in kg/s. A control whose head rises with flow counts in the loss
    /// alone, so that it never makes the slope negative.
    #[inline]
    pub fn loss(&mut self, class: usize, m: f64, running: &Running) -> (f64, f64) {
        self.evaluate::<true>(class, m, running)
    }

    /// The slope with what rises.
    pub fn slope(&mut self, class: usize, m: f64, running: &Running) -> f64 {
        self.evaluate::<false>(class, m, running).1
    }

    #[inline]
    fn evaluate<const RISING_COUNTS_AS_LEVEL: bool>(
        &mut self,
        class: usize,
        m: f64,
        running: &Running,
    ) -> (f64, f64) {
        let size = m.abs();
        let quadratic = self.quadratic[class];
        let (mut h, mut slope) = (
            self.constant[class] + quadratic * m * size,
            2.0 * quadratic * size,
        );
        let pipes = self.pipe_first[class] as usize..self.pipe_first[class + 1] as usize;
        for pipe in &mut self.pipes[pipes] {
            let re = pipe.re * size;
            if re <= LAMINAR_TO {
                h += pipe.laminar * m;
                slope += pipe.laminar;
            } else if re >= TURBULENT_FROM {
                let (x, u) = friction::improve(pipe.a, 2.51 / re, pipe.x);
                pipe.x = x;
                let kf = pipe.k / (x * x) * size;
                h += kf * m;
                slope += 2.0 * kf / (1.0 + u);
            } else {
                let (f, by_re) = pipe.blend.at(re);
                h += pipe.k * f * m * size;
                slope += pipe.k * size * (2.0 * f + re * by_re);
            }
        }
        for k in self.power_first[class] as usize..self.power_first[class + 1] as usize {
            let power = &self.powers[k];
            if power.exponent == 2.0 {
                continue;
            }
            if size > 0.0 {
                let loss = power.k * maths::pow(size, power.exponent);
                h += loss.copysign(m);
                slope += power.exponent * loss / size;
            } else if power.exponent == 1.0 {
                slope += power.k;
            }
        }
        for k in self.pump_first[class] as usize..self.pump_first[class + 1] as usize {
            let pump = &self.pumps[k];
            let (head, rise) = running.head(pump.pump as usize, pump.sign * m * pump.per_kg);
            h -= pump.sign * head;
            let falling = -rise * pump.per_kg;
            slope += if RISING_COUNTS_AS_LEVEL {
                falling.max(0.0)
            } else {
                falling
            };
        }
        (h, slope)
    }
}

/// kv's loss times density, Pa kg/m³ per (kg/s)².
fn kv_over_rho(kv_m3h: f64) -> f64 {
    let x = M3_H / kv_m3h;
    1e5 / 1000.0 * x * x
}

/// A usual flow through an element, m³/s: the scale of its first slope.
fn usual_flow_m3_s(law: &Law) -> f64 {
    match law {
        Law::Parts(parts) => {
            let each = parts.iter().map(|p| match p.law {
                PartLaw::Friction { bore_m, .. } | PartLaw::Zeta { bore_m, .. } => {
                    0.4 * friction::area_m2(bore_m)
                }
                PartLaw::Kv { kv_m3h } => 0.3 * kv_m3h / M3_H,
                PartLaw::Power { q_ref_m3h, .. } => q_ref_m3h / M3_H,
            });
            each.fold(f64::INFINITY, f64::min)
        }
        Law::Pump(curve) => (0.5 * pump::end_of_curve_m3h(curve) / M3_H).max(1e-9),
        Law::OneWay { kv_m3h, .. } | Law::HoldFlow { kv_m3h, .. } => 0.3 * kv_m3h / M3_H,
    }
}
