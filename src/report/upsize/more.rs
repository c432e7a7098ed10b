//! The rest of the report: order of work, shopping, flow temperatures, what was taken for granted.

use super::super::layout::{Table, name};
use super::super::prose::{Prose, folded};
use super::{Report, trim};
use crate::plan::change::What;
use crate::plan::price::Goods;
use crate::plan::search::Plan;
use crate::plan::shopping::{Counted, shopping};
use crate::plan::site::Site;
use crate::plan::temperature::RunningCost;
use crate::plan::unpriced::unpriced;
use crate::quantity::Metre;
use crate::survey::EmitterKind;

/// Names that are said after a check.
const MOST_NAMES: usize = 4;

impl Report<'_> {
    pub(super) fn stages(&self) -> Prose {
        if self.upsize.stages.is_empty() {
            return Prose::default();
        }
        let mut out = Prose::headed("Order of work, and what then holds");
        for (i, stage) in self.upsize.stages.iter().enumerate() {
            let place = stage
                .place
                .as_ref()
                .map_or(String::new(), |p| format!(" [{p}]"));
            let asks = stage.asks_c.map_or(String::new(), |c| {
                format!(", worst room asks {}", self.speak.temperature(c))
            });
            let head = match stage.spare_pa {
                Some(pa) if pa < 0.0 => format!("head {} short", self.speak.pressure(-pa)),
                Some(pa) => format!("head {} to spare", self.speak.pressure(pa)),
                None => "no pump's head is known".to_owned(),
            };
            let failing = match stage.failing.len() {
                0 => "all checks pass".to_owned(),
                1 => format!("one check still fails: {}", by_check(&stage.failing)),
                n => format!("{n} checks still fail: {}", by_check(&stage.failing)),
            };
            let broken = if stage.breaks.is_empty() {
                String::new()
            } else {
                format!(
                    " Do the next stage at once: until then this fails, which passed before: {}.",
                    by_check(&stage.breaks)
                )
            };
            out.say(
                &format!("  {}. ", i + 1),
                &format!(
                    "{}{place}, {}. Then: {head}{asks}; {failing}.{broken}",
                    stage.words.join("; "),
                    self.priced(stage.money, self.upsize.offers.own_changes(&stage.changes))
                ),
            );
        }
        out.gap();
        out
    }

    pub(super) fn buy(&self, best: &Plan) -> Prose {
        let list = shopping(&best.bills);
        let beyond = unpriced(best, self.upsize.survey(), &self.upsize.house.network);
        let mut table = Table::new(&["order", "laid", "price", "<what"]);
        for p in list.iter().chain(&beyond) {
            if matches!(p.goods, Goods::Work | Goods::Whole) {
                continue;
            }
            let pipe = matches!(p.goods, Goods::Pipe(_));
            let count = |n: f64| match pipe {
                true => self.speak.show.length(Metre(n)).replacen(".0 ", " ", 1),
                false => trim(n),
            };
            table.row(vec![
                count(p.order),
                count(p.needed),
                match p.counted {
                    Counted::Here => self.priced(p.money, p.own),
                    Counted::InWhole => "in it".to_owned(),
                    Counted::Not => "-".to_owned(),
                },
                p.words(),
            ]);
        }
        // what is not bought, so that the list comes to the plan's price
        let sum = |of: &dyn Fn(&Goods) -> bool| -> (i64, bool) {
            let lines = list.iter().filter(|p| of(&p.goods));
            lines.fold((0, true), |(sum, own), p| (sum + p.money, own && p.own))
        };
        let mut places = best.opens.iter().map(|&o| &self.upsize.offers.openings[o]);
        let open = (
            best.money - sum(&|_| true).0,
            places.all(|p| p.own || p.cost.money == 0),
        );
        let also = [
            (sum(&|g| matches!(g, Goods::Work)), "work"),
            (
                sum(&|g| matches!(g, Goods::Whole)),
                "at a price for the whole",
            ),
            (open, "opening places and making good"),
        ];
        if !table.is_empty() {
            for ((money, own), what) in also.into_iter().filter(|a| a.0.0 != 0) {
                let blank = String::new;
                let money = self.priced(money, own);
                table.row(vec![blank(), blank(), money, what.into()]);
            }
            let blank = String::new;
            table.row(vec![
                blank(),
                blank(),
                self.plan_money(best),
                "together".into(),
            ]);
        }
        let mut out = Prose::default();
        if !table.is_empty() {
            out.heading("To buy; pipe in whole lengths, priced by what is laid");
            out.table(table);
            if beyond.iter().any(|p| p.counted == Counted::InWhole) {
                out.say("", "In it: a price for the whole has it in.");
            }
            if beyond.iter().any(|p| p.counted == Counted::Not) {
                out.say(
                    "",
                    "-: joints to what stays have no price here, for the work is taken to have them \
                     in. Couplings are the most that whole lengths need.",
                );
            }
            out.gap();
        }
        for warning in self.heavy(best) {
            out.say("", &warning);
        }
        out
    }

    pub(super) fn heavy(&self, best: &Plan) -> Vec<String> {
        use crate::catalogue::PriceTable;
        let table = PriceTable::embedded();
        let panels = best.changes.iter().filter_map(|c| match &c.what {
            What::Radiator(panel) => Some((c.site.owner(&self.upsize.house.survey), panel)),
            _ => None,
        });
        panels
            .filter_map(|(owner, panel)| {
                let kg = table
                    .radiator(&panel.panel_type)?
                    .weight_kg(panel.height, panel.width);
                (kg >= table.radiator.heavy_kg).then(|| {
                    format!(
                        "{} at {owner} weighs about {kg:.0} kg with its water (from memory): two \
                         people, and a wall that bears it.\n",
                        panel.words()
                    )
                })
            })
            .collect()
    }

    /// What is taken for granted where radiators are changed or could be: tails and the room that a wall leaves.
    fn radiators_taken_for_granted(&self) -> Vec<String> {
        let survey = self.upsize.survey();
        let changes = self.upsize.best().map_or(&[][..], |b| &b.changes);
        let mut said = Vec::new();
        let size = |m: Metre| self.speak.show.size(m);
        let moved: Vec<String> = changes
            .iter()
            .filter_map(|change| {
                let (Site::Radiator(i), What::Radiator(panel)) = (change.site, &change.what) else {
                    return None;
                };
                let emitter = &survey.emitters[i];
                let now = match emitter.kind {
                    EmitterKind::Panel { width, .. } if width == panel.width => return None,
                    EmitterKind::Panel { width, .. } => format!("{} now", size(width)),
                    _ => "now of a width that the file does not give".to_owned(),
                };
                let who = name(&emitter.name.value, 40);
                Some(format!("{who} ({now}, then {})", size(panel.width)))
            })
            .collect();
        if !moved.is_empty() {
            said.push(format!(
                "the new radiator is of another width at {}: its tails must be moved to its ends. That work is not in the \
                 price, and the tails are reckoned as long as they are now",
                moved.join(", ")
            ));
        }
        let slots = self.upsize.offers.slots.iter();
        let walled = slots
            .filter_map(|s| match s.site {
                Site::Radiator(i) => Some(&survey.emitters[i]),
                _ => None,
            })
            .any(|e| e.wall.is_some());
        if walled {
            said.push(
                "`wall` is taken as free for the radiator itself: nothing is taken off it for valves at the ends, for air \
                 under and over it, or for a sill. Measure it so, by the maker's instructions"
                    .to_owned(),
            );
        }
        said
    }

    pub(super) fn granted(&self, cost: &RunningCost, sweep: bool) -> Prose {
        let mut out = Prose::default();
        let offers = &self.upsize.offers;
        let radiators = self.radiators_taken_for_granted();
        if !offers.assumed.is_empty() || !radiators.is_empty() || sweep {
            out.heading("Taken for granted");
            for said in radiators {
                out.say("  - ", &said);
            }
            let said = offers
                .assumed
                .iter()
                .map(|a| (&a.subject, format!("{} ({})", a.value, a.source)));
            for (names, what) in grouped(said) {
                out.say("  - ", &format!("{}: {what}", folded(&names)));
            }
        }
        if sweep && cost.own.contains(&false) {
            out.say(
                "  - ",
                "running costs: what [plan] leaves out is invented or common practice, no source",
            );
        }
        if !offers.left_out.is_empty() {
            out.heading("Not offered");
            let said = offers.left_out.iter().map(|l| match l.split_once(": ") {
                Some((who, what)) => (who, what.to_owned()),
                None => ("", l.clone()),
            });
            for (names, what) in grouped(said) {
                out.say("  - ", &format!("{}: {what}", names.join(", ")));
            }
        }
        self.explain_mark(&mut out);
        out.say(
            "",
            "Reckoned at the likeliest values of what is guessed. Work on heating pipes, unvented \
             hot water, refrigerant or electricity belongs in licensed hands; local codes and the \
             makers' instructions come first.",
        );
        out
    }
}

/// Checks with what they are about, each check said once: `heat that each room gets: bed 1, bed 2`.
fn by_check(failing: &[String]) -> String {
    let said = failing.iter().map(|f| match f.split_once(": ") {
        Some((check, who)) => (who.to_owned(), check.to_owned()),
        None => (String::new(), f.clone()),
    });
    let groups = grouped(said).into_iter().map(|(names, check)| {
        let more = names.len().saturating_sub(MOST_NAMES);
        let shown = names[..names.len() - more].join(", ");
        match (shown.is_empty(), more) {
            (true, _) => check,
            (false, 0) => format!("{check} ({shown})"),
            (false, _) => format!("{check} ({shown} and {more} more)"),
        }
    });
    groups.collect::<Vec<_>>().join("; ")
}

/// What is said of several things once, with their names.
fn grouped<N: ToString>(said: impl Iterator<Item = (N, String)>) -> Vec<(Vec<String>, String)> {
    let mut groups: Vec<(Vec<String>, String)> = Vec::new();
    for (name, what) in said {
        match groups.iter_mut().find(|(_, w)| *w == what) {
            Some((names, _)) => names.push(name.to_string()),
            None => groups.push((vec![name.to_string()], what)),
        }
    }
    groups
}
