//! What a report says, before it is laid out: headings, paragraphs, lists and tables as data. A terminal gets them as
//! plain text; the document makes its own blocks of the same.

use super::layout::{Table, paragraph};

/// A piece of a report.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Piece {
    /// A heading.
    Heading(String),
    /// Words; `first` is what a terminal's first line begins with: blanks, a dash, a number, a price.
    Words { first: String, text: String },
    /// A table.
    Table(Table),
    /// An empty line on a terminal.
    Gap,
}

/// Pieces in their order.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Prose(Vec<Piece>);

impl Prose {
    /// With a heading.
    pub(crate) fn headed(words: impl Into<String>) -> Self {
        Self(vec![Piece::Heading(words.into())])
    }

    /// With one paragraph.
    pub(crate) fn of(first: &str, text: &str) -> Self {
        let mut own = Self::default();
        own.say(first, text);
        own
    }

    /// Adds words; see [`Piece::Words`].
    pub(crate) fn say(&mut self, first: &str, text: &str) {
        self.0.push(Piece::Words {
            first: first.to_owned(),
            text: text.to_owned(),
        });
    }

    /// Adds a heading.
    pub(crate) fn heading(&mut self, words: impl Into<String>) {
        self.0.push(Piece::Heading(words.into()));
    }

    /// Adds a table.
    pub(crate) fn table(&mut self, table: Table) {
        self.0.push(Piece::Table(table));
    }

    /// With a table at the end.
    pub(crate) fn and(mut self, table: Table) -> Self {
        self.table(table);
        self
    }

    /// Adds an empty line.
    pub(crate) fn gap(&mut self) {
        self.0.push(Piece::Gap);
    }

    /// Adds all that another says.
    pub(crate) fn join(&mut self, other: Prose) {
        self.0.extend(other.0);
    }

    /// Whether it says nothing.
    pub(crate) fn is_empty(&self) -> bool {
        self.0.iter().all(|piece| *piece == Piece::Gap)
    }

    /// The pieces.
    pub(crate) fn pieces(&self) -> &[Piece] {
        &self.0
    }

    /// As plain text within the width of a terminal; an empty line before each heading.
    pub(crate) fn text(&self) -> String {
        let mut out = String::new();
        for piece in &self.0 {
            match piece {
                Piece::Heading(words) => {
                    if !out.is_empty() && !out.ends_with("\n\n") {
                        out.push('\n');
                    }
                    out.push_str(&paragraph("", words));
                }
                Piece::Words { first, text } => out.push_str(&paragraph(first, text)),
                Piece::Table(table) => out.push_str(&table.text()),
                Piece::Gap => out.push('\n'),
            }
        }
        out
    }
}

/// Names in a row, what several have in common said once: `tails of bath, hall; ground, main to hall, bed 1`.
pub(crate) fn folded<N: AsRef<str>>(names: &[N]) -> String {
    let mut groups: Vec<(&str, Vec<&str>)> = Vec::new();
    for name in names.iter().map(AsRef::as_ref) {
        let ends = [" of ", " to "].map(|word| name.rfind(word).map(|at| at + word.len()));
        let (common, own) = name.split_at(ends.into_iter().flatten().max().unwrap_or(0));
        match groups.last_mut() {
            Some((last, of)) if *last == common => of.push(own),
            _ => groups.push((common, vec![own])),
        }
    }
    let apart = if groups.len() > 1 { "; " } else { ", " };
    let said = groups.iter().map(|(common, own)| match *common {
        "" => own.join(apart),
        common => format!("{common}{}", own.join(", ")),
    });
    said.collect::<Vec<String>>().join(apart)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_names_have_in_common_is_said_once() {
        let names = [
            "ground, main to hall",
            "ground, main to bed 1",
            "ground, main home",
            "ground, main between tees",
            "tails of hall",
            "tails of bed 1",
        ];
        let said = "ground, main to hall, bed 1; ground, main home; ground, main between tees; \
                    tails of hall, bed 1";
        assert_eq!(folded(&names), said);
        assert_eq!(folded(&["trunk", "west"]), "trunk, west");
        assert_eq!(folded(&names[4..]), "tails of hall, bed 1");
        assert_eq!(folded::<&str>(&[]), "");
    }
}
