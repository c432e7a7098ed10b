//! The shopping list: its money comes to the plan's price in text, CSV and JSON, and what joins new pipe to old is counted.

use super::cli::{World, run_in};
use super::planning::{one_pipe, with_walls};
use serde_json::Value;

/// Of one run: text, the list as CSV, everything as JSON.
fn three_forms(text: &str) -> (String, String, Value) {
    let mut world = World::with("house.toml", text);
    let args = ["upsize", "house.toml", "-o", "list.csv", "-o", "all.json"];
    let said = run_in(&mut world, &args).out;
    let all = serde_json::from_str(&world.text("all.json")).unwrap();
    (said, world.text("list.csv"), all)
}

fn hundredths(money: f64) -> i64 {
    (money * 100.0).round() as i64
}

/// Rows of one kind with their pieces or metres.
fn counted(all: &Value, kind: &str) -> Vec<(String, f64)> {
    let rows = all["shopping"].as_array().unwrap().iter();
    rows.filter(|r| r["buy"] == kind)
        .map(|r| {
            let many = r["pieces"].as_f64().or(r["laid_m"].as_f64());
            let words = format!(
                "{} {}",
                r["what"].as_str().unwrap(),
                r["for_pipe"].as_str().unwrap()
            );
            (words.trim().to_owned(), many.unwrap())
        })
        .collect()
}

fn has(list: &[(String, f64)], what: &str, many: f64) {
    let found = list
        .iter()
        .any(|(w, n)| w == what && (*n - many).abs() < 1e-9);
    assert!(found, "{what} {many}: {list:?}");
}

#[test]
fn the_list_comes_to_the_price_of_the_plan_in_every_form() {
    let larch =
        include_str!("../../networks/larch.toml").replace("drop = \"5 K\"", "drop = \"3.75 K\"");
    let trunks = include_str!("../data/stories/a11.toml").to_owned();
    let texts = [
        larch,
        trunks,
        one_pipe(0, 5),
        one_pipe(1, 5),
        with_walls(3),
        with_walls(5),
    ];
    let mut planned = 0;
    for text in &texts {
        let (said, csv, all) = three_forms(text);
        let Some(money) = all["plan"]["money"].as_f64().filter(|m| *m > 0.0) else {
            continue;
        };
        planned += 1;
        let rows = all["shopping"].as_array().unwrap();
        let json: i64 = rows
            .iter()
            .map(|r| hundredths(r["money"].as_f64().unwrap()))
            .sum();
        assert_eq!(json, hundredths(money), "{rows:#?}");
        let mut reader = csv::Reader::from_reader(csv.as_bytes());
        let at = reader
            .headers()
            .unwrap()
            .iter()
            .position(|h| h == "money")
            .unwrap();
        let sheet: i64 = reader
            .records()
            .map(|r| hundredths(r.unwrap()[at].parse().unwrap()))
            .sum();
        assert_eq!(sheet, hundredths(money), "{csv}");
        let together = said
            .lines()
            .find(|l| l.trim_end().ends_with("together"))
            .unwrap();
        let figure: String = together
            .chars()
            .filter(|c| c.is_ascii_digit() || *c == '.')
            .collect();
        assert_eq!(
            hundredths(figure.parse().unwrap()),
            hundredths(money),
            "{together}"
        );
    }
    assert!(planned >= 5, "{planned}");
}

/// Counted by hand: 12 m of primary twice, its ten elbows; at the cupboard a tee on each side, at the unit a joint on each
/// side, and the strainer of 22 mm between two reducers; bars of 3 m.
#[test]
fn what_joins_new_pipe_to_old_is_counted() {
    let larch = include_str!("../../networks/larch.toml").to_owned()
        + "[prices]\n\"primary cu28\" = 700\n[plan]\nfamilies = [\"copper\"]\n";
    let (.., all) = three_forms(&larch);
    assert_eq!(all["plan"]["money"], 700.0, "{}", all["plan"]);
    has(&counted(&all, "pipe"), "cu28", 24.0);
    has(&counted(&all, "fitting"), "elbow cu28", 20.0);
    let joints = counted(&all, "joint");
    has(&joints, "tee cu28 x cu22 x cu22", 2.0);
    has(
        &joints,
        "connection of cu28 to a unit, a bar or a valve",
        2.0,
    );
    has(&joints, "reducer cu22 to cu28", 2.0);
    has(&joints, "coupling for cu28", 6.0);
}
