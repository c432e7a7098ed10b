//! A reference case in JSON becomes the very network that a house file becomes.
//!
//! The format: nodes and elements with raw physical inputs in units named by their keys, one constant fluid. Every key of
//! an element that the loader does not know is an error, so that nothing is ignored in silence.

use super::blank::{emitter, empty, source};
use super::*;
use crate::survey::Mean;
use serde_json::value::RawValue;
use serde_json::{Map, Value};
use std::collections::BTreeMap;

/// Why a case could not be read.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum CaseError {
    /// Not JSON.
    #[error("not readable as JSON: {0}")]
    Json(String),
    /// Something is missing or of the wrong kind.
    #[error("{place}: {what}")]
    Case {
        /// Which element or section.
        place: String,
        /// What was expected.
        what: String,
    },
}

/// Loads a case; excess temperatures of emitters are formed by the logarithmic mean, on the case's own base of 50 K.
///
/// # Errors
/// Text that is not JSON, or not a case.
pub fn load(text: &str) -> Result<Network, CaseError> {
    load_with(text, Mean::Logarithmic)
}

/// As [`load`], with the mean named.
///
/// # Errors
/// Text that is not JSON, or not a case.
pub fn load_with(text: &str, mean: Mean) -> Result<Network, CaseError> {
    // nodes and elements stay text until their turn: a district's values all at once would take more room than its network
    let lists = Lists::new(text)?;
    let case = Fields {
        map: &lists.rest,
        place: "case".to_owned(),
    };
    let fluid = Fields::new(case.map.get("fluid").and_then(Value::as_object), "fluid")?;
    let mut network = empty(case.text("id").unwrap_or("reference case"), mean);
    network.fluids = vec![FluidData::Constant {
        rho_kg_m3: fluid.positive("rho_kg_m3")?,
        mu_pa_s: fluid.positive("mu_pa_s")?,
        cp_j_kgk: fluid.positive("cp_j_kgk")?,
    }];
    let mut places = BTreeMap::new();
    for node in lists.nodes {
        let node: Value = value(node.get())?;
        let name = Fields::new(node.as_object(), "nodes")?
            .text("id")?
            .to_owned();
        let id = network.graph.add_node(Place {
            name: name.clone(),
            user: Some(name.clone()),
            side: None,
        });
        if places.insert(name.clone(), id).is_some() {
            return Err(wrong(&name, "this node stands twice"));
        }
    }
    let place = |of: &Fields, key: &str| -> Result<PlaceId, CaseError> {
        let name = of.text(key)?;
        places
            .get(name)
            .copied()
            .ok_or_else(|| wrong(&of.place, &format!("no node is named {name:?}")))
    };
    let mut seen = std::collections::BTreeSet::new();
    for element in lists.elements {
        let element: Value = value(element.get())?;
        let fields = Fields::new(element.as_object(), "elements")?.named()?;
        if !seen.insert(fields.place.clone()) {
            return Err(wrong(&fields.place, "this element stands twice"));
        }
        let ends = (place(&fields, "from")?, place(&fields, "to")?);
        add(&mut network, &fields, ends)?;
    }
    let pressure = case
        .map
        .get("reference_pressure_pa")
        .and_then(Value::as_f64)
        .unwrap_or(0.0);
    network.reference = vec![(place(&case, "reference_node")?, pressure)];
    let flow_c = network
        .sources
        .iter()
        .map(|s| s.flow_temperature_c)
        .fold(f64::NEG_INFINITY, f64::max);
    if flow_c.is_finite() {
        network.design.flow_temperature_c = flow_c;
    }
    network.states[0].sources = (0..network.sources.len()).collect();
    super::case_runs::name_runs(&mut network);
    Ok(network)
}

fn wrong(place: &str, what: &str) -> CaseError {
    CaseError::Case {
        place: place.to_owned(),
        what: what.to_owned(),
    }
}

fn value<'a, T: serde::Deserialize<'a>>(text: &'a str) -> Result<T, CaseError> {
    serde_json::from_str(text).map_err(|e| CaseError::Json(e.to_string()))
}

/// A case whose two long lists are still text.
struct Lists<'a> {
    nodes: Vec<&'a RawValue>,
    elements: Vec<&'a RawValue>,
    rest: Map<String, Value>,
}

impl<'a> Lists<'a> {
    fn new(text: &'a str) -> Result<Self, CaseError> {
        let whole: &RawValue = value(text)?;
        let mut sections: BTreeMap<String, &RawValue> =
            value(whole.get()).map_err(|_| wrong("case", "an object was expected"))?;
        let mut list = |key: &str| {
            let list = sections.remove(key).map(|list| value(list.get()));
            list.and_then(Result::ok)
                .ok_or_else(|| wrong("case", &format!("`{key}`: a list was expected")))
        };
        let (nodes, elements) = (list("nodes")?, list("elements")?);
        let rest = sections
            .into_iter()
            .map(|(key, section)| Ok((key, value(section.get())?)));
        Ok(Self {
            nodes,
            elements,
            rest: rest.collect::<Result<_, _>>()?,
        })
    }
}

/// A JSON object with a name for messages.
struct Fields<'a> {
    map: &'a Map<String, Value>,
    place: String,
}

impl<'a> Fields<'a> {
    fn new(map: Option<&'a Map<String, Value>>, place: &str) -> Result<Self, CaseError> {
        let map = map.ok_or_else(|| wrong(place, "an object was expected"))?;
        Ok(Self {
            map,
            place: place.to_owned(),
        })
    }

    /// Named by its `id` from here on.
    fn named(self) -> Result<Self, CaseError> {
        let place = self.text("id")?.to_owned();
        Ok(Self { place, ..self })
    }

    fn list(&self, key: &str) -> Result<&'a Vec<Value>, CaseError> {
        self.map
            .get(key)
            .and_then(Value::as_array)
            .ok_or_else(|| wrong(&self.place, &format!("`{key}`: a list was expected")))
    }

    fn text(&self, key: &str) -> Result<&'a str, CaseError> {
        self.map
            .get(key)
            .and_then(Value::as_str)
            .ok_or_else(|| wrong(&self.place, &format!("`{key}`: text was expected")))
    }

    fn number(&self, key: &str) -> Result<f64, CaseError> {
        let value = self.map.get(key).and_then(Value::as_f64);
        value
            .filter(|x| x.is_finite())
            .ok_or_else(|| wrong(&self.place, &format!("`{key}`: a number was expected")))
    }

    fn number_or(&self, key: &str, default: f64) -> Result<f64, CaseError> {
        if self.map.contains_key(key) {
            self.number(key)
        } else {
            Ok(default)
        }
    }

    fn positive(&self, key: &str) -> Result<f64, CaseError> {
        let x = self.number(key)?;
        if x > 0.0 {
            Ok(x)
        } else {
            Err(wrong(&self.place, &format!("`{key}` must be above zero")))
        }
    }

    fn only(&self, known: &[&str]) -> Result<(), CaseError> {
        let common = ["id", "type", "from", "to", "thermal"];
        match self
            .map
            .keys()
            .find(|k| !known.contains(&k.as_str()) && !common.contains(&k.as_str()))
        {
            Some(key) => Err(wrong(
                &self.place,
                &format!("the key `{key}` is not known here"),
            )),
            None => Ok(()),
        }
    }
}

fn add(network: &mut Network, fields: &Fields, ends: (PlaceId, PlaceId)) -> Result<(), CaseError> {
    let id = ElementId::new(network.graph.edge_count());
    let mut open = true;
    let (role, law) = match fields.text("type")? {
        "pipe" => {
            fields.only(&["length_m", "bore_m", "roughness_m", "zeta"])?;
            (Role::Pipe, pipe(fields)?)
        }
        "valve" => {
            fields.only(&["kv_m3h", "open"])?;
            let kv_m3h = fields.number("kv_m3h")?;
            open = kv_m3h > 0.0
                && fields
                    .map
                    .get("open")
                    .and_then(Value::as_bool)
                    .unwrap_or(true);
            let kv_m3h = if kv_m3h > 0.0 { kv_m3h } else { 1.0 };
            (
                Role::Valve,
                Law::Parts(vec![part(
                    PartGroup::Valves,
                    "valve",
                    PartLaw::Kv { kv_m3h },
                )]),
            )
        }
        "resistance" => {
            fields.only(&["dp_ref_pa", "q_ref_m3h", "exponent"])?;
            let law = PartLaw::Power {
                dp_ref_pa: fields.number("dp_ref_pa")?,
                q_ref_m3h: fields.positive("q_ref_m3h")?,
                exponent: fields.number_or("exponent", 2.0)?,
            };
            (
                Role::EmitterBody,
                Law::Parts(vec![part(PartGroup::Devices, "resistance", law)]),
            )
        }
        "pump" => {
            fields.only(&["curve", "speed"])?;
            let speed = fields.number_or("speed", 1.0)?;
            network.states[0]
                .stopped
                .extend((speed <= 0.0).then_some(network.pumps.len()));
            network.pumps.push(PumpInfo {
                name: fields.place.clone(),
                element: id,
                mode: PumpControl::FixedSpeed(speed),
                mode_given: true,
                source: None,
                span: None,
            });
            (Role::Pump, Law::Pump(curve(fields)?))
        }
        kind @ ("check_valve" | "bypass_valve") => {
            fields.only(&["opening_pa", "kv_m3h"])?;
            let law = Law::OneWay {
                opening_pa: fields.number_or("opening_pa", 0.0)?,
                kv_m3h: fields.positive("kv_m3h")?,
            };
            if kind == "bypass_valve" {
                network.bypasses.push(Bypass {
                    name: fields.place.clone(),
                    element: id,
                    opening_given: true,
                });
                (Role::Bypass, law)
            } else {
                (Role::CheckValve, law)
            }
        }
        other => {
            return Err(wrong(
                &fields.place,
                &format!("no element type is named {other:?}"),
            ));
        }
    };
    let heat = heat(network, fields, id, ends)?;
    let role = if matches!(heat, Heat::Source(_)) {
        Role::SourceBody
    } else {
        role
    };
    network.graph.add_edge(
        ends.0,
        ends.1,
        Element {
            name: fields.place.clone(),
            role,
            law,
            open,
            heat,
            fluid: 0,
            run: None,
            volume_m3: 0.0,
            span: None,
        },
    );
    Ok(())
}

fn pipe(fields: &Fields) -> Result<Law, CaseError> {
    let bore_m = fields.positive("bore_m")?;
    let friction = PartLaw::Friction {
        length_m: fields.number("length_m")?,
        bore_m,
        roughness_m: fields.number("roughness_m")?,
    };
    let mut parts = vec![part(PartGroup::Pipe, "pipe", friction)];
    let zeta = fields.number_or("zeta", 0.0)?;
    if zeta != 0.0 {
        parts.push(part(
            PartGroup::Fittings,
            "fittings",
            PartLaw::Zeta { zeta, bore_m },
        ));
    }
    Ok(Law::Parts(parts))
}

fn part(group: PartGroup, words: &str, law: PartLaw) -> Part {
    let source = "reference case".to_owned();
    Part {
        group,
        words: words.to_owned(),
        symbol: String::new(),
        count: 1,
        law,
        source,
        span: None,
    }
}

fn curve(fields: &Fields) -> Result<PumpCurve, CaseError> {
    let curve = Fields::new(
        fields.map.get("curve").and_then(Value::as_object),
        &fields.place,
    )?;
    match curve.text("kind")? {
        "quadratic" => Ok(PumpCurve::Quadratic {
            a_pa: curve.number("a_pa")?,
            b_pa: curve.number("b_pa_per_m3h")?,
            c_pa: curve.number("c_pa_per_m3h2")?,
        }),
        "table" | "points" => {
            let list = if curve.map.contains_key("points") {
                "points"
            } else {
                "table"
            };
            let pair = |value: &Value| {
                let pair = value.as_array().filter(|p| p.len() == 2);
                pair.and_then(|p| Some((p[0].as_f64()?, p[1].as_f64()?)))
                    .ok_or_else(|| wrong(&fields.place, "points of a curve are pairs of numbers"))
            };
            Ok(PumpCurve::Points(
                curve
                    .list(list)?
                    .iter()
                    .map(pair)
                    .collect::<Result<_, _>>()?,
            ))
        }
        other => Err(wrong(
            &fields.place,
            &format!("no kind of curve is named {other:?}"),
        )),
    }
}

/// The base of the reference cases' emitters, K.
const REFERENCE_BASE_K: f64 = 50.0;

fn heat(
    network: &mut Network,
    fields: &Fields,
    id: ElementId,
    ends: (PlaceId, PlaceId),
) -> Result<Heat, CaseError> {
    let Some(thermal) = fields.map.get("thermal") else {
        return Ok(Heat::None);
    };
    let thermal = Fields::new(thermal.as_object(), &fields.place)?;
    match thermal.text("kind")? {
        "source" => {
            network
                .sources
                .push(source(&fields.place, id, ends, thermal.number("flow_c")?));
            Ok(Heat::Source(network.sources.len() - 1))
        }
        "loss" => Ok(Heat::Loss {
            u_w_mk: thermal.number("u_w_mk")?,
            length_m: fields.number("length_m")?,
            ambient_c: thermal.number("ambient_c")?,
        }),
        "emitter" => {
            let law = HeatLaw::Rated {
                output_w: thermal.number("q_n_w")?,
                base_k: REFERENCE_BASE_K,
                exponent: thermal.positive("n")?,
                mean: network.design.mean,
            };
            let index = network.emitters.len();
            network.rooms.push(Room {
                name: fields.place.clone(),
                temperature_c: thermal.number("room_c")?,
                needs_w: None,
                emitters: vec![index],
            });
            network.emitters.push(emitter(
                &fields.place,
                id,
                ends,
                law,
                index,
                network.design.drop_k,
            ));
            Ok(Heat::Emitter(index))
        }
        other => Err(wrong(
            &fields.place,
            &format!("no thermal kind is named {other:?}"),
        )),
    }
}
