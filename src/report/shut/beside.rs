//! What to do instead of a vessel, what a vessel costs, states beside the combinations, and what is odd in the file.

use super::super::layout::{self, Table};
use super::super::prose::Prose;
use super::{ROWS, Report};
use crate::quantity::Volume;
use crate::shut::cost::{Cost, LOAD_RATIO, SEASONAL, SLOPE_PER_K};
use crate::shut::special::What;
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
            text.push_str(". It opens at too low a pressure; the window is given below.");
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
        let mut table = Table::new(&[
            "<never shut",
            "water",
            "heat",
            "combinations that still trip",
        ]);
        for (name, water_m3, heat_w, trips) in self.shut.kept_open.iter().take(ROWS) {
            table.row(vec![
                layout::name(name, 24),
                self.speak.show.volume(Volume(*water_m3)),
                self.speak.power(*heat_w),
                trips.to_string(),
            ]);
        }
        let mut out =
            Prose::headed("What one more emitter or zone always open would give").and(table);
        out.join(self.alternatives());
        out
    }

    /// What would do, the way with least to buy first.
    fn alternatives(&self) -> Prose {
        let shut = self.shut;
        let mut ways: Vec<String> = Vec::new();
        let safe = shut.combinations.safe.as_ref().and_then(|s| s.first());
        if let Some(safe) = safe.filter(|s| **s != 0) {
            ways.push(format!(
                "for flow, no thermostatic head on {} (weather compensation instead of the head; other heads set 2 to 3 \
                 K above the room as a high limit only)",
                self.set(*safe)
            ));
        }
        let short_m3 = water::governing(&shut.rules).map_or(0.0, water::Rule::short_m3);
        if short_m3 > 0.0 {
            if let Some(rows) = &shut.enough_open {
                let chosen: Vec<_> = rows.iter().filter_map(|r| shut.kept_open.get(*r)).collect();
                let names: Vec<String> = chosen.iter().map(|r| layout::name(&r.0, 24)).collect();
                let (water_m3, heat_w) = chosen
                    .iter()
                    .fold((0.0, 0.0), |(a, b), r| (a + r.1, b + r.2));
                ways.push(format!(
                    "for water, always open: {} ({} and {} more)",
                    names.join(", "),
                    self.speak.show.volume(Volume(water_m3)),
                    self.speak.power(heat_w)
                ));
            }
            if let Some(m3) = shut.vessel_m3 {
                ways.push(format!(
                    "for water, a volume vessel of {} in series (no second pump, nothing mixes)",
                    self.speak.show.volume(Volume(m3))
                ));
            }
        }
        if shut.windows.iter().any(|w| w.width_pa().is_some()) {
            ways.push("for flow but not for run time, an overflow valve set as above".to_owned());
        }
        if ways.is_empty() {
            return Prose::default();
        }
        ways.push("for both, a four-port vessel with a second pump, at the cost below".to_owned());
        let mut out = Prose::of("  ", "What would do, the way with least to buy first:");
        for (k, way) in ways.iter().enumerate() {
            out.say(&format!("  {}. ", k + 1), way);
        }
        out
    }

    /// Series against four-port.
    pub(super) fn vessel_ways(&self) -> Prose {
        let Some(cost) = &self.shut.cost else {
            return Prose::default();
        };
        let mut out = Prose::headed("What a volume vessel costs, by how it is joined");
        let mut table = Table::new(&[
            "<joined",
            "unit",
            "emitters",
            "supply",
            "mean",
            "electricity",
        ]);
        if cost.in_file.is_none() {
            for way in ["in series, return", "in series, flow"] {
                table.row(vec![
                    way.into(),
                    self.speak.flow(self.shut.open.flow_m3_s),
                    "the same".into(),
                    self.lost(0.0),
                    self.lost(0.0),
                    "–".into(),
                ]);
            }
        }
        for case in &cost.cases {
            let name = match &cost.in_file {
                Some(name) => layout::name(name, 18),
                None => "four-port".to_owned(),
            };
            table.row(vec![
                name,
                self.speak.flow(case.primary_m3_s),
                self.speak.flow(case.secondary_m3_s),
                self.lost(case.mixing.supply_lost_k),
                self.lost(case.mixing.mean_lost_k),
                format!(
                    "{} kWh/year",
                    self.speak.show.number(case.year_j / 3.6e6, 0)
                ),
            ]);
        }
        out.table(table);
        out.join(self.cost_words(cost));
        out
    }

    /// Kelvins lost, two decimals: they are small and cost every day of the year.
    fn lost(&self, k: f64) -> String {
        self.speak
            .show
            .with_unit(self.speak.show.number(-k, 2).replace("-0.00", "0.00"), "K")
    }

    fn cost_words(&self, cost: &Cost) -> Prose {
        let number = |value: f64, decimals: usize| self.speak.show.number(value, decimals);
        let mut out = Prose::default();
        if let (Some(_), Some(case)) = (&cost.in_file, cost.cases.first()) {
            let text = format!(
                "The unit makes {}; the emitters get {} and send back {}; the unit sees a return of {}.",
                self.speak.temperature(cost.flow_c),
                self.speak.temperature(case.mixing.emitters_c),
                self.speak.temperature(case.mixing.emitters_return_c),
                self.speak.temperature(case.mixing.source_return_c)
            );
            out.say("  ", &text);
        }
        let text = format!(
            "Supply and mean are what the emitters lose at {} and {}; the mean is what they live on. Electricity: {} % \
             a kelvin of the mean, load ratio {} over the year, seasonal efficiency {} (the slope and the efficiency \
             are common practice; hours and ratio EN 14825, average climate).",
            self.speak.temperature(cost.flow_c),
            self.speak.kilowatt(cost.heat_w),
            number(100.0 * SLOPE_PER_K, 1),
            number(LOAD_RATIO, 2),
            number(SEASONAL, 1)
        );
        out.say("  ", &text);
        if let Some((power_w, year_j)) = cost.pump {
            let text = format!(
                "The second pump of a four-port vessel takes about {}, {} kWh a year (30 % efficiency).",
                self.speak.power(power_w),
                number(year_j / 3.6e6, 0)
            );
            out.say("  ", &text);
        }
        if let Some((least, most, lost_k)) = cost.matched {
            let text = format!(
                "The unit's own flow goes from {} at its least output to {}: a second pump that follows it costs \
                 nothing, one that stands at the larger flow costs {} of the mean at least output.",
                self.speak.flow(least),
                self.speak.flow(most),
                self.speak.difference(lost_k)
            );
            out.say("  ", &text);
        }
        let text = "In series on the return, a defrost draws the vessel first and starts are steadied; on the flow, the \
                    flow temperature is steadied.";
        out.say("  ", text);
        out
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
