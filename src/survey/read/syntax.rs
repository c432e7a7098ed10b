//! What can be said about a text before it is a document: empty, binary, too large, not TOML.

use super::MOST_BYTES;
use super::reader::short;
use crate::diag::{Diagnostic, Span};
use std::collections::BTreeMap;
use toml::Spanned;
use toml::de::DeTable;

/// Codes of mistakes that a word makes by itself, whatever the rest of the file says.
const LOCAL: &[&str] = &[
    "unknown-key",
    "unknown-section",
    "unknown-word",
    "unit-missing",
    "unit-unknown",
    "unit-wrong-kind",
    "number-expected",
    "number-comma",
    "number-not-finite",
    "number-negative",
    "number-zero",
];

/// A file in which nothing at all can be read.
pub(crate) fn hopeless(file: &str) -> Option<Diagnostic> {
    if file.len() > MOST_BYTES {
        let megabytes = file.len() as f64 / 1e6;
        return Some(
            Diagnostic::error(
                "file-too-large",
                0..0,
                format!("the file has {megabytes:.0} MB; a network file has a few kB"),
            )
            .label("not read")
            .help("is this the right file?"),
        );
    }
    let odd = |c: char| c == '\0' || c == '\u{fffd}' || (c.is_control() && !"\n\r\t".contains(c));
    if let Some((at, c)) = file.char_indices().find(|(_, c)| odd(*c)) {
        return Some(
            Diagnostic::error(
                "file-binary",
                at..at + c.len_utf8(),
                "the file is not text: it holds control characters",
            )
            .label("a control character")
            .help("a network file is plain text in UTF-8; is this the right file?"),
        );
    }
    let written = |line: &str| {
        !line.trim_start_matches('\u{feff}').trim().is_empty()
            && !line.trim_start().starts_with('#')
    };
    if !file.lines().any(written) {
        return Some(
            Diagnostic::error("file-empty", 0..0, "the file is empty")
                .label("nothing is written here")
                .help("`pipecarry new` prints a starter file"),
        );
    }
    None
}

/// The document as far as it can be read, and what is not TOML, the first of each line.
pub(crate) fn parse(file: &str) -> (Spanned<DeTable<'_>>, Vec<Diagnostic>) {
    let (document, errors) = DeTable::parse_recoverable(file);
    let mut by_line: BTreeMap<usize, Diagnostic> = BTreeMap::new();
    for error in errors {
        let span = error.span().unwrap_or(file.len()..file.len());
        let span = on_characters(file, span);
        let line = line_start(file, span.start);
        let diagnostic = match error.message() {
            "duplicate key" => duplicate(file, &document, span),
            message => not_toml(file, line, span, message),
        };
        by_line.entry(line).or_insert(diagnostic);
    }
    (document, by_line.into_values().collect())
}

/// A place within the text that begins and ends between characters.
fn on_characters(file: &str, span: Span) -> Span {
    let back = |mut i: usize| {
        i = i.min(file.len());
        while !file.is_char_boundary(i) {
            i -= 1;
        }
        i
    };
    let start = back(span.start);
    start..back(span.end).max(start)
}

fn line_start(file: &str, at: usize) -> usize {
    file.get(..at)
        .and_then(|before| before.rfind('\n'))
        .map_or(0, |n| n + 1)
}

fn line_at(file: &str, start: usize) -> &str {
    file.get(start..)
        .and_then(|rest| rest.lines().next())
        .unwrap_or("")
}

fn duplicate(file: &str, document: &Spanned<DeTable<'_>>, span: Span) -> Diagnostic {
    let word = file
        .get(span.clone())
        .unwrap_or("")
        .trim()
        .trim_matches(['"', '\'']);
    let diagnostic = Diagnostic::error(
        "duplicate-key",
        span.clone(),
        format!("`{}` is written twice", short(word)),
    )
    .label("the second time")
    .help("give it another name, or take one of the two out");
    match first_of(document.get_ref(), word, span.start) {
        Some(first) => diagnostic.also(first, "the first time"),
        None => diagnostic,
    }
}

/// The last key of this name that stands before `before`.
fn first_of(table: &DeTable<'_>, word: &str, before: usize) -> Option<Span> {
    let mut found: Option<Span> = None;
    let mut tables = vec![table];
    while let Some(table) = tables.pop() {
        for (key, value) in table {
            let span = key.span();
            let later = found.as_ref().is_none_or(|f| f.start < span.start);
            if key.get_ref() == word && span.end <= before && later {
                found = Some(span);
            }
            tables.extend(value.get_ref().as_table());
        }
    }
    found
}

fn not_toml(file: &str, line: usize, span: Span, message: &str) -> Diagnostic {
    let text = line_at(file, line);
    let value = text.split_once('=').map_or("", |(_, v)| v.trim());
    let opens = |open: char, close: char| text.matches(open).count() > text.matches(close).count();
    let bare =
        value.starts_with(|c: char| c.is_alphanumeric() || "+-.".contains(c)) && !value.is_empty();
    let help = if message.contains("recurs") {
        "so many brackets within brackets are no network file".to_owned()
    } else if message.contains("array") {
        "a list above is not closed with `]`, or its items are not parted by commas".to_owned()
    } else if text.matches('"').count() % 2 == 1 {
        "a quote is not closed on this line".to_owned()
    } else if bare && value.contains(|c: char| c.is_alphabetic()) {
        let word = value.split('#').next().unwrap_or(value).trim();
        format!(
            "text and figures with a unit stand in quotes: `\"{}\"`",
            short(word)
        )
    } else if bare && value.contains(',') {
        format!(
            "a point is the decimal sign: `{}`",
            short(&value.replace(',', "."))
        )
    } else if opens('[', ']') {
        "a bracket `[` is not closed".to_owned()
    } else if opens('{', '}') {
        "a brace `{` is not closed; what is within braces stands on one line".to_owned()
    } else if !text.contains('=') && !text.trim_start().starts_with('[') {
        "a line is `name = value`, a `[heading]`, or a comment after `#`".to_owned()
    } else if value.is_empty() {
        "write a value after the `=`".to_owned()
    } else {
        "a name with blanks or accents stands in quotes, items of a list are parted by commas, and each line holds one `name = value`".to_owned()
    };
    Diagnostic::error("syntax", span, "this line cannot be read as TOML")
        .label(message.to_owned())
        .help(help)
}

/// Keeps of what was found in a broken document only what a word does wrong by itself, away from the broken lines.
pub(crate) fn keep_local(file: &str, found: &mut Vec<Diagnostic>, broken: &[Diagnostic]) {
    let lines: Vec<usize> = broken
        .iter()
        .filter_map(|d| Some(line_start(file, d.span.as_ref()?.start)))
        .collect();
    found.retain(|d| {
        let line = d.span.as_ref().map(|s| line_start(file, s.start));
        LOCAL.contains(&d.code) && line.is_some_and(|l| !lines.contains(&l))
    });
}
