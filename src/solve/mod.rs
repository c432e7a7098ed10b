//! Flow, pressure and temperature of a network in one setting: global-gradient Newton on any topology, heat and flow
//! together, converged or an error that says what stopped it.

pub mod setting;
pub mod state;

pub use setting::{Setting, SourceSetting};
pub use state::{PumpState, SolveError, SourceLimit, SourceState, State, Stats};
