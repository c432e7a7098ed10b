//! What only the joined house can tell: circuits that do not close, islands that nothing feeds, crossed pipes, sources
//! that drive each other.

use super::build::Builder;
use crate::diag::{Diagnostic, Span};
use crate::network::{ElementId, Network, PlaceId, Role};
use crate::survey::{Side, VesselKind};
use petgraph::Direction::{Incoming, Outgoing};
use petgraph::algo::tarjan_scc;
use petgraph::visit::EdgeRef;
use std::collections::{BTreeMap, BTreeSet};

impl Builder<'_> {
    /// Every check of the joined house. Nothing is checked while an earlier mistake left holes in it.
    pub fn check(&mut self) {
        if crate::diag::any_error(&self.faults) {
            return;
        }
        self.names_on_lines();
        self.islands();
        if !crate::diag::any_error(&self.faults) {
            self.closure();
        }
        if !crate::diag::any_error(&self.faults) {
            self.sources_apart();
        }
    }

    /// Zones and series vessels stand on lines that exist.
    fn names_on_lines(&mut self) {
        let survey = self.survey;
        let on = survey.zones.iter().flat_map(|z| &z.on);
        let in_series = survey.vessels.iter().filter_map(|v| match &v.kind {
            VesselKind::Series { on, .. } => Some(on),
            _ => None,
        });
        let missing: Vec<_> = on
            .chain(in_series)
            .filter(|at| !self.lines.contains_key(&at.value))
            .collect();
        for at in missing {
            self.faults.push(
                Diagnostic::error(
                    "unknown-pair",
                    at.span.clone(),
                    format!("there is no pair `{}`", at.value),
                )
                .label("no pair or run has this name"),
            );
        }
    }

    /// Parts of the house that no source, exchanger or pump feeds.
    fn islands(&mut self) {
        let circuit_of = self.circuit_of();
        let network = &self.network;
        let mut fed: BTreeSet<u32> = BTreeSet::new();
        for id in network.element_ids() {
            let role = network.element(id).role;
            if matches!(role, Role::SourceBody | Role::Pump | Role::ExchangerSide) {
                fed.insert(circuit_of[network.ends(id).0.index()]);
            }
        }
        let mut said: BTreeSet<u32> = BTreeSet::new();
        let mut found = Vec::new();
        for id in network.element_ids() {
            let circuit = circuit_of[network.ends(id).0.index()];
            if fed.contains(&circuit) || !said.insert(circuit) {
                continue;
            }
            let (name, span) = self.words_of(id);
            found.push(
                Diagnostic::error("not-joined", span, format!("nothing joins `{name}` to a heat source"))
                    .label("no way leads here from a source")
                    .help("check the names of the places along the way; a pair is written from the source outwards"),
            );
        }
        self.faults.extend(found);
    }

    /// Name and place in the file of the line or emitter that an element belongs to.
    fn words_of(&self, id: ElementId) -> (String, Span) {
        let element = self.network.element(id);
        let run = element.run.and_then(|run| self.network.runs.get(run));
        let name = run.map_or(element.name.as_str(), |run| run.name.as_str());
        let span = run
            .and_then(|run| run.span.clone())
            .or_else(|| element.span.clone());
        (name.to_owned(), span.unwrap_or(0..0))
    }

    /// Every element must lie on a way round; one that does not is a dead end, or is drawn against the flow.
    fn closure(&mut self) {
        let network = &self.network;
        let mut part = vec![0usize; network.graph.node_count()];
        for (i, places) in tarjan_scc(&network.graph).into_iter().enumerate() {
            for place in places {
                part[place.index()] = i;
            }
        }
        let open: Vec<ElementId> = network
            .element_ids()
            .filter(|id| {
                let (a, b) = network.ends(*id);
                part[a.index()] != part[b.index()]
            })
            .collect();
        let mut found: Vec<Diagnostic> = Vec::new();
        let mut said: BTreeSet<String> = BTreeSet::new();
        for id in &open {
            let (from, to) = network.ends(*id);
            let dead =
                |place: PlaceId, way| network.graph.edges_directed(place, way).next().is_none();
            // the return of a pair ends where its flow does: one message for both
            let (place, ends) = if dead(to, Outgoing) {
                (to, true)
            } else if dead(from, Incoming) {
                (from, false)
            } else {
                continue;
            };
            let words = network.graph[place]
                .user
                .clone()
                .unwrap_or_else(|| network.graph[place].name.clone());
            if !said.insert(words.clone()) {
                continue;
            }
            let (name, span) = self.words_of(*id);
            let side = network.graph[place].side;
            let message = match (ends, side) {
                (true, Some(Side::Flow)) | (false, Some(Side::Return)) => {
                    format!(
                        "the circuit does not close: `{name}` leads to `{words}`, and nothing leads back from there"
                    )
                }
                (true, _) => {
                    format!("the circuit does not close: nothing takes the water on from `{words}`")
                }
                (false, _) => format!("the circuit does not close: no water comes to `{words}`"),
            };
            found.push(
                Diagnostic::error("not-closed", span, message)
                    .label(format!("a dead end at `{words}`"))
                    .help(format!("hang an emitter on it (from = \"{words}\"), lead it on, or take the run out")),
            );
        }
        if found.is_empty()
            && let Some(id) = open
                .iter()
                .find(|id| network.element(**id).run.is_some())
                .or(open.first())
        {
            let (name, span) = self.words_of(*id);
            found.push(
                Diagnostic::error(
                    "crossed",
                    span,
                    format!("water cannot pass `{name}` in the direction written and come back to its source"),
                )
                .label("flow and return are crossed here, or the run is written backwards")
                .help("from, to is the way the water goes; `.flow` and `.return` name the two sides of a thing"),
            );
        }
        self.faults.extend(found);
    }

    /// Two sources on one circuit must not drive each other: a check valve, a zone valve or a header at each, or named
    /// states in which they run apart.
    fn sources_apart(&mut self) {
        let survey = self.survey;
        // whoever names which sources run together has thought about it
        let told = survey.states.iter().any(|s| !s.sources.is_empty());
        if self.network.sources.len() < 2 || told {
            return;
        }
        let circuit_of = self.circuit_of();
        let mut exposed: BTreeMap<u32, Vec<usize>> = BTreeMap::new();
        for (i, source) in self.network.sources.iter().enumerate() {
            if !self.is_apart(source.flow_place, source.return_place) {
                exposed
                    .entry(circuit_of[source.flow_place.index()])
                    .or_default()
                    .push(i);
            }
        }
        for together in exposed.values() {
            let [first, second, ..] = together.as_slice() else {
                continue;
            };
            let (Some(a), Some(b)) = (survey.sources.get(*first), survey.sources.get(*second))
            else {
                continue;
            };
            self.faults.push(
                Diagnostic::error(
                    "sources-together",
                    b.name.span.clone(),
                    format!("`{}` and `{}` feed the same circuit with nothing between them", a.name.value, b.name.value),
                )
                .label("drives water backwards through the other when that stands still")
                .also(a.name.span.clone(), "the other source")
                .help("write the check valve, zone valve, header or exchanger that separates them, or name the states in which each runs: [state.summer] sources = [\"…\"]"),
            );
        }
    }

    /// Whether a source's own branch, up to where other water joins it, has something that keeps strange water out.
    fn is_apart(&self, flow: PlaceId, back: PlaceId) -> bool {
        let network = &self.network;
        let (flow_stop, flow_end) = branch_end(network, flow);
        let (back_stop, back_end) = branch_end(network, back);
        let header = self
            .headers()
            .iter()
            .any(|(top, bottom)| *top == flow_end && *bottom == back_end);
        flow_stop || back_stop || header
    }
}

/// Walks from a source's connection to the first place where more than two elements meet. Says whether a valve that can
/// stop the water was met.
fn branch_end(network: &Network, start: PlaceId) -> (bool, PlaceId) {
    let mut here = start;
    let mut came_by: Option<ElementId> = None;
    let mut stopped = false;
    for _ in 0..network.graph.node_count() {
        let out = network.graph.edges_directed(here, Outgoing);
        let around: Vec<_> = out
            .chain(network.graph.edges_directed(here, Incoming))
            .collect();
        if around.len() != 2 {
            break;
        }
        let onward = around.iter().find(|e| {
            Some(e.id()) != came_by
                && e.weight().role != Role::SourceBody
                && e.weight().role != Role::Pump
        });
        let Some(edge) = onward else { break };
        stopped |= matches!(edge.weight().role, Role::CheckValve | Role::Valve);
        came_by = Some(edge.id());
        here = if edge.source() == here {
            edge.target()
        } else {
            edge.source()
        };
    }
    (stopped, here)
}
