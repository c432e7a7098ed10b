//! Valves' own tables, and readings.

use super::reader::{Fields, Reader, Value, what};
use crate::diag::Diagnostic;
use crate::survey::keys::Dim;
use crate::survey::{At, Reading, ValveTable};
use crate::units::Sign;
use toml::de::DeTable;

impl Reader<'_> {
    /// `[valve_table.NAME]`.
    pub fn valve_tables(&mut self, table: &DeTable<'_>) -> Vec<ValveTable> {
        self.each("valve_table", table, |r, name, fields| {
            let (turns, presets) = (r.figures(fields, "turns"), r.figures(fields, "presets"));
            let kv = r.figures(fields, "kv");
            let source = r.word(fields, "source").map(|s| s.value);
            if let (Some(_), Some(span)) = (fields.key_span("turns"), fields.key_span("presets")) {
                let what = format!("{} has both `turns` and `presets`", fields.subject);
                r.say(
                    Diagnostic::error("valve-table", span, what)
                        .label("one of the two")
                        .help("give each valve a table of its own"),
                );
                return None;
            }
            if !fields.has("turns") && !fields.has("presets") {
                r.missing(fields, "turns", " and no `presets`");
            }
            if !fields.has("kv") {
                r.missing(fields, "kv", "");
            }
            let is_preset = presets.is_some();
            let (marks, kv) = (turns.or(presets)?, kv?);
            if marks.value.len() != kv.value.len() {
                let what = format!(
                    "{} has {} settings and {} kv",
                    fields.subject,
                    marks.value.len(),
                    kv.value.len()
                );
                r.say(
                    Diagnostic::error("valve-table", kv.span, what)
                        .label("one kv for each setting")
                        .also(marks.span, "the settings")
                        .help("write both lists from the same rows of the sheet"),
                );
                return None;
            }
            if kv.value.iter().any(|&kv| kv <= 0.0) {
                let what = format!("{} has a kv of zero", fields.subject);
                r.say(
                    Diagnostic::error("valve-table", kv.span, what)
                        .label("expected kv above zero")
                        .help("leave the row of the shut valve out"),
                );
                return None;
            }
            Some(ValveTable {
                name,
                presets: is_preset,
                points: marks.value.into_iter().zip(kv.value).collect(),
                source,
            })
        })
    }

    /// A list of at least two plain numbers that rise.
    fn figures(&mut self, fields: &mut Fields<'_, '_>, key: &'static str) -> Option<At<Vec<f64>>> {
        let value: &Value<'_> = fields.get(key)?;
        let what = what(fields, key);
        let list = self.list(&what, value, "[0.5, 1, 1.5, 2]")?;
        let mut figures = Vec::new();
        for v in list {
            figures.push(self.figure(&what, v, Dim::Number, Sign::NotNegative)?.value);
        }
        let rises = figures.windows(2).all(|w| w[1] > w[0]);
        if figures.len() < 2 || !rises {
            let (what, label) = if rises {
                (
                    format!("{what} has fewer than two figures"),
                    "expected a list",
                )
            } else {
                (format!("{what} does not rise"), "expected rising figures")
            };
            self.say(
                Diagnostic::error("valve-table", value.span(), what)
                    .label(label)
                    .help("write the rows from nearly shut to fully open"),
            );
            return None;
        }
        Some(At::new(figures, value.span()))
    }

    /// `[reading]`.
    pub fn readings(&mut self, table: &DeTable<'_>) -> Vec<Reading> {
        self.each("reading", table, |r, name, fields| {
            let reading = Reading {
                name,
                flow: r.celsius(fields, "flow"),
                back: r.celsius(fields, "return"),
                drop: r.kelvin(fields, "drop"),
                rate: r.flow(fields, "rate"),
                room: r.celsius(fields, "room"),
                kv: r.kv(fields, "kv"),
                turns: r.number(fields, "turns"),
            };
            if !["flow", "return", "drop", "rate"]
                .iter()
                .any(|k| fields.has(k))
            {
                r.missing(fields, "drop", ", `return` or `rate`: nothing was read");
            }
            if let (Some(flow), Some(back)) = (&reading.flow, &reading.back)
                && back.value.0 >= flow.value.0
            {
                let what = format!("{}: the return is not cooler than the flow", fields.subject);
                r.say(
                    Diagnostic::error("reading-wrong", back.span.clone(), what)
                        .label("expected less than the flow")
                        .also(flow.span.clone(), "the flow")
                        .help("the clamps may be the wrong way round, or no water moves"),
                );
            }
            if let (Some(kv), Some(turns)) = (&reading.kv, &reading.turns) {
                let what = format!("{} has both `kv` and `turns`", fields.subject);
                r.say(
                    Diagnostic::error("reading-wrong", turns.span.clone(), what)
                        .label("one of the two")
                        .also(kv.span.clone(), "`kv`")
                        .help("keep what was set on the valve itself"),
                );
            }
            Some(reading)
        })
    }
}
