//! Each way to put pipes together as the smallest network that can be worked on paper: square losses k·Q² (Pa, m³/h) and
//! pumps a − c·Q², so that every flow below is a formula of a line, derived here and by no program.

use pipecarry::network::{Network, reference};
use pipecarry::solve::{Setting, SolveError, State, solve};
use serde_json::{Value, json};

/// Pump: head at no flow, Pa, and its fall, Pa/(m³/h)².
const A: f64 = 30_000.0;
const C: f64 = 2_000.0;

/// Elements (id, from, to, what) on a fluid of 1000 kg/m³.
fn network(elements: &[(&str, &str, &str, Value)]) -> Network {
    let mut nodes: Vec<&str> = elements.iter().flat_map(|e| [e.1, e.2]).collect();
    nodes.sort_unstable();
    nodes.dedup();
    let nodes: Vec<Value> = nodes.iter().map(|id| json!({"id": id})).collect();
    let elements: Vec<Value> = elements
        .iter()
        .map(|(id, from, to, keys)| {
            let mut element = keys.clone();
            element["id"] = json!(id);
            element["from"] = json!(from);
            element["to"] = json!(to);
            element
        })
        .collect();
    let case = json!({"id": "worked", "reference_node": "back", "reference_pressure_pa": 0.0,
        "fluid": {"rho_kg_m3": 1000.0, "mu_pa_s": 6e-4, "cp_j_kgk": 4180.0},
        "nodes": nodes, "elements": elements});
    reference::load(&case.to_string()).expect("a case")
}

fn loss(k: f64) -> Value {
    json!({"type": "resistance", "dp_ref_pa": k, "q_ref_m3h": 1.0, "exponent": 2.0})
}

fn pump(speed: f64) -> Value {
    let curve = json!({"kind": "quadratic", "a_pa": A, "b_pa_per_m3h": 0.0, "c_pa_per_m3h2": -C});
    json!({"type": "pump", "curve": curve, "speed": speed})
}

fn valve(kv: f64, open: bool) -> Value {
    json!({"type": "valve", "kv_m3h": kv, "open": open})
}

fn solved(network: &Network) -> State {
    solve(network, &Setting::of(network, &network.states[0])).expect("an answer")
}

/// Flow of an element, m³/h.
fn flow(network: &Network, state: &State, id: &str) -> f64 {
    let mut ids = network.element_ids();
    let id = ids.find(|e| network.element(*e).name == id).expect("known");
    3.6 * state.flow_kg_s[id.index()]
}

/// Solves and compares flows, m³/h, to 1e-9 of the largest.
fn is(elements: &[(&str, &str, &str, Value)], flows: &[(&str, f64)]) -> State {
    let network = network(elements);
    let state = solved(&network);
    let largest = flows.iter().fold(0.0_f64, |m, f| m.max(f.1.abs()));
    for (id, want) in flows {
        let got = flow(&network, &state, id);
        assert!(
            (got - want).abs() <= 1e-9 * largest,
            "{id}: {got} instead of {want}"
        );
    }
    state
}

/// Square resistances side by side: 1/√k adds up.
fn beside(ks: &[f64]) -> f64 {
    ks.iter().map(|k| 1.0 / k.sqrt()).sum::<f64>().powi(-2)
}

/// Flow of one pump at full speed through a resistance.
fn through(k: f64) -> f64 {
    (A / (k + C)).sqrt()
}

#[test]
fn tree() {
    // a trunk of 500, then 3000 beside (200 and two of 8000)
    let far = 200.0 + beside(&[8000.0, 8000.0]);
    let branches = beside(&[3000.0, far]);
    let all = through(500.0 + branches);
    let (near_q, far_q) = (
        all * (branches / 3000.0).sqrt(),
        all * (branches / far).sqrt(),
    );
    is(
        &[
            ("pump", "back", "flow", pump(1.0)),
            ("trunk", "flow", "tee", loss(500.0)),
            ("near", "tee", "back", loss(3000.0)),
            ("on", "tee", "end", loss(200.0)),
            ("first", "end", "back", loss(8000.0)),
            ("second", "end", "back", loss(8000.0)),
        ],
        &[
            ("trunk", all),
            ("near", near_q),
            ("on", far_q),
            ("first", far_q / 2.0),
            ("second", far_q / 2.0),
        ],
    );
}

#[test]
fn loop_with_a_bridge_that_carries_by_its_imbalance() {
    // a bridge between the middles of two equal ways with equal halves carries nothing
    is(
        &[
            ("pump", "back", "flow", pump(1.0)),
            ("a", "flow", "left", loss(1000.0)),
            ("b", "flow", "right", loss(1000.0)),
            ("bridge", "left", "right", loss(10.0)),
            ("c", "left", "back", loss(3000.0)),
            ("d", "right", "back", loss(3000.0)),
        ],
        &[
            ("pump", through(1000.0)),
            ("bridge", 0.0),
            ("c", through(1000.0) / 2.0),
        ],
    );
}

#[test]
fn ring_main() {
    // one emitter on a ring, 1000 one way round and 4000 the other: flows as 2 to 1
    let k = beside(&[1000.0, 4000.0]);
    let q = through(k + 5000.0);
    is(
        &[
            ("pump", "back", "flow", pump(1.0)),
            ("short", "flow", "tap", loss(1000.0)),
            ("long", "flow", "tap", loss(4000.0)),
            ("emitter", "tap", "back", loss(5000.0)),
        ],
        &[("pump", q), ("short", 2.0 * q / 3.0), ("long", q / 3.0)],
    );
}

#[test]
fn reverse_return() {
    // two equal emitters, first on the flow last on the return, equal mains: both get half, and the way through either is
    // a main at half flow (a quarter of its loss) and an emitter at half flow
    let q = through((400.0 + 6000.0) / 4.0);
    is(
        &[
            ("pump", "back", "flow", pump(1.0)),
            ("flow main", "flow", "f2", loss(400.0)),
            ("first", "flow", "r1", loss(6000.0)),
            ("second", "f2", "back", loss(6000.0)),
            ("return main", "r1", "back", loss(400.0)),
        ],
        &[("pump", q), ("first", q / 2.0), ("second", q / 2.0)],
    );
}

#[test]
fn one_pipe_loop_with_plain_tees() {
    // each emitter lies beside a piece of the main: the pieces' resistances add up
    let k = [beside(&[100.0, 900.0]), beside(&[100.0, 2500.0])];
    let q = through(k[0] + k[1] + 700.0);
    is(
        &[
            ("pump", "back", "flow", pump(1.0)),
            ("main 1", "flow", "m1", loss(100.0)),
            ("emitter 1", "flow", "m1", loss(900.0)),
            ("main 2", "m1", "m2", loss(100.0)),
            ("emitter 2", "m1", "m2", loss(2500.0)),
            ("home", "m2", "back", loss(700.0)),
        ],
        // √(900/100) = 3: a quarter; √(2500/100) = 5: a sixth
        &[("pump", q), ("emitter 1", q / 4.0), ("emitter 2", q / 6.0)],
    );
}

#[test]
fn microbore_manifold() {
    let ks = [40_000.0, 90_000.0, 160_000.0, 360_000.0];
    let q = through(300.0 + beside(&ks));
    // 1/200 : 1/300 : 1/400 : 1/600 = 6 : 4 : 3 : 2
    is(
        &[
            ("pump", "back", "flow", pump(1.0)),
            ("primaries", "flow", "bar", loss(300.0)),
            ("tail 6", "bar", "back", loss(ks[0])),
            ("tail 4", "bar", "back", loss(ks[1])),
            ("tail 3", "bar", "back", loss(ks[2])),
            ("tail 2", "bar", "back", loss(ks[3])),
        ],
        &[
            ("tail 6", 6.0 * q / 15.0),
            ("tail 4", 4.0 * q / 15.0),
            ("tail 3", 3.0 * q / 15.0),
            ("tail 2", 2.0 * q / 15.0),
        ],
    );
}

#[test]
fn underfloor_manifold_without_a_mixing_set() {
    // a floor loop is a stream along a wall at room temperature: excess falls by exp(−UA/(m cp))
    let floor = |k: f64, w_k: f64| {
        json!({"type": "resistance", "dp_ref_pa": k, "q_ref_m3h": 1.0, "exponent": 2.0,
            "thermal": {"kind": "emitter", "q_n_w": 50.0 * w_k, "n": 1.0, "room_c": 21.0}})
    };
    let source = json!({"type": "resistance", "dp_ref_pa": 100.0, "q_ref_m3h": 1.0, "exponent": 2.0,
        "thermal": {"kind": "source", "flow_c": 35.0}});
    let elements = [
        ("pump", "back", "unit", pump(1.0)),
        ("source", "unit", "bar", source),
        ("loop 1", "bar", "back", floor(40_000.0, 60.0)),
        ("loop 2", "bar", "back", floor(160_000.0, 90.0)),
    ];
    let q = through(100.0 + beside(&[40_000.0, 160_000.0]));
    let state = is(&elements, &[("loop 1", 2.0 * q / 3.0), ("loop 2", q / 3.0)]);
    for (index, (m3_h, w_k)) in [(2.0 * q / 3.0, 60.0), (q / 3.0, 90.0)]
        .into_iter()
        .enumerate()
    {
        let capacity = m3_h / 3.6 * 4180.0;
        let want = 21.0 + 14.0 * f64::exp(-w_k / capacity);
        let got = state.out_c[2 + index].expect("warm");
        assert!((got - want).abs() < 1e-9, "{got} instead of {want}");
    }
}

#[test]
fn pumps_in_series() {
    let q = (2.0 * A / (5000.0 + 2.0 * C)).sqrt();
    is(
        &[
            ("one", "back", "mid", pump(1.0)),
            ("two", "mid", "flow", pump(1.0)),
            ("house", "flow", "back", loss(5000.0)),
        ],
        &[("house", q)],
    );
}

#[test]
fn pumps_in_parallel() {
    // each moves half: a − c·(Q/2)² = k·Q²
    let q = (A / (5000.0 + C / 4.0)).sqrt();
    is(
        &[
            ("one", "back", "flow", pump(1.0)),
            ("two", "back", "flow", pump(1.0)),
            ("house", "flow", "back", loss(5000.0)),
        ],
        &[("house", q), ("one", q / 2.0), ("two", q / 2.0)],
    );
}

#[test]
fn zone_pumps_with_a_common_pipe() {
    // two equal zones on a trunk: a − c·(Q/2)² = z·(Q/2)² + t·Q²
    let q = (A / ((C + 6000.0) / 4.0 + 500.0)).sqrt();
    is(
        &[
            ("trunk", "back", "bar", loss(500.0)),
            ("pump 1", "bar", "p1", pump(1.0)),
            ("pump 2", "bar", "p2", pump(1.0)),
            ("zone 1", "p1", "back", loss(6000.0)),
            ("zone 2", "p2", "back", loss(6000.0)),
        ],
        &[("trunk", q), ("zone 1", q / 2.0)],
    );
}

/// Primary and secondary meet in a vessel without resistance: each pump sees its own circuit alone, whichever moves more.
#[test]
fn four_port_vessel_in_either_direction() {
    for (primary, secondary) in [(1000.0, 8000.0), (8000.0, 1000.0)] {
        let vessel = json!({"type": "pipe", "length_m": 1.0, "bore_m": 0.5, "roughness_m": 1e-5, "zeta": 1.0});
        let network = network(&[
            ("pump 1", "back", "unit", pump(1.0)),
            ("primary", "unit", "top", loss(primary)),
            ("vessel", "top", "back", vessel),
            ("pump 2", "top", "house", pump(1.0)),
            ("secondary", "house", "back", loss(secondary)),
        ]);
        let state = solved(&network);
        let (p, s) = (through(primary), through(secondary));
        for (id, want) in [("primary", p), ("secondary", s), ("vessel", p - s)] {
            let got = flow(&network, &state, id);
            // a vessel half a metre wide takes well under 1 Pa of 30 kPa
            assert!(
                (got - want).abs() < 2e-5 * p.max(s),
                "{id}: {got} instead of {want}"
            );
        }
    }
}

#[test]
fn overflow_valve_opens_beyond_its_pressure() {
    let bypass =
        |opening_pa: f64| json!({"type": "bypass_valve", "opening_pa": opening_pa, "kv_m3h": 2.0});
    let plant = |opening_pa: f64, open: bool| {
        [
            ("pump", "back", "flow", pump(1.0)),
            ("radiators", "flow", "back", valve(2.0, open)),
            ("overflow", "flow", "back", bypass(opening_pa)),
        ]
    };
    // everything shut: a − c·Q² = P + 10⁵·(Q/2)²
    let alone = ((A - 20_000.0) / (25_000.0 + C)).sqrt();
    is(
        &plant(20_000.0, false),
        &[("overflow", alone), ("radiators", 0.0)],
    );
    // open: 25 kPa at 1 m³/h in the radiators leaves it shut at 29 kPa
    is(
        &plant(29_000.0, true),
        &[("overflow", 0.0), ("radiators", through(25_000.0))],
    );
}

#[test]
fn check_valve_stops_what_would_run_backwards() {
    // the pump below stands; the one above would push through it, but for the valve
    let check = json!({"type": "check_valve", "opening_pa": 0.0, "kv_m3h": 10.0});
    let plant = |guard: Value| {
        [
            ("pump 1", "back", "p1", pump(1.0)),
            ("pump 2", "back", "p2", pump(0.0)),
            ("way 1", "p1", "flow", loss(1000.0)),
            ("way 2", "p2", "flow", guard),
            ("house", "flow", "back", loss(5000.0)),
        ]
    };
    is(&plant(check), &[("way 2", 0.0), ("house", through(6000.0))]);
    // without it: a stopped pump lets water through without loss
    let k = beside(&[5000.0, 1000.0]);
    let q = through(1000.0 + k);
    is(&plant(loss(1000.0)), &[("way 2", -q * (k / 1000.0).sqrt())]);
}

#[test]
fn closed_valves_isolate_a_part_with_its_own_pump() {
    is(
        &[
            ("pump", "back", "flow", pump(1.0)),
            ("house", "flow", "back", loss(5000.0)),
            ("out", "flow", "in", valve(3.0, false)),
            ("home", "off", "back", valve(3.0, false)),
            ("inner pump", "off", "in", pump(1.0)),
            ("inner", "in", "off", loss(1000.0)),
        ],
        &[
            ("house", through(5000.0)),
            ("out", 0.0),
            ("home", 0.0),
            ("inner", through(1000.0)),
        ],
    );
}

#[test]
fn dead_ends_stand_still() {
    is(
        &[
            ("pump", "back", "flow", pump(1.0)),
            ("house", "flow", "back", loss(5000.0)),
            ("stub", "flow", "nowhere", loss(10.0)),
            ("further", "nowhere", "end", loss(10.0)),
        ],
        &[("house", through(5000.0)), ("stub", 0.0), ("further", 0.0)],
    );
}

#[test]
fn stopped_pump_lets_water_through_and_alone_moves_nothing() {
    let two = |speed: f64| {
        [
            ("one", "back", "mid", pump(speed)),
            ("two", "mid", "flow", pump(0.0)),
            ("house", "flow", "back", loss(5000.0)),
        ]
    };
    is(&two(1.0), &[("house", through(5000.0))]);
    // affinity: at three quarters of the speed three quarters of the flow
    is(&two(0.75), &[("house", 0.75 * through(5000.0))]);
    let network = network(&two(0.0));
    let refused = solve(&network, &Setting::of(&network, &network.states[0]));
    assert!(
        matches!(refused, Err(SolveError::NothingMoves)),
        "{:?}",
        refused.err()
    );
}

#[test]
fn elements_drawn_against_their_flow() {
    is(
        &[
            ("pump", "back", "flow", pump(1.0)),
            ("turned", "tap", "flow", loss(1000.0)),
            ("valve", "back", "tap", valve(5.0, true)),
        ],
        &[
            ("pump", through(5000.0)),
            ("turned", -through(5000.0)),
            ("valve", -through(5000.0)),
        ],
    );
}
