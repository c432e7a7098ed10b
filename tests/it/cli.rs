//! The program as its user runs it: exit codes, files kept and whole, failures of the outside world, hostile names.
//!
//! Most cases run the shell in this process with a made-up world; a few run the real program.

pub(crate) use crate::world::{HOUSE, Ran, World, run_in};
use pipecarry::cli::{self, Io, Status};
use std::collections::BTreeSet;
use std::io::{self, ErrorKind, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use unicode_width::UnicodeWidthStr;

/// A house whose pipes are too narrow.
fn narrow() -> String {
    HOUSE.replace("cu28 5m", "cu10 25m")
}

pub(crate) fn run(text: &str, args: &[&str]) -> Ran {
    run_in(&mut World::with("house.toml", text), args)
}

fn writes(out: &mut dyn Write, text: &str, args: &[&str]) -> (Status, String) {
    let mut world = World::with("house.toml", text);
    let mut err = Vec::new();
    let mut io = Io {
        out,
        err: &mut err,
        files: &mut world,
        colour_out: false,
        colour_err: false,
    };
    let all = std::iter::once("pipecarry").chain(args.iter().copied());
    let status = cli::run(all.map(Into::into), &mut io);
    (status, String::from_utf8(err).unwrap())
}

#[test]
fn exit_codes() {
    let guess = HOUSE.replace("cu28 5m 4 elbow", "bore 5..20mm 5m");
    let lacking = HOUSE.replace("defrost_flow = \"5 l/min\"\n", "");
    for (what, text, args, code) in [
        ("holds", HOUSE.to_owned(), &["check", "house.toml"][..], 0),
        (
            "holds, strict",
            HOUSE.to_owned(),
            &["check", "house.toml", "--strict"],
            0,
        ),
        (
            "holds, one not shown",
            lacking.clone(),
            &["check", "house.toml"],
            0,
        ),
        (
            "holds, one not shown, strict",
            lacking,
            &["check", "house.toml", "--strict"],
            1,
        ),
        ("fails", narrow(), &["check", "house.toml"], 1),
        ("depends", guess, &["check", "house.toml"], 1),
        (
            "a mistake",
            HOUSE.replace("cu28", "cu29"),
            &["check", "house.toml"],
            2,
        ),
        ("no such file", HOUSE.to_owned(), &["check", "hous.toml"], 2),
        (
            "no such option",
            HOUSE.to_owned(),
            &["check", "house.toml", "--colour"],
            2,
        ),
        (
            "no such command",
            HOUSE.to_owned(),
            &["chek", "house.toml"],
            2,
        ),
        ("help", HOUSE.to_owned(), &["--help"], 0),
        ("version", HOUSE.to_owned(), &["--version"], 0),
    ] {
        let ran = run(&text, args);
        assert_eq!(ran.status.code(), code, "{what}\n{}\n{}", ran.out, ran.err);
        assert_eq!(
            ran.out.is_empty(),
            code == 2,
            "{what}: results go to standard output alone"
        );
    }
}

#[test]
fn the_first_lines_say_what_the_person_wanted_to_know() {
    let ran = run(&narrow(), &["check", "house.toml"]);
    let first: String = ran.out.lines().take(8).collect::<Vec<_>>().join(" ");
    for word in [
        "Test house: it fails",
        "index circuit",
        "needs",
        "gives",
        "limiting run is out F1/R1",
        "decides",
    ] {
        assert!(first.contains(word), "{word} is missing:\n{}", ran.out);
    }
}

/// A floor that draws at its own drop, guesses that do not matter, a heating circuit that waits for hot water.
#[test]
fn the_words_are_true_of_a_messy_house() {
    let burdock = include_str!("../../networks/burdock.toml");
    let said = run(burdock, &["check", "house.toml"]).out;
    // 12 kW by 32.0 l/min of water at 47 C: 12000 / (0.528 kg/s * 4180 J/kgK) = 5.4 K
    for words in [
        "32.0 l/min, and 5.4 K across the unit",
        "Guesses that turn no verdict\n  - north: old",
        "the emitters stand still meanwhile",
        "Only 2.7 K is left.",
    ] {
        assert!(said.contains(words), "`{words}` is missing in\n{said}");
    }
    assert!(
        !said.contains("pump of kitchen pump: 0"),
        "a pump that stands still is no news"
    );
}

/// The sheet counts findings as the report does.
#[test]
fn report_and_sheet_count_alike() {
    let larch = include_str!("../../networks/larch.toml");
    let said = run(larch, &["check", "house.toml"]).out;
    let drawn = run(larch, &["draw", "house.toml"]).out;
    assert!(said.contains("2 fail, 51 hold"), "{said}");
    assert!(drawn.contains("Checks: 2 fail, 0 depend, 0 tight, 51 hold"));
}

/// The same finding in several rooms is one paragraph with the figure of each; numbers go on as counted.
#[test]
fn like_findings_are_said_once() {
    let cold = include_str!("../../networks/larch-28.toml")
        .replace("flow_temperature = \"50 C\"", "flow_temperature = \"38 C\"");
    let said = run(&cold, &["check", "house.toml"]).out;
    let words: String = said.split_whitespace().collect::<Vec<_>>().join(" ");
    let (first, rest) = words.split_once(" asks for ").expect("rooms ask for more");
    let last = first.split_whitespace().rev().nth(2).expect("a range");
    assert!(
        last.contains('-'),
        "several rooms are numbered as a range: {last}\n{said}"
    );
    let same = rest.split("The same of ").nth(1).expect("the others");
    let same = same.split(". To do").next().expect("an end");
    let listed = same.matches(" °C)").count();
    let (from, to) = last.split_once('-').expect("a range");
    let count = to.parse::<usize>().expect("a number") - from.parse::<usize>().expect("a number");
    assert_eq!(listed, count, "{same}");
    assert_eq!(
        words.matches(" asks for ").count(),
        2,
        "once as a finding, once over the table"
    );
}

/// A radiator too small, radiators that their tees send little water, and a floor fed too cool.
pub(crate) const THREE_CAUSES: &str = r#"
job = "Three causes"
design = { flow_temperature = "45 C", drop = "5 K", outside = "-3 C" }
defaults = { emitter = { valve = "thermostatic kv 0.9" } }
[source.unit]
output = "9 kW"
free_head = ["7 m at 0 l/min", "6 m at 20 l/min", "5 m at 30 l/min"]
[pair]
out = ["unit", "hall", "cu28 5m 4 elbow"]
[manifold.floor]
from = "hall"
leg = "cu22 3m"
blend = "33 C"
pump = ["5 m at 0 l/min", "3.5 m at 15 l/min", "0.5 m at 25 l/min"]
port = "kv 1.2"
[loop.ground]
from = "hall"
main = ["cu22 4m", "lounge", "cu22 5m", "study", "cu22 7m"]
between = "cu22 0.6m"
[emitter]
kitchen = { from = "floor", loop = "ml16 80m", area = "9 m2", spacing = "150 mm", covering = "0.02 m2K/W", room = 20, needs = "650 W" }
lounge = { panel = "22 600x1600", room = 20, needs = "1000 W" }
study = { panel = "22 600x1600", room = 20, needs = "900 W" }
bath = { from = "hall", leg = "cu15 2m", panel = "11 600x400", room = 22, needs = "450 W" }
"#;

#[test]
fn a_room_is_cold_for_a_reason_and_the_remedy_is_that_of_the_reason() {
    let out = run(THREE_CAUSES, &["check", "house.toml"]).out;
    let words = out.split_whitespace().collect::<Vec<_>>().join(" ");
    for (who, cause, remedy) in [
        (
            "bath asks for",
            "at the heat source to give",
            "To do: fit a larger emitter",
        ),
        (
            "lounge asks for",
            "with so little water that it cools by",
            "To do: let more water through it",
        ),
        (
            "kitchen asks its manifold for",
            "it mixes down to 33.0 °C",
            "To do: raise the temperature",
        ),
    ] {
        let at = words.find(who).unwrap_or_else(|| panic!("{who}: {out}"));
        let said = &words[at..];
        let said = &said[..said.find("To do:").expect("a remedy") + remedy.len()];
        assert!(said.contains(cause) && said.ends_with(remedy), "{said}");
    }
}

#[test]
fn every_line_fits_80_columns_without_colour() {
    let networks = Path::new(env!("CARGO_MANIFEST_DIR")).join("networks");
    let mut files: Vec<PathBuf> = std::fs::read_dir(networks)
        .unwrap()
        .map(|e| e.unwrap().path())
        .collect();
    files.sort();
    assert!(files.len() >= 8);
    for path in files
        .iter()
        .filter(|p| p.extension().is_some_and(|e| e == "toml"))
    {
        let ran = run(
            &std::fs::read_to_string(path).unwrap(),
            &["check", "house.toml"],
        );
        assert_ne!(
            ran.status,
            Status::Trouble,
            "{}: {}",
            path.display(),
            ran.err
        );
        for line in ran.out.lines() {
            assert!(
                line.width() <= 80,
                "{}: {} columns\n{line}",
                path.display(),
                line.width()
            );
            assert!(
                !line.contains('\u{1b}') && !line.ends_with(' '),
                "{}: {line:?}",
                path.display()
            );
        }
    }
}

#[test]
fn figures_are_shown_in_the_units_asked_for() {
    let ran = run(
        HOUSE,
        &[
            "check",
            "house.toml",
            "--units",
            "m3/h, mbar, W, F, length=ft",
        ],
    );
    for word in ["m3/h", "mbar", " W", "°F", "ft"] {
        assert!(ran.out.contains(word), "{word}\n{}", ran.out);
    }
    assert!(
        !ran.out.contains("l/min") && !ran.out.contains("kPa"),
        "{}",
        ran.out
    );
    let json = run(HOUSE, &["check", "house.toml", "--json"]).out;
    let other = run(
        HOUSE,
        &["check", "house.toml", "--json", "--units", "gpm, ft/s"],
    )
    .err;
    assert!(other.contains("cannot be shown"), "{other}");
    let same = run(
        HOUSE,
        &["check", "house.toml", "--json", "--units", "gpm, F"],
    )
    .out;
    assert_eq!(json, same, "programs always read the same units");
}

#[test]
fn one_state_alone() {
    let ran = run(HOUSE, &["check", "house.toml", "--state", "heting"]);
    assert_eq!(ran.status, Status::Trouble);
    assert!(ran.err.contains("did you mean `heating`"), "{}", ran.err);
    let ran = run(
        HOUSE,
        &[
            "check",
            "house.toml",
            "--state",
            "heating",
            "--unset",
            "open",
        ],
    );
    assert!(
        ran.out.contains("Lockshields stand fully open"),
        "{}",
        ran.out
    );
}

#[test]
fn json_keeps_its_schema() {
    let schema: serde_json::Value =
        serde_json::from_str(include_str!("../../src/report/check.schema.json")).unwrap();
    let validator = jsonschema::validator_for(&schema).unwrap();
    let networks = Path::new(env!("CARGO_MANIFEST_DIR")).join("networks");
    for name in ["larch.toml", "comfrey.toml", "hyssop.toml"] {
        let text = std::fs::read_to_string(networks.join(name)).unwrap();
        let ran = run(&text, &["check", "house.toml", "--json"]);
        let value: serde_json::Value = serde_json::from_str(&ran.out).expect(&ran.err);
        let errors: Vec<String> = validator
            .iter_errors(&value)
            .map(|e| e.to_string())
            .collect();
        assert!(errors.is_empty(), "{name}: {errors:?}");
        let keys: Vec<&String> = value.as_object().unwrap().keys().collect();
        for key in [
            "schema", "version", "verdict", "assumed", "findings", "runs", "emitters", "source",
            "index",
        ] {
            assert!(keys.iter().any(|k| *k == key), "{name}: {key}");
        }
        for index in value["index"].as_array().unwrap() {
            let parts = index["breakdown"].as_array().unwrap();
            let sum: f64 = parts.iter().map(|p| p["loss_pa"].as_f64().unwrap()).sum();
            let needed = index["needed_pa"].as_f64().unwrap();
            assert!(
                (sum - needed).abs() <= 1e-5 * needed.abs().max(1.0),
                "{name}: {sum} {needed}"
            );
        }
        let mut broken = value.clone();
        broken["verdict"] = "green".into();
        assert!(
            !validator.is_valid(&broken),
            "the schema tells a wrong result from a right one"
        );
    }
    let printed = run(HOUSE, &["schema", "check"]).out;
    assert_eq!(
        printed,
        include_str!("../../src/report/check.schema.json"),
        "run: pipecarry schema check -o …"
    );
}

#[test]
fn csv_carries_units_in_its_headings() {
    for (table, begins, rows) in [
        ("runs", "run,name,side,kind,pipe,bore_mm,length_m,", 6),
        ("emitters", "emitter,kind,room,room_c,duty_w,", 2),
    ] {
        let ran = run(HOUSE, &["check", "house.toml", "--csv", table]);
        assert!(ran.out.starts_with(begins), "{}", ran.out);
        let mut reader = csv::Reader::from_reader(ran.out.as_bytes());
        let wide = reader.headers().unwrap().len();
        let all: Vec<csv::StringRecord> = reader.records().map(|r| r.unwrap()).collect();
        assert_eq!(all.len(), rows, "{}", ran.out);
        assert!(all.iter().all(|r| r.len() == wide));
    }
}

#[test]
fn a_file_that_is_not_ours_is_kept() {
    for name in ["notes.txt", "plan.svg", "data.json", "rows.csv"] {
        let mut world = World::with("house.toml", HOUSE);
        world
            .files
            .insert(name.into(), b"my own work, Made by pipecarry? no".to_vec());
        let ran = run_in(&mut world, &["check", "house.toml", "-o", name]);
        assert_eq!(ran.status, Status::Trouble, "{name}");
        assert!(
            ran.err.contains("was not made by pipecarry: it is kept"),
            "{}",
            ran.err
        );
        assert!(world.text(name).starts_with("my own work"), "{name}");
        let ran = run_in(&mut world, &["check", "house.toml", "-o", name, "--force"]);
        assert_eq!(ran.status, Status::Holds, "{}", ran.err);
        assert!(!world.text(name).contains("my own work"), "{name}");
        // what is ours may be made anew
        let ran = run_in(&mut world, &["check", "house.toml", "-o", name]);
        assert_eq!(ran.status, Status::Holds, "{name}: {}", ran.err);
    }
}

#[test]
fn the_input_is_never_written_over() {
    let mut world = World::with("house.toml", HOUSE);
    for command in ["check", "draw"] {
        let ran = run_in(
            &mut world,
            &[command, "house.toml", "-o", "house.toml", "--force"],
        );
        assert_eq!(ran.status, Status::Trouble);
        assert_eq!(world.text("house.toml"), HOUSE);
    }
    let ran = run_in(&mut world, &["new", "-o", "house.toml"]);
    assert_eq!(
        ran.status,
        Status::Trouble,
        "a starter never replaces a house"
    );
    assert_eq!(world.text("house.toml"), HOUSE);
}

#[test]
fn a_mistake_touches_no_file() {
    let mut world = World::with("house.toml", &HOUSE.replace("cu28", "cu29"));
    let ran = run_in(
        &mut world,
        &["check", "house.toml", "-o", "a.txt", "-o", "a.svg"],
    );
    assert_eq!(ran.status, Status::Trouble);
    assert_eq!(world.files.len(), 1);
    for word in ["house.toml", "cu29", "did you mean `cu22`"] {
        assert!(ran.err.contains(word), "{}", ran.err);
    }
}

#[test]
fn one_command_answers_and_draws() {
    let mut world = World::with("house.toml", HOUSE);
    let ran = run_in(
        &mut world,
        &["check", "house.toml", "-o", "a.svg", "-o", "a.json"],
    );
    assert_eq!(ran.status, Status::Holds, "{}", ran.err);
    assert!(ran.out.starts_with("Test house: it holds"), "{}", ran.out);
    roxmltree::Document::parse(&world.text("a.svg")).unwrap();
    assert!(
        world
            .text("a.json")
            .starts_with("{\n  \"schema\": \"pipecarry.check\"")
    );
    let drawn = run_in(&mut world, &["draw", "house.toml"]);
    assert_eq!(
        drawn.out,
        world.text("a.svg"),
        "both commands draw the same"
    );
}

#[test]
fn what_cannot_be_read_is_said_plainly() {
    for (what, bytes, says) in [
        ("binary", b"job = \"a\"\0\0".to_vec(), "is not a text file"),
        (
            "not UTF-8",
            b"job = \"caf\xe9\"\n".to_vec(),
            "line 1 holds a byte that is none",
        ),
        ("UTF-16", b"\xff\xfej\0".to_vec(), "UTF-16"),
        (
            "too large",
            vec![b' '; 50 * 1024 * 1024 + 1],
            "larger than 50 MB",
        ),
        ("empty", Vec::new(), "house.toml"),
    ] {
        let mut world = World::default();
        world.files.insert("house.toml".into(), bytes);
        let ran = run_in(&mut world, &["check", "house.toml"]);
        assert_eq!(ran.status, Status::Trouble, "{what}");
        assert!(ran.err.contains(says), "{what}: {}", ran.err);
    }
    for (kind, says) in [
        (ErrorKind::NotFound, "there is no file house.toml"),
        (ErrorKind::PermissionDenied, "may not be read"),
        (ErrorKind::IsADirectory, "is a folder"),
        (ErrorKind::Other, "cannot be read"),
    ] {
        let mut world = World::with("house.toml", HOUSE);
        world.unreadable.insert("house.toml".into(), kind);
        let ran = run_in(&mut world, &["check", "house.toml"]);
        assert_eq!(ran.status, Status::Trouble);
        assert!(ran.err.contains(says), "{}", ran.err);
    }
}

#[test]
fn what_cannot_be_written_is_said_plainly() {
    for (kind, says) in [
        (ErrorKind::StorageFull, "the disk is full"),
        (ErrorKind::PermissionDenied, "does not permit it"),
        (ErrorKind::NotFound, "its folder does not exist"),
        (ErrorKind::Other, "was not written"),
    ] {
        let mut world = World::with("house.toml", HOUSE);
        world.unwritable.insert("a.txt".into(), kind);
        let ran = run_in(&mut world, &["check", "house.toml", "-o", "a.txt"]);
        assert_eq!(ran.status, Status::Trouble);
        assert!(ran.err.contains(says), "{}", ran.err);
        assert!(!world.files.contains_key(Path::new("a.txt")));
    }
}

/// Standard output that fails after some bytes.
struct Failing(ErrorKind, usize);

impl Write for Failing {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        if self.1 == 0 {
            return Err(self.0.into());
        }
        let n = bytes.len().min(self.1);
        self.1 -= n;
        Ok(n)
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

#[test]
fn a_closed_pipe_is_no_trouble_and_a_full_disk_is() {
    for room in [0, 1, 100] {
        let (status, err) = writes(
            &mut Failing(ErrorKind::BrokenPipe, room),
            &narrow(),
            &["check", "house.toml"],
        );
        assert_eq!((status, err.as_str()), (Status::Holds, ""));
        let (status, err) = writes(
            &mut Failing(ErrorKind::StorageFull, room),
            HOUSE,
            &["check", "house.toml"],
        );
        assert_eq!(status, Status::Trouble);
        assert!(err.contains("not printed whole: the disk is full"), "{err}");
    }
}

#[test]
fn hostile_names_are_harmless_everywhere() {
    let long = "x".repeat(5000);
    for name in [
        "<script>alert(1)</script>",
        "a\"b'c",
        "line\nbreak",
        "=1+1",
        "\u{1b}[31mred",
        "\u{202e}back",
        &long,
    ] {
        let quoted = serde_json::to_string(name)
            .unwrap()
            .replace("\\u001b", "\\u001B");
        let text = HOUSE
            .replace("\nlounge ", &format!("\n{quoted} "))
            .replace("\"Test house\"", &quoted);
        let mut world = World::with("house.toml", &text);
        let ran = run_in(
            &mut world,
            &["check", "house.toml", "-o", "a.svg", "-o", "a.json"],
        );
        if ran.status == Status::Trouble {
            // a name that the reader refuses is refused with a message that is harmless itself
            assert!(
                !ran.err.contains('\u{1b}') && !ran.err.contains('\u{202e}'),
                "{:?}",
                ran.err
            );
            continue;
        }
        assert!(
            ran.out.lines().all(|l| l.width() <= 80),
            "{name:?}\n{}",
            ran.out
        );
        assert!(
            !ran.out.contains('\u{1b}') && !ran.out.contains('\u{202e}'),
            "{name:?}"
        );
        let drawing = world.text("a.svg");
        let document = roxmltree::Document::parse(&drawing).unwrap();
        assert!(
            document.descendants().all(|n| !n.has_tag_name("script")),
            "{name:?}"
        );
        let value: serde_json::Value = serde_json::from_str(&world.text("a.json")).unwrap();
        assert_eq!(value["job"], name);
        let csv = run_in(&mut world, &["check", "house.toml", "--csv", "emitters"]).out;
        let mut rows = csv::Reader::from_reader(csv.as_bytes());
        let first = rows.records().next().unwrap().unwrap();
        assert!(
            !first[0].starts_with(['=', '+', '-', '@', '\t', '\r', '\n']),
            "{:?}",
            &first[0]
        );
        assert!(first[0].trim_start_matches('\'') == name, "{:?}", &first[0]);
    }
}

#[test]
fn words_schema_starter_and_manual_are_printed() {
    for (args, says) in [
        (&["catalogue"][..], "cu22"),
        (&["catalogue", "cu22"], "cu22"),
        (&["catalogue", "elb"], "elbow"),
        (&["catalogue", "holding"], "flow-holding valve"),
        (&["schema"], "json-schema.org"),
        (&["new"], "[source"),
        (&["completions", "bash"], "_pipecarry"),
        (&["man"], ".TH"),
        (&["man", "check"], ".SH"),
    ] {
        let ran = run(HOUSE, args);
        assert_eq!(ran.status, Status::Holds, "{args:?}: {}", ran.err);
        assert!(ran.out.contains(says), "{args:?}");
    }
    for args in [&["catalogue", "unobtainium"][..], &["man", "chek"]] {
        let ran = run(HOUSE, args);
        assert_eq!(ran.status, Status::Trouble, "{args:?}");
        assert!(ran.err.contains("help:"), "{}", ran.err);
    }
}

#[test]
fn the_starter_solves() {
    let starter = run(HOUSE, &["new"]).out;
    let ran = run(&starter, &["check", "house.toml"]);
    assert_eq!(ran.status, Status::Holds, "{}{}", ran.err, ran.out);
}

#[test]
fn a_house_from_standard_input_and_a_reference_case() {
    let mut world = World {
        stdin: HOUSE.as_bytes().to_vec(),
        ..World::default()
    };
    assert_eq!(run_in(&mut world, &["check", "-"]).status, Status::Holds);
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/networks");
    let mut cases: Vec<PathBuf> = std::fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().path())
        .collect();
    cases.sort();
    let case = cases
        .iter()
        .find(|p| p.extension().is_some_and(|e| e == "json"))
        .unwrap();
    let text = std::fs::read_to_string(case).unwrap();
    let mut world = World::with("case.json", &text);
    let by_name = run_in(&mut world, &["check", "case.json", "--json"]);
    assert_ne!(by_name.status, Status::Trouble, "{}", by_name.err);
    let mut world = World {
        stdin: text.into_bytes(),
        ..World::default()
    };
    assert_eq!(
        run_in(&mut world, &["check", "-", "--json"]).out,
        by_name.out
    );
}

#[test]
fn the_readme_shows_what_the_program_says() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let readme = std::fs::read_to_string(root.join("README.md")).unwrap();
    let begins = "<!-- first lines of out/larch.txt -->\n```text\n";
    let shown = readme
        .split(begins)
        .nth(1)
        .unwrap()
        .split("```")
        .next()
        .unwrap();
    assert!(
        shown.lines().count() >= 6,
        "the README shows the first lines"
    );
    let house = std::fs::read_to_string(root.join("networks/larch.toml")).unwrap();
    let ran = run(&house, &["check", "house.toml"]);
    assert!(
        ran.out.starts_with(shown),
        "README:\n{shown}\nprogram:\n{}",
        ran.out
    );
}

#[test]
fn every_house_is_sketched_in_100_columns_with_every_emitter() {
    let networks = Path::new(env!("CARGO_MANIFEST_DIR")).join("networks");
    for entry in std::fs::read_dir(networks).unwrap() {
        let text = std::fs::read_to_string(entry.unwrap().path()).unwrap();
        let ran = run(&text, &["draw", "house.toml", "--text"]);
        let json = run(&text, &["check", "house.toml", "--json"]).out;
        let value: serde_json::Value = serde_json::from_str(&json).unwrap();
        assert!(ran.out.lines().all(|l| l.width() <= 100), "{}", ran.out);
        // names give way, figures and units never; and the columns hold
        assert!(!ran.out.contains('…'), "{}", ran.out);
        let pipes = ran
            .out
            .lines()
            .filter(|l| l.contains("- ") || l.contains("> "));
        let ends: BTreeSet<usize> = pipes
            .filter(|l| !l.contains('['))
            .filter_map(|l| l.find("/s").map(|at| l[..at].width()))
            .collect();
        assert_eq!(ends.len(), 1, "{}", ran.out);
        for emitter in value["emitters"].as_array().unwrap() {
            let name = format!(
                "[{}",
                emitter["name"]
                    .as_str()
                    .unwrap()
                    .chars()
                    .take(12)
                    .collect::<String>()
            );
            assert_eq!(ran.out.matches(&name).count(), 1, "{name}\n{}", ran.out);
        }
    }
}

#[test]
fn a_sketch_says_what_fails_and_why_and_lists_loops_flat() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let house = |name: &str| {
        let text = std::fs::read_to_string(root.join(format!("networks/{name}.toml"))).unwrap();
        run(&text, &["draw", "house.toml", "--text"]).out
    };
    let larch = house("larch");
    for words in [
        "shows heating, what duty requires",
        "index circuit through lounge needs 6.00 m, pump gives 5.05 m: 0.95 m short",
        "  fails   primary F1/R1: velocity 1.36 m/s, over 1.00 m/s",
        "heat pump, 10.50 kW; fails: needs 6.00 m of head, the pump gives 5.05 m",
        "(strainer on return)",
    ] {
        assert!(larch.contains(words), "{words}\n{larch}");
    }
    // a one-pipe loop goes on from tee to tee without going further in
    let teasel = house("teasel");
    let indents: BTreeSet<usize> = teasel
        .lines()
        .filter_map(|l| l.find("ground ").filter(|_| l.contains("> ")))
        .collect();
    assert_eq!(indents.len(), 1, "{teasel}");
    let campion = house("campion");
    let home = ["R6", "R7", "R8", "R9"].map(|tag| campion.rfind(&format!(" {tag} ")));
    assert!(home.is_sorted() && home[0].is_some(), "{campion}");
    assert!(
        campion.contains("house: reverse return") && campion.contains("{buffer: 45 l, four ports}")
    );
    let cut = run(
        &std::fs::read_to_string(root.join("networks/larch.toml")).unwrap(),
        &["draw", "house.toml", "--text", "--running"],
    );
    assert!(cut.out.contains("shows heating, as it runs"), "{}", cut.out);
}

/// The real program in an empty folder that holds a house.
fn real(folder: &Path, args: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_pipecarry"));
    command
        .current_dir(folder)
        .args(args)
        .env_remove("NO_COLOR")
        .env_remove("CLICOLOR_FORCE");
    command
}

#[test]
fn the_program_itself() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("house.toml"), HOUSE).unwrap();
    std::fs::write(folder.path().join("narrow.toml"), narrow()).unwrap();

    let holds = real(folder.path(), &["check", "house.toml", "-o", "a.svg"])
        .output()
        .unwrap();
    assert_eq!(
        holds.status.code(),
        Some(0),
        "{}",
        String::from_utf8_lossy(&holds.stderr)
    );
    assert!(!holds.stdout.contains(&0x1b), "no colour into a pipe");
    let names: Vec<_> = std::fs::read_dir(folder.path())
        .unwrap()
        .map(|e| e.unwrap().file_name())
        .collect();
    assert_eq!(
        names.len(),
        3,
        "no part of a file is left behind: {names:?}"
    );

    let plain = real(folder.path(), &["check", "narrow.toml"])
        .env("NO_COLOR", "1")
        .output()
        .unwrap();
    assert_eq!(plain.status.code(), Some(1));
    assert!(!plain.stdout.contains(&0x1b));

    let missing = real(folder.path(), &["check", "nothing.toml"])
        .output()
        .unwrap();
    assert_eq!(missing.status.code(), Some(2));
    assert!(missing.stdout.is_empty() && !missing.stderr.is_empty());
}

#[test]
fn the_program_itself_meets_a_closed_pipe() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("narrow.toml"), narrow()).unwrap();
    let mut child = real(folder.path(), &["check", "narrow.toml"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take()); // the reader goes before anything is written
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(0));
    assert!(
        output.stderr.is_empty(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
}

#[cfg(target_os = "linux")]
#[test]
fn the_program_itself_meets_a_full_disk() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("house.toml"), HOUSE).unwrap();
    let Ok(full) = std::fs::OpenOptions::new().write(true).open("/dev/full") else {
        return;
    };
    let output = real(folder.path(), &["check", "house.toml"])
        .stdout(full)
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("the disk is full"));
}

#[cfg(unix)]
#[test]
fn a_written_file_has_the_rights_of_any_other() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("house.toml"), HOUSE).unwrap();
    let path = folder.path().join("a.txt");
    let mode = |p: &Path| std::fs::metadata(p).unwrap().permissions().mode() & 0o777;
    assert!(
        real(folder.path(), &["check", "house.toml", "-o", "a.txt"])
            .status()
            .unwrap()
            .success()
    );
    assert_eq!(mode(&path), mode(&folder.path().join("house.toml")));
    std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o640)).unwrap();
    assert!(
        real(folder.path(), &["check", "house.toml", "-o", "a.txt"])
            .status()
            .unwrap()
            .success()
    );
    assert_eq!(mode(&path), 0o640, "a file made anew keeps its rights");
}
