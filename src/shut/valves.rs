//! Which valves can close, counted once where several close together.

use crate::network::{ElementId, HouseState, Network};

/// Something that can shut on its own.
#[derive(Clone, Debug, PartialEq)]
pub struct Closable {
    /// The user's name: an emitter's or a zone's.
    pub name: String,
    /// What it shuts.
    pub kind: ClosableKind,
    /// Elements that go shut with it.
    pub elements: Vec<ElementId>,
    /// Pumps that stop with it, indices into `pumps`.
    pub pumps: Vec<usize>,
}

/// Kinds of valve that close.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ClosableKind {
    /// A thermostatic head or an actuator of one emitter, by index into `emitters`.
    Emitter(usize),
    /// A zone with its valve or pump and the emitters that close with it, by index into `zones`.
    Zone(usize),
}

/// All valves that can close in a house state: zones first, then emitters that no zone closes, in file order.
///
/// Emitters marked always open, without a valve, or with a hand-turned one stay open. A zone that the state shuts
/// already is left out.
pub fn closable(network: &Network, state: &HouseState) -> Vec<Closable> {
    let shut = |id: &ElementId| state.shut.contains(id) || !network.element(*id).open;
    let mut all = Vec::new();
    for (z, zone) in network.zones.iter().enumerate() {
        let mut elements = zone.valves.clone();
        for emitter in network
            .emitters
            .iter()
            .filter(|e| e.zone == Some(z) && !e.always_open)
        {
            elements.extend(emitter.valve);
        }
        let pumps: Vec<usize> = zone
            .pump
            .into_iter()
            .filter(|p| !state.stopped.contains(p))
            .collect();
        elements.retain(|id| !shut(id));
        if !elements.is_empty() || !pumps.is_empty() {
            let kind = ClosableKind::Zone(z);
            all.push(Closable {
                name: zone.name.clone(),
                kind,
                elements,
                pumps,
            });
        }
    }
    for (e, emitter) in network.emitters.iter().enumerate() {
        let own = emitter.valve.filter(|id| !shut(id));
        if let Some(valve) = own.filter(|_| emitter.closes_by_itself() && emitter.zone.is_none()) {
            all.push(Closable {
                name: emitter.name.clone(),
                kind: ClosableKind::Emitter(e),
                elements: vec![valve],
                pumps: Vec::new(),
            });
        }
    }
    all
}
