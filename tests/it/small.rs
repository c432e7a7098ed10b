//! Small networks put together by hand, through the public loader of reference cases, for tests of views and checks.

use pipecarry::network::{
    ElementId, HeatLaw, Law, Network, PartGroup, PumpControl, Role, Run, RunKind, reference,
};
use serde_json::{Value, json};

/// Water of the worked stories: 40 °C throughout, given outright.
pub const RHO: f64 = 992.2;
/// J/(kg K).
pub const CP: f64 = 4179.0;
/// Pa s.
pub const MU: f64 = 0.653e-3;

/// A network in the making.
#[derive(Default)]
pub struct Small {
    nodes: Vec<String>,
    elements: Vec<Value>,
    duties: Vec<(f64, f64)>,
}

impl Small {
    fn add(&mut self, from: &str, to: &str, mut element: Value) -> &mut Self {
        for place in [from, to] {
            if !self.nodes.iter().any(|n| n == place) {
                self.nodes.push(place.to_owned());
            }
        }
        element["from"] = json!(from);
        element["to"] = json!(to);
        self.elements.push(element);
        self
    }

    /// Copper pipe of the stories (1.5 µm): length and bore in m.
    pub fn pipe(
        &mut self,
        id: &str,
        ends: [&str; 2],
        length_m: f64,
        bore_m: f64,
        zeta: f64,
    ) -> &mut Self {
        let pipe = json!({"id": id, "type": "pipe", "length_m": length_m, "bore_m": bore_m,
            "roughness_m": 1.5e-6, "zeta": zeta});
        self.add(ends[0], ends[1], pipe)
    }

    /// A valve by its kv.
    pub fn valve(&mut self, id: &str, ends: [&str; 2], kv_m3h: f64) -> &mut Self {
        self.add(
            ends[0],
            ends[1],
            json!({"id": id, "type": "valve", "kv_m3h": kv_m3h, "open": true}),
        )
    }

    /// A source whose own water side loses `dp_pa` at 1 m³/h with the square of the flow.
    pub fn source(&mut self, id: &str, ends: [&str; 2], flow_c: f64, dp_pa: f64) -> &mut Self {
        let source = json!({"id": id, "type": "resistance", "dp_ref_pa": dp_pa, "q_ref_m3h": 1.0,
            "exponent": 2.0, "thermal": {"kind": "source", "flow_c": flow_c}});
        self.add(ends[0], ends[1], source)
    }

    /// A pump by points (m³/h, Pa).
    pub fn pump(&mut self, id: &str, ends: [&str; 2], points: &[(f64, f64)]) -> &mut Self {
        let points: Vec<_> = points.iter().map(|(q, h)| json!([q, h])).collect();
        let pump = json!({"id": id, "type": "pump", "speed": 1.0, "curve": {"kind": "table", "points": points}});
        self.add(ends[0], ends[1], pump)
    }

    /// A pump by coefficients, Pa and m³/h.
    pub fn pump_quadratic(&mut self, id: &str, ends: [&str; 2], a: f64, c: f64) -> &mut Self {
        let curve =
            json!({"kind": "quadratic", "a_pa": a, "b_pa_per_m3h": 0.0, "c_pa_per_m3h2": c});
        self.add(
            ends[0],
            ends[1],
            json!({"id": id, "type": "pump", "speed": 1.0, "curve": curve}),
        )
    }

    /// A radiator without loss: output at 50 K, exponent 1.3, in a room at `room_c`; its duty in W at a drop in K.
    pub fn radiator(
        &mut self,
        id: &str,
        ends: [&str; 2],
        p50_w: f64,
        room_c: f64,
        duty: (f64, f64),
    ) -> &mut Self {
        let emitter = json!({"id": id, "type": "resistance", "dp_ref_pa": 0.0, "q_ref_m3h": 1.0, "exponent": 2.0,
            "thermal": {"kind": "emitter", "q_n_w": p50_w, "n": 1.3, "room_c": room_c}});
        self.duties.push(duty);
        self.add(ends[0], ends[1], emitter)
    }

    /// The network: every pipe a run, sources joined to the pump that begins where they end.
    pub fn network(&self) -> Network {
        let nodes: Vec<_> = self.nodes.iter().map(|n| json!({"id": n})).collect();
        let case = json!({"id": "small", "fluid": {"rho_kg_m3": RHO, "mu_pa_s": MU, "cp_j_kgk": CP},
            "reference_node": self.nodes[0], "reference_pressure_pa": 0.0,
            "nodes": nodes, "elements": self.elements});
        let mut network =
            reference::load(&case.to_string()).expect("the builder writes what the loader reads");
        for (i, duty) in self.duties.iter().enumerate() {
            (network.emitters[i].duty_w, network.emitters[i].drop_k) = *duty;
            network.rooms[i].needs_w = Some(duty.0);
        }
        network.reference_case = false;
        // runs and vessels are this builder's own, not the loader's reading of a case
        network.runs.clear();
        network.vessels.clear();
        for id in network.element_ids() {
            if let Law::Parts(parts) = &network.element(id).law
                && parts[0].group == PartGroup::Pipe
            {
                let run = run(&network, id, network.runs.len());
                network.graph[id].role = Role::Pipe;
                network.graph[id].run = Some(network.runs.len());
                network.runs.push(run);
            }
        }
        for s in 0..network.sources.len() {
            let body = network.sources[s].body;
            if let Law::Parts(parts) = &mut network.graph[body].law {
                parts[0].group = PartGroup::Source;
            }
            let end = network.ends(body).1;
            let pump = network
                .pumps
                .iter()
                .position(|p| network.ends(p.element).0 == end);
            network.sources[s].pump = pump;
            if let Some(pump) = pump {
                network.pumps[pump].source = Some(s);
                network.pumps[pump].mode_given = false;
                network.pumps[pump].mode = PumpControl::FixedSpeed(1.0);
                network.sources[s].free_head = Some(true);
            }
        }
        network
    }
}

fn run(network: &Network, id: ElementId, index: usize) -> Run {
    let element = network.element(id);
    let Law::Parts(parts) = &element.law else {
        unreachable!("only pipes become runs")
    };
    let pipecarry::network::PartLaw::Friction {
        length_m, bore_m, ..
    } = parts[0].law
    else {
        unreachable!("a pipe's first part is its friction")
    };
    let (from, to) = network.ends(id);
    Run {
        name: element.name.clone(),
        tag: format!("P{index}"),
        side: None,
        kind: RunKind::Pair,
        elements: vec![id],
        from,
        to,
        partner: None,
        pipe: format!("bore {} mm", 1000.0 * bore_m),
        size: format!("{} mm bore", 1000.0 * bore_m),
        outside_m: None,
        bore_m,
        length_m,
        material: "copper".to_owned(),
        lies: None,
        storey: None,
        doubts: Vec::new(),
        span: None,
    }
}

/// The element of a name.
pub fn element(network: &Network, name: &str) -> ElementId {
    let found = network
        .element_ids()
        .find(|id| network.element(*id).name == name);
    found.unwrap_or_else(|| panic!("no element {name}"))
}

/// Gives an emitter another mean, on its own base at 75/65/20.
pub fn arithmetic(network: &mut Network) {
    for emitter in &mut network.emitters {
        if let HeatLaw::Rated { mean, .. } = &mut emitter.law {
            *mean = pipecarry::survey::Mean::Arithmetic;
        }
    }
}
