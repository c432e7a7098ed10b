//! Somebody else's figures against recomputed ones, and against one another.

pub mod conflict;
pub mod relation;
