//! How to set a house: every emitter's valve, every pump, what should then be read, and what to do about what was.

mod expect;
mod fit;
mod lack;
mod mains;
pub mod next;
mod pump;
pub mod settle;
mod valve;
mod walk;

pub use expect::{AtEmitter, AtSource, CLAMP_K, CLAMP_ONE_K, DISPLAY, Day, Mild, PRECISION_SOURCE};
pub use fit::Fit;
pub use lack::{Lack, SLACK};
pub use next::{Next, Read};
pub use pump::PumpSetting;
pub use settle::{Ground, Settled};
pub use valve::{Mark, Valve, Warning, Why};
pub use walk::Walk;

use crate::network::{Network, StateKind};
use crate::solve::{Setting, SolveError, Solver, State};
use crate::view::running::{setter_loss_pa, solve_blended};
use crate::view::{Required, required};
use settle::Laws;

/// A house with everything set.
#[derive(Clone, Debug)]
pub struct Balance {
    /// What its duty requires while it heats.
    pub required: Required,
    /// By emitter.
    pub valves: Vec<Valve>,
    /// Balancing valves on runs.
    pub branches: Vec<Valve>,
    /// Pumps on circuits that carry water.
    pub pumps: Vec<PumpSetting>,
    /// Kv, heads and controls as numbers.
    pub settled: Settled,
    /// What should be read on the design day.
    pub design: Day,
    /// What should be read on a mild day.
    pub mild: Mild,
    /// What the house still lacks on the design day.
    pub lacks: Vec<Lack>,
    /// Order of the valves.
    pub walk: Walk,
    /// By emitter: change of every emitter's flow, kg/s, for its valve's kv raised by one part in a hundred; `None`
    /// where nothing is set.
    pub answers: Vec<Option<Vec<f64>>>,
    /// What to do after the readings that the file gives.
    pub next: Option<Next>,
}

/// Why nothing is balanced.
#[derive(Clone, Debug, PartialEq)]
pub enum Stop {
    /// The house has no state in which it heats.
    NoHeating,
    /// No converged answer.
    Solve(SolveError),
}

impl From<SolveError> for Stop {
    fn from(error: SolveError) -> Self {
        Self::Solve(error)
    }
}

/// Balances a house in plain heating.
///
/// # Errors
/// No state in which it heats; whatever stops the solver.
pub fn balance(network: &Network) -> Result<Balance, Stop> {
    let state = network
        .states
        .iter()
        .position(|s| s.kind == StateKind::Heating);
    let required = required(network, state.ok_or(Stop::NoHeating)?)?;
    let ground = Ground::new(network, &required);
    let settled = ground.settle(&Laws::new(), &[])?;
    let mut setting = as_set(&ground, &settled);
    let solved = solve_blended(network, &mut setting)?;
    let mild = expect::mild(&ground, &as_set(&ground, &settled), &solved);
    let answers = answers(&ground, &setting, &solved)?;
    let design = expect::day(network, solved, 1.0, network.design.outside_c);
    let ran = next::pumps(network, &settled);
    let next = next::next(&ground, &settled, &design, &network.readings, &ran)?;
    let lacks = lack::lacks(network, &required, &design);
    let mut valves = valve::emitters(&ground, &settled, &design);
    if valves.iter().any(|v| v.why == Some(Why::NothingToSet)) {
        // without an answer it is still said that one is missing
        let missing = fit::missing(&ground).unwrap_or_default();
        for (v, fit) in valves.iter_mut().zip(missing) {
            v.fit = fit;
        }
    }
    let stops: Vec<usize> = (0..valves.len())
        .filter(|&i| valves[i].setter.is_some())
        .collect();
    Ok(Balance {
        branches: valve::branches(&ground, &settled, &design),
        pumps: pump::settings(network, &required, &settled.circuits),
        walk: walk::walk(network, &stops),
        valves,
        design,
        mild,
        lacks,
        answers,
        next,
        settled,
        required,
    })
}

/// The setting of a house as it was set.
pub fn as_set(ground: &Ground<'_>, settled: &Settled) -> Setting {
    let mut setting = ground.setting(&Laws::new(), &settled.kv, &settled.branch_kv);
    setting.control.clone_from(&settled.control);
    setting
}

/// By emitter that can be set: how all emitters' flows answer to one part in a hundred more kv of its valve.
fn answers(
    ground: &Ground<'_>,
    setting: &Setting,
    solved: &State,
) -> Result<Vec<Option<Vec<f64>>>, SolveError> {
    let network = ground.network;
    let mut changes = Vec::new();
    let mut of = Vec::new();
    for (i, setter) in ground.setters.iter().enumerate() {
        let Some(setter) = setter.filter(|_| ground.target(i).is_some()) else {
            continue;
        };
        let e = setter.element.index();
        let stands = setting
            .law
            .get(&setter.element)
            .and_then(|l| l.part_kv(setter.part));
        let here = crate::network::Setter {
            open_kv_m3h: stands.unwrap_or(setter.open_kv_m3h),
            ..setter
        };
        let loss = setter_loss_pa(network, &here, solved.flow_kg_s[e], solved.at_c[e]);
        // loss goes with kv to the power −2
        changes.push((setter.element, -0.02 * loss * solved.flow_kg_s[e].signum()));
        of.push(i);
    }
    let (_, flows) = Solver::new(network).tangents(setting, &changes)?;
    let mut answers = vec![None; network.emitters.len()];
    for (i, flow) in of.into_iter().zip(flows) {
        let bodies = network.emitters.iter().map(|e| flow[e.body.index()]);
        answers[i] = Some(bodies.collect());
    }
    Ok(answers)
}
