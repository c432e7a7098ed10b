//! What happens when valves close: every combination, least flow, water left in circulation, short cycling.

pub mod bypass;
pub mod cycle;
pub mod enumerate;
pub mod season;
pub mod sets;
pub mod state;
pub mod study;
pub mod tally;
pub mod throttle;
pub mod valves;
pub mod vessel;
pub mod water;

pub use study::{Options, Shut, Stop, study};
