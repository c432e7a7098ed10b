//! Required and running.

use crate::small::{CP, RHO, Small, arithmetic, element};
use approx::assert_relative_eq;
use pipecarry::network::{Network, OnePipe, PartGroup, PumpControl, Vessel, VesselKind};
use pipecarry::view::{BasisUsed, Bites, Through, required, running};

/// l/min from kg/s of the stories' water.
fn l_min(kg_s: f64) -> f64 {
    kg_s / RHO * 60_000.0
}

/// Source, pump, and one radiator behind a pair of primaries: 12 m each way, ζ 4 each.
fn primaries(duty_w: f64, drop_k: f64, bore_m: f64) -> Network {
    let mut s = Small::default();
    s.source("heat pump", ["return", "unit"], 45.0, 0.0)
        .pump("pump", ["unit", "flow"], &[(0.0, 60e3), (2.0, 30e3)])
        .pipe("out flow", ["flow", "a"], 12.0, bore_m, 4.0)
        .radiator("house", ["a", "b"], 20_000.0, 20.0, (duty_w, drop_k))
        .pipe("out return", ["b", "return"], 12.0, bore_m, 4.0);
    s.network()
}

#[test]
fn primaries_of_story_a1() {
    // worked story A1 of the requirements: 9 kW, 22 mm copper, 12 m each way, ten elbows of ζ 0.8
    struct Row {
        drop_k: f64,
        bore_m: f64,
        l_min: f64,
        velocity: f64,
        gradient: f64,
        loss_kpa: f64,
    }
    let rows = [
        Row {
            drop_k: 5.0,
            bore_m: 0.0202,
            l_min: 26.05,
            velocity: 1.355,
            gradient: 992.0,
            loss_kpa: 31.1,
        },
        Row {
            drop_k: 7.0,
            bore_m: 0.0202,
            l_min: 18.6,
            velocity: 0.968,
            gradient: 546.0,
            loss_kpa: 16.8,
        },
        Row {
            drop_k: 5.0,
            bore_m: 0.0262,
            l_min: 26.05,
            velocity: 0.805,
            gradient: 286.0,
            loss_kpa: 9.43,
        },
    ];
    for row in rows {
        let mut network = primaries(9000.0, row.drop_k, row.bore_m);
        network.design.drop_k = row.drop_k;
        let view = required(&network, 0).expect("a tree has an answer");
        assert_eq!(view.circuits.len(), 1);
        let circuit = &view.circuits[0];
        assert_relative_eq!(l_min(circuit.flow_kg_s), row.l_min, max_relative = 0.005);
        assert_relative_eq!(
            circuit.needed_pa,
            1000.0 * row.loss_kpa,
            max_relative = 0.01
        );
        let run = &view.capacity[0];
        assert_relative_eq!(run.velocity_m_s, row.velocity, max_relative = 0.005);
        assert_relative_eq!(run.gradient_pa_m, row.gradient, max_relative = 0.01);
        assert_eq!(view.basis[0].used, BasisUsed::Rooms);
    }
}

#[test]
fn breakdown_adds_up_exactly() {
    let view = required(&primaries(9000.0, 5.0, 0.0202), 0).expect("a tree has an answer");
    for path in view.circuits.iter().flat_map(|c| &c.paths) {
        let sum: f64 = path.breakdown.iter().map(|(_, pa)| pa).sum();
        assert_eq!(path.loss_pa, sum);
        let elements: f64 = path
            .elements
            .iter()
            .map(|(id, _)| view.loss_pa[id.index()])
            .sum();
        assert_relative_eq!(path.loss_pa, elements, max_relative = 1e-12);
    }
    // 24 m of 992 Pa/m and ζ 8 at 1.355 m/s, by the story
    let of = |group| {
        view.circuits[0].paths[0]
            .breakdown
            .iter()
            .find(|(g, _)| *g == group)
            .map(|(_, pa)| *pa)
    };
    assert_relative_eq!(
        of(PartGroup::Pipe).expect("pipe"),
        23_800.0,
        max_relative = 0.01
    );
    assert_relative_eq!(
        of(PartGroup::Fittings).expect("fittings"),
        7_280.0,
        max_relative = 0.01
    );
}

#[test]
fn tail_of_story_a2() {
    // worked story A2: 1308 W, 4 m each way of 10 mm copper; bore, drop, l/min, m/s, kPa
    let rows = [
        (0.0088, 5.0, 3.785, 1.04, 13.9),
        (0.0084, 5.0, 3.785, 1.14, 17.4),
        (0.0088, 7.0, 2.70, 0.742, 7.73),
        (0.0136, 5.0, 3.785, 0.434, 1.76),
    ];
    for (bore, drop, flow, velocity, kpa) in rows {
        let mut s = Small::default();
        s.source("heat pump", ["return", "flow"], 45.0, 0.0)
            .pipe("tail flow", ["flow", "a"], 4.0, bore, 0.0)
            .radiator("lounge", ["a", "b"], 3000.0, 20.0, (1308.0, drop))
            .pipe("tail return", ["b", "return"], 4.0, bore, 0.0);
        let view = required(&s.network(), 0).expect("a tree has an answer");
        let circuit = &view.circuits[0];
        assert_relative_eq!(l_min(circuit.flow_kg_s), flow, max_relative = 0.005);
        assert_relative_eq!(
            view.capacity[0].velocity_m_s,
            velocity,
            max_relative = 0.005
        );
        assert_relative_eq!(circuit.needed_pa, 1000.0 * kpa, max_relative = 0.01);
        assert_eq!(circuit.available_pa, None, "no pump is known");
    }
}

#[test]
fn capacity_is_where_the_limit_bites() {
    let network = primaries(9000.0, 5.0, 0.0202);
    let view = required(&network, 0).expect("a tree has an answer");
    let run = &view.capacity[0];
    // 1.0 m/s in 20.2 mm at 5 K, by hand: ρ·A·v·cp·ΔT
    let by_hand = RHO * std::f64::consts::FRAC_PI_4 * 0.0202 * 0.0202 * CP * 5.0;
    assert_relative_eq!(run.carries[0].1, by_hand, max_relative = 1e-6);
    // 22 mm copper carries 4.6 kW at 300 Pa/m and 5 K (requirements, §0)
    assert_relative_eq!(run.carries[0].2, 4600.0, max_relative = 0.01);
    assert_eq!(
        run.carries.iter().map(|c| c.0).collect::<Vec<_>>(),
        [5.0, 7.0, 10.0]
    );
    // the whole circuit: velocity bites before the pump
    let (drop, watts, bites) = view.circuits[0].carries[0];
    assert_eq!((drop, bites), (5.0, Bites::Velocity(0)));
    assert_relative_eq!(watts, by_hand, max_relative = 1e-6);
    // what a view says it could carry, it carries: asked for exactly that, the limit is met
    let head_limited = run.carries[0].3.expect("the pump is known");
    let again = required(&primaries(head_limited, 5.0, 0.0202), 0).expect("a tree has an answer");
    let left = view.circuits[0].available_pa.expect("known") - view.circuits[0].needed_pa;
    assert_relative_eq!(
        again.loss_pa[2],
        view.loss_pa[2] + left,
        max_relative = 1e-6
    );
}

/// Two radiators in parallel behind one pump.
fn two(first: (&str, f64), second: (&str, f64)) -> Network {
    let mut s = Small::default();
    s.source("heat pump", ["return", "unit"], 45.0, 0.0).pump(
        "pump",
        ["unit", "flow"],
        &[(0.0, 60e3), (2.0, 30e3)],
    );
    for (name, kv) in [first, second] {
        let (a, b) = (format!("{name} in"), name.to_owned());
        s.valve(&format!("{name} valve"), ["flow", &a], kv)
            .radiator(&b, [&a, "return"], 4000.0, 20.0, (1000.0 * kv, 5.0));
    }
    s.network()
}

#[test]
fn split_of_story_a3() {
    // worked story A3: kv 0.6 and 0.9, 10 l/min in all, pump held to a flow; the order in the file does not matter
    for (first, second) in [(("a", 0.6), ("b", 0.9)), (("b", 0.9), ("a", 0.6))] {
        let mut network = two(first, second);
        network.pumps[0].mode = PumpControl::HeldToFlow(RHO * 10.0 / 60_000.0);
        let run = running(&network, 0).expect("a held pump has an answer");
        let flow = |name: &str| l_min(run.solved.flow_kg_s[element(&network, name).index()]);
        assert_relative_eq!(flow("a"), 4.00, max_relative = 0.005);
        assert_relative_eq!(flow("b"), 6.00, max_relative = 0.005);
        let dp = run.solved.dp_pa[element(&network, "a valve").index()].expect("open");
        assert_relative_eq!(dp, 15_900.0, max_relative = 0.005);
        assert_eq!(run.emitters.len(), 2);
    }
}

/// Primary and secondary on either side of a vessel, 6 kW, unit at 45 °C.
fn buffer(primary_l_min: f64, secondary_l_min: f64) -> Network {
    let kg_s = |l_min: f64| RHO * l_min / 60_000.0;
    let drop = 6000.0 / (CP * kg_s(secondary_l_min));
    let mut s = Small::default();
    s.source("heat pump", ["return", "unit"], 45.0, 0.0)
        .pump("primary", ["unit", "flow"], &[(0.0, 60e3), (2.0, 30e3)])
        .pipe("to vessel", ["flow", "top"], 3.0, 0.0262, 2.0)
        .pipe("vessel", ["top", "bottom"], 0.5, 0.4, 1.0)
        .pipe("from vessel", ["bottom", "return"], 3.0, 0.0262, 2.0)
        .pump("secondary", ["top", "s"], &[(0.0, 50e3), (2.0, 20e3)])
        .pipe("out", ["s", "a"], 10.0, 0.0262, 4.0)
        .radiator("house", ["a", "b"], 20_000.0, 20.0, (6000.0, drop))
        .pipe("back", ["b", "bottom"], 10.0, 0.0262, 4.0);
    let mut network = s.network();
    let body = element(&network, "vessel");
    let (top, bottom) = network.ends(body);
    network.vessels.push(Vessel {
        name: "buffer".to_owned(),
        volume_m3: 0.045,
        body,
        kind: VesselKind::FourPort {
            top,
            bottom,
            pump: Some(1),
        },
        span: None,
    });
    network.sources[0].nominal_flow_m3_s = Some(primary_l_min / 60_000.0);
    network.design.drop_k = 60.0; // so that the nominal flow is the largest, whatever it is
    network
}

#[test]
fn mixing_of_story_a6() {
    // worked story A6: primary, secondary l/min; emitters get, they return, the unit sees; lost on flow, on the mean
    let rows = [
        (14.0, 22.0, 42.74, 38.80, 38.80, 2.26, 1.13),
        (22.0, 14.0, 45.00, 38.80, 41.05, 0.00, 1.13),
        (18.0, 18.0, 45.00, 40.18, 40.18, 0.00, 0.00),
    ];
    for (primary, secondary, get, back, sees, on_flow, on_mean) in rows {
        let network = buffer(primary, secondary);
        let view = required(&network, 0).expect("both sides are held");
        assert_eq!(view.basis[0].used, BasisUsed::Nominal);
        let mixing = view.mixing[0];
        assert_relative_eq!(l_min(mixing.primary_kg_s), primary, max_relative = 1e-6);
        assert_relative_eq!(l_min(mixing.secondary_kg_s), secondary, max_relative = 1e-6);
        for (found, story) in [
            (mixing.secondary_c.0, get),
            (mixing.secondary_c.1, back),
            (mixing.primary_c.1, sees),
            (mixing.lost_on_flow_k, on_flow),
            (mixing.lost_on_mean_k, on_mean),
        ] {
            assert!(
                (found - story).abs() < 0.02,
                "{primary}/{secondary}: {found} against {story}"
            );
        }
        // two circuits, each with a head check of its own
        assert_eq!(view.circuits.len(), 2);
        assert_eq!(view.circuits[0].paths[0].through, Through::Vessel(0));
        assert_eq!(view.circuits[1].paths[0].through, Through::Emitter(0));
        assert!(view.circuits.iter().all(|c| c.available_pa.is_some()));
    }
}

#[test]
fn one_pipe_loop_of_story_a8() {
    // worked story A8: 12 l/min at 45 °C, five radiators of 1.2 kW, 30 % of the flow through each (kv 0.9 beside 2.1)
    let mut s = Small::default();
    s.source("heat pump", ["home", "unit"], 45.0, 0.0).pump(
        "pump",
        ["unit", "t0"],
        &[(0.0, 90e3), (2.0, 60e3)],
    );
    let flow = RHO * 12.0 / 60_000.0;
    let drop = 5.0 * 1200.0 / (CP * flow);
    for i in 0..5 {
        let (a, b) = (format!("a{i}"), format!("b{i}"));
        let before = if i == 0 {
            "t0".to_owned()
        } else {
            format!("b{}", i - 1)
        };
        s.pipe(&format!("main {i}"), [&before, &a], 4.0, 0.0202, 0.0)
            .valve(&format!("between {i}"), [&a, &b], 2.1)
            .valve(&format!("branch {i}"), [&a, &format!("r{i}")], 0.9)
            .radiator(
                &format!("radiator {i}"),
                [&format!("r{i}"), &b],
                4000.0,
                20.0,
                (1200.0, drop),
            );
    }
    s.pipe("home run", ["b4", "home"], 4.0, 0.0202, 0.0);
    let mut network = s.network();
    arithmetic(&mut network);
    for i in 0..5 {
        let between = element(&network, &format!("between {i}"));
        let branch = element(&network, &format!("branch {i}"));
        network.emitters[i].branch.insert(0, branch);
        network.emitters[i].one_pipe = Some(OnePipe {
            between,
            share: None,
            loop_index: 0,
        });
    }
    for known_share in [None, Some(0.3)] {
        for emitter in &mut network.emitters {
            if let Some(one_pipe) = &mut emitter.one_pipe {
                one_pipe.share = known_share;
            }
        }
        let view = required(&network, 0).expect("a loop has an answer");
        assert_relative_eq!(l_min(view.circuits[0].flow_kg_s), 12.0, max_relative = 1e-6);
        let inlets = [45.0, 43.55, 42.11, 40.66, 39.21];
        let rated = [3371.0, 3674.0, 4029.0, 4449.0, 4954.0];
        for i in 0..5 {
            let at = view.emitters[i];
            let (c_in, _) = view.ends_c[network.emitters[i].body.index()].expect("flows");
            assert_relative_eq!(at.flow_kg_s / flow, 0.300, max_relative = 1e-3);
            assert!(
                (c_in - inlets[i]).abs() < 0.01,
                "{c_in} against {}",
                inlets[i]
            );
            assert!((at.drop_k - 4.82).abs() < 0.01, "{}", at.drop_k);
            assert_relative_eq!(
                at.rated.expect("warm enough"),
                rated[i],
                max_relative = 0.01
            );
        }
        let home = view.ends_c[element(&network, "home run").index()]
            .expect("flows")
            .0;
        assert!((home - 37.76).abs() < 0.01, "{home}");
    }
}

#[test]
fn flow_temperatures_of_story_a9() {
    // worked story A9: need, output at 50 K, room, flow temperature asked for; drop 5 K, arithmetic mean
    let rows = [
        (1500.0, 4200.0, 21.0, 46.1),
        (700.0, 1500.0, 18.0, 48.3),
        (500.0, 800.0, 22.0, 59.3),
    ];
    let mut s = Small::default();
    s.source("heat pump", ["return", "unit"], 60.0, 0.0).pump(
        "pump",
        ["unit", "flow"],
        &[(0.0, 60e3), (2.0, 30e3)],
    );
    for (i, (need, p50, room, _)) in rows.iter().enumerate() {
        s.valve(&format!("valve {i}"), ["flow", &format!("in {i}")], 0.9)
            .radiator(
                &format!("radiator {i}"),
                [&format!("in {i}"), "return"],
                *p50,
                *room,
                (*need, 5.0),
            );
    }
    let mut network = s.network();
    arithmetic(&mut network);
    let view = required(&network, 0).expect("a tree has an answer");
    for (at, (.., asks)) in view.emitters.iter().zip(rows) {
        let found = at.source_c.expect("rated emitters ask");
        assert!((found - asks).abs() < 0.2, "{found} against {asks}");
    }
}

#[test]
fn balancing_gives_every_emitter_its_design_flow() {
    // the pump is held to the sum of the design flows; with lockshields as balancing sets them each gets its own
    let mut s = Small::default();
    s.source("heat pump", ["return", "unit"], 45.0, 0.0).pump(
        "pump",
        ["unit", "flow"],
        &[(0.0, 60e3), (2.0, 30e3)],
    );
    for (i, length) in [3.0, 9.0, 20.0].into_iter().enumerate() {
        let p = |what: &str| format!("{what} {i}");
        s.pipe(&p("tail"), ["flow", &p("a")], length, 0.0136, 2.0)
            .valve(&p("valve"), [&p("a"), &p("b")], 0.9)
            .radiator(
                &p("radiator"),
                [&p("b"), &p("c")],
                4000.0,
                20.0,
                (1200.0, 5.0),
            )
            .valve(&p("lockshield"), [&p("c"), &p("d")], 1.6)
            .pipe(&p("tail back"), [&p("d"), "return"], length, 0.0136, 2.0);
    }
    let mut network = s.network();
    network.design.lockshields_open = false;
    for i in 0..3 {
        let id = element(&network, &format!("lockshield {i}"));
        network.emitters[i].lockshield = Some(id);
        network.emitters[i].lockshield_is_set = false;
    }
    let view = required(&network, 0).expect("a tree has an answer");
    network.pumps[0].mode = PumpControl::HeldToFlow(view.circuits[0].flow_kg_s);
    let run = running(&network, 0).expect("a held pump has an answer");
    for (at, asks) in run.emitters.iter().zip(&view.emitters) {
        assert_relative_eq!(at.flow_kg_s, asks.flow_kg_s, max_relative = 1e-7);
    }
    assert_eq!(
        view.circuits[0].paths[view.circuits[0].index].through,
        Through::Emitter(2)
    );
    assert_eq!(
        run.lockshields[2].0,
        Some(1.6),
        "the index emitter's stands fully open"
    );
    assert!(
        run.lockshields[0].0 < run.lockshields[1].0,
        "the nearest is closed most"
    );
}
