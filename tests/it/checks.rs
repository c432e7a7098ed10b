//! Every check: a passing, a failing and a doubtful case.

use crate::small::Small;
use approx::assert_relative_eq;
use pipecarry::check::{self, Finding, Options, Study, Verdict};
use pipecarry::network::Network;

fn study(network: &Network) -> Study {
    check::study(network, &Options::default()).expect("a small house has an answer")
}

fn of<'a>(study: &'a Study, code: &str) -> Vec<&'a Finding> {
    study.findings.iter().filter(|f| f.check == code).collect()
}

fn detail(finding: &Finding, key: &str) -> f64 {
    let found = finding.detail.iter().find(|(k, _)| *k == key);
    found
        .unwrap_or_else(|| panic!("{} has no {key}", finding.check))
        .1
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
