//! What of a plan and of what stands beside it is proved, and that the report says no more.

use super::cli::run;
use super::planning::{Planned, all_sets, made_up, one_pipe, reverse_return, with_all};
use pipecarry::plan::beside::{Next, Trades};
use pipecarry::plan::problem::Objective;
use pipecarry::plan::search::{Found, MOST_LOOKS, Search};
use pipecarry::plan::temperature::RunningCost;
use pipecarry::plan::upsize::{Ask, Upsize, upsize};
use pipecarry::{report, survey};
use serde_json::Value;

/// A made-up house some of whose runs lie under floors that upset rooms for days.
fn with_floors(seed: u64) -> String {
    let text = made_up(seed);
    let runs = match seed % 5 {
        0 | 1 => ["trunk", "north", "south"].as_slice(),
        2 => &["trunk", "west", "east", "link"],
        3 => &["one", "two", "ground"],
        _ => &["a", "b", "house"],
    };
    let mut floors = String::from("[opening]\n");
    for (i, run) in runs.iter().enumerate() {
        let days = (seed / 5 + 7 * i as u64) % 3 + 1;
        floors +=
            &format!("floor{i} = {{ runs = [\"{run}\"], price = 10, rooms = 1, days = {days} }}\n");
    }
    text + &floors
}

/// Disruption and money of the frontier: every set looked at in full.
fn by_looking(search: &Search<'_>, found: &Found) -> Vec<(u32, i64)> {
    let all = with_all(&found.model, search.offers);
    let mut works: Vec<(u32, i64)> = all_sets(&all)
        .iter()
        .filter_map(|set| search.verify(&all, set).ok())
        .map(|p| (p.disruption, p.money))
        .collect();
    works.sort_unstable();
    let mut least: Vec<(u32, i64)> = Vec::new();
    for (disruption, money) in works {
        if least.last().is_none_or(|l| money < l.1) {
            least.push((disruption, money));
        }
    }
    least
}

/// What a frontier claims holds, whether the search was stopped or not; stopped ones claim less.
#[test]
fn a_frontier_claims_no_more_than_was_proved() {
    let (mut unproved, mut not_ended, mut long) = (0, 0, 0);
    for seed in (0..90_u64).filter(|s| *s < 10 || s % 5 == 2 || s % 5 == 3) {
        let planned = Planned::of(&with_floors(seed));
        let search = planned.search();
        let found = search.run().unwrap();
        if found.best.is_none() {
            continue;
        }
        let truth = by_looking(&search, &found);
        let of = |t: &Trades| -> Vec<(u32, i64)> {
            t.plans
                .iter()
                .map(|(p, _)| (p.disruption, p.money))
                .collect()
        };
        let whole = search.frontier(&found);
        assert_eq!(of(&whole), truth, "seed {seed}");
        assert!(
            whole.ended && whole.plans.iter().all(|(_, proved)| *proved),
            "seed {seed}"
        );
        long += usize::from(truth.len() > 1);
        for most_looks in [0, 1, 2] {
            let stopped = Search {
                most_looks,
                ..planned.search()
            };
            let found = stopped.run().unwrap();
            if found.best.is_none() {
                continue;
            }
            let trades = stopped.frontier(&found);
            assert!(!trades.plans.is_empty(), "seed {seed}: a plan is known");
            for (plan, proved) in &trades.plans {
                let at = (plan.disruption, plan.money);
                let least = truth.iter().rfind(|t| t.0 <= plan.disruption).unwrap();
                assert!(plan.money >= least.1, "seed {seed}");
                assert!(
                    !proved || truth.contains(&at),
                    "seed {seed}: {at:?} of {truth:?}"
                );
                unproved += usize::from(!proved);
            }
            if trades.ended {
                assert_eq!(trades.plans[0].0.disruption, truth[0].0, "seed {seed}");
            }
            not_ended += usize::from(!trades.ended);
        }
    }
    assert!(
        unproved >= 15 && not_ended >= 3 && long >= 2,
        "{unproved} {not_ended} {long}"
    );
}

fn asked(text: &str, larger_drop: bool, most_looks: usize) -> Upsize {
    let ask = Ask {
        objective: Objective::Money,
        frontier: true,
        larger_drop,
        most_looks,
    };
    upsize(&survey::read(text).0.unwrap(), ask).unwrap()
}

/// With larger drops the bound is one on all of them, stopped searches included.
#[test]
fn a_bound_with_larger_drops_covers_every_drop() {
    let (mut stopped, mut plans) = (0, 0);
    for seed in (2..100_u64).filter(|s| s % 5 == 2) {
        let text = made_up(seed);
        let late = asked(&text, true, MOST_LOOKS);
        let early = asked(&text, true, 0);
        let Some(best) = late.best() else { continue };
        assert!(early.found.bound_money <= best.money, "seed {seed}");
        assert!(
            !early.found.proved() || early.best().unwrap().money == best.money,
            "seed {seed}"
        );
        stopped += usize::from(early.found.gap > 0.0);
        plans += usize::from(late.drop.is_some());
    }
    assert!(stopped >= 2 && plans >= 2, "{stopped} {plans}");
}

fn said(upsize: &Upsize) -> String {
    let cost = RunningCost::of(&upsize.house);
    let text = report::upsize::text(upsize, &[], &cost, &upsize.house.network.units);
    assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn json(upsize: &Upsize) -> Value {
    let cost = RunningCost::of(&upsize.house);
    serde_json::from_str(&report::json_upsize::text(upsize, &[], &cost)).unwrap()
}

/// The first house of some whose plan costs something, and that plan.
fn changed(mut houses: impl Iterator<Item = String>) -> (String, Upsize) {
    let plan = |text: String| {
        let plan = asked(&text, false, MOST_LOOKS);
        let costs = plan.best().is_some_and(|b| b.money > 0);
        costs.then_some((text, plan))
    };
    houses.find_map(plan).unwrap()
}

const REST: &str = "What it rests on:";
const ONE_PLACE: &str = "Cheaper sets that come nearest of those looked at";
const NO_DROPS: &str = "Larger drops at one emitter were not tried";
const NEXT: &str = "it is not proved that none lies between";

/// A tree is searched to the end: nothing of what follows is said of it.
#[test]
fn of_a_tree_everything_is_proved() {
    let tree = asked(&made_up(10), false, MOST_LOOKS);
    let (text, out) = (said(&tree), json(&tree));
    for words in [
        REST,
        ONE_PLACE,
        NO_DROPS,
        NEXT,
        "gap",
        "not proved",
        "not sought to the end",
    ] {
        assert!(!text.contains(words), "{words}: {text}");
    }
    assert!(
        text.contains("that is proved") && text.contains("The next-best plan"),
        "{text}"
    );
    assert_eq!(out["bound_covers"], Value::Null);
    assert_eq!(out["cheaper_differ_in_one_place"], false);
    assert_eq!(
        (&out["larger_drops_tried"], &out["frontier_ended"]),
        (&true.into(), &true.into())
    );
    let trades = out["frontier"].as_array().unwrap();
    assert!(trades.iter().all(|t| t["proved"] == true) && !trades.is_empty());
}

/// A reverse return: a bound by prices, neighbours one place away, larger drops only if asked for, no proof of the next.
#[test]
fn of_a_reverse_return_it_is_said_what_was_not_done() {
    let (text, ring) = changed((0..9).map(|seed| reverse_return(seed, 8)));
    assert!(ring.found.tangled);
    let (words, out) = (said(&ring), json(&ring));
    assert!(
        words.contains(&format!("{REST} ways round share their pipes in no order")),
        "{words}"
    );
    assert!(
        words.contains(ONE_PLACE) && words.contains(NO_DROPS),
        "{words}"
    );
    assert!(
        words.contains("gap 0 %") || words.contains("a gap of"),
        "{words}"
    );
    assert!(
        words.contains(NEXT) && !words.contains("The next-best plan"),
        "{words}"
    );
    assert_eq!(out["cheaper_differ_in_one_place"], true);
    assert_eq!(out["larger_drops_tried"], false);
    assert_eq!(out["next_best_proved"], false);
    // one place away, and no more
    let cheaper = out["cheaper"].as_array().unwrap();
    let plan = out["plan"]["changes"].as_array().unwrap();
    let plan: Vec<&Value> = plan.iter().map(|c| &c["what"]).collect();
    assert!(!cheaper.is_empty());
    for set in cheaper.iter().filter(|c| c["check"] == "head") {
        let set: Vec<&Value> = set["changes"].as_array().unwrap().iter().collect();
        let lost = plan.iter().filter(|c| !set.contains(c)).count();
        let won = set.iter().filter(|c| !plan.contains(c)).count();
        assert!(lost <= 1 && won <= 1, "{set:?}");
    }
    let tried = asked(&text, true, MOST_LOOKS);
    assert!(!said(&tried).contains(NO_DROPS) && json(&tried)["larger_drops_tried"] == true);
}

/// A one-pipe loop: where sizes move the flows, what the bound covers, and the gap.
#[test]
fn of_a_one_pipe_loop_the_bound_says_what_it_covers() {
    let lp = asked(&one_pipe(0, 4), false, MOST_LOOKS);
    assert!(lp.best().unwrap().money > 0);
    let (words, out) = (said(&lp), json(&lp));
    assert!(words.contains("Sizes move the design flows at"), "{words}");
    assert!(
        words.contains("which tails, valve and radiator can stand together on the loop"),
        "{words}"
    );
    assert!(
        words.contains("gap 0 %") || words.contains("a gap of"),
        "{words}"
    );
    assert!(
        !words.contains(ONE_PLACE) && !words.contains(NO_DROPS),
        "{words}"
    );
    assert!(
        out["bound_covers"]
            .as_str()
            .unwrap()
            .contains("no loss in what sizes move")
    );
    // where the water was followed along the loop, all of it counts
    let mut along = asked(&one_pipe(0, 4), false, MOST_LOOKS);
    along.found.running_bound = Some(along.found.bound.0);
    let words = said(&along);
    assert!(
        words.contains("the bound follows the water along the loop as it runs")
            && !words.contains("no loss in what"),
        "{words}"
    );
    // and where there are others beside it, what is taken of them
    along.found.beside_loops = true;
    let words = said(&along);
    assert!(
        words.contains("along each loop as it runs") && words.contains("half of the water"),
        "{words}"
    );
    // pipes that close a loop have no such combinations
    let (_, closed) = changed((2..90).step_by(5).map(made_up));
    let words = said(&closed);
    assert!(
        words.contains("and no loss in what they move") && !words.contains("on the loop,"),
        "{words}"
    );
}

/// Each way in which the next-best plan and the frontier can end has its own words.
#[test]
fn the_report_says_how_each_search_ended() {
    let mut tree = asked(&made_up(10), false, MOST_LOOKS);
    let plan = tree.next.as_ref().unwrap().plan.clone();
    assert!(plan.is_some());
    for (plan, proved, words) in [
        (plan.clone(), true, "The next-best plan that does without"),
        (plan, false, NEXT),
        (None, true, "No plan on offer does without any of these."),
        (
            None,
            false,
            "was found before the search ended; one may exist.",
        ),
    ] {
        tree.next = Some(Next { plan, proved });
        assert!(said(&tree).contains(words), "{words}");
    }
    let trades = tree.frontier.clone().unwrap();
    let best = trades.plans[0].0.clone();
    tree.frontier = Some(Trades {
        plans: vec![(best, false)],
        ended: false,
    });
    let words = said(&tree);
    assert!(
        words.contains("(not proved)") && words.contains("not sought to the end"),
        "{words}"
    );
    assert_eq!(json(&tree)["frontier"][0]["proved"], false);
    tree.found.gap = 0.031;
    tree.found.bound_money -= 100;
    assert!(said(&tree).contains("a gap of 3.1 %. "), "{}", said(&tree));
    tree.found.gap = 0.061;
    assert!(
        said(&tree).contains("more than the 5 % aimed at; more --looks"),
        "{}",
        said(&tree)
    );
}

/// On the terminal, too.
#[test]
fn the_command_says_of_every_trade_whether_it_is_proved() {
    let (text, _) = changed((2..90).step_by(5).map(with_floors));
    let ran = run(&text, &["upsize", "house.toml", "--frontier", "--json"]);
    let out: Value = serde_json::from_str(&ran.out).unwrap();
    let trades = out["frontier"].as_array().unwrap();
    assert!(
        !trades.is_empty() && trades.iter().all(|t| t["proved"].is_boolean()),
        "{out}"
    );
}
