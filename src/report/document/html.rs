//! The document as one page of HTML: no script, nothing from elsewhere.

use super::{Block, Choice, Document, Material, Room, Table, Text, css, document};
use maud::{DOCTYPE, Markup, PreEscaped, html as markup};

/// The whole page.
pub fn html(material: &Material<'_>, choice: &Choice) -> String {
    let document = document(material, choice, true);
    page(&document).into_string()
}

fn page(document: &Document) -> Markup {
    // our own rules only: nothing that a person wrote stands in them
    let style = format!("{}{}", css::PAGE, document.drawings.join("\n"));
    markup! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="generator" content=(crate::report::MADE_BY);
                meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'";
                title { (document.title) ", " (document.subtitle) }
                style { (PreEscaped(style)) }
            }
            body {
                header {
                    h1 { (document.title) }
                    p.faint { (document.subtitle) }
                    p.edition { (document.edition) }
                }
                nav aria-label="Contents" {
                    ol {
                        @for (anchor, heading) in &document.contents {
                            li { a href={ "#" (anchor) } { (heading) } }
                        }
                    }
                }
                main {
                    @for block in &document.blocks { (of(block)) "\n" }
                }
                footer { p.edition { (document.edition) } }
            }
        }
    }
}

fn of(block: &Block) -> Markup {
    match block {
        Block::Section(anchor, heading) => markup! { h2 id=(anchor) { (heading) } },
        Block::Heading(anchor, heading) => markup! { h3 id=[anchor.as_ref()] { (heading) } },
        Block::Paragraph(pieces, true) => markup! { p.outcome { (pieces_of(pieces)) } },
        Block::Paragraph(pieces, false) => markup! { p { (pieces_of(pieces)) } },
        Block::List(items) => {
            markup! { ul class=[(items.len() > MANY).then_some("fine")] { @for item in items { li { (pieces_of(item)) } } } }
        }
        Block::Steps(items) => markup! { ol { @for item in items { li { (pieces_of(item)) } } } },
        Block::Table(table) => table_of(table),
        Block::Formula(lines) => markup! {
            div.scroll tabindex="0" role="group" aria-label="Formulas or lines" { pre { (lines.join("\n")) } }
        },
        // drawn by this program, every text in it escaped there
        Block::Figure {
            svg,
            shows,
            caption,
            room,
        } => markup! {
            figure class=[room_of(*room)] aria-label=(shows) {
                div.drawing tabindex="0" role="group" aria-label=(caption) { (PreEscaped(svg)) }
                figcaption { (caption) }
            }
        },
    }
}

/// Entries from which on a list is looked things up in, not read.
const MANY: usize = 10;

fn room_of(room: Room) -> Option<&'static str> {
    match room {
        Room::Sheet => Some("wide"),
        Room::Whole => None,
        Room::Half => Some("half"),
    }
}

fn pieces_of(pieces: &[Text]) -> Markup {
    markup! {
        @for piece in pieces {
            @match &piece.to {
                Some(to) => a href={ "#" (to) } { (piece.words) },
                None => (piece.words),
            }
        }
    }
}

/// Class of a cell: numbers stand right, verdicts are marked, long words get room.
fn class(words: &str, number: bool) -> Option<&'static str> {
    match words {
        "fails" => Some("fails"),
        "depends" => Some("depends"),
        "tight" => Some("tight"),
        "holds" => Some("holds"),
        _ if number => Some("number"),
        _ if words.chars().count() > 40 => Some("wide-words"),
        _ if words.chars().count() < 16 => Some("short"),
        _ => None,
    }
}

/// Rows of a table that a printed page keeps together.
const SHORT: usize = 12;

fn table_of(table: &Table) -> Markup {
    let label = if table.caption.is_empty() {
        "Table"
    } else {
        &table.caption
    };
    let number = |column: usize| table.heads.get(column).is_some_and(|(_, number)| *number);
    markup! {
        div.scroll.whole[table.rows.len() <= SHORT] tabindex="0" role="group" aria-label=(label) {
            table class=[table.fine.then_some("fine")] {
                @if !table.caption.is_empty() { caption { (table.caption) } }
                thead {
                    tr {
                        @for (head, number) in &table.heads {
                            th scope="col" class=[number.then_some("number")] { (head) }
                        }
                    }
                }
                tbody {
                    @for (anchor, row) in &table.rows {
                        tr id=[anchor.as_ref()] {
                            @for (column, cell) in row.iter().enumerate() {
                                @if column == 0 {
                                    th scope="row" class=[class(&cell.words, number(0))] { (pieces_of(std::slice::from_ref(cell))) }
                                } @else {
                                    td class=[class(&cell.words, number(column))] { (pieces_of(std::slice::from_ref(cell))) }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}
