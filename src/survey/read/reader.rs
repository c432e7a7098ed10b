//! The walk over a spanned TOML document: fields of a table, figures with their unit, and everything found wrong.

use super::names::{Names, Role};
use super::text::Text;
use super::wording::sort_of;
pub(super) use super::wording::{list, short};
use crate::catalogue::Catalogue;
use crate::diag::{Diagnostic, Span, any_error, nearest};
use crate::quantity::{Celsius, Kelvin, Kv, Metre, Pressure, Volume, VolumeFlow, Watt};
use crate::survey::keys::{self, Dim, Kind, Section};
use crate::survey::{Assumed, At, Head};
use crate::units::{self, Sign};
use std::collections::BTreeSet;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// A value of the document with its place.
pub(super) type Value<'i> = Spanned<DeValue<'i>>;

/// What the walk carries along.
pub(super) struct Reader<'a> {
    /// The file.
    pub file: &'a str,
    /// Words of legs, panels and limits.
    pub catalogue: &'a Catalogue,
    /// What was found wrong so far.
    pub found: Vec<Diagnostic>,
    /// Defaults put in so far.
    pub assumed: Vec<Assumed>,
    /// Names given and places met so far.
    pub names: Names,
    /// Units met: where, class of `[units]`, unit.
    pub units_met: Vec<(usize, &'static str, &'static str)>,
    /// Currency signs met before prices.
    pub signs: Vec<At<String>>,
}

/// A name in the file: a key, without its quotes.
pub(super) fn name_of(key: &Spanned<std::borrow::Cow<'_, str>>) -> At<String> {
    At::new(key.get_ref().to_string(), key.span())
}

/// Entries of a table in the order of the file.
pub(super) fn in_order<'d, 'i>(table: &'d DeTable<'i>) -> Vec<(At<String>, &'d Value<'i>)> {
    let mut entries: Vec<_> = table.iter().map(|(k, v)| (name_of(k), v)).collect();
    entries.sort_by_key(|(k, _)| k.span.start);
    entries
}

/// The keys of one table that the reader asks for by name.
pub(super) struct Fields<'d, 'i> {
    /// The section whose keys these are.
    section: &'static Section,
    /// `emitter lounge`, for messages.
    pub subject: String,
    /// The name or header that the table belongs to.
    pub span: Span,
    entries: Vec<(At<String>, &'d Value<'i>)>,
    /// How many of them are the table's own; the rest came from `like` and `defaults`.
    own: usize,
    asked: BTreeSet<&'static str>,
}

impl<'d, 'i> Fields<'d, 'i> {
    /// The value of a key of the section's table.
    pub fn get(&mut self, key: &'static str) -> Option<&'d Value<'i>> {
        debug_assert!(
            self.section.key(key).is_some(),
            "`{key}` is missing in the table of [{}]",
            self.section.name
        );
        self.asked.insert(key);
        self.entries
            .iter()
            .find(|(k, _)| k.value == key)
            .map(|(_, v)| *v)
    }

    /// Where the key itself stands.
    pub fn key_span(&self, key: &str) -> Option<Span> {
        self.entries
            .iter()
            .find(|(k, _)| k.value == key)
            .map(|(k, _)| k.span.clone())
    }

    /// Whether the key is written.
    pub fn has(&self, key: &str) -> bool {
        self.entries.iter().any(|(k, _)| k.value == key)
    }

    /// Adds entries of another table for keys that this one is silent about.
    pub fn fall_back(&mut self, entries: &[(At<String>, &'d Value<'i>)], except: &[&str]) {
        for (key, value) in entries {
            if !self.has(&key.value) && !except.contains(&key.value.as_str()) {
                self.entries.push((key.clone(), value));
            }
        }
    }
}

impl<'a> Reader<'a> {
    /// Adds one thing found wrong.
    pub fn say(&mut self, diagnostic: Diagnostic) {
        self.found.push(diagnostic);
    }

    /// Whether so much is wrong already that no nearest word is worth the search.
    pub fn full(&self) -> bool {
        self.found.len() > 2 * super::MOST_SAID
    }

    /// Remembers that a place is named here, by the thing `by`.
    pub fn meet(&mut self, name: &At<String>, role: Role, by: &str) {
        self.names.met.push((name.clone(), role, by.to_owned()));
    }

    /// Puts a default into the list of what was assumed.
    pub fn assume(&mut self, subject: &str, value: impl Into<String>, source: impl Into<String>) {
        self.assumed.push(Assumed {
            subject: subject.to_owned(),
            value: value.into(),
            source: source.into(),
        });
    }

    /// The fields of a table of `section`, unknown keys reported.
    pub fn fields<'d, 'i>(
        &mut self,
        section: &'static Section,
        subject: String,
        span: Span,
        table: &'d DeTable<'i>,
    ) -> Fields<'d, 'i> {
        let entries = in_order(table);
        for (key, _) in &entries {
            if section.key(&key.value).is_none() {
                self.unknown_key(section, &subject, key);
            }
        }
        Fields {
            section,
            subject,
            span,
            own: entries.len(),
            entries,
            asked: BTreeSet::new(),
        }
    }

    /// A key that the table of keys has and that nobody asked for would be lost silently: say so.
    pub fn finish(&mut self, fields: &Fields<'_, '_>) {
        if any_error(&self.found) {
            return; // reading may have stopped before the key's turn
        }
        let own = fields.entries.iter().take(fields.own);
        let unread: Vec<_> = own
            .filter(|(k, _)| !fields.asked.contains(k.value.as_str()))
            .collect();
        for (key, _) in unread {
            self.unknown_key(fields.section, &fields.subject, key);
        }
    }

    fn unknown_key(&mut self, section: &Section, subject: &str, key: &At<String>) {
        let words = section.keys.iter().map(|k| k.name);
        let help = match nearest(&key.value, words.clone()) {
            Some(near) => format!("did you mean `{near}`?"),
            None => match keys::sections().find(|s| s.key(&key.value).is_some()) {
                Some(other) => format!(
                    "`{}` is a key of [{}]; here there are: {}",
                    key.value,
                    other.name,
                    list(words)
                ),
                None => format!("the keys here are: {}", list(words)),
            },
        };
        self.say(
            Diagnostic::error(
                "unknown-key",
                key.span.clone(),
                format!("{subject} has no key `{}`", short(&key.value)),
            )
            .label(format!("not a key of [{}]", section.name))
            .help(help),
        );
    }

    /// Says that a value is of the wrong sort.
    pub fn wrong_type(&mut self, what: &str, value: &Value<'_>, expected: &str, example: &str) {
        self.say(
            Diagnostic::error(
                "wrong-type",
                value.span(),
                format!(
                    "{what} is {}, expected {expected}",
                    sort_of(value.get_ref())
                ),
            )
            .label(format!("expected {expected}"))
            .help(format!("write it like {example}")),
        );
    }

    /// The text of a value, if it is one.
    pub fn text(&mut self, what: &str, value: &Value<'_>, example: &str) -> Option<Text> {
        let Some(s) = value.get_ref().as_str() else {
            self.wrong_type(what, value, "text in quotes", example);
            return None;
        };
        let text = Text::new(self.file, value.span(), s);
        if s.trim().is_empty() {
            self.say(
                Diagnostic::error(
                    "value-missing",
                    text.whole(),
                    format!("{what}: nothing is written here"),
                )
                .label("empty")
                .help(format!("write it like {example}, or leave the line out")),
            );
            return None;
        }
        Some(text)
    }

    /// A table, if it is one.
    pub fn table<'d, 'i>(
        &mut self,
        what: &str,
        value: &'d Value<'i>,
        example: &str,
    ) -> Option<&'d DeTable<'i>> {
        let table = value.get_ref().as_table();
        if table.is_none() {
            self.wrong_type(what, value, "a table", example);
        }
        table
    }

    /// A list, if it is one.
    pub fn list<'d, 'i>(
        &mut self,
        what: &str,
        value: &'d Value<'i>,
        example: &str,
    ) -> Option<&'d [Value<'i>]> {
        let list = value.get_ref().as_array();
        if list.is_none() {
            self.wrong_type(what, value, "a list", example);
        }
        list.map(|l| &**l)
    }

    /// A figure in SI: text with a unit, or a plain number in the quantity's own unit.
    pub fn figure(
        &mut self,
        what: &str,
        value: &Value<'_>,
        dim: Dim,
        sign: Sign,
    ) -> Option<At<f64>> {
        let number = match value.get_ref() {
            DeValue::String(s) => {
                let text = Text::new(self.file, value.span(), s);
                let read = self.figure_in(what, &text, &text.s, dim, sign);
                return read.map(|v| At::new(v, value.span()));
            }
            DeValue::Integer(i) => parse_integer(i.as_str(), i.radix()),
            DeValue::Float(f) => f.as_str().parse::<f64>().ok(),
            _ => {
                let expected = format!("{} as text with its unit", dim.words());
                self.wrong_type(what, value, &expected, dim.example());
                return None;
            }
        };
        match units::plain(dim, number.unwrap_or(f64::INFINITY), sign) {
            Ok(v) => Some(At::new(v, value.span())),
            Err(e) => {
                self.say(e.diagnostic(what, |_| value.span()));
                None
            }
        }
    }

    /// A figure that is a part of a text.
    pub fn figure_in(
        &mut self,
        what: &str,
        text: &Text,
        part: &str,
        dim: Dim,
        sign: Sign,
    ) -> Option<f64> {
        self.note_unit(text, part, dim);
        match units::read_signed(dim, part, sign) {
            Ok(v) => Some(v),
            Err(e) => {
                let start = text.range_of(part).start;
                self.say(e.diagnostic(what, |r| text.span(start + r.start..start + r.end)));
                None
            }
        }
    }

    /// A head that is a part of a text.
    pub fn head_in(&mut self, what: &str, text: &Text, part: &str, sign: Sign) -> Option<Head> {
        self.note_unit(text, part, Dim::Head);
        match units::head_in(part, sign) {
            Ok(v) => Some(v),
            Err(e) => {
                let start = text.range_of(part).start;
                self.say(e.diagnostic(what, |r| text.span(start + r.start..start + r.end)));
                None
            }
        }
    }

    /// Remembers the unit of a figure, so that results are shown in the units of the file.
    fn note_unit(&mut self, text: &Text, part: &str, dim: Dim) {
        let class = match dim {
            Dim::Flow => "flow",
            Dim::Head | Dim::Pressure => "pressure",
            Dim::Power => "power",
            Dim::Temperature => "temperature",
            Dim::RunLength => "length",
            _ => return,
        };
        let unit = part
            .trim_start()
            .trim_start_matches(|c: char| c.is_ascii_digit() || "+-−.eE ".contains(c));
        let unit = unit
            .trim()
            .replace('³', "3")
            .replace('°', "")
            .to_lowercase();
        let known = keys::section("units")
            .and_then(|s| s.key(class))
            .map(|k| k.kind);
        if let Some(Kind::Unit(words)) = known
            && let Some(word) = words.iter().find(|w| w.to_lowercase() == unit)
        {
            self.units_met.push((text.span_of(part).start, class, word));
        }
    }

    /// The figure of a key, with the sign and quantity that the table of keys gives it.
    pub fn number(&mut self, fields: &mut Fields<'_, '_>, key: &'static str) -> Option<At<f64>> {
        let value = fields.get(key)?;
        let (dim, sign) = match fields.section.key(key)?.kind {
            Kind::Positive(dim) => (dim, Sign::Positive),
            Kind::NotNegative(dim) => (dim, Sign::NotNegative),
            Kind::Any(dim) => (dim, Sign::Any),
            Kind::KvText => (Dim::Kv, Sign::Positive),
            _ => {
                debug_assert!(
                    false,
                    "`{key}` is no figure in the table of [{}]",
                    fields.section.name
                );
                return None;
            }
        };
        self.figure(&what(fields, key), value, dim, sign)
    }

    /// `true` or `false`; `false` if it is not written.
    pub fn flag(&mut self, fields: &mut Fields<'_, '_>, key: &'static str) -> bool {
        let Some(value) = fields.get(key) else {
            return false;
        };
        match value.get_ref() {
            DeValue::Boolean(b) => *b,
            _ => {
                self.wrong_type(&what(fields, key), value, "true or false", "`true`");
                false
            }
        }
    }

    /// A name or any text of a key.
    pub fn word(&mut self, fields: &mut Fields<'_, '_>, key: &'static str) -> Option<At<String>> {
        let value = fields.get(key)?;
        let example = fields.section.key(key).map_or("", |k| k.example);
        let text = self.text(&what(fields, key), value, example)?;
        Some(At::new(text.s.trim().to_owned(), value.span()))
    }

    /// One of the words that the table of keys gives.
    pub fn choice(
        &mut self,
        fields: &mut Fields<'_, '_>,
        key: &'static str,
    ) -> Option<At<&'static str>> {
        let word = self.word(fields, key)?;
        let (Kind::Words(words) | Kind::Unit(words)) = fields.section.key(key)?.kind else {
            debug_assert!(false, "`{key}` is no choice of words");
            return None;
        };
        let plain = |w: &str| w.replace('³', "3").replace('°', "").to_lowercase();
        match words.iter().find(|w| plain(w) == plain(&word.value)) {
            Some(w) => Some(At::new(w, word.span)),
            None => {
                self.unknown_word(&what(fields, key), &word.value, word.span, words);
                None
            }
        }
    }

    /// Says that a word is none of those expected.
    pub fn unknown_word(&mut self, what: &str, word: &str, span: Span, words: &[&str]) {
        let help = match nearest(word, words.iter().copied()) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("the words here are: {}", list(words.iter().copied())),
        };
        self.say(
            Diagnostic::error(
                "unknown-word",
                span,
                format!("{what} does not know the word `{}`", short(word)),
            )
            .label(format!("expected {}", list(words.iter().copied())))
            .help(help),
        );
    }

    /// A list of names.
    pub fn names(&mut self, fields: &mut Fields<'_, '_>, key: &'static str) -> Vec<At<String>> {
        let Some(value) = fields.get(key) else {
            return Vec::new();
        };
        let what = what(fields, key);
        if value.get_ref().is_str() {
            return self.word(fields, key).into_iter().collect();
        }
        let Some(list) = self.list(&what, value, "[\"upstairs\"]") else {
            return Vec::new();
        };
        list.iter()
            .filter_map(|v| {
                let text = self.text(&what, v, "\"upstairs\"")?;
                Some(At::new(text.s.trim().to_owned(), v.span()))
            })
            .collect()
    }

    /// Says that a key that must be there is not.
    pub fn missing(&mut self, fields: &Fields<'_, '_>, key: &'static str, why: &str) {
        let example = fields.section.key(key).map_or("", |k| k.example);
        self.say(
            Diagnostic::error(
                "key-missing",
                fields.span.clone(),
                format!("{} has no `{key}`{why}", fields.subject),
            )
            .label(format!("`{key}` is missing"))
            .help(format!("write for example `{key} = {example}`")),
        );
    }
}

/// `emitter lounge: needs`, for messages.
pub(super) fn what(fields: &Fields<'_, '_>, key: &str) -> String {
    format!("`{key}` of {}", fields.subject)
}

macro_rules! typed {
    ($($name:ident $type:ident;)*) => {
        impl Reader<'_> {$(
            /// The figure of a key as this quantity.
            pub fn $name(&mut self, fields: &mut Fields<'_, '_>, key: &'static str) -> Option<At<$type>> {
                self.number(fields, key).map(|v| At::new($type(v.value), v.span))
            }
        )*}
    };
}

typed! {
    power Watt;
    flow VolumeFlow;
    pressure Pressure;
    celsius Celsius;
    kelvin Kelvin;
    volume Volume;
    size Metre;
    kv Kv;
}

fn parse_integer(digits: &str, radix: u32) -> Option<f64> {
    match radix {
        10 => digits.parse::<f64>().ok(),
        _ => i128::from_str_radix(digits, radix).ok().map(|i| i as f64),
    }
}
