//! The parts of a reference case that say nothing: a network, a source, an emitter with only what the case knows.

use super::*;
use crate::survey::{Mean, Units};

pub(super) fn empty(title: &str, mean: Mean) -> Network {
    Network {
        title: title.to_owned(),
        graph: DiGraph::default(),
        fluids: Vec::new(),
        reference: Vec::new(),
        runs: Vec::new(),
        emitters: Vec::new(),
        rooms: Vec::new(),
        sources: Vec::new(),
        pumps: Vec::new(),
        manifolds: Vec::new(),
        vessels: Vec::new(),
        cylinders: Vec::new(),
        exchangers: Vec::new(),
        bypasses: Vec::new(),
        zones: Vec::new(),
        valve_tables: Vec::new(),
        readings: Vec::new(),
        evidence: Vec::new(),
        tees: Vec::new(),
        states: vec![HouseState {
            name: "heating".to_owned(),
            kind: StateKind::Heating,
            shut: Vec::new(),
            stopped: Vec::new(),
            sources: Vec::new(),
        }],
        doubts: Vec::new(),
        design: Design {
            flow_temperature_c: 50.0,
            drop_k: 5.0,
            outside_c: None,
            load_w: None,
            mean,
            lockshields_open: true,
            sheet: Vec::new(),
            year: Year::default(),
        },
        limits: Vec::new(),
        assumed: Vec::new(),
        units: Units::default(),
        reference_case: true,
    }
}

pub(super) fn source(
    name: &str,
    body: ElementId,
    ends: (PlaceId, PlaceId),
    flow_temperature_c: f64,
) -> Source {
    Source {
        name: name.to_owned(),
        body,
        pump: None,
        flow_place: ends.1,
        return_place: ends.0,
        output_w: None,
        least_output_w: None,
        least_flow_m3_s: None,
        greatest_flow_m3_s: None,
        nominal_flow_m3_s: None,
        defrost_flow_m3_s: None,
        defrost_energy_j: None,
        defrost_fall_k: None,
        defrost_return_c: None,
        least_water_m3: None,
        least_run_s: None,
        least_stop_s: None,
        control_band_k: None,
        flow_temperature_c,
        free_head: None,
        span: None,
    }
}

pub(super) fn emitter(
    name: &str,
    body: ElementId,
    ends: (PlaceId, PlaceId),
    law: HeatLaw,
    room: usize,
    drop_k: f64,
) -> Emitter {
    let symbol = match law {
        HeatLaw::Rated { exponent: 1.0, .. } => "floor loop",
        _ => "radiator",
    };
    Emitter {
        name: name.to_owned(),
        type_words: symbol.to_owned(),
        symbol,
        panel: None,
        body,
        valve: None,
        lockshield: None,
        lockshield_is_set: true,
        lockshield_open_kv: None,
        port: None,
        valve_table: None,
        lockshield_table: None,
        branch: vec![body],
        ends,
        tails: (None, None),
        room,
        duty_w: 0.0,
        drop_k,
        law,
        manifold: None,
        one_pipe: None,
        always_open: false,
        zone: None,
        wall: None,
        storey: None,
        order: None,
        valve_kind: String::new(),
        span: None,
    }
}
