//! Which rules ask for water, and how much of it counts for them.

use super::defrost::Defrost;
use super::sets::Mask;
use super::state::Facts;
use super::valves::Closable;
use super::water::{Rule, RuleKind, run_time_m3};
use crate::fluid::Properties;
use crate::network::{Network, Source};

/// Rise of the water that a run may cause where no control band is given, K (common practice, no source).
const RISE_K: f64 = 5.0;

/// The rules of a source in a combination, with valves `kept` open whatever happens.
///
/// What can still leave is the heat of the emitters that stay open, at most what their rooms need.
pub fn rules(
    network: &Network,
    source: &Source,
    valves: &[Closable],
    (facts, kept): (&Facts, Mask),
    defrosts: &[Defrost],
    at: Properties,
) -> Vec<Rule> {
    let mut rules = Vec::new();
    let mut add = |kind: RuleKind, asked_m3: f64| {
        rules.push(Rule {
            kind,
            state: None,
            asked_m3,
            counts_m3: facts.water_m3,
        });
    };
    if let Some(asked_m3) = source.least_water_m3 {
        add(RuleKind::Maker, asked_m3);
    }
    if let (Some(least_output_w), Some(run_s)) = (source.least_output_w, source.least_run_s) {
        let stays = |valve: crate::network::ElementId| {
            let mut closing = valves.iter().enumerate();
            closing.any(|(v, c)| kept >> v & 1 == 1 && c.elements.contains(&valve))
        };
        let needs_w: f64 = network
            .emitters
            .iter()
            .filter(|e| e.always_open || e.valve.is_none_or(stays))
            .map(|e| e.duty_w)
            .sum();
        let load_w = facts.heat_w.min(needs_w.max(0.0));
        let rise_k = source.control_band_k.unwrap_or(RISE_K);
        let (rho, cp) = (at.rho_kg_m3, at.cp_j_kgk);
        add(
            RuleKind::RunTime,
            run_time_m3(least_output_w, load_w, run_s, rise_k, rho, cp),
        );
    }
    let energy_j = source.defrost_energy_j;
    rules.extend(defrosts.iter().filter_map(|d| d.rule(energy_j, at)));
    // in the order in which they are explained
    rules.sort_by_key(|r| match r.kind {
        RuleKind::Maker => 0,
        RuleKind::Defrost => 1,
        RuleKind::RunTime => 2,
    });
    rules
}
