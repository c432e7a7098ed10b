//! Many states of one setting: each is what a solve of its own gives, whatever came before.

use pipecarry::network::{ElementId, Network, reference};
use pipecarry::solve::{Setting, SolveError, Solver, solve};

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

#[test]
fn a_state_is_what_a_solve_of_its_own_gives() {
    let network = house();
    let valves = valves(&network);
    assert_eq!(valves.len(), 12);
    let solver = Solver::new(&network);
    let setting = Setting::of(&network, &network.states[0]);
    let mut states = solver.states(&setting).expect("solves");
    for mask in (0..1 << 12).step_by(37) {
        let shut: Vec<ElementId> = (0..12)
            .filter(|k| mask >> k & 1 == 1)
            .map(|k| valves[k])
            .collect();
        let mut alone = setting.clone();
        shut.iter().for_each(|id| alone.shut[id.index()] = true);
        let want = solve(&network, &alone).expect("solves");
        let got = states.solve(shut.iter().copied()).expect("solves");
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

#[test]
fn order_of_states_changes_no_bit() {
    let network = house();
    let valves = valves(&network);
    let solver = Solver::new(&network);
    let setting = Setting::of(&network, &network.states[0]);
    let run = |masks: &mut dyn Iterator<Item = u32>| {
        let mut states = solver.states(&setting).expect("solves");
        let mut flows: Vec<(u32, Vec<u64>)> = masks
            .map(|mask| {
                let shut = (0..12).filter(|k| mask >> k & 1 == 1).map(|k| valves[k]);
                let light = states.solve(shut).expect("solves");
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
    let mut states = solver.states(&setting).expect("solves");
    let all: Vec<ElementId> = network
        .element_ids()
        .filter(|&id| {
            network.element(id).name.starts_with("trv")
                || network.element(id).name.starts_with("byp")
        })
        .collect();
    // the twelfth radiator's by-pass, if the house has one, is among them
    assert_eq!(states.solve(all).err(), Some(SolveError::NothingMoves));
}
