//! Why nothing cheaper works, and what of that is proved: bound and gap, next-best plan, cheaper sets, trades.

use super::super::prose::{Prose, folded};
use super::Report;
use super::lacks::against;
use crate::plan::model::Breaks;
use crate::plan::problem::Objective;
use crate::plan::search::{Found, Plan, WIDE_GAP};

/// What a bound covers, where it leaves something out.
pub(in crate::report) fn covers(found: &Found) -> Option<&'static str> {
    if found.tangled {
        return Some(
            "ways round share their pipes in no order, so the bound comes from a price on each \
             way: it counts every price and every way, but may lie below what any plan costs",
        );
    }
    if found.model.moving.is_empty() {
        return None;
    }
    if found.running_bound.is_some() {
        return Some(match found.beside_loops {
            false => {
                "the bound follows the water along the loop as it runs: prices, limits by \
                 themselves, the head that is lost and how warm the water still is after each \
                 radiator; it steps through flows and temperatures, and where it rounds, to the \
                 side of what is cheaper"
            }
            true => {
                "the bound follows the water along each loop as it runs, with the flow that suits \
                 it best, as long as all else gets half of the water that it must have at least: \
                 prices, limits by themselves, the head that is lost and how warm the water still \
                 is after each radiator; what lies beside the loops counts as required, and by the \
                 heat it gives where the drop across the unit hangs on that"
            }
        });
    }
    Some(match found.model.problem.ties.is_empty() {
        true => {
            "the bound counts prices, limits by themselves and the loss of what sizes do not \
             move, and no loss in what they move"
        }
        false => {
            "the bound counts prices, limits by themselves, the loss of what sizes do not move \
             and which tails, valve and radiator can stand together on the loop, and no loss in \
             what sizes move"
        }
    })
}

impl Report<'_> {
    pub(super) fn proof(&self, best: &Plan) -> Prose {
        let found = &self.upsize.found;
        let mut out = Prose::default();
        let what = match self.upsize.ask.objective {
            Objective::Money => "cheaper",
            Objective::Disruption => "less disruptive, or as disruptive and cheaper",
            Objective::Weighted(_) => "better by this mix",
        };
        if best.changes.is_empty() && found.proved() {
            // nothing costs less than nothing
            return Prose::default();
        }
        let loosely = found.loosely_bound();
        let proof = if found.proved() {
            format!(
                "Nothing {what} on offer works: that is proved (lower bound {}, reached {}{}).",
                self.plan_money(best),
                self.plan_money(best),
                if loosely { ", gap 0 %" } else { "" }
            )
        } else {
            // money alone does not say how near a plan is to the least disruption
            let bound = match self.upsize.ask.objective {
                Objective::Money => format!(
                    "the lower bound is {}, this plan {}, a gap of {:.1} %.",
                    self.priced(
                        found.bound_money,
                        self.upsize.offers.own_changes(&best.changes)
                    ),
                    self.plan_money(best),
                    found.gap * 100.0
                ),
                _ => format!("the search ended with a gap of {:.1} %.", found.gap * 100.0),
            };
            format!(
                "Something {what} may exist: {bound}{}",
                if found.gap > WIDE_GAP && found.tangled {
                    " That is more than the 5 % aimed at."
                } else if found.gap > WIDE_GAP {
                    " That is more than the 5 % aimed at; more --looks go on with the search."
                } else {
                    ""
                }
            )
        };
        let sites = self.upsize.offers.slots.len();
        let choices: usize = found.model.offers.iter().map(Vec::len).sum();
        let failed = match found.looked_at {
            0 => "No set with enough head failed another check".to_owned(),
            1 => "One set with enough head failed another check".to_owned(),
            n => format!("{n} sets with enough head failed another check"),
        };
        let ways = found.model.ways.len();
        out.say(
            "",
            &format!(
                "{proof} Weighed: {choices} choices at {sites} places, on {ways} ways round the pipes. {failed}."
            ),
        );
        if !found.model.moving.is_empty() {
            let names: Vec<&str> = found
                .model
                .moving
                .iter()
                .map(|&s| self.upsize.offers.slots[s].name.as_str())
                .collect();
            out.say(
                "",
                &format!("Sizes move the design flows at {}.", folded(&names)),
            );
        }
        if let Some(covers) = covers(found) {
            out.say("", &format!("What it rests on: {covers}."));
        }
        self.next(best, &mut out);
        if !self.upsize.drops_tried && best.money > 0 {
            out.say(
                "",
                "Larger drops at one emitter were not tried, since each takes long here: \
                 --larger-drop tries them.",
            );
        }
        let mut forced: Vec<String> = Vec::new();
        for r in &found.model.ruled_out {
            let slot = &self.upsize.offers.slots[r.slot];
            if r.offer == 0 {
                let (is, limit) = against(&self.speak, r.why, r.figures);
                forced.push(match r.why {
                    Breaks::FlowTemperature => {
                        format!("{} (asks for {is}, gets {limit})", slot.name)
                    }
                    _ => format!("{} ({is}, the limit is {limit})", slot.name),
                });
            }
        }
        if !forced.is_empty() {
            out.say(
                "",
                &format!(
                    "Cannot stay as they are, whatever else is done: {}.",
                    forced.join("; ")
                ),
            );
        }
        out.gap();
        out
    }

    fn next(&self, best: &Plan, out: &mut Prose) {
        let Some(next) = &self.upsize.next else {
            return;
        };
        let Some(plan) = &next.plan else {
            out.say(
                "",
                match next.proved {
                    true => "No plan on offer does without any of these.",
                    false => {
                        "No plan that does without one of these was found before the search \
                         ended; one may exist."
                    }
                },
            );
            return;
        };
        let words: Vec<String> = plan
            .changes
            .iter()
            .map(|c| c.words(&self.upsize.house.survey))
            .collect();
        out.say(
            "",
            &format!(
                "{} that does without one of these: {} ({} more): {}.{}",
                match next.proved {
                    true => "The next-best plan",
                    false => "A plan",
                },
                self.plan_money(plan),
                self.priced(
                    plan.money - best.money,
                    self.upsize.offers.own_changes(&plan.changes)
                        && self.upsize.offers.own_changes(&best.changes)
                ),
                self.beside_plan(&words),
                match next.proved {
                    true => "",
                    false =>
                        " That is the best one found; it is not proved that none lies between.",
                }
            ),
        );
    }

    /// A set of changes: by what it does otherwise than the plan, where that is shorter than all of it.
    fn beside_plan(&self, set: &[String]) -> String {
        if set.is_empty() {
            return "nothing changed".to_owned();
        }
        let plan = self.upsize.best().map_or(&[][..], |b| &b.changes);
        let words = plan.iter().map(|c| c.words(&self.upsize.house.survey));
        let plan: Vec<String> = words.collect();
        let site = |words: &str| words.split(": ").next().unwrap_or_default().to_owned();
        let mut other: Vec<String> = set.iter().filter(|c| !plan.contains(c)).cloned().collect();
        let changed: Vec<String> = set.iter().map(|c| site(c)).collect();
        let left = plan
            .iter()
            .map(|c| site(c))
            .filter(|s| !changed.contains(s));
        other.extend(left.map(|s| format!("{s} stays as it is")));
        match other.len() < set.len() {
            true => format!("the plan, but {}", other.join("; ")),
            false => set.join("; "),
        }
    }

    pub(super) fn nearest(&self) -> Prose {
        let near = &self.upsize.cheaper;
        if near.sets.is_empty() {
            return Prose::default();
        }
        let mut out = Prose::headed(match near.all {
            false => "Cheaper sets that come nearest of those looked at, and what each fails",
            true => "Cheaper sets that come nearest, and what each fails",
        });
        for fails in &near.sets {
            let set = self.beside_plan(&fails.changes);
            out.say(
                &format!("  {:>9}  ", self.priced(fails.money, fails.own)),
                &format!("{set}. Then {}.", self.fails(fails)),
            );
        }
        out.gap();
        out
    }

    pub(super) fn frontier(&self) -> Prose {
        let Some(trades) = &self.upsize.frontier else {
            return Prose::default();
        };
        let mut out = Prose::headed("Between disruption and money");
        for (plan, proved) in &trades.plans {
            let words: Vec<String> = plan
                .changes
                .iter()
                .map(|c| c.words(&self.upsize.house.survey))
                .collect();
            let proved = if *proved { "" } else { " (not proved)" };
            out.say(
                &format!(
                    "  {:>6} room-days {:>9}  ",
                    self.days(plan.disruption),
                    self.plan_money(plan)
                ),
                &format!(
                    "{}{proved}",
                    match words.is_empty() {
                        true => "nothing changed".to_owned(),
                        false => words.join("; "),
                    }
                ),
            );
        }
        if trades.plans.iter().any(|(_, proved)| !proved) {
            out.say(
                "",
                "Where it says not proved the search ended on its limit: something cheaper, or a \
                 trade between, may exist.",
            );
        }
        if !trades.ended {
            out.say(
                "",
                "Whether anything upsets less than the first of these was not sought to the end.",
            );
        }
        out.gap();
        out
    }
}
