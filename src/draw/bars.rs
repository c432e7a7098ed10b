//! Widths of what has no length: bars between tees at one place, and the pieces that lead to the pipes behind it.

use super::chart::{Bit, Block};
use super::pen::Pen;
use super::plan::{Body, Cell, Row};
use super::rows::{is_vessel, line_of};

/// Width of the bars of a manifold, mm.
pub(crate) const MANIFOLD: f64 = 1.4;

impl Pen<'_> {
    /// Width of the bar before a tee, and whether the index band runs along it; `wide` is the pipe that leads to the row.
    pub(crate) fn bar_of(&self, row: &Row, i: usize, wide: Option<f64>) -> (f64, bool) {
        let rest = row.cells.get(i..).unwrap_or(&[]);
        let end = row.end.as_ref().map_or(&[][..], |s| &s.rows);
        let away = matches!(row.cells.get(i), Some(c) if matches!(c.body, Body::Away(..)));
        let width = self.width_to(row, i, wide).filter(|_| !away);
        let width = width.unwrap_or_else(|| self.behind(row, i).unwrap_or(0.7));
        self.bar(rest, end, width)
    }

    /// The same for the way home of a reverse return: as wide as the last of its return rail.
    pub(crate) fn bar_home(&self, row: &Row) -> (f64, bool) {
        let mut last = row.cells.iter().rev();
        let run = last.find_map(|c| c.back.iter().rev().find_map(line_of));
        self.bar(&row.cells, &[], run.map_or(0.7, |r| self.width(r)))
    }

    /// Width of the pipe that leads to the tee of a cell. Behind a four-port vessel other pipes begin.
    pub(crate) fn width_to(&self, row: &Row, i: usize, wide: Option<f64>) -> Option<f64> {
        for cell in row.cells.get(..i)?.iter().rev() {
            if is_vessel(&cell.body) {
                return None;
            }
            if let Some(run) = cell.flow.iter().rev().find_map(line_of) {
                return Some(self.width(run));
            }
        }
        wide
    }

    /// The widest pipe that begins behind the tee of a cell, as far as no pipe is between.
    fn behind(&self, row: &Row, i: usize) -> Option<f64> {
        let mut widest: Option<f64> = None;
        for cell in row.cells.iter().skip(i) {
            if let Some(run) = cell.flow.iter().find_map(line_of) {
                return wider(widest, Some(self.width(run)));
            }
            let here = match &cell.body {
                Body::Rung(bits) | Body::Loop(bits) => {
                    bits.iter().find_map(line_of).map(|r| self.width(r))
                }
                Body::Nested(inner) | Body::Away(_, inner) => self.behind(inner, 0),
                Body::Table(_) => None,
            };
            widest = wider(widest, here);
        }
        let Some(stack) = &row.end else {
            return widest;
        };
        let end = match stack.flow.iter().find_map(line_of) {
            Some(run) => Some(self.width(run)),
            None => {
                let rows = stack.rows.iter();
                rows.fold(None, |w, r| wider(w, self.behind(r, 0)))
            }
        };
        wider(widest, end)
    }

    /// The widest pipe that begins one of some rows.
    pub(crate) fn widest(&self, rows: &[Row]) -> f64 {
        let widest = rows.iter().fold(None, |w, r| wider(w, self.behind(r, 0)));
        widest.unwrap_or(1.0)
    }

    /// What leads to the arrow to another sheet: the bar of its manifold, or as wide as the pipe that begins there.
    pub(crate) fn away_bar(&self, rest: &Row) -> (f64, bool) {
        let first = rest.cells.first();
        let bar = first.is_some_and(|c| c.bar && self.on_manifold(c));
        let width = self.behind(rest, 0).unwrap_or(0.7);
        let bar = if bar { MANIFOLD } else { width };
        self.bar(&[], std::slice::from_ref(rest), bar)
    }

    /// Whether the piece before a tee belongs to the bar of a manifold.
    pub(crate) fn on_bar(&self, row: &Row, i: usize) -> bool {
        let cell = &row.cells[i];
        match &cell.body {
            // what went to another sheet of the same manifold
            Body::Away(_, rest) => {
                let mut here = row.cells[..i].iter().rev();
                let goes_on = rest
                    .cells
                    .first()
                    .is_some_and(|c| c.bar && self.on_manifold(c));
                goes_on && here.next().is_some_and(|c| self.on_manifold(c))
            }
            _ => cell.bar && self.on_manifold(cell),
        }
    }

    /// Whether a way that ends at an emitter on a manifold hangs here.
    fn on_manifold(&self, cell: &Cell) -> bool {
        let Body::Rung(bits) = &cell.body else {
            return false;
        };
        let emitters = &self.figures.network.emitters;
        bits.iter().any(|b| match b {
            Bit::Block(Block::Emitter(i), _) => {
                emitters.get(*i).is_some_and(|e| e.manifold.is_some())
            }
            _ => false,
        })
    }
}

/// The greater of two widths that may be unknown.
fn wider(a: Option<f64>, b: Option<f64>) -> Option<f64> {
    match (a, b) {
        (Some(a), Some(b)) => Some(a.max(b)),
        (a, b) => a.or(b),
    }
}
