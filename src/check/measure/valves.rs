//! Valves: their noise, and those that glycol makes wrong.

use super::{Measured, Tight, given};
use crate::check::facts::Facts;
use crate::check::{Kind, Subject};
use crate::network::Law;
use crate::view::limits::limit;

/// Loss across each thermostatic valve as the house runs, against what is heard.
pub(in crate::check) fn noise(facts: &Facts, list: &mut Vec<Measured>) {
    for run in &facts.running {
        for (i, (emitter, at)) in facts.network.emitters.iter().zip(&run.emitters).enumerate() {
            let Some(dp) = at.valve_dp_pa.filter(|_| at.flow_kg_s != 0.0) else {
                continue;
            };
            if emitter.valve_kind != "thermostatic" && emitter.valve_kind != "twin entry" {
                continue;
            }
            let Some(limit) = limit(facts.network, "thermostatic valve", Some(&emitter.name))
            else {
                continue;
            };
            let kind = Kind::PressurePa;
            let m = Measured::at_most(Subject::Emitter(i), run.state, kind, dp.abs(), &limit);
            list.push(m.named([emitter.name.clone()]));
        }
    }
}

/// Antifreeze valves open when plain water nears freezing; with glycol they drain what was to protect, and are set for
/// the wrong liquid. Only asked where either is there.
pub(in crate::check) fn antifreeze(facts: &Facts, list: &mut Vec<Measured>) {
    let Some(state) = facts.running.first().map(|r| r.state) else {
        return;
    };
    let (mut valves, mut with_glycol, mut names) = (0_u32, 0_u32, Vec::new());
    for id in facts.network.element_ids() {
        let element = facts.network.element(id);
        let Law::Parts(parts) = &element.law else {
            continue;
        };
        for part in parts.iter().filter(|p| is_antifreeze(&p.symbol)) {
            valves += part.count;
            if facts.glycol(element.fluid) {
                with_glycol += part.count;
                names.push(element.name.clone());
            }
        }
    }
    let glycol = (0..facts.network.fluids.len()).any(|fluid| facts.glycol(fluid));
    if valves > 0 || glycol {
        let none = given(
            0.0,
            "common practice: antifreeze valves are made for plain water",
        );
        let value = f64::from(with_glycol);
        let mut m = Measured::at_most(Subject::House, state, Kind::Count, value, &none);
        m.scale = Some(1.0);
        m.tight = Tight::Never;
        list.push(m.with(&[("valves", f64::from(valves))]).named(names));
    }
}

/// The catalogue's word for a valve that drains an outdoor loop before it freezes.
pub(in crate::check) fn is_antifreeze(symbol: &str) -> bool {
    symbol == "antifreeze valve"
}
