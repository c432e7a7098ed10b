//! Arrows, status marks and the key's sample of a pipe as SVG.

use super::scene::{MarkKind, Pt, Rect, Water};
use super::svg::Writer;
use super::svg_path::{number, path};
use svg::node::element::{Group, Path};

impl Writer<'_> {
    pub(crate) fn arrow(&self, p: Pt, turn: u8, water: Water, size: f64) -> Path {
        let (a, b) = (size / 2.0, size * 0.4);
        let corners = [(a, 0.0), (-a, -b), (-a, b)].map(|(u, v)| match turn {
            0 => (u, v),
            1 => (-v, u),
            2 => (-u, -v),
            _ => (v, -u),
        });
        let d: String = corners
            .iter()
            .enumerate()
            .map(|(i, (x, y))| {
                let c = if i == 0 { 'M' } else { 'L' };
                format!("{c}{} {}", number(p.x + x), number(p.y + y))
            })
            .collect();
        let (class, colour) = match water {
            Water::Flow => ("af", self.palette.flow),
            Water::Return => ("ar", self.palette.back),
        };
        Path::new()
            .set("class", class)
            .set("fill", colour)
            .set("d", d + "Z")
    }

    pub(crate) fn key_line(&self, a: Pt, b: Pt, water: Water) -> Group {
        // 9 mm on A4 and A3
        let k = (b.x - a.x) / 9.0;
        let (class, colour) = match water {
            Water::Flow => ("f", self.palette.flow),
            Water::Return => ("r", self.palette.back),
        };
        let mut line = Path::new()
            .set("class", class)
            .set("stroke", colour)
            .set("stroke-width", number(k))
            .set("d", path(&[a, b], &[], 0.0));
        if water == Water::Return {
            let marks = [1.4, 1.1, 3.0, 1.1, 3.0, 1.1, 1.4].map(|m| number(m * k));
            line = line.set("stroke-dasharray", marks.join(" "));
        }
        Group::new()
            .set("class", "key")
            .set("fill", "none")
            .add(line)
    }

    pub(crate) fn mark(&self, kind: MarkKind, r: Rect) -> Group {
        let (a, b, c, d) = (r.x, r.right(), r.y, r.bottom());
        let (mx, my) = (a + r.w / 2.0, c + r.h / 2.0);
        let n = number;
        let (class, colour, outline, inner) = match kind {
            MarkKind::Fails => (
                "mf",
                self.palette.fails,
                format!("M{} {}H{}V{}H{}Z", n(a), n(c), n(b), n(d), n(a)),
                format!(
                    "M{} {}L{} {}M{} {}L{} {}",
                    n(a),
                    n(c),
                    n(b),
                    n(d),
                    n(b),
                    n(c),
                    n(a),
                    n(d)
                ),
            ),
            MarkKind::Depends => (
                "ms",
                self.palette.sheet,
                format!(
                    "M{} {}L{} {}L{} {}L{} {}Z",
                    n(mx),
                    n(c),
                    n(b),
                    n(my),
                    n(mx),
                    n(d),
                    n(a),
                    n(my)
                ),
                format!("M{} {}V{}", n(mx), n(my - r.h * 0.22), n(my + r.h * 0.22)),
            ),
            MarkKind::Tight => (
                "mt",
                self.palette.tight,
                format!("M{} {}L{} {}L{} {}Z", n(mx), n(c), n(b), n(d), n(a), n(d)),
                format!("M{} {}V{}", n(mx), n(c + r.h * 0.38), n(c + r.h * 0.8)),
            ),
            MarkKind::Holds => (
                "mh",
                self.palette.holds,
                String::new(),
                format!("M{} {}L{} {}L{} {}", n(a), n(my), n(mx), n(d), n(b), n(c)),
            ),
            MarkKind::NotShown => (
                "ms",
                self.palette.sheet,
                format!(
                    "M{} {}A{} {} 0 1 1 {} {}A{} {} 0 1 1 {} {}Z",
                    n(a),
                    n(my),
                    n(r.w / 2.0),
                    n(r.w / 2.0),
                    n(b),
                    n(my),
                    n(r.w / 2.0),
                    n(r.w / 2.0),
                    n(a),
                    n(my)
                ),
                format!("M{} {}H{}", n(a + r.w * 0.25), n(my), n(b - r.w * 0.25)),
            ),
            MarkKind::Changed => (
                "ms",
                self.palette.sheet,
                format!("M{} {}L{} {}L{} {}Z", n(a), n(c), n(b), n(c), n(mx), n(d)),
                String::new(),
            ),
        };
        let words = match kind {
            MarkKind::Fails => "fails",
            MarkKind::Depends => "depends",
            MarkKind::Tight => "tight",
            MarkKind::Holds => "holds",
            MarkKind::NotShown => "not shown",
            MarkKind::Changed => "changed",
        };
        let mut g = Group::new()
            .set("class", "symbol")
            .set("role", "graphics-symbol")
            .set("aria-label", words);
        if !outline.is_empty() {
            g = g.add(
                Path::new()
                    .set("class", format!("{class} n"))
                    .set("fill", colour)
                    .set("stroke", self.palette.ink)
                    .set("stroke-width", "0.35")
                    .set("d", outline),
            );
        }
        if !inner.is_empty() {
            g = g.add(
                Path::new()
                    .set("class", "n")
                    .set("fill", "none")
                    .set("stroke", self.palette.ink)
                    .set("stroke-width", "0.35")
                    .set("d", inner),
            );
        }
        g
    }
}
