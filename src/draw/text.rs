//! The schematic in plain text, 100 columns: what an installer reads over a line or pastes in a message.

use super::chart::{Bit, Block, Root};
use super::figures::Figures;
use super::layout::Part;
use super::plan::{Body, Row, Stack};
use super::style::Style;
use super::words::{Words, tidy};
use crate::check::Verdict;
use crate::network::Role;
use crate::view::Through;
use unicode_width::UnicodeWidthStr;

/// Columns of a line.
const COLUMNS: usize = 100;

struct Page<'a> {
    figures: &'a Figures<'a>,
    words: &'a Words<'a>,
    style: &'a Style,
    lines: Vec<String>,
}

/// Draw all parts.
pub(crate) fn draw(parts: &[Part], figures: &Figures, words: &Words, style: &Style) -> String {
    let network = figures.network;
    let mut page = Page {
        figures,
        words,
        style,
        lines: Vec::new(),
    };
    page.push(0, &tidy(&network.title, 90).0, "");
    if !style.subtitle.is_empty() {
        page.push(0, &tidy(&style.subtitle, 90).0, "");
    }
    page.summary();
    page.lines.push(String::new());
    for part in parts {
        match part.component.root {
            Root::Source(i) => {
                let source = &network.sources[i];
                let output = source
                    .output_w
                    .map_or(String::new(), |w| format!(", {}", words.power(w)));
                page.push(0, &format!("[{}{output}]", tidy(&source.name, 40).0), "");
            }
            Root::Exchanger(i) => {
                let name = network.exchangers.get(i).map_or("", |x| x.name.as_str());
                page.push(0, &format!("[behind {}]", tidy(name, 40).0), "");
            }
            Root::Nothing | Root::Away(_) => page.push(0, "(a part without a source)", ""),
        }
        page.row(&part.row, 1);
        for way in &part.aside {
            let ends = match way.to {
                Some(_) => "across: ",
                None => "ends blind: ",
            };
            page.way(&way.bits, 1, ends);
        }
        page.lines.push(String::new());
    }
    page.push(
        0,
        "* index circuit   !! fails   ! tight   ? depends   > flow   < return   [ ] body   ( ) device",
        "",
    );
    let mut text = page.lines.join("\n");
    text.push('\n');
    text
}

impl Page<'_> {
    /// A line, broken at its joints where it grows too long.
    fn push(&mut self, depth: usize, text: &str, lead: &str) {
        let indent = "   ".repeat(depth.min(12));
        let mut now = format!("{indent}{lead}");
        let mut empty = true;
        for piece in text.split(" - ") {
            let joint = if empty { "" } else { " - " };
            if !empty && now.width() + joint.len() + piece.width() > COLUMNS {
                self.lines.push(std::mem::take(&mut now));
                now = format!("{indent}{}{piece}", " ".repeat(lead.width() + 2));
            } else {
                now.push_str(joint);
                now.push_str(piece);
            }
            empty = false;
        }
        // what is longer than a line by itself is broken between words, so that no figure is cut
        let further = format!("{indent}{}", " ".repeat(lead.width() + 4));
        while now.width() > COLUMNS {
            let most = |(at, _): &(usize, &str)| now[..*at].width() <= COLUMNS;
            let blanks = now.match_indices(' ').filter(most);
            let begun = now.len() - now.trim_start().len();
            let at = blanks.map(|b| b.0).rfind(|at| *at > begun);
            let Some(at) = at else { break };
            let rest = format!("{further}{}", &now[at + 1..]);
            now.truncate(at);
            self.lines.push(std::mem::replace(&mut now, rest));
        }
        // a word that fills a line is a name, which gives way
        while now.width() > COLUMNS {
            now.pop();
        }
        self.lines.push(now);
    }

    fn summary(&mut self) {
        let f = self.figures;
        if !f.solved {
            self.push(0, "not solved: no figures to show", "");
        }
        let mut lines = Vec::new();
        for circuit in f.required.map_or(&[][..], |r| &r.circuits) {
            let Some(path) = circuit.paths.get(circuit.index) else {
                continue;
            };
            let through: Through = path.through;
            let has = circuit.available_pa.map_or(String::new(), |p| {
                format!(", has {}", self.words.pressure(p))
            });
            lines.push(format!(
                "{}: {}, needs {}{has}; index {}",
                tidy(&circuit.name, 20).0,
                self.words.flow(circuit.flow_m3_s),
                self.words.pressure(circuit.needed_pa),
                tidy(&through.name(f.network), 20).0
            ));
        }
        for line in lines {
            self.push(0, &line, "");
        }
    }

    fn run(&self, run: usize) -> String {
        let (Some(info), Some(show)) = (
            self.figures.network.runs.get(run),
            self.figures.runs.get(run),
        ) else {
            return String::new();
        };
        let text = self.words.run(self.figures, run, self.style);
        let mark = match self.figures.run_status.get(run).copied().flatten() {
            Some(s) if s.verdict == Verdict::Fails => "!!",
            Some(s) if s.verdict == Verdict::Depends => "?",
            Some(s) if s.verdict == Verdict::Tight => "!",
            _ => "",
        };
        let index = if show.index { "*" } else { "" };
        let words: Vec<String> = text.lines.into_iter().map(|l| l.text).collect();
        format!("{index}{mark}{} {}", tidy(&info.tag, 10).0, words.join(" "))
    }

    fn device(&self, id: crate::network::ElementId) -> Option<String> {
        let element = self.figures.network.element(id);
        let shut = self.figures.shut.get(id.index()).copied().unwrap_or(false);
        let word = match element.role {
            Role::Pump => "pump",
            Role::CheckValve => "check valve",
            Role::EmitterValve | Role::Lockshield => {
                return shut.then(|| format!("({} SHUT)", tidy(&element.name, 30).0));
            }
            Role::Valve | Role::BlendInlet => "valve",
            Role::FlowHolder => "flow-holding valve",
            Role::Vessel => "vessel",
            _ => return None,
        };
        Some(if shut {
            format!("({word} SHUT)")
        } else {
            format!("({word})")
        })
    }

    fn block(&self, block: Block) -> String {
        let n = self.figures.network;
        match block {
            Block::Emitter(i) => {
                let text = self.words.emitter(self.figures, i, self.style);
                let lines = text.lines.into_iter().map(|l| l.text);
                // how its lockshield stands is for the sheet: a line has no room for it
                let words: Vec<String> = lines.filter(|l| !l.starts_with("lockshield")).collect();
                format!("[{}]", words.join(", "))
            }
            Block::Source(i) => named(n.sources.get(i).map(|s| &s.name)),
            Block::Cylinder(i) => named(n.cylinders.get(i).map(|c| &c.name)),
            Block::Vessel(i) => named(n.vessels.get(i).map(|v| &v.name)),
            Block::Exchanger(i, _) => named(n.exchangers.get(i).map(|x| &x.name)),
            Block::Device(id) => named(Some(&n.element(id).name)),
        }
    }

    /// The words of a way, `>` before its first block and `<` after it.
    fn words_of(&self, bits: &[Bit], mut sign: &'static str) -> Vec<String> {
        let mut all = Vec::new();
        for bit in bits {
            match bit {
                Bit::Line(run, _) => all.push(format!("{sign} {}", self.run(*run))),
                Bit::Dev(id, _) => all.extend(self.device(*id)),
                Bit::Block(block, _) => {
                    all.push(self.block(*block));
                    sign = "<";
                }
                Bit::Par(par) => {
                    for (i, kid) in par.kids.iter().enumerate() {
                        let inner = self.words_of(kid, sign);
                        all.push(format!(
                            "{}{}",
                            if i == 0 { "(" } else { "| " },
                            inner.join(" - ")
                        ));
                    }
                    all.push(")".into());
                }
                Bit::Strip(strip) => {
                    for rung in &strip.rungs {
                        all.extend(self.words_of(rung, sign));
                    }
                }
                Bit::Node(_) => {}
            }
        }
        all
    }

    fn way(&mut self, bits: &[Bit], depth: usize, lead: &str) {
        let words = self.words_of(bits, ">");
        if !words.is_empty() {
            self.push(depth, &words.join(" - "), lead);
        }
    }

    fn rails(&mut self, flow: &[Bit], back: &[Bit], depth: usize) {
        let mut words = self.words_of(flow, ">");
        words.extend(self.words_of(back, "<"));
        if !words.is_empty() {
            self.push(depth, &words.join(" - "), "|  ");
        }
    }

    fn row(&mut self, row: &Row, depth: usize) {
        for cell in &row.cells {
            self.rails(&cell.flow, &cell.back, depth);
            match &cell.body {
                Body::Rung(bits) => self.way(bits, depth, "+- "),
                Body::Loop(bits) => self.way(bits, depth, "o- "),
                Body::Nested(inner) => {
                    self.push(depth, "", "+-.");
                    self.row(inner, depth + 1);
                }
                Body::Table(_) | Body::Away(..) => {}
            }
        }
        if row.reverse {
            self.rails(&[], &row.home, depth);
        }
        if let Some(stack) = &row.end {
            self.stack(stack, depth);
        }
    }

    fn stack(&mut self, stack: &Stack, depth: usize) {
        self.rails(&stack.flow, &stack.back, depth);
        for row in &stack.rows {
            self.push(depth, "", "+=.");
            self.row(row, depth + 1);
        }
    }
}

fn named(name: Option<&String>) -> String {
    format!("[{}]", tidy(name.map_or("", String::as_str), 40).0)
}
