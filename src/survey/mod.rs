//! The file as the person wrote it: every value with its place in the text, doubts kept as doubts, units converted
//! to SI, nothing looked up and nothing joined yet.
//!
//! `read` makes a [`Survey`] from text and collects all mistakes of the file in one pass; `leg` is the small language
//! of a run's pipe, length and fittings. [`crate::network`] turns a survey into physical elements.

mod emitters;
mod keys_house;
mod keys_plan;
mod keys_plant;
mod keys_settings;
mod legs;
mod prices;
mod settings;
mod vessels;

pub mod codes;
pub mod keys;
pub mod leg;
pub mod read;
pub mod schema;
pub mod starter;

pub use crate::catalogue::Lies;
pub use crate::quantity::Head;
pub use crate::units::Units;
pub use emitters::*;
pub use legs::*;
pub use prices::*;
pub use read::read;
pub use settings::*;
pub use vessels::*;

use crate::diag::Span;
use crate::quantity::{Celsius, Kelvin, Kv, Pressure, Volume, VolumeFlow, Watt};

/// A value and where it stands in the text. Equality ignores the place.
#[derive(Clone, Debug)]
pub struct At<T> {
    /// The value.
    pub value: T,
    /// Its bytes in the file.
    pub span: Span,
}

impl<T: PartialEq> PartialEq for At<T> {
    fn eq(&self, other: &Self) -> bool {
        self.value == other.value
    }
}

impl<T> At<T> {
    /// A value met at `span`.
    pub fn new(value: T, span: Span) -> Self {
        Self { value, span }
    }
}

/// A length with its doubt: `5..7m` has its middle as likeliest value.
#[derive(Clone, Debug, PartialEq)]
pub struct Range<Q> {
    /// The value used.
    pub likeliest: Q,
    /// Least admitted value; equal to `likeliest` where there is no doubt.
    pub low: Q,
    /// Greatest admitted value.
    pub high: Q,
}

/// The whole file.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Survey {
    /// Title of the job.
    pub job: Option<At<String>>,
    /// Temperatures and drop that the house is designed for.
    pub design: Design,
    /// What flows, unless a circuit says otherwise.
    pub fluid: Option<At<Fluid>>,
    /// Units that the person reads, chosen or seen in the file.
    pub units: Units,
    /// Heat pumps and other sources, in file order.
    pub sources: Vec<Source>,
    /// Flow and return along one route.
    pub pairs: Vec<Pair>,
    /// Single pipes.
    pub runs: Vec<SingleRun>,
    /// Reverse returns.
    pub rings: Vec<Ring>,
    /// One-pipe loops.
    pub loops: Vec<OnePipeLoop>,
    /// Manifolds.
    pub manifolds: Vec<Manifold>,
    /// Emitters with `defaults` and `like` already filled in.
    pub emitters: Vec<Emitter>,
    /// Rooms with several emitters, or that need more words than an emitter's own.
    pub rooms: Vec<Room>,
    /// Volume vessels and low-loss headers.
    pub vessels: Vec<Vessel>,
    /// Hot-water cylinders.
    pub cylinders: Vec<Cylinder>,
    /// Plate exchangers between two circuits.
    pub exchangers: Vec<Exchanger>,
    /// Tees whose kind matters.
    pub tees: Vec<Tee>,
    /// Overflow valves across flow and return.
    pub bypasses: Vec<Bypass>,
    /// Zone valves on a pair, by name.
    pub zones: Vec<Zone>,
    /// Named states of the house beside plain heating and hot water.
    pub states: Vec<NamedState>,
    /// Valves' own tables of settings.
    pub valve_tables: Vec<ValveTable>,
    /// What was read in the house.
    pub readings: Vec<Reading>,
    /// What was seen or measured in the house.
    pub evidence: Evidence,
    /// What the user pays.
    pub prices: Prices,
    /// Places that are opened once for several runs.
    pub openings: Vec<Opening>,
    /// What a plan may touch.
    pub plan: PlanWords,
    /// Limits that the file sets, by their key in the catalogue.
    pub limits: Vec<(At<String>, At<f64>)>,
    /// Every default that the reader put in, for the list of what was assumed.
    pub assumed: Vec<Assumed>,
}

/// One default that was used because the file is silent.
#[derive(Clone, Debug, PartialEq)]
pub struct Assumed {
    /// What it is about, e.g. `emitter lounge`.
    pub subject: String,
    /// In words with its value and unit, e.g. `thermostatic valve kv 0.5`.
    pub value: String,
    /// Where the value is from.
    pub source: String,
}

/// `design = { … }`.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Design {
    /// Flow temperature at the source.
    pub flow_temperature: Option<At<Celsius>>,
    /// Drop over the emitters.
    pub drop: Option<At<Kelvin>>,
    /// Outside air at design.
    pub outside: Option<At<Celsius>>,
    /// Declared building load.
    pub load: Option<At<Watt>>,
    /// How the excess temperature of emitters is formed.
    pub mean: Option<At<Mean>>,
    /// How lockshields stand where the file is silent: as balancing would set them, or open.
    pub lockshields_open: bool,
    /// Owner, author, date, number …: for the title block, by its key.
    pub sheet: Vec<(String, String)>,
}

/// How the excess temperature of an emitter over its room is formed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Mean {
    /// Logarithmic, on the base of the same mean at the rating conditions.
    #[default]
    Logarithmic,
    /// Arithmetic, as EN 442-2 defines it.
    Arithmetic,
}

/// What flows.
#[derive(Clone, Debug, PartialEq)]
pub enum Fluid {
    /// Water after IAPWS.
    Water,
    /// Glycol in water.
    Glycol {
        /// Propylene or ethylene glycol.
        propylene: bool,
        /// Percent by volume of pure glycol.
        percent: f64,
    },
    /// Properties outright, the same at every temperature.
    Given {
        /// kg/m³.
        density: f64,
        /// J/(kg K).
        heat_capacity: f64,
        /// Pa s.
        viscosity: f64,
    },
}

/// A pump's curve.
#[derive(Clone, Debug, PartialEq)]
pub enum Curve {
    /// Flow and head, flow rising, at least two.
    Points(Vec<(VolumeFlow, Head)>),
    /// H = a + b·Q + c·Q² with H in `head_per_unit` metres or Pa and Q in m³/h.
    Coefficients {
        /// Head at no flow.
        a: Head,
        /// Per (m³/h).
        b: Head,
        /// Per (m³/h)².
        c: Head,
    },
}

/// How a pump is controlled.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum PumpMode {
    /// At a fixed share of full speed (1 = full).
    FixedSpeed(f64),
    /// Constant head whatever the flow, as far as the curve reaches.
    ConstantHead(Head),
    /// Head rising in proportion to the flow, from half at no flow to this at the curve's end.
    ProportionalHead(Head),
    /// Held to a flow, as far as the curve reaches.
    HeldToFlow(VolumeFlow),
    /// Held to a drop of temperature across the source, between its least and greatest flow.
    HeldToDrop(Kelvin),
}

/// A pump of its own, or that of a source, vessel, manifold or exchanger.
#[derive(Clone, Debug, PartialEq)]
pub struct Pump {
    /// Curve at full speed.
    pub curve: At<Curve>,
    /// Control.
    pub mode: Option<At<PumpMode>>,
}

/// `[source.NAME]`.
#[derive(Clone, Debug, PartialEq)]
pub struct Source {
    /// Its name, which is also the place where pairs begin.
    pub name: At<String>,
    /// Output at design outside and flow temperature.
    pub output: Option<At<Watt>>,
    /// Least output before it must stop and start.
    pub least_output: Option<At<Watt>>,
    /// Flow under which it trips.
    pub least_flow: Option<At<VolumeFlow>>,
    /// Greatest flow that the maker allows.
    pub greatest_flow: Option<At<VolumeFlow>>,
    /// The maker's nominal flow.
    pub nominal_flow: Option<At<VolumeFlow>>,
    /// Flow that it needs while defrosting.
    pub defrost_flow: Option<At<VolumeFlow>>,
    /// Energy drawn from the water by one defrost, in J.
    pub defrost_energy_j: Option<At<f64>>,
    /// Fall of the water's temperature that one defrost may cause.
    pub defrost_fall: Option<At<Kelvin>>,
    /// Return temperature under which a defrost is refused.
    pub defrost_return: Option<At<Celsius>>,
    /// Least water in circulation that the maker asks for.
    pub least_water: Option<At<Volume>>,
    /// Least run time, in s.
    pub least_run_s: Option<At<f64>>,
    /// Least stop time, in s.
    pub least_stop_s: Option<At<f64>>,
    /// Band of the flow-temperature control.
    pub control_band: Option<At<Kelvin>>,
    /// Its own water content.
    pub water: Option<At<Volume>>,
    /// Whether the curve is what it leaves for the circuit, or the pump's whole head.
    pub head: Option<SourceHead>,
    /// Control of its pump.
    pub mode: Option<At<PumpMode>>,
    /// Flow temperature of this source, if not the job's.
    pub flow_temperature: Option<At<Celsius>>,
    /// Where the table stands.
    pub span: Span,
}

/// A source's pump curve and what it means.
#[derive(Clone, Debug, PartialEq)]
pub enum SourceHead {
    /// Free head: what the unit leaves for the circuit at full speed; its own loss is already taken off.
    Free(At<Curve>),
    /// Total head of the pump, and the loss of the unit itself.
    Total {
        /// The pump's curve.
        curve: At<Curve>,
        /// The unit's own loss; an error if it is missing.
        own_loss: Option<At<LossAt>>,
    },
}

/// `NAME = [from, to, leg]` under `[pair]`.
#[derive(Clone, Debug, PartialEq)]
pub struct Pair {
    /// Name of the run.
    pub name: At<String>,
    /// Place nearer the source.
    pub from: At<String>,
    /// Place further out.
    pub to: At<String>,
    /// Both pipes.
    pub leg: At<Leg>,
}

/// `NAME = [from, to, leg]` under `[run]`: one pipe, in the direction of its flow. A terminal of a thing with two
/// sides is written `heat pump.flow`, `heat pump.return`.
#[derive(Clone, Debug, PartialEq)]
pub struct SingleRun {
    /// Name of the run.
    pub name: At<String>,
    /// Where the water comes from.
    pub from: At<String>,
    /// Where it goes.
    pub to: At<String>,
    /// The pipe.
    pub leg: At<Leg>,
}

/// One stretch of a ring or a loop: pipe, then the place or emitter it reaches.
#[derive(Clone, Debug, PartialEq)]
pub struct Stretch {
    /// The pipe.
    pub leg: At<Leg>,
    /// Place, emitter or terminal at its end.
    pub to: At<String>,
}

/// `[ring.NAME]`: a reverse return; flow and return each visit the emitters in the same order.
#[derive(Clone, Debug, PartialEq)]
pub struct Ring {
    /// Its name.
    pub name: At<String>,
    /// Place it is fed from.
    pub from: At<String>,
    /// Flow pipe, first stretch from `from`.
    pub flow: Vec<Stretch>,
    /// Emitter where the return begins.
    pub return_start: At<String>,
    /// Return pipe; the last stretch ends at `from`.
    pub back: Vec<Stretch>,
}

/// `[loop.NAME]`: a one-pipe loop that names its radiators in order.
#[derive(Clone, Debug, PartialEq)]
pub struct OnePipeLoop {
    /// Its name.
    pub name: At<String>,
    /// Place it is fed from and comes back to.
    pub from: At<String>,
    /// Stretches of the main, each ending at an emitter; the last leg home is `home`.
    pub main: Vec<Stretch>,
    /// From the last emitter back to `from`.
    pub home: At<Leg>,
    /// Pipe of the main between the two tees of one radiator.
    pub between: At<Leg>,
    /// Tee at each emitter unless `tees` says otherwise.
    pub tee: LoopTee,
    /// Emitters with another tee.
    pub tees: Vec<(At<String>, LoopTee)>,
    /// Design drop over the loop, if not the job's.
    pub drop: Option<At<Kelvin>>,
}

/// How a radiator hangs on a one-pipe main.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LoopTee {
    /// Two plain tees.
    Plain,
    /// A diverter tee in the main, by its kv on the straight.
    Diverter(Kv),
    /// Only the share of the main's flow that the radiator takes is known.
    Share(f64),
}

/// `[manifold] NAME = { … }`: a place with equal tails, direct or blended.
#[derive(Clone, Debug, PartialEq)]
pub struct Manifold {
    /// Its name, which is also a place.
    pub name: At<String>,
    /// Place it is fed from, if it is not the end of a pair with its own name.
    pub from: Option<At<String>>,
    /// Leg from that place.
    pub leg: Option<At<Leg>>,
    /// Set temperature of the mixed water; direct if `None`.
    pub blend: Option<At<Celsius>>,
    /// Its own pump.
    pub pump: Option<Pump>,
    /// Kv of each port.
    pub port: Option<At<Kv>>,
    /// Table by which its ports are set.
    pub port_table: Option<At<String>>,
    /// Drop over its emitters.
    pub drop: Option<At<Kelvin>>,
}

/// `[room] NAME = { … }`.
#[derive(Clone, Debug, PartialEq)]
pub struct Room {
    /// Its name.
    pub name: At<String>,
    /// Its temperature.
    pub temperature: At<Celsius>,
    /// Heat it needs.
    pub needs: Option<At<Watt>>,
}

/// `[tee] PLACE = { … }`.
#[derive(Clone, Debug, PartialEq)]
pub struct Tee {
    /// The place.
    pub place: At<String>,
    /// Common leg's run at a bull-head (head-on) tee, if it is one.
    pub bull_head: bool,
    /// The run that leaves straight on, by its name.
    pub straight: Option<At<String>>,
    /// Ignore the tee's loss.
    pub none: bool,
}

/// `[bypass.NAME]`: an overflow valve across flow and return at a place.
#[derive(Clone, Debug, PartialEq)]
pub struct Bypass {
    /// Its name.
    pub name: At<String>,
    /// The place.
    pub at: At<String>,
    /// Pressure difference at which it begins to open.
    pub opening: Option<At<Pressure>>,
    /// Kv fully open.
    pub kv: At<Kv>,
    /// Its pipe, if it has one.
    pub leg: Option<At<Leg>>,
}

/// `[zone.NAME]`: a valve that shuts a pair or several.
#[derive(Clone, Debug, PartialEq)]
pub struct Zone {
    /// Its name.
    pub name: At<String>,
    /// Pairs that it shuts; the valve sits on the flow of each.
    pub on: Vec<At<String>>,
    /// Kv.
    pub kv: Option<At<Kv>>,
    /// A pump of its own instead of, or beside, a valve.
    pub pump: Option<Pump>,
}

/// `[state.NAME]`: a named state of the house.
#[derive(Clone, Debug, PartialEq)]
pub struct NamedState {
    /// Its name.
    pub name: At<String>,
    /// Sources that run; all if empty.
    pub sources: Vec<At<String>>,
    /// Zones, emitters or pairs shut.
    pub shut: Vec<At<String>>,
    /// Pumps stopped: names of sources, vessels, manifolds, zones.
    pub stopped: Vec<At<String>>,
    /// Whether the diverter feeds the cylinder.
    pub hot_water: bool,
}
