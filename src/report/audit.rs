//! An audit as text: every claim in a table, findings in words that can be pasted into a letter, what was not checked.

use super::MADE_BY;
use super::layout::{Table, name, paragraph};
use super::speak::Speak;
use crate::audit::cause::CAUSES;
use crate::audit::claim::{About, Claim, Claims, Row, Sort, Value, What};
use crate::audit::links::RELATIONS;
use crate::audit::{Answer, Audit, Expected, Finding, Severity, Verdict, about_name};
use crate::check::Study;
use crate::quantity::{Kv, Metre, Volume};
use crate::units::Quantity;
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

impl<'a> Shown<'a> {
    pub(super) fn speak(&self) -> Speak<'a> {
        Speak::new(self.study, &self.study.network.units)
    }

    pub(super) fn claim(&self, i: usize) -> Option<(&'a Claim, &'a Answer)> {
        Some((self.claims.list.get(i)?, self.audit.answers.get(i)?))
    }

    /// `velocity of primary`, `flow`.
    pub(super) fn subject(&self, claim: &Claim) -> String {
        let key = claim.row.key.replace('_', " ");
        match about_name(&self.study.network, claim.about) {
            Some(thing) => format!("{key} of {}", name(&thing, 40)),
            None => key,
        }
    }

    /// A figure of a claim's kind in the user's units.
    pub(super) fn figure(&self, row: &Row, si: f64) -> String {
        let speak = self.speak();
        let Sort::Figure(quantity) = row.sort else {
            return String::new();
        };
        match quantity {
            Quantity::Flow => speak.flow(si),
            Quantity::Head | Quantity::Pressure => speak.pressure(si),
            Quantity::Power => speak.power(si),
            Quantity::Temperature => speak.temperature(si),
            Quantity::Difference => speak.difference(si),
            Quantity::Volume => speak.show.volume(Volume(si)),
            Quantity::RunLength => speak.show.length(Metre(si)),
            Quantity::Size => speak.show.size(Metre(si)),
            Quantity::Velocity => speak.velocity(si),
            Quantity::Gradient => speak.gradient(si),
            Quantity::Kv => format!("kv {}", speak.show.kv(Kv(si)).replace("kv", "").trim()),
            _ => speak.show.three_figures(si),
        }
    }

    /// A difference or tolerance: of temperatures it is in K.
    fn apart(&self, row: &Row, si: f64) -> String {
        match row.sort {
            Sort::Figure(Quantity::Temperature) => self.speak().difference(si),
            _ => self.figure(row, si),
        }
    }

    /// What is expected, in words.
    pub(super) fn expected(&self, row: &Row, expected: &Expected) -> String {
        match expected {
            Expected::Figure(si) => self.figure(row, *si),
            Expected::AtLeast(si) => format!("at least {}", self.figure(row, *si)),
            Expected::Words(words) => name(words, 40),
            Expected::Flag(true) => "it passes".into(),
            Expected::Flag(false) => "it does not pass".into(),
        }
    }

    /// Line of the network file on which something stands.
    fn line(&self, at: usize) -> usize {
        let before = self.house_text.as_bytes().iter().take(at);
        1 + before.filter(|&&b| b == b'\n').count()
    }

    /// Numbers of the findings that a claim stands in.
    pub(super) fn numbers(&self, claim: usize) -> Vec<usize> {
        let list = self.audit.findings.iter().enumerate();
        list.filter(|(_, f)| f.claims.contains(&claim))
            .map(|(n, _)| n + 1)
            .collect()
    }

    /// `lines 4, 5 and 6`.
    pub(super) fn lines(&self, claims: &[usize]) -> String {
        let lines: BTreeSet<usize> = claims
            .iter()
            .filter_map(|&i| self.claim(i))
            .map(|(c, _)| c.line)
            .collect();
        let lines: Vec<String> = lines.iter().map(usize::to_string).collect();
        match lines.split_last() {
            Some((last, [])) => format!("line {last}"),
            Some((last, rest)) => format!("lines {} and {last}", rest.join(", ")),
            None => String::new(),
        }
    }

    /// What a claim rests on in the house: its pipes with their line, guesses among them said.
    pub(super) fn rests_on(&self, claim: &Claim, answer: &Answer) -> String {
        let network = &self.study.network;
        let speak = self.speak();
        let mut parts: Vec<String> = Vec::new();
        let first = answer.runs.first().and_then(|&i| network.runs.get(i));
        if let Some(run) = first {
            let line = run
                .span
                .as_ref()
                .map(|s| format!(", line {} of {}", self.line(s.start), name(self.house, 60)));
            parts.push(format!(
                "{} ({}, bore {}, {} long{})",
                speak.run(run, matches!(claim.about, About::Pair(_))),
                name(&run.size, 40),
                speak.show.size(Metre(run.bore_m)),
                speak.show.length(Metre(run.length_m)),
                line.unwrap_or_default()
            ));
        }
        for &doubt in answer
            .runs
            .iter()
            .filter_map(|&i| network.runs.get(i))
            .flat_map(|r| &r.doubts)
            .collect::<BTreeSet<_>>()
        {
            if let Some(doubt) = network.doubts.get(doubt) {
                parts.push(format!("the guess {}", name(&doubt.name, 60)));
            }
        }
        if let About::Emitter(i) = claim.about
            && let Some(span) = network.emitters.get(i).and_then(|e| e.span.as_ref())
        {
            parts.push(format!(
                "{} (line {} of {})",
                name(&network.emitters[i].name, 40),
                self.line(span.start),
                name(self.house, 60)
            ));
        }
        let design = &network.design;
        let basis = self.study.required.first().and_then(|r| r.basis.first());
        let from_flows = matches!(
            claim.row.what,
            What::Flow
                | What::Head
                | What::HeadAvailable
                | What::Index
                | What::Heat
                | What::Velocity
                | What::Gradient
                | What::Loss
                | What::Setting
        );
        if let Some(basis) = basis.filter(|_| from_flows) {
            parts.push(format!(
                "needs of {} and a drop of {}",
                speak.kilowatt(basis.rooms_w),
                speak.drop(design.drop_k)
            ));
        }
        if claim.row.what == What::Output {
            parts.push(format!(
                "a flow of {} at the unit and a drop of {}",
                speak.temperature(design.flow_temperature_c),
                speak.drop(design.drop_k)
            ));
        }
        parts.join("; ")
    }

    /// One claim that differs, as a sentence.
    pub(super) fn sentence(&self, claim: &Claim, answer: &Answer) -> String {
        let stated = format!(
            "Line {} states {} as {}",
            claim.line,
            self.subject(claim),
            name(&claim.words, 60)
        );
        let Some(expected) = &answer.expected else {
            return format!("{stated}.");
        };
        let expected_words = self.expected(claim.row, expected);
        let mut more = String::new();
        if let (Some(d), Some(t)) = (answer.difference, answer.tolerance) {
            let sign = if d > 0.0 { "+" } else { "" };
            more = format!(
                " (difference {sign}{}, tolerance {})",
                self.apart(claim.row, d),
                self.apart(claim.row, t)
            );
        }
        match (&claim.value, expected) {
            (Value::Flag(_), Expected::Flag(passes)) => {
                let verb = if *passes { "it does" } else { "it does not" };
                format!(
                    "Line {} states that the house works; by the checks {verb}.",
                    claim.line
                )
            }
            (Value::Flag(_), _) => format!("{stated}."),
            _ => format!("{stated}; {expected_words} is expected{more}."),
        }
    }
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
                .map_or("-".into(), |x| name(&shown.expected(claim.row, x), 17)),
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
                shown.figure(claim.row, gives)
            ));
        }
        out.push_str(&paragraph("    ", &sentence));
        let method = format!("{} ({})", claim.row.method, claim.row.source);
        if !methods.contains(&method) {
            methods.push(method);
        }
        let rest = shown.rests_on(claim, answer);
        if !rest.is_empty() && !rests.contains(&rest) {
            rests.push(rest);
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
        Lines = upper_first(&shown.lines(claims)),
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
                    .map(|x| format!("{} is expected", shown.expected(claim.row, x)))
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
