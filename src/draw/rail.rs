//! Straight ways: along a rail, and down a drop with its block.

use super::chart::{Bit, Block, loop_of};
use super::device::{self, Device};
use super::pen::{CLEAR, Corner, GAP, Pen, Raw, Seg};
use super::scene::{About, Align, Letter, Shape, Water};
use super::tracks::At;
use super::words::{Text, pitch};

/// A straight piece of rail.
pub(crate) struct Rail {
    /// Where it begins and ends, in the direction of the way.
    pub a: At,
    pub b: At,
    pub y: At,
    /// `b` lies to the right of `a`.
    pub right: bool,
    /// From where on labels may stand at its left end.
    pub left: At,
    /// Corners before its beginning and after its end.
    pub lead: Vec<Corner>,
    pub tail: Vec<Corner>,
    pub water: Water,
    /// If nothing is on it, it is a bar: with this width, on the index or not.
    pub bar: (f64, bool),
    /// Share of the slack that it takes.
    pub stretch: f64,
    /// Length at its beginning that a valve on the tee takes.
    pub valve: f64,
    /// A riser of its own row that crosses it near its beginning: what stands on it stands beyond.
    pub riser: Option<At>,
}

/// Room that a rail needs above and below its line.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Room {
    pub above: f64,
    pub below: f64,
}

impl Room {
    pub(crate) fn most(self, other: Room) -> Room {
        Room {
            above: self.above.max(other.above),
            below: self.below.max(other.below),
        }
    }
}

/// How far a cell reaches from its tee.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Reach {
    pub left: f64,
    pub right: f64,
}

/// A pipe begun above a block and ended below it: its corners so far, and its run.
type Open = (Vec<Corner>, Option<(usize, bool)>);

/// What a rung needs to know of its row.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Band {
    /// Its line runs to the right.
    pub forth: bool,
    pub x: At,
    pub flow: At,
    pub middle: At,
    pub back: At,
    /// Bounds of the line.
    pub top: At,
    pub bottom: At,
    /// Clear below the flow rail and above the return rail.
    pub under: f64,
    pub over: f64,
}

impl Pen<'_> {
    /// Lay a way along a rail; labels above a flow rail, below a return rail.
    pub(crate) fn rail(&mut self, bits: &[Bit], rail: Rail) -> Room {
        let segs = self.segs(bits);
        let above = rail.water == Water::Flow;
        let (left, right) = if rail.right {
            (rail.a, rail.b)
        } else {
            (rail.b, rail.a)
        };
        if segs.is_empty() {
            let mut points = rail.lead;
            points.extend([(rail.a, rail.y), (rail.b, rail.y)]);
            points.extend(rail.tail);
            self.pipe(points, None, rail.water, rail.bar.0, rail.bar.1);
            self.x.keep(left, right, 4.0, rail.stretch);
            return Room {
                above: 2.6,
                below: 2.6,
            };
        }
        let n = segs.len();
        let mut room = Room {
            above: 2.6,
            below: 2.6,
        };
        let mut from = rail.a;
        for (k, seg) in segs.into_iter().enumerate() {
            let (first, last) = (k == 0, k + 1 == n);
            let to = if last { rail.b } else { self.x.track() };
            let (l, r) = if rail.right { (from, to) } else { (to, from) };
            let leftmost = if rail.right { first } else { last };
            let begin = if leftmost { rail.left } else { l };
            let riser = rail.riser.filter(|_| first);
            let begin = match riser {
                Some(riser) if rail.right => riser.plus(CLEAR),
                _ => begin,
            };
            let (text, w, h) = seg
                .run
                .map_or((Text::default(), 0.0, 0.0), |s| self.label(s.0));
            let along = Self::along(&seg.devices);
            let valve = if first { rail.valve } else { 0.0 };
            let need = (1.5 + along + w + 5.0).max(along + 9.0) + valve;
            self.x.keep(begin, r, need, rail.stretch / n as f64);
            if let Some(riser) = riser.filter(|_| !rail.right) {
                self.x.keep(begin, riser, need - 5.0 + CLEAR, 0.0);
            }
            self.x.keep(l, r, self.least + 0.5, 0.0);
            let (turn, at) = if rail.right {
                let begin = begin.plus(valve + 1.5 + along + 0.5);
                (0, begin)
            } else {
                (2, begin.plus(1.8))
            };
            let start = match riser {
                Some(riser) if !rail.right => riser.plus(-CLEAR),
                _ if rail.right && leftmost => begin,
                _ => from,
            };
            self.devices(&seg.devices, (start, rail.y), turn, 1.5 + valve);
            let beside = Self::beside(&seg.devices);
            let half = seg
                .devices
                .iter()
                .map(|d| d.size.1 / 2.0)
                .fold(0.0, f64::max);
            room = room.most(Room {
                above: beside + 1.0,
                below: half + 1.0,
            });
            if let Some((run, _)) = seg.run {
                let y = if above {
                    rail.y.plus(-CLEAR - h)
                } else {
                    rail.y.plus(CLEAR)
                };
                self.text((at, y), text, (w, h), About::Run(run));
                let ext = CLEAR + h + 0.5;
                room = room.most(if above {
                    Room {
                        above: ext,
                        below: 2.6,
                    }
                } else {
                    Room {
                        above: 2.6,
                        below: ext,
                    }
                });
            }
            let mut points = Vec::new();
            if first {
                points.extend(rail.lead.iter().copied());
            }
            points.extend([(from, rail.y), (to, rail.y)]);
            if last {
                points.extend(rail.tail.iter().copied());
            }
            let index = self.on_index(bits);
            self.pipe(points, seg.run, rail.water, rail.bar.0, index);
            if let Some(node) = seg.node {
                self.place(node, (to, rail.y));
            }
            from = to;
        }
        room
    }

    /// Lay a way upright between the rails, its block in the middle.
    pub(crate) fn rung(
        &mut self,
        bits: &[Bit],
        band: Band,
        number: Option<usize>,
        right: At,
        bends: Option<(Vec<Corner>, Vec<Corner>)>,
    ) -> Reach {
        let mut bits = bits.to_vec();
        let (mut lead, mut tail) = bends.unwrap_or_default();
        let network = self.figures.network;
        let is_body = |b: &Bit| matches!(b, Bit::Line(r, _) if loop_of(network, *r).is_some());
        let at = bits.iter().position(|b| matches!(b, Bit::Block(..)));
        let mut through = false;
        let mut block_at = at.unwrap_or(bits.len());
        if let Some(i) = at {
            if i + 1 < bits.len() && is_body(&bits[i + 1]) {
                bits.swap(i, i + 1);
                block_at = i + 1;
            }
            through = block_at > 0 && is_body(&bits[block_at - 1]);
        }
        let block = bits.get(block_at).cloned();
        let upper = self.segs(&bits[..block_at]);
        let lower = self.segs(bits.get(block_at + 1..).unwrap_or(&[]));
        let (top, foot, mut reach) = match block {
            Some(Bit::Block(Block::Exchanger(i, true), _)) if self.far.contains_key(&i) => {
                self.exchanger(i, band, right)
            }
            _ => {
                let (half, reach) = self.block(block.as_ref(), band, number);
                (band.middle.plus(-half), band.middle.plus(half), reach)
            }
        };
        let index = self.on_index(&bits);
        // bars to a bypass that stays shut carry no water
        let own = bits.iter().find_map(super::rows::line_of);
        let bar = self.bar_along(&bits, own.map_or(0.7, |r| self.width(r)));
        let narrow = number.is_some();
        // upper part: from the flow rail to the block
        let mut y = band.flow;
        let n = upper.len();
        let mut open: Option<Open> = None;
        for (k, seg) in upper.into_iter().enumerate() {
            let last = k + 1 == n;
            let to = if last { top } else { self.y.track() };
            let clear = if k == 0 { band.under } else { 1.5 };
            let used = self.drop_label(&seg, (band.x, y.plus(clear)), narrow, &mut reach);
            let along = Self::along(&seg.devices);
            let need = if self.beside {
                clear + used.max(along) + 1.0
            } else {
                clear + used + along + 1.0
            };
            let start = to.plus(-along - 0.5);
            self.y.keep(y, to, need.max(self.least_of(last)), 0.3);
            self.devices(&seg.devices, (band.x, start), 1, 1.0);
            self.stems(&seg.devices, &mut reach);
            let mut points = std::mem::take(&mut lead);
            points.extend([(band.x, y), (band.x, to)]);
            if last && through {
                open = Some((vec![(band.x, y)], seg.run));
            } else {
                self.pipe(points, seg.run, Water::Flow, 0.7, index);
            }
            if let Some(node) = seg.node {
                self.place(node, (band.x, to));
            }
            y = to;
        }
        if n == 0 {
            self.y.keep(band.flow, top, band.under.max(3.0), 0.3);
            if block.is_some() {
                if self.mixes(block.as_ref()) {
                    // water of the return, on its way up into the flow
                    let points = vec![(band.x, top), (band.x, band.flow)];
                    self.mixing_pipe(points, bar, index);
                } else {
                    let points = vec![(band.x, band.flow), (band.x, top)];
                    self.pipe(points, None, Water::Flow, bar, index);
                }
            }
        }
        // lower part: from the block to the return rail
        let mut y = foot;
        let n = lower.len();
        for (k, seg) in lower.into_iter().enumerate() {
            let (first, last) = (k == 0, k + 1 == n);
            let to = if last { band.back } else { self.y.track() };
            let along = Self::along(&seg.devices);
            self.devices(&seg.devices, (band.x, y), 1, 1.0);
            self.stems(&seg.devices, &mut reach);
            let over = if self.beside { 0.0 } else { along };
            let at = (band.x, y.plus(over + 1.5));
            let used = self.drop_label(&seg, at, narrow, &mut reach);
            let clear = if last { band.over } else { 1.0 };
            let need = if self.beside {
                1.5 + along.max(used) + clear
            } else {
                1.5 + along + used + clear
            };
            self.y.keep(y, to, need.max(self.least_of(first)), 0.3);
            match (open.take(), seg.run) {
                (Some((points, run)), None) => {
                    self.through(
                        points,
                        run,
                        (band.x, top),
                        vec![(band.x, foot), (band.x, to)],
                        index,
                    );
                }
                (was, run) => {
                    if let Some((mut points, run)) = was {
                        points.push((band.x, foot));
                        self.pipe(points, run, Water::Flow, 0.7, index);
                    }
                    let mut points = vec![(band.x, y), (band.x, to)];
                    if last {
                        points.append(&mut tail);
                    }
                    self.pipe(points, run, Water::Return, 0.7, index);
                }
            }
            if let Some(node) = seg.node {
                self.place(node, (band.x, to));
            }
            y = to;
        }
        if n == 0 {
            self.y.keep(foot, band.back, band.over.max(3.0), 0.3);
            if let Some((points, run)) = open.take() {
                let rest = vec![(band.x, foot), (band.x, band.back)];
                self.through(points, run, (band.x, top), rest, index);
            } else {
                let from = if block.is_some() { foot } else { top };
                let mut points = vec![(band.x, from), (band.x, band.back)];
                if self.mixes(block.as_ref()) {
                    points.reverse();
                    self.mixing_pipe(points, bar, index);
                } else {
                    self.pipe(points, None, Water::Return, bar, index);
                }
            }
        }
        reach
    }

    /// A pipe that is the emitter itself: flow until its body, return behind it.
    fn through(
        &mut self,
        mut points: Vec<Corner>,
        run: Option<(usize, bool)>,
        body: Corner,
        rest: Vec<Corner>,
        index: bool,
    ) {
        points.push(body);
        self.pipe(points, run, Water::Flow, 0.7, index);
        self.pipe(rest, run, Water::Return, 0.7, index);
    }

    /// Whether a block is the pipe by which a mixing set draws from the return.
    fn mixes(&self, block: Option<&Bit>) -> bool {
        let Some(Bit::Block(Block::Device(id), _)) = block else {
            return false;
        };
        self.figures.network.element(*id).role == crate::network::Role::Mixing
    }

    fn least_of(&self, _edge: bool) -> f64 {
        self.least + 0.5
    }

    fn stems(&self, devices: &[Device], reach: &mut Reach) {
        // seen along the fall, a stem stands to the left of the page's right-hand side
        for d in devices {
            reach.left = reach.left.max(d.size.1 / 2.0 + d.stem + 0.8);
            reach.right = reach.right.max(d.size.1 / 2.0 + 0.8);
        }
    }

    /// Label of a drop to the right of it; the height it uses.
    fn drop_label(&mut self, seg: &Seg, at: Corner, narrow: bool, reach: &mut Reach) -> f64 {
        let Some((run, _)) = seg.run else {
            return 0.0;
        };
        if narrow {
            return 0.0;
        }
        let (text, w, h) = self.label(run);
        if text.is_empty() {
            return 0.0;
        }
        let half = seg.devices.iter().map(|d| d.size.1 / 2.0);
        let off = if self.beside {
            half.map(|h| h + 1.0).fold(CLEAR, f64::max)
        } else {
            CLEAR
        };
        self.text((at.0.plus(off), at.1), text, (w, h), About::Run(run));
        reach.right = reach.right.max(off + w + 0.5);
        h + 1.0
    }

    /// Draw the block of a rung about the middle; half its height, and its reach.
    fn block(&mut self, block: Option<&Bit>, band: Band, number: Option<usize>) -> (f64, Reach) {
        let mut reach = Reach {
            left: 3.0,
            right: 3.0,
        };
        let Some(Bit::Block(block, rev)) = block else {
            return (0.0, reach);
        };
        let network = self.figures.network;
        let cap = self.lettering.value;
        if let (Block::Emitter(i), Some(number)) = (*block, number) {
            return self.numbered(i, number, band);
        }
        if let Block::Device(id) = *block {
            let shut = self.figures.shut.get(id.index()).copied().unwrap_or(false);
            let level = super::style::Level::Full;
            let mut devices = device::of_element(network, id, *rev, shut, level);
            devices.truncate(1);
            let along = devices.first().map_or(0.0, |d| d.size.0);
            let start = band.middle.plus(-along / 2.0);
            self.devices(&devices, (band.x, start), 1, 0.0);
            self.stems(&devices, &mut reach);
            return (along / 2.0, reach);
        }
        let (shape, text, about) = self.body_text(*block);
        let (tw, th) = text.size(cap);
        let (icon, least) = match shape {
            Shape::Cylinder | Shape::Vessel => (14.0, 28.0),
            Shape::HeatPump => (14.0, 24.0),
            Shape::Exchanger => (10.0, 20.0),
            _ => (9.0, 2.6 * pitch(cap)),
        };
        let h = (th + 2.5).max(least);
        let boxed = !matches!(shape, Shape::Cylinder | Shape::Vessel | Shape::Exchanger);
        let (left, text_at) = (icon * 0.6, icon * 0.4 + 1.2);
        let right = if boxed {
            text_at + tw + 1.5
        } else {
            icon * 0.4
        };
        self.raw.push(Raw::Symbol {
            shape,
            a: (band.x.plus(-left), band.middle.plus(-h / 2.0)),
            b: (band.x.plus(right), band.middle.plus(h / 2.0)),
            turn: 0,
            about,
            words: text
                .lines
                .iter()
                .map(|l| l.text.clone())
                .collect::<Vec<_>>()
                .join(", "),
            shut: false,
        });
        self.raw.push(Raw::Text {
            at: (band.x.plus(text_at), band.middle.plus(-th / 2.0)),
            size: (tw, th),
            text,
            letter: Letter::Name,
            align: Align::Left,
            about,
        });
        reach.left = left + 0.5;
        reach.right = (text_at + tw + 1.5).max(right) + 0.5;
        (h / 2.0, reach)
    }

    /// A narrow loop with its number.
    fn numbered(&mut self, emitter: usize, number: usize, band: Band) -> (f64, Reach) {
        let cap = self.lettering.value;
        let text = Text {
            lines: vec![super::scene::Line {
                text: number.to_string(),
                bold: true,
            }],
            ..Text::default()
        };
        let (w, h) = text.size(cap);
        let half = 9.0 + h / 2.0;
        self.raw.push(Raw::Symbol {
            shape: Shape::FloorLoop,
            a: (band.x.plus(-4.0), band.middle.plus(-half)),
            b: (band.x.plus(4.0), band.middle.plus(half)),
            turn: 1,
            about: About::Emitter(emitter),
            words: format!("loop {number}"),
            shut: false,
        });
        self.raw.push(Raw::Text {
            at: (band.x.plus(-w / 2.0), band.middle.plus(half - h - 0.6)),
            size: (w, h),
            text,
            letter: Letter::Name,
            align: Align::Left,
            about: About::Emitter(emitter),
        });
        let reach = Reach {
            left: 4.5,
            right: 4.5,
        };
        (half, reach)
    }

    /// Clearances that rails ask of the rungs between them.
    pub(crate) fn clears(rooms: (Room, Room)) -> (f64, f64) {
        (rooms.0.below.max(CLEAR), rooms.1.above.max(GAP + 1.0))
    }
}
