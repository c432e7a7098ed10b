//! Kv of every valve and head of every pump at which each emitter gets its design flow as the house runs.
//!
//! The flow of every emitter that can be set is held while the house is solved with heat; what pressure is then left
//! over across it is what its valve has to take. Of that, the least on each pumped circuit is taken off its pump, so that
//! the index emitter stands fully open; a balancing valve on a run takes what all emitters behind it have in common.

use super::pump;
use crate::network::{
    ElementId, HeatLaw, Law, Network, Part, PartGroup, PartLaw, PumpControl, Setter, SetterKind,
};
use crate::solve::{Setting, SolveError, State, part_loss};
use crate::view::running::{self, lockshields, setter_loss_pa, solve_blended, throttled_kv};
use crate::view::{Required, Through};
use std::collections::BTreeMap;

/// Laws that stand in the place of the network's own.
pub type Laws = BTreeMap<ElementId, Law>;

/// Heads closer to what is needed than this are settled, Pa: a hair's breadth of any gauge.
const SETTLED_PA: f64 = 0.01;
/// Less than this left over counts as nothing: the valve stands open, Pa.
pub(super) const OPEN_PA: f64 = 1.0;
/// Flows of a circuit whose emitters cannot be set are even when the next factor differs from 1 by less.
const EVEN: f64 = 1e-6;
const ROUNDS: usize = 40;

/// What balancing works on.
#[derive(Clone, Debug)]
pub struct Ground<'a> {
    /// The house.
    pub network: &'a Network,
    /// What its duty requires while it heats.
    pub required: &'a Required,
    /// By emitter: what sets its flow.
    pub setters: Vec<Option<Setter>>,
    /// Balancing valves on runs, those that feed most emitters first.
    pub branches: Vec<Setter>,
}

/// Settings found.
#[derive(Clone, Debug)]
pub struct Settled {
    /// By emitter: kv at which its valve is to stand, m³/h.
    pub kv: Vec<Option<f64>>,
    /// By emitter: pressure left over for its valve beyond what it takes fully open, Pa.
    pub spare_pa: Vec<Option<f64>>,
    /// By balancing valve on a run: kv, m³/h.
    pub branch_kv: Vec<f64>,
    /// By pump: how it is to be run.
    pub control: Vec<PumpControl>,
    /// By pumped circuit of the required view.
    pub circuits: Vec<Circuit>,
}

/// A pumped circuit with its pump set.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Circuit {
    /// Flow through the pump, kg/s.
    pub flow_kg_s: f64,
    /// The same, m³/s at its own temperature.
    pub flow_m3_s: f64,
    /// Head that it needs there, Pa.
    pub needed_pa: f64,
    /// Head that its curve lacks, Pa; zero where it is enough.
    pub short_pa: f64,
    /// The emitter whose valve stands open; `None` where something else decides.
    pub index: Option<usize>,
}

impl<'a> Ground<'a> {
    /// Of a house and its required view.
    pub fn new(network: &'a Network, required: &'a Required) -> Self {
        let mut branches = branches(network);
        let mut this = Self {
            network,
            required,
            setters: (0..network.emitters.len())
                .map(|i| network.setter(i))
                .collect(),
            branches: Vec::new(),
        };
        branches.sort_by_key(|b| std::cmp::Reverse(this.behind(b).len()));
        this.branches = branches;
        this
    }

    /// Flow that an emitter is to get by its valve, kg/s; `None` where nothing sets it, or nothing is asked of it.
    pub fn target(&self, emitter: usize) -> Option<f64> {
        let flow = self.required.emitters[emitter].flow_kg_s;
        let own = self.network.emitters[emitter].one_pipe.is_none();
        (own && flow > 0.0 && self.setters[emitter].is_some()).then_some(flow)
    }

    /// Emitters that a balancing valve feeds.
    pub fn behind(&self, branch: &Setter) -> Vec<usize> {
        let on = |p: &&crate::view::Path| p.elements.iter().any(|(id, _)| *id == branch.element);
        let circuits = self.required.circuits.iter();
        let paths = circuits.flat_map(|c| c.paths.iter().filter(on));
        paths
            .filter_map(|p| match p.through {
                Through::Emitter(i) => Some(i),
                _ => None,
            })
            .collect()
    }

    /// The heating setting with these laws, every setter at the kv given (by emitter, then by balancing valve; open
    /// where `None`).
    pub fn setting(&self, laws: &Laws, kv: &[Option<f64>], branch_kv: &[f64]) -> Setting {
        let open = lockshields(self.network, true, None);
        let mut setting = running::setting(self.network, self.required.state, &open);
        setting
            .law
            .extend(laws.iter().map(|(k, v)| (*k, v.clone())));
        let own = self.setters.iter().zip(kv);
        let own = own.filter_map(|(s, kv)| Some((s.as_ref()?, *kv)));
        let shared = self.branches.iter().zip(branch_kv);
        for (setter, kv) in own.chain(shared.map(|(s, kv)| (s, Some(*kv)))) {
            let law = setting.law.get(&setter.element);
            let law = law.unwrap_or(&self.network.element(setter.element).law);
            let law = law.with_part_kv(setter.part, kv.unwrap_or(setter.open_kv_m3h));
            setting.law.insert(setter.element, law);
        }
        setting
    }

    /// Whether a circuit's flow is what its emitters and mixing sets hold, so that its pump's head is free.
    pub(super) fn carried(&self, circuit: usize) -> bool {
        self.required.circuits[circuit]
            .paths
            .iter()
            .any(|p| match p.through {
                Through::Emitter(i) => self.target(i).is_some(),
                Through::Manifold(_) => true,
                _ => false,
            })
    }

    /// Finds the settings. `gain` is by emitter what its valve really has of the kv that it is set to; 1 where nothing
    /// is given.
    ///
    /// # Errors
    /// Whatever stops the solver.
    pub fn settle(&self, laws: &Laws, gain: &[f64]) -> Result<Settled, SolveError> {
        let (network, required) = (self.network, self.required);
        let gain = |i: usize| gain.get(i).copied().unwrap_or(1.0);
        let open: Vec<Option<f64>> = (0..network.emitters.len())
            .map(|i| self.setters[i].map(|s| s.open_kv_m3h * gain(i)))
            .collect();
        let branch_open: Vec<f64> = self.branches.iter().map(|b| b.open_kv_m3h).collect();
        let mut base = self.setting(laws, &open, &branch_open);
        for i in 0..network.emitters.len() {
            if let Some(flow) = self.target(i) {
                base.held_kg_s[network.emitters[i].body.index()] = Some(flow);
            }
        }
        let mut mains = self.mains();
        for main in &mains {
            base.held_kg_s[main.element.index()] = Some(main.flow_kg_s);
        }
        let mut circuits: Vec<Circuit> = required
            .circuits
            .iter()
            .map(|c| Circuit {
                flow_kg_s: c.flow_kg_s,
                flow_m3_s: c.flow_m3_s,
                needed_pa: c.needed_pa.max(0.0),
                short_pa: 0.0,
                index: None,
            })
            .collect();
        for (c, circuit) in required.circuits.iter().enumerate() {
            if let Some(pump) = circuit.pump {
                base.control[pump] = if self.carried(c) {
                    PumpControl::ConstantHead(circuits[c].needed_pa)
                } else {
                    PumpControl::HeldToFlow(circuit.flow_kg_s)
                };
            }
        }
        for (c, circuit) in required.circuits.iter().enumerate() {
            let full = circuit.pump.filter(|_| !self.carried(c));
            let full = full.and_then(|p| pump::full_pa(network, p, circuit.flow_m3_s));
            if let Some(full_pa) = full {
                circuits[c].short_pa = (circuit.needed_pa - full_pa).max(0.0);
            }
        }
        let mut round = 0;
        let (spare, solved) = loop {
            let mut setting = base.clone();
            let solved = solve_blended(network, &mut setting)?;
            let mut spare: Vec<Option<f64>> = (0..network.emitters.len())
                .map(|i| self.spare_pa(&setting, &solved, i))
                .collect();
            let mut off = 0.0_f64;
            let mut uneven = 0.0_f64;
            for main in &mut mains {
                for &i in &main.emitters {
                    spare[i] = left_over_pa(network, &setting, &solved, main.element);
                }
                if let Some(even) = self.even(&main.emitters, &solved) {
                    main.flow_kg_s *= even;
                    base.held_kg_s[main.element.index()] = Some(main.flow_kg_s);
                    uneven = uneven.max((even - 1.0).abs());
                }
            }
            for (c, circuit) in required.circuits.iter().enumerate() {
                let Some(p) = circuit.pump else { continue };
                if !self.carried(c) {
                    if let (Some(even), PumpControl::HeldToFlow(kg_s)) =
                        (self.even_circuit(c, &solved), &mut base.control[p])
                    {
                        *kg_s *= even;
                        uneven = uneven.max((even - 1.0).abs());
                    }
                    continue;
                }
                let least = self.least(c, &spare, &setting, &solved);
                let Some((pa, index)) = least else { continue };
                circuits[c].index = index;
                let at_full = solved.pumps[p].limited && pa < 0.0;
                circuits[c].short_pa = if at_full { -pa } else { 0.0 };
                circuits[c].needed_pa = (solved.pumps[p].head_pa - pa).max(0.0);
                if !at_full {
                    base.control[p] = PumpControl::ConstantHead(circuits[c].needed_pa);
                    off = off.max(pa.abs());
                }
            }
            round += 1;
            if off < SETTLED_PA && uneven < EVEN || round == ROUNDS {
                break (spare, solved);
            }
        };
        for (c, circuit) in required.circuits.iter().enumerate() {
            // a pump that lacks head is asked for what is required, not for what came of it
            let lacks = !self.carried(c) && circuits[c].short_pa > 0.0;
            if let Some(p) = circuit.pump.filter(|_| !lacks) {
                let element = network.pumps[p].element.index();
                circuits[c].flow_kg_s = solved.flow_kg_s[element].abs();
                circuits[c].flow_m3_s = solved.pumps[p].flow_m3_s.abs();
                if !self.carried(c) {
                    circuits[c].needed_pa = solved.pumps[p].head_pa;
                }
            }
        }
        Ok(self.shared_out(spare, circuits, &solved, gain))
    }

    /// What is left over across an emitter whose flow is held, Pa.
    fn spare_pa(&self, setting: &Setting, solved: &State, emitter: usize) -> Option<f64> {
        self.target(emitter)?;
        let body = self.network.emitters[emitter].body;
        left_over_pa(self.network, setting, solved, body)
    }

    /// The least of what is left over on a circuit, and the emitter with it.
    fn least(
        &self,
        circuit: usize,
        spare: &[Option<f64>],
        setting: &Setting,
        solved: &State,
    ) -> Option<(f64, Option<usize>)> {
        let mut least: Option<(f64, Option<usize>)> = None;
        for path in &self.required.circuits[circuit].paths {
            let found = match path.through {
                // on a one-pipe main no valve stands open for the rest
                Through::Emitter(i) => spare[i].map(|pa| (pa, self.target(i).map(|_| i))),
                Through::Manifold(m) => self.network.manifolds[m].blend.and_then(|blend| {
                    setting.held_kg_s[blend.inlet.index()]?;
                    let pa = left_over_pa(self.network, setting, solved, blend.inlet)?;
                    Some((pa, None))
                }),
                _ => None,
            };
            if let Some(found) = found
                && least.is_none_or(|l| found.0 < l.0)
            {
                least = Some(found);
            }
        }
        least
    }

    /// Gives what is left over to balancing valves and then to each emitter's own.
    fn shared_out(
        &self,
        mut spare: Vec<Option<f64>>,
        circuits: Vec<Circuit>,
        solved: &State,
        gain: impl Fn(usize) -> f64,
    ) -> Settled {
        for (c, circuit) in self.required.circuits.iter().enumerate() {
            // where the pump lacks head, the index stands open all the same and the rest keep their proportion
            for path in &circuit.paths {
                if let (Through::Emitter(i), true) = (path.through, circuits[c].short_pa > 0.0)
                    && let Some(pa) = &mut spare[i]
                {
                    *pa += circuits[c].short_pa;
                }
            }
        }
        let mut branch_kv = Vec::new();
        for branch in &self.branches {
            let behind = self.behind(branch);
            let held = behind.iter().filter_map(|&i| spare[i]);
            let all = behind.iter().all(|&i| spare[i].is_some());
            let common = if all { held.reduce(f64::min) } else { None }.unwrap_or(0.0);
            let loss = self.loss_pa(branch, solved);
            if common > OPEN_PA && loss > 0.0 {
                for &i in &behind {
                    spare[i] = spare[i].map(|pa| pa - common);
                }
                branch_kv.push(throttled_kv(branch.open_kv_m3h, loss, common));
            } else {
                branch_kv.push(branch.open_kv_m3h);
            }
        }
        // what a one-pipe main still has too much of, nothing on it can take
        for (i, spare) in spare.iter_mut().enumerate() {
            *spare = spare.filter(|_| self.target(i).is_some());
        }
        let kv = self.setters.iter().zip(&spare).enumerate();
        let kv = kv.map(|(i, (setter, spare))| {
            let setter = setter.as_ref()?;
            let pa = spare.filter(|pa| *pa > OPEN_PA).unwrap_or(0.0);
            let open_pa = self.loss_pa(setter, solved) / (gain(i) * gain(i));
            Some(throttled_kv(setter.open_kv_m3h, open_pa, pa))
        });
        Settled {
            kv: kv.collect(),
            branch_kv,
            control: pump::controls(self.network, self.required, &circuits),
            circuits,
            spare_pa: spare,
        }
    }

    /// Loss of a setter fully open at the flow that was solved, Pa.
    fn loss_pa(&self, setter: &Setter, solved: &State) -> f64 {
        let i = setter.element.index();
        setter_loss_pa(self.network, setter, solved.flow_kg_s[i], solved.at_c[i])
    }
}

/// Pressure across an element whose flow is held, beyond what its own law takes, in the direction of its flow, Pa.
pub(super) fn left_over_pa(
    network: &Network,
    setting: &Setting,
    solved: &State,
    id: ElementId,
) -> Option<f64> {
    let i = id.index();
    let flow = solved.flow_kg_s[i];
    let law = setting.law.get(&id).unwrap_or(&network.element(id).law);
    let own = law_loss_pa(network, id, law, flow, solved.at_c[i]);
    Some((solved.dp_pa[i]? - solved.tee_dp_pa[i] - own) * flow.signum())
}

/// Loss of an element by a law of its own parts at a flow in kg/s and a temperature in °C, Pa.
pub(super) fn law_loss_pa(
    network: &Network,
    id: ElementId,
    law: &Law,
    flow_kg_s: f64,
    at_c: f64,
) -> f64 {
    let one = |part: &Part| part_loss(network, id, part, flow_kg_s, at_c).unwrap_or(0.0);
    match law {
        Law::Parts(parts) => parts.iter().map(one).sum(),
        Law::HoldFlow { kv_m3h, .. } => one(&kv_part(*kv_m3h)),
        Law::Pump(_) | Law::OneWay { .. } => 0.0,
    }
}

pub(super) fn kv_part(kv_m3h: f64) -> Part {
    Part {
        group: PartGroup::Valves,
        words: String::new(),
        symbol: String::new(),
        count: 1,
        law: PartLaw::Kv { kv_m3h },
        source: String::new(),
        span: None,
    }
}

/// The catalogue's word for a valve on a run that is there to be set.
const BALANCING_VALVE: &str = "balancing valve";

/// Balancing valves on runs, with their kv.
fn branches(network: &Network) -> Vec<Setter> {
    let mut list = Vec::new();
    let tails: Vec<ElementId> = network
        .emitters
        .iter()
        .flat_map(|e| e.branch.clone())
        .collect();
    for id in network.element_ids().filter(|id| !tails.contains(id)) {
        let Law::Parts(parts) = &network.element(id).law else {
            continue;
        };
        for (part, p) in parts.iter().enumerate() {
            if let (true, PartLaw::Kv { kv_m3h }) = (p.symbol == BALANCING_VALVE, &p.law) {
                list.push(Setter {
                    element: id,
                    part,
                    kind: SetterKind::Branch,
                    open_kv_m3h: *kv_m3h,
                    stands_kv_m3h: None,
                    table: None,
                });
            }
        }
    }
    list
}

/// Heat of an emitter by its law between two temperatures, W.
pub(super) fn heat_w(law: &HeatLaw, in_c: f64, out_c: f64, room_c: f64) -> f64 {
    let excess = |mean| crate::network::excess_k(mean, in_c, out_c, room_c);
    match *law {
        HeatLaw::Rated {
            output_w,
            base_k,
            exponent,
            mean,
        } => output_w * crate::maths::pow(excess(mean) / base_k, exponent),
        HeatLaw::Floor { w_per_k, mean, .. } => w_per_k * excess(mean),
        HeatLaw::Fixed(w) => w,
    }
}
