//! Worked examples from textbooks and papers, each through the laws and the solver that houses use. The grade of evidence
//! stands beside each value; grades C and D are not called published.

#![allow(clippy::print_stdout)] // counts and grades are part of the answer

use crate::reference_data::{self, Folder};

use pipecarry::hydraulics::{friction, heat, local, pump};
use pipecarry::network::{HeatLaw, PumpCurve, reference};
use pipecarry::solve::{Setting, State, solve};
use pipecarry::survey::Mean;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use toml::Table;

/// A little network of resistances, pipes, reservoirs (pressures above a common ground) and demands.
struct Rig {
    rho: f64,
    mu: f64,
    elements: Vec<Value>,
    nodes: Vec<String>,
    held: Vec<(String, f64)>,
}

struct Solved {
    flow_m3_s: BTreeMap<String, f64>,
    dp_pa: BTreeMap<String, f64>,
    pressure_pa: BTreeMap<String, f64>,
}

impl Rig {
    fn new(rho: f64, mu: f64) -> Self {
        Self {
            rho,
            mu,
            elements: Vec::new(),
            nodes: vec!["ground".into()],
            held: Vec::new(),
        }
    }

    fn add(&mut self, id: &str, a: &str, b: &str, mut keys: Value) {
        for n in [a, b] {
            if !self.nodes.iter().any(|x| x == n) {
                self.nodes.push(n.into());
            }
        }
        keys["id"] = json!(id);
        keys["from"] = json!(a);
        keys["to"] = json!(b);
        self.elements.push(keys);
    }

    /// Pa per (m³/s)².
    fn square(&mut self, id: &str, a: &str, b: &str, k: f64) {
        self.add(
            id,
            a,
            b,
            json!({"type": "resistance", "dp_ref_pa": k, "q_ref_m3h": 3600.0, "exponent": 2.0}),
        );
    }

    fn pipe(&mut self, id: &str, a: &str, b: &str, length: f64, bore: f64, roughness: f64) {
        self.add(id, a, b, json!({"type": "pipe", "length_m": length, "bore_m": bore, "roughness_m": roughness, "zeta": 0.0}));
    }

    /// Pressure added from `a` to `b`: p0 + p1·Q + p2·Q², Q in m³/s.
    fn adds(&mut self, id: &str, a: &str, b: &str, p: [f64; 3]) {
        let curve = json!({"kind": "quadratic", "a_pa": p[0], "b_pa_per_m3h": p[1] / 3600.0, "c_pa_per_m3h2": p[2] / 3600.0 / 3600.0});
        self.add(
            id,
            a,
            b,
            json!({"type": "pump", "speed": 1.0, "curve": curve}),
        );
    }

    /// A node that receives `flow` m³/s from outside.
    fn inflow(&mut self, node: &str, flow: f64) {
        let id = format!("inflow {node}");
        self.square(&id, "ground", node, 1.0);
        self.held.push((id, flow));
    }

    fn solve(self) -> Solved {
        let nodes: Vec<Value> = self.nodes.iter().map(|n| json!({"id": n})).collect();
        let fluid = json!({"rho_kg_m3": self.rho, "mu_pa_s": self.mu, "cp_j_kgk": 4180.0});
        let case = json!({"id": "rig", "fluid": fluid, "reference_node": "ground", "nodes": nodes, "elements": self.elements});
        let network = reference::load(&case.to_string()).expect("a case");
        let mut setting = Setting::of(&network, &network.states[0]);
        setting.heat = false;
        for (name, flow) in &self.held {
            let id = network
                .element_ids()
                .find(|&id| network.element(id).name == *name)
                .expect("held");
            setting.held_kg_s[id.index()] = Some(flow * self.rho);
        }
        let state: State = solve(&network, &setting).expect("solves");
        let name = |id| network.element(id).name.clone();
        Solved {
            flow_m3_s: network
                .element_ids()
                .map(|id| (name(id), state.flow_kg_s[id.index()] / self.rho))
                .collect(),
            dp_pa: network
                .element_ids()
                .map(|id| (name(id), state.dp_pa[id.index()].unwrap_or(f64::NAN)))
                .collect(),
            pressure_pa: network
                .place_ids()
                .map(|id| {
                    (
                        network.graph[id].name.clone(),
                        state.pressure_pa[id.index()].unwrap_or(f64::NAN),
                    )
                })
                .collect(),
        }
    }
}

struct Inputs<'a>(&'a Table);

impl Inputs<'_> {
    fn number(&self, key: &str) -> Option<f64> {
        self.0
            .get(key)
            .and_then(|v| v.as_float().or_else(|| v.as_integer().map(|i| i as f64)))
    }
    fn list(&self, key: &str) -> Option<Vec<f64>> {
        match self.0.get(key)? {
            toml::Value::Array(list) => list.iter().map(toml::Value::as_float).collect(),
            other => other.as_float().map(|x| vec![x]),
        }
    }
    fn words(&self, key: &str) -> Option<Vec<String>> {
        self.0
            .get(key)?
            .as_array()?
            .iter()
            .map(|v| v.as_str().map(str::to_owned))
            .collect()
    }
    fn g(&self) -> f64 {
        self.number("gravity_m_s2").unwrap_or(9.81)
    }
    fn rho(&self) -> f64 {
        self.number("density_kg_m3").unwrap_or(1000.0)
    }
    fn mu(&self) -> Option<f64> {
        let kinematic = || {
            self.number("kinematic_viscosity_m2_s")
                .map(|nu| nu * self.rho())
        };
        self.number("dynamic_viscosity_pa_s").or_else(kinematic)
    }
}

type Answers = BTreeMap<String, f64>;

/// Quantities that the program gives for an example; `None` if its kind and keys are not known.
fn answers(kind: &str, table: &Table) -> Option<Answers> {
    let i = Inputs(table);
    match kind {
        "single-pipe" => single_pipe(&i),
        "series-parallel" => series_parallel(&i),
        "network" => network(&i),
        "pump" => pumps(&i),
        "emitter" => emitter(&i),
        "valve" => valve(&i),
        "buffer" => buffer(&i),
        "friction-table" => {
            let rough = i.number("relative_roughness")?;
            let f = |re: &f64| (format!("f_darcy_re_{re:e}"), friction::factor(*re, rough).0);
            Some(i.list("reynolds")?.iter().map(f).collect())
        }
        "heating-circuit" => {
            let drop = i.number("flow_temperature_c")? - i.number("return_temperature_c")?;
            let per_w = i.number("pipe_loss_factor")? / (i.number("heat_capacity_j_kg_k")? * drop);
            let flows: Vec<f64> = i
                .list("radiator_output_w")?
                .iter()
                .map(|w| w * per_w)
                .collect();
            let mut a: Answers = flows
                .iter()
                .enumerate()
                .map(|(k, f)| (format!("mass_flow_{}_kg_s", k + 1), *f))
                .collect();
            a.insert("pump_mass_flow_kg_s".into(), flows.iter().sum());
            a.insert(
                "pump_pressure_rise_pa".into(),
                i.number("pump_head_m")? * i.number("water_weight_n_m3")?,
            );
            let length =
                2.0 * i.number("index_length_one_way_m")? * (1.0 + i.number("fittings_share")?);
            a.insert("equivalent_length_m".into(), length);
            Some(a)
        }
        _ => None,
    }
}

fn single_pipe(i: &Inputs) -> Option<Answers> {
    let (q, length, d) = (
        i.number("flow_m3_s")?,
        i.number("length_m")?,
        i.number("diameter_m")?,
    );
    let rough = i.number("roughness_m").unwrap_or(0.0);
    let v = q / friction::area_m2(d);
    let mut a = Answers::new();
    if let (Some(rho), Some(mu)) = (
        i.number("glycerine_density_kg_m3"),
        i.number("glycerine_dynamic_viscosity_pa_s"),
    ) {
        let head = |rho: f64, mu: f64| {
            friction::loss(length, d, rough, rho, mu, q * rho).0 / (rho * i.g())
        };
        a.insert("head_loss_glycerine_m".into(), head(rho, mu));
        let rho = i.number("water_density_kg_m3")?;
        let mu = i.number("water_kinematic_viscosity_m2_s")? * rho;
        a.insert("head_loss_water_m".into(), head(rho, mu));
        a.insert(
            "friction_factor_water_darcy".into(),
            friction::factor(friction::reynolds(q * rho, d, mu), rough / d).0,
        );
        return Some(a);
    }
    let (rho, g) = (i.rho(), i.g());
    let dynamic = rho * v * v / 2.0;
    let k = i.number("k_elbow_each").unwrap_or(0.0) * i.number("n_elbows").unwrap_or(0.0)
        + [
            "k_entrance",
            "k_gate_valve",
            "k_exit",
            "k_globe_valve",
            "k_faucet",
        ]
        .iter()
        .filter_map(|k| i.number(k))
        .sum::<f64>();
    let local = local::zeta(k, d, rho, q * rho).0;
    let dp = match i.number("friction_factor_darcy") {
        Some(f) => f * length / d * dynamic,
        None => {
            let re = friction::reynolds(q * rho, d, i.mu()?);
            a.insert("reynolds".into(), re);
            a.insert(
                "friction_factor_darcy".into(),
                friction::factor(re, rough / d).0,
            );
            friction::loss(length, d, rough, rho, i.mu()?, q * rho).0
        }
    };
    let head = (dp + local) / (rho * g);
    a.insert("velocity_m_s".into(), v);
    a.insert("pressure_drop_pa".into(), dp);
    a.insert("pressure_drop_friction_pa".into(), dp);
    a.insert("head_loss_m".into(), head);
    a.insert("level_difference_m".into(), head);
    a.insert("hydraulic_power_w".into(), dp * q);
    if let Some(level) = i.number("lower_level_m") {
        a.insert("upper_level_m".into(), level + head);
    }
    if let Some(slope) = i.number("slope_down_deg") {
        a.insert(
            "pressure_drop_down_slope_pa".into(),
            dp - rho * g * length * slope.to_radians().sin(),
        );
    }
    if let (Some(rise), Some(outlet)) = (i.number("rise_m"), i.number("outlet_diameter_m")) {
        let out = q / friction::area_m2(outlet);
        let none = rho * g * rise + rho * (out * out - v * v) / 2.0;
        a.insert("inlet_pressure_no_loss_pa".into(), none);
        a.insert("inlet_pressure_friction_only_pa".into(), none + dp);
        a.insert("inlet_pressure_all_losses_pa".into(), none + dp + local);
    }
    Some(a)
}

fn series_parallel(i: &Inputs) -> Option<Answers> {
    let (rho, g) = (i.rho(), i.g());
    let mut a = Answers::new();
    if let Some(levels) = i.list("reservoir_levels_m") {
        let by_pipe = |k: usize| -> Option<f64> {
            if let Some(r) = i.list("resistance_s2_m5") {
                return Some(r[k] * rho * g);
            }
            let (d, f) = (i.number("diameter_m")?, i.number("friction_factor_darcy")?);
            Some(f * i.list("length_m")?[k] / d * rho / (2.0 * friction::area_m2(d).powi(2)))
        };
        let mut rig = Rig::new(rho, 1e-3);
        for (k, level) in levels.iter().enumerate() {
            rig.adds(
                &format!("level {k}"),
                "ground",
                &format!("r{k}"),
                [level * rho * g, 0.0, 0.0],
            );
            rig.square(&format!("{k}"), &format!("r{k}"), "junction", by_pipe(k)?);
        }
        let s = rig.solve();
        let flow = |k: usize| s.flow_m3_s[&k.to_string()].abs();
        a.insert(
            "junction_head_m".into(),
            s.pressure_pa["junction"] / (rho * g),
        );
        for (k, letter) in ["from_a", "to_b", "to_c"].iter().enumerate() {
            a.insert(format!("flow_{}_m3_s", k + 1), flow(k));
            a.insert(format!("flow_{letter}_m3_s"), flow(k));
        }
        return Some(a);
    }
    let (lengths, bores) = (i.list("length_m")?, i.list("diameter_m")?);
    if let Some(power) = i.number("electric_power_w") {
        let useful = power * i.number("efficiency")?;
        let lift = i.number("upper_level_m")? - i.number("lower_level_m")?;
        let at = |q: f64| {
            let mut rig = Rig::new(rho, i.mu().unwrap_or(1e-3));
            for k in 0..2 {
                rig.pipe(
                    &format!("{}", k + 1),
                    "a",
                    "ground",
                    lengths[k],
                    bores[k],
                    i.number("roughness_m").unwrap_or(0.0),
                );
            }
            rig.inflow("a", q);
            rig.solve()
        };
        let (mut low, mut high) = (1e-4, 1.0);
        for _ in 0..60 {
            let q = 0.5 * (low + high);
            let head = lift + at(q).pressure_pa["a"] / (rho * g);
            if head * rho * g * q < useful {
                low = q
            } else {
                high = q
            }
        }
        let s = at(low);
        let loss = s.pressure_pa["a"] / (rho * g);
        a.insert("flow_total_m3_s".into(), low);
        a.insert("flow_1_m3_s".into(), s.flow_m3_s["1"]);
        a.insert("flow_2_m3_s".into(), s.flow_m3_s["2"]);
        a.insert("head_loss_m".into(), loss);
        a.insert("pump_head_m".into(), lift + loss);
        return Some(a);
    }
    if let Some(head) = i.number("head_difference_m") {
        let (f, k) = (
            i.number("friction_factor_darcy")?,
            i.number("k_total_each")?,
        );
        let mut rig = Rig::new(rho, 1e-3);
        rig.adds("level", "ground", "a", [head * rho * g, 0.0, 0.0]);
        for n in 0..2 {
            let square =
                (f * lengths[n] / bores[n] + k) * rho / (2.0 * friction::area_m2(bores[n]).powi(2));
            rig.square(&format!("{}", n + 1), "a", "ground", square);
        }
        let s = rig.solve();
        a.insert("flow_1_m3_s".into(), s.flow_m3_s["1"]);
        a.insert("flow_2_m3_s".into(), s.flow_m3_s["2"]);
        a.insert(
            "flow_total_m3_s".into(),
            s.flow_m3_s["1"] + s.flow_m3_s["2"],
        );
        return Some(a);
    }
    let head = i.number("pressure_difference_pa")? / (rho * g) + i.number("elevation_drop_m")?;
    let rough = i.list("roughness_m")?;
    let mut rig = Rig::new(rho, i.mu()?);
    rig.adds("drive", "ground", "n0", [head * rho * g, 0.0, 0.0]);
    for k in 0..lengths.len() {
        let to = if k + 1 == lengths.len() {
            "ground".into()
        } else {
            format!("n{}", k + 1)
        };
        rig.pipe(
            &format!("{k}"),
            &format!("n{k}"),
            &to,
            lengths[k],
            bores[k],
            rough[k],
        );
    }
    let s = rig.solve();
    a.insert("flow_m3_s".into(), s.flow_m3_s["0"]);
    let lost: f64 = (0..lengths.len()).map(|k| s.dp_pa[&k.to_string()]).sum();
    a.insert("total_head_loss_m".into(), lost / (rho * g));
    Some(a)
}

fn network(i: &Inputs) -> Option<Answers> {
    let (pipes, from, to) = (
        i.words("pipes")?,
        i.words("from_node")?,
        i.words("to_node")?,
    );
    let rho = i.rho();
    let mut rig = Rig::new(rho, i.mu().unwrap_or(1e-3));
    // heads count in Pa times this
    let pa = if i.0.contains_key("resistance_pa_s2_m6") {
        1.0
    } else {
        1e4
    };
    for k in 0..pipes.len() {
        let r = [
            "resistance_per_flow2",
            "resistance_s2_m5",
            "resistance_pa_s2_m6",
        ]
        .iter()
        .find_map(|key| i.list(key));
        match r {
            Some(r) => rig.square(&pipes[k], &from[k], &to[k], r[k] * pa),
            None => {
                let bore = i.list("diameter_m")?[k];
                rig.pipe(
                    &pipes[k],
                    &from[k],
                    &to[k],
                    i.list("length_m")?[k],
                    bore,
                    i.number("roughness_m")?,
                );
            }
        }
    }
    let mut free = None;
    for (key, value) in i.0 {
        let Some(x) = value.as_float() else { continue };
        let node = |prefix: &str| {
            let rest = key.strip_prefix(prefix)?;
            Some(rest.split('_').next()?.to_uppercase())
        };
        if let Some(n) = node("node_inflow_") {
            // what comes in last is what the others leave: the ground closes the balance there
            if free.is_none() {
                free = Some(n.clone());
                rig.square(&format!("free {n}"), "ground", &n, 1.0);
            } else {
                rig.inflow(&n, x);
            }
        } else if let Some(n) = node("demand_").or_else(|| node("node_outflow_")) {
            rig.inflow(&n, -x);
        } else if let Some(n) = node("fixed_head_") {
            rig.adds(&format!("head {n}"), "ground", &n, [x * pa, 0.0, 0.0]);
        }
    }
    let s = rig.solve();
    let mut a = Answers::new();
    for p in &pipes {
        for unit in ["", "_m3_s"] {
            a.insert(
                format!("flow_{}{unit}", p.to_lowercase()),
                s.flow_m3_s[p].abs(),
            );
        }
        a.insert(format!("dp_{}_pa", p.to_lowercase()), s.dp_pa[p].abs());
    }
    Some(a)
}

fn pumps(i: &Inputs) -> Option<Answers> {
    let (rho, g) = (1000.0, i.g());
    let m = rho * g;
    let mut a = Answers::new();
    if let Some(speed) = i.number("speed_2_rpm") {
        let s = speed / i.number("speed_1_rpm")?;
        let (q, h) = (i.number("flow_1_m3_s")? * 3600.0, i.number("head_1_m")?);
        let curve = PumpCurve::Points(vec![(0.0, 1.2 * h), (q, h), (2.0 * q, 0.5 * h)]);
        let head = pump::head(&curve, s, s * q).0;
        a.insert("flow_2_m3_s".into(), s * q / 3600.0);
        a.insert("head_2_m".into(), head);
        a.insert("power_2_w".into(), i.number("power_1_w")? * s * head / h);
        return Some(a);
    }
    let mut rig = Rig::new(rho, 1e-3);
    if let Some(shutoff) = i.number("shutoff_head_m") {
        // Q in l/min
        let per = 60_000.0_f64.powi(2) * m;
        rig.adds(
            "pump",
            "ground",
            "a",
            [
                shutoff * m,
                0.0,
                -i.number("pump_coefficient_m_per_lpm2")? * per,
            ],
        );
        rig.adds(
            "lift",
            "ground",
            "b",
            [i.number("static_head_m")? * m, 0.0, 0.0],
        );
        rig.square(
            "pipe",
            "a",
            "b",
            i.number("system_coefficient_m_per_lpm2")? * per,
        );
    } else if let Some(shutoff) = i.number("pump_shutoff_head_m") {
        rig.adds(
            "pump",
            "ground",
            "a",
            [shutoff * m, 0.0, -i.number("pump_coefficient_s2_m5")? * m],
        );
        rig.adds(
            "lift",
            "ground",
            "b",
            [i.number("static_head_m")? * m, 0.0, 0.0],
        );
        rig.square("pipe", "a", "b", i.number("system_coefficient_s2_m5")? * m);
    } else {
        let curve = [
            i.number("pump_head_a_m")? * m,
            i.number("pump_head_b_s_m2")? * m,
            i.number("pump_head_c_s2_m5")? * m,
        ];
        rig.adds("pump", "ground", "a", curve);
        let (d, f) = (i.number("diameter_m")?, i.number("friction_factor_darcy")?);
        let k = f * i.number("length_m")? / d + i.number("k_orifice")? + i.number("k_exit")?;
        rig.square(
            "pipe",
            "a",
            "ground",
            k * rho / (2.0 * friction::area_m2(d).powi(2)),
        );
    }
    let s = rig.solve();
    let (flow, head) = (s.flow_m3_s["pump"], -s.dp_pa["pump"] / m);
    a.insert("flow_m3_s".into(), flow);
    a.insert("head_m".into(), head);
    a.insert("pump_head_m".into(), head);
    if let Some(d) = i.number("diameter_m") {
        a.insert("velocity_m_s".into(), flow / friction::area_m2(d));
    }
    Some(a)
}

fn emitter(i: &Inputs) -> Option<Answers> {
    if let Some(surface) = i.list("surface_excess_k") {
        return Some(
            surface
                .iter()
                .map(|k| (format!("heat_flux_{k}k_w_m2"), heat::floor_surface_w_m2(*k)))
                .collect(),
        );
    }
    if let Some(excess) = i.list("excess_k") {
        let (base_k, exponent) = (i.number("reference_excess_k")?, i.number("exponent")?);
        let law = HeatLaw::Rated {
            output_w: 1.0,
            base_k,
            exponent,
            mean: Mean::Arithmetic,
        };
        return Some(
            excess
                .iter()
                .map(|k| (format!("factor_{k}k"), heat::output_w(&law, *k)))
                .collect(),
        );
    }
    let room = i.number("room_temperature_c")?;
    let (flow, back) = (
        i.list("flow_temperature_c")?,
        i.list("return_temperature_c")?,
    );
    let pairs = flow.iter().zip(&back);
    Some(
        pairs
            .map(|(f, r)| {
                (
                    format!("log_mean_{f}_{r}_k"),
                    heat::excess(*f, *r, room, Mean::Logarithmic),
                )
            })
            .collect(),
    )
}

fn valve(i: &Inputs) -> Option<Answers> {
    let mut a = Answers::new();
    if let Some(zeta) = i.number("loss_coefficient") {
        // the flow of water of 1000 kg/m³ that loses 1 bar
        let at_one = local::zeta(zeta, i.number("bore_m")?, 1000.0, 1000.0 / 3600.0).0;
        a.insert("kv_m3_h".into(), (1e5 / at_one).sqrt());
        return Some(a);
    }
    let (q, coil) = (i.number("flow_m3_h")?, i.number("coil_pressure_drop_bar")?);
    let across = local::kv(i.number("kvs_chosen_m3_h")?, 1000.0, q * 1000.0 / 3600.0).0 / 1e5;
    a.insert("kv_required_m3_h".into(), q / coil.sqrt());
    a.insert("valve_pressure_drop_bar".into(), across);
    a.insert("authority".into(), across / (across + coil));
    Some(a)
}

/// Water that takes up the least output for the least run.
fn buffer(i: &Inputs) -> Option<Answers> {
    let volume_m3 = pipecarry::shut::water::run_time_m3(
        i.number("source_output_w")?,
        i.number("load_w")?,
        i.number("minimum_run_s")?,
        i.number("temperature_rise_k")?,
        i.number("density_kg_m3")?,
        i.number("heat_capacity_j_kg_k")?,
    );
    Some(BTreeMap::from([("volume_m3".to_owned(), volume_m3)]))
}

#[test]
fn worked_examples_within_their_stated_tolerances() {
    let Some(files) = reference_data::files(Folder::Examples) else {
        return;
    };
    let own = reference_data::root().1;
    let (mut values, mut unknown, mut misses) =
        (BTreeMap::<String, usize>::new(), Vec::new(), Vec::new());
    for (name, text) in &files {
        let file: Table = text
            .parse()
            .unwrap_or_else(|e| panic!("{name}: unreadable: {e}"));
        let word = |key: &str| {
            file.get(key)
                .and_then(|v| v.as_str())
                .unwrap_or("")
                .to_owned()
        };
        let (kind, grade) = (word("kind"), word("evidence_grade"));
        let given = file
            .get("inputs")
            .and_then(|v| v.as_table())
            .and_then(|inputs| answers(&kind, inputs));
        let Some(given) = given else {
            unknown.push(format!("{name} ({kind})"));
            continue;
        };
        for expected in file
            .get("expected")
            .and_then(|v| v.as_array())
            .into_iter()
            .flatten()
        {
            let quantity = expected
                .get("quantity")
                .and_then(|v| v.as_str())
                .unwrap_or("");
            let number = |key: &str| {
                expected
                    .get(key)
                    .and_then(|v| v.as_float().or_else(|| v.as_integer().map(|i| i as f64)))
            };
            let Some(got) = given.get(quantity) else {
                unknown.push(format!("{name}: {quantity}"));
                continue;
            };
            let want = number("published")
                .or_else(|| number("recomputed"))
                .expect("a value");
            let tolerance = number("tolerance_relative").unwrap_or(0.01);
            let off = (got - want).abs() / want.abs();
            if off.is_nan() || off > tolerance {
                misses.push(format!("{name} [{grade}] {quantity}: {got} against {want}, {off:.1e} over {tolerance:.1e}"));
            }
            *values.entry(grade.clone()).or_default() += 1;
        }
    }
    println!(
        "worked examples: {} files; values by grade of evidence: {values:?}",
        files.len()
    );
    unknown.iter().for_each(|u| println!("not understood: {u}"));
    assert!(misses.is_empty(), "{}", misses.join("\n"));
    assert!(!own || unknown.is_empty(), "not understood: {unknown:?}");
}
