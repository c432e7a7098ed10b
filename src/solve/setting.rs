//! What a solve changes on top of a network: which elements are shut, what is held, how pumps and sources are run.

use crate::network::{ElementId, HouseState, Law, Network, PumpControl};
use std::collections::BTreeMap;

/// One way to run a network. Vectors are indexed like the network's own.
#[derive(Clone, Debug, PartialEq)]
pub struct Setting {
    /// By element: shut here, beyond what the network says is shut.
    pub shut: Vec<bool>,
    /// By element: flow held exactly, kg/s; its pressure difference is whatever that takes (the element's own law is
    /// still evaluated and reported). Used to look at required flows, and for a blended inlet.
    pub held_kg_s: Vec<Option<f64>>,
    /// Elements with another law here, e.g. a lockshield as balancing sets it.
    pub law: BTreeMap<ElementId, Law>,
    /// By pump: how it is run.
    pub control: Vec<PumpControl>,
    /// By pump: stopped; a stopped pump lets water through without loss or gain.
    pub stopped: Vec<bool>,
    /// By source.
    pub sources: Vec<SourceSetting>,
    /// Solve temperatures and heat too; if false, fluid properties are taken at `flow_c` and `return_c`.
    pub heat: bool,
    /// Temperature of the flow side where heat is not solved, and the start where it is, °C.
    pub flow_c: f64,
    /// The same for the return side, °C.
    pub return_c: f64,
}

/// How one source is run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SourceSetting {
    /// Whether it makes heat.
    pub runs: bool,
    /// Flow temperature that it aims at, °C.
    pub flow_c: f64,
    /// Output beyond which the flow temperature falls, W; no limit if `None`.
    pub output_w: Option<f64>,
}

impl Setting {
    /// The network in one of its house states, pumps and sources by their own control.
    pub fn of(network: &Network, state: &HouseState) -> Self {
        let elements = network.graph.edge_count();
        let mut shut = vec![false; elements];
        for id in &state.shut {
            shut[id.index()] = true;
        }
        let mut stopped = vec![false; network.pumps.len()];
        for &pump in &state.stopped {
            stopped[pump] = true;
        }
        let sources: Vec<SourceSetting> = network
            .sources
            .iter()
            .enumerate()
            .map(|(i, source)| SourceSetting {
                runs: state.sources.contains(&i),
                flow_c: source.flow_temperature_c,
                output_w: source.output_w,
            })
            .collect();
        // the pump of a source that does not run stands still too
        for (pump, info) in network.pumps.iter().enumerate() {
            if let Some(source) = info.source {
                stopped[pump] |= !sources[source].runs;
            }
        }
        Self {
            shut,
            held_kg_s: vec![None; elements],
            law: BTreeMap::new(),
            control: network.pumps.iter().map(|p| p.mode).collect(),
            stopped,
            sources,
            heat: true,
            flow_c: network.design.flow_temperature_c,
            return_c: network.design.flow_temperature_c - network.design.drop_k,
        }
    }
}
