//! What differs between two houses: what was changed is said, what was not is not.

use crate::houses::looked_at;
use pipecarry::report::compare::{Side, text};

#[test]
fn a_wider_primary_is_the_only_input_that_differs() {
    let (a, b) = (looked_at("larch"), looked_at("larch-28"));
    let side = |study, name| Side {
        study,
        name,
        state: 0,
    };
    let said = text(
        side(&a, "larch.toml"),
        side(&b, "larch-28.toml"),
        &a.network.units,
    );
    let (_, rest) = said.split_once("Inputs that differ\n").unwrap();
    let (inputs, results) = rest.split_once("\n\n").unwrap();
    assert_eq!(inputs.matches("  - ").count(), 2, "{said}");
    for part in [
        "primary F1: 22 mm copper, 12.0 m → 28 mm copper, 12.0 m.",
        "primary R1: 22 mm copper",
    ] {
        assert!(inputs.contains(part), "{part}:\n{said}");
    }
    assert!(
        said.contains("it fails") && results.contains("gone: fails"),
        "{said}"
    );
    assert!(said.lines().all(|l| l.chars().count() <= 80), "{said}");
}

#[test]
fn a_house_does_not_differ_from_itself() {
    let a = looked_at("larch");
    let side = |name| Side {
        study: &a,
        name,
        state: 0,
    };
    let said = text(side("a"), side("b"), &a.network.units);
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
    let a = looked_at("hyssop");
    let hot = a
        .network
        .states
        .iter()
        .position(|s| s.name == "hot water")
        .unwrap();
    let side = |name, state| Side {
        study: &a,
        name,
        state,
    };
    let said = text(side("heating", 0), side("hot water", hot), &a.network.units);
    assert!(said.contains("Inputs that differ\n  None."), "{said}");
    assert!(
        said.contains("Runs as duty requires, that change"),
        "{said}"
    );
}
