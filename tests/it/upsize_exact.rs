//! The plan against brute force and against a general-purpose solver, from the file to the penny: houses of any topology.

use super::plan_milp::by_milp;
use super::planning::{Planned, by_brute_force, house, made_up, with_more_radiators};
use pipecarry::plan::cheapest;
use pipecarry::plan::model::model;
use pipecarry::plan::problem::Objective;
use pipecarry::plan::search::{MOST_LOOKS, Plan, Search, WIDE_GAP};
use pipecarry::plan::site::Site;
use pipecarry::view::required::inlet_for;

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

/// By kind: houses with a plan that costs something.
#[test]
fn equals_looking_at_every_set_with_five_or_six_radiators() {
    let mut changed = [0; 3];
    for seed in 0..24_u64 {
        let text = with_more_radiators(seed);
        let planned = Planned::of(&text);
        let search = planned.search();
        let found = search.run().unwrap();
        let least = by_brute_force(&search, &found);
        let money = |p: &Option<Plan>| p.as_ref().map(|p| p.money);
        if found.tangled {
            assert!(
                found.gap <= WIDE_GAP && money(&least) >= Some(found.bound_money),
                "seed {seed}\n{text}"
            );
        } else {
            assert_eq!(money(&found.best), money(&least), "seed {seed}\n{text}");
            assert_eq!(found.gap, 0.0, "seed {seed}");
        }
        assert!(
            found.best.is_some() == least.is_some() && money(&found.best) >= money(&least),
            "seed {seed}\n{text}"
        );
        changed[(seed % 3) as usize] += usize::from(money(&least) > Some(0));
    }
    assert!(
        changed[0] >= 6 && changed[1] >= 4 && changed[2] >= 2,
        "{changed:?}"
    );
}

/// No radiator is offered that another equals at every duty and drop for no more money.
#[test]
fn no_radiator_is_offered_that_another_beats_everywhere() {
    let walls = include_str!("../data/stories/a9.toml")
        .replace(
            "rated = \"4200 W\"",
            "wall = \"2400x700x200\", rated = \"4200 W\"",
        )
        .replace(
            "rated = \"1500 W\"",
            "wall = \"1600x900x200\", rated = \"1500 W\"",
        );
    let (house, offers) = house(&walls);
    let mut pairs = 0;
    for slot in offers
        .slots
        .iter()
        .filter(|s| matches!(s.site, Site::Radiator(_)))
    {
        let room = house.network.emitters[slot.emitter.unwrap()].room;
        let room_c = house.network.rooms[room].temperature_c;
        for (i, a) in slot.offers.iter().enumerate().skip(1) {
            for (j, b) in slot
                .offers
                .iter()
                .enumerate()
                .filter(|(_, b)| b.money <= a.money)
            {
                let Some(((of_a, _), (of_b, _))) = a.heat.zip(b.heat).filter(|_| i != j) else {
                    continue;
                };
                // somewhere the dearer needs cooler water
                let wins = [50.0, 200.0, 500.0, 1000.0, 2000.0, 4000.0]
                    .iter()
                    .any(|w| {
                        [1.0, 5.0, 10.0].iter().any(|k| {
                            let asks = |law| inlet_for(law, *w, *k, room_c);
                            asks(&of_a).zip(asks(&of_b)).is_some_and(|(a, b)| a < b)
                        })
                    });
                assert!(wins, "{}: offer {i} against {j}", slot.name);
                pairs += 1;
            }
        }
    }
    assert!(pairs > 20, "{pairs}");
}
