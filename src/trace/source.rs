//! A source's flow: the largest of room needs, declared load and nominal flow.

use super::arithmetic::{s, sum};
use super::{Evidence, Input, Step, Trace, Unit, What, properties, property, running};
use crate::check::{Kind, Study};
use crate::network::{Network, PumpControl, Source};
use crate::view::{BasisUsed, Required};

const FLOW: Unit = Unit::Kind(Kind::MassFlowKgS);
const WATT: Unit = Unit::Kind(Kind::PowerW);

pub(super) fn trace(study: &Study, index: usize, view: Option<&Required>) -> Trace {
    let mut trace = Trace::new(What::Source(index), view.map(|v| v.state));
    let network = &study.network;
    let Some(source) = network.sources.get(index) else {
        return trace;
    };
    let needs = rooms(&mut trace, network);
    if let Some((view, basis)) = view.and_then(|v| Some((v, v.basis.get(index)?))) {
        let drop = match source
            .pump
            .and_then(|p| network.pumps.get(p))
            .map(|p| p.mode)
        {
            Some(PumpControl::HeldToDrop { drop_k, .. }) => drop_k,
            _ => network.design.drop_k,
        };
        let coil = network.cylinders.iter().find(|c| {
            view.flow_kg_s
                .get(c.coil.index())
                .is_some_and(|q| *q != 0.0)
        });
        let supply = coil.map_or(network.design.flow_temperature_c, |c| c.flow_temperature_c);
        let celsius = supply - drop / 2.0;
        let heat = match basis.used {
            BasisUsed::Rooms => Some(("heat that the rooms need", basis.rooms_w)),
            BasisUsed::Load => basis.load_w.map(|w| ("declared load of the building", w)),
            BasisUsed::Output => source.output_w.map(|w| ("whole output of the unit", w)),
            BasisUsed::Nominal | BasisUsed::HeldFlow => None,
        };
        let beside = format!(
            "Beside it: rooms {:.0} W{}{}.",
            basis.rooms_w,
            basis
                .load_w
                .map_or(String::new(), |w| format!(", declared load {w:.0} W")),
            basis
                .nominal_kg_s
                .map_or(String::new(), |q| format!(", nominal flow {q:.4} kg/s")),
        );
        if let Some(load) = basis.load_w.filter(|_| basis.used != BasisUsed::Load) {
            trace.input(given(
                "Q_load",
                "declared load of the building",
                load,
                WATT,
                source,
            ));
        }
        trace.notes.push(format!(
            "The largest of room needs, declared load and nominal flow counts. {beside}"
        ));
        let own = basis.rooms_w;
        if own > 0.0 && (own - needs).abs() > 1e-9 * needs {
            let what = "its share, by the outputs of the units that run";
            trace.input(Input {
                evidence: Evidence::Found,
                span: None,
                ..given("share", what, own / needs, Unit::Plain(""), source)
            });
            let formula = s("Q_rooms", needs) * s("share", own / needs);
            trace.steps.push(Step::new(
                "heat that the rooms need of it",
                "Q_own",
                formula,
                own,
                WATT,
            ));
        }
        let cp = properties(network, source.body, celsius).map(|p| p.cp_j_kgk);
        let by_heat = heat.zip(cp).and_then(|((what, w), cp)| {
            // emitters with drops of their own leave the source another one
            let drops = [drop, coil.map_or(drop, |c| c.drop_k)];
            let drop = drops
                .into_iter()
                .find(|d| ((w / (cp * d)) / basis.flow_kg_s - 1.0).abs() < 1e-7)?;
            Some((what, w, cp, drop))
        });
        match by_heat {
            Some((what, w, cp, drop)) => {
                let heat = match (w - needs).abs() <= 1e-12 * w {
                    true => s("Q_rooms", needs),
                    false => {
                        trace.input(given("Q", what, w, WATT, source));
                        s("Q", w)
                    }
                };
                trace.input(property(
                    network,
                    source.body,
                    celsius,
                    ("cp", "heat capacity", cp, "J/(kg K)"),
                ));
                trace.input(Input {
                    span: None,
                    ..given(
                        "dT",
                        "design drop of temperature",
                        drop,
                        Unit::Kind(Kind::DifferenceK),
                        source,
                    )
                });
                let formula = heat / (s("cp", cp) * s("dT", drop));
                trace.steps.push(
                    Step::new(
                        "flow that the unit's own circuit has to carry",
                        "m",
                        formula,
                        basis.flow_kg_s,
                        FLOW,
                    )
                    .from("heat balance"),
                );
            }
            None if basis.flow_kg_s > 0.0 => {
                let what = match basis.used {
                    BasisUsed::Nominal => "the maker's nominal flow at the density of the return",
                    BasisUsed::HeldFlow => "flow that the pump is held to",
                    _ => {
                        "sum of the flows of the emitters, coils or vessels that it feeds; see their traces"
                    }
                };
                trace.input(given("m_sum", what, basis.flow_kg_s, FLOW, source));
                trace.steps.push(Step::new(
                    "flow that the unit's own circuit has to carry",
                    "m",
                    s("m_sum", basis.flow_kg_s),
                    basis.flow_kg_s,
                    FLOW,
                ));
            }
            None => {}
        }
        let at = properties(
            network,
            source.body,
            view.temperature_c
                .get(source.body.index())
                .copied()
                .unwrap_or(celsius),
        );
        if let Some(at) = at.filter(|_| basis.flow_kg_s > 0.0) {
            let celsius = view
                .temperature_c
                .get(source.body.index())
                .copied()
                .unwrap_or(celsius);
            trace.input(property(
                network,
                source.body,
                celsius,
                ("rho", "density", at.rho_kg_m3, "kg/m3"),
            ));
            let formula = s("m", basis.flow_kg_s) / s("rho", at.rho_kg_m3);
            let value = basis.flow_kg_s / at.rho_kg_m3;
            trace.steps.push(Step::new(
                "the same as volume flow",
                "q",
                formula,
                value,
                Unit::Kind(Kind::VolumeFlowM3S),
            ));
        }
    }
    if let Some(output) = source.output_w {
        trace.input(given("P", "output at design", output, WATT, source));
        if output > 0.0 {
            let (has, asked) = (s("P", output), s("Q_rooms", needs));
            let formula = (has.clone() - asked) / has;
            trace.steps.push(Step::new(
                "share of its output left over the rooms' needs",
                "left",
                formula,
                (output - needs) / output,
                Unit::Kind(Kind::Ratio),
            ));
        }
    }
    if let Some(at) = running(study, view).and_then(|r| r.solved.sources.get(index)) {
        trace
            .notes
            .push(format!("As the house runs, it gives {:.0} W.", at.output_w));
    }
    super::emitter::assumed(&mut trace, network, &format!("source {}", source.name));
    trace
}

/// Heat that all emitters have to give: the sum of what each has to.
fn rooms(trace: &mut Trace, network: &Network) -> f64 {
    let needs: f64 = network.emitters.iter().map(|e| e.duty_w).sum();
    let mut terms = Vec::new();
    for (number, emitter) in network.emitters.iter().enumerate() {
        let symbol = format!("Q{}", number + 1);
        trace.input(super::emitter::duty_input(emitter, &symbol, emitter.duty_w));
        terms.push(s(symbol, emitter.duty_w));
    }
    trace.steps.push(
        Step::new(
            "heat that all emitters have to give",
            "Q_rooms",
            sum(terms),
            needs,
            WATT,
        )
        .from("heat balance"),
    );
    needs
}

fn given(symbol: &str, what: &str, value: f64, unit: Unit, source: &Source) -> Input {
    Input {
        symbol: symbol.into(),
        what: what.into(),
        value,
        unit,
        evidence: Evidence::Stated,
        source: String::new(),
        span: source.span.clone(),
    }
}
