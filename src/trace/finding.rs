//! A finding: the figure of its subject, what it is held against, and what is left.

use super::arithmetic::s;
use super::{Evidence, Input, Step, Trace, Unit, What, trace as of};
use crate::check::{Kind, Study, Subject};

pub(super) fn trace(study: &Study, index: usize) -> Trace {
    let Some(finding) = study.findings.get(index) else {
        return Trace::new(What::Finding(index), None);
    };
    let view = finding
        .state
        .and_then(|state| study.required.iter().find(|r| r.state == state));
    let room = |room: usize| study.network.rooms.get(room)?.emitters.first().copied();
    let about = match finding.subject {
        Subject::Run(run) => Some(What::Run(run)),
        Subject::Emitter(emitter) => Some(What::Emitter(emitter)),
        Subject::Room(index) => room(index).map(What::Emitter),
        Subject::Source(source) => Some(What::Source(source)),
        Subject::Pump(pump) => {
            let circuit = view.and_then(|v| v.circuits.iter().position(|c| c.pump == Some(pump)));
            circuit.map(What::Circuit)
        }
        _ => None,
    };
    let mut trace = match about {
        Some(what) => of(study, what, finding.state.filter(|_| view.is_some())),
        None => Trace::new(What::Finding(index), finding.state),
    };
    trace.what = What::Finding(index);
    trace
        .see
        .extend(about.filter(|what| !trace.see.contains(what)));
    let unit = Unit::Kind(finding.kind);
    let Some(measured) = finding.measured else {
        trace
            .notes
            .push("Nothing is measured here: data are missing.".into());
        return trace;
    };
    super::own::steps(&mut trace, study, finding);
    // the step before it that is this figure
    let same =
        |step: &&Step| step.unit == unit && (step.value - measured).abs() <= 1e-6 * measured.abs();
    let found = trace
        .steps
        .iter()
        .rev()
        .find(same)
        .map(|step| step.symbol.clone());
    let symbol = found.unwrap_or_else(|| {
        trace.input(Input {
            symbol: "found".into(),
            what: format!(
                "what `{}` measures, from the solution of this state",
                finding.check
            ),
            value: measured,
            unit,
            evidence: Evidence::Found,
            source: "found by the solver".into(),
            span: None,
        });
        "found".into()
    });
    let Some(limit) = finding.limit else {
        return trace;
    };
    trace.input(Input {
        symbol: "limit".into(),
        what: "what it is held against".into(),
        value: limit,
        unit,
        evidence: Evidence::Table,
        source: finding.limit_source.clone(),
        span: None,
    });
    let Some(margin) = finding.margin else {
        return trace;
    };
    let (x, l) = (s(symbol, measured), s("limit", limit));
    let share = if finding.kind == Kind::TemperatureC {
        trace.notes.push("A margin between temperatures is a share of a scale that begins elsewhere; see the check.".into());
        return trace;
    } else {
        [
            (l.clone() - x.clone()) / l.clone(),
            (x.clone() - l.clone()) / l.clone(),
            l.clone() - x.clone(),
            x - l,
        ]
    };
    let fits = share
        .into_iter()
        .find(|f| (f.value(15) - margin).abs() <= 1e-7 * margin.abs().max(1e-3));
    if let Some(formula) = fits {
        let what = "share of the limit left (below zero: broken)";
        trace.steps.push(Step::new(
            what,
            "margin",
            formula,
            margin,
            Unit::Kind(Kind::Ratio),
        ));
    }
    trace
}
