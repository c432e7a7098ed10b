//! The key: only what is on the sheet, each symbol with its words.

use super::scene::{About, Item, Letter, MarkKind, Rect, Shape, pt};
use super::sheet::{KEY_PITCH, NOTE, Strip, line, strip_scale};
use super::style::{Level, Paper};
use super::words::{line_width, pitch};
use std::collections::BTreeSet;

/// Widths of the key and of the title block.
pub(crate) fn widths(paper: Paper) -> (f64, f64) {
    match paper {
        Paper::A4 => (96.0, 92.0),
        Paper::A3 => (145.0, 130.0),
        Paper::A2 => (230.0, 180.0),
        Paper::A1 => (330.0, 180.0),
    }
}

/// Columns of the key.
pub(crate) fn key_columns(paper: Paper, entries: &[(KeySample, &'static str)]) -> usize {
    columns(paper, entries).len()
}

/// Widths of the columns of the key, each as wide as its own longest words: as many as there is room for.
fn columns(paper: Paper, entries: &[(KeySample, &'static str)]) -> Vec<f64> {
    let k = strip_scale(paper);
    let room = widths(paper).0 - 2.0;
    let widths = |n: usize| {
        let mut all = vec![0.0; n];
        for (i, (_, words)) in entries.iter().enumerate() {
            let w = line_width(&line(*words, false), NOTE * k) + 12.5 * k;
            all[i % n] = f64::max(all[i % n], w);
        }
        let spare = (room - all.iter().sum::<f64>()) / n as f64;
        (spare >= 0.0 || n == 1).then(|| all.into_iter().map(|w| w + spare).collect())
    };
    let most = entries.len().max(1);
    (1..=most).rev().find_map(widths).unwrap_or_default()
}

/// What a sheet on which figures stand in the schedule says of it.
pub(crate) const IN_SCHEDULE: &str = "figures in the schedule";

/// Words at the foot of the key: where symbols are from, and how the drawing was made to fit.
pub(crate) fn foot_lines(paper: Paper, notes: &[String], level: Level) -> Vec<super::scene::Line> {
    let mut words = String::from("Symbols after ISO 14617/10628-2");
    for n in notes {
        words.push_str("; ");
        words.push_str(n);
    }
    if level == Level::Schedule && !notes.iter().any(|n| n == IN_SCHEDULE) {
        words.push_str("; ");
        words.push_str(IN_SCHEDULE);
    }
    let cap = NOTE * strip_scale(paper);
    super::wrap::wrap(&line(words, false), cap, widths(paper).0 - 4.0)
}

/// What the key has to show: only what is on the sheet.
pub(crate) fn key_entries(drawn: &[Item]) -> Vec<(KeySample, &'static str)> {
    let mut entries: Vec<(KeySample, &'static str)> = Vec::new();
    let has = |test: &dyn Fn(&Item) -> bool| drawn.iter().any(test);
    use super::scene::Water;
    if has(&|i| matches!(i, Item::Stroke(s) if s.water == Water::Flow && !s.idle)) {
        entries.push((KeySample::Water(Water::Flow), "flow"));
    }
    if has(&|i| matches!(i, Item::Stroke(s) if s.water == Water::Return && !s.idle)) {
        entries.push((KeySample::Water(Water::Return), "return"));
    }
    if has(&|i| matches!(i, Item::Stroke(s) if s.index)) {
        entries.push((KeySample::Band, "index circuit"));
    }
    if has(&|i| matches!(i, Item::Stroke(s) if s.changed)) {
        entries.push((KeySample::Outline, "changed pipe"));
    }
    if has(&|i| matches!(i, Item::Stroke(s) if s.idle)) {
        entries.push((KeySample::Still, "no flow"));
    }
    if has(&|i| matches!(i, Item::Stroke(s) if !s.idle && s.width > 0.5)) {
        entries.push((KeySample::Widths, "wider: larger pipe"));
    }
    if has(&|i| matches!(i, Item::Dot(..))) {
        entries.push((KeySample::Dot, "pipes joined"));
    }
    let says = |test: &dyn Fn(&str) -> bool| {
        has(
            &|i| matches!(i, Item::Label(l) if matches!(l.about, About::Run(_)) && l.lines.iter().any(|l| test(&l.text))),
        )
    };
    if says(&|t| t.contains('?')) {
        entries.push((KeySample::Words("22?"), "size guessed"));
    }
    if says(&|t| t.contains('(')) {
        entries.push((KeySample::Words("(17.8)"), "bore, mm"));
    }
    let marks: BTreeSet<MarkKind> = drawn
        .iter()
        .filter_map(|i| match i {
            Item::Mark(m, ..) => Some(*m),
            _ => None,
        })
        .collect();
    for mark in marks {
        entries.push((KeySample::Mark(mark), mark_words(mark)));
    }
    let shapes: BTreeSet<Shape> = drawn
        .iter()
        .filter_map(|i| match i {
            Item::Symbol(s) => Some(if s.shut { Shape::ShutValve } else { s.shape }),
            _ => None,
        })
        .collect();
    for shape in shapes {
        if let Some(words) = shape_words(shape) {
            entries.push((KeySample::Shape(shape), words));
        }
    }
    entries
}

impl Strip<'_> {
    /// The key: only what is on the sheet.
    pub(crate) fn key(&self, r: Rect, drawn: &[Item], notes: &[String]) -> Vec<Item> {
        let (_, note) = self.caps();
        let entries = key_entries(drawn);
        let mut items = vec![Item::Frame(r, 0.35)];
        let columns = columns(self.paper, &entries);
        let k = strip_scale(self.paper);
        let pitch_y = KEY_PITCH * k;
        for (i, (sample, words)) in entries.into_iter().enumerate() {
            let (row, col) = (i / columns.len(), i % columns.len());
            let column = columns[col];
            let x = r.x + 2.0 + columns[..col].iter().sum::<f64>();
            let y = r.y + 1.5 + pitch_y * row as f64;
            items.extend(sample.items(x, y + pitch_y / 2.0, k));
            items.push(self.label(
                x + 10.5 * k,
                y + (pitch_y - pitch(note)) / 2.0,
                column - 11.0 * k,
                vec![line(words, false)],
                note,
                Letter::Note,
            ));
        }
        let foot = foot_lines(self.paper, notes, Level::Normal);
        items.push(self.label(
            r.x + 2.0,
            r.bottom() - foot.len() as f64 * pitch(note) - 0.8,
            r.w - 4.0,
            foot,
            note,
            Letter::Note,
        ));
        items
    }
}

/// Height of the sample of the index band, mm.
pub(crate) const BAND: f64 = 3.4;

/// What the key shows before its words.
#[derive(Clone, Copy, Debug)]
pub(crate) enum KeySample {
    Water(super::scene::Water),
    Still,
    Band,
    /// The outline of what a plan changes.
    Outline,
    /// A tee.
    Dot,
    /// Lines of several widths.
    Widths,
    /// Lettering as at a pipe.
    Words(&'static str),
    Mark(MarkKind),
    Shape(Shape),
}

impl KeySample {
    /// Beside the point, `k` times as large as on A4 and A3.
    fn items(self, x: f64, y: f64, k: f64) -> Vec<Item> {
        let h = 0.8 * KEY_PITCH * k;
        match self {
            KeySample::Water(water) => vec![Item::KeyLine(pt(x, y), pt(x + 9.0 * k, y), water)],
            KeySample::Dot => vec![Item::Dot(pt(x + 4.5 * k, y), 2.0 * k)],
            KeySample::Widths => [0.35, 0.7, 1.4]
                .into_iter()
                .zip([-1.5, -0.4, 1.2])
                .map(|(width, up)| {
                    let y = y + up * k;
                    Item::Rule(vec![pt(x, y), pt(x + 9.0 * k, y)], width * k)
                })
                .collect(),
            KeySample::Words(words) => {
                let cap = NOTE * k;
                vec![Item::Label(super::scene::Label {
                    rect: Rect {
                        x,
                        y: y - pitch(cap) / 2.0,
                        w: 9.6 * k,
                        h: pitch(cap),
                    },
                    lines: vec![line(words, false)],
                    cap,
                    letter: Letter::Note,
                    align: super::scene::Align::Left,
                    indent: 0.0,
                    about: About::Sheet,
                    full: None,
                })]
            }
            KeySample::Still => vec![Item::Rule(vec![pt(x, y), pt(x + 9.0 * k, y)], 0.25)],
            KeySample::Outline => vec![Item::OutlineSample(Rect {
                x,
                y: y - BAND * k / 2.0,
                w: 9.0 * k,
                h: BAND * k,
            })],
            KeySample::Band => vec![Item::BandSample(Rect {
                x,
                y: y - BAND * k / 2.0,
                w: 9.0 * k,
                h: BAND * k,
            })],
            KeySample::Mark(kind) => {
                let s = 2.6 * k;
                let r = Rect {
                    x: x + 3.0 * k,
                    y: y - s / 2.0,
                    w: s,
                    h: s,
                };
                vec![Item::Mark(kind, r, About::Sheet)]
            }
            KeySample::Shape(shape) => {
                let (w, h) = match shape {
                    Shape::HeatPump | Shape::Casing | Shape::Cylinder => (h * 1.2, h),
                    Shape::Vessel | Shape::Exchanger | Shape::VesselInline => (h * 0.7, h),
                    Shape::Radiator
                    | Shape::FloorLoop
                    | Shape::FanConvector
                    | Shape::TowelRail
                    | Shape::FixedLoad => (8.0 * k, h * 0.8),
                    // on a drop, as on the sheet
                    Shape::Thermostatic | Shape::Lockshield => (h * 0.55, h * 0.9),
                    Shape::Motorised | Shape::Bypass => (h * 0.8, h * 0.5),
                    Shape::Letters(_) => (5.4 * k, 3.4 * k),
                    Shape::Pump | Shape::Check | Shape::Strainer => (h * 0.85, h * 0.85),
                    _ => (h, h * 0.66),
                };
                let upright = matches!(shape, Shape::Thermostatic | Shape::Lockshield);
                let stem = matches!(shape, Shape::Motorised | Shape::Bypass);
                let y = if stem { y + h * 0.45 } else { y };
                vec![Item::Symbol(super::scene::Symbol {
                    shape,
                    rect: Rect {
                        x: x + 4.5 * k - w / 2.0,
                        y: y - h / 2.0,
                        w,
                        h,
                    },
                    turn: u8::from(upright),
                    about: About::Sheet,
                    words: String::new(),
                    shut: false,
                    dead: false,
                    scale: k,
                })]
            }
        }
    }
}

fn mark_words(mark: MarkKind) -> &'static str {
    match mark {
        MarkKind::Fails => "fails, drawn double",
        MarkKind::Depends => "depends on a guess",
        MarkKind::Tight => "tight: little left",
        MarkKind::Holds => "holds",
        MarkKind::NotShown => "not shown",
        MarkKind::Changed => "changed",
    }
}

/// Words of a symbol in the key; none for what carries its name.
fn shape_words(shape: Shape) -> Option<&'static str> {
    Some(match shape {
        Shape::Pump => "pump",
        Shape::Valve => "valve",
        Shape::ShutValve => "valve, shut",
        Shape::ThreePort => "diverter",
        Shape::Motorised => "motorised valve",
        Shape::Thermostatic => "thermostatic valve",
        Shape::Lockshield => "lockshield",
        Shape::Balancing => "balancing valve",
        Shape::FlowHolder => "flow-holding valve",
        Shape::Check => "check valve",
        Shape::Bypass => "bypass valve",
        Shape::Strainer => "strainer",
        Shape::Letters("AF") => "antifreeze valve",
        Shape::Letters("DT") => "diverter tee",
        Shape::Letters("MF") => "filter",
        Shape::Letters("HM") => "heat meter",
        Shape::Letters("F") => "flow meter",
        Shape::Letters("AS") => "air separator",
        Shape::Letters("IH") => "in-line heater",
        Shape::Letters("FH") => "flexible hose",
        Shape::Letters(_) => "device",
        Shape::Radiator => "radiator",
        Shape::FloorLoop => "floor loop",
        Shape::FanConvector => "fan convector",
        Shape::TowelRail => "towel rail",
        Shape::FixedLoad => "fixed load",
        Shape::HeatPump => "heat source",
        Shape::Casing => "unit with its pump",
        Shape::Cylinder => "cylinder with coil",
        Shape::Vessel => "four-port vessel",
        Shape::VesselInline => "volume vessel",
        Shape::Exchanger => "heat exchanger",
        Shape::ManifoldBar => "manifold",
        Shape::Changed => "changed",
        Shape::DeadEnd => "ends blind",
        Shape::Away => "to another sheet",
    })
}
