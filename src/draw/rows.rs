//! Rows of tees between two rails, and rows above one another on risers.

use super::pen::{CLEAR, Corner, GAP, Pen};
use super::plan::{Body, Cell, Row, Stack};
use super::rail::{Band, Rail, Reach, Room};
use super::scene::{About, Water};
use super::tracks::At;
use super::words::Text;

/// Between the two risers: room for a hop and its clearance.
const RISERS: f64 = 9.0;

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
        let fold = if row.end.is_some() || self.fold == 0 {
            usize::MAX
        } else {
            let n = row.cells.len();
            let lines = n.div_ceil(self.fold.max(1));
            n.div_ceil(lines.max(1)).max(1)
        };
        let mut x_before = entry.flow_x;
        let mut right_before: Option<At> = None;
        let mut left_before = 0.0;
        let mut pending: Option<(Vec<super::chart::Bit>, At)> = None;
        let mut y_top = top;
        self.rows += usize::from(!row.cells.is_empty());
        for (i, cell) in row.cells.iter().enumerate() {
            let (number, place) = (i / fold, i % fold);
            let forth = number % 2 == 0;
            let turn = i > 0 && place == 0;
            let x = self.x.track();
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
                self.y.keep(line.bottom, old.top, GAP + self.widen, 0.5);
                y_top = line.top;
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
            let bar = self.bar_of(row, i);
            let first = i == 0;
            if let Body::Table(_) = cell.body {
                let cell_right = self.x.track();
                let band = Band {
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
                if let Some(r) = right_before {
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
            let room_flow = if lone { Room::default() } else { self.rail(
                &cell.flow,
                Rail {
                    a: start,
                    b: x,
                    y: line.flow,
                    right: forth,
                    left: if first { entry.left } else if forth { start } else { x },
                    lead,
                    tail: Vec::new(),
                    water: Water::Flow,
                    bar,
                    stretch: 0.0,
                },
            ) };
            // the return from this tee
            let room_back = if lone {
                Room::default()
            } else if row.reverse {
                let room = match pending.take() {
                    Some((bits, from)) => {
                        let (lead, start) = match turned {
                            Some((inner, _)) => {
                                (vec![(from, old.back), (inner, old.back)], inner)
                            }
                            None => (Vec::new(), from),
                        };
                        let rail = Rail {
                            a: start,
                            b: x,
                            y: line.back,
                            right: forth,
                            left: if forth { start } else { x },
                            lead,
                            tail: Vec::new(),
                            water: Water::Return,
                            bar,
                            stretch: 0.0,
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
                    a: x,
                    b: end,
                    y: line.back,
                    right: !forth,
                    left: if first {
                        entry.back_left
                    } else if forth {
                        end
                    } else {
                        x
                    },
                    lead: Vec::new(),
                    tail,
                    water: Water::Return,
                    bar,
                    stretch: 0.0,
                };
                self.rail(&cell.back, rail)
            };
            let more_above = if matches!(cell.body, Body::Rung(_)) { 5.0 } else { 0.0 };
            self.y
                .keep(line.top, line.flow, room_flow.above.max(more_above), 0.0);
            self.y
                .keep(line.back, line.bottom, room_back.below.max(more_above), 0.0);
            let (mut under, over) = Self::clears((room_flow, room_back));
            let network = self.figures.network;
            if network.cylinders.iter().any(|c| c.place.index() == cell.at.0) {
                under = under.max(5.0); // a three-port valve stands at this tee
            }
            let band = Band {
                x,
                flow: line.flow,
                middle: line.middle,
                back: line.back,
                top: line.top,
                bottom: line.bottom,
                under,
                over,
            };
            if i == 0 {
                self.at_left.clear();
            }
            self.at_left.push(x);
            let cell_right = self.x.track();
            let bends = lone.then(|| {
                let mut lead = entry.flow_lead.clone();
                lead.push((entry.flow_x, line.flow));
                let mut tail = vec![(entry.back_x, line.back)];
                tail.extend(entry.back_tail.iter().copied());
                (lead, tail)
            });
            let reach = self.cell(cell, band, cell_right, bends);
            self.x.keep(cell_right, right, 0.5, 0.0);
            let gap = if cell.number.is_some() { 0.4 } else { GAP + self.widen };
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
            if let Some((inner, _)) = turned
                && !forth
            {
                self.x.keep(cell_right, inner, GAP + 1.5, 0.0);
            }
            self.tee_dots(row, i, (x, line.flow), (x, line.back));
            x_before = x;
            right_before = Some(cell_right);
            left_before = reach.left;
        }
        if row.reverse {
            let forth = row.cells.len().saturating_sub(1) / fold % 2 == 0;
            self.home(row, &entry, x_before, line, (back, own_bottom, bottom), right, forth);
        }
        if let Some(stack) = &row.end {
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
                }
            };
            let taken = self.stack(stack, entry, line.flow, line.back);
            self.x.keep(taken.right, right, 0.0, 0.0);
            y_top = taken.top;
        }
        Taken {
            right,
            top: y_top,
            bottom,
        }
    }

    /// The return of a reverse return, home under its row.
    #[allow(clippy::too_many_arguments)]
    fn home(
        &mut self,
        row: &Row,
        entry: &Entry,
        x: At,
        line: Tracks,
        (back, above, bottom): (At, At, At),
        right: At,
        forth: bool,
    ) {
        let out = self.x.track();
        if forth {
            self.x.keep(right, out, GAP + 1.5, 0.0);
        } else {
            // down between the source and the row, right of the labels of what leads to it
            let lead = row.cells.first().map_or(&[][..], |c| &c.flow);
            let need: f64 = self
                .segs(lead)
                .iter()
                .map(|s| {
                    let w = s.run.map_or(0.0, |r| self.label(r.0).1);
                    w + Self::along(&s.devices) + 6.0
                })
                .sum();
            self.x.keep(entry.left, out, need, 0.0);
            for cell in &self.at_left {
                self.x.keep(out, *cell, 10.0, 0.0);
            }
        }
        let lead = vec![(x, line.back), (out, line.back)];
        let rail = Rail {
            a: out,
            b: entry.back_x,
            y: back,
            right: false,
            left: entry.back_left,
            lead,
            tail: entry.back_tail.clone(),
            water: Water::Return,
            bar: (0.7, false),
            stretch: 0.0,
        };
        let room = self.rail(&row.home, rail);
        self.y.keep(above, back, 4.0, 0.2);
        self.y.keep(back, bottom, room.below, 0.0);
    }

    /// Width of the bar before a tee, and whether the index band runs along it.
    fn bar_of(&self, row: &Row, i: usize) -> (f64, bool) {
        let rest = row.cells.get(i..).unwrap_or(&[]);
        let index = rest.iter().any(|c| self.cell_on_index(c))
            || row.end.as_ref().is_some_and(|s| {
                s.rows
                    .iter()
                    .any(|r| r.cells.iter().any(|c| self.cell_on_index(c)))
            });
        let before = row.cells[..i]
            .iter()
            .rev()
            .find_map(|c| c.flow.iter().rev().find_map(line_of));
        (before.map_or(0.7, |r| self.width(r)), index)
    }

    fn cell_on_index(&self, cell: &Cell) -> bool {
        self.on_index(&cell.flow)
            || match &cell.body {
                Body::Rung(bits) | Body::Loop(bits) => self.on_index(bits),
                Body::Nested(row) => row.cells.iter().any(|c| self.cell_on_index(c)),
                Body::Table(_) => false,
            }
    }

    fn cell(&mut self, cell: &Cell, band: Band, right: At, bends: Option<(Vec<Corner>, Vec<Corner>)>) -> Reach {
        match &cell.body {
            Body::Rung(bits) => {
                let reach = self.rung(bits, band, cell.number, right, bends);
                self.x.keep(band.x, right, reach.right, 0.0);
                reach
            }
            Body::Nested(row) => {
                let (flow, back) = (self.y.track(), self.y.track());
                let entry = Entry {
                    flow_x: band.x,
                    flow_lead: vec![(band.x, band.flow)],
                    back_x: band.x,
                    back_tail: vec![(band.x, band.back)],
                    left: band.x.plus(1.5),
                    back_left: band.x.plus(1.5),
                    bounds: None,
                };
                let taken = self.row(row, entry, flow, back);
                self.rows = self.rows.saturating_sub(1);
                self.y.keep(band.flow, taken.top, band.under, 0.2);
                self.y.keep(taken.bottom, band.back, band.over, 0.2);
                self.y.keep(band.flow, flow, self.least, 0.0);
                self.y.keep(back, band.back, self.least, 0.0);
                self.x.keep(taken.right, right, 0.0, 0.0);
                Reach {
                    left: 3.0,
                    right: 3.0,
                }
            }
            Body::Loop(bits) => self.one_pipe(bits, band, right),
            Body::Table(emitters) => {
                let text = self.loop_table(emitters);
                let (w, h) = text.size(self.lettering.value);
                let top = band.middle.plus(-h / 2.0);
                self.y.keep(band.flow, top, band.under + 1.0, 0.0);
                let foot = band.middle.plus(h / 2.0);
                self.y.keep(foot, band.back, band.over + 1.0, 0.0);
                self.text((band.x.plus(1.0), top), text, (w, h), About::Sheet);
                self.x.keep(band.x, right, w + 2.0, 0.0);
                Reach {
                    left: 1.0,
                    right: w + 2.0,
                }
            }
        }
    }

    /// One line for each numbered loop.
    fn loop_table(&self, emitters: &[usize]) -> Text {
        let mut text = Text::default();
        for (i, &e) in emitters.iter().enumerate() {
            let words = self.words.loop_line(self.figures, e, i + 1, self.style);
            text.lines.push(super::scene::Line {
                text: words,
                bold: false,
            });
        }
        text
    }

    fn tee_dots(&mut self, row: &Row, i: usize, flow: Corner, back: Corner) {
        let cell = &row.cells[i];
        self.place(cell.at.0, flow);
        self.place(cell.at.1, back);
        let table = matches!(cell.body, Body::Table(_));
        let goes_on = i + 1 < row.cells.len()
            && !matches!(row.cells[i + 1].body, Body::Table(_))
            || row.end.is_some();
        let vessel = is_vessel(&cell.body);
        if table || vessel {
            return;
        }
        let width = |bits: &[super::chart::Bit]| {
            bits.iter().find_map(line_of).map_or(0.7, |r| self.width(r))
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

    /// Rows on a pair of risers.
    pub(crate) fn stack(&mut self, stack: &Stack, entry: Entry, flow: At, back: At) -> Taken {
        let (up, down) = (self.x.track(), self.x.track());
        self.x.keep(up, down, RISERS, 0.0);
        self.x.keep(entry.left, up, 3.0, 0.0);
        let index = stack
            .rows
            .iter()
            .any(|r| r.cells.iter().any(|c| self.cell_on_index(c)));
        let (top, bottom) = entry
            .bounds
            .unwrap_or_else(|| (self.y.track(), self.y.track()));
        let room_flow = self.rail(
            &stack.flow,
            Rail {
                a: entry.flow_x,
                b: up,
                y: flow,
                right: true,
                left: entry.left,
                lead: entry.flow_lead.clone(),
                tail: Vec::new(),
                water: Water::Flow,
                bar: (1.0, index),
                stretch: 0.0,
            },
        );
        let room_back = self.rail(
            &stack.back,
            Rail {
                a: down,
                b: entry.back_x,
                y: back,
                right: false,
                left: entry.back_left,
                lead: Vec::new(),
                tail: entry.back_tail.clone(),
                water: Water::Return,
                bar: (1.0, index),
                stretch: 0.0,
            },
        );
        self.y.keep(top, flow, room_flow.above, 0.0);
        self.y.keep(back, bottom, room_back.below, 0.0);
        let bounds = (top, bottom);
        self.place(stack.at.0, (up, flow));
        self.place(stack.at.1, (down, back));
        self.levels(&stack.rows, (up, down), (flow, back), bounds, entry.left)
    }

    /// The rows of a stack from the foot of its risers upwards.
    fn levels(
        &mut self,
        rows: &[Row],
        (up, down): (At, At),
        (flow, back): (At, At),
        bounds: (At, At),
        origin: At,
    ) -> Taken {
        let right = self.x.track();
        let (mut y_flow, mut y_back, mut top) = (flow, back, bounds.0);
        let grouped = grouped(rows, self.group);
        let rows = &grouped[..];
        let n = rows.len();
        for (k, row) in rows.iter().enumerate() {
            let last = k + 1 == n;
            let index_on = rows[k..]
                .iter()
                .any(|r| self.row_on_index(r));
            let (mut flow_lead, mut back_tail) = (Vec::new(), Vec::new());
            let mut row_bounds = Some(bounds);
            if k > 0 {
                let (f, b) = (self.y.track(), self.y.track());
                if let (true, Some(inner)) = (row.cells.is_empty(), &row.end) {
                    // nothing but risers: they go on
                    let taken =
                        self.risers_on(inner, (up, down), (y_flow, y_back), top, origin);
                    self.x.keep(taken.right, right, 0.0, 0.0);
                    return Taken {
                        right,
                        top: taken.top,
                        bottom: bounds.1,
                    };
                }
                if last {
                    flow_lead = vec![(up, y_flow)];
                    back_tail = vec![(down, y_back)];
                } else {
                    let points = vec![(up, y_flow), (up, f)];
                    self.pipe(points, None, Water::Flow, 1.0, index_on);
                    let points = vec![(down, b), (down, y_back)];
                    self.pipe(points, None, Water::Return, 1.0, index_on);
                }
                self.dot((up, y_flow), 1.0);
                self.dot((down, y_back), 1.0);
                (y_flow, y_back) = (f, b);
                row_bounds = None;
            }
            let entry = Entry {
                flow_x: up,
                flow_lead,
                back_x: down,
                back_tail,
                left: down.plus(5.5),
                back_left: down.plus(1.5),
                bounds: row_bounds,
            };
            let taken = self.row(row, entry, y_flow, y_back);
            if k > 0 {
                self.y.keep(taken.bottom, top, GAP + self.widen, 0.5);
            }
            top = taken.top;
            self.x.keep(taken.right, right, 0.0, 0.0);
        }
        Taken {
            right,
            top,
            bottom: bounds.1,
        }
    }

    fn row_on_index(&self, row: &Row) -> bool {
        row.cells.iter().any(|c| self.cell_on_index(c))
            || row
                .end
                .as_ref()
                .is_some_and(|s| s.rows.iter().any(|r| self.row_on_index(r)))
    }

    /// Risers that go on to another set of rows: their pipes stand upright, labels in the band between rows.
    fn risers_on(
        &mut self,
        stack: &Stack,
        (up, down): (At, At),
        (y_flow, y_back): (At, At),
        below: At,
        origin: At,
    ) -> Taken {
        let (flow, back) = (self.y.track(), self.y.track());
        let (top, bottom) = (self.y.track(), self.y.track());
        self.dot((up, y_flow), 1.0);
        self.dot((down, y_back), 1.0);
        let index = stack.rows.iter().any(|r| self.row_on_index(r));
        let mut need: f64 = 2.0 * GAP;
        need = need.max(self.upright(&stack.flow, up, (y_flow, flow), bottom, true, origin, index));
        need = need.max(self.upright(&stack.back, down, (back, y_back), bottom, false, origin, index));
        self.y.keep(bottom, below, need + self.widen, 0.5);
        self.y.keep(back, bottom, 3.0, 0.0);
        self.y.keep(top, flow, 3.0, 0.0);
        self.place(stack.at.0, (up, flow));
        self.place(stack.at.1, (down, back));
        self.levels(&stack.rows, (up, down), (flow, back), (top, bottom), origin)
    }

    #[allow(clippy::too_many_arguments)]
    fn upright(
        &mut self,
        bits: &[super::chart::Bit],
        x: At,
        (from, to): (At, At),
        band: At,
        flow: bool,
        origin: At,
        index: bool,
    ) -> f64 {
        let water = if flow { Water::Flow } else { Water::Return };
        let segs = self.segs(bits);
        if segs.is_empty() {
            self.pipe(vec![(x, from), (x, to)], None, water, 1.0, index);
            return 0.0;
        }
        let n = segs.len();
        let mut y = from;
        let mut used = GAP;
        let order: Vec<_> = segs.into_iter().collect();
        for (k, seg) in order.into_iter().enumerate() {
            let last = k + 1 == n;
            let end = if last { to } else { self.y.track() };
            let (upper, lower) = if flow { (end, y) } else { (y, end) };
            let along = Self::along(&seg.devices);
            self.y.keep(upper, lower, (along + 4.0).max(self.least + 0.5), 0.0);
            if let Some((run, _)) = seg.run {
                let (text, w, h) = self.label(run);
                let left = if flow {
                    self.x.keep(origin, x, CLEAR + w + 1.0, 0.0);
                    x.plus(-CLEAR - w)
                } else {
                    x.plus(CLEAR)
                };
                self.text((left, band.plus(used)), text, (w, h), About::Run(run));
                used += h + GAP;
            }
            let turn = if flow { 3 } else { 1 };
            self.devices(&seg.devices, (x, y), turn, 2.5);
            self.pipe(vec![(x, y), (x, end)], seg.run, water, 1.0, index);
            if let Some(node) = seg.node {
                self.place(node, (x, end));
            }
            y = end;
        }
        used
    }
}

/// Several rows in one line: all but the last hang between the rails that lead to the last.
fn grouped(rows: &[Row], group: usize) -> Vec<Row> {
    let plain = |r: &Row| r.end.is_none() && !r.reverse && !r.cells.is_empty();
    let mut out: Vec<Row> = Vec::new();
    let mut members: Vec<Row> = Vec::new();
    let flush = |members: &mut Vec<Row>, out: &mut Vec<Row>| {
        let Some(last) = members.pop() else { return };
        let mut row = Row::default();
        for (i, inner) in members.drain(..).enumerate() {
            row.cells.push(Cell {
                flow: Vec::new(),
                back: Vec::new(),
                body: Body::Nested(Box::new(inner)),
                bar: i > 0,
                at: (usize::MAX, usize::MAX),
                tee: (true, true),
                number: None,
            });
        }
        row.cells.extend(last.cells);
        out.push(row);
    };
    for row in rows {
        if group < 2 || !plain(row) {
            flush(&mut members, &mut out);
            out.push(row.clone());
            continue;
        }
        members.push(row.clone());
        if members.len() == group {
            flush(&mut members, &mut out);
        }
    }
    flush(&mut members, &mut out);
    out
}

fn line_of(bit: &super::chart::Bit) -> Option<usize> {
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

/// A vessel right between the rails, whose ports are the tees.
fn is_vessel(body: &Body) -> bool {
    matches!(body, Body::Rung(bits)
        if matches!(bits[..], [super::chart::Bit::Block(super::chart::Block::Vessel(_), _)]))
}
