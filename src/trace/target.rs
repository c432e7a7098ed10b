//! What a person asks for, by its name, its tag or its number.

use crate::check::Study;
use crate::diag::nearest;
use crate::network::Network;

/// What can be traced.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum What {
    /// Index into `Network::runs`.
    Run(usize),
    /// Index into `Network::emitters`.
    Emitter(usize),
    /// Index into the required view's circuits: its index way.
    Circuit(usize),
    /// Index into `Network::sources`.
    Source(usize),
    /// Index into `Study::findings`.
    Finding(usize),
}

/// All that a word can mean: both pipes of a pair, an emitter before its tails, findings by the code of their check.
/// Where nothing fits, the nearest names.
pub fn find(study: &Study, word: &str) -> Result<Vec<What>, Vec<String>> {
    let network = &study.network;
    let word = word.trim();
    let is =
        |name: &str| name.eq_ignore_ascii_case(word) || name.to_lowercase() == word.to_lowercase();
    if is("index") || is("index circuit") {
        return Ok(vec![What::Circuit(0)]);
    }
    if let Some(run) = network
        .runs
        .iter()
        .position(|r| is(&r.tag) || is(&format!("{} {}", r.name, r.tag)))
    {
        return Ok(vec![What::Run(run)]);
    }
    if let Some(emitter) = network.emitters.iter().position(|e| is(&e.name)) {
        return Ok(vec![What::Emitter(emitter)]);
    }
    if let Some(source) = network.sources.iter().position(|s| is(&s.name)) {
        return Ok(vec![What::Source(source)]);
    }
    let circuits = study.required.first().map(|r| &r.circuits);
    if let Some(circuit) = circuits.and_then(|c| c.iter().position(|c| is(&c.name))) {
        return Ok(vec![What::Circuit(circuit)]);
    }
    let rooms = network
        .rooms
        .iter()
        .filter(|r| is(&r.name))
        .flat_map(|r| &r.emitters);
    let runs = network.runs.iter().enumerate().filter(|(_, r)| is(&r.name));
    let all: Vec<What> = rooms
        .map(|e| What::Emitter(*e))
        .chain(runs.map(|(i, _)| What::Run(i)))
        .collect();
    if !all.is_empty() {
        return Ok(all);
    }
    // the worst finding of a check stands first
    if let Some(finding) = study.findings.iter().position(|f| is(f.check)) {
        return Ok(vec![What::Finding(finding)]);
    }
    Err(near(study, word))
}

fn near(study: &Study, word: &str) -> Vec<String> {
    let all = names(&study.network);
    let checks: Vec<&str> = study.findings.iter().map(|f| f.check).collect();
    let mut left: Vec<&str> = all
        .iter()
        .map(String::as_str)
        .chain(checks)
        .chain(["index"])
        .collect();
    let mut found = Vec::new();
    while found.len() < 3 {
        let Some(name) = nearest(word, left.iter().copied()).map(str::to_owned) else {
            break;
        };
        left.retain(|other| *other != name);
        found.push(name);
    }
    found
}

/// Names that can be asked for, each once, in the order of the file.
pub fn names(network: &Network) -> Vec<String> {
    let runs = network
        .runs
        .iter()
        .flat_map(|r| [r.name.clone(), r.tag.clone()]);
    let emitters = network.emitters.iter().map(|e| e.name.clone());
    let sources = network.sources.iter().map(|s| s.name.clone());
    let mut list: Vec<String> = Vec::new();
    for name in runs.chain(emitters).chain(sources) {
        if !list.contains(&name) {
            list.push(name);
        }
    }
    list
}
