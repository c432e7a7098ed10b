//! What is wrong with a text that should hold a value: as data, and in words.

use super::Quantity;
use crate::diag::{Diagnostic, Span};
use std::ops::Range;

/// What is wrong with a text that should hold a value with its unit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Problem {
    /// Nothing is written.
    Empty,
    /// No number where one was expected.
    NotANumber,
    /// A comma in the number, with the same number written with a point.
    Comma(String),
    /// Infinite, not a number, or too large to hold.
    NotFinite,
    /// A plain number where the unit must be written.
    UnitMissing,
    /// No unit is spelt so, with the nearest that would fit.
    UnitUnknown(Option<&'static str>),
    /// A unit of something else: what it is the unit of.
    WrongKind(&'static str),
    /// Less than zero.
    Negative,
    /// Zero, where something must be there.
    Zero,
    /// So few kelvin that it can only be a difference, not a temperature.
    DifferenceNotTemperature,
}

/// A value that could not be read: what is wrong, and the word it is about.
#[derive(Clone, Debug, PartialEq)]
pub struct UnitError {
    /// What is wrong.
    pub problem: Problem,
    /// Bytes of the word, from the start of the text that was read.
    pub span: Range<usize>,
    /// The word itself, cut if it is very long.
    pub word: String,
    /// What was to be read.
    pub expected: Quantity,
}

impl UnitError {
    /// Stable code of the diagnostic.
    pub fn code(&self) -> &'static str {
        match self.problem {
            Problem::Empty => "value-missing",
            Problem::NotANumber => "number-expected",
            Problem::Comma(_) => "number-comma",
            Problem::NotFinite => "number-not-finite",
            Problem::UnitMissing => "unit-missing",
            Problem::UnitUnknown(_) => "unit-unknown",
            Problem::WrongKind(_) | Problem::DifferenceNotTemperature => "unit-wrong-kind",
            Problem::Negative => "number-negative",
            Problem::Zero => "number-zero",
        }
    }

    /// One sentence about the value of `subject`, e.g. a key of the file.
    pub fn message(&self, subject: &str) -> String {
        let (word, wants) = (&self.word, self.expected.words());
        match &self.problem {
            Problem::Empty => format!("{subject}: nothing is written here"),
            Problem::NotANumber => format!("{subject}: `{word}` is not a number"),
            Problem::Comma(_) => format!("{subject}: `{word}` has a comma in the number"),
            Problem::NotFinite => format!("{subject}: `{word}` is not a finite number"),
            Problem::UnitMissing => format!("{subject}: `{word}` has no unit"),
            Problem::UnitUnknown(_) => format!("{subject}: there is no unit `{word}`"),
            Problem::WrongKind(is) => {
                format!("{subject}: `{word}` is the unit of {is}, not of {wants}")
            }
            Problem::DifferenceNotTemperature => {
                format!("{subject}: `{word}` is a temperature difference, not a temperature")
            }
            Problem::Negative => format!("{subject}: {wants} cannot be negative"),
            Problem::Zero => format!("{subject}: {wants} of zero means nothing here"),
        }
    }

    /// Words beside the pointer.
    pub fn label(&self) -> String {
        match &self.problem {
            Problem::UnitUnknown(_) | Problem::WrongKind(_) => {
                format!(
                    "expected a unit of {}",
                    self.expected
                        .words()
                        .trim_start_matches("an ")
                        .trim_start_matches("a ")
                )
            }
            Problem::UnitMissing => "a unit is expected after this number".into(),
            Problem::Negative => "less than zero".into(),
            Problem::Zero => "must be more than zero".into(),
            Problem::Comma(_) => "a point is the decimal sign here".into(),
            _ => format!("expected {}", self.expected.words()),
        }
    }

    /// What to write instead.
    pub fn help(&self) -> String {
        let example = self.expected.example();
        match &self.problem {
            Problem::Comma(better) => {
                format!("write `{better}`; thousands take no sign at all (`1500`)")
            }
            Problem::UnitUnknown(Some(near)) => {
                format!("did you mean `{near}`? For example {example}")
            }
            Problem::UnitMissing
                if self.expected == Quantity::Head || self.expected == Quantity::Pressure =>
            {
                format!("heads and pressures always carry their unit: {example}")
            }
            Problem::UnitMissing if self.expected == Quantity::Flow => {
                format!("flows always carry their unit: {example}")
            }
            Problem::WrongKind("a length") if self.expected == Quantity::Pressure => {
                "metres of water are written `2 m water`; kPa, mbar and bar are read too".into()
            }
            Problem::WrongKind("a mass flow") if self.expected == Quantity::Flow => {
                format!("write the flow by volume, for example {example}")
            }
            Problem::DifferenceNotTemperature => {
                "temperatures are written in °C, for example `21 C`".into()
            }
            _ => format!("write it like {example}"),
        }
    }

    /// The diagnostic, with `place` turning bytes of the text into bytes of the file.
    pub fn diagnostic(&self, subject: &str, place: impl Fn(Range<usize>) -> Span) -> Diagnostic {
        Diagnostic::error(self.code(), place(self.span.clone()), self.message(subject))
            .label(self.label())
            .help(self.help())
    }
}
