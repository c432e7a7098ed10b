//! The plan against brute force and against a general-purpose solver, from the file to the penny: houses of any topology.

use super::plan_milp::by_milp;
use super::planning::{Planned, by_brute_force, house, made_up};
use pipecarry::plan::cheapest;
use pipecarry::plan::model::model;
use pipecarry::plan::problem::Objective;
use pipecarry::plan::search::{MOST_LOOKS, Search, WIDE_GAP};

/// By kind of house: how many there were, how many with something to change, how many whose sizes move the flows.
#[test]
fn equals_looking_at_every_set_on_200_houses_of_any_topology() {
    let mut counts = [[0_usize; 3]; 5];
    for seed in 0..200_u64 {
        let text = made_up(seed);
        let planned = Planned::of(&text);
        let search = planned.search();
        let found = search.run().unwrap();
        let least = by_brute_force(&search, &found).map(|p| p.money);
        let best = found.best.as_ref().map(|b| b.money);
        assert_eq!(best, least, "seed {seed}\n{text}");
        assert!(
            found.gap <= WIDE_GAP && found.gap == 0.0,
            "seed {seed}: {}",
            found.gap
        );
        let count = &mut counts[(seed % 5) as usize];
        count[0] += 1;
        count[1] += usize::from(least.is_some_and(|l| l > 0));
        count[2] += usize::from(!found.model.moving.is_empty());
    }
    for (kind, [all, changed, moving]) in counts.into_iter().enumerate() {
        assert!(all == 40 && changed >= 5, "kind {kind}: {counts:?}");
        assert!(
            (moving == 40) == (kind == 2 || kind == 3),
            "kind {kind}: {counts:?}"
        );
    }
}

/// The rows of houses that are trees, as they come from the file, against a general-purpose solver.
#[test]
fn equals_a_general_purpose_solver_on_200_trees_of_pipe() {
    let mut changed = 0;
    for seed in 0..200_u64 {
        let text = made_up(1000 + 5 * seed);
        let (house, offers) = house(&text);
        let model = model(&house.network, &house.required, &offers).unwrap();
        if !model.impossible.is_empty() {
            continue;
        }
        let found = cheapest(&model.problem, Objective::Money, &[]);
        let money = found.map(|a| a.money);
        assert_eq!(money, by_milp(&model.problem), "seed {seed}\n{text}");
        changed += usize::from(money.is_some_and(|m| m > 0));
    }
    assert!(changed > 60, "{changed}");
}

/// A search that is stopped early says so, and the truth lies between its bound and its plan.
#[test]
fn a_search_that_is_stopped_states_its_gap() {
    let mut gaps = 0;
    for seed in (2..200_u64).filter(|s| s % 5 == 2 || s % 5 == 3) {
        let planned = Planned::of(&made_up(seed));
        let search = |most_looks| Search {
            most_looks,
            ..planned.search()
        };
        // a tenth of nothing: not even where the gap is wide
        let early = search(0).run().unwrap();
        let late = search(MOST_LOOKS).run().unwrap();
        let Some(plan) = &late.best else { continue };
        assert!(early.bound_money <= plan.money, "seed {seed}");
        if let Some(other) = &early.best {
            assert!(other.money >= plan.money, "seed {seed}");
            if other.money == 0 {
                continue;
            }
            let least = early.bound_money as f64;
            assert!((early.gap - (1.0 - least / other.money as f64)).abs() < 1e-9);
        }
        if early.gap > 0.0 {
            gaps += 1;
            assert!(!early.proved() && early.stopped);
        }
        assert!(late.proved());
    }
    assert!(gaps >= 3, "{gaps}");
}

/// More head and a further choice never cost more, and a plan holds nothing that it could do without, unless that is free.
#[test]
fn more_never_costs_more_and_nothing_is_needless() {
    let money = |text: &str| {
        let planned = Planned::of(text);
        let search = planned.search();
        let found = search.run().unwrap();
        let Some(best) = &found.best else { return None };
        let keep = found.model.keep();
        for d in 0..best.picks.len() {
            if best.picks[d] == keep[d] || keep[d] == usize::MAX {
                continue;
            }
            let mut without = best.picks.clone();
            without[d] = keep[d];
            if search.verify(&found.model, &without).is_ok() {
                let less = found.model.problem.cost(&without).0;
                assert_eq!(less, best.money, "{}\n{text}", planned.offers.slots[d].name);
            }
        }
        Some(best.money)
    };
    let mut changed = 0;
    for seed in 200..240_u64 {
        let text = made_up(seed);
        let plain = money(&text);
        let never_more =
            |other: Option<i64>| plain.is_none() || other.is_some_and(|o| Some(o) <= plain);
        let run = if text.contains("\"trunk ") {
            "trunk cu42"
        } else {
            "one cu28"
        };
        let choice = text.replacen("[prices]\n", &format!("[prices]\n\"{run}\" = 55\n"), 1);
        if text.contains("[loop.") || text.contains("\"trunk ") {
            assert!(never_more(money(&choice)), "{choice}");
        }
        let (before, rest) = text.split_once("free_head = [\"").unwrap();
        let kpa: f64 = rest.split(' ').next().unwrap().parse().unwrap();
        let more = text.replace(
            &format!("\"{kpa} kPa at"),
            &format!("\"{} kPa at", kpa + 3.0),
        );
        assert!(before.len() < text.len() && more != text);
        assert!(never_more(money(&more)), "{more}");
        changed += usize::from(plain.is_some_and(|p| p > 0));
    }
    assert!(changed >= 8, "{changed}");
}
