//! What is done with one made-up input, by the coverage-guided targets here and by `tests/it/fuzzing.rs` on stable Rust.
//!
//! Nothing may panic, whatever the bytes, and every diagnostic must point at a part of the text.

use pipecarry::catalogue::Catalogue;
use pipecarry::diag::{Diagnostic, any_error};
use pipecarry::{cli, network, survey};

/// A network file: read, and expanded if it is sound. Returns whether it got that far.
pub fn reader(text: &str) -> bool {
    let (survey, found) = survey::read::read(text);
    places(text, &found);
    assert_eq!(
        survey.is_none(),
        any_error(&found),
        "no survey exactly where something is an error"
    );
    let drawn = cli::term::draw("house.toml", text, &found, false);
    assert!(
        !drawn.chars().any(|c| c.is_control() && c != '\n'),
        "a control character reached the terminal"
    );
    let Some(survey) = survey else {
        return false;
    };
    match network::expand(&survey) {
        Ok((network, found)) => {
            places(text, &found);
            assert!(!any_error(&found), "errors are handed back as errors");
            assert!(network.graph.edge_count() > 0, "a sound house has elements");
            true
        }
        Err(found) => {
            places(text, &found);
            assert!(any_error(&found), "a refusal names its reason");
            false
        }
    }
}

/// A leg: read, and what was read printed and read again. Returns whether it was sound.
pub fn leg(text: &str) -> bool {
    let catalogue = Catalogue::embedded();
    match survey::leg::parse(text, 0, catalogue) {
        Ok(leg) => {
            let printed = survey::leg::print(&leg);
            let again = survey::leg::parse(&printed, 0, catalogue);
            let again = again.unwrap_or_else(|e| panic!("{text:?} printed as {printed:?}: {e:?}"));
            assert_eq!(survey::leg::print(&again), printed, "{text:?}");
            true
        }
        Err(found) => {
            places(text, &found);
            assert!(any_error(&found), "a refusal names its reason");
            false
        }
    }
}

fn places(text: &str, found: &[Diagnostic]) {
    for diagnostic in found {
        let spans = diagnostic
            .span
            .iter()
            .chain(diagnostic.also.iter().map(|(span, _)| span));
        for span in spans {
            assert!(
                text.get(span.clone()).is_some(),
                "{}: {span:?} is no part of the text",
                diagnostic.code
            );
        }
    }
}
