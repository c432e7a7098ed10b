//! The house as a graph of physical elements between places: everything resolved, SI units, flow side and return side
//! both explicit, every element knowing the line it came from.
//!
//! No names to look up, no defaults, no nominal sizes are left here: `expand` made them from a survey, or `reference`
//! from a solved case in JSON, and everything downstream sees only this. Nothing is ever removed from the graph, so
//! indices are dense: element `i` is row `i` of every vector of a state.

use crate::diag::Span;
use crate::survey::{Assumed, Lies, Mean, Side, Units};
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

/// One pipe of a written line, from end to end, as a person sees it and a drawing shows it.
#[derive(Clone, Debug, PartialEq)]
pub struct Run {
    /// The user's name, `hall`; an emitter's tails carry the emitter's name.
    pub name: String,
    /// Short tag, unique and stable: `F3`, `R3`.
    pub tag: String,
    /// Which pipe.
    pub side: Option<Side>,
    /// What kind of line.
    pub kind: RunKind,
    /// Its elements in the direction of the written flow.
    pub elements: Vec<ElementId>,
    /// First place.
    pub from: PlaceId,
    /// Last place.
    pub to: PlaceId,
    /// The other pipe of the pair, by index into `runs`.
    pub partner: Option<usize>,
    /// The pipe as written or as the catalogue names it: `cu22`, `bore 17.8 mm`.
    pub pipe: String,
    /// For people: `22 mm copper`.
    pub size: String,
    /// Outside diameter, m, if known: decides the line's width.
    pub outside_m: Option<f64>,
    /// Bore, m.
    pub bore_m: f64,
    /// Length, m.
    pub length_m: f64,
    /// Material group of the catalogue: `copper`, `steel`, `plastic`, `multilayer`; empty if only a bore is known.
    pub material: String,
    /// Where it lies.
    pub lies: Option<Lies>,
    /// Storey, for the drawing.
    pub storey: Option<String>,
    /// Index into `doubts` of each doubt about this run.
    pub doubts: Vec<usize>,
    /// Its line in the file.
    pub span: Option<Span>,
}

/// Kinds of line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RunKind {
    /// Of a pair.
    Pair,
    /// Single pipe.
    Single,
    /// Of a ring.
    Ring,
    /// Main of a one-pipe loop.
    Loop,
    /// Main of a one-pipe loop between the two tees of one emitter.
    LoopBetween,
    /// An emitter's tail.
    Tail,
    /// The body of a floor loop.
    FloorLoop,
    /// Plant: legs of cylinders, vessels, exchangers, manifolds, bypasses.
    Plant,
}

/// How heat leaves an emitter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum HeatLaw {
    /// output·(excess/base)^n, excess formed by `mean`, base likewise at the rating conditions.
    Rated {
        /// Output at the rating conditions, W.
        output_w: f64,
        /// Excess at the rating conditions by the same mean, K.
        base_k: f64,
        /// n.
        exponent: f64,
        /// How the excess is formed.
        mean: Mean,
    },
    /// UA·excess with the logarithmic or arithmetic mean of the water over the room.
    Floor {
        /// W/K.
        w_per_k: f64,
        /// Heated area, m², if known: for the surface limit.
        area_m2: Option<f64>,
        /// Limit of the floor's surface temperature, °C.
        surface_limit_c: f64,
        /// How the excess is formed.
        mean: Mean,
    },
    /// A fixed heat, W.
    Fixed(f64),
}

/// An emitter.
#[derive(Clone, Debug, PartialEq)]
pub struct Emitter {
    /// The user's name.
    pub name: String,
    /// For people: `22 600×1600`, `floor loop`, `towel rail`.
    pub type_words: String,
    /// Word for its symbol: `radiator`, `towel rail`, `fan convector`, `floor loop`, `fixed`.
    pub symbol: &'static str,
    /// Panel type, height and width in m, if it is a panel radiator of the catalogue.
    pub panel: Option<(String, f64, f64)>,
    /// Its body.
    pub body: ElementId,
    /// Valve that can shut it.
    pub valve: Option<ElementId>,
    /// Lockshield.
    pub lockshield: Option<ElementId>,
    /// Whether the lockshield's setting was given in the file.
    pub lockshield_is_set: bool,
    /// All elements that carry its own flow, in flow order, from tee to tee.
    pub branch: Vec<ElementId>,
    /// Place where it leaves the flow side, and where it comes back.
    pub ends: (PlaceId, PlaceId),
    /// Tails, by index into `runs`: flow, return.
    pub tails: (Option<usize>, Option<usize>),
    /// Index into `rooms`.
    pub room: usize,
    /// Heat that this emitter has to give at design, W; its share of the room's need.
    pub duty_w: f64,
    /// Design drop, K: its own, else its manifold's, else the job's.
    pub drop_k: f64,
    /// How it gives heat.
    pub law: HeatLaw,
    /// Index into `manifolds`, if it hangs on one.
    pub manifold: Option<usize>,
    /// On a one-pipe loop: its flow is a share of the main's, and its drop a result.
    pub one_pipe: Option<OnePipe>,
    /// Never shut.
    pub always_open: bool,
    /// Index into `zones`, if a zone's valve shuts it.
    pub zone: Option<usize>,
    /// Limits of its wall, m: width, height, depth.
    pub wall: Option<(f64, f64, f64)>,
    /// Storey for the drawing.
    pub storey: Option<String>,
    /// Kind of its valve: `thermostatic`, `actuator`, `manual`, …
    pub valve_kind: String,
    /// Its line in the file.
    pub span: Option<Span>,
}

/// How an emitter hangs on a one-pipe main.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OnePipe {
    /// Piece of the main between its tees.
    pub between: ElementId,
    /// Share of the main's flow, if only that is known.
    pub share: Option<f64>,
    /// Index of the loop, counted from 0 in file order.
    pub loop_index: usize,
}

/// A room.
#[derive(Clone, Debug, PartialEq)]
pub struct Room {
    /// Its name: its own, or that of its only emitter.
    pub name: String,
    /// °C.
    pub temperature_c: f64,
    /// Heat need, W, if known.
    pub needs_w: Option<f64>,
    /// Indices into `emitters`.
    pub emitters: Vec<usize>,
}

/// A source.
#[derive(Clone, Debug, PartialEq)]
pub struct Source {
    /// Its name.
    pub name: String,
    /// Its water side.
    pub body: ElementId,
    /// Its pump, index into `pumps`.
    pub pump: Option<usize>,
    /// Flow connection.
    pub flow_place: PlaceId,
    /// Return connection.
    pub return_place: PlaceId,
    /// Output at design, W.
    pub output_w: Option<f64>,
    /// Least output, W.
    pub least_output_w: Option<f64>,
    /// Least flow, m³/s.
    pub least_flow_m3_s: Option<f64>,
    /// Greatest flow, m³/s.
    pub greatest_flow_m3_s: Option<f64>,
    /// Maker's nominal flow, m³/s.
    pub nominal_flow_m3_s: Option<f64>,
    /// Flow needed while defrosting, m³/s.
    pub defrost_flow_m3_s: Option<f64>,
    /// Energy of one defrost, J.
    pub defrost_energy_j: Option<f64>,
    /// Fall of temperature that a defrost may cause, K.
    pub defrost_fall_k: Option<f64>,
    /// Least return temperature for a defrost, °C.
    pub defrost_return_c: Option<f64>,
    /// Least water in circulation, m³.
    pub least_water_m3: Option<f64>,
    /// Least run, s.
    pub least_run_s: Option<f64>,
    /// Least stop, s.
    pub least_stop_s: Option<f64>,
    /// Control band, K.
    pub control_band_k: Option<f64>,
    /// Flow temperature at design, °C.
    pub flow_temperature_c: f64,
    /// Whether the curve is free head (`Some(true)`), total head (`Some(false)`), or unknown.
    pub free_head: Option<bool>,
    /// Its table in the file.
    pub span: Option<Span>,
}

/// A pump and its control.
#[derive(Clone, Debug, PartialEq)]
pub struct PumpInfo {
    /// `heat pump`, `buffer secondary`.
    pub name: String,
    /// Its element.
    pub element: ElementId,
    /// Control when it runs.
    pub mode: PumpControl,
    /// Whether `mode` was given in the file.
    pub mode_given: bool,
    /// Index of the source that it belongs to.
    pub source: Option<usize>,
    /// Its words in the file.
    pub span: Option<Span>,
}

/// Control of a pump, in SI.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum PumpControl {
    /// Share of full speed.
    FixedSpeed(f64),
    /// Pa, as far as the curve reaches.
    ConstantHead(f64),
    /// Pa at the curve's end of useful flow (`at_m3h`), half of it at no flow.
    ProportionalHead {
        /// Pa.
        head_pa: f64,
        /// m³/h at which `head_pa` holds.
        at_m3h: f64,
    },
    /// kg/s, as far as the curve reaches.
    HeldToFlow(f64),
    /// K over the source, between least and greatest flow (kg/s), as far as the curve reaches.
    HeldToDrop {
        /// K.
        drop_k: f64,
        /// kg/s.
        least_kg_s: f64,
        /// kg/s.
        greatest_kg_s: f64,
    },
}

/// A manifold.
#[derive(Clone, Debug, PartialEq)]
pub struct Manifold {
    /// Its name.
    pub name: String,
    /// Flow and return bar.
    pub bars: (PlaceId, PlaceId),
    /// Blending, if it is not direct.
    pub blend: Option<Blend>,
    /// Indices into `emitters`.
    pub emitters: Vec<usize>,
}

/// A manifold's mixing set: hot water enters by `inlet`, cooled water comes back by `mixing`, the pump sends both on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Blend {
    /// Set temperature of the mixed water, °C.
    pub set_c: f64,
    /// Controlled inlet (a [`Law::HoldFlow`] whose flow follows from the energy balance).
    pub inlet: ElementId,
    /// Mixing pipe.
    pub mixing: ElementId,
    /// Pump, index into `pumps`.
    pub pump: Option<usize>,
    /// Place where both meet.
    pub mixed: PlaceId,
}

/// A vessel.
#[derive(Clone, Debug, PartialEq)]
pub struct Vessel {
    /// Its name.
    pub name: String,
    /// Water, m³.
    pub volume_m3: f64,
    /// Element that is its body: in series, or between top and bottom of a four-port.
    pub body: ElementId,
    /// How it is joined.
    pub kind: VesselKind,
    /// Its table in the file.
    pub span: Option<Span>,
}

/// How a vessel is joined.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum VesselKind {
    /// In series on a run.
    Series {
        /// Index into `runs`.
        run: usize,
    },
    /// Four ports: `top` and `bottom` are the places that both sides share; the body lies between them.
    FourPort {
        /// Warm end.
        top: PlaceId,
        /// Cool end.
        bottom: PlaceId,
        /// Secondary pump, index into `pumps`.
        pump: Option<usize>,
    },
    /// Three ports.
    ThreePort {
        /// Warm tee.
        top: PlaceId,
        /// Cool end.
        bottom: PlaceId,
        /// Secondary pump, index into `pumps`.
        pump: Option<usize>,
    },
}

/// A cylinder.
#[derive(Clone, Debug, PartialEq)]
pub struct Cylinder {
    /// Its name.
    pub name: String,
    /// Coil.
    pub coil: ElementId,
    /// The diverter's way to the coil.
    pub diverter_coil: ElementId,
    /// The diverter's way to heating.
    pub diverter_heating: ElementId,
    /// Place of the diverter.
    pub place: PlaceId,
    /// Coil surface, m².
    pub coil_area_m2: Option<f64>,
    /// Store, m³.
    pub volume_m3: Option<f64>,
    /// Store temperature, °C.
    pub store_c: Option<f64>,
    /// Flow temperature while it is heated, °C.
    pub flow_temperature_c: f64,
    /// Design drop over the coil, K.
    pub drop_k: f64,
    /// Unvented store.
    pub unvented: bool,
}

/// A plate exchanger.
#[derive(Clone, Debug, PartialEq)]
pub struct Exchanger {
    /// Its name.
    pub name: String,
    /// Near side, towards the source.
    pub near: ElementId,
    /// Far side.
    pub far: ElementId,
    /// W/K.
    pub ua_w_k: f64,
    /// Pump of the far circuit, index into `pumps`.
    pub pump: Option<usize>,
}

/// Something across flow and return that is no emitter.
#[derive(Clone, Debug, PartialEq)]
pub struct Bypass {
    /// Its name.
    pub name: String,
    /// The one-way element.
    pub element: ElementId,
    /// Whether its opening pressure was given.
    pub opening_given: bool,
}

/// Runs that one valve shuts.
#[derive(Clone, Debug, PartialEq)]
pub struct Zone {
    /// Its name.
    pub name: String,
    /// Its valves.
    pub valves: Vec<ElementId>,
    /// Its pump, index into `pumps`.
    pub pump: Option<usize>,
}

/// A tee whose loss depends on how the flow splits. `common` carries the total in the written direction of flow; at
/// solution the leg with the largest flow is the common one, and these say which of the other two goes straight on.
#[derive(Clone, Debug, PartialEq)]
pub struct Tee {
    /// Where.
    pub place: PlaceId,
    /// The two legs in line.
    pub straight: (ElementId, ElementId),
    /// The leg that branches off.
    pub branch: ElementId,
    /// Bores in the order straight.0, straight.1, branch, m.
    pub bores_m: (f64, f64, f64),
    /// Head-on: the common leg is `branch`.
    pub bull_head: bool,
}

/// A state of the house.
#[derive(Clone, Debug, PartialEq)]
pub struct HouseState {
    /// `heating`, `hot water`, or the user's name.
    pub name: String,
    /// What it is for.
    pub kind: StateKind,
    /// Elements shut in it, beyond those shut always.
    pub shut: Vec<ElementId>,
    /// Pumps stopped in it, indices into `pumps`.
    pub stopped: Vec<usize>,
    /// Sources that run in it, indices into `sources`.
    pub sources: Vec<usize>,
}

/// Kinds of state.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StateKind {
    /// All emitters, the diverter to heating.
    Heating,
    /// The diverter to a coil, the unit's full output.
    HotWater,
    /// Named in the file.
    Named,
}

/// What the file admits beside the likeliest value.
#[derive(Clone, Debug, PartialEq)]
pub struct Doubt {
    /// In the user's words: `hall: cu22?`; a shared doubt by its own name.
    pub name: String,
    /// How the likeliest value reads: `22 mm copper`.
    pub likeliest: String,
    /// The others.
    pub alternatives: Vec<Alternative>,
    /// Runs it is about.
    pub runs: Vec<usize>,
    /// Its words in the file.
    pub span: Option<Span>,
}

/// One value that a doubt admits.
#[derive(Clone, Debug, PartialEq)]
pub struct Alternative {
    /// How it reads: `15 mm copper`.
    pub words: String,
    /// Chance, if odds were given.
    pub odds: Option<f64>,
    /// New laws of the elements that it touches.
    pub edits: Vec<(ElementId, Law)>,
}

/// Temperatures and drop of the design.
#[derive(Clone, Debug, PartialEq)]
pub struct Design {
    /// °C at the source.
    pub flow_temperature_c: f64,
    /// K over the emitters.
    pub drop_k: f64,
    /// °C outside, if given.
    pub outside_c: Option<f64>,
    /// Declared building load, W.
    pub load_w: Option<f64>,
    /// How excess temperatures are formed.
    pub mean: Mean,
    /// Unset lockshields stand open rather than as balancing would set them.
    pub lockshields_open: bool,
    /// Title block: key and text.
    pub sheet: Vec<(String, String)>,
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

    /// All element ids in order.
    pub fn element_ids(&self) -> impl ExactSizeIterator<Item = ElementId> + use<> {
        (0..self.graph.edge_count()).map(ElementId::new)
    }

    /// All place ids in order.
    pub fn place_ids(&self) -> impl ExactSizeIterator<Item = PlaceId> + use<> {
        (0..self.graph.node_count()).map(PlaceId::new)
    }
}
