//! What a volume vessel costs, by how it is joined.

use super::super::layout::{self, Table};
use super::super::prose::Prose;
use super::Report;
use crate::shut::cost::{Cost, LOAD_RATIO};

impl Report<'_> {
    /// Series against four-port.
    pub(super) fn vessel_ways(&self) -> Prose {
        let Some(cost) = &self.shut.cost else {
            return Prose::default();
        };
        let mut out = Prose::headed("What a volume vessel costs, by how it is joined");
        let mut table = Table::new(&[
            "<joined", "unit", "emitters", "supply", "mean", "mixing", "pump",
        ]);
        if cost.in_file.is_none() {
            for way in ["series, return", "series, flow"] {
                let flow = self.speak.flow(self.shut.open.flow_m3_s);
                let mut row = vec![way.to_owned(), flow.clone(), flow];
                row.extend(["as made", "as now", "0 kWh", "none"].map(str::to_owned));
                table.row(row);
            }
        }
        let kwh = |j: f64| format!("{} kWh", self.speak.show.number(j / 3.6e6, 0));
        for case in &cost.cases {
            let name = match &cost.in_file {
                Some(name) => layout::name(name, 14),
                None => "four-port".to_owned(),
            };
            table.row(vec![
                name,
                self.speak.flow(case.primary_m3_s),
                self.speak.flow(case.secondary_m3_s),
                self.colder(case.mixing.supply_lost_k, "as made"),
                self.colder(case.mixing.mean_lost_k, "as now"),
                kwh(case.year_j),
                kwh(case.pump.1),
            ]);
        }
        out.table(table);
        out.join(self.cost_words(cost));
        out
    }

    /// Kelvins lost, two decimals: they are small and cost every day of the year.
    fn colder(&self, k: f64, none: &str) -> String {
        if k.abs() < 0.005 {
            return none.to_owned();
        }
        let size = self.speak.show.number(k.abs(), 2);
        let sign = if k > 0.0 { "-" } else { "+" };
        self.speak.show.with_unit(format!("{sign}{size}"), "K")
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
            "By the flows through unit and emitters: how much colder the emitters' supply and their mean are with the \
             unit at {} and {} drawn, what the emitters take with everything open. The mean is what emitters live on; to win it back the unit has to work hotter, \
             all year.",
            self.speak.temperature(cost.flow_c),
            self.speak.kilowatt(cost.heat_w),
        );
        out.say("  ", &text);
        let year = &cost.year;
        let from = |given: bool, usual: &'static str| if given { "the file's" } else { usual };
        let text = format!(
            "Electricity a year: {} kWh of heat ({}) at a seasonal efficiency of {} ({}), {} % a kelvin of the mean ({}), \
             weighted by a load ratio of {} (EN 14825, average climate). `[plan]` sets heat, scop and slope.",
            number(year.heat_j.0 / 3.6e6, 0),
            from(
                year.heat_j.1,
                "what the rooms need, for the hours at full load of EN 14825"
            ),
            number(year.scop.0, 1),
            from(year.scop.1, "common practice"),
            number(100.0 * year.slope_per_k.0, 1),
            from(year.slope_per_k.1, "common practice"),
            number(LOAD_RATIO, 2),
        );
        out.say("  ", &text);
        let dearest = cost
            .cases
            .iter()
            .max_by(|a, b| a.year_j.total_cmp(&b.year_j));
        let money = dearest.and_then(|c| Some((year.money(c.year_j)?, year.money(c.pump.1)?)));
        if let (Some((mixing, pump)), Some(price)) = (money, year.per_kwh) {
            let text = format!(
                "At {} a kWh the most that mixing costs here is {} a year, and its second pump {}.",
                number(price, 2),
                number(mixing, 0),
                number(pump, 0)
            );
            out.say("  ", &text);
        }
        if let Some(case) = cost.cases.first() {
            let what = match (cost.head_known, &cost.in_file) {
                (_, Some(_)) => "what it gives in that state",
                (true, None) => {
                    "what the house loses beyond the first place, which the unit's own pump then need not give"
                }
                (false, None) => {
                    "an upper estimate: as much head as the unit's own pump gives today"
                }
            };
            let text = format!(
                "The second pump takes about {} at the first of these flows ({what}; 30 % efficiency; 4910 hours a year, \
                 EN 14825). Its energy is at most that of the table: where valves close and it slows down, it takes less.",
                self.speak.power(case.pump.0)
            );
            out.say("  ", &text);
        }
        if let Some((least, most, lost_k)) = cost.matched.filter(|m| m.1 > 1.01 * m.0) {
            let text = format!(
                "As it modulates, the unit's own flow goes from {} at its least output to {}: a second pump that \
                 follows it costs nothing, one that stands at the larger flow costs {} of the mean at least output.",
                self.speak.flow(least),
                self.speak.flow(most),
                self.speak.difference(lost_k)
            );
            out.say("  ", &text);
        }
        let text = "In series nothing mixes: on the return a defrost draws the vessel first and starts are steadied; on \
                    the flow, the flow temperature is steadied.";
        out.say("  ", text);
        out
    }
}
