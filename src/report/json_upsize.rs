//! What to change, as JSON: keys carry their unit; money is in units of the file's currency.

mod buying;

pub use buying::{CSV_BEGIN, list, nothing_to_buy, to_buy};

use super::{MADE_BY, rounded};
use crate::check::Verdict;
use crate::plan::missing::missing;
use crate::plan::price::PriceList;
use crate::plan::search::{Fails, FailsBy, Plan};
use crate::plan::shopping::shopping;
use crate::plan::temperature::{RunningCost, Step};
use crate::plan::upsize::Upsize;
use buying::{Buy, buy};
use schemars::JsonSchema;
use serde::Serialize;

/// Version of the layout; it rises when a reader of the old one would go wrong.
pub const VERSION: u32 = 1;
/// The result of `upsize`.
#[derive(Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct Out {
    /// Name of this layout.
    schema: &'static str,
    /// Version of this layout.
    version: u32,
    /// Words that mark the file as made by this program.
    made_by: &'static str,
    /// Title of the job.
    job: String,
    /// Whether a plan on offer works.
    works: bool,
    /// Sign or word of the currency in which all money is.
    currency: String,
    /// The plan: least by what was asked to be least.
    plan: Option<PlanOut>,
    /// A larger drop at one emitter that the plan goes with.
    drop: Option<DropOut>,
    /// What a larger drop at one emitter would make of it, where that was not asked for and comes cheaper.
    with_a_larger_drop: Option<OtherOut>,
    /// Whether nothing better on offer is left to look at.
    proved: bool,
    /// Money under which no plan works, where money is what is least.
    lower_bound: f64,
    /// Share by which the plan may be dearer than the least, 0 if proved.
    gap: f64,
    /// Whether the search ended on its limit of looks.
    search_ended_early: bool,
    /// Sets that the pumps could serve and that failed a check in full.
    looked_at_in_full_and_failed: usize,
    /// What the lower bound covers, where it leaves something out.
    bound_covers: Option<String>,
    /// Whether a larger drop was tried at each emitter that has one of its own; where ways round share their parts in no
    /// order, only if asked for.
    larger_drops_tried: bool,
    /// Places whose sizes move the design flows.
    moving: Vec<String>,
    /// Cheaper sets that come nearest to working.
    cheaper: Vec<FailsOut>,
    /// Whether only sets that differ from the plan in one place were weighed for that.
    cheaper_differ_in_one_place: bool,
    /// The best plan that leaves something of the best out.
    next_best: Option<PlanOut>,
    /// Whether nothing between it and the plan is left to look at; without one, whether there is none.
    next_best_proved: bool,
    /// Best trades between disruption and money, least disruption first.
    frontier: Vec<TradeOut>,
    /// Whether nothing with less disruption than the first of them is left to look at; nothing if it was not asked for.
    frontier_ended: Option<bool>,
    /// Order of work.
    stages: Vec<StageOut>,
    /// What to buy, and work.
    shopping: Vec<Buy>,
    /// Which emitter holds the flow temperature up, then which.
    ladder: Vec<Rung>,
    /// Cheapest complete plan by flow temperature and drop.
    temperatures: Vec<StepOut>,
    /// What running is reckoned with.
    seasonal: Seasonal,
    /// What keeps every plan from working.
    missing: Vec<String>,
    /// Checks that no change on offer mends, by their code.
    stays_failing: Vec<String>,
    /// What was taken for granted.
    assumed: Vec<String>,
    /// What is not on offer, and why.
    not_offered: Vec<String>,
}

/// A set of changes that works.
#[derive(Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct PlanOut {
    /// In units of the currency.
    money: f64,
    /// Rooms that are upset times days.
    room_days: f64,
    /// What is changed, in words.
    changes: Vec<ChangeOut>,
    /// Places that are opened once.
    openings: Vec<OpeningOut>,
}

/// A trade between disruption and money.
#[derive(Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct TradeOut {
    /// In units of the currency.
    money: f64,
    /// Rooms that are upset times days.
    room_days: f64,
    /// What is changed, in words.
    changes: Vec<ChangeOut>,
    /// Places that are opened once.
    openings: Vec<OpeningOut>,
    /// Whether it is proved the cheapest for its disruption.
    proved: bool,
}

/// One change.
#[derive(Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct ChangeOut {
    /// In words.
    what: String,
    /// In units of the currency.
    money: f64,
    /// Whose prices: `the file's` or `invented`.
    prices: &'static str,
}

/// A place that is opened once.
#[derive(Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct OpeningOut {
    /// The place.
    place: String,
    /// In units of the currency.
    money: f64,
}

/// A larger drop at one emitter.
#[derive(Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct DropOut {
    /// The emitter.
    emitter: String,
    /// Drop.
    drop_k: f64,
}

/// A larger drop and the plan with it.
#[derive(Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct OtherOut {
    /// The emitter.
    emitter: String,
    /// Drop.
    drop_k: f64,
    /// The plan: least by what was asked to be least.
    plan: PlanOut,
}

/// A set that fails.
#[derive(Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct FailsOut {
    /// In units of the currency.
    money: f64,
    /// What is changed, in words.
    changes: Vec<String>,
    /// Code of the check that it fails.
    check: String,
    /// What the way goes through that is short of head, or the emitter that stays cold.
    through: Option<String>,
    /// By how much the head is short.
    over_pa: Option<f64>,
}

/// One stage of the work.
#[derive(Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct StageOut {
    /// The place.
    place: Option<String>,
    /// What is changed, in words.
    changes: Vec<String>,
    /// In units of the currency.
    money: f64,
    /// Checks that fail after it, with what they are about.
    failing_checks: Vec<String>,
    /// Those of them that passed before the work began.
    breaks: Vec<String>,
    /// On the worst circuit; negative if short.
    head_to_spare_pa: Option<f64>,
    /// Flow temperature that is asked for.
    asks_c: Option<f64>,
}

/// An emitter that holds the flow temperature up.
#[derive(Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct Rung {
    /// The emitter.
    emitter: String,
    /// Flow temperature that is asked for.
    asks_c: Option<f64>,
    /// What the next emitter asks for.
    then_c: Option<f64>,
    /// By how much the house comes down if this one is changed.
    buys_k: Option<f64>,
    /// The cheapest radiator on offer that gets there.
    by: Option<String>,
    /// In units of the currency.
    money: Option<f64>,
}

/// The cheapest plan at one flow temperature and drop.
#[derive(Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct StepOut {
    /// Flow temperature at the source.
    flow_c: f64,
    /// Drop.
    drop_k: f64,
    /// Money of the works; nothing if no plan works.
    works_money: Option<f64>,
    /// Whether nothing better on offer is left to look at.
    proved: bool,
    /// What is changed, in words.
    changes: Vec<String>,
    /// What keeps every plan from working.
    missing: Option<String>,
    /// Heat over electricity in a year.
    seasonal_efficiency: Option<f64>,
    /// Money of a year's electricity.
    running_money_a_year: f64,
}

/// What running is reckoned with.
#[derive(Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct Seasonal {
    /// At `at_c`.
    efficiency: f64,
    /// Flow temperature of the file.
    at_c: f64,
    /// Percent of it that one kelvin costs.
    slope_percent_a_k: f64,
    /// Heat of a year.
    heat_kwh_a_year: Option<f64>,
    /// Price of electricity.
    money_a_kwh: f64,
}

fn units(hundredths: i64) -> f64 {
    hundredths as f64 / 100.0
}

/// The whole answer as JSON.
pub fn text(upsize: &Upsize, steps: &[Step], cost: &RunningCost) -> String {
    let survey = &upsize.house.survey;
    let found = &upsize.found;
    let best = upsize.best();
    let plan = |plan: &Plan| PlanOut {
        money: units(plan.money),
        room_days: f64::from(plan.disruption) / 10.0,
        changes: plan
            .changes
            .iter()
            .zip(&plan.bills)
            .map(|(change, bill)| ChangeOut {
                what: change.words(survey),
                money: units(bill.iter().map(|l| l.money).sum()),
                prices: whose(bill.iter().all(|l| l.own)),
            })
            .collect(),
        openings: plan
            .opens
            .iter()
            .map(|&o| OpeningOut {
                place: upsize.offers.openings[o].name.clone(),
                money: units(upsize.offers.openings[o].cost.money),
            })
            .collect(),
    };
    let (next, trades) = (upsize.next.as_ref(), upsize.frontier.as_ref());
    let out = Out {
        schema: "pipecarry.upsize",
        version: VERSION,
        made_by: MADE_BY,
        job: upsize.house.network.title.clone(),
        works: best.is_some(),
        currency: PriceList::new(survey).currency().to_owned(),
        plan: best.map(plan),
        drop: upsize.drop.as_ref().map(|(emitter, drop_k)| DropOut {
            emitter: emitter.clone(),
            drop_k: *drop_k,
        }),
        with_a_larger_drop: upsize
            .other_drop
            .as_ref()
            .map(|(emitter, drop_k, p)| OtherOut {
                emitter: emitter.clone(),
                drop_k: *drop_k,
                plan: plan(p),
            }),
        proved: found.proved(),
        lower_bound: units(found.bound_money),
        gap: found.gap,
        search_ended_early: found.stopped,
        looked_at_in_full_and_failed: found.looked_at,
        bound_covers: super::upsize::covers(found).map(str::to_owned),
        larger_drops_tried: upsize.drops_tried,
        moving: found
            .model
            .moving
            .iter()
            .map(|&s| upsize.offers.slots[s].name.clone())
            .collect(),
        cheaper: upsize.cheaper.iter().map(fails).collect(),
        cheaper_differ_in_one_place: found.tangled,
        next_best: next.and_then(|n| n.plan.as_ref()).map(plan),
        next_best_proved: next.is_some_and(|n| n.proved),
        frontier: trades.map_or_else(Vec::new, |t| {
            let plans = t.plans.iter();
            let trade = |(p, proved): &(Plan, bool)| {
                let of = plan(p);
                TradeOut {
                    money: of.money,
                    room_days: of.room_days,
                    changes: of.changes,
                    openings: of.openings,
                    proved: *proved,
                }
            };
            plans.map(trade).collect()
        }),
        frontier_ended: trades.map(|t| t.ended),
        stages: upsize
            .stages
            .iter()
            .map(|s| StageOut {
                place: s.place.clone(),
                changes: s.words.clone(),
                money: units(s.money),
                failing_checks: s.failing.clone(),
                breaks: s.breaks.clone(),
                head_to_spare_pa: s.spare_pa.and_then(rounded),
                asks_c: s.asks_c.and_then(rounded),
            })
            .collect(),
        shopping: best.map_or_else(Vec::new, |b| shopping(&b.bills).iter().map(buy).collect()),
        ladder: upsize
            .ladder
            .iter()
            .map(|r| Rung {
                emitter: r.emitter.clone(),
                asks_c: rounded(r.asks_c),
                then_c: r.then_c.and_then(rounded),
                buys_k: r.then_c.and_then(|c| rounded(r.asks_c - c)),
                by: r.by.as_ref().map(|(panel, _)| panel.clone()),
                money: r.by.as_ref().map(|(_, m)| units(*m)),
            })
            .collect(),
        temperatures: steps
            .iter()
            .map(|s| StepOut {
                flow_c: s.flow_c,
                drop_k: s.drop_k,
                works_money: s.money.map(units),
                proved: s.proved,
                changes: s.changes.clone(),
                missing: s.missing.clone(),
                seasonal_efficiency: rounded(s.scop),
                running_money_a_year: units(s.running),
            })
            .collect(),
        seasonal: Seasonal {
            efficiency: cost.scop,
            at_c: cost.at_c,
            slope_percent_a_k: cost.slope,
            heat_kwh_a_year: rounded(cost.heat_kwh),
            money_a_kwh: cost.per_kwh,
        },
        missing: match best {
            Some(_) => Vec::new(),
            None => missing(&upsize.house, &upsize.offers, found),
        },
        stays_failing: best.map_or_else(Vec::new, |b| {
            let failing = b.study.findings.iter();
            failing
                .filter(|f| f.verdict == Verdict::Fails)
                .map(|f| f.check.to_owned())
                .collect()
        }),
        assumed: upsize
            .offers
            .assumed
            .iter()
            .map(|a| format!("{}: {} ({})", a.subject, a.value, a.source))
            .collect(),
        not_offered: upsize.offers.left_out.clone(),
    };
    super::json::any(&out)
}

/// JSON Schema of the result, as published.
pub fn schema() -> String {
    let mut schema = schemars::schema_for!(Out);
    schema.insert("title".into(), "Result of pipecarry upsize".into());
    super::json::any(&schema)
}

/// The plan line by line: change or what is opened, money, currency, whose prices.
pub(crate) fn changes(upsize: &Upsize) -> Vec<(String, Option<f64>, String, &'static str)> {
    let Some(plan) = upsize.best() else {
        return Vec::new();
    };
    let survey = upsize.survey();
    let currency = PriceList::new(survey).currency().to_owned();
    let changes = plan.changes.iter().zip(&plan.bills).map(|(change, bill)| {
        let money = units(bill.iter().map(|l| l.money).sum());
        let own = bill.iter().all(|l| l.own);
        (
            change.words(survey),
            Some(money),
            currency.clone(),
            whose(own),
        )
    });
    let opens = plan.opens.iter().filter_map(|&o| {
        let opening = upsize.offers.openings.get(o)?;
        let money = units(opening.cost.money);
        let words = format!("open {}", opening.name);
        Some((words, Some(money), currency.clone(), whose(opening.own)))
    });
    changes.chain(opens).collect()
}

fn whose(own: bool) -> &'static str {
    if own { "the file's" } else { "invented" }
}

fn fails(f: &Fails) -> FailsOut {
    let (check, through, over_pa) = match &f.by {
        FailsBy::Head(_, far, over, _) => ("head".to_owned(), Some(far.clone()), rounded(*over)),
        FailsBy::Check(about) => (about.0.check.to_owned(), None, None),
        FailsBy::Cold(emitter, ..) => ("flow-temperature".to_owned(), Some(emitter.clone()), None),
        FailsBy::NoAnswer(_) => ("no answer".to_owned(), None, None),
    };
    FailsOut {
        money: units(f.money),
        changes: f.changes.clone(),
        check,
        through,
        over_pa,
    }
}
