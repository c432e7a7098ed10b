//! The house as a graph of physical elements between places: everything resolved, SI units, flow side and return side
//! both explicit, every element knowing the line it came from.
//!
//! No names to look up, no defaults, no nominal sizes are left here: `expand` made them from a survey, or `reference`
//! from a solved case in JSON, and everything downstream sees only this. Nothing is ever removed from the graph, so
//! indices are dense: element `i` is row `i` of every vector of a state.

mod blank;
mod case_runs;
mod design;
mod doubt;
mod expand;
mod house;
pub mod reference;
mod setter;

pub use design::{Design, Year};
pub use doubt::{Alternative, Doubt, Follow, RunPipe};
pub use expand::{expand, floor_w_m2k};
pub use house::{
    Blend, Bypass, Cylinder, Emitter, Exchanger, HeatLaw, HouseState, Manifold, OnePipe,
    PumpControl, PumpInfo, Room, Run, RunKind, Source, StateKind, Tee, Vessel, VesselKind, Zone,
};

pub use setter::{Known, Reading, Setter, SetterKind, ValveTable};

use crate::diag::Span;
use crate::survey::{Assumed, Mean, Side, Units};
use petgraph::graph::{DiGraph, EdgeIndex, NodeIndex};

/// A place: index of a node.
pub type PlaceId = NodeIndex<u32>;
/// An element: index of an edge. `id.index()` is its row in every vector of a state.
pub type ElementId = EdgeIndex<u32>;

/// The whole house, ready to solve.
#[derive(Clone, Debug)]
pub struct Network {
    /// Title of the job; a name of ours if the file gives none.
    pub title: String,
    /// Places joined by elements; an edge points the way its flow counts as positive.
    pub graph: DiGraph<Place, Element, u32>,
    /// What flows; most houses have one, an exchanger adds one.
    pub fluids: Vec<FluidData>,
    /// One place per separate circuit whose pressure is fixed at zero (or as given), the first of each circuit.
    pub reference: Vec<(PlaceId, f64)>,
    /// Pipes as a person sees them: one per pipe of a written line.
    pub runs: Vec<Run>,
    /// Emitters, in file order.
    pub emitters: Vec<Emitter>,
    /// Rooms, in file order; every emitter with a room temperature belongs to one.
    pub rooms: Vec<Room>,
    /// Sources, in file order.
    pub sources: Vec<Source>,
    /// Every pump, a source's own included.
    pub pumps: Vec<PumpInfo>,
    /// Manifolds.
    pub manifolds: Vec<Manifold>,
    /// Volume vessels and low-loss headers.
    pub vessels: Vec<Vessel>,
    /// Cylinders.
    pub cylinders: Vec<Cylinder>,
    /// Plate exchangers.
    pub exchangers: Vec<Exchanger>,
    /// Overflow valves and other things across flow and return, by element.
    pub bypasses: Vec<Bypass>,
    /// Zones that can be shut by one valve.
    pub zones: Vec<Zone>,
    /// Valves' own tables of settings.
    pub valve_tables: Vec<ValveTable>,
    /// What was read in the house.
    pub readings: Vec<Reading>,
    /// Names of what was seen or measured in the house.
    pub evidence: Vec<(String, Known)>,
    /// Tees whose loss depends on how the flow splits.
    pub tees: Vec<Tee>,
    /// States of the house: the first is plain heating.
    pub states: Vec<HouseState>,
    /// What the file admits beside the likeliest.
    pub doubts: Vec<Doubt>,
    /// Temperatures and drop of the design.
    pub design: Design,
    /// Limits that the file changes: key and value in the unit of the key.
    pub limits: Vec<(String, f64)>,
    /// Every default used.
    pub assumed: Vec<Assumed>,
    /// Units to show results in.
    pub units: Units,
    /// Whether this is a reference case with constant fluid properties and excess on its own base.
    pub reference_case: bool,
}

/// Where elements meet.
#[derive(Clone, Debug, PartialEq)]
pub struct Place {
    /// Unique, in the user's words: `cupboard (flow)`.
    pub name: String,
    /// The user's own place, shared by its flow and its return node; `None` for a joint within a line.
    pub user: Option<String>,
    /// Side, where it is plain.
    pub side: Option<Side>,
}

/// A physical element.
#[derive(Clone, Debug, PartialEq)]
pub struct Element {
    /// Unique, in the user's words: `riser (flow)`, `lounge thermostatic valve`.
    pub name: String,
    /// What it is to the house.
    pub role: Role,
    /// How pressure falls along it.
    pub law: Law,
    /// Open; a shut element carries no flow and its pressure difference is free.
    pub open: bool,
    /// What it does to the water's temperature.
    pub heat: Heat,
    /// Index into `fluids`.
    pub fluid: usize,
    /// The run that it is part of.
    pub run: Option<usize>,
    /// Water in it, m³.
    pub volume_m3: f64,
    /// Its words in the file.
    pub span: Option<Span>,
}

/// What an element is to the house; decides its symbol and which checks look at it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// Pipe with its fittings and the devices met along it.
    Pipe,
    /// The unit's own water side.
    SourceBody,
    /// A pump.
    Pump,
    /// Thermostatic valve, actuator or manual valve of an emitter.
    EmitterValve,
    /// Lockshield.
    Lockshield,
    /// The emitter's body, or the pipe of a floor loop.
    EmitterBody,
    /// A diverter's or zone's valve, or a manifold's port.
    Valve,
    /// Check valve.
    CheckValve,
    /// Overflow valve across flow and return.
    Bypass,
    /// Flow-holding valve.
    FlowHolder,
    /// Vessel, header or the short piece between its ports.
    Vessel,
    /// Cylinder coil.
    Coil,
    /// One side of a plate exchanger.
    ExchangerSide,
    /// The mixing pipe of a blended manifold.
    Mixing,
    /// The controlled inlet of a blended manifold.
    BlendInlet,
}

/// How pressure falls along an element, p(from) − p(to), at a flow from `from` to `to`.
#[derive(Clone, Debug, PartialEq)]
pub enum Law {
    /// Losses in series, all at the same flow: pipe, fittings, valves, devices. An empty list is a joint with no loss.
    Parts(Vec<Part>),
    /// A pump; its control stands in [`PumpInfo`].
    Pump(PumpCurve),
    /// Flow only from `from` to `to`: opens at `opening_pa`, then adds the loss of `kv_m3h`.
    OneWay {
        /// Pressure difference at which it begins to open, Pa.
        opening_pa: f64,
        /// Kv fully open, m³/h.
        kv_m3h: f64,
    },
    /// Holds the flow at or under a set value; its own loss is that of `kv_m3h` when the flow is lower.
    HoldFlow {
        /// Set flow, kg/s.
        flow_kg_s: f64,
        /// Kv fully open, m³/h.
        kv_m3h: f64,
    },
}

/// One loss within an element.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// Group under which reports add it up.
    pub group: PartGroup,
    /// In the user's or the catalogue's words: `6 elbow`, `strainer`, `cu22 5 m`.
    pub words: String,
    /// Catalogue word of a device or fitting (`elbow`, `strainer`), for its symbol; empty for the pipe itself.
    pub symbol: String,
    /// How many of it.
    pub count: u32,
    /// The law.
    pub law: PartLaw,
    /// Where the figures are from.
    pub source: String,
    /// Its words in the file.
    pub span: Option<Span>,
}

/// [`Part::source`] of what the file itself states.
pub const THE_FILE: &str = "the file";

/// Groups of the breakdown of a circuit's loss.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum PartGroup {
    /// Friction in straight pipe.
    Pipe,
    /// Elbows, couplings, reducers.
    Fittings,
    /// Tees by flow split (made by the solver, not stored as parts).
    Tees,
    /// Valves.
    Valves,
    /// Strainers, meters, filters and the like.
    Devices,
    /// Emitters and floor loops.
    Emitter,
    /// The unit itself.
    Source,
    /// Vessels, coils, exchangers.
    Plant,
}

/// Law of one part; `v` is the mean velocity in the bore named, `ρ` the local density.
#[derive(Clone, Debug, PartialEq)]
pub enum PartLaw {
    /// Darcy–Weisbach, f·L/d·ρv²/2.
    Friction {
        /// Length, m.
        length_m: f64,
        /// Bore, m.
        bore_m: f64,
        /// Roughness, m.
        roughness_m: f64,
    },
    /// ζ·ρv²/2 on the velocity in `bore_m`. May be negative.
    Zeta {
        /// Total ζ of all `count` pieces.
        zeta: f64,
        /// Bore whose velocity it uses, m.
        bore_m: f64,
    },
    /// Δp = 1e5 Pa · (ρ/1000) · (Q/kv)², Q in m³/h.
    Kv {
        /// m³/h at 1 bar.
        kv_m3h: f64,
    },
    /// Δp = dp_ref · (|Q|/q_ref)^n with the sign of the flow.
    Power {
        /// Loss at the reference flow, Pa.
        dp_ref_pa: f64,
        /// Reference flow, m³/h.
        q_ref_m3h: f64,
        /// n.
        exponent: f64,
    },
}

/// Pressure that a pump adds at full speed; affinity laws give other speeds: Δp(Q, s) = s²·Δp(Q/s, 1).
#[derive(Clone, Debug, PartialEq)]
pub enum PumpCurve {
    /// Points (m³/h, Pa) joined by straight pieces, end pieces extended; flow rising, pressure never rising.
    Points(Vec<(f64, f64)>),
    /// Δp = a + b·Q + c·Q·|Q| in Pa, Q in m³/h; b, c ≤ 0.
    Quadratic {
        /// Pa at no flow.
        a_pa: f64,
        /// Pa per m³/h.
        b_pa: f64,
        /// Pa per (m³/h)².
        c_pa: f64,
    },
}

/// What an element does to the water's temperature.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Heat {
    /// Nothing.
    None,
    /// Index into `sources`: the water leaves at the source's flow temperature while its output allows.
    Source(usize),
    /// Index into `emitters`.
    Emitter(usize),
    /// Loses heat to its surroundings: t_out = t_a + (t_in − t_a)·exp(−u·L/(m·cp)).
    Loss {
        /// W/(m K).
        u_w_mk: f64,
        /// m.
        length_m: f64,
        /// °C.
        ambient_c: f64,
    },
    /// Index into `cylinders`.
    Cylinder(usize),
    /// Index into `exchangers`; true on the near side.
    Exchanger(usize, bool),
}

/// Properties of what flows.
#[derive(Clone, Debug, PartialEq)]
pub enum FluidData {
    /// Water or glycol, by temperature: see [`crate::fluid`].
    ByTemperature(crate::survey::Fluid),
    /// The same at every temperature.
    Constant {
        /// kg/m³.
        rho_kg_m3: f64,
        /// Pa s.
        mu_pa_s: f64,
        /// J/(kg K).
        cp_j_kgk: f64,
    },
}

impl Network {
    /// The element behind an id.
    pub fn element(&self, id: ElementId) -> &Element {
        &self.graph[id]
    }

    /// Where an element begins and ends, in the direction its flow counts as positive.
    pub fn ends(&self, id: ElementId) -> (PlaceId, PlaceId) {
        self.graph
            .edge_endpoints(id)
            .expect("ids come from this network and nothing is removed")
    }

    /// Where an emitter stands: its own storey, else that of its tails, else that of the run that leads to its tee.
    pub fn storey(&self, emitter: usize) -> Option<&str> {
        let e = self.emitters.get(emitter)?;
        let tail = e.tails.0.or(e.tails.1).and_then(|r| self.runs.get(r));
        // one that leads on may climb
        let leads = self.runs.iter().filter(|r| r.to == e.ends.0);
        let mut written = tail.into_iter().chain(leads);
        let own = e.storey.as_deref();
        own.or_else(|| written.find_map(|r| r.storey.as_deref()))
    }

    /// All element ids in order.
    pub fn element_ids(&self) -> impl ExactSizeIterator<Item = ElementId> + use<> {
        (0..self.graph.edge_count()).map(ElementId::new)
    }

    /// All place ids in order.
    pub fn place_ids(&self) -> impl ExactSizeIterator<Item = PlaceId> + use<> {
        (0..self.graph.node_count()).map(PlaceId::new)
    }
}

/// Excess of the water over a room, K: logarithmic or arithmetic mean, from the temperatures at which it enters and
/// leaves. Zero where the water leaves no warmer than the room.
pub fn excess_k(mean: Mean, in_c: f64, out_c: f64, room_c: f64) -> f64 {
    let (a, b) = (in_c - room_c, out_c - room_c);
    match mean {
        Mean::Arithmetic => (0.5 * (a + b)).max(0.0),
        Mean::Logarithmic if a <= 0.0 || b <= 0.0 => 0.0,
        // near a = b the quotient is 0/0; the series of 2x/ln((1+x)/(1−x)) about x = 0 takes over
        Mean::Logarithmic => {
            let x = (a - b) / (a + b);
            if x.abs() < 1e-4 {
                0.5 * (a + b) * (1.0 - x * x / 3.0)
            } else {
                (a - b) / crate::maths::ln(a / b)
            }
        }
    }
}
