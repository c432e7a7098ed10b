//! The table of checks for people, made from the list itself.

use super::CHECKS;
use crate::catalogue::Catalogue;
use std::fmt::Write;

/// README's table of checks, in Markdown.
pub fn markdown() -> String {
    let mut text = String::from(
        "| check | what is held against what | limit | where it is from |\n| --- | --- | --- | --- |\n",
    );
    for check in CHECKS {
        let row = check.key.and_then(|key| Catalogue::embedded().limit(key));
        let limit = match (row, check.key) {
            (Some(row), Some(key)) => format!("`{key}`: {}", row.words),
            _ => "–".to_owned(),
        };
        let from = row.map_or(check.from, |row| &row.source);
        let from = if from.is_empty() { "–" } else { from };
        // writing to a String cannot fail
        let _ = writeln!(
            text,
            "| `{}` {} | {} | {} | {} |",
            check.code, check.title, check.asks, limit, from
        );
    }
    text
}
