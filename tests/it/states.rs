//! Many states of one setting: each is what a solve of its own gives, whatever came before.

use pipecarry::network::{self, ElementId, Network, reference};
use pipecarry::solve::{Setting, SolveError, Solver, Way, solve};
use pipecarry::survey;
use pipecarry::view::running;
use std::ops::ControlFlow;

fn house() -> Network {
    let text = include_str!("../data/speed_networks/house_12.json");
    reference::load(text).expect("a case")
}

fn valves(network: &Network) -> Vec<ElementId> {
    network
        .element_ids()
        .filter(|&id| network.element(id).name.starts_with("trv"))
        .collect()
}

fn ways(elements: &[ElementId]) -> Vec<Way> {
    let way = |&id: &ElementId| Way {
        elements: vec![id],
        pumps: Vec::new(),
    };
    elements.iter().map(way).collect()
}

#[test]
fn a_state_is_what_a_solve_of_its_own_gives() {
    let network = house();
    let valves = valves(&network);
    assert_eq!(valves.len(), 12);
    let solver = Solver::new(&network);
    let setting = Setting::of(&network, &network.states[0]);
    let ways = ways(&valves);
    let mut states = solver.states(&setting, &ways).expect("ready");
    for mask in (0..1 << 12).step_by(37) {
        let shut: Vec<ElementId> = (0..12)
            .filter(|k| mask >> k & 1 == 1)
            .map(|k| valves[k])
            .collect();
        let mut alone = setting.clone();
        shut.iter().for_each(|id| alone.shut[id.index()] = true);
        let want = solve(&network, &alone).expect("solves");
        let got = states.solve(mask).expect("solves");
        let largest = want.flow_kg_s.iter().fold(0.0_f64, |m, f| m.max(f.abs()));
        for id in network.element_ids() {
            let off = (got.flow_kg_s(id) - want.flow_kg_s[id.index()]).abs();
            assert!(
                off <= 1e-9 * largest,
                "mask {mask}: {} off by {off:e}",
                network.element(id).name
            );
            assert!((got.heat_w(id) - want.heat_w[id.index()]).abs() < 1e-5);
        }
    }
}

/// A house as written, with properties by temperature, tees and a pump held to a drop: within a block states are foretold
/// from those before, whether numbers count up or jump, and each is still what a solve of its own gives.
#[test]
fn a_state_foretold_from_others_is_what_a_solve_of_its_own_gives() {
    let (survey, _) = survey::read(include_str!("../data/houses/sixteen.toml"));
    let (network, _) = network::expand(&survey.expect("a survey")).expect("a network");
    let ways: Vec<Way> = network
        .emitters
        .iter()
        .filter_map(|e| e.valve)
        .take(9)
        .map(|valve| ways(&[valve])[0].clone())
        .collect();
    let lockshields = running::lockshields(&network, false, running::heating(&network).as_ref());
    let setting = running::setting(&network, 0, &lockshields);
    let solver = Solver::new(&network);
    for (count, step) in [(512, 1), (64, 203)] {
        let mut seen: Vec<(u64, Vec<f64>, u32)> = Vec::new();
        let ended = solver.fold_states(
            &setting,
            &ways,
            count,
            |k| k * step % 512,
            Vec::new,
            |block: &mut Vec<_>, number, answer| {
                let light = answer.expect("solves");
                block.push((
                    number,
                    light.flows_kg_s().to_vec(),
                    light.stats().heat_rounds,
                ));
            },
            |block, _| {
                seen.extend(block);
                ControlFlow::Continue(())
            },
        );
        assert_eq!(ended, Ok(ControlFlow::Continue(())));
        assert_eq!(seen.len() as u64, count);
        for (number, flows, rounds) in seen.iter().step_by(11) {
            let mut alone = setting.clone();
            for (k, way) in ways.iter().enumerate() {
                if number >> k & 1 == 1 {
                    way.elements
                        .iter()
                        .for_each(|id| alone.shut[id.index()] = true);
                }
            }
            let want = solver.solve(&alone).expect("solves").flow_kg_s;
            let largest = want.iter().fold(0.0_f64, |m, f| m.max(f.abs()));
            for (got, want) in flows.iter().zip(&want) {
                let off = (got - want).abs() / largest;
                assert!(off <= 1e-9, "state {number} after {rounds} rounds: {off:e}");
            }
        }
    }
}

#[test]
fn order_of_states_changes_no_bit() {
    let network = house();
    let valves = valves(&network);
    let solver = Solver::new(&network);
    let setting = Setting::of(&network, &network.states[0]);
    let ways = ways(&valves);
    let run = |masks: &mut dyn Iterator<Item = u64>| {
        let mut states = solver.states(&setting, &ways).expect("ready");
        let mut flows: Vec<(u64, Vec<u64>)> = masks
            .map(|mask| {
                let light = states.solve(mask).expect("solves");
                (
                    mask,
                    network
                        .element_ids()
                        .map(|id| light.flow_kg_s(id).to_bits())
                        .collect(),
                )
            })
            .collect();
        flows.sort();
        flows
    };
    assert!(run(&mut (0..400)) == run(&mut (0..400).rev()));
}

#[test]
fn everything_shut_is_a_refusal() {
    let network = house();
    let solver = Solver::new(&network);
    let setting = Setting::of(&network, &network.states[0]);
    let all: Vec<ElementId> = network
        .element_ids()
        .filter(|&id| {
            network.element(id).name.starts_with("trv")
                || network.element(id).name.starts_with("byp")
        })
        .collect();
    // the twelfth radiator's by-pass, if the house has one, is among them
    let ways = [Way {
        elements: all,
        pumps: Vec::new(),
    }];
    let mut states = solver.states(&setting, &ways).expect("ready");
    assert_eq!(states.solve(1).err(), Some(SolveError::NothingMoves));
    assert!(states.solve(0).is_ok());
}

#[test]
fn a_fold_sees_every_state_once_in_order_with_one_thread_or_many() {
    let network = house();
    let ways = ways(&valves(&network)[..9]);
    let solver = Solver::new(&network);
    let setting = Setting::of(&network, &network.states[0]);
    let source = network.sources[0].body;
    let run = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads);
        let mut all: Vec<(u64, u64, u64)> = Vec::new();
        let mut told = Vec::new();
        let ended = pool.build().expect("threads").install(|| {
            solver.fold_states(
                &setting,
                &ways,
                1 << 9,
                |k| k,
                Vec::new,
                |block: &mut Vec<_>, number, answer| {
                    let state = answer.expect("solves");
                    let heat_w = state.heat_w(source);
                    block.push((number, state.flow_kg_s(source).to_bits(), heat_w.to_bits()));
                },
                |block, done| {
                    all.extend(block);
                    told.push(done);
                    ControlFlow::Continue(())
                },
            )
        });
        assert_eq!(ended, Ok(ControlFlow::Continue(())));
        assert!(told.is_sorted() && told.last() == Some(&(1 << 9)));
        all
    };
    let one = run(1);
    assert!(one.iter().map(|s| s.0).eq(0..1 << 9));
    assert!(one == run(3));
}

#[test]
fn a_fold_can_be_broken_off() {
    let network = house();
    let ways = ways(&valves(&network));
    let solver = Solver::new(&network);
    let mut setting = Setting::of(&network, &network.states[0]);
    setting.heat = false;
    let mut blocks = 0;
    let ended = solver.fold_states(
        &setting,
        &ways,
        1 << 12,
        |k| k,
        || (),
        |(), _, _| (),
        |(), _| {
            blocks += 1;
            if blocks == 2 {
                ControlFlow::Break(())
            } else {
                ControlFlow::Continue(())
            }
        },
    );
    assert_eq!((ended, blocks), (Ok(ControlFlow::Break(())), 2));
}

/// A house of the repository as the running view's setting has it.
fn written(text: &str) -> Network {
    let (survey, said) = pipecarry::survey::read::read(text);
    let survey = survey.unwrap_or_else(|| panic!("{said:?}"));
    pipecarry::network::expand(&survey).expect("a network").0
}

/// A zone with a pump of its own stands in some states; pressures and whole states are those of a solve of its own.
#[test]
fn zones_stop_their_pumps_and_pressures_are_those_of_a_solve_of_its_own() {
    for text in [
        include_str!("../../networks/bracken.toml"),
        include_str!("../../networks/vetch.toml"),
        include_str!("../../networks/larch.toml"),
    ] {
        let house = text.lines().next().unwrap_or_default();
        let network = written(text);
        let setting = Setting::of(&network, &network.states[0]);
        let mut ways: Vec<Way> = network
            .zones
            .iter()
            .map(|zone| Way {
                elements: zone.valves.clone(),
                pumps: zone.pump.into_iter().collect(),
            })
            .collect();
        let valves = network.emitters.iter().filter_map(|e| e.valve);
        ways.extend(self::ways(&valves.take(6).collect::<Vec<_>>()));
        let solver = Solver::new(&network);
        let mut states = solver.states(&setting, &ways).expect("ready");
        let mut answered = 0;
        for number in 0..1_u64 << ways.len().min(8) {
            let mut alone = setting.clone();
            for way in (0..ways.len())
                .filter(|k| number >> k & 1 == 1)
                .map(|k| &ways[k])
            {
                way.elements
                    .iter()
                    .for_each(|id| alone.shut[id.index()] = true);
                way.pumps.iter().for_each(|&p| alone.stopped[p] = true);
            }
            let (want, got) = (solver.solve(&alone), states.solve(number));
            let (want, got) = match (want, got) {
                (Ok(want), Ok(got)) => (want, got),
                (Err(want), Err(got)) => {
                    assert_eq!(want, got, "{number}");
                    continue;
                }
                (want, got) => panic!("{house} {number}: {:?}, {:?}", want.err(), got.err()),
            };
            answered += 1;
            let whole = got.state();
            let largest = want.flow_kg_s.iter().fold(0.0_f64, |m, f| m.max(f.abs()));
            let head = want
                .dp_pa
                .iter()
                .flatten()
                .fold(0.0_f64, |m, p| m.max(p.abs()));
            for id in network.element_ids() {
                let e = id.index();
                let name = || format!("{house} {number}: {}", network.element(id).name);
                // where one radiator alone decides what its pump moves, the last round leaves 2e-9
                assert!(
                    (got.flow_kg_s(id) - want.flow_kg_s[e]).abs() <= 5e-9 * largest,
                    "{}",
                    name()
                );
                assert!((got.heat_w(id) - want.heat_w[e]).abs() < 1e-3, "{}", name());
                assert_eq!(
                    want.dp_pa[e].is_some(),
                    got.dp_pa(id).is_some(),
                    "{}",
                    name()
                );
                if let (Some(want), Some(got), Some(whole)) =
                    (want.dp_pa[e], got.dp_pa(id), whole.dp_pa[e])
                {
                    assert!((want - got).abs() < 1e-5 * head, "{}: {want} {got}", name());
                    assert!(
                        (want - whole).abs() < 1e-5 * head,
                        "{}: {want} {whole}",
                        name()
                    );
                }
            }
        }
        assert!(answered > 20);
    }
}
