//! The house under construction: places, elements with unique names, runs with tags, and what was assumed on the way.

use super::lookup;
use super::piece::{Mark, Piece};
use crate::catalogue::Pipe;
use crate::diag::{Diagnostic, Span};
use crate::network::{
    Design, Element, ElementId, FluidData, Law, Network, Place, PlaceId, Run, RunKind, Source, Year,
};
use crate::survey::{self, Assumed, At, Head, Side, Survey};
use petgraph::graph::DiGraph;
use std::collections::{BTreeMap, BTreeSet};

/// Acceleration of fall, m/s² (standard value, CGPM 1901): turns metres of a fluid into a pressure.
pub(super) const GRAVITY_M_S2: f64 = 9.806_65;

/// Where pipes join a place. Most places have one node on each side; plant that stands between (a diverter, a vessel's
/// pump, a mixing set) has other nodes towards the source than away from it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Ports {
    /// Where the flow arrives from the source.
    pub flow_in: PlaceId,
    /// Where the flow leaves for what lies beyond.
    pub flow_out: PlaceId,
    /// Where the return arrives from what lies beyond.
    pub return_in: PlaceId,
    /// Where the return leaves for the source.
    pub return_out: PlaceId,
}

/// A run to be laid between two places.
pub(super) struct RunSpec<'a> {
    pub name: &'a str,
    /// Base of its elements' names.
    pub element_name: String,
    pub side: Option<Side>,
    pub kind: RunKind,
    pub pipe: Pipe,
    pub leg: &'a survey::Leg,
    pub pieces: Vec<Piece>,
    pub span: Option<Span>,
}

/// Where the two ends of a radiator on a one-pipe loop are.
pub(super) struct LoopEnds {
    pub ends: (PlaceId, PlaceId),
    pub one_pipe: crate::network::OnePipe,
    pub drop_k: Option<f64>,
}

/// The house under construction.
pub(super) struct Builder<'a> {
    pub survey: &'a Survey,
    pub network: Network,
    pub ports: BTreeMap<String, Ports>,
    /// Emitters that a one-pipe loop names.
    pub loop_ends: BTreeMap<String, LoopEnds>,
    /// Flow and return run of a written line, by its name.
    pub lines: BTreeMap<String, (Option<usize>, Option<usize>)>,
    /// Places at which a tee keeps its straight leg by construction, and places without tee loss.
    pub no_tees: BTreeSet<PlaceId>,
    pub straight_at: BTreeMap<PlaceId, ElementId>,
    /// Elements that never flow together with the others at their place, and so are no leg of a tee.
    pub aside: BTreeSet<ElementId>,
    pub faults: Vec<Diagnostic>,
    mains: BTreeMap<String, PlaceId>,
    element_names: BTreeSet<String>,
    place_names: BTreeSet<String>,
    tags: usize,
    pending_pumps: Vec<PendingPump<'a>>,
}

/// A pump whose curve becomes Pa only when it is known which fluid it pumps.
pub(super) struct PendingPump<'a> {
    pub pump: usize,
    pub curve: &'a survey::Curve,
    pub mode: Option<survey::PumpMode>,
    /// Temperature at which it pumps, °C.
    pub at_c: f64,
}

impl<'a> Builder<'a> {
    /// An empty house with the design of the survey.
    pub fn new(survey: &'a Survey) -> Self {
        let mut builder = Self {
            survey,
            network: empty(survey),
            ports: BTreeMap::new(),
            loop_ends: BTreeMap::new(),
            lines: BTreeMap::new(),
            no_tees: BTreeSet::new(),
            straight_at: BTreeMap::new(),
            aside: BTreeSet::new(),
            faults: Vec::new(),
            mains: BTreeMap::new(),
            element_names: BTreeSet::new(),
            place_names: BTreeSet::new(),
            tags: 0,
            pending_pumps: Vec::new(),
        };
        builder.design();
        builder
    }

    fn design(&mut self) {
        let (design, plan) = (&self.survey.design, &self.survey.plan);
        let flow_temperature_c = match &design.flow_temperature {
            Some(at) => at.value.0,
            None => {
                self.assume(
                    "design",
                    "flow temperature 45 °C",
                    "common practice, no source",
                );
                45.0
            }
        };
        let drop_k = match &design.drop {
            Some(at) => at.value.0,
            None => {
                self.assume(
                    "design",
                    "drop 5 K",
                    "EN 14511 rating at low temperature, from memory",
                );
                5.0
            }
        };
        if design.mean.is_none() {
            self.assume(
                "design",
                "logarithmic mean excess on its own base",
                "agrees with the arithmetic mean of EN 442-2 to 0.1 % at small drops",
            );
        }
        self.network.design = Design {
            flow_temperature_c,
            drop_k,
            outside_c: design.outside.as_ref().map(|t| t.value.0),
            load_w: design.load.as_ref().map(|p| p.value.0),
            mean: design.mean.as_ref().map(|m| m.value).unwrap_or_default(),
            lockshields_open: design.lockshields_open,
            sheet: design.sheet.clone(),
            year: Year {
                scop: plan.scop.as_ref().map(|a| a.value),
                slope_percent: plan.slope.as_ref().map(|a| a.value),
                heat_j: plan.heat_j.as_ref().map(|a| a.value),
                per_kwh: plan.per_kwh.as_ref().map(|a| a.value),
            },
        };
    }

    /// Notes a default that was used; said once however often it was used.
    pub fn assume(&mut self, subject: &str, value: &str, source: &str) {
        let known = |a: &Assumed| a.value == value && a.source == source;
        if let Some(same) = self.network.assumed.iter_mut().find(|a| known(a)) {
            if !same.subject.split(", ").any(|s| s == subject) {
                same.subject.push_str(", ");
                same.subject.push_str(subject);
            }
            return;
        }
        self.network.assumed.push(Assumed {
            subject: subject.to_owned(),
            value: value.to_owned(),
            source: source.to_owned(),
        });
    }

    /// A new node. The name is made unique.
    pub fn place(&mut self, name: &str, user: Option<&str>, side: Option<Side>) -> PlaceId {
        let name = unique(&mut self.place_names, name);
        self.network.graph.add_node(Place {
            name,
            user: user.map(str::to_owned),
            side,
        })
    }

    /// The nodes of one of the user's places, made when it is met first.
    pub fn ports(&mut self, name: &str) -> Ports {
        if let Some(ports) = self.ports.get(name) {
            return *ports;
        }
        let flow = self.place(&format!("{name} (flow)"), Some(name), Some(Side::Flow));
        let back = self.place(&format!("{name} (return)"), Some(name), Some(Side::Return));
        let ports = Ports {
            flow_in: flow,
            flow_out: flow,
            return_in: back,
            return_out: back,
        };
        self.ports.insert(name.to_owned(), ports);
        ports
    }

    /// One element between two places.
    pub fn element(
        &mut self,
        from: PlaceId,
        to: PlaceId,
        base: &str,
        piece: Piece,
        run: Option<usize>,
    ) -> ElementId {
        let wanted = piece.name_on(base);
        let name = unique(&mut self.element_names, &wanted);
        let pump = matches!(piece.law, Law::Pump(_));
        let id = self.network.graph.add_edge(
            from,
            to,
            Element {
                name,
                role: piece.role,
                law: piece.law,
                open: true,
                heat: piece.heat,
                fluid: 0,
                run,
                volume_m3: piece.volume_m3,
                span: piece.span,
            },
        );
        match piece.mark {
            Mark::None => {}
            Mark::Zone(zone) => self.network.zones[zone].valves.push(id),
            Mark::ZonePump(zone) => {
                let survey = self.survey;
                if let Some(pump) = survey.zones.get(zone).and_then(|z| z.pump.as_ref()) {
                    let name = format!("{} pump", survey.zones[zone].name.value);
                    let at_c = self.network.design.flow_temperature_c;
                    let index = self.pump(&name, id, pump, None, at_c);
                    self.network.zones[zone].pump = Some(index);
                }
            }
            Mark::Vessel(vessel) => {
                self.network.vessels[vessel].body = id;
                if let Some(run) = run {
                    self.network.vessels[vessel].kind = crate::network::VesselKind::Series { run };
                }
            }
        }
        debug_assert!(!pump || self.network.graph[id].role == crate::network::Role::Pump);
        id
    }

    /// Elements in series from one place to another, with joints between them. No piece at all becomes a joint
    /// without loss, so that the two places stay apart.
    pub fn chain(
        &mut self,
        from: PlaceId,
        to: PlaceId,
        base: &str,
        mut pieces: Vec<Piece>,
        run: Option<usize>,
        side: Option<Side>,
    ) -> Vec<ElementId> {
        if pieces.is_empty() {
            pieces.push(Piece::joint());
        }
        let last = pieces.len() - 1;
        let mut here = from;
        let mut ids = Vec::with_capacity(pieces.len());
        for (i, piece) in pieces.into_iter().enumerate() {
            let next = if i == last {
                to
            } else {
                let name = format!("after {}", piece.name_on(base));
                self.place(&name, None, side)
            };
            ids.push(self.element(here, next, base, piece, run));
            here = next;
        }
        ids
    }

    /// Lays a run and returns its index.
    pub fn run(&mut self, spec: RunSpec, from: PlaceId, to: PlaceId) -> usize {
        let index = self.network.runs.len();
        let tag = self.tag(spec.side);
        self.network.runs.push(Run {
            name: spec.name.to_owned(),
            tag,
            side: spec.side,
            kind: spec.kind,
            elements: Vec::new(),
            from,
            to,
            partner: None,
            pipe: spec.pipe.word.clone(),
            size: spec.pipe.size.clone(),
            outside_m: spec.pipe.outside.map(|m| m.0),
            bore_m: spec.pipe.bore.0,
            length_m: spec.leg.length.likeliest.0,
            material: spec.pipe.material.clone(),
            lies: spec.leg.lies,
            storey: spec.leg.storey.clone(),
            doubts: Vec::new(),
            span: spec.span,
        });
        let elements = self.chain(
            from,
            to,
            &spec.element_name,
            spec.pieces,
            Some(index),
            spec.side,
        );
        self.network.runs[index].elements = elements;
        index
    }

    /// Makes two runs the flow and the return of one line; they share the number of their tags.
    pub fn partners(&mut self, flow: usize, back: usize) {
        self.network.runs[flow].partner = Some(back);
        self.network.runs[back].partner = Some(flow);
        if let Some(number) = self.network.runs[flow].tag.strip_prefix('F') {
            self.network.runs[back].tag = format!("R{number}");
            self.tags = self.tags.saturating_sub(1);
        }
    }

    fn tag(&mut self, side: Option<Side>) -> String {
        self.tags += 1;
        let letter = match side {
            Some(Side::Flow) => 'F',
            Some(Side::Return) => 'R',
            None => 'M',
        };
        format!("{letter}{}", self.tags)
    }

    /// Registers a pump element.
    pub fn pump(
        &mut self,
        name: &str,
        element: ElementId,
        pump: &'a survey::Pump,
        source: Option<usize>,
        at_c: f64,
    ) -> usize {
        let mode = pump.mode.as_ref();
        let span = pump.curve.span.clone();
        self.pump_of(name, element, &pump.curve.value, mode, source, at_c, span)
    }

    /// Registers a pump element by its curve and mode.
    #[allow(clippy::too_many_arguments)]
    pub fn pump_of(
        &mut self,
        name: &str,
        element: ElementId,
        curve: &'a survey::Curve,
        mode: Option<&At<survey::PumpMode>>,
        source: Option<usize>,
        at_c: f64,
        span: Span,
    ) -> usize {
        let pump = self.network.pumps.len();
        self.network.pumps.push(crate::network::PumpInfo {
            name: name.to_owned(),
            element,
            mode: crate::network::PumpControl::FixedSpeed(1.0),
            mode_given: mode.is_some(),
            source,
            span: Some(span),
        });
        self.pending_pumps.push(PendingPump {
            pump,
            curve,
            mode: mode.map(|m| m.value),
            at_c,
        });
        pump
    }

    /// Takes the list of pumps that still wait for their fluid.
    pub fn take_pending_pumps(&mut self) -> Vec<PendingPump<'a>> {
        std::mem::take(&mut self.pending_pumps)
    }

    /// A pressure from what was written, at the design flow temperature of the job's fluid.
    pub fn pascal(&self, head: Head) -> f64 {
        match head {
            Head::Pressure(p) => p.0,
            Head::Fluid(m) => m.0 * GRAVITY_M_S2 * self.density(self.mean_c()),
        }
    }

    /// Density of the job's fluid, kg/m³.
    pub fn density(&self, at_c: f64) -> f64 {
        lookup::density(&self.network.fluids[0], at_c)
    }

    /// Middle of the design flow and return temperature, °C.
    pub fn mean_c(&self) -> f64 {
        self.network.design.flow_temperature_c - self.network.design.drop_k / 2.0
    }

    /// The node of a place that only single runs meet: one pipe, no sides.
    pub fn main_place(&mut self, name: &str) -> PlaceId {
        if let Some(place) = self.mains.get(name) {
            return *place;
        }
        let place = self.place(name, Some(name), None);
        self.mains.insert(name.to_owned(), place);
        place
    }

    /// The source of an index, if it is there.
    pub fn source(&self, index: usize) -> Option<&Source> {
        self.network.sources.get(index)
    }
}

/// The name, or the name with the least number that makes it unlike all before.
fn unique(taken: &mut BTreeSet<String>, wanted: &str) -> String {
    let mut name = wanted.to_owned();
    let mut count = 1;
    while !taken.insert(name.clone()) {
        count += 1;
        name = format!("{wanted} ({count})");
    }
    name
}

fn empty(survey: &Survey) -> Network {
    let fluid = survey
        .fluid
        .as_ref()
        .map_or(survey::Fluid::Water, |f| f.value.clone());
    Network {
        title: survey
            .job
            .as_ref()
            .map_or("the house", |j| j.value.as_str())
            .to_owned(),
        graph: DiGraph::default(),
        fluids: vec![fluid_data(fluid)],
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
        valve_tables: Vec::new(),
        readings: Vec::new(),
        evidence: Vec::new(),
        zones: Vec::new(),
        tees: Vec::new(),
        states: Vec::new(),
        doubts: Vec::new(),
        design: Design {
            flow_temperature_c: 0.0,
            drop_k: 0.0,
            outside_c: None,
            load_w: None,
            mean: survey::Mean::default(),
            lockshields_open: false,
            sheet: Vec::new(),
            year: Year::default(),
        },
        limits: survey
            .limits
            .iter()
            .map(|(k, v)| (k.value.clone(), v.value))
            .collect(),
        assumed: survey.assumed.clone(),
        units: survey.units.clone(),
        reference_case: false,
    }
}

/// What flows, as the solver takes it.
pub(super) fn fluid_data(fluid: survey::Fluid) -> FluidData {
    match fluid {
        survey::Fluid::Given {
            density,
            heat_capacity,
            viscosity,
        } => FluidData::Constant {
            rho_kg_m3: density,
            mu_pa_s: viscosity,
            cp_j_kgk: heat_capacity,
        },
        other => FluidData::ByTemperature(other),
    }
}
