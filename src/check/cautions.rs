//! Safety cautions, as data: said only where the house gives cause.

use super::measure::valves::is_antifreeze;
use crate::fluid::Liquid;
use crate::hydraulics::liquid;
use crate::network::{Law, Network};

/// One caution.
pub struct Caution {
    /// Stable short code.
    pub code: &'static str,
    /// One or two sentences.
    pub text: &'static str,
    applies: fn(&Network) -> bool,
}

/// Every caution, in the order in which they are said.
pub static CAUTIONS: &[Caution] = &[
    Caution {
        code: "deference",
        text: "Design information only. Local codes, the maker's instructions and licensed practice come first; where \
               they differ from this, they are right.",
        applies: |_| true,
    },
    Caution {
        code: "pressure",
        text: "A sealed system needs its safety valve, expansion vessel and gauge, none of which may be shut off. Let \
               the pressure down and the water cool before opening a pipe.",
        applies: |network| !network.sources.is_empty(),
    },
    Caution {
        code: "refrigerant",
        text: "Only people certified for it may open a refrigerant circuit. A unit with a flammable refrigerant has a \
               zone around it without drains, openings or anything that sparks.",
        applies: |network| !network.sources.is_empty(),
    },
    Caution {
        code: "electricity",
        text: "Units, pumps and actuators are isolated, connected and tested by a qualified electrician.",
        applies: |network| !network.sources.is_empty() || !network.pumps.is_empty(),
    },
    Caution {
        code: "scald",
        text: "Stored hot water scalds: about five seconds at 60 °C, half a minute at 55 °C, less for children and old \
               people. Fit and test mixing valves at baths, basins and showers.",
        applies: |network| !network.cylinders.is_empty(),
    },
    Caution {
        code: "legionella",
        text: "Do not lower the store's temperature or leave out its hot cycle to save energy without an assessment; \
               landlords and employers have legal duties.",
        applies: |network| !network.cylinders.is_empty(),
    },
    Caution {
        code: "unvented",
        text: "An unvented store can burst if its safety valves are defeated. Work on it only if registered for it, and \
               never put a valve into its relief or discharge pipe.",
        applies: |network| network.cylinders.iter().any(|c| c.unvented),
    },
    Caution {
        code: "hot-surface",
        text: "At this flow temperature pipes and emitters can burn skin; shield what a child or an infirm person can \
               lean on.",
        // 43 °C is the surface limit of health guidance on burns from hot surfaces; radiators follow the water closely
        applies: |network| network.sources.iter().any(|s| s.flow_temperature_c > 43.0),
    },
    Caution {
        code: "old-pipe",
        text: "Lagging and boxing round old pipe can hold asbestos, its paint lead: have them looked at before they are \
               disturbed. Old joints and valves may not close again once moved; drain before opening any.",
        applies: old_pipe,
    },
    Caution {
        code: "antifreeze-valves",
        text: "Antifreeze valves belong to plain water. Never fit them to a circuit with glycol: they would drain it, \
               and they are set for water. What they let out must not make ice where people walk.",
        applies: antifreeze,
    },
    Caution {
        code: "glycol",
        text: "Glycol needs its inhibitor kept up and may not go down a drain without leave. Ethylene glycol is \
               poisonous: keep it away from any coil in drinking water.",
        applies: |network| network.fluids.iter().any(|f| glycol(&liquid(f))),
    },
];

/// The cautions that a house gives cause for.
pub fn cautions(network: &Network) -> Vec<&'static Caution> {
    CAUTIONS
        .iter()
        .filter(|caution| (caution.applies)(network))
        .collect()
}

/// A pipe whose age or condition the file names: `expand` notes each with what it takes off the bore.
fn old_pipe(network: &Network) -> bool {
    network
        .assumed
        .iter()
        .any(|a| a.value.ends_with(" mm off the bore"))
}

fn glycol(liquid: &Liquid) -> bool {
    matches!(liquid, Liquid::Propylene(percent) | Liquid::Ethylene(percent) if *percent > 0.0)
}

fn antifreeze(network: &Network) -> bool {
    network
        .graph
        .edge_weights()
        .any(|element| match &element.law {
            Law::Parts(parts) => parts.iter().any(|part| is_antifreeze(&part.symbol)),
            Law::Pump(_) | Law::OneWay { .. } | Law::HoldFlow { .. } => false,
        })
}
