//! What each statement rests on: enumeration, bounds or a sample.

use super::super::prose::Prose;
use super::Report;
use crate::shut::enumerate::{Reached, SEED};
use crate::shut::monotone::WhyNot;

impl Report<'_> {
    /// `64 combinations`, or how many were looked at.
    pub(super) fn of_how_many(&self) -> String {
        let c = &self.shut.combinations;
        match c.reached {
            Reached::All => format!("{} combinations", c.tally.solved),
            Reached::Sampled { .. } => {
                format!("the {} combinations looked at", c.tally.solved)
            }
        }
    }

    /// A word for extremes of a sample.
    pub(super) fn among(&self) -> &'static str {
        match self.shut.combinations.reached {
            Reached::All => "",
            Reached::Sampled { .. } => " (of those looked at)",
        }
    }

    /// How many of all combinations trip, where bounds say it.
    pub(super) fn counted(&self) -> Prose {
        let c = &self.shut.combinations;
        let proved = c.proved.as_ref().ok().and_then(|p| p.tripping);
        let Some((sure, not_sure)) = proved.or(c.counted.as_ref().map(|c| c.tripping)) else {
            return Prose::default();
        };
        let share = |count: f64| {
            let percent = 100.0 * count / c.total;
            let decimals = if percent < 1.0 { 4 } else { 1 };
            format!("{} %", self.speak.show.number(percent, decimals))
        };
        let text = if sure == not_sure {
            format!(
                "By bounds, of all {} combinations {} trip ({}).",
                self.many(c.total),
                self.many(sure),
                share(sure)
            )
        } else {
            format!(
                "By bounds, of all {} combinations at least {} trip ({}) and at most {} ({}).",
                self.many(c.total),
                self.many(sure),
                share(sure),
                self.many(not_sure),
                share(not_sure)
            )
        };
        Prose::of("  ", &text)
    }

    pub(super) fn trips_rest_on(&self) -> &'static str {
        let c = &self.shut.combinations;
        match (&c.reached, &c.proved) {
            (Reached::All, _) if c.tally.unanswered.is_empty() => "By enumeration: all there are.",
            (Reached::All, _) => {
                "By enumeration of the combinations that have an answer: one that has none may trip, with fewer shut than \
                 a set here."
            }
            (_, Ok(proved)) if proved.exact => "By bounds: all there are.",
            _ if self.fewest() => {
                "Solved; by enumeration and bounds no set of fewer valves trips. The others are those found by sampling."
            }
            _ => {
                "By sampling: none of these trips any more with one of its valves open again, but smaller ones may have \
                 been missed."
            }
        }
    }

    pub(super) fn safe_rests_on(&self) -> &'static str {
        let c = &self.shut.combinations;
        match (&c.reached, &c.proved) {
            (Reached::All, _) if c.tally.unanswered.is_empty() => "By enumeration: all there are.",
            (Reached::All, _) => {
                "By enumeration: they keep clear of what trips and of what has no answer."
            }
            (_, Ok(proved)) if proved.exact => "By bounds: all there are.",
            (_, Ok(_)) => {
                "By bounds: safe whatever the water's temperatures are; a smaller set may do."
            }
            _ if c.counted.as_ref().is_some_and(|c| c.least_safe.is_some()) => {
                "By bounds: safe whatever the water's temperatures are; a smaller set may do."
            }
            _ => "By sampling: safe in all that was looked at, not proved.",
        }
    }

    /// A number of combinations, short where it is large.
    fn many(&self, count: f64) -> String {
        if count < 1e7 {
            return format!("{count:.0}");
        }
        let power = crate::maths::log10(count).floor();
        let first = self.speak.show.number(count / 10_f64.powi(power as i32), 2);
        format!("{first}·10^{power:.0}")
    }

    /// Whether no set of fewer valves than the smallest printed trips.
    fn fewest(&self) -> bool {
        let c = &self.shut.combinations;
        let smallest = c.trips.first().map(|m| m.count_ones() as usize);
        smallest.is_some_and(|k| c.whichever().0.is_some_and(|never| never + 1 == k))
    }

    pub(super) fn rests(&self) -> Prose {
        let c = &self.shut.combinations;
        let mut text = match c.reached {
            Reached::All => {
                let of = match self.shut.valves.len() {
                    1 => "one valve".to_owned(),
                    n => format!("{n} valves"),
                };
                let solved = match c.tally.unanswered.len() {
                    0 if c.tally.solved == 1 => format!("the one combination of {of} was solved"),
                    0 => format!("all {} combinations of {of} were solved", c.total),
                    n => format!(
                        "of all {} combinations of {of} {} were solved and {n} have no converged answer",
                        c.total, c.tally.solved
                    ),
                };
                format!(
                    "By enumeration: {solved}, heat included, with the pump in its own mode; every statement above about \
                     combinations rests on that."
                )
            }
            Reached::Sampled {
                up_to_shut,
                up_to_open,
                drawn,
                missed_share,
            } => format!(
                "{} valves make {} combinations. By enumeration: every one with up to {up_to_shut} shut and every \
                 one with up to {up_to_open} open. By sampling: {drawn} of the rest, seed {SEED}; a kind of \
                 combination that makes up less than {} of the rest can be missing (95 % confidence, rule of three). \
                 Extremes of flow, water, heat and loss above are those of what was looked at.",
                self.shut.valves.len(),
                self.many(c.total),
                format_args!("{:.2} %", missed_share * 100.0)
            ),
        };
        match &c.proved {
            Ok(proved) => {
                text.push_str(
                    " By bounds: here a further valve shut can only lower the flow (passive elements, one pump at fixed \
                     speed)",
                );
                if let Some((cold_c, hot_c)) = proved.water_c {
                    text.push_str(&format!(
                        ", and water between {} and {} was allowed for everywhere",
                        self.speak.temperature(cold_c),
                        self.speak.temperature(hot_c)
                    ));
                }
                text.push_str(&match proved.exact {
                    true => format!(
                        "; both lists of sets are exact and complete. {} solves found them.",
                        proved.solves
                    ),
                    false => format!(
                        "; the safe sets are proved, and {} sets of shut valves are sure to trip. Between the two the \
                         temperatures decide, and there the statements rest on the sample. {} solves.",
                        proved.trips.len(),
                        proved.solves
                    ),
                });
            }
            Err(WhyNot::NotNeeded) => {}
            Err(_) if c.counted.is_some() => {
                let counted = c.counted.as_ref();
                text.push_str(&format!(
                    " By bounds: here a further valve shut can only lower the flow (passive elements, one pump at fixed \
                     speed), and of valves between the same two places those whose branches pass most lower it most, at \
                     any temperature that the water can have. So {} counts of valves shut, solved at their ends, speak for \
                     all combinations. A set that was solved and trips is a fact; how few valves can trip it is proved \
                     where the report says so.",
                    counted.map_or(0, |c| c.solves)
                ));
            }
            Err(why) => text.push_str(&format!(
                " The sets above are those found among these: a smaller one between may have been missed. Bounds \
                 cannot be used: {}.",
                why_not(*why)
            )),
        }
        let mut silent = vec![
            "lockshields stand as balancing would set them, or as asked with --unset",
            "panels hold the water of the catalogue",
        ];
        if let Some(source) = self.network.sources.first() {
            if self.network.element(source.body).volume_m3 <= 0.0 {
                silent.push("the unit's own water is not counted");
            }
            if source.control_band_k.is_none() {
                silent.push("the control band is 5 K");
            }
            if source.least_stop_s.is_none() {
                silent.push("the least stop is 180 s");
            }
        }
        let silent = format!("Where the file is silent: {}.", silent.join("; "));
        let caution = "Design information only: the maker's instructions, local codes and licensed practice come first.";
        let mut out = Prose::headed("How this was reached");
        out.say("  ", &text);
        out.say("  ", &silent);
        out.say("  ", caution);
        out
    }
}

fn why_not(why: WhyNot) -> &'static str {
    match why {
        WhyNot::NotNeeded => "they are not needed",
        WhyNot::Tees => {
            "losses of tees depend on how the flow splits, so that a valve shut may raise another's flow"
        }
        WhyNot::ActsByItself => "a check, overflow or flow-holding valve acts by itself",
        WhyNot::Falls => "a part gains pressure with flow",
        WhyNot::Pumps => "a pump is controlled, or there are several",
        WhyNot::Water => {
            "nothing bounds how cold the water gets (a fixed heat, a coil or an exchanger draws it)"
        }
        WhyNot::TooMany => "the sets are too many to be found one by one",
        WhyNot::Unanswered => "a combination on the way has no converged answer",
    }
}
