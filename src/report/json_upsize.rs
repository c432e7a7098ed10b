//! What to change, as JSON, and the shopping list as CSV: keys carry their unit; money is in units of the file's
//! currency.

use super::{MADE_BY, csv, rounded};
use crate::check::Verdict;
use crate::plan::missing::missing;
use crate::plan::price::{Goods, PriceList};
use crate::plan::search::{Fails, FailsBy, Plan};
use crate::plan::shopping::{Purchase, shopping};
use crate::plan::temperature::{RunningCost, Step};
use crate::plan::upsize::Upsize;
use serde::Serialize;

/// Version of the layout; it rises when a reader of the old one would go wrong.
pub const VERSION: u32 = 1;
/// How the shopping list begins, so that it is known again.
pub const CSV_BEGIN: &str = "buy,what,for_pipe,laid_m,order_m,pieces,money,price_is";

#[derive(Serialize)]
struct Out {
    schema: &'static str,
    version: u32,
    made_by: &'static str,
    job: String,
    works: bool,
    currency: String,
    plan: Option<PlanOut>,
    drop: Option<DropOut>,
    with_a_larger_drop: Option<OtherOut>,
    proved: bool,
    lower_bound: f64,
    gap: f64,
    search_ended_early: bool,
    looked_at_in_full_and_failed: usize,
    cheaper: Vec<FailsOut>,
    next_best: Option<PlanOut>,
    frontier: Vec<PlanOut>,
    stages: Vec<StageOut>,
    shopping: Vec<Buy>,
    ladder: Vec<Rung>,
    temperatures: Vec<StepOut>,
    seasonal: Seasonal,
    missing: Vec<String>,
    stays_failing: Vec<String>,
    assumed: Vec<String>,
    not_offered: Vec<String>,
}

#[derive(Serialize)]
struct PlanOut {
    money: f64,
    room_days: f64,
    changes: Vec<ChangeOut>,
    openings: Vec<OpeningOut>,
}

#[derive(Serialize)]
struct ChangeOut {
    what: String,
    money: f64,
    prices: &'static str,
}

#[derive(Serialize)]
struct OpeningOut {
    place: String,
    money: f64,
}

#[derive(Serialize)]
struct DropOut {
    emitter: String,
    drop_k: f64,
}

#[derive(Serialize)]
struct OtherOut {
    emitter: String,
    drop_k: f64,
    plan: PlanOut,
}

#[derive(Serialize)]
struct FailsOut {
    money: f64,
    changes: Vec<String>,
    check: String,
    through: Option<String>,
    over_pa: Option<f64>,
}

#[derive(Serialize)]
struct StageOut {
    place: Option<String>,
    changes: Vec<String>,
    money: f64,
    failing_checks: usize,
    head_to_spare_pa: Option<f64>,
    asks_c: Option<f64>,
}

#[derive(Serialize)]
struct Buy {
    buy: &'static str,
    what: String,
    for_pipe: String,
    laid_m: Option<f64>,
    order_m: Option<f64>,
    pieces: Option<f64>,
    money: f64,
    price_is: &'static str,
}

#[derive(Serialize)]
struct Rung {
    emitter: String,
    asks_c: Option<f64>,
    then_c: Option<f64>,
    buys_k: Option<f64>,
    by: Option<String>,
    money: Option<f64>,
}

#[derive(Serialize)]
struct StepOut {
    flow_c: f64,
    drop_k: f64,
    works_money: Option<f64>,
    proved: bool,
    changes: Vec<String>,
    missing: Option<String>,
    seasonal_efficiency: Option<f64>,
    running_money_a_year: f64,
}

#[derive(Serialize)]
struct Seasonal {
    efficiency: f64,
    at_c: f64,
    slope_percent_a_k: f64,
    heat_kwh_a_year: Option<f64>,
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
        looked_at_in_full_and_failed: found.cut.len(),
        cheaper: upsize.cheaper.iter().map(fails).collect(),
        next_best: upsize.next.as_ref().map(plan),
        frontier: upsize.frontier.iter().map(|(p, _)| plan(p)).collect(),
        stages: upsize
            .stages
            .iter()
            .map(|s| StageOut {
                place: s.place.clone(),
                changes: s.words.clone(),
                money: units(s.money),
                failing_checks: s.failing,
                head_to_spare_pa: rounded(s.spare_pa),
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

/// The shopping list as CSV.
pub fn list(upsize: &Upsize) -> String {
    let bought = upsize.best().map_or_else(Vec::new, |b| shopping(&b.bills));
    if bought.is_empty() {
        return format!("{CSV_BEGIN}\n");
    }
    csv::table(bought.iter().map(|p| {
        let row = buy(p);
        Buy {
            what: csv::cell(&row.what),
            for_pipe: csv::cell(&row.for_pipe),
            ..row
        }
    }))
}

fn whose(own: bool) -> &'static str {
    if own { "the file's" } else { "invented" }
}

fn buy(p: &Purchase) -> Buy {
    let (kind, what, pipe) = match &p.goods {
        Goods::Pipe(word) => ("pipe", word.clone(), String::new()),
        Goods::Item(word, pipe) => ("fitting", word.clone(), pipe.clone()),
        Goods::Radiator(panel) => ("radiator", panel.clone(), String::new()),
        Goods::Valve(word) => ("valve", word.clone(), String::new()),
        Goods::Work => ("work", "work".to_owned(), String::new()),
        Goods::Whole => (
            "whole",
            "run or radiator, all included".to_owned(),
            String::new(),
        ),
    };
    let metres = kind == "pipe";
    Buy {
        buy: kind,
        what,
        for_pipe: pipe,
        laid_m: metres.then(|| rounded(p.needed)).flatten(),
        order_m: metres.then(|| rounded(p.order)).flatten(),
        pieces: (!metres && kind != "work")
            .then(|| rounded(p.needed))
            .flatten(),
        money: units(p.money),
        price_is: whose(p.own),
    }
}

fn fails(f: &Fails) -> FailsOut {
    let (check, through, over_pa) = match &f.by {
        FailsBy::Head(_, far, over, _) => ("head".to_owned(), Some(far.clone()), rounded(*over)),
        FailsBy::Check(about) => (about.0.check.to_owned(), None, None),
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
