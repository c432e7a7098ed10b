//! Where an overflow valve can be set: above the pressure of every combination that is fine without it, low enough to
//! hold the least flow in the worst one.

use super::edge::narrow;
use super::enumerate::{Asked, Combinations, Extent, Reached, combinations};
use super::sets::Mask;
use super::state::{Facts, read, with_shut};
use super::valves::Closable;
use crate::network::{
    Element, ElementId, Heat, Law, Network, PlaceId, PumpControl, PumpCurve, Role,
};
use crate::solve::{Setting, SolveError, Solver};

/// Where an overflow valve stands.
#[derive(Clone, Debug, PartialEq)]
pub enum Stands {
    /// In the file, by its name.
    File(String),
    /// Thought of, at the first place after the source.
    FirstPlace(String),
    /// Thought of, at the far end of the index circuit.
    FarEnd(String),
}

/// What came of looking for a setting.
#[derive(Clone, Debug, PartialEq)]
pub struct Window {
    /// Where the valve stands.
    pub stands: Stands,
    /// Its kv, m³/h.
    pub kv_m3h: f64,
    /// Highest pressure difference there in any combination that is fine without it, Pa: the setting must be above.
    pub above_pa: f64,
    /// Setting under which the worst combination holds the least flow, Pa; `None` if not even a valve that is always
    /// open holds it.
    pub below_pa: Option<f64>,
    /// The worst combination.
    pub worst: Mask,
    /// Kv from which there is a window, m³/h; `None` if none up to [`GREATEST_KV`] does.
    pub kv_needed_m3h: Option<f64>,
    /// At the highest allowed setting with everything open: share of the source's flow that leaks, and the return
    /// temperature it makes, °C.
    pub leak: Option<(f64, Option<f64>)>,
    /// Changes that open a window where there is none.
    pub remedies: Vec<Remedy>,
}

/// A change that opens a window.
#[derive(Clone, Debug, PartialEq)]
pub struct Remedy {
    /// What is changed.
    pub change: Change,
    /// The window then, Pa; `None` if no combination trips any more, so that no overflow valve is needed.
    pub window_pa: Option<(f64, f64)>,
}

/// Changes that are tried.
#[derive(Clone, Debug, PartialEq)]
pub enum Change {
    /// This valve (by index) never shuts.
    OneMoreOpen(usize),
    /// The source's pump is run so.
    Pump(PumpControl),
}

impl Window {
    /// Width of the window, Pa; `None` if it is empty.
    pub fn width_pa(&self) -> Option<f64> {
        self.below_pa
            .map(|below| below - self.above_pa)
            .filter(|width| *width > 0.0)
    }
}

/// Largest kv that is looked at: beyond it a valve is a pipe.
pub const GREATEST_KV: f64 = 60.0;
/// Kv of a valve that is only thought of, m³/h (common practice, no source: an automatic bypass of 22 mm).
pub const USUAL_KV: f64 = 3.0;
/// Widest opening pressure that is looked at, Pa: no circulator of a house adds half of it.
const MOST_PA: f64 = 500_000.0;
/// A search ends within this share of what it began with.
const CLOSE: f64 = 1e-7;
/// Emitters of which it is tried whether one more always open opens a window.
const TRIED: usize = 4;
/// Combinations up to which other pump modes are tried, each with all combinations anew.
const MODES_UP_TO: usize = 4096;

/// A network in which overflow valves stand, each between two places.
pub fn with_valves(
    network: &Network,
    between: impl Iterator<Item = (PlaceId, PlaceId)>,
) -> (Network, Vec<ElementId>) {
    let mut network = network.clone();
    let mut valves = Vec::new();
    for (from, to) in between {
        let fluid = network
            .graph
            .edges(from)
            .next()
            .map_or(0, |edge| edge.weight().fluid);
        let valve = Element {
            name: "overflow valve (thought of)".to_owned(),
            role: Role::Bypass,
            law: Law::OneWay {
                opening_pa: MOST_PA,
                kv_m3h: USUAL_KV,
            },
            open: true,
            heat: Heat::None,
            fluid,
            run: None,
            volume_m3: 0.0,
            span: None,
        };
        valves.push(network.graph.add_edge(from, to, valve));
    }
    (network, valves)
}

/// Where a window is looked for.
pub struct Spot<'a> {
    /// The house with the valve in it.
    pub network: &'a Network,
    /// Ready for that house.
    pub solver: &'a Solver<'a>,
    /// Everything open, for that house; the valve itself not shut.
    pub base: &'a Setting,
    /// What can close.
    pub valves: &'a [Closable],
    /// Combinations solved without the valve, pressures at this spot among them.
    pub found: &'a Combinations,
    /// Which of their spots this is.
    pub spot: usize,
    /// The valve.
    pub valve: ElementId,
    /// Its kv, m³/h.
    pub kv_m3h: f64,
}

/// Adds room for the elements that a network has beyond those of a setting.
pub fn fitted(network: &Network, base: &Setting) -> Setting {
    let mut base = base.clone();
    base.shut.resize(network.graph.edge_count(), false);
    base.held_kg_s.resize(network.graph.edge_count(), None);
    base
}

/// Looks for the window of settings of one valve; `None` where no combination trips without it.
///
/// # Errors
/// What stops the solver.
pub fn window(at: &Spot<'_>, stands: Stands) -> Result<Option<Window>, SolveError> {
    let Some(worst) = at.found.worst().filter(|w| w.trips()) else {
        return Ok(None);
    };
    let kv_m3h = at.kv_m3h;
    let above = |valve: usize| at.found.tally.above_pa.get(at.spot)?.get(valve).copied()?;
    let above_pa = above(0).unwrap_or(0.0).max(0.0);
    let below_pa = at.below(worst, kv_m3h)?;
    let kv_needed_m3h = at.kv_needed(worst, above_pa)?;
    let leak = match below_pa {
        Some(below_pa) => at.leak(below_pa, kv_m3h)?,
        None => None,
    };
    let mut window = Window {
        stands,
        kv_m3h,
        above_pa,
        below_pa,
        worst: worst.shut,
        kv_needed_m3h,
        leak,
        remedies: Vec::new(),
    };
    if window.width_pa().is_some() {
        return Ok(Some(window));
    }
    // one more emitter always open, those that avert most trips first
    let tally = &at.found.tally;
    let mut order: Vec<usize> = (0..at.valves.len()).collect();
    order.sort_by_key(|v| (tally.trips_with_open[*v], *v));
    for valve in order.into_iter().take(TRIED) {
        let change = Change::OneMoreOpen(valve);
        match tally.worst_with_open[valve].filter(Facts::trips) {
            None => window.remedies.push(Remedy {
                change,
                window_pa: None,
            }),
            Some(worst) => {
                let from_pa = above(valve + 1).unwrap_or(0.0).max(0.0);
                if let Some(to_pa) = at.below(&worst, kv_m3h)?.filter(|to| *to > from_pa) {
                    window.remedies.push(Remedy {
                        change,
                        window_pa: Some((from_pa, to_pa)),
                    });
                }
            }
        }
    }
    if at.found.reached == Reached::All && tally.solved <= MODES_UP_TO {
        at.other_modes(&mut window.remedies)?;
    }
    Ok(Some(window))
}

impl Spot<'_> {
    fn margin(&self, shut: Mask, opening_pa: f64, kv_m3h: f64) -> Result<f64, SolveError> {
        let mut setting = with_shut(self.base, self.valves, shut);
        let law = Law::OneWay { opening_pa, kv_m3h };
        setting.law.insert(self.valve, law);
        match self.solver.solve(&setting) {
            Ok(state) => Ok(read(self.network, &setting, &state, shut).margin),
            Err(SolveError::NothingMoves) => Ok(-1.0),
            Err(error) => Err(error),
        }
    }

    /// Highest setting that holds the least flow in a combination; the flow falls as the setting rises.
    fn below(&self, worst: &Facts, kv_m3h: f64) -> Result<Option<f64>, SolveError> {
        let open = self.margin(worst.shut, 0.0, kv_m3h)?;
        if open < 0.0 {
            return Ok(None);
        }
        // above what the pump gives there without it, the valve stays shut
        let mut most_pa = 1.01 * worst.head_pa + 1.0;
        let mut shut = self.margin(worst.shut, most_pa, kv_m3h)?;
        if shut >= 0.0 {
            most_pa = MOST_PA;
            shut = self.margin(worst.shut, most_pa, kv_m3h)?;
            if shut >= 0.0 {
                return Ok(Some(most_pa));
            }
        }
        let (low, _) = narrow((0.0, open), (most_pa, shut), CLOSE * MOST_PA, &mut |pa| {
            self.margin(worst.shut, pa, kv_m3h)
        })?;
        Ok(Some(low))
    }

    /// Least kv with which a valve that opens at `above_pa` holds the least flow in a combination.
    fn kv_needed(&self, worst: &Facts, above_pa: f64) -> Result<Option<f64>, SolveError> {
        let wide = self.margin(worst.shut, above_pa, GREATEST_KV)?;
        if wide < 0.0 {
            return Ok(None);
        }
        let none = (0.0, worst.margin.min(-1e-9));
        let (enough, _) = narrow((GREATEST_KV, wide), none, CLOSE * GREATEST_KV, &mut |kv| {
            self.margin(worst.shut, above_pa, kv)
        })?;
        Ok(Some(enough))
    }

    /// Share of the source's flow that a setting lets through with everything open, and the source's return, °C.
    fn leak(&self, opening_pa: f64, kv_m3h: f64) -> Result<Option<(f64, Option<f64>)>, SolveError> {
        let mut setting = self.base.clone();
        let law = Law::OneWay { opening_pa, kv_m3h };
        setting.law.insert(self.valve, law);
        leak(self.network, self.solver, &setting, self.valve)
    }

    /// Tries other ways to run the source's pump.
    fn other_modes(&self, remedies: &mut Vec<Remedy>) -> Result<(), SolveError> {
        let running = self.network.sources.iter().zip(&self.base.sources);
        let pump = running.filter(|(_, s)| s.runs).find_map(|(s, _)| s.pump);
        let Some(pump) = pump else {
            return Ok(());
        };
        let mut shut = self.base.clone();
        shut.shut[self.valve.index()] = true;
        let open = self.solver.solve(&shut)?;
        let head_pa = open.pumps[pump].head_pa;
        let at_m3h = open.pumps[pump].flow_m3_s * 3600.0;
        let head_pa = match &self.network.element(self.network.pumps[pump].element).law {
            // what the curve gives at rest bounds what can be asked
            Law::Pump(PumpCurve::Points(points)) => {
                head_pa.min(points.first().map_or(head_pa, |p| p.1))
            }
            _ => head_pa,
        };
        for control in [
            PumpControl::FixedSpeed(1.0),
            PumpControl::ConstantHead(head_pa),
            PumpControl::ProportionalHead { head_pa, at_m3h },
        ] {
            let same = std::mem::discriminant(&control)
                == std::mem::discriminant(&self.base.control[pump]);
            if same || head_pa <= 0.0 || at_m3h <= 0.0 {
                continue;
            }
            let mut base = shut.clone();
            base.control[pump] = control;
            let Ok(found) = combinations(&Asked {
                network: self.network,
                base: &base,
                valves: self.valves,
                spots: &[self.valve],
                keep: false,
                sets: false,
                extent: Extent::default(),
                progress: &|_, _| {},
                interrupted: &|| false,
            }) else {
                continue;
            };
            // what has no answer proves nothing
            if !found.tally.unanswered.is_empty() {
                continue;
            }
            let open_trips = found.tally.levels.first();
            if open_trips.is_some_and(|l| l.is_some_and(|l| l.tripping > 0)) {
                continue;
            }
            let change = Change::Pump(control);
            let Some(worst) = found.worst().copied().filter(Facts::trips) else {
                remedies.push(Remedy {
                    change,
                    window_pa: None,
                });
                continue;
            };
            base.shut[self.valve.index()] = false;
            let there = Spot {
                base: &base,
                found: &found,
                spot: 0,
                ..*self
            };
            let from_pa = found.tally.above_pa[0][0].unwrap_or(0.0).max(0.0);
            if let Some(to_pa) = there.below(&worst, self.kv_m3h)?.filter(|to| *to > from_pa) {
                remedies.push(Remedy {
                    change,
                    window_pa: Some((from_pa, to_pa)),
                });
            }
        }
        Ok(())
    }
}

/// Share of the running source's flow that goes through `valve`, and the source's return, °C.
///
/// # Errors
/// What stops the solver.
pub fn leak(
    network: &Network,
    solver: &Solver<'_>,
    setting: &Setting,
    valve: ElementId,
) -> Result<Option<(f64, Option<f64>)>, SolveError> {
    let state = solver.solve(setting)?;
    let source = network
        .sources
        .iter()
        .zip(&setting.sources)
        .find(|(_, s)| s.runs);
    Ok(source.map(|(source, _)| {
        let body = source.body.index();
        let share = state.flow_kg_s[valve.index()].abs() / state.flow_kg_s[body].abs().max(1e-12);
        (share, state.in_c[body])
    }))
}
