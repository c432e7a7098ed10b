//! Plots beside a schematic: what they show is what the views hold, in the user's units, and nothing is left out.

use crate::houses::looked_at;
use pipecarry::draw::{Style, plots};

/// Words of a plot, in its order.
fn words(svg: &str) -> Vec<String> {
    let tree = roxmltree::Document::parse(svg).expect("well formed");
    let text = |n: roxmltree::Node<'_, '_>| -> String {
        n.descendants()
            .filter_map(|d| d.is_text().then(|| d.text()).flatten())
            .collect()
    };
    let all = tree.descendants().filter(|n| n.has_tag_name("text"));
    all.map(|n| text(n).replace('\u{a0}', " ")).collect()
}

#[test]
fn every_run_with_a_duty_has_its_bar_and_those_that_are_over_come_first() {
    let study = looked_at("larch");
    let required = &study.required[0];
    let svg = plots::capacity(&study.network, required, &Style::default()).expect("a plot");
    let said = words(&svg);
    let runs: Vec<_> = required
        .capacity
        .iter()
        .filter(|c| c.duty_w > 0.0)
        .collect();
    for c in &runs {
        let tag = format!("{} ", study.network.runs[c.run].tag);
        assert!(
            said.iter().any(|w| w.starts_with(&tag)),
            "{tag} is missing in {said:?}"
        );
    }
    // larch is short of head on the way to all but the last radiators: nothing is left for those tails
    let without = runs
        .iter()
        .filter(|c| c.carries[0].3.is_some_and(|w| w <= 0.0))
        .count();
    assert!(without > 0, "a house whose pump is short");
    let bars: Vec<&String> = said.iter().filter(|w| w.contains(" of ")).collect();
    assert_eq!(bars.len(), runs.len());
    // the primaries are over by themselves and come first; what they leave nothing to comes next
    assert!(
        bars[0].starts_with("over: 9.00 of 5.") && bars[1].starts_with("over: 9.00 of 6."),
        "{bars:?}"
    );
    let none = |w: &&&String| w.starts_with("over: ") && w.ends_with(" of 0.00");
    let over = bars[2..].iter().take_while(none);
    assert_eq!(over.count(), without, "{bars:?}");
}

#[test]
fn axes_and_labels_are_in_the_units_of_the_file() {
    // larch speaks of metres of head, vetch of feet and gallons
    for (house, head, flow) in [("larch", "m", "l/min"), ("vetch", "ft", "gpm")] {
        let study = looked_at(house);
        let style = Style::default();
        let pump =
            plots::pump(&study.network, &study.required[0], None, 0, &style).expect("a curve");
        let said = words(&pump);
        for axis in [format!("head, {head}"), format!("flow, {flow}")] {
            assert!(said.contains(&axis), "{house}: {axis} in {said:?}");
        }
        let along = plots::pressure(&study.network, &study.required[0], 0, &style).expect("a path");
        assert!(
            words(&along).contains(&format!("pressure left, {head}")),
            "{house}"
        );
    }
}
