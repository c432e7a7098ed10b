//! SI values under keys that carry the published unit.

use crate::check::{Finding, Kind};
use crate::report::rounded;
use std::collections::BTreeMap;

/// Ending of a key and factor from SI, by kind.
pub(crate) fn published(kind: Kind) -> (&'static str, f64) {
    match kind {
        Kind::VelocityMs => ("m_s", 1.0),
        Kind::GradientPaM => ("pa_m", 1.0),
        Kind::PressurePa => ("pa", 1.0),
        Kind::MassFlowKgS => ("kg_s", 1.0),
        Kind::VolumeFlowM3S => ("m3_h", 3600.0),
        Kind::PowerW => ("w", 1.0),
        Kind::TemperatureC => ("c", 1.0),
        Kind::DifferenceK => ("k", 1.0),
        Kind::VolumeM3 => ("l", 1000.0),
        Kind::Ratio => ("share", 1.0),
        Kind::Count => ("count", 1.0),
    }
}

/// A key of a finding's detail ends in its SI unit; flows and volumes take the published one.
fn published_key(key: &str) -> (String, f64) {
    for (si, unit, factor) in [("_m3_s", "_m3_h", 3600.0), ("_m3", "_l", 1000.0)] {
        if let Some(stem) = key.strip_suffix(si) {
            return (format!("{stem}{unit}"), factor);
        }
    }
    (key.to_owned(), 1.0)
}

/// All figures of a finding.
pub(crate) fn of(finding: &Finding) -> BTreeMap<String, f64> {
    let (unit, factor) = published(finding.kind);
    let main = [("measured", finding.measured), ("limit", finding.limit)];
    let main = main
        .into_iter()
        .filter_map(|(key, value)| Some((format!("{key}_{unit}"), rounded(value? * factor)?)));
    let detail = finding.detail.iter().filter_map(|&(key, value)| {
        let (key, factor) = published_key(key);
        Some((key, rounded(value * factor)?))
    });
    // what is measured and its limit win over a detail of the same key
    detail.chain(main).collect()
}
