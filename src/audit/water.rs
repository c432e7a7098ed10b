//! Water that a schedule may count: all of it, what moves with everything open, what moves with valves shut; and the
//! expansion vessel that it asks for.

use super::claim::{Claims, What};
use super::figures::{Expected, Seen};
use crate::network::{ElementId, PumpControl};
use crate::solve::State;
use crate::view::running as runs;

impl Seen<'_> {
    /// Water of the elements that count, if every emitter among them has its content.
    pub fn water(&self, counts: &dyn Fn(ElementId) -> bool) -> Result<Expected, String> {
        let network = self.network;
        let without: Vec<&str> = network
            .emitters
            .iter()
            .filter(|e| counts(e.body) && network.element(e.body).volume_m3 <= 0.0)
            .map(|e| &*e.name)
            .collect();
        if let Some(first) = without.first() {
            return Err(format!(
                "the file does not say how much water {first}{} holds",
                match without.len() {
                    1 => String::new(),
                    n => format!(" and {} more emitters", n - 1),
                }
            ));
        }
        let all = network.element_ids().filter(|id| counts(*id));
        Ok(Expected::Figure(
            all.map(|id| network.element(id).volume_m3).sum(),
        ))
    }

    /// Water that moves with every valve shut that can shut by itself.
    pub fn circulating(&self) -> Result<Expected, String> {
        let Some(solved) = self.all_shut() else {
            return Err("with every valve shut that can shut, no water moves".into());
        };
        self.water(&|id| moves(&solved, id))
    }

    /// The house with every valve shut that can shut by itself.
    fn all_shut(&self) -> Option<State> {
        let network = self.network;
        let mut setting = runs::setting(network, self.required.state, &self.lockshields);
        for emitter in network.emitters.iter().filter(|e| !e.always_open) {
            let acts = emitter.valve_kind != "manual" && emitter.valve_kind != "none";
            if let Some(valve) = emitter.valve.filter(|_| acts) {
                setting.shut[valve.index()] = true;
            }
        }
        for valve in network.zones.iter().flat_map(|z| &z.valves) {
            setting.shut[valve.index()] = true;
        }
        for (control, info) in setting.control.iter_mut().zip(&network.pumps) {
            // what drives the flow does not matter here, only where it goes
            if info.source.is_some() {
                *control = PumpControl::FixedSpeed(1.0);
            }
        }
        runs::solve_blended(network, &mut setting).ok()
    }

    /// Water that moves with everything open, and all of it, m³: what a schedule may have counted.
    pub fn other_volumes(&self) -> Vec<f64> {
        let all = self.water(&|_| true);
        let mut setting = runs::setting(self.network, self.required.state, &self.lockshields);
        let open = runs::solve_blended(self.network, &mut setting).ok();
        let moving = open.map(|s| self.water(&|id| moves(&s, id)));
        [moving, Some(all)]
            .into_iter()
            .flatten()
            .filter_map(|e| match e {
                Ok(Expected::Figure(v)) => Some(v),
                _ => None,
            })
            .collect()
    }

    /// EN 12828 Annex D: pressures as stated, volume of the house or as stated.
    pub fn expansion(&self, claims: &Claims) -> Result<Expected, String> {
        let (Some(p0), Some(pe)) = (
            claims.of_house(What::Precharge),
            claims.of_house(What::GreatestPressure),
        ) else {
            return Err(
                "neither file nor claims say both pressures: state `precharge` and `greatest_pressure`".into(),
            );
        };
        let volume = match (self.water(&|_| true), claims.of_house(What::SystemVolume)) {
            (Ok(Expected::Figure(v)), _) | (Err(_), Some(v)) => v,
            (Err(why), None) => return Err(why),
            (Ok(_), _) => return Err("the volume is not known".into()),
        };
        if pe <= p0 {
            return Err("the greatest pressure is not above the pre-charge: no vessel fits".into());
        }
        let t = self.network.design.flow_temperature_c;
        let e = (0.31 + 3.9e-4 * t * t) / 100.0;
        let reserve = (0.005 * volume).max(3e-3);
        Ok(Expected::AtLeast(
            (e * volume + reserve) * (pe + 1e5) / (pe - p0),
        ))
    }
}

/// Whether water moves through an element: what is left of rounding does not count.
fn moves(solved: &State, id: ElementId) -> bool {
    let most = solved.flow_kg_s.iter().fold(0.0_f64, |m, f| m.max(f.abs()));
    let flow = solved.flow_kg_s.get(id.index()).map_or(0.0, |f| f.abs());
    flow > 1e-6 * most
}
