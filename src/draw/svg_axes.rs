//! Axes, curves and directly labelled points of the companion plots.

use super::style::Style;
use super::svg_path::number;
use super::svg_style::{LIGHT, style_sheet};
use super::words::{Words, font_size, tidy};
use svg::node::Text;
use svg::node::element::{Description, Element, Group, Path, Style as Css, Title};
use svg::{Document, Node};

/// Height of capitals, mm.
pub(crate) const CAP: f64 = 2.5;
/// From row to row under an axis, mm.
const ROW: f64 = 5.6;
/// Characters that there is room for beside a leader.
pub(crate) const CALL: usize = 34;

/// A plot being drawn: plot area and scales.
pub(crate) struct Plot {
    size: (f64, f64),
    area: (f64, f64, f64, f64),
    /// Where the axis along begins.
    from: f64,
    pub most: (f64, f64),
    group: Group,
    calls: Vec<((f64, f64), String, bool)>,
}

/// Words at a point.
pub(crate) fn text(x: f64, y: f64, words: &str, anchor: &str, bold: bool, cap: f64) -> Element {
    let mut e = Element::new("text");
    e.assign("x", number(x));
    e.assign("y", number(y));
    e.assign("font-size", number(font_size(cap)));
    e.assign("text-anchor", anchor);
    e.assign("fill", LIGHT.ink);
    if bold {
        e.assign("font-weight", "bold");
    }
    e.append(Text::new(words));
    e
}

/// A round step that gives four to eight ticks.
pub(crate) fn step(most: f64) -> f64 {
    let mut unit = 1e-3;
    while unit * 80.0 < most {
        unit *= 10.0;
    }
    [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|k| k * unit)
        .find(|s| most / s <= 8.0)
        .unwrap_or(most.max(1e-9))
}

impl Plot {
    pub(crate) fn new(size: (f64, f64), most: (f64, f64)) -> Self {
        Self::from(size, 0.0, most)
    }

    /// With an axis along that begins elsewhere than at nothing.
    pub(crate) fn from(size: (f64, f64), from: f64, most: (f64, f64)) -> Self {
        let area = (26.0, 24.0, size.0 - 78.0, size.1 - 20.0);
        let up = |m: f64| {
            let s = step(m.max(1e-9));
            (m.max(1e-9) / s).ceil() * s
        };
        Self {
            size,
            area,
            from,
            most: (from + up(most.0 - from), up(most.1)),
            group: Group::new().set("fill", "none"),
            calls: Vec::new(),
        }
    }

    /// With so much paper left and right of the axes and under them, mm.
    pub(crate) fn within(mut self, (left, right, foot): (f64, f64, f64)) -> Self {
        self.area = (left, self.area.1, self.size.0 - right, self.size.1 - foot);
        self
    }

    pub(crate) fn at(&self, x: f64, y: f64) -> (f64, f64) {
        let (l, t, r, b) = self.area;
        (
            l + (r - l) * (x - self.from) / (self.most.0 - self.from),
            b - (b - t) * y / self.most.1,
        )
    }

    pub(crate) fn push(&mut self, e: Element) {
        self.group.append(e);
    }

    pub(crate) fn axes(&mut self, words: &Words, x_name: &str, y_name: &str) {
        let (l, t, r, b) = self.area;
        let d = format!("M{} {}V{}H{}", number(l), number(t), number(b), number(r));
        let mut ticks = String::new();
        for (along, from, most) in [(true, self.from, self.most.0), (false, 0.0, self.most.1)] {
            let s = step(most - from);
            let decimals = if s >= 1.0 {
                0
            } else if s >= 0.1 {
                1
            } else {
                2
            };
            let n = ((most - from) / s).round() as usize;
            for i in 0..=n {
                let v = from + s * i as f64;
                let label = words.number(v, decimals);
                if along {
                    let (x, _) = self.at(v, 0.0);
                    ticks.push_str(&format!("M{} {}v1.6", number(x), number(b)));
                    self.push(text(x, b + 6.0, &label, "middle", false, CAP));
                } else {
                    let (_, y) = self.at(self.from, v);
                    ticks.push_str(&format!("M{} {}h-1.6", number(l), number(y)));
                    self.push(text(l - 2.6, y + CAP / 2.0, &label, "end", false, CAP));
                }
            }
        }
        let mut axis = Element::new("path");
        axis.assign("class", "axis n");
        axis.assign("stroke", LIGHT.ink);
        axis.assign("stroke-width", "0.5");
        axis.assign("d", d + &ticks);
        self.push(axis);
        if !x_name.is_empty() {
            self.push(text(r, b + 12.5, x_name, "end", false, CAP));
        }
        self.push(text(l - 2.6, t - 4.5, y_name, "start", false, CAP));
    }

    /// Words in a row under the figures of the axis: at a value, or at the head of the row.
    pub(crate) fn row(&mut self, row: u8, at: Option<f64>, words: &str) {
        let (l, _, _, b) = self.area;
        let y = b + ROW * (f64::from(row) + 2.0);
        let e = match at {
            Some(x) => text(self.at(x, 0.0).0, y, words, "middle", false, CAP),
            None => text(l - 2.6, y, words, "end", false, CAP),
        };
        self.push(e);
    }

    /// The name of the axis along, under so many rows.
    pub(crate) fn under(&mut self, rows: u8, name: &str) {
        let (_, _, r, b) = self.area;
        let y = b + ROW * (f64::from(rows) + 2.0) + 0.5;
        self.push(text(r, y, name, "end", false, CAP));
    }

    /// A cross at the top over a value at which there is nothing to draw, with words over it.
    pub(crate) fn cross(&mut self, x: f64) {
        let ((x, _), t, s) = (self.at(x, 0.0), self.area.1, 1.6);
        let mut e = Element::new("path");
        e.assign("class", "axis n");
        e.assign("stroke", LIGHT.ink);
        e.assign("stroke-width", "0.5");
        let d = format!(
            "M{} {}l{} {}m0 -{}l-{} {}",
            number(x - s),
            number(t),
            number(2.0 * s),
            number(2.0 * s),
            number(2.0 * s),
            number(2.0 * s),
            number(2.0 * s)
        );
        e.assign("d", d);
        self.push(e);
        self.push(text(x, t + 7.0, "no plan", "middle", false, CAP));
    }

    pub(crate) fn curve(&mut self, points: &[(f64, f64)], dash: bool, width: f64) {
        let mut d = String::new();
        for (i, &(x, y)) in points.iter().enumerate() {
            let (x, y) = self.at(x, y);
            let c = if i == 0 { 'M' } else { 'L' };
            d.push_str(&format!("{c}{} {}", number(x), number(y)));
        }
        let (class, colour) = if dash {
            ("r", LIGHT.back)
        } else {
            ("f", LIGHT.flow)
        };
        let mut e = Element::new("path");
        e.assign("class", class);
        e.assign("stroke", colour);
        e.assign("stroke-width", number(width));
        if dash {
            e.assign("stroke-dasharray", "4 1.6");
        }
        e.assign("d", d);
        self.push(e);
    }

    pub(crate) fn mark(&mut self, x: f64, y: f64, square: bool) {
        let (x, y) = self.at(x, y);
        let s = 1.6;
        let d = if square {
            format!(
                "M{} {}h{}v{}h-{}Z",
                number(x - s),
                number(y - s),
                number(2.0 * s),
                number(2.0 * s),
                number(2.0 * s)
            )
        } else {
            format!(
                "M{} {}l{s} {s}l-{s} {s}l-{s} -{s}Z",
                number(x),
                number(y - s)
            )
        };
        let mut e = Element::new("path");
        e.assign("class", "o");
        e.assign("fill", LIGHT.sheet);
        e.assign("stroke", LIGHT.ink);
        e.assign("stroke-width", "0.5");
        e.assign("d", d);
        self.push(e);
    }

    /// Words at the left of a point; if that is taken under it, or over it where the axis is near.
    pub(crate) fn beside(&mut self, x: f64, y: f64, words: &str, taken: bool) {
        let (x, y) = self.at(x, y);
        let e = match taken {
            false => text(x - 2.8, y + CAP / 2.0, words, "end", false, CAP),
            true if y + 7.0 < self.area.3 => text(x, y + 6.2, words, "middle", false, CAP),
            true => text(x, y - 3.2, words, "middle", false, CAP),
        };
        self.push(e);
    }

    /// Words at the right, joined to their point by a thin line.
    pub(crate) fn call(&mut self, x: f64, y: f64, words: String) {
        self.call_as(x, y, words, false);
    }

    /// The same, in bold.
    pub(crate) fn call_as(&mut self, x: f64, y: f64, words: String, bold: bool) {
        let p = self.at(x, y);
        self.calls.push((p, words, bold));
    }

    /// A thin line across the plot.
    pub(crate) fn level(&mut self, y: f64) {
        let (from, to) = (self.at(self.from, y), self.at(self.most.0, y));
        let mut e = Element::new("path");
        e.assign("class", "axis n");
        e.assign("stroke", LIGHT.ink);
        e.assign("stroke-width", "0.5");
        e.assign(
            "d",
            format!("M{} {}H{}", number(from.0), number(from.1), number(to.0)),
        );
        self.push(e);
    }

    pub(crate) fn finish(mut self, title: &str, desc: &str, style: &Style) -> String {
        let mut calls = std::mem::take(&mut self.calls);
        calls.sort_by(|a, b| a.0.1.total_cmp(&b.0.1));
        let x = self.area.2 + 6.0;
        let mut free = self.area.1;
        let height = 6.2;
        let n = calls.len() as f64;
        for (i, (p, words, bold)) in calls.into_iter().enumerate() {
            let latest = self.area.3 - height * (n - i as f64 - 1.0);
            let y = p.1.max(free).min(latest.max(free));
            free = y + height;
            let mut e = Element::new("path");
            e.assign("class", "leader n");
            e.assign("stroke", LIGHT.ink);
            e.assign("stroke-width", "0.25");
            e.assign(
                "d",
                format!(
                    "M{} {}L{} {}",
                    number(p.0),
                    number(p.1),
                    number(x - 1.2),
                    number(y)
                ),
            );
            self.push(e);
            self.push(text(
                x,
                y + CAP / 2.0,
                &tidy(&words, CALL).0,
                "start",
                bold,
                CAP,
            ));
        }
        self.push(text(10.0, 8.5, &tidy(title, 60).0, "start", true, 3.5));
        page(self.size, self.group, title, desc, style)
    }
}

/// A page round a group.
pub(crate) fn page(
    size: (f64, f64),
    group: Group,
    title: &str,
    desc: &str,
    style: &Style,
) -> String {
    Document::new()
        .set("width", format!("{}mm", number(size.0)))
        .set("height", format!("{}mm", number(size.1)))
        .set(
            "viewBox",
            format!("0 0 {} {}", number(size.0), number(size.1)),
        )
        .set("role", "graphics-document")
        .set("aria-labelledby", "t d")
        .set("lang", "en")
        .set(
            "font-family",
            "'DejaVu Sans', Arial, 'Liberation Sans', sans-serif",
        )
        .add(Title::new(tidy(title, 120).0).set("id", "t"))
        .add(
            Description::new()
                .set("id", "d")
                .add(Text::new(tidy(desc, 600).0)),
        )
        .add(Css::new(style_sheet(style.theme)))
        .add(Path::new().set("class", "p").set("fill", LIGHT.sheet).set(
            "d",
            format!("M0 0H{}V{}H0Z", number(size.0), number(size.1)),
        ))
        .add(group.set("stroke-linejoin", "round").set("class", "plot"))
        .to_string()
}
