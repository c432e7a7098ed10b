//! Every claim with its answer as CSV; one column tells the unit of the figures, the same as in the JSON.

use super::audit::{Shown, answer_word};
use super::csv::table;
use super::json_audit::published;
use super::rounded;
use super::sheet::row;
use crate::audit::{Expected, about_name};

/// How every table begins.
pub const BEGIN: &str = "line,claim,of,written,answer,finding,unit,";

row! {
    struct ClaimRow {
        line: usize,
        claim: String,
        of: String,
        written: String,
        answer: String,
        finding: String,
        unit: String,
        stated: Option<f64>,
        expected: Option<f64>,
        expected_words: String,
        difference: Option<f64>,
        tolerance: Option<f64>,
        cause: String,
        method: String,
        source: String,
    }
}

/// The audit as CSV.
pub fn text(shown: &Shown<'_>) -> String {
    let rows = shown
        .claims
        .list
        .iter()
        .zip(&shown.audit.answers)
        .enumerate();
    table(rows.map(|(i, (claim, answer))| {
        let (unit, factor) = published(claim.row).unwrap_or(("", 1.0));
        let figure = |si: Option<f64>| si.and_then(|x| rounded(x * factor));
        let expected = match answer.expected {
            Some(Expected::Figure(x) | Expected::AtLeast(x)) => Some(x),
            _ => None,
        };
        let words = answer.expected.as_ref().map(|x| shown.expected(claim, x));
        let numbers: Vec<String> = shown.numbers(i).iter().map(usize::to_string).collect();
        ClaimRow {
            line: claim.line,
            claim: claim.row.key.to_owned(),
            of: about_name(&shown.study.network, claim.about).unwrap_or_default(),
            written: claim.words.clone(),
            answer: answer_word(answer.verdict).to_owned(),
            finding: numbers.join(" "),
            unit: unit.to_owned(),
            stated: figure(claim.figure()),
            expected: figure(expected),
            expected_words: words.unwrap_or_default(),
            difference: figure(answer.difference),
            tolerance: figure(answer.tolerance),
            cause: answer
                .causes
                .first()
                .map(|c| c.code.to_owned())
                .unwrap_or_default(),
            method: claim.row.method.to_owned(),
            source: claim.row.source.to_owned(),
        }
    }))
}
