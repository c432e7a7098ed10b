//! The catalogue as text of 80 columns: every row with how far to trust it and a number for its source, the sources
//! under each family.

use super::families::{Row, Section, sections};
use super::{Catalogue, key};
use std::fmt::Write;

const WIDTH: usize = 80;

/// Everything that `filter` (a family, a word, or empty for all) names; empty if it names nothing.
pub fn print(catalogue: &Catalogue, filter: &str) -> String {
    let wanted = key(filter);
    let mut out = String::new();
    for section in sections(catalogue) {
        let all = wanted.is_empty() || section.keys.iter().any(|k| key(k) == wanted);
        let rows: Vec<&Row> = section
            .rows
            .iter()
            .filter(|row| all || row.words.iter().any(|w| key(w) == wanted))
            .collect();
        if !rows.is_empty() {
            print_section(&mut out, &section, &rows);
        }
    }
    out
}

fn print_section(out: &mut String, section: &Section, rows: &[&Row]) {
    if !out.is_empty() {
        out.push('\n');
    }
    let _ = writeln!(out, "{}", section.title.to_uppercase());
    if !section.head.is_empty() {
        let _ = writeln!(out, "{}", section.head);
    }
    let mut sources: Vec<&str> = Vec::new();
    for row in rows {
        let number = match sources.iter().position(|s| *s == row.source) {
            Some(at) => at + 1,
            None => {
                sources.push(&row.source);
                sources.len()
            }
        };
        let mark = format!("{} [{number}]", row.confidence);
        let mut lines = row.text.lines().peekable();
        while let Some(line) = lines.next() {
            if lines.peek().is_none() && line.chars().count() + mark.len() < WIDTH {
                let blanks = WIDTH - line.chars().count() - mark.len();
                let _ = writeln!(out, "{line}{}{mark}", " ".repeat(blanks));
            } else if lines.peek().is_none() {
                let _ = writeln!(out, "{line}\n{}{mark}", " ".repeat(WIDTH - mark.len()));
            } else {
                let _ = writeln!(out, "{line}");
            }
        }
    }
    for (at, source) in sources.iter().enumerate() {
        out.push_str(&wrap(&format!("  [{}] ", at + 1), source));
    }
}

/// Words on lines of the width, every line after the first indented like the text of the first.
pub(super) fn wrap(lead: &str, text: &str) -> String {
    let indent = " ".repeat(lead.chars().count());
    let mut out = String::from(lead);
    let mut column = lead.chars().count();
    let mut fresh = true;
    for word in text.split_whitespace() {
        let width = word.chars().count();
        if !fresh && column + 1 + width > WIDTH {
            let _ = write!(out, "\n{indent}");
            column = indent.len();
            fresh = true;
        }
        if !fresh {
            out.push(' ');
            column += 1;
        }
        out.push_str(word);
        column += width;
        fresh = false;
    }
    out.push('\n');
    out
}
