//! The report as text: first what the person wanted to know, then what stands in the way, then the figures. Reads well
//! at 80 columns, without colour, and piped.

mod findings;
mod headline;
mod required;
mod running;

use super::MADE_BY;
use super::layout::{name, paragraph};
use super::speak::Speak;
use crate::check::cautions::cautions;
use crate::check::{Study, Verdict};
use crate::survey::Units;

/// What may be chosen about a report.
#[derive(Clone, Debug)]
pub struct Style {
    /// Units that figures are shown in.
    pub units: Units,
    /// Verdicts carry colour, beside their words.
    pub colour: bool,
    /// Only one state of the house, by index.
    pub state: Option<usize>,
}

/// The whole report of a study.
pub fn check(study: &Study, style: &Style) -> String {
    let speak = Speak::new(study, &style.units);
    let paint = Paint(style.colour);
    let wanted = |s: usize| style.state.is_none_or(|only| only == s);
    let shown = findings::merged(study, &speak, style.state);
    let mut out = headline::text(study, &speak, paint, style.state, &shown);
    out.push_str(&findings::text(study, &speak, paint, &shown));
    for view in study.required.iter().filter(|r| wanted(r.state)) {
        out.push_str(&required::text(study, &speak, view, paint));
    }
    for view in study.running.iter().filter(|r| wanted(r.state)) {
        out.push_str(&running::text(study, &speak, view, paint));
    }
    out.push_str(&assumed(study, paint));
    out.push_str(&heading("Before you touch anything", paint));
    for caution in cautions(&study.network) {
        out.push_str(&paragraph("  - ", caution.text));
    }
    out.push_str(&format!("\n{MADE_BY}\n"));
    out
}

/// Findings that stand in the way, in the order in which the report numbers them from 1: indices into
/// `Study::findings`.
pub fn numbered(study: &Study, state: Option<usize>) -> Vec<usize> {
    let speak = Speak::new(study, &study.network.units);
    let shown = findings::merged(study, &speak, state);
    let bad = shown.iter().map(|s| s.finding).filter(|f| {
        matches!(
            f.verdict,
            Verdict::Fails | Verdict::Depends | Verdict::Tight
        )
    });
    bad.filter_map(|f| study.findings.iter().position(|o| std::ptr::eq(o, f)))
        .collect()
}

pub(crate) use findings::{noted, notes_together};

/// The verdict in a few words, and the paragraphs that a report begins with.
pub(crate) fn first_words(
    study: &Study,
    speak: &Speak<'_>,
    state: Option<usize>,
) -> (&'static str, Vec<String>) {
    let shown = findings::merged(study, speak, state);
    (
        headline::verdict(study),
        headline::paragraphs(study, speak, state, &shown),
    )
}

/// Colour, where it may be used: always beside a word that says the same.
#[derive(Clone, Copy)]
pub(super) struct Paint(bool);

impl Paint {
    /// A verdict's word.
    pub(super) fn verdict(self, verdict: Verdict, text: &str) -> String {
        let code = match verdict {
            Verdict::Fails => "1;31",
            Verdict::Depends => "1;33",
            Verdict::Tight => "1",
            Verdict::Holds | Verdict::NotShown | Verdict::Note => return text.to_owned(),
        };
        self.wrap(code, text)
    }

    /// A heading.
    pub(super) fn heading(self, text: &str) -> String {
        self.wrap("1", text)
    }

    fn wrap(self, code: &str, text: &str) -> String {
        if self.0 {
            format!("\u{1b}[{code}m{text}\u{1b}[0m")
        } else {
            text.to_owned()
        }
    }
}

/// A heading with a blank line before it.
pub(super) fn heading(text: &str, paint: Paint) -> String {
    let text = paragraph("", text);
    let lines: Vec<String> = text.lines().map(|line| paint.heading(line)).collect();
    format!("\n{}\n", lines.join("\n"))
}

/// Every default that was used because the file is silent.
fn assumed(study: &Study, paint: Paint) -> String {
    if study.network.assumed.is_empty() {
        return String::new();
    }
    let mut out = heading("Assumed, because the file does not say", paint);
    for text in defaults(study) {
        out.push_str(&paragraph("  - ", &text));
    }
    out
}

/// One sentence for each default that was used, whoever it is about.
pub(crate) fn defaults(study: &Study) -> Vec<String> {
    let mut said: Vec<(&str, &str, Vec<&str>)> = Vec::new();
    for a in &study.network.assumed {
        match said
            .iter_mut()
            .find(|(value, source, _)| *value == a.value && *source == a.source)
        {
            Some((_, _, subjects)) => subjects.push(&a.subject),
            None => said.push((&a.value, &a.source, vec![&a.subject])),
        }
    }
    const MOST: usize = 6;
    let sentence = |(value, source, subjects): (&str, &str, Vec<&str>)| {
        let shown: Vec<String> = subjects.iter().take(MOST).map(|s| name(s, 200)).collect();
        let more = match subjects.len().saturating_sub(MOST) {
            0 => String::new(),
            more => format!(" and {more} more"),
        };
        let source = match source {
            "" => String::new(),
            source => format!(" ({})", name(source, 200)),
        };
        format!("{}: {}{more}{source}", name(value, 200), shown.join(", "))
    };
    said.into_iter().map(sentence).collect()
}
