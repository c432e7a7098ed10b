//! What a vessel between unit and emitters costs over a year, and which emitters left open would do without one.

use super::state::Facts;
use super::valves::Closable;
use super::vessel::{Mixing, mixing};
use crate::fluid::Properties;
use crate::network::{Network, Source, VesselKind};
use crate::solve::State;

/// Electricity that a kelvin of flow temperature costs, share (forum and energy-advice figures of 2 to 2.5 %/K;
/// grade L).
pub const SLOPE_PER_K: f64 = 0.025;
/// Mean load over the design load, weighted by heat (EN 14825 bin hours, average climate).
pub const LOAD_RATIO: f64 = 0.51;
/// Hours at full load in a year (EN 14825, average climate).
pub const FULL_LOAD_H: f64 = 2066.0;
/// Hours in a year in which heating is asked for, so that a second pump runs (EN 14825, average climate).
pub const PUMP_H: f64 = 4910.0;
/// Seasonal efficiency where nothing better is known (common practice, no source).
pub const SEASONAL: f64 = 3.5;
/// Efficiency of a small circulator from plug to water (common practice, no source).
const PUMP_EFFICIENCY: f64 = 0.3;
/// Secondary flow over primary flow of the two cases that are shown beside equal flows.
pub const UNEQUAL: [f64; 2] = [1.5, 1.0 / 1.5];

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
    /// Second pump: power, W, and energy in a year, J.
    pub pump: Option<(f64, f64)>,
    /// Flow of the unit at its least and at its full output, m³/s, and the mean lost at least output, K, by a second
    /// pump that is set for full output and does not follow.
    pub matched: Option<(f64, f64, f64)>,
}

/// Electricity lost in a year by `lost_k` at design load: heat of the year over its efficiency, times slope times the
/// loss weighted over the year (the loss goes with the load).
pub fn year_j(heat_w: f64, lost_k: f64) -> f64 {
    heat_w * FULL_LOAD_H * 3600.0 / SEASONAL * SLOPE_PER_K * lost_k * LOAD_RATIO
}

/// Works out the cost with everything open.
pub fn cost(
    network: &Network,
    source: &Source,
    open: &Facts,
    state: Option<&State>,
    at: Properties,
) -> Option<Cost> {
    let heat_w = open.heat_w;
    let flow_c = source.flow_temperature_c;
    if heat_w <= 0.0 || open.flow_m3_s <= 0.0 {
        return None;
    }
    let capacity = |m3_s: f64| m3_s * at.rho_kg_m3 * at.cp_j_kgk;
    let case = |primary_m3_s: f64, secondary_m3_s: f64, heat_w: f64, flow_c: f64| {
        let mixing = mixing(
            flow_c,
            heat_w,
            capacity(primary_m3_s),
            capacity(secondary_m3_s),
        );
        FourPort {
            primary_m3_s,
            secondary_m3_s,
            mixing,
            year_j: year_j(heat_w, mixing.mean_lost_k),
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
        pump: None,
        matched: None,
    };
    let secondary_m3_s;
    if let (Some((vessel, pump)), Some(state)) = (four, state) {
        let element = network.pumps[pump].element.index();
        secondary_m3_s = state.flow_kg_s[element].abs() / at.rho_kg_m3;
        let made_c = state.out_c[source.body.index()].unwrap_or(flow_c);
        cost.flow_c = made_c;
        cost.in_file = Some(vessel.name.clone());
        cost.cases
            .push(case(open.flow_m3_s, secondary_m3_s, heat_w, made_c));
        let power_w = state.pumps[pump].head_pa * secondary_m3_s / PUMP_EFFICIENCY;
        cost.pump = Some((power_w, power_w * PUMP_H * 3600.0));
    } else {
        secondary_m3_s = open.flow_m3_s;
        cost.cases
            .push(case(open.flow_m3_s, secondary_m3_s, heat_w, flow_c));
        for share in UNEQUAL {
            cost.cases
                .push(case(open.flow_m3_s, share * secondary_m3_s, heat_w, flow_c));
        }
        // the second pump takes over what the unit's own pump gives the house today
        let power_w = open.head_pa * secondary_m3_s / PUMP_EFFICIENCY;
        cost.pump = Some((power_w, power_w * PUMP_H * 3600.0));
    }
    if let Some(least_w) = source.least_output_w.filter(|w| *w < heat_w) {
        let drop_k = heat_w / capacity(open.flow_m3_s);
        let least_m3_s = (least_w / (at.rho_kg_m3 * at.cp_j_kgk * drop_k))
            .max(source.least_flow_m3_s.unwrap_or(0.0))
            .min(open.flow_m3_s);
        let lost_k = case(least_m3_s, secondary_m3_s, least_w, cost.flow_c)
            .mixing
            .mean_lost_k;
        cost.matched = Some((least_m3_s, open.flow_m3_s, lost_k));
    }
    Some(cost)
}

/// Valves that, left open, add at least `short_m3` of water: as few as possible, those with most water first.
///
/// Rows are (name, water, heat, …) as in the study's list; `None` if all together are not enough.
pub fn enough_open(rows: &[(String, f64, f64, usize)], short_m3: f64) -> Option<Vec<usize>> {
    let mut order: Vec<usize> = (0..rows.len()).collect();
    order.sort_by(|a, b| rows[*b].1.total_cmp(&rows[*a].1).then(a.cmp(b)));
    let (mut sum_m3, mut chosen) = (0.0, Vec::new());
    for row in order {
        if sum_m3 >= short_m3 {
            break;
        }
        sum_m3 += rows[row].1;
        chosen.push(row);
    }
    (sum_m3 >= short_m3).then_some(chosen)
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
        let heat_w = 12_000e3 / FULL_LOAD_H;
        assert_abs_diff_eq!(year_j(heat_w, 1.13) / 3.6e6, 49.4, epsilon = 0.1);
    }

    #[test]
    fn the_fewest_that_are_enough() {
        let rows = [("a", 0.010), ("b", 0.025), ("c", 0.020)]
            .map(|(name, m3)| (name.to_owned(), m3, 0.0, 0));
        assert_eq!(enough_open(&rows, 0.030), Some(vec![1, 2]));
        assert_eq!(enough_open(&rows, 0.060), None);
        assert_eq!(enough_open(&rows, 0.0), Some(vec![]));
    }
}
