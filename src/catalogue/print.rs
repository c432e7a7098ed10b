//! The catalogue as text.

use super::Catalogue;

/// Everything that `filter` (a family or a word; empty for all) names, for a terminal of 80 columns.
pub fn print(_catalogue: &Catalogue, _filter: &str) -> String {
    String::new()
}
