//! Drawings within the document: each one's ids made its own, its style sheet taken out and kept to the drawings.

use super::{Block, Maker, Reader, Room};
use crate::draw::{House, Level, Style, plots, svg};

impl Maker<'_> {
    pub(super) fn drawing(&mut self) {
        let Some(state) = self.first().filter(|_| self.drawings) else {
            return self.paragraph("The schematic comes from pipecarry's command draw.");
        };
        let study = self.study();
        let mut style = Style {
            level: match self.choice.reader {
                Reader::Client => Level::Overview,
                Reader::Installer | Reader::Reviewer => Level::Normal,
            },
            ..Style::default()
        };
        if let Some(of) = study.network.states.get(state) {
            style.shut.clone_from(&of.shut);
            if study.network.states.len() > 1 {
                style.subtitle.clone_from(&of.name);
            }
        }
        let mut scenes = House::of(study, state).as_required(&style);
        if scenes.is_empty() {
            style.level = Level::Schedule;
            scenes = House::of(study, state).as_required(&style);
        }
        if scenes.is_empty() {
            return self.paragraph(
                "The house is too large for a sheet of this document; the command draw splits it.",
            );
        }
        let of = scenes.len();
        for (i, scene) in scenes.iter().enumerate() {
            let sheet = if of > 1 {
                format!(", sheet {} of {of}", i + 1)
            } else {
                String::new()
            };
            let caption = format!(
                "Schematic, {}, as duty requires{sheet}",
                self.speak.state(state)
            );
            self.figure(
                &svg::render(scene),
                scene.desc.clone(),
                caption,
                Room::Sheet,
            );
        }
    }

    pub(super) fn plots(&mut self) {
        let study = self.study();
        let Some(view) = self
            .first()
            .and_then(|s| study.required.iter().find(|r| r.state == s))
        else {
            return;
        };
        if !self.drawings {
            return;
        }
        let running = study.running.iter().find(|r| r.state == view.state);
        let style = Style::default();
        let network = &study.network;
        for (i, circuit) in view.circuits.iter().enumerate() {
            let name = self.speak.name(&circuit.name);
            let caption = format!("Pump and circuit of {name}");
            if let Some(plot) = plots::pump(network, view, running, i, &style) {
                self.figure(&plot, caption.clone(), caption, Room::Half);
            }
            let caption = format!("Pressure along the index circuit of {name}");
            if let Some(plot) = plots::pressure(network, view, i, &style) {
                self.figure(&plot, caption.clone(), caption, Room::Half);
            }
        }
        if let Some(plot) = plots::capacity(network, view, &style) {
            let caption = "What each run could carry at the design drop".to_owned();
            self.figure(&plot, caption.clone(), caption, Room::Whole);
        }
    }

    fn figure(&mut self, drawn: &str, shows: String, caption: String, room: Room) {
        self.figures += 1;
        let (svg, rules) = inline(drawn, &format!("fig{}", self.figures));
        for rule in rules {
            if !self.styles.contains(&rule) {
                self.styles.push(rule);
            }
        }
        let shows = crate::report::layout::name(&shows, 1000);
        self.blocks.push(Block::Figure {
            svg,
            shows,
            caption,
            room,
        });
    }
}

/// A drawing for the middle of a page of HTML, and the rules of its style sheet. Within its text quotation marks are
/// written as entities, so that ` id="` begins an attribute and nothing else.
fn inline(drawn: &str, own: &str) -> (String, Vec<String>) {
    let body = drawn.find("<svg").map_or("", |at| &drawn[at..]);
    let mut rules = Vec::new();
    let mut svg = String::with_capacity(body.len());
    let mut rest = body;
    while let Some((before, after)) = rest.split_once("<style>") {
        svg.push_str(before);
        let Some((css, more)) = after.split_once("</style>") else {
            rest = "";
            break;
        };
        rules.extend(scoped(css));
        rest = more.trim_start_matches('\n');
    }
    svg.push_str(rest);
    // what a program reads of a drawing has no place in a page
    if let (Some(from), Some(to)) = (svg.find("<metadata>"), svg.find("</metadata>")) {
        svg.replace_range(from..to + "</metadata>".len(), "");
    }
    for (before, after) in [
        (" id=\"", format!(" id=\"{own}-")),
        (
            "aria-labelledby=\"t d\"",
            format!("aria-labelledby=\"{own}-t {own}-d\""),
        ),
        (" href=\"#", format!(" href=\"#{own}-")),
        ("url(#", format!("url(#{own}-")),
    ] {
        svg = svg.replace(before, &after);
    }
    (svg.trim_end().to_owned(), rules)
}

/// Rules of a drawing's style sheet, kept to drawings: `.f{…}` becomes `.drawing .f{…}`.
fn scoped(css: &str) -> Vec<String> {
    let mut rules = Vec::new();
    let mut rest = css.trim();
    while let Some(open) = rest.find('{') {
        let selector = rest[..open].trim();
        // a media query holds rules of its own
        let mut depth = 0;
        let mut end = rest.len();
        for (at, c) in rest.char_indices().skip(open) {
            match c {
                '{' => depth += 1,
                '}' => depth -= 1,
                _ => continue,
            }
            if depth == 0 {
                end = at;
                break;
            }
        }
        let body = rest.get(open + 1..end).unwrap_or_default();
        if selector.starts_with('@') {
            let inner: String = scoped(body).concat();
            rules.push(format!("{selector}{{{inner}}}"));
        } else {
            let own: Vec<String> = selector
                .split(',')
                .map(|one| match one.trim() {
                    ":root" | "svg" => ".drawing".to_owned(),
                    one => format!(".drawing {one}"),
                })
                .collect();
            rules.push(format!("{}{{{body}}}", own.join(",")));
        }
        rest = rest.get(end + 1..).unwrap_or_default().trim_start();
    }
    rules
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_drawing_keeps_to_itself() {
        let drawn = "<!-- made -->\n<svg aria-labelledby=\"t d\"><title id=\"t\">A &quot; id=&quot;</title><style>\n:root{--a:#fff}@media \
                     print{:root{--a:#000}}.f,text{x:y}\n</style><metadata>audit</metadata><g id=\"run-F1\"/></svg>\n";
        let (svg, rules) = inline(drawn, "fig1");
        assert_eq!(
            svg,
            "<svg aria-labelledby=\"fig1-t fig1-d\"><title id=\"fig1-t\">A &quot; id=&quot;</title><g id=\"fig1-run-F1\"/></svg>"
        );
        assert_eq!(
            rules,
            [
                ".drawing{--a:#fff}",
                "@media print{.drawing{--a:#000}}",
                ".drawing .f,.drawing text{x:y}",
            ]
        );
    }
}
