//! What to change: the cheapest and the least disruptive set of changes that works, with its proof.

pub mod answer;
pub mod beside;
pub mod change;
mod choices;
mod crowd;
pub mod exact;
pub mod frontier;
mod guess;
pub mod loose;
pub mod missing;
pub mod model;
pub mod offer;
mod openings;
mod passage;
pub mod price;
mod priced;
pub mod problem;
mod radiator;
mod relax;
pub mod rewrite;
mod rows;
mod ruled;
pub mod search;
pub mod shopping;
pub mod site;
pub mod stages;
pub mod temperature;
mod ties;
mod twin;
pub mod upsize;
pub mod verify;

pub use answer::{Answer, Cut, End, Look};
pub use exact::{cheapest, cheapest_that, frontier_of_disruption, nearest_cheaper, not_containing};
pub use problem::{Choice, Decision, Objective, Opening, Problem, Row, Tie};
