//! Shapes of the symbols as lines, polygons and circles, after the standards named in the key; where those disagree
//! the shape is our own and the key shows it.

use super::scene::{Pt, Rect, Shape, Symbol, pt};

/// How a shape is filled.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Fill {
    /// With the sheet's colour, so that pipes end at the outline.
    Sheet,
    /// With ink.
    Ink,
    /// Not at all.
    Open,
}

/// A piece of a symbol.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Prim {
    /// Corners, closed or not.
    Poly(Vec<Pt>, bool, Fill),
    /// Middle and radius.
    Circle(Pt, f64, Fill),
    /// A capsule: rectangle with domed ends.
    Capsule(Rect),
    /// A chain-dotted outline: what stands within is one unit.
    Chain(Rect),
    /// Letters about a point.
    Letters(Pt, String),
    /// A thick line: manifold bar.
    Thick(Pt, Pt),
    /// Covers what lies beneath, without an outline.
    Blank(Rect),
    /// Water within a vessel.
    Water(Vec<Pt>),
}

/// A symbol's own directions: along the flow, and across with negative towards the stem.
struct Own {
    rect: Rect,
    turn: u8,
}

impl Own {
    fn length(&self) -> f64 {
        if self.turn.is_multiple_of(2) {
            self.rect.w
        } else {
            self.rect.h
        }
    }

    fn across(&self) -> f64 {
        if self.turn.is_multiple_of(2) {
            self.rect.h
        } else {
            self.rect.w
        }
    }

    fn at(&self, u: f64, v: f64) -> Pt {
        let r = self.rect;
        match self.turn % 4 {
            0 => pt(r.x + u, r.y + r.h / 2.0 + v),
            2 => pt(r.right() - u, r.y + r.h / 2.0 + v),
            1 => pt(r.x + r.w / 2.0 + v, r.y + u),
            _ => pt(r.x + r.w / 2.0 + v, r.bottom() - u),
        }
    }

    fn poly(&self, points: &[(f64, f64)], closed: bool, fill: Fill) -> Prim {
        Prim::Poly(
            points.iter().map(|(u, v)| self.at(*u, *v)).collect(),
            closed,
            fill,
        )
    }

    /// Two triangles point to point.
    fn bow_tie(&self, fill: Fill) -> Prim {
        let (l, h) = (self.length(), self.across() / 2.0);
        self.poly(
            &[(0.0, -h), (l / 2.0, 0.0), (0.0, h), (0.0, -h)],
            true,
            fill,
        )
    }

    fn other_half(&self, fill: Fill) -> Prim {
        let (l, h) = (self.length(), self.across() / 2.0);
        self.poly(&[(l, -h), (l / 2.0, 0.0), (l, h), (l, -h)], true, fill)
    }

    fn square(&self, fill: Fill) -> Prim {
        let (l, h) = (self.length(), self.across() / 2.0);
        self.poly(&[(0.0, -h), (l, -h), (l, h), (0.0, h)], true, fill)
    }
}

/// The pieces of a symbol, lowest first.
pub(crate) fn pieces(symbol: &Symbol) -> Vec<Prim> {
    let own = Own {
        rect: symbol.rect,
        turn: symbol.turn,
    };
    let r = symbol.rect;
    let (l, h) = (own.length(), own.across() / 2.0);
    let valve = if symbol.shut || symbol.shape == Shape::ShutValve {
        Fill::Ink
    } else {
        Fill::Sheet
    };
    let middle = pt(r.x + r.w / 2.0, r.y + r.h / 2.0);
    match symbol.shape {
        Shape::Pump => {
            let radius = l / 2.0;
            let (base, half) = (l * 0.2, 0.8 * radius);
            vec![
                Prim::Circle(middle, radius, Fill::Sheet),
                // the point of its corner, not the middle of the line, touches the circle
                own.poly(
                    &[(base, -half), (l * 0.96, 0.0), (base, half)],
                    true,
                    Fill::Open,
                ),
            ]
        }
        Shape::Valve | Shape::ShutValve => vec![own.bow_tie(valve), own.other_half(valve)],
        Shape::ThreePort => three_port(&own, symbol.turn),
        Shape::Motorised => {
            let (stem, ring) = (h * 0.84, h * 1.08);
            let top = own.at(l / 2.0, -h - stem - ring + h);
            vec![
                own.poly(
                    &[(l / 2.0, 0.0), (l / 2.0, -stem - 0.2 * h)],
                    false,
                    Fill::Open,
                ),
                own.bow_tie(valve),
                own.other_half(valve),
                Prim::Circle(top, ring, Fill::Sheet),
                if ring > 1.9 {
                    Prim::Letters(top, "M".into())
                } else {
                    // too small for lettering: the letter as lines
                    let (u, v) = (ring * 0.45, ring * 0.5);
                    let m = [(-u, v), (-u, -v), (0.0, v * 0.4), (u, -v), (u, v)];
                    let at = |(x, y): (f64, f64)| pt(top.x + x, top.y + y);
                    Prim::Poly(m.map(at).to_vec(), false, Fill::Open)
                },
            ]
        }
        Shape::Thermostatic => {
            let (near, far) = (-h * 1.9, -h * 3.4);
            let half = l * 0.2;
            vec![
                own.poly(&[(l / 2.0, 0.0), (l / 2.0, near)], false, Fill::Open),
                own.bow_tie(valve),
                own.other_half(valve),
                own.poly(
                    &[
                        (l / 2.0 - half, near),
                        (l / 2.0 + half, near),
                        (l / 2.0 + half, far),
                        (l / 2.0 - half, far),
                    ],
                    true,
                    Fill::Ink,
                ),
            ]
        }
        Shape::Lockshield => {
            let (near, far) = (-h * 1.5, -h * 2.3);
            let half = l * 0.12;
            vec![
                own.poly(&[(l / 2.0, 0.0), (l / 2.0, near)], false, Fill::Open),
                own.bow_tie(valve),
                own.other_half(valve),
                own.poly(
                    &[
                        (l / 2.0 - half, near),
                        (l / 2.0 + half, near),
                        (l / 2.0 + half, far),
                        (l / 2.0 - half, far),
                    ],
                    true,
                    Fill::Sheet,
                ),
            ]
        }
        Shape::Balancing | Shape::FlowHolder => {
            let mut all = vec![
                own.bow_tie(valve),
                own.other_half(valve),
                own.poly(&[(l * 0.2, h), (l * 0.8, -h)], false, Fill::Open),
            ];
            if symbol.shape == Shape::FlowHolder {
                all.push(own.poly(&[(l * 0.35, -h), (l * 0.65, -h)], false, Fill::Open));
            }
            all
        }
        Shape::Check => vec![
            own.poly(&[(0.0, -h), (l * 0.85, 0.0), (0.0, h)], true, Fill::Sheet),
            own.poly(&[(l * 0.85, -h), (l * 0.85, h)], false, Fill::Open),
        ],
        Shape::Bypass => {
            let m = l / 2.0;
            let zig = [
                (m, 0.0),
                (m, -h * 0.8),
                (m - l * 0.14, -h * 1.1),
                (m + l * 0.14, -h * 1.5),
                (m - l * 0.14, -h * 1.9),
                (m + l * 0.14, -h * 2.3),
                (m, -h * 2.6),
            ];
            vec![
                own.poly(&zig, false, Fill::Open),
                own.bow_tie(valve),
                own.other_half(valve),
                own.poly(
                    &[(m - l * 0.2, -h * 2.7), (m + l * 0.2, -h * 2.7)],
                    false,
                    Fill::Open,
                ),
            ]
        }
        Shape::Strainer => vec![
            own.square(Fill::Sheet),
            own.poly(
                &[(l * 0.08, h * 0.84), (l * 0.3, h * 0.4)],
                false,
                Fill::Open,
            ),
            own.poly(
                &[(l * 0.4, h * 0.2), (l * 0.6, -h * 0.2)],
                false,
                Fill::Open,
            ),
            own.poly(
                &[(l * 0.7, -h * 0.4), (l * 0.92, -h * 0.84)],
                false,
                Fill::Open,
            ),
        ],
        Shape::Letters(words) => vec![own.square(Fill::Sheet), Prim::Letters(middle, words.into())],
        Shape::Changed => vec![Prim::Circle(middle, l / 2.0, Fill::Open)],
        Shape::Away => vec![own.poly(
            &[(0.0, -h), (l * 0.6, -h), (l, 0.0), (l * 0.6, h), (0.0, h)],
            true,
            Fill::Sheet,
        )],
        Shape::DeadEnd => vec![own.poly(&[(l, -h), (l, h)], false, Fill::Open)],
        Shape::ManifoldBar => vec![Prim::Thick(pt(r.x, middle.y), pt(r.right(), middle.y))],
        Shape::Radiator
        | Shape::FloorLoop
        | Shape::FanConvector
        | Shape::TowelRail
        | Shape::FixedLoad => emitter(symbol),
        Shape::HeatPump => heat_pump(r, symbol.about == super::scene::About::Sheet, false),
        Shape::Casing => heat_pump(r, symbol.about == super::scene::About::Sheet, true),
        Shape::Cylinder => cylinder(r),
        Shape::Vessel => {
            // warm above, cool below
            let y = r.y + r.h / 2.0;
            let dashes = [0.08, 0.36, 0.64].map(|from| {
                let at = |share: f64| pt(r.x + r.w * share, y);
                Prim::Poly(vec![at(from), at(from + 0.28 * 0.72)], false, Fill::Open)
            });
            let mut all = vec![Prim::Capsule(r)];
            all.extend(dashes);
            all
        }
        Shape::VesselInline => vec![Prim::Capsule(r)],
        Shape::Exchanger => {
            let n = 5;
            let mut all = vec![rect(r, Fill::Sheet)];
            for i in 0..n {
                let y = r.y + r.h * (i as f64 + 0.9) / (n as f64 + 0.6);
                all.push(Prim::Poly(
                    vec![
                        pt(r.x + r.w * 0.2, y),
                        pt(r.right() - r.w * 0.2, y - r.h * 0.07),
                    ],
                    false,
                    Fill::Open,
                ));
            }
            all
        }
    }
}

/// A store beside the pipe that passes: its coil is joined to two side ports, cold water enters at the foot, hot water
/// leaves at the crown.
fn cylinder(r: Rect) -> Vec<Prim> {
    let store = Rect {
        x: r.x,
        y: r.y + r.h * 0.08,
        w: r.w * 0.48,
        h: r.h * 0.84,
    };
    // where layout brings the pipe
    let pipe = r.x + r.w * 0.6;
    let (a, b) = (r.y + r.h * 0.42, r.y + r.h * 0.76);
    let mut coil = vec![pt(pipe, r.y), pt(pipe, a)];
    // as many turns as the eye still parts
    let n = if r.h < 8.0 { 3 } else { 5 };
    for i in 0..=n {
        let y = a + (b - a) * f64::from(i) / f64::from(n);
        let (from, to) = (store.x + store.w * 0.7, store.x + store.w * 0.25);
        let (p, q) = if i % 2 == 0 { (from, to) } else { (to, from) };
        coil.extend([pt(p, y), pt(q, y)]);
    }
    coil.extend([pt(pipe, b), pt(pipe, r.bottom())]);
    let middle = store.x + store.w / 2.0;
    let stub =
        |from: f64, to: f64| Prim::Poly(vec![pt(middle, from), pt(middle, to)], false, Fill::Open);
    vec![
        Prim::Capsule(store),
        stub(r.y, store.y),
        stub(store.bottom(), r.bottom()),
        Prim::Water(coil),
    ]
}

fn rect(r: Rect, fill: Fill) -> Prim {
    Prim::Poly(
        vec![
            pt(r.x, r.y),
            pt(r.right(), r.y),
            pt(r.right(), r.bottom()),
            pt(r.x, r.bottom()),
        ],
        true,
        fill,
    )
}

/// Three triangles about one point; the port that is shut is filled: down if `turn` is 1, ahead if it is 2.
fn three_port(own: &Own, turn: u8) -> Vec<Prim> {
    let own = Own {
        rect: own.rect,
        turn: 0,
    };
    let (l, h) = (own.length(), own.across() / 2.0);
    let m = l / 2.0;
    let half = h * 0.62;
    let fill = |shut| if shut { Fill::Ink } else { Fill::Sheet };
    let centre = own.at(m, 0.0);
    vec![
        // pipes end at the valve, however wide
        Prim::Blank(Rect {
            x: centre.x - l * 0.3,
            y: centre.y - h * 0.3,
            w: l * 0.6,
            h: h * 0.9,
        }),
        own.poly(&[(0.0, -half), (m, 0.0), (0.0, half)], true, Fill::Sheet),
        own.poly(&[(l, -half), (m, 0.0), (l, half)], true, fill(turn == 2)),
        own.poly(
            &[(m - half, h), (m, 0.0), (m + half, h)],
            true,
            fill(turn == 1),
        ),
    ]
}

/// A box with its sign at the left: fins, meander, propeller or bars.
fn emitter(symbol: &Symbol) -> Vec<Prim> {
    let r = symbol.rect;
    let mut all = vec![rect(r, Fill::Sheet)];
    // the sign takes the width that layout left before the words
    let unit = if symbol.about == super::scene::About::Sheet {
        (r.w * 0.9).min(r.h * 1.2)
    } else {
        8.6 * symbol.scale
    };
    let upright = symbol.turn == 1;
    match symbol.shape {
        Shape::Radiator => {
            let n = 4;
            for i in 1..=n {
                let x = r.x + unit * i as f64 / (n as f64 + 0.5);
                all.push(Prim::Poly(
                    vec![pt(x, r.y + r.h * 0.16), pt(x, r.bottom() - r.h * 0.16)],
                    false,
                    Fill::Open,
                ));
            }
        }
        Shape::FloorLoop => {
            let n = 5;
            let (a, b) = if upright {
                (r.x + r.w * 0.18, r.right() - r.w * 0.18)
            } else {
                (r.x + unit * 0.15, r.x + unit * 0.92)
            };
            let (top, low) = if upright {
                (r.y + r.h * 0.08, r.y + r.h * 0.62)
            } else {
                (r.y + r.h * 0.16, r.bottom() - r.h * 0.16)
            };
            let mut points = Vec::new();
            for i in 0..n {
                let y = top + (low - top) * i as f64 / (n - 1) as f64;
                let (p, q) = if i % 2 == 0 { (a, b) } else { (b, a) };
                points.push(pt(p, y));
                points.push(pt(q, y));
            }
            all.push(Prim::Poly(points, false, Fill::Open));
        }
        Shape::FanConvector => {
            let c = pt(r.x + unit * 0.55, r.y + r.h / 2.0);
            let s = unit * 0.42;
            all.push(Prim::Circle(c, s, Fill::Open));
            all.push(Prim::Poly(
                vec![
                    pt(c.x - s * 0.6, c.y - s * 0.3),
                    pt(c.x + s * 0.6, c.y + s * 0.3),
                    pt(c.x + s * 0.6, c.y - s * 0.3),
                    pt(c.x - s * 0.6, c.y + s * 0.3),
                ],
                true,
                Fill::Ink,
            ));
        }
        Shape::TowelRail => {
            for i in 1..=4 {
                let y = r.y + r.h * i as f64 / 5.0;
                all.push(Prim::Poly(
                    vec![pt(r.x + unit * 0.15, y), pt(r.x + unit * 0.92, y)],
                    false,
                    Fill::Open,
                ));
            }
        }
        _ => {
            let c = pt(r.x + unit * 0.55, r.y + r.h / 2.0);
            let s = unit * 0.36;
            all.push(Prim::Poly(
                vec![pt(c.x - s, c.y + s), pt(c.x, c.y - s), pt(c.x + s, c.y + s)],
                true,
                Fill::Open,
            ));
        }
    }
    all
}

/// The unit: its outline, chain-dotted where it is a casing round the pump, too; in the key, and in the block's lower
/// part, a compressor ring.
fn heat_pump(r: Rect, key: bool, casing: bool) -> Vec<Prim> {
    let mut all = vec![if casing {
        Prim::Chain(r)
    } else {
        rect(r, Fill::Sheet)
    }];
    let size = if key {
        r.w.min(r.h)
    } else {
        (r.w * 0.9).min(r.h * 0.2)
    };
    let c = if key {
        pt(r.x + r.w / 2.0, r.y + r.h / 2.0)
    } else {
        pt(r.x + r.w / 2.0, r.bottom() - size * 0.75)
    };
    let s = size * 0.34;
    all.push(Prim::Circle(c, s, Fill::Open));
    all.push(Prim::Poly(
        vec![
            pt(c.x - s * 0.86, c.y - s * 0.5),
            pt(c.x + s * 0.94, c.y - s * 0.25),
        ],
        false,
        Fill::Open,
    ));
    all.push(Prim::Poly(
        vec![
            pt(c.x - s * 0.86, c.y + s * 0.5),
            pt(c.x + s * 0.94, c.y + s * 0.25),
        ],
        false,
        Fill::Open,
    ));
    all
}
