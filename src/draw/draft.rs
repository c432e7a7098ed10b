//! From tracks to the sheet: corners become millimetres, pipes get arrows and hops, texts their marks.

use super::pen::{Corner, Pen, Raw};
use super::scene::{About, Item, Label, MarkKind, Pt, Rect, Shape, Stroke, Symbol, Water, pt};
use super::words::{Lettering, cap_of};

/// Where the layout's origin comes to lie, and its scale.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Frame {
    pub x: f64,
    pub y: f64,
    pub scale: f64,
}

/// Corners of a link with its ends: it turns twice at most.
const MOST_CORNERS: usize = 4;

/// Line widths of ISO 128, mm.
const SERIES: [f64; 7] = [0.25, 0.35, 0.5, 0.7, 1.0, 1.4, 2.0];

/// A width at a scale: one step of the series thinner where lettering is a step smaller, and wider where it is larger.
pub(crate) fn width_at(scale: f64, width: f64) -> f64 {
    let i = SERIES.iter().position(|w| *w >= width - 1e-9).unwrap_or(6);
    if scale < 0.9 {
        SERIES[i.saturating_sub(1)]
    } else if scale > 1.1 {
        SERIES[(i + 1).min(6)]
    } else {
        SERIES[i]
    }
}

/// Everything drawn, on the sheet.
///
/// `None` if a link finds no way.
pub(crate) fn items(
    pen: &Pen,
    xs: &[f64],
    ys: &[f64],
    frame: Frame,
    area: Rect,
) -> Option<Vec<Item>> {
    let s = frame.scale;
    let at = |c: &Corner| {
        pt(
            frame.x + s * (xs[c.0.0] + c.0.1),
            frame.y + s * (ys[c.1.0] + c.1.1),
        )
    };
    let lettering = Lettering {
        value: pen.lettering.value * s,
        note: pen.lettering.note * s,
    };
    let mut strokes: Vec<Stroke> = Vec::new();
    let mut symbols: Vec<Symbol> = Vec::new();
    let mut labels: Vec<Item> = Vec::new();
    let mut dots: Vec<Item> = Vec::new();
    for raw in &pen.raw {
        match raw {
            Raw::Pipe {
                points,
                run,
                rev,
                water,
                width,
                index,
                mixes,
            } => {
                let mut points: Vec<Pt> = straighten(points.iter().map(at).collect());
                let figures = run.and_then(|r| pen.figures.runs.get(r));
                // in the direction of flow
                let written = figures.and_then(|f| f.kg_s).unwrap_or(0.0);
                let along = if *rev { -written } else { written };
                if along < 0.0 {
                    points.reverse();
                }
                let fails = run.and_then(|r| pen.figures.run_status.get(r).copied().flatten());
                let double = pen.style.marks
                    && fails.is_some_and(|s| s.verdict == crate::check::Verdict::Fails);
                let still_bar = *width <= super::pen::STILL_BAR;
                let width = width_at(s, *width);
                strokes.push(Stroke {
                    points,
                    hops: Vec::new(),
                    hop_radius: 2.2 * s,
                    width,
                    water: side_of(pen, *run).unwrap_or(*water),
                    double,
                    index: *index,
                    mixes: *mixes,
                    changed: run.is_some_and(|r| pen.style.changed.iter().any(|(c, _)| *c == r)),
                    against: *rev != (along < 0.0),
                    idle: figures.map_or(pen.figures.still || still_bar, |f| f.idle),
                    about: run.map_or(About::Sheet, About::Run),
                });
            }
            Raw::Symbol {
                shape,
                a,
                b,
                turn,
                about,
                words,
                shut,
            } => symbols.push(Symbol {
                shape: *shape,
                rect: Rect::of(at(a), at(b)),
                turn: *turn,
                about: *about,
                words: words.clone(),
                shut: *shut,
                dead: dead(pen.figures, *shape, *about),
                scale: s,
            }),
            Raw::Text {
                at: corner,
                size,
                text,
                letter,
                align,
                about,
            } => {
                let p = at(corner);
                let cap = cap_of(*letter, lettering);
                let rect = Rect {
                    x: p.x,
                    y: p.y,
                    w: size.0 * s,
                    h: size.1 * s,
                };
                let mark = text.mark.filter(|_| pen.style.marks);
                let indent = if mark.is_some() { 1.9 * cap } else { 0.0 };
                labels.push(Item::Label(Label {
                    rect,
                    lines: text.lines.clone(),
                    cap,
                    letter: *letter,
                    align: *align,
                    indent,
                    about: *about,
                    full: text.full.clone(),
                }));
                if let Some(mark) = mark {
                    labels.push(mark_item(mark, p, cap, *about));
                }
            }
            Raw::Dot { at: corner, width } => {
                let d = (1.6 * width_at(s, *width)).max(2.0 * s);
                dots.push(Item::Dot(at(corner), d));
            }
        }
    }
    for (from, to, water) in &pen.links {
        let ground = super::route::Ground {
            closed: labels
                .iter()
                .filter_map(|i| match i {
                    Item::Label(l) => Some(l.rect),
                    _ => None,
                })
                .chain(symbols.iter().map(super::audit::symbol_box))
                .collect(),
            pipes: strokes
                .iter()
                .flat_map(|s| s.points.windows(2).map(|w| (w[0], w[1])))
                .collect(),
            area,
            scale: s,
        };
        let points = super::route::route(&ground, at(from), at(to))?;
        if points.len() > MOST_CORNERS {
            return None; // harder to follow than words
        }
        dots.push(Item::Dot(at(from), 2.0 * s));
        strokes.push(Stroke {
            points,
            hops: Vec::new(),
            hop_radius: 2.2 * s,
            width: width_at(s, 0.7),
            water: *water,
            double: false,
            index: false,
            mixes: false,
            changed: false,
            against: false,
            idle: false,
            about: About::Sheet,
        });
    }
    super::hops::hop(&mut strokes, &symbols, s);
    let arrows = super::hops::arrows(&strokes, &symbols, s);
    let mut all: Vec<Item> = strokes.into_iter().map(Item::Stroke).collect();
    all.extend(symbols.into_iter().map(Item::Symbol));
    all.extend(dots);
    all.extend(arrows);
    all.extend(labels);
    Some(all)
}

/// Whether no water moves through a thing.
fn dead(figures: &super::figures::Figures, shape: Shape, about: About) -> bool {
    let network = figures.network;
    // through a diverter water goes one way or the other
    if let (Shape::ThreePort, About::Device(id, _)) = (shape, about) {
        let of = |c: &&crate::network::Cylinder| c.diverter_coil.index() == id as usize;
        let still = |c: &crate::network::Cylinder| {
            let ways = [c.diverter_coil, c.diverter_heating];
            let dead = |e: &crate::network::ElementId| figures.dead.get(e.index()) == Some(&true);
            figures.solved && ways.iter().all(dead)
        };
        return network.cylinders.iter().find(of).is_some_and(still);
    }
    let element = match about {
        About::Emitter(i) => network.emitters.get(i).map(|e| e.body.index()),
        About::Cylinder(i) => network.cylinders.get(i).map(|c| c.coil.index()),
        About::Device(id, _) => Some(id as usize),
        _ => None,
    };
    let still = element.and_then(|e| figures.dead.get(e).copied());
    figures.solved && still.unwrap_or(false)
}

fn mark_item(mark: MarkKind, p: Pt, cap: f64, about: About) -> Item {
    let size = 1.3 * cap;
    let rect = Rect {
        x: p.x,
        y: p.y + 0.3 * cap,
        w: size,
        h: size,
    };
    Item::Mark(mark, rect, about)
}

fn side_of(pen: &Pen, run: Option<usize>) -> Option<Water> {
    use crate::survey::Side;
    match pen.figures.network.runs.get(run?)?.side? {
        Side::Flow => Some(Water::Flow),
        Side::Return => Some(Water::Return),
    }
}

/// Drop corners that are none.
pub(crate) fn straighten(points: Vec<Pt>) -> Vec<Pt> {
    let mut out: Vec<Pt> = Vec::with_capacity(points.len());
    for p in points {
        if out
            .last()
            .is_some_and(|q| (q.x - p.x).abs() < 1e-6 && (q.y - p.y).abs() < 1e-6)
        {
            continue;
        }
        if let [.., a, b] = out[..] {
            let straight_x = (a.x - b.x).abs() < 1e-6 && (b.x - p.x).abs() < 1e-6;
            let straight_y = (a.y - b.y).abs() < 1e-6 && (b.y - p.y).abs() < 1e-6;
            if straight_x || straight_y {
                out.pop();
            }
        }
        out.push(p);
    }
    out
}
