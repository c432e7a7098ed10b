//! What else a state that is looked at in place can say: pressure differences, from the laws at its flows.

use super::edge::{self, GateKind};
use super::states::Light;
use crate::fluid::Properties;
use crate::hydraulics::{self, local::M3_H};
use crate::network::{ElementId, Law, PlaceId};

/// Share of the largest flow under which water counts as standing: rounding of the balance, not a flow.
const STANDING: f64 = 1e-9;

impl<'s> Light<'s> {
    /// Properties of the water in an element.
    pub fn properties(&self, id: ElementId) -> Properties {
        self.coupled.hydraulics.at[id.index()]
    }

    /// Loss of an element by its own law at its flow, Pa, without tees; zero for one that is closed.
    pub fn own_loss_pa(&self, id: ElementId) -> f64 {
        let flow = self.flow_kg_s(id);
        if flow == 0.0 {
            return 0.0;
        }
        hydraulics::element(self.law(id), self.properties(id), flow).0
    }

    /// Pressures of this state.
    pub fn pressures(&self) -> Pressures<'_> {
        let coupled = self.coupled;
        let tees = if coupled.network.tees.is_empty() {
            Vec::new()
        } else {
            coupled.hydraulics.tees.by_element(&coupled.flow)
        };
        Pressures {
            light: self,
            tees,
            standing: STANDING * coupled.flow.iter().fold(0.0_f64, |m, f| m.max(f.abs())),
        }
    }

    fn law(&self, id: ElementId) -> &'s Law {
        let (network, setting) = (self.coupled.network, self.coupled.setting);
        setting.law.get(&id).unwrap_or(&network.element(id).law)
    }
}

/// Pressure differences of a state, each found by a walk along the flow.
pub struct Pressures<'l> {
    light: &'l Light<'l>,
    tees: Vec<f64>,
    standing: f64,
}

impl Pressures<'_> {
    /// Pressure that a pump adds, Pa; `None` where it follows from no law.
    pub fn head_pa(&self, pump: usize) -> Option<f64> {
        let coupled = self.light.coupled;
        let id = coupled.network.pumps.get(pump)?.element;
        let capped = coupled
            .hydraulics
            .gates
            .iter()
            .any(|g| g.kind == GateKind::Pump(pump) && g.fixed().is_some());
        if capped {
            let (inlet, outlet) = coupled.network.ends(id);
            return self.fall_pa(outlet, inlet);
        }
        let q_m3h = self.light.flow_kg_s(id) * M3_H / self.light.properties(id).rho_kg_m3;
        Some(coupled.hydraulics.running().head(pump, q_m3h).0)
    }

    /// p(from) − p(to), Pa, where the water of `from` comes to `to`: the losses along the way that carries most.
    /// `None` where no way is found on which every law says what is lost.
    pub fn fall_pa(&self, from: PlaceId, to: PlaceId) -> Option<f64> {
        let network = self.light.coupled.network;
        let (mut at, mut fall_pa) = (from, 0.0);
        for _ in 0..=network.graph.node_count() {
            if at == to {
                return Some(fall_pa);
            }
            let mut most: Option<(f64, ElementId, PlaceId)> = None;
            let mut around = network.graph.neighbors_undirected(at).detach();
            while let Some((id, next)) = around.next(&network.graph) {
                let out = self.along(id, at) * self.light.flow_kg_s(id);
                if out > self.standing
                    && most.is_none_or(|(flow, ..)| out > flow)
                    && self.loss_pa(id).is_some()
                {
                    most = Some((out, id, next));
                }
            }
            (at, fall_pa) = match most {
                Some((_, id, next)) => (next, fall_pa + self.along(id, at) * self.loss_pa(id)?),
                // water that stands has the pressure of where it hangs on
                None => (self.hangs_on(at)?, fall_pa),
            };
        }
        None
    }

    /// The nearest place that standing water joins to `at` and that water leaves again.
    fn hangs_on(&self, at: PlaceId) -> Option<PlaceId> {
        let network = self.light.coupled.network;
        let mut seen = vec![false; network.graph.node_count()];
        let mut stack = vec![at];
        while let Some(place) = stack.pop() {
            if std::mem::replace(&mut seen[place.index()], true) {
                continue;
            }
            let mut around = network.graph.neighbors_undirected(place).detach();
            while let Some((id, next)) = around.next(&network.graph) {
                let out = self.along(id, place) * self.light.flow_kg_s(id);
                if out > self.standing && self.loss_pa(id).is_some() {
                    return Some(place);
                }
                let stands = out.abs() <= self.standing && self.loss_pa(id).is_some();
                if stands && !seen[next.index()] {
                    stack.push(next);
                }
            }
        }
        None
    }

    fn along(&self, id: ElementId, from: PlaceId) -> f64 {
        if self.light.coupled.network.ends(id).0 == from {
            1.0
        } else {
            -1.0
        }
    }

    /// p(from) − p(to) of an element, tees included; `None` where it is not for the law to say.
    fn loss_pa(&self, id: ElementId) -> Option<f64> {
        let coupled = self.light.coupled;
        let (e, law) = (id.index(), self.light.law(id));
        let class = coupled.hydraulics.classes.of[e];
        let shut = edge::closed(coupled.network, coupled.setting, id)
            || coupled
                .hydraulics
                .shut
                .get(class as usize)
                .is_some_and(|s| *s);
        let held = coupled.setting.held_kg_s[e].is_some()
            || coupled
                .hydraulics
                .gates
                .iter()
                .any(|g| g.element as usize == e && g.fixed().is_some());
        let flow = self.light.flow_kg_s(id);
        if held || matches!(law, Law::Pump(_)) || (shut && flow == 0.0) {
            return None;
        }
        if matches!(law, Law::OneWay { .. }) && flow == 0.0 {
            return None;
        }
        let own_pa = hydraulics::element(law, self.light.properties(id), flow).0;
        Some(own_pa + self.tees.get(e).copied().unwrap_or(0.0))
    }
}
