//! Job, design, units, fluid, title block, limits, rooms and sources.

use super::pump::strip_words;
use super::reader::{Fields, Reader, Value, in_order, list, short};
use super::text::Text;
use crate::diag::Diagnostic;
use crate::quantity::{Celsius, Kelvin};
use crate::survey::keys::{self, Dim};
use crate::survey::{At, Design, Fluid, Mean, Room, Source, SourceHead, Units};
use crate::units::Sign;
use toml::de::{DeTable, DeValue};

/// Flow temperature where the file says none.
const FLOW_TEMPERATURE: Celsius = Celsius(45.0);
/// Drop where the file says none.
pub(super) const DROP: Kelvin = Kelvin(5.0);
/// Greatest share of glycol for which fluid properties are published, percent by volume.
const MOST_GLYCOL: f64 = 60.0;

impl Reader<'_> {
    /// `design = { … }`, with what is assumed where it is silent.
    pub fn design(&mut self, value: Option<&Value<'_>>) -> Design {
        let mut design = Design::default();
        let (mut flow_written, mut drop_written) = (false, false);
        if let (Some(value), Some(section)) = (value, keys::section("design"))
            && let Some(table) = self.table(
                "`design`",
                value,
                "`design = { flow_temperature = \"45 C\" }`",
            )
        {
            let mut fields = self.fields(section, "`design`".into(), value.span(), table);
            let f = &mut fields;
            design.flow_temperature = self.celsius(f, "flow_temperature");
            design.drop = self.kelvin(f, "drop");
            design.outside = self.celsius(f, "outside");
            design.load = self.power(f, "load");
            design.mean = self.choice(f, "mean").map(|w| {
                let mean = if w.value == "arithmetic" {
                    Mean::Arithmetic
                } else {
                    Mean::Logarithmic
                };
                At::new(mean, w.span)
            });
            design.lockshields_open = self
                .choice(f, "lockshields")
                .is_some_and(|w| w.value == "open");
            (flow_written, drop_written) = (f.has("flow_temperature"), f.has("drop"));
            self.finish(&fields);
        }
        if !flow_written {
            self.assume(
                "design",
                format!("flow temperature {} °C", FLOW_TEMPERATURE.0),
                "common practice, no source",
            );
            design.flow_temperature = Some(At::new(FLOW_TEMPERATURE, 0..0));
        }
        if !drop_written {
            self.assume(
                "design",
                format!("drop {} K over the emitters", DROP.0),
                "common practice, no source",
            );
            design.drop = Some(At::new(DROP, 0..0));
        }
        design
    }

    /// `sheet = { … }`: free keys.
    pub fn sheet(&mut self, value: Option<&Value<'_>>) -> Vec<(String, String)> {
        let Some(table) =
            value.and_then(|v| self.table("`sheet`", v, "`sheet = { author = \"A. Fitter\" }`"))
        else {
            return Vec::new();
        };
        let mut sheet = Vec::new();
        for (key, value) in in_order(table) {
            let text = match value.get_ref() {
                DeValue::String(s) => s.to_string(),
                DeValue::Integer(i) => i.to_string(),
                DeValue::Float(f) => f.to_string(),
                DeValue::Datetime(d) => d.to_string(),
                _ => {
                    self.wrong_type(
                        &format!("`{}` of `sheet`", short(&key.value)),
                        value,
                        "text in quotes",
                        "\"2026-11-20\"",
                    );
                    continue;
                }
            };
            sheet.push((key.value, text));
        }
        sheet
    }

    /// `units = { … }`, silent keys from the first figure of their kind in the file.
    pub fn units(&mut self, value: Option<&Value<'_>>) -> Units {
        let mut units = Units::default();
        let met = std::mem::take(&mut self.units_met);
        for (class, slot) in classes(&mut units) {
            if let Some((_, _, unit)) = met
                .iter()
                .filter(|(_, c, _)| *c == class)
                .min_by_key(|(at, _, _)| *at)
            {
                *slot = (*unit).to_owned();
            }
        }
        let Some(value) = value else { return units };
        let example = "`units = { flow = \"l/min\", pressure = \"kPa\" }`";
        if let Some(table) = self.table("`units`", value, example)
            && let Some(section) = keys::section("units")
        {
            let mut fields = self.fields(section, "`units`".into(), value.span(), table);
            for (class, slot) in classes(&mut units) {
                if let Some(word) = self.choice(&mut fields, class) {
                    *slot = word.value.to_owned();
                }
            }
        }
        units
    }

    /// What flows.
    pub fn fluid(&mut self, what: &str, value: &Value<'_>) -> Option<At<Fluid>> {
        const EXAMPLE: &str = "\"water\", \"propylene glycol 25%\" or `{ density = 1010, heat_capacity = 3970, viscosity = 0.00135 }`";
        if let Some(table) = value.get_ref().as_table() {
            let section = keys::section("fluid")?;
            let mut fields = self.fields(section, what.to_owned(), value.span(), table);
            let density = self.number(&mut fields, "density");
            let heat_capacity = self.number(&mut fields, "heat_capacity");
            let viscosity = self.number(&mut fields, "viscosity");
            for key in ["density", "heat_capacity", "viscosity"] {
                if !fields.has(key) {
                    self.missing(&fields, key, ": a fluid by its properties needs all three");
                }
            }
            self.finish(&fields);
            let fluid = Fluid::Given {
                density: density?.value,
                heat_capacity: heat_capacity?.value,
                viscosity: viscosity?.value,
            };
            return Some(At::new(fluid, value.span()));
        }
        let text = self.text(what, value, EXAMPLE)?;
        let s = text.s.trim();
        if s.eq_ignore_ascii_case("water") {
            return Some(At::new(Fluid::Water, value.span()));
        }
        for (words, propylene) in [("propylene glycol", true), ("ethylene glycol", false)] {
            if let Some(share) = strip_words(s, words) {
                let percent = self.glycol(what, &text, share)?;
                return Some(At::new(Fluid::Glycol { propylene, percent }, value.span()));
            }
        }
        let word = s.trim_end_matches(|c: char| !c.is_alphabetic());
        self.unknown_word(
            what,
            word,
            value.span(),
            &["water", "propylene glycol", "ethylene glycol"],
        );
        None
    }

    fn glycol(&mut self, what: &str, text: &Text, share: &str) -> Option<f64> {
        if share.trim().is_empty() || !share.contains('%') {
            self.say(
                Diagnostic::error("glycol-share", text.whole(), format!("{what} does not say how much glycol"))
                    .label("percent by volume is missing")
                    .help("write it like `\"propylene glycol 25%\"`: percent by volume of pure glycol, not of the maker's concentrate"),
            );
            return None;
        }
        let percent = self.figure_in(what, text, share, Dim::Share, Sign::NotNegative)? * 100.0;
        if percent > MOST_GLYCOL {
            self.say(
                Diagnostic::error(
                    "glycol-share",
                    text.span_of(share),
                    format!(
                        "{what} has {percent}% glycol; properties are known up to {MOST_GLYCOL}%"
                    ),
                )
                .label(format!("expected at most {MOST_GLYCOL}%"))
                .help("percent by volume of pure glycol, not of the maker's concentrate"),
            );
            return None;
        }
        Some(percent)
    }

    /// `[room]`.
    pub fn rooms(&mut self, table: &DeTable<'_>) -> Vec<Room> {
        self.each("room", table, |r, name, fields| {
            let temperature = r.celsius(fields, "temperature");
            let needs = r.power(fields, "needs");
            if !fields.has("temperature") {
                r.missing(fields, "temperature", "");
            }
            Some(Room {
                name,
                temperature: temperature?,
                needs,
            })
        })
    }

    /// `[source.NAME]`.
    pub fn sources(&mut self, table: &DeTable<'_>, drop: Kelvin) -> Vec<Source> {
        self.each("source", table, |r, name, fields| {
            let head = r.source_head(fields);
            Some(Source {
                output: r.power(fields, "output"),
                least_output: r.power(fields, "least_output"),
                least_flow: r.flow(fields, "least_flow"),
                greatest_flow: r.flow(fields, "greatest_flow"),
                nominal_flow: r.flow(fields, "nominal_flow"),
                defrost_flow: r.flow(fields, "defrost_flow"),
                defrost_energy_j: r.number(fields, "defrost_energy"),
                defrost_fall: r.kelvin(fields, "defrost_fall"),
                defrost_return: r.celsius(fields, "defrost_return"),
                least_water: r.volume(fields, "least_water"),
                least_run_s: r.number(fields, "least_run"),
                least_stop_s: r.number(fields, "least_stop"),
                control_band: r.kelvin(fields, "control_band"),
                water: r.volume(fields, "water"),
                head,
                mode: r.mode(fields, "pump", drop),
                flow_temperature: r.celsius(fields, "flow_temperature"),
                span: fields.span.clone(),
                name,
            })
            .inspect(|s| r.source_agrees(s))
        })
    }

    fn source_head(&mut self, fields: &mut Fields<'_, '_>) -> Option<SourceHead> {
        let free = self.curve(fields, "free_head");
        let total = self.curve(fields, "total_head");
        let own_loss = self.own_loss(fields, "own_loss");
        if let (Some(free), Some(total)) =
            (fields.key_span("free_head"), fields.key_span("total_head"))
        {
            self.say(
                Diagnostic::error("head-twice", total, format!("{} has both `free_head` and `total_head`", fields.subject))
                    .label("which of the two is on the sheet?")
                    .also(free, "what is left for the circuit")
                    .help("keep `free_head` if the sheet shows what is left after the unit's own exchanger, else `total_head` with `own_loss`"),
            );
            return None;
        }
        if fields.has("total_head") && !fields.has("own_loss") {
            self.missing(
                fields,
                "own_loss",
                ": with `total_head` the unit's own loss must be known",
            );
            return None;
        }
        if let (Some(own), false) = (fields.key_span("own_loss"), fields.has("total_head")) {
            self.say(
                Diagnostic::error("key-does-not-fit", own, format!("{} has `own_loss`, which goes with `total_head`", fields.subject))
                    .label("not with `free_head`")
                    .help("free head is what is left after the unit's own loss; take `own_loss` out, or write `total_head`"),
            );
        }
        match (free, total) {
            (Some(free), _) => Some(SourceHead::Free(free)),
            (None, Some(curve)) => Some(SourceHead::Total { curve, own_loss }),
            _ => None,
        }
    }

    /// Figures of a source that contradict each other.
    fn source_agrees(&mut self, source: &Source) {
        let least = source.least_flow.as_ref();
        let upper = [
            ("greatest_flow", source.greatest_flow.as_ref()),
            ("nominal_flow", source.nominal_flow.as_ref()),
        ];
        for (key, upper) in upper {
            if let (Some(least), Some(upper)) = (least, upper)
                && upper.value < least.value
            {
                self.say(
                    Diagnostic::error(
                        "flow-range",
                        upper.span.clone(),
                        format!(
                            "`{key}` of source `{}` is below its `least_flow`",
                            short(&source.name.value)
                        ),
                    )
                    .label("less than `least_flow`")
                    .also(least.span.clone(), "`least_flow`")
                    .help("check the units of both"),
                );
            }
        }
        if let (Some(least), Some(output)) = (&source.least_output, &source.output)
            && least.value > output.value
        {
            self.say(
                Diagnostic::error(
                    "output-range",
                    least.span.clone(),
                    format!(
                        "`least_output` of source `{}` is above its `output`",
                        short(&source.name.value)
                    ),
                )
                .label("more than `output`")
                .also(output.span.clone(), "`output`")
                .help("check the units of both"),
            );
        }
    }

    /// `[limits]`: keys of the catalogue, for the house or for one run.
    pub fn limits(&mut self, table: &DeTable<'_>) -> Vec<(At<String>, At<f64>)> {
        let mut limits = Vec::new();
        for (key, value) in in_order(table) {
            let Some(dim) = self.limit_dim(&key) else {
                continue;
            };
            let what = format!("limit `{}`", short(&key.value));
            if let Some(v) = self.figure(&what, value, dim, Sign::NotNegative) {
                limits.push((key, v));
            }
        }
        self.limits_agree(&limits);
        limits
    }

    /// No least above its greatest.
    fn limits_agree(&mut self, limits: &[(At<String>, At<f64>)]) {
        for (low, high) in [
            ("low velocity", "velocity"),
            ("least drop", "greatest drop"),
        ] {
            let at = |key: &str| limits.iter().find(|(k, _)| k.value == key);
            if let (Some((_, low_at)), Some((_, high_at))) = (at(low), at(high))
                && low_at.value > high_at.value
            {
                self.say(
                    Diagnostic::error(
                        "limits-contradict",
                        low_at.span.clone(),
                        format!("nothing can keep both `{low}` and `{high}`"),
                    )
                    .label(format!("more than `{high}`"))
                    .also(high_at.span.clone(), format!("`{high}`"))
                    .help("change one of the two"),
                );
            }
        }
    }

    /// What a limit measures; `velocity hall` is `velocity` for the run `hall`.
    fn limit_dim(&mut self, key: &At<String>) -> Option<Dim> {
        if let Some(limit) = self.catalogue.limit(&key.value) {
            return Some(limit.quantity);
        }
        let of_run = self.catalogue.limits.iter().filter_map(|l| {
            let run = key.value.strip_prefix(l.key.as_str())?.strip_prefix(' ')?;
            Some((l, run.trim()))
        });
        if let Some((limit, run)) = of_run.max_by_key(|(l, _)| l.key.len()) {
            let runs = ["pair", "run", "ring", "loop", "emitter"];
            if runs.iter().any(|s| self.names.is(s, run)) {
                return Some(limit.quantity);
            }
            let names: Vec<String> = runs
                .iter()
                .flat_map(|s| self.names.of(s))
                .map(str::to_owned)
                .collect();
            self.unknown_name(
                "pair",
                &At::new(run.to_owned(), key.span.clone()),
                names.iter().map(String::as_str),
            );
            return None;
        }
        let help = match self.catalogue.nearest_limit(&key.value) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!(
                "the limits are {}",
                list(self.catalogue.limits.iter().map(|l| l.key.as_str()))
            ),
        };
        self.say(
            Diagnostic::error(
                "unknown-limit",
                key.span.clone(),
                format!("there is no limit `{}`", short(&key.value)),
            )
            .label("not a limit of the catalogue")
            .help(help),
        );
        None
    }
}

fn classes(units: &mut Units) -> [(&'static str, &mut String); 5] {
    [
        ("flow", &mut units.flow),
        ("pressure", &mut units.pressure),
        ("power", &mut units.power),
        ("temperature", &mut units.temperature),
        ("length", &mut units.length),
    ]
}
