//! Hydraulics of a network made ready once: classes, ordering and pattern stay, settings and properties come and go.

use super::Setting;
use super::classes::{Classes, NONE};
use super::edge::{self, Gate, GateKind, Mode};
use super::forest::{Forest, find};
use super::loops::{ACCEPTED, Loops, MOST_LOOPS};
use super::newton::{End, Flows, Frame};
use super::sparse::Nodal;
use super::state::{SolveError, Stats};
use super::tees::Tees;
use super::terms::{Running, Terms};
use crate::fluid::Properties;
use crate::network::{ElementId, Network, PumpControl, PumpCurve};

/// Changes of gates before giving up.
const MOST_SWITCHES: u32 = 500;

/// Step, as a share of the largest flow, that is the last where thousands of states are looked at.
pub(super) const LEAST_SHARE: f64 = 1e-9;

/// How exact an answer must be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Finish {
    /// To rounding: for answers that people read.
    Full,
    /// To 1e-10 of the largest flow: for thousands of states.
    Quick,
    /// To a step of this share of the largest flow: on the way, while temperatures still move.
    Rough(f64),
}

impl Finish {
    /// Whether flows solved so are as exact as `finish` wants them.
    pub fn is_enough(self, finish: Self) -> bool {
        match (self, finish) {
            (Self::Rough(share), Self::Quick) => share <= LEAST_SHARE,
            (Self::Full, Self::Quick) => true,
            _ => self == finish,
        }
    }
}

/// Ready for one setting.
#[derive(Clone)]
pub(super) struct Hydraulics<'a> {
    pub(super) network: &'a Network,
    pub(super) setting: &'a Setting,
    pub classes: &'a Classes,
    pub(super) nodal: Nodal,
    pub(super) ends: Vec<(u32, u32)>,
    pub terms: Terms,
    pub tees: Tees,
    pub(super) running: Running<'a>,
    pub gates: Vec<Gate>,
    /// Flow that the setting imposes on a class, NaN where free.
    pub(super) imposed: Vec<f64>,
    /// Elements and classes shut beyond the setting.
    pub(super) beyond: Vec<ElementId>,
    pub(super) shut: Vec<bool>,
    /// Pumps as the setting runs them, none stopped beyond it.
    pub(super) as_set: Vec<Option<(&'a PumpCurve, PumpControl)>>,
    /// The same with what is shut and the gates that are at work.
    pub(super) fixed: Vec<f64>,
    idle: Vec<bool>,
    ease: Vec<u32>,
    pub(super) forest: Forest,
    /// Classes that the forest was built without.
    without: Vec<bool>,
    /// Block of each class: classes of one block share loops, directly or through others.
    block: Vec<u32>,
    /// Classes that were fixed when the blocks were found.
    blocked: Vec<bool>,
    driven: Vec<bool>,
    loops: Loops,
    pub flows: Flows,
    pub at: Vec<Properties>,
}

impl<'a> Hydraulics<'a> {
    /// Takes up a setting with fluid properties by element.
    ///
    /// # Errors
    /// Held flows that contradict each other or a shut element.
    pub fn new(
        network: &'a Network,
        setting: &'a Setting,
        classes: &'a Classes,
        nodal: &Nodal,
        constant_fluid: bool,
        at: &[Properties],
    ) -> Result<Self, SolveError> {
        let count = classes.count();
        let running = Running::new(network, setting);
        let on: Vec<bool> = running.curves.iter().map(Option::is_some).collect();
        let mut this = Self {
            imposed: impose(network, setting, classes)?,
            gates: edge::gates(network, setting, classes, &on),
            terms: Terms::new(network, setting, classes, constant_fluid),
            tees: Tees::new(network),
            nodal: nodal.clone(),
            ends: (0..count)
                .map(|c| {
                    let (a, b) = nodal.rows(c);
                    (a as u32, b as u32)
                })
                .collect(),
            beyond: Vec::new(),
            shut: vec![false; count],
            as_set: running.curves.clone(),
            fixed: vec![f64::NAN; count],
            idle: vec![false; count],
            ease: (0..count as u32).collect(),
            forest: Forest::default(),
            without: vec![false; count],
            block: vec![0; count],
            blocked: vec![false; count],
            driven: vec![false; classes.nodes.max(count)],
            loops: Loops::default(),
            flows: Flows::new(count, classes.nodes),
            at: Vec::new(),
            network,
            setting,
            classes,
            running,
        };
        this.refresh(at);
        let resistance: Vec<f64> = (0..count)
            .map(|c| {
                let m = this.terms.nominal[c];
                let gated = this.gates.iter().any(|g| g.class as usize == c);
                // gates last, so that shutting one seldom breaks the tree
                if gated {
                    f64::INFINITY
                } else {
                    this.terms.loss(c, m, &this.running).1
                }
            })
            .collect();
        this.ease.sort_by(|&a, &b| {
            resistance[a as usize]
                .total_cmp(&resistance[b as usize])
                .then(a.cmp(&b))
        });
        this.rebuild();
        Ok(this)
    }

    /// Takes fluid properties by element.
    pub fn refresh(&mut self, at: &[Properties]) {
        self.at.clear();
        self.at.extend_from_slice(at);
        self.terms.refresh(&self.running, at);
        self.tees.refresh(at);
    }

    fn rebuild(&mut self) {
        for c in 0..self.fixed.len() {
            self.without[c] = !self.imposed[c].is_nan() || !self.fixed[c].is_nan();
        }
        let without = &self.without;
        self.forest
            .build(self.classes.nodes, &self.ends, &self.ease, |c| !without[c]);
    }

    /// Which classes share loops, from the loops of the forest; beyond a size that is worth it, all of a part.
    fn find_blocks(&mut self) {
        for c in 0..self.block.len() {
            self.blocked[c] = !self.fixed[c].is_nan();
            self.block[c] = c as u32;
        }
        let few = self.forest.chords.len() <= MOST_LOOPS;
        let mut members = Vec::new();
        for k in 0..if few { self.forest.chords.len() } else { 0 } {
            if !self.fixed[self.forest.chords[k] as usize].is_nan() {
                continue;
            }
            self.forest
                .cycle(self.forest.chords[k], &self.ends, &mut members);
            for m in &members {
                let (a, b) = (
                    find(&mut self.block, members[0].0),
                    find(&mut self.block, m.0),
                );
                self.block[a as usize] = b;
            }
        }
        for c in 0..self.block.len() {
            self.block[c] = if few {
                find(&mut self.block, c as u32)
            } else {
                self.forest.root[self.ends[c].0 as usize]
            };
        }
    }

    /// Brings forest and idle parts in line with what is fixed.
    fn prepare(&mut self) {
        for c in 0..self.fixed.len() {
            self.fixed[c] = if self.shut[c] { 0.0 } else { self.imposed[c] };
        }
        for gate in &self.gates {
            if let (Some(flow), true) = (gate.fixed(), self.fixed[gate.class as usize].is_nan()) {
                self.fixed[gate.class as usize] = flow;
            }
            if let GateKind::Pump(p) = gate.kind {
                self.running.pushed[p] = gate.mode == Mode::Pushed;
            }
        }
        // a class fixed outside the tree only loses its chord; one in it breaks the tree, one freed again must come back
        let stands =
            (0..self.fixed.len()).all(|c| match (self.fixed[c].is_nan(), self.without[c]) {
                (free, true) => !free,
                (free, false) => free || !self.forest.in_tree[c],
            });
        if !stands {
            self.rebuild();
        }
        if !(0..self.fixed.len()).all(|c| self.fixed[c].is_nan() != self.blocked[c]) {
            self.find_blocks();
        }
        // a block in which nothing acts is at rest; square laws would only halve their way there
        self.driven.fill(false);
        let mut held = false;
        for c in 0..self.fixed.len() {
            let fixed = self.fixed[c];
            held |= !fixed.is_nan() && fixed != 0.0;
            if fixed.is_nan() && self.terms.drives(c, &self.running) {
                self.driven[self.block[c] as usize] = true;
            }
        }
        for c in 0..self.fixed.len() {
            self.idle[c] = !held && !self.driven[self.block[c] as usize];
        }
    }

    /// Flows with every gate content, from a cold start or from where the last solve ended.
    ///
    /// # Errors
    /// [`SolveError::NotConverged`], [`SolveError::NotFinite`], and held flows that do not balance.
    pub fn solve(
        &mut self,
        finish: Finish,
        warm: bool,
        stats: &mut Stats,
    ) -> Result<(), SolveError> {
        if !warm {
            self.terms.reset();
        }
        let (mut warm, mut singly, mut newest) = (warm, false, None);
        let mut seen: Vec<Vec<Mode>> = Vec::new();
        for _ in 0..MOST_SWITCHES {
            self.prepare();
            let frame = Frame {
                classes: self.classes,
                ends: &self.ends,
                forest: &self.forest,
                fixed: &self.fixed,
                idle: &self.idle,
                running: &self.running,
                tees: &self.tees,
            };
            if let Some((row, flow)) = self.flows.unbalanced(&frame) {
                self.release(newest, row, flow)?;
                stats.switches += 1;
                continue;
            }
            let mut counts = (0, 0);
            let end = self.flows.solve(
                &frame,
                &mut self.terms,
                &mut self.nodal,
                (
                    warm,
                    enough(finish),
                    enough(finish).filter(|share| warm && *share > LEAST_SHARE),
                ),
                &mut counts,
            );
            if end == End::Ahead {
                // the next solve, at other temperatures, asks the gates
                stats.iterations += counts.0;
                return Ok(());
            }
            if let End::NotFinite(class) = end {
                return Err(SolveError::NotFinite {
                    element: self.element(class),
                });
            }
            let loops = self.forest.chords.len();
            let mut stuck = None;
            if end == End::Polish || (finish == Finish::Full && loops <= MOST_LOOPS) {
                let residual =
                    self.loops
                        .polish(&mut self.flows, &frame, &mut self.terms, &mut counts);
                // pumps and pipes of one class cancel in its loss; rounding goes with the pumps' own heads
                let head = self.flows.head.max(self.terms.head_pa);
                let left = residual * self.flows.head;
                if left.is_nan() || left > ACCEPTED * head {
                    let (class, residual_pa) = self.flows.worst(&frame);
                    stuck = Some((class, residual_pa, stats.iterations + counts.0));
                }
            }
            stats.iterations += counts.0;
            stats.step_halvings += counts.1;
            // a state that no gate is content with need not be exact (water driven backwards through an overflow valve
            // meets tees in odd corners); the one that is returned must be
            if self.gates.is_empty() || !self.switch(&mut seen, &mut singly, &mut newest) {
                return match stuck {
                    None => Ok(()),
                    Some((class, residual_pa, iterations)) => Err(SolveError::NotConverged {
                        element: self.element(class),
                        residual_pa,
                        iterations,
                    }),
                };
            }
            stats.switches += 1;
            warm = stuck.is_none() && self.flows.largest > 0.0;
        }
        let element = ElementId::new(self.gates.first().map_or(0, |g| g.element as usize));
        Err(SolveError::NotConverged {
            element,
            residual_pa: 0.0,
            iterations: stats.iterations,
        })
    }

    /// How all flows answer if the loss of one element grows, at the state that was solved last: for each (element, Pa)
    /// kg/s by element. `None` if there are too many loops.
    pub fn tangents(&mut self, changes: &[(ElementId, f64)]) -> Option<Vec<Vec<f64>>> {
        let frame = Frame {
            classes: self.classes,
            ends: &self.ends,
            forest: &self.forest,
            fixed: &self.fixed,
            idle: &self.idle,
            running: &self.running,
            tees: &self.tees,
        };
        let of = |e: usize| (self.classes.of[e], self.classes.sign[e]);
        let of_class: Vec<(usize, f64)> = changes
            .iter()
            .map(|&(id, pa)| match of(id.index()) {
                (NONE, _) => (0, 0.0),
                (class, sign) => (class as usize, sign * pa),
            })
            .collect();
        let answers = self
            .loops
            .tangents(&self.flows, &frame, &mut self.terms, &of_class)?;
        let by_element = |q: &Vec<f64>| {
            let one = |e| match of(e) {
                (NONE, _) => 0.0,
                (class, sign) => sign * q[class as usize],
            };
            (0..self.classes.of.len()).map(one).collect()
        };
        Some(answers.iter().map(by_element).collect())
    }

    fn element(&self, class: usize) -> ElementId {
        ElementId::new(
            self.classes
                .members(class)
                .first()
                .map_or(0, |&e| e as usize),
        )
    }

    /// Lets every gate go, as before a first solve.
    pub fn forget(&mut self) {
        self.gates.iter_mut().for_each(|g| g.mode = Mode::Free);
    }

    /// Evaluates every law once.
    pub fn laws(&mut self) {
        for c in 0..self.fixed.len() {
            (self.flows.h[c], self.flows.slope[c]) =
                self.terms.loss(c, self.flows.q[c], &self.running);
        }
    }

    /// Fills the matrix once.
    pub fn assemble(&mut self) {
        self.nodal.clear();
        for c in 0..self.fixed.len() {
            let conductance = 1.0 / self.flows.slope[c].max(1.0);
            self.nodal.add(
                c,
                conductance,
                self.flows.q[c] - conductance * self.flows.h[c],
            );
        }
        self.forest
            .roots
            .iter()
            .for_each(|&root| self.nodal.ground(root as usize));
    }

    /// Factorises and solves it.
    pub fn factorise(&mut self) {
        self.nodal.solve();
    }

    /// Difference of pressure over the class of an element, Pa in the class's direction, if other classes join its ends.
    pub fn between(&self, id: ElementId) -> Option<f64> {
        let class = self.classes.of.get(id.index()).filter(|c| **c != NONE)?;
        let (a, b) = self.ends[*class as usize];
        let joined = self.forest.root[a as usize] == self.forest.root[b as usize];
        joined.then(|| self.flows.pressure[a as usize] - self.flows.pressure[b as usize])
    }

    /// Flow of an element, kg/s, in its own direction.
    pub fn element_flow(&self, e: usize) -> f64 {
        match self.classes.of[e] {
            NONE => 0.0,
            class => self.classes.sign[e] * self.flows.q[class as usize],
        }
    }

    /// What a pump does at present.
    pub fn running(&self) -> &Running<'a> {
        &self.running
    }
}

/// Share of the largest flow at which a step need not be followed by another.
fn enough(finish: Finish) -> Option<f64> {
    match finish {
        Finish::Full | Finish::Quick => None,
        Finish::Rough(share) => Some(share),
    }
}

/// Flows that a setting imposes on classes: zero where an element is closed, what is held where it is.
fn impose(network: &Network, setting: &Setting, classes: &Classes) -> Result<Vec<f64>, SolveError> {
    let mut imposed = vec![f64::NAN; classes.count()];
    for id in network.element_ids() {
        let e = id.index();
        let flow = if edge::closed(network, setting, id) {
            Some(0.0)
        } else {
            setting.held_kg_s[e]
        };
        let Some(flow) = flow else { continue };
        if classes.of[e] == NONE {
            if flow != 0.0 {
                return Err(SolveError::HeldFlowImpossible {
                    element: id,
                    flow_kg_s: flow,
                });
            }
            continue;
        }
        let class = classes.of[e] as usize;
        let flow = classes.sign[e] * flow;
        let before = imposed[class];
        if !before.is_nan() && (before - flow).abs() > 1e-9 * before.abs().max(flow.abs()) {
            let held = classes
                .members(class)
                .iter()
                .map(|&m| ElementId::new(m as usize));
            let element = held
                .into_iter()
                .find(|m| setting.held_kg_s[m.index()].is_some_and(|f| f != 0.0))
                .unwrap_or(id);
            let flow_kg_s = setting.held_kg_s[element.index()].unwrap_or(flow);
            return Err(SolveError::HeldFlowImpossible { element, flow_kg_s });
        }
        imposed[class] = flow;
    }
    Ok(imposed)
}
