//! A report in plain text as blocks of the document: paragraphs, lists, and tables by the rule under their headings.

use super::{Block, Table, Text};
use unicode_width::UnicodeWidthChar;

/// Blocks of a plain text without its first line, which is a title.
pub(super) fn blocks(text: &str) -> Vec<Block> {
    let lines: Vec<&str> = text.lines().skip(1).collect();
    let mut blocks = Vec::new();
    let mut at = 0;
    let mut before_blank = true;
    while let Some(&line) = lines.get(at) {
        let shape = line.trim();
        let next = lines.get(at + 1).copied().unwrap_or_default();
        if shape.is_empty() {
            at += 1;
            before_blank = true;
            continue;
        }
        if is_rule(next) {
            let (table, used) = table(&lines[at..]);
            blocks.push(Block::Table(table));
            at += used;
        } else if shape.starts_with("- ") {
            let mut items: Vec<Vec<Text>> = Vec::new();
            while let Some(line) = lines.get(at).filter(|l| !l.trim().is_empty()) {
                match line.trim().strip_prefix("- ") {
                    Some(item) => items.push(vec![item.into()]),
                    None if line.starts_with("    ") => {
                        if let Some(last) = items.last_mut().and_then(|i| i.last_mut()) {
                            last.words = format!("{} {}", last.words, line.trim());
                        }
                    }
                    None => break,
                }
                at += 1;
            }
            blocks.push(Block::List(items));
        } else if before_blank && !line.starts_with(' ') && next.starts_with("  ") {
            blocks.push(Block::Heading(None, shape.to_owned()));
            at += 1;
        } else {
            let mut words = String::new();
            while let Some(line) = lines.get(at).filter(|l| !l.trim().is_empty()) {
                let begins = lines.get(at + 1).is_some_and(|next| is_rule(next))
                    || line.trim().starts_with("- ");
                if begins && !words.is_empty() {
                    break;
                }
                words = format!("{words} {}", line.trim());
                at += 1;
            }
            blocks.push(Block::Paragraph(vec![words.trim().into()], false));
        }
        before_blank = false;
    }
    blocks
}

fn is_rule(line: &str) -> bool {
    let line = line.trim();
    line.len() > 3 && line.chars().all(|c| c == '-' || c == ' ')
}

/// The table whose headings are the first line, and how many lines it takes.
fn table(lines: &[&str]) -> (Table, usize) {
    let rule: Vec<char> = lines
        .get(1)
        .map(|l| l.chars().collect())
        .unwrap_or_default();
    let mut columns: Vec<(usize, usize)> = Vec::new();
    for (i, c) in rule.iter().enumerate() {
        match columns.last_mut() {
            Some((_, to)) if *c == '-' && *to == i => *to = i + 1,
            _ if *c == '-' => columns.push((i, i + 1)),
            _ => {}
        }
    }
    let heads = cells(lines[0], &columns).unwrap_or_default();
    let mut used = 2;
    let mut rows = Vec::new();
    while let Some(row) = lines
        .get(used)
        .filter(|l| !l.trim().is_empty())
        .and_then(|l| cells(l, &columns))
    {
        rows.push((None, row.into_iter().map(Text::from).collect()));
        used += 1;
    }
    let numbers = |column: usize| {
        rows.iter().all(|(_, row): &(Option<String>, Vec<Text>)| {
            row.get(column).is_some_and(|t| {
                t.words
                    .starts_with(|c: char| c.is_ascii_digit() || "-–".contains(c))
            })
        })
    };
    let heads = heads
        .into_iter()
        .enumerate()
        .map(|(i, head)| (head, i > 0 && numbers(i)))
        .collect();
    (
        Table {
            caption: String::new(),
            heads,
            rows,
        },
        used,
    )
}

/// Cells of a line by the columns of the rule; `None` if words stand between columns.
fn cells(line: &str, columns: &[(usize, usize)]) -> Option<Vec<String>> {
    let mut cells = vec![String::new(); columns.len()];
    let mut at = 0;
    for letter in line.chars() {
        match columns
            .iter()
            .position(|(from, to)| (*from..*to).contains(&at))
        {
            Some(column) => cells[column].push(letter),
            None if letter == ' ' => {}
            None => return None,
        }
        at += letter.width().unwrap_or(0);
    }
    Some(cells.into_iter().map(|c| c.trim().to_owned()).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn plain_text_keeps_its_shape() {
        let text = "title\n\nFirst words\nthat go on.\n\nBy number\n  open   flow\n  ---- ------\n     6 20 l/s\n     5  9 l/s\n  The \
                    rest is said.\n\n  - one\n    more\n  - two\n";
        let blocks = blocks(text);
        let Block::Table(table) = &blocks[2] else {
            panic!("{blocks:#?}")
        };
        assert_eq!(table.heads, [("open".into(), false), ("flow".into(), true)]);
        assert_eq!(table.rows[1].1[1].words, "9 l/s");
        assert_eq!(
            blocks[0],
            Block::Paragraph(vec!["First words that go on.".into()], false)
        );
        assert_eq!(blocks[1], Block::Heading(None, "By number".into()));
        assert_eq!(
            blocks[3],
            Block::Paragraph(vec!["The rest is said.".into()], false)
        );
        assert_eq!(
            blocks[4],
            Block::List(vec![vec!["one more".into()], vec!["two".into()]])
        );
    }
}
