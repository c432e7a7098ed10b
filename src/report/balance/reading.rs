//! The walk, what should be read on it, and what a turn does.

use super::Words;
use crate::balance::{CLAMP_K, CLAMP_ONE_K, DISPLAY, Day, Mild, PRECISION_SOURCE, Why};
use crate::report::layout::Table;
use crate::report::prose::Prose;

impl Words<'_> {
    pub(super) fn walk(&self) -> Prose {
        let walk = &self.balance.walk;
        if walk.order.is_empty() {
            return Prose::default();
        }
        let mut parts: Vec<String> = Vec::new();
        let mut at: Option<&Option<String>> = None;
        for &i in &walk.order {
            let here = &walk.storeys[i];
            if at.is_some_and(|a| a != here) || (at.is_none() && here.is_some()) {
                let storey = here
                    .as_deref()
                    .map_or("elsewhere".into(), |s| self.speak.name(s));
                parts.push(format!("[{storey}] {}", self.name(i)));
            } else {
                parts.push(self.name(i));
            }
            at = Some(here);
        }
        let from = self
            .network
            .sources
            .first()
            .map(|s| self.speak.name(&s.name));
        let how = if walk.exact {
            "no other order is shorter"
        } else {
            "by going to the nearest and then reversing stretches while that shortens it; there may be a shorter one"
        };
        let text = format!(
            "From {}: {}. {} m, reckoned along the pipes, since the file has no floor plan. One storey is finished before \
             the next ({how}).",
            from.unwrap_or_else(|| "the first".into()),
            parts.join(", "),
            self.speak.show.number(walk.length_m, 0)
        );
        let mut out = Prose::headed("The walk");
        out.say("  ", &text);
        out
    }

    pub(super) fn readings(&self) -> Prose {
        let s = &self.speak;
        let mild = match &self.balance.mild {
            Mild::Day(day) => Some(&**day),
            Mild::NotColder | Mild::NoAnswer => None,
        };
        let days: Vec<&Day> = std::iter::once(&self.balance.design).chain(mild).collect();
        let mut out = Prose::headed("What should then be read, with all heads open");
        for (k, day) in days.iter().enumerate() {
            let outside = day
                .outside_c
                .map_or(String::new(), |c| format!(", {} outside", s.temperature(c)));
            let which = if k == 0 {
                format!("Design day{outside}")
            } else {
                format!(
                    "Mild day{outside}, {} of the design heat",
                    s.show.percent(day.share)
                )
            };
            for at in &day.sources {
                let unit = match &day.sources[..] {
                    [_] => "the display".to_owned(),
                    _ => format!("{} display", s.name(&self.network.sources[at.source].name)),
                };
                let text = format!(
                    "{which}: {unit} shows flow {}, return {}, {}, {}.",
                    s.temperature(at.flow_c),
                    s.temperature(at.return_c),
                    s.flow(at.flow_m3_s),
                    s.kilowatt(at.output_w)
                );
                // a tenth of a watt is nothing
                let idle = if at.output_w < 0.1 {
                    " It gives no heat then: its water comes back as warm as it may make it."
                } else {
                    ""
                };
                out.say("  ", &format!("{text}{idle}"));
            }
        }
        let heads: &[&str] = match mild {
            Some(_) => &[
                "<emitter",
                "flow",
                "return",
                "drop",
                "mild flow",
                "return",
                "drop",
            ],
            None => &["<emitter", "flow", "return", "drop"],
        };
        let mut table = Table::new(heads);
        for i in self.shown() {
            let mut cells = vec![self.name(i)];
            for day in &days {
                match day.emitters[i] {
                    Some(a) => cells.extend([
                        s.temperature(a.in_c),
                        s.temperature(a.out_c),
                        s.difference(a.drop_k()),
                    ]),
                    None => cells.extend(["–", "–", "–"].map(str::to_owned)),
                }
            }
            table.row(cells);
        }
        out.table(table);
        let missing = match &self.balance.mild {
            Mild::Day(_) => "",
            Mild::NotColder => " A mild day is not shown: the design day is hardly colder.",
            Mild::NoAnswer => " A mild day is not shown: no flow temperature gives just its heat.",
        };
        let design_k = self.network.design.drop_k;
        let drops = self.balance.design.emitters.iter().flatten();
        let more = drops.filter(|a| a.drop_k() > 1.1 * design_k).count();
        if more > 0 {
            out.say(
                "  ",
                &format!(
                    "A drop above the design's {} is no lack of water: an emitter that is larger than its room needs, \
                     or fed warmer, cools its water further until its head throttles.",
                    s.difference(design_k)
                ),
            );
        }
        let text = format!(
            "Read after an hour of steady running, heads open, doors shut. One clamp on clean bare metal is right within \
             {}, the difference of two that agreed on one pipe within {}; a display within {} and {} of the flow \
             ({PRECISION_SOURCE}).{missing}",
            s.difference(CLAMP_ONE_K),
            s.difference(CLAMP_K),
            s.difference(DISPLAY.0),
            s.show.percent(DISPLAY.1)
        );
        out.say("  ", &text);
        out
    }

    /// Emitters in the order of the walk, then the others that water reaches.
    pub(super) fn shown(&self) -> Vec<usize> {
        let order = &self.balance.walk.order;
        let rest = (0..self.balance.valves.len())
            .filter(|i| !order.contains(i) && self.balance.valves[*i].why != Some(Why::NotAsked));
        order.iter().copied().chain(rest).collect()
    }

    pub(super) fn answers(&self) -> Prose {
        let mut table = Table::new(&[
            "<valve",
            "its flow",
            "its drop",
            "<of the others it moves most",
        ]);
        for &i in &self.balance.walk.order {
            let Some(change) = &self.balance.answers[i] else {
                continue;
            };
            let own = self.share(i, change[i]);
            let others =
                (0..change.len()).filter(|&j| j != i && self.balance.valves[j].gets_kg_s > 0.0);
            let most = others.fold(None, |m: Option<(usize, f64)>, j| {
                let share = self.share(j, change[j]);
                match m {
                    Some((_, most)) if most.abs() >= share.abs() => m,
                    _ => Some((j, share)),
                }
            });
            let n = &self.speak.show;
            let signed = |x: f64| format!("{}{}", if x > 0.0 { "+" } else { "" }, n.number(x, 1));
            let drop = self.balance.design.emitters[i].map(|a| a.drop_k());
            table.row(vec![
                self.name(i),
                format!("{} %", signed(1000.0 * own)),
                // at steady heat the drop goes with one over the flow
                drop.map_or("–".into(), |k| {
                    let change = -k * 10.0 * own / (1.0 + 10.0 * own);
                    format!(
                        "{}{}",
                        if change > 0.0 { "+" } else { "" },
                        self.speak.difference(change)
                    )
                }),
                most.map_or("–".into(), |(j, share)| {
                    format!("{} {} %", self.name(j), signed(1000.0 * share))
                }),
            ]);
        }
        if table.is_empty() {
            return Prose::default();
        }
        Prose::headed("If one valve is opened by a tenth of its kv").and(table)
    }

    /// Change of an emitter's flow as a share of it.
    fn share(&self, emitter: usize, change_kg_s: f64) -> f64 {
        change_kg_s / self.balance.valves[emitter].gets_kg_s
    }
}
