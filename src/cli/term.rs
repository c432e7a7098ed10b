//! Diagnostics drawn for a terminal: the line, a pointer at the word, what was expected, what to do.
//!
//! Only the line in question goes to the drawing library, cut round the word and with control characters made visible,
//! so that a file of 50 MB on one line, a stray escape sequence or a span of somebody's mistake cannot spoil the screen.

use crate::diag::{Diagnostic, Severity, Span};
use annotate_snippets::{AnnotationKind, Element, Group, Level, Origin, Renderer, Snippet};

/// Columns of a line that are shown.
const WIDTH: usize = 100;
/// Columns of them before the word, where the line is cut.
const BEFORE: usize = 40;
/// Columns of the word itself that are pointed at.
const LONGEST_WORD: usize = 50;
/// Diagnostics drawn of one file; the rest is counted.
const MOST: usize = 100;

/// Draws what is to be said about a file, sorted by place (without one first), and a last line that counts it.
///
/// `colour` writes ANSI colours; without it the text is plain. Empty if there is nothing to say.
pub fn draw(file: &str, text: &str, diagnostics: &[Diagnostic], colour: bool) -> String {
    if diagnostics.is_empty() {
        return String::new();
    }
    let renderer = if colour {
        Renderer::styled()
    } else {
        Renderer::plain()
    }
    .term_width(WIDTH + 10);
    let mut sorted: Vec<&Diagnostic> = diagnostics.iter().collect();
    sorted.sort_by_key(|d| d.span.as_ref().map_or((0, 0), |s| (s.start + 1, s.end)));
    let mut lines = Lines::new(text);
    let mut out = String::new();
    let file = visible(file);
    for diagnostic in sorted.iter().take(MOST) {
        out.push_str(&one(&renderer, &file, &mut lines, diagnostic));
        out.push_str("\n\n");
    }
    out.push_str(&count(&file, diagnostics));
    out.push('\n');
    out
}

fn one(renderer: &Renderer, file: &str, lines: &mut Lines, diagnostic: &Diagnostic) -> String {
    let level = match diagnostic.severity {
        Severity::Error => Level::ERROR,
        Severity::Warning => Level::WARNING,
    };
    let title = level
        .primary_title(visible(&diagnostic.message))
        .id(diagnostic.code);
    let mut shown: Vec<Shown> = Vec::new();
    let mut elements: Vec<Element> = Vec::new();
    match &diagnostic.span {
        Some(span) => {
            shown.push(Shown::new(lines, span, &diagnostic.label, true));
            for (span, label) in &diagnostic.also {
                let other = Shown::new(lines, span, label, false);
                match shown
                    .iter_mut()
                    .find(|s| s.line == other.line && s.holds(&other))
                {
                    Some(same) => same.join(&other),
                    None => shown.push(other),
                }
            }
            for line in &shown {
                if line.cut {
                    // the library would count columns from the cut
                    let origin = Origin::path(file.to_owned())
                        .line(line.line)
                        .char_column(line.column);
                    elements.push(origin.into());
                    elements.push(line.snippet().into());
                } else {
                    elements.push(line.snippet().path(file.to_owned()).into());
                }
            }
        }
        None => elements.push(Origin::path(file.to_owned()).into()),
    }
    let group = Group::with_title(title).elements(elements);
    match &diagnostic.help {
        Some(help) => {
            let help = Group::with_title(Level::HELP.secondary_title(visible(help)));
            renderer.render(&[group, help])
        }
        None => renderer.render(&[group]),
    }
}

/// Words under a stretch of a line.
struct Mark {
    from: usize,
    to: usize,
    label: String,
    primary: bool,
}

/// A line as it is drawn: cut, with visible characters only.
struct Shown {
    /// Number from 1.
    line: usize,
    /// Column of the word in the file's own line, in characters from 1.
    column: usize,
    /// Bytes of the file that are shown.
    window: Span,
    /// Whether the line is longer than that.
    cut: bool,
    text: String,
    marks: Vec<Mark>,
}

impl Shown {
    fn new(lines: &mut Lines, span: &Span, label: &str, primary: bool) -> Self {
        let text = lines.text;
        let start = floor(text, span.start.min(text.len()));
        let (line, line_span) = lines.holding(start);
        let start = start.min(line_span.end);
        let end = floor(text, span.end).clamp(start, line_span.end);
        let end = start + bytes_of(&text[start..end], LONGEST_WORD);
        let head = &text[line_span.start..start];
        let column = head.chars().count() + 1;
        let mut window = line_span.clone();
        let fits = text[line_span.clone()].chars().nth(WIDTH).is_none();
        if !fits {
            if column > BEFORE {
                let cut = head
                    .char_indices()
                    .nth_back(BEFORE - 1)
                    .map_or(0, |(at, _)| at);
                window.start = line_span.start + cut;
            }
            window.end = window.start + bytes_of(&text[window.start..line_span.end], WIDTH);
        }
        let (cut_before, cut_after) = (window.start > line_span.start, window.end < line_span.end);
        let before = visible(&text[window.start..start]);
        let word = visible(&text[start..end.min(window.end)]);
        let after = visible(&text[end.min(window.end)..window.end]);
        let lead = if cut_before { "…" } else { "" };
        let from = lead.len() + before.len();
        let mark = Mark {
            from,
            to: from + word.len(),
            label: visible(label),
            primary,
        };
        Self {
            line,
            column,
            window,
            cut: !fits,
            text: format!(
                "{lead}{before}{word}{after}{}",
                if cut_after { "…" } else { "" }
            ),
            marks: vec![mark],
        }
    }

    /// Whether the other's word is on this same piece of line.
    fn holds(&self, other: &Self) -> bool {
        self.window == other.window && self.text == other.text
    }

    fn join(&mut self, other: &Self) {
        self.marks.extend(other.marks.iter().map(|m| Mark {
            from: m.from,
            to: m.to,
            label: m.label.clone(),
            primary: m.primary,
        }));
    }

    fn snippet(&self) -> Snippet<'_, annotate_snippets::Annotation<'_>> {
        let kind = |m: &Mark| {
            if m.primary {
                AnnotationKind::Primary
            } else {
                AnnotationKind::Context
            }
        };
        let marks = self.marks.iter().map(|m| {
            let mark = kind(m).span(m.from..m.to);
            if m.label.is_empty() {
                mark
            } else {
                mark.label(m.label.as_str())
            }
        });
        Snippet::source(self.text.as_str())
            .line_start(self.line)
            .annotations(marks)
    }
}

/// Finds lines; quick for places that rise.
struct Lines<'t> {
    text: &'t str,
    /// Start of the line that was found last, and its number.
    at: usize,
    number: usize,
}

impl<'t> Lines<'t> {
    fn new(text: &'t str) -> Self {
        Self {
            text,
            at: 0,
            number: 1,
        }
    }

    /// Number from 1 and bytes, without its end, of the line that holds a byte.
    fn holding(&mut self, byte: usize) -> (usize, Span) {
        if byte < self.at {
            (self.at, self.number) = (0, 1);
        }
        let ahead = &self.text.as_bytes()[self.at..byte];
        self.number += ahead.iter().filter(|b| **b == b'\n').count();
        if let Some(last) = ahead.iter().rposition(|b| *b == b'\n') {
            self.at += last + 1;
        }
        let rest = &self.text[self.at..];
        let line = rest.split('\n').next().unwrap_or_default();
        let line = line.strip_suffix('\r').unwrap_or(line);
        (self.number, self.at..self.at + line.len())
    }
}

/// The nearest start of a character at or before a byte.
fn floor(text: &str, byte: usize) -> usize {
    let mut at = byte.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

/// Bytes of the first characters of a text.
fn bytes_of(text: &str, characters: usize) -> usize {
    text.char_indices()
        .nth(characters)
        .map_or(text.len(), |(at, _)| at)
}

/// One visible character for each: tabs are blanks, control and direction-changing characters a sign of their own.
fn visible(text: &str) -> String {
    let sign = |c: char| match c {
        '\t' => ' ',
        '\u{0}'..='\u{1f}' => char::from_u32(0x2400 + u32::from(c)).unwrap_or('�'),
        '\u{7f}' => '␡',
        '\u{80}'..='\u{9f}'
        | '\u{200b}'..='\u{200f}'
        | '\u{2028}'..='\u{202e}'
        | '\u{2060}'..='\u{206f}'
        | '\u{feff}' => '�',
        c => c,
    };
    text.chars().map(sign).collect()
}

fn count(file: &str, diagnostics: &[Diagnostic]) -> String {
    let errors = diagnostics
        .iter()
        .filter(|d| d.severity == Severity::Error)
        .count();
    let warnings = diagnostics.len() - errors;
    let several = |n: usize, word: &str| match n {
        0 => None,
        1 => Some(format!("1 {word}")),
        n => Some(format!("{n} {word}s")),
    };
    let told: Vec<String> = [several(errors, "error"), several(warnings, "warning")]
        .into_iter()
        .flatten()
        .collect();
    let rest = diagnostics.len().saturating_sub(MOST);
    let shown = if rest > 0 {
        format!("; the first {MOST} are shown")
    } else {
        String::new()
    };
    format!("{file}: {}{shown}", told.join(", "))
}

#[cfg(test)]
mod tests {
    use super::*;

    const HOUSE: &str = "job = \"Lärche\"\r\n[pair]\r\nout = [\"heat pump\", \"cupboard\", \"cu23 5m\"]\r\nin = [\"cupbord\", \"x\", \"cu22 1m\"]\r\n";

    fn at(word: &str) -> Span {
        let start = HOUSE.find(word).expect("a word of the file");
        start..start + word.len()
    }

    #[test]
    fn a_file_with_two_mistakes_and_a_warning() {
        let mistakes = [
            Diagnostic::error(
                "unknown-place",
                at("cupbord"),
                "there is no place `cupbord`",
            )
            .label("met only here")
            .also(at("cupboard"), "the nearest place")
            .help("did you mean `cupboard`?"),
            Diagnostic::error("unknown-pipe", at("cu23"), "there is no pipe `cu23`")
                .label("expected a pipe of the catalogue")
                .help("did you mean `cu22`?"),
            Diagnostic::warning("odd", at("Lärche"), "is that so?"),
        ];
        let drawn = draw("larch.toml", HOUSE, &mistakes, false);
        insta::assert_snapshot!(drawn, @r#"
        warning[odd]: is that so?
         --> larch.toml:1:8
          |
        1 | job = "Lärche"
          |        ^^^^^^

        error[unknown-pipe]: there is no pipe `cu23`
         --> larch.toml:3:34
          |
        3 | out = ["heat pump", "cupboard", "cu23 5m"]
          |                                  ^^^^ expected a pipe of the catalogue
          |
        help: did you mean `cu22`?

        error[unknown-place]: there is no place `cupbord`
         --> larch.toml:4:8
          |
        4 | in = ["cupbord", "x", "cu22 1m"]
          |        ^^^^^^^ met only here
          |
         ::: larch.toml:3:22
          |
        3 | out = ["heat pump", "cupboard", "cu23 5m"]
          |                      -------- the nearest place
          |
        help: did you mean `cupboard`?

        larch.toml: 2 errors, 1 warning
        "#);
        assert!(draw("larch.toml", HOUSE, &mistakes, true).contains('\u{1b}'));
    }

    #[test]
    fn long_lines_are_cut_round_the_word() {
        let text = format!("{}é WORD {}", "ä".repeat(3_000_000), "x".repeat(3_000_000));
        let start = text.find("WORD").expect("the word");
        let drawn = draw(
            "f",
            &text,
            &[Diagnostic::error("e", start..start + 4, "m").label("here")],
            false,
        );
        assert!(drawn.len() < 1500, "{}", drawn.len());
        assert!(drawn.contains("f:1:3000003"), "{drawn}");
        assert!(
            drawn.contains("WORD") && drawn.contains("^^^^ here"),
            "{drawn}"
        );
    }

    #[test]
    fn any_span_and_any_character_is_drawn() {
        let text = "a\u{1b}[31m\u{202e}b\tü\u{0}\n\n日本 c\r\n\u{feff}";
        for start in 0..text.len() + 3 {
            for end in 0..text.len() + 3 {
                let mut mistake =
                    Diagnostic::error("e", start..end, "\u{1b}[2J message\n").label("l\u{7}");
                mistake.also = vec![
                    (end..start, "also".into()),
                    (usize::MAX..usize::MAX, "far".into()),
                ];
                let drawn = draw("f\u{1b}", text, &[mistake], false);
                assert!(
                    !drawn.chars().any(|c| c.is_control() && c != '\n'),
                    "{drawn:?}"
                );
            }
        }
        assert_eq!(
            draw("f", "", &[Diagnostic::error("e", 0..0, "empty")], false)
                .lines()
                .last(),
            Some("f: 1 error")
        );
    }
}
