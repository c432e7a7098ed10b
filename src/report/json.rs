//! The study as JSON with a versioned schema: keys carry their unit, units are always the same whatever the user reads.
//!
//! Keys end in `pa`, `pa_m`, `m3_h`, `kg_s`, `m_s`, `c`, `k`, `w`, `m`, `mm`, `l`; a key without such an ending is a
//! word, a share or a count. The schema is made from these types and stands in `check.schema.json` beside them; a
//! change that breaks a reader of it raises [`VERSION`].

mod figures;
mod make;

use schemars::JsonSchema;
use serde::Serialize;
use std::collections::BTreeMap;

pub(crate) use figures::published;
pub use make::check;

/// Version of the layout.
pub const VERSION: u32 = 1;

/// Name of the layout.
pub const SCHEMA: &str = "pipecarry.check";

/// The result of `check`.
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Check {
    /// Name of this layout.
    pub schema: String,
    /// Version of this layout; it rises when a reader of the old one would go wrong.
    pub version: u32,
    /// Words that mark the file as made by this program.
    pub made_by: String,
    /// Title of the job.
    pub job: String,
    /// Worst of fails, depends, tight, holds.
    pub verdict: Verdict,
    /// How many checks lacked data.
    pub not_shown: usize,
    /// Every default that was used because the file is silent.
    pub assumed: Vec<Assumed>,
    /// What was found, worst first.
    pub findings: Vec<Finding>,
    /// Every pipe.
    pub runs: Vec<Run>,
    /// Every emitter.
    pub emitters: Vec<Emitter>,
    /// Every source.
    pub source: Vec<Source>,
    /// The index circuit of every pumped circuit in every state.
    pub index: Vec<Index>,
}

/// What a check comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)]
pub enum Verdict {
    Fails,
    Depends,
    Tight,
    Holds,
    NotShown,
    Note,
}

/// A default used.
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Assumed {
    /// What it is about.
    pub subject: String,
    /// In words, with its value and unit.
    pub value: String,
    /// Where the value is from.
    pub source: String,
}

/// A result of one check on one subject.
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Finding {
    /// Code of the check.
    pub check: String,
    /// Its verdict.
    pub verdict: Verdict,
    /// Kind of subject: `house`, `run`, `emitter`, `room`, `source`, `pump`, `vessel`, `manifold`, `cylinder`,
    /// `exchanger`, `bypass`.
    pub subject: String,
    /// The subject's name; a run's tag.
    pub name: String,
    /// State of the house.
    pub state: Option<String>,
    /// `measured`, `limit` and what else the check rests on, each key with its unit.
    pub figures: BTreeMap<String, f64>,
    /// Share of the limit left, negative if broken.
    pub margin: Option<f64>,
    /// Source of the limit.
    pub limit_source: String,
    /// Admitted values that would flip the verdict.
    pub rests_on: Vec<RestsOn>,
    /// `margin`, `fittings` or `strainer`: why it is tight.
    pub tight_because: Option<String>,
    /// Names that the finding speaks of.
    pub names: Vec<String>,
}

/// A value that a doubt admits and that flips a verdict.
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RestsOn {
    /// The doubt, in the words of the file.
    pub doubt: String,
    /// The value that flips the verdict.
    pub value: String,
}

/// One pipe.
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Run {
    /// Short tag, unique.
    pub tag: String,
    /// The user's name.
    pub name: String,
    /// `flow`, `return`, or nothing where it is not plain.
    pub side: Option<String>,
    /// Kind of line.
    pub kind: String,
    /// Pipe as written.
    pub pipe: String,
    /// Pipe in words.
    pub size: String,
    /// Inside diameter.
    pub bore_mm: Option<f64>,
    /// Length.
    pub length_m: Option<f64>,
    /// Place where it begins.
    pub from: String,
    /// Place where it ends.
    pub to: String,
    /// What the emitters' duty requires of it, by state.
    pub required: Vec<RunRequired>,
    /// What it carries as the house runs, by state.
    pub running: Vec<RunRunning>,
}

/// A pipe in the required view.
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RunRequired {
    /// State of the house.
    pub state: String,
    /// Mass flow.
    pub flow_kg_s: Option<f64>,
    /// Volume flow at its own temperature.
    pub flow_m3_h: Option<f64>,
    /// Heat carried.
    pub duty_w: Option<f64>,
    /// Mean velocity.
    pub velocity_m_s: Option<f64>,
    /// Friction gradient of the straight pipe.
    pub gradient_pa_m: Option<f64>,
    /// Reynolds number.
    pub reynolds: Option<f64>,
    /// Loss along it with all that is met on the way.
    pub loss_pa: Option<f64>,
    /// What it could carry.
    pub carries: Vec<RunCarries>,
}

/// What a pipe could carry at one drop.
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RunCarries {
    /// The drop.
    pub drop_k: Option<f64>,
    /// By the limit of velocity.
    pub by_velocity_w: Option<f64>,
    /// By the limit of gradient.
    pub by_gradient_w: Option<f64>,
    /// By the head that is left for it.
    pub by_head_w: Option<f64>,
}

/// A pipe as the house runs.
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RunRunning {
    /// State of the house.
    pub state: String,
    /// Mass flow; negative against the written direction.
    pub flow_kg_s: Option<f64>,
    /// Loss along it.
    pub loss_pa: Option<f64>,
    /// Temperature where the water enters.
    pub in_c: Option<f64>,
    /// Temperature where it leaves.
    pub out_c: Option<f64>,
}

/// One emitter.
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Emitter {
    /// Its name.
    pub name: String,
    /// What it is, in words.
    pub kind: String,
    /// Its room.
    pub room: Option<String>,
    /// Room temperature.
    pub room_c: Option<f64>,
    /// Heat needed of it at design.
    pub duty_w: Option<f64>,
    /// Design drop.
    pub drop_k: Option<f64>,
    /// In the required view, by state.
    pub required: Vec<EmitterRequired>,
    /// As the house runs, by state.
    pub running: Vec<EmitterRunning>,
}

/// An emitter in the required view.
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct EmitterRequired {
    /// State of the house.
    pub state: String,
    /// Mass flow that its duty takes.
    pub flow_kg_s: Option<f64>,
    /// Drop over it.
    pub drop_k: Option<f64>,
    /// Flow temperature that it asks for at its own inlet.
    pub asks_c: Option<f64>,
    /// Flow temperature at the source that this means.
    pub asks_at_source_c: Option<f64>,
}

/// An emitter as the house runs.
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct EmitterRunning {
    /// State of the house.
    pub state: String,
    /// Mass flow that it gets.
    pub flow_kg_s: Option<f64>,
    /// Temperature of the water that enters.
    pub in_c: Option<f64>,
    /// Temperature of the water that leaves.
    pub out_c: Option<f64>,
    /// Heat given.
    pub heat_w: Option<f64>,
    /// Heat needed of it.
    pub need_w: Option<f64>,
    /// Loss across its valve.
    pub valve_pa: Option<f64>,
    /// Flow factor at which its lockshield stands, m³/h at 1 bar.
    pub lockshield_kv: Option<f64>,
    /// `file`, `balanced`, `open` or `none`: where that is from.
    pub lockshield_from: Option<String>,
}

/// One source.
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Source {
    /// Its name.
    pub name: String,
    /// Output at design.
    pub output_w: Option<f64>,
    /// Flow temperature at design.
    pub flow_temperature_c: Option<f64>,
    /// What its flow follows from, by state.
    pub required: Vec<SourceRequired>,
    /// As the house runs, by state.
    pub running: Vec<SourceRunning>,
}

/// A source's flow in the required view.
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SourceRequired {
    /// State of the house.
    pub state: String,
    /// Flow.
    pub flow_kg_s: Option<f64>,
    /// `rooms`, `load`, `nominal`, `output` or `held_flow`: what it follows from.
    pub basis: String,
    /// Sum of room needs.
    pub rooms_w: Option<f64>,
    /// Declared building load.
    pub load_w: Option<f64>,
    /// The maker's nominal flow.
    pub nominal_kg_s: Option<f64>,
}

/// A source at its operating point.
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SourceRunning {
    /// State of the house.
    pub state: String,
    /// Heat put into the water.
    pub output_w: Option<f64>,
    /// Flow temperature made.
    pub flow_temperature_c: Option<f64>,
    /// Return temperature.
    pub return_temperature_c: Option<f64>,
    /// Pump's flow.
    pub flow_m3_h: Option<f64>,
    /// Pressure that the pump adds.
    pub head_pa: Option<f64>,
    /// Share of the pump's full speed.
    pub speed: Option<f64>,
    /// `flow_temperature`, `output`, `least_output` or `idle`: what decides its output.
    pub limited_by: String,
}

/// The index circuit of one pumped circuit in one state.
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Index {
    /// State of the house.
    pub state: String,
    /// The pumped circuit.
    pub circuit: String,
    /// Emitter, coil or vessel that the index circuit goes through.
    pub through: String,
    /// Mass flow through the pump.
    pub flow_kg_s: Option<f64>,
    /// Volume flow through the pump.
    pub flow_m3_h: Option<f64>,
    /// Head needed: the loss along the index circuit.
    pub needed_pa: Option<f64>,
    /// Head that the pump gives at this flow; nothing if no curve is known.
    pub available_pa: Option<f64>,
    /// Loss by group; the sum is the head needed.
    pub breakdown: Vec<Share>,
    /// Elements in flow order, from the pump and back to it.
    pub elements: Vec<String>,
    /// What the whole circuit could carry.
    pub carries: Vec<Carries>,
}

/// One group's share of a loss.
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Share {
    /// `pipe`, `fittings`, `tees`, `valves`, `devices`, `emitter`, `source`, `plant`.
    pub group: String,
    /// Its loss.
    pub loss_pa: Option<f64>,
}

/// What a circuit could carry at one drop.
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Carries {
    /// The drop.
    pub drop_k: Option<f64>,
    /// Heat.
    pub heat_w: Option<f64>,
    /// `head`, `velocity`, `gradient` or `source_flow`: what bites first.
    pub limited_by: String,
    /// Tag of the run where it bites.
    pub run: Option<String>,
}

/// The text of a result, with a line break at its end.
pub fn text(check: &Check) -> String {
    any(check)
}

/// The text of a result of any layout.
pub(super) fn any(result: &impl Serialize) -> String {
    // these types hold nothing that JSON cannot say: keys are text and figures are finite
    let mut text = serde_json::to_string_pretty(result).unwrap_or_default();
    text.push('\n');
    text
}

/// JSON Schema of [`Check`], as published.
pub fn schema() -> String {
    let mut schema = schemars::schema_for!(Check);
    schema.insert("title".into(), "Result of pipecarry check".into());
    let mut text = serde_json::to_string_pretty(&schema).unwrap_or_default();
    text.push('\n');
    text
}
