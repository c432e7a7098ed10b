//! Survey to network: the structure of every layout, what holds for every house, and the mistakes that only the joined
//! house shows.

use pipecarry::diag::{Diagnostic, Severity};
use pipecarry::network::{
    ElementId, Heat, HeatLaw, Law, Network, PartGroup, PartLaw, PumpControl, PumpCurve, Role,
    RunKind, StateKind, VesselKind, expand,
};
use pipecarry::solve::{self, Setting};
use pipecarry::survey::{Side, Survey, read};
use proptest::prelude::*;
use std::collections::BTreeSet;

fn survey(text: &str) -> Survey {
    let (survey, found) = read(text);
    survey.unwrap_or_else(|| panic!("{text}\n{found:#?}"))
}

fn house(text: &str) -> Network {
    match expand(&survey(text)) {
        Ok((network, _)) => network,
        Err(found) => panic!("{text}\n{found:#?}"),
    }
}

/// Every house and story that is shipped.
fn shipped() -> Vec<(String, Network)> {
    let mut files: Vec<_> = ["networks", "tests/data/stories"]
        .iter()
        .flat_map(|folder| std::fs::read_dir(folder).expect("folder of the repository"))
        .map(|entry| entry.expect("entry").path())
        .filter(|path| path.extension().is_some_and(|e| e == "toml"))
        .collect();
    files.sort();
    assert!(files.len() >= 20, "only {} files", files.len());
    let mut houses = Vec::new();
    for path in files {
        let name = path
            .file_name()
            .map(|n| n.to_string_lossy().into_owned())
            .unwrap_or_default();
        // claims and readings lie beside the houses
        let text = std::fs::read_to_string(&path).expect("readable");
        if text.contains("[source") {
            houses.push((name, house(&text)));
        }
    }
    houses
}

fn element(network: &Network, name: &str) -> ElementId {
    network
        .element_ids()
        .find(|id| network.element(*id).name == name)
        .unwrap_or_else(|| panic!("no element `{name}`: {:?}", names(network)))
}

fn names(network: &Network) -> Vec<&str> {
    network
        .element_ids()
        .map(|id| network.graph[id].name.as_str())
        .collect()
}

fn ends(network: &Network, name: &str) -> (String, String) {
    let (a, b) = network.ends(element(network, name));
    (network.graph[a].name.clone(), network.graph[b].name.clone())
}

fn pair(a: &str, b: &str) -> (String, String) {
    (a.to_owned(), b.to_owned())
}

fn parts(network: &Network, name: &str) -> Vec<(PartGroup, String)> {
    match &network.element(element(network, name)).law {
        Law::Parts(parts) => parts.iter().map(|p| (p.group, p.words.clone())).collect(),
        other => panic!("{name}: {other:?}"),
    }
}

const SOURCE: &str = r#"
[source.pump]
output = "8 kW"
free_head = ["7 m at 0 l/min", "5.6 m at 20 l/min", "3.1 m at 30 l/min"]
"#;

fn small(rest: &str) -> Network {
    house(&format!("{SOURCE}{rest}"))
}

// ---- the layouts ----

#[test]
fn a_pair_becomes_a_flow_and_a_return_run() {
    let n = small(
        r#"
[pair]
out = ["pump", "hall", "cu22 6m 4 elbow, strainer kv 6 on return, zeta 2 on flow"]
[emitter]
lounge = { from = "hall", leg = "cu15 3m 2 elbow", rated = "2000 W", needs = "1000 W" }
"#,
    );
    assert_eq!(ends(&n, "out (flow)"), pair("pump (flow)", "hall (flow)"));
    assert_eq!(
        ends(&n, "out (return)"),
        pair("hall (return)", "pump (return)")
    );
    use PartGroup::{Devices, Fittings, Pipe};
    let words = |group, words: &str| (group, words.to_owned());
    assert_eq!(
        parts(&n, "out (flow)"),
        [
            words(Pipe, "22 mm copper, 6 m"),
            words(Fittings, "4 elbow"),
            words(Fittings, "ζ 2")
        ]
    );
    // the way back meets the things in the opposite order
    assert_eq!(
        parts(&n, "out (return)"),
        [
            words(Devices, "strainer"),
            words(Fittings, "4 elbow"),
            words(Pipe, "22 mm copper, 6 m")
        ]
    );
    let (flow, back) = (&n.runs[0], &n.runs[1]);
    assert_eq!((flow.tag.as_str(), back.tag.as_str()), ("F1", "R1"));
    assert_eq!((flow.partner, back.partner), (Some(1), Some(0)));
    assert_eq!(
        (flow.side, back.side),
        (Some(Side::Flow), Some(Side::Return))
    );
    assert_eq!(
        (flow.size.as_str(), flow.kind),
        ("22 mm copper", RunKind::Pair)
    );
    let e = &n.emitters[0];
    let branch: Vec<&str> = e
        .branch
        .iter()
        .map(|id| n.element(*id).name.as_str())
        .collect();
    assert_eq!(
        branch,
        [
            "lounge tail (flow)",
            "lounge thermostatic valve",
            "lounge",
            "lounge lockshield",
            "lounge tail (return)"
        ]
    );
    assert_eq!(n.element(e.body).heat, Heat::Emitter(0));
    assert!(
        n.tees.is_empty(),
        "one radiator at the end of a pair makes no tee"
    );
}

#[test]
fn a_source_with_free_head_has_no_loss_of_its_own() {
    let free = small(
        "[pair]\nout = [\"pump\", \"hall\", \"cu22 6m\"]\n[emitter]\nl = { from = \"hall\", leg = \"cu15 3m\", rated = 2000, needs = 1000 }\n",
    );
    let total = house(
        r#"
[source.pump]
output = "8 kW"
total_head = "7.5 m - 0.9 m per (m3/h)^2"
own_loss = "1.2 m at 1 m3/h"
pump = "constant head 20 kPa"
[pair]
out = ["pump", "hall", "cu22 6m"]
[emitter]
l = { from = "hall", leg = "cu15 3m", rated = 2000, needs = 1000 }
"#,
    );
    let body = |n: &Network| n.element(n.sources[0].body).law.clone();
    assert_eq!(body(&free), Law::Parts(vec![]));
    assert_eq!(free.sources[0].free_head, Some(true));
    assert_eq!(total.sources[0].free_head, Some(false));
    let Law::Parts(own) = body(&total) else {
        panic!()
    };
    assert_eq!(own.len(), 1);
    // metres are of the pumped fluid: density of water between 40 and 45 °C, 991 kg/m³ (IAPWS)
    match (&own[0].law, &total.element(total.pumps[0].element).law) {
        (
            PartLaw::Power {
                dp_ref_pa,
                q_ref_m3h,
                exponent,
            },
            Law::Pump(PumpCurve::Quadratic { a_pa, b_pa, c_pa }),
        ) => {
            assert!((dp_ref_pa / (1.2 * 9.80665 * 991.0) - 1.0).abs() < 1e-3);
            assert!((q_ref_m3h - 1.0).abs() < 1e-12 && *exponent == 2.0);
            assert!((a_pa / (7.5 * 9.80665 * 992.0) - 1.0).abs() < 1e-3);
            assert!(*b_pa == 0.0 && *c_pa < 0.0);
        }
        other => panic!("{other:?}"),
    }
    assert_eq!(free.pumps[0].mode, PumpControl::FixedSpeed(1.0));
    assert!(!free.pumps[0].mode_given && total.pumps[0].mode_given);
    assert_eq!(total.pumps[0].mode, PumpControl::ConstantHead(20_000.0));
}

#[test]
fn a_source_with_a_range_of_flow_holds_the_drop() {
    let n = house(
        r#"
design = { drop = "6 K" }
[source.pump]
least_flow = "10 l/min"
greatest_flow = "30 l/min"
free_head = ["7 m at 0 l/min", "3 m at 30 l/min"]
[pair]
out = ["pump", "hall", "cu22 6m"]
[emitter]
l = { from = "hall", leg = "cu15 3m", rated = 2000, needs = 1000 }
"#,
    );
    match n.pumps[0].mode {
        PumpControl::HeldToDrop {
            drop_k,
            least_kg_s,
            greatest_kg_s,
        } => {
            assert_eq!(drop_k, 6.0);
            assert!((least_kg_s - 10.0 / 60.0 * 0.992).abs() < 1e-3);
            assert!((greatest_kg_s - 30.0 / 60.0 * 0.992).abs() < 2e-3);
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn one_way_and_flow_holding_valves_split_a_run() {
    let n = small(
        r#"
[pair]
out = ["pump", "hall", "cu22 6m 2 elbow, check valve kv 5 opens at 2 kPa on flow, 3 elbow, flow-holding valve holds 8 l/min kv 3 on return"]
[emitter]
l = { from = "hall", leg = "cu15 3m", rated = 2000, needs = 1000 }
"#,
    );
    let roles = |run: usize| -> Vec<Role> {
        n.runs[run]
            .elements
            .iter()
            .map(|id| n.element(*id).role)
            .collect()
    };
    assert_eq!(roles(0), [Role::Pipe, Role::CheckValve, Role::Pipe]);
    assert_eq!(roles(1), [Role::FlowHolder, Role::Pipe]);
    let valve = n.runs[0].elements[1];
    assert_eq!(
        n.element(valve).law,
        Law::OneWay {
            opening_pa: 2000.0,
            kv_m3h: 5.0
        }
    );
    match n.element(n.runs[1].elements[0]).law {
        Law::HoldFlow { flow_kg_s, kv_m3h } => {
            assert!((flow_kg_s - 8.0 / 60.0 * 0.991).abs() < 2e-4 && kv_m3h == 3.0);
        }
        ref other => panic!("{other:?}"),
    }
}

#[test]
fn a_vessel_in_series_ends_the_return_beside_the_source() {
    let n = small(
        r#"
[pair]
out = ["pump", "hall", "cu22 6m"]
[vessel.volume]
water = "30 l"
on = "out.return"
[emitter]
l = { from = "hall", leg = "cu15 3m", rated = 2000, needs = 1000 }
"#,
    );
    let body = n.vessels[0].body;
    assert_eq!(n.vessels[0].kind, VesselKind::Series { run: 1 });
    assert_eq!(n.element(body).role, Role::Vessel);
    assert!((n.element(body).volume_m3 - 0.030).abs() < 1e-12);
    assert_eq!(n.runs[1].elements.last(), Some(&body));
    assert_eq!(n.ends(body).1, n.sources[0].return_place);
}

#[test]
fn a_four_port_vessel_parts_primary_and_secondary() {
    for primary in [
        "[vessel.buffer]\nwater = \"45 l\"\nports = 4\nfrom = \"pump\"\nleg = \"cu28 3m\"\npump = [\"5 m at 0 l/min\", \"1 m at 30 l/min\"]\nmode = \"constant head 20 kPa\"\n[pair]\n",
        "[vessel.buffer]\nwater = \"45 l\"\nports = 4\npump = [\"5 m at 0 l/min\", \"1 m at 30 l/min\"]\nmode = \"constant head 20 kPa\"\n[pair]\nfirst = [\"pump\", \"buffer\", \"cu28 3m\"]\n",
    ] {
        let n = small(&format!(
            "{primary}house = [\"buffer\", \"hall\", \"cu22 6m\"]\n[emitter]\nl = {{ from = \"hall\", leg = \"cu15 3m\", rated = 2000, needs = 1000 }}\n"
        ));
        let VesselKind::FourPort { top, bottom, pump } = n.vessels[0].kind else {
            panic!()
        };
        assert_eq!(n.ends(n.vessels[0].body), (top, bottom));
        let pump = pump.expect("a second pump");
        assert_eq!(n.pumps[pump].name, "buffer secondary");
        assert_eq!(n.ends(n.pumps[pump].element).0, top);
        assert_eq!(
            n.ends(element(&n, "house (flow)")).0,
            n.ends(n.pumps[pump].element).1
        );
        assert_eq!(n.ends(element(&n, "house (return)")).1, bottom);
        let fed = n
            .runs
            .iter()
            .find(|r| r.to == top)
            .expect("a run ends at the top");
        assert_eq!(fed.from, n.sources[0].flow_place);
        assert_eq!(
            n.reference.len(),
            1,
            "one circuit: the vessel joins the water"
        );
    }
}

#[test]
fn a_cylinder_hangs_on_a_diverter() {
    let n = small(
        r#"
[pair]
out = ["pump", "cupboard", "cu28 5m"]
house = ["cupboard", "hall", "cu22 6m"]
[cylinder.store]
from = "cupboard"
leg = "cu28 2m"
coil = "kv 4"
diverter = "kv 9"
store = "50 C"
[emitter]
l = { from = "hall", leg = "cu15 3m", rated = 2000, needs = 1000 }
k = { from = "cupboard", leg = "cu15 3m", rated = 2000, needs = 1000 }
"#,
    );
    let c = &n.cylinders[0];
    assert_eq!(n.ends(element(&n, "out (flow)")).1, c.place);
    assert_eq!(n.ends(c.diverter_heating).0, c.place);
    assert_eq!(n.ends(c.diverter_coil).0, c.place);
    let after = n.ends(c.diverter_heating).1;
    assert_eq!(n.ends(element(&n, "house (flow)")).0, after);
    assert_eq!(
        n.emitters[1].ends.0, after,
        "what hangs on the place hangs behind the diverter"
    );
    assert_eq!(c.flow_temperature_c, 55.0);
    let kinds: Vec<StateKind> = n.states.iter().map(|s| s.kind).collect();
    assert_eq!(kinds, [StateKind::Heating, StateKind::HotWater]);
    assert_eq!(n.states[0].shut, [c.diverter_coil]);
    assert_eq!(n.states[1].shut, [c.diverter_heating]);
}

#[test]
fn two_cylinders_take_turns() {
    let n = small(
        r#"
[pair]
out = ["pump", "cupboard", "cu28 5m"]
house = ["cupboard", "hall", "cu22 6m"]
[cylinder]
north = { from = "cupboard", leg = "cu28 2m", coil = "kv 4" }
south = { from = "cupboard", leg = "cu22 6m", coil = "kv 4" }
[emitter]
l = { from = "hall", leg = "cu15 3m", rated = 2000, needs = 1000 }
"#,
    );
    let names: Vec<&str> = n.states.iter().map(|s| s.name.as_str()).collect();
    assert_eq!(names, ["heating", "hot water north", "hot water south"]);
    let [north, south] = n.cylinders.as_slice() else {
        panic!()
    };
    assert_eq!(
        n.states[1].shut,
        sorted([north.diverter_heating, south.diverter_coil])
    );
    assert_eq!(
        n.states[2].shut,
        sorted([south.diverter_heating, north.diverter_coil])
    );
    assert_eq!(n.ends(north.diverter_heating).1, south.place);
}

fn sorted<const N: usize>(mut ids: [ElementId; N]) -> Vec<ElementId> {
    ids.sort_unstable();
    ids.to_vec()
}

#[test]
fn a_blended_manifold_has_inlet_mixing_pipe_and_pump() {
    let n = small(
        r#"
[pair]
out = ["pump", "floor", "cu22 5m"]
[manifold.floor]
blend = "35 C"
pump = ["5 m at 0 l/min", "1 m at 20 l/min"]
port = "kv 2.5"
drop = "7 K"
[emitter]
a = { from = "floor", loop = "ml16 80m", per_kelvin = "75 W/K", room = 20, needs = 1000 }
b = { from = "floor", loop = "ml16 60m", per_kelvin = "55 W/K", room = 20, needs = 700, drop = "5 K" }
"#,
    );
    let m = &n.manifolds[0];
    let blend = m.blend.expect("it blends");
    assert_eq!(m.emitters, [0, 1]);
    assert_eq!(n.ends(blend.inlet).1, blend.mixed);
    assert_eq!(n.ends(blend.mixing), (m.bars.1, blend.mixed));
    let pump = &n.pumps[blend.pump.expect("a pump")];
    assert_eq!(n.ends(pump.element), (blend.mixed, m.bars.0));
    assert_eq!((n.emitters[0].drop_k, n.emitters[1].drop_k), (7.0, 5.0));
    assert!(
        n.emitters
            .iter()
            .all(|e| e.ends == m.bars && e.tails == (None, None))
    );
    // energy balance by hand: draw·(45 − return) = 1700 W/cp, return = 35 − 1700/(1000/7 + 700/5)
    let back = 35.0 - 1700.0 / (1000.0 / 7.0 + 700.0 / 5.0);
    match n.element(blend.inlet).law {
        Law::HoldFlow { flow_kg_s, .. } => {
            let expected = 1700.0 / (4179.0 * (45.0 - back));
            assert!(
                (flow_kg_s / expected - 1.0).abs() < 1e-3,
                "{flow_kg_s} against {expected}"
            );
        }
        ref other => panic!("{other:?}"),
    }
    // 80 m of 16 × 2: 12 mm bore, 0.1131 l/m (story A5)
    assert!((n.element(n.emitters[0].body).volume_m3 - 0.1131e-3 * 80.0).abs() < 1e-5);
    assert_eq!(
        n.runs[n.element(n.emitters[0].body).run.expect("a run")].kind,
        RunKind::FloorLoop
    );
}

#[test]
fn a_ring_returns_in_the_same_order() {
    let n = small(
        r#"
[ring.house]
from = "pump"
flow = ["cu22 4m", "a", "cu22 4m", "b", "cu15 4m", "c"]
return = ["a", "cu15 4m", "b", "cu22 4m", "c", "cu22 12m", "pump"]
[emitter]
a = { leg = "cu15 1m", rated = 2000, needs = 1000 }
b = { leg = "cu15 1m", rated = 2000, needs = 1000 }
c = { leg = "cu15 1m", rated = 2000, needs = 1000 }
"#,
    );
    let runs: Vec<(&str, Option<Side>)> = n
        .runs
        .iter()
        .filter(|r| r.kind == RunKind::Ring)
        .map(|r| (r.name.as_str(), r.side))
        .collect();
    let (f, r) = (Some(Side::Flow), Some(Side::Return));
    assert_eq!(
        runs,
        [
            ("house to a", f),
            ("house to b", f),
            ("house to c", f),
            ("house from a", r),
            ("house from b", r),
            ("house from c", r)
        ]
    );
    assert_eq!(ends(&n, "house from a"), pair("a (return)", "b (return)"));
    assert_eq!(
        ends(&n, "house from c"),
        pair("c (return)", "pump (return)")
    );
    assert_eq!(
        n.tees.len(),
        4,
        "a and b on the flow, b and c on the return"
    );
}

#[test]
fn a_one_pipe_loop_passes_every_radiator() {
    let n = small(
        r#"
[loop.ground]
from = "pump"
main = ["cu22 4m", "a", "cu22 5m", "b", "cu22 6m", "c", "cu22 7m"]
between = "cu22 0.6m"
tee = "diverter kv 2.1"
tees = { b = "plain", c = "share 0.3" }
drop = "6 K"
[emitter]
a = { leg = "cu15 1m", rated = 2000, needs = 1000 }
b = { leg = "cu15 1m", rated = 2000, needs = 1000 }
c = { leg = "cu15 1m", rated = 2000, needs = 1000, drop = "4 K" }
"#,
    );
    for (i, share) in [(0, None), (1, None), (2, Some(0.3))] {
        let e = &n.emitters[i];
        let one_pipe = e.one_pipe.expect("on a loop");
        assert_eq!(one_pipe.share, share);
        assert_eq!(n.ends(one_pipe.between), e.ends);
    }
    assert!(parts(&n, "ground past a").contains(&(PartGroup::Valves, "diverter tee".to_owned())));
    assert_eq!(
        n.emitters.iter().map(|e| e.drop_k).collect::<Vec<_>>(),
        [6.0, 6.0, 4.0]
    );
    // only the plain tees lose by the split of the flow, and the main goes straight on
    assert_eq!(n.tees.len(), 2);
    let past = n.emitters[1].one_pipe.map(|o| o.between);
    assert!(n.tees.iter().all(|t| Some(t.straight.1) == past));
}

#[test]
fn an_exchanger_parts_the_water() {
    let n = house(
        r#"
fluid = "propylene glycol 25%"
[source.pump]
output = "8 kW"
free_head = ["7 m at 0 l/min", "3 m at 30 l/min"]
[pair]
out = ["pump", "plate", "cu28 5m"]
house = ["plate", "hall", "cu22 6m"]
[exchanger.plate]
near = "12 kPa at 23 l/min"
far = "kv 5"
ua = "2400 W/K"
pump = ["5 m at 0 l/min", "1 m at 30 l/min"]
fluid = "water"
[emitter]
l = { from = "hall", leg = "cu15 3m", rated = 2000, needs = 1000 }
"#,
    );
    assert_eq!(n.reference.len(), 2);
    assert_eq!(n.fluids.len(), 2);
    let x = &n.exchangers[0];
    let fluid = |name: &str| n.element(element(&n, name)).fluid;
    assert_eq!((fluid("out (flow)"), fluid("house (flow)")), (0, 1));
    assert_eq!((n.element(x.near).fluid, n.element(x.far).fluid), (0, 1));
    assert_eq!(n.element(x.near).heat, Heat::Exchanger(0, true));
    assert_eq!(n.element(x.far).heat, Heat::Exchanger(0, false));
    // the far pump lifts water, not glycol: 5 m at 992 kg/m³
    match &n.element(n.pumps[x.pump.expect("a pump")].element).law {
        Law::Pump(PumpCurve::Points(points)) => {
            assert!((points[0].1 / (5.0 * 9.80665 * 992.0) - 1.0).abs() < 1e-3)
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn single_runs_join_what_they_name() {
    let n = small(
        r#"
[run]
up = ["pump.flow", "a", "cu22 4m"]
on = ["a", "lounge.flow", "cu22 4m"]
home = ["lounge.return", "pump.return", "cu22 7m"]
[emitter]
lounge = { rated = 2000, needs = 1000 }
"#,
    );
    assert_eq!(ends(&n, "up"), pair("pump (flow)", "a"));
    assert_eq!(ends(&n, "home"), pair("lounge (return)", "pump (return)"));
    assert_eq!(n.ends(element(&n, "on")).1, n.emitters[0].ends.0);
    assert!(
        n.runs
            .iter()
            .all(|r| r.kind == RunKind::Single && r.partner.is_none())
    );
}

#[test]
fn zones_shut_their_pairs_and_their_emitters() {
    let n = small(
        r#"
[pair]
out = ["pump", "split", "cu28 5m"]
up = ["split", "landing", "cu22 4m"]
down = ["split", "hall", "cu22 4m"]
[zone]
upstairs = { on = ["up"], valve = "kv 8" }
annexe = { on = ["down"], pump = ["5 m at 0 l/min", "1 m at 30 l/min"] }
[state]
"upstairs off" = { shut = ["upstairs"] }
"annexe off" = { shut = ["annexe", "bed"] }
[emitter]
bed = { from = "landing", leg = "cu15 3m", rated = 2000, needs = 1000 }
bath = { from = "landing", leg = "cu15 3m", rated = 2000, needs = 1000 }
l = { from = "hall", leg = "cu15 3m", rated = 2000, needs = 1000, zone = "upstairs" }
"#,
    );
    let [up, annexe] = n.zones.as_slice() else {
        panic!()
    };
    assert_eq!(up.valves, [element(&n, "up (flow) upstairs zone valve")]);
    assert_eq!(
        n.runs
            .iter()
            .find(|r| r.name == "up")
            .and_then(|r| r.elements.first()),
        up.valves.first()
    );
    assert!(annexe.valves.is_empty());
    let pump = annexe.pump.expect("a zone pump");
    assert_eq!(n.emitters[2].zone, Some(0));
    let l_valve = n.emitters[2].valve.expect("a valve");
    assert_eq!(n.states[1].shut, sorted([up.valves[0], l_valve]));
    assert_eq!(n.states[2].stopped, [pump]);
    assert_eq!(n.states[2].shut, [n.emitters[0].valve.expect("a valve")]);
}

#[test]
fn an_overflow_valve_lies_across() {
    let n = small(
        r#"
[pair]
out = ["pump", "hall", "cu22 6m"]
[bypass.auto]
at = "hall"
opening = "20 kPa"
kv = 2.5
leg = "cu15 1m"
[emitter]
l = { from = "hall", leg = "cu15 3m", rated = 2000, needs = 1000 }
k = { from = "hall", leg = "cu15 3m", rated = 2000, needs = 1000 }
"#,
    );
    let b = &n.bypasses[0];
    assert_eq!(
        n.element(b.element).law,
        Law::OneWay {
            opening_pa: 20_000.0,
            kv_m3h: 2.5
        }
    );
    assert_eq!(ends(&n, "auto").0, "hall (flow)");
    assert_eq!(n.graph[n.ends(b.element).1].name, "hall (return)");
    assert_eq!(n.tees.len(), 2, "the overflow valve is no leg of a tee");
}

#[test]
fn tees_follow_the_rule_unless_told() {
    let text = |tee: &str| {
        format!(
            "[pair]\nout = [\"pump\", \"split\", \"cu28 5m\"]\na = [\"split\", \"x\", \"cu15 4m\"]\nb = [\"split\", \"y\", \"cu22 4m\"]\n{tee}\n\
             [emitter]\nl = {{ from = \"x\", leg = \"cu15 3m\", rated = 2000, needs = 1000 }}\nk = {{ from = \"y\", leg = \"cu15 3m\", rated = 2000, needs = 1000 }}\n"
        )
    };
    let legs = |n: &Network| -> Vec<(String, String, String)> {
        let name = |id| n.element(id).name.clone();
        n.tees
            .iter()
            .map(|t| (name(t.straight.0), name(t.straight.1), name(t.branch)))
            .collect()
    };
    let three = |a: &str, b: &str, c: &str| (a.to_owned(), b.to_owned(), c.to_owned());
    let plain = small(&text(""));
    assert_eq!(
        legs(&plain),
        [
            three("out (flow)", "b (flow)", "a (flow)"),
            three("out (return)", "b (return)", "a (return)"),
        ],
        "the common leg and the wider of the others lie in line"
    );
    assert!(
        (plain.tees[0].bores_m.0 - 0.0262).abs() < 1e-9
            && (plain.tees[0].bores_m.2 - 0.0136).abs() < 1e-9
    );
    let told = small(&text("[tee]\nsplit = \"straight on to a\""));
    assert_eq!(legs(&told)[0], three("out (flow)", "a (flow)", "b (flow)"));
    let head_on = small(&text("[tee]\nsplit = \"bull-head\""));
    assert_eq!(
        legs(&head_on)[0],
        three("a (flow)", "b (flow)", "out (flow)")
    );
    assert!(head_on.tees[0].bull_head);
    assert!(small(&text("[tee]\nsplit = \"no loss\"")).tees.is_empty());
    // on a tie the one written first
    let tie = small(&text("").replace("cu15 4m", "cu22 4m"));
    assert_eq!(legs(&tie)[0], three("out (flow)", "a (flow)", "b (flow)"));
}

#[test]
fn two_emitters_share_a_room_by_rated_output() {
    let n = small(
        r#"
[pair]
out = ["pump", "hall", "cu22 6m"]
[room]
lounge = { temperature = "21 C", needs = "2200 W" }
kitchen = { temperature = 19, needs = 1000 }
[emitter]
bay = { from = "hall", leg = "cu15 3m", rated = 3000, room = "lounge" }
back = { from = "hall", leg = "cu15 3m", rated = 1000, room = "lounge" }
rail = { from = "hall", leg = "cu15 3m", rated = 800, room = "lounge", needs = 200 }
cook = { from = "hall", leg = "cu15 3m", rated = 2000, room = "kitchen" }
"#,
    );
    let duty: Vec<f64> = n.emitters.iter().map(|e| e.duty_w).collect();
    // 200 W are told; the other 2000 W go 3 : 1
    assert_eq!(duty, [1500.0, 500.0, 200.0, 1000.0]);
    assert_eq!(n.rooms[0].emitters, [0, 1, 2]);
    assert_eq!(n.rooms[0].temperature_c, 21.0);
}

#[test]
fn emitters_are_rated_at_their_own_conditions() {
    // source: EN 442-2 log mean of 75/65/20 is 10/ln(55/45) = 49.83 K; 45/40/20: 5/ln(25/20) = 22.41 K
    let n = small(
        r#"
[pair]
out = ["pump", "hall", "cu22 6m"]
[emitter]
a = { from = "hall", leg = "cu15 3m", rated = "2000 W", needs = 1000, factor = 0.9 }
b = { from = "hall", leg = "cu15 3m", kind = "fan convector", rated = "2 kW at 45/40/20", needs = 1000 }
c = { from = "hall", leg = "cu15 3m", panel = "22 600x1000", needs = 1000 }
d = { from = "hall", leg = "cu15 3m", draws = "3 kW" }
e = { from = "hall", loop = "ml16 80m", area = "12 m2", resistance = "0.11 m2K/W", needs = 800 }
"#,
    );
    let rated = |i: usize| match n.emitters[i].law {
        HeatLaw::Rated {
            output_w,
            base_k,
            exponent,
            ..
        } => (output_w, base_k, exponent),
        ref other => panic!("{other:?}"),
    };
    let close = |a: f64, b: f64| assert!((a - b).abs() < 5e-3 * b, "{a} against {b}");
    close(rated(0).0, 1800.0);
    close(rated(0).1, 49.83);
    close(rated(1).1, 22.41);
    // middle of the catalogue's range for type 22, 600 mm: 1715 W/m
    close(rated(2).0, 1715.0);
    assert_eq!(n.emitters[3].law, HeatLaw::Fixed(3000.0));
    assert_eq!(n.emitters[3].duty_w, 3000.0);
    match n.emitters[4].law {
        // 12/(0.11 + 1/10.8)
        HeatLaw::Floor {
            w_per_k,
            surface_limit_c,
            ..
        } => {
            close(w_per_k, 59.23);
            assert_eq!(surface_limit_c, 29.0);
        }
        ref other => panic!("{other:?}"),
    }
    // 6.5 l per metre
    close(n.element(n.emitters[2].body).volume_m3, 6.5e-3);
}

#[test]
fn only_pipes_in_the_cold_lose_heat() {
    let n = house(
        r#"
design = { outside = "-3 C" }
[source.pump]
free_head = ["7 m at 0 l/min", "3 m at 30 l/min"]
[pair]
cold = ["pump", "a", "cu28 5m outdoors lagging 19mm"]
bare = ["a", "b", "cu22 5m loft"]
warm = ["b", "c", "cu22 5m under boards"]
[emitter]
l = { from = "c", leg = "cu15 3m", rated = 2000, needs = 1000 }
"#,
    );
    let heat = |name: &str| n.element(element(&n, name)).heat;
    match (heat("cold (flow)"), heat("bare (return)")) {
        (
            Heat::Loss {
                u_w_mk: lagged,
                length_m,
                ambient_c,
            },
            Heat::Loss {
                u_w_mk: bare,
                ambient_c: loft_c,
                ..
            },
        ) => {
            // by hand: ln(66/28)/(2π·0.04) + 1/(10·π·0.066) = 3.412 + 0.482 m K/W
            assert!((lagged - 1.0 / (3.412 + 0.482)).abs() < 2e-4, "{lagged}");
            assert_eq!((length_m, ambient_c), (5.0, -3.0));
            assert!(loft_c > -3.0 && bare > 2.0 * lagged);
        }
        other => panic!("{other:?}"),
    }
    assert_eq!(heat("warm (flow)"), Heat::None);
    assert!(n.assumed.iter().any(|a| a.value.contains("useful heat")));
}

// ---- doubts ----

#[test]
fn every_form_of_doubt_becomes_alternatives() {
    let n = small(
        r#"
[pair]
a = ["pump", "x", "cu22? 6m"]
b = ["x", "y", "cu22 5..7m"]
c = ["y", "z", "cu22 0.6 | pb22 0.3 | cu15 0.1, 4m"]
d = ["z", "w", "bore 17..19mm 4m"]
e = ["w", "v", "steel 3/4 4m rusty"]
[emitter]
p = { from = "v", leg = "cu10x0.6 0.5 | cu10x0.7 0.2 | cu10x0.8 0.3 ?coil, 4m", rated = 2000, needs = 500 }
q = { from = "v", leg = "cu10x0.6 0.5 | cu10x0.7 0.2 | cu10x0.8 0.3 ?coil, 6m", rated = 2000, needs = 500 }
"#,
    );
    let words: Vec<(&str, Vec<&str>)> = n
        .doubts
        .iter()
        .map(|d| {
            (
                d.name.as_str(),
                d.alternatives.iter().map(|a| a.words.as_str()).collect(),
            )
        })
        .collect();
    assert_eq!(words[0], ("a: cu22?", vec!["15 mm copper", "22 mm PB"]));
    assert_eq!(words[1], ("b: 5..7 m", vec!["5 m", "7 m"]));
    assert_eq!(
        words[2],
        ("c: cu22 | pb22 | cu15", vec!["22 mm PB", "15 mm copper"])
    );
    assert_eq!(
        words[3],
        ("d: bore 17..19 mm", vec!["bore 17 mm", "bore 19 mm"])
    );
    assert_eq!(words[4].0, "e: rusty");
    assert_eq!(words[5].0, "coil");
    assert_eq!(words.len(), 6, "{words:?}");
    assert_eq!(n.doubts[2].alternatives[0].odds, Some(0.3));
    // the shared one changes all four tails, each other one its own pair
    assert_eq!(n.doubts[5].runs.len(), 4);
    assert_eq!(n.doubts[0].runs, [0, 1]);
    assert_eq!(n.runs[0].doubts, [0]);
    assert_eq!(
        n.runs.iter().find(|r| r.name == "b").map(|r| r.length_m),
        Some(6.0)
    );
}

#[test]
fn settling_a_doubt_changes_the_pipe_and_nothing_else() {
    let text = r#"
[pair]
out = ["pump", "x", "cu22? 5..7m 2 elbow"]
on = ["x", "y", "cu22 4m"]
[emitter]
p = { from = "y", leg = "cu15 4m", rated = 2000, needs = 500 }
"#;
    let n = small(text);
    // the same house written with the other pipe and length is the same network
    let narrow = n.with(0, 0).with(1, 1);
    let written = small(&text.replace("cu22? 5..7m", "cu15 7m"));
    for id in n.element_ids() {
        let (got, want) = (narrow.element(id), written.element(id));
        assert_eq!(laws(&got.law), laws(&want.law), "{}", got.name);
        assert_eq!(got.heat, want.heat);
        assert!(
            (got.volume_m3 - want.volume_m3).abs() < 1e-12,
            "{}: {} {}",
            got.name,
            got.volume_m3,
            want.volume_m3
        );
    }
    let other_way = n.with(1, 1).with(0, 0);
    for id in n.element_ids() {
        assert_eq!(
            laws(&narrow.element(id).law),
            laws(&other_way.element(id).law)
        );
    }
    assert_eq!(narrow.runs[0].run_pipe(), written.runs[0].run_pipe());
    assert_eq!(
        n.runs[0].size, "22 mm copper",
        "the first network is untouched"
    );
}

fn laws(law: &Law) -> Vec<PartLaw> {
    match law {
        Law::Parts(parts) => parts.iter().map(|p| p.law.clone()).collect(),
        _ => Vec::new(),
    }
}

#[test]
fn doubts_touch_only_what_hangs_on_their_pipe() {
    for (file, n) in shipped() {
        for doubt in &n.doubts {
            for a in &doubt.alternatives {
                assert!(
                    !a.edits.is_empty(),
                    "{file}: {} {} changes nothing",
                    doubt.name,
                    a.words
                );
                let own: BTreeSet<usize> = doubt.runs.iter().copied().collect();
                let places: BTreeSet<_> = own
                    .iter()
                    .flat_map(|r| [n.runs[*r].from, n.runs[*r].to])
                    .collect();
                for (id, law) in &a.edits {
                    assert_ne!(law, &n.element(*id).law);
                    let (from, to) = n.ends(*id);
                    let near = places.contains(&from) || places.contains(&to);
                    let mine = n.element(*id).run.is_some_and(|r| own.contains(&r));
                    // a radiator's body loses on the velocity in its tail
                    let tail = |run: Option<usize>| run.is_some_and(|r| own.contains(&r));
                    let mine = mine
                        || n.emitters
                            .iter()
                            .any(|e| e.body == *id && (tail(e.tails.0) || tail(e.tails.1)));
                    assert!(
                        mine || near,
                        "{file}: {} touches {}",
                        doubt.name,
                        n.element(*id).name
                    );
                }
            }
        }
    }
}

// ---- what holds for every house ----

/// Elements follow each other from place to place.
fn chained(
    n: &Network,
    ids: &[ElementId],
    from: pipecarry::network::PlaceId,
    to: pipecarry::network::PlaceId,
) {
    let mut here = from;
    for id in ids {
        let (a, b) = n.ends(*id);
        assert_eq!(a, here, "{} begins elsewhere", n.element(*id).name);
        here = b;
    }
    assert_eq!(here, to);
}

fn holds(n: &Network) {
    for (i, run) in n.runs.iter().enumerate() {
        assert!(!run.elements.is_empty());
        chained(n, &run.elements, run.from, run.to);
        assert!(run.elements.iter().all(|id| n.element(*id).run == Some(i)));
        if let Some(partner) = run.partner {
            assert_eq!(n.runs[partner].partner, Some(i));
            assert_eq!(run.tag[1..], n.runs[partner].tag[1..]);
        }
    }
    for (i, e) in n.emitters.iter().enumerate() {
        chained(n, &e.branch, e.ends.0, e.ends.1);
        assert!(e.branch.contains(&e.body) && n.element(e.body).heat == Heat::Emitter(i));
        for valve in [e.valve, e.lockshield].into_iter().flatten() {
            assert!(e.branch.contains(&valve));
        }
        assert!(e.duty_w.is_finite() && e.duty_w >= 0.0 && e.drop_k > 0.0);
        assert!(n.rooms[e.room].emitters.contains(&i));
    }
    let unique = |what: &str, all: Vec<&str>| {
        let set: BTreeSet<&str> = all.iter().copied().collect();
        assert_eq!(set.len(), all.len(), "{what} twice: {all:?}");
    };
    unique("element", names(n));
    unique(
        "place",
        n.place_ids().map(|p| n.graph[p].name.as_str()).collect(),
    );
    unique("tag", n.runs.iter().map(|r| r.tag.as_str()).collect());
    for (i, p) in n.pumps.iter().enumerate() {
        match &n.element(p.element).law {
            Law::Pump(PumpCurve::Points(points)) => assert!(points.len() >= 2, "pump {i}"),
            Law::Pump(PumpCurve::Quadratic { a_pa, .. }) => assert!(*a_pa > 0.0),
            other => panic!("pump {i}: {other:?}"),
        }
    }
    for t in &n.tees {
        let around = |id: ElementId| {
            let (a, b) = n.ends(id);
            assert!(a == t.place || b == t.place);
        };
        for id in [t.straight.0, t.straight.1, t.branch] {
            around(id);
        }
        assert!(t.bores_m.0 > 0.0 && t.bores_m.1 > 0.0 && t.bores_m.2 > 0.0);
    }
    for id in n.element_ids() {
        let e = n.element(id);
        assert!(e.volume_m3.is_finite() && e.volume_m3 >= 0.0);
        assert!(e.fluid < n.fluids.len());
        if let Law::Parts(parts) = &e.law {
            for p in parts {
                let sane = match p.law {
                    PartLaw::Friction {
                        length_m,
                        bore_m,
                        roughness_m,
                    } => length_m >= 0.0 && bore_m > 0.0 && roughness_m >= 0.0,
                    PartLaw::Zeta { zeta, bore_m } => zeta.is_finite() && bore_m > 0.0,
                    PartLaw::Kv { kv_m3h } => kv_m3h > 0.0 && kv_m3h.is_finite(),
                    PartLaw::Power {
                        dp_ref_pa,
                        q_ref_m3h,
                        ..
                    } => dp_ref_pa >= 0.0 && q_ref_m3h > 0.0,
                };
                assert!(sane, "{}: {p:?}", e.name);
                assert!(!p.source.is_empty(), "{}: {p:?}", e.name);
            }
        }
    }
}

#[test]
fn what_holds_for_every_house_holds_for_those_shipped() {
    for (_, n) in shipped() {
        holds(&n);
    }
}

#[test]
fn water_in_tubes_agrees_with_tables() {
    // source: tube volumes of story A5 and EN 1057: 22 × 0.9 0.3205 l/m, 15 × 0.7 0.1453 l/m, 28 × 0.9 0.5391 l/m;
    // EN ISO 21003 16 × 2 0.1131 l/m
    for (pipe, per_metre) in [
        ("cu22", 0.3205),
        ("cu15", 0.1453),
        ("cu28", 0.5391),
        ("ml16", 0.1131),
    ] {
        let n = small(&format!(
            "[pair]\nout = [\"pump\", \"hall\", \"{pipe} 10m 3 elbow\"]\n[emitter]\nl = {{ from = \"hall\", leg = \"cu15 3m\", rated = 2000, needs = 1000 }}\n"
        ));
        for name in ["out (flow)", "out (return)"] {
            let litres = n.element(element(&n, name)).volume_m3 * 1e3;
            assert!(
                (litres / (10.0 * per_metre) - 1.0).abs() < 5e-4,
                "{pipe}: {litres}"
            );
        }
    }
}

#[test]
fn every_shipped_house_solves_in_every_state() {
    let mut bad = Vec::new();
    for (file, n) in shipped() {
        for state in &n.states {
            let mut setting = Setting::of(&n, state);
            setting.heat = false;
            if let Err(e) = solve::solve(&n, &setting) {
                bad.push(format!("{file}, {}: {e:?}", state.name));
            }
        }
    }
    assert!(bad.is_empty(), "{}", bad.join("\n"));
}

/// A house of random shape: a tree of pairs with radiators, in two orders of writing.
fn random_house() -> impl Strategy<Value = (Vec<String>, Vec<String>)> {
    let pipes = prop::sample::select(vec!["cu28", "cu22", "cu15", "pb22", "ml20", "steel 3/4"]);
    let node = (
        any::<prop::sample::Index>(),
        pipes,
        1u32..9,
        0u32..5,
        1usize..3,
    );
    prop::collection::vec(node, 1..8).prop_map(|nodes| {
        let mut pairs = Vec::new();
        let mut emitters = Vec::new();
        for (i, (parent, pipe, length, elbows, radiators)) in nodes.iter().enumerate() {
            let from = match i {
                0 => "pump".to_owned(),
                _ => format!("p{}", parent.index(i)),
            };
            // no two of the same bore at one place, so that no tie depends on the order of writing
            pairs.push(format!("r{i} = [\"{from}\", \"p{i}\", \"{pipe} {length}m {elbows} elbow\"]").replace(" 0 elbow", ""));
            for k in 0..*radiators {
                let size = 1000 + 100 * i + 10 * k;
                emitters.push(format!("e{i}{k} = {{ from = \"p{i}\", leg = \"bore 1{k}.{i}mm 3m\", rated = {size}, needs = {} }}", 200 + 10 * i));
            }
        }
        (pairs, emitters)
    })
}

fn write(pairs: &[String], emitters: &[String]) -> String {
    format!(
        "{SOURCE}[pair]\n{}\n[emitter]\n{}\n",
        pairs.join("\n"),
        emitters.join("\n")
    )
}

/// What a network says, without its order and without tees, whose tie goes by the order of writing.
fn content(n: &Network) -> BTreeSet<String> {
    n.element_ids()
        .map(|id| {
            let e = n.element(id);
            let (a, b) = n.ends(id);
            let law = match &e.law {
                Law::Parts(parts) => {
                    let own = parts.iter().filter(|p| p.symbol != "tee branch");
                    format!("{:?}", own.map(|p| (&p.words, &p.law)).collect::<Vec<_>>())
                }
                other => format!("{other:?}"),
            };
            format!(
                "{} {} {} {law} {:?}",
                e.name, n.graph[a].name, n.graph[b].name, e.volume_m3
            )
        })
        .collect()
}

proptest! {
    #![proptest_config(crate::made_up(48))]

    #[test]
    fn random_houses_hang_together((pairs, emitters) in random_house()) {
        holds(&house(&write(&pairs, &emitters)));
    }

    #[test]
    fn the_order_of_lines_changes_nothing_but_the_order(
        (pairs, emitters) in random_house(),
        seed in any::<u64>(),
    ) {
        let shuffled = |lines: &[String]| {
            let mut lines = lines.to_vec();
            let mut state = seed | 1;
            for i in (1..lines.len()).rev() {
                state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                lines.swap(i, (state >> 33) as usize % (i + 1));
            }
            lines
        };
        let one = house(&write(&pairs, &emitters));
        let two = house(&write(&shuffled(&pairs), &shuffled(&emitters)));
        prop_assert_eq!(content(&one), content(&two));
        prop_assert_eq!(one.tees.len(), two.tees.len());
    }
}

fn shipped_texts() -> Vec<String> {
    let mut files: Vec<_> = std::fs::read_dir("networks")
        .expect("folder of the repository")
        .map(|entry| entry.expect("entry").path())
        .filter(|path| path.extension().is_some_and(|e| e == "toml"))
        .collect();
    files.sort();
    files
        .iter()
        .map(|path| std::fs::read_to_string(path).expect("readable"))
        .collect()
}

proptest! {
    #![proptest_config(crate::made_up(64))]

    /// Lines taken out, lines of other houses put in, names exchanged: whatever the reader still takes expands or is
    /// refused with words, and what expands hangs together.
    #[test]
    fn damaged_houses_expand_or_are_refused(
        file in any::<prop::sample::Index>(),
        other in any::<prop::sample::Index>(),
        cuts in prop::collection::vec((any::<prop::sample::Index>(), 0u8..4), 1..5),
    ) {
        let texts = shipped_texts();
        let mut lines: Vec<String> = file.get(&texts).lines().map(str::to_owned).collect();
        let theirs: Vec<&str> = other.get(&texts).lines().filter(|l| l.contains("= [")).collect();
        for (at, what) in cuts {
            let i = at.index(lines.len());
            match what {
                0 => {
                    lines.remove(i);
                }
                1 => {
                    // the second name of a pair goes back to the first
                    let parts: Vec<&str> = lines[i].split('"').collect();
                    if let [a, from, b, _, rest @ ..] = parts.as_slice() {
                        lines[i] = [vec![*a, from, b, from], rest.to_vec()].concat().join("\"");
                    }
                }
                2 => {
                    let parts: Vec<&str> = lines[i].split('"').collect();
                    if let [a, from, b, to, rest @ ..] = parts.as_slice() {
                        lines[i] = [vec![*a, to, b, from], rest.to_vec()].concat().join("\"");
                    }
                }
                _ if !theirs.is_empty() => lines.insert(i, (*at.get(&theirs)).to_owned()),
                _ => {}
            }
            if lines.is_empty() {
                break;
            }
        }
        let text = lines.join("\n");
        if let (Some(survey), _) = read(&text) {
            match expand(&survey) {
                Ok((network, _)) => holds(&network),
                Err(found) => prop_assert!(found.iter().any(|d| d.severity == Severity::Error && d.span.is_some())),
            }
        }
    }
}

// ---- mistakes ----

fn mistakes(rest: &str) -> Vec<Diagnostic> {
    let text = format!("{SOURCE}{rest}");
    let (survey, found) = read(&text);
    match survey {
        None => found,
        Some(survey) => match expand(&survey) {
            Ok((_, warnings)) => warnings,
            Err(found) => found,
        },
    }
}

#[test]
fn mistakes_of_the_joined_house_point_at_their_words() {
    const PUMP: &str = "[\"5 m at 0 l/min\", \"1 m at 30 l/min\"]";
    let rows = [
        (
            "crossed",
            "[pair]\nout = [\"hall\", \"pump\", \"cu22 6m\"]\n[emitter]\nl = { from = \"hall\", leg = \"cu15 3m\", rated = 2000, needs = 1000 }\n".to_owned(),
            "pump",
        ),
        (
            "crossed",
            "[run]\nup = [\"pump.return\", \"l.flow\", \"cu22 6m\"]\nhome = [\"l.return\", \"pump.flow\", \"cu22 6m\"]\n[emitter]\nl = { rated = 2000, needs = 1000 }\n".to_owned(),
            "pump.return",
        ),
        (
            "crossed",
            "[pair]\nout = [\"pump\", \"hall\", \"cu22 6m\"]\n[run]\nup = [\"hall.return\", \"l.flow\", \"cu22 6m\"]\nhome = [\"l.return\", \"hall.flow\", \"cu22 6m\"]\n[emitter]\nl = { rated = 2000, needs = 1000 }\nk = { from = \"hall\", leg = \"cu15 3m\", rated = 2000, needs = 1000 }\n".to_owned(),
            "",
        ),
        (
            "not-closed",
            "[pair]\nout = [\"pump\", \"hall\", \"cu22 6m\"]\nup = [\"hall\", \"landing\", \"cu22 6m\"]\non = [\"landing\", \"loft\", \"cu22 6m\"]\nmore = [\"landing\", \"loft\", \"cu15 6m\"]\n[emitter]\nl = { from = \"hall\", leg = \"cu15 3m\", rated = 2000, needs = 1000 }\n".to_owned(),
            "on",
        ),
        (
            "exchanger-joined",
            format!("[exchanger.plate]\nfrom = \"pump\"\nleg = \"cu28 2m\"\nnear = \"kv 5\"\nfar = \"kv 5\"\nua = \"2400 W/K\"\npump = {PUMP}\nfluid = \"water\"\n[pair]\nout = [\"pump\", \"hall\", \"cu22 6m\"]\nhouse = [\"plate\", \"hall\", \"cu22 6m\"]\n[emitter]\nl = {{ from = \"hall\", leg = \"cu15 3m\", rated = 2000, needs = 1000 }}\n"),
            "plate",
        ),
        (
            "zone-pump-on-several",
            format!("[pair]\nout = [\"pump\", \"hall\", \"cu22 6m\"]\nup = [\"hall\", \"landing\", \"cu22 6m\"]\n[zone.all]\non = [\"out\", \"up\"]\npump = {PUMP}\n[emitter]\nl = {{ from = \"hall\", leg = \"cu15 3m\", rated = 2000, needs = 1000 }}\nk = {{ from = \"landing\", leg = \"cu15 3m\", rated = 2000, needs = 1000 }}\n"),
            "up",
        ),
        (
            "holds-missing",
            "[pair]\nout = [\"pump\", \"hall\", \"cu22 6m, flow-holding valve kv 3\"]\n[emitter]\nl = { from = \"hall\", leg = \"cu15 3m\", rated = 2000, needs = 1000 }\n".to_owned(),
            "",
        ),
        (
            "floor-heat-missing",
            "[pair]\nout = [\"pump\", \"hall\", \"cu22 6m\"]\n[emitter]\nl = { from = \"hall\", loop = \"ml16 80m\", needs = 1000 }\n".to_owned(),
            "",
        ),
    ];
    for (code, rest, word) in rows {
        let found = mistakes(&rest);
        let hit = found
            .iter()
            .find(|d| d.code == code && d.severity == Severity::Error);
        let hit = hit.unwrap_or_else(|| panic!("{code}: {rest}\n{found:#?}"));
        let text = format!("{SOURCE}{rest}");
        let span = hit.span.clone().expect("a place in the file");
        let pointed = text.get(span).unwrap_or_default();
        assert!(
            pointed.contains(word) && !pointed.is_empty(),
            "{code}: points at `{pointed}`"
        );
        assert!(
            hit.help.is_some() || !hit.label.is_empty(),
            "{code}: says nothing to do"
        );
    }
}

#[test]
fn warnings_ask_and_go_on() {
    let text = "[source.pump]\noutput = \"8 kW\"\n[pair]\nout = [\"pump\", \"hall\", \"cu22 6m\"]\n[emitter]\nl = { from = \"hall\", leg = \"cu15 3m\", rated = 2000, needs = 1000 }\n";
    let (n, warnings) = expand(&survey(text)).expect("no error");
    assert!(n.sources[0].pump.is_none());
    assert!(
        warnings
            .iter()
            .any(|d| d.code == "no-head" && d.severity == Severity::Warning)
    );
    let found = mistakes(
        "[pair]\nout = [\"pump\", \"floor\", \"cu22 6m\"]\n[manifold.floor]\nblend = \"50 C\"\npump = [\"5 m at 0 l/min\", \"1 m at 30 l/min\"]\n[emitter]\nl = { from = \"floor\", loop = \"ml16 80m\", per_kelvin = \"60 W/K\", needs = 1000 }\n",
    );
    assert!(
        found
            .iter()
            .any(|d| d.code == "blend-above-flow" && d.severity == Severity::Warning),
        "{found:#?}"
    );
}

#[test]
fn two_sources_must_be_kept_apart() {
    let text = |warm: &str, hot: &str, header: &str| {
        format!(
            "[source.pump]\nfree_head = [\"7 m at 0 l/min\", \"3 m at 30 l/min\"]\n[source.boiler]\nfree_head = [\"7 m at 0 l/min\", \"3 m at 30 l/min\"]\n\
             [pair]\nwarm = [\"pump\", \"header\", \"cu28 6m{warm}\"]\nhot = [\"boiler\", \"header\", \"cu28 4m{hot}\"]\nhouse = [\"header\", \"hall\", \"cu28 6m\"]\n{header}\
             [state.summer]\nsources = [\"pump\"]\n[emitter]\nl = {{ from = \"hall\", leg = \"cu15 3m\", rated = 2000, needs = 1000 }}\n"
        )
    };
    let check = ", check valve kv 12 opens at 1kPa on flow";
    let vessel = "[vessel.header]\nwater = \"20 l\"\nports = 4\n";
    let rows = [
        ("", "", "", false),
        (check, check, "", true),
        (check, "", "", true),
        ("", "", vessel, true),
    ];
    for (warm, hot, header, apart) in rows {
        let mut survey = survey(&text(warm, hot, header));
        assert!(
            expand(&survey).is_ok(),
            "named states keep any two sources apart"
        );
        survey.states.clear();
        let found = expand(&survey).err().unwrap_or_default();
        let said = found.iter().any(|d| d.code == "sources-together");
        assert_eq!(said, !apart, "{warm} {hot} {header}: {found:#?}");
    }
}

#[test]
fn a_floor_loop_takes_no_tails_from_the_defaults() {
    let n = small(
        r#"
[defaults]
emitter = { leg = "cu15 3m 4 elbow" }
[pair]
out = ["pump", "floor", "cu22 5m"]
[manifold.floor]
[emitter]
a = { from = "floor", loop = "ml16 80m", per_kelvin = "75 W/K", room = 20, needs = 1000 }
b = { from = "floor", loop = "ml16 80m", leg = "cu15 2m", per_kelvin = "75 W/K", room = 20, needs = 1000 }
c = { from = "floor", rated = 2000, room = 20, needs = 1000 }
"#,
    );
    let tails: Vec<bool> = n.emitters.iter().map(|e| e.tails.0.is_some()).collect();
    assert_eq!(tails, [false, true, true]);
}

#[test]
fn what_the_reader_lets_through_never_panics() {
    // two pairs between the same places, a pair that only leads on, an island that the reader may or may not see
    for rest in [
        "[pair]\na = [\"pump\", \"x\", \"cu22 6m\"]\nb = [\"pump\", \"x\", \"cu22 6m\"]\n[emitter]\nl = { from = \"x\", leg = \"cu15 3m\", rated = 2000, needs = 1000 }\n",
        "[pair]\na = [\"pump\", \"x\", \"cu22 0.001m\"]\nb = [\"x\", \"pump2\", \"cu22 6m\"]\nc = [\"pump2\", \"x\", \"cu22 6m\"]\n[emitter]\nl = { from = \"x\", leg = \"cu15 3m\", rated = 2000, needs = 1000 }\n",
    ] {
        let _ = mistakes(rest);
    }
}
