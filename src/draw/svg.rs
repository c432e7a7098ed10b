//! A scene as SVG text; no position is decided here. One unit is one millimetre.

use super::audit::baseline;
use super::glyph::{Fill, Prim, pieces};
use super::scene::{About, Align, Item, Label, MarkKind, Pt, Rect, Scene, Stroke, Symbol, Water};
use super::style::Theme;
use super::svg_path::{dashes, number, path};
use super::words::font_size;
use svg::Document;
use svg::node::Text;
use svg::node::element::{Circle, Definitions, Description, Element, Group, Path, Style, Title};

/// Colours of a theme, by role. Contrast against the sheet stands in the developers' page.
struct Palette {
    sheet: &'static str,
    ink: &'static str,
    faint: &'static str,
    flow: &'static str,
    back: &'static str,
    band: &'static str,
    edge: &'static str,
    holds: &'static str,
    tight: &'static str,
    fails: &'static str,
}

const LIGHT: Palette = Palette {
    sheet: "#FFFFFF",
    ink: "#1A1A1A",
    faint: "#50565C",
    flow: "#7A120B",
    back: "#2563AF",
    band: "#F5EBC0",
    edge: "#B9A552",
    holds: "#00735A",
    tight: "#E69F00",
    fails: "#C23B00",
};

const DARK: Palette = Palette {
    sheet: "#14181D",
    ink: "#E8EAED",
    faint: "#A9B0B8",
    flow: "#FFC9BC",
    back: "#6FAAF0",
    band: "#3A3412",
    edge: "#7A6C2A",
    holds: "#3CC7A0",
    tight: "#F0B429",
    fails: "#FF7A45",
};

const INK: Palette = Palette {
    sheet: "#FFFFFF",
    ink: "#1A1A1A",
    faint: "#1A1A1A",
    flow: "#1A1A1A",
    back: "#1A1A1A",
    band: "#EDEDED",
    edge: "#767676",
    holds: "#FFFFFF",
    tight: "#FFFFFF",
    fails: "#FFFFFF",
};

fn variables(p: &Palette) -> String {
    format!(
        "--sheet:{};--ink:{};--faint:{};--flow:{};--back:{};--strip:{};--edge:{};--holds:{};--tight:{};--fails:{}",
        p.sheet, p.ink, p.faint, p.flow, p.back, p.band, p.edge, p.holds, p.tight, p.fails
    )
}

fn style_sheet(theme: Theme) -> String {
    let base = match theme {
        Theme::Dark => &DARK,
        Theme::Ink => &INK,
        Theme::Auto | Theme::Light => &LIGHT,
    };
    let mut css = format!(":root{{{}}}", variables(base));
    if theme == Theme::Auto {
        css.push_str(&format!(
            "@media (prefers-color-scheme:dark){{:root{{{}}}}}@media print{{:root{{{}}}}}",
            variables(&DARK),
            variables(&LIGHT)
        ));
    }
    css.push_str(concat!(
        ".p{fill:var(--sheet)}.f{stroke:var(--flow)}.r{stroke:var(--back)}.c{stroke:var(--sheet)}",
        ".o{fill:var(--sheet);stroke:var(--ink)}.i{fill:var(--ink);stroke:var(--ink)}.n{stroke:var(--ink)}",
        ".d{fill:var(--ink)}.af{fill:var(--flow)}.ar{fill:var(--back)}.b1{stroke:var(--edge)}.b2{stroke:var(--strip)}",
        "text{fill:var(--ink);font-variant-numeric:tabular-nums}.q{fill:var(--faint)}",
        ".mh{fill:var(--holds)}.mt{fill:var(--tight)}.mf{fill:var(--fails)}.ms{fill:var(--sheet)}",
        "[id]:target{outline:.5px solid var(--fails)}"
    ));
    css
}

/// Text for an attribute: the quotation mark that would end it becomes a plain apostrophe.
fn attribute(text: &str) -> String {
    text.replace('"', "'")
}

struct Writer<'a> {
    scene: &'a Scene,
    palette: &'static Palette,
}

/// The whole sheet as SVG.
pub fn render(scene: &Scene) -> String {
    let palette = match scene.theme {
        Theme::Dark => &DARK,
        Theme::Ink => &INK,
        Theme::Auto | Theme::Light => &LIGHT,
    };
    let writer = Writer { scene, palette };
    writer.document().to_string()
}

impl Writer<'_> {
    fn document(&self) -> Document {
        let (w, h) = self.scene.paper.size_mm();
        let mut doc = Document::new()
            .set("width", format!("{}mm", number(w)))
            .set("height", format!("{}mm", number(h)))
            .set("viewBox", format!("0 0 {} {}", number(w), number(h)))
            .set("role", "graphics-document")
            .set("aria-labelledby", "t d")
            .set("lang", "en")
            .set("font-family", "'DejaVu Sans', Arial, 'Liberation Sans', sans-serif")
            .add(Title::new(self.scene.title.clone()).set("id", "t"))
            .add(
                Description::new()
                    .set("id", "d")
                    .add(Text::new(self.scene.desc.clone())),
            )
            .add(self.metadata())
            .add(Style::new(style_sheet(self.scene.theme)))
            .add(Definitions::new());
        let mut sheet = Path::new()
            .set("class", "p")
            .set("fill", self.palette.sheet)
            .set("d", format!("M0 0H{}V{}H0Z", number(w), number(h)));
        sheet = sheet.set("id", "paper");
        doc = doc.add(sheet);
        let items = &self.scene.items;
        doc = doc.add(self.rules(items));
        doc = doc.add(self.band(items));
        // pipes with their labels: the index circuit first, return under flow
        let mut strokes: Vec<(usize, &Stroke)> = items
            .iter()
            .enumerate()
            .filter_map(|(i, item)| match item {
                Item::Stroke(s) => Some((i, s)),
                _ => None,
            })
            .collect();
        strokes.sort_by_key(|(i, s)| (!s.index, s.water == Water::Flow, *i));
        let mut runs = Group::new().set("id", "pipes").set("fill", "none");
        for (_, stroke) in &strokes {
            runs = runs.add(self.pipe(stroke));
        }
        doc = doc.add(runs);
        for item in items {
            match item {
                Item::Symbol(s) => doc = doc.add(self.symbol(s)),
                Item::Dot(p, d) => {
                    doc = doc.add(
                        Circle::new()
                            .set("class", "d")
                            .set("fill", self.palette.ink)
                            .set("cx", number(p.x))
                            .set("cy", number(p.y))
                            .set("r", number(d / 2.0)),
                    );
                }
                Item::Arrow(p, turn, water, size) => doc = doc.add(self.arrow(*p, *turn, *water, *size)),
                _ => {}
            }
        }
        for item in items {
            match item {
                Item::Mark(kind, r, _) => doc = doc.add(self.mark(*kind, *r)),
                Item::Label(label) if !matches!(label.about, About::Run(_)) => {
                    doc = doc.add(self.label(label));
                }
                Item::KeyLine(a, b, water) => doc = doc.add(self.key_line(*a, *b, *water)),
                _ => {}
            }
        }
        doc
    }

    fn metadata(&self) -> Element {
        let a = &self.scene.audit;
        let text = format!(
            "audit: text on text {}; text crossed {}; outside {}; plain crossings {}; pipes on pipes {}; slanted {}; \
             symbols hit {}; hops {}; pipes {}; short {}; bends {}; most bends {}; smallest capitals {} mm; \
             pipe length {} diagonals; aspect {}",
            a.text_on_text,
            a.text_crossed,
            a.outside,
            a.plain_crossings,
            a.pipes_on_pipes,
            a.slanted,
            a.symbols_hit,
            a.hops,
            a.strokes,
            a.short,
            a.bends,
            a.bends_max,
            number(a.smallest_cap),
            number(a.length_rel),
            number(a.aspect)
        );
        let mut element = Element::new("metadata");
        svg::Node::append(&mut element, Text::new(text));
        element
    }

    fn id_of(&self, about: About) -> Option<&str> {
        self.scene
            .ids
            .iter()
            .find(|(a, _)| *a == about)
            .map(|(_, id)| id.as_str())
    }

    fn words_of(&self, about: About) -> Option<&str> {
        self.scene
            .words
            .iter()
            .find(|(a, _)| *a == about)
            .map(|(_, w)| w.as_str())
    }

    fn rules(&self, items: &[Item]) -> Group {
        let mut g = Group::new()
            .set("id", "frame")
            .set("class", "n")
            .set("fill", "none")
            .set("stroke", self.palette.ink);
        for item in items {
            let (d, width) = match item {
                Item::Frame(r, width) => (
                    format!(
                        "M{} {}H{}V{}H{}Z",
                        number(r.x),
                        number(r.y),
                        number(r.right()),
                        number(r.bottom()),
                        number(r.x)
                    ),
                    *width,
                ),
                Item::Rule(points, width) => (path(points, &[], 0.0), *width),
                _ => continue,
            };
            g = g.add(Path::new().set("d", d).set("stroke-width", number(width)));
        }
        g
    }

    fn band(&self, items: &[Item]) -> Group {
        let mut g = Group::new()
            .set("id", "index-band")
            .set("fill", "none")
            .set("stroke-linecap", "square");
        let on: Vec<String> = items
            .iter()
            .filter_map(|i| match i {
                Item::Stroke(s) if s.index => Some(path(&s.points, &s.hops, s.hop_radius)),
                Item::BandSample(r) => {
                    let y = r.y + r.h / 2.0;
                    Some(format!(
                        "M{} {}H{}",
                        number(r.x + 2.4),
                        number(y),
                        number(r.right() - 2.4)
                    ))
                }
                _ => None,
            })
            .collect();
        if on.is_empty() {
            return g;
        }
        let d = on.concat();
        for (class, colour, width) in [
            ("b1", self.palette.edge, 4.7),
            ("b2", self.palette.band, 4.2),
        ] {
            g = g.add(
                Path::new()
                    .set("class", class)
                    .set("stroke", colour)
                    .set("stroke-width", number(width))
                    .set("d", d.clone()),
            );
        }
        g
    }

    fn pipe(&self, s: &Stroke) -> Group {
        let (class, colour) = match s.water {
            Water::Flow => ("f", self.palette.flow),
            Water::Return => ("r", self.palette.back),
        };
        let mut g = Group::new();
        if let About::Run(_) = s.about {
            g = g.set("role", "graphics-object");
            if let Some(id) = self.id_of(s.about) {
                g = g.set("id", id);
            }
            if let Some(words) = self.words_of(s.about) {
                g = g
                    .set("aria-label", attribute(words))
                    .add(Title::new(words.to_string()));
            }
        }
        let d = path(&s.points, &s.hops, s.hop_radius);
        let width = if s.double { (s.width + 1.1).max(1.7) } else { s.width };
        let mut line = Path::new()
            .set("class", class)
            .set("stroke", colour)
            .set("stroke-width", number(width))
            .set("d", d.clone());
        if s.water == Water::Return {
            line = line.set("stroke-dasharray", dashes(s));
        }
        g = g.add(line);
        if s.double {
            g = g.add(
                Path::new()
                    .set("class", "c")
                    .set("stroke", self.palette.sheet)
                    .set("stroke-width", number((width - 1.0).max(0.7)))
                    .set("d", d),
            );
        }
        if let About::Run(_) = s.about {
            for item in &self.scene.items {
                if let Item::Label(label) = item
                    && label.about == s.about
                {
                    g = g.add(self.label(label));
                }
            }
        }
        g
    }

    fn label(&self, label: &Label) -> Element {
        let mut text = Element::new("text");
        let size = font_size(label.cap);
        svg::Node::assign(&mut text, "font-size", number(size));
        let faint = label.letter == super::scene::Letter::Note;
        svg::Node::assign(&mut text, "fill", self.palette.ink);
        let _ = faint;
        if let Some(full) = &label.full {
            svg::Node::append(&mut text, Title::new(super::words::tidy(full, 6000).0));
        }
        for (i, line) in label.lines.iter().enumerate() {
            let indent = if i == 0 { label.indent } else { 0.0 };
            let x = match label.align {
                Align::Left => label.rect.x + indent,
                Align::Middle => label.rect.x + label.rect.w / 2.0,
                Align::Right => label.rect.right(),
            };
            let mut span = Element::new("tspan");
            svg::Node::assign(&mut span, "x", number(x));
            svg::Node::assign(&mut span, "y", number(label.rect.y + baseline(i, label.cap)));
            match label.align {
                Align::Left => {}
                Align::Middle => svg::Node::assign(&mut span, "text-anchor", "middle"),
                Align::Right => svg::Node::assign(&mut span, "text-anchor", "end"),
            }
            if line.bold {
                svg::Node::assign(&mut span, "font-weight", "bold");
            }
            svg::Node::append(&mut span, Text::new(line.text.clone()));
            svg::Node::append(&mut text, span);
        }
        text
    }

    fn symbol(&self, s: &Symbol) -> Group {
        let mut g = Group::new()
            .set("class", "symbol o")
            .set("role", "graphics-symbol")
            .set("fill", self.palette.sheet)
            .set("stroke", self.palette.ink)
            .set("stroke-width", "0.5");
        let words = self.words_of(s.about).map_or(s.words.clone(), str::to_string);
        let words = if words.is_empty() { "symbol".to_string() } else { words };
        g = g.set("aria-label", attribute(&words));
        if s.about != About::Sheet {
            g = g.add(Title::new(words));
            if let Some(id) = self.id_of(s.about) {
                g = g.set("id", id);
            }
        }
        for prim in pieces(s) {
            if matches!(&prim, Prim::Letters(_, words) if words.is_empty()) {
                continue;
            }
            g = g.add(self.prim(&prim));
        }
        g
    }

    fn prim(&self, prim: &Prim) -> Element {
        let fill = |mut e: Element, fill: Fill| {
            match fill {
                Fill::Sheet => {}
                Fill::Ink => {
                    svg::Node::assign(&mut e, "class", "i");
                    svg::Node::assign(&mut e, "fill", self.palette.ink);
                }
                Fill::Open => svg::Node::assign(&mut e, "fill", "none"),
            }
            e
        };
        match prim {
            Prim::Poly(points, closed, how) => {
                let mut d = path(points, &[], 0.0);
                if *closed {
                    d.push('Z');
                }
                let mut e = Element::new("path");
                svg::Node::assign(&mut e, "d", d);
                if *how == Fill::Open && !closed {
                    svg::Node::assign(&mut e, "stroke-width", "0.35");
                }
                fill(e, *how)
            }
            Prim::Circle(c, r, how) => {
                let mut e = Element::new("circle");
                svg::Node::assign(&mut e, "cx", number(c.x));
                svg::Node::assign(&mut e, "cy", number(c.y));
                svg::Node::assign(&mut e, "r", number(*r));
                fill(e, *how)
            }
            Prim::Capsule(r) => {
                let mut e = Element::new("path");
                let dome = (r.w * 0.35).min(r.h * 0.3);
                svg::Node::assign(
                    &mut e,
                    "d",
                    format!(
                        "M{} {}A{} {} 0 0 1 {} {}V{}A{} {} 0 0 1 {} {}Z",
                        number(r.x),
                        number(r.y + dome),
                        number(r.w / 2.0),
                        number(dome),
                        number(r.right()),
                        number(r.y + dome),
                        number(r.bottom() - dome),
                        number(r.w / 2.0),
                        number(dome),
                        number(r.x),
                        number(r.bottom() - dome)
                    ),
                );
                e
            }
            Prim::Letters(at, words) => {
                let cap = 1.8;
                let mut e = Element::new("text");
                svg::Node::assign(&mut e, "x", number(at.x));
                svg::Node::assign(&mut e, "y", number(at.y + cap * 0.52));
                svg::Node::assign(&mut e, "font-size", number(font_size(cap)));
                svg::Node::assign(&mut e, "text-anchor", "middle");
                svg::Node::assign(&mut e, "stroke", "none");
                svg::Node::assign(&mut e, "fill", self.palette.ink);
                svg::Node::append(&mut e, Text::new(words.clone()));
                e
            }
            Prim::Thick(a, b) => {
                let mut e = Element::new("path");
                svg::Node::assign(&mut e, "d", path(&[*a, *b], &[], 0.0));
                svg::Node::assign(&mut e, "stroke-width", "1.4");
                e
            }
        }
    }

    fn arrow(&self, p: Pt, turn: u8, water: Water, size: f64) -> Path {
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

    fn key_line(&self, a: Pt, b: Pt, water: Water) -> Group {
        let (class, colour) = match water {
            Water::Flow => ("f", self.palette.flow),
            Water::Return => ("r", self.palette.back),
        };
        let mut line = Path::new()
            .set("class", class)
            .set("stroke", colour)
            .set("stroke-width", "1")
            .set("d", path(&[a, b], &[], 0.0));
        if water == Water::Return {
            line = line.set("stroke-dasharray", "1.4 1.1 3 1.1 3 1.1 1.4");
        }
        Group::new().set("class", "key").set("fill", "none").add(line)
    }

    fn mark(&self, kind: MarkKind, r: Rect) -> Group {
        let (a, b, c, d) = (r.x, r.right(), r.y, r.bottom());
        let (mx, my) = (a + r.w / 2.0, c + r.h / 2.0);
        let n = number;
        let (class, colour, outline, inner) = match kind {
            MarkKind::Fails => (
                "mf",
                self.palette.fails,
                format!("M{} {}H{}V{}H{}Z", n(a), n(c), n(b), n(d), n(a)),
                format!("M{} {}L{} {}M{} {}L{} {}", n(a), n(c), n(b), n(d), n(b), n(c), n(a), n(d)),
            ),
            MarkKind::Depends => (
                "ms",
                self.palette.sheet,
                format!("M{} {}L{} {}L{} {}L{} {}Z", n(mx), n(c), n(b), n(my), n(mx), n(d), n(a), n(my)),
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
                    n(a), n(my), n(r.w / 2.0), n(r.w / 2.0), n(b), n(my), n(r.w / 2.0), n(r.w / 2.0), n(a), n(my)
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
