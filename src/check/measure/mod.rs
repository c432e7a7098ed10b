//! What each check measures, one small function a check; a measure holds a figure against a limit and judges nothing.

pub(super) mod flow;
pub(super) mod heat;
pub(super) mod source;
pub(super) mod states;
pub(super) mod valves;

use super::{Kind, Subject};
use crate::view::limits::Limit;

/// Which side of the limit is the good one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Sense {
    /// Must not exceed it.
    AtMost,
    /// Must reach it.
    AtLeast,
}

/// When a pass is a narrow one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Tight {
    /// Under a share of the limit is left.
    ByShare,
    /// That, or less than this is left, in the unit of the value.
    ByShareOr(f64),
    /// Never: the limit already stands a good way before anything happens.
    Never,
}

/// One figure of one subject in one state, with what it is held against.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Measured {
    pub subject: Subject,
    pub state: Option<usize>,
    pub kind: Kind,
    /// SI; `None` if data are missing.
    pub value: Option<f64>,
    /// SI; `None` if data are missing.
    pub limit: Option<f64>,
    pub sense: Sense,
    /// What a margin is a share of: the limit, unless the scale has another zero.
    pub scale: Option<f64>,
    pub limit_source: String,
    /// Counts for the verdict; a note otherwise.
    pub counts: bool,
    /// When a pass is tight.
    pub tight: Tight,
    pub detail: Vec<(&'static str, f64)>,
    pub names: Vec<String>,
}

impl Measured {
    /// A value that must not exceed a limit.
    pub fn at_most(subject: Subject, state: usize, kind: Kind, value: f64, limit: &Limit) -> Self {
        Self {
            subject,
            state: Some(state),
            kind,
            value: Some(value),
            limit: Some(limit.value),
            sense: Sense::AtMost,
            scale: None,
            limit_source: limit.source.clone(),
            counts: limit.counts,
            tight: Tight::ByShare,
            detail: Vec::new(),
            names: Vec::new(),
        }
    }

    /// A value that must reach a limit.
    pub fn at_least(subject: Subject, state: usize, kind: Kind, value: f64, limit: &Limit) -> Self {
        Self {
            sense: Sense::AtLeast,
            ..Self::at_most(subject, state, kind, value, limit)
        }
    }

    /// Something that is only said.
    pub fn note(subject: Subject, state: usize, kind: Kind, value: f64) -> Self {
        Self {
            limit: None,
            counts: false,
            ..Self::at_most(subject, state, kind, value, &given(0.0, ""))
        }
    }

    /// Data are missing; the value is known or not.
    pub fn missing(subject: Subject, state: usize, kind: Kind, value: Option<f64>) -> Self {
        Self {
            value,
            counts: true,
            ..Self::note(subject, state, kind, 0.0)
        }
    }

    /// The same with more figures.
    pub fn with(mut self, detail: &[(&'static str, f64)]) -> Self {
        self.detail.extend_from_slice(detail);
        self
    }

    /// The same with names.
    pub fn named(mut self, names: impl IntoIterator<Item = String>) -> Self {
        self.names.extend(names);
        self
    }

    /// Share of the limit left, negative if broken; `None` without a limit.
    pub fn margin(&self) -> Option<f64> {
        let (value, limit) = (self.value?, self.limit?);
        let left = match self.sense {
            Sense::AtMost => limit - value,
            Sense::AtLeast => value - limit,
        };
        let scale = self.scale.unwrap_or(limit).abs();
        Some(if scale > 0.0 { left / scale } else { left })
    }
}

/// A limit that is a figure of the house itself.
pub(super) fn given(value: f64, source: &str) -> Limit {
    Limit {
        value,
        source: source.to_owned(),
        counts: true,
        from_file: true,
    }
}
