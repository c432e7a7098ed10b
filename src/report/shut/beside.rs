//! What to do instead of a vessel, what a vessel costs, states beside the combinations, and what is odd in the file.

use super::super::layout::{self, Table};
use super::super::prose::Prose;
use super::{ROWS, Report};
use crate::quantity::Volume;
use crate::shut::kept::LeftOpen;
use crate::shut::special::What;
use crate::shut::valves::ClosableKind;
use crate::shut::water;

impl Report<'_> {
    /// What is odd in the file and makes a combination what it is.
    pub(super) fn findings(&self) -> Prose {
        let mut out = Prose::default();
        for (name, share, return_c) in &self.shut.leaks {
            let mut text = format!(
                "The overflow valve `{name}` STANDS OPEN WITH EVERY OTHER VALVE OPEN: {} of the unit's flow passes \
                 through it",
                self.speak.show.percent(*share)
            );
            if let Some(c) = return_c {
                text.push_str(&format!(
                    " and the unit's return is {}",
                    self.speak.temperature(*c)
                ));
            }
            text.push_str(
                match self.shut.windows.iter().any(|w| w.width_pa().is_some()) {
                    true => ". It opens at too low a pressure; the window is given below.",
                    false => {
                        ". It opens at too low a pressure; whether it can be set at all is said below."
                    }
                },
            );
            out.say("  ", &text);
        }
        for (vessel, valve) in &self.shut.cut_off {
            let who = match valve.and_then(|v| self.shut.valves.get(v)) {
                Some(valve) => format!("{} shut", valve.name),
                None => "everything shut that can close".to_owned(),
            };
            let text = format!(
                "The volume vessel `{vessel}` STANDS IN A RUN THAT CAN BE SHUT: with {who} no water passes through it, \
                 and it does not count. Move it to a run that always flows, beside the unit."
            );
            out.say("  ", &text);
        }
        out
    }

    pub(super) fn kept_open(&self) -> Prose {
        if self.shut.kept_open.is_empty() || self.least_flow().is_none() {
            return Prose::default();
        }
        let mut table = Table::new(&["<never shut", "water", "heat", "still trip"]);
        for row in self.shut.kept_open.iter().take(ROWS) {
            table.row(vec![
                layout::name(&row.name, 24),
                self.speak.show.volume(Volume(row.water_m3)),
                self.speak.power(row.heat_w),
                row.still_trip.to_string(),
            ]);
        }
        let heading = "What one more emitter or zone always open would give";
        let mut out = Prose::headed(heading).and(table);
        if self.shut.kept_open.len() > ROWS {
            let text = format!("… and {} more.", self.shut.kept_open.len() - ROWS);
            out.say("  ", &text);
        }
        let text = format!(
            "Water and heat beyond what there is with everything shut that can; how many of {} then still trip.",
            self.of_how_many()
        );
        out.say("  ", &text);
        let dead = |zones: bool| -> Vec<String> {
            let rows = self.shut.kept_open.iter();
            let of_kind = rows.filter(|row| {
                let kind = self.shut.valves.get(row.valve).map(|v| v.kind);
                matches!(kind, Some(ClosableKind::Zone(_))) == zones
            });
            let nothing = of_kind.filter(|r| r.heat_w <= 0.0 && r.water_m3 <= 0.0);
            nothing.map(|r| layout::name(&r.name, 24)).collect()
        };
        for (zones, why) in [
            (true, "the emitters behind are shut with the rest"),
            (false, "what it hangs on is shut with the rest"),
        ] {
            let names = dead(zones);
            if !names.is_empty() {
                let text = format!("Nothing comes of {} alone: {why}.", names.join(", "));
                out.say("  ", &text);
            }
        }
        out.join(self.alternatives());
        out
    }

    /// What would do, the way with least to buy first.
    fn alternatives(&self) -> Prose {
        let shut = self.shut;
        let mut ways: Vec<String> = Vec::new();
        let trips = shut.combinations.tripping() > 0;
        let rule = water::governing(&shut.rules);
        let short_m3 = rule.map_or(0.0, water::Rule::short_m3);
        let enough = shut.enough_open.filter(|_| short_m3 > 0.0);
        let safe = shut.safe_open.filter(|_| trips);
        let same = safe.zip(enough).is_some_and(|(a, b)| a.open == b.open);
        if let Some(safe) = safe {
            ways.push(format!(
                "{}, nothing that shuts by itself on {} (weather compensation instead; other heads set 2 to 3 K above \
                 the room as a high limit only): {}",
                if same { "for flow and for water" } else { "for flow" },
                self.open(safe.open),
                self.left_open(&safe)
            ));
        }
        if short_m3 > 0.0 {
            if let Some(enough) = enough.filter(|_| !same) {
                ways.push(format!(
                    "for {}, always open: {}: {}",
                    if safe.is_some() {
                        "flow and water"
                    } else {
                        "water"
                    },
                    self.open(enough.open),
                    self.left_open(&enough)
                ));
            }
            if let Some(m3) = shut.vessel_m3 {
                let place = match rule.and_then(|r| r.state.as_ref()) {
                    Some(state) => {
                        format!(", before the diverter, for it is {state} that is short")
                    }
                    None => String::new(),
                };
                ways.push(format!(
                    "for water, a volume vessel of {} in series (no second pump, nothing mixes){place}{}",
                    self.speak.show.volume(Volume(m3)),
                    match self.stops_at_once() {
                        true => "; it does not lengthen the runs with least heat taken, more flow does",
                        false => "",
                    }
                ));
            }
        }
        if shut.windows.iter().any(|w| w.width_pa().is_some()) {
            ways.push("for flow but not for run time, an overflow valve set as above".to_owned());
        }
        if ways.is_empty() {
            return Prose::default();
        }
        let what = match (trips, short_m3 > 0.0) {
            (true, true) => "for both",
            (true, false) => "for flow",
            _ => "for water",
        };
        // a house that has one cannot be told to get one
        if shut.cost.as_ref().is_none_or(|c| c.in_file.is_none()) {
            ways.push(format!(
                "{what}, a four-port vessel with a second pump, at the cost below"
            ));
        }
        let mut out = Prose::of("  ", "What would do, the way with least to buy first:");
        for (k, way) in ways.iter().enumerate() {
            out.say(&format!("  {}. ", k + 1), way);
        }
        out
    }

    /// What there is with some valves open and all else shut.
    fn left_open(&self, left: &LeftOpen) -> String {
        let facts = &left.facts;
        format!(
            "solved with all else shut, {} ({}), {} in circulation and {} that can leave",
            self.speak.flow(facts.flow_m3_s),
            self.margin(facts),
            self.speak.show.volume(Volume(facts.water_m3)),
            self.speak.power(facts.heat_w)
        )
    }

    /// States beside the combinations.
    pub(super) fn beside(&self) -> Prose {
        if self.shut.special.is_empty() {
            return Prose::default();
        }
        let mut out = Prose::headed("Other states");
        for special in &self.shut.special {
            let what = match &special.what {
                What::ZonePumpsOff => "all zone pumps off, valves open".to_owned(),
                What::Overrun => "pump runs on, all shut that can close".to_owned(),
                What::Frost => "frost circulation, the same at 5 °C".to_owned(),
                What::House(name) => layout::name(name, 40),
            };
            let text = match &special.facts {
                Ok(f) if f.flow_m3_s == 0.0 => {
                    format!("{what}: NO WAY ROUND, the pump works against shut valves")
                }
                Ok(f) => format!(
                    "{what}: {}, {}",
                    self.speak.flow(f.flow_m3_s),
                    self.margin(f)
                ),
                Err(_) => format!("{what}: not shown, no converged answer"),
            };
            out.say("  - ", &text);
        }
        out
    }
}
