//! Rows of tees between two rails, folded where they grow too long.

use super::bars::MANIFOLD;
use super::pen::{CLEAR, Corner, GAP, Pen, STILL_BAR};
use super::plan::{Body, Cell, Row};
use super::rail::{Band, Rail, Room};
use super::scene::Water;
use super::tracks::At;

/// Between the two risers: room for a hop and its clearance.
pub(crate) const RISERS: f64 = 9.0;

/// How the rails come to a row.
#[derive(Clone, Debug)]
pub(crate) struct Entry {
    pub flow_x: At,
    pub flow_lead: Vec<Corner>,
    pub back_x: At,
    pub back_tail: Vec<Corner>,
    /// From where on labels of the flow rail may stand.
    pub left: At,
    /// The same on the return rail.
    pub back_left: At,
    /// Upper and lower bound shared with what stands beside the row.
    pub bounds: Option<(At, At)>,
    /// Width of the pipe that leads to the row, if there is one.
    pub wide: Option<f64>,
}

/// What a row took.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Taken {
    pub right: At,
    pub top: At,
    pub bottom: At,
}

/// Tracks of one line of a row.
#[derive(Clone, Copy, Debug)]
struct Tracks {
    flow: At,
    middle: At,
    back: At,
    top: At,
    bottom: At,
}

impl Pen<'_> {
    /// Lay a row between `flow` and `back`.
    pub(crate) fn row(&mut self, row: &Row, entry: Entry, flow: At, back: At) -> Taken {
        let (top, bottom) = entry
            .bounds
            .unwrap_or_else(|| (self.y.track(), self.y.track()));
        // a reverse return comes home below its row
        let (own_back, own_bottom) = if row.reverse {
            (self.y.track(), self.y.track())
        } else {
            (back, bottom)
        };
        let mut line = Tracks {
            flow,
            middle: self.y.track(),
            back: own_back,
            top,
            bottom: own_bottom,
        };
        let right = self.x.track();
        let (lines, down) = self.figures.storeys.lines(row, self.fold, tail);
        let mut x_before = entry.flow_x;
        let mut right_before: Option<At> = None;
        let mut valve = 0.0;
        let mut left_before = 0.0;
        let mut pending: Option<(Vec<super::chart::Bit>, At)> = None;
        let (mut y_top, mut y_bottom) = (top, bottom);
        self.rows += usize::from(!row.cells.is_empty());
        for (i, cell) in row.cells.iter().enumerate() {
            let table = matches!(cell.body, Body::Table(_));
            let forth = lines[i].is_multiple_of(2);
            let turn = i > 0 && lines[i] != lines[i - 1];
            let x = self.x.track();
            // a four-port vessel takes the rails at its sides
            let half = if is_vessel(&cell.body) { 6.0 } else { 0.0 };
            let (x_in, x_out) = if forth {
                (x.plus(-half), x.plus(half))
            } else {
                (x.plus(half), x.plus(-half))
            };
            let old = line;
            let mut turned = None;
            if turn {
                self.rows += 1;
                line = Tracks {
                    flow: self.y.track(),
                    middle: self.y.track(),
                    back: self.y.track(),
                    top: self.y.track(),
                    bottom: self.y.track(),
                };
                if down {
                    // the end of a reverse return then lies beside the source's return, and nothing is crossed on the
                    // way home
                    self.y.keep(old.bottom, line.top, GAP + self.widen, 0.5);
                    y_bottom = line.bottom;
                } else {
                    self.y.keep(line.bottom, old.top, GAP + self.widen, 0.5);
                    y_top = line.top;
                }
                let (inner, outer) = (self.x.track(), self.x.track());
                if forth {
                    // the line before ran to the left: turn at its left end
                    self.x.keep(outer, inner, RISERS, 0.0);
                    self.x.keep(inner, x_before, left_before + GAP + 1.5, 0.0);
                    self.x.keep(entry.left, outer, GAP, 0.0);
                    self.x.keep(inner, x, GAP, 0.0);
                } else {
                    if let Some(r) = right_before {
                        self.x.keep(r, inner, GAP + 1.5, 0.0);
                    }
                    self.x.keep(inner, outer, RISERS, 0.0);
                    self.x.keep(outer, right, 3.0, 0.0);
                }
                turned = Some((inner, outer));
            }
            let (width, index) = self.bar_of(row, i, entry.wide);
            // ways from one place are tapped off a thick bar
            let bar = if self.on_bar(row, i) {
                (if width > STILL_BAR { MANIFOLD } else { width }, index)
            } else {
                (width, index)
            };
            let first = i == 0;
            if table {
                let cell_right = self.x.track();
                let band = Band {
                    forth,
                    x,
                    flow: line.flow,
                    middle: line.middle,
                    back: line.back,
                    top: line.top,
                    bottom: line.bottom,
                    under: CLEAR,
                    over: CLEAR,
                };
                let reach = self.cell(cell, band, cell_right, None);
                if !forth {
                    self.x.keep(cell_right, x_before, left_before + GAP, 0.0);
                    self.x.keep(entry.left, x, reach.left + GAP, 0.0);
                } else if let Some(r) = right_before {
                    self.x.keep(r, x, reach.left + GAP, 0.0);
                }
                self.x.keep(cell_right, right, 0.5, 0.0);
                right_before = Some(cell_right);
                continue;
            }
            // a lone way bends from the rail into its drop without a piece of rail of its own
            let lone = row.cells.len() == 1
                && row.end.is_none()
                && !row.reverse
                && cell.flow.is_empty()
                && cell.back.is_empty()
                && matches!(&cell.body, Body::Rung(bits) if lines_both_sides(bits));
            // the rail to this tee
            let (lead, start) = match turned {
                Some((_, outer)) => (vec![(x_before, old.flow), (outer, old.flow)], outer),
                None if first => (entry.flow_lead.clone(), entry.flow_x),
                None => (Vec::new(), x_before),
            };
            let room_flow = if lone {
                Room::default()
            } else {
                self.rail(
                    &cell.flow,
                    Rail {
                        a: start,
                        b: x_in,
                        y: line.flow,
                        right: forth,
                        left: if first {
                            entry.left
                        } else if forth {
                            start
                        } else {
                            x_in
                        },
                        lead,
                        tail: Vec::new(),
                        water: Water::Flow,
                        bar,
                        stretch: 0.0,
                        valve,
                        riser: turned.map(|(inner, _)| inner).filter(|_| down),
                    },
                )
            };
            // the return from this tee
            let room_back = if lone {
                Room::default()
            } else if row.reverse {
                let room = match pending.take() {
                    Some((bits, from)) => {
                        let (lead, start) = match turned {
                            Some((inner, _)) => (vec![(from, old.back), (inner, old.back)], inner),
                            None => (Vec::new(), from),
                        };
                        let rail = Rail {
                            a: start,
                            b: x,
                            y: line.back,
                            right: forth,
                            left: match (forth, i + 1 == row.cells.len()) {
                                (true, _) => start,
                                // the way home leaves straight down from here
                                (false, true) => x.plus(2.0),
                                (false, false) => x,
                            },
                            lead,
                            tail: Vec::new(),
                            water: Water::Return,
                            bar,
                            stretch: 0.0,
                            valve: 0.0,
                            riser: None,
                        };
                        self.rail(&bits, rail)
                    }
                    None => Room::default(),
                };
                pending = Some((cell.back.clone(), x));
                room
            } else {
                let (tail, end) = match turned {
                    Some((inner, _)) => (vec![(inner, old.back), (x_before, old.back)], inner),
                    None if first => (entry.back_tail.clone(), entry.back_x),
                    None => (Vec::new(), x_before),
                };
                let rail = Rail {
                    a: x_in,
                    b: end,
                    y: line.back,
                    right: !forth,
                    left: if first {
                        entry.back_left
                    } else if forth && turned.is_some() {
                        // the riser goes on down
                        end.plus(CLEAR - 1.8)
                    } else if forth {
                        end
                    } else {
                        x_in
                    },
                    lead: Vec::new(),
                    tail,
                    water: Water::Return,
                    bar,
                    stretch: 0.0,
                    valve: 0.0,
                    riser: None,
                };
                self.rail(&cell.back, rail)
            };
            let more_above = if matches!(cell.body, Body::Rung(_)) {
                5.0
            } else {
                0.0
            };
            self.y
                .keep(line.top, line.flow, room_flow.above.max(more_above), 0.0);
            self.y
                .keep(line.back, line.bottom, room_back.below.max(more_above), 0.0);
            let (mut under, over) = Self::clears((room_flow, room_back));
            // what stands on the rail behind this tee stays clear of the label of its drop
            if forth {
                let next = row.cells.get(i + 1).map(|c| &c.flow);
                let next = next.or_else(|| row.end.as_ref().map(|s| &s.flow));
                for seg in next.map_or(Vec::new(), |bits| self.segs(bits)) {
                    let half = seg.devices.iter().map(|d| d.size.1 / 2.0 + 1.0);
                    under = half.fold(under, f64::max);
                }
            }
            let cylinders = &self.figures.network.cylinders;
            valve = 0.0;
            if cylinders.iter().any(|c| c.place.index() == cell.at.0) {
                // a three-port valve stands at this tee
                (under, valve) = (under.max(5.5), 4.5);
            }
            let band = Band {
                forth,
                x,
                flow: line.flow,
                middle: line.middle,
                back: line.back,
                top: line.top,
                bottom: line.bottom,
                under,
                over,
            };
            let cell_right = self.x.track();
            let bends = lone.then(|| {
                let mut lead = entry.flow_lead.clone();
                lead.push((entry.flow_x, line.flow));
                let mut tail = vec![(entry.back_x, line.back)];
                tail.extend(entry.back_tail.iter().copied());
                (lead, tail)
            });
            let reach = self.cell(cell, band, cell_right, bends);
            let reach = self.line_name(row, &lines, i, band, reach);
            self.x.keep(cell_right, right, 0.5, 0.0);
            let gap = if cell.number.is_some() {
                0.4
            } else {
                GAP + self.widen
            };
            let share = if cell.number.is_some() { 0.0 } else { 1.0 };
            if first {
                self.x.keep(entry.left, x, reach.left + GAP, share);
            } else if !turn && forth {
                if let Some(r) = right_before {
                    self.x.keep(r, x, reach.left + gap, share);
                }
            } else if !turn {
                self.x.keep(cell_right, x_before, left_before + gap, share);
            }
            if !forth {
                self.x.keep(entry.left, x, reach.left + GAP, 0.0);
            }
            match turned {
                Some((inner, _)) if forth => self.x.keep(inner, x, reach.left + CLEAR, 0.0),
                Some((inner, _)) => self.x.keep(cell_right, inner, GAP + 1.5, 0.0),
                None => {}
            }
            self.tee_dots(row, i, width, (x, line.flow), (x, line.back));
            x_before = x_out;
            right_before = Some(cell_right);
            left_before = reach.left;
        }
        if row.reverse {
            self.home(row, &entry, x_before, line, (back, bottom));
        }
        if let Some(stack) = &row.end {
            let wide = self.width_to(row, row.cells.len(), entry.wide);
            let entry = if row.cells.is_empty() {
                Entry {
                    bounds: Some((line.top, line.bottom)),
                    ..entry
                }
            } else {
                let left = right_before.unwrap_or(x_before);
                Entry {
                    flow_x: x_before,
                    flow_lead: Vec::new(),
                    back_x: x_before,
                    back_tail: Vec::new(),
                    left,
                    back_left: left,
                    bounds: Some((line.top, line.bottom)),
                    wide,
                }
            };
            let taken = self.stack(stack, entry, line.flow, line.back);
            self.x.keep(taken.right, right, 0.0, 0.0);
            (y_top, y_bottom) = (taken.top, taken.bottom);
        }
        Taken {
            right,
            top: y_top,
            bottom: if row.reverse { bottom } else { y_bottom },
        }
    }

    /// The return of a reverse return, home under its row.
    fn home(&mut self, row: &Row, entry: &Entry, x: At, line: Tracks, (back, bottom): (At, At)) {
        // straight down from the last tee, so that the way home turns twice at most
        let lead = vec![(x, line.back)];
        let rail = Rail {
            a: x,
            b: entry.back_x,
            y: back,
            right: false,
            left: entry.back_left,
            lead,
            tail: entry.back_tail.clone(),
            water: Water::Return,
            bar: self.bar_home(row),
            stretch: 0.0,
            valve: 0.0,
            riser: None,
        };
        let room = self.rail(&row.home, rail);
        self.y.keep(line.bottom, back, 4.0, 0.2);
        self.y.keep(back, bottom, room.below, 0.0);
    }

    fn tee_dots(&mut self, row: &Row, i: usize, bar: f64, flow: Corner, back: Corner) {
        let cell = &row.cells[i];
        self.place(cell.at.0, flow);
        self.place(cell.at.1, back);
        let table = matches!(cell.body, Body::Table(_));
        let goes_on = i + 1 < row.cells.len() && !matches!(row.cells[i + 1].body, Body::Table(_))
            || row.end.is_some();
        let vessel = is_vessel(&cell.body);
        if table || vessel {
            return;
        }
        let width = |bits: &[super::chart::Bit]| {
            bits.iter().find_map(line_of).map_or(bar, |r| self.width(r))
        };
        let (w_flow, w_back) = (width(&cell.flow), width(&cell.back));
        if row.reverse {
            if i > 0 {
                self.dot(back, w_back);
            }
            if goes_on {
                self.dot(flow, w_flow);
            }
        } else if goes_on {
            self.dot(flow, w_flow);
            self.dot(back, w_back);
        }
    }
}

pub(crate) fn line_of(bit: &super::chart::Bit) -> Option<usize> {
    match bit {
        super::chart::Bit::Line(r, _) => Some(*r),
        _ => None,
    }
}

/// Whether a rung has pipes on both sides of its block.
fn lines_both_sides(bits: &[super::chart::Bit]) -> bool {
    let block = bits
        .iter()
        .position(|b| matches!(b, super::chart::Bit::Block(..)));
    block.is_some_and(|i| {
        bits[..i].iter().any(|b| line_of(b).is_some())
            && bits[i + 1..].iter().any(|b| line_of(b).is_some())
    })
}

/// What never begins a line: a table stays with the loops that it explains, an arrow to another sheet with the tee
/// before it.
fn tail(cell: &Cell) -> bool {
    matches!(cell.body, Body::Table(_) | Body::Away(..))
}

/// A vessel right between the rails, whose ports are the tees.
pub(crate) fn is_vessel(body: &Body) -> bool {
    matches!(body, Body::Rung(bits)
        if matches!(bits[..], [super::chart::Bit::Block(super::chart::Block::Vessel(_), _)]))
}
