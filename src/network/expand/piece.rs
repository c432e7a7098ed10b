//! A piece of a line: what becomes one element once it is laid between two places.

use crate::diag::Span;
use crate::network::{Heat, Law, Part, PumpCurve, Role};

/// What has to be noted when the piece becomes an element.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Mark {
    None,
    /// Valve of a zone.
    Zone(usize),
    /// Pump of a zone.
    ZonePump(usize),
    /// Body of a vessel.
    Vessel(usize),
}

/// What becomes one element.
#[derive(Clone, Debug)]
pub(super) struct Piece {
    /// Words behind the line's name; the line's name alone if empty.
    pub words: String,
    pub role: Role,
    pub law: Law,
    pub heat: Heat,
    pub volume_m3: f64,
    pub mark: Mark,
    pub span: Option<Span>,
}

impl Piece {
    /// Losses in series.
    pub fn parts(words: &str, role: Role, parts: Vec<Part>, span: Option<Span>) -> Self {
        Self {
            words: words.to_owned(),
            role,
            law: Law::Parts(parts),
            heat: Heat::None,
            volume_m3: 0.0,
            mark: Mark::None,
            span,
        }
    }

    /// A joint without loss.
    pub fn joint() -> Self {
        Self::parts("", Role::Pipe, Vec::new(), None)
    }

    /// A pump; its curve is filled in when its fluid is known.
    pub fn pump(words: &str, span: Span) -> Self {
        Self {
            law: Law::Pump(PumpCurve::Points(Vec::new())),
            ..Self::parts(words, Role::Pump, Vec::new(), Some(span))
        }
    }

    /// The same with what it does to the water's temperature.
    pub fn heat(mut self, heat: Heat) -> Self {
        self.heat = heat;
        self
    }

    /// The same with its water, m³.
    pub fn volume(mut self, volume_m3: f64) -> Self {
        self.volume_m3 = volume_m3;
        self
    }

    /// The same with a mark.
    pub fn mark(mut self, mark: Mark) -> Self {
        self.mark = mark;
        self
    }

    /// Its element's name on a line of this name.
    pub fn name_on(&self, base: &str) -> String {
        match (base.is_empty(), self.words.is_empty()) {
            (_, true) => base.to_owned(),
            (true, false) => self.words.clone(),
            (false, false) => format!("{base} {}", self.words),
        }
    }
}
