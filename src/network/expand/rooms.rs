//! Rooms, and the heat that each emitter has to give: its own need, its share of its room's, or of the building's.

use super::build::Builder;
use crate::diag::Diagnostic;
use crate::network::{HeatLaw, Room};
use crate::survey::{self, RoomRef};

impl Builder<'_> {
    /// Makes rooms and duties once every emitter is laid.
    pub fn rooms(&mut self) {
        let survey = self.survey;
        self.network.rooms = survey
            .rooms
            .iter()
            .map(|room| Room {
                name: room.name.value.clone(),
                temperature_c: room.temperature.value.0,
                needs_w: room.needs.as_ref().map(|w| w.value.0),
                emitters: Vec::new(),
            })
            .collect();
        let own: Vec<&survey::Emitter> = self
            .network
            .emitters
            .iter()
            .filter_map(|e| survey.emitters.iter().find(|s| s.name.value == e.name))
            .collect();
        for (i, e) in own.iter().enumerate() {
            let room = self.room_of(e);
            self.network.rooms[room].emitters.push(i);
            self.network.emitters[i].room = room;
        }
        for room in 0..self.network.rooms.len() {
            self.share(room, &own);
        }
    }

    fn room_of(&mut self, e: &survey::Emitter) -> usize {
        let temperature_c = match e.room.as_ref().map(|r| &r.value) {
            Some(RoomRef::Named(name)) => {
                if let Some(room) = self.network.rooms.iter().position(|r| &r.name == name) {
                    return room;
                }
                let span = e.room.as_ref().map_or(e.span.clone(), |r| r.span.clone());
                self.faults.push(Diagnostic::error(
                    "unknown-room",
                    span,
                    format!("there is no room `{name}`"),
                ));
                20.0
            }
            Some(RoomRef::Temperature(t)) => t.0,
            None => {
                self.assume(
                    &e.name.value,
                    "room at 20 °C",
                    "a usual living room, EN 12831",
                );
                20.0
            }
        };
        self.network.rooms.push(Room {
            name: e.name.value.clone(),
            temperature_c,
            needs_w: e.needs.as_ref().map(|w| w.value.0),
            emitters: Vec::new(),
        });
        self.network.rooms.len() - 1
    }

    /// Emitters that say their own need keep it; the rest of the room's need is shared among the others by rated
    /// output, or by what they give at design where a floor loop, which has no rating, is among them.
    fn share(&mut self, room: usize, own: &[&survey::Emitter]) {
        let members = self.network.rooms[room].emitters.clone();
        let said = |i: usize| own.get(i).and_then(|e| e.needs.as_ref()).map(|w| w.value.0);
        let told: f64 = members.iter().filter_map(|&i| said(i)).sum();
        let sharing: Vec<usize> = members
            .iter()
            .copied()
            .filter(|&i| said(i).is_none())
            .collect();
        for &i in &members {
            if let Some(w) = said(i) {
                self.network.emitters[i].duty_w = w;
            }
        }
        if self.network.rooms[room].needs_w.is_none() && sharing.is_empty() && !members.is_empty() {
            self.network.rooms[room].needs_w = Some(told);
        }
        if sharing.is_empty() {
            return;
        }
        let by_rating = sharing
            .iter()
            .all(|&i| matches!(self.network.emitters[i].law, HeatLaw::Rated { .. }));
        let weights: Vec<f64> = sharing
            .iter()
            .map(|&i| match self.network.emitters[i].law {
                HeatLaw::Rated { output_w, .. } if by_rating => output_w,
                _ => self.at_design_w(i),
            })
            .collect();
        let total: f64 = weights.iter().sum();
        let left = self.network.rooms[room]
            .needs_w
            .map(|needs| (needs - told).max(0.0));
        let room_name = self.network.rooms[room].name.clone();
        match left {
            Some(_) if sharing.len() > 1 => self.assume(
                &room_name,
                if by_rating {
                    "its need shared by rated output"
                } else {
                    "its need shared by output at design"
                },
                "how pipecarry reckons",
            ),
            Some(_) => {}
            None => self.assume(
                &room_name,
                "need not given: emitters carry what they give at the design temperatures",
                "how pipecarry reckons",
            ),
        }
        for (&i, weight) in sharing.iter().zip(&weights) {
            let share = if total > 0.0 {
                weight / total
            } else {
                1.0 / sharing.len() as f64
            };
            self.network.emitters[i].duty_w = match left {
                Some(left) => left * share,
                None => self.at_design_w(i),
            };
        }
    }

    /// Heat that an emitter gives at the design flow temperature (its manifold's set temperature) and drop, W.
    fn at_design_w(&self, index: usize) -> f64 {
        let Some(e) = self.network.emitters.get(index) else {
            return 0.0;
        };
        let blended = e
            .manifold
            .and_then(|m| self.network.manifolds[m].blend)
            .map(|b| b.set_c);
        let flow_c = blended.unwrap_or(self.network.design.flow_temperature_c);
        let room_c = self
            .network
            .rooms
            .get(e.room)
            .map_or(20.0, |r| r.temperature_c);
        e.law.heat_w(flow_c, flow_c - e.drop_k, room_c)
    }
}
