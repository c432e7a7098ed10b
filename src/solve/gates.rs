//! Gates that switch by themselves: after each solve every one is asked whether it is content with the flows.

use super::edge::{Gate, GateKind, Mode};
use super::flow::Hydraulics;
use super::state::SolveError;
use crate::hydraulics::{self, local::M3_H};
use crate::network::{ElementId, PlaceId};

impl Hydraulics<'_> {
    /// p(from) − p(to) of a gate in its own direction, if the other classes join its ends.
    fn across(&mut self, k: usize) -> Option<f64> {
        let gate = self.gates[k];
        let class = gate.class as usize;
        let (a, b) = (self.ends[class].0 as usize, self.ends[class].1 as usize);
        if self.forest.root[a] != self.forest.root[b]
            || !self.imposed[class].is_nan()
            || self.shut[class]
        {
            return None;
        }
        let between = self.flows.pressure[a] - self.flows.pressure[b];
        let flow = self.flows.q[class];
        // what the rest of the class loses at the imposed flow; a pump at its cap counts with no head
        let (mut rest, _) = self.terms.loss(class, flow, &self.running);
        if let GateKind::Pump(p) = gate.kind {
            rest += gate.sign
                * self
                    .running
                    .head(p, gate.sign * flow * self.per_kg(gate.element))
                    .0;
        } else {
            rest -= gate.sign * self.gate_loss(&gate, gate.sign * flow);
        }
        Some(gate.sign * (between - rest))
    }

    /// m³/h per kg/s.
    fn per_kg(&self, element: u32) -> f64 {
        M3_H / self.at[element as usize].rho_kg_m3
    }

    fn gate_loss(&self, gate: &Gate, flow: f64) -> f64 {
        let id = ElementId::new(gate.element as usize);
        let law = self
            .setting
            .law
            .get(&id)
            .unwrap_or(&self.network.element(id).law);
        hydraulics::element(law, self.at[gate.element as usize], flow).0
    }

    /// Switches gates that are not content; false if all are.
    pub(super) fn switch(
        &mut self,
        seen: &mut Vec<Vec<Mode>>,
        singly: &mut bool,
        newest: &mut Option<usize>,
    ) -> bool {
        let bit = 1e-12 * self.flows.largest;
        let pa = 1e-10 * self.flows.head.max(1.0);
        let mut first: Option<(usize, Mode)> = None;
        let mut worst: Option<(usize, f64)> = None;
        let mut wishes: Vec<(usize, Mode)> = Vec::new();
        for k in 0..self.gates.len() {
            let gate = self.gates[k];
            if !self.imposed[gate.class as usize].is_nan()
                || self.shut[gate.class as usize]
                || gate.mode == Mode::Off
            {
                continue;
            }
            let flow = gate.sign * self.flows.q[gate.class as usize];
            // another gate of the class is at work: this one cannot tell
            let shared = gate.fixed().is_none() && !self.fixed[gate.class as usize].is_nan();
            if shared && !(gate.kind == GateKind::Valve && flow > gate.cap + bit) {
                continue;
            }
            let wish = match (gate.kind, gate.mode) {
                (GateKind::OneWay(_), Mode::Free) if flow < -bit => Some(Mode::Shut),
                (GateKind::OneWay(opening), Mode::Shut) => self
                    .across(k)
                    .filter(|x| *x > opening + pa)
                    .map(|_| Mode::Free),
                (GateKind::Valve | GateKind::Pump(_), Mode::Free) if flow > gate.cap + bit => {
                    Some(Mode::AtCap)
                }
                (GateKind::Valve, Mode::AtCap) => {
                    let least = self.gate_loss(&gate, gate.cap);
                    self.across(k)
                        .filter(|x| *x < least - pa)
                        .map(|_| Mode::Free)
                }
                (GateKind::Pump(p), Mode::AtCap) => {
                    let head = self.running.head(p, gate.cap * self.per_kg(gate.element)).0;
                    match self.across(k) {
                        Some(x) if x < -head - pa => Some(Mode::Free),
                        Some(x) if x > pa => Some(Mode::Pushed),
                        _ => None,
                    }
                }
                (GateKind::Pump(_), Mode::Pushed) if flow < gate.cap - bit => Some(Mode::AtCap),
                _ => None,
            };
            let Some(mode) = wish else { continue };
            first = first.or(Some((k, mode)));
            if mode == Mode::AtCap {
                let how = flow / gate.cap.max(bit);
                if worst.is_none_or(|w| how > w.1) {
                    worst = Some((k, how));
                }
            } else {
                wishes.push((k, mode));
            }
        }
        let Some(first) = first else { return false };
        let key: Vec<Mode> = self.gates.iter().map(|g| g.mode).collect();
        *singly |= seen.contains(&key);
        seen.push(key);
        // caps one at a time, the worst first: several at once may contradict each other
        let mut set = |k: usize, mode: Mode| {
            let class = self.gates[k].class;
            if mode == Mode::AtCap {
                // one gate of a class at work
                self.gates
                    .iter_mut()
                    .filter(|g| g.class == class && g.mode == Mode::AtCap)
                    .for_each(|g| g.mode = Mode::Free);
            }
            self.gates[k].mode = mode;
        };
        if *singly {
            // least index: finite for laws that rise
            set(first.0, first.1);
            *newest = Some(first.0);
        } else {
            wishes.into_iter().for_each(|(k, mode)| set(k, mode));
            if let Some((k, _)) = worst {
                set(k, Mode::AtCap);
                *newest = Some(k);
            }
        }
        true
    }

    /// Caps that do not balance with the newest let go.
    pub(super) fn release(
        &mut self,
        newest: Option<usize>,
        row: usize,
        flow_kg_s: f64,
    ) -> Result<(), SolveError> {
        let mut any = false;
        for (k, gate) in self.gates.iter_mut().enumerate() {
            if gate.mode == Mode::AtCap && Some(k) != newest {
                gate.mode = Mode::Free;
                any = true;
            }
        }
        if any {
            return Ok(());
        }
        if let Some(gate) = newest
            .map(|k| &mut self.gates[k])
            .filter(|g| g.mode == Mode::AtCap)
        {
            gate.mode = Mode::Free;
            return Ok(());
        }
        let at = |place: PlaceId| self.nodal.row(self.classes.node[place.index()] as usize) == row;
        for id in self.network.element_ids() {
            let (from, to) = self.network.ends(id);
            if self.setting.held_kg_s[id.index()].is_some_and(|f| f != 0.0) && (at(from) || at(to))
            {
                return Err(SolveError::HeldFlowImpossible {
                    element: id,
                    flow_kg_s,
                });
            }
        }
        let place = self
            .network
            .place_ids()
            .find(|&p| at(p))
            .unwrap_or_default();
        Err(SolveError::Contradiction {
            place,
            imbalance_kg_s: flow_kg_s,
        })
    }
}
