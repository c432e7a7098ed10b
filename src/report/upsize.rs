//! What to change, in words: the cost and the changes first, then why nothing cheaper works, the order of work, what to
//! buy, and what was taken for granted.

mod more;

use super::layout::{Table, name};
use super::prose::Prose;
use super::speak::Speak;
use super::words;
use crate::check::Verdict;
use crate::plan::price::PriceList;
use crate::plan::problem::Objective;
use crate::plan::search::{Fails, FailsBy, Plan, WIDE_GAP};
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

    fn proof(&self, best: &Plan) -> Prose {
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
        let proof = if found.proved() {
            format!(
                "Nothing {what} on offer works: that is proved (lower bound {}, reached {}).",
                self.money(best.money),
                self.money(best.money)
            )
        } else if found.gap == 0.0 {
            format!(
                "Nothing {what} on offer was found to work (bound and plan {}), but that is no proof.",
                self.money(best.money)
            )
        } else {
            format!(
                "Something {what} may exist: the lower bound is {}, this plan {}, a gap of {:.1} %.{}",
                self.money(found.bound_money),
                self.money(best.money),
                found.gap * 100.0,
                if found.gap > WIDE_GAP {
                    " That is more than the 5 % aimed at; more --looks go on with the search."
                } else {
                    ""
                }
            )
        };
        let sites = self.upsize.offers.slots.len();
        let choices: usize = found.model.offers.iter().map(Vec::len).sum();
        out.say("", &format!(
            "{proof} {sites} places with {choices} choices were weighed on {} ways round; {} that the \
             pump could serve failed when looked at in full.",
            found.model.ways.len(),
            match found.looked_at {
                0 => "no set".to_owned(),
                1 => "one set".to_owned(),
                n => format!("{n} sets"),
            }
        ));
        if !found.model.moving.is_empty() {
            let names: Vec<&str> = found
                .model
                .moving
                .iter()
                .map(|&s| self.upsize.offers.slots[s].name.as_str())
                .collect();
            out.say("", &format!(
                "Sizes move the design flows at {}: the bound counts no loss in what they move.",
                names.join(", ")
            ));
        }
        if let Some((next, sure)) = &self.upsize.next {
            let words: Vec<String> = next
                .changes
                .iter()
                .map(|c| c.words(&self.upsize.house.survey))
                .collect();
            out.say(
                "",
                &format!(
                    "{} that does without one of these: {} ({} more): {}.",
                    if *sure {
                        "The next-best plan"
                    } else {
                        "A plan"
                    },
                    self.money(next.money),
                    self.money(next.money - best.money),
                    words.join("; ")
                ),
            );
        } else if !best.changes.is_empty() {
            out.say("", "No plan on offer does without any of these.");
        }
        let mut forced: Vec<String> = Vec::new();
        for r in &found.model.ruled_out {
            let slot = &self.upsize.offers.slots[r.slot];
            if r.offer == 0 {
                let (is, limit) = r.figures;
                use crate::plan::model::Breaks;
                forced.push(match r.why {
                    Breaks::Velocity | Breaks::Erosion | Breaks::Slow => format!(
                        "{} ({} against {})",
                        slot.name,
                        self.speak.velocity(is),
                        self.speak.velocity(limit)
                    ),
                    Breaks::Gradient => format!(
                        "{} ({} against {})",
                        slot.name,
                        self.speak.gradient(is),
                        self.speak.gradient(limit)
                    ),
                    Breaks::FlowTemperature => format!(
                        "{} (asks for {}, gets {})",
                        slot.name,
                        self.speak.temperature(is),
                        self.speak.temperature(limit)
                    ),
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

    fn nearest(&self) -> Prose {
        if self.upsize.cheaper.is_empty() {
            return Prose::default();
        }
        let mut out = Prose::headed("Cheaper sets that come nearest, and what each fails");
        for fails in &self.upsize.cheaper {
            let set = match fails.changes.len() {
                0 => "nothing changed".to_owned(),
                _ => fails.changes.join("; "),
            };
            out.say(
                &format!("  {:>9}  ", self.money(fails.money)),
                &format!("{set}: {}", self.fails(fails)),
            );
        }
        out.gap();
        out
    }

    fn frontier(&self) -> Prose {
        if self.upsize.frontier.is_empty() {
            return Prose::default();
        }
        let mut out = Prose::headed("Between disruption and money");
        for (plan, proved) in &self.upsize.frontier {
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
                    self.money(plan.money)
                ),
                &format!("{}{proved}", words.join("; ")),
            );
        }
        out.gap();
        out
    }
}

/// A number without needless digits.
pub(super) fn trim(value: f64) -> String {
    let text = format!("{value:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
