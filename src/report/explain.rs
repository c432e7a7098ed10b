//! A trace as text: each figure with its formula, the formula with numbers put in, what it comes to; then what it starts
//! from with the line of the file; then what else has to be known. Short enough to copy.

use super::MADE_BY;
use super::layout::paragraph;
use super::speak::Speak;
use crate::check::Study;
use crate::diag::Span;
use crate::quantity::Metre;
use crate::survey::Units;
use crate::trace::arithmetic::digits;
use crate::trace::{Input, SHOWN, Step, Trace, Unit, What, trace};

/// The trace of each thing asked for; `source` is the text of the file, for its lines.
pub fn text(
    study: &Study,
    units: &Units,
    source: &str,
    what: &[What],
    state: Option<usize>,
) -> String {
    let speak = Speak::new(study, units);
    let mut out = String::new();
    for (i, what) in what.iter().enumerate() {
        if i > 0 {
            out.push('\n');
        }
        out.push_str(&one(study, &speak, source, &trace(study, *what, state)));
    }
    out.push_str(&format!("\n{MADE_BY}\n"));
    out
}

/// What a trace is about, in words.
pub(crate) fn title(study: &Study, speak: &Speak<'_>, what: What) -> String {
    let network = &study.network;
    match what {
        What::Run(i) => match network.runs.get(i) {
            Some(run) => format!("{} ({})", speak.run(run, false), speak.clean(&run.size)),
            None => String::new(),
        },
        What::Emitter(i) => match network.emitters.get(i) {
            Some(e) => format!("{} ({})", speak.name(&e.name), speak.clean(&e.type_words)),
            None => String::new(),
        },
        What::Circuit(i) => {
            let circuit = study.required.first().and_then(|r| r.circuits.get(i));
            let name = circuit.map(|c| speak.name(&c.name)).unwrap_or_default();
            format!("index circuit of {name}")
        }
        What::Source(i) => network
            .sources
            .get(i)
            .map(|s| speak.name(&s.name))
            .unwrap_or_default(),
        What::Finding(i) => match study.findings.get(i) {
            Some(f) => format!("{} of {}", f.check, speak.subject(f.subject)),
            None => String::new(),
        },
    }
}

/// The line of the file, counted from 1, where words stand; `None` for what the file does not hold.
pub(crate) fn line(source: &str, span: Option<&Span>) -> Option<usize> {
    let span = span.filter(|s| s.end > s.start && s.end <= source.len())?;
    let before = source.as_bytes().get(..span.start)?;
    Some(1 + before.iter().filter(|&&b| b == b'\n').count())
}

/// A figure in SI, as the formulas have it.
pub(crate) fn si(value: f64, unit: Unit) -> String {
    match unit.si() {
        "" => digits(value, SHOWN),
        unit => format!("{} {unit}", digits(value, SHOWN)),
    }
}

/// A figure as the reports show it in the units asked for; `None` where formulas have the only unit.
pub fn shown(study: &Study, units: &Units, value: f64, unit: Unit) -> Option<String> {
    users(&Speak::new(study, units), value, unit)
}

/// A figure as the reports show it in the user's units; `None` where formulas have the only unit.
pub(crate) fn users(speak: &Speak<'_>, value: f64, unit: Unit) -> Option<String> {
    match unit {
        Unit::Kind(kind) => Some(speak.kind(kind, value)),
        Unit::Length => Some(speak.show.length(Metre(value))),
        Unit::Plain(_) => None,
    }
}

/// Where an input is from: `stated, line 12; table of copper tube`.
pub(crate) fn whence(speak: &Speak<'_>, source: &str, input: &Input) -> String {
    let mut text = input.evidence.word().to_owned();
    if let Some(line) = line(source, input.span.as_ref()) {
        text.push_str(&format!(", line {line}"));
    }
    if !input.source.is_empty() {
        text.push_str(&format!("; {}", speak.clean(&input.source)));
    }
    text
}

/// An input's value, and the user's unit where that differs.
pub(crate) fn value(speak: &Speak<'_>, input: &Input) -> String {
    let plain = match input.unit.si() {
        "" => digits(input.value, 7),
        unit => format!("{} {unit}", digits(input.value, 7)),
    };
    match users(speak, input.value, input.unit) {
        Some(users) if users != plain => format!("{plain} ({users})"),
        _ => plain,
    }
}

fn one(study: &Study, speak: &Speak<'_>, source: &str, trace: &Trace) -> String {
    let mut head = title(study, speak, trace.what);
    if let Some(state) = trace.state.filter(|_| study.network.states.len() > 1) {
        head.push_str(&format!(" [{}]", speak.state(state)));
    }
    let mut out = paragraph("", &head);
    for step in &trace.steps {
        out.push_str(&of_step(speak, step));
    }
    if !trace.inputs.is_empty() {
        out.push_str("\n  Put in\n");
    }
    for input in &trace.inputs {
        let first = if input.symbol.is_empty() {
            String::new()
        } else {
            format!("{} = ", input.symbol)
        };
        let text = format!(
            "{first}{}: {} ({})",
            value(speak, input),
            speak.clean(&input.what),
            whence(speak, source, input)
        );
        out.push_str(&paragraph("    ", &text));
    }
    if !trace.notes.is_empty() {
        out.push('\n');
    }
    for note in &trace.notes {
        out.push_str(&paragraph("  - ", &speak_long(note)));
    }
    let see: Vec<String> = trace.see.iter().map(|w| title(study, speak, *w)).collect();
    if !see.is_empty() {
        out.push_str(&paragraph(
            "  - ",
            &format!("See also: {}.", see.join("; ")),
        ));
    }
    out
}

/// Words of a note made harmless.
pub(crate) fn speak_long(text: &str) -> String {
    super::layout::name(text, 600)
}

fn of_step(speak: &Speak<'_>, step: &Step) -> String {
    let source = if step.source.is_empty() {
        String::new()
    } else {
        format!(" [{}]", step.source)
    };
    let mut out = String::from("\n");
    out.push_str(&paragraph(
        "  ",
        &format!("{}{source}", speak.clean(&step.what)),
    ));
    let formula = step.formula.symbols();
    let first = format!("    {} = ", step.symbol);
    if formula != step.numbers() {
        out.push_str(&paragraph(&first, &formula));
    }
    let shown = users(speak, step.value, step.unit).filter(|u| *u != si(step.value, step.unit));
    let shown = shown.map_or(String::new(), |u| format!(", shown as {u}"));
    let indent = " ".repeat(first.chars().count().saturating_sub(2));
    let numbers = step.numbers();
    let comes = si(step.value, step.unit);
    let text = if numbers == comes.split(' ').next().unwrap_or_default() {
        format!("{comes}{shown}")
    } else {
        format!("{numbers} = {comes}{shown}")
    };
    out.push_str(&paragraph(&format!("{indent}= "), &text));
    if !step.how.is_empty() {
        out.push_str(&paragraph("    ", &format!("({})", step.how)));
    }
    out
}
