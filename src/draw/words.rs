//! What the labels say, and how much room their lettering needs.

use super::figures::{Figures, Status, check_word};
use super::scene::{Letter, Line, MarkKind};
use super::style::{Level, Style};
use crate::check::{Kind, Verdict};
use crate::network::{Network, Run};
use crate::quantity::{
    Celsius, Gradient, Kelvin, MassFlow, Metre, Pressure, Velocity, VolumeFlow, Watt,
};
use crate::units::{Show, Signs};
use std::cell::RefCell;
use std::collections::BTreeMap;

/// Longest name printed; longer ones end in an ellipsis and stand in full in the hover text.
const LONGEST_NAME: usize = 28;

/// A label before it has a place.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Text {
    pub lines: Vec<Line>,
    pub mark: Option<MarkKind>,
    /// Full words, if a line had to be shortened.
    pub full: Option<String>,
}

/// Lettering in layout units: heights of capitals.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Lettering {
    /// Figures and names.
    pub value: f64,
    /// Small print.
    pub note: f64,
}

/// Font size for a height of capitals. The lowest capitals among the listed fonts and their usual stand-ins are those
/// of a serif face, 0.655 em (measured); reckoning with them keeps the stated height whatever the viewer has.
pub(crate) fn font_size(cap: f64) -> f64 {
    cap / 0.655
}

/// Width to reserve for a line, same unit as `cap`: 0.62 em a character, 0.70 em in bold, 1 em for signs outside the
/// alphabets that the listed fonts cover alike, so that no listed font overflows.
pub(crate) fn line_width(line: &Line, cap: f64) -> f64 {
    let each = if line.bold { 0.68 } else { 0.62 };
    let em: f64 = line
        .text
        .chars()
        .map(|c| match c as u32 {
            0x20 | 0xa0 => 0.36,
            0x300..=0x36f | 0x200b..=0x200f => 0.0,
            0..=0x24f | 0x370..=0x3ff | 0x2010..=0x2044 | 0x2070..=0x20bf => {
                wide(c).unwrap_or(each)
            }
            0x400..=0x6ff => each + 0.15,
            _ => 1.05,
        })
        .sum();
    em * font_size(cap)
}

/// Characters wider than the reserve.
fn wide(c: char) -> Option<f64> {
    match c {
        'm' | 'M' | 'W' | 'w' | '—' | '…' | '%' | '@' | 'Æ' | 'Œ' => Some(1.05),
        'O' | 'Q' | 'G' | 'D' | 'H' | 'N' | 'U' | '×' | '>' | '<' | '=' | '+' | '−' | '→' => {
            Some(0.84)
        }
        'i' | 'l' | 'j' | '.' | ',' | ':' | ';' | '\'' | '|' | '!' | '·' | 'I' => Some(0.45),
        _ => None,
    }
}

/// Distance from baseline to baseline.
pub(crate) fn pitch(cap: f64) -> f64 {
    1.8 * cap
}

impl Text {
    /// Room that the lines need, without clearance.
    pub(crate) fn size(&self, cap: f64) -> (f64, f64) {
        let mark = if self.mark.is_some() { 1.9 * cap } else { 0.0 };
        let w = self
            .lines
            .iter()
            .enumerate()
            .map(|(i, l)| line_width(l, cap) + if i == 0 { mark } else { 0.0 })
            .fold(0.0, f64::max);
        (w, self.lines.len() as f64 * pitch(cap))
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.lines.is_empty()
    }
}

/// Words in the user's units, with the decimal sign asked for.
pub(crate) struct Words<'a> {
    pub network: &'a Network,
    show: Show<'a>,
    decimal: char,
    pub level: Level,
    /// Four short lines rather than three.
    pub narrow: bool,
    /// Labels of runs once made: every attempt at a layout asks for them again.
    made: RefCell<BTreeMap<(usize, bool), Text>>,
}

pub(crate) fn plain(text: impl Into<String>) -> Line {
    Line {
        text: text.into(),
        bold: false,
    }
}

pub(crate) fn bold(text: impl Into<String>) -> Line {
    Line {
        text: text.into(),
        bold: true,
    }
}

/// Strip control characters and limit the length; what was cut, if anything.
pub(crate) fn tidy(name: &str, longest: usize) -> (String, bool) {
    let clean: Vec<char> = name
        .chars()
        .map(|c| if c.is_whitespace() { ' ' } else { c })
        .filter(|c| {
            !c.is_control()
                && !matches!(*c as u32, 0xfffe | 0xffff | 0x202a..=0x202e | 0x2066..=0x2069)
        })
        .collect();
    if clean.len() <= longest {
        return (clean.into_iter().collect(), false);
    }
    let mut short: String = clean[..longest.saturating_sub(1)].iter().collect();
    short.push('…');
    (short, true)
}

impl<'a> Words<'a> {
    pub(crate) fn new(network: &'a Network, style: &Style, density: f64) -> Self {
        Self {
            network,
            show: Show::new(&network.units)
                .signs(Signs::Print)
                .density(density),
            decimal: style.decimal,
            level: style.level,
            narrow: false,
            made: RefCell::default(),
        }
    }

    fn local(&self, text: String) -> String {
        if self.decimal == '.' {
            text
        } else {
            text.replace('.', &self.decimal.to_string())
        }
    }

    pub(crate) fn number(&self, value: f64, decimals: usize) -> String {
        self.local(self.show.number(value, decimals))
    }
    pub(crate) fn flow(&self, m3_s: f64) -> String {
        self.local(self.show.flow(VolumeFlow(m3_s)))
    }
    /// One of the user's unit of flow, m³/s, and its word.
    pub(crate) fn flow_unit(&self) -> (f64, &'a str) {
        self.show.flow_unit()
    }
    /// One of the user's unit of pressure, Pa, and its word.
    pub(crate) fn pressure_unit(&self) -> (f64, &'a str) {
        self.show.pressure_unit()
    }
    pub(crate) fn velocity(&self, m_s: f64) -> String {
        self.local(self.show.velocity(Velocity(m_s)))
    }
    pub(crate) fn pressure(&self, pa: f64) -> String {
        self.local(self.show.pressure(Pressure(pa)))
    }
    /// A loss, said to be one where its unit is also that of a length.
    pub(crate) fn loss(&self, pa: f64) -> String {
        let text = self.pressure(pa);
        match self.show.pressure_unit().1 {
            "m" | "ft" => format!("loss\u{a0}{text}"),
            _ => text,
        }
    }
    pub(crate) fn length(&self, m: f64) -> String {
        self.local(self.show.length(Metre(m)))
    }
    pub(crate) fn power(&self, w: f64) -> String {
        // whole watts below 10 kW, then three figures
        let text = self.show.power(Watt(w));
        if w >= 9999.5 && text.ends_with('W') {
            return self.local(format!("{}\u{a0}kW", self.show.number(w / 1e3, 1)));
        }
        self.local(text)
    }
    pub(crate) fn difference(&self, k: f64) -> String {
        self.local(self.show.difference(Kelvin(k)))
    }
    pub(crate) fn temperature(&self, c: f64) -> String {
        self.local(self.show.temperature(Celsius(c)))
    }

    /// A figure of a finding in its unit.
    pub(crate) fn figure(&self, kind: Kind, value: f64) -> String {
        let s = &self.show;
        self.local(match kind {
            Kind::VelocityMs => s.velocity(Velocity(value)),
            Kind::GradientPaM => s.gradient(Gradient(value)),
            Kind::PressurePa => s.pressure(Pressure(value)),
            Kind::MassFlowKgS => s.mass_flow(MassFlow(value), 1000.0),
            Kind::VolumeFlowM3S => s.flow(VolumeFlow(value)),
            Kind::PowerW => s.power(Watt(value)),
            Kind::TemperatureC => s.temperature(Celsius(value)),
            Kind::DifferenceK => s.difference(Kelvin(value)),
            Kind::VolumeM3 => s.with_unit(s.number(value * 1e3, 1), "l"),
            Kind::Ratio => s.number(value, 2),
            Kind::Count => s.number(value, 0),
        })
    }

    /// `22 Cu`: outside size and material, `16 × 2 ML`, or the bore where only that is known.
    pub(crate) fn size(&self, run: &Run) -> String {
        let word: String = run.pipe.trim().trim_end_matches('?').into();
        let letters: String = word
            .chars()
            .take_while(|c| c.is_ascii_alphabetic())
            .collect();
        let short = match letters.as_str() {
            "cu" => "Cu".into(),
            "steel" | "bore" | "" => String::new(),
            other if other.len() <= 4 => other.to_uppercase(),
            _ => String::new(),
        };
        let doubt = if run.doubts.is_empty() { "" } else { "?" };
        let outside = run.outside_m.map(|m| m * 1e3).filter(|_| !short.is_empty());
        let bore = self.number(run.bore_m * 1e3, 1);
        match outside {
            Some(mm) => {
                let mm = self.number(mm, if (mm - mm.round()).abs() < 0.05 { 0 } else { 1 });
                if short == "Cu" {
                    format!("{mm}{doubt}\u{a0}{short}")
                } else {
                    format!("{mm}{doubt}\u{a0}{short}\u{a0}({bore})")
                }
            }
            None if word.starts_with("steel") => format!("{}{doubt}", tidy(&word, 12).0),
            None => format!("bore\u{a0}{bore}{doubt}"),
        }
    }

    pub(crate) fn status_mark(status: Option<Status>) -> Option<MarkKind> {
        match status?.verdict {
            Verdict::Fails => Some(MarkKind::Fails),
            Verdict::Depends => Some(MarkKind::Depends),
            Verdict::Tight => Some(MarkKind::Tight),
            Verdict::NotShown | Verdict::Holds | Verdict::Note => None,
        }
    }

    /// The deciding value in bold, and the reason in words.
    pub(crate) fn status_lines(&self, status: Status) -> (Line, Line) {
        let f = status.finding;
        let value = match (f.measured, f.limit) {
            (Some(m), Some(l)) => {
                let sign = if m > l { ">" } else { "<" };
                let limit = self.figure(f.kind, l);
                let bare: String = limit.split(['\u{a0}', ' ']).next().unwrap_or("").into();
                format!("{}\u{a0}{sign}\u{a0}{bare}", self.figure(f.kind, m))
            }
            (Some(m), None) => self.figure(f.kind, m),
            _ => "–".into(),
        };
        let word = check_word(f);
        let reason = match status.verdict {
            Verdict::Fails => format!("fails: {word}"),
            Verdict::Depends => {
                let doubt = f
                    .rests_on
                    .first()
                    .and_then(|(d, _)| self.network.doubts.get(*d))
                    .map_or(String::new(), |d| tidy(&d.name, 20).0);
                format!("depends: {doubt}")
            }
            Verdict::Tight => format!("tight: {word}"),
            _ => String::new(),
        };
        (bold(value), plain(reason))
    }

    /// Label of a run at the level drawn.
    pub(crate) fn run(&self, figures: &Figures, i: usize, style: &Style) -> Text {
        let key = (i, self.narrow);
        if let Some(text) = self.made.borrow().get(&key) {
            return text.clone();
        }
        let text = self.run_label(figures, i, style);
        self.made.borrow_mut().insert(key, text.clone());
        text
    }

    fn run_label(&self, figures: &Figures, i: usize, style: &Style) -> Text {
        let Some(run) = self.network.runs.get(i) else {
            return Text::default();
        };
        let show = figures.runs[i];
        let status = figures.run_status[i].filter(|s| {
            matches!(
                s.verdict,
                Verdict::Fails | Verdict::Depends | Verdict::Tight
            )
        });
        let dash = || "–".to_string();
        let flow = show.m3_s.map_or_else(dash, |q| self.flow(q));
        let speed = show.velocity.map_or_else(dash, |v| self.velocity(v));
        let (size, length) = (self.size(run), self.length(run.length_m));
        let changed = style.changed.iter().find(|(r, _)| *r == i);
        let decides = status.map(|s| self.status_lines(s));
        let speed_decides = status.is_some_and(|s| s.finding.kind == Kind::VelocityMs);
        // what the summary and the report name is named here, too; in short lines on a line of its own
        let fastest = figures.fastest().is_some_and(|(run, _)| run == i);
        let named = status.is_some() || (fastest && self.level != Level::Overview);
        let tag = named.then(|| tidy(&run.tag, 8).0);
        let (above, size) = match tag {
            Some(tag) if self.narrow && status.is_none() => (Some(tag), size),
            Some(tag) => (None, format!("{tag} · {size}")),
            None => (None, size),
        };
        let mut lines = Vec::new();
        lines.extend(above.filter(|_| self.level != Level::Schedule).map(plain));
        match self.level {
            Level::Schedule => lines.push(plain(tidy(&run.tag, 12).0)),
            Level::Overview => lines.push(plain(size)),
            Level::Normal | Level::Full => {
                let full = self.level == Level::Full;
                if full {
                    lines.push(plain(format!("{size} · {length}")));
                } else {
                    lines.push(plain(size));
                }
                let speed = if speed_decides { None } else { Some(speed) };
                match speed {
                    _ if show.kg_s.is_none() => lines.push(plain("–")),
                    _ if show.idle => lines.push(plain("no flow")),
                    Some(speed) if !self.narrow => lines.push(plain(format!("{flow} · {speed}"))),
                    Some(speed) => {
                        lines.push(plain(flow));
                        lines.push(plain(speed));
                    }
                    None => lines.push(plain(flow)),
                }
            }
        }
        let loss = (self.level == Level::Full && show.kg_s.is_some() && !show.idle)
            .then(|| plain(show.loss_pa.map_or_else(dash, |p| self.loss(p))));
        // in the order of every label: a velocity that decides stands before the loss
        let (before, after) = if speed_decides {
            (None, loss)
        } else {
            (loss, None)
        };
        lines.extend(before);
        let (value, reason) = decides.unzip();
        lines.extend(value);
        lines.extend(after);
        lines.extend(reason.filter(|_| status.is_some_and(|s| s.verdict != Verdict::Tight)));
        let mut mark = Self::status_mark(figures.run_status[i]);
        if let Some((_, other)) = changed {
            lines.push(bold(tidy(other, 28).0));
            mark = with_change(mark);
        }
        if style.ticks && mark.is_none() && figures.run_status[i].is_some() {
            mark = Some(MarkKind::Holds);
        }
        Text {
            lines,
            mark,
            full: None,
        }
    }

    /// A name in one or two lines.
    pub(crate) fn name_lines(&self, name: &str, one_line: usize) -> (Vec<Line>, bool) {
        let (name, cut) = tidy(name, LONGEST_NAME);
        let name = if name.trim().is_empty() {
            "(no name)".into()
        } else {
            name
        };
        let chars: Vec<char> = name.chars().collect();
        if chars.len() <= one_line {
            return (vec![bold(name)], cut);
        }
        let middle = chars.len() / 2;
        let at = (0..chars.len())
            .filter(|&i| chars[i] == ' ')
            .min_by_key(|&i| i.abs_diff(middle))
            .unwrap_or(middle);
        let first: String = chars[..at].iter().collect();
        let second: String = chars[at..].iter().collect();
        (vec![bold(first.trim()), bold(second.trim())], cut)
    }

    /// Text of an emitter.
    pub(crate) fn emitter(&self, figures: &Figures, i: usize, style: &Style) -> Text {
        let Some(emitter) = self.network.emitters.get(i) else {
            return Text::default();
        };
        let show = figures.emitters[i];
        let (mut lines, cut) = self.name_lines(&emitter.name, 14);
        let still = figures.solved && figures.dead.get(emitter.body.index()) == Some(&true);
        let heat = match show.heat_w {
            _ if still => "no flow".to_string(),
            Some(w) => self.power(w),
            None => "–".to_string(),
        };
        // in the record with the temperatures between which it is given
        let heat = match (self.level, show.in_c, show.out_c) {
            (Level::Full, Some(a), Some(b)) if !still => {
                format!("{heat} · {}/{}", self.number(a, 1), self.temperature(b))
            }
            _ => heat,
        };
        match self.level {
            Level::Overview => {}
            Level::Schedule => {}
            Level::Normal | Level::Full => {
                let kind = tidy(&emitter.type_words, 16).0;
                if kind.is_empty() || kind == "radiator" {
                    lines.push(plain(heat));
                } else if self.narrow {
                    lines.push(plain(heat));
                    lines.push(plain(kind));
                } else {
                    lines.push(plain(format!("{heat} · {kind}")));
                }
                if self.level == Level::Full {
                    if let Some(q) = show.m3_s {
                        lines.push(plain(self.flow(q)));
                    }
                    if let Some(p) = show.loss_pa {
                        lines.push(plain(self.loss(p)));
                    }
                    if let Some(kv) = show.lockshield_kv {
                        lines.push(plain(format!("lockshield kv {}", self.number(kv, 2))));
                    }
                }
            }
        }
        let status = figures.emitter_status[i].filter(|s| {
            matches!(
                s.verdict,
                Verdict::Fails | Verdict::Depends | Verdict::Tight
            )
        });
        if let Some(status) = status {
            let (value, reason) = self.status_lines(status);
            lines.push(value);
            if status.verdict != Verdict::Tight {
                lines.push(reason);
            }
        }
        let mut mark = Self::status_mark(figures.emitter_status[i]);
        if let Some((_, other)) = style.changed_emitters.iter().find(|(e, _)| *e == i) {
            lines.push(bold(tidy(other, 28).0));
            mark = with_change(mark);
        }
        if style.ticks && mark.is_none() && figures.emitter_status[i].is_some() {
            mark = Some(MarkKind::Holds);
        }
        Text {
            lines,
            mark,
            full: cut.then(|| emitter.name.clone()),
        }
    }
}

/// The mark of what a plan changes, unless what fails or depends has one already: its words are bold either way.
fn with_change(mark: Option<MarkKind>) -> Option<MarkKind> {
    match mark {
        Some(MarkKind::Fails | MarkKind::Depends) => mark,
        _ => Some(MarkKind::Changed),
    }
}

/// Height of capitals of a sort of lettering.
pub(crate) fn cap_of(letter: Letter, lettering: Lettering) -> f64 {
    match letter {
        Letter::Value | Letter::Name => lettering.value,
        Letter::Note => lettering.note,
        Letter::Title => lettering.value * 1.4,
    }
}
