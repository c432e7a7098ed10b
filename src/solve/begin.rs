//! What a solve begins with: what is shut beyond the setting, and flows of a solve before.

use super::classes::NONE;
use super::edge::{Gate, GateKind, Mode};
use super::flow::Hydraulics;
use super::states::Way;
use crate::network::ElementId;

/// Where a solve may start from.
#[derive(Clone, Debug)]
pub(super) struct Snapshot {
    pub q: Vec<f64>,
    /// x = 1/√f by pipe.
    pub x: Vec<f64>,
    modes: Vec<Mode>,
}

impl Hydraulics<'_> {
    /// What is shut and which pumps stand beyond the setting, after those before are forgotten; on top of a snapshot.
    pub fn shut<'w>(&mut self, ways: impl IntoIterator<Item = &'w Way>) {
        self.beyond.clear();
        self.shut.fill(false);
        self.running.curves.clone_from(&self.as_set);
        for way in ways {
            for &id in &way.elements {
                let class = self.classes.of.get(id.index()).copied().unwrap_or(NONE);
                self.beyond.push(id);
                if class != NONE {
                    self.shut[class as usize] = true;
                }
            }
            for &pump in &way.pumps {
                if let Some(curve) = self.running.curves.get_mut(pump) {
                    *curve = None;
                }
                let its = |g: &&mut Gate| g.kind == GateKind::Pump(pump);
                self.gates
                    .iter_mut()
                    .filter(its)
                    .for_each(|g| g.mode = Mode::Off);
            }
        }
    }

    /// Holds another flow through an element that the setting holds.
    pub fn hold(&mut self, id: ElementId, flow_kg_s: f64) {
        let class = self.classes.of.get(id.index()).filter(|c| **c != NONE);
        let held = self
            .setting
            .held_kg_s
            .get(id.index())
            .is_some_and(Option::is_some);
        if let (Some(&class), true) = (class, held) {
            self.imposed[class as usize] = self.classes.sign[id.index()] * flow_kg_s;
        }
    }

    /// Takes flows by element to start from.
    pub fn take(&mut self, flow_kg_s: &[f64]) {
        for class in 0..self.flows.q.len() {
            if let Some(&e) = self.classes.members(class).first() {
                self.flows.q[class] = self.classes.sign[e as usize] * flow_kg_s[e as usize];
            }
        }
    }

    /// Flows, what friction learnt and how the gates stand.
    pub fn snapshot(&self) -> Snapshot {
        Snapshot {
            q: self.flows.q.clone(),
            x: self.terms.learnt().collect(),
            modes: self.gates.iter().map(|g| g.mode).collect(),
        }
    }

    /// Goes back to a snapshot of the same setting.
    pub fn restore(&mut self, from: &Snapshot) {
        self.flows.q.copy_from_slice(&from.q);
        self.terms.learn(&from.x);
        self.gates
            .iter_mut()
            .zip(&from.modes)
            .for_each(|(g, m)| g.mode = *m);
    }
}
