//! A scene as SVG text; no position is decided here. One unit is one millimetre.

use super::audit::baseline;
use super::glyph::{Fill, Prim, pieces};
use super::scene::{About, Align, Item, Label, Scene, Stroke, Symbol, Water};
use super::style::Theme;
use super::svg_path::{dashes, number, path};
use super::svg_style::{DARK, INK, LIGHT, Palette, style_sheet};
use super::words::font_size;
use svg::Document;
use svg::node::Text;
use svg::node::element::{Circle, Definitions, Description, Element, Group, Path, Style, Title};

/// Line width of what carries no water, mm: the thinnest of the series.
const DEAD: f64 = 0.25;

/// Text for an attribute: the quotation mark that would end it becomes a plain apostrophe.
fn attribute(text: &str) -> String {
    text.replace('"', "'")
}

pub(crate) struct Writer<'a> {
    pub scene: &'a Scene,
    pub palette: &'static Palette,
    /// What lies on pipes and hides them: symbols and arrows.
    pub over: Vec<super::scene::Rect>,
}

/// The whole sheet as SVG.
pub fn render(scene: &Scene) -> String {
    let palette = match scene.theme {
        Theme::Dark => &DARK,
        Theme::Ink => &INK,
        Theme::Auto | Theme::Light => &LIGHT,
    };
    let over = scene.items.iter().filter_map(|item| match item {
        Item::Symbol(s) => Some(s.rect),
        Item::Arrow(p, _, _, size) => Some(super::scene::Rect {
            x: p.x - size / 2.0,
            y: p.y - size / 2.0,
            w: *size,
            h: *size,
        }),
        _ => None,
    });
    let writer = Writer {
        scene,
        palette,
        over: over.collect(),
    };
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
            .set(
                "font-family",
                "'DejaVu Sans', Arial, 'Liberation Sans', sans-serif",
            )
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
        doc = doc.add(self.bands(items));
        // pipes with their labels: the index circuit first
        let mut strokes: Vec<(usize, &Stroke)> = items
            .iter()
            .enumerate()
            .filter_map(|(i, item)| match item {
                Item::Stroke(s) => Some((i, s)),
                _ => None,
            })
            .collect();
        // read in this order, too: out from the source, then home
        strokes.sort_by_key(|(i, s)| (!s.index, s.water == Water::Return, *i));
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
                Item::Arrow(p, turn, water, size) => {
                    doc = doc.add(self.arrow(*p, *turn, *water, *size))
                }
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

    fn pipe(&self, s: &Stroke) -> Group {
        let (class, colour) = match s.water {
            _ if s.idle => ("x", self.palette.faint),
            Water::Flow => ("f", self.palette.flow),
            Water::Return => ("r", self.palette.back),
        };
        let mut g = Group::new();
        // of a pipe in two pieces, the first carries its name and label
        let first = self.scene.items.iter().find_map(|i| match i {
            Item::Stroke(t) if t.about == s.about => Some(t),
            _ => None,
        });
        let speaks = matches!(s.about, About::Run(_)) && first.is_some_and(|t| std::ptr::eq(t, s));
        if speaks {
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
        let width = if s.idle {
            DEAD
        } else if s.double {
            (s.width + 1.1).max(1.7)
        } else {
            s.width
        };
        let mut line = Path::new()
            .set("class", class)
            .set("stroke", colour)
            .set("stroke-width", number(width))
            .set("d", d.clone());
        if s.water == Water::Return {
            line = line.set("stroke-dasharray", dashes(s, &self.over));
        }
        g = g.add(line);
        if s.double && !s.idle {
            g = g.add(
                Path::new()
                    .set("class", "c")
                    .set("stroke", self.palette.sheet)
                    .set("stroke-width", number((width - 1.0).max(0.7)))
                    .set("d", d),
            );
        }
        if speaks {
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
            svg::Node::assign(
                &mut span,
                "y",
                number(label.rect.y + baseline(i, label.cap)),
            );
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
        // in the key symbols are small, and their lines with them
        let sample = s.about == About::Sheet && s.words.is_empty();
        let (outline, inner) = match (sample, s.dead) {
            (true, _) | (_, true) => (DEAD, DEAD),
            _ => (0.5, 0.35),
        };
        let mut g = Group::new()
            .set("class", "symbol o")
            .set("role", "graphics-symbol")
            .set("fill", self.palette.sheet)
            .set("stroke", self.palette.ink)
            .set("stroke-width", number(outline));
        let words = self
            .words_of(s.about)
            .map_or(s.words.clone(), str::to_string);
        let words = if words.is_empty() {
            "symbol".to_string()
        } else {
            words
        };
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
            g = g.add(self.prim(&prim, inner));
        }
        g
    }

    fn prim(&self, prim: &Prim, inner: f64) -> Element {
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
                    svg::Node::assign(&mut e, "stroke-width", number(inner));
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
            Prim::Chain(r) => {
                let mut e = Element::new("rect");
                for (name, v) in [("x", r.x), ("y", r.y), ("width", r.w), ("height", r.h)] {
                    svg::Node::assign(&mut e, name, number(v));
                }
                let dashes = if r.h < 8.0 {
                    "1.4 0.5 0.4 0.5"
                } else {
                    "6 1.2 0.8 1.2"
                };
                svg::Node::assign(&mut e, "stroke-dasharray", dashes);
                fill(e, Fill::Sheet)
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
            Prim::Blank(r) => {
                let mut e = Element::new("rect");
                for (name, v) in [("x", r.x), ("y", r.y), ("width", r.w), ("height", r.h)] {
                    svg::Node::assign(&mut e, name, number(v));
                }
                svg::Node::assign(&mut e, "stroke", "none");
                e
            }
            Prim::Water(points) => {
                let mut e = Element::new("path");
                svg::Node::assign(&mut e, "d", path(points, &[], 0.0));
                svg::Node::assign(
                    &mut e,
                    "stroke-width",
                    number(if inner > DEAD { 2.0 * inner } else { inner }),
                );
                svg::Node::assign(&mut e, "fill", "none");
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
}
