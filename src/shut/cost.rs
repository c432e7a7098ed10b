//! What a vessel between unit and emitters costs over a year, and vessels that a valve shuts off.

use super::state::Facts;
use super::valves::Closable;
use super::vessel::{Mixing, mixing};
use crate::fluid::Properties;
use crate::network::{Network, Source, VesselKind, Year};
use crate::solve::State;

/// Share of the electricity that a kelvin of flow temperature costs, where the file gives no slope (forum and
/// energy-advice figures of 2 to 2.5 %/K; grade L).
const SLOPE_PER_K: f64 = 0.025;
/// Mean load over the design load, weighted by heat (EN 14825 bin hours, average climate).
pub const LOAD_RATIO: f64 = 0.51;
/// Hours at full load in a year, where the file gives no heat of a year (EN 14825, average climate).
const FULL_LOAD_H: f64 = 2066.0;
/// Hours in a year in which heating is asked for, so that a second pump runs (EN 14825, average climate).
const PUMP_H: f64 = 4910.0;
/// Seasonal efficiency where the file gives none (common practice, no source).
const SEASONAL: f64 = 3.5;
/// Efficiency of a small circulator from plug to water (common practice, no source).
const PUMP_EFFICIENCY: f64 = 0.3;
/// Secondary flow over primary flow of the two cases that are shown beside equal flows.
const UNEQUAL: [f64; 2] = [1.5, 1.0 / 1.5];

/// A four-port vessel with a second pump at one pair of flows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FourPort {
    /// Flow through the unit, m³/s.
    pub primary_m3_s: f64,
    /// Flow through the emitters, m³/s.
    pub secondary_m3_s: f64,
    /// Temperatures.
    pub mixing: Mixing,
    /// Electricity that the higher flow temperature costs in a year, J.
    pub year_j: f64,
    /// Second pump: power, W, and energy in a year, J.
    pub pump: (f64, f64),
}

/// What a year is reckoned with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reckoned {
    /// Heat of a year, J, and whether the file gives it.
    pub heat_j: (f64, bool),
    /// Seasonal efficiency, and whether the file gives it.
    pub scop: (f64, bool),
    /// Share of the electricity that a kelvin of flow temperature costs, and whether the file gives it.
    pub slope_per_k: (f64, bool),
    /// Money per kWh, if the file gives it.
    pub per_kwh: Option<f64>,
}

impl Reckoned {
    /// The file's figures, else the usual ones.
    pub fn of(year: &Year, heat_w: f64) -> Self {
        let or = |given: Option<f64>, usual: f64| (given.unwrap_or(usual), given.is_some());
        Self {
            heat_j: or(year.heat_j, heat_w * FULL_LOAD_H * 3600.0),
            scop: or(year.scop, SEASONAL),
            slope_per_k: or(year.slope_percent.map(|p| p / 100.0), SLOPE_PER_K),
            per_kwh: year.per_kwh,
        }
    }

    /// Electricity lost in a year by `lost_k` at design load, J: heat over efficiency, times slope times the loss
    /// weighted over the year (the loss goes with the load).
    pub fn lost_j(&self, lost_k: f64) -> f64 {
        self.heat_j.0 / self.scop.0 * self.slope_per_k.0 * lost_k * LOAD_RATIO
    }

    /// Money for electricity, if there is a price.
    pub fn money(&self, energy_j: f64) -> Option<f64> {
        self.per_kwh.map(|price| energy_j / 3.6e6 * price)
    }
}

/// What the four-port way costs.
#[derive(Clone, Debug, PartialEq)]
pub struct Cost {
    /// Heat at design that the figures are for, W.
    pub heat_w: f64,
    /// Flow temperature that the unit makes, °C.
    pub flow_c: f64,
    /// At equal flows and at unequal ones both ways, or at those of the vessel in the file.
    pub cases: Vec<FourPort>,
    /// Name of the vessel of the file that the case is about.
    pub in_file: Option<String>,
    /// What the year is reckoned with.
    pub year: Reckoned,
    /// Whether the second pump's head is what the house beyond it loses; else it is the unit's own pump's, which is more.
    pub head_known: bool,
    /// Flow of the unit at its least and at its full output, m³/s, and the mean lost at least output, K, by a second
    /// pump that is set for full output and does not follow.
    pub matched: Option<(f64, f64, f64)>,
}

/// Works out the cost with everything open.
///
/// A second pump takes over what the house loses beyond the vessel, `beyond_pa` in Pa at the flow of the given state; losses
/// go with the flow squared. Where that is not known, it is reckoned to give as much as the unit's own pump gives today.
pub fn cost(
    network: &Network,
    source: &Source,
    open: &Facts,
    (state, beyond_pa): (Option<&State>, Option<f64>),
    at: Properties,
) -> Option<Cost> {
    let heat_w = open.heat_w;
    let flow_c = source.flow_temperature_c;
    if heat_w <= 0.0 || open.flow_m3_s <= 0.0 {
        return None;
    }
    let capacity = |m3_s: f64| m3_s * at.rho_kg_m3 * at.cp_j_kgk;
    // a year's heat is what the rooms need, not what emitters give with every valve open
    let needed_w: f64 = network.emitters.iter().map(|e| e.duty_w).sum();
    let load_w = if needed_w > 0.0 {
        needed_w.min(heat_w)
    } else {
        heat_w
    };
    let year = Reckoned::of(&network.design.year, load_w);
    let mixed = |primary_m3_s: f64, secondary_m3_s: f64, heat_w: f64, flow_c: f64| {
        let (primary, secondary) = (capacity(primary_m3_s), capacity(secondary_m3_s));
        mixing(flow_c, heat_w, primary, secondary)
    };
    let case = |primary_m3_s: f64, secondary_m3_s: f64, head_pa: f64, flow_c: f64| {
        let mixing = mixed(primary_m3_s, secondary_m3_s, heat_w, flow_c);
        let power_w = head_pa * secondary_m3_s / PUMP_EFFICIENCY;
        FourPort {
            primary_m3_s,
            secondary_m3_s,
            mixing,
            year_j: year.lost_j(mixing.mean_lost_k),
            pump: (power_w, power_w * PUMP_H * 3600.0),
        }
    };
    let four = network.vessels.iter().find_map(|v| match v.kind {
        VesselKind::FourPort { pump, .. } | VesselKind::ThreePort { pump, .. } => Some((v, pump?)),
        VesselKind::Series { .. } => None,
    });
    let mut cost = Cost {
        heat_w,
        flow_c,
        cases: Vec::new(),
        in_file: None,
        year,
        matched: None,
        head_known: beyond_pa.is_some() || four.is_some(),
    };
    let secondary_m3_s;
    if let (Some((vessel, pump)), Some(state)) = (four, state) {
        let element = network.pumps[pump].element.index();
        secondary_m3_s = state.flow_kg_s[element].abs() / at.rho_kg_m3;
        let made_c = state.out_c[source.body.index()].unwrap_or(flow_c);
        cost.flow_c = made_c;
        cost.in_file = Some(vessel.name.clone());
        let head_pa = state.pumps[pump].head_pa;
        cost.cases
            .push(case(open.flow_m3_s, secondary_m3_s, head_pa, made_c));
    } else {
        secondary_m3_s = open.flow_m3_s;
        for share in [1.0, UNEQUAL[0], UNEQUAL[1]] {
            let head_pa = beyond_pa.unwrap_or(open.head_pa) * share * share;
            cost.cases.push(case(
                open.flow_m3_s,
                share * secondary_m3_s,
                head_pa,
                flow_c,
            ));
        }
    }
    if let Some(least_w) = source.least_output_w.filter(|w| *w < heat_w) {
        let drop_k = heat_w / capacity(open.flow_m3_s);
        let least_m3_s = (least_w / (at.rho_kg_m3 * at.cp_j_kgk * drop_k))
            .max(source.least_flow_m3_s.unwrap_or(0.0))
            .min(open.flow_m3_s);
        let lost_k = mixed(least_m3_s, secondary_m3_s, least_w, cost.flow_c).mean_lost_k;
        cost.matched = Some((least_m3_s, open.flow_m3_s, lost_k));
    }
    Some(cost)
}

/// Volume vessels in series that a valve shuts off: vessel's name, valve by index (`None`: only all of them together).
pub fn cut_off(
    network: &Network,
    valves: &[Closable],
    flow_of: &dyn Fn(u64) -> Option<Vec<f64>>,
) -> Vec<(String, Option<usize>)> {
    let all = (0..valves.len()).fold(0_u64, |mask, v| mask | 1 << v);
    let mut out = Vec::new();
    let moves = |flows: &Option<Vec<f64>>, body: usize| {
        flows.as_ref().is_some_and(|flows| {
            let largest = flows.iter().fold(0.0_f64, |m, f| m.max(f.abs()));
            flows[body].abs() > 1e-6 * largest
        })
    };
    let (open, shut) = (flow_of(0), flow_of(all));
    for vessel in &network.vessels {
        let body = vessel.body.index();
        if !matches!(vessel.kind, VesselKind::Series { .. }) || !moves(&open, body) {
            continue;
        }
        let alone = (0..valves.len()).find(|v| {
            let flows = flow_of(1 << v);
            flows.is_some() && !moves(&flows, body)
        });
        if alone.is_some() || (shut.is_some() && !moves(&shut, body)) {
            out.push((vessel.name.clone(), alone));
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn a_year_of_mixing_worked_by_hand() {
        // 12 000 kWh at 3.5, 2.5 %/K, 1.13 K, load ratio 0.51: 49.4 kWh, 13 pounds at 27 p
        let year = Year {
            heat_j: Some(12_000.0 * 3.6e6),
            per_kwh: Some(0.27),
            ..Year::default()
        };
        let year = Reckoned::of(&year, 1.0);
        assert_abs_diff_eq!(year.lost_j(1.13) / 3.6e6, 49.4, epsilon = 0.1);
        let money = year.money(year.lost_j(1.13)).unwrap();
        assert_abs_diff_eq!(money, 13.3, epsilon = 0.05);
    }
}
