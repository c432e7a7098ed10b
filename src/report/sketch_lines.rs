//! Lines of the text drawing in columns that hold over the whole tree; names give way, figures never.

use super::layout::{WIDE, name, paragraph_in};
use unicode_width::UnicodeWidthStr;

/// What kind of thing a line names: its brackets.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum Shape {
    #[default]
    Plain,
    Emitter,
    Plant,
    Device,
}

/// One thing of the tree.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Line {
    /// Lines of the tree before it.
    pub lead: String,
    /// Lines of the tree beside what is broken off it.
    pub below: String,
    pub shape: Shape,
    /// The user's name.
    pub name: String,
    /// A tag or a type, never shortened.
    pub tail: String,
    /// On an index circuit.
    pub index: bool,
    pub verdict: &'static str,
    /// Of a pipe; of an emitter its heat.
    pub size: String,
    pub flow: String,
    pub velocity: String,
    /// What stands behind the figures.
    pub notes: Vec<String>,
}

/// A name is not shortened below this.
const LEAST_NAME: usize = 14;
/// The column of verdicts: `depends`.
const VERDICT: usize = 7;

impl Line {
    fn brackets(&self) -> (&'static str, &'static str) {
        match self.shape {
            Shape::Plain => ("", ""),
            Shape::Emitter => ("[", "]"),
            Shape::Plant => ("{", "}"),
            Shape::Device => ("(", ")"),
        }
    }

    /// Figures make a row of columns; a heading has none.
    fn is_row(&self) -> bool {
        !self.lead.is_empty()
    }

    fn tree(&self, most: usize) -> String {
        let (open, close) = self.brackets();
        let rest = self.lead.width() + open.len() + close.len() + self.tail.width();
        let room = most.saturating_sub(rest).max(LEAST_NAME);
        format!(
            "{}{open}{}{close}{}",
            self.lead,
            name(&self.name, room),
            self.tail
        )
    }
}

/// Joins each pipe that goes on (`> `) to the pipe above it: until then that one seemed the last of its branch.
fn joined(lines: &[Line]) -> Vec<Line> {
    let mut lines = lines.to_vec();
    for i in 0..lines.len() {
        let Some(at) = lines[i].lead.strip_suffix("`> ").map(str::len) else {
            continue;
        };
        for above in lines[..i].iter_mut().rev() {
            let begins = above.lead.get(at..).is_some_and(|l| l.starts_with('`'));
            for text in [&mut above.lead, &mut above.below] {
                // the lines of the tree are ASCII
                if matches!(text.get(at..=at), Some("`" | " ")) {
                    text.replace_range(at..=at, "|");
                }
            }
            if begins {
                break;
            }
        }
    }
    lines
}

/// All lines, one column for each kind of figure.
pub(super) fn lay_out(lines: &[Line]) -> String {
    let lines = joined(lines);
    let rows = || lines.iter().filter(|l| l.is_row());
    let widest = |of: fn(&Line) -> &str| rows().map(|l| of(l).width()).max().unwrap_or(0);
    let size = widest(|l| &l.size);
    let flow = widest(|l| &l.flow);
    let velocity = widest(|l| &l.velocity);
    // star, verdict and three figures, each with a blank before it
    let figures = 2 + 1 + VERDICT + 3 + size + flow + velocity;
    let most = WIDE.saturating_sub(figures);
    let tree = rows().map(|l| l.tree(most).width()).max().unwrap_or(0);
    let mut out = String::new();
    for line in &lines {
        if !line.is_row() {
            heading(&mut out, line);
            continue;
        }
        let text = line.tree(most);
        let pad = " ".repeat(tree.saturating_sub(text.width()));
        let star = if line.index { "*" } else { " " };
        let verdict = line.verdict;
        let right = |text: &str, wide: usize| {
            format!("{}{text}", " ".repeat(wide.saturating_sub(text.width())))
        };
        let left = |text: &str, wide: usize| {
            format!("{text}{}", " ".repeat(wide.saturating_sub(text.width())))
        };
        // of an emitter it is heat, which lines up by its unit
        let first = if line.shape == Shape::Emitter {
            right(&line.size, size)
        } else {
            left(&line.size, size)
        };
        let mut now = format!(
            "{text}{pad} {star} {verdict:<VERDICT$} {first} {} {}",
            right(&line.flow, flow),
            right(&line.velocity, velocity),
        );
        let mut rest: Vec<&str> = Vec::new();
        for note in &line.notes {
            if rest.is_empty() && now.width() + 2 + note.width() <= WIDE {
                now = format!("{now}  {note}");
            } else {
                rest.push(note);
            }
        }
        out.push_str(now.trim_end());
        out.push('\n');
        for note in rest {
            let lead = format!("{}   ", line.below);
            out.push_str(&paragraph_in(&lead, note, WIDE));
        }
    }
    out
}

fn heading(out: &mut String, line: &Line) {
    let mut words = line.name.clone();
    if !line.verdict.is_empty() {
        words.push_str(&format!("; {}", line.verdict));
        if !line.notes.is_empty() {
            words.push_str(&format!(": {}", line.notes.join(", ")));
        }
    }
    out.push_str(&paragraph_in("", &words, WIDE));
}
