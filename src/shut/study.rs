//! Everything that the question "what happens when valves close" asks of a house, in one value.

use super::bypass::{self, Spot, Stands, USUAL_KV, Window};
use super::enumerate::{Asked, Combinations, Ended, MOST, combinations};
use super::season::{self, Day};
use super::sets::Mask;
use super::state::{Facts, facts, water_by_kind, with_shut};
use super::throttle::{Throttled, throttled};
use super::valves::{Closable, closable};
use super::water::{self, Rule, RuleKind};
use crate::fluid::Properties;
use crate::network::{ElementId, Network, PlaceId, Source, StateKind, VesselKind};
use crate::solve::{Setting, SolveError, Solver, State};
use crate::survey::Side;
use crate::view::{self, LockshieldFrom, Required};

/// Sizes of volume vessel that one can buy, m³ (common practice, no source).
pub const SIZES_M3: [f64; 9] = [
    0.015, 0.020, 0.030, 0.050, 0.060, 0.080, 0.100, 0.150, 0.200,
];
/// Rise of the water that a run may cause where no control band is given, K (common practice, no source).
const RISE_K: f64 = 5.0;

/// What may be chosen.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Options {
    /// Lockshields on which the file is silent stand open.
    pub lockshields_open: bool,
    /// Keep every combination, not only counts and extremes.
    pub keep: bool,
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
    /// Names of emitters that stay open whatever happens.
    pub always_open: Vec<String>,
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
    /// The worst combination down the load line, and the one with everything open.
    pub days: (Vec<Day>, Vec<Day>),
    /// What could not be looked at because a state of it has no converged answer.
    pub missing: Vec<(&'static str, SolveError)>,
    /// What each emitter adds if it never shuts: name, water with its branch in m³, heat in W, combinations that then
    /// still trip.
    pub kept_open: Vec<(String, f64, f64, usize)>,
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
    let base = base(network, index, options, required.as_ref());
    let named = Stop::Solve;
    let solver = Solver::new(network);
    let (open, open_state) = facts(network, &solver, &base, 0).map_err(named)?;
    let thought = if network.bypasses.is_empty() {
        spots(network, required.as_ref())
    } else {
        Vec::new()
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
    let rules = source.map_or(Vec::new(), |s| rules(network, s, &driest, at));
    let vessel_m3 = water::governing(&rules)
        .map(Rule::short_m3)
        .filter(|short| *short > 0.0)
        .and_then(|short| water::next_size_m3(short, &SIZES_M3));
    let worst = *found.worst().unwrap_or(&open);
    let days = source.map_or((Vec::new(), Vec::new()), |source| {
        let day = |f: &Facts| season::days(network, source, f, vessels(network, f), at);
        (day(&worst), day(&open))
    });
    let always_open = network
        .emitters
        .iter()
        .filter(|e| e.always_open || e.valve.is_none())
        .map(|e| e.name.clone())
        .collect();
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
        kept_open: kept_open(network, &valves, &found, open_state.as_ref()),
        valves,
        always_open,
        combinations: found,
        open,
        driest,
        rules,
        vessel_m3,
        days,
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

/// The heating state with everything open, lockshields as they stand, blended inlets drawing what they draw.
fn base(
    network: &Network,
    state: usize,
    options: &Options,
    required: Option<&Required>,
) -> Setting {
    let open = options.lockshields_open || network.design.lockshields_open;
    let lockshields: Vec<(Option<f64>, LockshieldFrom)> =
        view::running::lockshields(network, open, required);
    view::running::setting(network, state, &lockshields)
}

fn running_source<'n>(network: &'n Network, base: &Setting) -> Option<&'n Source> {
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

fn rules(network: &Network, source: &Source, driest: &Facts, at: Properties) -> Vec<Rule> {
    let mut rules = Vec::new();
    let counts_m3 = driest.water_m3;
    if let Some(asked_m3) = source.least_water_m3 {
        rules.push(Rule {
            kind: RuleKind::Maker,
            asked_m3,
            counts_m3,
        });
    }
    if let (Some(energy_j), Some(fall_k)) = (source.defrost_energy_j, source.defrost_fall_k) {
        let asked_m3 = water::defrost_m3(energy_j, fall_k, at.rho_kg_m3, at.cp_j_kgk);
        rules.push(Rule {
            kind: RuleKind::Defrost,
            asked_m3,
            counts_m3,
        });
    }
    if let (Some(least_output_w), Some(run_s)) = (source.least_output_w, source.least_run_s) {
        let rise_k = source.control_band_k.unwrap_or(RISE_K);
        // what can still leave: the heat of the emitters left open, at most what their rooms need at a mild day's share
        let needs_w: f64 = network
            .emitters
            .iter()
            .filter(|e| e.always_open || e.valve.is_none())
            .map(|e| e.duty_w)
            .sum();
        let load_w = driest.heat_w.min(needs_w.max(0.0));
        let asked_m3 = water::run_time_m3(
            least_output_w,
            load_w,
            run_s,
            rise_k,
            at.rho_kg_m3,
            at.cp_j_kgk,
        );
        rules.push(Rule {
            kind: RuleKind::RunTime,
            asked_m3,
            counts_m3,
        });
    }
    rules
}

/// Splits a state's water into plug flow and mixed vessels.
fn vessels(network: &Network, facts: &Facts) -> season::Water {
    let (mut flow_vessel_m3, mut return_vessel_m3) = (0.0, 0.0);
    for vessel in &network.vessels {
        match vessel.kind {
            VesselKind::Series { run } => {
                if network.runs[run].side == Some(Side::Return) {
                    return_vessel_m3 += vessel.volume_m3;
                } else {
                    flow_vessel_m3 += vessel.volume_m3;
                }
            }
            // what a four-port vessel holds steadies the source's return
            VesselKind::FourPort { .. } | VesselKind::ThreePort { .. } => {
                return_vessel_m3 += vessel.volume_m3;
            }
        }
    }
    let plug_m3 = (facts.water_m3 - flow_vessel_m3 - return_vessel_m3).max(0.0);
    season::Water {
        plug_m3,
        flow_vessel_m3,
        return_vessel_m3,
    }
}

/// Windows of valves that are only thought of.
fn thought_of(
    asked: &Asked<'_>,
    found: &Combinations,
    spots: Vec<((PlaceId, PlaceId), Stands)>,
) -> Result<Vec<Window>, SolveError> {
    let mut out = Vec::new();
    for (spot, (valve, (_, stands))) in asked.spots.iter().zip(spots).enumerate() {
        let mut base = asked.base.clone();
        base.shut[valve.index()] = false;
        let there = Spot {
            network: asked.network,
            base: &base,
            valves: asked.valves,
            found,
            spot,
            valve: *valve,
            kv_m3h: USUAL_KV,
        };
        out.extend(bypass::window(&there, stands)?);
    }
    Ok(out)
}

/// Windows of the valves in the file, each from all combinations solved anew without it.
fn in_file(asked: &Asked<'_>) -> Result<Vec<Window>, SolveError> {
    let mut out = Vec::new();
    for b in &asked.network.bypasses {
        let law = &asked.network.element(b.element).law;
        if !matches!(law, crate::network::Law::OneWay { .. }) {
            continue;
        }
        let mut without = asked.base.clone();
        without.shut[b.element.index()] = true;
        let Ok(found) = combinations(&Asked {
            base: &without,
            spots: &[b.element],
            keep: false,
            progress: &|_, _| {},
            ..*asked
        }) else {
            return Ok(out);
        };
        let there = Spot {
            network: asked.network,
            base: asked.base,
            valves: asked.valves,
            found: &found,
            spot: 0,
            valve: b.element,
            kv_m3h: view::running::kv_of(law).unwrap_or(USUAL_KV),
        };
        out.extend(bypass::window(&there, Stands::File(b.name.clone()))?);
    }
    Ok(out)
}

/// Overflow valves that stand open while every other valve does.
fn leaks(
    network: &Network,
    base: &Setting,
    open: Option<&State>,
) -> Vec<(String, f64, Option<f64>)> {
    let running = running_source(network, base);
    let (Some(state), Some(source)) = (open, running) else {
        return Vec::new();
    };
    let body = source.body.index();
    let all = state.flow_kg_s[body].abs();
    let share = |id: ElementId| state.flow_kg_s[id.index()].abs() / all.max(1e-12);
    let list = network.bypasses.iter().map(|b| (b, share(b.element)));
    list.filter(|(_, share)| *share > 1e-6)
        .map(|(b, share)| (b.name.clone(), share, state.in_c[body]))
        .collect()
}

/// Where an overflow valve would be put: the first place, and the far end of the index circuit.
fn spots(network: &Network, required: Option<&Required>) -> Vec<((PlaceId, PlaceId), Stands)> {
    let mut spots = Vec::new();
    let Some(circuit) = required.and_then(|r| r.circuits.first()) else {
        return spots;
    };
    let Some(path) = circuit.paths.get(circuit.index) else {
        return spots;
    };
    let view::Through::Emitter(e) = path.through else {
        return spots;
    };
    let emitter = &network.emitters[e];
    let name = |place: PlaceId| {
        let place = &network.graph[place];
        place.user.clone().unwrap_or_else(|| place.name.clone())
    };
    // the first place that both pipes of the path meet: where a pair of the source's own ends
    let first = path
        .elements
        .iter()
        .filter_map(|(id, forward)| {
            let (from, to) = network.ends(*id);
            network.graph[if *forward { to } else { from }]
                .user
                .clone()
                .map(|u| (u, *id))
        })
        .find(|(user, _)| !network.sources.iter().any(|s| s.name == *user));
    if let Some((user, _)) = first {
        let side = |side: Side| {
            network.place_ids().find(|p| {
                network.graph[*p].user.as_ref() == Some(&user)
                    && network.graph[*p].side == Some(side)
            })
        };
        if let (Some(flow), Some(back)) = (side(Side::Flow), side(Side::Return)) {
            spots.push(((flow, back), Stands::FirstPlace(user)));
        }
    }
    if spots
        .first()
        .is_none_or(|(between, _)| *between != emitter.ends)
    {
        spots.push((emitter.ends, Stands::FarEnd(name(emitter.ends.0))));
    }
    spots
}

/// What each emitter would add if it never shut.
fn kept_open(
    network: &Network,
    valves: &[Closable],
    found: &Combinations,
    open: Option<&State>,
) -> Vec<(String, f64, f64, usize)> {
    let mut rows: Vec<(String, f64, f64, usize)> = valves
        .iter()
        .enumerate()
        .map(|(i, valve)| {
            let emitters: Vec<_> = network
                .emitters
                .iter()
                .filter(|e| e.valve.is_some_and(|v| valve.elements.contains(&v)))
                .collect();
            let branch = |id: &ElementId| network.element(*id).volume_m3;
            let water_m3 = emitters.iter().flat_map(|e| &e.branch).map(branch).sum();
            let heat_w = emitters
                .iter()
                .map(|e| open.map_or(0.0, |s| s.heat_w[e.body.index()]))
                .sum();
            let trips = found.tally.trips_with_open.get(i).copied().unwrap_or(0);
            (valve.name.clone(), water_m3, heat_w, trips)
        })
        .collect();
    rows.sort_by(|a, b| a.3.cmp(&b.3).then(b.1.total_cmp(&a.1)));
    rows
}
