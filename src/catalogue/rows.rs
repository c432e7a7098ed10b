//! The rows of the catalogue, in SI.

use crate::quantity::{Celsius, Kv, Metre, Volume, Watt};
use crate::units::Quantity;

/// A pipe.
#[derive(Clone, Debug, PartialEq)]
pub struct Pipe {
    /// What a leg says: `cu22`.
    pub word: String,
    /// Other spellings.
    pub also: Vec<String>,
    /// `copper`, `steel`, `pb`, `pex`, `floor`, `multilayer`, `imperial`; empty if only a bore is known.
    pub family: String,
    /// Group for roughness and fittings: `copper`, `steel`, `plastic`, `multilayer`; empty if only a bore is known.
    pub material: String,
    /// For people: `22 mm copper`.
    pub size: String,
    /// For labels: `22 Cu`.
    pub short: String,
    /// Outside diameter, if known.
    pub outside: Option<Metre>,
    /// Inside diameter.
    pub bore: Metre,
    /// Least bore on the market, where it varies.
    pub bore_low: Option<Metre>,
    /// Greatest bore on the market, where it varies.
    pub bore_high: Option<Metre>,
    /// Usual bore of the stiffener in push-fit plastic.
    pub insert: Option<Metre>,
    /// Roughness when new.
    pub roughness: Metre,
    /// Source of the roughness.
    pub roughness_source: String,
    /// Conductivity of the wall, W/(m K).
    pub conductivity_w_mk: f64,
    /// Word of the next nominal size below.
    pub below: Option<String>,
    /// Source of the sizes.
    pub source: String,
    /// `high`, `medium`, `low`.
    pub confidence: String,
    /// What else to know.
    pub note: String,
}

impl Pipe {
    /// A pipe known by its bore alone; without a roughness it is taken as smooth drawn tube (0.0015 mm).
    pub fn of_bore(bore: Metre, roughness: Option<Metre>) -> Self {
        let size = format!("bore {} mm", (bore.0 * 1e4).round() / 10.0);
        Self {
            word: String::new(),
            also: Vec::new(),
            family: String::new(),
            material: String::new(),
            short: size.clone(),
            size,
            outside: None,
            bore,
            bore_low: None,
            bore_high: None,
            insert: None,
            roughness: roughness.unwrap_or(Metre(1.5e-6)),
            roughness_source: if roughness.is_some() {
                "given in the file"
            } else {
                "taken as smooth drawn tube"
            }
            .into(),
            conductivity_w_mk: 380.0,
            below: None,
            source: "given in the file".into(),
            confidence: "high".into(),
            note: String::new(),
        }
    }

    /// Water in one metre.
    pub fn water_per_metre(&self) -> Volume {
        Volume(std::f64::consts::FRAC_PI_4 * self.bore.0 * self.bore.0)
    }
}

/// What a thing met along a leg is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Class {
    /// Elbow, coupling, reducer.
    Fitting,
    /// Valve.
    Valve,
    /// Strainer, meter, filter.
    Device,
}

/// A fitting, valve or device of a leg.
#[derive(Clone, Debug, PartialEq)]
pub struct Item {
    /// What a leg says: `elbow`.
    pub word: String,
    /// Plurals and other names.
    pub also: Vec<String>,
    /// What it is.
    pub class: Class,
    /// In a sentence.
    pub what: String,
    /// Its losses; the first that fits the pipe is used.
    pub(super) losses: Vec<super::loss::LossRow>,
}

/// Loss of a 90° tee at one share of the branch in the total flow; every ζ on the velocity in the leg of the total.
#[derive(Clone, Debug, PartialEq)]
pub struct TeeRow {
    /// Branch flow over total flow.
    pub q: f64,
    /// ζ into the branch, flow dividing.
    pub dividing_branch: f64,
    /// ζ straight on, flow dividing.
    pub dividing_through: f64,
    /// ζ from the branch, flow combining.
    pub combining_branch: f64,
    /// ζ straight on, flow combining.
    pub combining_through: f64,
    /// Source.
    pub source: String,
    /// `high`, `medium`, `low`.
    pub confidence: String,
}

/// ζ of a head-on tee on the velocity in the common leg.
#[derive(Clone, Debug, PartialEq)]
pub struct BullHead {
    /// One stream splits both ways.
    pub dividing: f64,
    /// Two streams meet.
    pub combining: f64,
    /// Source.
    pub source: String,
    /// `high`, `medium`, `low`.
    pub confidence: String,
}

/// Output of panel radiators of one type and height.
#[derive(Clone, Debug, PartialEq)]
pub struct PanelRow {
    /// `11`, `21`, `22`, `33`.
    pub panel_type: String,
    /// Height.
    pub height: Metre,
    /// Least output over makers at 50 K, W per metre of width.
    pub low_w_m: f64,
    /// Greatest output over makers at 50 K, W per metre of width.
    pub high_w_m: f64,
    /// Water, m³ per metre of width.
    pub water_m3_m: f64,
    /// Source.
    pub source: String,
    /// `high`, `medium`, `low`.
    pub confidence: String,
}

/// A type of panel radiator.
#[derive(Clone, Debug, PartialEq)]
pub struct PanelType {
    /// `11`, `21`, `22`, `33`.
    pub panel_type: String,
    /// In words.
    pub what: String,
    /// Exponent of EN 442.
    pub exponent: f64,
    /// Depth from the wall.
    pub depth: Metre,
    /// Source.
    pub source: String,
    /// `high`, `medium`, `low`.
    pub confidence: String,
}

/// What a panel radiator of a size gives.
#[derive(Clone, Debug, PartialEq)]
pub struct PanelOutput {
    /// Output at 75/65/20: the middle of the range.
    pub output: Watt,
    /// Least over makers.
    pub least: Watt,
    /// Greatest over makers.
    pub greatest: Watt,
    /// Exponent.
    pub exponent: f64,
    /// Water content.
    pub water: Volume,
    /// Depth from the wall.
    pub depth: Metre,
    /// Source.
    pub source: String,
    /// `high`, `medium`, `low`.
    pub confidence: String,
}

/// Why there is no such panel radiator.
#[derive(Clone, Debug, PartialEq)]
pub enum PanelProblem {
    /// No such type; the nearest.
    UnknownType(Option<String>),
    /// Height outside the rows: least and greatest.
    Height(Metre, Metre),
}

/// An emitter by rated output.
#[derive(Clone, Debug, PartialEq)]
pub struct EmitterRow {
    /// `radiator`, `towel rail`, `fan convector`, `convector`, `column`.
    pub word: String,
    /// Other names.
    pub also: Vec<String>,
    /// Word of its symbol.
    pub symbol: String,
    /// Typical exponent.
    pub exponent: f64,
    /// Least and greatest exponent met.
    pub exponent_range: (f64, f64),
    /// Water per kW of rated output at 50 K, m³/W.
    pub water_m3_w: f64,
    /// Source.
    pub source: String,
    /// `high`, `medium`, `low`.
    pub confidence: String,
    /// What else to know.
    pub note: String,
}

/// A valve of an emitter.
#[derive(Clone, Debug, PartialEq)]
pub struct ValveRow {
    /// `thermostatic`, `actuator`, `manual`, `twin entry`, `lockshield`.
    pub word: String,
    /// Other names.
    pub also: Vec<String>,
    /// Typical kv at design.
    pub kv: Kv,
    /// Least and greatest met.
    pub range: (Kv, Kv),
    /// Source.
    pub source: String,
    /// `high`, `medium`, `low`.
    pub confidence: String,
    /// What else to know.
    pub note: String,
}

/// Where a run lies: it decides noise, heat loss and the cost of changing it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs)]
pub enum Lies {
    InSight,
    UnderBoards,
    UnderTiles,
    InScreed,
    InWall,
    AboveCeiling,
    Loft,
    Garage,
    PlantSpace,
    Outdoors,
}

/// Where a run can lie.
#[derive(Clone, Debug, PartialEq)]
pub struct LiesRow {
    /// Its words.
    pub word: String,
    /// Other words.
    pub also: Vec<String>,
    /// The place.
    pub lies: Lies,
    /// Air round the pipe at design; outside air if `None`.
    pub air: Option<Celsius>,
    /// Whether the stricter velocity limit holds.
    pub quiet: bool,
    /// What must be opened to change the run.
    pub opening: String,
    /// Source.
    pub source: String,
    /// `high`, `medium`, `low`.
    pub confidence: String,
}

/// Age and condition of a pipe.
#[derive(Clone, Debug, PartialEq)]
pub struct Condition {
    /// `old`, `rusty` …
    pub word: String,
    /// Materials that this row is for.
    pub materials: Vec<String>,
    /// Roughness: likeliest, least, greatest.
    pub roughness: (Metre, Metre, Metre),
    /// Taken off the bore: likeliest, least, greatest.
    pub bore_loss: (Metre, Metre, Metre),
    /// Source.
    pub source: String,
    /// `high`, `medium`, `low`.
    pub confidence: String,
}

/// What a figure is held against.
#[derive(Clone, Debug, PartialEq)]
pub struct Limit {
    /// Key under `[limits]`.
    pub key: String,
    /// In SI (temperatures in °C, shares as numbers).
    pub value: f64,
    /// As the table writes it: `300 Pa/m`.
    pub words: String,
    /// What to read a new value as.
    pub quantity: Quantity,
    /// Counts for the verdict; a note counts only if the file sets it.
    pub counts: bool,
    /// In words.
    pub what: String,
    /// Source.
    pub source: String,
    /// `high`, `medium`, `low`.
    pub confidence: String,
}
