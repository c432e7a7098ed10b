//! Text to survey: every key of the file, defaults, `like`, units, and places in the text.

use pipecarry::diag::Severity;
use pipecarry::quantity::{Kelvin, Metre, Pressure, VolumeFlow};
use pipecarry::survey::{Curve, Head, PumpMode, RoomRef, SourceHead, Survey, VesselKind, read};

/// A file that uses every section and every key.
pub const WHOLE: &str = include_str!("../data/whole.toml");

/// Reads a file in which nothing may be wrong.
fn good(file: &str) -> Survey {
    let (survey, found) = read(file);
    let errors: Vec<_> = found
        .iter()
        .filter(|d| d.severity == Severity::Error)
        .map(|d| format!("{}: {}", d.code, d.message))
        .collect();
    assert!(errors.is_empty(), "{errors:#?}");
    survey.expect("a file without errors is read")
}

/// The smallest house, with `more` after it.
fn house(more: &str) -> String {
    format!(
        "[source.hp]\noutput = 5000\n[pair]\nout = [\"hp\", \"hall\", \"cu22 5m\"]\n[emitter]\nlounge = {{ from = \"hall\", leg = \"cu15 2m\", rated = 2000, needs = 900 }}\n{more}"
    )
}

#[test]
fn the_whole_example_is_read_without_a_word_of_complaint() {
    let (survey, found) = read(WHOLE);
    assert!(found.is_empty(), "{found:#?}");
    let survey = survey.expect("it is read");
    assert_eq!(survey.sources.len(), 2);
    assert_eq!(survey.pairs.len(), 5);
    assert_eq!(survey.emitters.len(), 12);
    assert_eq!(survey.units.flow, "l/min");
    assert_eq!(survey.design.sheet.len(), 4);
    assert!(matches!(
        survey.sources[1].head,
        Some(SourceHead::Total {
            own_loss: Some(_),
            ..
        })
    ));
    assert!(matches!(
        survey.vessels[1].kind,
        VesselKind::FourPort { .. }
    ));
}

#[test]
fn like_and_defaults_fill_what_a_line_is_silent_about() {
    let survey = good(WHOLE);
    let get = |n: &str| {
        survey
            .emitters
            .iter()
            .find(|e| e.name.value == n)
            .expect("named")
    };
    let (lounge, copy) = (get("lounge"), get("copy"));
    assert_eq!(copy.kind, lounge.kind, "the panel comes from `like`");
    assert_eq!(copy.needs.as_ref().map(|n| n.value.0), Some(700.0));
    assert_eq!(
        copy.room.as_ref().map(|r| &r.value),
        Some(&RoomRef::Temperature(pipecarry::quantity::Celsius(18.0)))
    );
    let leg = copy.leg.as_ref().expect("a leg");
    assert_eq!(
        leg.value.length.likeliest.0, 6.0,
        "`length` takes the place of the inherited leg's"
    );
    assert_eq!(leg.value.items.len(), 1, "its fittings stay");
    let bed = get("Bed 1");
    assert_eq!(
        bed.valve.as_ref().map(|v| v.value.kv.0),
        Some(0.5),
        "the valve comes from defaults"
    );
}

#[test]
fn units_shown_are_those_first_met_unless_the_file_chooses() {
    let more = "towel = { from = \"hall\", leg = \"cu15 2m\", rated = \"500 W\", needs = \"0.3 kW\" }\n[bypass.b]\nat = \"hall\"\nkv = 2\nopening = \"200 mbar\"\n";
    let survey = good(&house(more));
    assert_eq!(survey.units.power, "W", "`500 W` stands before `0.3 kW`");
    assert_eq!(survey.units.pressure, "mbar");
    let chosen = format!("units = {{ power = \"BTU/h\" }}\n{}", house(more));
    assert_eq!(good(&chosen).units.power, "BTU/h");
}

#[test]
fn pump_modes_and_curves_mean_what_they_say() {
    for (text, mode) in [
        ("fixed speed", PumpMode::FixedSpeed(1.0)),
        ("Fixed  speed 80%", PumpMode::FixedSpeed(0.8)),
        (
            "constant head 2 m",
            PumpMode::ConstantHead(Head::Fluid(Metre(2.0))),
        ),
        (
            "proportional head 30 kPa",
            PumpMode::ProportionalHead(Head::Pressure(Pressure(30e3))),
        ),
        ("held to 0.5 l/s", PumpMode::HeldToFlow(VolumeFlow(5e-4))),
        ("held to drop", PumpMode::HeldToDrop(Kelvin(5.0))),
        ("held to drop 7 K", PumpMode::HeldToDrop(Kelvin(7.0))),
    ] {
        let file = house("").replace(
            "output = 5000",
            &format!("output = 5000\npump = \"{text}\""),
        );
        let read = good(&file).sources[0].mode.as_ref().map(|m| m.value);
        assert_eq!(read, Some(mode), "{text}");
    }
    let curve = |text: &str| {
        let file = house("").replace(
            "output = 5000",
            &format!("output = 5000\nfree_head = {text}"),
        );
        match good(&file).sources[0].head.clone() {
            Some(SourceHead::Free(curve)) => curve.value,
            other => panic!("{other:?}"),
        }
    };
    // 0.9 m per (m³/h)² is 0.9·3.6² m per (l/s)²
    let Curve::Coefficients { a, b, c } = curve("\"7.5 m − 11.664 m per (l/s)^2\"") else {
        panic!("coefficients")
    };
    assert_eq!((a, b), (Head::Fluid(Metre(7.5)), Head::Fluid(Metre(0.0))));
    let Head::Fluid(c) = c else { panic!("metres") };
    approx::assert_relative_eq!(c.0, -0.9, max_relative = 1e-12);
    let Curve::Points(points) = curve("[\"70 kPa at 0 l/min\", \"5 m at 20 l/min\"]") else {
        panic!("points")
    };
    assert_eq!(points[0].1, Head::Pressure(Pressure(70e3)));
}

#[test]
fn what_is_assumed_is_listed_with_its_source() {
    let survey = good(&house(""));
    let said: Vec<String> = survey
        .assumed
        .iter()
        .map(|a| format!("{}: {}", a.subject, a.value))
        .collect();
    for wanted in [
        "design: flow temperature 45 °C",
        "design: drop 5 K over the emitters",
        "emitter `lounge`: room at 20 °C",
        "emitter `lounge`: thermostatic valve kv 0.5",
        "emitter `lounge`: lockshield kv 1.6 fully open",
    ] {
        assert!(
            said.iter().any(|s| s == wanted),
            "{wanted} is not in {said:#?}"
        );
    }
    assert!(survey.assumed.iter().all(|a| !a.source.is_empty()));
}
