//! Words of an audit: what a claim is about, figures in the user's units, what a figure rests on, one claim as a sentence.

use super::audit::Shown;
use super::layout::name;
use super::speak::Speak;
use crate::audit::claim::{About, Claim, Row, Sort, Value, What};
use crate::audit::{Answer, Expected, about_name};
use crate::check;
use crate::quantity::{Kv, Metre, Volume};
use crate::units::Quantity;
use std::collections::BTreeSet;

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
        self.basis(claim, answer).join("; ")
    }

    pub(super) fn basis(&self, claim: &Claim, answer: &Answer) -> Vec<String> {
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
        parts
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
                let verb = if *passes {
                    "it does".to_owned()
                } else {
                    format!("it does not: {}", self.failing())
                };
                format!(
                    "Line {} states that the house works; by the checks {verb}.",
                    claim.line
                )
            }
            (Value::Flag(_), _) => format!("{stated}."),
            _ => format!("{stated}; {expected_words} is expected{more}."),
        }
    }

    /// The checks that fail, the first few of them.
    fn failing(&self) -> String {
        const MOST: usize = 4;
        let speak = self.speak();
        let worst =
            |v: check::Verdict| matches!(v, check::Verdict::Fails | check::Verdict::Depends);
        let all: Vec<String> = self
            .study
            .findings
            .iter()
            .filter(|f| worst(f.verdict))
            .map(|f| format!("{} of {}", f.check, speak.subject(f.subject)))
            .collect();
        let more = all.len().saturating_sub(MOST);
        let shown = all.into_iter().take(MOST).collect::<Vec<_>>().join(", ");
        if more > 0 {
            format!("{shown} and {more} more")
        } else {
            shown
        }
    }
}
