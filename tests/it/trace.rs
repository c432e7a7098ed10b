//! Traces: the arithmetic as printed, worked out by a general library of arithmetic, comes to the figure as shown, for
//! every run, emitter, circuit, source and finding of every house; and the steps lead to what the views hold.

use crate::houses::{HOUSES, looked_at};
use pipecarry::check::Study;
use pipecarry::report::explain::{shown, text};
use pipecarry::trace::arithmetic::digits;
use pipecarry::trace::{Evidence, SHOWN, Trace, What, find, trace};

/// The numbers of a formula, worked out by a library that this crate does not use.
fn worked_out(numbers: &str) -> f64 {
    exmex::eval_str::<f64>(&numbers.replace("pi", "PI"))
        .unwrap_or_else(|e| panic!("{numbers}: {e}"))
}

/// All that can be traced in a house.
fn everything(study: &Study) -> Vec<(What, Option<usize>)> {
    let network = &study.network;
    let mut all: Vec<(What, Option<usize>)> = Vec::new();
    for view in &study.required {
        let state = Some(view.state);
        all.extend((0..network.runs.len()).map(|i| (What::Run(i), state)));
        all.extend((0..network.emitters.len()).map(|i| (What::Emitter(i), state)));
        all.extend((0..view.circuits.len()).map(|i| (What::Circuit(i), state)));
        all.extend((0..network.sources.len()).map(|i| (What::Source(i), state)));
    }
    all.extend((0..study.findings.len()).map(|i| (What::Finding(i), None)));
    all
}

fn check(name: &str, study: &Study, trace: &Trace) -> usize {
    for step in &trace.steps {
        let numbers = step.numbers();
        let found = worked_out(&numbers);
        let at = format!("{name}, {:?}: {} = {numbers}", trace.what, step.symbol);
        assert_eq!(digits(found, SHOWN), digits(step.value, SHOWN), "{at}");
        let units = &study.network.units;
        assert_eq!(
            shown(study, units, found, step.unit),
            shown(study, units, step.value, step.unit),
            "{at}"
        );
    }
    // every symbol of a formula is an input or the result of a step before it, with that value
    for (i, step) in trace.steps.iter().enumerate() {
        step.formula.each_symbol(&mut |symbol, value| {
            let input = trace
                .inputs
                .iter()
                .find(|p| p.symbol == symbol && p.value == value);
            let before = trace.steps[..=i].iter().find(|s| s.symbol == symbol);
            let known = input.map(|p| p.value).or(before.map(|s| s.value));
            let known = known.unwrap_or_else(|| {
                panic!(
                    "{name}, {:?}: {symbol} in {} is from nowhere",
                    trace.what, step.symbol
                )
            });
            assert!(
                (known - value).abs() <= 1e-9 * value.abs(),
                "{name}, {:?}: {symbol} is {known} before, {value} in {}",
                trace.what,
                step.symbol
            );
        });
    }
    trace.steps.len()
}

#[test]
fn printed_arithmetic_comes_to_the_figure_shown() {
    let mut steps = 0;
    for name in HOUSES {
        let study = looked_at(name);
        for (what, state) in everything(&study) {
            steps += check(name, &study, &trace(&study, what, state));
        }
    }
    assert!(steps > 5000, "{steps} steps only");
}

#[test]
fn traces_end_at_what_the_views_hold() {
    for name in HOUSES {
        let study = looked_at(name);
        let network = &study.network;
        for view in &study.required {
            let state = Some(view.state);
            for (i, run) in network.runs.iter().enumerate() {
                let found = trace(&study, What::Run(i), state);
                let Some(capacity) = view.capacity.iter().find(|c| c.run == i) else {
                    continue;
                };
                let of = |symbol: &str| found.steps.iter().rev().find(|s| s.symbol == symbol);
                let loss = of("dp").map_or(0.0, |s| s.value);
                assert!(
                    (loss - capacity.loss_pa).abs() <= 1e-9 * loss.abs(),
                    "{name} {}",
                    run.tag
                );
                let speeds = found
                    .steps
                    .iter()
                    .filter(|s| s.what == "velocity")
                    .map(|s| s.value);
                let fastest = speeds.fold(0.0, f64::max);
                assert!(
                    (fastest - capacity.velocity_m_s).abs() < 1e-9,
                    "{name} {}",
                    run.tag
                );
            }
            for (i, emitter) in network.emitters.iter().enumerate() {
                let found = trace(&study, What::Emitter(i), state);
                let asks = &view.emitters[i];
                let inlet = found
                    .steps
                    .iter()
                    .find(|s| s.symbol == "t_in")
                    .map(|s| s.value);
                assert_eq!(inlet, asks.inlet_c, "{name} {}", emitter.name);
            }
            for (i, circuit) in view.circuits.iter().enumerate() {
                let found = trace(&study, What::Circuit(i), state);
                let of = |symbol: &str| {
                    found
                        .steps
                        .iter()
                        .find(|s| s.symbol == symbol)
                        .map(|s| s.value)
                };
                assert_eq!(of("dp"), Some(circuit.needed_pa), "{name} {}", circuit.name);
            }
        }
    }
}

/// The figure of every finding is what a formula comes to or what the file states. What has no formula is nothing at all:
/// no water that goes backwards, no short circuit, no antifreeze valve in glycol.
#[test]
fn every_finding_has_its_formula() {
    let mut met = std::collections::BTreeMap::new();
    let mut without = Vec::new();
    for name in HOUSES {
        let study = looked_at(name);
        for (i, finding) in study.findings.iter().enumerate() {
            let Some(measured) = finding.measured else {
                continue;
            };
            let found = trace(&study, What::Finding(i), None);
            let plain = found.inputs.iter().find(|i| i.symbol == "found");
            let (with, nothing, all) = met.entry(finding.check).or_insert((0, 0, 0));
            *all += 1;
            match plain {
                None => *with += 1,
                Some(_) if measured == 0.0 => *nothing += 1,
                Some(input) if input.evidence == Evidence::Stated => *nothing += 1,
                Some(_) => without.push(format!("{name}: {} {:?}", finding.check, finding.subject)),
            }
        }
    }
    assert!(without.is_empty(), "{without:#?}\n{met:?}");
    for check in [
        "valve-noise",
        "vessel-mixing",
        "source-drop",
        "velocity",
        "head",
        "head-kind",
        "pump-curve",
        "source-output",
        "source-least-flow",
        "source-greatest-flow",
        "defrost-flow",
        "least-output",
        "room-heat",
        "flow-temperature",
        "floor-surface",
        "transitional",
        "glycol-curve",
    ] {
        let (with, _, all) = met[check];
        assert!(all > 0 && with == all, "{check}: {with} of {all} ({met:?})");
    }
}

/// The flow of a unit as it runs is that at which its pump gives what the way round loses, unless the pump is held back.
#[test]
fn flows_as_they_run_are_shown_to_balance() {
    let (mut shown, mut held) = (0, 0);
    for name in HOUSES {
        let study = looked_at(name);
        for (i, finding) in study.findings.iter().enumerate() {
            if !["source-least-flow", "defrost-flow"].contains(&finding.check)
                || finding.measured.is_none()
            {
                continue;
            }
            let found = trace(&study, What::Finding(i), None);
            let of = |symbol: &str| found.steps.iter().find(|s| s.symbol == symbol);
            let loses = of("dp").unwrap_or_else(|| panic!("{name}: no way round"));
            match of("p_pump") {
                Some(gives) => {
                    let off = (gives.value - loses.value).abs();
                    assert!(
                        off <= 1e-5 * gives.value,
                        "{name}: {off} of {}",
                        gives.value
                    );
                    shown += 1;
                }
                None => {
                    assert!(
                        found.notes.iter().any(|n| n.contains("is held to")),
                        "{name}"
                    );
                    held += 1;
                }
            }
        }
    }
    assert!(shown >= 8 && held >= 4, "{shown} {held}");
}

#[test]
fn a_hand_calculation_stands_in_the_trace() {
    // 9 kW, 5 K, 22 mm copper: m = 9000/(4180·5) = 0.431 kg/s, v = 4·0.431/(π·0.0202²·988) = 1.36 m/s, worked by hand
    let study = looked_at("larch");
    let source = std::fs::read_to_string("networks/larch.toml").unwrap();
    let said = text(
        &study,
        &study.network.units,
        &source,
        &find(&study, "F1").unwrap(),
        None,
    );
    for part in [
        "m = Q/(cp*dT)",
        "= 9000/(4180.56*5) = 0.43056 kg/s, shown as 26.1 l/min",
        "= 4*0.430564/(pi*0.0202^2*988.069) = 1.3597 m/s, shown as 1.36 m/s",
        "(stated, line 22)",
        "water, IAPWS-IF97",
        "Colebrook 1939",
    ] {
        assert!(said.contains(part), "{part} is missing in\n{said}");
    }
    assert!(said.lines().all(|l| l.chars().count() <= 80), "{said}");
}

#[test]
fn inputs_know_their_line_and_their_kind() {
    let study = looked_at("larch");
    let source = std::fs::read_to_string("networks/larch.toml").unwrap();
    let found = trace(&study, What::Run(0), None);
    let bore = found.inputs.iter().find(|i| i.symbol == "d").unwrap();
    let span = bore.span.clone().unwrap();
    let line = source
        .lines()
        .nth(source[..span.start].matches('\n').count())
        .unwrap();
    assert!(line.starts_with("primary"), "{line}");
    // the file says `cu22`; the bore behind that word is a table's, the length its own
    assert_eq!(bore.evidence, Evidence::Table);
    let length = found.inputs.iter().find(|i| i.what.starts_with("length"));
    assert_eq!(length.unwrap().evidence, Evidence::Stated);
    let guessed = looked_at("bracken");
    let doubtful =
        (0..guessed.network.runs.len()).find(|i| !guessed.network.runs[*i].doubts.is_empty());
    let found = trace(
        &guessed,
        What::Run(doubtful.expect("bracken has guesses")),
        None,
    );
    assert!(found.inputs.iter().any(|i| i.evidence == Evidence::Guessed));
    assert!(
        found.notes.iter().any(|n| n.starts_with("A guess: ")),
        "{:?}",
        found.notes
    );
}

/// A default never passes for something that the file states.
#[test]
fn what_the_file_does_not_say_is_not_called_stated() {
    const HOUSE: &str = r#"
job = "Evidence"
[source.unit]
output = "4 kW"
free_head = ["5 m at 0 l/min", "4 m at 20 l/min"]
[pair]
out = ["unit", "hall", "cu22 4m"]
[emitter]
silent = { from = "hall", leg = "cu15 2m", panel = "22 600x1200", room = 20, needs = "700 W" }
told = { from = "hall", leg = "cu15 2m", rated = "2000 W", valve = "thermostatic kv 0.9", room = 20, needs = "700 W" }
"#;
    let (survey, _) = pipecarry::survey::read::read(HOUSE);
    let (network, _) = pipecarry::network::expand(&survey.unwrap()).unwrap();
    let study = pipecarry::check::study(&network, &Default::default()).unwrap();
    let rows = [
        (0, "rated output", Evidence::Table),
        (1, "rated output", Evidence::Stated),
        (0, "flow factor of thermostatic", Evidence::Assumed),
        (1, "flow factor of thermostatic", Evidence::Stated),
        (0, "flow factor of lockshield", Evidence::Assumed),
        (0, "loss coefficient of body", Evidence::Assumed),
        (0, "design drop", Evidence::Assumed),
        (0, "heat that", Evidence::Stated),
    ];
    for (emitter, what, evidence) in rows {
        let found = trace(&study, What::Emitter(emitter), None);
        let input = found.inputs.iter().find(|i| i.what.starts_with(what));
        let input = input.unwrap_or_else(|| panic!("{what} of {emitter}: {:?}", found.inputs));
        assert_eq!(input.evidence, evidence, "{emitter}: {}", input.what);
    }
}

#[test]
fn names_lead_to_what_they_mean() {
    let study = looked_at("larch");
    assert_eq!(find(&study, "Lounge"), Ok(vec![What::Emitter(0)]));
    assert_eq!(find(&study, "index"), Ok(vec![What::Circuit(0)]));
    assert_eq!(find(&study, "heat pump"), Ok(vec![What::Source(0)]));
    assert_eq!(find(&study, "primary").unwrap().len(), 2);
    assert!(matches!(
        find(&study, "velocity").unwrap()[..],
        [What::Finding(_)]
    ));
    assert_eq!(find(&study, "kichen"), Err(vec!["kitchen".into()]));
    assert_eq!(find(&study, "zzzzzzzz"), Err(Vec::new()));
    assert_eq!(find(&study, ""), Err(Vec::new()));
}
