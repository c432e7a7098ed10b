//! The plan against brute force and against a general-purpose solver, from the file to the penny: houses of any topology.

use super::plan_milp::by_milp;
use pipecarry::plan::model::model;
use pipecarry::plan::offer::{Offers, offers};
use pipecarry::plan::problem::{Choice, Objective};
use pipecarry::plan::search::{Excused, Found, House, MOST_LOOKS, Search, WIDE_GAP};
use pipecarry::plan::site::settled;
use pipecarry::plan::{cheapest, model::Model};
use pipecarry::survey;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

fn house(text: &str) -> (House, Offers) {
    let (read, faults) = survey::read(text);
    let read = read.unwrap_or_else(|| panic!("{faults:#?}\n{text}"));
    let house = House::new(settled(&read)).unwrap_or_else(|e| panic!("{e:?}\n{text}"));
    let offers = offers(&house.survey, &house.network);
    (house, offers)
}

/// The same model with every offer as a choice, ruled out or not.
fn with_all(model: &Model, offers: &Offers) -> Model {
    let mut all = model.clone();
    for (s, slot) in offers.slots.iter().enumerate() {
        all.offers[s] = (0..slot.offers.len()).collect();
        let choices = slot.offers.iter().map(|o| Choice {
            money: o.money,
            load_pa: 0.0,
            opens: o.opens.clone(),
        });
        all.problem.decisions[s].choices = choices.collect();
    }
    all
}

/// Money of the cheapest set that works: all of them, cheapest first, each looked at in full.
fn by_brute_force(search: &Search<'_>, found: &Found) -> Option<i64> {
    let all = with_all(&found.model, search.offers);
    let mut sets: Vec<Vec<usize>> = vec![Vec::new()];
    for choices in &all.offers {
        sets = sets
            .iter()
            .flat_map(|set| {
                choices.iter().map(move |&c| {
                    let mut next = set.clone();
                    next.push(c);
                    next
                })
            })
            .collect();
    }
    sets.sort_by_key(|set| all.problem.cost(set).0);
    let works = sets.iter().find(|set| search.verify(&all, set).is_ok());
    works.map(|set| all.problem.cost(set).0)
}

/// A small house of one of four kinds: a tree, a tree whose trunk may be doubled, pipes that close a loop, a one-pipe loop
/// or a reverse return; lengths, needs and prices by chance.
fn made_up(seed: u64) -> String {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut next = |least: u64, most: u64| rng.random_range(least..=most);
    let head = |kpa: u64| {
        format!("[source.hp]\nfree_head = [\"{kpa} kPa at 0 l/min\", \"{kpa} kPa at 90 l/min\"]\n")
    };
    let emitters = "[defaults]\nemitter = { leg = \"cu15 2m\", valve = \"manual kv 1.2\" }\n";
    let end = "[limits]\nvelocity = \"2.2 m/s\"\n[plan]\nprices = \"own\"\n";
    match seed % 5 {
        kind @ (0 | 1) => {
            let (a, b, c) = (next(3, 12), next(3, 12), next(3, 9));
            let mut prices = String::from("[prices]\n");
            for run in ["trunk", "north", "south"] {
                prices += &format!("\"{run} cu28\" = {}\n", next(100, 500));
            }
            if kind == 1 {
                prices += &format!("\"trunk beside cu22\" = {}\n", next(100, 300));
                prices += &format!("\"north beside cu15\" = {}\n", next(60, 200));
            } else {
                prices += &format!("\"trunk cu35\" = {}\n", next(300, 800));
            }
            format!(
                "{}[pair]\ntrunk = [\"hp\", \"hall\", \"cu22 {a}m 3 elbow\"]\n\
                 north = [\"hall\", \"n\", \"cu22 {b}m 2 elbow\"]\nsouth = [\"hall\", \"s\", \"cu15 {c}m\"]\n\
                 {emitters}[emitter]\na = {{ from = \"n\", draws = \"{} W\" }}\n\
                 b = {{ from = \"n\", draws = \"{} W\" }}\nc = {{ from = \"s\", draws = \"{} W\" }}\n{prices}{end}",
                head(if kind == 1 { next(10, 26) } else { next(14, 34) }),
                next(1500, 3500),
                next(800, 2500),
                next(600, 1800)
            )
        }
        2 => {
            let mut prices = String::from("[prices]\n");
            for run in ["trunk", "west", "east", "link"] {
                prices += &format!("\"{run} cu28\" = {}\n", next(100, 500));
            }
            format!(
                "{}[pair]\ntrunk = [\"hp\", \"hall\", \"cu22 {}m 3 elbow\"]\n\
                 west = [\"hall\", \"w\", \"cu22 {}m 2 elbow\"]\neast = [\"hall\", \"e\", \"cu15 {}m\"]\n\
                 link = [\"w\", \"e\", \"cu15 {}m\"]\n\
                 {emitters}[emitter]\na = {{ from = \"w\", draws = \"{} W\" }}\n\
                 b = {{ from = \"e\", draws = \"{} W\" }}\n{prices}{end}",
                head(next(12, 26)),
                next(3, 10),
                next(3, 12),
                next(3, 12),
                next(2, 9),
                next(1500, 4000),
                next(1500, 4000)
            )
        }
        3 => format!(
            "{}design = {{ flow_temperature = \"48 C\", drop = \"6 K\" }}\n[loop.ground]\nfrom = \"hp\"\n\
             main = [\"cu22 {}m\", \"one\", \"cu22 {}m\", \"two\", \"cu22 6m\"]\n\
             between = \"cu22 0.6m\"\ntee = \"plain\"\n\
             [defaults.emitter]\nleg = \"cu15 1m\"\nvalve = \"manual kv 2.5\"\nlockshield = \"none\"\nroom = 20\n\
             [emitter]\none = {{ rated = \"{} W\", needs = \"1000 W\" }}\ntwo = {{ rated = \"{} W\", needs = \"1000 W\" }}\n\
             [prices]\n\"ground cu15\" = {}\n\"ground cu28\" = {}\n\"one cu22\" = {}\n\"two cu22\" = {}\n\
             \"one 22 600x1400\" = {}\n\"two 22 600x1600\" = {}\n{end}",
            head(next(3, 20)),
            next(3, 9),
            next(3, 9),
            next(2400, 4400),
            next(2400, 4600),
            next(20, 90),
            next(60, 200),
            next(30, 120),
            next(30, 120),
            next(150, 400),
            next(150, 400)
        )
        .replacen("[source.hp]", "@", 1)
        .split_once("design")
        .map(|(source, rest)| {
            let (design, rest) = rest.split_once('\n').unwrap_or_default();
            format!("design{design}\n{}{rest}", source.replace('@', "[source.hp]"))
        })
        .unwrap_or_default(),
        _ => format!(
            "{}[ring.house]\nfrom = \"hp\"\nflow = [\"cu22 {}m\", \"a\", \"cu15 {}m\", \"b\"]\n\
             return = [\"a\", \"cu15 {}m\", \"b\", \"cu22 {}m\", \"hp\"]\n{emitters}[emitter]\n\
             a = {{ draws = \"{} W\" }}\nb = {{ draws = \"{} W\" }}\n\
             [prices]\n\"house cu22\" = {}\n\"house cu28\" = {}\n\"a cu22\" = {}\n\"b cu22\" = {}\n{end}",
            head(next(9, 24)),
            next(3, 9),
            next(3, 9),
            next(3, 9),
            next(6, 15),
            next(1500, 3500),
            next(1500, 3500),
            next(60, 200),
            next(100, 400),
            next(30, 120),
            next(30, 120)
        ),
    }
}

/// By kind of house: how many there were, how many with something to change, how many whose sizes move the flows.
#[test]
fn equals_looking_at_every_set_on_200_houses_of_any_topology() {
    let mut counts = [[0_usize; 3]; 5];
    for seed in 0..200_u64 {
        let text = made_up(seed);
        let (house, offers) = house(&text);
        let excused = Excused::default();
        let search = Search {
            house: &house,
            offers: &offers,
            objective: Objective::Money,
            excused: &excused,
            most_looks: MOST_LOOKS,
            thorough: true,
        };
        let found = search.run().unwrap();
        let least = by_brute_force(&search, &found);
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
        let (house, offers) = house(&made_up(seed));
        let excused = Excused::default();
        let search = |most_looks| Search {
            house: &house,
            offers: &offers,
            objective: Objective::Money,
            excused: &excused,
            most_looks,
            thorough: true,
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
        let (house, offers) = house(text);
        let excused = Excused::default();
        let search = Search {
            house: &house,
            offers: &offers,
            objective: Objective::Money,
            excused: &excused,
            most_looks: MOST_LOOKS,
            thorough: true,
        };
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
                assert_eq!(less, best.money, "{}\n{text}", offers.slots[d].name);
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
