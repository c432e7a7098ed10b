//! Bypasses, zones and the states of the house.

use super::build::Builder;
use super::leg::Laying;
use super::lookup::short;
use super::piece::Piece;
use crate::diag::Diagnostic;
use crate::network::{
    Bypass, ElementId, HouseState, Law, Network, PlaceId, Role, RunKind, StateKind, VesselKind,
    Zone,
};
use crate::survey::{At, Side};
use petgraph::Direction::Incoming;
use petgraph::visit::EdgeRef;
use std::collections::BTreeSet;

/// Opening pressure of an overflow valve where the file is silent, Pa.
const OPENING_PA: f64 = 20_000.0;

impl Builder<'_> {
    /// Zones, still without their valves.
    pub fn zones(&mut self) {
        let survey = self.survey;
        for zone in &survey.zones {
            self.network.zones.push(Zone {
                name: zone.name.value.clone(),
                valves: Vec::new(),
                pump: None,
            });
            if let (Some(pump), [_, second, ..]) = (&zone.pump, zone.on.as_slice()) {
                self.faults.push(
                    Diagnostic::error(
                        "zone-pump-on-several",
                        second.span.clone(),
                        format!("the pump of zone `{}` cannot stand in two pairs", zone.name.value),
                    )
                    .label("a second pair")
                    .also(pump.curve.span.clone(), "one pump")
                    .help("give each pair a zone of its own, or put the pump on the pair that feeds both"),
                );
            }
        }
    }

    /// Overflow valves across flow and return.
    pub fn bypasses(&mut self) {
        let survey = self.survey;
        for b in &survey.bypasses {
            let name = b.name.value.as_str();
            let ports = self.ports(&b.at.value);
            let opening_pa = match &b.opening {
                Some(p) => p.value.0,
                None => {
                    self.assume(
                        name,
                        &format!("opens at {} kPa", short(OPENING_PA / 1e3)),
                        "common practice, no source",
                    );
                    OPENING_PA
                }
            };
            let law = Law::OneWay {
                opening_pa,
                kv_m3h: b.kv.value.0,
            };
            let valve = Piece {
                law,
                ..Piece::parts(
                    "overflow valve",
                    Role::Bypass,
                    Vec::new(),
                    Some(b.name.span.clone()),
                )
            };
            let from = match &b.leg {
                None => ports.flow_out,
                Some(leg) => {
                    let laid = self.lay(&leg.value, name, Laying::single());
                    let joint = self.place(&format!("{name}, before the valve"), None, None);
                    let spec = super::build::RunSpec {
                        name,
                        element_name: name.to_owned(),
                        side: None,
                        kind: RunKind::Plant,
                        pipe: laid.pipe,
                        leg: &leg.value,
                        pieces: laid.pieces,
                        span: Some(leg.span.clone()),
                    };
                    self.run(spec, ports.flow_out, joint);
                    joint
                }
            };
            let element = self.element(from, ports.return_in, name, valve, None);
            self.network.bypasses.push(Bypass {
                name: name.to_owned(),
                element,
                opening_given: b.opening.is_some(),
            });
        }
    }

    /// States: heating, hot water of each cylinder, and those that the file names.
    pub fn states(&mut self) {
        let survey = self.survey;
        let all: Vec<usize> = (0..self.network.sources.len()).collect();
        let coils: Vec<ElementId> = self
            .network
            .cylinders
            .iter()
            .map(|c| c.diverter_coil)
            .collect();
        self.network.states.push(HouseState {
            name: "heating".to_owned(),
            kind: StateKind::Heating,
            shut: coils.clone(),
            stopped: Vec::new(),
            sources: all.clone(),
        });
        for i in 0..self.network.cylinders.len() {
            let name = match self.network.cylinders.len() {
                1 => "hot water".to_owned(),
                _ => format!("hot water {}", self.network.cylinders[i].name),
            };
            let (shut, stopped) = self.hot_water(i);
            let state = HouseState {
                name,
                kind: StateKind::HotWater,
                shut,
                stopped,
                sources: all.clone(),
            };
            self.network.states.push(state);
        }
        for named in &survey.states {
            let (mut shut, mut stopped) =
                match named.hot_water && !self.network.cylinders.is_empty() {
                    true => self.hot_water(0),
                    false => (coils.clone(), Vec::new()),
                };
            for at in &named.shut {
                self.shut(at, &mut shut, &mut stopped);
            }
            for at in &named.stopped {
                match self.pump_named(&at.value) {
                    Some(pump) => stopped.push(pump),
                    None => self.unknown_in_state(at, "pump"),
                }
            }
            let mut sources = Vec::new();
            for at in &named.sources {
                match self.network.sources.iter().position(|s| s.name == at.value) {
                    Some(source) => sources.push(source),
                    None => self.unknown_in_state(at, "source"),
                }
            }
            if named.sources.is_empty() {
                sources = all.clone();
            }
            for list in [&mut stopped, &mut sources] {
                list.sort_unstable();
                list.dedup();
            }
            shut.sort_unstable();
            shut.dedup();
            self.network.states.push(HouseState {
                name: named.name.value.clone(),
                kind: StateKind::Named,
                shut,
                stopped,
                sources,
            });
        }
    }

    fn unknown_in_state(&mut self, at: &At<String>, what: &str) {
        self.faults.push(Diagnostic::error(
            "unknown-name",
            at.span.clone(),
            format!("there is no {what} `{}`", at.value),
        ));
    }

    /// What is shut and stopped while one cylinder is heated: its diverter's way to heating, the other coils, and the
    /// pumps that do not lie on the way from the source to it.
    fn hot_water(&self, cylinder: usize) -> (Vec<ElementId>, Vec<usize>) {
        let mut shut = Vec::new();
        for (i, c) in self.network.cylinders.iter().enumerate() {
            shut.push(if i == cylinder {
                c.diverter_heating
            } else {
                c.diverter_coil
            });
        }
        shut.sort_unstable();
        let on_the_way = match self.network.cylinders.get(cylinder) {
            Some(c) => pumps_upstream(&self.network, c.place),
            None => BTreeSet::new(),
        };
        let stopped = self
            .network
            .pumps
            .iter()
            .enumerate()
            .filter(|(_, pump)| pump.source.is_none() && !on_the_way.contains(&pump.element))
            .map(|(i, _)| i)
            .collect();
        (shut, stopped)
    }

    /// Shuts a zone, an emitter, or a line.
    fn shut(&mut self, at: &At<String>, shut: &mut Vec<ElementId>, stopped: &mut Vec<usize>) {
        let name = at.value.as_str();
        let valve_of = |network: &Network, e: usize| {
            let e = &network.emitters[e];
            e.valve.unwrap_or(e.body)
        };
        if let Some(zone) = self.network.zones.iter().position(|z| z.name == name) {
            shut.extend(self.network.zones[zone].valves.iter().copied());
            stopped.extend(self.network.zones[zone].pump);
            let members = (0..self.network.emitters.len())
                .filter(|&e| self.network.emitters[e].zone == Some(zone));
            shut.extend(
                members
                    .map(|e| valve_of(&self.network, e))
                    .collect::<Vec<_>>(),
            );
        } else if let Some(e) = self.network.emitters.iter().position(|e| e.name == name) {
            shut.push(valve_of(&self.network, e));
        } else if let Some(&(flow, back)) = self.lines.get(name) {
            let first = flow
                .or(back)
                .and_then(|run| self.network.runs[run].elements.first().copied());
            shut.extend(first);
        } else {
            self.unknown_in_state(at, "zone, emitter or pair");
        }
    }

    fn pump_named(&self, owner: &str) -> Option<usize> {
        let network = &self.network;
        let source = network
            .sources
            .iter()
            .find(|s| s.name == owner)
            .and_then(|s| s.pump);
        let vessel = || {
            network
                .vessels
                .iter()
                .find(|v| v.name == owner)
                .and_then(|v| match v.kind {
                    VesselKind::FourPort { pump, .. } | VesselKind::ThreePort { pump, .. } => pump,
                    VesselKind::Series { .. } => None,
                })
        };
        let manifold = || {
            let bar = network.manifolds.iter().find(|m| m.name == owner)?.bars.0;
            network
                .pumps
                .iter()
                .position(|p| network.ends(p.element).1 == bar)
        };
        let zone = || {
            network
                .zones
                .iter()
                .find(|z| z.name == owner)
                .and_then(|z| z.pump)
        };
        let exchanger = || {
            network
                .exchangers
                .iter()
                .find(|x| x.name == owner)
                .and_then(|x| x.pump)
        };
        source
            .or_else(vessel)
            .or_else(manifold)
            .or_else(zone)
            .or_else(exchanger)
    }
}

/// Pump elements that water passes on its way from sources and exchangers to a place on the flow side.
fn pumps_upstream(network: &Network, place: PlaceId) -> BTreeSet<ElementId> {
    let mut pumps = BTreeSet::new();
    let mut seen = BTreeSet::from([place]);
    let mut open = vec![place];
    while let Some(here) = open.pop() {
        for edge in network.graph.edges_directed(here, Incoming) {
            let element = edge.weight();
            if element.role == Role::Pump {
                pumps.insert(edge.id());
            }
            let upstream = edge.source();
            let warm = network.graph[upstream].side != Some(Side::Return);
            let ends_here = matches!(element.role, Role::SourceBody | Role::ExchangerSide);
            if ends_here {
                // the pump before an exchanger's far side feeds this circuit
                let before = network.graph.edges_directed(upstream, Incoming);
                pumps.extend(
                    before
                        .filter(|e| e.weight().role == Role::Pump)
                        .map(|e| e.id()),
                );
            } else if warm && seen.insert(upstream) {
                open.push(upstream);
            }
        }
    }
    pumps
}
