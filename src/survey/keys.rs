//! Every word that a network file may use as a key, in one table.
//!
//! The reader takes its keys from here, the JSON Schema is generated from here, and so is README's chapter on the file:
//! they cannot drift apart.

use super::keys_house::HOUSE;
use super::keys_plan::PLAN;
use super::keys_plant::PLANT;
use super::keys_settings::SETTINGS;
pub use crate::units::Quantity as Dim;

/// What a key's value is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Kind {
    /// Any text.
    Text,
    /// The name of something else in the file.
    Name,
    /// A list of such names.
    Names,
    /// A list of plain numbers, not negative and rising.
    Figures,
    /// What an emitter of a rated output is: a word of the catalogue.
    EmitterWord,
    /// One of these words.
    Words(&'static [&'static str]),
    /// `true` or `false`.
    Flag,
    /// A figure that must be above zero.
    Positive(Dim),
    /// A figure that may be zero.
    NotNegative(Dim),
    /// A figure of either sign.
    Any(Dim),
    /// Pipe, length and fittings in one text.
    Leg,
    /// Points or coefficients of a head curve.
    Curve,
    /// How a pump is held.
    Mode,
    /// A loss: kv, or a loss at a flow.
    Loss,
    /// A kv, as text `kv 1.6` or a plain number.
    KvText,
    /// An emitter's valve with its kv.
    Valve,
    /// A rated output, perhaps with its conditions.
    Rated,
    /// Type and size of a panel radiator.
    Panel,
    /// Three sizes: width, height, depth.
    Wall,
    /// A temperature or the name of a room.
    Room,
    /// Water, glycol with its share, or a table of properties.
    Fluid,
    /// What a tee is.
    Tee,
    /// How a radiator hangs on a one-pipe main.
    LoopTee,
    /// Exceptions to that, by emitter.
    LoopTees,
    /// From, to, leg.
    Route,
    /// Legs and names in turn.
    Walk,
    /// A whole number (`3` or `4` ports).
    Ports,
    /// A unit to show results in, of the class that the key names.
    Unit(&'static [&'static str]),
    /// A table with the keys of another section.
    Like(&'static str),
    /// A figure in the unit of the limit that the key names.
    Limit,
    /// Money, perhaps with its sign and what it is per.
    Price,
}

/// One key of a section.
#[derive(Clone, Copy, Debug)]
pub struct Key {
    /// As written.
    pub name: &'static str,
    /// What its value is.
    pub kind: Kind,
    /// What it means, and what holds where it is left out; one or two sentences.
    pub doc: &'static str,
    /// A value as it would be written in TOML.
    pub example: &'static str,
}

/// How a section is written.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Shape {
    /// `key = value` at the top of the file.
    Value(Kind),
    /// One table with the section's keys.
    Table,
    /// One table for each name: `[source."heat pump"]`, or a line `lounge = { … }`.
    Named,
    /// One line for each name: `hall = [from, to, leg]`.
    Lines(Kind),
    /// A table whose keys are free (title block), or come from the catalogue (limits).
    Open(Kind),
}

/// One key at the top of the file.
#[derive(Clone, Copy, Debug)]
pub struct Section {
    /// As written.
    pub name: &'static str,
    /// How it is written.
    pub shape: Shape,
    /// What it means.
    pub doc: &'static str,
    /// Its keys.
    pub keys: &'static [Key],
    /// An example in TOML that reads by itself.
    pub example: &'static str,
}

impl Section {
    /// Its key of this name.
    pub fn key(&self, name: &str) -> Option<&'static Key> {
        self.keys.iter().find(|k| k.name == name)
    }
}

/// All sections, in the order in which README explains them.
pub fn sections() -> impl Iterator<Item = &'static Section> + Clone {
    HOUSE.iter().chain(PLANT).chain(SETTINGS).chain(PLAN)
}

/// The section of this name.
pub fn section(name: &str) -> Option<&'static Section> {
    sections().find(|s| s.name == name)
}
