//! Each kind of change from the file to the changed file, the drawing and the list; objectives; what cannot be planned.

use super::cli::{World, run, run_in};
use pipecarry::cli::Status;
use serde_json::Value;

const A9: &str = include_str!("../data/stories/a9.toml");
const A11: &str = include_str!("../data/stories/a11.toml");

fn json(text: &str, more: &[&str]) -> Value {
    let args: Vec<&str> = ["upsize", "house.toml", "--json"]
        .iter()
        .chain(more)
        .copied()
        .collect();
    let ran = run(text, &args);
    serde_json::from_str(&ran.out).unwrap_or_else(|e| panic!("{e}: {}{}", ran.out, ran.err))
}

fn words(changes: &Value) -> Vec<String> {
    let list = changes.as_array().cloned().unwrap_or_default();
    list.iter()
        .filter_map(|c| c["what"].as_str().map(str::to_owned))
        .collect()
}

/// A trunk, a strainer, two rooms; a head that the trunk as it is does not leave.
fn house(head_kpa: f64, out: &str, prices: &str) -> String {
    format!(
        "job = \"Number three\"\ndesign = {{ flow_temperature = \"45 C\", drop = \"5 K\" }}\n\
         [source.hp]\nfree_head = [\"{head_kpa} kPa at 0 l/min\", \"{head_kpa} kPa at 90 l/min\"]\n\
         [pair]\nout = [\"hp\", \"cupboard\", \"{out}\"]   # where the dog sleeps\n\
         trunk = [\"cupboard\", \"hall\", \"cu22 9m 6 elbow under boards\"]   # seen from the hatch\n\
         [defaults]\nemitter = {{ leg = \"cu15 2m in sight\", valve = \"manual kv 2\" }}\n\
         [emitter]\na = {{ from = \"hall\", draws = \"3 kW\" }}\nb = {{ from = \"hall\", draws = \"3 kW\" }}\n\
         [limits]\nvelocity = \"2 m/s\"\n{prices}"
    )
}

/// Plans a house, writes the changed file and both drawings, and checks the changed file.
fn carried_out(text: &str) -> (String, String, String) {
    let mut world = World::with("house.toml", text);
    let args = ["upsize", "house.toml", "-o", "new.toml", "-o", "plan.svg"];
    let ran = run_in(&mut world, &args);
    assert_eq!(ran.status, Status::Holds, "{}{}", ran.out, ran.err);
    let new = world.text("new.toml");
    let checked = run(&new, &["check", "house.toml"]);
    assert_ne!(checked.status, Status::Fails, "{}\n{new}", checked.out);
    (new, world.text("plan.svg"), world.text("plan-before.svg"))
}

/// A second pipe beside the trunk, by its price and by the embedded prices, in every paper that a plan makes.
#[test]
fn a_second_pipe_beside_the_old_one() {
    let own = "[prices]\n\"trunk beside cu22\" = 190\n\"trunk cu28\" = 900\n\"out cu28\" = 900\n[plan]\nprices = \"own\"\n";
    let text = house(22.0, "cu22 5m", own);
    let out = json(&text, &[]);
    assert_eq!(
        words(&out["plan"]["changes"]),
        ["trunk: a second pipe, cu22, beside it"],
        "{out}"
    );
    assert_eq!(
        (&out["plan"]["money"], &out["proved"]),
        (&190.0.into(), &true.into())
    );
    let (new, after, before) = carried_out(&text);
    assert!(
        new.contains("\"trunk beside\" = [\"cupboard\", \"hall\", \"cu22 9m 6 elbow, 2 tee branch")
            && new.contains("# laid beside trunk")
            && new.contains("# seen from the hatch"),
        "{new}"
    );
    // the pipe beside which it lies tells of it, on both sides and in both drawings, and nothing is drawn apart
    let said = |drawing: &str, words: &str| drawing.replace('\u{a0}', " ").matches(words).count();
    assert!(
        said(&after, "+ 22 Cu, ") >= 2 && said(&after, " l/min, new") >= 2,
        "{after}"
    );
    assert!(said(&before, "to be 22 Cu + 22 Cu") >= 2, "{before}");
    assert_eq!(said(&after, "joins "), 0);
    // as priced by the embedded table, with what is to be bought
    let bought = house(
        22.0,
        "cu22 5m",
        "[plan]\nfamilies = [\"copper\"]\nleave = [\"out\"]\n[prices]\ncu28 = 400\ncu35 = 900\nbend = 500\n",
    );
    let out = json(&bought, &[]);
    let list = out["shopping"].to_string();
    assert!(
        list.contains("tee branch") && list.contains("\"laid_m\":18.0"),
        "{out}"
    );
}

/// A valve for which a freer one is on offer stands in a run that is too narrow as it is: the pipe decides, not the valve.
#[test]
fn a_valve_in_a_run_that_is_too_fast_keeps_no_plan_from_working() {
    let prices = "[prices]\n\"trunk cu28\" = 200\n\"out cu28\" = 120\n\"ball valve\" = 9\nstrainer = 85\n[plan]\nprices = \"own\"\n";
    let slow = |out: &str| {
        house(30.0, out, prices)
            .replace("velocity = \"2 m/s\"", "velocity = \"0.8 m/s\"")
            .replace("cu15 2m in sight", "cu28 2m in sight")
    };
    for devices in [
        "",
        ", strainer kv 9 on return, 2 isolating valve",
        ", globe valve",
    ] {
        let text = slow(&format!("cu22 5m{devices}"));
        let out = json(&text, &[]);
        let found = words(&out["plan"]["changes"]);
        for run in ["out", "trunk"] {
            assert!(
                found.contains(&format!("{run}: cu22 becomes cu28")),
                "{devices}: {out}"
            );
        }
        assert_eq!(out["plan"]["money"], 320.0, "{devices}: {out}");
        let offered = out["not_offered"].to_string();
        assert!(
            devices.is_empty() || !offered.contains("isolating valve in out"),
            "{offered}"
        );
        carried_out(&text);
    }
    // where nobody may touch the pipe it is the pipe that is named
    let left = slow("cu22 5m, 2 isolating valve")
        .replace("prices = \"own\"", "prices = \"own\"\nleave = [\"trunk\"]");
    let out = json(&left, &[]);
    assert_eq!(out["works"], false);
    let missing = out["missing"].to_string();
    assert!(!missing.contains("isolating valve"), "{missing}");
    // and said at once: no set need be looked at for that
    assert!(
        missing.contains("trunk") && missing.contains("the file says to leave it"),
        "{missing}"
    );
    assert_eq!(out["looked_at_in_full_and_failed"], 0);
}

/// A strainer of a freer pattern, with its comment kept and its mark in both drawings.
#[test]
fn a_freer_strainer() {
    let prices = "[prices]\nstrainer = 85\n\"trunk cu28\" = 900\n[plan]\nprices = \"own\"\n";
    let text = house(25.0, "cu28 3m, strainer kv 3.5 on return", prices);
    let out = json(&text, &[]);
    assert_eq!(
        words(&out["plan"]["changes"]),
        ["strainer in out: a freer one, kv 15"],
        "{out}"
    );
    assert_eq!(out["plan"]["money"], 85.0);
    assert!(out["shopping"].to_string().contains("strainer kv 15"));
    let (new, after, before) = carried_out(&text);
    assert!(
        new.contains("strainer kv 15 on return") && new.contains("# where the dog sleeps"),
        "{new}"
    );
    assert!(
        after.contains("strainer kv 3.5"),
        "the drawing after says what was"
    );
    assert!(
        before.contains("strainer kv 15"),
        "the drawing before says what is to be"
    );
}

/// New pipe with bends made in it where that, and only that, is enough.
#[test]
fn new_pipe_with_bends() {
    let own = "[prices]\ncu28 = 10\n\"work under boards\" = 5\n\"open under boards\" = 40\nelbow = 6\nbend = 9\ncu35 = 90\n\
               [plan]\nprices = \"own\"\nleave = [\"out\", \"a\", \"b\"]\n";
    let least = |kpa: f64| words(&json(&house(kpa, "cu28 1m", own), &[])["plan"]["changes"]);
    let found: Vec<Vec<String>> = (0..24).map(|k| least(10.0 + 0.25 * f64::from(k))).collect();
    let with = |what: &str| found.iter().filter(|f| f.iter().any(|w| w == what)).count();
    assert!(with("trunk: cu22 becomes cu28 with bends") > 0, "{found:?}");
    assert!(with("trunk: cu22 becomes cu28") > 0, "{found:?}");
}

/// A one-pipe loop whose last radiator is a little too small: more water through it, or another one.
#[test]
fn one_pipe_changes_move_the_flows_and_are_proved() {
    let text = "design = { flow_temperature = \"48 C\", drop = \"6 K\" }\n\
         [source.hp]\nfree_head = [\"30 kPa at 0 l/min\", \"30 kPa at 40 l/min\"]\n\
         [loop.ground]\nfrom = \"hp\"\nmain = [\"cu22 5m\", \"one\", \"cu22 5m\", \"two\", \"cu22 6m\"]\n\
         between = \"cu22 0.6m\"   # as the tees stand\ntee = \"plain\"\n\
         [defaults.emitter]\nleg = \"cu15 1m\"\nvalve = \"manual kv 2.5\"\nlockshield = \"none\"\nroom = 20\n\
         [emitter]\none = { rated = \"3400 W\", needs = \"1000 W\" }\ntwo = { rated = \"4100 W\", needs = \"1000 W\" }\n\
         [prices]\n\"ground cu15\" = 40\n\"one 22 600x2000\" = 400\n\"two 22 600x2400\" = 450\n\
         [plan]\nprices = \"own\"\n";
    let out = json(text, &[]);
    assert_eq!(
        words(&out["plan"]["changes"]),
        ["ground, main between tees: cu22 becomes cu15"],
        "{out}"
    );
    assert_eq!((&out["proved"], &out["gap"]), (&true.into(), &0.0.into()));
    assert!(out["moving"].to_string().contains("main between tees"));
    let (new, ..) = carried_out(text);
    assert!(
        new.contains("between = \"cu15 0.6m\"   # as the tees stand"),
        "{new}"
    );
}

/// Money, disruption, a mix of them, and every best trade between them.
#[test]
fn money_disruption_and_their_mix() {
    let own = "[prices]\n\"out cu28\" = 500\n\"trunk cu28\" = 200\n[plan]\nprices = \"own\"\n\
               [opening]\n\"hall floor\" = { runs = [\"trunk\"], price = 50, rooms = 2, days = 3 }\n\
               shed = { runs = [\"out\"], price = 0, rooms = 0, days = 1 }\n";
    let text = house(27.5, "cu22 9m 6 elbow", own);
    let plan = |more: &[&str]| {
        let out = json(&text, more);
        (
            out["plan"]["money"].as_f64().unwrap(),
            out["plan"]["room_days"].as_f64().unwrap(),
        )
    };
    assert_eq!(plan(&[]), (250.0, 6.0));
    assert_eq!(plan(&["--least", "disruption"]), (500.0, 0.0));
    // 250 more buy six room-days: worth it from 41.67 a room-day
    assert_eq!(plan(&["--least", "mix", "--room-day", "41"]), (250.0, 6.0));
    assert_eq!(plan(&["--least", "mix", "--room-day", "42"]), (500.0, 0.0));
    let out = json(&text, &["--frontier"]);
    let frontier: Vec<(f64, f64)> = out["frontier"]
        .as_array()
        .unwrap()
        .iter()
        .map(|p| {
            (
                p["room_days"].as_f64().unwrap(),
                p["money"].as_f64().unwrap(),
            )
        })
        .collect();
    assert_eq!(frontier, [(0.0, 500.0), (6.0, 250.0)]);
    let shown = run(&text, &["upsize", "house.toml", "--frontier"]).out;
    assert!(shown.contains("Between disruption and money"), "{shown}");
    assert!(shown.lines().all(|l| l.chars().count() <= 80), "{shown}");
}

/// Every stage leaves working what worked, and the last one leaves all of it.
#[test]
fn no_stage_breaks_what_worked() {
    let walled = A9
        .replace(
            "rated = \"4200 W\"",
            "wall = \"2400x700x200\", rated = \"4200 W\"",
        )
        .replace(
            "rated = \"1500 W\"",
            "wall = \"1600x700x200\", rated = \"1500 W\"",
        )
        .replace(
            "rated = \"800 W\"",
            "wall = \"1600x900x200\", rated = \"800 W\"",
        );
    for (text, least) in [(A11.to_owned(), 2), (walled, 3)] {
        let out = json(&text, &[]);
        let stages = out["stages"].as_array().unwrap();
        assert!(stages.len() >= least, "{out}");
        let mut failing = usize::MAX;
        for stage in stages {
            assert_eq!(stage["breaks"].as_array().unwrap().len(), 0, "{stage}");
            let now = stage["failing_checks"].as_array().unwrap().len();
            assert!(now <= failing, "{out}");
            failing = now;
        }
        assert_eq!(failing, 0);
    }
}

/// What makes no plan says so, each in its own words, and nothing is planned on a silent default.
#[test]
fn what_makes_no_plan_says_so() {
    let not_offered = |text: &str| json(text, &[])["not_offered"].to_string();
    // an opening that nobody priced is not taken as free
    let own =
        "[plan]\nprices = \"own\"\n[prices]\ncu28 = 10\n\"work under boards\" = 5\nelbow = 6\n";
    let text = house(17.0, "cu22 1m", own);
    assert!(
        not_offered(&text).contains("trunk: no price for `open under boards`"),
        "{}",
        not_offered(&text)
    );
    assert_eq!(json(&text, &[])["works"], false);
    let named = text.clone() + "[opening]\n\"hall floor\" = { runs = [\"trunk\"] }\n";
    assert!(
        not_offered(&named).contains("trunk: no price for opening `hall floor`"),
        "{}",
        not_offered(&named)
    );
    let free = named.replace("[\"trunk\"] }", "[\"trunk\"], price = 0 }");
    assert_eq!(
        json(&free, &[])["works"],
        true,
        "a stated nought is a price"
    );
    // a price missing
    let missing = house(
        17.0,
        "cu22 1m",
        "[plan]\nprices = \"own\"\n[prices]\ncu28 = 10\n",
    );
    assert!(not_offered(&missing).contains("trunk: no price for `work under boards`"));
    // negative, of another unit, of nothing
    for (price, says) in [
        ("cu28 = -10", "cannot be negative"),
        ("cu28 = \"10 per kg\"", "money per metre"),
        ("cu28 = \"ten\"", "money per metre"),
        ("\"loft cu28\" = 10", "nothing is known that"),
    ] {
        let ran = run(
            &house(17.0, "cu22 1m", &format!("[prices]\n{price}\n")),
            &["upsize", "house.toml"],
        );
        assert_eq!(ran.status, Status::Trouble, "{price}: {}", ran.out);
        let err = ran.err.to_lowercase();
        assert!(err.contains(says), "{price}: {}", ran.err);
    }
    // limits that nothing can keep, and limits that contradict each other outright
    let tight =
        house(30.0, "cu22 1m", "").replace("velocity = \"2 m/s\"", "velocity = \"0.05 m/s\"");
    let ran = run(&tight, &["upsize", "house.toml"]);
    assert_eq!(ran.status, Status::Fails);
    assert!(
        ran.out.contains("No plan within this catalogue works.")
            && ran.out.contains("the water still runs at"),
        "{}",
        ran.out
    );
    let both = house(30.0, "cu22 1m", "").replace(
        "velocity = \"2 m/s\"",
        "velocity = \"0.4 m/s\"\n\"low velocity\" = \"0.6 m/s\"",
    );
    let ran = run(&both, &["upsize", "house.toml"]);
    assert_ne!(ran.status, Status::Holds, "{}", ran.out);
    assert!(!(ran.out.clone() + &ran.err).is_empty());
    // a run that the file forbids to touch
    let left = house(17.0, "cu22 1m", "[plan]\nleave = [\"trunk\"]\n");
    assert!(not_offered(&left).contains("trunk: the file says to leave it"));
    // a radiator with no wall
    assert!(not_offered(A9).contains("no `wall` size"));
}

/// Works cost against flow temperature and drop: every step of the table, and running dearer the hotter the water.
#[test]
fn every_flow_temperature_and_drop() {
    let walled =
        A9.replace(
            "rated = \"4200 W\"",
            "wall = \"3000x700x200\", rated = \"4200 W\"",
        )
        .replace(
            "rated = \"1500 W\"",
            "wall = \"2400x700x200\", rated = \"1500 W\"",
        )
        .replace(
            "rated = \"800 W\"",
            "wall = \"2400x900x200\", rated = \"800 W\"",
        ) + "[plan]\nscop = 3.6\nslope = 2.0\nheat = \"9000 kWh\"\nper_kwh = 0.30\n";
    // one search for both forms
    let mut world = World::with("house.toml", &walled);
    let args = ["upsize", "house.toml", "--temperatures", "-o", "all.json"];
    let shown = run_in(&mut world, &args).out;
    let out: Value = serde_json::from_str(&world.text("all.json")).unwrap();
    let steps = out["temperatures"].as_array().unwrap();
    let at = |c: f64, k: f64| {
        let found = steps.iter().find(|s| s["flow_c"] == c && s["drop_k"] == k);
        found.unwrap_or_else(|| panic!("{c} {k}: {out}")).clone()
    };
    for k in [5.0, 6.0, 7.0, 8.0, 9.0, 10.0] {
        let mut last = (f64::INFINITY, 0.0);
        for c in [35.0, 40.0, 45.0, 50.0, 55.0] {
            let step = at(c, k);
            let works = step["works_money"].as_f64().unwrap_or(f64::INFINITY);
            let running = step["running_money_a_year"].as_f64().unwrap();
            assert!(works <= last.0 && running > last.1, "{c} {k}: {step}");
            last = (works, running);
            if works.is_infinite() {
                assert!(
                    step["missing"].as_str().is_some_and(|m| !m.is_empty()),
                    "{step}"
                );
            }
        }
    }
    // 3.6 · (1 + 2 %·(45 − 55)) = 2.88; 9000/2.88·0.30 = 937.50
    let step = at(55.0, 5.0);
    assert!((step["seasonal_efficiency"].as_f64().unwrap() - 2.88).abs() < 1e-9);
    assert_eq!(step["running_money_a_year"], 937.5);
    assert!(shown.contains("55.0 °C"), "{shown}");
    assert!(shown.lines().all(|l| l.chars().count() <= 80), "{shown}");
}

/// Results keep to the published schemas, and these are those of the types.
#[test]
fn results_keep_to_their_schemas() {
    let outputs = [
        ("upsize", json(A11, &["--frontier", "--temperatures"])),
        ("upsize", json(A9, &[])),
        (
            "upsize",
            json(
                &house(14.0, "cu22 5m, strainer kv 3.5 on return", ""),
                &["--larger-drop"],
            ),
        ),
        (
            "balance",
            serde_json::from_str(&run(A11, &["balance", "house.toml", "--json"]).out).unwrap(),
        ),
        (
            "balance",
            serde_json::from_str(
                &run(
                    include_str!("../../networks/hyssop.toml"),
                    &["balance", "house.toml", "--json"],
                )
                .out,
            )
            .unwrap(),
        ),
    ];
    for what in ["upsize", "balance"] {
        let published = std::fs::read_to_string(format!("src/report/{what}.schema.json")).unwrap();
        assert_eq!(published, run("", &["schema", what]).out, "schema {what}");
        let schema: Value = serde_json::from_str(&published).unwrap();
        let validator = jsonschema::draft202012::new(&schema).unwrap();
        for (_, out) in outputs.iter().filter(|(of, _)| *of == what) {
            let wrong: Vec<String> = validator
                .iter_errors(out)
                .map(|e| format!("{}: {e}", e.instance_path))
                .collect();
            assert!(wrong.is_empty(), "{what}: {wrong:#?}");
        }
        let mut other = outputs
            .iter()
            .find(|(of, _)| *of == what)
            .unwrap()
            .1
            .clone();
        other["surprise"] = Value::Bool(true);
        assert!(!validator.is_valid(&other), "{what}");
    }
}
