//! Where pipes cross: the lesser one hops over the other. And where the arrows stand.

use super::scene::{About, Item, Pt, Rect, Stroke, Symbol, Water, pt};

/// A straight piece of a pipe.
fn pieces(stroke: &Stroke) -> impl Iterator<Item = (usize, Pt, Pt)> + '_ {
    stroke
        .points
        .windows(2)
        .enumerate()
        .filter_map(|(i, w)| match w {
            [a, b] => Some((i, *a, *b)),
            _ => None,
        })
}

fn level(a: Pt, b: Pt) -> bool {
    (a.y - b.y).abs() < 1e-6
}

/// Where two straight pieces cross within both.
pub(crate) fn crossing((a, b): (Pt, Pt), (c, d): (Pt, Pt)) -> Option<Pt> {
    let (h, v) = match (level(a, b), level(c, d)) {
        (true, false) => ((a, b), (c, d)),
        (false, true) => ((c, d), (a, b)),
        _ => return None,
    };
    let (x, y) = (v.0.x, h.0.y);
    let e = 0.02;
    let within = |lo: f64, hi: f64, z: f64| z > lo.min(hi) + e && z < lo.max(hi) - e;
    (within(h.0.x, h.1.x, x) && within(v.0.y, v.1.y, y)).then(|| pt(x, y))
}

/// All crossings: two strokes, their pieces and the point.
pub(crate) fn crossings(strokes: &[Stroke]) -> Vec<(usize, usize, usize, usize, Pt)> {
    let boxes: Vec<Rect> = strokes.iter().map(|s| bounds(&s.points)).collect();
    let mut found = Vec::new();
    for i in 0..strokes.len() {
        for j in i + 1..strokes.len() {
            if !boxes[i].grow(0.1).overlaps(&boxes[j].grow(0.1), 0.0) {
                continue;
            }
            for (a, p, q) in pieces(&strokes[i]) {
                for (b, r, s) in pieces(&strokes[j]) {
                    if let Some(at) = crossing((p, q), (r, s)) {
                        found.push((i, a, j, b, at));
                    }
                }
            }
        }
    }
    found
}

/// The box of some points.
pub(crate) fn bounds(points: &[Pt]) -> Rect {
    let mut r = points.first().map_or(
        Rect {
            x: 0.0,
            y: 0.0,
            w: 0.0,
            h: 0.0,
        },
        |p| Rect {
            x: p.x,
            y: p.y,
            w: 0.0,
            h: 0.0,
        },
    );
    for p in points {
        let (right, bottom) = (r.right().max(p.x), r.bottom().max(p.y));
        (r.x, r.y) = (r.x.min(p.x), r.y.min(p.y));
        (r.w, r.h) = (right - r.x, bottom - r.y);
    }
    r
}

/// Put a hop at every crossing, on the pipe of lower rank: not index, thinner, return, upright.
pub(crate) fn hop(strokes: &mut [Stroke], _symbols: &[Symbol], scale: f64) {
    for (i, a, j, b, at) in crossings(strokes) {
        let rank = |s: &Stroke, piece: usize| {
            let upright = s
                .points
                .get(piece..piece + 2)
                .is_some_and(|w| !level(w[0], w[1]));
            (
                s.index,
                (s.width * 100.0) as i64,
                s.water == Water::Flow,
                !upright,
            )
        };
        let room = |s: &Stroke, piece: usize| {
            s.points.get(piece..piece + 2).map_or(0.0, |w| {
                let d = |p: Pt| (p.x - at.x).abs() + (p.y - at.y).abs();
                d(w[0]).min(d(w[1]))
            })
        };
        let radius = (2.2 * scale).max(1.2 * (strokes[i].width + strokes[j].width));
        let lower_is_i = rank(&strokes[i], a) <= rank(&strokes[j], b);
        // a hop needs straight pipe on both sides
        let fits = |k: usize, piece: usize| room(&strokes[k], piece) > radius + 0.6;
        let on_i = match (fits(i, a), fits(j, b)) {
            (true, false) => true,
            (false, true) => false,
            _ => lower_is_i,
        };
        let (k, piece) = if on_i { (i, a) } else { (j, b) };
        strokes[k].hop_radius = strokes[k].hop_radius.max(radius);
        strokes[k].hops.push((piece, at));
    }
}

/// An arrow on every pipe longer than 8 mm, clear of symbols, hops and corners.
pub(crate) fn arrows(strokes: &[Stroke], symbols: &[Symbol], scale: f64) -> Vec<Item> {
    let mut all = Vec::new();
    for stroke in strokes {
        if !(matches!(stroke.about, About::Run(_)) || stroke.mixes) || stroke.idle {
            continue;
        }
        let size = (2.75 * scale).max(2.2 * stroke.width);
        let mut order: Vec<(usize, Pt, Pt)> = pieces(stroke).collect();
        let length = |a: Pt, b: Pt| (a.x - b.x).abs() + (a.y - b.y).abs();
        order.sort_by(|p, q| length(q.1, q.2).total_cmp(&length(p.1, p.2)));
        let spot = order.iter().find_map(|&(_, a, b)| {
            let l = length(a, b);
            [0.5, 0.65, 0.35, 0.8, 0.2, 0.9, 0.1]
                .into_iter()
                .find_map(|t| {
                    let p = pt(a.x + (b.x - a.x) * t, a.y + (b.y - a.y) * t);
                    let away = l * t.min(1.0 - t);
                    if away < size * 0.5 + 1.6 * scale {
                        return None;
                    }
                    let spot = Rect {
                        x: p.x - size / 2.0,
                        y: p.y - size / 2.0,
                        w: size,
                        h: size,
                    }
                    .grow(0.4 * scale);
                    let hit = symbols.iter().any(|s| s.rect.overlaps(&spot, 0.0))
                        || stroke
                            .hops
                            .iter()
                            .any(|(_, h)| length(*h, p) < stroke.hop_radius + size);
                    (!hit).then_some((p, a, b))
                })
        });
        if let Some((p, a, b)) = spot {
            let turn = match (level(a, b), b.x > a.x, b.y > a.y) {
                (true, true, _) => 0,
                (true, false, _) => 2,
                (false, _, true) => 1,
                (false, _, false) => 3,
            };
            all.push(Item::Arrow(p, turn, stroke.water, size));
        }
    }
    all
}
