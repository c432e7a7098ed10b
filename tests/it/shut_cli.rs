//! Shut valves through the command line: the installer's and the designer's stories, drawings, bad input.

use pipecarry::cli::{Disk, Io, Status, run};
use serde_json::Value;
use std::path::PathBuf;

/// Runs `pipecarry shut` on a file of its own; what it printed and said.
fn shut(text: &str, more: &[&str]) -> (Status, String, String) {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("house.toml");
    std::fs::write(&file, text).unwrap();
    let file = file.to_string_lossy().into_owned();
    let mut args = vec!["pipecarry", "shut", &file];
    args.extend(more);
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let mut io = Io {
        out: &mut out,
        err: &mut err,
        files: &mut Disk,
        colour_out: false,
        colour_err: false,
    };
    let status = run(args.iter().map(Into::into).collect::<Vec<_>>(), &mut io);
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (status, text(&out), text(&err))
}

fn json(text: &str) -> (Status, Value) {
    let (status, out, said) = shut(text, &["--json"]);
    (
        status,
        serde_json::from_str(&out).unwrap_or_else(|e| panic!("{e}: {said}")),
    )
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or(f64::NAN)
}

#[track_caller]
fn near(what: &str, got: f64, want: f64, share: f64) {
    assert!(
        (got - want).abs() <= share * want.abs(),
        "{what}: {got}, worked {want}"
    );
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// 24 m of 22 mm 7.69 l, 80 m of 16 × 2 9.05 l, a radiator 6.2 l, the unit 3.5 l.
const WATER: &str = include_str!("../data/stories/shut-water.toml");
/// 6 kW at 45 °C through a four-port vessel, 14 l/min through the unit and 22 l/min through the house.
const FOUR_PORT: &str = include_str!("../data/stories/shut-four-port.toml");
/// Eight equal branches on a constant head of 35 kPa.
const EIGHT: &str = include_str!("../data/stories/shut-eight.toml");

#[test]
fn two_volume_rules_and_the_next_size() {
    let (status, house) = json(WATER);
    assert_eq!(status, Status::Fails);
    let rules = house["water_rules"].as_array().unwrap();
    let short = |rule: &str| {
        let found = rules.iter().find(|r| r["rule"] == rule).unwrap();
        number(&found["short_m3"]) * 1e3
    };
    near(
        "maker's water, short",
        short("maker's least water"),
        53.6,
        0.01,
    );
    near(
        "run time, short",
        short("least run at least output"),
        54.6,
        0.01,
    );
    near("next size", number(&house["vessel_m3"]), 0.060, 1e-9);
    let (_, text, _) = shut(WATER, &[]);
    assert!(
        one_line(&text).contains("The least run time governs: 55 l short"),
        "{text}"
    );
    assert!(
        text.contains("next size of volume vessel is 60 l"),
        "{text}"
    );
    // 3.2 kW in 7 l/min are 6.6 K, more than the band of 5 K: no vessel helps, and it says so
    assert!(one_line(&text).contains("no vessel helps"), "{text}");
}

#[test]
fn mixing_at_unequal_flows_both_ways() {
    let case = |text: &str| {
        let (_, house) = json(text);
        house["four_port"][0].clone()
    };
    let wide = case(FOUR_PORT);
    for (key, want) in [
        ("source_return_c", 38.80),
        ("emitters_c", 42.74),
        ("supply_lost_k", 2.26),
        ("mean_lost_k", 1.13),
    ] {
        assert!(
            (number(&wide[key]) - want).abs() < 0.02,
            "{key}: {}",
            wide[key]
        );
    }
    // 6 kW for 2066 h at 3.5, 2.5 %/K, load ratio 0.51: 12 396 kWh make 51 kWh of electricity
    near("a year", number(&wide["year_kwh"]), 51.0, 0.02);
    let swapped = FOUR_PORT
        .replace("held to 14", "held to ?")
        .replace("held to 22", "held to 14")
        .replace("held to ?", "held to 22");
    let narrow = case(&swapped);
    for (key, want) in [
        ("emitters_c", 45.0),
        ("emitters_return_c", 38.80),
        ("source_return_c", 41.05),
        ("supply_lost_k", 0.0),
        ("mean_lost_k", 1.13),
    ] {
        assert!(
            (number(&narrow[key]) - want).abs() < 0.02,
            "{key}: {}",
            narrow[key]
        );
    }
    let equal = case(&FOUR_PORT.replace("held to 14", "held to 22"));
    assert!(number(&equal["mean_lost_k"]).abs() < 1e-3);
}

#[test]
fn a_year_of_mixing_at_the_slope_and_efficiency_of_the_file() {
    // 12 000 kWh at 3.5, 2.5 %/K, 1.13 K on the mean, load ratio 0.51: 49 kWh, about 13 a year at 0.27
    let with = format!("{FOUR_PORT}\n[plan]\nheat = \"12000 kWh\"\nper_kwh = 0.27\n");
    let (_, house) = json(&with);
    let year = |house: &Value| number(&house["four_port"][0]["year_kwh"]);
    near("a year", year(&house), 49.4, 0.01);
    let (_, text, _) = shut(&with, &[]);
    assert!(
        one_line(&text).contains("mixing costs here is 13 a year"),
        "{text}"
    );
    // half the slope costs half, twice the efficiency half of that
    let other = with.replace("per_kwh", "slope = 1.25\nscop = 7\nper_kwh");
    near("a quarter", year(&json(&other).1), 49.4 / 4.0, 0.01);
}

#[test]
fn a_defrost_counts_the_water_of_the_way_that_the_diverter_opens() {
    let file = concat!(env!("CARGO_MANIFEST_DIR"), "/networks/hyssop.toml");
    let house = std::fs::read_to_string(file).unwrap();
    let (_, found) = json(&house);
    let rules = found["water_rules"].as_array().unwrap();
    let coil = rules
        .iter()
        .find(|r| r["rule"] == "one defrost" && !r["state"].is_null());
    let coil = coil.unwrap_or_else(|| panic!("{rules:?}"));
    // 28 mm copper holds 0.5391 l/m (26.2 mm): 6 m and 2 m, both ways, a coil of 8 l, the unit's 3.5 l
    near(
        "water to the coil",
        number(&coil["counts_m3"]) * 1e3,
        16.0 * 0.5391 + 8.0 + 3.5,
        0.02,
    );
    // 0.15 kWh at 8 K: 16 l (energy balance; its table has 16 l at 4.18 kJ/kg and 1 kg/l)
    near("asked", number(&coil["asked_m3"]) * 1e3, 16.2, 0.02);
    let (_, text, _) = shut(&house, &[]);
    assert!(
        text.contains("A defrost, with the diverter as it then stands"),
        "{text}"
    );
    assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
    // a floor of the return that mild weather's water does not reach
    let cold = house.replace("defrost_return = \"18 C\"", "defrost_return = \"35 C\"");
    let (_, text, _) = shut(&cold, &[]);
    assert!(text.contains("REFUSES TO DEFROST"), "{text}");
}

#[test]
fn the_published_schema_is_that_of_this_code_and_every_kind_of_house_keeps_to_it() {
    let published = include_str!("../../src/report/shut.schema.json");
    assert_eq!(pipecarry::report::json_shut::schema(), published);
    let schema: Value = serde_json::from_str(published).unwrap();
    let validator = jsonschema::validator_for(&schema).unwrap();
    let hyssop = concat!(env!("CARGO_MANIFEST_DIR"), "/networks/hyssop.toml");
    let hyssop = std::fs::read_to_string(hyssop).unwrap();
    for house in [WATER, FOUR_PORT, EIGHT, &hyssop, &everything_open()] {
        let (_, found) = json(house);
        let wrong: Vec<String> = validator
            .iter_errors(&found)
            .map(|e| e.to_string())
            .collect();
        assert!(wrong.is_empty(), "{wrong:?}");
        // figures carry their unit in their key
        assert_eq!(found["schema"], "pipecarry.shut");
    }
    // and it does refuse
    assert!(!validator.is_valid(&serde_json::json!({ "schema": "pipecarry.shut" })));
}

fn everything_open() -> String {
    EIGHT.replace(
        "lockshield = \"none\"\n[emitter]",
        "lockshield = \"none\"\nalways_open = true\n[emitter]",
    )
}

#[test]
fn eight_heads_and_a_valve_that_cannot_be_set() {
    let (status, house) = json(EIGHT);
    assert_eq!(status, Status::Fails);
    // any five shut trip, any four open are safe
    assert_eq!(
        house["smallest_tripping"].as_array().map(Vec::len),
        Some(56)
    );
    assert_eq!(house["smallest_safe"].as_array().map(Vec::len), Some(70));
    let (_, table, _) = shut(EIGHT, &["--csv"]);
    let mut by_open = [0.0_f64; 9];
    for row in table.lines().skip(1) {
        let mut cells = row.rsplit(',');
        let cells: Vec<&str> = cells.by_ref().collect();
        let open: usize = cells[11].parse().unwrap();
        by_open[open] = cells[10].parse::<f64>().unwrap() * 1e3 / 60.0;
    }
    for (open, printed) in [
        (8, 19.0),
        (6, 16.2),
        (5, 14.3),
        (4, 12.1),
        (3, 9.56),
        (1, 3.39),
    ] {
        near(&format!("{open} open"), by_open[open], printed, 0.005);
    }
    let first = &house["overflow"][0];
    near("node, kPa", number(&first["above_pa"]) / 1e3, 27.64, 0.002);
    assert_eq!(first["can_be_set"], false);
    near("kv", number(&first["kv_needed_m3_h"]), 17.5, 0.03);
    let (_, text, _) = shut(EIGHT, &[]);
    let text = one_line(&text);
    assert!(text.contains("cannot be set on this pump mode"), "{text}");
    assert!(text.contains("1.2 % above its least flow"), "{text}");
    // neither a single emitter more nor another pump mode helps here, and it says what does
    assert!(
        text.contains("More emitters always open do without it"),
        "{text}"
    );
}

#[test]
fn an_overflow_valve_that_is_always_open_is_found() {
    let with = format!(
        "{EIGHT}\n[bypass.auto]\nat = \"tee\"\nopening = \"2 kPa\"\nkv = 2\nleg = \"bore 20mm 0.1m\"\n"
    );
    let (status, house) = json(&with);
    assert_eq!(status, Status::Fails);
    assert_eq!(house["stands_open"][0]["name"], "auto");
    assert!(number(&house["stands_open"][0]["share"]) > 0.05);
    let (_, text, _) = shut(&with, &[]);
    assert!(
        one_line(&text).contains("`auto` STANDS OPEN WITH EVERY OTHER VALVE OPEN"),
        "{text}"
    );
    // set high enough it is not
    let (_, house) = json(&with.replace("opening = \"2 kPa\"", "opening = \"30 kPa\""));
    assert_eq!(house["stands_open"].as_array().map(Vec::len), Some(0));
}

#[test]
fn a_vessel_on_a_run_that_can_be_shut_is_found() {
    let with = WATER
        .replace("[emitter]", "up = [\"cupboard\", \"landing\", \"cu15 2m\"]\n[zone.upstairs]\non = [\"up\"]\n[vessel.volume]\nwater = \"50 l\"\non = \"up.return\"\n[emitter]")
        .replace("bed  = { from = \"cupboard\"", "bed  = { from = \"landing\", zone = \"upstairs\"");
    let (status, text, said) = shut(&with, &[]);
    assert_eq!(status, Status::Fails, "{said}");
    let text = one_line(&text);
    assert!(
        text.contains(
            "The volume vessel `volume` STANDS IN A RUN THAT CAN BE SHUT: with upstairs shut"
        ),
        "{text}"
    );
}

#[test]
fn everything_always_open_is_said() {
    let open = everything_open();
    assert_ne!(open, EIGHT);
    let (_, text, said) = shut(&open, &[]);
    assert!(
        one_line(&text).contains("Every emitter is marked always open"),
        "{text} {said}"
    );
}

#[test]
fn what_no_valve_can_help_is_said_as_such() {
    // no valve that can close
    let (status, text, said) = shut(
        &WATER.replace("valve = \"thermostatic kv 0.6\"", "valve = \"none\""),
        &[],
    );
    assert!(
        one_line(&text).contains("No valve of this house can close by itself"),
        "{text} {said}"
    );
    assert_eq!(status, Status::Fails, "the water is short all the same");
    // a least flow above what the pump gives with everything open
    let (status, text, said) = shut(&WATER.replace("\"2 l/min\"", "\"90 l/min\""), &[]);
    assert_eq!(status, Status::Fails, "{said}");
    assert!(
        one_line(&text).contains("THE UNIT TRIPS EVEN WITH EVERYTHING OPEN"),
        "{text}"
    );
    assert!(!text.contains("Smallest sets"), "{text}");
}

#[test]
fn remedies_are_solved_together() {
    // the bedroom stands behind a zone that shuts too: neither alone gives anything, both together do
    let behind = WATER
        .replace("[emitter]", "up = [\"cupboard\", \"landing\", \"cu15 2m\"]\n[zone.upstairs]\non = [\"up\"]\n[emitter]")
        .replace("bed  = { from = \"cupboard\"", "bed  = { from = \"landing\"")
        .replace("\"80 l\"", "\"30 l\"")
        .replace("least_run = \"10 min\"\n", "");
    let (_, house) = json(&behind);
    let open = &house["enough_water_if_open"];
    let state = &house["enough_water_state"];
    assert_eq!(open.as_array().map(Vec::len), Some(2), "{open}");
    assert!(number(&state["water_m3"]) >= 0.030, "{state}");
    let (_, text, _) = shut(&behind, &[]);
    assert!(one_line(&text).contains("Nothing comes of"), "{text}");
}

#[test]
fn drawings_and_charts_of_a_chosen_state() {
    let folder = tempfile::tempdir().unwrap();
    let name = |n: &str| folder.path().join(n).to_string_lossy().into_owned();
    let (drawing, chart) = (name("state.svg"), name("chart.svg"));
    let args = ["--state", "bed", "--svg", &drawing, "--chart", &chart];
    let (_, _, said) = shut(WATER, &args);
    let svg = std::fs::read_to_string(&drawing).unwrap_or_else(|_| panic!("{said}"));
    let words = svg.replace('\u{a0}', " ");
    assert!(words.contains("all that can close"), "the state is named");
    let plots: Vec<String> = ["chart.svg", "chart-2.svg", "chart-3.svg"]
        .iter()
        .map(|n| std::fs::read_to_string(PathBuf::from(name(n))).unwrap())
        .collect();
    assert!(plots[0].contains("trips under") && plots[0].contains("valves open"));
    assert!(plots[1].contains("starts an hour") && plots[2].contains("run, min"));
    // drawn again over our own, byte for byte the same
    shut(WATER, &args);
    assert_eq!(std::fs::read_to_string(&drawing).unwrap(), svg);
    // a name that nothing has
    let (status, _, said) = shut(WATER, &["--state", "bad"]);
    assert_ne!(status, Status::Holds);
    assert!(said.contains("did you mean `bed`?"), "{said}");
}

#[test]
fn an_interruption_leaves_nothing_half_written() {
    // what is written is put out after all is known: a refused second file leaves the first untouched too
    let folder = tempfile::tempdir().unwrap();
    let kept = folder.path().join("kept.svg");
    std::fs::write(&kept, "<svg>somebody's own</svg>").unwrap();
    let report = folder.path().join("report.txt");
    let (kept, report) = (kept.to_string_lossy(), report.to_string_lossy());
    let (status, out, said) = shut(WATER, &["-o", &report, "--svg", &kept]);
    assert_eq!((status, out.as_str()), (Status::Trouble, ""), "{said}");
    assert!(!std::path::Path::new(&*report).exists());
}

/// Ctrl-C in the middle of 65 536 combinations ends the program by the signal and leaves nothing half written.
#[cfg(unix)]
#[test]
fn an_interruption_leaves_nothing_behind() {
    use std::os::unix::process::ExitStatusExt;
    use std::process::{Command, Stdio};
    let folder = tempfile::tempdir().unwrap();
    let house = include_str!("../data/houses/sixteen.toml");
    std::fs::write(folder.path().join("house.toml"), house).unwrap();
    let child = Command::new(env!("CARGO_BIN_EXE_pipecarry"))
        .current_dir(folder.path())
        .args(["shut", "house.toml", "--csv", "-o", "states.csv"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    std::thread::sleep(std::time::Duration::from_millis(500));
    let sent = Command::new("kill")
        .args(["-INT", &child.id().to_string()])
        .status()
        .unwrap();
    assert!(sent.success());
    let ended = child.wait_with_output().unwrap();
    assert_eq!(ended.status.signal(), Some(2), "{ended:?}");
    assert!(ended.stdout.is_empty(), "{ended:?}");
    let left: Vec<_> = std::fs::read_dir(folder.path())
        .unwrap()
        .map(|entry| entry.unwrap().file_name())
        .collect();
    assert_eq!(left, ["house.toml"]);
}
