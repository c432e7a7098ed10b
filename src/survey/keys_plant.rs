//! The keys of other pipework and plant: rings, loops, manifolds, vessels, cylinders, exchangers, tees, bypasses, zones.

use super::keys::{Dim, Key, Kind, Section, Shape};
use Kind::{Any, Flag, Leg, Name, Names, Positive};

const fn key(name: &'static str, kind: Kind, example: &'static str, doc: &'static str) -> Key {
    Key {
        name,
        kind,
        doc,
        example,
    }
}

const FROM: Key = key("from", Name, "\"cupboard\"", "Place that it is fed from.");
const PUMP: Key = key(
    "pump",
    Kind::Curve,
    "[\"5 m at 0 l/min\", \"1 m at 30 l/min\"]",
    "Curve of its own pump at full speed: points, or coefficients.",
);
const MODE: Key = key(
    "mode",
    Kind::Mode,
    "\"constant head 20 kPa\"",
    "How its pump is held, in the words of a source's `pump`; at full speed if left out.",
);
const DROP: Key = key(
    "drop",
    Positive(Dim::Difference),
    "\"6 K\"",
    "Drop of temperature here, if not the job's.",
);

/// Sections of other pipework and plant, in the order in which README explains them.
pub static PLANT: &[Section] = &[
    Section {
        name: "manifold",
        shape: Shape::Named,
        doc: "A place with many equal tails: emitters say `from = \"its name\"`. With `blend` it mixes down to a temperature and needs its own pump.",
        keys: &[
            FROM,
            key(
                "leg",
                Leg,
                "\"cu22 3m\"",
                "Leg from that place; both left out where a pair ends at the manifold's name.",
            ),
            key(
                "blend",
                Any(Dim::Temperature),
                "\"35 C\"",
                "Temperature that it mixes down to; fed directly if left out.",
            ),
            PUMP,
            MODE,
            key(
                "port",
                Kind::KvText,
                "\"kv 2.5\"",
                "Kv of each of its ports, fully open.",
            ),
            key(
                "port_table",
                Name,
                "\"port valve\"",
                "The `[valve_table]` by which the ports of its flow bar are set.",
            ),
            DROP,
        ],
        example: "[manifold]\nfloor = { from = \"hall floor\", leg = \"cu22 3m\", port = \"kv 2.5\", drop = \"7 K\" }\n",
    },
    Section {
        name: "ring",
        shape: Shape::Named,
        doc: "A reverse return: flow and return each visit the emitters in the same order, so that the first on the flow is the first on the return.",
        keys: &[
            FROM,
            key(
                "flow",
                Kind::Walk,
                "[\"cu22 4m\", \"lounge\", \"cu15 4m\", \"dining\"]",
                "The flow pipe: leg, emitter, leg, emitter …",
            ),
            key(
                "return",
                Kind::Walk,
                "[\"lounge\", \"cu15 4m\", \"dining\", \"cu22 12m\", \"cupboard\"]",
                "The return pipe: emitter, leg, emitter, leg … and home.",
            ),
        ],
        example: "[ring.house]\nfrom = \"heat pump\"\nflow = [\"cu22 4m\", \"lounge\", \"cu15 4m\", \"dining\"]\nreturn = [\"lounge\", \"cu15 4m\", \"dining\", \"cu22 12m\", \"heat pump\"]\n",
    },
    Section {
        name: "loop",
        shape: Shape::Named,
        doc: "A one-pipe loop: the main passes each radiator, which takes a share and gives it back.",
        keys: &[
            FROM,
            key(
                "main",
                Kind::Walk,
                "[\"cu22 4m\", \"hall\", \"cu22 5m\", \"lounge\", \"cu22 7m\"]",
                "Leg, emitter, leg, emitter … and the leg home.",
            ),
            key(
                "between",
                Leg,
                "\"cu22 0.6m\"",
                "Pipe of the main between the two tees of one radiator.",
            ),
            key(
                "tee",
                Kind::LoopTee,
                "\"diverter kv 2.1\"",
                "How radiators hang on the main: `plain` (if left out), `diverter kv 2.1`, or `share 0.3` where only the share is known.",
            ),
            key(
                "tees",
                Kind::LoopTees,
                "{ hall = \"plain\" }",
                "Radiators with another tee.",
            ),
            DROP,
        ],
        example: "[loop.ground]\nfrom = \"heat pump\"\nmain = [\"cu22 4m 3 elbow\", \"hall\", \"cu22 5m 2 elbow\", \"lounge\", \"cu22 7m 4 elbow\"]\nbetween = \"cu22 0.6m\"\ntee = \"diverter kv 2.1\"\n",
    },
    Section {
        name: "vessel",
        shape: Shape::Named,
        doc: "A volume vessel in series (`on`), or a buffer or low-loss header with three or four ports (`ports`); then its name is a place and pairs from it are the secondary side.",
        keys: &[
            key("water", Positive(Dim::Volume), "\"45 l\"", "Water in it."),
            key(
                "on",
                Name,
                "\"out.return\"",
                "In series: on the flow or return of a pair.",
            ),
            key("ports", Kind::Ports, "4", "3 or 4."),
            FROM,
            key(
                "leg",
                Leg,
                "\"cu28 3m 4 elbow\"",
                "Leg from that place; both left out where a pair ends at the vessel's name.",
            ),
            PUMP,
            MODE,
        ],
        example: "[vessel.volume]\nwater = \"30 l\"\non = \"out.return\"\n",
    },
    Section {
        name: "cylinder",
        shape: Shape::Named,
        doc: "A hot-water cylinder with a coil, fed through a diverter.",
        keys: &[
            key(
                "from",
                Name,
                "\"cupboard\"",
                "Place where the diverter stands.",
            ),
            key(
                "leg",
                Leg,
                "\"cu28 2m 4 elbow\"",
                "Leg from the diverter to the coil.",
            ),
            key(
                "coil",
                Kind::Loss,
                "\"kv 4\"",
                "Loss of the coil: a kv, or a loss at a flow.",
            ),
            key(
                "coil_area",
                Positive(Dim::Area),
                "\"2.5 m2\"",
                "Surface of the coil.",
            ),
            key(
                "coil_water",
                Positive(Dim::Volume),
                "\"8 l\"",
                "Water in the coil.",
            ),
            key("diverter", Kind::KvText, "\"kv 9\"", "Kv of the diverter."),
            key(
                "water",
                Positive(Dim::Volume),
                "\"210 l\"",
                "Hot water stored.",
            ),
            key(
                "store",
                Any(Dim::Temperature),
                "\"50 C\"",
                "Temperature of the store.",
            ),
            key(
                "flow_temperature",
                Any(Dim::Temperature),
                "\"55 C\"",
                "Flow temperature while it is heated.",
            ),
            key(
                "drop",
                Positive(Dim::Difference),
                "\"5 K\"",
                "Drop over the coil at the unit's full output.",
            ),
            key("unvented", Flag, "true", "It stands under mains pressure."),
        ],
        example: "[cylinder.store]\nfrom = \"cupboard\"\nleg = \"cu28 2m 4 elbow\"\ncoil = \"kv 4\"\nwater = \"210 l\"\n",
    },
    Section {
        name: "exchanger",
        shape: Shape::Named,
        doc: "A plate exchanger between two circuits. Its name is a place: pairs from it are the far circuit, with its own pump and fluid.",
        keys: &[
            FROM,
            key(
                "leg",
                Leg,
                "\"cu28 2m\"",
                "Leg from that place; both left out where a pair ends at the exchanger's name.",
            ),
            key(
                "near",
                Kind::Loss,
                "\"12 kPa at 23 l/min\"",
                "Loss on the near side.",
            ),
            key(
                "far",
                Kind::Loss,
                "\"12 kPa at 23 l/min\"",
                "Loss on the far side.",
            ),
            key(
                "ua",
                Positive(Dim::HeatPerKelvin),
                "\"2400 W/K\"",
                "Heat carried per kelvin of logarithmic difference.",
            ),
            PUMP,
            MODE,
            key(
                "fluid",
                Kind::Fluid,
                "\"water\"",
                "Fluid of the far circuit; the near side keeps the job's.",
            ),
        ],
        example: "[exchanger.plate]\nfrom = \"heat pump\"\nleg = \"cu28 2m\"\nnear = \"12 kPa at 23 l/min\"\nfar = \"12 kPa at 23 l/min\"\nua = \"2400 W/K\"\npump = [\"5 m at 0 l/min\", \"1 m at 30 l/min\"]\n",
    },
    Section {
        name: "zone",
        shape: Shape::Named,
        doc: "A zone valve or zone pump on one pair or several.",
        keys: &[
            key(
                "on",
                Names,
                "[\"riser\"]",
                "Pairs that it shuts; emitters may also say `zone = \"its name\"`.",
            ),
            key("valve", Kind::KvText, "\"kv 8\"", "Kv of the zone valve."),
            PUMP,
            MODE,
        ],
        example: "[zone.upstairs]\non = [\"riser\"]\nvalve = \"kv 8\"\n",
    },
    Section {
        name: "bypass",
        shape: Shape::Named,
        doc: "An overflow valve across flow and return at a place.",
        keys: &[
            key("at", Name, "\"landing\"", "The place."),
            key(
                "opening",
                Positive(Dim::Pressure),
                "\"20 kPa\"",
                "Pressure difference at which it begins to open.",
            ),
            key("kv", Kind::KvText, "2.5", "Kv fully open."),
            key("leg", Leg, "\"cu15 1m\"", "Its pipe, if it has one."),
        ],
        example: "[bypass.auto]\nat = \"landing\"\nopening = \"20 kPa\"\nkv = 2.5\n",
    },
    Section {
        name: "tee",
        shape: Shape::Lines(Kind::Tee),
        doc: "What the tee at a place is, where it matters: `plain` (by the rule, if left out), `bull-head`, `no loss`, or `straight on to riser`.",
        keys: &[],
        example: "[tee]\nlanding = \"bull-head\"\n",
    },
    Section {
        name: "state",
        shape: Shape::Named,
        doc: "A named state of the house to look at, beside plain heating and hot water.",
        keys: &[
            key(
                "shut",
                Names,
                "[\"upstairs\"]",
                "Zones, emitters and pairs that are shut.",
            ),
            key(
                "stopped",
                Names,
                "[\"buffer\"]",
                "Pumps that stand, by the name of the source, vessel, manifold, exchanger or zone that owns them.",
            ),
            key(
                "sources",
                Names,
                "[\"heat pump\"]",
                "Sources that run; all of them if left out.",
            ),
            key(
                "hot_water",
                Flag,
                "false",
                "The diverter feeds the cylinder.",
            ),
        ],
        example: "[state.\"upstairs off\"]\nshut = [\"upstairs\"]\n",
    },
    Section {
        name: "limits",
        shape: Shape::Open(Kind::Limit),
        doc: "Limits of your own in place of the catalogue's, by their key there; `\"velocity hall\"` holds for the run `hall` alone. Writing a key that is only a note makes it a limit.",
        keys: &[],
        example: "[limits]\nvelocity = \"1.0 m/s\"\ngradient = \"300 Pa/m\"\n",
    },
];
