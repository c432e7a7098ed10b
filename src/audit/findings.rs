//! What a reviewer has to say: claims that one cause explains together, contradictions, the gravest first.

use super::claim::{Claims, Harm, Value};
use super::links::Contradictions;
use super::{Answer, Finding, Severity, Verdict};

/// How much a claim that differs weighs.
fn severity(claims: &Claims, answers: &[Answer], i: usize) -> Severity {
    let (Some(claim), Some(answer)) = (claims.list.get(i), answers.get(i)) else {
        return Severity::Minor;
    };
    if let Value::Flag(said) = claim.value {
        return if said {
            Severity::Serious
        } else {
            Severity::Minor
        };
    }
    match (claim.row.harm, answer.difference) {
        (Harm::Low, Some(d)) if d < 0.0 => Severity::Serious,
        (Harm::High, Some(d)) if d > 0.0 => Severity::Serious,
        (Harm::Low | Harm::High, Some(_)) => Severity::Minor,
        (Harm::Either, _) | (_, None) => Severity::Wrong,
    }
}

/// By how many of its tolerances a claim is off.
fn times(answer: &Answer) -> f64 {
    match (answer.difference, answer.tolerance) {
        (Some(d), Some(t)) if t > 0.0 => d.abs() / t,
        (None, None) => f64::INFINITY, // a word or a yes is right or wrong, not by how much
        _ => 0.0,
    }
}

pub(super) fn findings(
    claims: &Claims,
    answers: &[Answer],
    contradictions: &Contradictions,
) -> Vec<Finding> {
    let mut list: Vec<Finding> = Vec::new();
    for (i, answer) in answers.iter().enumerate() {
        if answer.verdict != Verdict::Differs {
            continue;
        }
        let cause = answer.causes.first();
        let same = |f: &&mut Finding| {
            cause.is_some_and(|c| {
                f.cause
                    .as_ref()
                    // one that gives no figure joins whatever names the same mistake
                    .is_some_and(|o| {
                        o.code == c.code
                            && (o.words == c.words || o.gives.is_none() || c.gives.is_none())
                    })
            })
        };
        match list.iter_mut().find(same) {
            Some(finding) => finding.claims.push(i),
            None => list.push(Finding {
                severity: Severity::Minor,
                claims: vec![i],
                cause: cause.cloned(),
                contradiction: None,
            }),
        }
    }
    for finding in &mut list {
        let worst = finding
            .claims
            .iter()
            .map(|&i| severity(claims, answers, i))
            .min();
        finding.severity = worst.unwrap_or(Severity::Minor);
        // a figure in the wrong unit is wrong by a factor, on whatever side
        if finding
            .cause
            .as_ref()
            .is_some_and(|c| c.code.ends_with("-unit"))
        {
            finding.severity = finding.severity.min(Severity::Wrong);
        }
    }
    for (s, set) in contradictions.sets.iter().enumerate() {
        list.push(Finding {
            severity: Severity::Wrong,
            claims: set.claims.clone(),
            cause: None,
            contradiction: Some(s),
        });
    }
    let weight = |f: &Finding| {
        let off = f.claims.iter().filter_map(|&i| answers.get(i)).map(times);
        off.fold(0.0, f64::max)
    };
    // serious before minor, contradictions after what differs, then by how far it is off; the order of lines breaks ties
    list.sort_by(|a, b| {
        a.severity
            .cmp(&b.severity)
            .then(a.contradiction.is_some().cmp(&b.contradiction.is_some()))
            .then(weight(b).total_cmp(&weight(a)))
            .then(a.claims.cmp(&b.claims))
    });
    list
}
