//! Made-up networks and houses, drawn: no fault, everything joined as it should be, and within the bounds.

use crate::drawing::{complete, joined, strokes};
use crate::drawing_cases::measured;
use crate::drawing_made::{case, made};
use crate::drawing_plants::house;
use pipecarry::draw::scene::{About, Item, Scene};
use pipecarry::draw::{self, Style};
use pipecarry::network::Network;
use std::path::Path;

/// Draw and hold to everything.
fn hold(name: &str, network: &Network) {
    let running = pipecarry::view::running(network, 0).ok();
    let sheets = draw::scene(network, None, running.as_ref(), &[], &Style::default());
    if let Ok(folder) = std::env::var("PIPECARRY_DRAW_TO") {
        for (i, sheet) in sheets.iter().enumerate() {
            let path = Path::new(&folder).join(format!("{name}-{}.svg", i + 1));
            std::fs::write(path, draw::svg::render(sheet)).expect("a folder to write to");
        }
    }
    complete(name, network, &sheets);
    exchanged(name, network, &sheets);
    joined(name, network, &sheets);
    measured(name, network, &sheets);
    let words = draw::text(network, None, running.as_ref(), &[], &Style::default());
    assert!(words.lines().all(|l| l.chars().count() <= 100), "{name}");
    for run in &network.runs {
        assert!(
            words.contains(&format!("{} ", run.tag)),
            "{name}: {} in text",
            run.tag
        );
    }
}

/// Both circuits of an exchanger are drawn at it: four pipes or more begin or end at its sides.
fn exchanged(name: &str, network: &Network, sheets: &[Scene]) {
    for i in 0..network.exchangers.len() {
        let ends = sheets.iter().flat_map(|sheet| {
            let at = sheet.items.iter().filter_map(move |item| match item {
                Item::Symbol(s) if s.about == About::Exchanger(i) => Some(s.rect.grow(0.1)),
                _ => None,
            });
            at.flat_map(move |r| {
                let ends = strokes(sheet).into_iter();
                let ends = ends.flat_map(|s| [s.points[0], s.points[s.points.len() - 1]]);
                ends.filter(move |p| p.x > r.x && p.x < r.right() && p.y > r.y && p.y < r.bottom())
            })
        });
        assert!(
            ends.count() >= 4,
            "{name}: exchanger {i} has no two circuits"
        );
    }
}

/// Hold N cases, `PIPECARRY_CASES` or some, and say all that is wrong with any.
pub(crate) fn all(some: u64, each: impl Fn(u64) + std::panic::RefUnwindSafe) {
    let asked = std::env::var("PIPECARRY_CASES").ok();
    let n = asked.and_then(|n| n.parse().ok()).unwrap_or(some);
    let mut bad = Vec::new();
    for i in 0..n {
        if let Err(e) = std::panic::catch_unwind(|| each(i)) {
            let words = e.downcast_ref::<String>().cloned();
            bad.push(words.unwrap_or_else(|| format!("case {i}")));
        }
    }
    assert!(bad.is_empty(), "{} of {n}:\n{}", bad.len(), bad.join("\n"));
}

#[test]
fn made_up_networks_have_no_fault() {
    // `PIPECARRY_CASES=300` for a long run
    all(24, |i| {
        let (seed, size) = case(i);
        let network = pipecarry::network::reference::load(&made(seed, size));
        let network = network.unwrap_or_else(|e| panic!("{e}"));
        hold(&format!("made-{seed}"), &network);
    });
}

#[test]
fn made_up_plants_have_no_fault() {
    all(16, |seed| {
        let text = house(seed);
        let (survey, problems) = pipecarry::survey::read::read(&text);
        let survey = survey.unwrap_or_else(|| panic!("plant {seed}: {problems:?}\n{text}"));
        let network = pipecarry::network::expand(&survey);
        let network = network.unwrap_or_else(|p| panic!("plant {seed}: {p:?}\n{text}"));
        hold(&format!("plant-{seed}"), &network.0);
    });
}
