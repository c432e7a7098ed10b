//! Hydraulics and heat together: properties at local temperature, pumps held to a drop, blended inlets.
//!
//! Rounds of flow and temperature repeat until both stand still. What heat asks of flow (a drop to hold, a temperature to
//! mix) is a short vector of caps; Broyden's rank-one updates let it settle in a few rounds.

use super::Setting;
use super::asked::{Asked, asked, element_of, first_guess, wanted};
use super::begin::Start;
use super::broyden::Broyden;
use super::classes::Classes;
use super::flow::{Finish, Hydraulics, LEAST_SHARE};
use super::heat::{Heats, Temperatures};
use super::heat_order::STILL;
use super::sparse::Nodal;
use super::state::{SolveError, State, Stats};
use crate::fluid::{Liquid, Properties};
use crate::hydraulics;
use crate::network::{ElementId, Network};
use crate::survey::Side;

/// Rounds of heat and flow before giving up.
const MOST_ROUNDS: u32 = 200;
/// Largest change of a temperature that properties were taken at, K: viscosity changes by 2 % a kelvin, so flows then
/// stand to 1e-11.
const STEADY_K: f64 = 1e-8;
/// Largest change of a cap, as a share of the largest flow.
const STEADY_FLOW: f64 = 1e-11;

/// Share of the largest flow below which a change of temperature counts in proportion to the flow: rounding of 1e-15 of
/// the largest flow is a large share of a trickle, and moves its temperature.
const TRICKLE: f64 = 1e-3;
/// Share of its way that a temperature goes once it has been thrown back.
const HALFWAY: f64 = 0.5;

/// The same where thousands of states are looked at: flows then stand to 1e-9 of the largest.
const QUICK_K: f64 = 5e-6;
const QUICK_FLOW: f64 = 1e-10;

/// Changes above which a round only prepares for the next, K and share of the largest flow.
const ROUGH_K: f64 = 0.1;
const ROUGH_FLOW: f64 = 1e-3;

/// Rounds after which the flows of such a state are solved to the last digit, so that they cannot keep a temperature moving.
const MOST_QUICK: u32 = 12;

/// The temperature that moves most in a round, as far as it counts.
#[derive(Clone, Copy, Default)]
struct Move {
    element: usize,
    /// From where properties were taken to what heat says, K.
    way_k: f64,
    counts_k: f64,
}

impl Move {
    /// Whether it goes back most of the way that `before` went.
    fn swings_back(&self, before: &Self) -> bool {
        self.element == before.element
            && self.way_k * before.way_k < 0.0
            && self.counts_k > 0.5 * before.counts_k
    }
}

/// One setting of a network with all that its rounds of flow and heat need.
#[derive(Clone)]
pub(super) struct Coupled<'a> {
    pub network: &'a Network,
    pub setting: &'a Setting,
    pub hydraulics: Hydraulics<'a>,
    liquids: Vec<Liquid>,
    variable: bool,
    /// By element: whether its properties are the same at every temperature.
    constant: Vec<bool>,
    asked: Vec<Asked>,
    caps: Vec<f64>,
    broyden: Broyden,
    /// Temperature and properties by element.
    pub at_c: Vec<f64>,
    at: Vec<Properties>,
    /// Elements whose temperature has moved since their properties were looked up.
    stale: Vec<u32>,
    /// Mean heat capacity between inlet and outlet by element, J/(kg K).
    mean_cp: Vec<f64>,
    heats: Heats,
    /// Whether temperatures were asked for and found.
    warm: bool,
    wanted: Vec<f64>,
    /// Flow by element, kg/s.
    pub flow: Vec<f64>,
    pub stats: Stats,
}

impl<'a> Coupled<'a> {
    /// # Errors
    /// Held flows that contradict each other; a temperature out of range.
    pub fn new(
        network: &'a Network,
        setting: &'a Setting,
        classes: &'a Classes,
        nodal: &Nodal,
    ) -> Result<Self, SolveError> {
        let liquids: Vec<Liquid> = network.fluids.iter().map(hydraulics::liquid).collect();
        let variable = liquids.iter().any(|l| !l.is_constant());
        let at_c = start_temperatures(network, setting);
        let mut asked = asked(network, setting);
        if !setting.heat {
            asked.retain(|a| matches!(a, Asked::Drop { .. }));
        }
        let mut at = Vec::new();
        properties(network, &liquids, &at_c, &mut at)?;
        let caps: Vec<f64> = asked
            .iter()
            .map(|a| first_guess(network, setting, a, &at))
            .collect();
        Ok(Self {
            hydraulics: Hydraulics::new(network, setting, classes, nodal, !variable, &at)?,
            network,
            setting,
            variable,
            constant: network
                .element_ids()
                .map(|id| liquids[network.element(id).fluid].is_constant())
                .collect(),
            liquids,
            stale: Vec::new(),
            asked,
            broyden: Broyden::new(caps.len()),
            caps,
            at_c,
            mean_cp: at.iter().map(|p| p.cp_j_kgk).collect(),
            at,
            heats: Heats::new(network),
            warm: false,
            wanted: Vec::new(),
            flow: vec![0.0; network.graph.edge_count()],
            stats: Stats::default(),
        })
    }

    /// Temperatures, if heat was asked for.
    pub fn found(&self) -> Option<&Temperatures> {
        self.warm.then_some(&self.heats.found)
    }

    /// Rounds of flow and heat until both stand still.
    ///
    /// # Errors
    /// Each exit of [`SolveError`].
    pub fn run(&mut self, finish: Finish, warm: bool) -> Result<(), SolveError> {
        let (steady_k, steady_flow) = match finish {
            Finish::Full => (STEADY_K, STEADY_FLOW),
            Finish::Quick | Finish::Rough(_) => (QUICK_K, QUICK_FLOW),
        };
        // how caps answer is much the same in every state
        self.broyden.last = None;
        if !warm {
            self.broyden = Broyden::new(self.caps.len());
        }
        let (mut change_k, mut before_k) = (0.0, f64::INFINITY);
        let (mut before_off, mut last) = (f64::INFINITY, false);
        let mut worst = Move::default();
        let mut share = 1.0;
        self.stats = Stats::default();
        self.warm = self.setting.heat;
        if !warm {
            self.heats.forget();
        }
        // while temperatures or caps still move, flows need not be exact; and the last digits only at the end
        let moves = self.setting.heat && (self.variable || !self.asked.is_empty());
        let mut effort = if moves {
            Finish::Rough(ROUGH_FLOW)
        } else {
            finish
        };
        for round in 1..=MOST_ROUNDS {
            if self.variable && (round > 1 || warm || !self.stale.is_empty()) {
                self.take_properties()?;
                self.hydraulics.refresh(&self.at);
            }
            for (a, &cap) in self.asked.iter().zip(&self.caps) {
                let element = element_of(self.network, a).index() as u32;
                if let Some(gate) = self
                    .hydraulics
                    .gates
                    .iter_mut()
                    .find(|g| g.element == element)
                {
                    gate.cap = cap;
                }
            }
            let switches = self.stats.switches;
            self.hydraulics
                .solve(effort, round > 1 || warm, &mut self.stats)?;
            // gates that switch move flows by more than was foreseen
            last &= self.stats.switches == switches;
            let largest = self.hydraulics.flows.largest;
            if largest == 0.0 {
                return Err(SolveError::NothingMoves);
            }
            for e in 0..self.flow.len() {
                // what balance leaves by rounding is no flow
                let flow = self.hydraulics.element_flow(e);
                self.flow[e] = if flow.abs() <= STILL * largest {
                    0.0
                } else {
                    flow
                };
            }
            if !self.setting.heat || last {
                return Ok(());
            }
            self.stats.heat_rounds = round;
            self.heats
                .solve(self.network, self.setting, &self.flow, &self.mean_cp)
                .map_err(|change_k| SolveError::HeatNotConverged {
                    change_k,
                    rounds: round,
                })?;
            change_k = if self.variable {
                // what moves less than a hundredth of what counts as steady need not be looked up again
                let least_k = if finish == Finish::Full {
                    0.0
                } else {
                    0.01 * steady_k
                };
                let now = self.take_temperatures(least_k, share, largest);
                // thrown to and fro by as much: halfway is where it rests
                if now.swings_back(&worst) {
                    share = HALFWAY;
                }
                worst = now;
                now.counts_k
            } else {
                0.0
            };
            let off = self.ask();
            let steady = change_k <= steady_k && off <= steady_flow * largest;
            effort = match effort {
                _ if steady && effort.is_enough(finish) => return Ok(()),
                Finish::Rough(_) if finish == Finish::Quick => {
                    // flows that follow these temperatures are as good as those of one more round of both
                    last = foreseen(change_k, before_k) <= 0.1 * steady_k
                        && foreseen(off, before_off) <= steady_flow * largest;
                    // a share of a flow moves temperatures by a few kelvins times that share, and the next round moves
                    // them by a thirtieth of this one: flows need be no closer than that
                    let by_heat = if self.variable { 2e-2 * change_k } else { 1.0 };
                    let by_caps = if self.asked.is_empty() {
                        1.0
                    } else {
                        0.2 * off / largest
                    };
                    let share = if last { 0.0 } else { by_heat.min(by_caps) };
                    if round < MOST_QUICK {
                        Finish::Rough(share.clamp(LEAST_SHARE, ROUGH_FLOW))
                    } else {
                        Finish::Full
                    }
                }
                _ if steady => finish,
                Finish::Rough(_) if change_k <= ROUGH_K && off <= ROUGH_FLOW * largest => {
                    Finish::Quick
                }
                // what quick solves leave open is a large share of a trickle, whose temperature then never stands still
                Finish::Quick if change_k > 0.5 * before_k => finish,
                same => same,
            };
            (before_k, before_off) = (change_k, off);
            self.caps = self.broyden.next(&self.caps, &self.wanted);
        }
        Err(SolveError::HeatNotConverged {
            change_k,
            rounds: MOST_ROUNDS,
        })
    }

    /// Moves each element's temperature by `share` of its way to the mean of inlet and outlet, and its heat capacity
    /// between them, where that way is more than `least_k`; the largest way, K. Viscosity moves an element's flow by at most
    /// the same share, so that of a trickle counts for less: see [`TRICKLE`].
    fn take_temperatures(&mut self, least_k: f64, share: f64, largest: f64) -> Move {
        let mut worst = Move::default();
        let found = &self.heats.found;
        for e in 0..self.at_c.len() {
            if let (Some(a), Some(b)) = (found.in_c[e], found.out_c[e]) {
                let mean = 0.5 * (a + b);
                if found.mean_cp[e] > 0.0 {
                    self.mean_cp[e] = found.mean_cp[e];
                }
                let way_k = mean - self.at_c[e];
                if way_k.abs() <= least_k {
                    continue;
                }
                self.at_c[e] = mean - (1.0 - share) * way_k;
                if !self.constant[e] {
                    let weight = (self.flow[e].abs() / (TRICKLE * largest)).min(1.0);
                    if weight * way_k.abs() > worst.counts_k {
                        worst = Move {
                            element: e,
                            way_k,
                            counts_k: weight * way_k.abs(),
                        };
                    }
                    self.stale.push(e as u32);
                }
            }
        }
        worst
    }

    /// Looks up properties of elements whose temperature has moved.
    fn take_properties(&mut self) -> Result<(), SolveError> {
        for &e in &self.stale {
            let (element, temperature_c) = (ElementId::new(e as usize), self.at_c[e as usize]);
            let liquid = &self.liquids[self.network.graph[element].fluid];
            let properties = liquid.at(temperature_c);
            self.at[e as usize] = properties.map_err(|_| SolveError::TemperatureOutOfRange {
                element,
                temperature_c,
            })?;
        }
        self.stale.clear();
        Ok(())
    }

    /// Fills `wanted`; the largest difference from the caps that matters, kg/s.
    fn ask(&mut self) -> f64 {
        self.wanted.clear();
        let mut off = 0.0_f64;
        for (a, &cap) in self.asked.iter().zip(&self.caps) {
            let want = wanted(
                self.network,
                self.setting,
                a,
                cap,
                &self.flow,
                (&self.mean_cp, &self.liquids),
                &self.heats.found,
            );
            let flow = self.flow[element_of(self.network, a).index()];
            // a pump that stands asks for nothing
            if let Asked::Drop { pump, .. } = *a
                && self.hydraulics.running().curves[pump].is_none()
            {
                self.wanted.push(cap);
                continue;
            }
            // a cap above what flows is not at work; it may stand anywhere there, but not where it lets nothing through
            let lets = cap > 1e-9 * self.hydraulics.flows.largest;
            // and where something else is shut it stays where it is: growing without end it would upset the others
            if lets && flow == 0.0 {
                self.wanted.push(cap);
                continue;
            }
            let idle = lets && flow < cap * (1.0 - 1e-9) && want >= flow;
            if !idle {
                off = off.max((want - cap).abs());
            }
            self.wanted.push(want);
        }
        off
    }

    /// Puts back what another run left, so that the next does not depend on it.
    pub fn restore(&mut self, from: &Start) {
        let mut left = from.figures.as_slice();
        let mut next = |count: usize| {
            let (these, others) = left.split_at(count);
            left = others;
            these
        };
        let elements = self.at_c.len();
        self.at_c.copy_from_slice(next(elements));
        self.heats.forget();
        self.heats.begin(next(elements));
        let q = next(self.hydraulics.flows.q.len());
        self.mean_cp.copy_from_slice(next(elements));
        self.caps.copy_from_slice(next(from.caps));
        self.hydraulics.restore(q, left, &from.modes);
        self.broyden.clone_from(&from.broyden);
        self.stale.clear();
        self.stale.extend(0..elements as u32);
    }

    /// Takes flows and temperatures of a state of the same elements to start from; false if they are others.
    pub fn take(&mut self, near: &State) -> bool {
        let fits = near.flow_kg_s.len() == self.flow.len() && near.at_c.len() == self.at_c.len();
        if fits {
            self.hydraulics.take(&near.flow_kg_s);
            self.at_c.copy_from_slice(&near.at_c);
        }
        let known =
            fits && properties(self.network, &self.liquids, &self.at_c, &mut self.at).is_ok();
        if known {
            self.stale.clear();
            self.mean_cp.clear();
            self.mean_cp.extend(self.at.iter().map(|p| p.cp_j_kgk));
        }
        known
    }

    /// What a run may start from.
    pub fn start(&self) -> Start {
        let flows = &self.hydraulics.flows.q;
        let mut figures = Vec::with_capacity(3 * self.at_c.len() + 4 * flows.len());
        figures.extend_from_slice(&self.at_c);
        figures.extend(self.heats.begun());
        figures.extend_from_slice(flows);
        let positive_from = figures.len();
        figures.extend_from_slice(&self.mean_cp);
        figures.extend_from_slice(&self.caps);
        figures.extend(self.hydraulics.terms.learnt());
        Start {
            figures,
            positive_from,
            caps: self.caps.len(),
            broyden: self.broyden.clone(),
            modes: self.hydraulics.modes(),
        }
    }
}

/// What the next round will change if it goes on as from the one before to this one, with a margin of three.
fn foreseen(change: f64, before: f64) -> f64 {
    if before.is_finite() {
        change * (3.0 * change / before).min(1.0)
    } else {
        change
    }
}

/// Where properties are taken before heat is known: by side, bodies between.
fn start_temperatures(network: &Network, setting: &Setting) -> Vec<f64> {
    let of = |side: Option<Side>| match side {
        Some(Side::Flow) => Some(setting.flow_c),
        Some(Side::Return) => Some(setting.return_c),
        _ => None,
    };
    let middle = 0.5 * (setting.flow_c + setting.return_c);
    network
        .element_ids()
        .map(|id| {
            let (from, to) = network.ends(id);
            match (of(network.graph[from].side), of(network.graph[to].side)) {
                (Some(a), Some(b)) => 0.5 * (a + b),
                (Some(a), None) | (None, Some(a)) => a,
                (None, None) => middle,
            }
        })
        .collect()
}

fn properties(
    network: &Network,
    liquids: &[Liquid],
    at_c: &[f64],
    at: &mut Vec<Properties>,
) -> Result<(), SolveError> {
    at.clear();
    for id in network.element_ids() {
        let temperature_c = at_c[id.index()];
        let properties = liquids[network.element(id).fluid].at(temperature_c);
        at.push(properties.map_err(|_| SolveError::TemperatureOutOfRange {
            element: id,
            temperature_c,
        })?);
    }
    Ok(())
}
