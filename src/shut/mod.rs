//! What happens when valves close: every combination, least flow, water left in circulation, short cycling.

pub mod cycle;
pub mod sets;
pub mod water;
