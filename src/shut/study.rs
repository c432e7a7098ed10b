//! Everything that the question "what happens when valves close" asks of a house, in one value.

use super::bypass::{self, Window};
use super::cost::{self, Cost};
use super::defrost::{Defrost, defrosts as defrosts_of};
use super::enumerate::{Asked, Combinations, Ended, Extent, MOST, combinations};
use super::kept::{Kept, LeftOpen, best_of, enough_open, kept_open, looked_at};
use super::overflow::{self, in_file, leaks, spots, thought_of};
use super::rules::rules as rules_of;
use super::season::{self, Of, Season};
use super::sets::Mask;
use super::special::{self, Special};
use super::state::{Facts, facts, water_by_kind, with_shut};
use super::throttle::{Throttled, throttled};
use super::typical::typical;
use super::valves::{Closable, ClosableKind, closable};
use super::water::{self, Rule};
use crate::fluid::Properties;
use crate::network::{ElementId, Emitter, Network, Source, StateKind, VesselKind};
use crate::solve::{Setting, SolveError, Solver};
use crate::survey::Side;
use crate::view;

/// Sizes of volume vessel that one can buy, m³ (common practice, no source).
pub const SIZES_M3: [f64; 9] = [
    0.015, 0.020, 0.030, 0.050, 0.060, 0.080, 0.100, 0.150, 0.200,
];
/// Smallest sets of each kind that are solved for the report.
pub const SETS_SOLVED: usize = 20;
/// Smallest safe sets of which the best is looked for.
const SETS_TRIED: usize = 200;
/// What may be chosen.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Options {
    /// Lockshields on which the file is silent stand open.
    pub lockshields_open: bool,
    /// Keep every combination, not only counts and extremes.
    pub keep: bool,
    /// How much to look at where the combinations are too many.
    pub extent: Extent,
}

/// Why there is no answer.
#[derive(Clone, Debug, PartialEq)]
pub enum Stop {
    /// The house has no state in which it heats.
    NoHeating,
    /// More valves can close than can be told apart: (found, most).
    TooMany(usize, usize),
    /// Not even the house with everything open has a converged answer.
    Solve(SolveError),
    /// Asked to stop.
    Interrupted,
}

/// What happens when valves close.
#[derive(Clone, Debug)]
pub struct Shut {
    /// Valves that can close.
    pub valves: Vec<Closable>,
    /// The setting with everything open.
    pub base: Setting,
    /// Names of emitters that stay open whatever happens.
    pub always_open: Vec<String>,
    /// Names of emitters without a valve that closes by itself, behind a zone that does: its index into `valves`.
    pub behind: Vec<(String, usize)>,
    /// The combinations.
    pub combinations: Combinations,
    /// All open.
    pub open: Facts,
    /// Head states between open and shut.
    pub throttled: Option<Throttled>,
    /// Overflow valves, in the file or thought of.
    pub windows: Vec<Window>,
    /// Overflow valves of the file that are open, as they are set, while everything else is: name, share of the source's
    /// flow, return temperature it makes in °C.
    pub leaks: Vec<(String, f64, Option<f64>)>,
    /// Water in the state that has least of it, by what holds it, m³.
    pub water: Vec<(&'static str, f64)>,
    /// That state.
    pub driest: Facts,
    /// Rules for the water in that state.
    pub rules: Vec<Rule>,
    /// Next size of vessel for the rule that governs, m³; `None` if nothing is short or no size is enough.
    pub vessel_m3: Option<f64>,
    /// Combinations down the load line: the worst, with a vessel too if one is short, a typical one, everything open.
    pub seasons: Vec<Season>,
    /// Zone pumps off, pump overrun, frost circulation, hot water and named states.
    pub special: Vec<Special>,
    /// What a vessel between unit and emitters costs.
    pub cost: Option<Cost>,
    /// Defrosts in heating and with the diverter on a coil.
    pub defrosts: Vec<Defrost>,
    /// Where it trips: of the smallest safe sets the one with the largest margin when all else is shut.
    pub safe_open: Option<LeftOpen>,
    /// The first [`SETS_SOLVED`] smallest tripping sets, solved with just them shut; `None` without an answer.
    pub trips_solved: Vec<Option<Facts>>,
    /// The first [`SETS_SOLVED`] smallest safe sets, solved with all else shut.
    pub safe_solved: Vec<Option<Facts>>,
    /// Valves that left open would make up for the water that is short in heating, those of `safe_open` among them.
    pub enough_open: Option<LeftOpen>,
    /// Volume vessels that a valve shuts off, and which valve; `None` if only all of them together.
    pub cut_off: Vec<(String, Option<usize>)>,
    /// What could not be looked at because a state of it has no converged answer.
    pub missing: Vec<(&'static str, SolveError)>,
    /// What each valve gives if it never shuts.
    pub kept_open: Vec<Kept>,
}

/// Looks at all combinations of a house in its heating state.
///
/// `progress` is told how many combinations are done of how many; `interrupted` is asked between blocks.
///
/// # Errors
/// See [`Stop`].
pub fn study(
    network: &Network,
    options: &Options,
    progress: &(dyn Fn(usize, usize) + Sync),
    interrupted: &(dyn Fn() -> bool + Sync),
) -> Result<Shut, Stop> {
    let index = network
        .states
        .iter()
        .position(|s| s.kind == StateKind::Heating)
        .ok_or(Stop::NoHeating)?;
    let valves = closable(network, &network.states[index]);
    if valves.len() > MOST {
        return Err(Stop::TooMany(valves.len(), MOST));
    }
    let required = view::running::heating(network);
    let all_open = options.lockshields_open || network.design.lockshields_open;
    let lockshields = view::running::lockshields(network, all_open, required.as_ref());
    let base = view::running::setting(network, index, &lockshields);
    let named = Stop::Solve;
    let solver = Solver::new(network);
    let (open, open_state) = facts(network, &solver, &base, 0).map_err(named)?;
    let spots = spots(network, required.as_ref());
    let beyond_pa = overflow::pressure_at(&spots, open_state.as_ref());
    let thought = match network.bypasses.is_empty() {
        true => spots,
        false => Vec::new(),
    };
    let (with, places) = bypass::with_valves(network, thought.iter().map(|(ends, _)| *ends));
    let mut fitted = bypass::fitted(&with, &base);
    places.iter().for_each(|v| fitted.shut[v.index()] = true);
    let asked = Asked {
        network: &with,
        base: &fitted,
        valves: &valves,
        spots: &places,
        keep: options.keep,
        extent: options.extent,
        sets: true,
        progress,
        interrupted,
    };
    let found = combinations(&asked).map_err(|ended| match ended {
        Ended::Interrupted => Stop::Interrupted,
        Ended::Solve(error) => Stop::Solve(error),
    })?;
    let driest = found.tally.driest.unwrap_or(open);
    let setting = with_shut(&base, &valves, driest.shut);
    let (_, dry_state) = facts(network, &solver, &setting, driest.shut).map_err(named)?;
    let at = properties(network, &base);
    let source = running_source(network, &base);
    let special = special::special(network, index, &base, &valves, &lockshields);
    let worst = *found.worst().unwrap_or(&open);
    let defrosts = source.map_or(Vec::new(), |s| {
        defrosts_of(network, s, &driest, worst.flow_m3_s, &special, at)
    });
    let rules = source.map_or(Vec::new(), |s| {
        rules_of(network, s, &valves, (&driest, 0), &defrosts, at)
    });
    let vessel_m3 = water::governing(&rules)
        .map(Rule::short_m3)
        .filter(|short| *short > 0.0)
        .and_then(|short| water::next_size_m3(short, &SIZES_M3));
    let idlest = found.tally.idlest.unwrap_or(worst);
    let seasons = match source {
        Some(source) => seasons(&asked, source, &[idlest, open], vessel_m3, at),
        None => Vec::new(),
    };
    let cost =
        source.and_then(|s| cost::cost(network, s, &open, (open_state.as_ref(), beyond_pa), at));
    let flow_of = |mask: Mask| {
        let setting = with_shut(&base, &valves, mask);
        let state = facts(network, &solver, &setting, mask).ok()?.1?;
        Some(state.flow_kg_s)
    };
    let cut_off = cost::cut_off(network, &valves, &flow_of);
    let kept_open = kept_open(&asked, &found);
    let in_heating = |rules: &[Rule]| {
        let short = |r: &Rule| r.state.is_none() && r.short_m3() > 0.0;
        !rules.iter().any(short)
    };
    let enough = |facts: &Facts, kept: Mask| {
        source.is_some_and(|s| {
            let then = defrosts_of(network, s, facts, facts.flow_m3_s, &[], at);
            in_heating(&rules_of(network, s, &valves, (facts, kept), &then, at))
        })
    };
    let least = found.safe.first().map(|s| s.count_ones());
    let safe_sets: Vec<Mask> = found.safe.iter().copied().take(SETS_TRIED).collect();
    let smallest = safe_sets
        .iter()
        .filter(|s| **s != 0 && Some(s.count_ones()) == least);
    let safe_open = best_of(&asked, &smallest.copied().collect::<Vec<_>>());
    let enough_open = (!in_heating(&rules))
        .then(|| enough_open(&asked, safe_open.map_or(0, |s| s.open), &enough))
        .flatten();
    let all = (0..valves.len()).fold(0, |mask, v| mask | 1 << v);
    let first = |sets: &[Mask]| {
        sets.iter()
            .copied()
            .take(SETS_SOLVED)
            .collect::<Vec<Mask>>()
    };
    let trips_solved = looked_at(&asked, &first(&found.trips));
    let left: Vec<Mask> = first(&found.safe).iter().map(|open| all & !open).collect();
    let safe_solved = looked_at(&asked, &left);
    let open_by_itself = |e: &&Emitter| e.always_open || e.valve.is_none();
    let mut always_open = Vec::new();
    let mut behind = Vec::new();
    for emitter in network.emitters.iter().filter(open_by_itself) {
        let body = emitter.body.index();
        let shuts = |v: usize| {
            let zone = matches!(valves[v].kind, ClosableKind::Zone(_));
            zone && !flow_of(1 << v).is_some_and(|flow| flow[body] != 0.0)
        };
        match (0..valves.len()).find(|v| shuts(*v)) {
            Some(zone) => behind.push((emitter.name.clone(), zone)),
            None => always_open.push(emitter.name.clone()),
        }
    }
    let mut missing = Vec::new();
    let throttled = throttled(network, &base, &valves).unwrap_or_else(|error| {
        missing.push(("all heads throttled alike", error));
        None
    });
    let windows = if network.bypasses.is_empty() {
        thought_of(&asked, &found, thought)
    } else {
        in_file(&asked)
    };
    let windows = windows.unwrap_or_else(|error| {
        missing.push(("the settings of an overflow valve", error));
        Vec::new()
    });
    let leaks = leaks(network, &base, open_state.as_ref());
    Ok(Shut {
        throttled,
        windows,
        leaks,
        missing,
        water: dry_state.map_or(Vec::new(), |s| water_by_kind(network, &s).to_vec()),
        kept_open,
        valves,
        base: base.clone(),
        always_open,
        behind,
        combinations: found,
        open,
        driest,
        rules,
        vessel_m3,
        seasons,
        special,
        cost,
        defrosts,
        safe_open,
        trips_solved,
        safe_solved,
        enough_open,
        cut_off,
    })
}

/// Names of the valves in a mask.
pub fn names(valves: &[Closable], mask: Mask) -> Vec<String> {
    valves
        .iter()
        .enumerate()
        .filter(|(i, _)| mask >> i & 1 == 1)
        .map(|(_, v)| v.name.clone())
        .collect()
}

/// The first source that runs.
pub fn running_source<'n>(network: &'n Network, base: &Setting) -> Option<&'n Source> {
    network
        .sources
        .iter()
        .zip(&base.sources)
        .find(|(_, s)| s.runs)
        .map(|(source, _)| source)
}

/// Properties of what flows near the source, at the mean of flow and return.
fn properties(network: &Network, base: &Setting) -> Properties {
    let fluid = network
        .sources
        .first()
        .map_or(0, |s| network.element(s.body).fluid);
    let mean_c = 0.5 * (base.flow_c + base.return_c);
    let water = Properties {
        rho_kg_m3: 1000.0,
        mu_pa_s: 1e-3,
        cp_j_kgk: 4186.0,
    };
    network
        .fluids
        .get(fluid)
        .and_then(|f| crate::hydraulics::liquid(f).at(mean_c).ok())
        .unwrap_or(water)
}

/// Follows combinations down the load line: the worst, with the vessel it asks for, a typical one, everything open.
fn seasons(
    asked: &Asked<'_>,
    source: &Source,
    [worst, open]: &[Facts; 2],
    vessel_m3: Option<f64>,
    at: Properties,
) -> Vec<Season> {
    let network = asked.network;
    let season = |of: Of, facts: &Facts, more_m3: f64| {
        let mut water = vessels(asked, facts);
        water.return_vessel_m3 += more_m3;
        Season {
            of,
            shut: facts.shut,
            least_rise_k: source.least_output_w.unwrap_or(0.0)
                / (facts.flow_m3_s * at.rho_kg_m3 * at.cp_j_kgk).max(1e-9),
            band_k: source.control_band_k.unwrap_or(season::BAND_K),
            days: season::days(network, source, facts, water, at),
        }
    };
    let mut out = vec![season(Of::Worst, worst, 0.0)];
    if let Some(m3) = vessel_m3 {
        out.push(season(Of::WorstWithVessel, worst, m3));
    }
    if let Some(typical) = typical(network, asked.base, asked.valves) {
        out.push(season(Of::Typical, &typical, 0.0));
    }
    out.push(season(Of::Open, open, 0.0));
    out.retain(|s| !s.days.is_empty());
    out
}

/// Splits a combination's water into plug flow and what is mixed.
fn vessels(asked: &Asked<'_>, facts: &Facts) -> season::Water {
    let network = asked.network;
    let setting = with_shut(asked.base, asked.valves, facts.shut);
    let state = super::state::facts(network, &Solver::new(network), &setting, facts.shut);
    let state = state.ok().and_then(|(_, state)| state);
    let flows = |id: ElementId| {
        state
            .as_ref()
            .is_some_and(|s| s.flow_kg_s[id.index()] != 0.0)
    };
    let (mut flow_vessel_m3, mut return_vessel_m3) = (0.0, 0.0);
    for vessel in network.vessels.iter().filter(|v| flows(v.body)) {
        match vessel.kind {
            VesselKind::Series { run } if network.runs[run].side != Some(Side::Return) => {
                flow_vessel_m3 += vessel.volume_m3;
            }
            // what a four-port vessel holds steadies the source's return
            _ => return_vessel_m3 += vessel.volume_m3,
        }
    }
    let emitters_m3 = state.map_or(0.0, |s| water_by_kind(network, &s)[2].1);
    let plug_m3 = facts.water_m3 - emitters_m3 - flow_vessel_m3 - return_vessel_m3;
    season::Water {
        plug_m3: plug_m3.max(0.0),
        emitters_m3,
        flow_vessel_m3,
        return_vessel_m3,
    }
}
