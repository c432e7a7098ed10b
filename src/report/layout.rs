//! Plain text within a width: names made harmless, paragraphs wrapped, figures in columns.

use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

/// Columns of a terminal that everything fits.
pub(crate) const WIDTH: usize = 80;
/// Columns that a last column of words keeps however wide the others are.
const LEAST_LAST: usize = 20;
/// Columns of a text drawing.
pub(crate) const WIDE: usize = 100;

/// A name for a terminal: control and direction signs shown as escapes, no longer than `most` columns.
pub(crate) fn name(text: &str, most: usize) -> String {
    let mut shown = String::new();
    let mut width = 0;
    for letter in text.chars() {
        let escaped = match letter {
            '\n' => "\\n".to_owned(),
            '\t' => "\\t".to_owned(),
            c if c.is_control() || is_steering(c) => c.escape_unicode().to_string(),
            c => c.to_string(),
        };
        let wide = escaped.width();
        if width + wide > most {
            // room for the sign that says there is more
            while width + 1 > most {
                let Some(last) = shown.pop() else { break };
                width -= last.width().unwrap_or(0);
            }
            shown.push('…');
            break;
        }
        width += wide;
        shown.push_str(&escaped);
    }
    shown
}

/// Signs that no letter is, but that change how the letters about them are shown.
fn is_steering(c: char) -> bool {
    matches!(c, '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{2069}' | '\u{feff}')
}

/// Words within [`WIDTH`] columns; the first line begins with `first`, the others with as many blanks.
pub(crate) fn paragraph(first: &str, text: &str) -> String {
    paragraph_in(first, text, WIDTH)
}

/// Words within so many columns; the first line begins with `first`, the others with as many blanks.
pub(crate) fn paragraph_in(first: &str, text: &str, most: usize) -> String {
    let indent = first.width();
    let mut out = String::from(first);
    let mut at = indent;
    let mut begun = false;
    for word in text.split_whitespace() {
        for piece in pieces(word, most - indent) {
            let wide = piece.width();
            if begun && at + 1 + wide > most {
                out.push('\n');
                out.push_str(&" ".repeat(indent));
                at = indent;
            } else if begun {
                out.push(' ');
                at += 1;
            }
            out.push_str(&piece);
            at += wide;
            begun = true;
        }
    }
    out.push('\n');
    out
}

/// A word too long for a line, in pieces that are not.
fn pieces(word: &str, most: usize) -> Vec<String> {
    let mut pieces = vec![String::new()];
    let mut at = 0;
    for letter in word.chars() {
        let wide = letter.width().unwrap_or(0);
        if at + wide > most {
            pieces.push(String::new());
            at = 0;
        }
        at += wide;
        if let Some(piece) = pieces.last_mut() {
            piece.push(letter);
        }
    }
    pieces
}

/// Rows of text in columns; the first column is aligned left, others right unless said.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Table {
    heads: Vec<String>,
    left: Vec<bool>,
    rows: Vec<Vec<String>>,
}

impl Table {
    /// With these headings; one that begins with `<` stands left.
    pub(crate) fn new(heads: &[&str]) -> Self {
        Self {
            heads: heads
                .iter()
                .map(|h| h.trim_start_matches('<').to_owned())
                .collect(),
            left: heads.iter().map(|h| h.starts_with('<')).collect(),
            rows: Vec::new(),
        }
    }

    /// Adds a row of as many cells as there are headings.
    pub(crate) fn row(&mut self, cells: Vec<String>) {
        self.rows.push(cells);
    }

    /// Headings, and whether the column stands left.
    pub(crate) fn heads(&self) -> impl Iterator<Item = (&str, bool)> {
        let heads = self.heads.iter().map(String::as_str);
        heads.zip(self.left.iter().copied())
    }

    /// The rows.
    pub(crate) fn rows(&self) -> &[Vec<String>] {
        &self.rows
    }

    /// Whether there is nothing to show.
    pub(crate) fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// Headings, a rule and the rows, two blanks in front; a last column that stands left wraps within the width.
    pub(crate) fn text(&self) -> String {
        let all = || std::iter::once(&self.heads).chain(&self.rows);
        let mut wide: Vec<usize> = (0..self.heads.len())
            .map(|i| {
                all()
                    .filter_map(|r| r.get(i))
                    .map(|c| c.width())
                    .max()
                    .unwrap_or(0)
            })
            .collect();
        let last = self.heads.len().saturating_sub(1);
        let before = 1 + wide.iter().take(last).map(|w| w + 1).sum::<usize>() + 1;
        let room = WIDTH.saturating_sub(before).max(LEAST_LAST);
        if self.left.get(last) == Some(&true) {
            wide[last] = wide[last].min(room);
        }
        let mut out = String::new();
        for (number, row) in all().enumerate() {
            let mut line = String::from(" ");
            for (i, cell) in row.iter().enumerate() {
                let pad = " ".repeat(wide[i].saturating_sub(cell.width()));
                line.push(' ');
                if !self.left[i] {
                    line.push_str(&pad);
                }
                if i == last && cell.width() > wide[i] {
                    let lines = paragraph_in("", cell, wide[i]);
                    let indent = format!("\n{}", " ".repeat(before));
                    line.push_str(&lines.trim_end().replace('\n', &indent));
                    continue;
                }
                line.push_str(cell);
                if self.left[i] && i < last {
                    line.push_str(&pad);
                }
            }
            out.push_str(line.trim_end());
            out.push('\n');
            if number == 0 {
                let rule: Vec<String> = wide.iter().map(|&w| "-".repeat(w)).collect();
                out.push_str(format!("  {}", rule.join(" ")).trim_end());
                out.push('\n');
            }
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_cannot_steer_a_terminal() {
        for (given, shown) in [
            ("lounge", "lounge"),
            ("a\nb", "a\\nb"),
            ("\u{1b}[31mred", "\\u{1b}[31mred"),
            ("a\u{202e}b", "a\\u{202e}b"),
            ("abcdefghijklmnopqrstuvwxyz", "abcdefghijklmnopqrs…"),
        ] {
            assert_eq!(name(given, 20), shown);
        }
        assert!(name(&"x".repeat(5000), 20).width() <= 20);
        assert!(name(&"宽".repeat(50), 20).width() <= 20);
    }

    #[test]
    fn a_last_column_of_words_wraps() {
        let mut table = Table::new(&["price", "<what"]);
        table.row(vec!["12".into(), "a pipe and ".repeat(12).trim().into()]);
        table.row(vec!["7".into(), "a valve".into()]);
        let text = table.text();
        assert!(text.lines().all(|l| l.width() <= WIDTH), "{text}");
        assert_eq!(text.matches("a pipe").count(), 12);
        let begins = text.lines().nth(2).and_then(|l| l.find("a pipe"));
        assert_eq!(
            text.lines().nth(3).and_then(|l| l.find(|c| c != ' ')),
            begins
        );
    }

    #[test]
    fn no_line_is_too_long() {
        let text = format!("{} {} end", "word ".repeat(60), "x".repeat(300));
        let shown = paragraph("   1 fails  ", &text);
        assert!(shown.lines().all(|l| l.width() <= WIDTH), "{shown}");
        assert_eq!(
            shown.replace([' ', '\n'], ""),
            format!("1fails{}", text.replace(' ', ""))
        );
    }
}
