//! States beside the combinations of heating: zone pumps off, the pump running on after the source has stopped, frost
//! circulation with everything shut, and the states that the file names.

use super::sets::Mask;
use super::state::{Facts, read, still, with_shut};
use super::valves::Closable;
use crate::network::{Network, StateKind};
use crate::solve::{Setting, SolveError, Solver};
use crate::view::{self, LockshieldFrom};

/// Temperature of the water that frost circulation moves, °C: cold water is viscous, so the flow is least.
const FROST_C: f64 = 5.0;

/// What a state is.
#[derive(Clone, Debug, PartialEq)]
pub enum What {
    /// Every pump of a zone stands, every valve is open.
    ZonePumpsOff,
    /// The source has stopped, its pump runs on, everything that can shut is shut.
    Overrun,
    /// The same with cold water, against frost.
    Frost,
    /// A state of the house: hot water or one that the file names.
    House(String),
}

/// A state beside the combinations.
#[derive(Clone, Debug, PartialEq)]
pub struct Special {
    /// Which.
    pub what: What,
    /// What matters of it, or why it has no answer.
    pub facts: Result<Facts, SolveError>,
}

/// Looks at each of them.
pub fn special(
    network: &Network,
    heating: usize,
    base: &Setting,
    valves: &[Closable],
    lockshields: &[(Option<f64>, LockshieldFrom)],
) -> Vec<Special> {
    let all: Mask = (0..valves.len()).fold(0, |mask, v| mask | 1 << v);
    let solver = Solver::new(network);
    let facts = |setting: &Setting, shut: Mask| match solver.solve(setting) {
        Ok(state) => Ok(read(network, setting, &state, shut)),
        Err(SolveError::NothingMoves) => Ok(still(network, setting, shut)),
        Err(error) => Err(error),
    };
    let mut out = Vec::new();
    let pumps: Vec<usize> = valves.iter().flat_map(|v| v.pumps.clone()).collect();
    if !pumps.is_empty() {
        let mut setting = base.clone();
        pumps.iter().for_each(|p| setting.stopped[*p] = true);
        out.push(Special {
            what: What::ZonePumpsOff,
            facts: facts(&setting, 0),
        });
    }
    if !valves.is_empty() {
        // no heat is made, so a pump that holds a drop has none to hold and runs at its least flow
        for (what, water_c) in [(What::Overrun, base.flow_c), (What::Frost, FROST_C)] {
            let mut setting = with_shut(base, valves, all);
            setting.heat = false;
            (setting.flow_c, setting.return_c) = (water_c, water_c);
            // a mixing set without heat to mix stands open
            out.push(Special {
                what,
                facts: facts(&setting, all),
            });
        }
    }
    for (index, state) in network.states.iter().enumerate() {
        if index == heating || state.kind == StateKind::Heating || state.sources.is_empty() {
            continue;
        }
        let setting = view::running::setting(network, index, lockshields);
        out.push(Special {
            what: What::House(state.name.clone()),
            facts: facts(&setting, 0),
        });
    }
    out
}
