//! Tables of rows of one shape, as data: CSV and spreadsheets are made of the same rows, numbers as numbers, the unit in
//! each heading.

use serde::{Serialize, Serializer};

/// One cell.
#[derive(Clone, Debug, PartialEq)]
pub enum Cell {
    /// Words, of the file or of ours.
    Text(String),
    /// A figure in the unit of the heading.
    Number(f64),
    /// A count.
    Count(usize),
    /// Yes or no.
    Flag(bool),
    /// Not known, or a blank to write in.
    Nothing,
}

/// A row whose headings are the names of its fields.
pub trait Row: Sized {
    /// Headings, in order; a figure's ends in its unit.
    const HEADS: &'static [&'static str];
    /// Cells, one for each heading.
    fn cells(self) -> Vec<Cell>;
}

/// A table.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// The word by which it is chosen.
    pub name: &'static str,
    /// Headings.
    pub heads: &'static [&'static str],
    /// Rows.
    pub rows: Vec<Vec<Cell>>,
}

impl Sheet {
    /// A table of rows.
    pub fn of<R: Row>(name: &'static str, rows: impl Iterator<Item = R>) -> Self {
        Self {
            name,
            heads: R::HEADS,
            rows: rows.map(Row::cells).collect(),
        }
    }
}

/// A struct whose fields are the columns of a table.
macro_rules! row {
    ($(#[$about:meta])* $see:vis struct $name:ident { $($(#[$of:meta])* $field:ident: $kind:ty,)* }) => {
        $(#[$about])*
        $see struct $name { $($(#[$of])* $field: $kind,)* }

        impl $crate::report::sheet::Row for $name {
            const HEADS: &'static [&'static str] = &[$(stringify!($field)),*];
            fn cells(self) -> Vec<$crate::report::sheet::Cell> {
                vec![$(self.$field.into()),*]
            }
        }
    };
}
pub(crate) use row;

impl From<String> for Cell {
    fn from(text: String) -> Self {
        match text.is_empty() {
            true => Cell::Nothing,
            false => Cell::Text(text),
        }
    }
}

impl From<&str> for Cell {
    fn from(text: &str) -> Self {
        text.to_owned().into()
    }
}

impl From<Option<String>> for Cell {
    fn from(text: Option<String>) -> Self {
        text.map_or(Cell::Nothing, Into::into)
    }
}

impl From<Option<f64>> for Cell {
    fn from(value: Option<f64>) -> Self {
        value.map_or(Cell::Nothing, Cell::Number)
    }
}

impl From<f64> for Cell {
    fn from(value: f64) -> Self {
        Cell::Number(value)
    }
}

impl From<usize> for Cell {
    fn from(count: usize) -> Self {
        Cell::Count(count)
    }
}

impl From<Option<usize>> for Cell {
    fn from(count: Option<usize>) -> Self {
        count.map_or(Cell::Nothing, Cell::Count)
    }
}

impl From<bool> for Cell {
    fn from(flag: bool) -> Self {
        Cell::Flag(flag)
    }
}

impl From<Option<bool>> for Cell {
    fn from(flag: Option<bool>) -> Self {
        flag.map_or(Cell::Nothing, Cell::Flag)
    }
}

/// As CSV has it: text that no spreadsheet takes for a formula.
impl Serialize for Cell {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        match self {
            Cell::Text(text) => to.serialize_str(&inert(text)),
            Cell::Number(value) => to.serialize_f64(*value),
            Cell::Count(count) => to.serialize_u64(*count as u64),
            Cell::Flag(flag) => to.serialize_bool(*flag),
            Cell::Nothing => to.serialize_str(""),
        }
    }
}

/// A text that no spreadsheet takes for a formula: one that begins like one gets an apostrophe before it, as
/// spreadsheets themselves mark plain text.
fn inert(text: &str) -> String {
    match text.chars().next() {
        Some('=' | '+' | '-' | '@' | '\t' | '\r' | '\n') => format!("'{text}"),
        _ => text.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_cell_begins_like_a_formula() {
        for (text, expected) in [
            ("=1+1", "'=1+1"),
            ("@sum", "'@sum"),
            ("-2", "'-2"),
            ("+44", "'+44"),
            ("\t=1", "'\t=1"),
            ("lounge", "lounge"),
            ("a=b", "a=b"),
        ] {
            assert_eq!(inert(text), expected);
        }
    }

    #[test]
    fn columns_are_the_fields_in_their_order() {
        row! {
            struct Pipe {
                name: String,
                loss_pa: Option<f64>,
                open: bool,
            }
        }
        let pipe = |name: &str, loss_pa| Pipe {
            name: name.into(),
            loss_pa,
            open: true,
        };
        let sheet = Sheet::of(
            "pipes",
            [pipe("=a", Some(1.5)), pipe("b", None)].into_iter(),
        );
        assert_eq!(sheet.heads, ["name", "loss_pa", "open"]);
        assert_eq!(sheet.rows[1][1], Cell::Nothing);
        assert_eq!(
            crate::report::csv::text(&sheet),
            "name,loss_pa,open\n'=a,1.5,true\nb,,true\n"
        );
    }
}
