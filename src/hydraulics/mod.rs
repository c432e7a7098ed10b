//! The laws of single elements: friction, local losses, tees, pumps, emitters.
