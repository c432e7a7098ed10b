//! An audit as text: every claim in a table, findings in words that can be pasted into a letter, what was not checked.

use super::MADE_BY;
use super::layout::{Table, name, paragraph};
use crate::audit::cause::CAUSES;
use crate::audit::claim::Claims;
use crate::audit::links::RELATIONS;
use crate::audit::{Audit, Finding, Severity, Verdict};
use crate::check::Study;
use std::collections::BTreeSet;

/// What an audit is told from.
#[derive(Clone, Copy)]
pub struct Shown<'a> {
    /// The house.
    pub study: &'a Study,
    /// What is stated.
    pub claims: &'a Claims,
    /// The answers.
    pub audit: &'a Audit,
    /// Name of the network file.
    pub house: &'a str,
    /// Its text, for line numbers.
    pub house_text: &'a str,
    /// Name of the file of claims.
    pub schedule: &'a str,
}

/// Name of a cause.
pub(super) fn cause_name(code: &str) -> &'static str {
    CAUSES
        .iter()
        .find(|(c, _)| *c == code)
        .map_or("", |(_, name)| name)
}

/// Word of an answer.
pub(super) fn answer_word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Agrees => "agrees",
        Verdict::Differs => "differs",
        Verdict::Contradicts => "contradicts another claim",
        Verdict::NotShown => "cannot be shown",
    }
}

/// Word of a severity.
pub(super) fn severity_word(severity: Severity) -> &'static str {
    match severity {
        Severity::Serious => "serious",
        Severity::Wrong => "wrong",
        Severity::Minor => "minor",
    }
}

fn upper_first(text: &str) -> String {
    let mut letters = text.chars();
    match letters.next() {
        Some(first) => first.to_uppercase().chain(letters).collect(),
        None => String::new(),
    }
}

/// The whole audit.
pub fn text(shown: &Shown<'_>) -> String {
    let mut out = head(shown);
    out.push_str(&table(shown));
    out.push_str("\nFindings\n");
    if shown.audit.findings.is_empty() {
        out.push_str("  none: every claim that could be shown agrees, and none contradict\n");
    }
    for (n, finding) in shown.audit.findings.iter().enumerate() {
        out.push('\n');
        out.push_str(&finding_text(shown, n + 1, finding));
    }
    out.push_str(&contradictions(shown));
    out.push_str(&not_checked(shown));
    out.push('\n');
    out.push_str(&paragraph(
        "",
        "An audit compares figures. Local codes, the maker's instructions and licensed practice come first.",
    ));
    out.push_str(&format!("\n{MADE_BY}\n"));
    out
}

fn head(shown: &Shown<'_>) -> String {
    let network = &shown.study.network;
    let by = match &shown.claims.by {
        Some(by) => format!(", stated by {}", name(by, 120)),
        None => String::new(),
    };
    let mut out = paragraph(
        "",
        &format!(
            "Audit of {}{by}, against {} ({})",
            name(shown.schedule, 120),
            name(shown.house, 120),
            name(&network.title, 60)
        ),
    );
    let count = |v: Verdict| {
        let all = shown.audit.answers.iter();
        all.filter(|a| a.verdict == v).count()
    };
    let sets = shown.audit.contradictions.sets.len();
    let more = if shown.audit.contradictions.complete {
        String::new()
    } else {
        " or more".into()
    };
    out.push('\n');
    out.push_str(&paragraph(
        "",
        &format!(
            "{}: {} {}, {} {}, {} cannot be shown{}. Contradictions among them: {sets}{more}.",
            counted(shown.claims.list.len(), "claim"),
            count(Verdict::Agrees),
            if count(Verdict::Agrees) == 1 {
                "agrees"
            } else {
                "agree"
            },
            count(Verdict::Differs),
            if count(Verdict::Differs) == 1 {
                "differs"
            } else {
                "differ"
            },
            count(Verdict::NotShown),
            match count(Verdict::Contradicts) {
                0 => String::new(),
                n => format!(", {n} only against one another"),
            }
        ),
    ));
    out
}

fn counted(n: usize, word: &str) -> String {
    format!("{n} {word}{}", if n == 1 { "" } else { "s" })
}

fn table(shown: &Shown<'_>) -> String {
    let mut table = Table::new(&["line", "<claim", "stated", "expected", "<answer (finding)"]);
    for (i, claim) in shown.claims.list.iter().enumerate() {
        let Some((_, answer)) = shown.claim(i) else {
            continue;
        };
        let numbers: Vec<String> = shown.numbers(i).iter().map(usize::to_string).collect();
        let numbers = match numbers.len() {
            0 => String::new(),
            1..=4 => format!(" ({})", numbers.join(", ")),
            n => format!(" ({} and {} more)", numbers[..3].join(", "), n - 3),
        };
        let word = match answer.verdict {
            Verdict::Contradicts => "contradicts",
            Verdict::NotShown => "not shown",
            other => answer_word(other),
        };
        table.row(vec![
            claim.line.to_string(),
            name(&shown.subject(claim), 26),
            name(&claim.words, 14),
            answer
                .expected
                .as_ref()
                .map_or("-".into(), |x| name(&shown.expected(claim, x), 17)),
            format!("{word}{numbers}"),
        ]);
    }
    format!("\nClaims\n{}", table.text())
}

fn finding_text(shown: &Shown<'_>, number: usize, finding: &Finding) -> String {
    let first = format!("{number:>3} ");
    let severity = severity_word(finding.severity);
    if let Some(set) = finding
        .contradiction
        .and_then(|s| shown.audit.contradictions.sets.get(s))
    {
        return paragraph(
            &first,
            &contradiction(shown, severity, &finding.claims, &set.relations),
        );
    }
    let title = match &finding.cause {
        Some(cause) => upper_first(cause_name(cause.code)),
        None => "Differs, and no usual mistake explains it".into(),
    };
    let mut out = paragraph(
        &first,
        &format!("{severity}: {title} ({}).", shown.lines(&finding.claims)),
    );
    let mut methods: Vec<String> = Vec::new();
    let mut rests: Vec<String> = Vec::new();
    let mut also: BTreeSet<&str> = BTreeSet::new();
    for &i in &finding.claims {
        let Some((claim, answer)) = shown.claim(i) else {
            continue;
        };
        let mut sentence = shown.sentence(claim, answer);
        let gives = answer.causes.first().and_then(|c| c.gives);
        if let Some(gives) = gives {
            sentence.push_str(&format!(
                " With the mistake it would be {}.",
                shown.figure(claim, gives)
            ));
        }
        out.push_str(&paragraph("    ", &sentence));
        let method = format!("{} ({})", claim.row.method, claim.row.source);
        if !methods.contains(&method) {
            methods.push(method);
        }
        for rest in shown.basis(claim, answer) {
            if !rests.contains(&rest) {
                rests.push(rest);
            }
        }
        let others = answer.causes.iter().skip(1).map(|c| c.code);
        also.extend(others.filter(|c| finding.cause.as_ref().is_none_or(|f| f.code != *c)));
    }
    if let Some(cause) = &finding.cause {
        let also: Vec<&str> = also.into_iter().map(cause_name).take(3).collect();
        let also = match also.len() {
            0 => String::new(),
            _ => format!(" It would fit as well: {}.", also.join("; ")),
        };
        let figure = if finding.claims.len() == 1 {
            "The stated figure is what comes out if"
        } else {
            "The stated figures are what comes out if"
        };
        out.push_str(&paragraph(
            "    ",
            &format!(
                "{figure} {}.{also} Please correct this, or show how it was reached.",
                cause.words
            ),
        ));
    } else {
        out.push_str(&paragraph("    ", "Please show how it was reached."));
    }
    if !rests.is_empty() {
        out.push_str(&paragraph(
            "    ",
            &format!("Rests on: {}.", rests.join("; ")),
        ));
    }
    out.push_str(&paragraph(
        "    ",
        &format!("Method: {}.", methods.join("; ")),
    ));
    out
}

fn contradiction(
    shown: &Shown<'_>,
    severity: &str,
    claims: &[usize],
    relations: &[&'static str],
) -> String {
    let stated: Vec<String> = claims
        .iter()
        .filter_map(|&i| shown.claim(i))
        .map(|(c, _)| format!("{} {}", shown.subject(c), name(&c.words, 60)))
        .collect();
    let all = if claims.len() == 1 {
        "cannot be true by itself"
    } else {
        "cannot all be true"
    };
    let broken: Vec<&str> = RELATIONS
        .iter()
        .filter(|(name, _)| relations.contains(name))
        .map(|(_, words)| *words)
        .collect();
    format!(
        "{severity}: Contradiction ({lines}). {Lines} {all}, whatever the house is like: {}. They break: {}. At least one of \
         them has to be withdrawn.",
        stated.join(", "),
        broken.join("; "),
        lines = shown.lines(claims),
        Lines = match shown.lines(claims) {
            // one line of a table makes several claims
            line if line.starts_with("line ") && claims.len() > 1 =>
                format!("The figures of {line}"),
            lines => upper_first(&lines),
        },
    )
}

fn contradictions(shown: &Shown<'_>) -> String {
    let all = &shown.audit.contradictions;
    if all.sets.is_empty() {
        return String::new();
    }
    let count = if all.complete {
        format!("{} in all", counted(all.sets.len(), "smallest set"))
    } else {
        format!("the first {}; there may be more", all.sets.len())
    };
    let survive = if all.survivors.is_empty() {
        "no claim stands outside them".into()
    } else if all.survivors.len() == shown.claims.list.len() {
        "every claim survives".into()
    } else {
        format!("untouched by them: {}", shown.lines(&all.survivors))
    };
    let mut out = String::from("\nContradictions\n");
    out.push_str(&paragraph(
        "  ",
        &format!("Smallest sets of claims that cannot all be true by the list of relations: {count}; {survive}."),
    ));
    out
}

/// What was not checked, and why.
fn not_checked(shown: &Shown<'_>) -> String {
    let mut out = String::from("\nNot checked\n");
    for line in not_checked_lines(shown) {
        out.push_str(&paragraph("  - ", &line));
    }
    out
}

/// What was not checked and why, one sentence each.
pub(super) fn not_checked_lines(shown: &Shown<'_>) -> Vec<String> {
    let mut lines = Vec::new();
    let network = &shown.study.network;
    for (i, claim) in shown.claims.list.iter().enumerate() {
        let Some((_, answer)) = shown.claim(i) else {
            continue;
        };
        if let Some(why) = &answer.why {
            lines.push(format!(
                "{} (line {}): {why}",
                upper_first(&shown.subject(claim)),
                claim.line
            ));
        } else if let Some(doubt) = answer.under.and_then(|(d, a)| {
            let doubt = network.doubts.get(d)?;
            Some((doubt, doubt.alternatives.get(a)?))
        }) {
            let (doubt, alternative) = doubt;
            lines.push(format!(
                "{} (line {}): {} at the likeliest values, but it agrees if {} is {}: look at it",
                upper_first(&shown.subject(claim)),
                claim.line,
                answer
                    .expected
                    .as_ref()
                    .map(|x| format!("{} is expected", shown.expected(claim, x)))
                    .unwrap_or_default(),
                name(&doubt.name, 60),
                name(&alternative.words, 60)
            ));
        }
    }
    if !shown.audit.silent.is_empty() {
        let keys: Vec<String> = shown
            .audit
            .silent
            .iter()
            .map(|k| k.replace('_', " "))
            .collect();
        lines.push(format!("Not stated, so not compared: {}", keys.join(", ")));
    }
    if network.states.len() > 1 {
        lines.push(
            "Other states of the house than plain heating: claims are read as claims about heating"
                .into(),
        );
    }
    if network.sources.len() > 1 || shown.study.required.iter().any(|r| r.circuits.len() > 1) {
        lines.push("Circuits beyond the first source's own pump: claims about the house are read as claims about that one".into());
    }
    lines.push(
        "The network file itself: it is taken as true; where it was guessed, `pipecarry check` says what depends on it".into(),
    );
    lines
}
