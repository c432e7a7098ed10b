//! A TOML string and the way back from its characters to bytes of the file.

use crate::diag::Span;
use std::ops::Range;

/// The text of a TOML string with the place of each of its bytes in the file, escapes and line ends included.
#[derive(Clone, Debug)]
pub struct Text {
    /// What the string says.
    pub s: String,
    whole: Span,
    map: Map,
}

#[derive(Clone, Debug)]
enum Map {
    /// The text stands in the file as it is, from this byte on.
    Plain(usize),
    /// Byte of the file for each byte of the text, and the end.
    Escaped(Vec<usize>),
    /// Not known: every word is the whole string.
    Whole,
}

impl Text {
    /// The string that the file holds at `span`, quotes included, and that TOML reads as `s`.
    pub fn new(file: &str, span: Span, s: &str) -> Self {
        let raw = file.get(span.clone()).unwrap_or("");
        Self {
            s: s.to_owned(),
            map: map(raw, span.start, s),
            whole: span,
        }
    }

    /// Bytes of the file for bytes of the text.
    pub fn span(&self, r: Range<usize>) -> Span {
        let place = |i: usize| match &self.map {
            Map::Plain(start) => Some(start + i),
            Map::Escaped(places) => places.get(i).copied(),
            Map::Whole => None,
        };
        match (place(r.start), place(r.end)) {
            (Some(a), Some(b)) if a <= b && b <= self.whole.end => a..b,
            _ => self.whole.clone(),
        }
    }

    /// The whole string with its quotes.
    pub fn whole(&self) -> Span {
        self.whole.clone()
    }

    /// Where a trimmed part of the text stands in it.
    pub fn range_of(&self, part: &str) -> Range<usize> {
        let start = (part.as_ptr() as usize).wrapping_sub(self.s.as_ptr() as usize);
        if start <= self.s.len() && start + part.len() <= self.s.len() {
            start..start + part.len()
        } else {
            0..self.s.len()
        }
    }

    /// Bytes of the file for a part of the text, which must be a slice of it.
    pub fn span_of(&self, part: &str) -> Span {
        self.span(self.range_of(part))
    }
}

fn map(raw: &str, start: usize, s: &str) -> Map {
    for quotes in ["\"\"\"", "'''", "\"", "'"] {
        let Some(inner) = raw
            .strip_prefix(quotes)
            .and_then(|r| r.strip_suffix(quotes))
        else {
            continue;
        };
        let mut skip = quotes.len();
        let mut inner = inner;
        if quotes.len() == 3 {
            // the line end right after the opening quotes does not belong to the text
            for end in ["\r\n", "\n"] {
                if let Some(rest) = inner.strip_prefix(end) {
                    inner = rest;
                    skip += end.len();
                    break;
                }
            }
        }
        if inner == s {
            return Map::Plain(start + skip);
        }
        if quotes.starts_with('"') {
            return escaped(inner, start + skip, s).map_or(Map::Whole, Map::Escaped);
        }
        return Map::Whole;
    }
    Map::Whole
}

/// The place of each byte of a basic string's text; `None` if this reading disagrees with the text.
fn escaped(inner: &str, start: usize, s: &str) -> Option<Vec<usize>> {
    let mut places = Vec::with_capacity(s.len() + 1);
    let mut read = String::with_capacity(s.len());
    let mut rest = inner.char_indices().peekable();
    while let Some((at, c)) = rest.next() {
        let mut put = |c: char| {
            read.push(c);
            places.extend(std::iter::repeat_n(start + at, c.len_utf8()));
        };
        if c != '\\' {
            put(c);
            continue;
        }
        let (_, code) = rest.next()?;
        let digits = match code {
            'b' => Err('\u{8}'),
            't' => Err('\t'),
            'n' => Err('\n'),
            'f' => Err('\u{c}'),
            'r' => Err('\r'),
            'e' => Err('\u{1b}'),
            '"' => Err('"'),
            '\\' => Err('\\'),
            'x' => Ok(2),
            'u' => Ok(4),
            'U' => Ok(8),
            _ => {
                // a line-ending backslash swallows all white space that follows
                while rest.next_if(|(_, c)| c.is_whitespace()).is_some() {}
                continue;
            }
        };
        match digits {
            Err(c) => put(c),
            Ok(n) => {
                let mut value = 0u32;
                for _ in 0..n {
                    value = value
                        .checked_mul(16)?
                        .checked_add(rest.next()?.1.to_digit(16)?)?;
                }
                put(char::from_u32(value)?);
            }
        }
    }
    places.push(start + inner.len());
    (read == s).then_some(places)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(file: &str) -> (Text, String) {
        let value = toml::de::DeValue::parse(file).unwrap();
        let s = value.get_ref().as_str().unwrap().to_owned();
        (Text::new(file, value.span(), &s), s)
    }

    #[test]
    fn words_are_found_again_in_every_kind_of_string() {
        for (file, word, raw) in [
            ("\"cu22 4m elbow\"", "4m", "4m"),
            ("'cu22 4m elbow'", "elbow", "elbow"),
            ("\"\"\"\ncu22 4m elbow\"\"\"", "4m", "4m"),
            ("'''cu22 4m'''", "4m", "4m"),
            ("\"cu22\\t4m \\u00e9lbow\"", "\u{e9}lbow", "\\u00e9lbow"),
            ("\"a \\\"4m\\\" b\"", "\"4m\"", "\\\"4m\\\""),
            ("\"\"\"cu22 \\\n   4m\"\"\"", "4m", "4m"),
        ] {
            let (text, s) = of(file);
            let at = s.find(word).unwrap();
            assert_eq!(&file[text.span(at..at + word.len())], raw, "in {file}");
        }
    }

    #[test]
    fn a_range_beyond_the_text_is_the_whole_string() {
        let (text, _) = of("\"cu22 4m\"");
        assert_eq!(text.span(3..400), 0..9);
    }
}
