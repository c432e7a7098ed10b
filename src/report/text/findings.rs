//! What was found: what stands in the way in full, then what could not be shown, notes, and what holds in one line each.

use super::{Paint, heading};
use crate::check::{CHECKS, Finding, Listed, Study, Verdict, listed};
use crate::report::layout::paragraph;
use crate::report::speak::Speak;
use crate::report::{remedy, words};

/// A finding and, where both pipes of a pair say the same, the worse of the two for both.
pub(super) struct Shown<'a> {
    pub(super) finding: &'a Finding,
    who: String,
}

/// A finding in words, for other reports.
pub(crate) struct Noted {
    /// Index into `Study::findings`.
    pub(crate) finding: usize,
    /// Its number among what stands in the way, from 1.
    pub(crate) number: Option<usize>,
    /// What was found, with the state of the house where it has several.
    pub(crate) found: String,
    /// What to do.
    pub(crate) to_do: Option<String>,
}

/// Every finding in words, in the order in which the reports have them.
pub(crate) fn noted(study: &Study, speak: &Speak<'_>, state: Option<usize>) -> Vec<Noted> {
    let mut last = 0;
    merged(study, speak, state)
        .iter()
        .filter_map(|s| {
            let said = words::say(speak, s.finding, &s.who);
            let bad = matches!(
                s.finding.verdict,
                Verdict::Fails | Verdict::Depends | Verdict::Tight
            );
            last += usize::from(bad);
            Some(Noted {
                finding: study
                    .findings
                    .iter()
                    .position(|f| std::ptr::eq(f, s.finding))?,
                number: bad.then_some(last),
                found: with_state(study, speak, s, &said.found),
                to_do: said.to_do,
            })
        })
        .collect()
}

/// All findings by verdict.
pub(super) fn text(study: &Study, speak: &Speak<'_>, paint: Paint, shown: &[Shown<'_>]) -> String {
    let of = |verdicts: &'static [Verdict]| {
        shown
            .iter()
            .filter(move |s| verdicts.contains(&s.finding.verdict))
    };
    let mut out = String::new();
    let bad: Vec<&Shown<'_>> = of(&[Verdict::Fails, Verdict::Depends, Verdict::Tight]).collect();
    if !bad.is_empty() {
        out.push_str(&heading("What stands in the way", paint));
        let mut first = 1;
        let several = bad
            .chunk_by(|a, b| alike(a.finding, b.finding))
            .any(|group| group.len() > 1);
        let width = if several { 5 } else { 3 };
        for group in bad.chunk_by(|a, b| alike(a.finding, b.finding)) {
            // the worst speaks for its like
            let worst = group
                .iter()
                .min_by(|a, b| margin(a.finding).total_cmp(&margin(b.finding)))
                .unwrap_or(&group[0]);
            out.push_str(&one(study, speak, paint, (first, width), worst, group));
            first += group.len();
        }
    }
    let missing: Vec<&Shown<'_>> = of(&[Verdict::NotShown]).collect();
    if !missing.is_empty() {
        out.push_str(&heading("Not shown, for want of data", paint));
        for s in missing {
            let said = words::say(speak, s.finding, &s.who);
            out.push_str(&paragraph(
                "  - ",
                &with_state(study, speak, s, &said.found),
            ));
        }
    }
    out.push_str(&idle_guesses(study, speak, paint));
    out.push_str(&notes(
        study,
        speak,
        paint,
        &of(&[Verdict::Note]).collect::<Vec<_>>(),
    ));
    out.push_str(&holds(
        study,
        paint,
        &of(&[Verdict::Holds]).collect::<Vec<_>>(),
    ));
    out
}

fn margin(finding: &Finding) -> f64 {
    finding.margin.unwrap_or(0.0)
}

/// Whether two findings are the same thing in two places, which one sentence can say: neither rests on a guess, which
/// needs a sentence of its own.
fn alike(a: &Finding, b: &Finding) -> bool {
    let key = |f: &Finding| {
        let to_do = remedy::to_do(f);
        (f.check, f.verdict, f.state, f.tight_because, to_do)
    };
    key(a) == key(b) && a.rests_on.is_empty() && b.rests_on.is_empty()
}

/// `1 fails    velocity: …` with what to do under it; `1-4 fails` where it stands for several.
fn one(
    study: &Study,
    speak: &Speak<'_>,
    paint: Paint,
    (number, width): (usize, usize),
    s: &Shown<'_>,
    group: &[&Shown<'_>],
) -> String {
    let said = words::say(speak, s.finding, &s.who);
    let word = words::verdict(s.finding.verdict);
    let number = match group.len() {
        1 => format!("{number}"),
        more => format!("{number}-{}", number + more - 1),
    };
    let first = format!("{number:>width$} {word:<8}");
    let mut text = with_state(study, speak, s, &said.found);
    let others: Vec<String> = group
        .iter()
        .filter(|o| !std::ptr::eq(o.finding, s.finding))
        .map(|o| words::brief(speak, o.finding, &o.who, s.finding))
        .collect();
    if !others.is_empty() {
        text.push_str(&format!(" The same of {}.", others.join(", ")));
    }
    if let Some(to_do) = said.to_do {
        text.push_str(&format!(" To do: {to_do}."));
    }
    let text = paragraph(&first, &text);
    // painted last, so that escapes do not count as columns
    text.replacen(word, &paint.verdict(s.finding.verdict, word), 1)
}

/// The sentence, and the state of the house where it has several.
fn with_state(study: &Study, speak: &Speak<'_>, s: &Shown<'_>, found: &str) -> String {
    match s.finding.state {
        Some(state) if study.network.states.len() > 1 => {
            format!("[{}] {found}", speak.state(state))
        }
        _ => found.to_owned(),
    }
}

/// Guesses that were tried, value by value, and on which no verdict rests: nobody need lift a board for them.
fn idle_guesses(study: &Study, speak: &Speak<'_>, paint: Paint) -> String {
    let matters = |d: usize| {
        let mut rests = study.findings.iter().flat_map(|f| &f.rests_on);
        rests.any(|(doubt, _)| *doubt == d)
    };
    let idle = study.network.doubts.iter().enumerate();
    let idle = idle.filter(|(d, doubt)| !doubt.alternatives.is_empty() && !matters(*d));
    let lines: String = idle
        .map(|(_, doubt)| {
            let tried: Vec<String> = doubt
                .alternatives
                .iter()
                .map(|a| speak.clean(&a.words))
                .collect();
            let likeliest = speak.clean(&doubt.likeliest);
            paragraph(
                "  - ",
                &format!(
                    "{}: taken as {likeliest}; tried as {}.",
                    speak.name(&doubt.name),
                    tried.join("; ")
                ),
            )
        })
        .collect();
    if lines.is_empty() {
        return lines;
    }
    format!("{}{lines}", heading("Guesses that turn no verdict", paint))
}

/// Notes of one check together: the first few in full.
fn notes(study: &Study, speak: &Speak<'_>, paint: Paint, notes: &[&Shown<'_>]) -> String {
    const MOST: usize = 2;
    if notes.is_empty() {
        return String::new();
    }
    let mut out = heading("Notes, which never count", paint);
    for check in CHECKS {
        let of: Vec<_> = notes
            .iter()
            .filter(|s| s.finding.check == check.code)
            .collect();
        let beyond: Vec<_> = of.iter().filter(|s| worth_saying(s.finding)).collect();
        for s in beyond.iter().take(MOST) {
            let said = words::say(speak, s.finding, &s.who);
            out.push_str(&paragraph(
                "  - ",
                &with_state(study, speak, s, &said.found),
            ));
        }
        let more = beyond.len().saturating_sub(MOST);
        if more > 0 {
            out.push_str(&paragraph(
                "  - ",
                &format!("{}: {more} more like these", check.title),
            ));
        }
    }
    out
}

/// Notes of one check in one sentence: the worst, then the others with their figures.
pub(crate) fn notes_together(
    study: &Study,
    speak: &Speak<'_>,
    state: Option<usize>,
) -> Vec<String> {
    let shown = merged(study, speak, state);
    let notes: Vec<&Shown<'_>> = shown
        .iter()
        .filter(|s| s.finding.verdict == Verdict::Note && worth_saying(s.finding))
        .collect();
    let mut said = Vec::new();
    for check in CHECKS {
        let of: Vec<&&Shown<'_>> = notes
            .iter()
            .filter(|s| s.finding.check == check.code)
            .collect();
        let worst = of
            .iter()
            .min_by(|a, b| margin(a.finding).total_cmp(&margin(b.finding)));
        let Some(worst) = worst else { continue };
        let mut text = with_state(
            study,
            speak,
            worst,
            &words::say(speak, worst.finding, &worst.who).found,
        );
        let others: Vec<String> = of
            .iter()
            .filter(|o| !std::ptr::eq(o.finding, worst.finding))
            .map(|o| words::brief(speak, o.finding, &o.who, worst.finding))
            .collect();
        if !others.is_empty() {
            text.push_str(&format!(" The same of {}.", others.join(", ")));
        }
        said.push(text);
    }
    said
}

/// A note within its limit says nothing that the tables do not.
fn worth_saying(finding: &Finding) -> bool {
    finding.margin.is_none_or(|margin| margin < 0.0)
}

/// What holds, by check.
fn holds(study: &Study, paint: Paint, holds: &[&Shown<'_>]) -> String {
    if holds.is_empty() {
        return String::new();
    }
    let mut out = heading("What holds", paint);
    let lines: Vec<String> = CHECKS
        .iter()
        .filter_map(|check| {
            let n = holds
                .iter()
                .filter(|s| s.finding.check == check.code)
                .count();
            let all = study.findings.iter().any(|f| {
                f.check == check.code
                    && matches!(
                        f.verdict,
                        Verdict::Fails | Verdict::Depends | Verdict::Tight
                    )
            });
            let elsewhere = if all { " elsewhere" } else { "" };
            match n {
                0 => None,
                1 => Some(format!("{}{elsewhere}", check.title)),
                n => Some(format!("{}{elsewhere} ({n}x)", check.title)),
            }
        })
        .collect();
    out.push_str(&paragraph("  ", &format!("{}.", lines.join("; "))));
    out
}

/// Findings in their order; one on the return pipe is left out where its flow pipe has one of the same verdict.
pub(super) fn merged<'a>(
    study: &'a Study,
    speak: &Speak<'_>,
    state: Option<usize>,
) -> Vec<Shown<'a>> {
    let wanted = |f: &&Finding| f.state.is_none_or(|s| state.is_none_or(|only| only == s));
    let all: Vec<&Finding> = study.findings.iter().filter(wanted).collect();
    let who = |l: &Listed<'_>| match l.pair.and_then(|run| study.network.runs.get(run)) {
        Some(run) => speak.run(run, true),
        None => speak.subject(l.finding.subject),
    };
    let listed = listed(&study.network, &all).into_iter();
    listed
        .map(|l| Shown {
            who: who(&l),
            finding: l.finding,
        })
        .collect()
}
