//! Laws that any answer obeys, on random networks of every kind.
//!
//! `PIPECARRY_CASES` raises the number of networks (default 48; 10,000 is the long run).

use pipecarry::network::{
    ElementId, FluidData, Heat, Law, Network, Part, PartGroup, PartLaw, PumpControl, reference,
};
use pipecarry::solve::{Setting, SolveError, State, element_loss, solve};
use pipecarry::survey::Fluid;
use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};
use serde_json::{Value, json};

fn cases() -> u32 {
    std::env::var("PIPECARRY_CASES")
        .ok()
        .and_then(|n| n.parse().ok())
        .unwrap_or(48)
}

/// A random network as a list of choices: circuits off a plant, closed valves among them.
#[derive(Clone, Debug)]
struct Recipe {
    choices: Vec<u32>,
    passive: bool,
}

struct Build {
    choices: std::vec::IntoIter<u32>,
    nodes: Vec<String>,
    elements: Vec<Value>,
    passive: bool,
}

impl Build {
    fn pick(&mut self, n: u32) -> u32 {
        self.choices.next().unwrap_or(0) % n
    }
    fn share(&mut self) -> f64 {
        f64::from(self.pick(1000)) / 1000.0
    }
    fn add(&mut self, a: &str, b: &str, mut keys: Value) -> usize {
        for n in [a, b] {
            if !self.nodes.iter().any(|x| x == n) {
                self.nodes.push(n.into());
            }
        }
        keys["id"] = json!(format!("e{}", self.elements.len()));
        keys["from"] = json!(a);
        keys["to"] = json!(b);
        self.elements.push(keys);
        self.elements.len() - 1
    }
    fn pipe(&mut self, a: &str, b: &str) {
        let bore = [0.0088, 0.0136, 0.0202, 0.0262, 0.0326][self.pick(5) as usize];
        let (length, zeta) = (0.5 + 12.0 * self.share(), 10.0 * self.share());
        let mut pipe = json!({"type": "pipe", "length_m": length, "bore_m": bore, "roughness_m": 1.5e-6, "zeta": zeta});
        if self.pick(2) == 0 {
            pipe["thermal"] =
                json!({"kind": "loss", "u_w_mk": 0.1 + 0.4 * self.share(), "ambient_c": 15.0});
        }
        let (a, b) = if self.pick(6) == 0 { (b, a) } else { (a, b) };
        self.add(a, b, pipe);
    }
    fn emitter(&mut self, a: &str, b: &str) {
        let k = self.elements.len();
        let (p, q) = (format!("{k}p"), format!("{k}q"));
        let open = self.pick(5) != 0;
        let kv = 0.1 + self.share();
        self.add(a, &p, json!({"type": "valve", "kv_m3h": kv, "open": open}));
        let exponent = [2.0, 1.85, 1.0][self.pick(3) as usize];
        let heat = json!({"kind": "emitter", "q_n_w": 300.0 + 3000.0 * self.share(), "n": 1.3, "room_c": 20.0});
        let body = json!({"type": "resistance", "dp_ref_pa": 300.0 + 5000.0 * self.share(), "q_ref_m3h": 0.2, "exponent": exponent, "thermal": heat});
        self.add(&p, &q, body);
        self.pipe(&q, b);
    }
    fn pump(&mut self, a: &str, b: &str) {
        let (head, top) = (1.5e4 + 5e4 * self.share(), 0.6 + 3.0 * self.share());
        let curve = json!({"kind": "quadratic", "a_pa": head, "b_pa_per_m3h": 0.0, "c_pa_per_m3h2": -head / top / top});
        self.add(a, b, json!({"type": "pump", "curve": curve, "speed": 1.0}));
    }
    fn circuit(&mut self, s: &str, t: &str, tag: &str) {
        let n = 1 + self.pick(6);
        let kind = self.pick(5);
        let (mut flow, mut back) = (s.to_owned(), t.to_owned());
        for i in 0..n {
            let (a, b) = (format!("{tag}s{i}"), format!("{tag}r{i}"));
            match kind {
                0 => {
                    self.pipe(&flow, &a);
                    self.pipe(&b, &back);
                    self.emitter(&a, &b);
                    (flow, back) = (a, b);
                }
                1 => {
                    // reverse return
                    self.pipe(&flow, &a);
                    if i > 0 {
                        self.pipe(&format!("{tag}r{}", i - 1), &b);
                    }
                    self.emitter(&a, &b);
                    flow = a;
                    if i + 1 == n {
                        self.pipe(&b, t);
                    }
                }
                2 => {
                    // one pipe
                    self.pipe(&flow, &a);
                    self.pipe(&a, &b);
                    self.emitter(&a, &b);
                    flow = b;
                    if i + 1 == n {
                        self.pipe(&flow.clone(), t);
                    }
                }
                3 => self.emitter(s, t),
                _ => {
                    // mesh
                    self.pipe(&flow, &a);
                    self.pipe(&b, &back);
                    self.emitter(&a, &b);
                    if i > 1 {
                        self.pipe(&format!("{tag}s{}", i - 2), &a);
                    }
                    (flow, back) = (a, b);
                }
            }
        }
    }
    fn run(mut self) -> Value {
        let source = json!({"type": "resistance", "dp_ref_pa": 9000.0, "q_ref_m3h": 1.2, "exponent": 2.0, "thermal": {"kind": "source", "flow_c": 50.0}});
        self.add("ret", "pl", source);
        self.pump("pl", "flow");
        if self.passive {
            for k in 0..1 + self.pick(2) {
                self.circuit("flow", "ret", &format!("c{k}"));
            }
        } else {
            if self.pick(3) == 0 {
                self.pump("pl", "mid");
                self.add(
                    "mid",
                    "flow",
                    json!({"type": "check_valve", "opening_pa": 0.0, "kv_m3h": 4.0}),
                );
            }
            if self.pick(2) == 0 {
                let opening = 3000.0 + 2e4 * self.share();
                let bypass = json!({"type": "bypass_valve", "opening_pa": opening, "kv_m3h": 1.5});
                self.add("flow", "ret", bypass);
            }
            if self.pick(2) == 0 {
                self.pipe("flow", "top");
                self.pipe("bot", "ret");
                self.add("top", "bot", json!({"type": "pipe", "length_m": 1.2, "bore_m": 0.45, "roughness_m": 1e-5, "zeta": 2.5}));
                for k in 0..1 + self.pick(3) {
                    let (z, y) = (format!("z{k}"), format!("y{k}"));
                    self.pump("top", &z);
                    self.add(
                        &z,
                        &y,
                        json!({"type": "check_valve", "opening_pa": 200.0, "kv_m3h": 3.0}),
                    );
                    self.circuit(&y, "bot", &format!("k{k}"));
                }
            } else {
                self.circuit("flow", "ret", "c");
            }
        }
        let nodes: Vec<Value> = self.nodes.iter().map(|n| json!({"id": n})).collect();
        json!({"id": "random", "fluid": {"rho_kg_m3": 988.1, "mu_pa_s": 5.47e-4, "cp_j_kgk": 4181.0},
            "reference_node": "ret", "reference_pressure_pa": 0.0, "nodes": nodes, "elements": self.elements})
    }
}

fn recipe(passive: bool) -> impl Strategy<Value = Recipe> {
    proptest::collection::vec(any::<u32>(), 8..220)
        .prop_map(move |choices| Recipe { choices, passive })
}

fn case(recipe: &Recipe) -> Value {
    let choices = recipe.choices.clone().into_iter();
    Build {
        choices,
        nodes: Vec::new(),
        elements: Vec::new(),
        passive: recipe.passive,
    }
    .run()
}

fn network(case: &Value) -> Network {
    reference::load(&case.to_string()).expect("a case")
}

fn answer(network: &Network) -> Result<State, SolveError> {
    solve(network, &Setting::of(network, &network.states[0]))
}

fn largest(values: &[f64]) -> f64 {
    values.iter().fold(1e-300, |m, x| m.max(x.abs()))
}

/// Node balance to 1e-9, loop sums, each loss its own law's, energy to 1e-9; every refusal a physical one.
fn obeys(network: &Network) -> Result<Option<State>, TestCaseError> {
    let state = match answer(network) {
        Ok(state) => state,
        Err(SolveError::NothingMoves) => return Ok(None),
        Err(why) => return Err(TestCaseError::fail(format!("{why:?}"))),
    };
    let flow = &state.flow_kg_s;
    let mut balance = vec![0.0; network.graph.node_count()];
    let dps: Vec<f64> = state.dp_pa.iter().map(|dp| dp.unwrap_or(0.0)).collect();
    let (q, pa) = (largest(flow), largest(&dps));
    for id in network.element_ids() {
        let (e, (from, to)) = (id.index(), network.ends(id));
        balance[from.index()] -= flow[e];
        balance[to.index()] += flow[e];
        if let (Some(a), Some(b), Some(dp)) = (
            state.pressure_pa[from.index()],
            state.pressure_pa[to.index()],
            state.dp_pa[e],
        ) {
            prop_assert!(
                (a - b - dp).abs() <= 1e-9 * pa,
                "loop sum at {}",
                network.element(id).name
            );
        }
        let element = network.element(id);
        if element.open && !matches!(element.law, Law::OneWay { .. }) {
            let own = element_loss(network, id, flow[e], state.at_c[e]).expect("in range");
            prop_assert!((own - dps[e]).abs() <= 1e-9 * pa, "law of {}", element.name);
        }
        if !element.open {
            prop_assert_eq!(flow[e], 0.0);
        }
        if let Law::OneWay { opening_pa, .. } = element.law {
            prop_assert!(flow[e] >= -1e-9 * q, "{} runs backwards", element.name);
            if flow[e] == 0.0
                && let Some(dp) = state.dp_pa[e]
            {
                prop_assert!(dp <= opening_pa + 1e-6, "{} should open", element.name);
            }
        }
    }
    prop_assert!(
        largest(&balance) <= 1e-9 * q,
        "balance {:e}",
        largest(&balance)
    );
    let made: f64 = state.sources.iter().map(|s| s.output_w).sum();
    let sum: f64 = state.heat_w.iter().sum();
    prop_assert!(
        sum.abs() <= 1e-9 * made.abs().max(q * 4181.0 * 1e-3),
        "energy {sum:e} of {made:e}"
    );
    Ok(Some(state))
}

fn run<S: Strategy>(strategy: S, test: impl Fn(S::Value) -> Result<(), TestCaseError>)
where
    S::Value: std::fmt::Debug,
{
    let config = Config {
        cases: cases(),
        failure_persistence: None,
        ..Config::default()
    };
    TestRunner::new_with_rng(
        config,
        proptest::test_runner::TestRng::deterministic_rng(
            proptest::test_runner::RngAlgorithm::ChaCha,
        ),
    )
    .run(&strategy, test)
    .unwrap_or_else(|e| panic!("{e}"));
}

#[test]
fn random_networks_balance_close_and_refuse_only_physically() {
    run(recipe(false), |r| obeys(&network(&case(&r))).map(|_| ()));
}

/// The same with water and glycol by temperature: waters of several temperatures then mix by enthalpy.
#[test]
fn energy_closes_where_heat_capacity_goes_with_temperature() {
    run((recipe(false), 0..3_u32), |(r, liquid)| {
        let mut network = network(&case(&r));
        let fluid = match liquid {
            0 => Fluid::Water,
            1 => Fluid::Glycol {
                propylene: true,
                percent: 30.0,
            },
            _ => Fluid::Glycol {
                propylene: false,
                percent: 5.0,
            },
        };
        network.fluids = vec![FluidData::ByTemperature(fluid); network.fluids.len()];
        if let Some(state) = obeys(&network)? {
            crate::energy::closes(&network, &state, "random").map_err(TestCaseError::fail)?;
        }
        Ok(())
    });
}

#[test]
fn order_of_the_file_and_sign_of_elements_change_nothing() {
    run((recipe(false), any::<u64>()), |(r, seed)| {
        let original = case(&r);
        let mut shuffled = original.clone();
        let list = shuffled["elements"].as_array_mut().expect("elements");
        let n = list.len();
        for k in 0..n {
            list.swap(k, (seed as usize).wrapping_mul(k + 7) % n);
        }
        for (k, e) in list.iter_mut().enumerate() {
            let turns = matches!(e["type"].as_str(), Some("pipe" | "valve" | "resistance"));
            if turns && (seed >> (k % 64)) & 1 == 1 {
                let from = e["from"].clone();
                e["from"] = e["to"].clone();
                e["to"] = from;
                e["turned"] = json!(true);
            }
        }
        let turned: Vec<bool> = list
            .iter_mut()
            .map(|e| e.as_object_mut().and_then(|o| o.remove("turned")).is_some())
            .collect();
        let (a, b) = (network(&original), network(&shuffled));
        match (answer(&a), answer(&b)) {
            (Ok(x), Ok(y)) => {
                let q = largest(&x.flow_kg_s);
                for id in b.element_ids() {
                    let name = &b.element(id).name;
                    let twin = a
                        .element_ids()
                        .find(|&t| a.element(t).name == *name)
                        .expect("same names");
                    let sign = if turned[id.index()] { -1.0 } else { 1.0 };
                    prop_assert!(
                        (sign * y.flow_kg_s[id.index()] - x.flow_kg_s[twin.index()]).abs()
                            <= 1e-9 * q,
                        "{name}"
                    );
                }
            }
            (Err(x), Err(y)) => prop_assert_eq!(x, y),
            (x, y) => return Err(TestCaseError::fail(format!("{:?} {:?}", x.err(), y.err()))),
        }
        Ok(())
    });
}

#[test]
fn splitting_a_pipe_in_two_changes_no_flow() {
    run((recipe(false), any::<u16>()), |(r, which)| {
        let original = case(&r);
        let mut split = original.clone();
        let list = split["elements"].as_array_mut().expect("elements");
        let pipes: Vec<usize> = (0..list.len())
            .filter(|&k| list[k]["type"] == "pipe")
            .collect();
        let k = pipes[which as usize % pipes.len()];
        let mut rest = list[k].clone();
        for key in ["length_m", "zeta"] {
            let whole = list[k][key].as_f64().expect("a number");
            list[k][key] = json!(0.3 * whole);
            rest[key] = json!(0.7 * whole);
        }
        rest["id"] = json!("rest");
        rest["from"] = json!("joint");
        list[k]["to"] = json!("joint");
        list.push(rest);
        split["nodes"]
            .as_array_mut()
            .expect("nodes")
            .push(json!({"id": "joint"}));
        if let (Ok(a), Ok(b)) = (answer(&network(&original)), answer(&network(&split))) {
            let q = largest(&a.flow_kg_s);
            for e in 0..a.flow_kg_s.len() {
                prop_assert!((a.flow_kg_s[e] - b.flow_kg_s[e]).abs() <= 1e-9 * q);
            }
        }
        Ok(())
    });
}

/// Monotone: on passive networks with one falling curve, raising a resistance never raises the flow through it.
#[test]
fn raising_a_resistance_never_raises_the_flow_through_it() {
    run((recipe(true), any::<u16>()), |(r, which)| {
        let a = network(&case(&r));
        let Some(before) = obeys(&a)? else {
            return Ok(());
        };
        let mut b = a.clone();
        let id = ElementId::new(which as usize % b.graph.edge_count());
        if let Law::Parts(parts) = &mut b.graph[id].law {
            let zeta = PartLaw::Zeta {
                zeta: 20.0,
                bore_m: 0.0136,
            };
            parts.push(Part {
                group: PartGroup::Fittings,
                words: "more".into(),
                symbol: String::new(),
                count: 1,
                law: zeta,
                source: String::new(),
                span: None,
            });
        }
        let Some(after) = obeys(&b)? else {
            return Ok(());
        };
        let e = id.index();
        prop_assert!(
            after.flow_kg_s[e].abs()
                <= before.flow_kg_s[e].abs() + 1e-10 * largest(&before.flow_kg_s)
        );
        Ok(())
    });
}

// ------------------------------------------------------------ named corners

fn fixed(elements: Value) -> Network {
    let list = elements.as_array().expect("a list");
    let mut names: Vec<&str> = list
        .iter()
        .flat_map(|e| [e["from"].as_str(), e["to"].as_str()])
        .flatten()
        .collect();
    names.sort_unstable();
    names.dedup();
    let nodes: Vec<Value> = names.iter().map(|n| json!({"id": n})).collect();
    network(
        &json!({"id": "corner", "fluid": {"rho_kg_m3": 988.1, "mu_pa_s": 5.47e-4, "cp_j_kgk": 4181.0},
        "reference_node": "r", "nodes": nodes, "elements": list}),
    )
}

fn pump_and_source() -> Vec<Value> {
    vec![
        json!({"id": "source", "type": "resistance", "from": "r", "to": "p", "dp_ref_pa": 9000.0, "q_ref_m3h": 1.0, "thermal": {"kind": "source", "flow_c": 50.0}}),
        json!({"id": "pump", "type": "pump", "from": "p", "to": "s", "speed": 1.0, "curve": {"kind": "quadratic", "a_pa": 40000.0, "b_pa_per_m3h": 0.0, "c_pa_per_m3h2": -9000.0}}),
    ]
}

fn pipe(id: &str, from: &str, to: &str, bore: f64, length: f64) -> Value {
    json!({"id": id, "type": "pipe", "from": from, "to": to, "length_m": length, "bore_m": bore, "roughness_m": 1.5e-6, "zeta": 2.0})
}

fn rad(id: &str, from: &str, to: &str, kv: f64) -> Value {
    json!({"id": id, "type": "valve", "from": from, "to": to, "kv_m3h": kv, "open": true, "thermal": {"kind": "emitter", "q_n_w": 2000.0, "n": 1.3, "room_c": 20.0}})
}

fn with(more: Vec<Value>) -> Network {
    let mut list = pump_and_source();
    list.extend(more);
    fixed(Value::from(list))
}

fn flow(network: &Network, state: &State, name: &str) -> f64 {
    let id = network
        .element_ids()
        .find(|&id| network.element(id).name == name)
        .expect("named");
    state.flow_kg_s[id.index()]
}

/// Made once by [`recipe`].
#[rustfmt::skip]
const TRICKLE: [u32; 158] = [
    365001649, 635668278, 47860204, 2550035123, 3185969894, 1219794353, 3210763116, 1226441583, 0, 674808520, 0,
    2373120327, 343594222, 329569888, 1607543023, 0, 45824488, 184209955, 976505359, 19316708, 2921251386,
    422078652, 637774595, 674798663, 1064293422, 39660863, 0, 189271476, 1871925354, 0, 165864007, 1661505496,
    1599770131, 738103542, 471960119, 587831165, 0, 68016054, 389830890, 711639686, 243070837, 0, 854345803,
    825374234, 3155516137, 134352168, 3028253350, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 298720075, 285171369,
    718763702, 466278331, 0, 1385532525, 785572666, 264222764, 318602647, 0, 0, 0, 0, 0, 0, 0, 0, 0, 986670719, 0,
    187370424, 1135674353, 1928898061, 1646868643, 0, 1665699751, 937198788, 1824393790, 907886279, 54443837,
    53805196, 1958882994, 692741515, 0, 2838252834, 2595486069, 216271500, 2463564313, 0, 30924561, 1640965385,
    1394873639, 1687055897, 819680093, 1299444548, 3594132068, 1052286671, 578213695, 0, 93282834, 375970773,
    1116238836, 1662257341, 0, 2648877061, 1322933622, 1328874732, 120859963, 0, 17363576, 2636883500, 0, 511452638,
    2673048342, 390566134, 1933250690, 813254245, 1299050903, 0, 746889230, 1463123248, 1960995938, 82683091, 0, 0,
    0, 0, 78559909, 0, 1452299745, 0, 0, 0, 0, 0, 0, 0, 1338353183, 0, 424438205, 960239771, 2584616553, 1058859302,
    116842161, 0, 1902460864, 2735804902, 1639177726, 1725340771
];

#[test]
fn temperatures_of_a_trickle_need_not_stand_still() {
    let recipe = Recipe {
        choices: TRICKLE.to_vec(),
        passive: false,
    };
    let mut network = network(&case(&recipe));
    network.fluids = vec![FluidData::ByTemperature(Fluid::Water); network.fluids.len()];
    let state = obeys(&network).expect("obeys").expect("moves");
    crate::energy::closes(&network, &state, "trickle").expect("closes");
}

/// Made once by [`recipe`].
#[rustfmt::skip]
const WITHOUT_HEAT: [u32; 33] = [
    1877939116, 919250448, 846776257, 572976818, 2185250438, 773049036, 1082979600, 3400951291, 3169797009,
    611431793, 0, 4532178, 151487215, 673936265, 327073513, 0, 0, 107347530, 418194107, 86, 194149433, 1596682595,
    0, 0, 0, 0, 0, 0, 0, 22750514, 0, 0, 812140470
];

#[test]
fn water_that_comes_back_to_its_source_without_having_given_heat() {
    let recipe = Recipe {
        choices: WITHOUT_HEAT.to_vec(),
        passive: false,
    };
    let mut network = network(&case(&recipe));
    network.fluids = vec![FluidData::ByTemperature(Fluid::Glycol {
        propylene: true,
        percent: 30.0,
    })];
    let state = obeys(&network).expect("obeys").expect("moves");
    crate::energy::closes(&network, &state, "without heat").expect("closes");
}

#[test]
fn zero_flow_in_a_balanced_bridge() {
    // a Wheatstone bridge in balance: nothing flows across, and the slope there is not zero's
    let n = with(vec![
        rad("a", "s", "x", 0.5),
        rad("b", "s", "y", 0.5),
        rad("c", "x", "r", 0.7),
        rad("d", "y", "r", 0.7),
        rad("across", "x", "y", 0.3),
    ]);
    let state = obeys(&n).expect("obeys").expect("moves");
    assert!(flow(&n, &state, "across").abs() < 1e-9 * flow(&n, &state, "pump"));
}

#[test]
fn vessel_of_nearly_no_resistance() {
    let n = with(vec![
        pipe("vessel", "s", "b", 0.6, 1.0),
        pipe("back", "b", "r", 0.0262, 5.0),
        rad("rad", "s", "b", 0.5),
    ]);
    let state = obeys(&n).expect("obeys").expect("moves");
    assert!(flow(&n, &state, "vessel") > 0.99 * flow(&n, &state, "pump"));
}

#[test]
fn bridges_and_dead_ends_stand_still() {
    let n = with(vec![
        rad("rad", "s", "r", 0.5),
        pipe("dead", "s", "end", 0.02, 3.0),
        pipe("deader", "end", "far", 0.02, 3.0),
    ]);
    let state = obeys(&n).expect("obeys").expect("moves");
    assert_eq!(flow(&n, &state, "dead"), 0.0);
    assert_eq!(flow(&n, &state, "deader"), 0.0);
}

#[test]
fn isolated_part_without_a_pump_is_at_rest() {
    let n = with(vec![
        rad("rad", "s", "r", 0.5),
        rad("i", "u", "v", 0.5),
        rad("j", "v", "u", 0.5),
    ]);
    let state = obeys(&n).expect("obeys").expect("moves");
    assert_eq!(flow(&n, &state, "i"), 0.0);
    assert_eq!(state.pressure_pa.iter().filter(|p| p.is_none()).count(), 2);
}

#[test]
fn a_shut_pump_and_a_shut_house_are_refused() {
    let mut n = with(vec![rad("rad", "s", "r", 0.5)]);
    let mut setting = Setting::of(&n, &n.states[0]);
    setting.stopped[0] = true;
    assert_eq!(solve(&n, &setting).err(), Some(SolveError::NothingMoves));
    n.graph[ElementId::new(2)].open = false;
    assert_eq!(answer(&n).err(), Some(SolveError::NothingMoves));
}

#[test]
fn held_flows_add_up_and_impossible_ones_are_refused() {
    let n = with(vec![
        pipe("out", "s", "t", 0.02, 4.0),
        rad("a", "t", "r", 0.5),
        rad("b", "t", "r", 0.9),
    ]);
    let mut setting = Setting::of(&n, &n.states[0]);
    setting.stopped[0] = true;
    setting.held_kg_s[3] = Some(0.02);
    setting.held_kg_s[4] = Some(0.03);
    let state = solve(&n, &setting).expect("solves");
    assert!((flow(&n, &state, "pump") - 0.05).abs() < 1e-15);
    setting.shut[2] = true;
    assert!(matches!(
        solve(&n, &setting),
        Err(SolveError::HeldFlowImpossible { .. })
    ));
}

#[test]
fn a_flow_holder_holds_and_a_pump_slows_down_to_its_flow() {
    let mut n = with(vec![rad("a", "s", "r", 0.5), rad("b", "s", "r", 0.9)]);
    n.graph[ElementId::new(3)].law = Law::HoldFlow {
        flow_kg_s: 0.05,
        kv_m3h: 2.0,
    };
    let mut setting = Setting::of(&n, &n.states[0]);
    let state = solve(&n, &setting).expect("solves");
    assert!((flow(&n, &state, "b") - 0.05).abs() < 1e-12);
    setting.control[0] = PumpControl::HeldToFlow(0.03);
    let state = solve(&n, &setting).expect("solves");
    assert!((flow(&n, &state, "pump") - 0.03).abs() < 1e-12);
    assert!(state.pumps[0].speed < 1.0 && !state.pumps[0].limited);
    setting.control[0] = PumpControl::HeldToFlow(30.0);
    let state = solve(&n, &setting).expect("solves");
    assert!(
        state.pumps[0].limited && state.pumps[0].speed == 1.0,
        "a demand beyond the curve is a finding, not an error"
    );
}

#[test]
fn constant_and_proportional_head() {
    let n = with(vec![rad("a", "s", "r", 0.5)]);
    let mut setting = Setting::of(&n, &n.states[0]);
    setting.control[0] = PumpControl::ConstantHead(15_000.0);
    let state = solve(&n, &setting).expect("solves");
    assert!((state.pumps[0].head_pa - 15_000.0).abs() < 1e-6);
    setting.control[0] = PumpControl::ProportionalHead {
        head_pa: 20_000.0,
        at_m3h: 1.0,
    };
    let state = solve(&n, &setting).expect("solves");
    let q = state.pumps[0].flow_m3_s * 3600.0;
    assert!(
        (state.pumps[0].head_pa - 20_000.0 * (0.5 + 0.5 * q)).abs() < 1e-6,
        "{:?}",
        state.pumps[0]
    );
}

#[test]
fn source_at_its_limit_lets_its_temperature_fall() {
    let n = with(vec![rad("a", "s", "r", 1.5)]);
    let mut setting = Setting::of(&n, &n.states[0]);
    let free = solve(&n, &setting).expect("solves").sources[0];
    setting.sources[0].output_w = Some(0.6 * free.output_w);
    let held = solve(&n, &setting).expect("solves").sources[0];
    assert!((held.output_w - 0.6 * free.output_w).abs() < 1e-9 * free.output_w);
    assert!(held.flow_c < free.flow_c);
}

#[test]
fn a_tee_joins_losses_by_the_split() {
    let mut n = with(vec![
        pipe("main", "s", "t", 0.0202, 4.0),
        pipe("on", "t", "u", 0.0202, 4.0),
        rad("a", "t", "r", 0.9),
        rad("b", "u", "r", 0.9),
    ]);
    let without = answer(&n).expect("solves");
    n.tees.push(pipecarry::network::Tee {
        place: n
            .place_ids()
            .find(|&p| n.graph[p].name == "t")
            .unwrap_or_default(),
        straight: (ElementId::new(2), ElementId::new(3)),
        branch: ElementId::new(4),
        bores_m: (0.0202, 0.0202, 0.0202),
        bull_head: false,
    });
    let state = answer(&n).expect("solves");
    assert!(state.flow_kg_s[4] < without.flow_kg_s[4]);
    // the branch bears what the table gives at this split
    let (total, share) = (state.flow_kg_s[2], state.flow_kg_s[4] / state.flow_kg_s[2]);
    let zeta = pipecarry::hydraulics::tee::zeta(share)[0];
    let area = pipecarry::hydraulics::friction::area_m2(0.0202);
    let want = zeta * total * total / (2.0 * 988.1 * area * area);
    assert!(
        (state.tee_dp_pa[4] - want).abs() < 1e-9 * want,
        "{} {want}",
        state.tee_dp_pa[4]
    );
    for id in n.element_ids() {
        let (a, b) = n.ends(id);
        let (a, b) = (
            state.pressure_pa[a.index()].expect("joined"),
            state.pressure_pa[b.index()].expect("joined"),
        );
        assert!((a - b - state.dp_pa[id.index()].expect("known")).abs() < 1e-6);
    }
}

#[test]
fn an_exchanger_couples_two_circuits() {
    let far_pump = json!([{"id": "far pump", "type": "pump", "from": "x", "to": "v", "speed": 1.0, "curve": {"kind": "quadratic", "a_pa": 20000.0, "b_pa_per_m3h": 0.0, "c_pa_per_m3h2": -9000.0}}]);
    let mut list = pump_and_source();
    list.extend([
        pipe("near", "s", "r", 0.0202, 4.0),
        pipe("far", "v", "w", 0.0202, 4.0),
        rad("rad", "w", "x", 0.8),
    ]);
    list.extend(far_pump.as_array().expect("a list").clone());
    let mut n = fixed(Value::from(list));
    n.exchangers.push(pipecarry::network::Exchanger {
        name: "plate".into(),
        near: ElementId::new(2),
        far: ElementId::new(3),
        ua_w_k: 1500.0,
        pump: None,
    });
    n.graph[ElementId::new(2)].heat = Heat::Exchanger(0, true);
    n.graph[ElementId::new(3)].heat = Heat::Exchanger(0, false);
    let state = answer(&n).expect("solves");
    let (near, far) = (state.heat_w[2], state.heat_w[3]);
    assert!(
        near > 100.0 && (near + far).abs() < 1e-9 * near,
        "{near} {far}"
    );
    assert!((state.sources[0].output_w - near).abs() < 1e-9 * near);
}

/// More loops than loop space is for (400), so that the sparse iteration alone has to close them: a mesh of streets with
/// some of nearly no resistance, fed at one corner. That every law holds at the end is the whole of a solution.
#[test]
fn a_mesh_of_more_loops_than_loop_space_takes() {
    let n = 23;
    let name = |i: usize, j: usize| match (i, j) {
        (0, 0) => "s".to_owned(),
        (i, j) if i == n - 1 && j == n - 1 => "r".to_owned(),
        _ => format!("{i}/{j}"),
    };
    let mut streets = Vec::new();
    for i in 0..n {
        for j in 0..n {
            let here = name(i, j);
            // bores and lengths vary, so that no two loops are alike
            let kind = (7 * i + 11 * j) % 5;
            let bore = [0.0136, 0.0202, 0.0326, 0.0545, 0.2][kind];
            let length = 3.0 + ((5 * i + 3 * j) % 17) as f64;
            if i + 1 < n {
                streets.push(pipe(
                    &format!("d{i}/{j}"),
                    &here,
                    &name(i + 1, j),
                    bore,
                    length,
                ));
            }
            if j + 1 < n {
                streets.push(pipe(
                    &format!("e{i}/{j}"),
                    &here,
                    &name(i, j + 1),
                    bore,
                    length,
                ));
            }
        }
    }
    let loops = streets.len() + 1 - n * n;
    assert!(loops > 400, "{loops}");
    let network = with(streets);
    let state = obeys(&network).expect("obeys").expect("moves");
    assert!(flow(&network, &state, "pump") > 0.01);
}
