//! The tool's own count of what would make a sheet hard to read, from the numbers that were drawn.

use super::hops::{bounds, crossings};
use super::scene::{About, Audit, Item, Label, Pt, Rect, Shape, Stroke, Symbol};
use super::style::Paper;
use super::words::{font_size, line_width, pitch};

/// Length of all pipes, mm.
pub(crate) fn pipe_length(items: &[Item]) -> f64 {
    items
        .iter()
        .map(|i| match i {
            Item::Stroke(s) => length(&s.points),
            _ => 0.0,
        })
        .sum()
}

fn length(points: &[Pt]) -> f64 {
    points
        .windows(2)
        .map(|w| (w[0].x - w[1].x).abs() + (w[0].y - w[1].y).abs())
        .sum()
}

/// Boxes of a label's lines, as wide as the widest listed font may draw them.
pub(crate) fn lines_of(label: &Label) -> Vec<Rect> {
    label
        .lines
        .iter()
        .enumerate()
        .map(|(i, line)| {
            let w = line_width(line, label.cap);
            let indent = if i == 0 { label.indent } else { 0.0 };
            let x = match label.align {
                super::scene::Align::Left => label.rect.x + indent,
                super::scene::Align::Middle => label.rect.x + (label.rect.w - w) / 2.0,
                super::scene::Align::Right => label.rect.right() - w,
            };
            let base = label.rect.y + baseline(i, label.cap);
            Rect {
                x,
                y: base - 0.8 * font_size(label.cap),
                w,
                h: 1.02 * font_size(label.cap),
            }
        })
        .collect()
}

/// Baseline of a line below the top of its label.
pub(crate) fn baseline(line: usize, cap: f64) -> f64 {
    1.3 * cap + pitch(cap) * line as f64
}

/// The box of a symbol with its stem.
pub(crate) fn symbol_box(symbol: &Symbol) -> Rect {
    let r = symbol.rect;
    let across = r.w.min(r.h);
    let stem = match symbol.shape {
        Shape::Thermostatic => across * 1.375,
        Shape::Lockshield => across,
        Shape::Motorised => across * 1.5,
        Shape::Bypass => across,
        _ => return r,
    };
    if symbol.turn.is_multiple_of(2) {
        Rect {
            y: r.y - stem,
            h: r.h + stem,
            ..r
        }
    } else {
        Rect {
            x: r.x - stem,
            w: r.w + stem,
            ..r
        }
    }
}

/// Boxes of a pipe's pieces and hops, as wide as its band.
pub(crate) fn pieces(stroke: &Stroke, scale: f64) -> Vec<Rect> {
    let half = if stroke.index {
        2.35 * scale
    } else {
        stroke.width / 2.0
    };
    let mut all: Vec<Rect> = stroke
        .points
        .windows(2)
        .map(|w| Rect::of(w[0], w[1]).grow(half))
        .collect();
    for (piece, at) in &stroke.hops {
        // the arc bulges up or to the right
        let r = stroke.hop_radius;
        let upright = stroke
            .points
            .get(*piece..piece + 2)
            .is_some_and(|w| (w[0].x - w[1].x).abs() < 1e-6);
        let arc = if upright {
            Rect {
                x: at.x,
                y: at.y - r,
                w: r,
                h: 2.0 * r,
            }
        } else {
            Rect {
                x: at.x - r,
                y: at.y - r,
                w: 2.0 * r,
                h: r,
            }
        };
        all.push(arc.grow(half));
    }
    all
}

/// Count everything on a sheet.
pub(crate) fn audit(items: &[Item], paper: Paper, scale: f64, frame: Rect) -> Audit {
    let (w, h) = paper.size_mm();
    let diagonal = (w * w + h * h).sqrt();
    let mut audit = Audit {
        smallest_cap: f64::INFINITY,
        ..Audit::default()
    };
    let mut texts: Vec<(usize, Rect)> = Vec::new();
    let mut strokes: Vec<Stroke> = Vec::new();
    let mut symbols: Vec<&Symbol> = Vec::new();
    let mut solids: Vec<Rect> = Vec::new();
    let mut rules: Vec<Rect> = Vec::new();
    let mut all: Vec<Rect> = Vec::new();
    for (i, item) in items.iter().enumerate() {
        match item {
            Item::Label(label) => {
                audit.smallest_cap = audit.smallest_cap.min(label.cap);
                texts.extend(lines_of(label).into_iter().map(|r| (i, r)));
            }
            Item::Stroke(s) => strokes.push(s.clone()),
            Item::Symbol(s) => symbols.push(s),
            Item::Dot(p, d) => solids.push(
                Rect {
                    x: p.x,
                    y: p.y,
                    w: 0.0,
                    h: 0.0,
                }
                .grow(d / 2.0),
            ),
            Item::Arrow(p, _, _, size) => solids.push(
                Rect {
                    x: p.x,
                    y: p.y,
                    w: 0.0,
                    h: 0.0,
                }
                .grow(size / 2.0),
            ),
            Item::Mark(_, r, _) => solids.push(*r),
            Item::Rule(points, width) => rules.extend(
                points
                    .windows(2)
                    .map(|w| Rect::of(w[0], w[1]).grow(width / 2.0)),
            ),
            Item::Frame(r, width) => {
                let (a, b) = (r.x, r.right());
                let (c, d) = (r.y, r.bottom());
                for (p, q) in [
                    ((a, c), (b, c)),
                    ((a, d), (b, d)),
                    ((a, c), (a, d)),
                    ((b, c), (b, d)),
                ] {
                    let (p, q) = (super::scene::pt(p.0, p.1), super::scene::pt(q.0, q.1));
                    rules.push(Rect::of(p, q).grow(width / 2.0));
                }
            }
            Item::BandSample(r) | Item::OutlineSample(r) => solids.push(*r),
            Item::KeyLine(a, b, _) => solids.push(Rect::of(*a, *b).grow(0.5)),
        }
    }
    // text on text
    let slack = 0.05;
    for (a, (_, p)) in texts.iter().enumerate() {
        for (_, q) in &texts[a + 1..] {
            if p.overlaps(q, slack) {
                audit.text_on_text += 1;
                audit
                    .said
                    .push(format!("text on text at {:.0} {:.0}", p.x, p.y));
            }
        }
    }
    // text crossed
    let stroke_boxes: Vec<Rect> = strokes.iter().flat_map(|s| pieces(s, scale)).collect();
    let outlines: Vec<(Rect, About)> = symbols.iter().map(|s| (symbol_box(s), s.about)).collect();
    for (i, r) in &texts {
        let about = match &items[*i] {
            Item::Label(l) => l.about,
            _ => About::Sheet,
        };
        // a symbol that holds the text hides the pipe that runs under it
        let held = outlines.iter().any(|(b, of)| *of == about && inside(b, r));
        let crossed = (!held && stroke_boxes.iter().any(|b| b.overlaps(r, slack)))
            || solids.iter().any(|b| b.overlaps(r, slack))
            || rules.iter().any(|b| b.overlaps(r, slack))
            || outlines
                .iter()
                .any(|(b, of)| b.overlaps(r, slack) && !(*of == about && inside(b, r)));
        if crossed {
            audit.text_crossed += 1;
            let words = match &items[*i] {
                Item::Label(l) => l.lines.first().map_or("", |l| l.text.as_str()),
                _ => "",
            };
            audit
                .said
                .push(format!("{words:?} crossed at {:.0} {:.0}", r.x, r.y));
        }
    }
    // outside the frame
    all.extend(texts.iter().map(|t| t.1));
    all.extend(stroke_boxes.iter().copied());
    all.extend(outlines.iter().map(|o| o.0));
    audit.outside = all.iter().filter(|r| !inside(&frame, r)).count();
    // pipes
    let found = crossings(&strokes);
    for (i, _, j, _, at) in &found {
        let hopped = [i, j].iter().any(|k| {
            strokes[**k]
                .hops
                .iter()
                .any(|(_, h)| (h.x - at.x).abs() < 0.01 && (h.y - at.y).abs() < 0.01)
        });
        if hopped {
            audit.hops += 1;
        } else {
            audit.plain_crossings += 1;
        }
    }
    let flat: Vec<(usize, Rect)> = strokes
        .iter()
        .enumerate()
        .flat_map(|(i, s)| {
            s.points
                .windows(2)
                .map(move |w| (i, Rect::of(w[0], w[1])))
                .collect::<Vec<_>>()
        })
        .collect();
    for (a, (i, p)) in flat.iter().enumerate() {
        for (j, q) in &flat[a + 1..] {
            if i == j {
                continue;
            }
            let both_level = p.h < 0.01 && q.h < 0.01 && (p.y - q.y).abs() < 0.8;
            let both_upright = p.w < 0.01 && q.w < 0.01 && (p.x - q.x).abs() < 0.8;
            let shared = if both_level {
                p.right().min(q.right()) - p.x.max(q.x)
            } else if both_upright {
                p.bottom().min(q.bottom()) - p.y.max(q.y)
            } else {
                0.0
            };
            if shared > 0.3 {
                audit.pipes_on_pipes += 1;
                let (a, b) = (strokes[*i].about, strokes[*j].about);
                audit
                    .said
                    .push(format!("{a:?} on {b:?} at {:.0} {:.0}", p.x, p.y));
            }
        }
    }
    for stroke in &strokes {
        let long = length(&stroke.points) >= 0.02 * diagonal;
        audit.strokes += usize::from(long);
        audit.short += usize::from(!long && stroke.about != About::Sheet);
        let bends = stroke.points.len().saturating_sub(2);
        audit.bends += bends;
        audit.bends_max = audit.bends_max.max(bends);
        audit.slanted += stroke
            .points
            .windows(2)
            .filter(|w| (w[0].x - w[1].x).abs() > 0.01 && (w[0].y - w[1].y).abs() > 0.01)
            .count();
    }
    // symbols on symbols, and on pipes that pass by
    for (a, s) in symbols.iter().enumerate() {
        let r = s.rect;
        for t in &symbols[a + 1..] {
            if symbol_box(s).overlaps(&symbol_box(t), 0.05) && !nested(s, t) {
                audit.symbols_hit += 1;
                audit.said.push(format!(
                    "{:?} on {:?} at {:.0} {:.0}",
                    s.shape, t.shape, r.x, r.y
                ));
            }
        }
        if matches!(s.shape, Shape::Vessel | Shape::ManifoldBar) {
            continue;
        }
        for stroke in &strokes {
            let b = bounds(&stroke.points);
            if !b.grow(0.1).overlaps(&r, 0.1) {
                continue;
            }
            for w in stroke.points.windows(2) {
                let p = Rect::of(w[0], w[1]);
                let level = p.h < 0.01;
                // through the middle it is the symbol's own pipe; elsewhere it passes by
                let own = if level {
                    (p.y - (r.y + r.h / 2.0)).abs() < 0.3
                } else {
                    (p.x - (r.x + r.w / 2.0)).abs() < 0.3
                };
                let ends = [w[0], w[1]].iter().any(|q| near_edge(*q, &r));
                let big = r.w > 8.5 || r.h > 8.5;
                if p.grow(0.05).overlaps(&r, 0.12) && !own && !ends && !big {
                    audit.symbols_hit += 1;
                    audit
                        .said
                        .push(format!("{:?} on a pipe at {:.0} {:.0}", s.shape, r.x, r.y));
                }
            }
        }
    }
    audit.said.truncate(12);
    let content = all.iter().copied().reduce(union);
    audit.aspect = content.map_or(0.0, |c| c.w / c.h.max(1e-9));
    audit.cells = super::ink::cells(items, paper);
    audit.length_rel = pipe_length(items) / diagonal;
    if !audit.smallest_cap.is_finite() {
        audit.smallest_cap = 0.0;
    }
    audit
}

fn nested(a: &Symbol, b: &Symbol) -> bool {
    // a unit's own pump stands in its casing
    let casing = |s: &Symbol| matches!(s.shape, Shape::HeatPump | Shape::Casing);
    (casing(a) && inside(&a.rect.grow(0.6), &b.rect))
        || (casing(b) && inside(&b.rect.grow(0.6), &a.rect))
}

fn near_edge(p: Pt, r: &Rect) -> bool {
    let grown = r.grow(0.3);
    let within = p.x > grown.x && p.x < grown.right() && p.y > grown.y && p.y < grown.bottom();
    within
        && ((p.x - r.x).abs() < 0.3
            || (p.x - r.right()).abs() < 0.3
            || (p.y - r.y).abs() < 0.3
            || (p.y - r.bottom()).abs() < 0.3)
}

fn inside(outer: &Rect, inner: &Rect) -> bool {
    inner.x >= outer.x - 0.02
        && inner.y >= outer.y - 0.02
        && inner.right() <= outer.right() + 0.02
        && inner.bottom() <= outer.bottom() + 0.02
}

fn union(a: Rect, b: Rect) -> Rect {
    let (x, y) = (a.x.min(b.x), a.y.min(b.y));
    Rect {
        x,
        y,
        w: a.right().max(b.right()) - x,
        h: a.bottom().max(b.bottom()) - y,
    }
}
