//! The two ways to look at a house, always both: what the emitters' duty requires of every pipe, and how the house
//! runs with its pump, valves and source as they are.

mod capacity;
mod demand;
pub mod limits;
mod losses;
mod march;
mod paths;
mod reach;
pub mod required;
pub mod running;
mod sums;

pub(crate) use capacity::{RunFigures, run_figures};
pub(crate) use losses::{by_group, in_pipe, properties};
pub(crate) use required::look;
pub use required::required;
pub use running::{lockshields, running};
pub(crate) use sums::blocks;

use crate::network::{ElementId, Network, PartGroup};
use crate::solve::State;

/// The required view of one house state: emitters at duty/(cp·drop), pipes carry the sums.
#[derive(Clone, Debug, PartialEq)]
pub struct Required {
    /// Index into `Network::states`.
    pub state: usize,
    /// By element, kg/s; zero where nothing is required.
    pub flow_kg_s: Vec<f64>,
    /// By element, loss in the direction of flow, Pa, tee loss included; negative where a side stream gains.
    pub loss_pa: Vec<f64>,
    /// By element, the share of `loss_pa` that comes from tees.
    pub tee_loss_pa: Vec<f64>,
    /// By element, temperature at which properties were taken, °C.
    pub temperature_c: Vec<f64>,
    /// By element, temperature where the water enters and leaves it in flow direction, °C; pipes lose no heat here.
    pub ends_c: Vec<Option<(f64, f64)>>,
    /// By emitter: what it gets and asks for.
    pub emitters: Vec<EmitterAsks>,
    /// By four-port or three-port vessel: what it mixes.
    pub mixing: Vec<Mixing>,
    /// By source: what its flow follows from.
    pub basis: Vec<FlowBasis>,
    /// One per pumped circuit: the source's, a vessel's secondary, a blended manifold's, an exchanger's far side.
    pub circuits: Vec<PumpedCircuit>,
    /// By run: what it could carry.
    pub capacity: Vec<RunCapacity>,
}

/// What an emitter gets and asks for in the required view.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct EmitterAsks {
    /// Flow, kg/s; zero if it is shut off in this state.
    pub flow_kg_s: f64,
    /// Drop, K: the design's, or a result on a one-pipe loop.
    pub drop_k: f64,
    /// Flow temperature at its own inlet at which it gives its duty at this drop, °C; `None` for a fixed heat.
    pub inlet_c: Option<f64>,
    /// Rated output (or W/K of a floor) that would give its duty at the temperatures it gets here; `None` for a fixed
    /// heat, or where the water is not warmer than the room.
    pub rated: Option<f64>,
    /// Flow temperature at the source that this means, °C: `inlet_c` and what is lost on the way by mixing.
    pub source_c: Option<f64>,
}

/// What a vessel between two pumped sides mixes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mixing {
    /// Index into `Network::vessels`.
    pub vessel: usize,
    /// Flow of the primary side, kg/s.
    pub primary_kg_s: f64,
    /// Flow of the secondary side, kg/s.
    pub secondary_kg_s: f64,
    /// Flow and return of the primary side, °C.
    pub primary_c: (f64, f64),
    /// Flow and return of the secondary side, °C.
    pub secondary_c: (f64, f64),
    /// How much lower the secondary's flow temperature is than the primary's, K.
    pub lost_on_flow_k: f64,
    /// How much lower the mean of flow and return is on the secondary side, K: what the emitters feel.
    pub lost_on_mean_k: f64,
}

/// Why a source's circuit carries the flow that it does.
#[derive(Clone, Debug, PartialEq)]
pub struct FlowBasis {
    /// Sum of room needs, W.
    pub rooms_w: f64,
    /// Declared building load, W.
    pub load_w: Option<f64>,
    /// Maker's nominal flow, kg/s.
    pub nominal_kg_s: Option<f64>,
    /// Flow used, kg/s.
    pub flow_kg_s: f64,
    /// Drop across the source at which that flow brings what the rooms need, K: the design's, unless emitters with drops
    /// of their own or blended manifolds draw another flow. Zero without flow.
    pub drop_k: f64,
    /// Which of them is the largest and was used.
    pub used: BasisUsed,
}

/// The candidates of [`FlowBasis`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BasisUsed {
    /// Sum of room needs.
    Rooms,
    /// Declared building load.
    Load,
    /// Maker's nominal flow.
    Nominal,
    /// The unit's full output (hot water).
    Output,
    /// A pump held to a flow.
    HeldFlow,
}

/// A circuit with a pump of its own, as required.
#[derive(Clone, Debug, PartialEq)]
pub struct PumpedCircuit {
    /// Index into `Network::pumps`; `None` if the circuit has no pump.
    pub pump: Option<usize>,
    /// `heat pump`, `buffer secondary`.
    pub name: String,
    /// Flow through the pump, kg/s and m³/s at its own temperature.
    pub flow_kg_s: f64,
    /// m³/s.
    pub flow_m3_s: f64,
    /// Every way from the pump through one emitter (coil, vessel …) and back, in the order of emitters.
    pub paths: Vec<Path>,
    /// Index into `paths` of the one that needs most: the index circuit.
    pub index: usize,
    /// Head needed at `flow`: the index path's loss, Pa.
    pub needed_pa: f64,
    /// Head that the pump gives at `flow` and full speed (or in its mode's bound), Pa; `None` if no curve is known.
    pub available_pa: Option<f64>,
    /// What each design drop lets the whole circuit carry: (drop in K, W, which limit bites).
    pub carries: Vec<(f64, f64, Bites)>,
}

/// One way round a pumped circuit.
#[derive(Clone, Debug, PartialEq)]
pub struct Path {
    /// What it goes through.
    pub through: Through,
    /// Elements in flow order from the pump back to it; true if passed from `from` to `to`.
    pub elements: Vec<(ElementId, bool)>,
    /// Loss, Pa: exactly the sum of `breakdown`.
    pub loss_pa: f64,
    /// By group, Pa; groups without loss are left out.
    pub breakdown: Vec<(PartGroup, f64)>,
}

/// What a path goes through at its far end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Through {
    /// Index into `emitters`.
    Emitter(usize),
    /// Index into `cylinders`.
    Cylinder(usize),
    /// Index into `vessels`.
    Vessel(usize),
    /// Index into `manifolds`: the primary side of a blended one.
    Manifold(usize),
    /// Index into `exchangers`: the near side.
    Exchanger(usize),
    /// Index into `bypasses`.
    Bypass(usize),
}

impl Through {
    /// The user's name of it; empty where the network has no such thing.
    pub fn name(self, network: &Network) -> String {
        let name = match self {
            Self::Emitter(i) => network.emitters.get(i).map(|x| &x.name),
            Self::Cylinder(i) => network.cylinders.get(i).map(|x| &x.name),
            Self::Vessel(i) => network.vessels.get(i).map(|x| &x.name),
            Self::Manifold(i) => network.manifolds.get(i).map(|x| &x.name),
            Self::Exchanger(i) => network.exchangers.get(i).map(|x| &x.name),
            Self::Bypass(i) => network.bypasses.get(i).map(|x| &x.name),
        };
        name.cloned().unwrap_or_default()
    }
}

/// What one run could carry at several drops.
#[derive(Clone, Debug, PartialEq)]
pub struct RunCapacity {
    /// Index into `Network::runs`.
    pub run: usize,
    /// Heat that it carries as required, W.
    pub duty_w: f64,
    /// Loss along it as required, Pa.
    pub loss_pa: f64,
    /// Velocity in its pipe, m/s.
    pub velocity_m_s: f64,
    /// Friction gradient in its pipe, Pa/m.
    pub gradient_pa_m: f64,
    /// Reynolds number in its pipe.
    pub reynolds: f64,
    /// For 5, 7 and 10 K: (drop in K, W by the velocity limit, W by the gradient limit, W by the head left for it).
    pub carries: Vec<(f64, f64, f64, Option<f64>)>,
}

/// Which limit bites first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bites {
    /// The pump's head.
    Head,
    /// Velocity in a run, by index.
    Velocity(usize),
    /// Gradient in a run, by index (only if the file makes it a limit).
    Gradient(usize),
    /// The source's greatest flow.
    SourceFlow,
}

/// How the house runs in one state.
#[derive(Clone, Debug, PartialEq)]
pub struct Running {
    /// Index into `Network::states`.
    pub state: usize,
    /// Flow, pressure and temperature everywhere.
    pub solved: State,
    /// By emitter.
    pub emitters: Vec<EmitterResult>,
    /// By emitter: kv at which its lockshield stands, and where that is from.
    pub lockshields: Vec<(Option<f64>, LockshieldFrom)>,
    /// By four-port or three-port vessel: what it mixes; left out where a side stands still.
    pub mixing: Vec<Mixing>,
}

/// What an emitter does as the house runs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EmitterResult {
    /// kg/s, positive in the designed direction.
    pub flow_kg_s: f64,
    /// °C.
    pub in_c: Option<f64>,
    /// °C.
    pub out_c: Option<f64>,
    /// Heat given, W.
    pub heat_w: f64,
    /// Heat needed of it, W.
    pub need_w: f64,
    /// Pressure difference across its valve, Pa.
    pub valve_dp_pa: Option<f64>,
}

/// Where a lockshield's setting is from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LockshieldFrom {
    /// Given in the file.
    File,
    /// As balancing would set it.
    Balanced,
    /// Fully open.
    Open,
    /// There is none.
    None,
}
