//! Path data and dashes.

use super::scene::{Pt, Stroke};

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

/// Dashes of a return pipe: every straight piece begins and ends with half a dash, an arc is solid.
pub(crate) fn dashes(s: &Stroke) -> String {
    let mut marks: Vec<f64> = Vec::new();
    // lengths alternate ink, gap; ink that meets ink is joined
    let mut ink = 0.0;
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
    // half a dash, then n gaps with whole dashes between, then half a dash
    let mut piece = |length: f64, ink: &mut f64| {
        let n = ((length - dash) / (dash + gap)).round().max(1.0);
        let d = (length - n * gap) / n;
        if d <= 0.4 {
            *ink += length.max(0.0);
            return;
        }
        *ink += d / 2.0;
        for k in 0..n as usize {
            marks.push(*ink);
            marks.push(gap);
            *ink = if k + 1 == n as usize { d / 2.0 } else { d };
        }
    };
    for (i, w) in s.points.windows(2).enumerate() {
        let [a, b] = w else { continue };
        let length = (a.x - b.x).abs() + (a.y - b.y).abs();
        let mut at: Vec<f64> = s
            .hops
            .iter()
            .filter(|(p, _)| *p == i)
            .map(|(_, h)| (h.x - a.x).abs() + (h.y - a.y).abs())
            .collect();
        at.sort_by(f64::total_cmp);
        let mut from = 0.0;
        for h in at {
            piece(h - s.hop_radius - from, &mut ink);
            ink += std::f64::consts::PI * s.hop_radius;
            from = h + s.hop_radius;
        }
        piece(length - from, &mut ink);
    }
    if marks.is_empty() {
        // too short to dash: one gap in the middle keeps it a return
        return format!("{} {}", number((ink - gap).max(0.4) / 2.0), number(gap));
    }
    marks.push(ink);
    marks.push(gap);
    marks.into_iter().map(number).collect::<Vec<_>>().join(" ")
}
