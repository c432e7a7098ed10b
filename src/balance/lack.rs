//! What the house still lacks once everything is set: balance gives flows, not warmth.

use super::expect::Day;
use crate::network::{HeatLaw, Network};
use crate::view::Required;

/// Heat counts as short, and a unit's flow as too little or too much, by more than this share: so near do flows come to
/// their design.
pub const SLACK: f64 = super::valve::CLOSE;

/// Something that the settings do not bring.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Lack {
    /// A room, by index, gets less heat than it needs: W, W.
    Heat {
        /// Index into `rooms`.
        room: usize,
        /// W.
        gets_w: f64,
        /// W.
        needs_w: f64,
        /// Only as long as the heads of emitters before it on its one-pipe main stand open: these take more from the water
        /// than their rooms need, and once they throttle it is warm enough.
        heads_open: bool,
    },
    /// A source moves less than its least flow: m³/s, m³/s.
    LeastFlow {
        /// Index into `sources`.
        source: usize,
        /// m³/s.
        flow_m3_s: f64,
        /// m³/s.
        least_m3_s: f64,
    },
    /// A source moves more than its greatest flow: m³/s, m³/s.
    GreatestFlow {
        /// Index into `sources`.
        source: usize,
        /// m³/s.
        flow_m3_s: f64,
        /// m³/s.
        greatest_m3_s: f64,
    },
}

/// What the design day shows, sources first, then rooms, in the order of the file.
pub(super) fn lacks(network: &Network, required: &Required, day: &Day) -> Vec<Lack> {
    let mut lacks = Vec::new();
    for at in &day.sources {
        let (source, flow_m3_s) = (at.source, at.flow_m3_s);
        let unit = &network.sources[source];
        if let Some(least_m3_s) = unit.least_flow_m3_s
            && flow_m3_s < least_m3_s * (1.0 - SLACK)
        {
            lacks.push(Lack::LeastFlow {
                source,
                flow_m3_s,
                least_m3_s,
            });
        }
        if let Some(greatest_m3_s) = unit.greatest_flow_m3_s
            && flow_m3_s > greatest_m3_s * (1.0 + SLACK)
        {
            lacks.push(Lack::GreatestFlow {
                source,
                flow_m3_s,
                greatest_m3_s,
            });
        }
    }
    for (i, room) in network.rooms.iter().enumerate() {
        // what draws a fixed heat is no radiator that could be too small; what is not asked now is not short now
        let asked = room.emitters.iter().filter(|&&e| {
            required.emitters[e].flow_kg_s > 0.0
                && !matches!(network.emitters[e].law, HeatLaw::Fixed(_))
        });
        let (mut gets_w, mut needs_w) = (0.0, 0.0);
        for &e in asked {
            gets_w += day.emitters[e].map_or(0.0, |a| a.heat_w);
            needs_w += network.emitters[e].duty_w;
        }
        if gets_w < needs_w * (1.0 - SLACK) {
            lacks.push(Lack::Heat {
                room: i,
                gets_w,
                needs_w,
                heads_open: room
                    .emitters
                    .iter()
                    .all(|&e| waits(network, required, day, e)),
            });
        }
    }
    lacks
}

/// Whether an emitter of a one-pipe main gets its flow, and water that the required view, in which every emitter takes no
/// more than its need, calls warm enough.
fn waits(network: &Network, required: &Required, day: &Day, emitter: usize) -> bool {
    let asks = &required.emitters[emitter];
    let flow = day.emitters[emitter].map_or(0.0, |a| a.flow_kg_s);
    let made = day.sources.iter().map(|s| s.flow_c);
    let made_c = made.fold(f64::NEG_INFINITY, f64::max);
    network.emitters[emitter].one_pipe.is_some()
        && flow > asks.flow_kg_s * (1.0 - SLACK)
        && asks.source_c.is_some_and(|c| c <= made_c)
}
