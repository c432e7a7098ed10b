//! What a drawing shows: as required, as it runs, with valves shut, before and after a plan.

use crate::drawing::{complete, house, strokes};
use pipecarry::check::{Options, Verdict, study};
use pipecarry::draw::scene::{About, Item, MarkKind, Scene};
use pipecarry::draw::{House, Style};
use pipecarry::network::{ElementId, Network};
use pipecarry::solve::{Setting, SolveError, solve};
use pipecarry::view::running::setting;

fn says(sheets: &[Scene], words: &str) -> bool {
    let found = |l: &pipecarry::draw::scene::Line| l.text.replace('\u{a0}', " ").contains(words);
    sheets
        .iter()
        .flat_map(|s| &s.items)
        .any(|i| matches!(i, Item::Label(l) if l.lines.iter().any(found)))
}

fn setting_with(network: &Network, shut: &[ElementId]) -> Setting {
    let mut with = setting(
        network,
        0,
        &vec![(None, pipecarry::view::LockshieldFrom::None); network.emitters.len()],
    );
    for id in shut {
        with.shut[id.index()] = true;
    }
    with
}

#[test]
fn required_and_running_show_their_own_figures() {
    let network = house("linnet");
    let found = study(&network, &Options::default()).expect("an answer");
    let shown = House::of(&found, found.required[0].state);
    let required = shown.as_required(&Style::default());
    let running = shown.as_it_runs(&Style::default());
    complete("linnet as required", &network, &required);
    complete("linnet as it runs", &network, &running);
    assert!(says(&required, "required, normal") && !says(&required, "running, normal"));
    assert!(says(&running, "running, normal") && !says(&running, "required, normal"));
    assert_ne!(required[0].items, running[0].items);
}

#[test]
fn a_closed_branch_is_visibly_dead() {
    let network = house("linnet");
    let found = study(&network, &Options::default()).expect("an answer");
    let shown = House::of(&found, found.required[0].state);
    let (emitter, valve) = network
        .emitters
        .iter()
        .enumerate()
        .find_map(|(i, e)| Some((i, e.valve?)))
        .expect("a valve");
    let state = solve(&network, &setting_with(&network, &[valve])).expect("the others run");
    let sheets = shown.with_shut(&[valve], Some(&state), "one valve shut", &Style::default());
    complete("linnet with a valve shut", &network, &sheets);
    let flows = |run: usize| state.flow_kg_s[network.runs[run].elements[0].index()].abs() > 1e-6;
    let mut dead = 0;
    for stroke in sheets.iter().flat_map(strokes) {
        if let About::Run(run) = stroke.about {
            assert_eq!(stroke.idle, !flows(run), "{}", network.runs[run].tag);
            dead += usize::from(stroke.idle);
            assert!(!(stroke.idle && stroke.index));
        }
    }
    assert!(dead >= 1, "the emitter's tails stand still");
    let symbols = sheets
        .iter()
        .flat_map(|s| &s.items)
        .filter_map(|i| match i {
            Item::Symbol(s) => Some(s),
            _ => None,
        });
    for symbol in symbols {
        match symbol.about {
            About::Emitter(i) => assert_eq!(symbol.dead, i == emitter, "emitter {i}"),
            About::Device(id, _) if id as usize == valve.index() => {
                assert!(symbol.shut && symbol.dead);
            }
            _ => {}
        }
    }
    assert!(says(&sheets, "one valve shut") && says(&sheets, "no flow"));
    assert!(says(&sheets, "valve, shut"), "the key shows it");
}

#[test]
fn bars_behind_which_no_water_moves_are_thin() {
    let text = "job = \"Bars\"\ndesign = { flow_temperature = \"50 C\", drop = \"5 K\" }\n\
        [source.pump]\noutput = \"9 kW\"\nfree_head = [\"7 m at 0 l/min\", \"3 m at 40 l/min\"]\n\
        [pair]\nlow = [\"pump\", \"hall\", \"cu22 5m\"]\n[emitter]\n\
        a = { from = \"hall\", leg = \"cu15 3m\", rated = \"2 kW\", room = 20, needs = \"500 W\" }\n\
        b = { from = \"hall\", leg = \"cu15 3m\", rated = \"2 kW\", room = 20, needs = \"500 W\" }\n\
        c = { from = \"hall\", leg = \"cu15 3m\", rated = \"2 kW\", room = 20, needs = \"500 W\" }\n";
    let (survey, problems) = pipecarry::survey::read::read(text);
    let survey = survey.unwrap_or_else(|| panic!("{problems:?}"));
    let network = pipecarry::network::expand(&survey).expect("a house").0;
    let bars = |shut: &[usize]| {
        let shut: Vec<ElementId> = shut.iter().map(|&i| network.emitters[i].body).collect();
        let state = solve(&network, &setting_with(&network, &shut)).expect("water moves");
        let house = House {
            network: &network,
            required: None,
            running: None,
            findings: &[],
        };
        let sheets = house.with_shut(&shut, Some(&state), "some shut", &Style::default());
        let strokes = sheets.iter().flat_map(strokes);
        let bars = strokes.filter(|s| s.about == About::Sheet);
        let idle: Vec<bool> = bars.map(|s| s.idle).collect();
        (idle.len(), idle.iter().filter(|i| **i).count())
    };
    // from hall's first tee to its second and third, on either side
    let (all, none) = bars(&[]);
    assert!(all >= 4 && none == 0, "{all} bars, {none} still");
    assert_eq!(bars(&[2]), (all, all / 2), "to the last");
    assert_eq!(bars(&[1, 2]), (all, all), "to both");
    assert_eq!(
        bars(&[1]).1,
        0,
        "the bar past a shut one carries the next one's water"
    );
}

#[test]
fn the_summary_names_what_fails_in_other_states_and_before_further_pumps() {
    // a hot water state in which the pump cannot do it; and a house of four pumps, of which much fails
    let draw = |seed| {
        let (survey, _) = pipecarry::survey::read::read(&crate::drawing_plants::house(seed));
        let network = pipecarry::network::expand(&survey.expect("a survey")).expect("a house");
        let found = study(&network.0, &Options::default()).expect("an answer");
        (House::of(&found, 0).as_required(&Style::default()), found)
    };
    let (sheets, _) = draw(12);
    assert!(says(&sheets, "[hot water] heat pump fails: head"));
    for seed in [12, 58] {
        let (sheets, found) = draw(seed);
        let fails = found.findings.iter().any(|f| f.verdict == Verdict::Fails);
        assert!(
            fails && says(&sheets, "Checks:") && says(&sheets, "fails:"),
            "{seed}"
        );
    }
}

#[test]
fn all_valves_shut_still_gives_a_sheet_that_says_so() {
    let network = house("linnet");
    let found = study(&network, &Options::default()).expect("an answer");
    let shown = House::of(&found, found.required[0].state);
    let shut: Vec<ElementId> = network.emitters.iter().map(|e| e.body).collect();
    let answer = solve(&network, &setting_with(&network, &shut));
    assert!(
        matches!(answer, Err(SolveError::NothingMoves)),
        "{answer:?}"
    );
    let sheets = shown.with_shut(&shut, None, "all shut", &Style::default());
    complete("linnet all shut", &network, &sheets);
    assert!(sheets.iter().flat_map(strokes).all(|s| s.idle && !s.index));
    assert!(says(&sheets, "Nothing moves"));
    let arrows = |i: &&Item| matches!(i, Item::Arrow(..));
    assert_eq!(
        sheets.iter().flat_map(|s| &s.items).filter(arrows).count(),
        0
    );
}

#[test]
fn a_plan_marks_the_runs_that_it_changes() {
    let before = house("linnet");
    let mut after = before.clone();
    let pipes: Vec<usize> = vec![0, 1];
    for &i in &pipes {
        after.runs[i].pipe = "cu35".into();
        after.runs[i].bore_m = 0.0326;
        after.runs[i].outside_m = Some(0.035);
    }
    let found = study(&before, &Options::default()).expect("an answer");
    let shown = House::of(&found, found.required[0].state);
    let marked = |sheets: &[Scene]| {
        let mut runs: Vec<usize> = sheets
            .iter()
            .flat_map(|s| &s.items)
            .filter_map(|i| match i {
                Item::Label(l) => match l.about {
                    About::Run(r)
                        if l.lines
                            .iter()
                            .any(|l| l.text.starts_with("to be") || l.text.starts_with("was")) =>
                    {
                        Some(r)
                    }
                    _ => None,
                },
                _ => None,
            })
            .collect();
        runs.sort_unstable();
        runs
    };
    let style = Style::default();
    let sheets = shown.before(&after, "before the change", &style);
    complete("before", &before, &sheets);
    let first = marked(&sheets);
    assert!(
        !first.is_empty() && first.iter().all(|r| pipes.contains(r)),
        "{first:?}"
    );
    assert!(says(&sheets, "to be 35 Cu") && says(&sheets, "before the change"));
    let done = House {
        network: &after,
        ..shown
    };
    let sheets = done.after(&before, "after the change", &style);
    complete("after", &after, &sheets);
    assert_eq!(marked(&sheets), first);
    assert!(says(&sheets, "was "));
    let mark = |i: &Item| matches!(i, Item::Mark(MarkKind::Changed, _, About::Run(_)));
    assert!(sheets.iter().flat_map(|s| &s.items).any(mark) || says(&sheets, "fails"));
    // nothing changed, nothing marked
    assert!(marked(&done.after(&after, "", &style)).is_empty());
}
