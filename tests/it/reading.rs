//! Text to survey: every key of the file, defaults, `like`, units, and places in the text.

use pipecarry::diag::Severity;
use pipecarry::survey::{
    EmitterKind, Head, PumpMode, RoomRef, SourceHead, Survey, VesselKind, read,
};

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
