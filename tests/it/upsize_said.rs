//! What the answer to "what to change" says: real reasons, which emitter to change first, prices that are invented, guesses
//! that decide, the reader's own units, and no failure that reads as equality.

use super::cli::{THREE_CAUSES, World, run, run_in};
use pipecarry::cli::Status;
use serde_json::Value;

const A9: &str = include_str!("../data/stories/a9.toml");
const A11: &str = include_str!("../data/stories/a11.toml");
const BRACKEN: &str = include_str!("../../networks/bracken.toml");

/// Three of six radiators are too small, and their walls have room for more.
const WALLS: &str = r#"
job = "Rook House"
design = { flow_temperature = "45 C", drop = "5 K", outside = "-3 C" }
[source."heat pump"]
output = "7 kW"
free_head = ["6.0 m at 0 l/min", "5.1 m at 15 l/min", "3.6 m at 24 l/min"]
[pair]
out    = ["heat pump", "cupboard", "cu28 6m 6 elbow"]
ground = ["cupboard", "under hall", "cu22 6m 3 elbow under boards"]
riser  = ["cupboard", "landing", "cu22 7m 4 elbow"]
[defaults]
emitter = { valve = "thermostatic kv 0.9" }
[emitter]
lounge  = { from = "under hall", leg = "cu15 4m", panel = "22 600x1600", room = "21 C", needs = "1200 W", wall = "1800x600x170" }
kitchen = { from = "under hall", leg = "cu15 2m", panel = "22 600x1400", room = "18 C", needs = "850 W" }
hall    = { from = "under hall", leg = "cu15 1m", panel = "21 600x1200", room = "18 C", needs = "600 W", wall = "1300x700x120" }
"bed 1" = { from = "landing", leg = "cu15 5m", panel = "22 600x1400", room = "18 C", needs = "950 W", wall = "1800x600x170" }
"bed 2" = { from = "landing", leg = "cu15 3m", panel = "22 600x1000", room = "18 C", needs = "700 W", wall = "1200x700x120" }
bath    = { from = "landing", leg = "cu15 2m", rated = "1500 W", room = "22 C", needs = "450 W", wall = "1000x900x120" }
"#;

fn said(text: &str, more: &[&str]) -> String {
    let args: Vec<&str> = ["upsize", "house.toml"]
        .iter()
        .chain(more)
        .copied()
        .collect();
    let out = run(text, &args).out;
    assert!(out.lines().all(|l| l.chars().count() <= 80), "{out}");
    out
}

/// Words with line breaks as blanks.
fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn json(text: &str, more: &[&str]) -> Value {
    let args: Vec<&str> = ["upsize", "house.toml", "--json"]
        .iter()
        .chain(more)
        .copied()
        .collect();
    serde_json::from_str(&run(text, &args).out).unwrap()
}

fn list(of: &Value) -> &[Value] {
    of.as_array().map_or(&[], Vec::as_slice)
}

/// The ladder makes the plan's changes while they last, comes down to what the plan asks for, and has no row that buys
/// nothing.
#[test]
fn the_ladder_makes_the_changes_of_the_plan() {
    let out = json(WALLS, &[]);
    let changes: Vec<&str> = list(&out["plan"]["changes"])
        .iter()
        .filter_map(|c| c["what"].as_str())
        .collect();
    let rungs = list(&out["ladder"]);
    let planned: Vec<(usize, String)> = rungs
        .iter()
        .enumerate()
        .flat_map(|(i, r)| list(&r["emitters"]).iter().map(move |e| (i, e)))
        .filter(|(_, e)| e["of_plan"] == true)
        .map(|(i, e)| {
            (
                i,
                format!(
                    "radiator {}: becomes {}",
                    e["emitter"].as_str().unwrap(),
                    e["by"].as_str().unwrap()
                ),
            )
        })
        .collect();
    assert_eq!(planned.len(), 3);
    for (_, change) in &planned {
        assert!(
            changes.contains(&change.as_str()),
            "{change} in {changes:?}"
        );
    }
    for rung in rungs.iter().filter(|r| !r["then_c"].is_null()) {
        assert!(rung["buys_k"].as_f64().unwrap() >= 0.0999, "{rung}");
    }
    // once the plan's radiators are in, no room asks for more than the plan's last stage says
    let last = planned.iter().map(|(i, _)| *i).max().unwrap();
    let stage = list(&out["stages"]).last().unwrap();
    let (then_c, asks_c) = (
        rungs[last]["then_c"].as_f64().unwrap(),
        stage["asks_c"].as_f64().unwrap(),
    );
    assert!((then_c - asks_c).abs() < 1e-6, "{then_c} {asks_c}");
    // where nothing larger is on offer it goes on, with the output that one must have
    let yarrow = json(include_str!("../../networks/yarrow.toml"), &[]);
    let after = &list(&yarrow["ladder"])[1]["emitters"][0];
    assert_eq!(
        (&after["by"], &after["of_plan"]),
        (&Value::Null, &false.into())
    );
    let output = |key: &str| after[key].as_f64().unwrap();
    assert!(output("output_needed_w") > output("output_w"), "{after}");
    let words = flat(&said(WALLS, &[]));
    assert!(
        words.contains("Rows with (plan) are changes of the plan above.")
            && words.contains("It ends "),
        "{words}"
    );
}

/// A9 by hand: EN 442-2 at the mean of 55.8 °C (48.3 less half of 5 K is the next's inlet of 48.3 °C, mean 45.8 °C, in a room
/// of 22 °C): bath needs 500·(50/23.8)^1.3 = 1313 W in place of 800 W.
#[test]
fn without_walls_the_ladder_says_which_output_is_needed() {
    let out = json(A9, &[]);
    let bath = &out["ladder"][0]["emitters"][0];
    assert_eq!(
        (&bath["emitter"], &bath["by"]),
        (&"bath".into(), &Value::Null)
    );
    assert_eq!(bath["output_w"], 800.0);
    let (next_c, room_c) = (out["ladder"][1]["asks_c"].as_f64().unwrap(), 22.0);
    let needs = 500.0 * (50.0 / (next_c - 2.5 - room_c)).powf(1.3);
    let found = bath["output_needed_w"].as_f64().unwrap();
    assert!(
        (found - needs).abs() < 0.1 && (needs - 1313.0).abs() < 10.0,
        "{found} {needs}"
    );
    assert_eq!(out["ladder_ends"], "last");
    let words = flat(&said(A9, &[]));
    assert!(
        words.contains("in place of 800 W (no `wall` in the file)"),
        "{words}"
    );
    assert!(
        words.contains("It ends with lounge, which asks for 46.1 °C"),
        "{words}"
    );
}

/// Where a limit forces a choice, cheaper sets are shown all the same, with what each fails and by how much.
#[test]
fn near_misses_of_forced_choices_are_shown() {
    let out = json(WALLS, &[]);
    let (plan, cheaper) = (
        out["plan"]["money"].as_f64().unwrap(),
        list(&out["cheaper"]),
    );
    assert!(!cheaper.is_empty(), "{out}");
    let mut last = 0.0;
    for set in cheaper {
        assert!(set["money"].as_f64().unwrap() < plan, "{set}");
        assert!(set["short_k"].as_f64().unwrap() > 0.0, "{set}");
        let short = set["short_share"].as_f64().unwrap();
        assert!(short >= last, "nearest first: {set}");
        last = short;
        assert!(set["says"].as_str().unwrap().contains(" short"), "{set}");
    }
    // the next cheaper radiator of one wall alone: 45.04 °C where 45 °C are made
    assert!(
        cheaper[0]["short_k"].as_f64().unwrap() < 0.1,
        "{}",
        cheaper[0]
    );
    let words = said(WALLS, &[]);
    assert!(words.contains("Cheaper sets that come nearest"), "{words}");
    // a limit of velocity forces, too: the primaries of this house may not stay
    let larch = json(include_str!("../../networks/larch.toml"), &[]);
    let nothing = list(&larch["cheaper"]).iter().find(|c| c["money"] == 0.0);
    assert!(
        nothing.is_some_and(|c| c["over_pa"].as_f64().unwrap() > 0.0),
        "{larch}"
    );
}

/// Every amount of the invented currency bears the mark but nothing at all; prices of the file bear none.
#[test]
fn every_invented_price_is_marked() {
    let words = said(WALLS, &["--temperatures"]);
    for amount in words.split_whitespace().filter(|w| w.starts_with('¤')) {
        let figure = amount.trim_end_matches([',', '.', ':', ';', ')']);
        assert!(figure == "¤0" || figure.ends_with('*'), "{amount}: {words}");
    }
    let explained = "* rests on INVENTED prices, which nobody pays";
    assert_eq!(flat(&words).matches(explained).count(), 1, "{words}");
    let own = said(A11, &[]);
    assert!(own.contains("£680") && !own.contains('*'), "{own}");
    let (out, own) = (json(WALLS, &["--temperatures"]), json(A11, &[]));
    assert_eq!(out["plan"]["prices"], "invented");
    assert_eq!(out["seasonal"]["money_a_kwh_is"], "invented");
    for step in list(&out["temperatures"])
        .iter()
        .filter(|s| s["works_money"].as_f64() > Some(0.0))
    {
        assert_eq!(step["works_prices"], "invented", "{step}");
    }
    for set in list(&own["cheaper"])
        .iter()
        .chain([&own["plan"], &own["next_best"]])
    {
        assert_eq!(set["prices"], "the file's", "{set}");
    }
    // the opening of a place is invented, too
    let csv = run(
        include_str!("../../networks/larch.toml"),
        &["upsize", "house.toml", "--csv"],
    )
    .out;
    let opening = csv.lines().find(|l| l.starts_with("opening,"));
    assert!(opening.is_some_and(|l| l.ends_with(",invented")), "{csv}");
}

/// Temperatures at which no plan works say which emitter asks for how much; drops that say the same are one row, and the
/// JSON has every step.
#[test]
fn the_table_of_temperatures_gives_reasons_with_figures() {
    let out = json(WALLS, &["--temperatures"]);
    let steps = list(&out["temperatures"]);
    assert_eq!(steps.len(), 30);
    for step in steps.iter().filter(|s| s["works_money"].is_null()) {
        let missing = step["missing"].as_str().unwrap();
        assert!(
            missing.contains(" asks for ") && missing.contains(" and gets "),
            "{step}"
        );
    }
    let words = said(WALLS, &["--temperatures"]);
    let table: Vec<&str> = words
        .lines()
        .skip_while(|l| !l.starts_with("Cheapest complete plan"))
        .filter(|l| l.contains("°C ") && l.contains(" K "))
        .collect();
    assert!(
        table[0].contains("35.0 °C 5 to 10 K") && table[0].contains("none"),
        "{words}"
    );
    assert!(
        flat(&words).contains("asks for 43.4 °C and gets 35.0 °C"),
        "{words}"
    );
    assert!(
        !words.contains("heat that each room gets: lounge"),
        "{words}"
    );
    assert!(
        flat(&words).contains("plan 1 radiator lounge: becomes"),
        "{words}"
    );
}

/// The chart names lines at their ends, has the efficiency under each temperature and says where no plan works.
#[test]
fn the_chart_has_efficiency_and_where_no_plan_works() {
    let mut world = World::with("house.toml", WALLS);
    run_in(
        &mut world,
        &["upsize", "house.toml", "--temperatures", "-o", "plan.svg"],
    );
    let chart = world.text("plan-temperatures.svg");
    for words in [
        "efficiency",
        "4.38",
        "2.62",
        "no plan at",
        "5–10\u{a0}K",
        "no plan",
        "electricity a year",
        "invented prices",
    ] {
        assert!(
            chart.contains(&format!(">{words}<")) || chart.contains(words),
            "{words}"
        );
    }
    // leaders begin where the last temperature stands: right of all data
    let tree = roxmltree::Document::parse(&chart).unwrap();
    let paths = |class: &str| -> Vec<String> {
        let all = tree
            .descendants()
            .filter(|n| n.attribute("class") == Some(class));
        all.filter_map(|n| n.attribute("d").map(str::to_owned))
            .collect()
    };
    let x = |d: &str| -> f64 {
        d.trim_start_matches('M')
            .split(' ')
            .next()
            .unwrap()
            .parse()
            .unwrap()
    };
    let right = paths("o").iter().map(|d| x(d)).fold(0.0, f64::max);
    let leaders = paths("leader n");
    assert!(!leaders.is_empty());
    for leader in leaders {
        assert!(x(&leader) >= right - 1.7, "{leader} against {right}");
    }
}

/// A house that holds only if a guess is right is not said to need nothing without saying so.
#[test]
fn a_plan_that_rests_on_a_guess_says_so() {
    let ran = run(BRACKEN, &["upsize", "house.toml"]);
    assert_eq!(ran.status, Status::Fails);
    let words = flat(&ran.out);
    assert!(
        words.contains("Nothing need change IF the guesses in the file are right"),
        "{words}"
    );
    assert!(
        words.contains("look first at coil (taken as 10 x 0.6 mm copper)"),
        "{words}"
    );
    let out = json(BRACKEN, &[]);
    assert_eq!(out["rests_on"][0]["guess"], "coil");
    assert!(!list(&out["rests_on"][0]["checks"]).is_empty());
    // measured, it rests on nothing
    let known = BRACKEN.replace(
        "cu10x0.6 0.5 | cu10x0.7 0.2 | cu10x0.8 0.3 ?coil",
        "cu10x0.6",
    );
    let ran = run(&known, &["upsize", "house.toml"]);
    assert_eq!(ran.status, Status::Holds, "{}", ran.out);
    assert!(
        ran.out.contains("Nothing need change: every check"),
        "{}",
        ran.out
    );
}

/// A failure by a hair has as many digits as it takes.
#[test]
fn no_failure_reads_as_equality() {
    let asks = json(A9, &[])["ladder"][0]["asks_c"].as_f64().unwrap();
    let hair = A9.replace("\"45 C\"", &format!("\"{:.3} C\"", asks - 0.004));
    let ran = run(&hair, &["check", "house.toml"]);
    assert_eq!(ran.status, Status::Fails);
    let words = flat(&ran.out);
    let (_, rest) = words.split_once("bath asks for ").unwrap();
    let (asked, rest) = rest.split_once(" °C").unwrap();
    let (_, rest) = rest.split_once("the design makes ").unwrap();
    let (made, _) = rest.split_once(" °C").unwrap();
    assert!(
        asked.parse::<f64>().unwrap() > made.parse::<f64>().unwrap(),
        "{words}"
    );
    let missing = json(&hair, &[])["missing"].to_string();
    let (_, rest) = missing.split_once("bath asks for ").unwrap();
    let (asked, rest) = rest.split_once(" °C and gets ").unwrap();
    let (gets, _) = rest.split_once(" °C").unwrap();
    assert!(
        asked.parse::<f64>().unwrap() > gets.parse::<f64>().unwrap(),
        "{missing}"
    );
}

/// All of the text is in the reader's units, what is missing, what is to be bought and what fails included.
#[test]
fn the_text_keeps_to_the_units_of_the_reader() {
    let larch = include_str!("../../networks/larch.toml");
    let short = A11.replace("10.8 kPa", "1 kPa");
    for text in [larch, &short] {
        let words = flat(&said(
            text,
            &["--units", "gpm, pressure=ft, length=ft, F, BTU/h"],
        ));
        for other in [" kPa", " m of ", " m short", " °C", " l/min", " m/s", " m "] {
            assert!(!words.contains(other), "{other:?}: {words}");
        }
        assert!(words.contains(" ft"), "{words}");
    }
}

/// What a wider radiator means for its tails, and what is taken for granted of a wall, is said.
#[test]
fn tails_and_the_room_on_a_wall_are_not_passed_over() {
    let words = flat(&said(WALLS, &[]));
    assert!(
        words.contains("lounge (1600 mm now, then 1800 mm)")
            && words.contains("its tails must be moved"),
        "{words}"
    );
    assert!(
        words.contains("`wall` is taken as free for the radiator itself"),
        "{words}"
    );
    assert!(!said(A11, &[]).contains("`wall`"));
}

/// On a one-pipe main that sends a radiator too little water, that is said before a larger radiator is.
#[test]
fn a_radiator_short_of_water_is_told_from_one_too_small() {
    let words = flat(&said(THREE_CAUSES, &[]));
    assert!(
        words.contains(
            "lounge asks for 52.7 °C even with all the water of its main, and gets 45.0 °C"
        ),
        "{words}"
    );
    let (_, ladder) = words
        .split_once("What holds the flow temperature up")
        .unwrap();
    let (_, lounge) = ladder.split_once("lounge: ").unwrap();
    let (lounge, _) = lounge.split_once("first see to that").unwrap();
    assert!(
        lounge.contains("so little water") && lounge.ends_with("instead of 5 K: "),
        "{words}"
    );
    // bath hangs on a pair of its own: it is too small
    let (_, bath) = ladder.split_once("bath: ").unwrap();
    assert!(
        !bath[..bath.find("lounge").unwrap()].contains("water"),
        "{words}"
    );
}
