//! Which symbol stands for which element, and how large it is.

use super::scene::{About, Shape};
use super::style::Level;
use super::words::tidy;
use crate::network::{ElementId, Law, Network, Part, PartGroup, Role};

/// A device in line, before it has a place.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Device {
    pub shape: Shape,
    /// Along the pipe and across it, layout units.
    pub size: (f64, f64),
    /// Room beside the pipe that a stem takes.
    pub stem: f64,
    pub words: String,
    pub about: About,
    pub shut: bool,
    /// Against the direction of the way.
    pub rev: bool,
}

fn about(id: ElementId, part: usize) -> About {
    About::Device(
        u32::try_from(id.index()).unwrap_or(u32::MAX),
        u32::try_from(part).unwrap_or(u32::MAX),
    )
}

fn size_of(shape: Shape) -> ((f64, f64), f64) {
    match shape {
        Shape::Pump => ((8.0, 8.0), 0.0),
        Shape::Thermostatic => ((6.0, 4.0), 5.5),
        Shape::Lockshield => ((6.0, 4.0), 4.0),
        Shape::Motorised => ((7.5, 5.0), 7.5),
        Shape::Balancing | Shape::FlowHolder => ((7.5, 6.0), 0.0),
        Shape::Bypass => ((7.5, 5.0), 5.0),
        Shape::VesselInline => ((9.0, 16.0), 0.0),
        Shape::Check => ((5.0, 5.0), 0.0),
        Shape::Letters(_) | Shape::Strainer => ((6.0, 6.0), 0.0),
        Shape::Changed | Shape::DeadEnd => ((3.0, 3.0), 0.0),
        _ => ((7.5, 5.0), 0.0),
    }
}

fn device(shape: Shape, words: &str, about: About, shut: bool, rev: bool) -> Device {
    let (size, stem) = size_of(shape);
    Device {
        shape,
        size,
        stem,
        words: tidy(words, 60).0,
        about,
        shut,
        rev,
    }
}

/// Shape of a part by its catalogue word; `None` for pipe and fittings, which the label tells of.
fn part_shape(part: &Part) -> Option<Shape> {
    if part.symbol.is_empty() || matches!(part.group, PartGroup::Pipe | PartGroup::Fittings) {
        return None;
    }
    let word = part.symbol.to_lowercase();
    let has = |w: &str| word.contains(w);
    Some(if has("strainer") {
        Shape::Strainer
    } else if has("antifreeze") {
        Shape::Letters("AF")
    } else if has("check") || has("non-return") {
        Shape::Check
    } else if has("filter") || has("dirt") || has("magnetic") {
        Shape::Letters("MF")
    } else if has("flow meter") || has("flowmeter") {
        Shape::Letters("F")
    } else if has("meter") {
        Shape::Letters("HM")
    } else if has("air") {
        Shape::Letters("AS")
    } else if has("heater") {
        Shape::Letters("IH")
    } else if has("hose") {
        Shape::Letters("FH")
    } else if has("balanc") || has("regulat") {
        Shape::Balancing
    } else if has("diverter tee") {
        // a fitting without a drive: its name says diverter only of what it does
        Shape::Letters("DT")
    } else if has("zone") || has("motor") || has("actuat") || has("diverter") {
        Shape::Motorised
    } else if has("valve") || part.group == PartGroup::Valves {
        Shape::Valve
    } else {
        Shape::Letters("D")
    })
}

/// Devices of one element, in order; none at overview.
pub(crate) fn of_element(
    network: &Network,
    id: ElementId,
    rev: bool,
    shut: bool,
    level: Level,
) -> Vec<Device> {
    let element = network.element(id);
    if level == Level::Overview {
        return Vec::new();
    }
    let one = |shape| vec![device(shape, &element.name, about(id, 0), shut, rev)];
    match element.role {
        Role::Pump => one(Shape::Pump),
        Role::CheckValve => one(Shape::Check),
        Role::EmitterValve => {
            let manual = network
                .emitters
                .iter()
                .find(|e| e.valve == Some(id))
                .map_or("", |e| e.valve_kind.as_str());
            one(if manual.contains("actuator") {
                Shape::Motorised
            } else if manual.contains("manual") {
                Shape::Valve
            } else {
                Shape::Thermostatic
            })
        }
        Role::Lockshield => one(Shape::Lockshield),
        Role::Valve => one(match &element.law {
            Law::Parts(parts) => parts.iter().find_map(part_shape).unwrap_or(Shape::Valve),
            _ => Shape::Valve,
        }),
        Role::BlendInlet => one(Shape::Motorised),
        Role::Bypass => one(Shape::Bypass),
        Role::FlowHolder => one(Shape::FlowHolder),
        Role::Vessel => one(Shape::VesselInline),
        Role::SourceBody | Role::Coil | Role::ExchangerSide | Role::Mixing => one(Shape::Valve),
        Role::Pipe | Role::EmitterBody => {
            let Law::Parts(parts) = &element.law else {
                return Vec::new();
            };
            let mut all: Vec<Device> = parts
                .iter()
                .enumerate()
                .filter_map(|(i, part)| {
                    let shape = part_shape(part)?;
                    Some(device(shape, &part.words, about(id, i + 1), shut, rev))
                })
                .collect();
            if rev {
                all.reverse();
            }
            all
        }
    }
}

/// Devices of a run's elements, in the direction drawn.
pub(crate) fn of_run(
    network: &Network,
    run: usize,
    rev: bool,
    shut: &[bool],
    level: Level,
) -> Vec<Device> {
    let Some(run) = network.runs.get(run) else {
        return Vec::new();
    };
    let mut all = Vec::new();
    let mut ids = run.elements.clone();
    if rev {
        ids.reverse();
    }
    for id in ids {
        // an emitter's body within a run is drawn as the emitter
        if network.emitters.iter().any(|e| e.body == id) {
            continue;
        }
        let is_shut = shut.get(id.index()).copied().unwrap_or(false);
        all.extend(of_element(network, id, rev, is_shut, level));
    }
    all
}
