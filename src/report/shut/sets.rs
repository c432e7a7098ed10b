//! Sets of valves in words: which trip the unit, which keep it safe, and how many whichever they are.

use super::super::layout;
use super::super::prose::Prose;
use super::Report;
use crate::shut::alike::Group;
use crate::shut::counted::Counted;
use crate::shut::sets::Mask;
use crate::shut::state::Facts;
use crate::shut::study::{SETS_SOLVED, names};

/// Sets printed of a list; their number is always said.
const PRINTED: usize = SETS_SOLVED;
/// Names printed of a set; how many more there are is said.
const NAMES: usize = 16;

impl Report<'_> {
    /// Names of shut valves; of those that stay open where they are fewer.
    pub(super) fn set(&self, mask: Mask) -> String {
        let valves = &self.shut.valves;
        let shut = names(valves, mask);
        let open = names(valves, !mask);
        if shut.is_empty() {
            return "nothing".to_owned();
        }
        if open.is_empty() {
            return "all that can close".to_owned();
        }
        if shut.len() > 6 && open.len() * 2 < shut.len() {
            return format!("all but {}", listed(&open));
        }
        listed(&shut)
    }

    /// How many may be shut, whichever they are.
    pub(super) fn whichever(&self) -> Prose {
        if self.shut.open.trips() || self.shut.combinations.tripping() == 0 {
            return Prose::default();
        }
        let c = &self.shut.combinations;
        let (never, always) = c.whichever();
        let n = self.shut.valves.len();
        let mut says = Vec::new();
        match never {
            Some(0) => says.push("one shut can be enough to trip it".to_owned()),
            Some(k) => says.push(format!("with up to {k} of {n} shut it does not trip")),
            None => {}
        }
        match always {
            Some(k) if k == n => says.push("with all shut it does".to_owned()),
            Some(k) => says.push(format!("with {k} or more shut it always does")),
            None => {}
        }
        if says.is_empty() {
            return Prose::default();
        }
        let rests = match &c.counted {
            Some(by) if never == by.safe_up_to && always == by.trips_from => " By bounds.",
            Some(_) => " By enumeration and bounds.",
            None => " By enumeration.",
        };
        let text = format!("Whichever they are, {}.{rests}", says.join("; "));
        Prose::of("  ", &text)
    }

    pub(super) fn sets(&self) -> Prose {
        let c = &self.shut.combinations;
        if c.trips.is_empty() || self.shut.open.trips() {
            return Prose::default();
        }
        let mut out = Prose::headed("Smallest sets of shut valves that trip it");
        let sizes: Vec<u32> = c.trips.iter().map(|m| m.count_ones()).collect();
        let text = format!(
            "{} {}; the smallest has {} of {} valves. {}",
            c.trips.len(),
            if c.trips.len() == 1 { "set" } else { "sets" },
            sizes.first().copied().unwrap_or(0),
            self.shut.valves.len(),
            self.trips_rest_on()
        );
        let text = format!("{text} With each how far its flow is from the least.");
        out.say("  ", &text);
        out.join(self.list(&c.trips, Report::set, &self.shut.trips_solved));
        if let Some(counted) = c.counted.as_ref().filter(|c| !c.trips.is_empty()) {
            let text = "By bounds, whichever valves of a group they are, it trips with shut:";
            out.say("  ", text);
            out.join(self.patterns(counted, &counted.trips));
        }
        out.heading("Smallest sets that keep it safe if they never close");
        let safe = &c.safe;
        let count = match (safe.len(), c.safe_listed) {
            (0, _) => "There is none.".to_owned(),
            (_, false) => format!(
                "They are too many to list. One of few valves: {}",
                self.safe_rests_on()
            ),
            (1, _) => format!("1 set. {}", self.safe_rests_on()),
            (n, _) => format!("{n} sets. {}", self.safe_rests_on()),
        };
        let count = match safe.is_empty() {
            true => count,
            false => {
                format!("{count} With each how far its flow is from the least with all else shut.")
            }
        };
        out.say("  ", &count);
        out.join(self.list(safe, Report::open, &self.shut.safe_solved));
        if let Some(counted) = c.counted.as_ref().filter(|c| !c.safe.is_empty()) {
            let text = "By bounds, whichever valves of a group they are, it is safe while these never close:";
            out.say("  ", text);
            out.join(self.patterns(counted, &counted.safe));
        }
        out
    }

    /// Names of valves that stay open.
    pub(super) fn open(&self, mask: Mask) -> String {
        match mask {
            0 => "nothing".to_owned(),
            _ => listed(&names(&self.shut.valves, mask)),
        }
    }

    fn list(
        &self,
        masks: &[Mask],
        words: fn(&Self, Mask) -> String,
        solved: &[Option<Facts>],
    ) -> Prose {
        let mut out = Prose::default();
        for (k, mask) in masks.iter().take(PRINTED).enumerate() {
            let facts = solved.get(k).and_then(Option::as_ref);
            let margin = facts.map_or(String::new(), |f| self.margin_in_short(f));
            out.say("  - ", &format!("{}{margin}", words(self, *mask)));
        }
        if masks.len() > PRINTED {
            out.say("  ", &format!("… and {} more.", masks.len() - PRINTED));
        }
        out
    }

    /// `: 1.2 % above` its least flow, and so on.
    fn margin_in_short(&self, facts: &Facts) -> String {
        let percent = |share: f64| {
            let percent = 100.0 * share.abs();
            let decimals = if percent < 1.0 { 2 } else { 1 };
            self.speak.show.number(percent, decimals)
        };
        match facts.spare {
            _ if !facts.margin.is_finite() => String::new(),
            _ if facts.flow_m3_s <= 0.0 => ": no flow".to_owned(),
            _ if facts.trips() => format!(": {} % under", percent(facts.margin)),
            Some(spare) => format!(
                ": {} % of the pump's head to spare",
                percent(spare.max(0.0))
            ),
            None => format!(": {} % above", percent(facts.margin)),
        }
    }

    /// Counts of valves by group.
    fn patterns(&self, counted: &Counted, patterns: &[Vec<usize>]) -> Prose {
        let mut out = Prose::default();
        for counts in patterns.iter().take(PRINTED) {
            let groups = counted.groups.iter().zip(counts);
            let words: Vec<String> = groups
                .filter(|(_, k)| **k > 0)
                .map(|(group, k)| match (group.valves.len(), *k) {
                    (1, _) => self.group(counted, group),
                    (2, 2) => format!("both of {}", self.group(counted, group)),
                    (n, k) if n == k => format!("all {n} of {}", self.group(counted, group)),
                    (n, k) => format!("any {k} of {}'s {n}", self.group(counted, group)),
                })
                .collect();
            let words = match words.is_empty() {
                true => "nothing".to_owned(),
                false => words.join(" and "),
            };
            out.say("  - ", &words);
        }
        if patterns.len() > PRINTED {
            out.say("  ", &format!("… and {} more.", patterns.len() - PRINTED));
        }
        out
    }

    fn group(&self, counted: &Counted, group: &Group) -> String {
        let name =
            crate::shut::alike::name(self.network, &self.shut.valves, &counted.groups, group);
        layout::name(&name, 30)
    }
}

fn listed(names: &[String]) -> String {
    let shown: Vec<String> = names
        .iter()
        .take(NAMES)
        .map(|n| layout::name(n, 40))
        .collect();
    match names.len() > NAMES {
        true => format!("{} and {} more", shown.join(", "), names.len() - NAMES),
        false => shown.join(", "),
    }
}
