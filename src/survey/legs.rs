//! What a survey holds of a leg.

use super::{Head, Lies, Range};
use crate::diag::Span;
use crate::quantity::{Kv, Metre, Pressure, VolumeFlow};

/// What is written for the pipe of a leg.
#[derive(Clone, Debug, PartialEq)]
pub struct PipeWord {
    /// The alternatives with their odds; the likeliest one (first on a tie) is used. Never empty.
    pub options: Vec<PipeOption>,
    /// `?`: a guess. It admits the next nominal size below and the plastic pipe of the same outside size.
    pub guess: bool,
    /// `?coil`: the doubt that several legs share, so that they are all right or wrong together.
    pub shared: Option<String>,
}

/// One pipe that a leg may be made of.
#[derive(Clone, Debug, PartialEq)]
pub struct PipeOption {
    /// As written.
    pub pipe: PipeSize,
    /// Chance between 0 and 1, where alternatives carry odds.
    pub odds: Option<f64>,
    /// Place of the word.
    pub span: Span,
}

/// A pipe by catalogue word or by bore.
#[derive(Clone, Debug, PartialEq)]
pub enum PipeSize {
    /// `cu22`, `steel 3/4`: a word of the catalogue, checked by the reader.
    Word(String),
    /// `bore 17.8mm`, with an optional range and roughness of its own.
    Bore {
        /// Inside diameter.
        bore: Range<Metre>,
        /// Roughness, if given.
        roughness: Option<Metre>,
    },
}

/// Which pipe of a pair an item sits on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Side {
    /// The warm pipe, away from the source.
    Flow,
    /// The cool pipe, back to the source.
    Return,
}

/// One thing met along a leg.
#[derive(Clone, Debug, PartialEq)]
pub struct Item {
    /// How many, 1 if not said.
    pub count: u32,
    /// What it is.
    pub kind: ItemKind,
    /// `on flow` or `on return`; both pipes of a pair if `None`.
    pub side: Option<Side>,
    /// Its words in the file.
    pub span: Span,
}

/// What an item of a leg is.
#[derive(Clone, Debug, PartialEq)]
pub enum ItemKind {
    /// A fitting or device of the catalogue, by its word there (`elbow`, `strainer`, `check valve`, `coupling`).
    Named {
        /// Word of the catalogue.
        word: String,
        /// Kv given in the file, else the catalogue's own loss is used.
        kv: Option<Kv>,
        /// Bore of the insert, for push-fit plastic.
        insert: Option<Metre>,
        /// Pressure at which a check or overflow valve begins to open.
        opening: Option<Pressure>,
        /// Flow that a flow-holding valve holds.
        holds: Option<VolumeFlow>,
    },
    /// `zeta n`, on the velocity in this leg's pipe.
    Zeta(f64),
    /// `kv n` with no name.
    Kv(Kv),
    /// `loss p at q [exponent n]`.
    Loss(LossAt),
    /// `fittings +20%`: bends that nobody could count, as a share of the straight pipe's friction.
    FrictionShare(f64),
}

/// A loss at a flow, growing with a power of the flow.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LossAt {
    /// Loss at `flow`.
    pub loss: Head,
    /// Flow at which it is met.
    pub flow: VolumeFlow,
    /// Power of the flow, 2 if not said.
    pub exponent: f64,
}

/// Pipe, length and the things met on the way, of ONE pipe.
#[derive(Clone, Debug, PartialEq)]
pub struct Leg {
    /// The pipe.
    pub pipe: PipeWord,
    /// Its length.
    pub length: Range<Metre>,
    /// `3m..4m?coil`: a shared doubt about the length.
    pub length_shared: Option<String>,
    /// In the order met.
    pub items: Vec<Item>,
    /// Where it lies.
    pub lies: Option<Lies>,
    /// Thickness of lagging.
    pub lagging: Option<Metre>,
    /// Storey, for the drawing only.
    pub storey: Option<String>,
    /// Age and condition: a doubt with a band on bore and roughness, by its word (`old`, `rusty`).
    pub condition: Option<String>,
    /// The whole text in the file.
    pub span: Span,
}
