//! The embedded TOML into rows. A broken file is a fault of the program, found by the first test that runs.

use super::loss::{Between, Beyond, InsertRule, Law, LossRow, Surroundings};
use super::{
    BullHead, Catalogue, Class, Condition, EmitterRow, Item, Lies, LiesRow, Limit, PanelRow,
    PanelType, Pipe, TeeRow, ValveRow, key,
};
use crate::quantity::{Celsius, Kv, Metre, Pressure};
use crate::units::{self, Quantity};
use serde::Deserialize;
use std::collections::BTreeMap;

type Sources = BTreeMap<String, String>;

macro_rules! raw {
    ($($name:ident { $($field:ident: $type:ty $(= $default:expr)?),* $(,)? })*) => {$(
        #[derive(Deserialize)]
        #[serde(deny_unknown_fields)]
        struct $name { $(#[serde($(default = $default)?)] $field: $type),* }
    )*};
}

raw! {
    RawPipes { pipe: Vec<RawPipe>, sources: Sources, material: BTreeMap<String, RawMaterial> }
    RawMaterial { roughness: f64, roughness_source: String, conductivity: f64, wall_source: String }
    RawPipe {
        word: String, also: Vec<String> = "Vec::new", family: String, material: String, size: String, short: String,
        outside: f64, wall: Option<f64> = "none", bore: f64, bore_low: Option<f64> = "none",
        bore_high: Option<f64> = "none", insert: Option<f64> = "none", below: Option<String> = "none",
        source: String, confidence: String, note: String = "String::new",
    }
    RawItems {
        item: Vec<RawItem>, tee: Vec<RawTee>, bull_head: RawBullHead, insert: RawInsert, sources: Sources,
    }
    RawItem {
        word: String, also: Vec<String> = "Vec::new", class: String, what: String, loss: Vec<RawLoss>,
    }
    RawLoss {
        law: String, materials: Vec<String>, by: String, at: Vec<f64>, value: Vec<f64>, low: Vec<f64> = "Vec::new",
        high: Vec<f64> = "Vec::new", opening_kpa: f64 = "zero", between: String, beyond: String, source: String,
        confidence: String, note: String,
    }
    RawTee {
        q: f64, dividing_branch: f64, dividing_through: f64, combining_branch: f64, combining_through: f64,
        source: String, confidence: String,
    }
    RawBullHead { dividing: f64, combining: f64, source: String, confidence: String }
    RawInsert { contraction: f64, elbow: f64, source: String, confidence: String }
    RawEmitters {
        panel: Vec<RawPanel>, panel_type: Vec<RawPanelType>, emitter: Vec<RawEmitter>, valve: Vec<RawValve>,
        sources: Sources,
    }
    RawPanel {
        r#type: String, height: f64, low: f64, high: f64, water: f64, source: String, confidence: String,
    }
    RawPanelType {
        r#type: String, what: String, exponent: f64, depth: f64, source: String, confidence: String,
    }
    RawEmitter {
        word: String, also: Vec<String>, symbol: String, exponent: f64, low: f64, high: f64, water: f64,
        source: String, confidence: String, note: String,
    }
    RawValve {
        word: String, also: Vec<String>, kv: f64, low: f64, high: f64, source: String, confidence: String, note: String,
    }
    RawPlaces {
        lies: Vec<RawLies>, condition: Vec<RawCondition>, bare: Vec<RawBare>, lagging: RawLagging, sources: Sources,
    }
    RawLies {
        word: String, also: Vec<String>, key: String, air: Option<f64> = "none", quiet: bool, opening: String,
        source: String, confidence: String,
    }
    RawCondition {
        word: String, materials: Vec<String>, roughness: f64, roughness_low: f64, roughness_high: f64, loss: f64,
        loss_low: f64, loss_high: f64, source: String, confidence: String,
    }
    RawBare { outside: f64, metal: f64, dull: f64, source: String, confidence: String }
    RawLagging { conductivity: f64, surface: f64, source: String, confidence: String }
    RawLimits { limit: Vec<RawLimit>, sources: Sources }
    RawLimit {
        key: String, value: f64, unit: String, quantity: String, kind: String, what: String, source: String,
        confidence: String,
    }
}

fn none<T>() -> Option<T> {
    None
}

fn zero() -> f64 {
    0.0
}

fn parse<T: for<'a> Deserialize<'a>>(name: &str, text: &str) -> T {
    toml::from_str(text).unwrap_or_else(|error| panic!("embedded {name}: {error}"))
}

fn told(sources: &Sources, short: &str) -> String {
    let text = sources.get(short);
    text.unwrap_or_else(|| panic!("embedded catalogue: no source `{short}`"))
        .clone()
}

fn mm(value: f64) -> Metre {
    Metre(value / 1e3)
}

fn word<T: Copy>(known: &[(&str, T)], text: &str) -> T {
    let found = known.iter().find(|(name, _)| *name == text);
    found
        .unwrap_or_else(|| panic!("embedded catalogue: unknown word `{text}`"))
        .1
}

/// Loads every family.
pub(super) fn embedded() -> Catalogue {
    let items: RawItems = parse("items.toml", include_str!("items.toml"));
    let emitters: RawEmitters = parse("emitters.toml", include_str!("emitters.toml"));
    let places: RawPlaces = parse("places.toml", include_str!("places.toml"));
    let pipes = pipes();
    let item_rows: Vec<Item> = items
        .item
        .into_iter()
        .map(|raw| item(raw, &items.sources))
        .collect();
    let pipe_words = words(pipes.iter().map(|p| (&p.word, &p.also)));
    let item_words = words(item_rows.iter().map(|i| (&i.word, &i.also)));
    let lies_rows: Vec<LiesRow> = places
        .lies
        .into_iter()
        .map(|raw| lies(raw, &places.sources))
        .collect();
    let place_words = words(lies_rows.iter().map(|l| (&l.word, &l.also)));
    let surroundings = Surroundings {
        bare: places
            .bare
            .iter()
            .map(|b| (b.outside, b.metal, b.dull))
            .collect(),
        lagging_w_mk: places.lagging.conductivity,
        surface_w_m2k: places.lagging.surface,
    };
    for (source, confidence) in places.bare.iter().map(|b| (&b.source, &b.confidence)) {
        told(&places.sources, source);
        debug_assert!(!confidence.is_empty());
    }
    told(&places.sources, &places.lagging.source);
    debug_assert!(!places.lagging.confidence.is_empty());
    Catalogue {
        tees: items
            .tee
            .into_iter()
            .map(|raw| tee(raw, &items.sources))
            .collect(),
        bull_head: BullHead {
            dividing: items.bull_head.dividing,
            combining: items.bull_head.combining,
            source: told(&items.sources, &items.bull_head.source),
            confidence: items.bull_head.confidence,
        },
        insert: InsertRule {
            contraction: items.insert.contraction,
            elbow: items.insert.elbow,
            source: told(&items.sources, &items.insert.source),
            confidence: items.insert.confidence,
        },
        panels: emitters
            .panel
            .into_iter()
            .map(|raw| panel(raw, &emitters.sources))
            .collect(),
        panel_types: emitters
            .panel_type
            .into_iter()
            .map(|raw| panel_type(raw, &emitters.sources))
            .collect(),
        emitters: emitters
            .emitter
            .into_iter()
            .map(|raw| emitter(raw, &emitters.sources))
            .collect(),
        valves: emitters
            .valve
            .into_iter()
            .map(|raw| valve(raw, &emitters.sources))
            .collect(),
        lies: lies_rows,
        conditions: places
            .condition
            .into_iter()
            .map(|raw| condition(raw, &places.sources))
            .collect(),
        limits: limits(),
        pipes,
        items: item_rows,
        surroundings,
        pipe_words,
        item_words,
        place_words,
    }
}

/// Every spelling, looked up without case and blanks; two rows of one word are a fault.
fn words<'a>(rows: impl Iterator<Item = (&'a String, &'a Vec<String>)>) -> BTreeMap<String, usize> {
    let mut words = BTreeMap::new();
    for (at, (word, also)) in rows.enumerate() {
        for spelling in std::iter::once(word).chain(also) {
            let old = words.insert(key(spelling), at);
            assert!(
                old.is_none(),
                "embedded catalogue: `{spelling}` stands twice"
            );
        }
    }
    words
}

fn pipes() -> Vec<Pipe> {
    let raw: RawPipes = parse("pipes.toml", include_str!("pipes.toml"));
    let row = |p: RawPipe| {
        let material = &raw.material[&p.material];
        let wall_fits = p
            .wall
            .is_none_or(|w| (p.outside - 2.0 * w - p.bore).abs() < 0.051);
        assert!(
            wall_fits,
            "embedded pipes.toml: outside, wall and bore of `{}` differ",
            p.word
        );
        told(&raw.sources, &material.wall_source);
        Pipe {
            outside: Some(mm(p.outside)),
            bore: mm(p.bore),
            bore_low: p.bore_low.map(mm),
            bore_high: p.bore_high.map(mm),
            insert: p.insert.map(mm),
            roughness: mm(material.roughness),
            roughness_source: told(&raw.sources, &material.roughness_source),
            conductivity_w_mk: material.conductivity,
            source: told(&raw.sources, &p.source),
            word: p.word,
            also: p.also,
            family: p.family,
            material: p.material,
            size: p.size,
            short: p.short,
            below: p.below,
            confidence: p.confidence,
            note: p.note,
        }
    };
    raw.pipe.into_iter().map(row).collect()
}

fn item(raw: RawItem, sources: &Sources) -> Item {
    let class = [
        ("fitting", Class::Fitting),
        ("valve", Class::Valve),
        ("device", Class::Device),
    ];
    Item {
        class: word(&class, &raw.class),
        word: raw.word,
        also: raw.also,
        what: raw.what,
        losses: raw.loss.into_iter().map(|l| loss(l, sources)).collect(),
    }
}

fn loss(raw: RawLoss, sources: &Sources) -> LossRow {
    let laws = [
        ("none", Law::None),
        ("zeta", Law::Zeta),
        ("length", Law::Length),
        ("kv", Law::Kv),
        ("one way", Law::OneWay),
        ("hold", Law::Hold),
    ];
    let between = [
        ("line", Between::Line),
        ("step", Between::Step),
        ("band", Between::Band),
    ];
    let beyond = [
        ("hold", Beyond::Hold),
        ("bore", Beyond::Bore),
        ("bore2", Beyond::BoreSquared),
    ];
    assert_eq!(
        raw.at.len(),
        raw.value.len(),
        "embedded items.toml: rows and values differ"
    );
    LossRow {
        law: word(&laws, &raw.law),
        by_outside: word(&[("outside", true), ("bore", false)], &raw.by),
        rows: raw.at.into_iter().zip(raw.value).collect(),
        range: raw.low.into_iter().zip(raw.high).collect(),
        between: word(&between, &raw.between),
        beyond: word(&beyond, &raw.beyond),
        opening: Pressure(raw.opening_kpa * 1e3),
        materials: raw.materials,
        source: told(sources, &raw.source),
        confidence: raw.confidence,
        note: raw.note,
    }
}

fn tee(raw: RawTee, sources: &Sources) -> TeeRow {
    TeeRow {
        q: raw.q,
        dividing_branch: raw.dividing_branch,
        dividing_through: raw.dividing_through,
        combining_branch: raw.combining_branch,
        combining_through: raw.combining_through,
        source: told(sources, &raw.source),
        confidence: raw.confidence,
    }
}

fn panel(raw: RawPanel, sources: &Sources) -> PanelRow {
    PanelRow {
        panel_type: raw.r#type,
        height: mm(raw.height),
        low_w_m: raw.low,
        high_w_m: raw.high,
        water_m3_m: raw.water / 1e3,
        source: told(sources, &raw.source),
        confidence: raw.confidence,
    }
}

fn panel_type(raw: RawPanelType, sources: &Sources) -> PanelType {
    PanelType {
        panel_type: raw.r#type,
        what: raw.what,
        exponent: raw.exponent,
        depth: mm(raw.depth),
        source: told(sources, &raw.source),
        confidence: raw.confidence,
    }
}

fn emitter(raw: RawEmitter, sources: &Sources) -> EmitterRow {
    EmitterRow {
        word: raw.word,
        also: raw.also,
        symbol: raw.symbol,
        exponent: raw.exponent,
        exponent_range: (raw.low, raw.high),
        water_m3_w: raw.water / 1e6,
        source: told(sources, &raw.source),
        confidence: raw.confidence,
        note: raw.note,
    }
}

fn valve(raw: RawValve, sources: &Sources) -> ValveRow {
    ValveRow {
        word: raw.word,
        also: raw.also,
        kv: Kv(raw.kv),
        range: (Kv(raw.low), Kv(raw.high)),
        source: told(sources, &raw.source),
        confidence: raw.confidence,
        note: raw.note,
    }
}

fn lies(raw: RawLies, sources: &Sources) -> LiesRow {
    LiesRow {
        lies: word(&LIES, &raw.key),
        word: raw.word,
        also: raw.also,
        air: raw.air.map(Celsius),
        quiet: raw.quiet,
        opening: raw.opening,
        source: told(sources, &raw.source),
        confidence: raw.confidence,
    }
}

const LIES: [(&str, Lies); 10] = [
    ("in sight", Lies::InSight),
    ("under boards", Lies::UnderBoards),
    ("under tiles", Lies::UnderTiles),
    ("in screed", Lies::InScreed),
    ("in wall", Lies::InWall),
    ("above ceiling", Lies::AboveCeiling),
    ("loft", Lies::Loft),
    ("garage", Lies::Garage),
    ("plant space", Lies::PlantSpace),
    ("outdoors", Lies::Outdoors),
];

fn condition(raw: RawCondition, sources: &Sources) -> Condition {
    Condition {
        word: raw.word,
        materials: raw.materials,
        roughness: (
            mm(raw.roughness),
            mm(raw.roughness_low),
            mm(raw.roughness_high),
        ),
        bore_loss: (mm(raw.loss), mm(raw.loss_low), mm(raw.loss_high)),
        source: told(sources, &raw.source),
        confidence: raw.confidence,
    }
}

fn limits() -> Vec<Limit> {
    let raw: RawLimits = parse("limits.toml", include_str!("limits.toml"));
    let quantities = [
        ("velocity", Quantity::Velocity),
        ("gradient", Quantity::Gradient),
        ("pressure", Quantity::Pressure),
        ("temperature", Quantity::Temperature),
        ("difference", Quantity::Difference),
        ("length", Quantity::RunLength),
        ("time", Quantity::Time),
        ("share", Quantity::Share),
    ];
    let row = |l: RawLimit| {
        let quantity = word(&quantities, &l.quantity);
        let words = format!("{} {}", l.value, l.unit).trim_end().to_owned();
        let value = units::read(quantity, &words);
        Limit {
            value: value.unwrap_or_else(|e| panic!("embedded limits.toml: {}", e.message(&l.key))),
            words,
            quantity,
            counts: word(&[("limit", true), ("note", false)], &l.kind),
            what: l.what,
            source: told(&raw.sources, &l.source),
            confidence: l.confidence,
            key: l.key,
        }
    };
    raw.limit.into_iter().map(row).collect()
}
