//! The commissioning sheet as data: each valve in the order of the walk, how it is set, what should then be read.

use super::{Words, word};
use crate::balance::{Balance, Mild};
use crate::network::Network;
use crate::report::speak::Speak;
use crate::survey::Units;

/// One line of the sheet, in the user's units.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Line {
    /// Index into `Network::emitters`.
    pub emitter: usize,
    /// Its storey, if it has one.
    pub storey: Option<String>,
    /// What is set: `lockshield`; `None` where nothing can be.
    pub what: Option<&'static str>,
    /// Kv to set.
    pub kv: String,
    /// Turns, number, `open`; `by drop` where no table is known.
    pub to: String,
    /// Flow.
    pub flow: String,
    /// Drop on the design day.
    pub drop: String,
    /// Drop on a mild day.
    pub mild: String,
}

/// The unit's display on one day, in the user's units.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Display {
    /// The unit.
    pub source: String,
    /// `design day`, `mild day, 7.0 °C outside`.
    pub day: String,
    /// Flow temperature, return temperature, flow, output.
    pub reads: [String; 4],
}

/// Every emitter, those that can be set first and in the order of the walk; what the displays read.
pub(crate) fn sheet(
    network: &Network,
    balance: &Balance,
    units: &Units,
) -> (Vec<Line>, Vec<Display>) {
    let words = Words {
        network,
        balance,
        speak: Speak::of(network, units),
    };
    let s = &words.speak;
    let mild = match &balance.mild {
        Mild::Day(day) => Some(&**day),
        Mild::NotColder | Mild::NoAnswer => None,
    };
    let lines = words.shown().into_iter().map(|i| {
        let valve = &balance.valves[i];
        let drop = |day: &crate::balance::Day| {
            let at = day.emitters.get(i).copied().flatten();
            at.map_or("–".into(), |a| s.difference(a.drop_k()))
        };
        let (kv, to) = match valve.kv_m3h.filter(|_| valve.setter.is_some()) {
            Some(kv) => (s.show.number(kv, 2), words.setting(valve)),
            None => ("–".into(), "–".into()),
        };
        Line {
            emitter: i,
            storey: balance.walk.storeys.get(i).cloned().flatten(),
            what: valve.setter.map(|setter| word(setter.kind)),
            kv,
            to,
            flow: s.mass_flow(valve.gets_kg_s),
            drop: drop(&balance.design),
            mild: mild.map_or("–".into(), drop),
        }
    });
    let day = |day: &crate::balance::Day, named: &str| -> Vec<Display> {
        let outside = day
            .outside_c
            .map_or(String::new(), |c| format!(", {} outside", s.temperature(c)));
        let of = network.sources.iter().zip(&day.sources);
        of.map(|(source, at)| Display {
            source: s.name(&source.name),
            day: format!("{named}{outside}"),
            reads: [
                s.temperature(at.flow_c),
                s.temperature(at.return_c),
                s.flow(at.flow_m3_s),
                s.kilowatt(at.output_w),
            ],
        })
        .collect()
    };
    let mut displays = day(&balance.design, "design day");
    displays.extend(mild.map(|m| day(m, "mild day")).unwrap_or_default());
    (lines.collect(), displays)
}
