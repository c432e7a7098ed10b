//! Twenty networks solved elsewhere to 1e-14: every flow, pressure and temperature, both means, from a cold start.

#![allow(clippy::print_stdout)] // the counts of cases are part of the answer

use crate::reference_data::{self, Folder};
use pipecarry::network::{self, Network};
use pipecarry::solve::{Setting, SolveError, State, solve};
use pipecarry::survey::Mean;
use serde_json::Value;

/// Relative to the largest of its kind in the case.
const TOLERANCE: f64 = 1e-9;

struct Worst {
    case: String,
    largest: f64,
    what: String,
    misses: Vec<String>,
}

impl Worst {
    fn hold(&mut self, what: &str, got: Option<f64>, want: &Value, scale: f64) {
        let off = match (got, want.as_f64()) {
            (Some(got), Some(want)) => (got - want).abs() / scale,
            (None, None) => 0.0,
            _ => f64::INFINITY,
        };
        let off = if off.is_nan() { f64::INFINITY } else { off };
        if off > self.largest {
            self.largest = off;
            self.what = what.to_owned();
        }
        if off > TOLERANCE {
            self.misses.push(format!(
                "{}: {what}: {got:?} against {want}, {off:.1e} of the largest",
                self.case
            ));
        }
    }
}

fn largest<'a>(values: impl Iterator<Item = &'a Value>) -> f64 {
    values
        .filter_map(Value::as_f64)
        .fold(1e-300, |m, x| m.max(x.abs()))
}

fn compare(network: &Network, state: &State, solution: &Value, thermal: &str, worst: &mut Worst) {
    let hydraulic = &solution["hydraulic"];
    let elements = hydraulic["elements"].as_object().expect("elements");
    let flows = largest(elements.values().map(|e| &e["mass_flow_kg_s"]));
    let pressures = largest(elements.values().map(|e| &e["dp_pa"]));
    let heat = &solution["thermal"][thermal];
    // heat is the product of a capacity flow and a difference of temperatures that are rounded themselves
    let rounding_w = flows * 4200.0 * 1e-3;
    let watts = rounding_w.max(largest(
        heat["elements"]
            .as_object()
            .expect("elements")
            .values()
            .map(|e| &e["heat_w"]),
    ));
    assert_eq!(elements.len(), network.graph.edge_count());
    for id in network.element_ids() {
        let (e, name) = (id.index(), &network.element(id).name);
        // the cases state a loss only where both ends are joined to the reference node
        let (from, to) = network.ends(id);
        let joined =
            state.pressure_pa[from.index()].is_some() && state.pressure_pa[to.index()].is_some();
        let (want, warm) = (&elements[name], &heat["elements"][name]);
        worst.hold(
            &format!("{name} flow"),
            Some(state.flow_kg_s[e]),
            &want["mass_flow_kg_s"],
            flows,
        );
        worst.hold(
            &format!("{name} dp"),
            joined.then_some(state.dp_pa[e]).flatten(),
            &want["dp_pa"],
            pressures,
        );
        worst.hold(
            &format!("{name} t in ({thermal})"),
            state.in_c[e],
            &warm["t_in_c"],
            100.0,
        );
        worst.hold(
            &format!("{name} t out ({thermal})"),
            state.out_c[e],
            &warm["t_out_c"],
            100.0,
        );
        worst.hold(
            &format!("{name} heat ({thermal})"),
            Some(state.heat_w[e]),
            &warm["heat_w"],
            watts,
        );
    }
    for id in network.place_ids() {
        let (p, name) = (id.index(), &network.graph[id].name);
        worst.hold(
            &format!("{name} pressure"),
            state.pressure_pa[p],
            &hydraulic["nodes"][name]["pressure_pa"],
            pressures,
        );
        worst.hold(
            &format!("{name} temperature"),
            state.place_c[p],
            &heat["nodes"][name],
            100.0,
        );
    }
    for (pump, info) in state.pumps.iter().zip(&network.pumps) {
        let want = &hydraulic["pumps"][&info.name];
        worst.hold(
            &format!("{} head", info.name),
            Some(pump.head_pa),
            &want["head_pa"],
            pressures,
        );
    }
    let closure: f64 = state.heat_w.iter().sum();
    worst.hold("energy", Some(closure), &Value::from(0.0), watts);
}

#[test]
fn reference_networks_to_1e9_with_both_means_from_a_cold_start() {
    let Some(cases) = reference_data::files(Folder::Networks) else {
        return;
    };
    let (mut solved, mut refused, mut misses) = (0, 0, Vec::new());
    for (name, text) in &cases {
        let value: Value =
            serde_json::from_str(text).unwrap_or_else(|e| panic!("{name}: unreadable: {e}"));
        let solution = &value["solution"];
        if solution.is_null() {
            println!("{name}: holds no solution, skipped");
            continue;
        }
        let mut worst = Worst {
            case: name.clone(),
            largest: 0.0,
            what: String::new(),
            misses: Vec::new(),
        };
        for (mean, thermal) in [
            (Mean::Logarithmic, "log_mean"),
            (Mean::Arithmetic, "arithmetic_mean"),
        ] {
            let network =
                network::reference::load_with(text, mean).unwrap_or_else(|e| panic!("{name}: {e}"));
            let setting = Setting::of(&network, &network.states[0]);
            match solve(&network, &setting) {
                Ok(state) => compare(&network, &state, solution, thermal, &mut worst),
                // a physical refusal that the independent solver shares
                Err(SolveError::NothingMoves) => {
                    let flows = solution["hydraulic"]["elements"]
                        .as_object()
                        .expect("elements");
                    let moved = largest(flows.values().map(|e| &e["mass_flow_kg_s"]));
                    worst.hold(
                        "nothing moves",
                        Some(0.0),
                        &Value::from(moved.max(1e-299)),
                        1.0,
                    );
                    refused += 1;
                }
                Err(why) => worst.misses.push(format!("{name}: {why:?}")),
            }
        }
        println!("{name}: worst {:.1e} at {}", worst.largest, worst.what);
        misses.extend(worst.misses);
        solved += 1;
    }
    println!(
        "reference networks: {solved} cases, both means; {refused} refusals shared: nothing moves"
    );
    assert!(solved > 0, "no solved network in the folder");
    assert!(
        misses.is_empty(),
        "{} misses, first:\n{}",
        misses.len(),
        misses[..misses.len().min(20)].join("\n")
    );
}
