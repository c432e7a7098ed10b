//! The keys of what is set by hand and read in the house.

use super::keys::{Dim, Key, Kind, Section, Shape};
use Kind::{Any, Positive, Text};

const fn key(name: &'static str, kind: Kind, example: &'static str, doc: &'static str) -> Key {
    Key {
        name,
        kind,
        doc,
        example,
    }
}

/// Sections of settings and readings, in the order in which README explains them.
pub static SETTINGS: &[Section] = &[
    Section {
        name: "valve_table",
        shape: Shape::Named,
        doc: "A valve's own table from its maker's sheet, so that `balance` says turns or a preset number: `turns` or `presets`, and `kv` beside it.",
        keys: &[
            key(
                "turns",
                Kind::Figures,
                "[0.5, 1, 1.5, 2, 3]",
                "Turns open from shut, rising.",
            ),
            key(
                "presets",
                Kind::Figures,
                "[1, 2, 3, 4, 5, 6]",
                "Numbers of its presetting ring, rising; in place of `turns`.",
            ),
            key(
                "kv",
                Kind::Figures,
                "[0.12, 0.3, 0.55, 0.85, 1.6]",
                "Kv at each of them, rising.",
            ),
            key(
                "source",
                Text,
                "\"maker's sheet, 2024\"",
                "Where the figures are from.",
            ),
        ],
        example: "[valve_table.\"lockshield 15\"]\nturns = [0.5, 1, 1.5, 2, 3]\nkv = [0.12, 0.3, 0.55, 0.85, 1.6]\n",
    },
    Section {
        name: "reading",
        shape: Shape::Named,
        doc: "What was read at an emitter (or a source, by its name) while the house heated with all heads open; `balance` then says the next adjustment of each valve. A file of readings alone is given as `balance FILE --readings READINGS`.",
        keys: &[
            key(
                "flow",
                Any(Dim::Temperature),
                "\"44.5 C\"",
                "Where the water goes in; as reckoned if left out.",
            ),
            key(
                "return",
                Any(Dim::Temperature),
                "\"41 C\"",
                "Where it comes out.",
            ),
            key(
                "drop",
                Positive(Dim::Difference),
                "\"3.5 K\"",
                "Difference of the two, if that was read.",
            ),
            key(
                "rate",
                Positive(Dim::Flow),
                "\"1.8 l/min\"",
                "Flow, where a meter shows it.",
            ),
            key(
                "room",
                Any(Dim::Temperature),
                "\"19 C\"",
                "Room temperature while it was read; the design's if left out.",
            ),
            key(
                "kv",
                Kind::KvText,
                "\"kv 0.5\"",
                "Kv at which its valve stood; its `set`, else as `balance` sets it, if left out.",
            ),
            key(
                "turns",
                Positive(Dim::Number),
                "1.25",
                "The same in turns or preset number of its table.",
            ),
        ],
        example: "[reading]\nlounge = { drop = \"3.5 K\", turns = 1.25 }\n",
    },
    Section {
        name: "evidence",
        shape: Shape::Table,
        doc: "What of the file somebody saw or measured in the house; what is named in neither is stated, and what carries a `?` or a range stays a guess. A report says so for every run and emitter.",
        keys: &[
            key(
                "seen",
                Kind::Names,
                "[\"out\", \"lounge\"]",
                "Runs, emitters and sources that were looked at: size, material and fittings as written.",
            ),
            key(
                "measured",
                Kind::Names,
                "[\"riser\"]",
                "Runs, emitters and sources that were measured: with calliper and tape, or read off the plate.",
            ),
        ],
        example: "[evidence]\nseen = [\"out\", \"lounge\"]\nmeasured = [\"riser\"]\n",
    },
];
