//! What happens when valves close: every combination, least flow, water left in circulation, short cycling.

pub mod admissible;
pub mod alike;
pub mod bypass;
pub mod cost;
pub mod counted;
pub mod cycle;
pub mod defrost;
pub mod edge;
pub mod enumerate;
pub mod kept;
pub mod monotone;
pub mod overflow;
pub mod rules;
pub mod season;
pub mod sets;
pub mod special;
pub mod state;
pub mod study;
pub mod tally;
pub mod throttle;
pub mod typical;
pub mod valves;
pub mod vessel;
pub mod water;

pub use study::{Options, Shut, Stop, study};
