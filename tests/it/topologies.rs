//! One test for each way in which plant of a house is put together, written as a house file: what must balance, and which
//! way water goes. Networks that can be worked on paper stand in `worked_networks`.

use pipecarry::hydraulics::heat;
use pipecarry::network::{self, ElementId, Network, VesselKind};
use pipecarry::solve::{Setting, SourceLimit, State, solve};
use pipecarry::survey::read::read;
use pipecarry::view::running::running;

const HEAD: &str = r#"
job = "a trial"
design = { flow_temperature = "45 C", drop = "5 K", outside = "-3 C" }
defaults = { emitter = { valve = "thermostatic kv 0.9", leg = "cu15 3m 4 elbow" } }
"#;
const SOURCE: &str = r#"
[source.unit]
output = "9 kW"
least_flow = "6 l/min"
greatest_flow = "25 l/min"
free_head = ["7 m at 0 l/min", "6 m at 20 l/min", "4 m at 30 l/min"]
"#;

fn house(parts: &[&str]) -> Network {
    let text = [&[HEAD], parts].concat().concat();
    let (survey, said) = read(&text);
    let survey = survey.unwrap_or_else(|| panic!("{said:?}"));
    network::expand(&survey)
        .unwrap_or_else(|said| panic!("{said:?}"))
        .0
}

fn as_it_runs(network: &Network) -> State {
    running(network, 0)
        .unwrap_or_else(|why| panic!("{why:?}"))
        .solved
}

fn near(got: f64, want: f64, off: f64) {
    assert!((got - want).abs() <= off, "{got} instead of {want}");
}

/// What flows to each place also leaves it, and so does the heat.
fn balances(network: &Network, state: &State) {
    let most = state.flow_kg_s.iter().fold(0.0_f64, |m, f| m.max(f.abs()));
    let mut net = vec![0.0; network.graph.node_count()];
    for id in network.element_ids() {
        let (from, to) = network.ends(id);
        net[from.index()] -= state.flow_kg_s[id.index()];
        net[to.index()] += state.flow_kg_s[id.index()];
    }
    net.iter().for_each(|n| near(*n, 0.0, 1e-9 * most));
    let made = -state.heat_w.iter().filter(|w| **w < 0.0).sum::<f64>();
    near(state.heat_w.iter().sum::<f64>(), 0.0, 1e-9 * made.max(1.0));
}

#[test]
fn blended_inlet_keeps_its_set_temperature() {
    let network = house(&[
        SOURCE,
        r#"
[pair]
out = ["unit", "hall", "cu28 6m 6 elbow"]
[manifold]
floor = { from = "hall", leg = "cu22 3m", blend = 35, pump = ["5 m at 0 l/min", "3 m at 15 l/min"] }
[emitter]
living = { from = "floor", loop = "pex16 70m", per_kelvin = "70 W/K", room = 20, needs = "900 W" }
kitchen = { from = "floor", loop = "pex16 60m", per_kelvin = "60 W/K", room = 20, needs = "700 W" }
bed = { from = "hall", panel = "22 600x1600", room = 18, needs = "1000 W" }
"#,
    ]);
    let state = as_it_runs(&network);
    balances(&network, &state);
    let blend = network.manifolds[0].blend.expect("a mixing set");
    near(
        state.place_c[blend.mixed.index()].expect("warm"),
        35.0,
        1e-4,
    );
    assert!(state.flow_kg_s[blend.inlet.index()] > 0.0);
    assert!(state.flow_kg_s[blend.mixing.index()] > 0.0);
}

/// The pump of a heat pump aims at its drop and stops at its least and greatest flow.
#[test]
fn held_to_a_drop_between_least_and_greatest_flow() {
    let plant = |least: &str, greatest: &str| {
        let source = SOURCE
            .replace("6 l/min\"\ngreatest", &format!("{least}\"\ngreatest"))
            .replace("25 l/min", greatest);
        let network = house(&[
            &source,
            r#"
[pair]
out = ["unit", "hall", "cu28 6m 6 elbow"]
[emitter]
lounge = { from = "hall", panel = "22 600x1600", room = 20, needs = "1100 W" }
bed = { from = "hall", panel = "22 600x1400", room = 18, needs = "900 W" }
bath = { from = "hall", panel = "22 600x1000", room = 22, needs = "500 W" }
"#,
        ]);
        let state = as_it_runs(&network);
        balances(&network, &state);
        let source = state.sources[0];
        let drop_k = source.flow_c.expect("warm") - source.return_c.expect("warm");
        (drop_k, state.pumps[0].flow_m3_s * 60_000.0)
    };
    let (drop_k, flow) = plant("1 l/min", "25 l/min");
    near(drop_k, 5.0, 1e-6);
    assert!(flow > 1.0 && flow < 25.0);
    let (drop_k, least) = plant(&format!("{:.3} l/min", 1.3 * flow), "25 l/min");
    near(least, 1.3 * flow, 0.01 * flow);
    assert!(drop_k < 4.5);
    let (drop_k, greatest) = plant("1 l/min", &format!("{:.3} l/min", 0.7 * flow));
    near(greatest, 0.7 * flow, 0.01 * flow);
    assert!(drop_k > 5.5);
}

const COIL: &str = r#"
[pair]
out = ["unit", "plant", "cu28 6m 6 elbow"]
main = ["plant", "hall", "cu28 3m 2 elbow"]
[emitter]
lounge = { from = "hall", panel = "22 600x1600", room = 20, needs = "1100 W" }
"#;

fn hot_water(network: &Network) -> State {
    let state = network
        .states
        .iter()
        .position(|s| s.kind == network::StateKind::HotWater);
    running(network, state.expect("hot water"))
        .unwrap_or_else(|why| panic!("{why:?}"))
        .solved
}

/// With a surface and a store the coil is a stream along a wall at one temperature: effectiveness 1 − e^−NTU.
#[test]
fn coil_with_a_surface_follows_its_effectiveness() {
    let network = house(&[
        SOURCE,
        COIL,
        r#"
[cylinder.store]
from = "plant"
leg = "cu28 2m"
coil = "kv 8"
diverter = "kv 9"
coil_area = "1.2 m2"
store = "40 C"
flow_temperature = "55 C"
"#,
    ]);
    let state = hot_water(&network);
    balances(&network, &state);
    let e = network.cylinders[0].coil.index();
    let (hot, cold) = (state.in_c[e].expect("warm"), state.out_c[e].expect("warm"));
    let capacity = state.heat_w[e] / (hot - cold);
    let effectiveness = 1.0 - (-heat::COIL_W_M2K * 1.2 / capacity).exp();
    near((hot - cold) / (hot - 40.0), effectiveness, 1e-9);
}

/// Of a coil without a surface only the drop is known: it meets that at the flow that carries the output, and takes less
/// from less water, but cools it further.
#[test]
fn coil_by_its_drop_cools_little_water_further() {
    let (ua, store_c) = heat::coil_by_drop(55.0, 5.0, Some(9000.0));
    let out = |share: f64| heat::pipe(55.0, share * 9000.0 / 5.0, ua, 1.0, store_c).out_c;
    near(out(1.0), 50.0, 1e-12);
    assert!(out(0.5) < 50.0 && out(0.5) > store_c);
    let heat_w = |share: f64| share * 9000.0 / 5.0 * (55.0 - out(share));
    assert!(heat_w(0.5) < heat_w(1.0) && heat_w(1.0) < heat_w(2.0));
    let network = house(&[
        SOURCE,
        COIL,
        "[cylinder.store]\nfrom = \"plant\"\nleg = \"cu28 2m\"\ncoil = \"kv 8\"\ndiverter = \"kv 9\"\nflow_temperature = \"55 C\"\n",
    ]);
    let state = hot_water(&network);
    balances(&network, &state);
    assert!(state.heat_w[network.cylinders[0].coil.index()] > 1000.0);
}

/// A header between a primary and a pump of its own behind it; either may move more.
fn header(ports: u32, secondary_l_min: f64) -> (Network, State) {
    let network = house(&[
        &SOURCE.replace("free_head", "pump = \"held to 12 l/min\"\nfree_head"),
        &format!(
            r#"
[pair]
out = ["unit", "header", "cu28 6m 6 elbow"]
main = ["header", "hall", "cu28 3m 2 elbow"]
[vessel.header]
water = "20 l"
ports = {ports}
pump = ["7 m at 0 l/min", "6 m at 20 l/min", "3 m at 40 l/min"]
mode = "held to {secondary_l_min} l/min"
[emitter]
lounge = {{ from = "hall", panel = "22 600x1600", room = 20, needs = "1100 W", leg = "cu22 3m 4 elbow", valve = "none" }}
bed = {{ from = "hall", panel = "22 600x1600", room = 18, needs = "1100 W", leg = "cu22 3m 4 elbow", valve = "none" }}
"#
        ),
    ]);
    let state = as_it_runs(&network);
    balances(&network, &state);
    (network, state)
}

/// Flow through the vessel's body, kg/s, and the warmest and coolest water about.
#[test]
fn low_loss_header_with_unequal_flows_either_way() {
    for (secondary, down) in [(8.0, true), (16.0, false)] {
        let (network, state) = header(4, secondary);
        assert!(matches!(
            network.vessels[0].kind,
            VesselKind::FourPort { .. }
        ));
        let body = network.vessels[0].body;
        let across = state.flow_kg_s[body.index()];
        near(across.abs() * 60.0, 4.0, 0.1);
        let source = state.sources[0];
        let (flow_c, return_c) = (source.flow_c.expect("warm"), source.return_c.expect("warm"));
        let first = network.emitters[0].body.index();
        let got_c = state.in_c[first].expect("warm");
        let left_c = state.out_c[first].expect("warm");
        if down {
            // flow water crosses to the return: emitters get it as hot as it is made, the unit gets it warmer than they leave it
            near(got_c, flow_c, 0.3);
            assert!(return_c > left_c + 0.2);
        } else {
            // return water crosses to the flow: emitters get it cooler
            assert!(got_c < flow_c - 0.2);
        }
    }
}

#[test]
fn three_pipe_vessel_lets_the_surplus_through() {
    let (network, state) = header(3, 8.0);
    assert!(matches!(
        network.vessels[0].kind,
        VesselKind::ThreePort { .. }
    ));
    let body = network.vessels[0].body;
    near(state.flow_kg_s[body.index()].abs() * 60.0, 4.0, 0.1);
}

#[test]
fn check_valve_keeps_water_from_going_backwards() {
    let text = |valve: &str| {
        house(&[
            SOURCE,
            &format!(
                r#"
[pair]
out = ["unit", "header", "cu28 6m 6 elbow"]
warm = ["header", "hall", "cu22 3m 2 elbow{valve}"]
upper = ["header", "landing", "cu22 3m 2 elbow"]
[vessel.header]
water = "20 l"
ports = 4
[zone.below]
on = ["warm"]
pump = ["5 m at 0 l/min", "3 m at 15 l/min"]
[zone.above]
on = ["upper"]
pump = ["5 m at 0 l/min", "3 m at 15 l/min"]
[state]
"below off" = {{ stopped = ["below"] }}
[emitter]
lounge = {{ from = "hall", panel = "22 600x1600", room = 20, needs = "1100 W" }}
bed = {{ from = "landing", panel = "22 600x1400", room = 18, needs = "900 W" }}
"#
            ),
        ])
    };
    let flow = |network: &Network| {
        let state = network
            .states
            .iter()
            .position(|s| s.name == "below off")
            .expect("named");
        let mut setting = Setting::of(network, &network.states[state]);
        setting.stopped[network.zones[0].pump.expect("a pump")] = true;
        // the zone's own valve would shut too
        network.zones[0]
            .valves
            .iter()
            .for_each(|v| setting.shut[v.index()] = false);
        let state = solve(network, &setting).expect("solves");
        state.flow_kg_s[network.emitters[0].body.index()]
    };
    // the pump above draws on the header, whose resistance drives a little water through what stands below
    let bare = flow(&text(""));
    let guarded = flow(&text(", check valve kv 6"));
    assert!(bare != 0.0);
    assert!(guarded >= 0.0 && guarded.abs() <= bare.abs());
    if bare < 0.0 {
        near(guarded, 0.0, 0.0);
    }
}

#[test]
fn zone_pumps_each_move_their_own_zone() {
    let network = house(&[include_zones()]);
    let state = as_it_runs(&network);
    balances(&network, &state);
    let moved: Vec<f64> = network
        .zones
        .iter()
        .map(|z| state.pumps[z.pump.expect("a pump")].flow_m3_s)
        .collect();
    assert!(
        moved.len() == 2 && moved.iter().all(|m| *m > 1e-5),
        "{moved:?}"
    );
}

fn include_zones() -> &'static str {
    r#"
[source.unit]
output = "9 kW"
free_head = ["7 m at 0 l/min", "6 m at 20 l/min", "4 m at 30 l/min"]
[pair]
out = ["unit", "header", "cu28 6m 6 elbow"]
warm = ["header", "hall", "cu22 3m 2 elbow"]
upper = ["header", "landing", "cu22 3m 2 elbow"]
[vessel.header]
water = "20 l"
ports = 4
[zone.below]
on = ["warm"]
pump = ["5 m at 0 l/min", "3 m at 15 l/min"]
[zone.above]
on = ["upper"]
pump = ["5 m at 0 l/min", "3 m at 15 l/min"]
[emitter]
lounge = { from = "hall", panel = "22 600x1600", room = 20, needs = "1100 W" }
bed = { from = "landing", panel = "22 600x1400", room = 18, needs = "900 W" }
"#
}

/// On one pipe a diverter tee sends more through the radiator than a plain one.
#[test]
fn diverter_tee_draws_more_than_a_plain_one() {
    let share = |tee: &str| {
        let network = house(&[
            SOURCE,
            &format!(
                r#"
[loop.ground]
from = "unit"
main = ["cu22 4m 3 elbow", "lounge", "cu22 5m 2 elbow", "hall", "cu22 6m 3 elbow"]
between = "cu22 0.6m"
tee = "{tee}"
[emitter]
lounge = {{ panel = "33 600x1800", room = 21, needs = "1300 W" }}
hall = {{ panel = "22 600x1400", room = 18, needs = "900 W" }}
"#
            ),
        ]);
        let state = as_it_runs(&network);
        balances(&network, &state);
        let body = |e: ElementId| state.flow_kg_s[e.index()].abs();
        body(network.emitters[0].body) / body(network.sources[0].body)
    };
    let (diverter, plain) = (share("diverter kv 2.1"), share("plain"));
    assert!(
        plain > 0.0 && diverter > 1.5 * plain && diverter < 1.0,
        "{diverter} {plain}"
    );
}

/// A source whose water comes back warmer than it would make it gives nothing, and takes nothing either.
#[test]
fn source_fed_with_warmer_water_gives_nothing() {
    let text = include_str!("../../networks/comfrey.toml");
    let (survey, _) = read(text);
    let (network, _) = network::expand(&survey.expect("a survey")).expect("a network");
    let mut setting = Setting::of(&network, &network.states[0]);
    for source in &mut setting.sources {
        source.runs = true;
    }
    setting.stopped.fill(false);
    // the boiler's water crosses the header and comes to the heat pump, which is told to make much cooler water
    setting.sources[0].flow_c = 25.0;
    setting.sources[1].output_w = None;
    let state = solve(&network, &setting).expect("solves");
    assert!(
        state.sources.iter().all(|s| s.output_w >= -1e-6),
        "{:?}",
        state.sources
    );
    let first = state.sources[0];
    assert_eq!(first.limit, SourceLimit::WarmReturn);
    near(first.output_w, 0.0, 1e-6);
    assert!(first.return_c.expect("warm") > 25.0);
}

/// Flow in the band between laminar and turbulent has one answer, and it lies on the element's own law.
#[test]
fn laminar_turbulent_band_has_an_answer_on_the_law() {
    let text = |length: f64| {
        format!(
            r#"
[source.unit]
output = "2 kW"
free_head = ["0.5 m at 0 l/min", "0.4 m at 5 l/min"]
[pair]
out = ["unit", "hall", "cu22 {length:.1}m"]
[emitter]
lounge = {{ from = "hall", panel = "22 600x1600", room = 20, needs = "1100 W", leg = "cu15 {length:.1}m" }}
"#
        )
    };
    let mut within = 0;
    let mut before = f64::INFINITY;
    for k in 0..40 {
        let network = house(&[&text(3.0 * 1.12_f64.powi(k))]);
        let mut setting = Setting::of(&network, &network.states[0]);
        setting.heat = false;
        let state = solve(&network, &setting).expect("solves");
        balances(&network, &state);
        let pipe = network
            .element_ids()
            .find(|&id| {
                network.element(id).name.contains("lounge") && state.flow_kg_s[id.index()] != 0.0
            })
            .expect("its tail");
        let flow = state.flow_kg_s[pipe.index()];
        // 13.6 mm copper at 0.6 mPa s: Re per kg/s
        let re = 4.0 * flow.abs() / (std::f64::consts::PI * 0.0136 * 6.1e-4);
        within += u32::from((2300.0..4000.0).contains(&re));
        assert!(flow.abs() < before, "longer pipes carry less");
        before = flow.abs();
        let own = pipecarry::solve::element_loss(&network, pipe, flow, state.at_c[pipe.index()])
            .expect("known");
        let told = state.dp_pa[pipe.index()].expect("open") - state.tee_dp_pa[pipe.index()];
        near(told, own, 1e-6 * own.abs().max(1.0));
    }
    assert!(within >= 2, "{within} in the band");
}
