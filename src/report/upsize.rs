//! What to change, in words: the cost and the changes first, then why nothing cheaper works, the order of work, what to
//! buy, and what was taken for granted.

mod lacks;
mod ladder;
mod more;
mod proof;
mod rests;
mod temperatures;

pub(super) use lacks::lacks;
pub(super) use proof::covers;

use super::layout::{Table, name};
use super::prose::Prose;
use super::speak::Speak;
use super::words;
use crate::check::Finding;
use crate::plan::price::PriceList;
use crate::plan::search::{Fails, FailsBy, Plan};
use crate::plan::stages::spare;
use crate::plan::temperature::{RunningCost, Step};
use crate::plan::upsize::Upsize;
use crate::survey::Units;
use std::cell::Cell;

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
    units: &'a Units,
    speak: Speak<'a>,
    prices: PriceList<'a>,
    /// Whether a price was marked as invented and the mark is not yet explained.
    marked: Cell<bool>,
    /// Whether the mark was explained.
    explained: Cell<bool>,
}

/// Stands behind a price that rests on the embedded table.
const INVENTED: &str = "*";

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
            units,
            marked: Cell::new(false),
            explained: Cell::new(false),
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

    /// Money with a mark unless it rests on prices of the file alone.
    fn priced(&self, hundredths: i64, own: bool) -> String {
        let money = self.money(hundredths);
        if own || hundredths == 0 {
            return money;
        }
        self.marked.set(true);
        format!("{money}{INVENTED}")
    }

    /// The price of a plan.
    fn plan_money(&self, plan: &Plan) -> String {
        self.priced(plan.money, self.upsize.offers.own_changes(&plan.changes))
    }

    /// What the mark means, once, where there is one.
    fn explain_mark(&self, out: &mut Prose) {
        if self.marked.take() && !self.explained.replace(true) {
            out.say(
                "",
                &format!(
                    "{INVENTED} rests on INVENTED prices, which nobody pays: write your own under [prices], of electricity \
                     per_kwh under [plan]. With other \
                     prices another plan may be the cheapest."
                ),
            );
        }
    }

    fn days(&self, points: u32) -> String {
        format!("{}.{}", points / 10, points % 10)
    }

    fn first(&self, best: &Plan) -> Prose {
        if best.changes.is_empty() && self.upsize.drop.is_none() {
            let mut out = Prose::of(
                "",
                match self.upsize.guesses().is_empty() {
                    true => {
                        "Nothing need change: every check that pipes and radiators decide passes as it is."
                    }
                    false => {
                        "Nothing need change IF the guesses in the file are right: every check that pipes and radiators \
                         decide passes with them."
                    }
                },
            );
            self.rests(&mut out);
            self.staying(best, &mut out);
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
                "{count}, for {}. Work upsets rooms for {} room-days (rooms times days).",
                self.plan_money(best),
                self.days(best.disruption)
            ),
        );
        let mut table = Table::new(&["price", "<change"]);
        for (change, bill) in best.changes.iter().zip(&best.bills) {
            let sum: i64 = bill.iter().map(|l| l.money).sum();
            table.row(vec![
                self.priced(sum, bill.iter().all(|l| l.own)),
                name(&change.words(&self.upsize.house.survey), 62),
            ]);
        }
        for &place in &best.opens {
            let place = &self.upsize.offers.openings[place];
            if place.cost.money > 0 {
                table.row(vec![
                    self.priced(place.cost.money, place.own),
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
                    "If the water fell by {} in {} (more than the design's drop), it would cost {}: --larger-drop plans so.",
                    self.speak.drop(*k),
                    name(emitter, 40),
                    self.plan_money(plan)
                ),
            );
        }
        let (pa, asks) = spare(&best.study.network);
        if let Some(pa) = pa {
            let asks = asks.map_or(String::new(), |c| {
                format!(
                    " The room that needs the hottest water asks for {}; the design makes {}.",
                    self.speak.temperature(c),
                    self.speak
                        .temperature(best.study.network.design.flow_temperature_c)
                )
            });
            out.say(
                "",
                &format!("Then {} of head is left.{asks}", self.speak.pressure(pa)),
            );
        }
        self.explain_mark(&mut out);
        self.rests(&mut out);
        self.staying(best, &mut out);
        out.gap();
        out
    }

    /// Checks that no change on offer mends.
    fn staying(&self, best: &Plan, out: &mut Prose) {
        for finding in self.upsize.remaining() {
            let speak = Speak::of(&best.study.network, self.units);
            let said = words::say(&speak, finding, &speak.subject(finding.subject));
            out.say("Stays failing: ", &said.found);
        }
    }

    /// What a set fails, and by how much.
    fn fails(&self, fails: &Fails) -> String {
        fails_by(&self.speak, self.units, fails)
    }
}

/// What was found with its figures, without the source of its limit.
fn figures(speak: &Speak<'_>, finding: &Finding) -> String {
    let plain = Finding {
        limit_source: String::new(),
        ..finding.clone()
    };
    let said = words::say(speak, &plain, &speak.subject(finding.subject)).found;
    said.trim_end_matches('.').to_owned()
}

/// What a set fails, and by how much.
pub(super) fn fails_by(speak: &Speak<'_>, units: &Units, fails: &Fails) -> String {
    match &fails.by {
        FailsBy::Head(_, far, over, _) => format!(
            "head through {} is {} short",
            name(far, 24),
            speak.some(*over, Speak::pressure)
        ),
        FailsBy::Check(about) => {
            let (finding, network) = &**about;
            figures(&Speak::of(network, units), finding)
        }
        FailsBy::Cold(emitter, asks, gets) => {
            let (asked, given) = speak.apart(*asks, *gets, |s, c| s.temperature(c));
            format!(
                "{} asks for {asked} and gets {given}: {} short",
                name(emitter, 24),
                speak.some(asks - gets, |s, k| s.difference(k))
            )
        }
        FailsBy::NoAnswer(_) => "the house has no answer then".to_owned(),
    }
}

/// A number without needless digits.
pub(super) fn trim(value: f64) -> String {
    let text = format!("{value:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
