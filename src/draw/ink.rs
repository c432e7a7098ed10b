//! How much of a sheet carries ink: the share of the cells of a grid of 48 columns in which something is drawn.

use super::audit::lines_of;
use super::scene::{Item, Pt, Rect, pt};
use super::style::Paper;

/// Columns of the grid.
const COLUMNS: f64 = 48.0;

/// Symbols up to this size fill their box; larger ones have ink at the edge, mm.
const SMALL: f64 = 8.0;

/// Share of the cells with ink.
pub(crate) fn cells(items: &[Item], paper: Paper) -> f64 {
    let (w, h) = paper.size_mm();
    let rows = (COLUMNS * h / w).round();
    let (across, down) = (w / COLUMNS, h / rows);
    let mut grid = vec![false; (COLUMNS * rows) as usize];
    let mut mark = |r: Rect| {
        let to = |v: f64, step: f64, most: f64| (v / step).floor().clamp(0.0, most - 1.0) as usize;
        for y in to(r.y, down, rows)..=to(r.bottom(), down, rows) {
            for x in to(r.x, across, COLUMNS)..=to(r.right(), across, COLUMNS) {
                if let Some(cell) = grid.get_mut(y * COLUMNS as usize + x) {
                    *cell = true;
                }
            }
        }
    };
    let mut along = |points: &[Pt], half: f64| {
        for pair in points.windows(2) {
            if let [a, b] = pair {
                mark(Rect::of(*a, *b).grow(half));
            }
        }
    };
    for item in items {
        match item {
            Item::Stroke(s) => along(&s.points, s.width / 2.0),
            Item::Rule(points, width) => along(points, width / 2.0),
            Item::Frame(r, width) => along(&edge(r), width / 2.0),
            Item::Symbol(s) if s.rect.w.max(s.rect.h) > SMALL => along(&edge(&s.rect), 0.25),
            Item::KeyLine(a, b, _) => along(&[*a, *b], 0.5),
            _ => {}
        }
    }
    for item in items {
        match item {
            Item::Label(label) => {
                for line in lines_of(label) {
                    // reserved for the widest face: letters take nine tenths of it, between base line and capitals
                    mark(Rect {
                        y: line.y + 0.15 * line.h,
                        w: 0.9 * line.w,
                        h: 0.65 * line.h,
                        ..line
                    });
                }
            }
            Item::Symbol(s) if s.rect.w.max(s.rect.h) <= SMALL => mark(s.rect),
            Item::Mark(_, r, _) | Item::BandSample(r) | Item::OutlineSample(r) => mark(*r),
            _ => {}
        }
    }
    grid.iter().filter(|c| **c).count() as f64 / grid.len().max(1) as f64
}

fn edge(r: &Rect) -> [Pt; 5] {
    let (a, b) = (pt(r.x, r.y), pt(r.right(), r.bottom()));
    [a, pt(b.x, a.y), b, pt(a.x, b.y), a]
}
