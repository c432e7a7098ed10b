//! The first lines of the text drawing: what the summary box of a sheet says.

use super::layout::{WIDE, name, paragraph_in};
use super::speak::Speak;
use super::words;
use crate::check::{CHECKS, Finding, Study, Verdict, listed};
use crate::view::{Required, Running};
use std::fmt::Write as _;

/// Why a finding is what it is, in a few words with both figures.
pub(super) fn reason(speak: &Speak<'_>, finding: &Finding) -> String {
    let title = CHECKS
        .iter()
        .find(|c| c.code == finding.check)
        .map_or(finding.check, |c| c.title);
    let figure = |value: f64| speak.kind(finding.kind, value);
    let (Some(m), Some(l)) = (finding.measured, finding.limit) else {
        return match finding.measured {
            Some(m) => format!("{title} {}", figure(m)),
            None => title.to_owned(),
        };
    };
    let over = if m > l { "over" } else { "under" };
    let (m, l) = (figure(m), figure(l));
    let words = match finding.check {
        "head" => format!("needs {m} of head, the pump gives {l}"),
        "flow-temperature" => format!("asks for flow at {m}, it is {l}"),
        "room-heat" => format!("gets {m}, needs {l}"),
        "source-output" => format!("has to give {m}, gives {l}"),
        "velocity" | "erosion" => format!("velocity {m}, {over} {l}"),
        "gradient" => format!("friction {m}, {over} {l}"),
        "valve-noise" => format!("valve noise: loses {m}, limit {l}"),
        _ => format!("{title}: {m}, limit {l}"),
    };
    let doubt = finding
        .rests_on
        .first()
        .and_then(|(d, _)| speak.network.doubts.get(*d));
    match doubt.filter(|_| finding.verdict == Verdict::Depends) {
        Some(doubt) => format!("{words}; rests on {}", speak.name(&doubt.name)),
        None => words,
    }
}

/// Title, state drawn, each pump against what is asked of it, the highest velocity, and all that fails and why.
pub(super) fn summary(
    speak: &Speak<'_>,
    study: &Study,
    state: usize,
    required: Option<&Required>,
    running: Option<&Running>,
) -> String {
    let n = &study.network;
    let mut out = String::new();
    let mut say = |first: &str, words: &str| out.push_str(&paragraph_in(first, words, WIDE));
    say("", &name(&n.title, WIDE - 2));
    let (view, solved) = match (required, running) {
        (Some(_), _) => ("what duty requires", true),
        (None, Some(_)) => ("as it runs", true),
        (None, None) => ("not solved, no figures", false),
    };
    let design = &n.design;
    let point = match required {
        Some(_) => format!(
            " at flow {}, drop {}",
            speak.temperature(design.flow_temperature_c),
            speak.drop(design.drop_k)
        ),
        None => String::new(),
    };
    say("", &format!("shows {}, {view}{point}", speak.state(state)));
    for circuit in required.map_or(&[][..], |r| &r.circuits) {
        let Some(path) = circuit.paths.get(circuit.index) else {
            continue;
        };
        let gives = circuit.available_pa.map_or(String::new(), |has| {
            let left = has - circuit.needed_pa;
            let rest = match left < 0.0 {
                true => format!("{} short", speak.pressure(-left)),
                false => format!("{} left", speak.pressure(left)),
            };
            format!(", pump gives {}: {rest}", speak.pressure(has))
        });
        let words = format!(
            "{}: {}, index circuit through {} needs {}{gives}",
            speak.name(&circuit.name),
            speak.flow(circuit.flow_m3_s),
            speak.name(&path.through.name(n)),
            speak.pressure(circuit.needed_pa),
        );
        say("", &words);
    }
    if required.is_none()
        && let Some(running) = running
    {
        for (pump, at) in n.pumps.iter().zip(&running.solved.pumps) {
            let words = format!(
                "{}: {} at {}",
                speak.name(&pump.name),
                speak.flow(at.flow_m3_s),
                speak.pressure(at.head_pa)
            );
            say("", &words);
        }
    }
    let fastest = required.and_then(|r| {
        r.capacity
            .iter()
            .max_by(|a, b| a.velocity_m_s.total_cmp(&b.velocity_m_s))
    });
    if let Some(fastest) = fastest
        && let Some(run) = n.runs.get(fastest.run)
    {
        let words = format!(
            "highest velocity {} in {}",
            speak.velocity(fastest.velocity_m_s),
            speak.run(run, false)
        );
        say("", &words);
    }
    if solved {
        let all: Vec<&Finding> = study.findings.iter().collect();
        let all = listed(n, &all);
        let count = |v: Verdict| all.iter().filter(|l| l.finding.verdict == v).count();
        let mut counts = String::new();
        for (verdict, word) in [
            (Verdict::Fails, "fail, "),
            (Verdict::Depends, "depend on a guess, "),
            (Verdict::Tight, "tight, "),
            (Verdict::Holds, "hold"),
        ] {
            let _ = write!(counts, "{} {word}", count(verdict));
        }
        say("", &format!("checks in all states: {counts}"));
        for verdict in [Verdict::Fails, Verdict::Depends, Verdict::Tight] {
            let found = all.iter().filter(|l| l.finding.verdict == verdict);
            let found: Vec<String> = found
                .map(|listed| {
                    let finding = listed.finding;
                    let who = match listed.pair.and_then(|p| n.runs.get(p)) {
                        Some(run) => speak.run(run, true),
                        None => speak.subject(finding.subject),
                    };
                    let other = finding
                        .state
                        .filter(|s| *s != state)
                        .map_or(String::new(), |s| format!("with {}, ", speak.state(s)));
                    format!("{other}{who}: {}", reason(speak, finding))
                })
                .collect();
            // what asks for something has a line of its own
            let lines = match verdict {
                Verdict::Tight if !found.is_empty() => vec![found.join("; ")],
                _ => found,
            };
            for words in lines {
                say(&format!("  {:<8}", words::verdict(verdict)), &words);
            }
        }
    }
    out
}
