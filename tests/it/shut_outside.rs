//! Every state of shut valves of several houses against an outside solver.
//!
//! Where `PIPECARRY_WRITE_STATES` names a folder, each house is written there as a case, with the elements that each
//! valve shuts and what this crate finds in every state; `tests/outside/states.py` solves all of them again and compares
//! (`tests/shut_states.sh` does both). Without it, only what is written is tested.

use crate::house_case;
use pipecarry::network::{ElementId, Network, StateKind};
use pipecarry::shut::enumerate::ways;
use pipecarry::shut::state::read_light;
use pipecarry::shut::valves::Closable;
use pipecarry::solve::{Setting, SolveError, Solver};
use serde_json::{Value, json};
use std::path::PathBuf;

/// Files, and how many of the valves may shut: all of them, but for the sixteen radiators, whose 65 536 states are for
/// the long run.
const FILES: &[&str] = &[
    "networks/linnet.toml",
    "networks/larch.toml",
    "networks/larch-28.toml",
    "networks/sorrel.toml",
    "networks/hyssop.toml",
    "networks/comfrey.toml",
    "networks/campion.toml",
    "networks/bracken.toml",
    "networks/teasel.toml",
    "tests/data/stories/shut-eight.toml",
    "tests/data/stories/shut-water.toml",
    "tests/data/houses/sixteen.toml",
];

/// The house in words that both solvers have, lockshields as balancing sets them.
struct Plain {
    network: Network,
    base: Setting,
    valves: Vec<Closable>,
}

fn plain(file: &str) -> Plain {
    let mut network = house_case::plain(&house_case::house(file));
    network
        .manifolds
        .iter_mut()
        .for_each(|m| assert!(m.blend.is_none(), "{file} mixes"));
    // both solvers let a source make its flow temperature, whatever that takes
    network.sources.iter_mut().for_each(|s| s.output_w = None);
    let (base, valves) = house_case::heating(&network);
    for (id, law) in &base.law {
        network.graph[*id].law = law.clone();
    }
    let mut states = network.states.iter();
    let heating = states.find(|s| s.kind == StateKind::Heating);
    Plain {
        base: Setting::of(&network, heating.unwrap()),
        network,
        valves,
    }
}

/// Flow through each source and heat, water and flow of the emitters, by state.
fn ours(plain: &Plain, masks: &[u64]) -> Vec<Value> {
    let (network, base) = (&plain.network, &plain.base);
    let (solver, ways) = (Solver::new(network), ways(&plain.valves));
    let mut states = solver.states(base, &ways).unwrap();
    let mut rows = Vec::new();
    for &mask in masks {
        rows.push(match states.solve(mask) {
            Ok(light) => {
                let facts = read_light(network, base, &light, mask);
                let flow = |id: ElementId| light.flow_kg_s(id);
                let emitters: Vec<f64> = network.emitters.iter().map(|e| flow(e.body)).collect();
                let sources: Vec<f64> = network.sources.iter().map(|s| flow(s.body)).collect();
                json!({ "shut": mask, "sources": sources, "emitters": emitters, "water_m3": facts.water_m3,
                        "heat_w": facts.heat_w })
            }
            Err(SolveError::NothingMoves) => json!({ "shut": mask, "still": true }),
            Err(error) => panic!("{mask:b}: {error:?}"),
        });
    }
    rows
}

fn case(file: &str, plain: &Plain, masks: &[u64]) -> Value {
    let network = &plain.network;
    let mut case = house_case::case(file, network).unwrap();
    let first = |id: ElementId| format!("e{}.0", id.index());
    let whole = |ids: &[ElementId]| ids.iter().map(|id| first(*id)).collect::<Vec<_>>();
    let pump = |p: &usize| network.pumps[*p].element;
    case["ways"] = plain
        .valves
        .iter()
        .map(|v| {
            let pumps: Vec<ElementId> = v.pumps.iter().map(pump).collect();
            json!({ "name": v.name, "shut": whole(&v.elements), "stopped": whole(&pumps) })
        })
        .collect();
    let bodies: Vec<ElementId> = network.emitters.iter().map(|e| e.body).collect();
    let sources: Vec<ElementId> = network.sources.iter().map(|s| s.body).collect();
    case["bodies"] = json!(whole(&bodies));
    case["source_bodies"] = json!(whole(&sources));
    let water = network
        .element_ids()
        .map(|id| (first(id), json!(network.element(id).volume_m3)));
    case["water_m3"] = Value::Object(water.collect());
    case["states"] = Value::Array(ours(plain, masks));
    case
}

#[test]
fn every_state_is_written_for_the_outside_solver() {
    let folder = std::env::var_os("PIPECARRY_WRITE_STATES").map(PathBuf::from);
    let most: u64 = std::env::var("PIPECARRY_STATES_EACH")
        .ok()
        .and_then(|n| n.parse().ok())
        .unwrap_or(if folder.is_some() { 256 } else { 2 });
    let mut whole = 0;
    for file in FILES {
        let plain = plain(file);
        let all = 1_u64 << plain.valves.len();
        // all states, or as many as are asked for: the ends of the list always, the others spread over it
        let masks: Vec<u64> = match all <= most {
            true => (0..all).collect(),
            false => (0..most)
                .map(|k| k * (all - 1) / (most - 1).max(1))
                .collect(),
        };
        whole += usize::from(all <= 256 && plain.valves.len() > 1);
        let case = case(file, &plain, &masks);
        assert_eq!(case["states"].as_array().unwrap().len(), masks.len());
        assert_eq!(case["ways"].as_array().unwrap().len(), plain.valves.len());
        if let Some(folder) = &folder {
            let name = file.rsplit('/').next().unwrap().replace(".toml", ".json");
            std::fs::write(folder.join(name), case.to_string()).unwrap();
        }
    }
    assert!(whole >= 5, "{whole} houses whose states are all compared");
}
