//! Where an overflow valve can be set: above the pressure of every combination that is fine without it, low enough to
//! hold the least flow in the worst one.

use super::enumerate::Combinations;
use super::sets::Mask;
use super::state::{answer, read, with_shut};
use super::valves::Closable;
use crate::network::{Element, ElementId, Heat, Law, Network, PlaceId, Role};
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
/// Halvings of a search for a pressure or kv: 40 of them reach 1e-12 of the start.
const HALVINGS: usize = 40;

/// A network in which an overflow valve stands between two places.
pub fn with_valve(
    network: &Network,
    between: (PlaceId, PlaceId),
    kv_m3h: f64,
) -> (Network, ElementId) {
    let mut network = network.clone();
    let fluid = network
        .graph
        .edges(between.0)
        .next()
        .map_or(0, |edge| edge.weight().fluid);
    let id = network.graph.add_edge(
        between.0,
        between.1,
        Element {
            name: "overflow valve (thought of)".to_owned(),
            role: Role::Bypass,
            law: Law::OneWay {
                opening_pa: 1e9,
                kv_m3h,
            },
            open: true,
            heat: Heat::None,
            fluid,
            run: None,
            volume_m3: 0.0,
            span: None,
        },
    );
    (network, id)
}

/// Looks for the window of settings of one valve.
///
/// `network` holds the valve as element `valve`; `base` is the setting with everything open.
///
/// # Errors
/// What stops the solver.
pub fn window(
    network: &Network,
    base: &Setting,
    valves: &[Closable],
    found: &Combinations,
    valve: ElementId,
    stands: Stands,
    kv_m3h: f64,
) -> Result<Option<Window>, SolveError> {
    let Some(worst) = found.worst().filter(|w| w.trips()) else {
        return Ok(None);
    };
    let solver = Solver::new(network);
    let mut base = base.clone();
    base.shut.resize(network.graph.edge_count(), false);
    base.held_kg_s.resize(network.graph.edge_count(), None);
    // the highest pressure of any combination that is fine without it
    let mut above_pa: f64 = 0.0;
    base.shut[valve.index()] = true;
    for fine in found.facts.iter().filter(|f| !f.trips()) {
        let setting = with_shut(&base, valves, fine.shut);
        let state = answer(network, &solver, &setting)?;
        if let (Some(a), Some(b)) = across(network, valve, &state.pressure_pa) {
            above_pa = above_pa.max(a - b);
        }
    }
    base.shut[valve.index()] = false;
    let margin = |opening_pa: f64, kv_m3h: f64| -> Result<f64, SolveError> {
        let mut setting = with_shut(&base, valves, worst.shut);
        setting
            .law
            .insert(valve, Law::OneWay { opening_pa, kv_m3h });
        match answer(network, &solver, &setting) {
            Ok(state) => Ok(read(network, &setting, &state, worst.shut).margin),
            Err(SolveError::NothingMoves) => Ok(-1.0),
            Err(error) => Err(error),
        }
    };
    let below_pa = if margin(0.0, kv_m3h)? < 0.0 {
        None
    } else {
        // the flow falls as the setting rises: halve between open and a setting that never opens
        let (mut low, mut high) = (0.0, 500_000.0);
        for _ in 0..HALVINGS {
            let middle = 0.5 * (low + high);
            if margin(middle, kv_m3h)? >= 0.0 {
                low = middle
            } else {
                high = middle
            }
        }
        Some(low)
    };
    let kv_needed_m3h = if margin(above_pa, GREATEST_KV)? < 0.0 {
        None
    } else {
        let (mut low, mut high) = (0.0, GREATEST_KV);
        for _ in 0..HALVINGS {
            let middle = 0.5 * (low + high);
            if margin(above_pa, middle)? >= 0.0 {
                high = middle
            } else {
                low = middle
            }
        }
        Some(high)
    };
    let mut leak = None;
    if let Some(below_pa) = below_pa {
        let mut setting = base.clone();
        setting.law.insert(
            valve,
            Law::OneWay {
                opening_pa: below_pa,
                kv_m3h,
            },
        );
        let state = answer(network, &solver, &setting)?;
        let source = network
            .sources
            .iter()
            .zip(&setting.sources)
            .find(|(_, s)| s.runs);
        leak = source.map(|(source, _)| {
            let body = source.body.index();
            let share =
                state.flow_kg_s[valve.index()].abs() / state.flow_kg_s[body].abs().max(1e-12);
            (share, state.in_c[body])
        });
    }
    Ok(Some(Window {
        stands,
        kv_m3h,
        above_pa,
        below_pa,
        worst: worst.shut,
        kv_needed_m3h,
        leak,
    }))
}

fn across(
    network: &Network,
    valve: ElementId,
    pressure_pa: &[Option<f64>],
) -> (Option<f64>, Option<f64>) {
    let (from, to) = network.ends(valve);
    (pressure_pa[from.index()], pressure_pa[to.index()])
}
