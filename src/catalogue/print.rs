//! The catalogue as text of 80 columns: every row with how far to trust it and a number for its source, the sources
//! under each family.

use super::families::{Row, Section, sections};
use super::{Catalogue, key};
use std::fmt::Write;

const WIDTH: usize = 80;

/// A part of a word so short says nothing where a whole word is meant.
const SHORT: usize = 3;

/// Everything that `filter` (a family, a word or part of one, or empty for all) names; empty if it names nothing.
pub fn print(catalogue: &Catalogue, filter: &str) -> String {
    let wanted = key(filter);
    let sections = sections(catalogue);
    let whole = |row: &Row| row.words.iter().any(|w| key(w) == wanted);
    let part = |row: &Row| row.words.iter().any(|w| key(w).contains(&wanted));
    let family = |section: &Section| section.keys.iter().any(|k| key(k) == wanted);
    let named = sections
        .iter()
        .any(|s| family(s) || s.rows.iter().any(whole));
    let by_part = wanted.chars().count() >= SHORT || !named;
    let mut out = String::new();
    for section in &sections {
        let all = wanted.is_empty() || family(section);
        let fits = |row: &&Row| all || whole(row) || (by_part && part(row));
        // a family that is named is not joined by words of others
        let other = !all && sections.iter().any(family);
        let rows: Vec<&Row> = section
            .rows
            .iter()
            .filter(fits)
            .filter(|_| !other)
            .collect();
        if !rows.is_empty() {
            print_section(&mut out, section, &rows);
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
