//! What the elements are to a person: runs, emitters, rooms, plant, states, doubts. Each points at its elements by id.

use super::{ElementId, PlaceId, excess_k};
use crate::diag::Span;
use crate::maths;
use crate::survey::{Lies, Mean, Side};

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
    /// Kv of the lockshield fully open, m³/h; the element's law has it as it stands where the file says so.
    pub lockshield_open_kv: Option<f64>,
    /// The manifold's port at its flow end, if its kv is known and the file gives no lockshield: element and part.
    pub port: Option<(ElementId, usize)>,
    /// Index into `valve_tables`: by this table the valve that shuts it is preset.
    pub valve_table: Option<usize>,
    /// Index into `valve_tables` of its lockshield, or of its port.
    pub lockshield_table: Option<usize>,
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
    /// Left to right on the drawing, among those of one place.
    pub order: Option<f64>,
    /// Kind of its valve: `thermostatic`, `actuator`, `manual`, …
    pub valve_kind: String,
    /// Its line in the file.
    pub span: Option<Span>,
}

impl HeatLaw {
    /// Heat at these temperatures of the water and the room, W; nothing from water that is colder than the room.
    pub fn heat_w(&self, flow_c: f64, return_c: f64, room_c: f64) -> f64 {
        match *self {
            Self::Rated {
                output_w,
                base_k,
                exponent,
                mean,
            } => {
                let excess = excess_k(mean, flow_c, return_c, room_c);
                output_w * maths::pow((excess / base_k).max(0.0), exponent)
            }
            Self::Floor { w_per_k, mean, .. } => {
                w_per_k * excess_k(mean, flow_c, return_c, room_c).max(0.0)
            }
            Self::Fixed(w) => w,
        }
    }
}

/// Words for valves that a person turns by hand and that do not close by themselves.
const BY_HAND: [&str; 2] = ["manual", "none"];

impl Emitter {
    /// Whether a valve of its own can close while nobody looks: it has one, turned by no hand and not kept open.
    pub fn closes_by_itself(&self) -> bool {
        self.valve.is_some() && !self.always_open && !BY_HAND.contains(&self.valve_kind.as_str())
    }
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
    /// Controlled inlet (a [`super::Law::HoldFlow`] whose flow follows from the energy balance).
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
