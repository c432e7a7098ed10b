//! Off-sheet arrows: where a drawing goes on on another sheet.

use super::chart::{Bit, Block};
use super::layout::Part;
use super::pen::{CLEAR, GAP, Pen, Raw};
use super::plan::{Body, Row};
use super::rail::{Band, Reach};
use super::rows::{Entry, line_of};
use super::scene::{About, Item, Line, Scene, Shape, Water};
use super::style::Level;
use super::tracks::At;
use super::words::{Text, plain, tidy};
use std::fmt::Write as _;

/// Stands for the number of the other sheet until all are laid; as wide as any number.
const NUMBER: &str = "00";
/// Along and across an arrow, layout units.
const LONG: f64 = 8.0;
const WIDE: f64 = 5.0;

fn words(to: bool) -> String {
    format!(
        "{}\u{a0}sheet\u{a0}{NUMBER}",
        if to { "to" } else { "from" }
    )
}

/// The runs that begin a row where nothing is between: one, or those of several ways from one place.
fn first_runs(row: &Row) -> Vec<usize> {
    let mut found = Vec::new();
    for cell in &row.cells {
        if let Some(run) = cell.flow.iter().find_map(line_of) {
            found.push(run);
            return found;
        }
        match &cell.body {
            Body::Rung(bits) | Body::Loop(bits) => found.extend(bits.iter().find_map(line_of)),
            Body::Nested(inner) | Body::Away(_, inner) => found.extend(first_runs(inner)),
            Body::Table(_) => {}
        }
    }
    if let Some(stack) = &row.end {
        match stack.flow.iter().find_map(line_of) {
            Some(run) => found.push(run),
            None => found.extend(stack.rows.iter().flat_map(first_runs)),
        }
    }
    found
}

/// Emitters and plant in a row, in order.
fn blocks(row: &Row, out: &mut Vec<Block>) {
    fn of(bits: &[Bit], found: &mut Vec<Block>) {
        for bit in bits {
            match bit {
                Bit::Block(block, _) => found.push(*block),
                Bit::Par(p) => p.kids.iter().for_each(|k| of(k, found)),
                Bit::Strip(s) => s.rungs.iter().for_each(|k| of(k, found)),
                _ => {}
            }
        }
    }
    for cell in &row.cells {
        match &cell.body {
            Body::Rung(bits) | Body::Loop(bits) => of(bits, out),
            Body::Nested(inner) => blocks(inner, out),
            Body::Table(_) | Body::Away(..) => {}
        }
    }
    for level in row.end.iter().flat_map(|s| &s.rows) {
        blocks(level, out);
    }
}

/// What goes on on another sheet: its storeys or zones if all of it has one, else its emitters and plant.
fn names(pen: &Pen, row: &Row) -> String {
    let mut all = Vec::new();
    blocks(row, &mut all);
    let n = pen.figures.network;
    let storeys = all.iter().filter_map(|block| match block {
        Block::Emitter(i) => Some(pen.figures.storeys.names.get(*i)?.clone()),
        _ => None,
    });
    if let Some(mut storeys) = storeys.collect::<Option<Vec<String>>>()
        && !storeys.is_empty()
    {
        let mut seen = std::collections::BTreeSet::new();
        storeys.retain(|name| seen.insert(name.clone()));
        return list(&storeys, 3);
    }
    let name = |block: &Block| match block {
        Block::Emitter(i) => n.emitters.get(*i).map(|e| e.name.clone()),
        Block::Exchanger(i, true) => n.exchangers.get(*i).map(|x| x.name.clone()),
        Block::Cylinder(i) => n.cylinders.get(*i).map(|c| c.name.clone()),
        Block::Vessel(i) => n.vessels.get(*i).map(|v| v.name.clone()),
        Block::Source(i) => n.sources.get(*i).map(|s| s.name.clone()),
        Block::Exchanger(_, false) | Block::Device(_) => None,
    };
    let names: Vec<String> = all.iter().filter_map(name).collect();
    list(&names, if pen.words.narrow { 1 } else { 2 })
}

/// The first few names.
fn list(names: &[String], few: usize) -> String {
    let mut shown: Vec<String> = names.iter().take(few).map(|n| tidy(n, 14).0).collect();
    if names.len() > few {
        shown.push("…".into());
    }
    shown.join(", ")
}

impl Pen<'_> {
    /// Which sheet, and which runs go on there: tags, and of a flow size and litres as far as the level shows them.
    fn away_text(&self, to: bool, row: &Row) -> Text {
        let (runs, tags) = self.carried(row, to);
        let mut first = words(to);
        let mut lines = Vec::new();
        let narrow = self.words.narrow;
        if !tags.is_empty() && narrow {
            lines.push(plain(tags));
        } else if !tags.is_empty() {
            let _ = write!(first, ": {tags}");
        }
        let level = self.style.level;
        if let [run] = runs[..]
            && to
            && level != Level::Schedule
        {
            let size = self.words.size(&self.figures.network.runs[run]);
            if narrow {
                lines.push(plain(size));
            } else {
                let _ = write!(first, " · {size}");
            }
        }
        let figures = runs.iter().filter_map(|&i| self.figures.runs.get(i));
        let moving = figures.clone().any(|f| !f.idle);
        let flow: Option<f64> = figures.map(|f| f.m3_s).sum();
        if to && moving && matches!(level, Level::Normal | Level::Full) {
            lines.extend(flow.map(|q| plain(self.words.flow(q))));
        }
        let bold = true;
        lines.insert(0, Line { text: first, bold });
        Text {
            lines,
            ..Text::default()
        }
    }

    /// Runs that begin behind an arrow, or end there, and their tags.
    fn carried(&self, row: &Row, begin: bool) -> (Vec<usize>, String) {
        let network = self.figures.network;
        let mut runs = first_runs(row);
        if !begin {
            // a return is known by its flow
            let partner = |i: &usize| network.runs.get(*i)?.partner;
            runs = runs.iter().filter_map(partner).collect();
        }
        let tag = |&i: &usize| tidy(&network.runs[i].tag, 16).0;
        let tags = match &runs[..] {
            [] => String::new(),
            [one] => tag(one),
            [one, other] => format!("{}, {}", tag(one), tag(other)),
            [first, ..] => format!("{}, …", tag(first)),
        };
        (runs, tags)
    }

    fn arrow_off(
        &mut self,
        (a, b): ((At, At), (At, At)),
        turn: u8,
        id: usize,
        flow: bool,
        to: bool,
    ) {
        self.raw.push(Raw::Symbol {
            shape: Shape::Away,
            a,
            b,
            turn,
            about: About::Away(id, flow),
            words: words(to),
            shut: false,
        });
    }

    /// The way on to another sheet, upright between the rails.
    pub(crate) fn away(&mut self, id: usize, row: &Row, band: Band) -> Reach {
        let bar = self.away_bar(row);
        let cap = self.lettering.value;
        let mut upper = self.away_text(true, row);
        let names = names(self, row);
        if !names.is_empty() {
            upper.lines.push(plain(names));
        }
        let lower = self.away_text(false, row);
        let ((w1, h1), (w2, h2)) = (upper.size(cap), lower.size(cap));
        if self.fold == 0 && band.forth {
            return self.away_level(id, (upper, lower), band, bar);
        }
        let (top, foot) = (band.middle.plus(-2.0), band.middle.plus(2.0));
        let (x, half) = (band.x, WIDE / 2.0);
        self.arrow_off(
            ((x.plus(-half), top.plus(-LONG)), (x.plus(half), top)),
            1,
            id,
            true,
            true,
        );
        self.arrow_off(
            ((x.plus(-half), foot), (x.plus(half), foot.plus(LONG))),
            1,
            id,
            false,
            false,
        );
        let points = vec![(x, band.flow), (x, top.plus(-LONG))];
        self.pipe(points, None, Water::Flow, bar.0, bar.1);
        let points = vec![(x, foot.plus(LONG)), (x, band.back)];
        self.pipe(points, None, Water::Return, bar.0, bar.1);
        let up = (LONG + self.least + band.under).max(h1 + band.under + 1.0) + 2.0;
        let down = (LONG + self.least + band.over).max(h2 + band.over + 1.0) + 2.0;
        self.y.keep(band.flow, band.middle, up, 0.3);
        self.y.keep(band.middle, band.back, down, 0.3);
        let left = x.plus(half.max(CLEAR) + 1.0);
        self.text(
            (left, top.plus(-h1)),
            upper,
            (w1, h1),
            About::Away(id, true),
        );
        self.text((left, foot), lower, (w2, h2), About::Away(id, false));
        Reach {
            left: half + 0.5,
            right: half.max(CLEAR) + 1.5 + w1.max(w2),
        }
    }

    /// The same level with the rails, which needs little height: only in rows that all run to the right.
    fn away_level(
        &mut self,
        id: usize,
        (upper, lower): (Text, Text),
        band: Band,
        bar: (f64, bool),
    ) -> Reach {
        let cap = self.lettering.value;
        let ((w1, h1), (w2, h2)) = (upper.size(cap), lower.size(cap));
        let half = WIDE / 2.0;
        let start = band.x.plus(self.least + 1.0);
        let end = start.plus(LONG);
        for (y, turn, flow) in [(band.flow, 0, true), (band.back, 2, false)] {
            let boxed = ((start, y.plus(-half)), (end, y.plus(half)));
            self.arrow_off(boxed, turn, id, flow, flow);
        }
        let points = vec![(band.x, band.flow), (start, band.flow)];
        self.pipe(points, None, Water::Flow, bar.0, bar.1);
        let points = vec![(start, band.back), (band.x, band.back)];
        self.pipe(points, None, Water::Return, bar.0, bar.1);
        let left = end.plus(1.5);
        let room = f64::max(half, h1 / 2.0) + 1.0;
        self.y.keep(band.top, band.flow, room, 0.0);
        self.y.keep(band.flow, band.middle, room, 0.3);
        let room = f64::max(half, h2 / 2.0) + 1.0;
        self.y.keep(band.middle, band.back, room, 0.3);
        self.y.keep(band.back, band.bottom, room, 0.0);
        let at = (left, band.flow.plus(-h1 / 2.0));
        self.text(at, upper, (w1, h1), About::Away(id, true));
        let at = (left, band.back.plus(-h2 / 2.0));
        self.text(at, lower, (w2, h2), About::Away(id, false));
        Reach {
            left: half + 0.5,
            right: self.least + LONG + 3.0 + w1.max(w2),
        }
    }

    /// From which sheet: tags of the runs, which are labelled beside it.
    fn arrived_text(&self, to: bool, row: &Row) -> Text {
        let mut text = words(to);
        let (_, tags) = self.carried(row, !to);
        if !tags.is_empty() {
            let _ = write!(text, ": {tags}");
        }
        Text {
            lines: vec![Line { text, bold: true }],
            ..Text::default()
        }
    }

    /// A part that comes from another sheet.
    pub(crate) fn arrived(&mut self, part: &Part, id: usize, origin: At, above: At) -> (At, At) {
        let (flow, back) = (self.y.track(), self.y.track());
        let (top, bottom) = (self.y.track(), self.y.track());
        let cap = self.lettering.value;
        let from = self.arrived_text(false, &part.row);
        let to = self.arrived_text(true, &part.row);
        let ((w1, h), (w2, _)) = (from.size(cap), to.size(cap));
        let w = f64::max(w1, w2);
        let half = WIDE / 2.0;
        self.y.keep(above, top, GAP, 0.0);
        self.y.keep(top, flow, 3.0, 0.0);
        self.y.keep(flow, back, 2.0 * h + 2.0 * half + 4.0, 0.0);
        self.y.keep(back, bottom, 3.0, 0.0);
        let edge = origin.plus(LONG);
        let boxed = |y: At| ((origin, y.plus(-half)), (edge, y.plus(half)));
        self.arrow_off(boxed(flow), 0, id, true, false);
        self.arrow_off(boxed(back), 2, id, false, true);
        let (under, over) = (flow.plus(half + 0.8), back.plus(-half - 0.8 - h));
        self.text((origin, under), from, (w1, h), About::Away(id, true));
        self.text((origin, over), to, (w2, h), About::Away(id, false));
        // the words stand between the rails, left of everything else
        let left = origin.plus(w.max(LONG) + 1.0);
        let entry = Entry {
            flow_x: edge,
            flow_lead: Vec::new(),
            back_x: edge,
            back_tail: Vec::new(),
            left,
            back_left: left,
            bounds: Some((top, bottom)),
            wide: None,
        };
        let taken = self.row(&part.row, entry, flow, back);
        self.y.keep(above, taken.top, GAP, 0.0);
        let end = self.y.track();
        self.y.keep(taken.bottom, end, GAP, 0.0);
        self.y.keep(bottom, end, GAP, 0.0);
        (end, taken.right)
    }
}

/// Write the numbers of the other sheets.
pub(crate) fn number(sheets: &mut [Scene]) {
    let holds = |s: &Scene, id: usize| {
        s.items.iter().any(
            |i| matches!(i, Item::Symbol(s) if matches!(s.about, About::Away(a, _) if a == id)),
        )
    };
    let ids: Vec<Vec<usize>> = {
        let most = 64;
        (0..most)
            .map(|id| {
                (0..sheets.len())
                    .filter(|&k| holds(&sheets[k], id))
                    .collect()
            })
            .collect()
    };
    for (k, sheet) in sheets.iter_mut().enumerate() {
        let other = |id: usize| {
            let at = ids.get(id)?.iter().find(|&&s| s != k)?;
            Some((at + 1).to_string())
        };
        for item in &mut sheet.items {
            let (about, texts): (About, Vec<&mut String>) = match item {
                Item::Label(l) => (l.about, l.lines.iter_mut().map(|l| &mut l.text).collect()),
                Item::Symbol(s) => (s.about, vec![&mut s.words]),
                _ => continue,
            };
            if let About::Away(id, _) = about {
                let number = other(id).unwrap_or_else(|| "–".into());
                for text in texts {
                    let (was, is) = (
                        format!("sheet\u{a0}{NUMBER}"),
                        format!("sheet\u{a0}{number}"),
                    );
                    *text = text.replacen(&was, &is, 1);
                }
            }
        }
    }
}
