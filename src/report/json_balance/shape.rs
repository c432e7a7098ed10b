//! The layout of a balance as JSON: keys carry their unit.

use super::Pump;
use schemars::JsonSchema;
use serde::Serialize;

/// The result of `balance`.
#[derive(Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Out {
    /// Name of this layout.
    pub(super) schema: &'static str,
    /// Version of this layout.
    pub(super) version: u32,
    /// Words that mark the file as made by this program.
    pub(super) made_by: &'static str,
    /// Title of the job.
    pub(super) job: String,
    /// Settings of the pumps on circuits that carry water.
    pub(super) pumps: Vec<Pump>,
    /// Settings by emitter, in the order of the file.
    pub(super) valves: Vec<Setting>,
    /// Settings of balancing valves on runs.
    pub(super) branches: Vec<Branch>,
    /// Emitters in the order in which to set them, from the source on.
    pub(super) walk: Vec<String>,
    /// Length of that walk along the pipes, without stairs.
    pub(super) walk_m: Option<f64>,
    /// Whether no other order is shorter; long walks are only shortened by exchanges.
    pub(super) walk_is_shortest: bool,
    /// What the settings do not bring on the design day.
    pub(super) lacks: Vec<LackOut>,
    /// What should be read on the design day.
    pub(super) design_day: DayOut,
    /// What should be read on a mild day; nothing where the design day is hardly colder or no answer is found.
    pub(super) mild_day: Option<DayOut>,
    /// What two clamp thermometers can tell of a difference once they were compared on one pipe.
    pub(super) clamp_difference_k: f64,
    /// The next adjustments, where the file gives readings.
    pub(super) next: Option<NextOut>,
}

/// The setting of one emitter's valve.
#[derive(Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Setting {
    /// The emitter.
    pub(super) emitter: String,
    /// The storey on which it stands, in the file's words.
    pub(super) storey: Option<String>,
    /// What is set: `lockshield`, `valve`, `port` or `branch`; nothing where the emitter has nothing to set.
    pub(super) sets: Option<&'static str>,
    /// Kv to set.
    pub(super) kv_m3_h: Option<f64>,
    /// The same in turns, where the valve's own table says them.
    pub(super) turns: Option<f64>,
    /// The same as a preset number, where the valve's own table says it.
    pub(super) number: Option<f64>,
    /// Whether it stands fully open.
    pub(super) fully_open: bool,
    /// Whether its way asks most of the pump, so that it stays open.
    pub(super) index: bool,
    /// Flow of the design.
    pub(super) wanted_kg_s: Option<f64>,
    /// Flow once everything is set, solved as the house runs.
    pub(super) gets_kg_s: Option<f64>,
    /// Loss in the valve that is set.
    pub(super) loss_pa: Option<f64>,
    /// Share of its way's loss that the valve has.
    pub(super) authority: Option<f64>,
    /// Any of `below its table`, `above its table`, `nearly shut`, `low authority` and `may be heard`.
    pub(super) warnings: Vec<&'static str>,
    /// Why it does not get its flow, where it does not.
    pub(super) off_because: Option<&'static str>,
    /// Kv at which a lockshield would stand that is missing there.
    pub(super) fit_kv_m3_h: Option<f64>,
    /// How flows answer to its valve: change of each emitter's flow for one part in a hundred more kv of it.
    pub(super) answers: Vec<Answer>,
}

/// Something that the settings do not bring; what does not concern it is left out.
#[derive(Clone, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct LackOut {
    /// `heat`, `heat while heads are open` (on a one-pipe main, until those before it throttle), `least flow` or `greatest
    /// flow`.
    pub(super) lack: &'static str,
    /// The room that gets too little heat.
    pub(super) room: Option<String>,
    /// The unit whose flow is too little or too much.
    pub(super) source: Option<String>,
    /// Heat that the room gets.
    pub(super) heat_w: Option<f64>,
    /// Heat that it needs.
    pub(super) needs_w: Option<f64>,
    /// Flow that the unit moves.
    pub(super) flow_m3_h: Option<f64>,
    /// The least or greatest flow that its maker allows.
    pub(super) limit_m3_h: Option<f64>,
}

/// How one emitter's flow answers to another's valve.
#[derive(Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Answer {
    /// The emitter.
    pub(super) emitter: String,
    /// By how much its flow changes.
    pub(super) flow_kg_s: Option<f64>,
}

/// The setting of a balancing valve on a run.
#[derive(Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Branch {
    /// The valve, by its run.
    pub(super) valve: String,
    /// Kv to set.
    pub(super) kv_m3_h: Option<f64>,
    /// Whether it stands fully open.
    pub(super) fully_open: bool,
    /// Loss in it.
    pub(super) loss_pa: Option<f64>,
}

/// What should be read on one day.
#[derive(Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct DayOut {
    /// Temperature outside, if known.
    pub(super) outside_c: Option<f64>,
    /// Share of the design heat that the rooms take.
    pub(super) share: Option<f64>,
    /// What the units' displays should read.
    pub(super) sources: Vec<SourceOut>,
    /// What clamps on the tails of each emitter through which water moves should read.
    pub(super) emitters: Vec<EmitterOut>,
}

/// What a unit's display should read.
#[derive(Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct SourceOut {
    /// The unit.
    pub(super) source: String,
    /// Temperature of the water that leaves it.
    pub(super) flow_c: Option<f64>,
    /// Temperature of the water that comes back.
    pub(super) return_c: Option<f64>,
    /// Flow through it.
    pub(super) flow_m3_h: Option<f64>,
    /// Heat that it gives.
    pub(super) output_w: Option<f64>,
}

/// What clamps on an emitter's two tails should read.
#[derive(Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct EmitterOut {
    /// The emitter.
    pub(super) emitter: String,
    /// Flow through it.
    pub(super) flow_kg_s: Option<f64>,
    /// Temperature of the water that enters it.
    pub(super) in_c: Option<f64>,
    /// Temperature of the water that leaves it.
    pub(super) out_c: Option<f64>,
    /// Difference of the two.
    pub(super) drop_k: Option<f64>,
    /// Heat that it gives.
    pub(super) heat_w: Option<f64>,
}

/// What is to be done after a round of readings.
#[derive(Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct NextOut {
    /// What was read, and what follows.
    pub(super) read: Vec<ReadOut>,
    /// The valves to set now.
    pub(super) set: Vec<StepOut>,
}

/// What was read at an emitter, and what follows.
#[derive(Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct ReadOut {
    /// The emitter.
    pub(super) emitter: String,
    /// Flow that the reading means.
    pub(super) flow_kg_s: Option<f64>,
    /// The least flow that the instrument admits.
    pub(super) least_kg_s: Option<f64>,
    /// The greatest flow that the instrument admits.
    pub(super) greatest_kg_s: Option<f64>,
    /// Flow that it is to have.
    pub(super) wanted_kg_s: Option<f64>,
    /// Drop that was read; nothing at a meter.
    pub(super) drop_k: Option<f64>,
    /// Drop that should have been read then.
    pub(super) should_be_k: Option<f64>,
    /// Whether the instrument cannot tell it from what it should be.
    pub(super) within_instrument: bool,
    /// Whether a flow-holding valve on its way is at work and hides what the rest takes.
    pub(super) held_by_valve: bool,
}

/// One valve to set now.
#[derive(Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct StepOut {
    /// The emitter.
    pub(super) emitter: String,
    /// Kv at which its valve stood.
    pub(super) stood_kv_m3_h: Option<f64>,
    /// Kv to set.
    pub(super) kv_m3_h: Option<f64>,
    /// The same in turns, where the valve's own table says them.
    pub(super) turns: Option<f64>,
    /// The same as a preset number, where the valve's own table says it.
    pub(super) number: Option<f64>,
    /// Where it was not read: by which share of its design flow it would be off if its valve were left as it stood while
    /// the rest is set. Up to 0.05 it is left.
    pub(super) off_if_left: Option<f64>,
}
