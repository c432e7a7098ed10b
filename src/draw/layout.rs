//! One attempt at a sheet: all parts of a network on tracks, for given lettering, folding and label form.

use super::chart::{Bit, Block, Component, Root, components, loop_of};
use super::figures::Figures;
use super::pen::{GAP, Pen, Raw};
use super::plan::{Facts, Row, plan};
use super::reduce::{Aside, reduce};
use super::rows::Entry;
use super::scene::{About, Align, Letter, Shape, Water};
use super::storeys::Storeys;
use super::style::Style;
use super::tracks::Axis;
use super::words::{Lettering, Words};
use crate::network::Network;
use crate::survey::Side;
use std::collections::BTreeMap;

/// What may differ between attempts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Options {
    /// Heights of capitals, layout units.
    pub lettering: Lettering,
    /// Shortest pipe, layout units.
    pub least: f64,
    /// Sheet millimetres per layout unit.
    pub scale: f64,
    /// Cells of a row before it folds; 0 never.
    pub fold: usize,
    /// Four short lines rather than three.
    pub narrow: bool,
    /// One label for a pair whose pipes are equal.
    pub pairs: bool,
    /// Wider gaps for what is routed last.
    pub widen: f64,
    /// Rows of a riser that share a line.
    pub group: usize,
    /// Say in words where ways set aside go, rather than routing them.
    pub refer: bool,
    /// Labels of drops stand beside the valves rather than over them.
    pub beside: bool,
}

/// A part of the network, planned.
#[derive(Clone, Debug)]
pub(crate) struct Part {
    pub component: Component,
    pub row: Row,
    pub aside: Vec<Aside>,
}

struct NetworkFacts<'a> {
    network: &'a Network,
    storeys: Storeys,
}

impl Facts for NetworkFacts<'_> {
    fn storey(&self, bits: &[Bit]) -> Option<i64> {
        self.storeys.rank(bits)
    }

    fn order(&self, bits: &[Bit]) -> f64 {
        let asked = bits.iter().find_map(|bit| match bit {
            Bit::Block(Block::Emitter(i), _) => self.network.emitters.get(*i)?.order,
            _ => None,
        });
        asked.unwrap_or(f64::INFINITY)
    }

    fn is_body(&self, run: usize) -> bool {
        loop_of(self.network, run).is_some()
    }

    fn is_plant(&self, bits: &[Bit]) -> bool {
        bits.iter().any(|b| {
            matches!(
                b,
                Bit::Block(
                    Block::Source(_) | Block::Cylinder(_) | Block::Vessel(_) | Block::Device(_),
                    _
                )
            )
        })
    }
}

/// Split, reduce and plan a network.
pub(crate) fn parts(network: &Network, style: &Style) -> Vec<Part> {
    let facts = NetworkFacts {
        network,
        storeys: Storeys::of(network),
    };
    components(network, &style.folded)
        .into_iter()
        .map(|component| {
            let ladder = reduce(&component, &|run| loop_of(network, run));
            let mut aside = ladder.aside;
            let row = plan(ladder.way, &facts, &mut aside);
            Part {
                component,
                row,
                aside,
            }
        })
        .collect()
}

/// Lay all parts; the pen holds the tracks still to be solved.
pub(crate) fn lay<'a>(
    parts: &[Part],
    figures: &'a Figures<'a>,
    words: &'a Words<'a>,
    style: &'a Style,
    options: Options,
) -> Pen<'a> {
    let network = figures.network;
    let mut pen = Pen {
        figures,
        words,
        style,
        lettering: options.lettering,
        x: Axis::default(),
        y: Axis::default(),
        raw: Vec::new(),
        least: options.least,
        at: BTreeMap::new(),
        rows: 0,
        fold: options.fold,
        absorbed: absorbed(network),
        paired: if options.pairs {
            paired(network, figures)
        } else {
            vec![false; network.runs.len()]
        },
        widen: options.widen,
        group: options.group,
        links: Vec::new(),
        refer: options.refer,
        beside: options.beside,
        far: BTreeMap::new(),
    };
    for part in parts {
        if let Root::Exchanger(i) = part.component.root {
            pen.far.insert(i, part.row.clone());
        }
    }
    let origin = pen.x.track();
    let mut edge = pen.x.track();
    let origin_y = pen.y.track();
    let mut below = origin_y;
    for part in parts {
        if matches!(part.component.root, Root::Exchanger(_)) {
            continue;
        }
        let above = below;
        (below, edge) = pen.part(part, origin, below);
        edge = pen.set_aside(&part.aside, above, below, edge);
    }
    for part in parts {
        if matches!(part.component.root, Root::Exchanger(_)) {
            edge = pen.set_aside(&part.aside, origin_y, below, edge);
        }
    }
    // exchangers whose near side was nowhere to be found
    let orphans: Vec<(usize, Row)> = std::mem::take(&mut pen.far).into_iter().collect();
    for (_, row) in orphans {
        (below, _) = pen.free(&row, origin, below);
    }
    diverters(&mut pen);
    pen
}

impl Pen<'_> {
    fn part(
        &mut self,
        part: &Part,
        origin: super::tracks::At,
        above: super::tracks::At,
    ) -> (super::tracks::At, super::tracks::At) {
        let i = match part.component.root {
            Root::Source(i) => i,
            Root::Away(id) => return self.arrived(part, id, origin, above),
            Root::Exchanger(_) | Root::Nothing => return self.free(&part.row, origin, above),
        };
        let text = self.source_text(i);
        let (tw, th) = text.size(self.lettering.value);
        let width = (tw + 4.0).max(18.0);
        // a mark stands before the first line: then they begin below one another
        let align = text.mark.map_or(Align::Middle, |_| Align::Left);
        let (flow, back) = (self.y.track(), self.y.track());
        let (top, bottom) = (self.y.track(), self.y.track());
        let own: Vec<String> = part
            .component
            .inside
            .iter()
            .map(|id| self.figures.network.element(*id).name.clone())
            .collect();
        let has_pump = !own.is_empty();
        let tall = th + if has_pump { 12.0 } else { 4.0 };
        self.y.keep(above, top, GAP, 0.0);
        self.y.keep(top, flow, 6.5, 0.0);
        self.y.keep(flow, back, tall.max(24.0), 0.0);
        self.y.keep(back, bottom, 6.5, 0.0);
        let words: Vec<String> = text.lines.iter().map(|l| l.text.clone()).collect();
        self.raw.push(Raw::Symbol {
            shape: if has_pump {
                Shape::Casing
            } else {
                Shape::HeatPump
            },
            a: (origin, flow.plus(-6.0)),
            b: (origin.plus(width), back.plus(6.0)),
            turn: 0,
            about: About::Source(i),
            words: words.join(", "),
            shut: false,
        });
        let middle = self.y.track();
        self.y
            .keep(flow, middle, if has_pump { 6.5 } else { 0.0 }, 0.5);
        self.y.keep(middle, back, th, 0.5);
        self.raw.push(Raw::Text {
            at: (origin.plus(2.0), middle),
            size: (width - 4.0, th),
            text,
            letter: Letter::Name,
            align,
            about: About::Source(i),
        });
        if let Some(&id) = part.component.inside.first() {
            // the unit's own pump, on its flow connection within the casing
            self.raw.push(Raw::Symbol {
                shape: Shape::Pump,
                a: (origin.plus(width - 9.5), flow.plus(-4.0)),
                b: (origin.plus(width - 1.5), flow.plus(4.0)),
                turn: 0,
                about: About::Device(u32::try_from(id.index()).unwrap_or(u32::MAX), 0),
                words: own.join(", "),
                shut: false,
            });
        }
        let edge = origin.plus(width);
        let entry = Entry {
            flow_x: edge,
            flow_lead: Vec::new(),
            back_x: edge,
            back_tail: Vec::new(),
            left: edge,
            back_left: edge,
            bounds: Some((top, bottom)),
            wide: None,
        };
        self.place(part.component.from, (edge, flow));
        self.place(part.component.to, (edge, back));
        let taken = self.row(&part.row, entry, flow, back);
        self.y.keep(above, taken.top, GAP, 0.0);
        let end = self.y.track();
        self.y.keep(taken.bottom, end, GAP, 0.0);
        self.y.keep(bottom, end, GAP, 0.0);
        (end, taken.right)
    }

    /// A part without a source.
    fn free(
        &mut self,
        row: &Row,
        origin: super::tracks::At,
        above: super::tracks::At,
    ) -> (super::tracks::At, super::tracks::At) {
        if row.cells.is_empty() && row.end.is_none() {
            return (above, origin);
        }
        let (flow, back) = (self.y.track(), self.y.track());
        let entry = Entry {
            flow_x: origin,
            flow_lead: Vec::new(),
            back_x: origin,
            back_tail: Vec::new(),
            left: origin,
            back_left: origin,
            bounds: None,
            wide: None,
        };
        let taken = self.row(row, entry, flow, back);
        self.y.keep(above, taken.top, GAP, 0.0);
        let end = self.y.track();
        self.y.keep(taken.bottom, end, GAP, 0.0);
        (end, taken.right)
    }

    /// Ways that no ladder holds stand upright at the right; links to their ends are routed last.
    fn set_aside(
        &mut self,
        aside: &[Aside],
        above: super::tracks::At,
        below: super::tracks::At,
        edge: super::tracks::At,
    ) -> super::tracks::At {
        let mut edge = edge;
        for way in aside {
            let (flow, middle, back) = (self.y.track(), self.y.track(), self.y.track());
            self.y.keep(above, flow, 12.0, 0.0);
            self.y.keep(back, below, 12.0, 0.0);
            let x = self.x.track();
            let cell_right = self.x.track();
            let band = super::rail::Band {
                forth: true,
                x,
                flow,
                middle,
                back,
                top: above,
                bottom: below,
                under: super::pen::CLEAR + 1.0,
                over: super::pen::CLEAR + 1.0,
            };
            let side = self.only_side(&way.bits);
            let ends = [
                (Some(way.from), flow, Water::Flow),
                (way.to, back, Water::Return),
            ];
            let before = self.raw.len();
            let mut reach = self.rung(&way.bits, band, None, cell_right, None);
            // pipe of one side alone is of that side to its end
            for raw in &mut self.raw[before..] {
                if let (Raw::Pipe { water, .. }, Some(side)) = (raw, side) {
                    *water = side;
                }
            }
            self.y.keep(flow, back, self.least + 1.0, 0.0);
            for (place, y, water) in ends {
                let spot = place
                    .and_then(|p| self.at.get(&p))
                    .and_then(|l| l.first())
                    .copied();
                match (place, spot) {
                    (Some(_), Some(from)) if !self.refer => {
                        self.links.push((from, (x, y), side.unwrap_or(water)));
                    }
                    (Some(place), _) => {
                        let wide = self.refer_to(place, (x, y), water == Water::Flow);
                        reach.right = reach.right.max(wide);
                    }
                    (None, _) => self.raw.push(Raw::Symbol {
                        shape: Shape::DeadEnd,
                        a: (x.plus(-1.5), y.plus(-1.5)),
                        b: (x.plus(1.5), y.plus(1.5)),
                        turn: 1,
                        about: About::Sheet,
                        words: "ends blind".into(),
                        shut: false,
                    }),
                }
            }
            self.x
                .keep(edge, x, reach.left + GAP + 9.0 + self.widen, 0.2);
            self.x.keep(x, cell_right, reach.right + 7.0, 0.0);
            edge = cell_right;
        }
        edge
    }

    /// The side of which all pipe of a way is, if it is pipe of one side.
    fn only_side(&self, bits: &[Bit]) -> Option<Water> {
        let mut sides = bits.iter().map(|bit| match bit {
            Bit::Line(run, _) => self.figures.network.runs.get(*run)?.side,
            _ => None,
        });
        let first = sides.next()??;
        sides.all(|s| s == Some(first)).then_some(match first {
            Side::Flow => Water::Flow,
            Side::Return => Water::Return,
        })
    }

    /// Words for where a way goes.
    fn refer_to(&mut self, place: usize, at: super::pen::Corner, above: bool) -> f64 {
        let name = self
            .figures
            .network
            .place_ids()
            .nth(place)
            .map_or(String::new(), |p| {
                self.figures.network.graph[p].name.clone()
            });
        let text = super::words::Text {
            lines: vec![super::scene::Line {
                text: format!("{}{}", super::joins::JOINS, super::words::tidy(&name, 24).0),
                bold: false,
            }],
            ..super::words::Text::default()
        };
        let (w, h) = text.size(self.lettering.value);
        let (long, half) = (5.0, 2.0);
        let (near, far) = if above {
            (at.1.plus(-long), at.1)
        } else {
            (at.1, at.1.plus(long))
        };
        self.raw.push(Raw::Symbol {
            shape: Shape::Away,
            a: (at.0.plus(-half), near),
            b: (at.0.plus(half), far),
            turn: if above { 3 } else { 1 },
            about: About::Place(place),
            words: text.lines[0].text.clone(),
            shut: false,
        });
        let y = if above { far.plus(-h) } else { near };
        self.text(
            (at.0.plus(half + 1.5), y),
            text,
            (w, h),
            About::Place(place),
        );
        half + 2.0 + w
    }
}

/// Elements of diverters, which one three-port symbol at the tee stands for.
fn absorbed(network: &Network) -> Vec<usize> {
    network
        .cylinders
        .iter()
        .flat_map(|c| [c.diverter_coil.index(), c.diverter_heating.index()])
        .collect()
}

/// A three-port valve where a cylinder's way parts from heating.
fn diverters(pen: &mut Pen) {
    let network = pen.figures.network;
    for (i, cylinder) in network.cylinders.iter().enumerate() {
        let place = cylinder.place.index();
        // of a place on two sheets, on that of the coil
        let coil = |r: &Raw| matches!(r, Raw::Symbol { about: About::Cylinder(c), .. } if *c == i);
        if !pen.raw.iter().any(coil) {
            continue;
        }
        let Some(&(x, y)) = pen.at.get(&place).and_then(|l| l.first()) else {
            continue;
        };
        let shut = |id: crate::network::ElementId| {
            pen.figures.shut.get(id.index()).copied().unwrap_or(false)
        };
        let (coil, heating) = (
            shut(cylinder.diverter_coil),
            shut(cylinder.diverter_heating),
        );
        pen.raw
            .retain(|r| !matches!(r, Raw::Dot { at, .. } if *at == (x, y)));
        pen.raw.push(Raw::Symbol {
            shape: Shape::ThreePort,
            a: (x.plus(-3.75), y.plus(-3.75)),
            b: (x.plus(3.75), y.plus(3.75)),
            turn: match (coil, heating) {
                (true, false) => 1,
                (false, true) => 2,
                _ => 0,
            },
            about: About::Device(
                u32::try_from(cylinder.diverter_coil.index()).unwrap_or(u32::MAX),
                0,
            ),
            words: format!("diverter of {}", super::words::tidy(&cylinder.name, 40).0),
            shut: false,
        });
    }
}

/// Return pipes whose label would repeat their partner's.
fn paired(network: &Network, figures: &Figures) -> Vec<bool> {
    network
        .runs
        .iter()
        .enumerate()
        .map(|(i, run)| {
            let Some(j) = run.partner.filter(|&j| j != i) else {
                return false;
            };
            let Some(other) = network.runs.get(j) else {
                return false;
            };
            let (a, b) = (figures.runs[i], figures.runs[j]);
            let near = |p: Option<f64>, q: Option<f64>| match (p, q) {
                (Some(p), Some(q)) => (p.abs() - q.abs()).abs() <= 0.02 * p.abs().max(q.abs()),
                (None, None) => true,
                _ => false,
            };
            let quiet = |k: usize| {
                figures.run_status[k].is_none_or(|s| s.verdict > crate::check::Verdict::Tight)
            };
            run.side == Some(crate::survey::Side::Return)
                && other.size == run.size
                && (other.length_m - run.length_m).abs() < 0.05
                && near(a.kg_s, b.kg_s)
                && quiet(i)
                && quiet(j)
        })
        .collect()
}
