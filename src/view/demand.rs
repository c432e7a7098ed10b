//! What the emitters' duty asks of the house in one state: which of them take part, the flow held through each, the
//! draw of mixing sets, and the flow of each source with what it follows from.

use super::losses::properties;
use super::march::Outlet;
use super::{BasisUsed, FlowBasis, reach};
use crate::network::{ElementId, Law, Network, Part, PartGroup, PartLaw, PumpControl};
use crate::solve::{Setting, SolveError};

/// The demand of one state, ready to solve.
#[derive(Clone, Debug)]
pub(crate) struct Demand {
    /// Pumps joined, emitters held, what takes no part shut.
    pub setting: Setting,
    /// By emitter, kg/s; zero where it takes no part or where its flow is a result (one-pipe).
    pub emitter_kg_s: Vec<f64>,
    /// By emitter: takes part.
    pub active: Vec<bool>,
    /// By cylinder: heat through its coil, W; zero where it takes no part.
    pub coil_w: Vec<f64>,
    /// By exchanger: heat from near to far, W.
    pub exchanger_w: Vec<f64>,
    /// By element: how it changes the temperature.
    pub outlet: Vec<Outlet>,
    /// Places whose temperature a mixing set keeps, °C.
    pub mixed: Vec<(usize, f64)>,
    /// By source: share of the house's heat, 0 if it stands still.
    pub share: Vec<f64>,
    /// By source: its flow is held because the other side of a vessel does not fix it.
    pub separated: Vec<bool>,
    /// Sum of the needs that take part, W.
    pub rooms_w: f64,
}

/// Heat capacity of an element's fluid, J/(kg K).
///
/// # Errors
/// Outside the range in which it is known.
pub(crate) fn cp_j_kgk(network: &Network, element: ElementId, c: f64) -> Result<f64, SolveError> {
    Ok(properties(network, element, c)?.cp_j_kgk)
}

/// Makes the demand of house state `state`.
///
/// # Errors
/// Where a temperature lies outside the range in which the fluid is known.
pub(crate) fn demand(network: &Network, state: usize) -> Result<Demand, SolveError> {
    let house = &network.states[state];
    let mut setting = Setting::of(network, house);
    setting.heat = false;
    setting
        .stopped
        .iter_mut()
        .for_each(|stopped| *stopped = true);
    for id in network.element_ids() {
        setting.shut[id.index()] |= !network.element(id).open;
    }
    for bypass in &network.bypasses {
        setting.shut[bypass.element.index()] = true;
    }
    let coil_w = coils(network, &setting);
    let heating = !coil_w.iter().any(|&w| w > 0.0);
    let reached = reach::reach(network, &setting);
    let active: Vec<bool> = network
        .emitters
        .iter()
        .map(|emitter| {
            let (a, b) = network.ends(emitter.body);
            heating
                && reached[a.index()]
                && reached[b.index()]
                && !emitter.branch.iter().any(|id| setting.shut[id.index()])
        })
        .collect();
    let elements = network.graph.edge_count();
    let mut demand = Demand {
        emitter_kg_s: vec![0.0; network.emitters.len()],
        exchanger_w: vec![0.0; network.exchangers.len()],
        outlet: vec![Outlet::AsInlet; elements],
        mixed: Vec::new(),
        share: shares(network, &setting),
        separated: vec![false; network.sources.len()],
        rooms_w: 0.0,
        setting,
        active,
        coil_w,
    };
    demand.hold_emitters(network)?;
    demand.hold_blends(network, None);
    demand.hold_coils(network)?;
    demand.hold_exchangers(network)?;
    demand.run_sources(network)?;
    Ok(demand)
}

impl Demand {
    /// The flow through each emitter, or through the main of a one-pipe loop, follows from duty and drop.
    fn hold_emitters(&mut self, network: &Network) -> Result<(), SolveError> {
        let mut loops: Vec<(usize, f64)> = Vec::new();
        for (i, emitter) in network.emitters.iter().enumerate() {
            let body = emitter.body.index();
            if !self.active[i] {
                self.setting.shut[body] = true;
                continue;
            }
            self.rooms_w += emitter.duty_w;
            let mean_c = self.supply_c(network, i) - emitter.drop_k / 2.0;
            let flow = emitter.duty_w / (cp_j_kgk(network, emitter.body, mean_c)? * emitter.drop_k);
            match emitter.one_pipe {
                None => {
                    self.emitter_kg_s[i] = flow;
                    self.setting.held_kg_s[body] = Some(flow);
                    self.outlet[body] = Outlet::Drop(emitter.drop_k);
                }
                Some(one_pipe) => match loops.iter_mut().find(|l| l.0 == one_pipe.loop_index) {
                    Some(l) => l.1 += flow,
                    None => loops.push((one_pipe.loop_index, flow)),
                },
            }
        }
        for (loop_index, flow) in loops {
            self.hold_loop(network, loop_index, flow);
        }
        Ok(())
    }

    /// The main of a one-pipe loop carries the sum; branches take the share that tee and kv give, or a known share.
    fn hold_loop(&mut self, network: &Network, loop_index: usize, flow_kg_s: f64) {
        let on_loop = |i: &usize| {
            network.emitters[*i]
                .one_pipe
                .is_some_and(|o| o.loop_index == loop_index)
        };
        let mut main = None;
        for i in (0..network.emitters.len()).filter(on_loop) {
            let emitter = &network.emitters[i];
            let Some(one_pipe) = emitter.one_pipe else {
                continue;
            };
            if main.is_none() {
                main = self.main_before(network, one_pipe.between, &emitter.branch);
            }
            if let (true, Some(share)) = (self.active[i], one_pipe.share) {
                self.setting.held_kg_s[emitter.body.index()] = Some(share * flow_kg_s);
                self.emitter_kg_s[i] = share * flow_kg_s;
            }
        }
        if let Some((element, forward)) = main {
            self.setting.held_kg_s[element.index()] =
                Some(if forward { flow_kg_s } else { -flow_kg_s });
        }
    }

    /// The element of the main that leads to a radiator's first tee, and whether water passes it forwards.
    fn main_before(
        &self,
        network: &Network,
        between: ElementId,
        branch: &[ElementId],
    ) -> Option<(ElementId, bool)> {
        let (first_tee, _) = network.ends(between);
        network
            .element_ids()
            .filter(|id| *id != between && !branch.contains(id) && !self.setting.shut[id.index()])
            .find_map(|id| {
                let (a, b) = network.ends(id);
                (b == first_tee)
                    .then_some((id, true))
                    .or((a == first_tee).then_some((id, false)))
            })
    }

    /// Draw of each mixing set by energy balance at its set temperature; `inlet_c` by manifold where it is known better
    /// than the source's flow temperature. True if a draw changed by more than 1e-9 of itself.
    pub fn hold_blends(&mut self, network: &Network, inlet_c: Option<&[Option<f64>]>) -> bool {
        let mut changed = false;
        self.mixed.clear();
        for (i, manifold) in network.manifolds.iter().enumerate() {
            let Some(blend) = manifold.blend else {
                continue;
            };
            let (mut mass, mut cooled) = (0.0, 0.0);
            for &e in &manifold.emitters {
                mass += self.emitter_kg_s[e];
                cooled += self.emitter_kg_s[e] * network.emitters[e].drop_k;
            }
            let hot_c = inlet_c.and_then(|c| c[i]).unwrap_or(self.setting.flow_c);
            let draw = if mass == 0.0 {
                0.0
            } else if hot_c <= blend.set_c {
                mass
            } else {
                let return_c = blend.set_c - cooled / mass;
                mass * (blend.set_c - return_c) / (hot_c - return_c)
            };
            let held = &mut self.setting.held_kg_s[blend.inlet.index()];
            changed |= held.is_none_or(|old| (old - draw).abs() > 1e-9 * draw);
            *held = Some(draw);
            self.setting.shut[blend.inlet.index()] = draw == 0.0;
            self.mixed.push((blend.mixed.index(), blend.set_c));
        }
        changed
    }

    fn hold_coils(&mut self, network: &Network) -> Result<(), SolveError> {
        for (i, cylinder) in network.cylinders.iter().enumerate() {
            let coil = cylinder.coil.index();
            if self.coil_w[i] > 0.0 {
                let mean_c = cylinder.flow_temperature_c - cylinder.drop_k / 2.0;
                let cp = cp_j_kgk(network, cylinder.coil, mean_c)?;
                self.setting.held_kg_s[coil] = Some(self.coil_w[i] / (cp * cylinder.drop_k));
                self.setting.flow_c = cylinder.flow_temperature_c;
                self.setting.return_c = cylinder.flow_temperature_c - cylinder.drop_k;
                self.outlet[coil] = Outlet::Drop(cylinder.drop_k);
            } else {
                self.setting.shut[coil] = true;
            }
        }
        Ok(())
    }

    /// An exchanger's near side carries what its far circuit needs at the job's drop.
    fn hold_exchangers(&mut self, network: &Network) -> Result<(), SolveError> {
        let circuit = reach::circuits(network);
        // an exchanger may feed a circuit with another exchanger in it: from the outside in, once for each
        for _ in 0..network.exchangers.len() {
            for (i, exchanger) in network.exchangers.iter().enumerate() {
                let far = circuit[network.ends(exchanger.far).0.index()];
                let emitters = network.emitters.iter().enumerate();
                let own: f64 = emitters
                    .filter(|(e, emitter)| {
                        self.active[*e] && circuit[network.ends(emitter.body).0.index()] == far
                    })
                    .map(|(_, emitter)| emitter.duty_w)
                    .sum();
                let beyond = network.exchangers.iter().enumerate();
                let beyond: f64 = beyond
                    .filter(|(x, other)| {
                        *x != i && circuit[network.ends(other.near).0.index()] == far
                    })
                    .map(|(x, _)| self.exchanger_w[x])
                    .sum();
                self.exchanger_w[i] = own + beyond;
            }
        }
        for (i, exchanger) in network.exchangers.iter().enumerate() {
            let (near, far) = (exchanger.near.index(), exchanger.far.index());
            let drop_k = network.design.drop_k;
            let heat_w = self.exchanger_w[i];
            if heat_w <= 0.0 {
                self.setting.shut[near] = true;
                continue;
            }
            let flow =
                heat_w / (cp_j_kgk(network, exchanger.near, self.setting.return_c)? * drop_k);
            self.setting.held_kg_s[near] = Some(flow);
            self.outlet[near] = Outlet::Drop(drop_k);
            self.outlet[far] = Outlet::Exchanger {
                near: exchanger.near,
                heat_w,
                ua_w_k: exchanger.ua_w_k,
                near_w_k: heat_w / drop_k,
                far_w_k: heat_w / drop_k,
            };
        }
        Ok(())
    }

    /// Sources make their flow temperature; one whose flow nothing else fixes is held to what it has to carry.
    fn run_sources(&mut self, network: &Network) -> Result<(), SolveError> {
        let mut fixed = self.setting.held_kg_s.clone();
        for (i, source) in network.sources.iter().enumerate() {
            let body = source.body.index();
            if self.share[i] == 0.0 {
                self.setting.shut[body] = true;
                continue;
            }
            self.outlet[body] = Outlet::At(self.source_c(i));
            let free = |id: ElementId| {
                !self.setting.shut[id.index()] && fixed[id.index()].is_none() && id != source.body
            };
            if reach::joined(network, source.flow_place, source.return_place, free) {
                let flow = self.basis(network, i, None)?.flow_kg_s;
                self.setting.held_kg_s[body] = Some(flow);
                fixed[body] = Some(flow);
                self.separated[i] = true;
            }
        }
        Ok(())
    }

    /// Hottest water that a running source makes in this state, °C.
    pub fn hottest_c(&self) -> f64 {
        let running = (0..self.share.len()).filter(|&i| self.share[i] > 0.0);
        let hottest = running
            .map(|i| self.source_c(i))
            .fold(f64::NEG_INFINITY, f64::max);
        if hottest.is_finite() {
            hottest
        } else {
            self.setting.flow_c
        }
    }

    /// Flow temperature that a source makes in this state, °C.
    fn source_c(&self, source: usize) -> f64 {
        if self.coil_w.iter().any(|&w| w > 0.0) {
            self.setting.flow_c
        } else {
            self.setting.sources[source].flow_c
        }
    }

    /// Temperature that an emitter is to be fed with, °C.
    pub fn supply_c(&self, network: &Network, emitter: usize) -> f64 {
        let manifold = network.emitters[emitter].manifold;
        let set_c = manifold
            .and_then(|m| network.manifolds[m].blend)
            .map(|b| b.set_c);
        set_c.map_or(self.setting.flow_c, |set_c| set_c.min(self.setting.flow_c))
    }

    /// What a source's flow follows from; `sum_kg_s` is the flow that the emitters' sums give it, where they fix it.
    pub fn basis(
        &self,
        network: &Network,
        source: usize,
        sum_kg_s: Option<f64>,
    ) -> Result<FlowBasis, SolveError> {
        let s = &network.sources[source];
        let share = self.share[source];
        let hot_water: f64 = self.coil_w.iter().sum();
        let control = s.pump.map(|p| &network.pumps[p]);
        let drop_k = match control.map(|p| p.mode) {
            Some(PumpControl::HeldToDrop { drop_k, .. }) => drop_k,
            _ => network.design.drop_k,
        };
        let cp = cp_j_kgk(network, s.body, self.setting.flow_c - drop_k / 2.0)?;
        // makers state flow at the unit's return
        let rho = properties(network, s.body, self.setting.flow_c - drop_k)?.rho_kg_m3;
        let nominal_kg_s = s.nominal_flow_m3_s.map(|q| q * rho);
        let mut basis = FlowBasis {
            rooms_w: self.rooms_w * share,
            load_w: network.design.load_w.map(|w| w * share),
            nominal_kg_s,
            flow_kg_s: 0.0,
            drop_k: 0.0,
            used: BasisUsed::Rooms,
        };
        if share == 0.0 {
            return Ok(basis);
        }
        if hot_water > 0.0 {
            let flow = sum_kg_s.unwrap_or(hot_water * share / (cp * drop_k));
            return Ok(FlowBasis {
                flow_kg_s: flow,
                drop_k: hot_water * share / (cp * flow),
                used: BasisUsed::Output,
                ..basis
            });
        }
        let held = match control {
            Some(pump) if pump.mode_given => match pump.mode {
                PumpControl::HeldToFlow(flow) => Some(flow),
                _ => None,
            },
            _ => None,
        };
        basis.flow_kg_s = sum_kg_s.unwrap_or(basis.rooms_w / (cp * drop_k));
        let others = [
            (basis.load_w.map(|w| w / (cp * drop_k)), BasisUsed::Load),
            (nominal_kg_s, BasisUsed::Nominal),
            (held, BasisUsed::HeldFlow),
        ];
        for (flow, used) in others {
            // the sum of needs keeps its name where a declared figure is the same but for rounding
            if let Some(flow) = flow.filter(|flow| *flow > basis.flow_kg_s * (1.0 + 1e-9)) {
                basis.flow_kg_s = flow;
                basis.used = used;
            }
        }
        basis.drop_k = basis.rooms_w / (cp * basis.flow_kg_s);
        Ok(basis)
    }
}

/// Heat through each coil that the state's diverters feed: the running units' full output.
fn coils(network: &Network, setting: &Setting) -> Vec<f64> {
    let fed = |i: &usize| {
        let c = &network.cylinders[*i];
        !setting.shut[c.diverter_coil.index()] && !setting.shut[c.coil.index()]
    };
    let count = (0..network.cylinders.len()).filter(fed).count();
    let running = network
        .sources
        .iter()
        .zip(&setting.sources)
        .filter(|(_, s)| s.runs);
    let output: f64 = running
        .map(|(source, _)| source.output_w.unwrap_or(0.0))
        .sum();
    let needs: f64 = network.emitters.iter().map(|e| e.duty_w).sum();
    let heat = if output > 0.0 {
        output
    } else {
        network.design.load_w.unwrap_or(needs)
    };
    (0..network.cylinders.len())
        .map(|i| if fed(&i) { heat / count as f64 } else { 0.0 })
        .collect()
}

/// How running sources share the house's heat: by output, evenly where one is unknown.
fn shares(network: &Network, setting: &Setting) -> Vec<f64> {
    let runs = |i: usize| setting.sources[i].runs;
    let all = 0..network.sources.len();
    let known = all
        .clone()
        .filter(|&i| runs(i))
        .all(|i| network.sources[i].output_w.is_some());
    let weight = |i: usize| match (runs(i), known) {
        (false, _) => 0.0,
        (true, true) => network.sources[i].output_w.unwrap_or(1.0),
        (true, false) => 1.0,
    };
    let sum: f64 = all.clone().map(weight).sum();
    all.map(|i| if sum > 0.0 { weight(i) / sum } else { 0.0 })
        .collect()
}

/// A flow-holding valve or mixing inlet seen as the plain resistance that it is when fully open.
pub(crate) fn fully_open(law: &Law) -> Option<Law> {
    match law {
        Law::HoldFlow { kv_m3h, .. } => Some(Law::Parts(vec![Part {
            group: PartGroup::Valves,
            words: String::new(),
            symbol: String::new(),
            count: 1,
            law: PartLaw::Kv { kv_m3h: *kv_m3h },
            source: String::new(),
            span: None,
        }])),
        Law::Parts(_) | Law::Pump(_) | Law::OneWay { .. } => None,
    }
}
