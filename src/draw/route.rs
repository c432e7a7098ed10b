//! Links that belong to no rail, routed last on a fine grid: cost is length, and more for a bend and a crossing; slots
//! and symbols are closed, pipes may be crossed at right angles where there is room for a hop.

use super::scene::{Pt, Rect, pt};
use std::cmp::Reverse;
use std::collections::{BTreeMap, BinaryHeap};

/// Grid step, layout units: half a module.
const STEP: f64 = 1.25;
/// Cost of a bend and of a crossing, in steps.
const BEND: u32 = 40;
const CROSSING: u32 = 80;
/// Straight pipe that a hop needs on both sides, layout units.
const HOP: f64 = 3.6;

/// What is in the way.
pub(crate) struct Ground {
    /// Boxes that no link may enter.
    pub closed: Vec<Rect>,
    /// Straight pieces of pipe.
    pub pipes: Vec<(Pt, Pt)>,
    /// Where links may go at all.
    pub area: Rect,
    pub scale: f64,
}

const LEVEL: u8 = 1;
const UPRIGHT: u8 = 2;
const CLOSED: u8 = 4;

struct Grid {
    w: usize,
    h: usize,
    flags: Vec<u8>,
    area: Rect,
    step: f64,
}

impl Grid {
    fn new(ground: &Ground) -> Self {
        let step = STEP * ground.scale;
        let (w, h) = (
            (ground.area.w / step).floor() as usize + 1,
            (ground.area.h / step).floor() as usize + 1,
        );
        let mut grid = Self {
            w,
            h,
            flags: vec![0; w * h],
            area: ground.area,
            step,
        };
        let s = ground.scale;
        for r in &ground.closed {
            grid.mark(r.grow(1.4 * s), CLOSED);
        }
        for (a, b) in &ground.pipes {
            let r = Rect::of(*a, *b);
            let level = r.h < r.w;
            let near = HOP * s;
            if level {
                grid.mark(
                    Rect {
                        y: r.y - near,
                        h: 2.0 * near,
                        ..r
                    },
                    LEVEL,
                );
            } else {
                grid.mark(
                    Rect {
                        x: r.x - near,
                        w: 2.0 * near,
                        ..r
                    },
                    UPRIGHT,
                );
            }
            for p in [a, b] {
                let spot = Rect {
                    x: p.x,
                    y: p.y,
                    w: 0.0,
                    h: 0.0,
                };
                grid.mark(spot.grow(near), CLOSED);
            }
        }
        grid
    }

    fn mark(&mut self, r: Rect, flag: u8) {
        let cell = |v: f64, low: f64, most: usize| {
            (((v - low) / self.step).max(0.0) as usize).min(most.saturating_sub(1))
        };
        if r.right() < self.area.x || r.bottom() < self.area.y {
            return;
        }
        let (x0, x1) = (
            cell(r.x + self.step * 0.999, self.area.x, self.w),
            cell(r.right(), self.area.x, self.w),
        );
        let (y0, y1) = (
            cell(r.y + self.step * 0.999, self.area.y, self.h),
            cell(r.bottom(), self.area.y, self.h),
        );
        for y in y0..=y1 {
            for x in x0..=x1 {
                self.flags[y * self.w + x] |= flag;
            }
        }
    }

    fn point(&self, cell: usize) -> Pt {
        pt(
            self.area.x + (cell % self.w) as f64 * self.step,
            self.area.y + (cell / self.w) as f64 * self.step,
        )
    }

    fn neighbour(&self, cell: usize, dir: u8) -> Option<usize> {
        let (x, y) = (cell % self.w, cell / self.w);
        match dir {
            0 => (x + 1 < self.w).then(|| cell + 1),
            1 => (y + 1 < self.h).then(|| cell + self.w),
            2 => (x > 0).then(|| cell - 1),
            _ => (y > 0).then(|| cell - self.w),
        }
    }

    /// Cells by which a place can be left (or reached), with the direction outwards.
    fn gates(&self, p: Pt, pipes: &[(Pt, Pt)], scale: f64) -> Vec<(usize, u8)> {
        let mut out = Vec::new();
        for dir in 0..4_u8 {
            let (dx, dy) = [(1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)][usize::from(dir)];
            let along = |(a, b): &(Pt, Pt)| {
                // a pipe leaves the place in this direction
                [(a, b), (b, a)].iter().any(|(q, r)| {
                    (q.x - p.x).abs() < 0.05
                        && (q.y - p.y).abs() < 0.05
                        && (r.x - q.x) * dx + (r.y - q.y) * dy > 0.05
                }) || {
                    // or passes through it
                    let r = Rect::of(*a, *b).grow(0.02);
                    let ahead = pt(p.x + dx * 0.6, p.y + dy * 0.6);
                    let inside =
                        |q: Pt| q.x > r.x && q.x < r.right() && q.y > r.y && q.y < r.bottom();
                    inside(p) && inside(ahead)
                }
            };
            if pipes.iter().any(along) {
                continue;
            }
            let reach = (HOP + 1.6) * scale;
            let q = pt(p.x + dx * reach, p.y + dy * reach);
            let (ix, iy) = (
                ((q.x - self.area.x) / self.step).round(),
                ((q.y - self.area.y) / self.step).round(),
            );
            if ix < 0.0 || iy < 0.0 || ix >= self.w as f64 || iy >= self.h as f64 {
                continue;
            }
            let cell = iy as usize * self.w + ix as usize;
            if self.flags[cell] == 0 {
                out.push((cell, dir));
            }
        }
        out
    }
}

/// A way from one place to another, or nothing if there is none.
pub(crate) fn route(ground: &Ground, from: Pt, to: Pt) -> Option<Vec<Pt>> {
    let grid = Grid::new(ground);
    let starts = grid.gates(from, &ground.pipes, ground.scale);
    let goals: BTreeMap<usize, u8> = grid
        .gates(to, &ground.pipes, ground.scale)
        .into_iter()
        .collect();
    if goals.is_empty() {
        return None;
    }
    let mut best = vec![u32::MAX; grid.w * grid.h * 4];
    let mut before = vec![usize::MAX; grid.w * grid.h * 4];
    let mut queue = BinaryHeap::new();
    for (cell, dir) in starts {
        let state = cell * 4 + usize::from(dir);
        best[state] = 0;
        queue.push(Reverse((0_u32, state)));
    }
    let mut found = None;
    while let Some(Reverse((cost, state))) = queue.pop() {
        if cost > best[state] {
            continue;
        }
        let (cell, dir) = (state / 4, (state % 4) as u8);
        // arrive against the direction in which the goal is left
        if goals.get(&cell).is_some_and(|d| (d + 2) % 4 == dir) {
            found = Some(state);
            break;
        }
        let here = grid.flags[cell];
        for turn in [0_u8, 1, 3] {
            let next_dir = (dir + turn) % 4;
            if turn != 0 && here != 0 {
                continue;
            }
            let Some(next) = grid.neighbour(cell, next_dir) else {
                continue;
            };
            let flags = grid.flags[next];
            let level = next_dir.is_multiple_of(2);
            let barred = flags & CLOSED != 0
                || (level && flags & LEVEL != 0)
                || (!level && flags & UPRIGHT != 0);
            if barred {
                continue;
            }
            let enters = flags != 0 && here == 0;
            let step = 1 + if turn == 0 { 0 } else { BEND } + if enters { CROSSING } else { 0 };
            let next_state = next * 4 + usize::from(next_dir);
            if cost + step < best[next_state] {
                best[next_state] = cost + step;
                before[next_state] = state;
                queue.push(Reverse((cost + step, next_state)));
            }
        }
    }
    let mut state = found?;
    let mut points = vec![to];
    loop {
        points.push(grid.point(state / 4));
        if before[state] == usize::MAX {
            break;
        }
        state = before[state];
    }
    points.push(from);
    points.reverse();
    Some(square(points))
}

/// Grid points snapped so that the first and last pieces are straight.
fn square(mut points: Vec<Pt>) -> Vec<Pt> {
    let n = points.len();
    if n < 3 {
        return points;
    }
    // carry the end's own coordinate along the straight piece that leaves it
    let snap = |points: &mut Vec<Pt>, order: Vec<usize>| {
        let (Some(&a), Some(&b)) = (order.first(), order.get(1)) else {
            return;
        };
        let (p, q) = (points[a], points[b]);
        let level = (p.y - q.y).abs() < (p.x - q.x).abs();
        let value = if level { q.y } else { q.x };
        for &i in &order[1..] {
            let same = if level {
                (points[i].y - value).abs() < 1e-6
            } else {
                (points[i].x - value).abs() < 1e-6
            };
            if !same {
                break;
            }
            if level {
                points[i].y = p.y;
            } else {
                points[i].x = p.x;
            }
        }
    };
    snap(&mut points, (0..n).collect());
    snap(&mut points, (0..n).rev().collect());
    super::draft::straighten(points)
}
