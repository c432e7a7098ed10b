//! A place in a text and the few ways to move it.

use std::ops::Range;

/// Reads forward through a text; never leaves it and never splits a character.
pub(super) struct Cursor<'t> {
    pub(super) text: &'t str,
    pub(super) at: usize,
}

/// What ends a word.
pub(super) fn ends_word(c: char) -> bool {
    c.is_whitespace() || matches!(c, ',' | ';' | '|' | '?')
}

impl<'t> Cursor<'t> {
    pub(super) fn new(text: &'t str) -> Self {
        Self { text, at: 0 }
    }

    pub(super) fn rest(&self) -> &'t str {
        &self.text[self.at..]
    }

    pub(super) fn at_end(&self) -> bool {
        self.at >= self.text.len()
    }

    /// Moves on by bytes that were read from [`Self::rest`].
    pub(super) fn advance(&mut self, bytes: usize) {
        self.at += bytes;
    }

    pub(super) fn skip_char(&mut self) {
        self.at += self.rest().chars().next().map_or(0, char::len_utf8);
    }

    pub(super) fn skip_blanks(&mut self) {
        self.at = self.text.len() - self.rest().trim_start().len();
    }

    /// Blanks and commas. True if a comma was among them.
    pub(super) fn skip_separators(&mut self) -> bool {
        let rest = self.rest();
        let after = rest.trim_start_matches(|c: char| c.is_whitespace() || matches!(c, ',' | ';'));
        self.at = self.text.len() - after.len();
        rest[..rest.len() - after.len()].contains([',', ';'])
    }

    /// Takes this character if it comes next, after blanks.
    pub(super) fn eat(&mut self, wanted: char) -> bool {
        let trimmed = self.rest().trim_start();
        if !trimmed.starts_with(wanted) {
            return false;
        }
        self.at = self.text.len() - trimmed.len() + wanted.len_utf8();
        true
    }

    /// Takes this text if it comes next, without blanks before it.
    pub(super) fn eat_str(&mut self, wanted: &str) -> bool {
        let met = self.rest().starts_with(wanted);
        if met {
            self.at += wanted.len();
        }
        met
    }

    /// Whether a number begins here.
    pub(super) fn at_number(&self) -> bool {
        let rest = self.rest().trim_start();
        let unsigned = rest.trim_start_matches(['+', '-', '−']);
        let mut chars = unsigned.chars();
        match chars.next() {
            Some(c) if c.is_ascii_digit() => true,
            Some('.') => chars.next().is_some_and(|c| c.is_ascii_digit()),
            _ => rest.len() > unsigned.len(),
        }
    }

    /// Bytes of the next word, after blanks; the last character of the text if there is none.
    pub(super) fn word_or_end(&self) -> Range<usize> {
        let start = self.text.len() - self.rest().trim_start().len();
        if start == self.text.len() {
            let last = self
                .text
                .trim_end()
                .char_indices()
                .next_back()
                .map_or(0, |(at, _)| at);
            return last..self.text.trim_end().len();
        }
        let len = self.text[start..]
            .find(ends_word)
            .unwrap_or(self.text.len() - start);
        let one = self.text[start..].chars().next().map_or(0, char::len_utf8);
        start..start + len.max(one)
    }

    /// Bytes of the next few words joined by blanks only, longest first.
    pub(super) fn phrases(&self, most: usize) -> Vec<Range<usize>> {
        let mut found = Vec::new();
        let start = self.text.len() - self.rest().trim_start().len();
        let mut at = start;
        for _ in 0..most {
            let rest = &self.text[at..];
            let len = rest.find(ends_word).unwrap_or(rest.len());
            if len == 0 {
                break;
            }
            found.push(start..at + len);
            let after = &self.text[at + len..];
            at = self.text.len() - after.trim_start().len();
        }
        found.reverse();
        found
    }

    /// Takes the next word if it is one of these, whatever its case.
    pub(super) fn eat_word(&mut self, words: &[&str]) -> bool {
        let range = self.word_or_end();
        let met = words
            .iter()
            .any(|w| self.text[range.clone()].eq_ignore_ascii_case(w));
        if met {
            self.at = range.end;
        }
        met
    }

    /// A name: letters, digits, `-`, `_`, beginning with a letter.
    pub(super) fn name(&mut self) -> Option<String> {
        let rest = self.rest();
        if !rest.chars().next()?.is_alphabetic() {
            return None;
        }
        let len = rest
            .find(|c: char| !c.is_alphanumeric() && c != '-' && c != '_')
            .unwrap_or(rest.len());
        self.at += len;
        Some(rest[..len].to_owned())
    }

    /// A word, or several between single quotes.
    pub(super) fn quoted(&mut self) -> Option<String> {
        self.skip_blanks();
        if let Some(inside) = self.rest().strip_prefix('\'') {
            let end = inside.find('\'')?;
            self.at += end + 2;
            return Some(inside[..end].trim().to_owned()).filter(|s| !s.is_empty());
        }
        let range = self.word_or_end();
        let word = self.text.get(range.clone())?;
        if range.start < self.at || word.starts_with(ends_word) {
            return None;
        }
        self.at = range.end;
        Some(word.to_owned())
    }
}
