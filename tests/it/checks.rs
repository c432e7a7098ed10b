//! Every check: a passing, a failing and a doubtful case.

use crate::small::{Small, element};
use approx::assert_relative_eq;
use pipecarry::check::{self, CHECKS, Finding, Options, Study, Verdict};
use pipecarry::network::{
    Alternative, Doubt, HouseState, Law, Network, Part, PartGroup, PartLaw, StateKind, Vessel,
    VesselKind, expand,
};
use pipecarry::survey::read::read;

/// A house in which every check holds or has nothing to say.
const HOUSE: &str = r#"
job = "Two rooms"
design = { flow_temperature = "45 C", drop = "5 K", outside = "-2 C" }
fluid = "water"
defaults = { emitter = { valve = "thermostatic kv 0.9" } }
[source.unit]
output = "8 kW"
least_output = "1 kW"
least_flow = "4 l/min"
greatest_flow = "30 l/min"
defrost_flow = "5 l/min"
free_head = ["3 m at 0 l/min", "2.6 m at 20 l/min", "1 m at 30 l/min"]
pump = "held to drop 5 K"
[pair]
out = ["unit", "hall", "cu22 5m 6 elbow, strainer kv 9 on return"]
[emitter]
lounge = { from = "hall", leg = "cu15 3m 4 elbow", rated = "4500 W", room = 20, needs = "1200 W" }
bed = { from = "hall", leg = "cu15 5m 4 elbow", rated = "4500 W", room = 18, needs = "1000 W" }
floor = { from = "hall", leg = "cu15 2m", loop = "ml16 60m", per_kelvin = "60 W/K", room = 20, needs = "700 W", area = "12 m2" }
"#;

fn house(changes: &[(&str, &str)]) -> Network {
    let mut text = HOUSE.to_owned();
    for (from, to) in changes {
        assert!(text.contains(from), "the house has no {from}");
        text = text.replacen(from, to, 1);
    }
    let (survey, said) = read(&text);
    let survey = survey.unwrap_or_else(|| panic!("{said:?}\n{text}"));
    expand(&survey)
        .unwrap_or_else(|said| panic!("{said:?}\n{text}"))
        .0
}

fn study(network: &Network) -> Study {
    check::study(network, &Options::default()).expect("a small house has an answer")
}

fn of<'a>(study: &'a Study, code: &str) -> Vec<&'a Finding> {
    study.findings.iter().filter(|f| f.check == code).collect()
}

/// Worst verdict of a check; `None` if it has nothing to say.
fn worst(study: &Study, code: &str) -> Option<Verdict> {
    of(study, code).iter().map(|f| f.verdict).min()
}

fn detail(finding: &Finding, key: &str) -> f64 {
    let found = finding.detail.iter().find(|(k, _)| *k == key);
    found
        .unwrap_or_else(|| panic!("{} has no {key}", finding.check))
        .1
}

type Changes = &'static [(&'static str, &'static str)];

/// A check with changes to the house that make it fail and depend; `None` where no pipe can make it depend, because what
/// is held against the limit follows from needs and sheets alone.
struct Case {
    code: &'static str,
    pass: Changes,
    fail: Changes,
    depends: Option<Changes>,
}

const WIDE_OR_NARROW: (&str, &str) = ("\"cu22 5m", "\"cu22 0.6 | cu15 0.4 5m");
const NARROW_OR_WIDE: (&str, &str) = ("\"cu22 5m", "\"cu15 0.6 | cu22 0.4 5m");
const NARROW: (&str, &str) = ("\"cu22 5m", "\"cu15 5m");
const FULL_SPEED: (&str, &str) = ("held to drop 5 K", "fixed speed");
const GREATEST: &str = "greatest_flow = \"30 l/min\"";

const CASES: &[Case] = &[
    Case {
        code: "head",
        pass: &[],
        fail: &[("\"cu22 5m", "\"cu10 5m")],
        depends: Some(&[("\"cu22 5m", "\"cu22 0.6 | cu10 0.4 5m")]),
    },
    Case {
        code: "pump-curve",
        pass: &[],
        fail: &[(
            "\"2.6 m at 20 l/min\", \"1 m at 30 l/min\"",
            "\"2.6 m at 6 l/min\"",
        )],
        depends: None,
    },
    Case {
        code: "source-output",
        pass: &[],
        fail: &[("output = \"8 kW\"", "output = \"2 kW\"")],
        depends: None,
    },
    Case {
        code: "flow-temperature",
        pass: &[],
        fail: &[("4500 W", "2500 W")],
        depends: None,
    },
    Case {
        code: "room-heat",
        pass: &[],
        fail: &[("4500 W", "2500 W")],
        // a radiator that is just enough at its design flow and not with the flow that a narrow tail leaves it
        depends: Some(&[
            ("4500 W", "3500 W"),
            ("leg = \"cu15 3m", "leg = \"cu15 0.6 | cu8 0.4 6m"),
            FULL_SPEED,
        ]),
    },
    Case {
        code: "velocity",
        pass: &[],
        fail: &[NARROW, ("1200 W", "2400 W")],
        depends: Some(&[WIDE_OR_NARROW, ("1200 W", "2400 W")]),
    },
    Case {
        code: "erosion",
        pass: &[],
        fail: &[("\"cu22 5m", "\"cu8 5m")],
        depends: Some(&[("\"cu22 5m", "\"cu22 0.6 | cu8 0.4 5m")]),
    },
    Case {
        code: "gradient",
        pass: &[
            ("[pair]", "[limits]\ngradient = \"300 Pa/m\"\n[pair]"),
            ("loop = \"ml16", "loop = \"ml20"),
        ],
        fail: &[
            ("[pair]", "[limits]\ngradient = \"300 Pa/m\"\n[pair]"),
            NARROW,
        ],
        depends: Some(&[
            ("[pair]", "[limits]\ngradient = \"300 Pa/m\"\n[pair]"),
            ("loop = \"ml16", "loop = \"ml20"),
            WIDE_OR_NARROW,
        ]),
    },
    Case {
        code: "source-least-flow",
        pass: &[],
        fail: &[("least_flow = \"4", "least_flow = \"29"), FULL_SPEED],
        depends: Some(&[
            ("least_flow = \"4", "least_flow = \"12"),
            FULL_SPEED,
            ("\"cu22 5m", "\"cu22 0.6 | cu10 0.4 5m"),
        ]),
    },
    Case {
        code: "source-greatest-flow",
        pass: &[],
        fail: &[(GREATEST, "greatest_flow = \"8 l/min\""), FULL_SPEED],
        depends: Some(&[
            (GREATEST, "greatest_flow = \"10 l/min\""),
            FULL_SPEED,
            ("\"cu22 5m", "\"cu10 0.6 | cu22 0.4 5m"),
        ]),
    },
    Case {
        code: "source-drop",
        pass: &[],
        fail: &[("\"cu22 5m", "\"cu8 5m")],
        depends: Some(&[("\"cu22 5m", "\"cu22 0.6 | cu8 0.4 5m")]),
    },
    Case {
        code: "defrost-flow",
        pass: &[],
        fail: &[("defrost_flow = \"5", "defrost_flow = \"29")],
        depends: Some(&[
            ("defrost_flow = \"5", "defrost_flow = \"12"),
            ("\"cu22 5m", "\"cu22 0.6 | cu10 0.4 5m"),
        ]),
    },
    Case {
        code: "valve-noise",
        pass: &[],
        fail: &[
            (
                "needs = \"1200 W\"",
                "needs = \"1200 W\", valve = \"thermostatic kv 0.3\"",
            ),
            FULL_SPEED,
        ],
        depends: Some(&[
            (
                "needs = \"1200 W\"",
                "needs = \"1200 W\", valve = \"thermostatic kv 0.4\"",
            ),
            FULL_SPEED,
            ("\"cu22 5m", "\"cu10 0.6 | cu22 0.4 5m"),
        ]),
    },
    Case {
        code: "floor-surface",
        pass: &[],
        fail: &[("area = \"12 m2\"", "area = \"5 m2\"")],
        depends: None,
    },
    Case {
        code: "antifreeze-glycol",
        pass: &[("strainer kv 9 on return", "2 antifreeze valve kv 9")],
        fail: &[
            ("strainer kv 9 on return", "2 antifreeze valve kv 9"),
            ("\"water\"", "\"propylene glycol 25%\""),
        ],
        depends: None,
    },
    Case {
        code: "low-velocity",
        pass: &[("[pair]", "[limits]\n\"low velocity\" = \"0.2 m/s\"\n[pair]")],
        fail: &[("[pair]", "[limits]\n\"low velocity\" = \"0.9 m/s\"\n[pair]")],
        depends: Some(&[
            ("[pair]", "[limits]\n\"low velocity\" = \"0.6 m/s\"\n[pair]"),
            NARROW_OR_WIDE,
        ]),
    },
    Case {
        code: "small-drop",
        pass: &[("[pair]", "[limits]\n\"least drop\" = \"3 K\"\n[pair]")],
        fail: &[("[pair]", "[limits]\n\"least drop\" = \"6 K\"\n[pair]")],
        depends: Some(&[
            ("[pair]", "[limits]\n\"least drop\" = \"6 K\"\n[pair]"),
            FULL_SPEED,
            ("\"cu22 5m", "\"cu10 0.6 | cu22 0.4 5m"),
        ]),
    },
];

/// Checks on circuits with two pumps or two units, each with a test of its own below.
const BY_HAND: [&str; 5] = [
    "warm-return",
    "reverse-flow",
    "idle-flow",
    "vessel-short-circuit",
    "vessel-mixing",
];
/// Checks that only ever say a note.
const NOTES: [&str; 4] = ["least-output", "head-kind", "glycol-curve", "transitional"];

#[test]
fn every_check_passes_fails_and_depends() {
    let passes = |v: Option<Verdict>| matches!(v, Some(Verdict::Holds | Verdict::Tight));
    let mut wrong = Vec::new();
    for case in CASES {
        let verdict = |changes: Changes| worst(&study(&house(changes)), case.code);
        let (pass, fail) = (verdict(case.pass), verdict(case.fail));
        if !passes(pass) || fail != Some(Verdict::Fails) {
            wrong.push(format!("{}: pass {pass:?}, fail {fail:?}", case.code));
        }
        if let Some(changes) = case.depends {
            let depends = study(&house(changes));
            let found = worst(&depends, case.code);
            let rests = of(&depends, case.code)
                .iter()
                .filter(|f| f.verdict == Verdict::Depends)
                .all(|f| f.rests_on == [(0, 0)]);
            if found != Some(Verdict::Depends) || !rests {
                wrong.push(format!(
                    "{}: depends {found:?}, names its doubt: {rests}",
                    case.code
                ));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_check_has_a_case() {
    let cased = |code: &str| CASES.iter().any(|case| case.code == code);
    let without: Vec<&str> = CHECKS
        .iter()
        .map(|check| check.code)
        .filter(|code| !cased(code) && !BY_HAND.contains(code) && !NOTES.contains(code))
        .collect();
    assert!(without.is_empty(), "no case for {without:?}");
    let mut codes: Vec<&str> = CHECKS.iter().map(|check| check.code).collect();
    codes.sort_unstable();
    codes.dedup();
    assert_eq!(codes.len(), CHECKS.len(), "a code stands twice");
}

#[test]
fn the_house_itself_holds_and_one_harmless_guess_leaves_it_so() {
    let plain = study(&house(&[]));
    assert!(
        plain.verdict >= Verdict::Tight,
        "{:?}",
        plain.findings.first()
    );
    assert_eq!(plain.not_shown, 0);
    assert_eq!(check::exit_status(&plain, true), 0);
    let guessed = study(&house(&[("leg = \"cu15 3m", "leg = \"cu15 3..4m")]));
    assert_eq!(guessed.network.doubts.len(), 1);
    assert_eq!(guessed.verdict, plain.verdict);
    assert!(guessed.findings.iter().all(|f| f.rests_on.is_empty()));
}

#[test]
fn missing_data_are_not_shown_and_count_only_if_strict() {
    let network = house(&[
        ("least_flow = \"4 l/min\"\n", ""),
        ("defrost_flow = \"5 l/min\"\n", ""),
    ]);
    let study = study(&network);
    assert_eq!(worst(&study, "source-least-flow"), Some(Verdict::NotShown));
    assert_eq!(worst(&study, "defrost-flow"), Some(Verdict::NotShown));
    assert_eq!(study.not_shown, 2);
    assert!(study.verdict >= Verdict::Tight);
    assert_eq!(check::exit_status(&study, false), 0);
    assert_eq!(check::exit_status(&study, true), 1);
}

/// The house with a pump that gives the same head at any flow, and more changes.
fn with_head(metres: &str, more: Changes) -> Finding {
    let curve = format!("[\"{metres} m at 0 l/min\", \"{metres} m at 30 l/min\"]");
    let mut changes = vec![(CURVE, curve.as_str())];
    changes.extend(more);
    of(&study(&house(&changes)), "head")[0].clone()
}

const CURVE: &str = r#"["3 m at 0 l/min", "2.6 m at 20 l/min", "1 m at 30 l/min"]"#;

#[test]
fn two_doubts_that_break_a_limit_only_together_are_both_named() {
    // the index circuit is the floor's: its main and its tail may both be narrower than thought
    const MAIN: (&str, &str) = WIDE_OR_NARROW;
    const TAIL: (&str, &str) = ("leg = \"cu15 2m\"", "leg = \"cu15 0.6 | cu10 0.4 2m\"");
    for one in [&[MAIN] as Changes, &[TAIL]] {
        let alone = with_head("2.4", one);
        assert!(alone.verdict >= Verdict::Tight, "{alone:?}");
        assert!(alone.rests_on.is_empty());
    }
    let both = with_head("2.4", &[MAIN, TAIL]);
    assert_eq!(both.verdict, Verdict::Depends, "{both:?}");
    assert_eq!(both.rests_on, [(0, 0), (1, 0)]);
    // where one of them is enough, it alone is named
    assert_eq!(with_head("2.0", &[MAIN, TAIL]).rests_on, [(0, 0)]);
}

#[test]
fn tight_says_why() {
    use pipecarry::check::TightBecause;
    const STRAINER: Changes = &[("strainer kv 9", "strainer kv 1.0")];
    const ELBOWS: Changes = &[("\"cu22 5m 6 elbow", "\"cu22 5m 120 elbow")];
    let rows: [(&str, Changes, Option<TightBecause>); 5] = [
        // 12.9 kPa needed: 13 % or 1.7 kPa left, then more than both
        ("1.5", &[], Some(TightBecause::Margin)),
        ("1.8", &[], None),
        // 24.8 kPa of the 37.7 are the strainer's: four times that is more than any margin here
        ("4.5", STRAINER, Some(TightBecause::Strainer)),
        ("4.0", STRAINER, Some(TightBecause::Margin)),
        // 20 kPa of the 31 are elbows
        ("3.69", ELBOWS, Some(TightBecause::Fittings)),
    ];
    for (metres, changes, because) in rows {
        let found = with_head(metres, changes);
        assert_eq!(found.tight_because, because, "{metres} m: {found:?}");
        let verdict = if because.is_some() {
            Verdict::Tight
        } else {
            Verdict::Holds
        };
        assert_eq!(found.verdict, verdict);
    }
}

#[test]
fn a_floor_that_nothing_holds_back_is_judged_by_what_it_gives() {
    let floor = |changes: Changes| {
        let study = study(&house(changes));
        let found = of(&study, "floor-surface")[0];
        (found.measured.expect("an area"), detail(found, "as_runs_c"))
    };
    const BY_HAND: (&str, &str) = (
        "area = \"12 m2\"",
        "area = \"12 m2\", valve = \"manual kv 0.9\"",
    );
    let (held, open) = floor(&[]);
    assert!(held <= open, "an actuator holds {open} C back to {held} C");
    let (free, as_runs) = floor(&[BY_HAND]);
    assert_relative_eq!(free, as_runs);
    assert!(free > held + 0.1, "{free} C against {held} C");
}

#[test]
fn tight_by_a_guess_says_so() {
    use pipecarry::check::TightBecause;
    const MAIN: (&str, &str) = WIDE_OR_NARROW;
    // the main alone, guessed narrower, leaves little of 2.4 m; as written it leaves plenty
    let sure = with_head("2.4", &[]);
    assert_eq!((sure.verdict, sure.tight_because), (Verdict::Holds, None));
    let guessed = with_head("2.4", &[MAIN]);
    assert_eq!(guessed.verdict, Verdict::Tight, "{guessed:?}");
    assert_eq!(guessed.tight_because, Some(TightBecause::Guess));
    assert!(guessed.rests_on.is_empty());
}

#[test]
fn notes_are_said_where_there_is_cause_and_never_count() {
    let plain = study(&house(&[]));
    let least = study(&house(&[(
        "least_output = \"1 kW\"",
        "least_output = \"7 kW\"",
    )]));
    assert_eq!(worst(&plain, "least-output"), None);
    assert_eq!(worst(&least, "least-output"), Some(Verdict::Note));
    let glycol = study(&house(&[("\"water\"", "\"propylene glycol 25%\"")]));
    assert_eq!(worst(&plain, "glycol-curve"), None);
    assert_eq!(worst(&glycol, "glycol-curve"), Some(Verdict::Note));
    assert_eq!(worst(&plain, "head-kind"), Some(Verdict::Note));
    let left = of(&plain, "head")[0];
    assert_relative_eq!(
        detail(of(&plain, "head-kind")[0], "left_pa"),
        detail(left, "left_pa")
    );
    // 700 W at 5 K is 2 l/min: in 12 mm bore Re about 5,500 at 40 °C, at a third of that in between
    let slow = study(&house(&[("needs = \"700 W\"", "needs = \"350 W\"")]));
    let between = of(&slow, "transitional");
    assert!(!between.is_empty());
    for found in between {
        assert_eq!(found.verdict, Verdict::Note);
        assert!((2300.0..4000.0).contains(&found.measured.expect("a Reynolds number")));
    }
    assert_eq!(
        worst(&plain, "gradient"),
        Some(Verdict::Note),
        "a note unless the file limits it"
    );
}

/// A heat pump beside a hotter boiler on one header, both on: told to make less than the mixture, it gives nothing.
#[test]
fn unit_fed_with_warmer_water_than_it_makes_is_named() {
    let text = include_str!("../../networks/comfrey.toml");
    let makes = |at: &str| {
        let text = text.replace(
            "output = \"8 kW\"",
            &format!("output = \"8 kW\"\nflow_temperature = \"{at}\""),
        );
        let (survey, said) = read(&text);
        let survey = survey.unwrap_or_else(|| panic!("{said:?}"));
        let (network, _) = expand(&survey).unwrap_or_else(|said| panic!("{said:?}"));
        study(&network)
    };
    assert_eq!(worst(&makes("52 C"), "warm-return"), None);
    let cool = makes("40 C");
    let found = of(&cool, "warm-return");
    assert!(!found.is_empty());
    for finding in found {
        assert_eq!(finding.verdict, Verdict::Fails);
        assert!(finding.measured.expect("a return") > 40.0);
        assert_eq!(finding.limit, Some(40.0));
        let at = &cool.running[finding.state.expect("a state")].solved.sources[0];
        assert!(at.output_w.abs() < 1e-6, "{at:?}");
    }
}

#[test]
fn total_head_read_as_free_head_story_a4() {
    // worked story A4: H = 7.5 − 0.9 Q² m, unit 1.2 Q², rest 1.0 Q²; m of the pumped fluid at g = 9.80665 m/s²
    let metre = crate::small::RHO * 9.80665;
    let mut s = Small::default();
    s.source("heat pump", ["return", "unit"], 45.0, 1.2 * metre)
        .pump_quadratic("pump", ["unit", "flow"], 7.5 * metre, -0.9 * metre)
        .valve(
            "rest",
            ["flow", "a"],
            (1e5 * (crate::small::RHO / 1000.0) / metre).sqrt(),
        )
        .radiator("house", ["a", "return"], 30_000.0, 20.0, (8000.0, 5.0));
    let mut network = s.network();
    network.sources[0].free_head = Some(false);
    let study = study(&network);
    let found = of(&study, "head-kind");
    assert_eq!(found.len(), 1);
    assert_eq!(found[0].verdict, Verdict::Note);
    let l_min = |m3_s: f64| m3_s * 60_000.0;
    assert_relative_eq!(
        l_min(detail(found[0], "total_head_m3_s")),
        25.9,
        max_relative = 0.005
    );
    assert_relative_eq!(
        l_min(detail(found[0], "read_as_free_m3_s")),
        33.1,
        max_relative = 0.005
    );
    assert_relative_eq!(detail(found[0], "excess"), 0.277, max_relative = 0.005);
}

fn named(stopped: Vec<usize>) -> HouseState {
    HouseState {
        name: "one pump off".to_owned(),
        kind: StateKind::Named,
        shut: Vec::new(),
        stopped,
        sources: vec![0],
    }
}

/// The same pipe with another bore, as something that the file admits.
fn other_bore(network: &Network, name: &str, bore: f64) -> Doubt {
    let id = element(network, name);
    let mut law = network.element(id).law.clone();
    if let Law::Parts(parts) = &mut law {
        for Part { law, .. } in parts {
            if let PartLaw::Friction { bore_m, .. } | PartLaw::Zeta { bore_m, .. } = law {
                *bore_m = bore;
            }
        }
    }
    Doubt {
        name: format!("{name}: a guess"),
        likeliest: "as written".to_owned(),
        alternatives: vec![Alternative {
            words: format!("bore {bore} m"),
            odds: None,
            edits: vec![(id, law)],
            follow: Default::default(),
        }],
        runs: Vec::new(),
        span: None,
    }
}

/// A unit with its pump, a vessel of a given bore, and a secondary pump to one radiator.
fn vessel(bore_m: f64, secondary_pa: f64) -> Network {
    let mut s = Small::default();
    s.source("unit", ["return", "inside"], 45.0, 0.0)
        .pump("primary", ["inside", "flow"], &[(0.0, 40e3), (2.0, 10e3)])
        .pipe("to vessel", ["flow", "top"], 8.0, 0.0262, 4.0)
        .pipe("vessel", ["top", "bottom"], 0.5, bore_m, 2.0)
        .pipe("from vessel", ["bottom", "return"], 8.0, 0.0262, 4.0)
        .pump(
            "secondary",
            ["top", "s"],
            &[(0.0, secondary_pa), (2.0, secondary_pa / 2.0)],
        )
        .pipe("out", ["s", "a"], 10.0, 0.0262, 4.0)
        .radiator("house", ["a", "b"], 20_000.0, 20.0, (6000.0, 5.0))
        .pipe("back", ["b", "bottom"], 10.0, 0.0262, 4.0);
    let mut network = s.network();
    let body = element(&network, "vessel");
    let (top, bottom) = network.ends(body);
    network.vessels.push(Vessel {
        name: "buffer".to_owned(),
        volume_m3: 0.045,
        body,
        kind: VesselKind::FourPort {
            top,
            bottom,
            pump: Some(1),
        },
        span: None,
    });
    if let Law::Parts(parts) = &mut network.graph[body].law {
        parts
            .iter_mut()
            .for_each(|part| part.group = PartGroup::Plant);
    }
    network.graph[body].run = None;
    network
}

#[test]
fn water_through_an_idle_circuit() {
    let verdict = |network: &mut Network| {
        network.states.push(named(vec![1]));
        worst(&study(network), "idle-flow")
    };
    assert_eq!(
        verdict(&mut vessel(0.4, 20e3)),
        Some(Verdict::Holds),
        "a wide vessel parts the pumps"
    );
    assert_eq!(
        verdict(&mut vessel(0.0262, 20e3)),
        Some(Verdict::Fails),
        "a narrow one drives them"
    );
    let mut doubtful = vessel(0.4, 20e3);
    let doubt = other_bore(&doubtful, "vessel", 0.0262);
    doubtful.doubts.push(doubt);
    assert_eq!(verdict(&mut doubtful), Some(Verdict::Depends));
}

#[test]
fn a_vessel_that_sends_the_water_straight_back() {
    let verdict = |network: &Network| worst(&study(network), "vessel-short-circuit");
    assert_eq!(verdict(&vessel(0.4, 30e3)), Some(Verdict::Holds));
    let mut stopped = vessel(0.4, 30e3);
    stopped.states.push(named(vec![1]));
    assert_eq!(
        verdict(&stopped),
        Some(Verdict::Fails),
        "the secondary pump stands still"
    );
    let mut doubtful = vessel(0.4, 30e3);
    let doubt = other_bore(&doubtful, "out", 0.0100);
    doubtful.doubts.push(doubt);
    assert_eq!(verdict(&doubtful), Some(Verdict::Depends));
}

#[test]
fn two_flows_at_a_vessel_that_differ() {
    let mut network = vessel(0.4, 30e3);
    assert_eq!(
        worst(&study(&network), "vessel-mixing"),
        Some(Verdict::Note),
        "a note by itself"
    );
    network.limits.push(("vessel balance".to_owned(), 0.5));
    let found = study(&network);
    assert!(worst(&found, "vessel-mixing") >= Some(Verdict::Tight));
    // what the emitters lose on the mean, against the temperatures of the view itself
    let mixing = found.running[0].mixing[0];
    let mean = |c: (f64, f64)| (c.0 + c.1) / 2.0;
    let lost = detail(of(&found, "vessel-mixing")[0], "lost_on_mean_k");
    assert_relative_eq!(
        lost,
        mean(mixing.primary_c) - mean(mixing.secondary_c),
        epsilon = 1e-9
    );
    network.limits[0].1 = 0.001;
    assert_eq!(
        worst(&study(&network), "vessel-mixing"),
        Some(Verdict::Fails)
    );
    network.limits[0].1 = 0.5;
    let doubt = other_bore(&network, "out", 0.0100);
    network.doubts.push(doubt);
    assert_eq!(
        worst(&study(&network), "vessel-mixing"),
        Some(Verdict::Depends)
    );
}

/// Two circuits with a pump each on one shared pipe without a vessel: the classic way to drive water backwards.
fn fighting(shared_bore_m: f64) -> Network {
    let mut s = Small::default();
    s.source("unit", ["return", "flow"], 45.0, 0.0)
        .pipe("shared", ["flow", "a"], 10.0, shared_bore_m, 4.0)
        .pump("first", ["a", "f"], &[(0.0, 40e3), (3.0, 20e3)])
        .radiator("lounge", ["f", "f2"], 8000.0, 20.0, (2000.0, 5.0))
        .pipe("lounge back", ["f2", "return"], 8.0, 0.0202, 2.0)
        .pump("second", ["a", "g"], &[(0.0, 40e3), (3.0, 20e3)])
        .radiator("bed", ["g", "g2"], 8000.0, 18.0, (2000.0, 5.0))
        .pipe("bed back", ["g2", "return"], 8.0, 0.0202, 2.0);
    let mut network = s.network();
    network.states.push(named(vec![1]));
    network
}

#[test]
fn water_that_passes_an_emitter_backwards() {
    assert_eq!(
        worst(&study(&fighting(0.0202)), "reverse-flow"),
        Some(Verdict::Fails)
    );
    assert_eq!(
        worst(&study(&house(&[])), "reverse-flow"),
        Some(Verdict::Holds)
    );
    let found = study(&fighting(0.0202));
    let worst_of = of(&found, "reverse-flow");
    assert_eq!(worst_of[0].names, ["bed"]);
    assert_eq!(worst_of[0].state, Some(1));
    let mut doubtful = fighting(0.3);
    assert_eq!(
        worst(&study(&doubtful), "reverse-flow"),
        Some(Verdict::Holds),
        "a header parts them"
    );
    let doubt = other_bore(&doubtful, "shared", 0.0202);
    doubtful.doubts.push(doubt);
    assert_eq!(
        worst(&study(&doubtful), "reverse-flow"),
        Some(Verdict::Depends)
    );
}

#[test]
fn the_room_that_drives_the_flow_temperature_is_the_one_that_asks_most() {
    let study = study(&house(&[]));
    let asks = of(&study, "flow-temperature");
    let driver: Vec<_> = asks.iter().filter(|f| detail(f, "drives") == 1.0).collect();
    assert_eq!(driver.len(), 1);
    let most = asks.iter().filter_map(|f| f.measured).fold(0.0, f64::max);
    assert_eq!(driver[0].measured, Some(most));
}

#[test]
fn hot_water_has_views_of_its_own() {
    let cylinder = "[cylinder.store]\nfrom = \"hall\"\nleg = \"cu22 2m\"\ncoil = \"kv 8\"\n[pair]";
    let found = study(&house(&[("[pair]", cylinder), FULL_SPEED]));
    let state = |kind| {
        found
            .network
            .states
            .iter()
            .position(|s| s.kind == kind)
            .expect("is there")
    };
    let (heating, hot) = (state(StateKind::Heating), state(StateKind::HotWater));
    let run = found.running.iter().find(|r| r.state == hot).expect("runs");
    let output = run.solved.sources[0].output_w;
    assert!(output > 4000.0 && output < 8000.1, "{output}");
    assert!(run.emitters.iter().all(|e| e.heat_w == 0.0));
    // each state has a required view and an index circuit of its own
    let required = |s: usize| {
        found
            .required
            .iter()
            .find(|r| r.state == s)
            .expect("asks for duty")
    };
    use pipecarry::view::{BasisUsed, Through};
    let circuit = &required(hot).circuits[0];
    assert_eq!(circuit.paths[circuit.index].through, Through::Cylinder(0));
    assert_eq!(required(hot).basis[0].used, BasisUsed::Output);
    assert!(matches!(
        required(heating).circuits[0].paths[0].through,
        Through::Emitter(_)
    ));
}

#[test]
fn cautions_only_where_there_is_cause() {
    let codes = |network: &Network| -> Vec<&str> {
        check::cautions(network).iter().map(|c| c.code).collect()
    };
    let plain = codes(&house(&[]));
    assert_eq!(plain[0], "deference");
    for absent in [
        "scald",
        "legionella",
        "unvented",
        "antifreeze-valves",
        "glycol",
        "old-pipe",
    ] {
        assert!(!plain.contains(&absent), "{absent}");
    }
    let cylinder = "[cylinder.store]\nfrom = \"hall\"\nleg = \"cu22 2m\"\ncoil = \"kv 8\"\nunvented = true\n[pair]";
    let stored = codes(&house(&[("[pair]", cylinder)]));
    for present in ["scald", "legionella", "unvented"] {
        assert!(stored.contains(&present), "{present}");
    }
    let protected = codes(&house(&[
        ("strainer kv 9 on return", "2 antifreeze valve kv 9"),
        ("\"water\"", "\"propylene glycol 25%\""),
    ]));
    assert!(protected.contains(&"antifreeze-valves") && protected.contains(&"glycol"));
}

/// Every caution: what in the house gives cause, and a house that differs in that alone and does not.
#[test]
fn every_caution_has_its_cause() {
    let source = "[source.unit]";
    let store = |extra: &str| {
        format!(
            "[cylinder.store]\nfrom = \"hall\"\nleg = \"cu22 2m\"\ncoil = \"kv 8\"\n{extra}[pair]"
        )
    };
    let (vented, unvented) = (store(""), store("unvented = true\n"));
    type Change<'a> = (&'a str, &'a str);
    let table: &[(&str, Change<'_>, Change<'_>)] = &[
        ("deference", (source, source), ("", "")),
        ("pressure", (source, source), ("", "")),
        ("refrigerant", (source, source), ("", "")),
        ("electricity", (source, source), ("", "")),
        ("scald", ("[pair]", &vented), ("[pair]", "[pair]")),
        ("legionella", ("[pair]", &vented), ("[pair]", "[pair]")),
        ("unvented", ("[pair]", &unvented), ("[pair]", &vented)),
        (
            "old-pipe",
            ("strainer kv 9 on return", "old"),
            ("strainer kv 9 on return", ""),
        ),
        (
            "antifreeze-valves",
            ("strainer kv 9 on return", "2 antifreeze valve kv 9"),
            ("strainer kv 9 on return", "2 strainer kv 9"),
        ),
        (
            "glycol",
            ("\"water\"", "\"propylene glycol 25%\""),
            ("\"water\"", "\"water\""),
        ),
    ];
    let codes = |change: &Change<'_>| -> Vec<&str> {
        let network = if change.0.is_empty() {
            house(&[])
        } else {
            house(&[*change])
        };
        check::cautions(&network).iter().map(|c| c.code).collect()
    };
    for (code, cause, without) in table {
        assert!(codes(cause).contains(code), "{code} is not said");
        let always = ["deference", "pressure", "refrigerant", "electricity"].contains(code);
        assert_eq!(
            codes(without).contains(code),
            always,
            "{code} without cause"
        );
    }
    // the flow temperature of the house of these tests decides about hot surfaces
    let mut cool = house(&[]);
    for (c, said) in [(40.0, false), (43.0, false), (50.0, true)] {
        cool.sources[0].flow_temperature_c = c;
        let found = check::cautions(&cool)
            .iter()
            .any(|c| c.code == "hot-surface");
        assert_eq!(found, said, "{c} °C");
    }
    // a solved case without any source gives no cause for a unit's cautions
    cool.sources.clear();
    let left: Vec<&str> = check::cautions(&cool).iter().map(|c| c.code).collect();
    assert!(
        !left.contains(&"refrigerant") && !left.contains(&"pressure"),
        "{left:?}"
    );
    let known: Vec<&str> = check::CAUTIONS.iter().map(|c| c.code).collect();
    for code in known {
        let tested = table.iter().any(|(c, ..)| *c == code) || code == "hot-surface";
        assert!(tested, "{code} has no row in this table");
    }
}

#[test]
fn readme_shows_the_table_of_checks() {
    let readme = include_str!("../../README.md");
    assert!(
        readme.contains(&check::markdown()),
        "README's table should be:\n{}",
        check::markdown()
    );
}
