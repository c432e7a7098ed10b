//! Every file in `networks/`: its frozen result, the flows and frictions worked by outside libraries, and the whole house
//! in plain heating against an outside solver.

use crate::house_case;
use pipecarry::check::{Study, Subject, Verdict, study};
use pipecarry::network::{Network, RunKind, expand};
use pipecarry::solve::{Setting, solve};
use pipecarry::survey::{Side, read};
use pipecarry::view::Through;
use std::collections::BTreeMap;
use std::fmt::Write;
use std::path::{Path, PathBuf};

/// All houses that the project ships, in order of name.
pub const HOUSES: &[&str] = &[
    "betony", "bracken", "burdock", "campion", "comfrey", "hyssop", "larch", "larch-28", "linnet",
    "sorrel", "tansy", "teasel", "vetch", "yarrow",
];

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn text_of(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

/// A house as it comes out of its file; what is wrong with the file fails the test.
fn house(name: &str) -> Network {
    let text = text_of(&root().join("networks").join(format!("{name}.toml")));
    let (survey, found) = read(&text);
    let survey = survey.unwrap_or_else(|| panic!("{name}: {found:#?}"));
    assert!(found.is_empty(), "{name}: {found:#?}");
    let (network, found) = expand(&survey).unwrap_or_else(|found| panic!("{name}: {found:#?}"));
    assert!(found.is_empty(), "{name}: {found:#?}");
    network
}

pub fn looked_at(name: &str) -> Study {
    study(&house(name), &Default::default()).unwrap_or_else(|e| panic!("{name}: {e:?}"))
}

#[test]
fn every_file_in_the_folder_is_tested() {
    let mut names: Vec<String> = std::fs::read_dir(root().join("networks"))
        .expect("networks")
        .map(|entry| entry.expect("entry").path())
        .filter(|path| path.extension().is_some_and(|e| e == "toml"))
        .filter_map(|path| Some(path.file_stem()?.to_str()?.to_owned()))
        .collect();
    names.sort();
    assert_eq!(names, HOUSES);
}

#[test]
fn every_house_says_what_it_shows_and_keeps_its_lines_short() {
    for name in HOUSES {
        let text = text_of(&root().join("networks").join(format!("{name}.toml")));
        assert!(text.starts_with("# "), "{name} begins with what it shows");
        for line in text.lines() {
            assert!(line.chars().count() <= 110, "{name}: {line}");
        }
    }
}

#[test]
fn twenty_emitters_are_written_in_fifteen_lines_more_than_emitters_and_pairs() {
    let text = text_of(&root().join("networks/burdock.toml"));
    let network = house("burdock");
    let lines = text
        .lines()
        .filter(|l| !l.trim().is_empty() && !l.trim().starts_with('#'))
        .count();
    let pairs = network
        .runs
        .iter()
        .filter(|r| r.kind == RunKind::Pair && r.side == Some(Side::Flow))
        .count();
    assert_eq!(network.emitters.len(), 20);
    assert!(lines <= 15 + 20 + pairs, "{lines} lines for {pairs} pairs");
}

/// Key figures as a person would check them, rounded; counters of the work beside them.
fn figures(study: &Study) -> String {
    let network = &study.network;
    let mut out = String::new();
    let mut line = |text: String| {
        out.push_str(&text);
        out.push('\n');
    };
    line(format!(
        "{}: {:?}, {} not shown",
        network.title, study.verdict, study.not_shown
    ));
    for required in &study.required {
        line(format!("required, {}", network.states[required.state].name));
        for circuit in &required.circuits {
            let index = circuit
                .paths
                .get(circuit.index)
                .map_or("nothing".to_owned(), |p| through(network, p.through));
            let left = circuit
                .available_pa
                .map_or("no curve".to_owned(), |p| format!("{:.2} kPa", p / 1e3));
            line(format!(
                "  {}: {:.2} l/min, index {index}, needs {:.2} kPa of {left}",
                circuit.name,
                circuit.flow_m3_s * 6e4,
                circuit.needed_pa / 1e3,
            ));
        }
    }
    for running in &study.running {
        let stats = running.solved.stats;
        line(format!(
            "as it runs, {}: {} steps, {} rounds",
            network.states[running.state].name, stats.iterations, stats.heat_rounds
        ));
        for (source, at) in network.sources.iter().zip(&running.solved.sources) {
            let c = |t: Option<f64>| t.map_or("none".to_owned(), |t| format!("{t:.2} C"));
            line(format!(
                "  {}: {:.0} W, {} to {}",
                source.name,
                at.output_w,
                c(at.flow_c),
                c(at.return_c)
            ));
        }
        for (pump, at) in network.pumps.iter().zip(&running.solved.pumps) {
            line(format!(
                "  pump {}: {:.2} l/min, {:.2} kPa",
                pump.name,
                at.flow_m3_s * 6e4,
                at.head_pa / 1e3
            ));
        }
        for (emitter, at) in network.emitters.iter().zip(&running.emitters) {
            line(format!(
                "  {}: {:.5} kg/s, {:.0} W",
                emitter.name,
                still(at.flow_kg_s),
                at.heat_w
            ));
        }
    }
    let mut counted: BTreeMap<(Verdict, &str), usize> = BTreeMap::new();
    for finding in study
        .findings
        .iter()
        .filter(|f| f.verdict <= Verdict::Tight)
    {
        *counted.entry((finding.verdict, finding.check)).or_default() += 1;
    }
    for ((verdict, check), count) in counted {
        line(format!("{verdict:?} {check}: {count}"));
    }
    out
}

/// Rounding leaves a shut branch at plus or minus nothing.
fn still(flow_kg_s: f64) -> f64 {
    if flow_kg_s.abs() < 5e-6 {
        0.0
    } else {
        flow_kg_s
    }
}

fn through(network: &Network, through: Through) -> String {
    match through {
        Through::Emitter(i) => network.emitters[i].name.clone(),
        Through::Cylinder(i) => network.cylinders[i].name.clone(),
        Through::Vessel(i) => network.vessels[i].name.clone(),
        Through::Manifold(i) => network.manifolds[i].name.clone(),
        Through::Exchanger(i) => network.exchangers[i].name.clone(),
        Through::Bypass(i) => network.bypasses[i].name.clone(),
    }
}

#[test]
fn every_house_gives_its_frozen_figures() {
    for name in HOUSES {
        insta::with_settings!({ prepend_module_to_snapshot => false, omit_expression => true }, {
            insta::assert_snapshot!(format!("house-{name}"), figures(&looked_at(name)));
        });
    }
}

/// What each house is shipped to teach.
#[test]
fn every_house_comes_to_the_verdict_that_its_comment_promises() {
    let promised = [
        ("linnet", Verdict::Holds),
        ("larch", Verdict::Fails),
        ("larch-28", Verdict::Holds),
        ("sorrel", Verdict::Holds),
        ("bracken", Verdict::Depends),
        ("yarrow", Verdict::Fails),
    ];
    for (name, verdict) in promised {
        let study = looked_at(name);
        let worst: Vec<_> = study
            .findings
            .iter()
            .filter(|f| f.verdict == study.verdict)
            .take(5)
            .collect();
        assert_eq!(study.verdict, verdict, "{name}: {worst:#?}");
    }
    // larch fails on its primaries, in velocity and in head, and on nothing else
    let larch = looked_at("larch");
    for finding in larch
        .findings
        .iter()
        .filter(|f| f.verdict == Verdict::Fails)
    {
        match finding.subject {
            Subject::Run(i) => assert_eq!(larch.network.runs[i].name, "primary", "{finding:?}"),
            _ => assert!(
                ["head", "room-heat"].contains(&finding.check),
                "{finding:?}"
            ),
        }
    }
    // bracken rests on the coil alone
    let bracken = looked_at("bracken");
    for finding in bracken
        .findings
        .iter()
        .filter(|f| f.verdict == Verdict::Depends)
    {
        for (doubt, _) in &finding.rests_on {
            assert!(
                bracken.network.doubts[*doubt].name.contains("coil"),
                "{finding:?}"
            );
        }
    }
}

/// `tests/data/houses/trees.csv` was worked by `tests/outside/trees.py` from the same text with general-purpose
/// libraries (fluids for friction, iapws for water) and a reading of its own.
#[test]
fn flow_velocity_and_friction_of_tree_houses_match_outside_libraries() {
    let csv = text_of(&root().join("tests/data/houses/trees.csv"));
    let mut studies: BTreeMap<&str, Study> = BTreeMap::new();
    let (mut rows, mut misses) = (0, String::new());
    for row in csv.lines().filter(|l| !l.starts_with('#')).skip(1) {
        let cells: Vec<&str> = row.split(',').collect();
        let [name, run, what, flow, velocity, gradient, reynolds] = cells[..] else {
            panic!("seven cells: {row}");
        };
        let study = studies.entry(name).or_insert_with(|| looked_at(name));
        let network = &study.network;
        let required = study
            .required
            .iter()
            .find(|r| r.state == 0)
            .expect("heating");
        let at = network.runs.iter().position(|r| {
            r.name == run
                && r.side == Some(Side::Flow)
                && (r.kind == RunKind::Tail) == (what == "tail")
        });
        let Some(at) = at else {
            panic!("{name}: no run {run}")
        };
        let capacity = required
            .capacity
            .iter()
            .find(|c| c.run == at)
            .expect("capacity");
        let element = network.runs[at].elements[0];
        let number = |s: &str| s.parse::<f64>().expect("number");
        let mut hold = |figure: &str, got: f64, want: f64, tolerance: f64| {
            if !want.is_nan() && (got / want - 1.0).abs() > tolerance {
                let _ = writeln!(misses, "{name} {run} {figure}: {got} against {want}");
            }
        };
        // the outside figures take cp and density at one mean temperature, the house at each pipe's own
        hold(
            "flow",
            required.flow_kg_s[element.index()],
            number(flow),
            1e-3,
        );
        hold("velocity", capacity.velocity_m_s, number(velocity), 1.5e-3);
        hold("friction", capacity.gradient_pa_m, number(gradient), 3e-3);
        hold("Reynolds", capacity.reynolds, number(reynolds), 3e-3);
        rows += 1;
    }
    assert!(rows > 60, "{rows} rows");
    assert!(misses.is_empty(), "{misses}");
}

/// Houses that are no trees, a figure or more each, worked by hand with property tables.
#[test]
fn flow_and_velocity_of_the_other_houses_match_what_was_worked_by_hand() {
    // house, state, kind of run, its name, kg/s, m/s, tolerance, and the working
    let rows = [
        // 4750 W / (4178.2 J/kgK · 5 K); 990.2 kg/m3 at 45 °C in 20.2 mm (IAPWS-IF97)
        (
            "campion",
            0,
            RunKind::Ring,
            "",
            vec![0.22736, 0.15796, 0.10052, 0.05026],
            0.7164,
            0.0015,
        ),
        // (1300 + 900 + 1000 + 900) W / (4178.8 J/kgK · 6 K) all round the main; 988.0 kg/m3 at 50 °C in 20.2 mm
        (
            "teasel",
            0,
            RunKind::Loop,
            "",
            vec![0.16352; 4],
            0.5164,
            0.0015,
        ),
        // 4800 W / (4179.1 J/kgK · 7 K); 987.2 kg/m3 at 52 °C in 26.2 mm
        (
            "comfrey",
            1,
            RunKind::Pair,
            "ground",
            vec![0.16408],
            0.3083,
            0.0015,
        ),
        // 21 l/min held by the unit's pump; 1009.2 kg/m3 of 30 % propylene glycol at 48 °C (after Melinder) in 26.2 mm:
        // 0.35 l/s / 5.3913 cm2
        (
            "betony",
            0,
            RunKind::Pair,
            "outdoor",
            vec![0.3532],
            0.6492,
            0.005,
        ),
        // 20 000 BTU/h = 5861.4 W; / (3919 J/kgK · 5 K) of 20 % ethylene glycol at 46.4 °C (after Melinder); 26.2 mm
        (
            "vetch",
            0,
            RunKind::Single,
            "going",
            vec![0.2991],
            0.547,
            0.01,
        ),
    ];
    for (name, state, kind, run, flows, velocity, tolerance) in rows {
        let study = looked_at(name);
        let required = study
            .required
            .iter()
            .find(|r| r.state == state)
            .expect("state");
        let of = |r: &pipecarry::network::Run| {
            r.kind == kind && r.side != Some(Side::Return) && (run.is_empty() || r.name == run)
        };
        let runs: Vec<usize> = (0..study.network.runs.len())
            .filter(|&i| of(&study.network.runs[i]))
            .collect();
        let got: Vec<f64> = runs
            .iter()
            .map(|&i| required.flow_kg_s[study.network.runs[i].elements[0].index()])
            .collect();
        assert_eq!(got.len(), flows.len(), "{name}: {got:?}");
        for (got, worked) in got.iter().zip(&flows) {
            assert!(
                (got / worked - 1.0).abs() < tolerance,
                "{name} {run}: {got} kg/s, worked {worked}"
            );
        }
        let capacity = required
            .capacity
            .iter()
            .find(|c| c.run == runs[0])
            .expect("capacity");
        let off = capacity.velocity_m_s / velocity - 1.0;
        assert!(
            off.abs() < tolerance,
            "{name} {run}: {} m/s, worked {velocity}",
            capacity.velocity_m_s
        );
    }
}

/// Where `PIPECARRY_WRITE_CASES` names a folder, the houses are written there as cases for the outside solver;
/// `tests/outside/houses.py` then solves them and puts the solutions into `tests/data/houses`.
#[test]
fn every_house_on_one_fluid_matches_the_outside_solver() {
    let write = std::env::var_os("PIPECARRY_WRITE_CASES").map(PathBuf::from);
    let mut solved = 0;
    for name in HOUSES {
        let plain = house_case::plain(&house(name));
        let Some(case) = house_case::case(name, &plain) else {
            continue;
        };
        if let Some(folder) = &write {
            let text = serde_json::to_string(&case).expect("JSON");
            std::fs::write(folder.join(format!("{name}.json")), text).expect("written");
            continue;
        }
        let stored = text_of(&root().join(format!("tests/data/houses/{name}.json")));
        let stored: serde_json::Value = serde_json::from_str(&stored).expect("JSON");
        for id in plain.element_ids() {
            // the case that was solved outside is this house still
            let of_element = |case: &serde_json::Value| -> Vec<serde_json::Value> {
                let stem = format!("e{}.", id.index());
                let all = case["elements"].as_array().expect("elements");
                all.iter()
                    .filter(|e| e["id"].as_str().is_some_and(|i| i.starts_with(&stem)))
                    .cloned()
                    .collect()
            };
            assert_eq!(
                of_element(&case),
                of_element(&stored),
                "{name}: write the cases anew and solve them"
            );
        }
        let mut setting = Setting::of(&plain, &plain.states[0]);
        setting.sources.iter_mut().for_each(|s| s.output_w = None);
        let state = solve(&plain, &setting).unwrap_or_else(|e| panic!("{name}: {e:?}"));
        let want = |id: usize, key: &str| {
            stored["solution"][format!("e{id}.0")][key]
                .as_f64()
                .unwrap_or(0.0)
        };
        let greatest = state.flow_kg_s.iter().fold(0.0_f64, |m, f| m.max(f.abs()));
        assert!(greatest > 0.01, "{name} moves");
        for id in plain.element_ids() {
            let (i, element) = (id.index(), plain.element(id));
            let off = (state.flow_kg_s[i] - want(i, "flow_kg_s")).abs() / greatest;
            assert!(
                off < 1e-6,
                "{name}, {}: flow {} against {}",
                element.name,
                state.flow_kg_s[i],
                want(i, "flow_kg_s")
            );
        }
        let heat_solved = stored["solution"]["heat"].as_bool() == Some(true);
        for emitter in plain.emitters.iter().filter(|_| heat_solved) {
            let (got, want) = (
                state.heat_w[emitter.body.index()],
                stored["solution"]["emitters"][&emitter.name].as_f64(),
            );
            let want = want.unwrap_or(f64::NAN);
            assert!(
                (got - want).abs() < 1e-6 * want.abs().max(1.0),
                "{name}, {}: {got} W against {want}",
                emitter.name
            );
        }
        solved += 1;
    }
    assert!(write.is_some() || solved >= 9, "{solved} houses compared");
}
