//! Every check of a house, each a small value in one list, and what it found as data.

pub mod cautions;
mod facts;
mod fold;
mod judge;
mod list;
mod measure;
mod table;

pub use cautions::{CAUTIONS, Caution, cautions};
pub use fold::{Listed, listed};
pub use judge::study;
pub use list::{CHECKS, Check};
pub use table::markdown;

use crate::network::Network;
use crate::view::{Required, Running};

/// What a check comes to, from worst to best.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Verdict {
    /// The limit is broken at the likeliest values.
    Fails,
    /// The likeliest passes, but a value that a doubt admits does not.
    Depends,
    /// Passes for all admitted values with little of the limit left.
    Tight,
    /// Passes with room.
    Holds,
    /// Data are missing.
    NotShown,
    /// Said for information, never counted.
    Note,
}

/// What a finding is about, by index into the network's vectors.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Subject {
    /// The house.
    House,
    /// A run.
    Run(usize),
    /// An emitter.
    Emitter(usize),
    /// A room.
    Room(usize),
    /// A source.
    Source(usize),
    /// A pump.
    Pump(usize),
    /// A vessel.
    Vessel(usize),
    /// A manifold.
    Manifold(usize),
    /// A cylinder.
    Cylinder(usize),
    /// An exchanger.
    Exchanger(usize),
    /// A bypass.
    Bypass(usize),
}

/// Kinds of figure, for showing it in the user's unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Kind {
    VelocityMs,
    GradientPaM,
    PressurePa,
    MassFlowKgS,
    VolumeFlowM3S,
    PowerW,
    TemperatureC,
    DifferenceK,
    VolumeM3,
    Ratio,
    Count,
}

/// A result of one check on one subject in one state of the house. Holds numbers, not prose; the report words it.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// Code of the check.
    pub check: &'static str,
    /// What it is about.
    pub subject: Subject,
    /// Index into `Network::states`; `None` if it does not depend on one.
    pub state: Option<usize>,
    /// Kind of `measured` and `limit`.
    pub kind: Kind,
    /// What was found, SI.
    pub measured: Option<f64>,
    /// What it is held against, SI.
    pub limit: Option<f64>,
    /// Share of the limit left, negative if broken.
    pub margin: Option<f64>,
    /// Source of the limit.
    pub limit_source: String,
    /// The verdict.
    pub verdict: Verdict,
    /// Doubts that it rests on: index into `doubts` and into its alternatives that flip it.
    pub rests_on: Vec<(usize, usize)>,
    /// Why it is tight although the margin is wider: what would break it.
    pub tight_because: Option<TightBecause>,
    /// More figures that the words need, by a short key, SI, in a fixed order.
    pub detail: Vec<(&'static str, f64)>,
    /// Names that the words need, in a fixed order.
    pub names: Vec<String>,
}

impl Finding {
    /// A figure of `detail` by its key.
    pub fn detail(&self, key: &str) -> Option<f64> {
        let mut all = self.detail.iter();
        all.find(|(k, _)| *k == key).map(|(_, value)| *value)
    }
}

/// Why a passing check is only tight.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TightBecause {
    /// Under 10 % (for head also under 3 kPa) is left.
    Margin,
    /// That little would be left under a value that a doubt admits, or under all adverse ones together.
    Guess,
    /// It would fail with fittings 30 % dearer.
    Fittings,
    /// It would fail with the strainer at half its kv.
    Strainer,
}

/// A house looked at from all sides.
#[derive(Clone, Debug)]
pub struct Study {
    /// The house.
    pub network: Network,
    /// Required view by house state (those in which something is required).
    pub required: Vec<Required>,
    /// As it runs, by house state.
    pub running: Vec<Running>,
    /// What was found, worst first, then in the order of the checks and of the file.
    pub findings: Vec<Finding>,
    /// Worst of fails, depends, tight, holds.
    pub verdict: Verdict,
    /// How many checks lacked data.
    pub not_shown: usize,
}

/// What can be chosen for a study.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Options {
    /// Lockshields on which the file is silent: `Some(true)` stands them open, `Some(false)` as balancing would set
    /// them, `None` as the file's design says.
    pub lockshields_open: Option<bool>,
}

/// Exit status of a program that shows a study: 0 holds or tight; 1 fails or depends, with `strict` also where a check
/// lacked data. (2 belongs to files that cannot be read and houses without an answer.)
pub fn exit_status(study: &Study, strict: bool) -> u8 {
    match study.verdict {
        Verdict::Fails | Verdict::Depends => 1,
        _ if strict && study.not_shown > 0 => 1,
        Verdict::Tight | Verdict::Holds | Verdict::NotShown | Verdict::Note => 0,
    }
}
