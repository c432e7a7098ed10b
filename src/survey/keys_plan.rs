//! The keys of prices and of what a plan may touch.

use super::keys::{Dim, Key, Kind, Section, Shape};
use Kind::{Names, NotNegative, Positive, Price, Words};

const fn key(name: &'static str, kind: Kind, example: &'static str, doc: &'static str) -> Key {
    Key {
        name,
        kind,
        doc,
        example,
    }
}

/// Sections of prices and plans, in the order in which README explains them.
pub static PLAN: &[Section] = &[
    Section {
        name: "prices",
        shape: Shape::Open(Price),
        doc: "What you pay; `upsize` uses it in place of its own table, which is invented. `currency` is a sign or word. A pipe word is a price per metre; `work PLACE` the work on a metre of one pipe that lies so; `open PLACE` what opening such a place costs once; a fitting, valve or device is each; type and size is a radiator, hung. `RUN PIPE` is the whole of one run in that pipe (flow and return, all included), `RUN beside PIPE` the whole of a second pipe laid beside it, `EMITTER TYPE SIZE` one radiator there.",
        keys: &[],
        example: "[prices]\ncurrency = \"£\"\ncu28 = \"11.40 per m\"\n\"work under boards\" = \"14 per m\"\n\"open under tiles\" = 600\nelbow = 6\n\"22 600x1200\" = 240\n\"hall cu28\" = 380\n\"hall beside cu22\" = 310\n",
    },
    Section {
        name: "opening",
        shape: Shape::Named,
        doc: "A place that is opened once for all the runs in it (\"while that board is up\"). What is left out follows where its first run lies.",
        keys: &[
            key(
                "runs",
                Names,
                "[\"hall\", \"riser\"]",
                "Runs that lie in it; an emitter's name means its tails.",
            ),
            key(
                "price",
                Price,
                "450",
                "Money for opening and closing it, once.",
            ),
            key(
                "rooms",
                NotNegative(Dim::Number),
                "2",
                "Rooms that are upset.",
            ),
            key(
                "days",
                NotNegative(Dim::Number),
                "1.5",
                "Days for which they are.",
            ),
        ],
        example: "[opening]\n\"kitchen floor\" = { runs = [\"hall\"], price = 450, rooms = 1, days = 2 }\n",
    },
    Section {
        name: "plan",
        shape: Shape::Table,
        doc: "What `upsize` may touch, and what running costs are reckoned with.",
        keys: &[
            key(
                "leave",
                Names,
                "[\"riser\", \"lounge\"]",
                "Runs and emitters that stay as they are; an emitter's name means the radiator and its tails.",
            ),
            key(
                "families",
                Names,
                "[\"copper\", \"multilayer\"]",
                "Families of pipe that may be laid: copper, steel, pb, pex, multilayer. All that are priced if left out.",
            ),
            key(
                "prices",
                Words(&["invented", "own"]),
                "\"own\"",
                "`own`: only `[prices]` counts, and what has no price there is not offered. `invented` (if left out): the rest comes from the embedded table.",
            ),
            key(
                "scop",
                Positive(Dim::Number),
                "3.5",
                "Seasonal efficiency at this file's flow temperature; 3.5 if left out.",
            ),
            key(
                "slope",
                NotNegative(Dim::Number),
                "2.5",
                "Percent of it that one kelvin more of flow temperature costs; 2.5 if left out.",
            ),
            key(
                "heat",
                Positive(Dim::Energy),
                "\"12000 kWh\"",
                "Heat of a year; 2000 hours at full need if left out.",
            ),
            key(
                "per_kwh",
                Price,
                "0.27",
                "Money per kWh of electricity; 0.27 if left out.",
            ),
        ],
        example: "[plan]\nleave = [\"riser\"]\nfamilies = [\"copper\"]\n",
    },
];
