//! What a solve begins with: what is shut beyond the setting, and flows of a solve before.

use super::broyden::Broyden;
use super::classes::NONE;
use super::edge::{Gate, GateKind, Mode};
use super::flow::Hydraulics;
use super::states::Way;
use crate::network::ElementId;

/// A solved state to start others from.
#[derive(Clone, Debug)]
pub(super) struct Start {
    /// Temperature by element, where the search for each emitter's outlet begins, flow by class; then what is above zero:
    /// heat capacity by element, caps, x = 1/√f by pipe.
    pub figures: Vec<f64>,
    pub positive_from: usize,
    pub caps: usize,
    pub broyden: Broyden,
    pub modes: Vec<Mode>,
}

impl Start {
    /// Becomes a sum of other states, each with its sign, the first of them a near one; what is not a figure is as there,
    /// and so is what would go astray.
    pub fn combine(&mut self, terms: &[(f64, &Start)]) {
        let Some((_, near)) = terms.first() else {
            return;
        };
        self.broyden.clone_from(&near.broyden);
        self.modes.clone_from(&near.modes);
        self.figures.fill(0.0);
        for (sign, start) in terms {
            let both = self.figures.iter_mut().zip(&start.figures);
            if *sign > 0.0 {
                both.for_each(|(a, b)| *a += b);
            } else {
                both.for_each(|(a, b)| *a -= b);
            }
        }
        let positive = self.figures.iter_mut().zip(&near.figures);
        for (new, old) in positive.skip(self.positive_from) {
            if !(*new > 0.5 * old && *new < 2.0 * old) {
                *new = *old;
            }
        }
    }
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

    /// How the gates stand.
    pub fn modes(&self) -> Vec<Mode> {
        self.gates.iter().map(|g| g.mode).collect()
    }

    /// Goes back to flows by class, x = 1/√f by pipe and gates of another solve of the same setting.
    pub fn restore(&mut self, q: &[f64], x: &[f64], modes: &[Mode]) {
        self.flows.q.copy_from_slice(q);
        self.terms.learn(x);
        let gates = self.gates.iter_mut().zip(modes);
        gates.for_each(|(g, m)| g.mode = *m);
    }
}
