//! A house as a reference case, for checking against an outside solver: every loss an element of its own, one constant
//! fluid, no tees by flow split, every pump at full speed, all valves open as far as they go.

use pipecarry::network::{
    Element, FluidData, Heat, HeatLaw, Law, Network, Part, PartGroup, PartLaw, PumpControl,
    PumpCurve, StateKind, expand,
};
use pipecarry::shut::valves::{Closable, closable};
use pipecarry::solve::Setting;
use pipecarry::survey::{self, Mean};
use pipecarry::view::running;
use serde_json::{Value, json};

/// Water of 40 °C after IAPWS-95 at 1.5 bar, as the reference cases have it: kg/m³, Pa s, J/(kg K).
pub const WATER_40: (f64, f64, f64) = (992.237, 6.5300e-4, 4179.5);

/// The house of a file of the repository.
pub fn house(file: &str) -> Network {
    let path = format!("{}/{file}", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).unwrap();
    expand(&survey::read(&text).0.unwrap()).unwrap().0
}

/// Its heating, lockshields as balancing sets them, and what can close.
pub fn heating(network: &Network) -> (Setting, Vec<Closable>) {
    let mut states = network.states.iter();
    let state = states.position(|s| s.kind == StateKind::Heating).unwrap();
    let required = running::heating(network);
    let lockshields = running::lockshields(network, false, required.as_ref());
    let base = running::setting(network, state, &lockshields);
    (base, closable(network, &network.states[state]))
}

/// The house in plain heating, reduced to what the format of the cases has words for.
pub fn plain(network: &Network) -> Network {
    let mut plain = network.clone();
    let (rho_kg_m3, mu_pa_s, cp_j_kgk) = WATER_40;
    for fluid in &mut plain.fluids {
        *fluid = FluidData::Constant {
            rho_kg_m3,
            mu_pa_s,
            cp_j_kgk,
        };
    }
    plain.tees.clear();
    for pump in &mut plain.pumps {
        pump.mode = PumpControl::FixedSpeed(1.0);
    }
    let shut = plain.states[0].shut.clone();
    for id in network.element_ids() {
        let element = &mut plain.graph[id];
        element.open &= !shut.contains(&id);
        if let Law::HoldFlow { kv_m3h, .. } = element.law {
            element.law = Law::Parts(vec![Part {
                group: PartGroup::Valves,
                words: "open".to_owned(),
                symbol: String::new(),
                count: 1,
                law: PartLaw::Kv { kv_m3h },
                source: String::new(),
                span: None,
            }]);
        }
    }
    plain
}

/// The case, or `None` if the house holds something that the format has no word for (a second fluid, a flow holder).
pub fn case(id: &str, network: &Network) -> Option<Value> {
    if network.fluids.len() > 1 || !network.exchangers.is_empty() || network.reference.len() > 1 {
        return None;
    }
    let (rho, mu, cp) = WATER_40;
    let place = |p: pipecarry::network::PlaceId| format!("p{}", p.index());
    let mut nodes: Vec<Value> = network
        .place_ids()
        .map(|p| json!({ "id": place(p) }))
        .collect();
    let mut elements = Vec::new();
    for id in network.element_ids() {
        let element = network.element(id);
        let (from, to) = network.ends(id);
        let pieces: Vec<Value> = match &element.law {
            Law::Parts(parts) => parts.iter().map(part).collect(),
            Law::Pump(curve) => vec![json!({ "type": "pump", "speed": 1.0, "curve": pump(curve) })],
            Law::OneWay { opening_pa, kv_m3h } => {
                vec![json!({ "type": "check_valve", "opening_pa": opening_pa, "kv_m3h": kv_m3h })]
            }
            Law::HoldFlow { .. } => return None,
        };
        // a joint without loss, and a shut element, still need one piece
        let mut pieces = if pieces.is_empty() {
            vec![json!({ "type": "valve", "kv_m3h": 1e4, "open": true })]
        } else {
            pieces
        };
        if !element.open {
            pieces = vec![json!({ "type": "valve", "kv_m3h": 1.0, "open": false })];
        }
        if let Some(thermal) = thermal(network, element) {
            let at = pieces
                .iter()
                .position(|p| p["length_m"].as_f64() > Some(0.0))
                .unwrap_or(0);
            pieces[at]["thermal"] = thermal(pieces[at]["length_m"].as_f64());
            if let Heat::Emitter(i) = element.heat {
                pieces[at]["emitter"] = json!(network.emitters[i].name);
            }
        }
        let last = pieces.len() - 1;
        let mut here = place(from);
        for (i, mut piece) in pieces.into_iter().enumerate() {
            let next = if i == last {
                place(to)
            } else {
                format!("e{}.{i}", id.index())
            };
            if i != last {
                nodes.push(json!({ "id": next }));
            }
            piece["id"] = json!(format!("e{}.{i}", id.index()));
            piece["from"] = json!(here);
            piece["to"] = json!(next);
            elements.push(piece);
            here = next;
        }
    }
    let fixed = |e: &pipecarry::network::Emitter| matches!(e.law, HeatLaw::Fixed(_));
    Some(json!({
        "id": id,
        "mean": if network.design.mean == Mean::Logarithmic { "log" } else { "arithmetic" },
        "heat_comparable": network.sources.len() == 1 && !network.emitters.iter().any(fixed),
        "fluid": { "rho_kg_m3": rho, "mu_pa_s": mu, "cp_j_kgk": cp },
        "reference_node": place(network.reference.first()?.0),
        "reference_pressure_pa": 0.0,
        "nodes": nodes,
        "elements": elements,
    }))
}

/// What the element does to the water, by the length of the piece that does it.
fn thermal(network: &Network, element: &Element) -> Option<impl Fn(Option<f64>) -> Value> {
    let heat = element.heat;
    let words = match heat {
        Heat::None | Heat::Cylinder(_) | Heat::Exchanger(..) => return None,
        Heat::Source(i) => {
            json!({ "kind": "source", "flow_c": network.sources[i].flow_temperature_c })
        }
        Heat::Loss { ambient_c, .. } => json!({ "kind": "loss", "ambient_c": ambient_c }),
        Heat::Emitter(i) => {
            let emitter = &network.emitters[i];
            let room_c = network.rooms[emitter.room].temperature_c;
            let (watts, exponent) = match emitter.law {
                // the cases count the excess from 50 K whatever the mean
                HeatLaw::Rated {
                    output_w,
                    base_k,
                    exponent,
                    ..
                } => (output_w * libm::pow(50.0 / base_k, exponent), exponent),
                HeatLaw::Floor { w_per_k, .. } => (50.0 * w_per_k, 1.0),
                HeatLaw::Fixed(_) => return None,
            };
            json!({ "kind": "emitter", "q_n_w": watts, "n": exponent, "room_c": room_c })
        }
    };
    Some(move |piece_m: Option<f64>| {
        let mut words = words.clone();
        if let Heat::Loss {
            u_w_mk, length_m, ..
        } = heat
        {
            words["u_w_mk"] = json!(u_w_mk * length_m / piece_m.unwrap_or(length_m));
        }
        words
    })
}

fn part(part: &Part) -> Value {
    match part.law {
        PartLaw::Friction {
            length_m,
            bore_m,
            roughness_m,
        } => json!({
            "type": "pipe", "length_m": length_m, "bore_m": bore_m, "roughness_m": roughness_m, "zeta": 0.0,
        }),
        PartLaw::Zeta { zeta, bore_m } => json!({
            "type": "pipe", "length_m": 0.0, "bore_m": bore_m, "roughness_m": 0.0, "zeta": zeta,
        }),
        PartLaw::Kv { kv_m3h } => json!({ "type": "valve", "kv_m3h": kv_m3h, "open": true }),
        PartLaw::Power {
            dp_ref_pa,
            q_ref_m3h,
            exponent,
        } => json!({
            "type": "resistance", "dp_ref_pa": dp_ref_pa, "q_ref_m3h": q_ref_m3h, "exponent": exponent,
        }),
    }
}

fn pump(curve: &PumpCurve) -> Value {
    match curve {
        PumpCurve::Points(points) => json!({ "kind": "table", "points": points }),
        PumpCurve::Quadratic { a_pa, b_pa, c_pa } => json!({
            "kind": "quadratic", "a_pa": a_pa, "b_pa_per_m3h": b_pa, "c_pa_per_m3h2": c_pa,
        }),
    }
}
