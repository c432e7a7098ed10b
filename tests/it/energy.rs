//! Heat made is heat given: in every state of every house that is shipped, as it runs, and on random networks.

use crate::houses::{HOUSES, looked_at};
use pipecarry::hydraulics::heat;
use pipecarry::network::{Heat, HeatLaw, Network, expand};
use pipecarry::solve::State;
use pipecarry::survey::Mean;
use pipecarry::survey::read::read;
use pipecarry::view::running::running;

/// What sources make against what emitters, pipes, coils and exchangers (which only pass it on) take, by the state's own
/// figures, W.
pub fn closes(network: &Network, state: &State, name: &str) -> Result<(), String> {
    let (mut made, mut given, mut passed) = (0.0, 0.0, 0.0);
    for id in network.element_ids() {
        let heat_w = state.heat_w[id.index()];
        match network.element(id).heat {
            Heat::Source(_) => made -= heat_w,
            Heat::Emitter(_) | Heat::Loss { .. } | Heat::Cylinder(_) => given += heat_w,
            Heat::Exchanger(..) => passed += heat_w,
            Heat::None if heat_w == 0.0 => {}
            Heat::None => return Err(format!("{name}: {} has no heat", network.element(id).name)),
        }
    }
    let said: f64 = state.sources.iter().map(|s| s.output_w).sum();
    let scale = 1e-9 * made.max(1.0);
    if (made - given - passed).abs() > scale || (made - said).abs() > scale {
        return Err(format!(
            "{name}: made {made}, said {said}, given {given}, passed {passed}"
        ));
    }
    Ok(())
}

fn mean(law: &HeatLaw) -> Mean {
    match law {
        HeatLaw::Rated { mean, .. } | HeatLaw::Floor { mean, .. } => *mean,
        HeatLaw::Fixed(_) => Mean::Arithmetic,
    }
}

#[test]
fn every_house_gives_what_it_makes_in_every_state() {
    let mut seen = 0;
    for name in HOUSES {
        let study = looked_at(name);
        for (state, house) in study.network.states.iter().enumerate() {
            let Ok(run) = running(&study.network, state) else {
                continue;
            };
            seen += 1;
            let made: f64 = run.solved.sources.iter().map(|s| s.output_w).sum();
            assert!(made > 100.0, "{name}, {}: {made} W", house.name);
            closes(
                &study.network,
                &run.solved,
                &format!("{name}, {}", house.name),
            )
            .unwrap();
            // each emitter gives what its own law says of its own water
            for emitter in &study.network.emitters {
                let e = emitter.body.index();
                let (Some(a), Some(b)) = (run.solved.in_c[e], run.solved.out_c[e]) else {
                    continue;
                };
                let room_c = study.network.rooms[emitter.room].temperature_c;
                // water that leaves as cold as the room has a logarithmic mean of rounding
                if b - room_c <= 1e-6 * (a - room_c) {
                    continue;
                }
                let own =
                    heat::output_w(&emitter.law, heat::excess(a, b, room_c, mean(&emitter.law)));
                let got = run.solved.heat_w[e];
                assert!(
                    (own - got).abs() <= 1e-8 * own.max(1.0),
                    "{name}: {own} {got}"
                );
            }
        }
    }
    assert!(seen >= 20, "{seen} states");
}

/// While the cylinder is heated the second pump of this house turns water that nothing warms past rooms of 18 to 22 °C: it
/// comes to rest at the coldest of them, where hardly any heat says so.
#[test]
fn water_that_nothing_warms_comes_to_rest() {
    let text = include_str!("../data/houses/no_heat_to_share.toml");
    let (survey, said) = read(text);
    let network = expand(&survey.unwrap_or_else(|| panic!("{said:?}")))
        .expect("a house")
        .0;
    for state in 0..network.states.len() {
        let run = running(&network, state).expect("an answer");
        closes(&network, &run.solved, &network.states[state].name).expect("closes");
    }
}
