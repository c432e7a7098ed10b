//! Overflow valves, water left in circulation, stops and starts.

use super::super::layout::Table;
use super::super::prose::Prose;
use super::super::speak::Speak;
use super::Report;
use crate::network::PumpControl;
use crate::quantity::{Kv, Second, Volume};
use crate::shut::bypass::{Change, GREATEST_KV, Remedy, Stands, Window};
use crate::shut::cycle::Rhythm;
use crate::shut::season::{Day, Of, Season};
use crate::shut::water::{self, RuleKind};

/// Largest kv of an overflow valve that a house is likely to get, m³/h (about 1¼ inch; common practice, no source).
const LARGEST_MADE_KV: f64 = 20.0;

impl Report<'_> {
    pub(super) fn windows(&self) -> Prose {
        // where it trips with everything open no setting of an overflow valve is to blame or helps
        if self.shut.windows.is_empty() || self.shut.open.trips() {
            return Prose::default();
        }
        let mut out = Prose::headed("Overflow (bypass) valve: can it be set?");
        for window in &self.shut.windows {
            out.say("  - ", &self.window(window));
        }
        let text =
            "An overflow valve guards flow, not run time: what it lets through comes back hot.";
        out.say("  ", text);
        let by_sample = matches!(
            self.shut.combinations.reached,
            crate::shut::enumerate::Reached::Sampled { .. }
        );
        if by_sample {
            let text = "By sampling: a combination that was not looked at may narrow a window.";
            out.say("  ", text);
        }
        out
    }

    fn window(&self, w: &Window) -> String {
        let stands = match &w.stands {
            Stands::File(name) => format!("`{name}` (in the file)"),
            Stands::FirstPlace(place) => format!("Thought of at {place}, the first place"),
            Stands::FarEnd(place) => format!("Thought of at {place}, the far end"),
        };
        let kv = self.speak.show.kv(Kv(w.kv_m3h));
        let above = self.speak.pressure(w.above_pa);
        let mut text = match (w.width_pa(), w.below_pa) {
            (Some(_), Some(below)) => format!(
                "{stands}, {kv}: set it between {above} and {}.",
                self.speak.pressure(below)
            ),
            (_, Some(below)) => format!(
                "{stands}, {kv}: cannot be set on this pump mode. Combinations that are fine without it reach \
                 {above} there, and it would have to open at {} to hold the least flow in the worst.",
                self.speak.pressure(below)
            ),
            (_, None) => format!(
                "{stands}, {kv}: cannot be set on this pump mode; even always open it does not hold the least flow."
            ),
        };
        if w.width_pa().is_none() {
            text.push_str(&match w.kv_needed_m3h {
                Some(kv) if kv > LARGEST_MADE_KV => format!(
                    " It could be from {} on, larger than overflow valves for houses are made.",
                    self.speak.show.kv(Kv(kv))
                ),
                Some(kv) => format!(" From {} on it could be.", self.speak.show.kv(Kv(kv))),
                None if w.below_pa.is_none() => {
                    " No larger one would: in the worst combination its place is shut off, or \
                                                  the pipes to it are too narrow."
                        .to_owned()
                }
                None => format!(" No kv up to {GREATEST_KV} opens a window."),
            });
            if w.remedies.is_empty() {
                text.push_str(
                    " More emitters always open do without it (see the safe sets); no single one more, and no other \
                     pump mode that was tried, opens a window at this kv.",
                );
            } else {
                // emitters that each make an overflow valve needless are said together
                let needless: Vec<String> = w
                    .remedies
                    .iter()
                    .filter(|r| r.window_pa.is_none())
                    .filter_map(|r| match r.change {
                        Change::OneMoreOpen(valve) => {
                            Some(self.shut.valves.get(valve)?.name.clone())
                        }
                        Change::Pump(_) => None,
                    })
                    .collect();
                let mut changes: Vec<String> = Vec::new();
                if !needless.is_empty() {
                    changes.push(format!(
                        "{} always open (then nothing trips and no such valve is needed)",
                        needless.join(" or ")
                    ));
                }
                changes.extend(
                    w.remedies
                        .iter()
                        .filter(|r| r.window_pa.is_some() || matches!(r.change, Change::Pump(_)))
                        .map(|r| self.remedy(r)),
                );
                text.push_str(&format!(" What would: {}.", changes.join("; ")));
            }
        }
        let trips = self.shut.combinations.tripping() > 0;
        if matches!(w.stands, Stands::File(_)) && w.width_pa().is_none() && !trips {
            text.push_str(
                " As the file sets it nothing trips all the same: it is then open in combinations that would be fine \
                 without it.",
            );
        }
        match w.leak {
            Some((share, _)) if share < 0.0005 => {
                let at = match w.width_pa() {
                    Some(_) => " Set so".to_owned(),
                    None => self.set_anyway(w),
                };
                text.push_str(&format!("{at}, it stays shut with everything open."));
            }
            Some((share, return_c)) => {
                let at = match w.width_pa() {
                    Some(_) => " At its highest setting".to_owned(),
                    None => self.set_anyway(w),
                };
                let leaks = self.speak.show.percent(share);
                text.push_str(&format!(
                    "{at}, with everything open, it leaks {leaks} of the flow"
                ));
                if let Some(c) = return_c {
                    text.push_str(&format!(
                        ", which makes the unit's return {}",
                        self.speak.temperature(c)
                    ));
                }
                text.push('.');
            }
            None => {}
        }
        text
    }

    /// At what it leaks where it cannot be set: where it would hold the least flow, else always open.
    fn set_anyway(&self, w: &Window) -> String {
        match w.below_pa {
            Some(pa) => format!(" Set to {} all the same", self.speak.pressure(pa)),
            None => " Always open".to_owned(),
        }
    }

    fn remedy(&self, remedy: &Remedy) -> String {
        let change = match &remedy.change {
            Change::OneMoreOpen(valve) => format!(
                "{} always open",
                self.shut.valves.get(*valve).map_or("one more", |v| &v.name)
            ),
            Change::Pump(PumpControl::FixedSpeed(_)) => "the pump at full speed".to_owned(),
            Change::Pump(PumpControl::ProportionalHead { head_pa, at_m3h }) => format!(
                "the pump on proportional head, {} at {}",
                self.speak.pressure(*head_pa),
                self.speak.flow(at_m3h / 3600.0)
            ),
            Change::Pump(PumpControl::ConstantHead(head_pa)) => {
                format!(
                    "the pump on constant head, {}",
                    self.speak.pressure(*head_pa)
                )
            }
            Change::Pump(_) => "another pump mode".to_owned(),
        };
        match remedy.window_pa {
            Some((from, to)) => format!(
                "{change} (then between {} and {})",
                self.speak.pressure(from),
                self.speak.pressure(to)
            ),
            None => format!("{change} (then nothing trips and no such valve is needed)"),
        }
    }

    pub(super) fn water(&self) -> Prose {
        let shut = self.shut;
        let volume = |m3: f64| self.speak.show.volume(Volume(m3));
        let mut out = Prose::headed("Water left in circulation");
        let parts: Vec<String> = shut
            .water
            .iter()
            .filter(|(_, m3)| *m3 > 0.0)
            .map(|(what, m3)| format!("{what} {}", volume(*m3)))
            .collect();
        let text = format!(
            "Least{}{}: {} with {} shut{}.",
            match shut.combinations.tally.standing {
                Some(_) => " with flow through the unit",
                None => "",
            },
            self.among(),
            volume(shut.driest.water_m3),
            self.set(shut.driest.shut),
            if parts.is_empty() {
                String::new()
            } else {
                format!(" ({})", parts.join(", "))
            }
        );
        out.say("  ", &text);
        if let Some(standing) = &shut.combinations.tally.standing {
            let text = format!(
                "With {} shut nothing passes the unit: no water counts then, and a vessel does not help. Something has to \
                 stay open first; what follows is for when water passes.",
                self.set(standing.shut)
            );
            out.say("  ", &text);
        }
        if shut.rules.is_empty() {
            let text = "Not shown whether that is enough: the file gives none of least_water, defrost_energy with \
                        defrost_fall, or least_output with least_run.";
            out.say("  ", text);
            return out;
        }
        let mut table = Table::new(&["<rule", "asks for", "there is", "short"]);
        for rule in &shut.rules {
            let kind = match rule.kind {
                RuleKind::Maker => "maker's least water",
                RuleKind::Defrost => "one defrost",
                RuleKind::RunTime => "least run at least output",
            };
            let kind = match &rule.state {
                Some(state) => format!("{kind}, {}", super::super::layout::name(state, 24)),
                None => kind.to_owned(),
            };
            let short = rule.short_m3();
            let (asked, counts) = match short > 0.0 {
                true => self
                    .speak
                    .apart(rule.asked_m3, rule.counts_m3, Speak::volume),
                false => (volume(rule.asked_m3), volume(rule.counts_m3)),
            };
            let short = match short > 0.0 {
                true => self.speak.some(short, Speak::volume),
                false => "–".into(),
            };
            table.row(vec![kind, asked, counts, short]);
        }
        out.table(table);
        if let Some(rule) = water::governing(&shut.rules).filter(|r| r.short_m3() > 0.0) {
            let kind = match rule.kind {
                RuleKind::Maker => "The maker's least water governs",
                RuleKind::Defrost => "The defrost governs",
                RuleKind::RunTime => "The least run time governs",
            };
            let kind = match &rule.state {
                Some(state) => format!("{kind} ({})", super::super::layout::name(state, 24)),
                None => kind.to_owned(),
            };
            let buy = match shut.vessel_m3 {
                Some(m3) => format!(
                    "the next size of volume vessel is {} (in series: on the return it is drawn first by a defrost, on \
                     the flow it steadies the flow temperature; neither mixes)",
                    volume(m3)
                ),
                None => "no usual size of volume vessel fills that".to_owned(),
            };
            let short = self.speak.some(rule.short_m3(), Speak::volume);
            let text = format!("{kind}: {short} short; {buy}.");
            out.say("  ", &text);
        }
        out
    }

    pub(super) fn days(&self) -> Prose {
        let mut out = Prose::default();
        let open_twice = |s: &&Season| s.of == Of::Worst && s.shut == self.shut.open.shut;
        for season in self.shut.seasons.iter().filter(|s| !open_twice(s)) {
            out.heading(self.season(season));
            if matches!(season.of, Of::Worst | Of::Typical) {
                out.say("  ", &format!("Shut: {}.", self.set(season.shut)));
            }
            let mut table = Table::new(&[
                "outside",
                "load",
                "flow temp.",
                "run",
                "stop",
                "starts/h",
                "return swing",
            ]);
            for day in &season.days {
                table.row(self.day(day));
            }
            out.table(table);
            if season.least_rise_k > season.band_k {
                let text = format!(
                    "At its least output the unit warms this flow by {}, more than its control band of {}: it stops \
                     as soon as it starts, and no vessel helps; more flow does.",
                    self.speak.difference(season.least_rise_k),
                    self.speak.difference(season.band_k)
                );
                out.say("  ", &text);
            }
        }
        if !out.is_empty() {
            let text = "A simulation: water in pipes as plug flow, in emitters and vessels mixed; the flow temperature \
                        follows the weather. `load` is the weather's share of the design load; its line meets zero at \
                        16 °C (EN 14825). What is open takes all that its emitters give at that flow temperature, larger \
                        than needed or not: where heads throttle instead, less is taken and the unit starts more often.";
            out.say("  ", text);
        }
        out
    }

    fn season(&self, season: &Season) -> String {
        let what = match season.of {
            Of::Worst => {
                let trips = self.shut.combinations.tally.idlest.is_none();
                let which = if trips {
                    "though it trips"
                } else {
                    "least heat taken without a trip"
                };
                format!("the worst ({which})")
            }
            Of::WorstWithVessel => format!(
                "the same with a vessel of {} on the return",
                self.speak
                    .show
                    .volume(Volume(self.shut.vessel_m3.unwrap_or(0.0)))
            ),
            Of::Typical => "a typical one, half of the valves shut".to_owned(),
            Of::Open => "everything open".to_owned(),
        };
        format!("Stops and starts by the weather: {what}")
    }

    fn day(&self, day: &Day) -> Vec<String> {
        let time = |s: f64| self.speak.show.time(Second(s));
        let mut row = vec![
            self.speak.temperature(day.outside_c),
            self.speak.show.percent(day.load_share),
            self.speak.temperature(day.flow_c),
        ];
        row.extend(match day.rhythm {
            Rhythm::Steady { output_w } => [
                format!("steady {}", self.speak.kilowatt(output_w)),
                "–".into(),
                "–".into(),
                "–".into(),
            ],
            Rhythm::Stands => ["stands".into(), "–".into(), "–".into(), "–".into()],
            Rhythm::Cycles {
                run_s,
                stop_s,
                starts_per_hour,
                return_swing_k,
            } => [
                time(run_s),
                time(stop_s),
                format!("{starts_per_hour:.1}"),
                self.speak.difference(return_swing_k),
            ],
        });
        row
    }
}
