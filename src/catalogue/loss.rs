//! What an item of a leg loses in a given pipe, and what a pipe loses to its surroundings.

use super::{Catalogue, Pipe};
use crate::maths;
use crate::quantity::{Kv, Metre, Pressure};
use std::f64::consts::PI;

/// Loss of one piece in a leg's pipe.
#[derive(Clone, Debug, PartialEq)]
pub enum Loss {
    /// None is counted.
    None,
    /// ζ on the velocity in the leg's own bore.
    Zeta(f64),
    /// Equivalent length of the leg's own pipe.
    Length(Metre),
    /// Flow factor.
    Kv(Kv),
    /// Passes one way only, after its opening pressure.
    OneWay(Pressure, Kv),
    /// Holds its flow; kv below its working range.
    Hold(Kv),
}

/// How a loss depends on the size of the pipe.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct LossRow {
    pub(super) law: Law,
    pub(super) materials: Vec<String>,
    pub(super) by_outside: bool,
    /// Size in mm and value.
    pub(super) rows: Vec<(f64, f64)>,
    /// Least and greatest value met, where known.
    pub(super) range: Vec<(f64, f64)>,
    pub(super) between: Between,
    pub(super) beyond: Beyond,
    pub(super) opening: Pressure,
    pub(super) source: String,
    pub(super) confidence: String,
    pub(super) note: String,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Law {
    None,
    Zeta,
    Length,
    Kv,
    OneWay,
    Hold,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Between {
    /// Interpolated.
    Line,
    /// The last row that is not larger.
    Step,
    /// The first row that is not smaller.
    Band,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Beyond {
    Hold,
    Bore,
    BoreSquared,
}

/// ζ of an insert narrower than the pipe.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct InsertRule {
    pub(super) contraction: f64,
    pub(super) elbow: f64,
    pub(super) source: String,
    pub(super) confidence: String,
}

/// Heat loss of pipes.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Surroundings {
    /// Outside in mm, W/m at 25 K of metal and of dull pipe.
    pub(super) bare: Vec<(f64, f64, f64)>,
    pub(super) lagging_w_mk: f64,
    pub(super) surface_w_m2k: f64,
}

/// A loss with where it is from.
#[derive(Clone, Debug, PartialEq)]
pub struct Sourced {
    /// The loss of one piece.
    pub loss: Loss,
    /// Least and greatest value met (same kind as the loss), where known.
    pub range: Option<(f64, f64)>,
    /// Source.
    pub source: String,
    /// `high`, `medium`, `low`.
    pub confidence: String,
    /// What else to know.
    pub note: String,
}

impl LossRow {
    /// The value at a pipe's size.
    fn value(&self, pipe: &Pipe, rows: &[(f64, f64)]) -> f64 {
        let bore = pipe.bore.0 * 1e3;
        // a pipe known by its bore alone: drawn tube is about 1.6 mm larger outside
        let size = if self.by_outside {
            pipe.outside.map_or(bore + 1.6, |o| o.0 * 1e3)
        } else {
            bore
        };
        let (Some(first), Some(last)) = (rows.first(), rows.last()) else {
            return 0.0;
        };
        let grown = |end: &(f64, f64)| {
            let ratio = size / end.0;
            match self.beyond {
                Beyond::Hold => end.1,
                Beyond::Bore => end.1 * ratio,
                Beyond::BoreSquared => end.1 * ratio * ratio,
            }
        };
        if size <= first.0 {
            return grown(first);
        }
        if size >= last.0 {
            return grown(last);
        }
        let above = rows.iter().find(|r| r.0 >= size).unwrap_or(last);
        let below = rows.iter().rfind(|r| r.0 <= size).unwrap_or(first);
        match self.between {
            Between::Line if above.0 > below.0 => {
                below.1 + (above.1 - below.1) * (size - below.0) / (above.0 - below.0)
            }
            Between::Band => above.1,
            Between::Line => below.1,
            Between::Step => below.1,
        }
    }

    fn at(&self, pipe: &Pipe) -> Sourced {
        let value = self.value(pipe, &self.rows);
        let range = (!self.range.is_empty()).then(|| {
            let side = |pick: fn(&(f64, f64)) -> f64| {
                let rows: Vec<_> = self
                    .rows
                    .iter()
                    .zip(&self.range)
                    .map(|(r, ends)| (r.0, pick(ends)))
                    .collect();
                self.value(pipe, &rows)
            };
            (side(|ends| ends.0), side(|ends| ends.1))
        });
        let loss = match self.law {
            Law::None => Loss::None,
            Law::Zeta => Loss::Zeta(value),
            Law::Length => Loss::Length(Metre(value)),
            Law::Kv => Loss::Kv(Kv(value)),
            Law::OneWay => Loss::OneWay(self.opening, Kv(value)),
            Law::Hold => Loss::Hold(Kv(value)),
        };
        Sourced {
            loss,
            range,
            source: self.source.clone(),
            confidence: self.confidence.clone(),
            note: self.note.clone(),
        }
    }
}

impl Catalogue {
    /// Loss of one piece of `word` in a leg of this pipe, with an insert of its own bore if given; `None` if there is no
    /// such word.
    ///
    /// With an insert, ζ = 0.5(1 − a) + (1 − a)² (+ 0.7 for a turn) on the insert's velocity, a = (d_insert/d_pipe)²,
    /// carried to the pipe's velocity by (d_pipe/d_insert)⁴.
    pub fn item_loss(&self, word: &str, pipe: &Pipe, insert: Option<Metre>) -> Option<Sourced> {
        let item = self.item(word)?;
        let fits = |row: &&LossRow| {
            row.materials
                .iter()
                .any(|m| m == "*" || *m == pipe.material)
        };
        let usual = item.losses.iter().find(fits)?.at(pipe);
        let Some(insert) = insert.filter(|d| d.0 > 0.0 && d.0 < pipe.bore.0) else {
            return Some(usual);
        };
        let (Loss::Zeta(_) | Loss::Length(_)) = usual.loss else {
            return Some(usual);
        };
        let ratio = insert / pipe.bore;
        let a = ratio * ratio;
        let turn = if item.word.contains("elbow") || item.word == "knee" {
            self.insert.elbow
        } else {
            0.0
        };
        let on_insert = self.insert.contraction * (1.0 - a) + (1.0 - a) * (1.0 - a) + turn;
        Some(Sourced {
            loss: Loss::Zeta(on_insert / (a * a)),
            range: None,
            source: self.insert.source.clone(),
            confidence: self.insert.confidence.clone(),
            note: format!("insert {} mm", (insert.0 * 1e4).round() / 10.0),
        })
    }

    /// Heat that a pipe loses, W per metre and kelvin over its surroundings, bare or lagged.
    ///
    /// Bare: the computed table at 25 K, by outside diameter. Lagged: conduction through the lagging and the surface's
    /// heat transfer in series, the pipe's own wall left out.
    pub fn heat_loss_w_mk(&self, pipe: &Pipe, lagging: Option<Metre>) -> f64 {
        let outside = pipe.outside.unwrap_or(pipe.bore + Metre(1.6e-3)).0;
        if let Some(thick) = lagging.filter(|t| t.0 > 0.0) {
            let over = outside + 2.0 * thick.0;
            let through = maths::ln(over / outside) / (2.0 * PI * self.surroundings.lagging_w_mk);
            let from_surface = 1.0 / (self.surroundings.surface_w_m2k * PI * over);
            return 1.0 / (through + from_surface);
        }
        let metal = pipe.material == "copper";
        let rows: Vec<(f64, f64)> = self
            .surroundings
            .bare
            .iter()
            .map(|(mm, bright, dull)| (*mm, if metal { *bright } else { *dull }))
            .collect();
        line(&rows, outside * 1e3) / 25.0
    }
}

/// Interpolated between rows, in proportion beyond them.
fn line(rows: &[(f64, f64)], x: f64) -> f64 {
    let (Some(first), Some(last)) = (rows.first(), rows.last()) else {
        return 0.0;
    };
    if x <= first.0 {
        return first.1 * x / first.0;
    }
    if x >= last.0 {
        return last.1 * x / last.0;
    }
    let above = rows.iter().find(|r| r.0 >= x).unwrap_or(last);
    let below = rows.iter().rfind(|r| r.0 <= x).unwrap_or(first);
    if above.0 > below.0 {
        below.1 + (above.1 - below.1) * (x - below.0) / (above.0 - below.0)
    } else {
        below.1
    }
}
