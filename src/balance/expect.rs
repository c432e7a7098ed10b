//! What the unit's display and a clamp thermometer should read once everything is set: on the design day and on a mild
//! one, with what such instruments can tell.

use super::settle::Ground;
use crate::network::{Network, PumpControl};
use crate::solve::{Setting, SolveError, State};
use crate::view::running::{solve_blended, source_flow_m3_s};

/// What two clamp thermometers can tell of a difference once they were compared on one pipe, K.
pub const CLAMP_K: f64 = 0.5;
/// What one clamp on a clean metal pipe can tell of a temperature, K.
pub const CLAMP_ONE_K: f64 = 1.0;
/// What a unit's display can tell of a temperature, K, and of a flow, as a share.
pub const DISPLAY: (f64, f64) = (1.0, 0.05);
/// Where these figures are from.
pub const PRECISION_SOURCE: &str = "common practice, no source";

/// Outside temperature of the mild day, °C, and that at which no heat is needed: two points of the reference climate of
/// EN 14825 (from memory).
const MILD_C: f64 = 7.0;
const NO_HEAT_C: f64 = 16.0;
/// Share of the design heat on a mild day where the file gives no design day: between the two for −3 °C.
const MILD_SHARE: f64 = 0.47;

/// A mild day, or why none is shown.
#[derive(Clone, Debug, PartialEq)]
pub enum Mild {
    /// What is read on it.
    Day(Box<Day>),
    /// The design day is hardly colder.
    NotColder,
    /// No converged answer, or no flow temperature at which the rooms take just so much.
    NoAnswer,
}

/// What is read on one day.
#[derive(Clone, Debug, PartialEq)]
pub struct Day {
    /// °C outside, if known.
    pub outside_c: Option<f64>,
    /// Share of the design heat that the rooms take.
    pub share: f64,
    /// By source.
    pub sources: Vec<AtSource>,
    /// By emitter; `None` where no water moves.
    pub emitters: Vec<Option<AtEmitter>>,
    /// The whole state.
    pub solved: State,
}

/// What a unit's display should read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AtSource {
    /// Index into `Network::sources`.
    pub source: usize,
    /// °C.
    pub flow_c: f64,
    /// °C.
    pub return_c: f64,
    /// m³/s.
    pub flow_m3_s: f64,
    /// W.
    pub output_w: f64,
}

/// What clamps on an emitter's two tails should read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AtEmitter {
    /// °C.
    pub in_c: f64,
    /// °C.
    pub out_c: f64,
    /// kg/s.
    pub flow_kg_s: f64,
    /// W.
    pub heat_w: f64,
}

impl AtEmitter {
    /// Difference of the two, K.
    pub fn drop_k(&self) -> f64 {
        self.in_c - self.out_c
    }
}

/// The readings in a state.
pub(super) fn day(network: &Network, solved: State, share: f64, outside_c: Option<f64>) -> Day {
    let sources = network.sources.iter().enumerate().filter_map(|(i, _)| {
        let s = solved.sources[i];
        Some(AtSource {
            source: i,
            flow_c: s.flow_c?,
            return_c: s.return_c?,
            flow_m3_s: source_flow_m3_s(network, i, &solved),
            output_w: s.output_w,
        })
    });
    let emitters = network.emitters.iter().map(|e| {
        let b = e.body.index();
        Some(AtEmitter {
            in_c: solved.in_c[b]?,
            out_c: solved.out_c[b]?,
            flow_kg_s: solved.flow_kg_s[b],
            heat_w: solved.heat_w[b],
        })
    });
    Day {
        outside_c,
        share,
        sources: sources.collect(),
        emitters: emitters.collect(),
        solved,
    }
}

/// A mild day: the flow temperature at which all emitters together give that day's share of their duty, heads open.
pub(super) fn mild(ground: &Ground<'_>, setting: &Setting, design: &State) -> Mild {
    let network = ground.network;
    let outside = network.design.outside_c;
    let share = match outside {
        Some(cold) if cold >= MILD_C - 2.0 => return Mild::NotColder,
        Some(cold) => (NO_HEAT_C - MILD_C) / (NO_HEAT_C - cold),
        None => MILD_SHARE,
    };
    let asked: Vec<usize> = (0..network.emitters.len())
        .filter(|&i| ground.required.emitters[i].flow_kg_s > 0.0)
        .collect();
    let duty = |&i: &usize| network.emitters[i].duty_w;
    let wanted_w: f64 = share * asked.iter().map(duty).sum::<f64>();
    let given = |solved: &State| -> f64 {
        let heat = |&i: &usize| solved.heat_w[network.emitters[i].body.index()];
        asked.iter().map(heat).sum()
    };
    let made = design.sources.iter().filter_map(|s| s.flow_c);
    let warmest = made.fold(f64::NEG_INFINITY, f64::max);
    let rooms = network.rooms.iter().map(|r| r.temperature_c);
    let (mut low, mut high) = (rooms.fold(f64::INFINITY, f64::min) + 2.0, warmest);
    // where no source makes heat nothing is warmer than the rooms
    if high <= low || given(design) < wanted_w {
        return Mild::NoAnswer;
    }
    // heat rises with the flow temperature; halving to a hundredth of a kelvin
    let mut best = None;
    while high - low > 0.01 {
        let middle = 0.5 * (low + high);
        let Ok(solved) = at(ground, setting, middle) else {
            return Mild::NoAnswer;
        };
        if given(&solved) < wanted_w {
            low = middle;
        } else {
            high = middle;
            best = Some(solved);
        }
    }
    best.map_or(Mild::NoAnswer, |solved| {
        let outside_c = outside.map(|_| MILD_C);
        Mild::Day(Box::new(day(network, solved, share, outside_c)))
    })
}

/// The house as it was set, at another flow temperature.
fn at(ground: &Ground<'_>, setting: &Setting, flow_c: f64) -> Result<State, SolveError> {
    let network = ground.network;
    let mut mild = setting.clone();
    // a unit that holds a drop goes on doing so
    for (control, pump) in mild.control.iter_mut().zip(&network.pumps) {
        if let PumpControl::HeldToDrop { .. } = pump.mode {
            *control = pump.mode;
        }
    }
    mild.return_c += flow_c - mild.flow_c;
    mild.flow_c = flow_c;
    mild.sources.iter_mut().for_each(|s| s.flow_c = flow_c);
    // a mixing set that gets nothing warmer than it is set to stands open: all of its water comes from the house
    for manifold in &network.manifolds {
        if let Some(blend) = manifold.blend.filter(|b| b.set_c >= flow_c) {
            let flow = |&i: &usize| ground.required.emitters[i].flow_kg_s;
            mild.held_kg_s[blend.inlet.index()] = Some(manifold.emitters.iter().map(flow).sum());
        }
    }
    solve_blended(network, &mut mild)
}
