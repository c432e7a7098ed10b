//! An audit as JSON with a versioned schema: keys carry their unit, the same whatever the user reads.

use super::audit::{Shown, answer_word, cause_name, not_checked_lines, severity_word};
use super::{MADE_BY, json, rounded};
use crate::audit::claim::{Row, Sort, Value};
use crate::audit::links::RELATIONS;
use crate::audit::{Expected, about_name};
use crate::units::Quantity;
use schemars::JsonSchema;
use serde::Serialize;
use std::collections::BTreeMap;

/// Version of the layout; it rises when a reader of the old one would go wrong.
pub const VERSION: u32 = 1;

/// Name of the layout.
pub const SCHEMA: &str = "pipecarry.audit";

/// The result of `audit`.
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Audit {
    /// Name of this layout.
    pub schema: String,
    /// Version of this layout.
    pub version: u32,
    /// Words that mark the file as made by this program.
    pub made_by: String,
    /// Title of the job.
    pub job: String,
    /// Who states the claims.
    pub by: Option<String>,
    /// Every claim, in the order of the schedule.
    pub claims: Vec<Claim>,
    /// Smallest sets of claims that cannot all be true, at most twenty.
    pub contradictions: Vec<Contradiction>,
    /// False if there may be more of them.
    pub contradictions_complete: bool,
    /// Claims in none of them, by index into `claims`.
    pub survivors: Vec<usize>,
    /// The list of relations by which claims contradict: name and formula.
    pub relations: BTreeMap<String, String>,
    /// What a reviewer has to say, worst first; their numbers count from 1.
    pub findings: Vec<Finding>,
    /// What was not checked, and why.
    pub not_checked: Vec<String>,
}

/// A claim and what became of it.
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Claim {
    /// Line in the schedule.
    pub line: usize,
    /// Key of the claim.
    pub claim: String,
    /// What it is about; nothing for the house.
    pub of: Option<String>,
    /// As written.
    pub stated: String,
    /// `agrees`, `differs`, `contradicts another claim`, `cannot be shown`.
    pub answer: String,
    /// What is expected, in words.
    pub expected: Option<String>,
    /// `stated`, `expected`, `difference`, `tolerance`, each key with its unit.
    pub figures: BTreeMap<String, f64>,
    /// Codes of mistakes that give the stated figure, the likeliest first.
    pub causes: Vec<String>,
    /// Why it cannot be shown.
    pub why: Option<String>,
    /// What the expected figure rests on.
    pub rests_on: String,
    /// How it is worked out.
    pub method: String,
    /// Source of the method.
    pub source: String,
}

/// A smallest set of claims that cannot all be true.
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Contradiction {
    /// By index into `claims`.
    pub claims: Vec<usize>,
    /// Names of the relations that they break together.
    pub relations: Vec<String>,
}

/// What a reviewer has to say.
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Finding {
    /// From 1.
    pub number: usize,
    /// `serious`, `wrong`, `minor`.
    pub severity: String,
    /// Code of the cause, where one was found.
    pub cause: Option<String>,
    /// Name of the cause.
    pub cause_name: Option<String>,
    /// The mistake in words.
    pub words: Option<String>,
    /// Claims that it rests on, by index into `claims`.
    pub claims: Vec<usize>,
    /// Lines of those claims.
    pub lines: Vec<usize>,
    /// Index into `contradictions`, if it is one.
    pub contradiction: Option<usize>,
}

/// Ending of a key and factor from SI.
pub(super) fn published(row: &Row) -> Option<(&'static str, f64)> {
    let quantity = match row.sort {
        Sort::Figure(quantity) => quantity,
        Sort::Level => return Some(("db", 1.0)),
        Sort::Mark | Sort::Number => return Some(("number", 1.0)),
        Sort::Pipe | Sort::Name | Sort::Flag | Sort::Fluid => return None,
    };
    Some(match quantity {
        Quantity::Flow => ("m3_h", 3600.0),
        Quantity::Head | Quantity::Pressure => ("pa", 1.0),
        Quantity::Power => ("w", 1.0),
        Quantity::Temperature => ("c", 1.0),
        Quantity::Difference => ("k", 1.0),
        Quantity::Volume => ("l", 1000.0),
        Quantity::RunLength => ("m", 1.0),
        Quantity::Size => ("mm", 1000.0),
        Quantity::Velocity => ("m_s", 1.0),
        Quantity::Gradient => ("pa_m", 1.0),
        _ => ("kv", 1.0),
    })
}

/// Unit of a difference: of temperatures it is K.
pub(super) fn apart(unit: &'static str) -> &'static str {
    if unit == "c" { "k" } else { unit }
}

fn figures(row: &Row, value: &Value, answer: &crate::audit::Answer) -> BTreeMap<String, f64> {
    let Some((unit, factor)) = published(row) else {
        return BTreeMap::new();
    };
    let stated = match value {
        Value::Figure { si, .. } => Some(*si),
        _ => None,
    };
    let expected = match answer.expected {
        Some(Expected::Figure(x) | Expected::AtLeast(x)) => Some(x),
        _ => None,
    };
    let all = [
        ("stated", unit, stated),
        ("expected", unit, expected),
        ("difference", apart(unit), answer.difference),
        ("tolerance", apart(unit), answer.tolerance),
    ];
    all.into_iter()
        .filter_map(|(key, unit, si)| Some((format!("{key}_{unit}"), rounded(si? * factor)?)))
        .collect()
}

/// The audit as a value.
pub fn audit(shown: &Shown<'_>) -> Audit {
    let network = &shown.study.network;
    let all = &shown.audit.contradictions;
    let claims = shown
        .claims
        .list
        .iter()
        .zip(&shown.audit.answers)
        .map(|(claim, answer)| Claim {
            line: claim.line,
            claim: claim.row.key.to_owned(),
            of: about_name(network, claim.about),
            stated: claim.words.clone(),
            answer: answer_word(answer.verdict).to_owned(),
            expected: answer.expected.as_ref().map(|x| shown.expected(claim, x)),
            figures: figures(claim.row, &claim.value, answer),
            causes: answer.causes.iter().map(|c| c.code.to_owned()).collect(),
            why: answer.why.clone(),
            rests_on: shown.rests_on(claim, answer),
            method: claim.row.method.to_owned(),
            source: claim.row.source.to_owned(),
        })
        .collect();
    let findings = shown.audit.findings.iter().enumerate();
    Audit {
        schema: SCHEMA.to_owned(),
        version: VERSION,
        made_by: MADE_BY.to_owned(),
        job: network.title.clone(),
        by: shown.claims.by.clone(),
        claims,
        contradictions: all
            .sets
            .iter()
            .map(|s| Contradiction {
                claims: s.claims.clone(),
                relations: s.relations.iter().map(|r| (*r).to_owned()).collect(),
            })
            .collect(),
        contradictions_complete: all.complete,
        survivors: all.survivors.clone(),
        relations: RELATIONS
            .iter()
            .map(|(name, words)| ((*name).to_owned(), (*words).to_owned()))
            .collect(),
        findings: findings
            .map(|(n, f)| Finding {
                number: n + 1,
                severity: severity_word(f.severity).to_owned(),
                cause: f.cause.as_ref().map(|c| c.code.to_owned()),
                cause_name: f.cause.as_ref().map(|c| cause_name(c.code).to_owned()),
                words: f.cause.as_ref().map(|c| c.words.clone()),
                lines: f
                    .claims
                    .iter()
                    .filter_map(|&i| shown.claim(i))
                    .map(|(c, _)| c.line)
                    .collect(),
                claims: f.claims.clone(),
                contradiction: f.contradiction,
            })
            .collect(),
        not_checked: not_checked_lines(shown),
    }
}

/// The audit as JSON.
pub fn text(shown: &Shown<'_>) -> String {
    json::any(&audit(shown))
}

/// JSON Schema of [`Audit`], as published.
pub fn schema() -> String {
    let mut schema = schemars::schema_for!(Audit);
    schema.insert("title".into(), "Result of pipecarry audit".into());
    json::any(&schema)
}
