//! One-pipe loops.

use super::names::Role;
use super::reader::{Fields, Reader, Value, in_order, what};
use crate::diag::Diagnostic;
use crate::quantity::Kv;
use crate::survey::keys::Dim;
use crate::survey::{At, Leg, LoopTee, OnePipeLoop, Stretch};
use crate::units::Sign;
use toml::de::DeTable;

impl Reader<'_> {
    /// `[loop.NAME]`.
    pub fn loops(&mut self, table: &DeTable<'_>) -> Vec<OnePipeLoop> {
        self.each("loop", table, |r, name, fields| {
            let from = r.place(fields, "from");
            if from.is_none() && !fields.has("from") {
                r.missing(
                    fields,
                    "from",
                    ": the place that it leaves from and comes back to",
                );
            }
            let main = r.main(fields);
            let between = r.leg(fields, "between");
            if between.is_none() && !fields.has("between") {
                r.missing(
                    fields,
                    "between",
                    ": the main between the two tees of one radiator",
                );
            }
            let tee = r.loop_tee(fields);
            let tees = r.loop_tees(fields);
            let drop = r.kelvin(fields, "drop");
            let (main, home) = main?;
            for (name, _) in &tees {
                if !main.iter().any(|s| s.to.value == name.value) {
                    r.unknown_name("emitter", name, main.iter().map(|s| s.to.value.as_str()));
                }
            }
            Some(OnePipeLoop {
                name,
                from: from?,
                main,
                home,
                between: between?,
                tee,
                tees,
                drop,
            })
        })
    }

    fn main(&mut self, fields: &mut Fields<'_, '_>) -> Option<(Vec<Stretch>, At<Leg>)> {
        const EXAMPLE: &str = "[\"cu22 4m\", \"hall\", \"cu22 5m\", \"lounge\", \"cu22 7m\"]";
        let Some(value) = fields.get("main") else {
            self.missing(fields, "main", "");
            return None;
        };
        let what = what(fields, "main");
        let parts = self.list(&what, value, EXAMPLE)?;
        let Some((home, rest)) = parts
            .split_last()
            .filter(|(_, rest)| !rest.is_empty() && rest.len() % 2 == 0)
        else {
            let at = parts.last().map_or(value.span(), |v| v.span());
            self.say(
                Diagnostic::error(
                    "walk-order",
                    at,
                    format!("{what} must end with the leg that leads home"),
                )
                .label("expected a leg after the last emitter")
                .help(format!(
                    "legs and emitters in turn, a leg first and last: {EXAMPLE}"
                )),
            );
            return None;
        };
        let home = self.leg_of(&what, home);
        let mut main = Vec::new();
        for two in rest.chunks(2) {
            let [leg, to] = two else { continue };
            let (leg, to) = (self.leg_of(&what, leg), self.name_in(&what, to));
            if let Some(to) = &to {
                self.meet(to, Role::LoopVisit, &fields.subject);
            }
            if let (Some(leg), Some(to)) = (leg, to) {
                main.push(Stretch { leg, to });
            }
        }
        (main.len() * 2 == rest.len()).then_some(())?;
        Some((main, home?))
    }

    fn loop_tee(&mut self, fields: &mut Fields<'_, '_>) -> LoopTee {
        let subject = what(fields, "tee");
        match fields.get("tee") {
            None => {
                self.assume(
                    &fields.subject,
                    "plain tees",
                    "the file names no diverter tee",
                );
                LoopTee::Plain
            }
            Some(value) => self.one_loop_tee(&subject, value).unwrap_or(LoopTee::Plain),
        }
    }

    fn loop_tees(&mut self, fields: &mut Fields<'_, '_>) -> Vec<(At<String>, LoopTee)> {
        let subject = what(fields, "tees");
        let Some(value) = fields.get("tees") else {
            return Vec::new();
        };
        let Some(table) = self.table(&subject, value, "{ hall = \"plain\" }") else {
            return Vec::new();
        };
        let each = in_order(table);
        each.into_iter()
            .filter_map(|(name, value)| Some((name, self.one_loop_tee(&subject, value)?)))
            .collect()
    }

    fn one_loop_tee(&mut self, what: &str, value: &Value<'_>) -> Option<LoopTee> {
        let text = self.text(what, value, "\"diverter kv 2.1\"")?;
        let s = text.s.trim();
        if let Some(rest) = super::pump::strip_words(s, "diverter") {
            return Some(LoopTee::Diverter(Kv(self.figure_in(
                what,
                &text,
                rest,
                Dim::Kv,
                Sign::Positive,
            )?)));
        }
        if let Some(rest) = super::pump::strip_words(s, "share") {
            let share = self.figure_in(what, &text, rest, Dim::Share, Sign::Positive)?;
            if share >= 1.0 {
                self.say(
                    Diagnostic::error(
                        "share-wrong",
                        value.span(),
                        format!("{what}: a radiator cannot take all of the main's flow"),
                    )
                    .label("expected less than 1")
                    .help("write it like `\"share 0.3\"` or `\"share 30%\"`"),
                );
                return None;
            }
            return Some(LoopTee::Share(share));
        }
        if s.eq_ignore_ascii_case("plain") {
            return Some(LoopTee::Plain);
        }
        let word = s.split_whitespace().next().unwrap_or(s);
        self.unknown_word(what, word, value.span(), &["plain", "diverter", "share"]);
        None
    }
}
