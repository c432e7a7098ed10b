//! What differs between two houses or two states: what was changed is said, what was not is not.

use crate::cli::{HOUSE, World, run_in};
use crate::houses::looked_at;
use pipecarry::cli::Status;
use pipecarry::report::compare::{Side, text};

/// What is said of two texts.
fn said(a: &str, b: &str, more: &[&str]) -> String {
    let mut world = World::with("a.toml", a);
    world.files.insert("b.toml".into(), b.as_bytes().to_owned());
    let ran = run_in(
        &mut world,
        &[&["compare", "a.toml", "b.toml"], more].concat(),
    );
    assert_eq!(ran.status, Status::Holds, "{}", ran.err);
    let wide = ran.out.lines().find(|l| l.chars().count() > 80);
    assert_eq!(wide, None, "{}", ran.out);
    ran.out
}

/// Entries below a heading.
fn under<'a>(said: &'a str, heading: &str) -> Vec<&'a str> {
    let (_, rest) = said.split_once(&format!("{heading}\n")).expect(heading);
    let part = rest.split("\n\n").next().unwrap_or_default();
    part.split("  - ").skip(1).map(str::trim).collect()
}

fn house(name: &str) -> String {
    std::fs::read_to_string(format!("networks/{name}.toml")).unwrap()
}

#[test]
fn a_wider_primary_is_the_only_input_that_differs() {
    let said = said(&house("larch"), &house("larch-28"), &[]);
    let inputs = under(&said, "Inputs that differ");
    let pipes: Vec<&&str> = inputs.iter().filter(|l| l.starts_with("pair.")).collect();
    assert_eq!(pipes.len(), 1, "{said}");
    assert!(
        pipes[0].starts_with("pair.primary, 3: \"cu22 12m 10 elbow"),
        "{said}"
    );
    let found = under(&said, "Findings that differ");
    assert!(found.iter().all(|l| l.starts_with("gone: fails")), "{said}");
    for part in ["a.toml: it fails.", "b.toml: it holds."] {
        assert!(said.contains(part), "{part}:\n{said}");
    }
}

/// Whatever key of the file is changed, it is named; what that does to figures and findings follows.
#[test]
fn every_change_of_the_file_is_named() {
    for (from, to, input, also) in [
        (
            "thermostatic kv 0.9",
            "thermostatic kv 0.4",
            "emitter.lounge.valve: \"thermostatic kv 0.9\" → \"thermostatic kv 0.4\".",
            "lounge",
        ),
        (
            "6 m at 20 l/min",
            "5.5 m at 20 l/min",
            "source.\"heat pump\".free_head, 2: \"6 m at 20 l/min\" → \"5.5 m at 20 l/min\".",
            "Head on the index circuits",
        ),
        (
            "room = 20",
            "room = 22",
            "emitter.lounge.room: 20 → 22.",
            "lounge",
        ),
        (
            "cu28 5m 4 elbow",
            "cu28 5m 8 elbow",
            "pair.out, 3: \"cu28 5m 4 elbow\" → \"cu28 5m 8 elbow\".",
            "out F1",
        ),
        (
            "drop = \"5 K\"",
            "drop = \"7 K\"",
            "design.drop: \"5 K\" → \"7 K\".",
            "out F1",
        ),
        (
            "design =",
            "fluid = \"propylene glycol 25%\"\ndesign =",
            "fluid: not there → \"propylene glycol 25%\".",
            "out F1",
        ),
        (
            "least_flow = \"5 l/min\"",
            "least_flow = \"14 l/min\"",
            "source.\"heat pump\".least_flow: \"5 l/min\" → \"14 l/min\".",
            "new: fails",
        ),
    ] {
        let other = HOUSE.replacen(from, to, 1);
        assert_ne!(other, HOUSE, "{from}");
        let said = said(HOUSE, &other, &[]);
        let inputs = under(&said, "Inputs that differ");
        assert_eq!(inputs.len(), 1, "{said}");
        let flat = inputs[0].split_whitespace().collect::<Vec<_>>().join(" ");
        assert_eq!(flat, input, "{said}");
        assert!(said.contains(also), "{also}:\n{said}");
    }
}

#[test]
fn order_layout_and_remarks_are_no_difference() {
    // the pair before the source; emitters keep their order, which can tell the straight way of a tee
    let (head, rest) = HOUSE.split_once("[source").unwrap();
    let (source, rest) = rest.split_once("[pair]").unwrap();
    let (pair, emitters) = rest.split_once("[emitter]").unwrap();
    let other = format!("# another hand\n{head}[pair]{pair}\n\n[source{source}[emitter]{emitters}");
    let said = said(HOUSE, &other, &[]);
    for part in [
        "Inputs that differ\n  None.",
        "No run changes as duty requires.",
        "No emitter changes as the house runs.",
        "Findings that differ\n  None.",
    ] {
        assert!(said.contains(part), "{part}:\n{said}");
    }
}

#[test]
fn two_states_of_one_house_differ_in_what_they_carry() {
    let house = house("hyssop");
    let said = said(&house, &house, &["--then", "hot water"]);
    for part in [
        "a.toml [heating]",
        "b.toml [hot water]",
        "Inputs that differ\n  None.",
        "Runs as duty requires, that change",
    ] {
        assert!(said.contains(part), "{part}:\n{said}");
    }
    let found = under(&said, "Findings that differ");
    let of_heating = |l: &&&str| l.contains("[heating]") && l.starts_with("gone:");
    assert!(found.iter().filter(of_heating).count() >= 2, "{said}");
}

#[test]
fn the_marked_drawing_shows_what_the_pipe_was() {
    let mut world = World::with("a.toml", &house("larch"));
    world
        .files
        .insert("b.toml".into(), house("larch-28").into_bytes());
    let args = ["compare", "a.toml", "b.toml", "-o", "changes.svg"];
    let ran = run_in(&mut world, &args);
    assert_eq!(ran.status, Status::Holds, "{}", ran.err);
    assert!(ran.out.contains("Inputs that differ"), "{}", ran.out);
    let drawing = world.text("changes.svg");
    let page = roxmltree::Document::parse(&drawing).unwrap();
    let words: Vec<&str> = page.descendants().filter_map(|n| n.text()).collect();
    let has = |word: &str| words.iter().any(|w| w.trim() == word);
    assert!(
        has("was 22 Cu")
            && words
                .iter()
                .any(|w| w.starts_with("changed against a.toml")),
        "{words:?}"
    );
    // the other runs are not marked
    let mut was = words.iter().filter(|w| w.starts_with("was "));
    assert!(was.all(|w| *w == "was 22 Cu"), "{words:?}");
}

#[test]
fn hostile_names_are_inert() {
    let other = HOUSE
        .replace("lounge  =", "\"<b>\\u001b[31m=1+1</b>\" =")
        .replace("Test house", "\\u202e evil");
    let said = said(HOUSE, &other, &[]);
    assert!(!said.contains(['\u{1b}', '\u{202e}']), "{said}");
}

/// Cases that nobody wrote as text are compared by what they hold.
#[test]
fn houses_without_text_are_compared_by_their_networks() {
    let (a, b) = (looked_at("larch"), looked_at("larch-28"));
    let side = |study, name| Side {
        study,
        name,
        state: 0,
        source: None,
    };
    let said = text(side(&a, "a"), side(&b, "b"), &a.network.units);
    let inputs = under(&said, "Inputs that differ");
    assert_eq!(
        inputs,
        [
            "primary F1: 22 mm copper, 12.0 m → 28 mm copper, 12.0 m.",
            "primary R1: 22 mm copper, 12.0 m → 28 mm copper, 12.0 m.",
        ]
    );
}

/// A pair and an emitter of one name stay themselves when a pair before them shifts every number.
#[test]
fn a_second_pipe_is_all_that_is_marked_as_changed() {
    let before = r#"
[source.unit]
output = "5 kW"
free_head = ["6 m at 0 l/min", "3 m at 25 l/min"]

[pair]
trunk = ["unit", "hall", "cu22 6m 2 elbow"]
attic = ["hall", "top", "cu22 4m 2 elbow"]

[emitter]
hall  = { from = "hall", leg = "cu15 2m", rated = "2400 W", room = 21, needs = "900 W" }
attic = { from = "top", leg = "cu15 3m", rated = "2400 W", room = 21, needs = "900 W" }
"#;
    let beside = "[pair]\n\"trunk beside\" = [\"unit\", \"hall\", \"cu22 6m 2 elbow\"]\n";
    let after = before.replace("[pair]\n", beside);
    let mut world = World::with("a.toml", before);
    world.files.insert("b.toml".into(), after.into_bytes());
    let args = ["compare", "a.toml", "b.toml", "-o", "changes.svg"];
    let ran = run_in(&mut world, &args);
    assert!(
        ran.err.is_empty() || !ran.err.contains("error"),
        "{}",
        ran.err
    );
    let drawing = world.text("changes.svg");
    let told: Vec<&str> = drawing
        .lines()
        .filter(|l| l.contains("tspan") && l.contains("Changed "))
        .collect();
    assert_eq!(told.len(), 1, "{told:?}");
    let said = told[0].replace('\u{a0}', " ");
    assert!(said.contains("+ 22 Cu, 2.81 l/min, new"), "{told:?}");
}
