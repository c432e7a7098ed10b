//! An emitter's figures: its share of the room's need, flow, the flow temperature it asks for, its heat as the house runs.

use super::arithmetic::{Expr, Function, n, s, sum};
use super::run::heat_capacity;
use super::{Evidence, Input, Step, Trace, Unit, What, property, running};
use crate::check::{Kind, Study};
use crate::network::{Emitter, HeatLaw, Network, excess_k};
use crate::survey::{Assumed, Mean};
use crate::view::Required;

const EN_442: &str = "characteristic equation of EN 442-2";
const WATT: Unit = Unit::Kind(Kind::PowerW);
const KELVIN: Unit = Unit::Kind(Kind::DifferenceK);
const CELSIUS: Unit = Unit::Kind(Kind::TemperatureC);

pub(super) fn trace(study: &Study, index: usize, view: Option<&Required>) -> Trace {
    let mut trace = Trace::new(What::Emitter(index), view.map(|v| v.state));
    let network = &study.network;
    let Some(emitter) = network.emitters.get(index) else {
        return trace;
    };
    duty(&mut trace, network, index, emitter);
    if let Some(view) = view {
        asks(&mut trace, network, index, emitter, view);
    }
    gives(&mut trace, study, index, emitter, view);
    if let Some(view) = view {
        devices(&mut trace, network, emitter, view);
    }
    assumed(&mut trace, network, &format!("emitter {}", emitter.name));
    for tail in [emitter.tails.0, emitter.tails.1].into_iter().flatten() {
        trace.see.push(What::Run(tail));
    }
    trace
}

/// The duty of an emitter as an input.
pub(super) fn duty_input(emitter: &Emitter, symbol: &str, w: f64) -> Input {
    Input {
        symbol: symbol.into(),
        what: format!("heat that {} has to give", emitter.name),
        value: w,
        unit: WATT,
        evidence: Evidence::Stated,
        source: String::new(),
        span: emitter.span.clone(),
    }
}

/// An emitter's design drop as an input.
pub(super) fn drop_input(network: &Network, emitter: usize, symbol: &str) -> Input {
    let drop = network.emitters.get(emitter).map_or(f64::NAN, |e| e.drop_k);
    let default = |a: &Assumed| a.subject == "design" && a.value.starts_with("drop ");
    let given = drop != network.design.drop_k || !network.assumed.iter().any(default);
    Input {
        symbol: symbol.into(),
        what: "design drop of temperature".into(),
        value: drop,
        unit: KELVIN,
        evidence: match given {
            true => Evidence::Stated,
            false => Evidence::Assumed,
        },
        source: String::new(),
        span: None,
    }
}

/// Defaults that stand in for what the file does not say of a subject.
pub(super) fn assumed(trace: &mut Trace, network: &Network, subject: &str) {
    for a in network.assumed.iter().filter(|a| a.subject == subject) {
        trace.notes.push(match a.source.as_str() {
            "" => format!("Assumed: {}.", a.value),
            source => format!("Assumed: {} ({source}).", a.value),
        });
    }
}

fn duty(trace: &mut Trace, network: &Network, index: usize, emitter: &Emitter) {
    let Some(room) = network.rooms.get(emitter.room) else {
        return;
    };
    let outputs: Option<Vec<f64>> = room
        .emitters
        .iter()
        .map(|e| match network.emitters.get(*e)?.law {
            HeatLaw::Rated { output_w, .. } => Some(output_w),
            HeatLaw::Floor { .. } | HeatLaw::Fixed(_) => None,
        })
        .collect();
    if let (Some(needs), Some(outputs)) = (room.needs_w, outputs) {
        let own = room.emitters.iter().position(|e| *e == index);
        let total: f64 = outputs.iter().sum();
        if let Some(own) = own.filter(|_| outputs.len() > 1 && total > 0.0) {
            let share = needs * outputs[own] / total;
            if (share - emitter.duty_w).abs() <= 1e-9 * share {
                trace.input(Input {
                    what: format!("heat that {} needs", room.name),
                    ..duty_input(emitter, "Q_room", needs)
                });
                for (number, (e, w)) in room.emitters.iter().zip(&outputs).enumerate() {
                    trace.input(rated_input(
                        &network.emitters[*e],
                        &format!("P{}", number + 1),
                        *w,
                    ));
                }
                let all = outputs
                    .iter()
                    .enumerate()
                    .map(|(i, w)| s(format!("P{}", i + 1), *w));
                let formula = s("Q_room", needs) * s(format!("P{}", own + 1), outputs[own])
                    / sum(all.collect::<Vec<_>>());
                trace.steps.push(
                    Step::new(
                        format!("share of {}", room.name),
                        "Q",
                        formula,
                        emitter.duty_w,
                        WATT,
                    )
                    .from("by rated output, among the emitters of the room"),
                );
                return;
            }
        }
    }
    let shared = room.emitters.len() > 1;
    trace.input(Input {
        evidence: match shared {
            true => Evidence::Found,
            false => Evidence::Stated,
        },
        source: match shared {
            true => format!("its share of what {} needs", room.name),
            false => String::new(),
        },
        ..duty_input(emitter, "Q", emitter.duty_w)
    });
}

/// Losses of its valves and its body, which are no part of a run.
fn devices(trace: &mut Trace, network: &Network, emitter: &Emitter, view: &Required) {
    let own = emitter.branch.iter().copied().filter(|id| {
        let i = id.index();
        network.element(*id).run.is_none()
            && view.flow_kg_s.get(i).is_some_and(|q| *q != 0.0)
            && view.loss_pa.get(i).is_some_and(|pa| *pa != 0.0)
    });
    for (number, id) in own.enumerate() {
        let tag = format!("_{}", char::from(b'a' + number.min(25) as u8));
        let flow = view.flow_kg_s.get(id.index()).copied().unwrap_or(0.0).abs();
        if number == 0 {
            trace
                .notes
                .push("The flow in its valves and its body is m.".into());
        }
        let terms = super::loss::element_at(trace, network, view, id, (&tag, "m"));
        let loss = view.loss_pa.get(id.index()).copied().unwrap_or(0.0);
        if terms.len() > 1 && flow > 0.0 {
            let what = format!("loss in {}", network.element(id).name);
            trace.steps.push(Step::new(
                what,
                format!("dp{tag}"),
                sum(terms),
                loss,
                Unit::Kind(Kind::PressurePa),
            ));
        }
    }
}

fn rated_input(emitter: &Emitter, symbol: &str, w: f64) -> Input {
    Input {
        what: format!("rated output of {} ({})", emitter.name, emitter.type_words),
        evidence: match emitter.panel {
            Some(_) => Evidence::Table,
            None => Evidence::Stated,
        },
        source: match emitter.panel {
            Some(_) => "the catalogue's row of this type and size, middle of a range".into(),
            None => String::new(),
        },
        ..duty_input(emitter, symbol, w)
    }
}

/// Steps of the required view.
fn asks(trace: &mut Trace, network: &Network, index: usize, emitter: &Emitter, view: &Required) {
    let Some(asks) = view.emitters.get(index).filter(|a| a.flow_kg_s > 0.0) else {
        trace.notes.push("It is shut in this state.".into());
        return;
    };
    let q = s("Q", emitter.duty_w);
    let flow = Unit::Kind(Kind::MassFlowKgS);
    if let Some((cp, celsius)) = heat_capacity(network, view, index) {
        trace.input(property(
            network,
            emitter.body,
            celsius,
            ("cp", "heat capacity", cp, "J/(kg K)"),
        ));
        trace.input(drop_input(network, index, "dT"));
        let formula = q.clone() / (s("cp", cp) * s("dT", emitter.drop_k));
        trace.steps.push(
            Step::new("flow required", "m", formula, asks.flow_kg_s, flow).from("heat balance"),
        );
    } else {
        trace.notes.push(format!(
            "Its flow of {:.4} kg/s is its share of the loop as tees and valves give it; the drop of {:.2} K follows.",
            asks.flow_kg_s, asks.drop_k
        ));
        trace.input(Input {
            symbol: "m".into(),
            what: "flow that tees and valves give it".into(),
            value: asks.flow_kg_s,
            unit: flow,
            evidence: Evidence::Found,
            source: "found by the solver".into(),
            span: None,
        });
        trace.input(Input {
            what: "drop that follows from its flow".into(),
            value: asks.drop_k,
            evidence: Evidence::Found,
            source: "found by the solver".into(),
            ..drop_input(network, index, "dT")
        });
    }
    let room = network
        .rooms
        .get(emitter.room)
        .map_or(f64::NAN, |r| r.temperature_c);
    let (excess, mean) = match emitter.law {
        HeatLaw::Rated {
            output_w,
            base_k,
            exponent,
            mean,
        } => {
            law_inputs(trace, emitter, (output_w, base_k, exponent), mean, "");
            let value = base_k * crate::maths::pow(emitter.duty_w / output_w, 1.0 / exponent);
            let formula =
                s("dT_rated", base_k) * (q / s("P", output_w)).pow(n(1.0) / s("n", exponent));
            trace.steps.push(
                Step::new(
                    "excess over the room that it needs",
                    "dT_x",
                    formula,
                    value,
                    KELVIN,
                )
                .from(EN_442),
            );
            (value, mean)
        }
        HeatLaw::Floor { w_per_k, mean, .. } => {
            floor_input(trace, emitter, w_per_k, "");
            let value = emitter.duty_w / w_per_k;
            trace.steps.push(Step::new(
                "excess over the room that it needs",
                "dT_x",
                q / s("K", w_per_k),
                value,
                KELVIN,
            ));
            (value, mean)
        }
        HeatLaw::Fixed(_) => {
            trace
                .notes
                .push("Its heat is given; it asks for no temperature.".into());
            return;
        }
    };
    let Some(inlet) = asks.inlet_c else { return };
    trace.input(Input {
        symbol: "t_room".into(),
        what: "room temperature".into(),
        value: room,
        unit: CELSIUS,
        ..duty_input(emitter, "", 0.0)
    });
    let (room_is, drop, x) = (s("t_room", room), s("dT", asks.drop_k), s("dT_x", excess));
    let formula = match mean {
        Mean::Arithmetic => room_is + x + drop / n(2.0),
        Mean::Logarithmic => room_is + drop.clone() / (n(1.0) - (-(drop / x)).of(Function::Exp)),
    };
    let how = match mean {
        Mean::Arithmetic => "the mean of inlet and outlet lies by the excess over the room",
        Mean::Logarithmic => "the logarithmic mean of both excesses, turned round",
    };
    trace.steps.push(
        Step::new(
            "flow temperature that it asks for",
            "t_in",
            formula,
            inlet,
            CELSIUS,
        )
        .by(how)
        .from(EN_442),
    );
    if let Some(at_source) = asks.source_c.filter(|c| (c - inlet).abs() > 1e-6) {
        let lost = at_source - inlet;
        trace.input(Input {
            symbol: "dT_way".into(),
            what: "temperature lost on the way from the source, by mixing".into(),
            value: lost,
            unit: KELVIN,
            evidence: Evidence::Found,
            source: "temperatures of the required view".into(),
            span: None,
        });
        let formula = s("t_in", inlet) + s("dT_way", lost);
        trace.steps.push(Step::new(
            "flow temperature at the source",
            "t_source",
            formula,
            at_source,
            CELSIUS,
        ));
    }
}

fn law_inputs(
    trace: &mut Trace,
    emitter: &Emitter,
    (output_w, base_k, exponent): (f64, f64, f64),
    mean: Mean,
    tag: &str,
) {
    trace.input(rated_input(emitter, &format!("P{tag}"), output_w));
    let words = match mean {
        Mean::Logarithmic => "logarithmic mean",
        Mean::Arithmetic => "arithmetic mean",
    };
    trace.input(Input {
        symbol: format!("dT_rated{tag}"),
        what: format!("excess at the rating conditions, {words}"),
        value: base_k,
        unit: KELVIN,
        evidence: Evidence::Table,
        source: "rating conditions, 75/65/20 unless the file says otherwise".into(),
        span: emitter.span.clone(),
    });
    trace.input(Input {
        symbol: format!("n{tag}"),
        what: "exponent of its output".into(),
        value: exponent,
        unit: Unit::Plain(""),
        evidence: Evidence::Table,
        source: "data sheet, or 1.3 where nothing is said".into(),
        span: emitter.span.clone(),
    });
}

fn floor_input(trace: &mut Trace, emitter: &Emitter, w_per_k: f64, tag: &str) {
    trace.input(Input {
        symbol: format!("K{tag}"),
        what: format!("heat of {} per kelvin of excess", emitter.name),
        value: w_per_k,
        unit: Unit::Plain("W/K"),
        ..duty_input(emitter, "", 0.0)
    });
}

/// Steps of the house as it runs.
fn gives(
    trace: &mut Trace,
    study: &Study,
    index: usize,
    emitter: &Emitter,
    view: Option<&Required>,
) {
    let Some(result) = running(study, view).and_then(|r| r.emitters.get(index)) else {
        return;
    };
    if let (Some(a), Some(b)) = (result.in_c, result.out_c) {
        let at = (a, b, result.heat_w);
        heat(
            trace,
            &study.network,
            emitter,
            at,
            ("", "as the house runs"),
        );
    }
}

/// Steps to the heat of an emitter between two temperatures of its water: inlet, outlet, and the heat that this comes to.
/// `tag` tells the symbols of several emitters apart.
pub(super) fn heat(
    trace: &mut Trace,
    network: &Network,
    emitter: &Emitter,
    (a, b, heat_w): (f64, f64, f64),
    (tag, when): (&str, &str),
) -> Option<Expr> {
    let room = network
        .rooms
        .get(emitter.room)
        .map_or(f64::NAN, |r| r.temperature_c);
    let mean = match emitter.law {
        HeatLaw::Rated { mean, .. } | HeatLaw::Floor { mean, .. } => mean,
        HeatLaw::Fixed(_) => return None,
    };
    let excess = excess_k(mean, a, b, room);
    if excess <= 0.0 {
        return None;
    }
    let of = match tag {
        "" => String::new(),
        _ => format!(" of {}", emitter.name),
    };
    let symbol = |name: &str| format!("{name}{tag}");
    for (name, what, value) in [("t_1", "inlet", a), ("t_2", "outlet", b)] {
        trace.input(Input {
            symbol: symbol(name),
            what: format!("{what}{of} {when}"),
            value,
            unit: CELSIUS,
            evidence: Evidence::Found,
            source: "found by the solver: heat given equals heat brought".into(),
            span: None,
        });
    }
    trace.input(Input {
        symbol: "t_room".into(),
        what: "room temperature".into(),
        value: room,
        unit: CELSIUS,
        ..duty_input(emitter, "", 0.0)
    });
    let (t1, t2, tr) = (s(symbol("t_1"), a), s(symbol("t_2"), b), s("t_room", room));
    let formula = match mean {
        Mean::Arithmetic => (t1 + t2) / n(2.0) - tr,
        Mean::Logarithmic => {
            (t1.clone() - t2.clone()) / ((t1 - tr.clone()) / (t2 - tr)).of(Function::Ln)
        }
    };
    trace.steps.push(Step::new(
        format!("excess over the room{of} {when}"),
        symbol("dT_runs"),
        formula,
        excess,
        KELVIN,
    ));
    let x = s(symbol("dT_runs"), excess);
    let what = format!("heat{of} {when}");
    let runs = symbol("Q_runs");
    let step = match emitter.law {
        HeatLaw::Rated {
            output_w,
            base_k,
            exponent,
            mean,
        } => {
            law_inputs(trace, emitter, (output_w, base_k, exponent), mean, tag);
            let share = x / s(symbol("dT_rated"), base_k);
            let formula = s(symbol("P"), output_w) * share.pow(s(symbol("n"), exponent));
            Step::new(what, runs.clone(), formula, heat_w, WATT).from(EN_442)
        }
        HeatLaw::Floor { w_per_k, .. } => {
            floor_input(trace, emitter, w_per_k, tag);
            Step::new(
                what,
                runs.clone(),
                s(symbol("K"), w_per_k) * x,
                heat_w,
                WATT,
            )
        }
        HeatLaw::Fixed(_) => return None,
    };
    trace.steps.push(step);
    Some(s(runs, heat_w))
}
