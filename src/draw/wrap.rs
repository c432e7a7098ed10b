//! Words of the sheet itself broken into lines, so that none of them is ever cut.

use super::scene::Line;
use super::words::line_width;

/// What begins a line that goes on from the one before.
const INDENT: &str = "\u{a0}\u{a0}";

/// Break a line at its blanks so that each part is no wider than `width`; a single word may be.
pub(crate) fn wrap(l: &Line, cap: f64, width: f64) -> Vec<Line> {
    let made = |text: String| Line { text, bold: l.bold };
    let mut all: Vec<Line> = Vec::new();
    let mut now = String::new();
    for word in l.text.split(' ') {
        let longer = if now.is_empty() {
            word.to_string()
        } else {
            format!("{now} {word}")
        };
        if line_width(&made(longer.clone()), cap) <= width || now.is_empty() {
            now = longer;
        } else {
            all.push(made(now));
            now = format!("{INDENT}{word}");
        }
    }
    all.push(made(now));
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_word_is_lost() {
        let l = Line {
            text: "Nothing moves: every way is shut or no pump runs".into(),
            bold: true,
        };
        let wide = wrap(&l, 1.8, 500.0);
        assert_eq!(wide, vec![l.clone()]);
        let narrow = wrap(&l, 1.8, 40.0);
        assert!(narrow.len() > 1);
        assert!(narrow.iter().all(|l| line_width(l, 1.8) <= 40.0));
        let words: Vec<&str> = narrow
            .iter()
            .flat_map(|l| l.text.split_whitespace())
            .collect();
        assert_eq!(words.join(" "), l.text);
    }
}
