//! The house as whoever makes a classic mistake would work it out.

use crate::catalogue::Catalogue;
use crate::hydraulics::liquid;
use crate::network::{FluidData, Law, Network, PartGroup, PartLaw, PumpControl};
use crate::survey::{Fluid, Side};

/// A house worked out with one mistake.
pub(super) struct Trial {
    /// Code of the cause.
    pub code: &'static str,
    /// The mistake in words.
    pub words: String,
    /// The house with it.
    pub network: Network,
}

/// Drops for which boilers' radiators were sized, K: 82/71 (11 K), 80/60 and 70/50 (20 K), and what lies between.
const BOILER_DROPS_K: [f64; 5] = [11.0, 20.0, 10.0, 12.0, 15.0];
/// Temperatures of published friction tables, °C: heating tables at 75, hot water at 80 and 60, mains at 10.
const TABLES_C: [f64; 4] = [75.0, 80.0, 60.0, 10.0];

/// Changes the parts of every element with its id at hand.
fn edit(network: &mut Network, change: impl Fn(&Network, crate::network::ElementId, &mut Law)) {
    for id in network.element_ids() {
        let mut law = network.element(id).law.clone();
        change(network, id, &mut law);
        network.graph[id].law = law;
    }
}

fn without(network: &Network, group: PartGroup, symbol: Option<&str>) -> Network {
    let mut changed = network.clone();
    edit(&mut changed, |_, _, law| {
        if let Law::Parts(parts) = law {
            parts.retain(|p| p.group != group || symbol.is_some_and(|s| p.symbol != s));
        }
    });
    changed
}

fn one_way(network: &Network, devices: bool) -> Network {
    let mut changed = network.clone();
    edit(&mut changed, |all, id, law| {
        let run = all.element(id).run.and_then(|r| all.runs.get(r));
        if run.is_some_and(|r| r.side == Some(Side::Return) && r.partner.is_some())
            && let Law::Parts(parts) = law
        {
            parts.retain(|p| devices && p.group == PartGroup::Devices);
        }
    });
    // a mistake of this sort knows no tees either
    changed.tees.clear();
    changed
}

/// Other bores for runs: by run, old and new.
fn rebored(
    network: &Network,
    bore_m: impl Fn(&crate::network::Run) -> Option<(f64, f64)>,
) -> Network {
    let mut changed = network.clone();
    let new: Vec<Option<(f64, f64)>> = network.runs.iter().map(&bore_m).collect();
    edit(&mut changed, |all, id, law| {
        let run = all.element(id).run;
        let Some((bore, roughness)) = run.and_then(|r| new.get(r).copied().flatten()) else {
            return;
        };
        if let Law::Parts(parts) = law {
            for part in parts {
                match &mut part.law {
                    PartLaw::Friction {
                        bore_m,
                        roughness_m,
                        ..
                    } => (*bore_m, *roughness_m) = (bore, roughness),
                    PartLaw::Zeta { bore_m, .. } => *bore_m = bore,
                    PartLaw::Kv { .. } | PartLaw::Power { .. } => {}
                }
            }
        }
    });
    for (run, new) in changed.runs.iter_mut().zip(&new) {
        if let Some((bore, _)) = new {
            let wider = (bore / run.bore_m) * (bore / run.bore_m);
            for id in &run.elements {
                changed.graph[*id].volume_m3 *= wider;
            }
            run.bore_m = *bore;
        }
    }
    changed
}

/// Roughness of drawn tube, m: what whoever mistakes the bore would take.
const DRAWN_M: f64 = 1.5e-6;

/// The house worked out with every classic mistake that it can hold.
pub(super) fn trials(network: &Network) -> Vec<Trial> {
    let mut list = Vec::new();
    let mut add = |code: &'static str, words: &str, network: Network| {
        list.push(Trial {
            code,
            words: words.to_owned(),
            network,
        });
    };
    let source = network.sources.first();
    if let Some(source) = source.filter(|s| s.free_head == Some(false)) {
        let mut changed = network.clone();
        changed.graph[source.body].law = Law::Parts(Vec::new());
        add(
            "total-as-free",
            "the sheet's total head is read as free head, so that the unit's own loss is forgotten",
            changed,
        );
    }
    let full = |mode| mode == PumpControl::FixedSpeed(1.0);
    if network
        .pumps
        .iter()
        .any(|p| p.source.is_some() && !full(p.mode))
    {
        let mut changed = network.clone();
        for pump in changed.pumps.iter_mut().filter(|p| p.source.is_some()) {
            pump.mode = PumpControl::FixedSpeed(1.0);
        }
        add(
            "full-speed",
            "the pump is taken at full speed, where its control holds it back",
            changed,
        );
    }
    if network.runs.iter().any(|r| r.outside_m.is_some()) {
        let outside = rebored(network, |r| Some((r.outside_m?, DRAWN_M)));
        add(
            "outside-as-bore",
            "the outside diameter is used as bore",
            outside,
        );
    }
    let copper = |r: &crate::network::Run| {
        let plastic = matches!(r.material.as_str(), "plastic" | "multilayer");
        let outside = r.outside_m.filter(|_| plastic)?;
        let coppers = Catalogue::embedded().pipes.iter();
        let near = coppers
            .filter(|p| p.material == "copper" && p.family == "copper")
            .filter_map(|p| Some(((p.outside?.0 - outside).abs(), p)))
            .filter(|(off, _)| *off < 1.1e-3)
            .min_by(|a, b| a.0.total_cmp(&b.0));
        near.map(|(_, p)| (p.bore.0, p.roughness.0))
    };
    if network.runs.iter().any(|r| copper(r).is_some()) {
        add(
            "plastic-as-copper",
            "the plastic pipe is taken as copper of the same outside size",
            rebored(network, copper),
        );
    }
    for drop_k in BOILER_DROPS_K {
        if drop_k > network.design.drop_k + 2.5 {
            let mut changed = network.clone();
            changed.design.drop_k = drop_k;
            for emitter in &mut changed.emitters {
                emitter.drop_k = drop_k;
            }
            let words = format!("the flow is worked out for a boiler's drop of {drop_k} K");
            add("boiler-drop", &words, changed);
        }
    }
    add(
        "one-way",
        "the length of one pipe is counted instead of flow and return",
        one_way(network, false),
    );
    add(
        "one-way",
        "the length of one pipe is counted instead of flow and return, with the devices of both",
        one_way(network, true),
    );
    let no_fittings = without(network, PartGroup::Fittings, None);
    let mut devices: Vec<&str> = network
        .element_ids()
        .filter_map(|id| match &network.element(id).law {
            Law::Parts(parts) => Some(parts),
            _ => None,
        })
        .flatten()
        .filter(|p| p.group == PartGroup::Devices)
        .map(|p| p.symbol.as_str())
        .collect();
    devices.sort_unstable();
    devices.dedup();
    for device in &devices {
        if !device.is_empty() {
            add(
                "device-out",
                &format!("the {device} is forgotten"),
                without(network, PartGroup::Devices, Some(device)),
            );
        }
    }
    if devices.len() != 1 || devices == [""] {
        let all = without(network, PartGroup::Devices, None);
        add(
            "device-out",
            "meter, strainer and filter are forgotten",
            all,
        );
    }
    if !network.tees.is_empty() {
        let mut changed = network.clone();
        changed.tees.clear();
        add("tees-out", "the tees are left out", changed);
    }
    let mut bare = no_fittings.clone();
    bare.tees.clear();
    add("fittings-out", "the fittings are left out", no_fittings);
    if !network.tees.is_empty() {
        add(
            "fittings-out",
            "the fittings and tees are left out",
            bare.clone(),
        );
    }
    let pipe_only = without(&bare, PartGroup::Devices, None);
    add(
        "pipe-only",
        "straight pipe alone is counted, without fittings, tees and devices",
        pipe_only.clone(),
    );
    add(
        "one-way-fittings-out",
        "straight pipe of one way alone is counted",
        one_way(&pipe_only, false),
    );
    fluids(network, &mut add);
    list
}

fn fluids(network: &Network, add: &mut impl FnMut(&'static str, &str, Network)) {
    let design = &network.design;
    let middle_c = design.flow_temperature_c - design.drop_k / 2.0;
    let with = |fluid: FluidData| {
        let mut changed = network.clone();
        if let Some(first) = changed.fluids.first_mut() {
            *first = fluid;
        }
        changed
    };
    for table_c in TABLES_C {
        let first = network.fluids.first();
        let now = first.and_then(|f| liquid(f).at(middle_c).ok());
        let table = first.and_then(|f| liquid(f).at(table_c).ok());
        if let Some((now, table)) = now.zip(table).filter(|_| (table_c - middle_c).abs() > 8.0) {
            let words = format!("friction is read from a table for water of {table_c} °C");
            let fluid = FluidData::Constant {
                rho_kg_m3: table.rho_kg_m3,
                mu_pa_s: table.mu_pa_s,
                cp_j_kgk: now.cp_j_kgk,
            };
            add("hot-water-table", &words, with(fluid));
        }
    }
    let is_water = matches!(
        network.fluids.first().map(liquid),
        Some(crate::fluid::Liquid::Water | crate::fluid::Liquid::Constant(_)) | None
    );
    if !is_water {
        let water = FluidData::ByTemperature(Fluid::Water);
        add(
            "other-fluid",
            "the circuit is worked out with water, without its glycol",
            with(water),
        );
        return;
    }
    for (propylene, name) in [(true, "propylene"), (false, "ethylene")] {
        for percent in [20.0, 25.0, 30.0, 35.0, 40.0] {
            let glycol = FluidData::ByTemperature(Fluid::Glycol { propylene, percent });
            let words = format!("the circuit is worked out with {percent} % {name} glycol");
            add("other-fluid", &words, with(glycol));
        }
    }
}
