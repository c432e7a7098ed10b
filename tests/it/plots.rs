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

/// The duty and the limit of a bar.
fn figures(bar: &str) -> (f64, f64) {
    let bare = bar.trim_start_matches("over: ");
    let (duty, rest) = bare.split_once(" of ").expect("two figures");
    let limit = rest.split(',').next().expect("a limit");
    (
        duty.parse().expect("a duty"),
        limit.parse().expect("a limit"),
    )
}

#[test]
fn every_run_with_a_duty_has_its_bar_and_only_pipes_at_fault_are_over() {
    let study = looked_at("larch");
    let required = &study.required[0];
    let svg = plots::capacity(&study.network, required, &Style::default()).expect("a plot");
    let said = words(&svg);
    let bars: Vec<&String> = said.iter().filter(|w| w.contains(" of ")).collect();
    let mut shown = 0;
    for c in required.capacity.iter().filter(|c| c.duty_w > 0.0) {
        let tag = &study.network.runs[c.run].tag;
        let named = |w: &&String| {
            w.split(' ')
                .next()
                .is_some_and(|t| t.split('/').any(|t| t == tag))
        };
        assert_eq!(said.iter().filter(named).count(), 1, "{tag} in {said:?}");
        shown += 1;
    }
    assert!(
        bars.len() < shown,
        "one bar for both pipes of an equal pair"
    );
    // heard above 1.00 m/s, for which 22 mm copper has 9.00 kW / 1.36 = 6.6 kW: the primaries alone are too fast
    assert_eq!(bars[0], "over: 9.00 of 6.62, velocity");
    assert!(bars[1..].iter().all(|b| !b.starts_with("over")), "{bars:?}");
    let full: Vec<f64> = bars
        .iter()
        .map(|b| figures(b))
        .map(|(d, l)| d / l)
        .collect();
    assert!(
        full.is_sorted_by(|a, b| a >= b),
        "the fullest first: {full:?}"
    );
    // the pump's head is said once
    assert_eq!(said.iter().filter(|w| w.contains(" short")).count(), 1);
    assert!(
        said.contains(&"heat, kW".to_owned()),
        "an axis with its unit"
    );
}

#[test]
fn a_pump_that_is_short_of_head_is_said_to_be() {
    let larch = looked_at("larch");
    let plot = plots::pressure(&larch.network, &larch.required[0], 0, &Style::default());
    let plot = plot.expect("a path");
    let said = words(&plot);
    let gives = said.iter().find(|w| w.starts_with("pump: "));
    assert_eq!(
        gives.map(String::as_str),
        Some("pump: 5.05 m, 0.95 m short")
    );
    assert!(plot.contains("stroke-dasharray"), "the way home is dashed");
    // the buffer's primary of campion loses next to nothing: its ring is what to look at
    let campion = looked_at("campion");
    let required = &campion.required[0];
    let least = plots::tightest(required);
    assert_eq!(required.circuits[least].name, "buffer secondary");
}

#[test]
fn a_pump_below_full_speed_has_its_own_curve_through_the_point_it_runs_at() {
    let study = looked_at("hyssop");
    let (required, running) = (&study.required[0], study.running.first());
    let speed = running.expect("runs").solved.pumps[0].speed;
    assert!(speed < 0.99, "a pump at fixed speed");
    let plot = plots::pump(&study.network, required, running, 0, &Style::default());
    let said = words(&plot.expect("a curve"));
    assert!(
        said.contains(&format!("pump as it runs, {:.0} %", speed * 100.0)),
        "{said:?}"
    );
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
