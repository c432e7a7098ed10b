//! The first lines: does it work, what decides, where.

use super::Paint;
use super::findings::Shown;
use crate::check::{Study, Verdict};
use crate::network::{Run, StateKind};
use crate::report::layout::{name, paragraph};
use crate::report::speak::Speak;
use crate::view::{BasisUsed, Bites, PumpedCircuit, Required};

/// Title, verdict and a paragraph for each pumped circuit of the first state asked for.
pub(super) fn text(
    study: &Study,
    speak: &Speak<'_>,
    paint: Paint,
    state: Option<usize>,
    shown: &[Shown<'_>],
) -> String {
    let title = name(&study.network.title, 50);
    let verdict = paint.verdict(study.verdict, verdict(study));
    let mut out = format!("{title}: {verdict}\n\n");
    for text in paragraphs(study, speak, state, shown) {
        out.push_str(&paragraph("", &text));
    }
    out
}

/// The verdict on the house in a few words.
pub(super) fn verdict(study: &Study) -> &'static str {
    match study.verdict {
        Verdict::Fails => "it fails",
        Verdict::Depends => "it depends on something not known",
        Verdict::Tight => "it holds, but it is tight",
        Verdict::Holds => "it holds",
        Verdict::NotShown | Verdict::Note => "nothing could be shown",
    }
}

/// A paragraph for each pumped circuit of the first state asked for, and one that counts the checks.
pub(super) fn paragraphs(
    study: &Study,
    speak: &Speak<'_>,
    state: Option<usize>,
    shown: &[Shown<'_>],
) -> Vec<String> {
    let mut out = Vec::new();
    let views = || {
        study
            .required
            .iter()
            .filter(|r| state.is_none_or(|s| s == r.state))
    };
    let kind = |r: &&Required| study.network.states.get(r.state).map(|s| s.kind);
    let heating = views().find(|r| kind(r) == Some(StateKind::Heating));
    if let Some(view) = heating.or_else(|| views().next()) {
        // the circuit that has least left comes first, and in full
        let mut circuits: Vec<&PumpedCircuit> = view.circuits.iter().collect();
        circuits.sort_by(|a, b| share_left(a).total_cmp(&share_left(b)));
        for (i, circuit) in circuits.into_iter().enumerate() {
            let basis = basis(study, speak, view).filter(|_| i == 0);
            let mut text = basis.map(|b| format!("{b} ")).unwrap_or_default();
            text.push_str(&balance(study, speak, circuit));
            if i == 0 {
                text.push_str(&decides(study, speak, view, circuit));
            }
            out.push(text);
        }
    }
    out.push(counts(study, shown));
    out
}

/// `The rooms need 9.0 kW: 25.9 l/min at a drop of 5.0 K.`
fn basis(study: &Study, speak: &Speak<'_>, view: &Required) -> Option<String> {
    let basis = view.basis.iter().find(|b| b.flow_kg_s > 0.0)?;
    let flow = speak.mass_flow(basis.flow_kg_s);
    let drop = speak.drop(study.network.design.drop_k);
    let rooms = speak.kilowatt(basis.rooms_w);
    let at_work = view.basis.iter().filter(|b| b.flow_kg_s > 0.0).count();
    Some(match basis.used {
        // several at once share the load; the first circuit is that of one of them
        BasisUsed::Rooms if at_work > 1 => format!(
            "The rooms need {}; to the first of {at_work} sources falls {rooms} of it: {flow} with a drop of {drop}.",
            speak.kilowatt(view.basis.iter().map(|b| b.rooms_w).sum())
        ),
        // emitters that draw at drops of their own leave the source another one
        BasisUsed::Rooms if (basis.drop_k / study.network.design.drop_k - 1.0).abs() > 0.02 => {
            format!(
                "The rooms need {rooms}: {flow}, and {} across the unit; emitters or manifolds with temperatures of their \
             own do not draw at the design drop of {drop}.",
                speak.difference(basis.drop_k)
            )
        }
        BasisUsed::Rooms => format!("The rooms need {rooms}: {flow} with a drop of {drop}."),
        BasisUsed::Load => format!(
            "The building's declared load of {} means {flow} with a drop of {drop} (the rooms need {rooms}).",
            speak.kilowatt(basis.load_w.unwrap_or(basis.rooms_w))
        ),
        BasisUsed::Nominal => {
            format!("The unit's nominal flow is {flow} (the rooms need {rooms}).")
        }
        BasisUsed::Output => format!("The unit's full output means {flow}."),
        BasisUsed::HeldFlow => format!("The pump is held to {flow} (the rooms need {rooms})."),
    })
}

/// Share of the pump's head that is left, negative if it is short; without a curve nothing is known to be short.
fn share_left(circuit: &PumpedCircuit) -> f64 {
    match circuit.available_pa {
        Some(available) if available > 0.0 => 1.0 - circuit.needed_pa / available,
        Some(_) => -1.0,
        None => 1.0,
    }
}

/// Head needed against head left.
fn balance(study: &Study, speak: &Speak<'_>, circuit: &PumpedCircuit) -> String {
    let through = circuit
        .paths
        .get(circuit.index)
        .map(|p| p.through.name(&study.network));
    let through = through.map(|t| speak.name(&t)).unwrap_or_default();
    let pump = speak.name(&circuit.name);
    let mut needed = speak.pressure(circuit.needed_pa);
    let rest = match circuit.available_pa {
        Some(available) => {
            let left = available - circuit.needed_pa;
            let gives;
            (needed, gives) = match left < 0.0 {
                true => speak.apart(circuit.needed_pa, available, Speak::pressure),
                false => (needed, speak.pressure(available)),
            };
            if left < 0.0 {
                let short = speak.some(-left, Speak::pressure);
                format!("the pump gives {gives}: {short} short.")
            } else {
                let share = speak.show.percent(share_left(circuit));
                format!(
                    "the pump gives {gives}: {} left ({share}).",
                    speak.pressure(left)
                )
            }
        }
        None => "no pump curve is given.".into(),
    };
    format!("The index circuit, from {pump} through {through}, needs {needed}; {rest}")
}

/// The limiting run, what the circuit could carry, and which limit decides.
fn decides(study: &Study, speak: &Speak<'_>, view: &Required, circuit: &PumpedCircuit) -> String {
    let mut text = String::new();
    if let Some(run) = limiting(study, view, circuit) {
        let capacity = view.capacity.iter().find(|c| c.run == run);
        let figures = capacity.map(|c| {
            let lost = speak.pressure(both_ways(study, view, run));
            format!(
                ": {lost} is lost there, at {}",
                speak.velocity(c.velocity_m_s)
            )
        });
        let run = &study.network.runs[run];
        let beside = if on_index(study, circuit, run) {
            ""
        } else {
            "; it lies beside the index circuit"
        };
        text.push_str(&format!(
            " The limiting run is {} ({}){}{beside}.",
            speak.run(run, true),
            speak.clean(&run.size),
            figures.unwrap_or_default()
        ));
    }
    text.push_str(&carries(study, speak, circuit));
    text
}

/// Whether a run or its partner is part of the index circuit.
fn on_index(study: &Study, circuit: &PumpedCircuit, run: &Run) -> bool {
    let on = |run: usize| {
        let path = circuit.paths.get(circuit.index);
        path.is_some_and(|p| {
            p.elements
                .iter()
                .any(|&(id, _)| study.network.element(id).run == Some(run))
        })
    };
    let own = study.network.runs.iter().position(|r| std::ptr::eq(r, run));
    own.is_some_and(on) || run.partner.is_some_and(on)
}

/// Loss of a run and of its partner, Pa.
fn both_ways(study: &Study, view: &Required, run: usize) -> f64 {
    let loss = |i: usize| {
        view.capacity
            .iter()
            .find(|c| c.run == i)
            .map_or(0.0, |c| c.loss_pa)
    };
    loss(run) + study.network.runs[run].partner.map_or(0.0, loss)
}

/// The run that stands in the way of more water: where a velocity or gradient bites at the design drop, else the one on
/// the index circuit that loses most.
fn limiting(study: &Study, view: &Required, circuit: &PumpedCircuit) -> Option<usize> {
    let network = &study.network;
    if let Some((_, _, Bites::Velocity(run) | Bites::Gradient(run))) = at_design(study, circuit) {
        return network.runs.get(run).map(|_| run);
    }
    let path = circuit.paths.get(circuit.index)?;
    let mut worst: Option<(usize, f64)> = None;
    for &(id, _) in &path.elements {
        let Some(run) = network.element(id).run.filter(|&r| r < network.runs.len()) else {
            continue;
        };
        let loss = both_ways(study, view, run);
        if worst.is_none_or(|(_, most)| loss > most) {
            worst = Some((run, loss));
        }
    }
    worst.map(|(run, _)| run)
}

/// What the circuit carries at the drop nearest to the design's.
fn at_design(study: &Study, circuit: &PumpedCircuit) -> Option<(f64, f64, Bites)> {
    let distance = |drop: f64| (drop - study.network.design.drop_k).abs();
    circuit
        .carries
        .iter()
        .copied()
        .reduce(|a, b| if distance(b.0) < distance(a.0) { b } else { a })
}

/// `As it is, it carries 7.9 kW at 5 K, …: the head decides.`
fn carries(study: &Study, speak: &Speak<'_>, circuit: &PumpedCircuit) -> String {
    let Some((_, _, decides)) = at_design(study, circuit) else {
        return String::new();
    };
    let each: Vec<String> = circuit
        .carries
        .iter()
        .map(|&(drop, w, _)| format!("{} at {}", speak.kilowatt(w), speak.drop(drop)))
        .collect();
    let short = circuit
        .available_pa
        .is_some_and(|pa| pa < circuit.needed_pa);
    let decides_words = bites(study, speak, decides);
    let decides = match decides {
        Bites::Velocity(_) | Bites::Gradient(_) | Bites::SourceFlow if short => format!(
            "What gives way first is {decides_words}; the head that the pump leaves would not do either."
        ),
        _ => format!("What decides is {decides_words}."),
    };
    format!(
        " As it is, the circuit carries {}. {decides}",
        each.join(", ")
    )
}

/// Which limit bites, in words.
pub(super) fn bites(study: &Study, speak: &Speak<'_>, bites: Bites) -> String {
    let run = |i: usize| {
        study
            .network
            .runs
            .get(i)
            .map(|r| speak.run(r, true))
            .unwrap_or_default()
    };
    match bites {
        Bites::Head => "the head that the pump leaves".into(),
        Bites::Velocity(i) => format!("the velocity in {}", run(i)),
        Bites::Gradient(i) => format!("the friction per metre in {}", run(i)),
        Bites::SourceFlow => "the greatest flow that the unit allows".into(),
    }
}

/// How many of each, counted as they are listed: both pipes of a pair as one.
fn counts(study: &Study, shown: &[Shown<'_>]) -> String {
    let count = |v: Verdict| shown.iter().filter(|s| s.finding.verdict == v).count();
    let words = [
        (Verdict::Fails, "fail"),
        (Verdict::Depends, "depend"),
        (Verdict::Tight, "are tight"),
        (Verdict::Holds, "hold"),
    ];
    let mut parts: Vec<String> = words
        .iter()
        .map(|&(v, word)| (count(v), word))
        .filter(|&(n, _)| n > 0)
        .map(|(n, word)| match (n, word) {
            (1, "are tight") => "1 is tight".to_owned(),
            (1, word) => format!("1 {word}s"),
            (n, word) => format!("{n} {word}"),
        })
        .collect();
    if study.not_shown > 0 {
        parts.push(format!("{} could not be shown", study.not_shown));
    }
    if parts.is_empty() {
        "No check applies.".into()
    } else {
        format!("Of the checks {}.", parts.join(", "))
    }
}
