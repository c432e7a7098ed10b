//! What to change: the cheapest and the least disruptive set of changes that works, with its proof.

pub mod exact;
pub mod frontier;
pub mod missing;
pub mod model;
pub mod offer;
mod passage;
pub mod price;
pub mod problem;
mod radiator;
mod relax;
pub mod rewrite;
pub mod search;
pub mod shopping;
pub mod site;
pub mod stages;
pub mod temperature;
pub mod upsize;

pub use exact::{Answer, cheapest, frontier_of_disruption, nearest_cheaper, not_containing};
pub use problem::{Choice, Decision, Objective, Opening, Problem, Row};
