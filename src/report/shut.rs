//! What happens when valves close, in words: what matters first, then the figures behind it, and how each statement
//! was reached.

mod plant;

use super::layout::{Table, paragraph};
use super::speak::Speak;
use crate::network::Network;
use crate::quantity::Volume;
use crate::shut::enumerate::{Reached, SEED};
use crate::shut::sets::Mask;
use crate::shut::state::Facts;
use crate::shut::study::names;
use crate::shut::{Shut, sets};
use crate::survey::Units;

/// Sets printed of a list; their number is always said.
const PRINTED: usize = 20;
/// Rows printed of a table of valves.
const ROWS: usize = 12;

/// The whole report.
pub fn text(network: &Network, shut: &Shut, units: &Units) -> String {
    let speak = Speak::of(network, units);
    let report = Report {
        network,
        shut,
        speak,
    };
    let mut out = paragraph("", &format!("{}: when valves close", network.title));
    out.push('\n');
    out.push_str(&report.first());
    out.push_str(&report.sets());
    out.push_str(&report.by_open());
    out.push_str(&report.throttled());
    out.push_str(&report.noise());
    out.push_str(&report.windows());
    out.push_str(&report.water());
    out.push_str(&report.days());
    out.push_str(&report.kept_open());
    out.push_str(&report.rests());
    out
}

struct Report<'a> {
    network: &'a Network,
    shut: &'a Shut,
    speak: Speak<'a>,
}

impl Report<'_> {
    fn least_flow(&self) -> Option<f64> {
        self.network.sources.iter().find_map(|s| s.least_flow_m3_s)
    }

    fn set(&self, mask: Mask) -> String {
        let names = names(&self.shut.valves, mask);
        match names.len() {
            0 => "none".to_owned(),
            n if n == self.shut.valves.len() => "all that can close".to_owned(),
            _ => names
                .iter()
                .map(|n| super::layout::name(n, 40))
                .collect::<Vec<_>>()
                .join(", "),
        }
    }

    /// A margin as it is: one percent is one percent.
    fn margin(&self, facts: &Facts) -> String {
        if facts.margin.is_finite() {
            let left = if facts.margin < 0.0 {
                "short"
            } else {
                "to spare"
            };
            let share = self.speak.show.number(100.0 * facts.margin.abs(), 1);
            format!("{share} % {left}")
        } else {
            "not known".to_owned()
        }
    }

    fn first(&self) -> String {
        let c = &self.shut.combinations;
        let mut out = String::new();
        let Some(least) = self.least_flow() else {
            out.push_str(&paragraph(
                "",
                "Not shown whether the unit trips: the file gives no least_flow. The flows are below.",
            ));
            return out;
        };
        let least = self.speak.flow(least);
        if self.shut.valves.is_empty() {
            let text = format!(
                "No valve of this house can close by itself: the flow stays at {} against a least flow of {least}.",
                self.speak.flow(self.shut.open.flow_m3_s)
            );
            return paragraph("", &text);
        }
        let solved = c.tally.solved;
        let tripping = c.tripping();
        let verdict = if self.shut.open.trips() {
            format!(
                "THE UNIT TRIPS EVEN WITH EVERYTHING OPEN: {} against a least flow of {least}. No valve is to blame; \
                 the pump or the pipes are (see `pipecarry check`).",
                self.speak.flow(self.shut.open.flow_m3_s)
            )
        } else if tripping > 0 {
            format!(
                "THE UNIT TRIPS in {tripping} of {solved} combinations: flow under its least, {least}."
            )
        } else {
            format!(
                "THE UNIT DOES NOT TRIP in any of {solved} combinations; its least flow is {least}."
            )
        };
        out.push_str(&paragraph("", &verdict));
        if !c.tally.unanswered.is_empty() {
            let text = format!(
                "NOT SHOWN: {} further combinations have no converged answer (the first: shut {}). None of them is \
                 taken for safe.",
                c.tally.unanswered.len(),
                self.set(c.tally.unanswered[0].0)
            );
            out.push_str(&paragraph("  ", &text));
        }
        for (what, _) in &self.shut.missing {
            let text = format!("Not shown for want of a converged answer: {what}.");
            out.push_str(&paragraph("  ", &text));
        }
        if let Some(worst) = c.worst() {
            let text = format!(
                "Worst: shut {} leaves {} ({}).",
                self.set(worst.shut),
                self.speak.flow(worst.flow_m3_s),
                self.margin(worst)
            );
            out.push_str(&paragraph("  ", &text));
        }
        if let Some(miss) = c.nearest_miss().filter(|_| tripping > 0) {
            let text = format!(
                "Nearest to a trip of those that do not: shut {} leaves {}, {}.",
                self.set(miss.shut),
                self.speak.flow(miss.flow_m3_s),
                self.margin(miss)
            );
            out.push_str(&paragraph("  ", &text));
        }
        if !self.shut.always_open.is_empty() {
            let open = self.shut.always_open.join(", ");
            out.push_str(&paragraph("  ", &format!("Always open: {open}.")));
        }
        out
    }

    fn sets(&self) -> String {
        let c = &self.shut.combinations;
        if c.trips.is_empty() || self.shut.open.trips() {
            return String::new();
        }
        let mut out = String::from("\nSmallest sets of shut valves that trip it\n");
        let sizes: Vec<u32> = c.trips.iter().map(|m| m.count_ones()).collect();
        let text = format!(
            "{} {}; the smallest has {} of {} valves.",
            c.trips.len(),
            if c.trips.len() == 1 { "set" } else { "sets" },
            sizes.first().copied().unwrap_or(0),
            self.shut.valves.len()
        );
        out.push_str(&paragraph("  ", &text));
        out.push_str(&self.list(&c.trips));
        out.push_str("\nSmallest sets that keep it safe if they never close\n");
        match &c.safe {
            None => out.push_str(&paragraph("  ", "Too many to list exactly.")),
            Some(safe) if safe.is_empty() => out.push_str(&paragraph("  ", "There is none.")),
            Some(safe) => {
                let count = format!(
                    "{} {}.",
                    safe.len(),
                    if safe.len() == 1 { "set" } else { "sets" }
                );
                out.push_str(&paragraph("  ", &count));
                out.push_str(&self.list(safe));
            }
        }
        out
    }

    fn list(&self, masks: &[sets::Mask]) -> String {
        let mut out = String::new();
        for mask in masks.iter().take(PRINTED) {
            out.push_str(&paragraph("  - ", &self.set(*mask)));
        }
        if masks.len() > PRINTED {
            out.push_str(&paragraph(
                "  ",
                &format!("… and {} more.", masks.len() - PRINTED),
            ));
        }
        out
    }

    fn by_open(&self) -> String {
        let valves = self.shut.valves.len();
        if valves == 0 {
            return String::new();
        }
        let mut table = Table::new(&["valves open", "least flow", "greatest flow"]);
        for (open, low, high) in self.shut.combinations.by_open() {
            table.row(vec![
                open.to_string(),
                self.speak.flow(low),
                self.speak.flow(high),
            ]);
        }
        format!(
            "\nFlow through the unit by number of valves open\n{}",
            table.text()
        )
    }

    fn throttled(&self) -> String {
        let Some(throttled) = &self.shut.throttled else {
            return String::new();
        };
        let mut out = String::from("\nAll heads throttled alike, none quite shut\n");
        match &throttled.trips_at {
            Some((share, facts)) => {
                let text = format!(
                    "It trips when every head stands at {} of its design kv; the rooms then still take {}.",
                    self.speak.show.percent(*share),
                    self.speak.power(facts.heat_w)
                );
                out.push_str(&paragraph("  ", &text));
            }
            None if self.shut.open.trips() => {}
            None => out.push_str(&paragraph(
                "  ",
                "It does not trip down to a twentieth of the design kv.",
            )),
        }
        let mut table = Table::new(&["kv of heads", "flow", "heat", "valve loss"]);
        for (share, facts) in &throttled.rows {
            table.row(vec![
                self.speak.show.percent(*share),
                self.speak.flow(facts.flow_m3_s),
                self.speak.power(facts.heat_w),
                facts
                    .valve_dp_pa
                    .map_or("–".into(), |(pa, _)| self.speak.pressure(pa)),
            ]);
        }
        out.push_str(&table.text());
        out
    }

    fn noise(&self) -> String {
        let loudest = self.shut.combinations.tally.loudest;
        let Some((pa, e, mask)) =
            loudest.and_then(|f| f.valve_dp_pa.map(|(pa, e)| (pa, e, f.shut)))
        else {
            return String::new();
        };
        let text = format!(
            "The largest loss across an open valve is {} at {}, with shut: {}. Valves tend to hiss above about 20 to \
             30 kPa (published article; see the catalogue's limits).",
            self.speak.pressure(pa),
            self.network.emitters[e].name,
            self.set(mask)
        );
        format!("\nNoise at valves\n{}", paragraph("  ", &text))
    }

    fn kept_open(&self) -> String {
        if self.shut.kept_open.is_empty() || self.least_flow().is_none() {
            return String::new();
        }
        let mut table = Table::new(&[
            "<never shut",
            "water",
            "heat",
            "combinations that still trip",
        ]);
        for (name, water_m3, heat_w, trips) in self.shut.kept_open.iter().take(ROWS) {
            table.row(vec![
                super::layout::name(name, 24),
                self.speak.show.volume(Volume(*water_m3)),
                self.speak.power(*heat_w),
                trips.to_string(),
            ]);
        }
        format!(
            "\nWhat one more emitter or zone always open would give\n{}",
            table.text()
        )
    }

    fn rests(&self) -> String {
        let c = &self.shut.combinations;
        let text = match c.reached {
            Reached::All => format!(
                "{} of the {} combinations of {} valves were solved, heat included, with the pump in its own mode.",
                c.tally.solved,
                c.total,
                self.shut.valves.len()
            ),
            Reached::Sampled {
                up_to_shut,
                up_to_open,
                drawn,
                missed_share,
            } => format!(
                "{} valves make {:.3e} combinations. Solved: every one with up to {up_to_shut} shut, every one with up \
                 to {up_to_open} open, and {drawn} more drawn at random (seed {SEED}). The sets above are those found \
                 among them: a smaller one between may have been missed. A kind of combination that makes up less than \
                 {} of the rest can be missing from the draw (95 % confidence).",
                self.shut.valves.len(),
                c.total,
                self.speak.show.percent(missed_share)
            ),
        };
        let caution = "Design information only: the maker's instructions, local codes and licensed practice come first.";
        format!(
            "\nHow this was reached\n{}{}",
            paragraph("  ", &text),
            paragraph("  ", caution)
        )
    }
}
