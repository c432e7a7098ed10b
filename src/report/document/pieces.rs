//! Pieces of the text reports as blocks of the document.

use super::{Block, Maker, Table, Text};
use crate::report::layout;
use crate::report::prose::{Piece, Prose};

impl Maker<'_> {
    /// What another report says, as blocks; headings below that of the section.
    pub(super) fn prose(&mut self, prose: &Prose) {
        self.blocks.extend(blocks(prose));
    }
}

fn blocks(prose: &Prose) -> Vec<Block> {
    let mut blocks: Vec<Block> = Vec::new();
    for piece in prose.pieces() {
        match piece {
            Piece::Heading(words) => blocks.push(Block::Heading(None, words.clone())),
            Piece::Gap => {}
            Piece::Table(table) => blocks.push(Block::Table(of(table))),
            Piece::Words { first, text } => words(&mut blocks, first.trim(), text),
        }
    }
    blocks
}

/// A paragraph, or an entry of a list by what its first line begins with.
fn words(blocks: &mut Vec<Block>, mark: &str, text: &str) {
    let item = |words: String| vec![Text::from(words)];
    let number = mark.strip_suffix('.').and_then(|n| n.parse::<usize>().ok());
    match (mark, number, blocks.last_mut()) {
        ("", ..) => blocks.push(Block::Paragraph(vec![text.into()], false)),
        (_, Some(n), Some(Block::Steps(items))) if n > 1 => items.push(item(text.into())),
        (_, Some(_), _) => blocks.push(Block::Steps(vec![item(text.into())])),
        ("-", _, Some(Block::List(items))) => items.push(item(text.into())),
        ("-", ..) => blocks.push(Block::List(vec![item(text.into())])),
        // a price or a word stands before what it belongs to
        (_, _, last) => {
            let said = match mark.strip_suffix(':') {
                Some(word) => format!("{word}: {text}"),
                None => format!("{}: {text}", squeezed(mark)),
            };
            match last {
                Some(Block::List(items)) => items.push(item(said)),
                _ => blocks.push(Block::List(vec![item(said)])),
            }
        }
    }
}

fn squeezed(words: &str) -> String {
    words.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn of(table: &layout::Table) -> Table {
    Table {
        caption: String::new(),
        heads: table
            .heads()
            .map(|(words, left)| (words.to_owned(), !left))
            .collect(),
        rows: table
            .rows()
            .iter()
            .map(|row| (None, row.iter().map(|cell| cell.as_str().into()).collect()))
            .collect(),
        fine: false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pieces_keep_their_shape() {
        let mut prose = Prose::headed("What to do");
        prose.say("", "First words.");
        prose.say("  - ", "one");
        prose.say("  - ", "two");
        prose.say("  1. ", "lift the board");
        prose.say("  2. ", "lay the pipe");
        prose.say("       ¤480  ", "nothing changed: short");
        let mut table = layout::Table::new(&["open", "<flow"]);
        table.row(vec!["6".into(), "20 l/s".into()]);
        prose.table(table);
        let made = blocks(&prose);
        let Block::Table(table) = &made[5] else {
            panic!("{made:#?}")
        };
        assert_eq!(
            table.heads,
            [("open".to_owned(), true), ("flow".into(), false)]
        );
        let item = |words: &str| vec![Text::from(words)];
        assert_eq!(
            &made[..5],
            [
                Block::Heading(None, "What to do".into()),
                Block::Paragraph(item("First words."), false),
                Block::List(vec![item("one"), item("two")]),
                Block::Steps(vec![item("lift the board"), item("lay the pipe")]),
                Block::List(vec![item("¤480: nothing changed: short")]),
            ]
        );
    }
}
