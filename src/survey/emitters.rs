//! What a survey holds of emitters.

use super::{At, ItemKind, Leg};
use crate::diag::Span;
use crate::quantity::{Celsius, Kelvin, Kv, Metre, Volume, Watt};

/// What kind of emitter.
#[derive(Clone, Debug, PartialEq)]
pub enum EmitterKind {
    /// A radiator, towel rail or fan convector by rated output.
    Rated {
        /// Output at the rating conditions.
        output: At<Watt>,
        /// Flow, return and room of the rating; 75/65/20 if not said.
        at: Option<At<(Celsius, Celsius, Celsius)>>,
        /// Exponent; by kind if not said.
        exponent: Option<At<f64>>,
        /// `radiator`, `towel rail`, `fan convector`, `convector`, `column`: a word of the catalogue.
        kind: String,
    },
    /// A panel radiator by type and size, from the catalogue.
    Panel {
        /// `11`, `21`, `22`, `33`.
        panel_type: String,
        /// Height.
        height: Metre,
        /// Width.
        width: Metre,
        /// Place of the words.
        span: Span,
    },
    /// A floor loop.
    Floor {
        /// Heat per kelvin between mean water and room, if given outright.
        w_per_k: Option<At<f64>>,
        /// Heated area, m².
        area_m2: Option<At<f64>>,
        /// Spacing of the pipes.
        spacing: Option<At<Metre>>,
        /// Resistance of the covering, m²K/W.
        covering_m2k_w: Option<At<f64>>,
        /// Resistance from water to the floor's surface, m²K/W, if given outright.
        resistance_m2k_w: Option<At<f64>>,
        /// Whether it is a bathroom or an edge strip, for the surface limit.
        zone: Option<At<String>>,
        /// Pipe of the loop with its length.
        circuit: At<Leg>,
    },
    /// Draws a fixed heat whatever the temperature.
    Fixed,
}

/// One emitter with all that `defaults` and `like` gave it.
#[derive(Clone, Debug, PartialEq)]
pub struct Emitter {
    /// Its name.
    pub name: At<String>,
    /// Place it is teed from; `None` if a ring or loop names it.
    pub from: Option<At<String>>,
    /// Its tails, both pipes; for a ring or loop the tails from the main.
    pub leg: Option<At<Leg>>,
    /// Return tail where it differs.
    pub return_leg: Option<At<Leg>>,
    /// What it is.
    pub kind: EmitterKind,
    /// Room temperature, or the name of a `[room]`.
    pub room: Option<At<RoomRef>>,
    /// Heat that the room needs from it.
    pub needs: Option<At<Watt>>,
    /// Its own drop.
    pub drop: Option<At<Kelvin>>,
    /// Thermostatic valve or actuator.
    pub valve: Option<At<EmitterValve>>,
    /// Lockshield's kv fully open.
    pub lockshield: Option<At<Kv>>,
    /// Lockshield's kv as it is set.
    pub lockshield_set: Option<At<Kv>>,
    /// Table by which its valve is preset.
    pub valve_table: Option<At<String>>,
    /// Table of its lockshield.
    pub lockshield_table: Option<At<String>>,
    /// Loss of the emitter itself, beyond its pipe.
    pub loss: Option<At<ItemKind>>,
    /// Never shut.
    pub always_open: bool,
    /// Water content, if not the catalogue's.
    pub water: Option<At<Volume>>,
    /// Limits of the wall for a replacement: width, height, depth.
    pub wall: Option<At<(Metre, Metre, Metre)>>,
    /// Storey, zone, order: hints for the drawing.
    pub storey: Option<String>,
    /// Its place from left to right among emitters that begin at one place.
    pub order: Option<f64>,
    /// Group of valves that close together.
    pub zone: Option<At<String>>,
    /// Share of output left by enclosure or connection, 1 if not said.
    pub factor: f64,
    /// Where its line stands.
    pub span: Span,
}

/// What an emitter says about its room.
#[derive(Clone, Debug, PartialEq)]
pub enum RoomRef {
    /// A temperature outright.
    Temperature(Celsius),
    /// A room of the `[room]` table.
    Named(String),
}

/// An emitter's valve that can shut.
#[derive(Clone, Debug, PartialEq)]
pub struct EmitterValve {
    /// `thermostatic`, `actuator`, `manual`, `twin entry`, or none at all (`open`).
    pub kind: String,
    /// Kv at design (thermostatic: at 2 K below shutting).
    pub kv: Kv,
}
