//! What a solve returns: a converged state with its counters, or the reason why there is none.

use crate::network::{ElementId, PlaceId};

/// A converged state. Element vectors are indexed by element, place vectors by place.
#[derive(Clone, Debug, PartialEq)]
pub struct State {
    /// Mass flow, kg/s, positive from `from` to `to`.
    pub flow_kg_s: Vec<f64>,
    /// p(from) − p(to), Pa, tee losses included; `None` across a shut element whose sides are not otherwise joined.
    pub dp_pa: Vec<Option<f64>>,
    /// Share of `dp_pa` that comes from tees by flow split, Pa.
    pub tee_dp_pa: Vec<f64>,
    /// Pressure above the reference place, Pa; `None` where nothing joins a place to the reference.
    pub pressure_pa: Vec<Option<f64>>,
    /// Temperature of the water that mixes at a place, °C; `None` without inflow or if heat was not solved.
    pub place_c: Vec<Option<f64>>,
    /// Temperature where the water enters an element (in flow direction), °C.
    pub in_c: Vec<Option<f64>>,
    /// Temperature where it leaves, °C.
    pub out_c: Vec<Option<f64>>,
    /// Heat given off, W; negative for a source.
    pub heat_w: Vec<f64>,
    /// Temperature at which an element's fluid properties were taken, °C: the mean of inlet and outlet where it flows.
    pub at_c: Vec<f64>,
    /// By pump.
    pub pumps: Vec<PumpState>,
    /// By source.
    pub sources: Vec<SourceState>,
    /// Work done.
    pub stats: Stats,
}

/// A pump at its operating point.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PumpState {
    /// Flow, m³/s at the pump's own temperature.
    pub flow_m3_s: f64,
    /// Pressure added, Pa.
    pub head_pa: f64,
    /// Share of full speed.
    pub speed: f64,
    /// The control asked for more than the curve gives at full speed, or for less than it can.
    pub limited: bool,
}

/// A source at its operating point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SourceState {
    /// Heat put into the water, W.
    pub output_w: f64,
    /// Flow temperature made, °C.
    pub flow_c: Option<f64>,
    /// Return temperature, °C.
    pub return_c: Option<f64>,
    /// What holds it where it is.
    pub limit: SourceLimit,
}

/// What decides a source's output.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SourceLimit {
    /// The house takes what it gives off at the flow temperature aimed at.
    FlowTemperature,
    /// Its output is reached; the flow temperature has fallen until heat equals output.
    Output,
    /// The house takes less than its least output: it cycles.
    LeastOutput,
    /// The water it gets is warmer than its flow temperature: it gives nothing until that changes.
    WarmReturn,
    /// It does not run or has no flow.
    Idle,
}

/// Counters of the work of a solve; tests pin them, so that a change that costs iterations shows.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Stats {
    /// Newton steps of the hydraulics, over all rounds.
    pub iterations: u32,
    /// Steps that were shortened.
    pub step_halvings: u32,
    /// Rounds between hydraulics and heat.
    pub heat_rounds: u32,
    /// Changes of one-way elements, holders and controls between their modes.
    pub switches: u32,
}

/// Why there is no answer. Every exit has a place in the user's file, a number and a remedy.
#[derive(Clone, Debug, PartialEq)]
pub enum SolveError {
    /// No running pump or held flow moves any water (all stand, or every way is shut): a physical refusal.
    NothingMoves,
    /// A flow is held that the network cannot carry, e.g. through a shut branch.
    HeldFlowImpossible {
        /// Where.
        element: ElementId,
        /// kg/s that cannot go anywhere.
        flow_kg_s: f64,
    },
    /// Two held flows or pumps contradict each other at a place.
    Contradiction {
        /// Where.
        place: PlaceId,
        /// kg/s that do not balance.
        imbalance_kg_s: f64,
    },
    /// The iteration ended without meeting its tolerance.
    NotConverged {
        /// Element with the largest residual.
        element: ElementId,
        /// Its residual, Pa.
        residual_pa: f64,
        /// Iterations spent.
        iterations: u32,
    },
    /// A figure became infinite or not a number.
    NotFinite {
        /// Element where it was first met.
        element: ElementId,
    },
    /// Heat and flow do not settle together.
    HeatNotConverged {
        /// Largest change of temperature in the last round, K.
        change_k: f64,
        /// Rounds spent.
        rounds: u32,
    },
    /// A temperature left the range in which the fluid's properties are known.
    TemperatureOutOfRange {
        /// Where.
        element: ElementId,
        /// °C.
        temperature_c: f64,
    },
}
