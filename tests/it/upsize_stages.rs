//! The order of work: what every order does is looked at here by hand, stage by stage, and compared with the order found.

use pipecarry::check::{self, Verdict};
use pipecarry::network::expand;
use pipecarry::plan::change::Change;
use pipecarry::plan::problem::Objective;
use pipecarry::plan::search::MOST_LOOKS;
use pipecarry::plan::upsize::{Ask, Upsize, upsize};
use pipecarry::survey::{self, Survey};
use std::collections::BTreeSet;

const MONEY: Ask = Ask {
    objective: Objective::Money,
    frontier: false,
    larger_drop: false,
    most_looks: MOST_LOOKS,
};

/// Two equal rooms on one trunk. The wider trunk leaves more head at their valves than these take quietly: the valve of one
/// has to be a freer one before.
const HEARD: &str = "design = { flow_temperature = \"50 C\", drop = \"5 K\" }\n\
    [source.hp]\nfree_head = [\"24 kPa at 0 l/min\", \"24 kPa at 60 l/min\"]\n\
    [pair]\ntrunk = [\"hp\", \"hall\", \"cu22 30m 6 elbow under boards\"]\n\
    [defaults.emitter]\nleg = \"cu10 3m\"\nvalve = \"thermostatic kv 0.5\"\nlockshield = \"none\"\n\
    rated = \"4000 W\"\nroom = 20\nneeds = \"1000 W\"\n\
    [emitter]\none = { from = \"hall\" }\ntwo = { from = \"hall\" }\n\
    [limits]\n\"thermostatic valve\" = \"13 kPa\"\nvelocity = \"2 m/s\"\n\
    [prices]\n\"trunk cu28\" = 30\n\"thermostatic high flow\" = 60\n[plan]\nprices = \"own\"\n";

/// A one-pipe loop whose radiators get too little: the main between their tees has to be narrower, for which the main home
/// has to be wider. The unit's greatest flow stands for what the rest allows.
fn narrowed(greatest: f64) -> String {
    format!(
        "design = {{ flow_temperature = \"48 C\", drop = \"6 K\" }}\n[source.hp]\ngreatest_flow = \"{greatest} l/min\"\n\
         free_head = [\"7.5 kPa at 0 l/min\", \"7.5 kPa at 40 l/min\"]\n\
         [loop.ground]\nfrom = \"hp\"\nmain = [\"cu22 5m\", \"one\", \"cu22 5m\", \"two\", \"cu22 12m 6 elbow\"]\n\
         between = \"cu22 2m\"\ntee = \"plain\"\n\
         [defaults.emitter]\nleg = \"cu15 1m\"\nvalve = \"manual kv 2.5\"\nlockshield = \"none\"\nroom = 20\n\
         [emitter]\none = {{ rated = \"8200 W\", needs = \"2400 W\" }}\ntwo = {{ rated = \"9800 W\", needs = \"2400 W\" }}\n\
         [prices]\n\"ground cu15\" = 40\n\"ground cu28\" = 90\n[plan]\nprices = \"own\"\n"
    )
}

fn planned(text: &str) -> Upsize {
    let (read, faults) = survey::read(text);
    upsize(&read.unwrap_or_else(|| panic!("{faults:#?}")), MONEY).unwrap()
}

/// Titles of the checks that fail, with what they are about by number.
fn failing(survey: &Survey) -> BTreeSet<String> {
    let (network, _) = expand(survey).unwrap();
    let study = check::study(&network, &check::Options::default()).unwrap();
    let fails = study.findings.iter();
    fails
        .filter(|f| f.verdict == Verdict::Fails)
        .map(|f| format!("{} {:?}", f.check, f.subject))
        .collect()
}

/// For each stage of an order, which checks fail after it that passed before the work.
fn broken(found: &Upsize, order: &[&Change]) -> Vec<BTreeSet<String>> {
    let mut survey = found.survey().clone();
    let before = failing(&survey);
    let mut list = Vec::new();
    for change in order {
        change.apply(&mut survey);
        list.push(failing(&survey).difference(&before).cloned().collect());
    }
    list
}

/// The changes in the order of the stages.
fn in_order(found: &Upsize) -> Vec<&Change> {
    found.stages.iter().flat_map(|s| &s.changes).collect()
}

/// The changes, cheapest first.
fn by_price(found: &Upsize) -> Vec<&Change> {
    let best = found.best().unwrap();
    let sum = |n: usize| best.bills[n].iter().map(|l| l.money).sum::<i64>();
    let mut order: Vec<usize> = (0..best.changes.len()).collect();
    order.sort_by_key(|n| sum(*n));
    order.into_iter().map(|n| &best.changes[n]).collect()
}

fn words(found: &Upsize, order: &[&Change]) -> Vec<String> {
    order.iter().map(|c| c.words(found.survey())).collect()
}

/// As the file names them, as they cost, and as they help the head most: the wider trunk would come first, and be heard.
#[test]
fn the_first_written_and_the_cheapest_would_be_heard_and_the_order_found_is_not() {
    let found = planned(HEARD);
    let best = found.best().unwrap();
    let written: Vec<&Change> = best.changes.iter().collect();
    assert_eq!(
        words(&found, &written),
        [
            "trunk: cu22 becomes cu28",
            "valve of one: becomes thermostatic high flow kv 1.6"
        ]
    );
    assert_eq!(best.money, 9000);
    assert_eq!(by_price(&found), written);
    // both valves hear the whole of what the trunk no longer loses, until one of them is changed
    let heard = broken(&found, &written);
    assert!(
        !heard[0].is_empty() && heard[0].iter().all(|f| f.starts_with("valve-noise")),
        "{heard:?}"
    );
    let order = in_order(&found);
    assert_eq!(words(&found, &order), {
        let mut turned = words(&found, &written);
        turned.reverse();
        turned
    });
    assert!(broken(&found, &order).iter().all(BTreeSet::is_empty));
    assert!(found.stages.iter().all(|s| s.breaks.is_empty()));
    assert!(found.stages[1].failing.is_empty());
}

/// Cheapest first, the loop would lose more than the pump gives until the main home is wider.
#[test]
fn the_cheapest_would_leave_the_pump_short_and_the_order_found_does_not() {
    let found = planned(&narrowed(80.0));
    let cheapest = by_price(&found);
    assert_eq!(
        words(&found, &cheapest),
        [
            "ground, main between tees: cu22 becomes cu15",
            "ground, main home: cu22 becomes cu28"
        ]
    );
    let short = broken(&found, &cheapest);
    assert!(short[0].iter().any(|f| f.starts_with("head")), "{short:?}");
    let order = in_order(&found);
    assert!(broken(&found, &order).iter().all(BTreeSet::is_empty));
    assert!(found.stages.iter().all(|s| s.breaks.is_empty()));
}

/// Where the unit does not bear the flow that the wider main alone lets through, either order breaks something; the stage
/// that does so names it, in the report too.
#[test]
fn where_no_order_works_the_stage_that_breaks_a_check_names_it() {
    let text = narrowed(14.0);
    let found = planned(&text);
    let changes: Vec<&Change> = found.best().unwrap().changes.iter().collect();
    assert_eq!(changes.len(), 2);
    for order in [[changes[0], changes[1]], [changes[1], changes[0]]] {
        let list = broken(&found, &order);
        assert!(!list[0].is_empty() && list[1].is_empty(), "{list:?}");
    }
    let [first, last] = &found.stages[..] else {
        panic!("{:?}", found.stages)
    };
    assert_eq!(first.breaks, ["greatest flow of the source: hp"]);
    assert!(last.breaks.is_empty() && last.failing.is_empty());
    let said = super::cli::run(&text, &["upsize", "house.toml"]).out;
    assert!(said.contains("greatest flow of the source"), "{said}");
}
