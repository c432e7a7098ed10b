//! Everything that checks look at, gathered once for one assumed truth about the house.

use crate::fluid;
use crate::network::{HouseState, Law, Network, StateKind};
use crate::solve::SolveError;
use crate::view::{self, LockshieldFrom, Required, RunFigures, Running, running};

/// A house looked at in all its states, under one assumption about its doubts.
#[derive(Clone, Debug)]
pub(super) struct Facts<'a> {
    pub network: &'a Network,
    /// Required views, by state.
    pub required: Vec<Required>,
    /// By required view: figures of every run in it.
    pub pipes: Vec<Vec<RunFigures>>,
    /// As it runs, by state; a state in which nothing moves is left out.
    pub running: Vec<Running>,
    /// By running view: heat of each emitter if no unit's output limited it, W; where the unit covers the needs, and
    /// surplus heat is what thermostatic valves hold back.
    pub unlimited_w: Vec<Option<Vec<f64>>>,
    /// By source: flow in plain heating with its pump at full speed, m³/s, where a defrost flow asks for it.
    pub full_speed_m3_s: Vec<Option<f64>>,
    /// By source whose sheet gives the pump's whole head: flow at full speed, and the flow that taking it for free head
    /// would promise, m³/s.
    pub misread_m3_s: Vec<Option<(f64, f64)>>,
}

/// What to gather.
#[derive(Clone, Copy, Debug)]
pub(super) struct Effort {
    /// Lockshields on which the file is silent stand open.
    pub open: bool,
    /// Factor on the tees' losses.
    pub tees: f64,
    /// The house as the file has it, in full; trials leave out what no verdict needs.
    pub full: bool,
}

/// Gathers the facts about a house; `near` is what is known of one that differs little, where a search may begin.
///
/// # Errors
/// What stops the solver in any of its states, unless nothing moves in one.
pub(super) fn gather<'a>(
    network: &'a Network,
    effort: Effort,
    near: Option<&Facts>,
) -> Result<Facts<'a>, SolveError> {
    let mut required = Vec::new();
    for (i, state) in network.states.iter().enumerate() {
        if asks_for_duty(network, state) && view::required::requires(network, i) {
            required.push(view::look(network, i, effort.tees, effort.full)?);
        }
    }
    let heating = required
        .iter()
        .find(|r| network.states[r.state].kind == StateKind::Heating);
    let lockshields = view::lockshields(network, effort.open, heating);
    let mut running = Vec::new();
    let mut unlimited_w = Vec::new();
    for state in 0..network.states.len() {
        let known = near
            .and_then(|facts| facts.run_of(state))
            .map(|run| &run.solved);
        match running::run_near(network, state, &lockshields, known) {
            Ok(run) => {
                unlimited_w.push(unlimited(network, &run)?);
                running.push(run);
            }
            Err(SolveError::NothingMoves) => {}
            Err(error) => return Err(error),
        }
    }
    let pipes = required
        .iter()
        .map(|r| view::run_figures(network, r))
        .collect::<Result<_, _>>()?;
    Ok(Facts {
        network,
        pipes,
        running,
        unlimited_w,
        full_speed_m3_s: full_speed(network, &lockshields)?,
        misread_m3_s: if effort.full {
            misread(network, &lockshields)?
        } else {
            Vec::new()
        },
        required,
    })
}

/// Plain heating, hot water, and named states that differ from those only in the sources that run.
fn asks_for_duty(network: &Network, state: &HouseState) -> bool {
    let base = |kind: StateKind| network.states.iter().filter(move |s| s.kind == kind);
    let same_valves = |other: &HouseState| other.shut == state.shut;
    let own_pumps_only = state.stopped.iter().all(|&pump| {
        network.pumps[pump]
            .source
            .is_some_and(|source| !state.sources.contains(&source))
    });
    match state.kind {
        StateKind::Heating | StateKind::HotWater => true,
        StateKind::Named => {
            let known = base(StateKind::Heating)
                .chain(base(StateKind::HotWater))
                .find(|other| same_valves(other));
            own_pumps_only && known.is_some_and(|other| other.sources != state.sources)
        }
    }
}

/// Heat of each emitter at the flow temperature aimed at, where a unit that covers the needs has reached its output.
fn unlimited(network: &Network, run: &Running) -> Result<Option<Vec<f64>>, SolveError> {
    let solved = running::without_output_limit(network, run)?;
    let emitters = network.emitters.iter();
    Ok(solved.map(|s| emitters.map(|e| s.heat_w[e.body.index()]).collect()))
}

/// Flow of each source in plain heating with its pump at full speed, where a defrost flow is asked for.
fn full_speed(
    network: &Network,
    lockshields: &[(Option<f64>, LockshieldFrom)],
) -> Result<Vec<Option<f64>>, SolveError> {
    let mut flows = vec![None; network.sources.len()];
    let asked = network
        .sources
        .iter()
        .any(|s| s.defrost_flow_m3_s.is_some() && s.pump.is_some());
    let state = network
        .states
        .iter()
        .position(|s| s.kind == StateKind::Heating);
    let (true, Some(state)) = (asked, state) else {
        return Ok(flows);
    };
    let solved = at_full_speed(network, state, lockshields, |_| {})?;
    for (i, source) in network.sources.iter().enumerate() {
        let runs = network.states[state].sources.contains(&i);
        if source.defrost_flow_m3_s.is_some() && source.pump.is_some() && runs {
            flows[i] = solved[i];
        }
    }
    Ok(flows)
}

/// What reading each total head as free head would promise.
fn misread(
    network: &Network,
    lockshields: &[(Option<f64>, LockshieldFrom)],
) -> Result<Vec<Option<(f64, f64)>>, SolveError> {
    let mut both = vec![None; network.sources.len()];
    let state = network
        .states
        .iter()
        .position(|s| s.kind == StateKind::Heating);
    let Some(state) = state else { return Ok(both) };
    for (i, source) in network.sources.iter().enumerate() {
        let runs = network.states[state].sources.contains(&i);
        if source.free_head != Some(false) || source.pump.is_none() || !runs {
            continue;
        }
        let right = at_full_speed(network, state, lockshields, |_| {})?;
        let wrong = at_full_speed(network, state, lockshields, |setting| {
            setting.law.insert(source.body, Law::Parts(Vec::new()));
        })?;
        both[i] = right[i].zip(wrong[i]);
    }
    Ok(both)
}

/// Flow of every source, m³/s, with the sources' pumps at full speed and the temperatures of the design.
fn at_full_speed(
    network: &Network,
    state: usize,
    lockshields: &[(Option<f64>, LockshieldFrom)],
    change: impl Fn(&mut crate::solve::Setting),
) -> Result<Vec<Option<f64>>, SolveError> {
    let solved = running::at_full_speed(network, state, lockshields, change)?;
    let flows = network.sources.iter().enumerate();
    Ok(flows
        .map(|(i, _)| Some(running::source_flow_m3_s(network, i, &solved)))
        .collect())
}

impl Facts<'_> {
    /// The running view of a state.
    pub fn run_of(&self, state: usize) -> Option<&Running> {
        self.running.iter().find(|r| r.state == state)
    }

    /// The required view of plain heating.
    pub fn heating(&self) -> Option<&Required> {
        self.required
            .iter()
            .find(|r| self.network.states[r.state].kind == StateKind::Heating)
    }

    /// Whether an element's fluid is glycol.
    pub fn glycol(&self, fluid: usize) -> bool {
        let liquid = crate::hydraulics::liquid(&self.network.fluids[fluid]);
        matches!(liquid, fluid::Liquid::Propylene(p) | fluid::Liquid::Ethylene(p) if p > 0.0)
    }
}
