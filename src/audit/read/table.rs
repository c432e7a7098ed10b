//! A CSV schedule: one thing a row, one kind of claim a column, named in the first line; commas, semicolons or tabs.

use super::{Reader, Word};
use crate::audit::claim::{About, Of, ROWS, Row, Sort, column};
use crate::diag::{Diagnostic, Span, nearest};
use crate::survey::read::wording::{list, short};

/// Columns that name the thing of a row, with the kind of thing; `None` if any kind can be meant.
const NAMES: &[(&str, Option<Of>)] = &[
    ("run", Some(Of::Run)),
    ("pipe run", Some(Of::Run)),
    ("section", Some(Of::Run)),
    ("emitter", Some(Of::Emitter)),
    ("radiator", Some(Of::Emitter)),
    ("vessel", Some(Of::Vessel)),
    ("circuit", Some(Of::Circuit)),
    ("cylinder", Some(Of::Cylinder)),
    ("name", None),
    ("item", None),
];
/// Columns that are passed over.
const REMARKS: &[&str] = &["note", "notes", "remark", "remarks", "comment"];
/// Names that mean the whole house.
const HOUSE: &[&str] = &["house", "system", "total"];
/// Cells that say nothing.
const NOTHING: &[&str] = &["", "-", "–", "—", "n/a", "na"];

struct Cell {
    s: String,
    span: Span,
}

/// A column that holds claims.
struct Column {
    key: String,
    unit: Option<String>,
    span: Span,
}

impl Reader<'_> {
    pub(super) fn table(&mut self) {
        let skip = if self.text.starts_with('\u{feff}') {
            3
        } else {
            0
        };
        let mark = delimiter(&self.text[skip..]);
        let mut rows = rows(self.text, skip, mark).into_iter();
        let Some(heads) = rows.find(|r| r.iter().any(|c| !c.s.trim().is_empty())) else {
            return;
        };
        let rows: Vec<Vec<Cell>> = rows
            .filter(|r| r.iter().any(|c| !c.s.trim().is_empty()))
            .collect();
        self.style.asks_about_points = mark == ';';
        for cell in rows.iter().flatten() {
            self.style.learn(&cell.s);
        }
        let name_at = heads.iter().position(|h| name_kind(&h.s).is_some());
        let Some(name_at) = name_at else {
            let span = heads.first().map_or(0..0, |h| h.span.clone());
            self.say(
                Diagnostic::error(
                    "claim-column",
                    span,
                    "no column says what each row is about",
                )
                .label("the headings stand here")
                .help(format!(
                    "head one column with {}",
                    list(NAMES.iter().map(|(n, _)| *n))
                )),
            );
            return;
        };
        let kind = heads.get(name_at).and_then(|h| name_kind(&h.s)).flatten();
        let columns: Vec<Option<Column>> = heads
            .iter()
            .enumerate()
            .map(|(i, h)| (i != name_at).then(|| self.column(h, kind)).flatten())
            .collect();
        for row in &rows {
            self.row(row, name_at, kind, &columns);
        }
    }

    fn column(&mut self, head: &Cell, kind: Option<Of>) -> Option<Column> {
        let (key, unit) = split_unit(&head.s);
        let lower = key.to_lowercase();
        if REMARKS.contains(&lower.as_str()) {
            return None;
        }
        let known =
            |of: Of| kind.is_none_or(|k| k == of || of == Of::House) && column(of, key).is_some();
        if Of::ALL.into_iter().any(known) {
            return Some(Column {
                key: key.to_owned(),
                unit: unit.map(str::to_owned),
                span: head.span.clone(),
            });
        }
        let words = ROWS
            .iter()
            .filter(|r| kind.is_none_or(|k| k == r.of))
            .flat_map(|r| std::iter::once(r.key).chain(r.also.iter().copied()));
        let help = match nearest(key, words.clone()) {
            Some(near) => format!("did you mean `{near}`?"),
            None => {
                let mut keys: Vec<&str> = ROWS
                    .iter()
                    .filter(|r| kind.is_none_or(|k| k == r.of))
                    .map(|r| r.key)
                    .collect();
                keys.dedup();
                format!("columns are {}, or `note`", list(keys))
            }
        };
        self.say(
            Diagnostic::error(
                "claim-column",
                head.span.clone(),
                format!("no claim is called `{}`", short(key)),
            )
            .label("not a column that is known")
            .help(help),
        );
        None
    }

    fn row(&mut self, row: &[Cell], name_at: usize, kind: Option<Of>, columns: &[Option<Column>]) {
        if let Some(extra) = row
            .get(columns.len()..)
            .and_then(|more| more.iter().find(|c| !c.s.trim().is_empty()))
        {
            self.say(
                Diagnostic::error(
                    "claim-row",
                    extra.span.clone(),
                    format!(
                        "this row has {} cells, the headings {}",
                        row.len(),
                        columns.len()
                    ),
                )
                .label("one cell too many")
                .help("a decimal comma among commas looks like this: put the number in quotes, or part the cells by semicolons"),
            );
            return;
        }
        let Some(name) = row.get(name_at) else { return };
        let word = Word::plain(name.s.trim(), name.span.clone());
        if word.s.is_empty() {
            self.say(
                Diagnostic::error("value-missing", name.span.clone(), "this row names nothing")
                    .label("a name is expected")
                    .help("write `house` for figures of the whole house"),
            );
            return;
        }
        let house = HOUSE.contains(&word.s.to_lowercase().as_str());
        let of = match kind {
            _ if house => Of::House,
            Some(of) => of,
            None => self.kind_of(&word),
        };
        let Some(about) = self.about(of, &word) else {
            return;
        };
        for (cell, column) in row.iter().zip(columns) {
            if let Some(column) = column {
                self.cell(about, of, column, cell);
            }
        }
    }

    /// The kind of thing that has a name: an emitter before its own tails.
    fn kind_of(&self, word: &Word) -> Of {
        let is = |name: &str| name.eq_ignore_ascii_case(&word.s);
        let network = self.network;
        if network.vessels.iter().any(|v| is(&v.name)) {
            Of::Vessel
        } else if network.cylinders.iter().any(|c| is(&c.name)) {
            Of::Cylinder
        } else if network.emitters.iter().any(|e| is(&e.name)) {
            Of::Emitter
        } else {
            Of::Run
        }
    }

    fn cell(&mut self, about: About, of: Of, head: &Column, cell: &Cell) {
        let s = cell.s.trim();
        if NOTHING.contains(&s.to_lowercase().as_str()) {
            return;
        }
        let Some(row): Option<&'static Row> = column(of, &head.key) else {
            self.say(
                Diagnostic::error(
                    "claim-column",
                    cell.span.clone(),
                    format!(
                        "`{}` is not claimed of {}",
                        short(&head.key),
                        with_article(of)
                    ),
                )
                .label("a value where none belongs")
                .also(head.span.clone(), "in this column")
                .help("leave the cell empty, or move it to the row that it belongs to"),
            );
            return;
        };
        let word = Word::plain(&cell.s, cell.span.clone());
        let unit = head
            .unit
            .as_deref()
            .filter(|_| matches!(row.sort, Sort::Figure(_) | Sort::Level));
        if let Some(value) = self.value(row, &word, unit) {
            let words = match unit {
                Some(unit) if s.ends_with(|c: char| c.is_ascii_digit()) => format!("{s} {unit}"),
                _ => s.to_owned(),
            };
            self.take(about, row, value, &words, cell.span.clone());
        }
    }
}

fn with_article(of: Of) -> &'static str {
    match of {
        Of::House => "the house",
        Of::Run => "a run",
        Of::Emitter => "an emitter",
        Of::Vessel => "a vessel",
        Of::Circuit => "a second pump's circuit",
        Of::Cylinder => "a cylinder",
    }
}

fn name_kind(head: &str) -> Option<Option<Of>> {
    let head = head.trim().to_lowercase();
    NAMES.iter().find(|(n, _)| *n == head).map(|(_, of)| *of)
}

/// `flow [l/min]`, `flow (l/min)` or `flow, l/min` into column and unit.
fn split_unit(head: &str) -> (&str, Option<&str>) {
    let head = head.trim();
    for (open, close) in [('[', ']'), ('(', ')')] {
        if let Some((key, unit)) = head.strip_suffix(close).and_then(|h| h.split_once(open)) {
            return (key.trim(), Some(unit.trim()));
        }
    }
    match head.split_once(" in ").or_else(|| head.split_once(',')) {
        Some((key, unit)) => (key.trim(), Some(unit.trim())),
        None => (head, None),
    }
}

/// The sign between cells: what the first written line has most of, outside quotes.
fn delimiter(text: &str) -> char {
    let line = text.lines().find(|l| !l.trim().is_empty()).unwrap_or("");
    let mut quoted = false;
    let bare: String = line
        .chars()
        .filter(|c| {
            quoted ^= *c == '"';
            !quoted
        })
        .collect();
    let count = |mark: char| bare.matches(mark).count();
    [';', '\t', ',']
        .into_iter()
        .max_by_key(|m| (count(*m), *m != ','))
        .filter(|m| count(*m) > 0)
        .unwrap_or(',')
}

/// Cells with their places (RFC 4180: quotes, doubled quotes, line ends within quotes).
fn rows(text: &str, skip: usize, mark: char) -> Vec<Vec<Cell>> {
    let mut rows: Vec<Vec<Cell>> = vec![Vec::new()];
    let mut cell = String::new();
    let mut start = skip;
    let mut quoted = false;
    let mut was_quoted = false;
    let mut letters = text
        .char_indices()
        .skip_while(|(at, _)| *at < skip)
        .peekable();
    let put = |rows: &mut Vec<Vec<Cell>>, cell: &mut String, was_quoted: &mut bool, span: Span| {
        let s = std::mem::take(cell);
        let span = if *was_quoted && span.len() == s.len() + 2 {
            span.start + 1..span.end - 1
        } else {
            span
        };
        *was_quoted = false;
        if let Some(row) = rows.last_mut() {
            row.push(Cell { s, span });
        }
    };
    while let Some((at, c)) = letters.next() {
        match c {
            '"' if quoted => {
                if letters.next_if(|(_, n)| *n == '"').is_some() {
                    cell.push('"');
                } else {
                    quoted = false;
                }
            }
            '"' if cell.trim().is_empty() => {
                cell.clear();
                quoted = true;
                was_quoted = true;
            }
            c if c == mark && !quoted => {
                put(&mut rows, &mut cell, &mut was_quoted, start..at);
                start = at + c.len_utf8();
            }
            '\n' if !quoted => {
                let end = if text[..at].ends_with('\r') {
                    at - 1
                } else {
                    at
                };
                put(&mut rows, &mut cell, &mut was_quoted, start..end.max(start));
                start = at + 1;
                rows.push(Vec::new());
            }
            '\r' if !quoted => {}
            c => cell.push(c),
        }
    }
    put(&mut rows, &mut cell, &mut was_quoted, start..text.len());
    rows
}
