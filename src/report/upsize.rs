//! What to change, in words: the cost and the changes first, then why nothing cheaper works, the order of work, what to
//! buy, and what was taken for granted.

mod more;
mod proof;

pub(super) use proof::covers;

use super::layout::{Table, name};
use super::prose::Prose;
use super::speak::Speak;
use super::words;
use crate::check::Verdict;
use crate::plan::price::PriceList;
use crate::plan::search::{Fails, FailsBy, Plan};
use crate::plan::stages::spare;
use crate::plan::temperature::{RunningCost, Step};
use crate::plan::upsize::Upsize;
use crate::survey::Units;

/// Parts of the report, in their order.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Part {
    /// The changes and what they cost; why there are none.
    First,
    /// Why nothing cheaper works.
    Proof,
    /// Cheaper sets that come nearest.
    Nearest,
    /// Trades between disruption and money, if asked for.
    Frontier,
    /// Order of work.
    Stages,
    /// What to buy.
    Buy,
    /// What holds the flow temperature up.
    Ladder,
    /// What was taken for granted.
    Granted,
}

/// The whole report.
pub fn text(upsize: &Upsize, steps: &[Step], cost: &RunningCost, units: &Units) -> String {
    let report = Report::new(upsize, units);
    let title = &upsize.house.network.title;
    let mut out = Prose::of("", &format!("{}: what to change", name(title, 60)));
    out.gap();
    for part in [
        Part::First,
        Part::Proof,
        Part::Nearest,
        Part::Frontier,
        Part::Stages,
        Part::Buy,
        Part::Ladder,
    ] {
        out.join(report.part(part, cost, false));
    }
    out.join(report.steps(steps, cost));
    out.join(report.part(Part::Granted, cost, !steps.is_empty()));
    out.gap();
    out.say("", super::MADE_BY);
    out.text()
}

/// Some parts of it.
pub(crate) fn parts(upsize: &Upsize, units: &Units, parts: &[Part]) -> Prose {
    let report = Report::new(upsize, units);
    let cost = RunningCost::of(&upsize.house);
    let mut out = Prose::default();
    for part in parts {
        out.join(report.part(*part, &cost, false));
    }
    out
}

struct Report<'a> {
    upsize: &'a Upsize,
    speak: Speak<'a>,
    prices: PriceList<'a>,
}

/// Money with its sign.
pub(super) fn money(currency: &str, hundredths: i64) -> String {
    let (whole, part) = (hundredths / 100, (hundredths % 100).abs());
    let space = if currency.chars().count() > 1 {
        " "
    } else {
        ""
    };
    if part == 0 {
        format!("{currency}{space}{whole}")
    } else {
        format!("{currency}{space}{whole}.{part:02}")
    }
}

impl<'a> Report<'a> {
    fn new(upsize: &'a Upsize, units: &'a Units) -> Self {
        Self {
            upsize,
            speak: Speak::of(&upsize.house.network, units),
            prices: PriceList::new(&upsize.house.survey),
        }
    }

    fn part(&self, part: Part, cost: &RunningCost, sweep: bool) -> Prose {
        match (part, self.upsize.best()) {
            (Part::First, Some(best)) => self.first(best),
            (Part::First, None) => self.none(),
            (Part::Proof, Some(best)) => self.proof(best),
            (Part::Nearest, Some(_)) => self.nearest(),
            (Part::Frontier, Some(_)) => self.frontier(),
            (Part::Stages, Some(_)) => self.stages(),
            (Part::Buy, Some(best)) => self.buy(best),
            (Part::Ladder, _) => self.ladder(),
            (Part::Granted, _) => self.granted(cost, sweep),
            (_, None) => Prose::default(),
        }
    }

    pub(super) fn money(&self, hundredths: i64) -> String {
        money(self.prices.currency(), hundredths)
    }

    fn days(&self, points: u32) -> String {
        format!("{}.{}", points / 10, points % 10)
    }

    fn first(&self, best: &Plan) -> Prose {
        if best.changes.is_empty() && self.upsize.drop.is_none() {
            let mut out = Prose::of(
                "",
                "Nothing need change: every check that pipes and radiators decide passes as it is.",
            );
            out.gap();
            return out;
        }
        let count = match best.changes.len() {
            0 => "No pipe or radiator need change".to_owned(),
            1 => "Change one thing".to_owned(),
            n => format!("Change {n} things"),
        };
        let mut out = Prose::of(
            "",
            &format!(
                "{count}, for {}. Rooms are upset for {} room-days.",
                self.money(best.money),
                self.days(best.disruption)
            ),
        );
        let mut table = Table::new(&["price", "<change"]);
        for (change, bill) in best.changes.iter().zip(&best.bills) {
            let sum: i64 = bill.iter().map(|l| l.money).sum();
            table.row(vec![
                self.money(sum),
                name(&change.words(&self.upsize.house.survey), 62),
            ]);
        }
        for &place in &best.opens {
            let place = &self.upsize.offers.openings[place];
            if place.cost.money > 0 {
                table.row(vec![
                    self.money(place.cost.money),
                    name(&format!("opening and closing: {}", place.name), 62),
                ]);
            }
        }
        if !table.is_empty() {
            out.table(table);
        }
        if let Some((emitter, k)) = &self.upsize.drop {
            out.say(
                "",
                &format!(
                    "Set {} to a drop of {} at design: with less water there the other pipes can \
                     stay.",
                    name(emitter, 40),
                    self.speak.difference(*k)
                ),
            );
        }
        if let Some((emitter, k, plan)) = &self.upsize.other_drop {
            out.say(
                "",
                &format!(
                    "With a drop of {} at {} it would be {} instead (--larger-drop).",
                    self.speak.difference(*k),
                    name(emitter, 40),
                    self.money(plan.money)
                ),
            );
        }
        let (pa, asks) = spare(&best.study.network);
        if let Some(pa) = pa {
            let asks = asks.map_or(String::new(), |c| {
                format!(" The worst room asks for {}.", self.speak.temperature(c))
            });
            out.say(
                "",
                &format!(
                    "Then {} of head is to spare.{asks}",
                    self.speak.pressure(pa)
                ),
            );
        }
        let invented = best.bills.iter().flatten().any(|l| !l.own)
            || best.opens.iter().any(|&o| {
                let p = &self.upsize.offers.openings[o];
                !p.own && p.cost.money > 0
            });
        if invented {
            out.say(
                "",
                "Prices are INVENTED where the file gives none: write your own under [prices].",
            );
        }
        for finding in self.upsize.remaining() {
            let speak = Speak::of(&best.study.network, &best.study.network.units);
            let said = words::say(&speak, finding, &speak.subject(finding.subject));
            out.say("Stays failing: ", &said.found);
        }
        let depends = best.study.findings.iter();
        if depends.clone().any(|f| f.verdict == Verdict::Depends) {
            out.say(
                "",
                "Some checks depend on what is not known; run check on the changed file.",
            );
        }
        out.gap();
        out
    }

    fn fails(&self, fails: &Fails) -> String {
        match &fails.by {
            FailsBy::Head(_, far, over, _) => format!(
                "head through {} is {} short",
                name(far, 24),
                self.speak.pressure(*over)
            ),
            FailsBy::Check(about) => {
                let (finding, network) = &**about;
                let speak = Speak::of(network, &self.upsize.house.network.units);
                words::say(&speak, finding, &speak.subject(finding.subject)).found
            }
            FailsBy::Cold(emitter, asks, gets) => format!(
                "{} asks for {} and gets {}",
                name(emitter, 24),
                self.speak.temperature(*asks),
                self.speak.temperature(*gets)
            ),
            FailsBy::NoAnswer(_) => "the house has no answer then".to_owned(),
        }
    }
}

/// A number without needless digits.
pub(super) fn trim(value: f64) -> String {
    let text = format!("{value:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
