//! The small language of a leg: pipe, length, then what is met along ONE pipe, in the order met.
//!
//! ```text
//! cu22? 5..7m 2 elbow under tiles, strainer kv 9 on return
//! ```
//!
//! The grammar stands as EBNF in DEVELOPERS.md. All mistakes of a leg are found in one pass; each points at its word and
//! proposes the nearest right one.

mod cursor;
mod item;
mod pipe;
mod print;
mod size;

pub use print::print;

use crate::catalogue::Catalogue;
use crate::diag::{Diagnostic, Span};
use crate::quantity::Metre;
use crate::survey::{Leg, Range};
use crate::units::{self, Quantity, Sign, UnitError};
use cursor::Cursor;

/// More mistakes than these in one leg are not told one by one.
const MOST_MISTAKES: usize = 20;

/// Bytes of a text to bytes of the file.
type Place<'p> = &'p dyn Fn(std::ops::Range<usize>) -> Span;

/// Reads a leg whose text begins at byte `base` of the file and stands there as it is.
///
/// # Errors
/// Every mistake of the leg, with its place in the file.
pub fn parse(text: &str, base: usize, catalogue: &Catalogue) -> Result<Leg, Vec<Diagnostic>> {
    parse_placed(
        text,
        &|range| base + range.start..base + range.end,
        catalogue,
    )
}

/// Reads a leg whose text stands in the file with escapes: `place` turns bytes of the text into bytes of the file.
///
/// # Errors
/// As [`parse`].
pub fn parse_placed(
    text: &str,
    place: Place,
    catalogue: &Catalogue,
) -> Result<Leg, Vec<Diagnostic>> {
    let mut reader = Reader {
        cursor: Cursor::new(text),
        place,
        catalogue,
        mistakes: Vec::new(),
    };
    match reader.leg() {
        Some(leg) if reader.mistakes.is_empty() => Ok(leg),
        _ => Err(reader.mistakes),
    }
}

struct Reader<'t, 'c> {
    cursor: Cursor<'t>,
    place: Place<'c>,
    catalogue: &'c Catalogue,
    mistakes: Vec<Diagnostic>,
}

impl<'t> Reader<'t, '_> {
    fn leg(&mut self) -> Option<Leg> {
        let whole = (self.place)(0..self.cursor.text.len());
        self.cursor.skip_separators();
        if self.cursor.at_end() {
            self.mistakes.push(
                Diagnostic::error("leg-empty", whole, "the leg is empty")
                    .label("expected a pipe, its length and what is met on the way")
                    .help("for example \"cu22 5m 2 elbow\""),
            );
            return None;
        }
        let pipe = self.pipe();
        self.cursor.skip_separators();
        let length = self.length();
        let read = pipe.is_some() && length.is_some();
        let (length, length_shared) = length.unwrap_or((exactly(1.0), None));
        let mut leg = Leg {
            pipe: pipe.unwrap_or_else(pipe::stand_in),
            length,
            length_shared,
            items: Vec::new(),
            lies: None,
            lagging: None,
            storey: None,
            condition: None,
            span: whole,
        };
        loop {
            let comma = self.cursor.skip_separators();
            if self.cursor.at_end() {
                break;
            }
            if self.mistakes.len() >= MOST_MISTAKES {
                self.mistake(
                    "leg-unreadable",
                    self.cursor.at..self.cursor.text.len(),
                    |d| {
                        d.message = "the rest of this leg was not read".into();
                        d.label = "too much is wrong before this".into();
                        d.help = Some("correct the first mistakes, then read it again".into());
                    },
                );
                break;
            }
            let before = self.cursor.at;
            self.part(&mut leg, comma);
            if self.cursor.at == before {
                self.cursor.skip_char(); // no way to read on must ever become an endless one
            }
        }
        self.check_inserts(&leg);
        read.then_some(leg)
    }

    /// `5m`, `5..7m`, `3..4m?coil`.
    fn length(&mut self) -> Option<(Range<Metre>, Option<String>)> {
        if !self.cursor.at_number() {
            self.mistake("leg-length-missing", self.cursor.word_or_end(), |d| {
                d.message = "the length of the pipe is missing".into();
                d.label = "expected a length here, such as 5m".into();
                d.help = Some("a leg is pipe, length, then fittings: \"cu22 5m 2 elbow\"".into());
            });
            return None;
        }
        let range = self.range(Quantity::RunLength, "length")?;
        let shared = if self.cursor.eat('?') {
            self.cursor.name()
        } else {
            None
        };
        Some((range, shared))
    }

    /// A length or `low..high` of it; the unit may be written once, at the end.
    fn range(&mut self, quantity: Quantity, subject: &str) -> Option<Range<Metre>> {
        self.cursor.skip_blanks();
        let start = self.cursor.at;
        let first = self.prefix(quantity, subject)?;
        let digits = start..self.cursor.at;
        if !self.cursor.eat_str("..") {
            return Some(exactly(first.value));
        }
        let second_at = self.cursor.at;
        let second = self.prefix(quantity, subject)?;
        let text = self.cursor.text;
        let mut low = first.value;
        if second.has_unit && !first.has_unit {
            let second_text = &text[second_at..self.cursor.at];
            let unit =
                second_text.trim_start_matches(|c: char| c.is_ascii_digit() || " ./".contains(c));
            low = units::read(quantity, &format!("{} {unit}", &text[digits])).unwrap_or(low);
        }
        let high = second.value;
        if low > high {
            let range = start..self.cursor.at;
            let written = clip(&text[range.clone()]);
            self.mistake("range-reversed", range, |d| {
                d.message = format!("{subject}: the range `{written}` goes down");
                d.label = "the smaller value comes first".into();
                d.help = Some("write it low..high, as in 5..7m".into());
            });
            return None;
        }
        Some(Range {
            likeliest: Metre(0.5 * (low + high)),
            low: Metre(low),
            high: Metre(high),
        })
    }

    /// Reads a value and tells its mistake; the cursor stands behind it either way.
    fn prefix(&mut self, quantity: Quantity, subject: &str) -> Option<units::Prefix> {
        let text = self.value_text();
        match units::prefix(quantity, text, Sign::Positive) {
            Ok(read) => {
                self.cursor.advance(read.len);
                Some(read)
            }
            Err(error) => {
                self.value_mistake(&error, subject);
                None
            }
        }
    }

    fn value_mistake(&mut self, error: &UnitError, subject: &str) {
        let at = self.cursor.at;
        self.mistakes
            .push(error.diagnostic(subject, |r| (self.place)(at + r.start..at + r.end)));
        self.cursor.advance(error.span.end);
    }

    /// The text that a value may take: up to words such as `in wall`, so that `5 in wall` is not five inches.
    fn value_text(&self) -> &'t str {
        const FAR_ENOUGH: usize = 48;
        let rest = self.cursor.rest();
        let near = rest
            .char_indices()
            .take(FAR_ENOUGH)
            .map(|(at, c)| at + c.len_utf8())
            .last()
            .unwrap_or(0);
        for (at, _) in rest[..near].match_indices(" in ") {
            let ahead = Cursor {
                text: self.cursor.text,
                at: self.cursor.at + at + 1,
            };
            let phrases = ahead.phrases(3);
            if phrases
                .iter()
                .any(|p| self.catalogue.lies(&self.cursor.text[p.clone()]).is_some())
            {
                return &rest[..at];
            }
        }
        rest
    }

    fn mistake(
        &mut self,
        code: &'static str,
        range: std::ops::Range<usize>,
        fill: impl FnOnce(&mut Diagnostic),
    ) {
        let mut diagnostic = Diagnostic::error(code, (self.place)(range), String::new());
        fill(&mut diagnostic);
        self.mistakes.push(diagnostic);
    }
}

fn exactly(value: f64) -> Range<Metre> {
    Range {
        likeliest: Metre(value),
        low: Metre(value),
        high: Metre(value),
    }
}

/// A word as a message quotes it.
fn clip(word: &str) -> String {
    const LONGEST: usize = 40;
    let mut text: String = word.trim().chars().take(LONGEST).collect();
    if word.trim().chars().nth(LONGEST).is_some() {
        text.push('…');
    }
    text
}
