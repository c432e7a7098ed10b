//! The document as Markdown, without drawings.

use super::{Block, Choice, Material, Table, Text, document};

/// The whole document.
pub fn markdown(material: &Material<'_>, choice: &Choice) -> String {
    let document = document(material, choice, false);
    let mut out = format!(
        "# {}\n\n{}\n\n{}\n",
        inert(&document.title),
        document.subtitle,
        inert(&document.edition)
    );
    for block in &document.blocks {
        out.push('\n');
        out.push_str(&of(block));
    }
    out
}

fn of(block: &Block) -> String {
    match block {
        Block::Section(anchor, heading) => {
            format!("<a id=\"{anchor}\"></a>\n\n## {}\n", inert(heading))
        }
        Block::Heading(Some(anchor), heading) => {
            format!("<a id=\"{anchor}\"></a>\n\n### {}\n", inert(heading))
        }
        Block::Heading(None, heading) => format!("### {}\n", inert(heading)),
        Block::Paragraph(pieces, true) => format!("**{}**\n", pieces_of(pieces)),
        Block::Paragraph(pieces, false) => format!("{}\n", pieces_of(pieces)),
        Block::List(items) => items
            .iter()
            .map(|item| format!("- {}\n", pieces_of(item)))
            .collect(),
        Block::Steps(items) => items
            .iter()
            .enumerate()
            .map(|(i, item)| format!("{}. {}\n", i + 1, pieces_of(item)))
            .collect(),
        Block::Table(table) => table_of(table),
        Block::Formula(lines) => {
            // a fence longer than any run of the sign within it
            let text = lines.join("\n");
            let longest = text.split(|c| c != '`').map(str::len).max().unwrap_or(0);
            let fence = "`".repeat(longest.max(2) + 1);
            format!("{fence}text\n{text}\n{fence}\n")
        }
        Block::Figure { shows, caption, .. } => format!("*{}*: {}\n", inert(caption), inert(shows)),
    }
}

fn pieces_of(pieces: &[Text]) -> String {
    let piece = |piece: &Text| match &piece.to {
        Some(to) => format!("[{}](#{to})", inert(&piece.words)),
        None => inert(&piece.words),
    };
    pieces.iter().map(piece).collect()
}

/// Words in which no sign means anything.
fn inert(words: &str) -> String {
    let mut out = String::with_capacity(words.len());
    for letter in words.chars() {
        match letter {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '\\' | '`' | '*' | '_' | '[' | ']' | '#' | '|' | '~' | '!' | '$' => {
                out.push('\\');
                out.push(letter);
            }
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    // a scheme before a colon would become a link in some readers
    out.replace("://", ":&#47;&#47;")
}

fn table_of(table: &Table) -> String {
    let mut out = String::new();
    if !table.caption.is_empty() {
        out.push_str(&format!("**{}**\n\n", inert(&table.caption)));
    }
    let line = |cells: Vec<String>| format!("| {} |\n", cells.join(" | "));
    out.push_str(&line(
        table.heads.iter().map(|(head, _)| inert(head)).collect(),
    ));
    let rule = |number: bool| if number { "--:" } else { "---" };
    out.push_str(&line(
        table
            .heads
            .iter()
            .map(|(_, n)| rule(*n).to_owned())
            .collect(),
    ));
    for (_, row) in &table.rows {
        out.push_str(&line(
            row.iter()
                .map(|cell| pieces_of(std::slice::from_ref(cell)))
                .collect(),
        ));
    }
    out
}
