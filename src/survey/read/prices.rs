//! Prices, shared openings, and what a plan may touch.

use super::reader::{Reader, Value, list, short, what};
use super::text::Text;
use crate::catalogue::PriceTable;
use crate::diag::{Diagnostic, nearest};
use crate::survey::keys::{self, Dim};
use crate::survey::{At, Evidence, Opening, Panel, PlanWords, Priced, Prices};
use crate::units::Sign;
use toml::de::DeTable;

/// Sections whose names are runs, or things whose pipes are.
const RUNS: [&str; 7] = [
    "pair", "run", "emitter", "manifold", "ring", "loop", "cylinder",
];

/// Sections whose lines can have a second pipe beside them.
const DOUBLED: [&str; 2] = ["pair", "run"];

/// Per what a price is.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Per {
    Metre,
    Each,
    Energy,
}

impl Per {
    fn words(self) -> &'static str {
        match self {
            Self::Metre => "money per metre",
            Self::Each => "money each",
            Self::Energy => "money per kWh",
        }
    }

    fn example(self) -> &'static str {
        match self {
            Self::Metre => "\"11.40 per m\"",
            Self::Each => "380",
            Self::Energy => "\"0.27 per kWh\"",
        }
    }

    fn takes(self, unit: &str) -> bool {
        let units: &[&str] = match self {
            Self::Metre => &["per m", "/m", "/ m", "a metre", "per metre"],
            Self::Each => &["each", "in all"],
            Self::Energy => &["per kwh", "/kwh", "/ kwh"],
        };
        unit.is_empty() || units.contains(&unit.to_lowercase().as_str())
    }
}

impl Reader<'_> {
    /// `[prices]`.
    pub fn prices(&mut self, table: &DeTable<'_>) -> Prices {
        let mut prices = Prices::default();
        let mut keys: Vec<At<String>> = Vec::new();
        for (key, value) in super::reader::in_order(table) {
            if key.value == "currency" {
                prices.currency = self
                    .text("`currency` of the prices", value, "\"£\"")
                    .map(|t| t.s.trim().to_owned());
                continue;
            }
            let Some(priced) = self.priced(&key) else {
                continue;
            };
            let per = match priced {
                Priced::Pipe(_) | Priced::Work(_) => Per::Metre,
                _ => Per::Each,
            };
            let mut before = prices.rows.iter().zip(&keys);
            if let Some((_, other)) = before.find(|((p, _), _)| *p == priced) {
                let what = format!("two prices for one thing: `{}`", short(&key.value));
                self.say(
                    Diagnostic::error("price-twice", key.span.clone(), what)
                        .label("again here")
                        .also(other.span.clone(), "here already")
                        .help("leave one of the two"),
                );
                continue;
            }
            let what = format!("price of `{}`", short(&key.value));
            if let Some(money) = self.money(&what, value, per) {
                prices.rows.push((priced, money));
                keys.push(key);
            }
        }
        prices
    }

    /// What a key of the prices names.
    fn priced(&mut self, key: &At<String>) -> Option<Priced> {
        let words = key.value.trim();
        if let Some(pipe) = self.catalogue.pipe(words) {
            return Some(Priced::Pipe(pipe.word.clone()));
        }
        if let Some(lies) = words
            .strip_prefix("work ")
            .and_then(|w| self.catalogue.lies(w))
        {
            return Some(Priced::Work(lies));
        }
        if let Some(lies) = words
            .strip_prefix("open ")
            .and_then(|w| self.catalogue.lies(w))
        {
            return Some(Priced::Open(lies));
        }
        if let Some(item) = self.catalogue.item(words) {
            return Some(Priced::Item(item.word.clone()));
        }
        if let Some(valve) = self.catalogue.valve(words) {
            return Some(Priced::Item(valve.word.clone()));
        }
        if let Some(panel) = panel(words) {
            return Some(Priced::Panel(panel));
        }
        // the longest name that a pipe or a radiator follows
        let blanks: Vec<usize> = words.match_indices(' ').map(|(at, _)| at).collect();
        for at in blanks.into_iter().rev() {
            let (name, rest) = (words[..at].trim(), words[at..].trim());
            if self.names.is("emitter", name)
                && let Some(panel) = panel(rest)
            {
                return Some(Priced::Radiator {
                    emitter: name.to_owned(),
                    panel,
                });
            }
            if DOUBLED.iter().any(|s| self.names.is(s, name))
                && let Some(pipe) = rest
                    .strip_prefix("beside ")
                    .and_then(|rest| self.catalogue.pipe(rest.trim()))
            {
                return Some(Priced::Beside {
                    run: name.to_owned(),
                    pipe: pipe.word.clone(),
                });
            }
            if RUNS.iter().any(|s| self.names.is(s, name))
                && let Some(pipe) = self.catalogue.pipe(rest)
            {
                return Some(Priced::Run {
                    run: name.to_owned(),
                    pipe: pipe.word.clone(),
                });
            }
        }
        let help = match self.near_price(words) {
            Some(near) => format!("did you mean `{near}`?"),
            None => "a price is of a pipe word, `work PLACE`, `open PLACE`, a fitting, a valve, a \
                     radiator `22 600x1200`, a run with its pipe `hall cu28`, or an emitter with \
                     its radiator"
                .to_owned(),
        };
        self.say(
            Diagnostic::error(
                "price-unknown",
                key.span.clone(),
                format!("nothing is known that `{}` could price", short(&key.value)),
            )
            .label("not a word of the catalogue or a run of the file")
            .help(help),
        );
        None
    }

    /// What a misspelt key of the prices most likely names; of two words the one that is known stays.
    fn near_price(&self, words: &str) -> Option<String> {
        for of in ["work ", "open "] {
            if let Some(place) = words.strip_prefix(of) {
                let near = self.catalogue.nearest_place(place)?;
                return Some(format!("{of}{near}"));
            }
        }
        let blanks: Vec<usize> = words.match_indices(' ').map(|(at, _)| at).collect();
        for at in blanks.into_iter().rev() {
            let (name, rest) = (words[..at].trim(), words[at..].trim());
            if name.ends_with(" beside") {
                continue;
            }
            let (beside, pipe) = match rest.strip_prefix("beside ") {
                Some(pipe) => ("beside ", pipe.trim()),
                None => ("", rest),
            };
            let sections: &[&str] = match (panel(rest), beside) {
                (Some(_), _) => &["emitter"],
                (None, "") => &RUNS,
                _ => &DOUBLED,
            };
            if panel(rest).is_some() || self.catalogue.pipe(pipe).is_some() {
                let near = nearest(name, sections.iter().flat_map(|s| self.names.of(s)))?;
                return Some(format!("{near} {rest}"));
            }
            if sections.iter().any(|s| self.names.is(s, name)) {
                let near = self.catalogue.nearest_pipe(pipe)?;
                return Some(format!("{name} {beside}{near}"));
            }
        }
        let near = self.catalogue.nearest_pipe(words);
        let near = near.or_else(|| self.catalogue.nearest_item(words));
        near.or_else(|| self.catalogue.nearest_valve(words))
            .map(str::to_owned)
    }

    /// Money: a plain number, or text with a currency sign before it and what it is per behind it.
    fn money(&mut self, what: &str, value: &Value<'_>, per: Per) -> Option<At<f64>> {
        let Some(s) = value.get_ref().as_str() else {
            return self.figure(what, value, Dim::Number, Sign::NotNegative);
        };
        let text = Text::new(self.file, value.span(), s);
        let trimmed = text.s.trim().to_owned();
        let number = |c: char| c.is_ascii_digit() || matches!(c, '.' | '-' | '−' | '+');
        let from = trimmed.find(number).unwrap_or(0);
        let to = trimmed[from..]
            .find(|c: char| !number(c) && c != ',')
            .map_or(trimmed.len(), |at| from + at);
        let unit = trimmed[to..].trim();
        if !per.takes(unit) || trimmed[..from].trim().chars().count() > 4 {
            let wrong = if per.takes(unit) {
                &trimmed[..from]
            } else {
                unit
            };
            self.say(
                Diagnostic::error(
                    "price-unit",
                    text.span_of(wrong),
                    format!("{what} is {}, not `{}`", per.words(), short(&trimmed)),
                )
                .label(format!("expected {}", per.words()))
                .help(format!("write it like {}", per.example())),
            );
            return None;
        }
        let sign = text.s.trim()[..from].trim();
        if !sign.is_empty() {
            self.signs
                .push(At::new(sign.to_owned(), text.span_of(sign)));
        }
        let part = trimmed[from..to].to_owned();
        self.figure_in(what, &text, &part, Dim::Number, Sign::NotNegative)
            .map(|v| At::new(v, value.span()))
    }

    /// Money in one currency: the one that the file names, else the first sign met.
    pub fn one_currency(&mut self, named: Option<&str>) {
        let signs = std::mem::take(&mut self.signs);
        let Some(first) = signs.first() else { return };
        let own = named.unwrap_or(&first.value).to_owned();
        for sign in signs.iter().filter(|s| s.value != own) {
            let mut wrong = Diagnostic::error(
                "price-currency",
                sign.span.clone(),
                format!("a price in `{}`, where others are in `{own}`", short(&sign.value)),
            )
            .label(format!("expected `{own}`"))
            .help("nothing is converted: give every price in one currency, and its sign as `currency`");
            if named.is_none() {
                wrong = wrong.also(first.span.clone(), "the first price with a sign");
            }
            self.say(wrong);
        }
    }

    /// `[opening.NAME]`.
    pub fn openings(&mut self, table: &DeTable<'_>) -> Vec<Opening> {
        let mut taken: Vec<At<String>> = Vec::new();
        self.each("opening", table, |r, name, fields| {
            let runs = r.names(fields, "runs");
            if !fields.has("runs") {
                r.missing(fields, "runs", "");
            }
            for run in &runs {
                r.run_known(run);
                if let Some(other) = taken.iter().find(|t| t.value == run.value) {
                    let what = format!("`{}` lies in two openings", short(&run.value));
                    r.say(
                        Diagnostic::error("opening-twice", run.span.clone(), what)
                            .label("again here")
                            .also(other.span.clone(), "here already")
                            .help("name each run in one opening, the one that costs more"),
                    );
                }
                taken.push(run.clone());
            }
            let price = fields
                .get("price")
                .and_then(|v| r.money(&what(fields, "price"), v, Per::Each));
            Some(Opening {
                name,
                runs,
                price,
                rooms: r.number(fields, "rooms"),
                days: r.number(fields, "days"),
            })
        })
    }

    /// `[plan]`.
    pub fn plan(&mut self, value: Option<&Value<'_>>) -> PlanWords {
        let mut plan = PlanWords::default();
        let (Some(value), Some(section)) = (value, keys::section("plan")) else {
            return plan;
        };
        let Some(table) = self.table("`plan`", value, "a `[plan]` heading with lines below it")
        else {
            return plan;
        };
        let mut fields = self.fields(section, "`plan`".into(), value.span(), table);
        let f = &mut fields;
        plan.leave = self.names(f, "leave");
        plan.families = self.names(f, "families");
        plan.own_prices = self.choice(f, "prices").is_some_and(|w| w.value == "own");
        plan.scop = self.number(f, "scop");
        plan.slope = self.number(f, "slope");
        plan.heat_j = self.number(f, "heat");
        plan.per_kwh = f
            .get("per_kwh")
            .and_then(|v| self.money("`per_kwh` of `plan`", v, Per::Energy));
        for name in plan.leave.clone() {
            self.run_known(&name);
        }
        for family in plan.families.clone() {
            let known = PriceTable::embedded().pipe.iter();
            let known = known.filter_map(|p| self.catalogue.pipe(&p.word));
            let mut words: Vec<&str> = known.map(|p| p.family.as_str()).collect();
            words.dedup();
            if !words.contains(&family.value.as_str()) {
                let help = match nearest(&family.value, words.iter().copied()) {
                    Some(near) => format!("did you mean `{near}`?"),
                    None => format!("the families are {}", list(words.iter().copied())),
                };
                let what = format!("no pipe is of the family `{}`", short(&family.value));
                self.say(
                    Diagnostic::error("unknown-word", family.span.clone(), what)
                        .label("not a family of pipes")
                        .help(help),
                );
            }
        }
        self.finish(&fields);
        plan
    }

    /// `[evidence]`.
    pub fn evidence(&mut self, value: Option<&Value<'_>>) -> Evidence {
        let mut evidence = Evidence::default();
        let (Some(value), Some(section)) = (value, keys::section("evidence")) else {
            return evidence;
        };
        let example = "an `[evidence]` heading with lines below it";
        let Some(table) = self.table("`evidence`", value, example) else {
            return evidence;
        };
        let mut fields = self.fields(section, "`evidence`".into(), value.span(), table);
        evidence.seen = self.names(&mut fields, "seen");
        evidence.measured = self.names(&mut fields, "measured");
        for name in evidence.seen.iter().chain(&evidence.measured) {
            if !self.names.is("source", &name.value) {
                self.run_known(name);
            }
        }
        self.finish(&fields);
        evidence
    }

    fn run_known(&mut self, name: &At<String>) {
        if !RUNS.iter().any(|s| self.names.is(s, &name.value)) {
            let names: Vec<String> = RUNS
                .iter()
                .flat_map(|s| self.names.of(s))
                .map(str::to_owned)
                .collect();
            self.unknown_name("pair", name, names.iter().map(String::as_str));
        }
    }
}

/// `22 600x1600`, if it is that.
fn panel(words: &str) -> Option<Panel> {
    let (panel_type, size) = words.split_once(' ')?;
    let (height, width) = size.trim().split_once(['x', '×'])?;
    let mm = |s: &str| {
        s.trim()
            .parse::<f64>()
            .ok()
            .filter(|v| (100.0..=5000.0).contains(v))
    };
    let known = PriceTable::embedded().radiator(panel_type).is_some();
    known.then_some(Panel {
        panel_type: panel_type.to_owned(),
        height: crate::quantity::Metre(mm(height)? / 1e3),
        width: crate::quantity::Metre(mm(width)? / 1e3),
    })
}
