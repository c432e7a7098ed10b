//! What happens when valves close, in words: what matters first, then the figures behind it, and how each statement
//! was reached.

mod beside;
mod defrost;
mod plant;
mod rests;
mod sets;
mod vessel;

use super::layout::Table;
use super::prose::Prose;
use super::speak::Speak;
use crate::network::Network;
use crate::quantity::Volume;
use crate::shut::counted::choose;
use crate::shut::cycle::Rhythm;
use crate::shut::season::Of;
use crate::shut::state::Facts;
use crate::shut::{Shut, water};
use crate::survey::Units;
use crate::view::limits::limit;

/// Rows printed of a table of valves.
const ROWS: usize = 12;

/// Parts of the report, in their order.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Part {
    /// Whether it trips, the worst, the nearest, all in short.
    First,
    /// Smallest sets that trip it and that keep it safe.
    Sets,
    /// Flow by number of valves open.
    ByOpen,
    /// All heads throttled alike.
    Throttled,
    /// Noise at valves.
    Noise,
    /// Windows of overflow valves.
    Windows,
    /// Water left in circulation.
    Water,
    /// A defrost.
    Defrost,
    /// Stops and starts.
    Days,
    /// What else could stay open, and what would do.
    KeptOpen,
    /// What a vessel costs.
    VesselWays,
    /// Other states.
    Beside,
    /// How each statement was reached.
    Rests,
}

impl Part {
    /// All of them.
    pub(crate) const ALL: [Part; 13] = [
        Part::First,
        Part::Sets,
        Part::ByOpen,
        Part::Throttled,
        Part::Noise,
        Part::Windows,
        Part::Water,
        Part::Defrost,
        Part::Days,
        Part::KeptOpen,
        Part::VesselWays,
        Part::Beside,
        Part::Rests,
    ];
}

/// The whole report.
pub fn text(network: &Network, shut: &Shut, units: &Units) -> String {
    let mut out = Prose::of("", &format!("{}: when valves close", network.title));
    out.gap();
    out.join(parts(network, shut, units, &Part::ALL));
    out.gap();
    out.say("", super::MADE_BY);
    out.text()
}

/// Some parts of it.
pub(crate) fn parts(network: &Network, shut: &Shut, units: &Units, parts: &[Part]) -> Prose {
    let speak = Speak::of(network, units);
    let report = Report {
        network,
        shut,
        speak,
    };
    let mut out = Prose::default();
    for part in parts {
        out.join(match part {
            Part::First => report.first(),
            Part::Sets => report.sets(),
            Part::ByOpen => report.by_open(),
            Part::Throttled => report.throttled(),
            Part::Noise => report.noise(),
            Part::Windows => report.windows(),
            Part::Water => report.water(),
            Part::Defrost => report.defrost(),
            Part::Days => report.days(),
            Part::KeptOpen => report.kept_open(),
            Part::VesselWays => report.vessel_ways(),
            Part::Beside => report.beside(),
            Part::Rests => report.rests(),
        });
    }
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

    /// A margin as it is: one percent is one percent.
    fn margin(&self, facts: &Facts) -> String {
        let Some(least) = self.least_flow().filter(|_| facts.margin.is_finite()) else {
            return "no least flow known".to_owned();
        };
        let of_head = |spare: f64| {
            let percent = 100.0 * spare.max(0.0);
            let decimals = if percent < 1.0 { 2 } else { 1 };
            self.speak.show.number(percent, decimals)
        };
        // what a pump holds to the least flow meets it to rounding
        if facts.margin.abs() < 1e-4 {
            return match facts.spare {
                Some(spare) => format!(
                    "its least flow, which the pump holds with {} % of its full head to spare",
                    of_head(spare)
                ),
                None => "its least flow and no more".to_owned(),
            };
        }
        let percent = 100.0 * facts.margin.abs();
        let share = self
            .speak
            .show
            .number(percent, if percent < 1.0 { 2 } else { 1 });
        let off = self.speak.flow((facts.flow_m3_s - least).abs());
        if facts.margin < 0.0 {
            format!("{off} or {share} % under its least flow")
        } else if let Some(spare) = facts.spare {
            format!(
                "{off} or {share} % above its least flow, which the pump would hold with {} % of its full head to spare",
                of_head(spare)
            )
        } else {
            format!("{off} or {share} % above its least flow")
        }
    }

    fn first(&self) -> Prose {
        let c = &self.shut.combinations;
        let mut out = Prose::default();
        let Some(least_m3_s) = self.least_flow() else {
            out.say(
                "",
                "Not shown whether the unit trips: the file gives no least_flow. The flows are below.",
            );
            return out;
        };
        let least = self.speak.flow(least_m3_s);
        if self.shut.valves.is_empty() {
            let why = if self.network.emitters.iter().all(|e| e.always_open) {
                "Every emitter is marked always open"
            } else {
                "No valve of this house can close by itself"
            };
            let text = format!(
                "{why}, so there are no combinations to look at: {} flow through the unit, {}.",
                self.speak.flow(self.shut.open.flow_m3_s),
                self.margin(&self.shut.open)
            );
            out.say("", &text);
            out.join(self.findings());
            return out;
        }
        let tripping = c.tripping();
        let of = self.of_how_many();
        let verdict = if self.shut.open.trips() {
            let (least, gives) =
                self.speak
                    .apart(least_m3_s, self.shut.open.flow_m3_s, Speak::flow);
            format!(
                "THE UNIT TRIPS EVEN WITH EVERYTHING OPEN: its least flow is {least}, and pump and pipes give {gives}. \
                 No valve is to blame; see `pipecarry check` for what holds the flow back."
            )
        } else if tripping > 0 {
            format!("THE UNIT TRIPS in {tripping} of {of}: flow under its least, {least}.")
        } else {
            format!("THE UNIT DOES NOT TRIP in any of {of}; its least flow is {least}.")
        };
        out.say("", &verdict);
        out.join(self.counted());
        out.join(self.whichever());
        out.join(self.findings());
        if !c.tally.unanswered.is_empty() {
            let text = format!(
                "NOT SHOWN: {} further combinations have no converged answer (the first: shut {}). None of them is \
                 taken for safe.",
                c.tally.unanswered.len(),
                self.set(c.tally.unanswered[0].0)
            );
            out.say("  ", &text);
        }
        for (what, _) in &self.shut.missing {
            let text = format!("Not shown for want of a converged answer: {what}.");
            out.say("  ", &text);
        }
        if let Some(worst) = c.worst() {
            let text = format!(
                "Worst{}: {} through the unit, {}, with shut: {}.",
                self.among(),
                self.speak.flow(worst.flow_m3_s),
                self.margin(worst),
                self.set(worst.shut)
            );
            out.say("  ", &text);
        }
        if let Some(miss) = c.nearest_miss().filter(|_| tripping > 0) {
            let text = format!(
                "Nearest to a trip of those that do not{}: {}, {}, with shut: {}.",
                self.among(),
                self.speak.flow(miss.flow_m3_s),
                self.margin(miss),
                self.set(miss.shut)
            );
            out.say("  ", &text);
        }
        out.join(self.in_short());
        if !self.shut.always_open.is_empty() {
            let open = self.shut.always_open.join(", ");
            out.say("  ", &format!("Always open: {open}."));
        }
        for (name, zone) in &self.shut.behind {
            let zone = self.shut.valves.get(*zone).map_or("a zone", |v| &v.name);
            let text =
                format!("`{name}` has no valve that shuts by itself, but zone `{zone}` shuts it.");
            out.say("  ", &text);
        }
        out
    }

    /// Whether the unit at its least output warms the least flow by more than its control band.
    fn stops_at_once(&self) -> bool {
        let mut seasons = self.shut.seasons.iter();
        seasons.any(|s| s.of == Of::Worst && s.least_rise_k > s.band_k)
    }

    /// What the parts below come to.
    fn in_short(&self) -> Prose {
        let mut out = Prose::default();
        if let Some(rule) = water::governing(&self.shut.rules) {
            let short_m3 = rule.short_m3();
            let litres = |m3: f64| self.speak.show.volume(Volume(m3));
            let text = match self.shut.vessel_m3 {
                _ if short_m3 <= 0.0 => format!(
                    "Water in circulation is enough: {} of {} at least.",
                    litres(rule.counts_m3),
                    litres(rule.asked_m3)
                ),
                Some(m3) => format!(
                    "Water in circulation is {} short at worst; the next size of volume vessel is {}.{}",
                    self.speak.some(short_m3, Speak::volume),
                    litres(m3),
                    match self.stops_at_once() {
                        true => " It does not lengthen the runs there: see below.",
                        false => "",
                    }
                ),
                None => format!(
                    "Water in circulation is {} short at worst.",
                    self.speak.some(short_m3, Speak::volume)
                ),
            };
            out.say("  ", &text);
        }
        let most = |of: Of| {
            let season = self.shut.seasons.iter().find(|s| s.of == of)?;
            let starts = season.days.iter().filter_map(|d| match d.rhythm {
                Rhythm::Cycles {
                    starts_per_hour, ..
                } => Some((starts_per_hour, d.outside_c)),
                _ => None,
            });
            starts.max_by(|a, b| a.0.total_cmp(&b.0))
        };
        // a combination that takes least need not be the one that starts most
        let least = "with as little heat taken as can be without a trip";
        let named = [
            (Of::Worst, least),
            (Of::Typical, "in a typical combination"),
            (Of::Open, "with everything open"),
        ];
        let known = named.map(|(of, words)| most(of).map(|m| (of, words, m)));
        let greatest = known
            .into_iter()
            .flatten()
            .reduce(|a, b| if b.2.0 > a.2.0 { b } else { a });
        if let Some((of, words, (starts, outside_c))) = greatest {
            let mut text = format!(
                "It starts up to {starts:.1} times an hour {words}, at {} outside",
                self.speak.temperature(outside_c)
            );
            match (of, most(Of::Worst), most(Of::Typical)) {
                (Of::Worst, _, Some((starts, _))) => {
                    text.push_str(&format!(", up to {starts:.1} times in a typical one"));
                }
                (_, Some((starts, _)), _) if of != Of::Worst => {
                    text.push_str(&format!(", up to {starts:.1} times {least}"));
                }
                _ => {}
            }
            text.push_str(" (6 an hour is a usual ceiling).");
            out.say("  ", &text);
        }
        out
    }

    fn by_open(&self) -> Prose {
        let valves = self.shut.valves.len();
        if valves == 0 {
            return Prose::default();
        }
        let mut table = Table::new(&["valves open", "least flow", "greatest flow", "trip", "of"]);
        let levels = self.shut.combinations.tally.levels.iter().enumerate();
        for (shut, level) in levels.filter_map(|(shut, level)| Some((shut, (*level)?))) {
            let all = choose(valves, shut);
            let of = if (level.solved as f64) < all {
                format!("{} looked at, of {all:.0}", level.solved)
            } else {
                format!("{all:.0}")
            };
            table.row(vec![
                (valves - shut).to_string(),
                self.speak.flow(level.least),
                self.speak.flow(level.greatest),
                match self.least_flow() {
                    Some(_) => level.tripping.to_string(),
                    None => "–".to_owned(),
                },
                of,
            ]);
        }
        Prose::headed("Flow through the unit by number of valves open").and(table)
    }

    fn throttled(&self) -> Prose {
        let Some(throttled) = &self.shut.throttled else {
            return Prose::default();
        };
        let mut out = Prose::headed("All heads throttled alike, none quite shut");
        match &throttled.trips_at {
            Some((share, facts)) => {
                let text = format!(
                    "It trips when every head stands at {} of its design kv; the rooms then still take {}.",
                    self.speak.show.percent(*share),
                    self.speak.power(facts.heat_w)
                );
                out.say("  ", &text);
            }
            // nothing is known of a trip without the unit's least flow
            None if self.shut.open.trips() || self.least_flow().is_none() => {}
            None => out.say(
                "  ",
                "It does not trip down to a twentieth of the design kv.",
            ),
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
        out.table(table);
        out
    }

    /// Whether a loss is above the limit for the thermostatic valve of an emitter.
    fn hisses(&self, pa: f64, emitter: usize) -> bool {
        let name = &self.network.emitters[emitter].name;
        limit(self.network, "thermostatic valve", Some(name)).is_some_and(|l| pa > l.value)
    }

    fn noise(&self) -> Prose {
        let loudest = self.shut.combinations.tally.loudest;
        let Some((pa, e, mask)) =
            loudest.and_then(|f| f.valve_dp_pa.map(|(pa, e)| (pa, e, f.shut)))
        else {
            return Prose::default();
        };
        let emitter = &self.network.emitters[e].name;
        let limit = limit(self.network, "thermostatic valve", Some(emitter));
        let over = limit.as_ref().map_or("", |l| match pa > l.value {
            true => "IT MAY HISS: ",
            false => "Quiet with heads quite open: ",
        });
        let mut text = format!(
            "{over}the largest loss across an open valve{} is {} at {emitter}, with shut: {}.",
            self.among(),
            self.speak.pressure(pa),
            self.set(mask)
        );
        if let Some(limit) = limit {
            text.push_str(&format!(
                " The limit is {} (published article: valves tend to hiss above 20 to 30 kPa).",
                self.speak.pressure(limit.value)
            ));
        }
        let through = loudest.and_then(|f| f.valve_flow_m3_s);
        if let Some(m3_s) = through {
            text.push_str(&format!(" It then passes {}.", self.speak.flow(m3_s)));
        }
        let throttled = self.shut.throttled.iter().flat_map(|t| &t.rows);
        let hiss = throttled
            .filter_map(|(share, f)| Some((*share, f.valve_dp_pa?)))
            .find(|(_, (pa, e))| self.hisses(*pa, *e));
        if let Some((share, (over_pa, _))) = hiss.filter(|_| !self.hisses(pa, e)) {
            text.push_str(&format!(
                " That is with heads either open or shut: with all throttled alike to {} of their design kv the loss is \
                 {}, above the limit.",
                self.speak.show.percent(share),
                self.speak.pressure(over_pa)
            ));
        }
        let mut out = Prose::headed("Noise at valves");
        out.say("  ", &text);
        out
    }
}
