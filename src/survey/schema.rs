//! The JSON Schema of the network file, so that editors complete and explain it: generated from the table of keys.

use super::keys::{self, Dim, Key, Kind, Section, Shape};
use crate::catalogue::Catalogue;
use serde_json::{Map, Value, json};

/// The schema as text: JSON Schema draft 2020-12, one line end at the end.
pub fn schema() -> String {
    let catalogue = Catalogue::embedded();
    let mut properties = Map::new();
    for section in keys::sections() {
        properties.insert(section.name.to_owned(), of_section(section, catalogue));
    }
    let schema = json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "pipecarry network file",
        "description": "The heating pipes, emitters, valves and vessels of one house, written as it is walked.",
        "type": "object",
        "properties": properties,
        "required": ["source"],
        "additionalProperties": false,
    });
    format!("{schema:#}\n")
}

fn of_section(section: &Section, catalogue: &Catalogue) -> Value {
    let mut value = match section.shape {
        Shape::Value(kind) => of_kind(kind, catalogue),
        Shape::Table => keyed(section.keys, catalogue),
        Shape::Named => json!({
            "type": "object",
            "additionalProperties": keyed(section.keys, catalogue),
        }),
        Shape::Lines(kind) => json!({
            "type": "object",
            "additionalProperties": of_kind(kind, catalogue),
        }),
        Shape::Open(Kind::Limit) => limits(catalogue),
        Shape::Open(_) => json!({
            "type": "object",
            "additionalProperties": { "type": ["string", "number"] },
        }),
    };
    describe(&mut value, section.doc);
    value
}

fn keyed(keys: &[Key], catalogue: &Catalogue) -> Value {
    let mut properties = Map::new();
    for key in keys {
        let mut value = of_kind(key.kind, catalogue);
        describe(
            &mut value,
            &format!("{} For example {}.", key.doc, key.example),
        );
        properties.insert(key.name.to_owned(), value);
    }
    json!({ "type": "object", "properties": properties, "additionalProperties": false })
}

fn describe(value: &mut Value, text: &str) {
    if let Some(object) = value.as_object_mut() {
        object.insert("description".to_owned(), json!(text));
    }
}

fn of_kind(kind: Kind, catalogue: &Catalogue) -> Value {
    let text = || json!({ "type": "string" });
    match kind {
        Kind::Positive(dim) => figure(dim, Some(0.0), true),
        Kind::NotNegative(dim) => figure(dim, Some(0.0), false),
        Kind::Any(dim) => figure(dim, None, false),
        Kind::KvText => json!({ "type": ["string", "number"] }),
        Kind::Rated | Kind::Room => json!({ "type": ["string", "number"] }),
        Kind::Text
        | Kind::Name
        | Kind::Leg
        | Kind::Mode
        | Kind::Loss
        | Kind::Valve
        | Kind::Panel
        | Kind::Wall
        | Kind::Tee
        | Kind::LoopTee => text(),
        Kind::Names => json!({ "type": ["array", "string"], "items": { "type": "string" } }),
        Kind::Figures => {
            json!({ "type": "array", "items": { "type": "number", "minimum": 0 }, "minItems": 2 })
        }
        Kind::Walk => json!({ "type": "array", "items": { "type": "string" }, "minItems": 2 }),
        Kind::Route => json!({
            "type": "array",
            "prefixItems": [
                { "type": "string", "description": "from" },
                { "type": "string", "description": "to" },
                { "type": "string", "description": "leg: pipe, length, then fittings and devices in the order met" },
            ],
            "minItems": 3,
            "maxItems": 3,
        }),
        Kind::Words(words) | Kind::Unit(words) => json!({ "type": "string", "enum": words }),
        Kind::EmitterWord => {
            let words: Vec<&str> = catalogue.emitters.iter().map(|e| e.word.as_str()).collect();
            json!({ "type": "string", "examples": words })
        }
        Kind::Flag => json!({ "type": "boolean" }),
        Kind::Curve => json!({
            "type": ["array", "string"],
            "items": { "type": "string" },
            "minItems": 2,
        }),
        Kind::Fluid => {
            let keys = keys::section("fluid").map_or(&[][..], |s| s.keys);
            let mut by_properties = keyed(keys, catalogue);
            if let Some(object) = by_properties.as_object_mut() {
                let names: Vec<&str> = keys.iter().map(|k| k.name).collect();
                object.insert("required".to_owned(), json!(names));
            }
            json!({ "anyOf": [{ "type": "string" }, by_properties] })
        }
        Kind::LoopTees => json!({ "type": "object", "additionalProperties": { "type": "string" } }),
        Kind::Ports => json!({ "type": "integer", "enum": [3, 4] }),
        Kind::Like(section) => keyed(
            keys::section(section).map_or(&[][..], |s| s.keys),
            catalogue,
        ),
        Kind::Limit | Kind::Price => json!({ "type": ["string", "number"] }),
    }
}

/// Text with a unit; a plain number only where it means one unit.
fn figure(dim: Dim, least: Option<f64>, above: bool) -> Value {
    let mut object = Map::new();
    let plain = dim.plain_factor();
    object.insert(
        "type".to_owned(),
        if plain.is_some() {
            json!(["string", "number"])
        } else {
            json!("string")
        },
    );
    if let (Some(least), true) = (least, plain.is_some()) {
        object.insert(
            if above { "exclusiveMinimum" } else { "minimum" }.to_owned(),
            json!(least),
        );
    }
    Value::Object(object)
}

fn limits(catalogue: &Catalogue) -> Value {
    let mut properties = Map::new();
    for limit in &catalogue.limits {
        let says = format!(
            "{}; {} from the catalogue ({}).",
            limit.what, limit.words, limit.source
        );
        properties.insert(
            limit.key.clone(),
            json!({ "type": ["string", "number"], "description": says }),
        );
    }
    json!({
        "type": "object",
        "properties": properties,
        "additionalProperties": { "type": ["string", "number"] },
    })
}
