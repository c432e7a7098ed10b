//! Rows above one another on a pair of risers.

use super::pen::{CLEAR, GAP, Pen};
use super::plan::{Body, Cell, Row, Stack};
use super::rail::Rail;
use super::rows::{Entry, RISERS, Taken, line_of};
use super::scene::{About, Water};
use super::storeys::Storeys;
use super::tracks::At;

impl Pen<'_> {
    /// Rows on a pair of risers.
    pub(crate) fn stack(&mut self, stack: &Stack, entry: Entry, flow: At, back: At) -> Taken {
        let (up, down) = (self.x.track(), self.x.track());
        self.x.keep(up, down, RISERS, 0.0);
        self.x.keep(entry.left, up, 3.0, 0.0);
        // to the risers as wide as the pipe that leads there
        let led = stack.flow.iter().rev().find_map(line_of);
        let led = led.map(|r| self.width(r)).or(entry.wide);
        let wide = led.unwrap_or_else(|| self.widest(&stack.rows));
        let bar = self.bar(&[], &stack.rows, wide);
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
                bar,
                stretch: 0.0,
                valve: 0.0,
                riser: None,
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
                bar,
                stretch: 0.0,
                valve: 0.0,
                riser: None,
            },
        );
        self.y.keep(top, flow, room_flow.above, 0.0);
        self.y.keep(back, bottom, room_back.below, 0.0);
        let bounds = (top, bottom);
        self.place(stack.at.0, (up, flow));
        self.place(stack.at.1, (down, back));
        let risers = (up, down, led);
        self.levels(&stack.rows, risers, (flow, back), bounds, entry.left)
    }

    /// The rows of a stack from the foot of its risers upwards.
    fn levels(
        &mut self,
        rows: &[Row],
        (up, down, led): (At, At, Option<f64>),
        (flow, back): (At, At),
        bounds: (At, At),
        origin: At,
    ) -> Taken {
        let right = self.x.track();
        let (mut y_flow, mut y_back, mut top) = (flow, back, bounds.0);
        let mut bottom = bounds.1;
        let grouped = grouped(rows, self.group, &self.figures.storeys);
        let rows = &grouped[..];
        let n = rows.len();
        for (k, row) in rows.iter().enumerate() {
            let last = k + 1 == n;
            // where only one row is left, as wide as its pipe
            let left = &rows[k..];
            let led = led.filter(|_| left.len() > 1);
            let thick = led.unwrap_or_else(|| self.widest(left));
            let (wide, index_on) = self.bar(&[], left, thick);
            let (mut flow_lead, mut back_tail) = (Vec::new(), Vec::new());
            let mut row_bounds = Some(bounds);
            if k > 0 {
                let (f, b) = (self.y.track(), self.y.track());
                if let (true, true, Some(inner)) = (last, row.cells.is_empty(), &row.end) {
                    // nothing but risers at the top: they go on
                    let taken = self.risers_on(inner, (up, down), (y_flow, y_back), top, origin);
                    self.x.keep(taken.right, right, 0.0, 0.0);
                    return Taken {
                        right,
                        top: taken.top,
                        bottom,
                    };
                }
                if last {
                    flow_lead = vec![(up, y_flow)];
                    back_tail = vec![(down, y_back)];
                } else {
                    let points = vec![(up, y_flow), (up, f)];
                    self.pipe(points, None, Water::Flow, wide, index_on);
                    let points = vec![(down, b), (down, y_back)];
                    self.pipe(points, None, Water::Return, wide, index_on);
                }
                self.dot((up, y_flow), thick);
                self.dot((down, y_back), thick);
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
                wide: None,
            };
            let taken = self.row(row, entry, y_flow, y_back);
            if k > 0 {
                self.y.keep(taken.bottom, top, GAP + self.widen, 0.5);
            } else {
                bottom = taken.bottom;
            }
            top = taken.top;
            self.x.keep(taken.right, right, 0.0, 0.0);
        }
        Taken { right, top, bottom }
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
        let led = stack.flow.iter().rev().find_map(line_of);
        let led = led.map(|r| self.width(r));
        let wide = led.unwrap_or_else(|| self.widest(&stack.rows));
        let bar = self.bar(&[], &stack.rows, wide);
        let mut need: f64 = 2.0 * GAP;
        need = need.max(self.upright(&stack.flow, up, (y_flow, flow), bottom, true, origin, bar));
        need = need.max(self.upright(
            &stack.back,
            down,
            (back, y_back),
            bottom,
            false,
            origin,
            bar,
        ));
        self.y.keep(bottom, below, need + self.widen, 0.5);
        self.y.keep(back, bottom, 3.0, 0.0);
        self.y.keep(top, flow, 3.0, 0.0);
        self.place(stack.at.0, (up, flow));
        self.place(stack.at.1, (down, back));
        let risers = (up, down, led);
        self.levels(&stack.rows, risers, (flow, back), (top, bottom), origin)
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
        (wide, index): (f64, bool),
    ) -> f64 {
        let water = if flow { Water::Flow } else { Water::Return };
        let segs = self.segs(bits);
        if segs.is_empty() {
            self.pipe(vec![(x, from), (x, to)], None, water, wide, index);
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
            self.y
                .keep(upper, lower, (along + 4.0).max(self.least + 0.5), 0.0);
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
            self.pipe(vec![(x, y), (x, end)], seg.run, water, wide, index);
            if let Some(node) = seg.node {
                self.place(node, (x, end));
            }
            y = end;
        }
        used
    }
}

/// Several rows of one storey in one line: all but the last hang between the rails that lead to the last.
fn grouped(rows: &[Row], group: usize, storeys: &Storeys) -> Vec<Row> {
    let plain = |r: &Row| r.end.is_none() && !r.reverse && !r.cells.is_empty();
    let alike = |a: &Row, b: &Row| storeys.of_row(a) == storeys.of_row(b);
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
        if members.first().is_some_and(|first| !alike(first, row)) {
            flush(&mut members, &mut out);
        }
        members.push(row.clone());
        if members.len() == group {
            flush(&mut members, &mut out);
        }
    }
    flush(&mut members, &mut out);
    out
}
