//! The cheapest complete plan by flow temperature and drop: table, plans, what coming down costs and saves.

use super::super::layout::Table;
use super::super::prose::Prose;
use super::lacks::lack;
use super::{Report, trim};
use crate::plan::missing::Missing;
use crate::plan::temperature::{RunningCost, Step};

/// Whether two steps say the same, but for figures of what is missing.
fn alike(a: &Step, b: &Step) -> bool {
    let works = a.money.is_some() && a.money == b.money;
    let fails = a.money.is_none() && b.money.is_none();
    let first = |s: &'_ Step| s.missing.first().cloned();
    a.flow_c == b.flow_c
        && (works && a.changes == b.changes && a.proved == b.proved
            || fails
                && match (first(a), first(b)) {
                    (Some(a), Some(b)) => a.is_like(&b),
                    (a, b) => a.is_none() && b.is_none(),
                })
}

impl Report<'_> {
    pub(super) fn steps(&self, steps: &[Step], cost: &RunningCost) -> Prose {
        if steps.is_empty() {
            return Prose::default();
        }
        let own = cost.own.iter().all(|own| *own);
        let mut out = Prose::headed("Cheapest complete plan by flow temperature and drop");
        let mut table = Table::new(&["flow", "drop", "works", "season", "a year", "<plan"]);
        let mut plans: Vec<&[String]> = Vec::new();
        for group in steps.chunk_by(alike) {
            let (Some(s), Some(last)) = (group.first(), group.last()) else {
                continue;
            };
            let plan = match s.money {
                Some(_) if s.changes.is_empty() => "nothing to change".to_owned(),
                Some(_) => {
                    let known = plans.iter().position(|p| *p == s.changes);
                    let n = known.unwrap_or(plans.len());
                    if known.is_none() {
                        plans.push(&s.changes);
                    }
                    let proved = if s.proved { "" } else { ", not proved least" };
                    format!("plan {}{proved}", n + 1)
                }
                None => self.none_works(group),
            };
            let drop = self.speak.drop(s.drop_k);
            table.row(vec![
                self.speak.temperature(s.flow_c),
                match group.len() {
                    1 => drop,
                    _ => format!(
                        "{} to {}",
                        drop.split(' ').next().unwrap_or_default(),
                        self.speak.drop(last.drop_k)
                    ),
                },
                s.money.map_or("none".to_owned(), |m| self.priced(m, s.own)),
                format!("{:.2}", s.scop),
                self.priced(s.running, own),
                plan,
            ]);
        }
        out.table(table);
        for (n, plan) in plans.iter().enumerate() {
            out.say(&format!("  plan {}  ", n + 1), &plan.join("; "));
        }
        self.coming_down(steps, own, &mut out);
        out.say(
            "",
            &format!(
                "Works: money once; a year: electricity for heating. Season: heat over electricity in a year, {} at {}, {} % \
                 less for each kelvin more; {} kWh of heat a year at {} a kWh. Change them under [plan].",
                trim(cost.scop),
                self.speak.temperature(cost.at_c),
                trim(cost.slope),
                trim(cost.heat_kwh.round()),
                self.priced(crate::plan::price::hundredths(cost.per_kwh), cost.own[3])
            ),
        );
        out.gap();
        out
    }

    /// Why no plan works at any of these: by what comes nearest to holding among the drops, what is farthest from it.
    fn none_works(&self, group: &[Step]) -> String {
        let short = |s: &&Step| s.missing.first().map_or(f64::INFINITY, Missing::short);
        let nearest = group.iter().min_by(|a, b| short(a).total_cmp(&short(b)));
        let Some((step, first)) = nearest.and_then(|s| Some((s, s.missing.first()?))) else {
            return "none works".to_owned();
        };
        let (fact, _) = lack(&self.speak, self.units, first);
        let more = match step.missing.len() - 1 {
            0 => String::new(),
            1 => "; one more falls short".to_owned(),
            n => format!("; {n} more fall short"),
        };
        let at = match group.len() {
            1 => String::new(),
            _ => format!(" (at {}, the best)", self.speak.drop(step.drop_k)),
        };
        format!("{fact}{at}{more}")
    }

    /// What coming down from one flow temperature to the next costs in works and saves in a year, at the cheapest drop.
    fn coming_down(&self, steps: &[Step], own: bool, out: &mut Prose) {
        let mut cheapest: Vec<&Step> = Vec::new();
        for s in steps.iter().filter(|s| s.money.is_some()) {
            match cheapest.iter_mut().find(|c| c.flow_c == s.flow_c) {
                Some(c) if c.money <= s.money => {}
                Some(c) => *c = s,
                None => cheapest.push(s),
            }
        }
        cheapest.sort_by(|a, b| b.flow_c.total_cmp(&a.flow_c));
        if cheapest.len() > 1 {
            out.say(
                "",
                "What cooler water costs and saves, each at its cheapest drop:",
            );
        }
        for pair in cheapest.windows(2) {
            let [warm, cool] = pair else { continue };
            let more = cool.money.unwrap_or(0) - warm.money.unwrap_or(0);
            let saved = warm.running - cool.running;
            if saved <= 0 {
                continue;
            }
            let back = match more {
                ..=0 => String::new(),
                _ => format!("; paid back in {:.1} years", more as f64 / saved as f64),
            };
            out.say(
                "  - ",
                &format!(
                    "from {} to {}: works {} more, running {} a year less{back}",
                    self.speak.temperature(warm.flow_c),
                    self.speak.temperature(cool.flow_c),
                    self.priced(more.max(0), warm.own && cool.own),
                    self.priced(saved, own)
                ),
            );
        }
    }
}
