//! Spreadsheets, which stand behind a feature, by the tests of all schedules: a target of its own, so that the feature builds
//! nothing else anew.
#![allow(dead_code)] // what other tests ask of the made-up disk

#[path = "it/schedules.rs"]
mod schedules;
#[path = "it/world.rs"]
mod world;
