//! Claims as a person writes them: a short TOML or a CSV schedule, into [`Claims`], with everything found wrong.

mod names;
mod number;
mod table;
mod value;

pub use names::name as about_name;

use super::claim::{About, Claim, Claims, Of, ROWS, Row, Sort, Value, find};
use crate::diag::{Diagnostic, Span, any_error, nearest};
use crate::network::Network;
use crate::survey::read::syntax;
use crate::survey::read::text::Text;
use crate::survey::read::tidy;
use crate::survey::read::wording::{list, short, sort_of};
use crate::units::Quantity;
use number::Style;
use std::collections::BTreeMap;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Reads what somebody states about a house: TOML, or a CSV schedule with named columns if `csv`.
///
/// Returns the claims, if nothing is an error, and everything found, in the order of the text.
pub fn read(text: &str, csv: bool, network: &Network) -> (Option<Claims>, Vec<Diagnostic>) {
    if let Some(hopeless) = syntax::hopeless(text) {
        return (None, vec![hopeless]);
    }
    let mut reader = Reader {
        text,
        network,
        found: Vec::new(),
        claims: Claims::default(),
        met: BTreeMap::new(),
        tolerance: None,
        style: Style::default(),
    };
    if csv {
        reader.table();
    } else {
        let (document, broken) = syntax::parse(text);
        reader.document(document.get_ref());
        if !broken.is_empty() {
            syntax::keep_local(text, &mut reader.found, &broken);
            reader.found.extend(broken);
        }
    }
    if reader.claims.list.is_empty() && !any_error(&reader.found) {
        reader.say(
            Diagnostic::error("claims-none", 0..0, "nothing is claimed here")
                .label("no claim was found")
                .help("a claim is written like `flow = \"26 l/min\"`, or below a heading like `[run.primary]`"),
        );
    }
    let tolerance = reader.tolerance;
    for claim in &mut reader.claims.list {
        claim.tolerance = tolerance;
    }
    let found = tidy(reader.found);
    let claims = (!any_error(&found)).then_some(reader.claims);
    (claims, found)
}

/// A piece of the text that holds a value, and the way back from its characters to the file.
pub(super) struct Word {
    /// What it says.
    pub s: String,
    whole: Span,
    map: Map,
}

enum Map {
    Text(Text),
    From(usize),
    Whole,
}

impl Word {
    fn of_toml(file: &str, span: Span, s: &str) -> Self {
        let text = Text::new(file, span.clone(), s);
        Self {
            s: s.to_owned(),
            whole: span,
            map: Map::Text(text),
        }
    }

    fn plain(s: &str, span: Span) -> Self {
        let map = if span.len() == s.len() {
            Map::From(span.start)
        } else {
            Map::Whole
        };
        Self {
            s: s.to_owned(),
            whole: span,
            map,
        }
    }

    /// Bytes of the file for bytes of the word.
    fn place(&self, r: std::ops::Range<usize>) -> Span {
        match &self.map {
            Map::Text(text) => text.span(r),
            Map::From(start) => start + r.start..start + r.end,
            Map::Whole => self.whole.clone(),
        }
    }

    /// The word without quotes.
    fn inner(&self) -> Span {
        self.place(0..self.s.len())
    }
}

struct Reader<'a> {
    text: &'a str,
    network: &'a Network,
    found: Vec<Diagnostic>,
    claims: Claims,
    /// What was claimed already, and where.
    met: BTreeMap<(About, super::claim::What), Span>,
    tolerance: Option<f64>,
    style: Style,
}

impl Reader<'_> {
    fn say(&mut self, diagnostic: Diagnostic) {
        self.found.push(diagnostic);
    }

    fn line(&self, at: usize) -> usize {
        let before = self.text.as_bytes().iter().take(at);
        1 + before.filter(|&&b| b == b'\n').count()
    }

    /// Takes a claim into the list unless the same thing was claimed before.
    fn take(&mut self, about: About, row: &'static Row, value: Value, words: &str, span: Span) {
        if let Some(first) = self.met.get(&(about, row.what)) {
            let first = first.clone();
            self.say(
                Diagnostic::error(
                    "claim-twice",
                    span,
                    format!("{} is claimed twice", self.thing(about, row)),
                )
                .label("the second time")
                .also(first, "the first time")
                .help("which of the two does the schedule mean? Take the other out"),
            );
            return;
        }
        self.met.insert((about, row.what), span.clone());
        self.claims.list.push(Claim {
            about,
            row,
            value,
            words: words.trim().to_owned(),
            tolerance: None,
            line: self.line(span.start),
            span,
        });
    }

    fn thing(&self, about: About, row: &Row) -> String {
        let key = row.key.replace('_', " ");
        match names::name(self.network, about) {
            Some(name) => format!("{key} of `{}`", short(&name)),
            None => format!("`{key}`"),
        }
    }

    fn document(&mut self, root: &DeTable<'_>) {
        for (key, value) in in_order(root) {
            let name = key.get_ref().as_ref();
            match (name, heading(name)) {
                ("by", _) => self.claims.by = self.string(name, value).map(|w| w.s),
                ("tolerance", _) => self.tolerance = self.share(value),
                (_, Some(of)) if value.get_ref().is_table() => self.heading(of, value),
                _ => match find(Of::House, name) {
                    Some(row) => self.entry(About::House, row, value),
                    None if heading(name).is_some() => self.wrong_type(
                        &format!("`{name}`"),
                        value,
                        "a table with a name, such as `[run.primary]`",
                    ),
                    None => self.unknown_key(Of::House, key),
                },
            }
        }
    }

    fn heading(&mut self, of: Of, value: &Spanned<DeValue<'_>>) {
        let Some(things) = value.get_ref().as_table() else {
            return;
        };
        for (name, entries) in in_order(things) {
            let word = Word::plain(name.get_ref(), name.span());
            let about = self.about(of, &word);
            let Some(table) = entries.get_ref().as_table() else {
                let example = format!("a table of claims, such as `[{}.name]`", of.word());
                self.wrong_type(&format!("`{}`", short(&word.s)), entries, &example);
                continue;
            };
            for (key, value) in in_order(table) {
                match find(of, key.get_ref()) {
                    Some(row) => {
                        if let Some(about) = about {
                            self.entry(about, row, value);
                        }
                    }
                    None => self.unknown_key(of, key),
                }
            }
        }
    }

    fn entry(&mut self, about: About, row: &'static Row, value: &Spanned<DeValue<'_>>) {
        let what = format!("`{}`", row.key);
        let span = value.span();
        match (value.get_ref(), row.sort) {
            (DeValue::Boolean(b), Sort::Flag) => {
                self.take(about, row, Value::Flag(*b), &b.to_string(), span);
            }
            (DeValue::String(s), _) => {
                let word = Word::of_toml(self.text, span.clone(), s);
                if let Some(value) = self.value(row, &word, None) {
                    self.take(about, row, value, s, span);
                }
            }
            (DeValue::Integer(_) | DeValue::Float(_), Sort::Number | Sort::Mark) => {
                let raw = self.text.get(span.clone()).unwrap_or("").to_owned();
                let word = Word::plain(&raw, span.clone());
                if let Some(value) = self.value(row, &word, None) {
                    self.take(about, row, value, &raw, span);
                }
            }
            (DeValue::Integer(_) | DeValue::Float(_), Sort::Figure(q)) => {
                let raw = self.text.get(span.clone()).unwrap_or("").to_owned();
                let word = Word::plain(&raw, span.clone());
                if q != Quantity::Kv {
                    self.unit_missing(&what, &word, q);
                } else if let Some(value) = self.value(row, &word, None) {
                    self.take(about, row, value, &raw, span);
                }
            }
            _ => {
                let expected = match row.sort {
                    Sort::Flag => "true or false",
                    _ => "text in quotes",
                };
                self.wrong_type(&what, value, expected);
            }
        }
    }

    fn string(&mut self, key: &str, value: &Spanned<DeValue<'_>>) -> Option<Word> {
        match value.get_ref() {
            DeValue::String(s) => Some(Word::of_toml(self.text, value.span(), s)),
            _ => {
                self.wrong_type(&format!("`{key}`"), value, "text in quotes");
                None
            }
        }
    }

    /// A tolerance for all claims: percent or fraction, and never a number that could be either.
    fn share(&mut self, value: &Spanned<DeValue<'_>>) -> Option<f64> {
        let raw = match value.get_ref() {
            DeValue::String(s) => s.to_string(),
            _ => self.text.get(value.span()).unwrap_or("").to_owned(),
        };
        let word = match value.get_ref() {
            DeValue::String(s) => Word::of_toml(self.text, value.span(), s),
            _ => Word::plain(&raw, value.span()),
        };
        self.read_share("`tolerance`", &word, (0.001, 0.5))
    }

    fn unknown_key(&mut self, of: Of, key: &Spanned<std::borrow::Cow<'_, str>>) {
        let name = key.get_ref().as_ref();
        let mut words: Vec<&str> = ROWS.iter().filter(|r| r.of == of).map(|r| r.key).collect();
        if of == Of::House {
            words.extend(["by", "tolerance"]);
            words.extend(Of::ALL.iter().skip(1).map(|of| of.word()));
        }
        let elsewhere = ROWS.iter().find(|r| r.key == name);
        let help = match (nearest(name, words.iter().copied()), elsewhere) {
            (_, Some(row)) if row.of != Of::House => format!(
                "`{name}` is claimed of a thing: below `[{}.NAME]`",
                row.of.word()
            ),
            (Some(near), _) => format!("did you mean `{near}`?"),
            (None, _) => format!("what can be claimed here: {}", list(words)),
        };
        self.say(
            Diagnostic::error(
                "unknown-key",
                key.span(),
                format!("there is no claim called `{}`", short(name)),
            )
            .label("not a claim that is known here")
            .help(help),
        );
    }

    fn wrong_type(&mut self, what: &str, value: &Spanned<DeValue<'_>>, expected: &str) {
        let is = sort_of(value.get_ref());
        self.say(
            Diagnostic::error(
                "wrong-type",
                value.span(),
                format!("{what} is {is}, expected {expected}"),
            )
            .label(format!("expected {expected}"))
            .help("a claim is written like `flow = \"26 l/min\"`"),
        );
    }
}

/// The heading that a word is.
fn heading(word: &str) -> Option<Of> {
    Of::ALL
        .into_iter()
        .skip(1) // the house has no heading
        .find(|of| of.word() == word)
}

/// Entries of a table in the order of the file.
fn in_order<'d, 'i>(
    table: &'d DeTable<'i>,
) -> Vec<(
    &'d Spanned<std::borrow::Cow<'i, str>>,
    &'d Spanned<DeValue<'i>>,
)> {
    let mut entries: Vec<_> = table.iter().collect();
    entries.sort_by_key(|(key, _)| key.span().start);
    entries
}
