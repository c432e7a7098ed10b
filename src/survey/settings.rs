//! What a survey holds of valves' own tables and of readings.

use super::At;
use crate::quantity::{Celsius, Kelvin, Kv, VolumeFlow};

/// `[valve_table.NAME]`.
#[derive(Clone, Debug, PartialEq)]
pub struct ValveTable {
    /// Its name.
    pub name: At<String>,
    /// Whether it is set to the numbers of a ring rather than by turns.
    pub presets: bool,
    /// Turns (or preset number) and kv in m³/h, both rising.
    pub points: Vec<(f64, f64)>,
    /// Where the figures are from.
    pub source: Option<String>,
}

/// `[reading]`: what was read at an emitter or a source.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// The emitter or source.
    pub name: At<String>,
    /// Where the water goes in; of a source, its flow.
    pub flow: Option<At<Celsius>>,
    /// Where it comes out; of a source, its return.
    pub back: Option<At<Celsius>>,
    /// Difference of the two.
    pub drop: Option<At<Kelvin>>,
    /// Flow at a meter.
    pub rate: Option<At<VolumeFlow>>,
    /// Room temperature, if not the design's.
    pub room: Option<At<Celsius>>,
    /// Kv at which the valve stood.
    pub kv: Option<At<Kv>>,
    /// Turns or preset number at which it stood.
    pub turns: Option<At<f64>>,
}

/// Names of what was seen or measured in the house.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Evidence {
    /// Looked at.
    pub seen: Vec<At<String>>,
    /// Measured.
    pub measured: Vec<At<String>>,
}
