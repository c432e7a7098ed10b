//! What holds the flow temperature up, and which emitter to change first.

use super::super::layout::{Table, name};
use super::super::prose::Prose;
use super::super::speak::Speak;
use super::Report;
use crate::plan::ladder::{Ends, Swap};
use crate::plan::site::Site;

impl Report<'_> {
    pub(super) fn ladder(&self) -> Prose {
        let ladder = &self.upsize.ladder;
        let Some(first) = ladder.rungs.first() else {
            return Prose::default();
        };
        let mut out =
            Prose::headed("What holds the flow temperature up: which emitter to change first");
        let planned = self.plans_radiators();
        let over_k = first.asks_c - ladder.design_c;
        let (asks, design) = self
            .speak
            .apart(first.asks_c, ladder.design_c, |s, c| s.temperature(c));
        let begin = format!(
            "At the design drops the rooms ask for {asks} as they are; the design makes {design}."
        );
        let plan = match (over_k > 0.0, planned) {
            (_, true) => " Rows with (plan) are changes of the plan above.".to_owned(),
            (true, false) => String::new(),
            (false, false) => format!(
                " So the plan changes no radiator, and for the rooms\' heat the flow could be {} cooler already. \
                 To go lower still, change in this order:",
                self.speak.difference(-over_k)
            ),
        };
        out.say("", &format!("{begin}{plan}"));
        let mut table = Table::new(&["asks for", "then", "buys", "<to change, in this order"]);
        let mut wanted = false;
        for rung in &ladder.rungs {
            let Some(then_c) = rung.then_c else { continue };
            let changes: Vec<String> = rung.emitters.iter().map(|s| self.swap(s)).collect();
            wanted |= rung.emitters.iter().any(|s| s.by.is_none());
            table.row(vec![
                self.speak.temperature(rung.asks_c),
                self.speak.temperature(then_c),
                self.speak.difference(rung.asks_c - then_c),
                changes.join("; "),
            ]);
        }
        if !table.is_empty() {
            out.table(table);
        }
        if wanted {
            out.say(
                "",
                "Where no radiator is named none is on offer. The row says which output at 75/65/20 one must have \
                 to buy as much.",
            );
        }
        out.say("", &self.ends());
        if !ladder.apart.is_empty() {
            out.say(
                "",
                &format!(
                    "Not in this list, since the file gives their heat whatever the temperature: {}.",
                    names(&ladder.apart)
                ),
            );
        }
        out.gap();
        out
    }

    /// Whether the plan changes a radiator.
    fn plans_radiators(&self) -> bool {
        let changes = self.upsize.best().map_or(&[][..], |b| &b.changes);
        changes.iter().any(|c| matches!(c.site, Site::Radiator(_)))
    }

    fn ends(&self) -> String {
        let ladder = &self.upsize.ladder;
        let last = ladder.rungs.last();
        match &ladder.ends {
            Ends::Last => match last.filter(|r| r.then_c.is_none()) {
                Some(rung) => {
                    let who: Vec<String> =
                        rung.emitters.iter().map(|s| s.emitter.clone()).collect();
                    let (ask, are) = match who.len() {
                        1 => ("asks", "is"),
                        _ => ("ask", "are"),
                    };
                    format!(
                        "It ends with {}, which {ask} for {} and {are} the last that can be told apart.",
                        names(&who),
                        self.speak.temperature(rung.asks_c)
                    )
                }
                None => "It ends here: no other emitter asks for a flow temperature.".to_owned(),
            },
            Ends::More(count) => format!(
                "It ends after {} rows; {count} emitters ask for less.",
                ladder.rungs.len()
            ),
            Ends::NoAnswer => {
                "It ends here: with the next change the house has no answer.".to_owned()
            }
        }
    }

    fn swap(&self, swap: &Swap) -> String {
        let words = self.done_there(swap);
        match swap.starved_k {
            Some((drop_k, design_k)) => format!(
                "{words}; it gets so little water that it falls by {} instead of {}: first see to that",
                self.speak.difference(drop_k),
                self.speak.drop(design_k)
            ),
            None => words,
        }
    }

    fn done_there(&self, swap: &Swap) -> String {
        let who = name(&swap.emitter, 24);
        if let Some(by) = &swap.by {
            let own = self
                .upsize
                .offers
                .own_changes(std::slice::from_ref(&by.change));
            let plan = if by.of_plan { " (plan)" } else { "" };
            let again = if by.again { " instead" } else { "" };
            let money = self.priced(by.money, own);
            return format!("{who}: {}{again} for {money}{plan}", by.panel);
        }
        let why = match self.has_no_wall(&swap.emitter) {
            true => "no `wall` in the file",
            false => "none larger on offer",
        };
        match swap.output_w {
            Some((has, needs)) => {
                let (needs, has) = self.speak.apart(needs, has, Speak::power);
                format!("{who}: {needs} in place of {has} ({why})")
            }
            None => format!("{who} ({why})"),
        }
    }

    /// Whether an emitter has no other radiator on offer because the file does not say what its wall holds.
    fn has_no_wall(&self, emitter: &str) -> bool {
        let begin = format!("radiator {emitter}:");
        let left_out = self.upsize.offers.left_out.iter();
        left_out
            .filter(|l| l.starts_with(&begin))
            .any(|l| l.contains("`wall`"))
    }
}

/// Names within a sentence.
pub(super) fn names(list: &[String]) -> String {
    let list: Vec<String> = list.iter().map(|n| name(n, 40)).collect();
    match list.split_last() {
        Some((last, [])) => last.clone(),
        Some((last, others)) => format!("{} and {last}", others.join(", ")),
        None => String::new(),
    }
}
