//! The schedule: every run, emitter and piece of plant in a table, on sheets of its own beside the numbered drawing.

use super::figures::{Figures, Status};
use super::scene::{About, Align, Item, Label, Letter, Line, MarkKind, Rect};
use super::sheet::{frame, line};
use super::style::Paper;
use super::words::{Words, line_width, pitch, tidy};
use crate::check::{Subject, Verdict};

/// Columns of the schedule.
const COLUMNS: usize = 8;
/// One row of the schedule.
type Cells = [String; COLUMNS];

const RUNS: [&str; COLUMNS] = [
    "Run", "Name", "Size", "Length", "Flow", "Velocity", "Loss", "Verdict",
];
const EMITTERS: [&str; COLUMNS] = [
    "", "Emitter", "Type", "Heat", "Flow", "In / out", "Loss", "Verdict",
];
const PLANT: [&str; COLUMNS] = ["", "Plant", "", "Heat", "Flow", "", "Head", "Verdict"];
/// Columns of figures, which stand to the right.
const FIGURES: std::ops::RangeInclusive<usize> = 3..=6;
/// Clear space between columns, and between tables side by side, mm.
const GAP: f64 = 3.0;
const BESIDE: f64 = 6.0;
/// Heights of capitals that a table is tried in.
const CAPS: [f64; 3] = [3.5, 2.5, 1.8];

/// A row: what is in it, and how it stands out.
struct Row {
    cells: Cells,
    bold: bool,
    mark: Option<MarkKind>,
}

impl Row {
    fn head(cells: [&str; COLUMNS]) -> Self {
        Self {
            cells: cells.map(String::from),
            bold: true,
            mark: None,
        }
    }
}

/// What makes the cells.
struct Maker<'a> {
    figures: &'a Figures<'a>,
    words: &'a Words<'a>,
}

fn dash() -> String {
    "–".into()
}

impl Maker<'_> {
    /// A loss: in Pa where the user's unit would show nothing.
    fn loss(&self, pa: f64) -> String {
        if pa.abs() < 100.0 && pa.abs() >= 0.5 {
            return format!("{}\u{a0}Pa", self.words.number(pa, 0));
        }
        self.words.pressure(pa)
    }

    /// A row with its verdict, its deciding figure before the reason.
    fn row(&self, mut cells: Cells, status: Option<Status>) -> Row {
        let verdict = status.map(|s| s.verdict);
        cells[COLUMNS - 1] = match (status, verdict) {
            (Some(s), Some(Verdict::Fails | Verdict::Depends | Verdict::Tight)) => {
                let (value, reason) = self.words.status_lines(s);
                format!("{} {}", value.text, reason.text)
            }
            (_, Some(Verdict::Holds)) => "holds".into(),
            _ => dash(),
        };
        Row {
            cells,
            bold: verdict == Some(Verdict::Fails),
            mark: Words::status_mark(status),
        }
    }

    fn run(&self, i: usize) -> Row {
        let run = &self.figures.network.runs[i];
        let show = self.figures.runs[i];
        let star = if show.index { "\u{a0}*" } else { "" };
        let moves = |text: Option<String>| text.filter(|_| !show.idle).unwrap_or_else(dash);
        let flow = match show.m3_s {
            Some(_) if show.idle => "no flow".into(),
            Some(q) => self.words.flow(q),
            None => dash(),
        };
        let cells = [
            format!("{}{star}", tidy(&run.tag, 10).0),
            tidy(&run.name, 20).0,
            self.words.size(run),
            self.words.length(run.length_m),
            flow,
            moves(show.velocity.map(|v| self.words.velocity(v))),
            moves(show.loss_pa.map(|p| self.loss(p))),
            String::new(),
        ];
        self.row(cells, self.figures.run_status[i])
    }

    fn emitter(&self, i: usize) -> Row {
        let f = self.figures;
        let emitter = &f.network.emitters[i];
        let show = f.emitters[i];
        let still = f.dead.get(emitter.body.index()) == Some(&true) && f.solved;
        let moves = |text: Option<String>| text.filter(|_| !still).unwrap_or_else(dash);
        let temperatures = show.in_c.zip(show.out_c).map(|(a, b)| {
            let (a, b) = (self.words.number(a, 1), self.words.temperature(b));
            format!("{a} / {b}")
        });
        let flow = match show.m3_s {
            Some(_) if still => "no flow".into(),
            Some(q) => self.words.flow(q),
            None => dash(),
        };
        let star = if f.index.get(emitter.body.index()) == Some(&true) {
            "*"
        } else {
            ""
        };
        let cells = [
            star.into(),
            tidy(&emitter.name, 20).0,
            tidy(&emitter.type_words, 16).0,
            moves(show.heat_w.map(|w| self.words.power(w))),
            flow,
            moves(temperatures),
            moves(show.loss_pa.map(|p| self.loss(p))),
            String::new(),
        ];
        // what is found of its room is found of it
        let own = f.emitter_status[i];
        let room = self.worst(Subject::Room(emitter.room));
        let worse = match (own, room) {
            (Some(a), Some(b)) if b.verdict < a.verdict => Some(b),
            (None, room) => room,
            (own, _) => own,
        };
        self.row(cells, worse)
    }

    /// The worst finding of something in the state drawn.
    fn worst(&self, subject: Subject) -> Option<Status<'_>> {
        let f = self.figures;
        let state = f
            .required
            .map(|r| r.state)
            .or_else(|| f.running.map(|r| r.state));
        let of = f.findings.iter().filter(|x| {
            x.subject == subject
                && x.verdict != Verdict::Note
                && (x.state.is_none() || x.state == state)
        });
        of.min_by_key(|x| x.verdict).map(|finding| Status {
            verdict: finding.verdict,
            finding,
        })
    }

    /// Sources, pumps with what is asked of them or what they move, vessels and cylinders.
    fn plant(&self) -> Vec<Row> {
        let f = self.figures;
        let n = f.network;
        let words = self.words;
        let cells = |name: &str, what: String| {
            let mut cells = [const { String::new() }; COLUMNS];
            cells[1] = tidy(name, 20).0;
            cells[2] = what;
            cells
        };
        let litres = |m3: f64| format!("{}\u{a0}l", words.number(m3 * 1e3, 0));
        let mut all = Vec::new();
        for (i, source) in n.sources.iter().enumerate() {
            let mut row = cells(&source.name, "source".into());
            row[3] = source.output_w.map_or_else(dash, |w| words.power(w));
            all.push(self.row(row, f.source_status[i]));
        }
        for (i, pump) in n.pumps.iter().enumerate() {
            let circuits = f.required.map_or(&[][..], |r| &r.circuits);
            let asked = circuits.iter().find(|c| c.pump == Some(i));
            let runs = f.running.and_then(|r| r.solved.pumps.get(i));
            let figures = match (f.required, asked, runs) {
                (Some(_), Some(c), _) => Some((c.flow_m3_s, c.needed_pa)),
                (None, _, Some(at)) => Some((at.flow_m3_s, at.head_pa)),
                _ => None,
            };
            let mut row = cells(&pump.name, "pump".into());
            row[4] = figures.map_or_else(dash, |x| words.flow(x.0));
            row[6] = figures.map_or_else(dash, |x| words.pressure(x.1));
            all.push(self.row(row, self.worst(Subject::Pump(i))));
        }
        for (i, vessel) in n.vessels.iter().enumerate() {
            let row = cells(&vessel.name, format!("vessel {}", litres(vessel.volume_m3)));
            all.push(self.row(row, self.worst(Subject::Vessel(i))));
        }
        for (i, cylinder) in n.cylinders.iter().enumerate() {
            let holds = cylinder.volume_m3.map_or(String::new(), litres);
            let row = cells(&cylinder.name, format!("cylinder {holds}").trim().into());
            all.push(self.row(row, self.worst(Subject::Cylinder(i))));
        }
        all
    }

    /// Rows of all runs, of all emitters, then of the plant, each kind under its own headings.
    fn rows(&self) -> Vec<(Vec<Row>, [&'static str; COLUMNS])> {
        let n = self.figures.network;
        vec![
            ((0..n.runs.len()).map(|i| self.run(i)).collect(), RUNS),
            (
                (0..n.emitters.len()).map(|i| self.emitter(i)).collect(),
                EMITTERS,
            ),
            (self.plant(), PLANT),
        ]
    }
}

/// A table's rows cut to columns of so many, with headings atop each and where the kind of row changes.
fn cut(kinds: &[(Vec<Row>, [&'static str; COLUMNS])], per: usize) -> Vec<Vec<Row>> {
    let mut out: Vec<Vec<Row>> = Vec::new();
    let mut now: Vec<Row> = Vec::new();
    for (rows, heads) in kinds {
        let mut begun = false;
        for row in rows {
            // a heading never stands alone at the foot
            let needs = if begun { 1 } else { 2 };
            if !now.is_empty() && now.len() + needs > per {
                out.push(std::mem::take(&mut now));
                begun = false;
            }
            if !begun {
                now.push(Row::head(*heads));
                begun = true;
            }
            now.push(Row {
                cells: row.cells.clone(),
                ..*row
            });
        }
    }
    out.push(now);
    out.retain(|rows| !rows.is_empty());
    out
}

/// A cell; an empty one as a blank that keeps its line.
fn cell(row: &Row, k: usize) -> Line {
    let text = match row.cells[k].as_str() {
        "" => "\u{a0}",
        text => text,
    };
    line(text, row.bold)
}

/// The schedule cut into sheets of items, each with its frame.
pub(crate) fn sheets(
    figures: &Figures,
    words: &Words,
    paper: Paper,
    strip_h: f64,
) -> Vec<Vec<Item>> {
    let f = frame(paper);
    let room = Rect {
        x: f.x + 4.0,
        y: f.y + 4.0,
        w: f.w - 8.0,
        h: f.h - strip_h - 8.0,
    };
    let kinds = Maker { figures, words }.rows();
    // the largest letters with which all of it is on one sheet, else the smallest
    let tried = CAPS.into_iter().map(|cap| laid(&kinds, room, cap));
    let mut last = Vec::new();
    for sheets in tried {
        last = sheets;
        if last.len() <= 1 {
            break;
        }
    }
    last
}

/// Sheets of tables in letters of a height.
fn laid(kinds: &[(Vec<Row>, [&'static str; COLUMNS])], room: Rect, cap: f64) -> Vec<Vec<Item>> {
    let mut widths = [0.0_f64; COLUMNS];
    for (rows, heads) in kinds {
        for row in rows.iter().chain([&Row::head(*heads)]) {
            for (k, width) in widths.iter_mut().enumerate() {
                *width = width.max(line_width(&cell(row, k), cap));
            }
        }
    }
    let marks = 1.8 * cap;
    let whole = widths.iter().sum::<f64>() + GAP * (COLUMNS as f64 - 1.0) + marks;
    if whole > room.w && cap > CAPS[CAPS.len() - 1] {
        // too wide in these letters: tell it by many sheets
        return vec![Vec::new(); usize::from(u8::MAX)];
    }
    // a long reason gives way to one more table beside; the figure that decides stands before it
    let verdict = widths[COLUMNS - 1];
    let others = whole - verdict;
    let least = others + verdict.min(30.0 * cap);
    let beside = ((room.w + BESIDE) / (least + BESIDE)).floor().max(1.0);
    let each = (room.w + BESIDE) / beside - BESIDE;
    widths[COLUMNS - 1] = verdict.min(each - others).max(0.0);
    let (beside, whole) = (beside as usize, whole.min(each));
    // a line stays blank at the foot
    let per = ((room.h / pitch(cap)).floor() as usize)
        .saturating_sub(1)
        .max(2);
    let mut out = Vec::new();
    for tables in cut(kinds, per).chunks(beside) {
        let mut items = Vec::new();
        for (c, rows) in tables.iter().enumerate() {
            let left = room.x + (whole + BESIDE) * c as f64;
            items.extend(table(rows, &widths, (left, room.y), cap));
        }
        out.push(items);
    }
    out
}

/// One table: a label for each column, and marks before the verdicts.
fn table(rows: &[Row], widths: &[f64; COLUMNS], (left, top): (f64, f64), cap: f64) -> Vec<Item> {
    let mut items = Vec::new();
    let mut x = left;
    for (k, width) in widths.iter().enumerate() {
        if k == COLUMNS - 1 {
            for (i, row) in rows.iter().enumerate() {
                if let Some(mark) = row.mark {
                    let (size, y) = (1.2 * cap, top + pitch(cap) * i as f64);
                    let rect = Rect {
                        x,
                        y: y + (pitch(cap) - size) / 2.0,
                        w: size,
                        h: size,
                    };
                    items.push(Item::Mark(mark, rect, About::Sheet));
                }
            }
            x += 1.8 * cap;
        }
        let figures = FIGURES.contains(&k);
        let cells = rows
            .iter()
            .map(|row| super::sheet::cut(cell(row, k), cap, width + 0.1));
        // the blank between two lines belongs to the upper one: the last has one, too, so that all end alike
        let foot = figures.then(|| line("\u{a0}", false));
        items.push(Item::Label(Label {
            rect: Rect {
                x,
                y: top,
                w: *width,
                h: pitch(cap) * (rows.len() + 1) as f64,
            },
            lines: cells.chain(foot).collect(),
            cap,
            letter: Letter::Note,
            align: if figures { Align::Right } else { Align::Left },
            indent: 0.0,
            about: About::Sheet,
            full: None,
        }));
        x += width + GAP;
    }
    items
}
