//! Two houses of constant properties between which a house lies in every combination, whatever temperatures its water
//! takes: one in which every part loses at least as much, one in which every part loses at most as much.
//!
//! Water is never hotter than the source makes it nor colder than the coldest room or surrounding. Within those two
//! temperatures a part's loss at a mass flow lies within a factor of its loss at one reference in between; lengths, ζ, kv
//! and reference flows are scaled by the ends of that factor. For a state, freeze the temperatures that it has: its flows are
//! then those of passive parts whose loss rises with flow, so the pump's flow lies between those of the two houses.

use super::monotone::WhyNot;
use crate::fluid::Properties;
use crate::hydraulics::friction::{factor, reynolds};
use crate::hydraulics::liquid;
use crate::network::{ElementId, FluidData, Heat, HeatLaw, Law, Network, PartLaw, PumpCurve};
use crate::solve::Setting;
use std::collections::BTreeMap;

/// Least and greatest of a figure.
type Ends = (f64, f64);

/// A house between two others.
#[derive(Clone, Debug)]
pub struct Between {
    /// Every loss at least the house's own, every head at most.
    pub hard: Network,
    /// Every loss at most the house's own, every head at least.
    pub easy: Network,
    /// The setting of both.
    pub setting: Setting,
    /// Density of the water, kg/m³.
    pub rho: Ends,
    /// Its temperature, °C.
    pub water_c: Ends,
}

/// Steps between two temperatures at which properties are looked at.
const STEPS: usize = 128;
/// Step in ln Re of the search for the friction factor's ratio.
const STEP: f64 = 0.001;
/// |d ln f / d ln Re| stays under this (the steepest place lies between Re 2300 and 4000 in a rough pipe; a test holds it).
const STEEPEST: f64 = 4.0;
/// Flow numbers between which ratios are searched; below all is laminar, above the ratio only comes closer to 1.
const RE: Ends = (20.0, 1e6);

/// The two houses, for a house whose parts are known to be passive.
///
/// # Errors
/// [`WhyNot::Water`] where the temperature of the water has no bounds that are known beforehand.
pub fn between(network: &Network, base: &Setting) -> Result<Between, WhyNot> {
    let water_c = water_c(network, base)?;
    let [fluid] = &network.fluids[..] else {
        return Err(WhyNot::Water);
    };
    let at = |t_c: f64| liquid(fluid).at(t_c).map_err(|_| WhyNot::Water);
    let step_k = (water_c.1 - water_c.0) / STEPS as f64;
    let mut list = Vec::with_capacity(STEPS + 1);
    for k in 0..=STEPS {
        list.push(at(water_c.0 + k as f64 * step_k)?);
    }
    // ends of the range are ends of the properties only if those go one way
    for figure in [|p: &Properties| p.rho_kg_m3, |p: &Properties| p.mu_pa_s] {
        let rises = list.windows(2).all(|w| figure(&w[1]) >= figure(&w[0]));
        let falls = list.windows(2).all(|w| figure(&w[1]) <= figure(&w[0]));
        if !rises && !falls {
            return Err(WhyNot::Water);
        }
    }
    let (cold, hot) = (list[0], list[STEPS]);
    let ends = |a: f64, b: f64| (a.min(b), a.max(b));
    let rho = ends(cold.rho_kg_m3, hot.rho_kg_m3);
    let mu = ends(cold.mu_pa_s, hot.mu_pa_s);
    let reference = Properties {
        rho_kg_m3: 0.5 * (rho.0 + rho.1),
        mu_pa_s: (mu.0 * mu.1).sqrt(),
        cp_j_kgk: cold.cp_j_kgk,
    };
    let least_m3_s = network.sources.first().and_then(|s| s.least_flow_m3_s);
    let scale = Scale {
        rho,
        mu,
        reference,
        any_flow: BTreeMap::new(),
    };
    let (hard, easy) = scale.both(network, base, least_m3_s);
    let mut setting = base.clone();
    setting.law.clear();
    setting.heat = false;
    Ok(Between {
        hard,
        easy,
        setting,
        rho,
        water_c,
    })
}

/// Coldest and hottest that the water can be anywhere, °C.
fn water_c(network: &Network, base: &Setting) -> Result<Ends, WhyNot> {
    let mut ends = (base.flow_c.min(base.return_c), base.flow_c);
    let mut admit = |t_c: f64| ends = (ends.0.min(t_c), ends.1.max(t_c));
    for source in &base.sources {
        admit(source.flow_c);
    }
    for id in network.element_ids() {
        let element = network.element(id);
        if !element.open || base.shut[id.index()] {
            continue;
        }
        match element.heat {
            Heat::None | Heat::Source(_) => {}
            Heat::Loss { ambient_c, .. } => admit(ambient_c),
            Heat::Emitter(e) => {
                let emitter = &network.emitters[e];
                // a fixed heat is drawn however cold the water is
                if matches!(emitter.law, HeatLaw::Fixed(_)) {
                    return Err(WhyNot::Water);
                }
                admit(network.rooms[emitter.room].temperature_c);
            }
            Heat::Cylinder(_) | Heat::Exchanger(..) => return Err(WhyNot::Water),
        }
    }
    Ok(ends)
}

/// How a law changes between a reference and the ends of what is admissible.
struct Scale {
    rho: Ends,
    mu: Ends,
    reference: Properties,
    /// Ends of f(at any admissible viscosity)/f(at the reference) over all flows, by bits of the relative roughness.
    any_flow: BTreeMap<u64, Ends>,
}

impl Scale {
    fn both(
        mut self,
        network: &Network,
        base: &Setting,
        least_m3_s: Option<f64>,
    ) -> (Network, Network) {
        let (mut hard, mut easy) = (network.clone(), network.clone());
        let p = self.reference;
        for house in [&mut hard, &mut easy] {
            house.fluids[0] = FluidData::Constant {
                rho_kg_m3: p.rho_kg_m3,
                mu_pa_s: p.mu_pa_s,
                cp_j_kgk: p.cp_j_kgk,
            };
        }
        let on_the_way = on_every_way(network, base);
        for id in network.element_ids() {
            let law = base.law.get(&id).unwrap_or(&network.element(id).law);
            let always = least_m3_s.filter(|_| on_the_way.contains(&id));
            hard.graph[id].law = self.law(law, always, true);
            easy.graph[id].law = self.law(law, always, false);
        }
        (hard, easy)
    }

    /// A law that loses at least (`hard`) or at most as much as this one at any admissible temperature.
    ///
    /// What carries the pump's whole flow in every combination is judged at the least flow alone: whether the pump's flow
    /// reaches that is decided there.
    fn law(&mut self, law: &Law, always_m3_s: Option<f64>, hard: bool) -> Law {
        // loss at a mass flow goes with one over the density
        let rho = if hard { self.rho.0 } else { self.rho.1 };
        let lighter = self.reference.rho_kg_m3 / rho;
        match law {
            Law::Parts(parts) => {
                let mut parts = parts.clone();
                for part in &mut parts {
                    match &mut part.law {
                        PartLaw::Friction {
                            length_m,
                            bore_m,
                            roughness_m,
                        } => {
                            let rough = *roughness_m / *bore_m;
                            let ratio = match always_m3_s {
                                Some(m3_s) => {
                                    // the mass flow at which `trips` decides: see `Between`
                                    let kg_s = m3_s * if hard { self.rho.1 } else { self.rho.0 };
                                    let re = reynolds(kg_s, *bore_m, self.reference.mu_pa_s);
                                    self.ratio_at(re, rough)
                                }
                                None => self.ratio(rough),
                            };
                            *length_m *= lighter * if hard { ratio.1 } else { ratio.0 };
                        }
                        PartLaw::Zeta { zeta, .. } => *zeta *= lighter,
                        PartLaw::Kv { kv_m3h } => *kv_m3h /= lighter.sqrt(),
                        PartLaw::Power { q_ref_m3h, .. } => *q_ref_m3h /= lighter,
                    }
                }
                Law::Parts(parts)
            }
            // the same mass is more litres where it is lighter, and the head falls with litres
            Law::Pump(PumpCurve::Points(points)) => Law::Pump(PumpCurve::Points(
                points.iter().map(|(q, pa)| (q / lighter, *pa)).collect(),
            )),
            Law::Pump(PumpCurve::Quadratic { a_pa, b_pa, c_pa }) => {
                Law::Pump(PumpCurve::Quadratic {
                    a_pa: *a_pa,
                    b_pa: b_pa * lighter,
                    c_pa: c_pa * lighter * lighter,
                })
            }
            Law::OneWay { .. } | Law::HoldFlow { .. } => law.clone(),
        }
    }

    /// Ends of f(k·Re)/f(Re) over every flow and every admissible k.
    fn ratio(&mut self, rough: f64) -> Ends {
        if let Some(known) = self.any_flow.get(&rough.to_bits()) {
            return *known;
        }
        let (from, to) = self.steps();
        let first = (crate::maths::ln(RE.0) / STEP) as i64;
        let last = (crate::maths::ln(RE.1) / STEP) as i64;
        let f = |k: i64| factor(crate::maths::exp(k as f64 * STEP), rough).0;
        let list: Vec<f64> = (first + from..=last + to).map(f).collect();
        let wide = (to - from) as usize + 1;
        let own = &list[(-from) as usize..];
        let over = |least: bool| sliding(&list, wide, least).zip(own).map(|(a, f)| a / f);
        let ends = (
            over(true).fold(f64::INFINITY, f64::min),
            over(false).fold(0.0, f64::max),
        );
        let ends = self.loosened(ends, 2.0);
        self.any_flow.insert(rough.to_bits(), ends);
        ends
    }

    /// The same at one flow.
    fn ratio_at(&self, re: f64, rough: f64) -> Ends {
        let (from, to) = self.steps();
        let f = factor(re, rough).0;
        let ends = (from..=to)
            .map(|k| factor(re * crate::maths::exp(k as f64 * STEP), rough).0 / f)
            .fold((f64::INFINITY, 0.0_f64), |e, r| (e.0.min(r), e.1.max(r)));
        self.loosened(ends, 1.0)
    }

    /// Steps of ln Re that the viscosity can be off its reference, rounded outwards.
    fn steps(&self) -> (i64, i64) {
        let ln = |k: f64| crate::maths::ln(k) / STEP;
        let from = ln(self.reference.mu_pa_s / self.mu.1).floor() as i64;
        let to = ln(self.reference.mu_pa_s / self.mu.0).ceil() as i64;
        (from.min(0), to.max(0))
    }

    /// Room for what lies between `steps` steps of the search.
    fn loosened(&self, ends: Ends, steps: f64) -> Ends {
        if self.mu.0 == self.mu.1 {
            return (1.0, 1.0);
        }
        let room = 1.0 + STEEPEST * STEP * steps;
        (ends.0 / room, ends.1 * room)
    }
}

/// Least (or greatest) of each stretch of `wide` values.
fn sliding(list: &[f64], wide: usize, least: bool) -> impl Iterator<Item = f64> + '_ {
    // values that can still be the best of a stretch to come, best first
    let mut held: std::collections::VecDeque<(usize, f64)> = std::collections::VecDeque::new();
    let better = move |a: f64, b: f64| if least { a <= b } else { a >= b };
    list.iter().enumerate().filter_map(move |(k, value)| {
        while held.back().is_some_and(|(_, other)| better(*value, *other)) {
            held.pop_back();
        }
        held.push_back((k, *value));
        if held.front().is_some_and(|(at, _)| at + wide <= k) {
            held.pop_front();
        }
        (k + 1 >= wide).then(|| held.front().map_or(*value, |(_, best)| *best))
    })
}

/// Elements without which nothing joins the pump's two ends: they carry its whole flow in every combination.
fn on_every_way(network: &Network, base: &Setting) -> Vec<ElementId> {
    let Some(pump) = network.pumps.first().map(|p| p.element) else {
        return Vec::new();
    };
    let (from, to) = network.ends(pump);
    let open: Vec<(ElementId, usize, usize)> = network
        .element_ids()
        .filter(|id| *id != pump && network.element(*id).open && !base.shut[id.index()])
        .map(|id| {
            let (a, b) = network.ends(id);
            (id, a.index(), b.index())
        })
        .collect();
    let mut at: Vec<Vec<(usize, ElementId)>> = vec![Vec::new(); network.graph.node_count()];
    for &(id, a, b) in &open {
        at[a].push((b, id));
        at[b].push((a, id));
    }
    let joined = |without: ElementId| {
        let mut seen = vec![false; at.len()];
        let mut next = vec![from.index()];
        while let Some(place) = next.pop() {
            if std::mem::replace(&mut seen[place], true) {
                continue;
            }
            let ways = at[place].iter().filter(|(_, id)| *id != without);
            next.extend(ways.map(|(other, _)| *other));
        }
        seen[to.index()]
    };
    let mut all: Vec<ElementId> = open.iter().map(|(id, ..)| *id).collect();
    all.retain(|id| !joined(*id));
    all.push(pump);
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_friction_factor_is_nowhere_steeper_than_the_search_allows_for() {
        for rough in [0.0, 1e-4, 1e-3, 1e-2, 5e-2, 0.1] {
            for k in 0..4000 {
                let re = 20.0 * crate::maths::exp(f64::from(k) * 0.0027);
                let (f, slope) = factor(re, rough);
                assert!((slope * re / f).abs() < STEEPEST, "Re {re}, ε/d {rough}");
            }
        }
    }

    #[test]
    fn no_admissible_temperature_leaves_the_two_laws() {
        // a length of pipe in water of 18 to 50 °C, at flows from trickling to roaring
        let water = |t: f64| crate::fluid::Liquid::Water.at(t).unwrap();
        let (cold, hot) = (water(18.0), water(50.0));
        let mut scale = Scale {
            rho: (hot.rho_kg_m3, cold.rho_kg_m3),
            mu: (hot.mu_pa_s, cold.mu_pa_s),
            reference: Properties {
                rho_kg_m3: 0.5 * (hot.rho_kg_m3 + cold.rho_kg_m3),
                mu_pa_s: (hot.mu_pa_s * cold.mu_pa_s).sqrt(),
                cp_j_kgk: 4180.0,
            },
            any_flow: BTreeMap::new(),
        };
        let pipe = |length_m: f64| PartLaw::Friction {
            length_m,
            bore_m: 0.0136,
            roughness_m: 1.5e-6,
        };
        let rough = 1.5e-6 / 0.0136;
        let ends = scale.ratio(rough);
        let lighter = (
            scale.reference.rho_kg_m3 / scale.rho.1,
            scale.reference.rho_kg_m3 / scale.rho.0,
        );
        for k in 0..400 {
            let kg_s = 1e-3 * crate::maths::exp(f64::from(k) * 0.015);
            let at = |length: f64, p: Properties| crate::hydraulics::part(&pipe(length), p, kg_s).0;
            let hard = at(lighter.1 * ends.1, scale.reference);
            let easy = at(lighter.0 * ends.0, scale.reference);
            let re = reynolds(kg_s, 0.0136, scale.reference.mu_pa_s);
            let alone = scale.ratio_at(re, rough);
            for t in 0..=320 {
                let own = at(1.0, water(18.0 + f64::from(t) * 0.1));
                assert!(easy <= own && own <= hard, "{kg_s} kg/s, step {t}");
                let of = at(1.0, scale.reference);
                assert!(
                    lighter.0 * alone.0 * of <= own && own <= lighter.1 * alone.1 * of,
                    "{kg_s} kg/s, step {t}"
                );
            }
        }
    }
}
