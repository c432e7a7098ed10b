//! The sheet round a layout: frame, title block, key, summary.

use super::figures::Figures;
use super::fit::{Fitted, lettering, on_paper};
use super::key::{foot_lines, key_columns, key_entries, widths};
use super::layout::Part;
use super::scene::{About, Align, Item, Label, Letter, Line, Rect, Scene, pt};
use super::style::{Level, Paper, Shows, Style};
use super::words::{Words, line_width, pitch, tidy};

/// Room that the layout keeps from the frame, mm.
const MARGIN: f64 = 3.0;

/// The frame of ISO 5457: 20 mm at the binding edge, 10 mm elsewhere.
pub(crate) fn frame(paper: Paper) -> Rect {
    let (w, h) = paper.size_mm();
    Rect {
        x: 20.0,
        y: 10.0,
        w: w - 30.0,
        h: h - 20.0,
    }
}

/// Height of the strip at the foot: title block, and as many rows of the key as it needs.
pub(crate) fn strip_height(paper: Paper, rows: usize) -> f64 {
    let k = strip_scale(paper);
    let least = if paper == Paper::A4 { 30.0 } else { 33.0 * k };
    let key = 3.0 + pitch(NOTE * k) + rows as f64 * KEY_PITCH * k;
    f64::max(least, key)
}

/// Capitals of key, summary and title block on A4 and A3, mm.
pub(crate) const NOTE: f64 = 1.8;

/// How much larger the strip is on papers that hang on a wall: as the papers' own steps.
pub(crate) fn strip_scale(paper: Paper) -> f64 {
    match paper {
        Paper::A4 | Paper::A3 => 1.0,
        Paper::A2 => 1.4,
        Paper::A1 => 2.0,
    }
}

/// From one entry of the key to the next on A4 and A3, mm.
pub(crate) const KEY_PITCH: f64 = 4.6;

/// Where the layout may stand.
pub(crate) fn room(paper: Paper, key_rows: usize) -> Rect {
    let f = frame(paper);
    Rect {
        x: f.x + MARGIN,
        y: f.y + MARGIN,
        w: f.w - 2.0 * MARGIN,
        h: f.h - strip_height(paper, key_rows) - 2.0 * MARGIN,
    }
}

/// Broadest that everything inside the frame may be, over its height.
const BROADEST: f64 = 1.66;

/// How far below the top of its room a drawing may begin, mm.
pub(crate) fn lowest(paper: Paper, top: f64) -> f64 {
    let f = frame(paper);
    (f.bottom() - f.w / BROADEST - top).max(0.0)
}

/// Lay on the smallest paper that holds it.
pub(crate) fn fit(
    parts: &[Part],
    figures: &Figures,
    words: &mut Words,
    style: &Style,
    papers: &[Paper],
    longest: f64,
) -> Option<(Paper, Fitted)> {
    papers.iter().find_map(|&paper| {
        let mut rows = 0;
        // what the key shows is known only once something is laid
        for _ in 0..3 {
            let fitted = on_paper(
                parts,
                figures,
                words,
                style,
                (paper, room(paper, rows)),
                longest,
            )?;
            let entries = key_entries(&fitted.items);
            let foot = foot_lines(paper, &fitted.notes, style.level).len();
            let need = entries.len().div_ceil(key_columns(paper, &entries)) + foot - 1;
            if strip_height(paper, need) <= strip_height(paper, rows) {
                return Some((
                    paper,
                    Fitted {
                        key_rows: rows,
                        ..fitted
                    },
                ));
            }
            rows = need;
        }
        None
    })
}

/// A sheet with its frame, title block, key and summary.
pub(crate) fn scene(
    paper: Paper,
    fitted: Fitted,
    figures: &Figures,
    words: &Words,
    style: &Style,
    (number, of): (usize, usize),
) -> Scene {
    let network = figures.network;
    let f = frame(paper);
    let strip_h = strip_height(paper, fitted.key_rows);
    let strip = Rect {
        x: f.x,
        y: f.bottom() - strip_h,
        w: f.w,
        h: strip_h,
    };
    let title = tidy(&network.title, 60).0;
    let mut items = vec![Item::Frame(f, 0.7)];
    let (key_w, title_w) = widths(paper);
    let summary = Rect {
        x: strip.x + key_w,
        w: strip.w - title_w - key_w,
        ..strip
    };
    let block = Rect {
        x: strip.right() - title_w,
        w: title_w,
        ..strip
    };
    let ink = Strip {
        paper,
        figures,
        words,
        style,
    };
    items.extend(ink.summary(summary));
    let drawn = fitted.items;
    let key = ink.key(Rect { w: key_w, ..strip }, &drawn, &fitted.notes);
    items.extend(drawn);
    items.extend(key);
    items.extend(ink.title_block(block, &title, (number, of)));
    let desc = ink.desc();
    let audit = super::audit::audit(&items, paper, fitted.scale, f);
    Scene {
        paper,
        scale: fitted.scale,
        theme: style.theme,
        title: if style.subtitle.is_empty() {
            title
        } else {
            format!("{title}: {}", tidy(&style.subtitle, 60).0)
        },
        desc,
        items,
        words: Vec::new(),
        ids: Vec::new(),
        rows: fitted.rows,
        plant_loops: fitted.plant_loops,
        fitted: fitted.notes,
        audit,
    }
}

pub(crate) struct Strip<'a> {
    pub paper: Paper,
    pub figures: &'a Figures<'a>,
    pub words: &'a Words<'a>,
    pub style: &'a Style,
}

pub(crate) fn line(text: impl Into<String>, bold: bool) -> Line {
    Line {
        text: text.into(),
        bold,
    }
}

/// Cut a line to a width.
pub(crate) fn cut(mut l: Line, cap: f64, width: f64) -> Line {
    while line_width(&l, cap) > width && l.text.chars().count() > 2 {
        let mut chars: Vec<char> = l.text.chars().collect();
        chars.truncate(chars.len().saturating_sub(2));
        l.text = chars.into_iter().collect::<String>().trim_end().to_string() + "…";
    }
    l
}

impl Strip<'_> {
    pub(crate) fn caps(&self) -> (f64, f64) {
        let (s, k) = (self.paper.scale(), strip_scale(self.paper));
        (lettering(s).value * s * k, NOTE * k)
    }

    pub(crate) fn label(
        &self,
        x: f64,
        y: f64,
        w: f64,
        lines: Vec<Line>,
        cap: f64,
        letter: Letter,
    ) -> Item {
        let whole = lines.clone();
        let lines: Vec<Line> = lines.into_iter().map(|l| cut(l, cap, w)).collect();
        let full = (lines != whole).then(|| whole.into_iter().map(|l| l.text + " ").collect());
        Item::Label(Label {
            rect: Rect {
                x,
                y,
                w,
                h: pitch(cap) * lines.len() as f64,
            },
            lines,
            cap,
            letter,
            align: Align::Left,
            indent: 0.0,
            about: About::Sheet,
            full,
        })
    }

    fn title_block(&self, r: Rect, title: &str, (number, of): (usize, usize)) -> Vec<Item> {
        let (value, note) = self.caps();
        let sheet = &self.figures.network.design.sheet;
        let field = |key: &str| {
            sheet
                .iter()
                .find(|(k, _)| k == key)
                .map(|(_, v)| tidy(v, 40).0)
                .filter(|v| !v.trim().is_empty())
                .unwrap_or_else(|| "–".into())
        };
        let level = match self.style.level {
            Level::Overview => "overview",
            Level::Normal => "normal",
            Level::Full => "full",
            Level::Schedule => "schedule",
        };
        let rows: [[(&str, String); 3]; 3] = [
            [
                ("Document", "Piping schematic".into()),
                ("Number", field("number")),
                ("Sheet", format!("{number} / {of}, {}", self.paper.name())),
            ],
            [
                ("Owner", field("owner")),
                ("Drawn by", field("author")),
                ("Approved", field("approved")),
            ],
            [
                ("Date", field("date")),
                ("Shows", format!("{}, {level}", self.shows())),
                ("Scale", "not to scale".into()),
            ],
        ];
        let mut items = vec![Item::Frame(r, 0.5)];
        let head = r.h * 0.28;
        let row_h = (r.h - head) / 3.0;
        let big = match self.paper {
            Paper::A4 => 2.5,
            paper => 3.5 * strip_scale(paper),
        };
        let mut lines = vec![line(title, true)];
        let width = r.w - 4.0;
        let big = if line_width(&lines[0], big) > width * 0.98 {
            value
        } else {
            big
        };
        while line_width(&lines[0], big) > width * 0.98 && lines[0].text.chars().count() > 4 {
            lines[0] = cut(lines[0].clone(), big, width * 0.98);
        }
        items.push(self.label(
            r.x + 2.0,
            r.y + (head - pitch(big)) / 2.0 - note * 0.8,
            width,
            lines,
            big,
            Letter::Title,
        ));
        let y = r.y + head - pitch(note) - 0.4;
        let under = self.under_title(note, width * 0.98);
        items.push(self.label(r.x + 2.0, y, width, vec![under], note, Letter::Note));
        let widths = [0.338, 0.408, 0.254];
        for (k, row) in rows.into_iter().enumerate() {
            let y = r.y + head + row_h * k as f64;
            items.push(Item::Rule(vec![pt(r.x, y), pt(r.right(), y)], 0.25));
            let mut x = r.x;
            for (j, (name, text)) in row.into_iter().enumerate() {
                let w = r.w * widths[j];
                if j > 0 {
                    items.push(Item::Rule(vec![pt(x, y), pt(x, y + row_h)], 0.25));
                }
                let cap = note.min(value);
                let gap = (row_h - 2.0 * pitch(cap)).max(0.0) / 2.0;
                items.push(self.label(
                    x + 1.5,
                    y + gap,
                    w - 2.6,
                    vec![line(name, false), line(text, true)],
                    cap,
                    Letter::Note,
                ));
                x += w;
            }
        }
        items
    }

    fn shows(&self) -> String {
        let view = match (
            self.figures.solved,
            self.style.shows,
            self.figures.required,
            self.figures.running,
        ) {
            (false, ..) => "not solved",
            (_, Shows::Required, Some(_), _) | (_, Shows::Running, Some(_), None) => "required",
            _ => "running",
        };
        view.into()
    }
}
