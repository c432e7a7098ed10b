//! The schedule: every run and emitter in a table, on sheets of its own beside the numbered drawing.

use super::figures::Figures;
use super::scene::{About, Align, Item, Label, Letter, Line, Rect};
use super::sheet::{frame, line};
use super::style::Paper;
use super::words::{Words, line_width, pitch, tidy};
use crate::check::Verdict;

/// One row of the schedule.
type Cells = [String; 8];

const HEADS: [&str; 8] = [
    "Run", "Name", "Size", "Length", "Flow", "Velocity", "Loss", "Verdict",
];

/// Rows of all runs, then of all emitters.
fn rows(figures: &Figures, words: &Words) -> Vec<(About, Cells)> {
    let dash = || "–".to_string();
    let mut all = Vec::new();
    for (i, run) in figures.network.runs.iter().enumerate() {
        let show = figures.runs[i];
        let status = figures.run_status[i];
        let verdict = match status.map(|s| s.verdict) {
            Some(Verdict::Fails | Verdict::Depends | Verdict::Tight) => {
                status.map_or_else(dash, |s| {
                    let (value, reason) = words.status_lines(s);
                    format!("{} {}", reason.text, value.text)
                })
            }
            Some(Verdict::Holds) => "holds".into(),
            _ => dash(),
        };
        all.push((
            About::Run(i),
            [
                tidy(&run.tag, 10).0,
                tidy(&run.name, 20).0,
                words.size(run),
                words.length(run.length_m),
                show.m3_s.map_or_else(dash, |q| words.flow(q)),
                show.velocity.map_or_else(dash, |v| words.velocity(v)),
                show.loss_pa.map_or_else(dash, |p| words.pressure(p)),
                verdict,
            ],
        ));
    }
    for (i, emitter) in figures.network.emitters.iter().enumerate() {
        let show = figures.emitters[i];
        let temperatures = match (show.in_c, show.out_c) {
            (Some(a), Some(b)) => format!("{} / {}", words.number(a, 1), words.temperature(b)),
            _ => dash(),
        };
        all.push((
            About::Emitter(i),
            [
                "–".into(),
                tidy(&emitter.name, 20).0,
                tidy(&emitter.type_words, 16).0,
                show.heat_w.map_or_else(dash, |w| words.power(w)),
                show.m3_s.map_or_else(dash, |q| words.flow(q)),
                temperatures,
                show.loss_pa.map_or_else(dash, |p| words.pressure(p)),
                dash(),
            ],
        ));
    }
    all
}

/// The schedule cut into sheets of items, each with its frame.
pub(crate) fn sheets(
    figures: &Figures,
    words: &Words,
    paper: Paper,
    strip_h: f64,
) -> Vec<Vec<Item>> {
    let cap = 1.8;
    let f = frame(paper);
    let room = Rect {
        x: f.x + 4.0,
        y: f.y + 4.0,
        w: f.w - 8.0,
        h: f.h - strip_h - 8.0,
    };
    let all = rows(figures, words);
    let mut widths = [0.0_f64; 8];
    let bold = |text: &str, bold: bool| Line {
        text: text.into(),
        bold,
    };
    for (k, head) in HEADS.iter().enumerate() {
        widths[k] = line_width(&bold(head, true), cap);
        for (_, cells) in &all {
            widths[k] = widths[k].max(line_width(&line(cells[k].as_str(), false), cap));
        }
    }
    // the last column takes what is left, and may be cut
    let gap = 3.0;
    let fixed: f64 = widths[..7].iter().sum::<f64>() + gap * 7.0;
    let columns = ((room.w + 6.0) / (fixed + widths[7].min(60.0) + 6.0))
        .floor()
        .max(1.0) as usize;
    let column_w = (room.w - 6.0 * (columns as f64 - 1.0)) / columns as f64;
    widths[7] = widths[7].min((column_w - fixed).max(10.0));
    let per = ((room.h / pitch(cap)).floor() as usize)
        .saturating_sub(2)
        .max(1);
    let mut out = Vec::new();
    for page in all.chunks(per * columns) {
        let mut items = Vec::new();
        for (c, part) in page.chunks(per).enumerate() {
            let left = room.x + (column_w + 6.0) * c as f64;
            let mut x = left;
            for (k, head) in HEADS.iter().enumerate() {
                let mut lines = vec![bold(head, true)];
                lines.extend(part.iter().map(|(_, cells)| {
                    super::sheet::cut(line(cells[k].as_str(), false), cap, widths[k] + 0.1)
                }));
                items.push(Item::Label(Label {
                    rect: Rect {
                        x,
                        y: room.y,
                        w: widths[k],
                        h: pitch(cap) * lines.len() as f64,
                    },
                    lines,
                    cap,
                    letter: Letter::Note,
                    align: Align::Left,
                    indent: 0.0,
                    about: About::Sheet,
                    full: None,
                }));
                x += widths[k] + gap;
            }
        }
        out.push(items);
    }
    out
}
