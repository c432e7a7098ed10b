//! What placing writes on: tracks, and things whose corners are places on tracks.

use super::chart::Bit;
use super::device::{self, Device};
use super::figures::Figures;
use super::scene::{About, Align, Letter, Shape, Water};
use super::style::Style;
use super::tracks::{At, Axis};
use super::words::{Lettering, Text, Words};
use std::collections::BTreeMap;

/// Clear of a pipe's middle: half the index band, its edge and a gap.
pub(crate) const CLEAR: f64 = 3.2;
/// Gap between things.
pub(crate) const GAP: f64 = 2.0;

/// Width of a bar in which no water moves.
pub(crate) const STILL_BAR: f64 = 0.25;

/// A corner on tracks.
pub(crate) type Corner = (At, At);

/// Something placed on tracks.
#[derive(Clone, Debug)]
pub(crate) enum Raw {
    /// A pipe.
    Pipe {
        points: Vec<Corner>,
        run: Option<usize>,
        rev: bool,
        water: Water,
        /// For a joint bar: width of its neighbours and whether the band runs along it.
        width: f64,
        index: bool,
        /// Draws from the return for a mixing set.
        mixes: bool,
    },
    /// A symbol between two corners.
    Symbol {
        shape: Shape,
        a: Corner,
        b: Corner,
        turn: u8,
        about: About,
        words: String,
        shut: bool,
    },
    /// A text from its top left corner.
    Text {
        at: Corner,
        size: (f64, f64),
        text: Text,
        letter: Letter,
        align: Align,
        about: About,
    },
    /// A tee.
    Dot { at: Corner, width: f64 },
}

/// One pipe of a straight way, with the devices on it.
#[derive(Clone, Debug, Default)]
pub(crate) struct Seg {
    pub run: Option<(usize, bool)>,
    pub devices: Vec<Device>,
    /// Place at its end, if something else joins there.
    pub node: Option<usize>,
}

/// Everything that placing needs and makes.
pub(crate) struct Pen<'a> {
    pub figures: &'a Figures<'a>,
    pub words: &'a Words<'a>,
    pub style: &'a Style,
    pub lettering: Lettering,
    pub x: Axis,
    pub y: Axis,
    pub raw: Vec<Raw>,
    /// Shortest pipe that the eye still takes for one, layout units.
    pub least: f64,
    /// Where places ended up.
    pub at: BTreeMap<usize, Vec<Corner>>,
    pub rows: usize,
    /// Cells of a row before it folds.
    pub fold: usize,
    /// Devices that a symbol at a tee stands for.
    pub absorbed: Vec<usize>,
    /// Runs whose label the partner carries.
    pub paired: Vec<bool>,
    /// Rows of a riser that share a line.
    pub group: usize,
    /// Links to be routed once everything has its place.
    pub links: Vec<(Corner, Corner, Water)>,
    /// Rather than routing them, say in words where they go.
    pub refer: bool,
    /// Labels of drops stand beside the valves rather than over them.
    pub beside: bool,
    /// Gaps between rows and columns beyond the least, for routes that came later.
    pub widen: f64,
    /// Rows behind exchangers, by exchanger, until they are laid.
    pub far: BTreeMap<usize, super::plan::Row>,
}

impl Pen<'_> {
    /// Label of a run with its size; nothing for one whose partner carries it.
    pub(crate) fn label(&self, run: usize) -> (Text, f64, f64) {
        if self.paired.get(run).copied().unwrap_or(false) {
            return (Text::default(), 0.0, 0.0);
        }
        let text = self.words.run(self.figures, run, self.style);
        let (w, h) = text.size(self.lettering.value);
        (text, w, h)
    }

    /// Line width of a run, mm on A3 and larger.
    pub(crate) fn width(&self, run: usize) -> f64 {
        let Some(run) = self.figures.network.runs.get(run) else {
            return 0.7;
        };
        let mm = run.outside_m.unwrap_or(run.bore_m + 0.002) * 1e3;
        match mm {
            mm if mm <= 13.0 => 0.5,
            mm if mm <= 19.0 => 0.7,
            mm if mm <= 26.0 => 1.0,
            mm if mm <= 36.0 => 1.4,
            _ => 2.0,
        }
    }

    fn shut(&self, element: usize) -> bool {
        self.figures.shut.get(element).copied().unwrap_or(false)
    }

    /// Cut a straight way into pipes with the devices that stand on each.
    pub(crate) fn segs(&self, bits: &[Bit]) -> Vec<Seg> {
        let (network, level) = (self.figures.network, self.style.level);
        let mut all: Vec<Seg> = Vec::new();
        let mut now = Seg::default();
        for bit in bits {
            match bit {
                Bit::Line(run, rev) => {
                    if now.run.is_some() {
                        all.push(std::mem::take(&mut now));
                    }
                    now.run = Some((*run, *rev));
                    now.devices.extend(device::of_run(
                        network,
                        *run,
                        *rev,
                        &self.figures.shut,
                        level,
                    ));
                }
                Bit::Dev(id, rev) => {
                    if !self.absorbed.contains(&id.index()) {
                        now.devices.extend(device::of_element(
                            network,
                            *id,
                            *rev,
                            self.shut(id.index()),
                            level,
                        ));
                    }
                }
                Bit::Node(place) => {
                    if now.run.is_none() && now.devices.is_empty() {
                        if let Some(last) = all.last_mut() {
                            last.node.get_or_insert(*place);
                        }
                    } else {
                        now.node = Some(*place);
                        all.push(std::mem::take(&mut now));
                    }
                }
                Bit::Par(par) => {
                    // plain pipes side by side: the first stands for the way, the others are routed last
                    if let Some(kid) = par.kids.first() {
                        let inner = self.segs(kid);
                        if now.run.is_some() || !now.devices.is_empty() {
                            now.node = Some(par.u);
                            all.push(std::mem::take(&mut now));
                        }
                        all.extend(inner);
                        if let Some(last) = all.last_mut() {
                            last.node = Some(par.v);
                        }
                    }
                }
                Bit::Block(..) | Bit::Strip(_) => {}
            }
        }
        if now.run.is_some() || !now.devices.is_empty() {
            match all.last_mut() {
                // devices behind the last pipe stand on it
                Some(last) if now.run.is_none() && last.node.is_none() => {
                    last.devices.append(&mut now.devices);
                }
                _ => all.push(now),
            }
        }
        all
    }

    /// Remember where a place is.
    pub(crate) fn place(&mut self, place: usize, corner: Corner) {
        if place != usize::MAX {
            self.at.entry(place).or_default().push(corner);
        }
    }

    /// A tee.
    pub(crate) fn dot(&mut self, at: Corner, width: f64) {
        self.raw.push(Raw::Dot { at, width });
    }

    /// Room that the devices of a pipe take along it.
    pub(crate) fn along(devices: &[Device]) -> f64 {
        devices.iter().map(|d| d.size.0 + 1.5).sum()
    }

    /// Room that devices take to the left of (above) the pipe.
    pub(crate) fn beside(devices: &[Device]) -> f64 {
        devices
            .iter()
            .map(|d| d.size.1 / 2.0 + d.stem)
            .fold(0.0, f64::max)
    }

    /// Put the devices of a pipe along a straight piece, the first one `start` from `from`.
    pub(crate) fn devices(&mut self, devices: &[Device], from: Corner, turn: u8, start: f64) {
        let mut d = start;
        for device in devices {
            let (along, across) = device.size;
            let (p, q) = (d, d + along);
            let half = across / 2.0;
            let (a, b) = match turn {
                0 => (
                    (from.0.plus(p), from.1.plus(-half)),
                    (from.0.plus(q), from.1.plus(half)),
                ),
                2 => (
                    (from.0.plus(-q), from.1.plus(-half)),
                    (from.0.plus(-p), from.1.plus(half)),
                ),
                1 => (
                    (from.0.plus(-half), from.1.plus(p)),
                    (from.0.plus(half), from.1.plus(q)),
                ),
                _ => (
                    (from.0.plus(-half), from.1.plus(-q)),
                    (from.0.plus(half), from.1.plus(-p)),
                ),
            };
            let turn = if device.rev { (turn + 2) % 4 } else { turn };
            self.raw.push(Raw::Symbol {
                shape: device.shape,
                a,
                b,
                turn,
                about: device.about,
                words: device.words.clone(),
                shut: device.shut,
            });
            d = q + 1.5;
        }
    }

    /// A text at a corner.
    pub(crate) fn text(&mut self, at: Corner, text: Text, size: (f64, f64), about: About) {
        if text.is_empty() {
            return;
        }
        self.raw.push(Raw::Text {
            at,
            size,
            text,
            letter: Letter::Value,
            align: Align::Left,
            about,
        });
    }

    /// A pipe; `run` is `None` for a joint bar.
    pub(crate) fn pipe(
        &mut self,
        points: Vec<Corner>,
        run: Option<(usize, bool)>,
        water: Water,
        width: f64,
        index: bool,
    ) {
        let (index, width) = match run {
            Some((r, _)) => (
                self.figures.runs.get(r).is_some_and(|f| f.index),
                self.width(r),
            ),
            None => (index, width),
        };
        self.raw.push(Raw::Pipe {
            points,
            run: run.map(|r| r.0),
            rev: run.is_some_and(|r| r.1),
            water,
            width,
            index,
            mixes: false,
        });
    }

    /// The pipe by which a mixing set draws from the return, in its direction of flow.
    pub(crate) fn mixing_pipe(&mut self, points: Vec<Corner>, width: f64, index: bool) {
        self.raw.push(Raw::Pipe {
            points,
            run: None,
            rev: false,
            water: Water::Return,
            width,
            index,
            mixes: true,
        });
    }

    /// Whether any bit of a way is on an index circuit.
    pub(crate) fn on_index(&self, bits: &[Bit]) -> bool {
        let on = |e: usize| self.figures.index.get(e).copied().unwrap_or(false);
        let network = self.figures.network;
        bits.iter().any(|b| match b {
            Bit::Line(r, _) => self.figures.runs.get(*r).is_some_and(|f| f.index),
            Bit::Dev(id, _) => on(id.index()),
            Bit::Block(block, _) => {
                use super::chart::Block;
                let id = match block {
                    Block::Emitter(i) => network.emitters.get(*i).map(|e| e.body),
                    Block::Source(i) => network.sources.get(*i).map(|s| s.body),
                    Block::Cylinder(i) => network.cylinders.get(*i).map(|c| c.coil),
                    Block::Vessel(i) => network.vessels.get(*i).map(|v| v.body),
                    Block::Exchanger(i, near) => network
                        .exchangers
                        .get(*i)
                        .map(|x| if *near { x.near } else { x.far }),
                    Block::Device(id) => Some(*id),
                };
                id.is_some_and(|id| on(id.index()))
            }
            Bit::Node(_) => false,
            Bit::Par(p) => p.kids.iter().any(|k| self.on_index(k)),
            Bit::Strip(s) => s.rungs.iter().any(|k| self.on_index(k)),
        })
    }
}
