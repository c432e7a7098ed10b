//! Text to survey: walks the spanned TOML document and collects every mistake of the file in one pass.
//!
//! The document is walked, not derived into structs, because a derived reader stops at its first error and cannot point
//! at a word within a text. Every key comes from the table in [`super::keys`].

mod ask;
mod differ;
mod emitter;
mod emitter_kind;
mod house;
mod joined;
mod names;
mod one_pipe;
mod pipework;
mod plant;
mod prices;
mod pump;
mod reader;
mod settings;
pub(crate) mod syntax;
pub(crate) mod text;
pub(crate) mod wording;

pub use differ::{Difference, differences};

use super::keys::{self, Shape};
use super::{At, Survey};
use crate::catalogue::Catalogue;
use crate::diag::{Diagnostic, Severity, any_error, nearest};
use names::{Names, Role};
use reader::{Reader, Value, in_order, list, short};
use std::collections::{BTreeMap, BTreeSet};
use toml::de::DeTable;

/// Greatest size of a network file; one line for each pipe of a palace is still far below.
pub const MOST_BYTES: usize = 2_000_000;
/// How many things are said about one file; the rest would not be read.
const MOST_SAID: usize = 100;

/// Reads a network file.
///
/// Returns the survey, if nothing in the file is an error, and everything found: errors and questions, in the order of
/// the file. Every text is safe to pass: it neither panics nor loops, and its work is bounded by the file's length.
pub fn read(file: &str) -> (Option<Survey>, Vec<Diagnostic>) {
    read_with(file, Catalogue::embedded())
}

/// The same with another catalogue.
pub fn read_with(file: &str, catalogue: &Catalogue) -> (Option<Survey>, Vec<Diagnostic>) {
    if let Some(hopeless) = syntax::hopeless(file) {
        return (None, vec![hopeless]);
    }
    let mut reader = Reader {
        file,
        catalogue,
        found: Vec::new(),
        assumed: Vec::new(),
        units_met: Vec::new(),
        signs: Vec::new(),
        names: Names::default(),
    };
    let (document, broken) = syntax::parse(file);
    let whole = broken.is_empty();
    let mut survey = reader.sections(document.get_ref());
    if whole {
        reader.check_names(&survey);
    } else {
        // what a broken line would have said is not known: keep to what is wrong in itself
        syntax::keep_local(file, &mut reader.found, &broken);
        reader.found.extend(broken);
    }
    survey.assumed = std::mem::take(&mut reader.assumed);
    if !any_error(&reader.found) {
        reader.ask(&survey);
    }
    let found = tidy(reader.found);
    let survey = (!any_error(&found)).then_some(survey);
    (survey, found)
}

/// In file order, each word once, and not more than anybody reads.
pub(crate) fn tidy(mut found: Vec<Diagnostic>) -> Vec<Diagnostic> {
    found.sort_by_key(|d| d.span.as_ref().map_or(0, |s| s.start));
    let mut said = BTreeSet::new();
    found.retain(|d| said.insert((d.code, d.span.as_ref().map(|s| (s.start, s.end)))));
    if found.len() > MOST_SAID {
        found.sort_by_key(|d| d.severity != Severity::Error);
        let more = found.split_off(MOST_SAID).len();
        if let Some(last) = found.last_mut() {
            let note = format!("{more} more are not shown");
            last.help = Some(
                last.help
                    .take()
                    .map_or(note.clone(), |h| format!("{h}; {note}")),
            );
        }
    }
    found
}

impl Reader<'_> {
    fn sections(&mut self, root: &DeTable<'_>) -> Survey {
        let mut tables: BTreeMap<&'static str, &Value<'_>> = BTreeMap::new();
        for (key, value) in in_order(root) {
            match keys::section(&key.value) {
                Some(section) => {
                    tables.insert(section.name, value);
                }
                None => self.unknown_section(&key),
            }
        }
        for section in keys::sections() {
            if matches!(section.shape, Shape::Named | Shape::Lines(_))
                && let Some(table) = tables
                    .get(section.name)
                    .and_then(|v| v.get_ref().as_table())
            {
                let names = in_order(table)
                    .into_iter()
                    .map(|(name, _)| (name.value, name.span));
                self.names.given.insert(section.name, names.collect());
            }
        }
        let mut survey = Survey::default();
        let at = |name: &str| tables.get(name).copied();
        if let Some(value) = at("job") {
            survey.job = self
                .text("`job`", value, "job = \"Larch Cottage\"")
                .map(|t| At::new(t.s.clone(), value.span()));
        }
        survey.design = self.design(at("design"));
        survey.design.sheet = self.sheet(at("sheet"));
        survey.fluid = at("fluid").and_then(|v| self.fluid("`fluid`", v));
        let drop = survey.design.drop.as_ref().map_or(house::DROP, |d| d.value);
        let none = DeTable::new();
        let table = |r: &mut Self, name: &'static str| match at(name) {
            None => none.clone(),
            Some(value) => {
                let example = format!("a `[{name}]` heading with lines below it");
                r.table(&format!("`{name}`"), value, &example)
                    .cloned()
                    .unwrap_or_default()
            }
        };
        let rooms = table(self, "room");
        survey.rooms = self.rooms(&rooms);
        let sources = table(self, "source");
        survey.sources = self.sources(&sources, drop);
        let pairs = table(self, "pair");
        survey.pairs = self.pairs(&pairs);
        let runs = table(self, "run");
        survey.runs = self.runs(&runs);
        let rings = table(self, "ring");
        survey.rings = self.rings(&rings);
        let loops = table(self, "loop");
        survey.loops = self.loops(&loops);
        let manifolds = table(self, "manifold");
        survey.manifolds = self.manifolds(&manifolds, drop);
        let vessels = table(self, "vessel");
        survey.vessels = self.vessels(&vessels, drop);
        let cylinders = table(self, "cylinder");
        survey.cylinders = self.cylinders(&cylinders);
        let exchangers = table(self, "exchanger");
        survey.exchangers = self.exchangers(&exchangers, drop);
        let emitters = table(self, "emitter");
        let ground = emitter::Ground {
            defaults: at("defaults").map(|v| self.defaults(v)).unwrap_or_default(),
            on_the_way: self.on_the_way(),
            rooms: self.names.of("room").map(str::to_owned).collect(),
        };
        survey.emitters = self.emitters(&emitters, &ground);
        let zones = table(self, "zone");
        survey.zones = self.zones(&zones, drop);
        let bypasses = table(self, "bypass");
        survey.bypasses = self.bypasses(&bypasses);
        let tees = table(self, "tee");
        survey.tees = self.tees(&tees);
        let states = table(self, "state");
        survey.states = self.states(&states);
        let limits = table(self, "limits");
        survey.limits = self.limits(&limits);
        let valve_tables = table(self, "valve_table");
        survey.valve_tables = self.valve_tables(&valve_tables);
        let readings = table(self, "reading");
        survey.readings = self.readings(&readings);
        survey.evidence = self.evidence(at("evidence"));
        let prices = table(self, "prices");
        survey.prices = self.prices(&prices);
        let openings = table(self, "opening");
        survey.openings = self.openings(&openings);
        let currency = survey.prices.currency.clone();
        self.one_currency(currency.as_deref());
        survey.plan = self.plan(at("plan"));
        survey.units = self.units(at("units"));
        survey
    }

    /// Emitters that a ring, a loop or a run names, so that they need no `from`.
    fn on_the_way(&self) -> BTreeSet<String> {
        let named = self
            .names
            .met
            .iter()
            .filter_map(|(name, role, _)| match role {
                Role::RingVisit | Role::LoopVisit => Some(name.value.as_str()),
                Role::RunFrom | Role::RunTo => match plant::split_side(&name.value) {
                    (base, Some(_)) => Some(base),
                    (_, None) => None,
                },
                _ => None,
            });
        named
            .filter(|n| self.names.is("emitter", n))
            .map(str::to_owned)
            .collect()
    }

    fn unknown_section(&mut self, key: &At<String>) {
        let words = keys::sections().map(|s| s.name);
        let help = match nearest(&key.value, words.clone()) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("the file has: {}", list(words)),
        };
        self.say(
            Diagnostic::error(
                "unknown-section",
                key.span.clone(),
                format!("a network file has no `{}`", short(&key.value)),
            )
            .label("not a key of the file")
            .help(help),
        );
    }
}
