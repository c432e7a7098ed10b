//! The rest of the report: order of work, shopping, flow temperatures, what was taken for granted.

use super::super::layout::{Table, name};
use super::super::prose::Prose;
use super::{Report, trim};
use crate::plan::missing::missing;
use crate::plan::price::Goods;
use crate::plan::search::Plan;
use crate::plan::shopping::shopping;
use crate::plan::site::Site;
use crate::plan::temperature::{RunningCost, Step};

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
                1..=3 => format!("still failing: {}", stage.failing.join(", ")),
                n => format!(
                    "{n} checks still fail: {}, …",
                    stage.failing[..2].join(", ")
                ),
            };
            let broken = if stage.breaks.is_empty() {
                String::new()
            } else {
                format!(
                    " Go straight on to the next: until then this fails, which passed before: {}.",
                    stage.breaks.join(", ")
                )
            };
            out.say(
                &format!("  {}. ", i + 1),
                &format!(
                    "{}{place}, {}. Then: {head}{asks}; {failing}.{broken}",
                    stage.words.join("; "),
                    self.money(stage.money)
                ),
            );
        }
        out.gap();
        out
    }

    pub(super) fn buy(&self, best: &Plan) -> Prose {
        let list = shopping(&best.bills);
        let mut table = Table::new(&["order", "laid", "price", "<what"]);
        for p in &list {
            if matches!(p.goods, Goods::Work | Goods::Whole) {
                continue;
            }
            let pipe = matches!(p.goods, Goods::Pipe(_));
            let unit = if pipe { " m" } else { "" };
            table.row(vec![
                format!("{}{unit}", trim(p.order)),
                format!("{}{unit}", trim(p.needed)),
                self.money(p.money),
                p.words(),
            ]);
        }
        // what is not bought, so that the list comes to the plan's price
        let sum = |of: &dyn Fn(&Goods) -> bool| -> i64 {
            list.iter().filter(|p| of(&p.goods)).map(|p| p.money).sum()
        };
        let open = best.money - sum(&|_| true);
        let also = [
            (sum(&|g| matches!(g, Goods::Work)), "work"),
            (
                sum(&|g| matches!(g, Goods::Whole)),
                "at a price for the whole",
            ),
            (open, "opening places and making good"),
        ];
        if !table.is_empty() {
            for (money, what) in also.into_iter().filter(|a| a.0 != 0) {
                let blank = String::new;
                table.row(vec![blank(), blank(), self.money(money), what.into()]);
            }
            let blank = String::new;
            table.row(vec![
                blank(),
                blank(),
                self.money(best.money),
                "together".into(),
            ]);
        }
        let mut out = Prose::default();
        if !table.is_empty() {
            out.heading("To buy; pipe in whole lengths, priced by what is laid");
            out.table(table);
            out.gap();
        }
        for warning in self.heavy(best) {
            out.say("", &warning);
        }
        out
    }

    pub(super) fn heavy(&self, best: &Plan) -> Vec<String> {
        use crate::catalogue::PriceTable;
        use crate::plan::change::What;
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

    pub(super) fn none(&self) -> Prose {
        let mut out = Prose::of(
            "",
            match self.upsize.found.stopped {
                true => "No plan was found before the search reached its limit; one may exist.",
                false => "No plan within this catalogue works.",
            },
        );
        for what in missing(&self.upsize.house, &self.upsize.offers, &self.upsize.found) {
            out.say("  - ", &what);
        }
        if let Some((emitter, k, plan)) = &self.upsize.other_drop {
            out.say(
                "",
                &format!(
                    "With a drop of {} at {} a plan for {} works (--larger-drop).",
                    self.speak.difference(*k),
                    name(emitter, 40),
                    self.money(plan.money)
                ),
            );
        }
        out.gap();
        out
    }

    /// Whether any other radiator is on offer for an emitter.
    fn radiator_on_offer(&self, emitter: &str) -> bool {
        let slots = self.upsize.offers.slots.iter();
        let survey = self.upsize.survey();
        let mut radiators = slots.filter(|s| matches!(s.site, Site::Radiator(_)));
        radiators.any(|s| s.site.owner(survey) == emitter)
    }

    pub(super) fn ladder(&self) -> Prose {
        let mut table = Table::new(&["asks for", "then", "buys", "<emitter to change first"]);
        for rung in self.upsize.ladder.iter().take(8) {
            let Some(then) = rung.then_c else { continue };
            let by = match &rung.by {
                Some((panel, sum)) => format!("{panel} for {}", self.money(*sum)),
                None if !self.radiator_on_offer(&rung.emitter) => {
                    let left = self.upsize.offers.left_out.iter();
                    let own = |l: &&String| {
                        let name = &rung.emitter;
                        l.starts_with(&format!("{name}:"))
                            || l.starts_with(&format!("radiator {name}:"))
                    };
                    match left.filter(own).any(|l| l.contains("`wall`")) {
                        true => "no `wall`, so none on offer".to_owned(),
                        false => "none on offer".to_owned(),
                    }
                }
                None => "nothing on offer gets there".to_owned(),
            };
            table.row(vec![
                self.speak.temperature(rung.asks_c),
                self.speak.temperature(then),
                self.speak.difference(rung.asks_c - then),
                format!("{}: {}", name(&rung.emitter, 20), by),
            ]);
        }
        if table.is_empty() {
            return Prose::default();
        }
        let mut out =
            Prose::headed("What holds the flow temperature up, at the design drops").and(table);
        out.gap();
        out
    }

    pub(super) fn steps(&self, steps: &[Step], cost: &RunningCost) -> Prose {
        if steps.is_empty() {
            return Prose::default();
        }
        let mut out = Prose::headed("Cheapest complete plan by flow temperature and drop");
        let mut table = Table::new(&["flow", "drop", "works", "season", "a year", "<plan"]);
        for s in steps {
            let plan = match (&s.money, &s.missing) {
                (Some(_), _) if s.changes.is_empty() => "nothing to change".to_owned(),
                (Some(_), _) if s.proved => format!("{} changes", s.changes.len()),
                (Some(_), _) => format!("{} changes (not proved least)", s.changes.len()),
                (None, why) => name(why.as_deref().unwrap_or("none works"), 34),
            };
            table.row(vec![
                self.speak.temperature(s.flow_c),
                self.speak.difference(s.drop_k),
                s.money.map_or("none".to_owned(), |m| self.money(m)),
                format!("{:.2}", s.scop),
                self.money(s.running),
                plan,
            ]);
        }
        out.table(table);
        out.say("",
            &format!(
                "Season: efficiency {} at {}, {} % less for each kelvin more; {} kWh of heat a year \
                 at {} a kWh. Change them under [plan].",
                trim(cost.scop),
                self.speak.temperature(cost.at_c),
                trim(cost.slope),
                trim(cost.heat_kwh.round()),
                self.money(crate::plan::price::hundredths(cost.per_kwh))
            ));
        out.gap();
        out
    }

    pub(super) fn granted(&self, cost: &RunningCost, sweep: bool) -> Prose {
        let mut out = Prose::default();
        let offers = &self.upsize.offers;
        if !offers.assumed.is_empty() {
            out.heading("Taken for granted");
            let said = offers
                .assumed
                .iter()
                .map(|a| (&a.subject, format!("{} ({})", a.value, a.source)));
            for (names, what) in grouped(said) {
                out.say("  - ", &format!("{}: {what}", names.join(", ")));
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
        out.say(
            "",
            "Reckoned at the likeliest values of what is guessed. Work on heating pipes, unvented \
             hot water, refrigerant or electricity belongs in licensed hands; local codes and the \
             makers' instructions come first.",
        );
        out
    }
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
