//! A one-pipe loop: out along the top, home along the foot, each body inside on its own two tees.

use super::chart::Bit;
use super::pen::{CLEAR, Corner, GAP, Pen, Raw, Seg};
use super::rail::{Band, Rail, Reach, Room};
use super::reduce::heavy;
use super::scene::{About, Align, Letter, Water};
use super::tracks::At;
use super::words::pitch;

/// A piece of the loop.
enum Step {
    /// Main pipe to the next station.
    Main(Vec<Bit>),
    /// Between the two tees (nothing if the body is right on the main), what hangs on them, and their places.
    Station(Option<Vec<Bit>>, Vec<Bit>, (usize, usize)),
}

fn steps(bits: &[Bit]) -> Vec<Step> {
    let mut all = Vec::new();
    let mut main: Vec<Bit> = Vec::new();
    for bit in bits {
        match bit {
            Bit::Par(par) if par.kids.iter().any(|k| heavy(k)) => {
                all.push(Step::Main(std::mem::take(&mut main)));
                let hang = par.kids.iter().find(|k| heavy(k)).cloned();
                let between = par.kids.iter().find(|k| !heavy(k)).cloned();
                let at = (par.u, par.v);
                all.push(Step::Station(between, hang.unwrap_or_default(), at));
            }
            Bit::Block(..) => {
                all.push(Step::Main(std::mem::take(&mut main)));
                let at = (usize::MAX, usize::MAX);
                all.push(Step::Station(None, vec![bit.clone()], at));
            }
            other => main.push(other.clone()),
        }
    }
    all.push(Step::Main(main));
    all
}

/// One leg of a loop being laid.
struct Leg {
    y: At,
    /// Middle of its bodies.
    middle: At,
    /// The foot, from right to left.
    foot: bool,
    /// Where the main is now.
    x: At,
    /// The next body has to stay beyond this.
    bound: At,
    /// Width of its pipe, for bars at its ends.
    wide: f64,
}

impl Pen<'_> {
    /// Lay a loop between the rails from `band.x` on; how far it goes is `right`.
    pub(crate) fn one_pipe(&mut self, bits: &[Bit], band: Band, right: At) -> Reach {
        let steps = steps(bits);
        let count = steps
            .iter()
            .filter(|s| matches!(s, Step::Station(..)))
            .count();
        let above = count.div_ceil(2);
        let (upper, lower) = (self.y.track(), self.y.track());
        self.y
            .keep(upper, lower, 2.0 * self.loop_half(bits) + 3.0, 0.3);
        let end = self.x.track();
        self.x.keep(end, right, 3.0, 0.0);
        if count < 2 {
            // no body stands on the foot
            self.y.keep(lower, band.back, 3.0, 0.0);
        }
        let index = self.on_index(bits);
        let wide = bits.iter().find_map(super::rows::line_of);
        let wide = self.bar_along(bits, wide.map_or(0.7, |r| self.width(r)));
        let mut leg = Leg {
            y: band.flow,
            middle: upper,
            foot: false,
            x: band.x,
            bound: band.x,
            wide,
        };
        let mut seen = 0;
        let mut pending: Vec<Bit> = Vec::new();
        for step in steps {
            match step {
                Step::Main(bits) => pending = bits,
                Step::Station(between, hang, at) => {
                    let mut lead = Vec::new();
                    if !leg.foot && seen >= above {
                        lead = vec![(leg.x, band.flow), (end, band.flow)];
                        self.x.keep(leg.bound, end, GAP + 1.5, 0.0);
                        leg = Leg {
                            y: band.back,
                            middle: lower,
                            foot: true,
                            x: end,
                            bound: end,
                            wide,
                        };
                    }
                    seen += 1;
                    let first = self.x.track();
                    self.main(
                        &std::mem::take(&mut pending),
                        &leg,
                        first,
                        lead,
                        index,
                        band,
                    );
                    self.on_leg(between.as_deref(), &hang, at, &mut leg, first, index, band);
                }
            }
        }
        // home
        let lead = if leg.foot {
            self.x.keep(band.x, leg.bound, GAP, 0.0);
            Vec::new()
        } else {
            let lead = vec![(leg.x, band.flow), (end, band.flow)];
            self.x.keep(leg.bound, end, GAP + 1.5, 0.0);
            leg = Leg {
                y: band.back,
                middle: lower,
                foot: true,
                x: end,
                bound: end,
                wide,
            };
            lead
        };
        if !(pending.is_empty() && lead.is_empty() && leg.x == band.x) {
            self.main(&pending, &leg, band.x, lead, index, band);
        }
        Reach {
            left: CLEAR,
            right: CLEAR,
        }
    }

    /// Half the height of the tallest body of a loop.
    fn loop_half(&self, bits: &[Bit]) -> f64 {
        let height = |bit: &Bit| match bit {
            Bit::Block(block, _) => {
                let (_, text, _) = self.body_text(*block);
                (text.size(self.lettering.value).1 + 2.5).max(2.6 * pitch(self.lettering.value))
                    / 2.0
            }
            _ => 0.0,
        };
        bits.iter()
            .map(|bit| match bit {
                Bit::Par(p) => p.kids.iter().flatten().map(height).fold(0.0, f64::max),
                other => height(other),
            })
            .fold(6.0, f64::max)
    }

    fn main(
        &mut self,
        bits: &[Bit],
        leg: &Leg,
        to: At,
        lead: Vec<Corner>,
        index: bool,
        band: Band,
    ) -> Room {
        let rail = Rail {
            a: leg.x,
            b: to,
            y: leg.y,
            right: !leg.foot,
            left: if leg.foot { to } else { leg.x },
            lead,
            tail: Vec::new(),
            water: if leg.foot { Water::Return } else { Water::Flow },
            bar: (leg.wide, index),
            stretch: 0.5,
            valve: 0.0,
            riser: None,
        };
        let room = self.rail(bits, rail);
        self.leg_room(leg.foot, room, band);
        room
    }

    /// Keep what stands outside the loop clear of its labels.
    fn leg_room(&mut self, foot: bool, room: Room, band: Band) {
        if foot {
            self.y.keep(band.back, band.bottom, room.below, 0.0);
        } else {
            self.y.keep(band.top, band.flow, room.above, 0.0);
        }
    }

    #[allow(clippy::too_many_arguments)]
    fn on_leg(
        &mut self,
        between: Option<&[Bit]>,
        hang: &[Bit],
        at: (usize, usize),
        leg: &mut Leg,
        first: At,
        index: bool,
        band: Band,
    ) {
        let second = self.x.track();
        if let Some(between) = between {
            let start = Leg { x: first, ..*leg };
            self.main(between, &start, second, Vec::new(), index, band);
            self.dot((first, leg.y), leg.wide.max(0.7));
            self.dot((second, leg.y), leg.wide.max(0.7));
        }
        let (l, r) = if leg.foot {
            (second, first)
        } else {
            (first, second)
        };
        self.place(at.0, (first, leg.y));
        self.place(at.1, (second, leg.y));
        let block_at = hang
            .iter()
            .position(|b| matches!(b, Bit::Block(..)))
            .unwrap_or(hang.len());
        let out = self.segs(&hang[..block_at]);
        let home = self.segs(hang.get(block_at + 1..).unwrap_or(&[]));
        let (half, width) = match hang.get(block_at) {
            Some(Bit::Block(block, _)) => self.standing(*block, l, r, leg.middle),
            _ => (0.0, 4.0),
        };
        let edge = leg.middle.plus(if leg.foot { half } else { -half });
        self.x.keep(l, r, width, 0.3);
        let w_out = self.plumb(out, first, leg.y, edge, leg.foot, true, index);
        let w_home = self.plumb(home, second, leg.y, edge, leg.foot, false, index);
        let (w_left, w_right) = if leg.foot {
            (w_home, w_out)
        } else {
            (w_out, w_home)
        };
        self.x.keep(l, r, w_left + 7.0, 0.0);
        let reach = self.x.track();
        self.x.keep(r, reach, w_right.max(4.0), 0.0);
        if leg.foot {
            self.x.keep(reach, leg.bound, GAP + 1.5, 0.0);
            leg.bound = l.plus(-7.0);
        } else {
            self.x.keep(leg.bound, l, 7.0 + GAP, 0.0);
            leg.bound = reach;
        }
        leg.x = second;
    }

    /// A body with both its connections on one side, over its two tees.
    fn standing(&mut self, block: super::chart::Block, l: At, r: At, middle: At) -> (f64, f64) {
        let (shape, text, about) = self.body_text(block);
        let cap = self.lettering.value;
        let (tw, th) = text.size(cap);
        let h = (th + 2.5).max(2.6 * pitch(cap));
        self.raw.push(Raw::Symbol {
            shape,
            a: (l.plus(-5.4), middle.plus(-h / 2.0)),
            b: (r.plus(4.0), middle.plus(h / 2.0)),
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
        let size = (tw, th);
        self.raw.push(Raw::Text {
            at: (l.plus(4.8), middle.plus(-th / 2.0)),
            size,
            text,
            letter: Letter::Name,
            align: Align::Left,
            about,
        });
        (h / 2.0, tw + 4.0)
    }

    /// Pipes upright between a leg and a body; the width that their labels take to the right.
    #[allow(clippy::too_many_arguments)]
    fn plumb(
        &mut self,
        segs: Vec<Seg>,
        x: At,
        leg: At,
        edge: At,
        foot: bool,
        out: bool,
        index: bool,
    ) -> f64 {
        let water = if out { Water::Flow } else { Water::Return };
        // in the direction of the way: away from the leg, or back to it
        let (from, to) = if out { (leg, edge) } else { (edge, leg) };
        let down = out != foot;
        if segs.is_empty() {
            let (top, low) = if foot { (edge, leg) } else { (leg, edge) };
            self.y.keep(top, low, 5.0, 0.0);
            self.pipe(vec![(x, from), (x, to)], None, water, 0.7, index);
            return 0.0;
        }
        let n = segs.len();
        let mut y = from;
        let mut wide: f64 = 4.5;
        for (k, seg) in segs.into_iter().enumerate() {
            let last = k + 1 == n;
            let end = if last { to } else { self.y.track() };
            let (top, low) = if down { (y, end) } else { (end, y) };
            let along = Self::along(&seg.devices);
            let (mut w, mut h) = (0.0, 0.0);
            // devices next to the body, the label next to the leg
            let devices_low = !foot;
            if let Some((run, _)) = seg.run {
                let (text, tw, th) = self.label(run);
                let at = if devices_low {
                    top.plus(CLEAR + 1.0)
                } else {
                    low.plus(-CLEAR - 1.0 - th)
                };
                self.text((x.plus(CLEAR), at), text, (tw, th), About::Run(run));
                (w, h) = (tw + CLEAR + 0.5, th);
            }
            let need = 2.0 * CLEAR + 1.0 + h + along;
            self.y.keep(top, low, need.max(self.least + 0.5), 0.3);
            let turn = if down { 1 } else { 3 };
            // the device's own start, measured in the direction of the way
            let start = match (devices_low, down) {
                (true, true) => low.plus(-along - 0.5),
                (true, false) => low,
                (false, true) => top,
                (false, false) => top.plus(along + 0.5),
            };
            self.devices(&seg.devices, (x, start), turn, 0.8);
            self.pipe(vec![(x, y), (x, end)], seg.run, water, 0.7, index);
            wide = wide.max(w);
            y = end;
        }
        wide
    }
}
