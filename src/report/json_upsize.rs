//! What to change, as JSON: keys carry their unit; money is in units of the file's currency.

mod buying;
mod shape;

pub use buying::{CSV_BEGIN, list, nothing_to_buy, to_buy};

use super::speak::Speak;
use super::upsize::{fails_by, lacks};
use super::{MADE_BY, rounded};
use crate::check::Verdict;
use crate::plan::change::Change;
use crate::plan::ladder::{Ends, Swap};
use crate::plan::missing::missing;
use crate::plan::price::PriceList;
use crate::plan::search::{Fails, FailsBy, Plan};
use crate::plan::temperature::{RunningCost, Step};
use crate::plan::upsize::Upsize;
use crate::plan::verify::named;
use buying::rows;
use shape::{
    ChangeOut, DropOut, FailsOut, Guess, OpeningOut, OtherOut, Out, PlanOut, Rung, Seasonal,
    StageOut, StepOut, SwapOut, TradeOut,
};

/// Version of the layout; it rises when a reader of the old one would go wrong.
pub const VERSION: u32 = 2;
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
        prices: whose(upsize.offers.own_changes(&plan.changes)),
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
                prices: whose(upsize.offers.openings[o].own),
            })
            .collect(),
    };
    let network = &upsize.house.network;
    let speak = Speak::of(network, &network.units);
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
        lower_bound_prices: whose(best.is_none_or(|b| upsize.offers.own_changes(&b.changes))),
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
        cheaper: upsize
            .cheaper
            .sets
            .iter()
            .map(|f| fails(&speak, f))
            .collect(),
        cheaper_differ_in_one_place: found.tangled,
        next_best: next.and_then(|n| n.plan.as_ref()).map(plan),
        next_best_proved: next.is_some_and(|n| n.proved),
        frontier: trades.map_or_else(Vec::new, |t| {
            let plans = t.plans.iter();
            let trade = |(p, proved): &(Plan, bool)| {
                let of = plan(p);
                TradeOut {
                    money: of.money,
                    prices: of.prices,
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
                prices: whose(upsize.offers.own_changes(&s.changes)),
                failing_checks: s.failing.clone(),
                breaks: s.breaks.clone(),
                head_to_spare_pa: s.spare_pa.and_then(rounded),
                asks_c: s.asks_c.and_then(rounded),
            })
            .collect(),
        shopping: rows(upsize),
        rests_on: guesses(upsize),
        ladder: upsize
            .ladder
            .rungs
            .iter()
            .map(|r| Rung {
                asks_c: rounded(r.asks_c),
                then_c: r.then_c.and_then(rounded),
                buys_k: r.then_c.and_then(|c| rounded(r.asks_c - c)),
                emitters: r.emitters.iter().map(|s| swap(upsize, s)).collect(),
            })
            .collect(),
        ladder_ends: match upsize.ladder.ends {
            Ends::Last => "last",
            Ends::More(_) => "more",
            Ends::NoAnswer => "no answer",
        },
        ladder_apart: upsize.ladder.apart.clone(),
        temperatures: steps
            .iter()
            .map(|s| StepOut {
                flow_c: s.flow_c,
                drop_k: s.drop_k,
                works_money: s.money.map(units),
                works_prices: s.money.map(|_| whose(s.own)),
                proved: s.proved,
                changes: s.changes.clone(),
                missing: s.money.is_none().then(|| {
                    let said = s.missing.iter().map(|m| lacks(&speak, &network.units, m));
                    said.collect::<Vec<_>>().join(". ")
                }),
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
            efficiency_is: assumed(cost.own[0]),
            slope_is: assumed(cost.own[1]),
            heat_is: assumed(cost.own[2]),
            money_a_kwh_is: whose(cost.own[3]),
        },
        missing: match best {
            Some(_) => Vec::new(),
            None => missing(&upsize.house, &upsize.offers, found)
                .iter()
                .map(|m| lacks(&speak, &network.units, m))
                .collect(),
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

fn assumed(own: bool) -> &'static str {
    if own { "the file's" } else { "assumed" }
}

fn guesses(upsize: &Upsize) -> Vec<Guess> {
    let Some(study) = &upsize.rests else {
        return Vec::new();
    };
    let network = &study.network;
    let guess = |g: &crate::plan::rests::Guess<'_>| {
        let doubt = &network.doubts[g.doubt];
        Guess {
            guess: doubt.name.clone(),
            taken_as: doubt.likeliest.clone(),
            checks: g
                .checks
                .iter()
                .map(|f| named(network, f.check, f.subject))
                .collect(),
        }
    };
    upsize.guesses().iter().map(guess).collect()
}

fn swap(upsize: &Upsize, s: &Swap) -> SwapOut {
    let own = |c: &Change| upsize.offers.own_changes(std::slice::from_ref(c));
    SwapOut {
        emitter: s.emitter.clone(),
        by: s.by.as_ref().map(|by| by.panel.clone()),
        money: s.by.as_ref().map(|by| units(by.money)),
        prices: s.by.as_ref().map(|by| whose(own(&by.change))),
        of_plan: s.by.as_ref().is_some_and(|by| by.of_plan),
        output_w: s.output_w.and_then(|(has, _)| rounded(has)),
        output_needed_w: s.output_w.and_then(|(_, needs)| rounded(needs)),
    }
}

fn fails(speak: &Speak<'_>, f: &Fails) -> FailsOut {
    let (check, through, over_pa) = match &f.by {
        FailsBy::Head(_, far, over, _) => ("head".to_owned(), Some(far.clone()), rounded(*over)),
        FailsBy::Check(about) => (about.0.check.to_owned(), None, None),
        FailsBy::Cold(emitter, ..) => ("flow-temperature".to_owned(), Some(emitter.clone()), None),
        FailsBy::NoAnswer(_) => ("no answer".to_owned(), None, None),
    };
    FailsOut {
        money: units(f.money),
        prices: whose(f.own),
        changes: f.changes.clone(),
        check,
        through,
        over_pa,
        short_k: match &f.by {
            FailsBy::Cold(_, asks, gets) => rounded(asks - gets),
            _ => None,
        },
        short_share: rounded(f.by.short()),
        says: fails_by(speak, &speak.network.units, f),
    }
}
