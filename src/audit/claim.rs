//! What a contractor can state, each kind as one row: its words, its unit, how far it may be off, how it is worked out.

use crate::diag::Span;
use crate::survey::Fluid;
use crate::units::Quantity;

/// What a claim is about, by index into the network's vectors.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum About {
    /// The house: its first source and the circuit of that one's pump, in plain heating.
    House,
    /// Flow and return along one route, named by one of its two runs.
    Pair(usize),
    /// One pipe.
    Pipe(usize),
    /// An emitter.
    Emitter(usize),
    /// A vessel.
    Vessel(usize),
    /// The circuit of a pump: a manifold's, a vessel's, a zone's.
    Circuit(usize),
    /// A hot-water cylinder while it is heated.
    Cylinder(usize),
}

/// Headings under which claims stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Of {
    /// No heading.
    House,
    /// `[run]`.
    Run,
    /// `[emitter]`.
    Emitter,
    /// `[vessel]`.
    Vessel,
    /// `[circuit]`.
    Circuit,
    /// `[cylinder]`.
    Cylinder,
}

impl Of {
    /// All of them.
    pub const ALL: [Of; 6] = [
        Self::House,
        Self::Run,
        Self::Emitter,
        Self::Vessel,
        Self::Circuit,
        Self::Cylinder,
    ];

    /// The heading; `house` where there is none.
    pub fn word(self) -> &'static str {
        match self {
            Self::House => "house",
            Self::Run => "run",
            Self::Emitter => "emitter",
            Self::Vessel => "vessel",
            Self::Circuit => "circuit",
            Self::Cylinder => "cylinder",
        }
    }
}

/// The quantity that a claim states.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[allow(missing_docs)]
pub enum What {
    Load,
    Drop,
    Flow,
    FlowTemperature,
    ReturnTemperature,
    Head,
    HeadAvailable,
    Index,
    OperatingFlow,
    OperatingHead,
    Carries,
    UnitOutput,
    LeastFlow,
    Fluid,
    SystemVolume,
    CirculatingVolume,
    Volume,
    ExpansionVessel,
    Precharge,
    GreatestPressure,
    Noise,
    SoundPower,
    SoundDistance,
    SoundFactor,
    Passes,
    Pipe,
    Bore,
    Length,
    Heat,
    Velocity,
    Gradient,
    Loss,
    Output,
    Rated,
    Needs,
    Room,
    Setting,
    Mark,
}

/// How a claim is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sort {
    /// A figure with its unit.
    Figure(Quantity),
    /// A pipe of the catalogue.
    Pipe,
    /// Name of an emitter or of other plant.
    Name,
    /// `true` or `false`.
    Flag,
    /// What flows.
    Fluid,
    /// A level of sound in dB.
    Level,
    /// A plain number.
    Number,
    /// Turns open, or the number of a presetting ring.
    Mark,
}

/// On which side of the right figure a wrong one does harm.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Harm {
    /// Stated lower than it is: a loss, a flow, a velocity.
    Low,
    /// Stated higher than it is: an output, a head that is left, water in circulation.
    High,
    /// Either.
    Either,
}

/// One kind of claim.
#[derive(Clone, Copy, Debug)]
pub struct Row {
    /// The quantity.
    pub what: What,
    /// Where it may stand.
    pub of: Of,
    /// Its key, also the name of a column.
    pub key: &'static str,
    /// Other names of a column.
    pub also: &'static [&'static str],
    /// How it is written.
    pub sort: Sort,
    /// How far stated and expected may be apart: as a share of the expected, and in SI; the larger counts.
    pub tolerance: (f64, f64),
    /// Where a wrong one does harm.
    pub harm: Harm,
    /// What it means.
    pub meaning: &'static str,
    /// How it is worked out.
    pub method: &'static str,
    /// Source of the method.
    pub source: &'static str,
}

const BALANCE: &str = "energy balance";
const FILE: &str = "the network file";
const DARCY: &str = "Darcy and Weisbach; Colebrook (1939); see DEVELOPERS.md for fittings and tees";
const CONTINUITY: &str = "continuity";
const EN442: &str = "EN 442-2, characteristic equation";

#[allow(clippy::too_many_arguments)] // one line a row reads as a table
const fn row(
    what: What,
    of: Of,
    key: &'static str,
    also: &'static [&'static str],
    sort: Sort,
    tolerance: (f64, f64),
    harm: Harm,
    words: [&'static str; 3],
) -> Row {
    let [meaning, method, source] = words;
    Row {
        what,
        of,
        key,
        also,
        sort,
        tolerance,
        harm,
        meaning,
        method,
        source,
    }
}

use Harm::{Either, High, Low};
use Of::{Circuit, Cylinder, Emitter, House, Run, Vessel};
use Quantity as Q;
use Sort::{Figure, Flag, Level, Name};

/// Every kind of claim. Tolerances are ours: common practice, no source; rounding of the stated figure is added.
#[rustfmt::skip]
pub const ROWS: &[Row] = &[
    row(What::Load, House, "load", &["heat load", "heat loss"], Figure(Q::Power), (0.02, 0.0), Low, ["heat load of the house at design outside temperature", "sum of the rooms' needs, or the declared load if that is larger", FILE]),
    row(What::Drop, House, "drop", &["delta t", "temperature drop"], Figure(Q::Difference), (0.02, 0.1), Either, ["drop from flow to return for which it is designed", "as the file has it", FILE]),
    row(What::Flow, House, "flow", &["flow rate", "volume flow"], Figure(Q::Flow), (0.03, 0.0), Low, ["flow that the unit's circuit needs", "q = P/(density x heat capacity x drop), summed along the pipes", BALANCE]),
    row(What::FlowTemperature, House, "flow_temperature", &["flow temperature"], Figure(Q::Temperature), (0.0, 0.5), Either, ["flow temperature at design", "as the file has it", FILE]),
    row(What::ReturnTemperature, House, "return_temperature", &["return temperature"], Figure(Q::Temperature), (0.0, 0.5), Either, ["return temperature at design", "flow temperature less the drop over the unit at the required flow", BALANCE]),
    row(What::Head, House, "head", &["pump head", "head needed", "total loss"], Figure(Q::Head), (0.08, 0.0), Low, ["loss of the index circuit outside the unit at the required flow", "sum of friction, fittings, tees, valves and devices along the way that loses most", DARCY]),
    row(What::HeadAvailable, House, "head_available", &["head available", "free head"], Figure(Q::Head), (0.03, 0.0), High, ["head that the unit leaves for the circuit at the required flow", "the sheet's curve at that flow, less the unit's own loss if the sheet gives the whole head", "the unit's sheet, as the file has it"]),
    row(What::Index, House, "index", &["index circuit"], Name, (0.0, 0.0), Either, ["emitter at the end of the index circuit", "the way round that loses most at the required flows", DARCY]),
    row(What::OperatingFlow, House, "operating_flow", &["operating flow"], Figure(Q::Flow), (0.03, 0.0), High, ["flow at which the pump runs", "intersection of pump and circuit, flow and heat solved together", "global-gradient Newton, Todini and Pilati (1988)"]),
    row(What::OperatingHead, House, "operating_head", &["operating head"], Figure(Q::Head), (0.06, 0.0), Either, ["head that the pump leaves for the circuit where it runs", "intersection of pump and circuit", "global-gradient Newton, Todini and Pilati (1988)"]),
    row(What::Carries, House, "carries", &["heat carried"], Figure(Q::Power), (0.03, 0.0), High, ["heat that the flow at which the pump runs carries at the design drop", "P = density x heat capacity x flow x drop", BALANCE]),
    row(What::UnitOutput, House, "output", &["unit output"], Figure(Q::Power), (0.02, 0.0), High, ["output of the unit at design", "as the file has it", FILE]),
    row(What::LeastFlow, House, "least_flow", &["minimum flow", "least flow"], Figure(Q::Flow), (0.02, 0.0), Low, ["least flow of the unit", "as the file has it", FILE]),
    row(What::Fluid, House, "fluid", &[], Sort::Fluid, (0.0, 1.0), Either, ["what flows", "as the file has it", FILE]),
    row(What::SystemVolume, House, "system_volume", &["system volume", "water content"], Figure(Q::Volume), (0.05, 0.0), Low, ["water in the whole circuit", "sum of pipes, emitters, vessels and the unit", "volume of a cylinder; contents as the file has them"]),
    row(What::CirculatingVolume, House, "circulating_volume", &["circulating volume", "open volume"], Figure(Q::Volume), (0.05, 0.0), High, ["water that still moves with every valve shut that can shut", "the house solved with those valves shut; what moves is summed", "volume of a cylinder; contents as the file has them"]),
    row(What::Volume, House, "vessels", &["buffer", "volume vessel"], Figure(Q::Volume), (0.02, 0.0), High, ["water of all volume vessels together", "as the file has it", FILE]),
    row(What::ExpansionVessel, House, "expansion_vessel", &["expansion vessel"], Figure(Q::Volume), (0.03, 0.0), Low, ["size of the expansion vessel", "(e V + reserve) (pe + 1)/(pe - p0), reserve 0.5 % but at least 3 l; pressures as stated", "EN 12828 Annex D (its table of e from memory: e = 0.31 + 0.00039 T2 percent)"]),
    row(What::Precharge, House, "precharge", &["pre-charge"], Figure(Q::Pressure), (0.02, 0.0), Either, ["pressure of the gas in the expansion vessel", "none", "none"]),
    row(What::GreatestPressure, House, "greatest_pressure", &["final pressure"], Figure(Q::Pressure), (0.02, 0.0), Either, ["greatest pressure in operation", "none", "none"]),
    row(What::Noise, House, "noise", &["sound"], Level, (0.0, 1.0), Low, ["level of sound of the unit at `sound_distance`", "Lw + 10 log10(Q/(4 pi r2)) in the open; sound power, distance and Q as stated", "free-field law, ISO 9613-2 with a directivity index"]),
    row(What::SoundPower, House, "sound_power", &["sound power"], Level, (0.0, 1.0), Low, ["sound power of the unit", "none", "none"]),
    row(What::SoundDistance, House, "sound_distance", &["sound distance"], Figure(Q::RunLength), (0.02, 0.0), High, ["distance at which `noise` is stated", "none", "none"]),
    row(What::SoundFactor, House, "sound_factor", &["sound factor", "directivity"], Sort::Number, (0.0, 0.0), Low, ["Q of the noise: 2 on the ground, 4 before a wall, 8 in a corner", "none", "none"]),
    row(What::Passes, House, "passes", &["result"], Flag, (0.0, 0.0), High, ["the house works", "every check of `pipecarry check`", "limits as the checks name them"]),
    row(What::Pipe, Run, "pipe", &["size", "pipe size", "nominal"], Sort::Pipe, (0.0, 0.0), Either, ["pipe of the catalogue", "as the file has it", FILE]),
    row(What::Bore, Run, "bore", &["inside diameter", "id"], Figure(Q::Size), (0.01, 0.0), High, ["inside diameter", "catalogue of pipes", "the catalogue's row for the pipe"]),
    row(What::Length, Run, "length", &[], Figure(Q::RunLength), (0.03, 0.0), Low, ["length of one pipe, not of both", "as the file has it", FILE]),
    row(What::Heat, Run, "heat", &["duty", "power"], Figure(Q::Power), (0.03, 0.0), Low, ["heat that it has to carry", "sum of the needs beyond it", BALANCE]),
    row(What::Flow, Run, "flow", &["flow rate", "volume flow"], Figure(Q::Flow), (0.03, 0.0), Low, ["flow that it has to carry", "sum of P/(density x heat capacity x drop) beyond it", BALANCE]),
    row(What::Velocity, Run, "velocity", &["speed"], Figure(Q::Velocity), (0.03, 0.0), Low, ["velocity in its narrowest pipe", "v = q/(pi d2/4), d the bore", CONTINUITY]),
    row(What::Gradient, Run, "gradient", &["friction", "pressure gradient"], Figure(Q::Gradient), (0.05, 0.0), Low, ["friction of one metre of pipe", "f/d x density x v2/2, f after Colebrook-White", DARCY]),
    row(What::Loss, Run, "loss", &["pressure loss", "pressure drop"], Figure(Q::Head), (0.08, 0.0), Low, ["loss along it: of a pair both pipes, with fittings, tees, valves and devices", "friction, fittings, tees and devices of both pipes added up", DARCY]),
    row(What::Output, Emitter, "output", &["output at design", "radiator output"], Figure(Q::Power), (0.03, 0.0), High, ["output at the design's flow temperature and drop", "rated output x (excess / excess at rating)^n at the flow temperature that reaches it", EN442]),
    row(What::Rated, Emitter, "rated", &["rated output", "output at 50 k"], Figure(Q::Power), (0.03, 0.0), High, ["output at 75/65/20", "rated output of the file, carried to 75/65/20", EN442]),
    row(What::Needs, Emitter, "needs", &["need", "room load"], Figure(Q::Power), (0.02, 0.0), Low, ["heat that it has to give", "need of its room, or its share of that", FILE]),
    row(What::Room, Emitter, "room", &["room temperature"], Figure(Q::Temperature), (0.0, 0.3), Low, ["temperature of its room", "as the file has it", FILE]),
    row(What::Flow, Emitter, "flow", &["flow rate"], Figure(Q::Flow), (0.03, 0.0), Low, ["flow that it needs", "q = P/(density x heat capacity x drop)", BALANCE]),
    row(What::Drop, Emitter, "drop", &["delta t"], Figure(Q::Difference), (0.02, 0.1), Either, ["drop over it at design", "its own, else its manifold's, else the job's", FILE]),
    row(What::Setting, Emitter, "setting", &["lockshield", "kv setting"], Figure(Q::Kv), (0.10, 0.0), Either, ["kv at which its lockshield or preset valve stands when balanced", "the pressure left over against the index circuit is taken by the setter at its required flow", "kv = q (1 bar/dp)^0.5; IEC 60534-2-1"]),
    row(What::Mark, Emitter, "turns", &["preset", "presetting"], Sort::Mark, (0.0, 0.25), Either, ["turns open, or number of the presetting ring, when balanced", "kv when balanced, on the valve's own table", "the file's `valve_table`"]),
    row(What::Flow, Circuit, "flow", &["flow rate", "volume flow"], Figure(Q::Flow), (0.03, 0.0), Low, ["flow that a second pump's circuit needs", "sum of P/(density x heat capacity x drop) that it feeds", BALANCE]),
    row(What::Head, Circuit, "head", &["pump head", "head needed"], Figure(Q::Head), (0.08, 0.0), Low, ["loss round its index circuit", "sum of friction, fittings, tees, valves and devices along the way that loses most", DARCY]),
    row(What::HeadAvailable, Circuit, "head_available", &["head available"], Figure(Q::Head), (0.03, 0.0), High, ["head of its pump at that flow", "the pump's curve at that flow", "the pump's curve, as the file has it"]),
    row(What::Index, Circuit, "index", &["index circuit"], Name, (0.0, 0.0), Either, ["emitter at the end of its index circuit", "the way round that loses most at the required flows", DARCY]),
    row(What::Flow, Cylinder, "flow", &["flow rate"], Figure(Q::Flow), (0.03, 0.0), Low, ["flow through its coil while it is heated", "the unit's output over density, heat capacity and the coil's drop", BALANCE]),
    row(What::Head, Cylinder, "head", &["head needed"], Figure(Q::Head), (0.08, 0.0), Low, ["loss of the way through its coil, outside the unit", "sum of friction, fittings, tees, valves and devices along that way", DARCY]),
    row(What::Volume, Cylinder, "volume", &["water", "content"], Figure(Q::Volume), (0.02, 0.0), High, ["hot water that it stores", "as the file has it", FILE]),
    row(What::FlowTemperature, Cylinder, "flow_temperature", &["flow temperature"], Figure(Q::Temperature), (0.0, 0.5), Either, ["flow temperature while it is heated", "as the file has it", FILE]),
    row(What::Volume, Vessel, "volume", &["water", "content"], Figure(Q::Volume), (0.02, 0.0), High, ["its water", "as the file has it", FILE]),
];

/// The row of a key under a heading.
pub fn find(of: Of, key: &str) -> Option<&'static Row> {
    ROWS.iter().find(|r| r.of == of && r.key == key)
}

/// The row of a column's name under a heading.
pub fn column(of: Of, name: &str) -> Option<&'static Row> {
    let name = name.trim().to_lowercase().replace('_', " ");
    let fits = |r: &&Row| {
        r.of == of && (r.key.replace('_', " ") == name || r.also.contains(&name.as_str()))
    };
    ROWS.iter().find(fits)
}

/// What is stated.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// A figure.
    Figure {
        /// In SI, °C for temperatures.
        si: f64,
        /// Half of its last written digit, in SI: it may be off by that from rounding alone.
        rounding: f64,
        /// The number as written, without its unit.
        number: f64,
    },
    /// Word of a pipe in the catalogue.
    Pipe(String),
    /// A name of the file.
    Name(String),
    /// Yes or no.
    Flag(bool),
    /// What flows.
    Fluid(Fluid),
}

/// One stated figure.
#[derive(Clone, Debug)]
pub struct Claim {
    /// What it is about.
    pub about: About,
    /// What it states.
    pub row: &'static Row,
    /// The value.
    pub value: Value,
    /// As written, unit included.
    pub words: String,
    /// How far it may be off, as a share, where the claims say so themselves.
    pub tolerance: Option<f64>,
    /// Its place in the text of the claims.
    pub span: Span,
    /// Line in that text, from 1.
    pub line: usize,
}

impl Claim {
    /// The figure in SI, if it is one.
    pub fn figure(&self) -> Option<f64> {
        match self.value {
            Value::Figure { si, .. } => Some(si),
            _ => None,
        }
    }

    /// How far it may be from `expected`, SI: its tolerance or what rounding explains, whichever is more.
    pub fn allowed(&self, expected: f64) -> f64 {
        let rounding = match self.value {
            Value::Figure { rounding, .. } => rounding,
            _ => 0.0,
        };
        let share = self.tolerance.unwrap_or(self.row.tolerance.0);
        // a share of a temperature on its scale means nothing
        let share = if self.row.sort == Sort::Figure(Quantity::Temperature) {
            0.0
        } else {
            share
        };
        (share * expected.abs())
            .max(self.row.tolerance.1)
            .max(rounding * (1.0 + 1e-9))
    }
}

/// All that somebody states.
#[derive(Clone, Debug, Default)]
pub struct Claims {
    /// Who states it, in the file's words.
    pub by: Option<String>,
    /// In the order of the text.
    pub list: Vec<Claim>,
}

impl Claims {
    /// A figure that is stated of the whole house, SI.
    pub(super) fn of_house(&self, what: What) -> Option<f64> {
        let own = |c: &&Claim| c.about == About::House && c.row.what == what;
        self.list.iter().find(own).and_then(Claim::figure)
    }
}
