//! One stated value: a figure with its unit, a pipe, a name, a fluid.

use super::number::{self, plain};
use super::{Reader, Word};
use crate::audit::claim::{Row, Sort, Value};
use crate::catalogue::Catalogue;
use crate::diag::{Diagnostic, nearest};
use crate::hydraulics::liquid;
use crate::survey::Fluid;
use crate::survey::read::wording::{list, short};
use crate::units::{self, Quantity, Sign};

impl Reader<'_> {
    /// The value of a claim; `unit` is that of its column, for a number that has none.
    pub(super) fn value(&mut self, row: &Row, word: &Word, unit: Option<&str>) -> Option<Value> {
        let what = format!("`{}`", row.key);
        let s = word.s.trim();
        if s.is_empty() {
            self.say(
                Diagnostic::error(
                    "value-missing",
                    word.inner(),
                    format!("{what}: nothing is written here"),
                )
                .label("empty")
                .help("leave the line out if nothing is claimed"),
            );
            return None;
        }
        match row.sort {
            Sort::Figure(quantity) => self.figure(&what, quantity, word, unit),
            Sort::Level => self.number(&what, word, unit, &["db(a)", "dba", "db"], true),
            Sort::Number => self.number(&what, word, None, &[], false),
            Sort::Mark => {
                let words = ["turns", "turn", "t", "no.", "no", "number", "preset"];
                self.number(&what, word, None, &words, false)
            }
            Sort::Pipe => self.pipe(&what, word),
            Sort::Name => self.index(word),
            Sort::Fluid => self.fluid(&what, word),
            Sort::Flag => match s.to_lowercase().as_str() {
                "true" | "yes" | "pass" | "passes" | "ok" => Some(Value::Flag(true)),
                "false" | "no" | "fail" | "fails" => Some(Value::Flag(false)),
                _ => {
                    let words = ["yes", "no", "passes", "fails"];
                    self.unknown_word(&what, word, &words);
                    None
                }
            },
        }
    }

    fn figure(
        &mut self,
        what: &str,
        quantity: Quantity,
        word: &Word,
        unit: Option<&str>,
    ) -> Option<Value> {
        let written = match plain(&word.s, self.style) {
            Ok(written) => written,
            Err(both) => {
                self.ambiguous(what, word, &both);
                return None;
            }
        };
        let bare = written
            .trim()
            .trim_end_matches(|c: char| c.is_ascii_digit() || c == '.');
        let joined = match unit {
            Some(unit) if matches!(bare, "" | "-" | "+" | "−") => format!("{written} {unit}"),
            _ => written.clone(),
        };
        let sign = match quantity {
            Quantity::Temperature => Sign::Any,
            _ => Sign::Positive,
        };
        let exact = joined == word.s;
        if let Err(error) = units::read_signed(quantity, &joined, sign) {
            if error.code() == "unit-missing" {
                self.unit_missing(what, word, quantity);
            } else {
                let place =
                    |r: std::ops::Range<usize>| if exact { word.place(r) } else { word.inner() };
                self.say(error.diagnostic(what, place));
            }
            return None;
        }
        let read = units::prefix(quantity, &joined, sign).ok()?;
        if !read.has_unit && quantity != Quantity::Kv {
            self.unit_missing(what, word, quantity);
            return None;
        }
        let si = if read.fluid {
            read.value * self.density() * GRAVITY
        } else {
            read.value
        };
        let (number, last) = digits(&joined)?;
        let per_unit = match quantity {
            // an offset between scales does not count for a rounding
            Quantity::Temperature => {
                let degree = units::read_signed(Quantity::Difference, &joined, Sign::Any);
                degree
                    .ok()
                    .filter(|_| number != 0.0)
                    .map_or(1.0, |d| (d / number).abs())
            }
            _ if number != 0.0 => (si / number).abs(),
            _ => 0.0,
        };
        Some(Value::Figure {
            si,
            rounding: 0.5 * last * per_unit,
            number,
        })
    }

    /// A number with one of a few words before or after it.
    fn number(
        &mut self,
        what: &str,
        word: &Word,
        unit: Option<&str>,
        words: &[&str],
        needed: bool,
    ) -> Option<Value> {
        let said = word.s.trim().to_lowercase();
        let bare = words
            .iter()
            .find_map(|w| said.strip_suffix(w).or_else(|| said.strip_prefix(w)));
        let unit = unit.is_some_and(|u| words.contains(&u.trim().to_lowercase().as_str()));
        let written = match plain(bare.unwrap_or(&said).trim(), self.style) {
            Ok(written) => written,
            Err(both) => {
                self.ambiguous(what, word, &both);
                return None;
            }
        };
        let read = written
            .trim()
            .parse::<f64>()
            .ok()
            .filter(|x| x.is_finite() && *x > 0.0 && *x < 1e6);
        let missing = needed && bare.is_none() && !unit;
        let (Some(number), false) = (read, missing) else {
            let example = match (words.first(), needed) {
                (Some(_), true) => "`42 dB(A)`",
                (Some(_), false) => "`1.5 turns` or `no. 4`",
                (None, _) => "`4`",
            };
            let code = if read.is_some() {
                "unit-missing"
            } else {
                "number-expected"
            };
            self.say(
                Diagnostic::error(
                    code,
                    word.inner(),
                    format!("{what}: `{}` cannot be read", short(word.s.trim())),
                )
                .label("a number is expected, with its unit if it has one")
                .help(format!("write it like {example}")),
            );
            return None;
        };
        let (_, last) = digits(&written)?;
        Some(Value::Figure {
            si: number,
            rounding: 0.5 * last,
            number,
        })
    }

    /// Density at the middle of design flow and return, kg/m³.
    fn density(&self) -> f64 {
        let design = &self.network.design;
        let middle_c = design.flow_temperature_c - design.drop_k / 2.0;
        let fluid = self.network.fluids.first();
        fluid
            .and_then(|f| liquid(f).at(middle_c).ok())
            .map_or(1000.0, |p| p.rho_kg_m3)
    }

    pub(super) fn unit_missing(&mut self, what: &str, word: &Word, quantity: Quantity) {
        let example = match quantity {
            Quantity::Power => "\"9 kW\"",
            Quantity::Temperature => "\"45 C\"",
            Quantity::Difference => "\"5 K\"",
            Quantity::Volume => "\"40 l\"",
            Quantity::Size => "\"20.2 mm\"",
            Quantity::RunLength => "\"12 m\"",
            other => other.example(),
        };
        self.say(
            Diagnostic::error(
                "unit-missing",
                word.inner(),
                format!("{what}: `{}` has no unit", short(word.s.trim())),
            )
            .label("a unit is expected after this number")
            .help(format!(
                "a claim always carries its unit, as the schedule means it: {example}; in a table the column's \
                 heading may carry it, like `flow [l/min]`"
            )),
        );
    }

    fn ambiguous(&mut self, what: &str, word: &Word, both: &number::Ambiguous) {
        self.say(
            Diagnostic::error(
                "number-ambiguous",
                word.inner(),
                format!(
                    "{what}: `{}` can be {} or {}",
                    short(word.s.trim()),
                    both.decimal,
                    both.thousands
                ),
            )
            .label("a decimal sign, or a sign between thousands?")
            .help(format!(
                "write `{}` or `{}`; nothing else in the schedule tells which sign it uses",
                both.decimal, both.thousands
            )),
        );
    }

    fn pipe(&mut self, what: &str, word: &Word) -> Option<Value> {
        let catalogue = Catalogue::embedded();
        let s = word.s.trim();
        let squeeze = |t: &str| t.to_lowercase().replace([' ', '\u{a0}'], "");
        let by_size = || {
            catalogue
                .pipes
                .iter()
                .find(|p| squeeze(&p.size) == squeeze(s))
        };
        if let Some(pipe) = catalogue.pipe(s).or_else(by_size) {
            return Some(Value::Pipe(pipe.word.clone()));
        }
        let help = match catalogue.nearest_pipe(s) {
            Some(near) => format!("did you mean `{near}`? `pipecarry catalogue` lists them all"),
            None => "`pipecarry catalogue` lists all pipes".into(),
        };
        self.say(
            Diagnostic::error(
                "unknown-pipe",
                word.inner(),
                format!("{what}: the catalogue has no pipe `{}`", short(s)),
            )
            .label("not a pipe of the catalogue")
            .help(help),
        );
        None
    }

    fn index(&mut self, word: &Word) -> Option<Value> {
        let network = self.network;
        let names: Vec<&str> = network
            .emitters
            .iter()
            .map(|e| &*e.name)
            .chain(network.vessels.iter().map(|v| &*v.name))
            .chain(network.manifolds.iter().map(|m| &*m.name))
            .chain(network.cylinders.iter().map(|c| &*c.name))
            .chain(network.exchangers.iter().map(|e| &*e.name))
            .collect();
        let wanted = word.s.trim().to_lowercase();
        if let Some(name) = names.iter().find(|n| n.to_lowercase() == wanted) {
            return Some(Value::Name((*name).to_owned()));
        }
        self.not_in_the_file("emitter", word, names.into_iter());
        None
    }

    fn fluid(&mut self, what: &str, word: &Word) -> Option<Value> {
        let s = word.s.trim().to_lowercase();
        if s == "water" {
            return Some(Value::Fluid(Fluid::Water));
        }
        for (name, propylene) in [("propylene glycol", true), ("ethylene glycol", false)] {
            let Some(at) = s.find(name) else { continue };
            let mut rest = s.clone();
            rest.replace_range(at..at + name.len(), "");
            let share = Word {
                s: rest.trim().to_owned(),
                whole: word.inner(),
                map: super::Map::Whole,
            };
            let share = self.read_share(what, &share, (0.02, 0.5))?;
            return Some(Value::Fluid(Fluid::Glycol {
                propylene,
                percent: share * 100.0,
            }));
        }
        self.unknown_word(
            what,
            word,
            &["water", "propylene glycol 25%", "ethylene glycol 25%"],
        );
        None
    }

    /// A share between two sensible ends: percent or fraction, and never a number that could be either.
    pub(super) fn read_share(
        &mut self,
        what: &str,
        word: &Word,
        within: (f64, f64),
    ) -> Option<f64> {
        let s = word.s.trim();
        let read = plain(s, self.style)
            .ok()
            .and_then(|t| units::prefix(Quantity::Share, &t, Sign::Positive).ok());
        match read {
            Some(read) if (within.0..=within.1).contains(&read.value) => return Some(read.value),
            _ => {}
        }
        let low = within.0 * 100.0;
        let high = within.1 * 100.0;
        let (label, help) = match read.map(|r| (r.value, r.has_unit)) {
            Some((v, false)) if v > 1.0 => (
                "percent or a fraction?",
                format!(
                    "write `{v}%` if percent is meant, or `{}` as a fraction",
                    v / 100.0
                ),
            ),
            Some((v, true)) if v < within.0 => (
                "percent or a fraction?",
                format!(
                    "`{s}` is a very small share: write `{}%` if the fraction {} is meant",
                    v * 1e4,
                    v * 100.0
                ),
            ),
            _ => (
                "a share is expected",
                format!("write it in percent, between {low}% and {high}%"),
            ),
        };
        self.say(
            Diagnostic::error(
                "claim-share",
                word.inner(),
                format!("{what}: `{}` is no share that makes sense here", short(s)),
            )
            .label(label)
            .help(help),
        );
        None
    }

    fn unknown_word(&mut self, what: &str, word: &Word, words: &[&str]) {
        let help = match nearest(&word.s, words.iter().copied()) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("the words here are: {}", list(words.iter().copied())),
        };
        self.say(
            Diagnostic::error(
                "unknown-word",
                word.inner(),
                format!("{what} does not know the word `{}`", short(word.s.trim())),
            )
            .label(format!("expected {}", list(words.iter().copied())))
            .help(help),
        );
    }
}

/// Standard gravity, m/s² (ISO 80000-3).
const GRAVITY: f64 = 9.80665;

/// The number in a text and the worth of its last written digit: 1.30 is good to 0.01, 1200 to 1.
fn digits(text: &str) -> Option<(f64, f64)> {
    let start = text.find(|c: char| c.is_ascii_digit() || c == '.')?;
    let body = &text[start..];
    let end = body
        .find(|c: char| !c.is_ascii_digit() && c != '.')
        .unwrap_or(body.len());
    let number: f64 = body[..end].parse().ok()?;
    let decimals = body[..end].split_once('.').map_or(0, |(_, d)| d.len());
    let last = (0..decimals.min(12)).fold(1.0, |worth, _| worth / 10.0);
    Some((number, last))
}
