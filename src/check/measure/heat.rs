//! Rooms: the heat that they get and the flow temperature that they ask for.

use super::{Measured, given};
use crate::check::facts::Facts;
use crate::check::{Kind, Subject};
use crate::hydraulics::heat::floor_surface_excess_k;
use crate::network::{HeatLaw, Room, StateKind};
use crate::view::Required;

/// A room is spoken of as its only emitter, if that is so.
fn of_room(index: usize, room: &Room) -> Subject {
    match room.emitters[..] {
        [emitter] => Subject::Emitter(emitter),
        _ => Subject::Room(index),
    }
}

/// Heat that each room gets at the flow its emitters really get, against its need. Where the unit covers the needs but
/// not all that the emitters would give, surplus is taken as held back by the valves of the rooms that have it.
pub(in crate::check) fn room_heat(facts: &Facts, list: &mut Vec<Measured>) {
    for (run, unlimited) in facts.running.iter().zip(&facts.unlimited_w) {
        let judged = facts.required.iter().any(|r| r.state == run.state);
        if !judged || facts.network.states[run.state].kind == StateKind::HotWater {
            continue;
        }
        for (i, room) in facts.network.rooms.iter().enumerate() {
            let need: f64 = room.emitters.iter().map(|&e| run.emitters[e].need_w).sum();
            let mut emitters = room.emitters.iter().map(|&e| &facts.network.emitters[e]);
            if need <= 0.0 || emitters.all(|e| matches!(e.law, HeatLaw::Fixed(_))) {
                continue;
            }
            let as_runs: f64 = room.emitters.iter().map(|&e| run.emitters[e].heat_w).sum();
            let heat = unlimited.as_ref().map_or(as_runs, |w| {
                room.emitters.iter().map(|&e| w[e]).sum::<f64>()
            });
            let need = given(need, "the room's heat loss as given");
            let m = Measured::at_least(of_room(i, room), run.state, Kind::PowerW, heat, &need);
            let flow: f64 = room
                .emitters
                .iter()
                .map(|&e| run.emitters[e].flow_kg_s)
                .sum();
            list.push(
                m.with(&[("as_runs_w", as_runs), ("flow_kg_s", flow)])
                    .named([room.name.clone()]),
            );
        }
    }
}

/// Flow temperature at the source that a room asks for at its emitters' required flow, °C: the most of its emitters.
fn asks_c(required: &Required, room: &Room) -> Option<(f64, usize)> {
    let asks = room
        .emitters
        .iter()
        .filter_map(|&e| Some((required.emitters[e].source_c?, e)));
    asks.reduce(|a, b| if b.0 > a.0 { b } else { a })
}

/// Drop of an emitter on a one-pipe loop, times its design drop, from which on its share of the water and not its size is
/// what stands in the way; common practice, no source.
const SHORT_OF_WATER: f64 = 2.0;

/// What a room's flow temperature rests on, and so what would lower it or be raised.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Cause {
    /// The emitter's size.
    Emitter,
    /// The little water that its tees send through it.
    LittleWater,
    /// The temperature that its manifold mixes down to.
    SetTemperature,
}

/// Flow temperature that each room asks for against what it gets; the one that asks most drives the house.
pub(in crate::check) fn flow_temperature(facts: &Facts, list: &mut Vec<Measured>) {
    let network = facts.network;
    for required in &facts.required {
        let asks: Vec<_> = network
            .rooms
            .iter()
            .map(|room| asks_c(required, room))
            .collect();
        let own_set = |e: usize| {
            network.emitters[e]
                .manifold
                .and_then(|m| network.manifolds[m].blend)
                .map(|b| b.set_c)
        };
        let driver = asks.iter().enumerate().filter_map(|(i, asks)| {
            asks.filter(|(_, e)| own_set(*e).is_none())
                .map(|(c, _)| (c, i))
        });
        let driver = driver.reduce(|a, b| if b.0 > a.0 { b } else { a });
        let mut measured = Vec::new();
        for (i, (room, asks)) in network.rooms.iter().zip(&asks).enumerate() {
            let Some((c, emitter)) = *asks else { continue };
            let source_c = network.design.flow_temperature_c;
            let states = &network.states[required.state].sources;
            let made_c = states
                .iter()
                .map(|&s| network.sources[s].flow_temperature_c)
                .fold(f64::NEG_INFINITY, f64::max);
            let made_c = if made_c.is_finite() { made_c } else { source_c };
            let limit = match own_set(emitter) {
                Some(set_c) => given(set_c.min(made_c), "the manifold's set temperature"),
                None => given(made_c, "the flow temperature of the design"),
            };
            let kind = Kind::TemperatureC;
            let mut m = Measured::at_most(of_room(i, room), required.state, kind, c, &limit);
            m.scale = Some(limit.value - room.temperature_c);
            let drives = f64::from(u8::from(driver.is_some_and(|(_, d)| d == i)));
            let at = &required.emitters[emitter];
            let design_drop_k = network.emitters[emitter].drop_k;
            let cause = match own_set(emitter) {
                Some(set_c) if set_c < made_c => Cause::SetTemperature,
                _ if at.drop_k > SHORT_OF_WATER * design_drop_k => Cause::LittleWater,
                _ => Cause::Emitter,
            };
            let detail = [
                ("drives", drives),
                ("drop_k", at.drop_k),
                ("flow_kg_s", at.flow_kg_s),
            ];
            let rated = at.rated.map(|w| ("rated_needed", w));
            let why = match cause {
                Cause::Emitter => None,
                Cause::LittleWater => Some(("design_drop_k", design_drop_k)),
                Cause::SetTemperature => Some(("set_c", limit.value)),
            };
            let detail: Vec<_> = detail.into_iter().chain(rated).chain(why).collect();
            let names = [room.name.clone(), network.emitters[emitter].name.clone()];
            measured.push((cause, m.with(&detail).named(names)));
        }
        // what calls for the same remedy stands together
        measured.sort_by_key(|(cause, _)| *cause);
        list.extend(measured.into_iter().map(|(_, m)| m));
    }
}

/// Mean surface temperature of a heated floor while it gives what is needed, against EN 1264; while it gives what it
/// gets, if no valve holds it back.
pub(in crate::check) fn floor_surface(facts: &Facts, list: &mut Vec<Measured>) {
    let Some(required) = facts.heating() else {
        return;
    };
    for (i, emitter) in facts.network.emitters.iter().enumerate() {
        let HeatLaw::Floor {
            area_m2,
            surface_limit_c,
            ..
        } = emitter.law
        else {
            continue;
        };
        if required.emitters[i].flow_kg_s == 0.0 {
            continue;
        }
        let (subject, kind) = (Subject::Emitter(i), Kind::TemperatureC);
        let room_c = facts.network.rooms[emitter.room].temperature_c;
        let running = facts.run_of(required.state);
        let as_runs_w = running.map_or(0.0, |run| run.emitters[i].heat_w);
        let held_back = emitter.zone.is_some() || emitter.closes_by_itself();
        let m = match area_m2 {
            Some(area) => {
                let surface_c = |heat_w: f64| room_c + floor_surface_excess_k(heat_w / area);
                let heat_w = if held_back {
                    emitter.duty_w
                } else {
                    emitter.duty_w.max(as_runs_w)
                };
                let surface = surface_c(heat_w);
                let limit = given(surface_limit_c, "EN 1264-2");
                let mut m = Measured::at_most(subject, required.state, kind, surface, &limit);
                m.scale = Some(surface_limit_c - room_c);
                m.with(&[
                    ("heat_w_m2", heat_w / area),
                    ("as_runs_c", surface_c(emitter.duty_w.max(as_runs_w))),
                ])
            }
            None => Measured::missing(subject, required.state, kind, None),
        };
        list.push(m.named([emitter.name.clone()]));
    }
}
