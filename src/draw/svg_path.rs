//! Path data and dashes.

use super::scene::{Pt, Rect, Stroke};

/// Two decimals at most, no trailing zeros.
pub(crate) fn number(x: f64) -> String {
    let mut s = format!("{x:.2}");
    if s.contains('.') {
        while s.ends_with('0') {
            s.pop();
        }
        if s.ends_with('.') {
            s.pop();
        }
    }
    if s == "-0" { "0".into() } else { s }
}

/// A way through corners, with half circles where it hops.
pub(crate) fn path(points: &[Pt], hops: &[(usize, Pt)], radius: f64) -> String {
    let mut d = String::new();
    let Some(first) = points.first() else {
        return d;
    };
    d.push_str(&format!("M{} {}", number(first.x), number(first.y)));
    for (i, w) in points.windows(2).enumerate() {
        let [a, b] = w else { continue };
        let level = (a.y - b.y).abs() < 1e-9;
        let upright = (a.x - b.x).abs() < 1e-9;
        let ahead = if level { b.x > a.x } else { b.y > a.y };
        let mut here: Vec<Pt> = hops
            .iter()
            .filter(|(piece, _)| *piece == i)
            .map(|(_, p)| *p)
            .collect();
        here.sort_by(|p, q| {
            let along = |r: &Pt| if level { r.x } else { r.y };
            let order = along(p).total_cmp(&along(q));
            if ahead { order } else { order.reverse() }
        });
        let sign = if ahead { 1.0 } else { -1.0 };
        let sweep = i32::from(ahead);
        for h in here {
            if level {
                d.push_str(&format!(
                    "H{}A{r} {r} 0 0 {sweep} {} {}",
                    number(h.x - sign * radius),
                    number(h.x + sign * radius),
                    number(h.y),
                    r = number(radius)
                ));
            } else {
                d.push_str(&format!(
                    "V{}A{r} {r} 0 0 {sweep} {} {}",
                    number(h.y - sign * radius),
                    number(h.x),
                    number(h.y + sign * radius),
                    r = number(radius)
                ));
            }
        }
        if level && !upright {
            d.push_str(&format!("H{}", number(b.x)));
        } else if upright && !level {
            d.push_str(&format!("V{}", number(b.y)));
        } else {
            d.push_str(&format!("L{} {}", number(b.x), number(b.y)));
        }
    }
    d
}

/// Dashes of a return pipe: what is seen of every straight piece between corners, hops, symbols and arrows begins and ends
/// with half a dash; what they cover is solid, so that no gap is lost under them.
pub(crate) fn dashes(s: &Stroke, over: &[Rect]) -> String {
    // lengths alternate ink, gap; ink that meets ink is joined
    let mut marks = Marks::new(s);
    for (i, w) in s.points.windows(2).enumerate() {
        let [a, b] = w else { continue };
        let along = |p: Pt| (p.x - a.x).abs() + (p.y - a.y).abs();
        let length = along(*b);
        // from, to, and by how much more than that the ink is long: a half circle is longer than its chord
        let hops = s.hops.iter().filter(|(p, _)| *p == i).map(|(_, h)| {
            let (at, r) = (along(*h), s.hop_radius);
            (at - r, at + r, (std::f64::consts::PI - 2.0) * r)
        });
        let hidden = over.iter().filter_map(|r| {
            let (from, to) = covered(*a, *b, r)?;
            Some((from, to, 0.0))
        });
        let mut solid: Vec<(f64, f64, f64)> = hops.chain(hidden).collect();
        solid.sort_by(|p, q| p.0.total_cmp(&q.0).then(p.1.total_cmp(&q.1)));
        let mut from = 0.0;
        for (start, end, more) in solid {
            marks.piece(start - from);
            marks.ink += (end - from.max(start)).max(0.0) + more;
            from = from.max(end);
        }
        marks.piece(length - from);
    }
    marks.written()
}

/// Where a level or upright line runs within a rectangle, as distances from its beginning.
fn covered(a: Pt, b: Pt, r: &Rect) -> Option<(f64, f64)> {
    let level = (a.y - b.y).abs() < 1e-6;
    let (across, low, high) = if level {
        (a.y, r.y, r.bottom())
    } else {
        (a.x, r.x, r.right())
    };
    if across <= low || across >= high {
        return None;
    }
    let (from, to, near, far) = if level {
        (a.x, b.x, r.x, r.right())
    } else {
        (a.y, b.y, r.y, r.bottom())
    };
    let (near, far) = if to >= from {
        (near - from, far - from)
    } else {
        (from - far, from - near)
    };
    let (near, far) = (near.max(0.0), far.min((to - from).abs()));
    (near < far).then_some((near, far))
}

/// Ink and gaps by turns.
struct Marks {
    all: Vec<f64>,
    ink: f64,
    dash: f64,
    gap: f64,
}

impl Marks {
    fn new(s: &Stroke) -> Self {
        let long = s
            .points
            .windows(2)
            .map(|w| (w[0].x - w[1].x).abs() + (w[0].y - w[1].y).abs())
            .fold(0.0, f64::max);
        let (dash, gap) = if long < 20.0 {
            (
                (6.0 * s.width).clamp(1.6, 6.0),
                (2.4 * s.width).clamp(0.9, 2.4),
            )
        } else {
            (
                (12.0 * s.width).clamp(3.0, 8.0),
                (3.0 * s.width).clamp(1.2, 2.8),
            )
        };
        Self {
            all: Vec::new(),
            ink: 0.0,
            dash,
            gap,
        }
    }

    /// Half a dash, then gaps with whole dashes between, then half a dash; a short piece has one narrower gap.
    fn piece(&mut self, length: f64) {
        if length < SHORT {
            self.ink += length.max(0.0);
            return;
        }
        let gap = self.gap.min(0.4 * length);
        let n = ((length - self.dash) / (self.dash + gap)).round().max(1.0);
        let d = (length - n * gap) / n;
        self.ink += d / 2.0;
        for k in 0..n as usize {
            self.all.push(self.ink);
            self.all.push(gap);
            self.ink = if k + 1 == n as usize { d / 2.0 } else { d };
        }
    }

    fn written(mut self) -> String {
        if self.all.is_empty() {
            // nothing of it is long enough to dash: one gap in the middle keeps it a return
            let gap = self.gap;
            return format!(
                "{} {}",
                number((self.ink - gap).max(0.4) / 2.0),
                number(gap)
            );
        }
        self.all.push(self.ink);
        self.all.push(self.gap);
        self.all
            .into_iter()
            .map(number)
            .collect::<Vec<_>>()
            .join(" ")
    }
}

/// Under this, mm, what is seen of a pipe is too short for a gap.
const SHORT: f64 = 1.5;
