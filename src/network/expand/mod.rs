//! From survey to network: every written line becomes physical elements, flow side and return side both explicit.
//!
//! Plant comes first, because it decides where the pipes of a place end (before or after a diverter, above or below a
//! vessel); then pairs, rings, loops and single runs; then emitters; then what can only be said of the whole: rooms'
//! shares, tees, circuits, pumps in Pa, states. Doubts are found last, by laying the house again for every admitted
//! value.

mod build;
mod check;
mod circuits;
mod cylinder;
mod doubts;
mod emitter;
mod emitter_heat;
mod exchanger;
mod floor;
mod leg;
mod lines;
mod lookup;
mod piece;
mod plant;
mod ports;
mod rooms;
mod settings;
mod source;
mod states;
mod surroundings;
mod tees;
mod terminal;
mod walks;

pub use floor::floor_w_m2k;

use super::Network;
use crate::diag::{Diagnostic, any_error};
use crate::survey::Survey;
use build::Builder;

/// The network of a survey, with warnings.
///
/// # Errors
/// Every mistake that only the joined house shows: a circuit that does not close, a part that nothing feeds, flow and
/// return crossed, two sources with nothing between them, plant without a figure that it cannot do without.
pub fn expand(survey: &Survey) -> Result<(Network, Vec<Diagnostic>), Vec<Diagnostic>> {
    let mut builder = lay(survey);
    builder.check();
    if any_error(&builder.faults) {
        return Err(builder.faults);
    }
    let (mut network, warnings) = (builder.network, builder.faults);
    doubts::find(survey, &mut network, |trial| lay(trial).network);
    Ok((network, warnings))
}

fn lay(survey: &Survey) -> Builder<'_> {
    let mut b = Builder::new(survey);
    b.zones();
    b.sources();
    b.vessels();
    b.manifolds();
    b.exchangers();
    b.diverters();
    b.pairs();
    b.feeds();
    b.rings();
    b.loops();
    b.single_runs();
    b.valve_tables();
    b.emitters();
    b.readings();
    b.rooms();
    b.bypasses();
    b.tees();
    b.circuits();
    b.pumps();
    b.blends();
    b.states();
    b
}
