//! A settings card for each pump and each emitter: what to set, what to mind, what to read, and room to write.

use super::{Words, word};
use crate::balance::{Balance, CLAMP_K, Mild, PumpSetting};
use crate::network::Network;
use crate::report::layout::paragraph;
use crate::report::speak::Speak;
use crate::survey::Units;

/// A card: a head and lines.
#[derive(Clone, Debug, PartialEq)]
pub struct Card {
    /// The emitter.
    pub head: String,
    /// Room, storey, number on the walk.
    pub place: String,
    /// What is printed on it, a label and its value each; a value may be empty, to be written by hand.
    pub lines: Vec<(String, String)>,
}

/// A card for each pump, then one for each emitter whose valve can be set, in the order of the walk.
pub fn cards(network: &Network, balance: &Balance, units: &Units) -> Vec<Card> {
    let words = Words {
        network,
        balance,
        speak: Speak::of(network, units),
    };
    let pumps = balance.pumps.iter().map(|p| words.pump_card(p));
    let order = balance.walk.order.iter().enumerate();
    pumps
        .chain(order.map(|(number, &i)| words.card(number + 1, i)))
        .collect()
}

/// The cards as text.
pub fn cards_text(network: &Network, balance: &Balance, units: &Units) -> String {
    let mut out = String::new();
    for card in cards(network, balance, units) {
        out.push_str(&format!("{}\n  {}\n", card.head, card.place));
        for (label, value) in &card.lines {
            let value = if value.is_empty() {
                "................"
            } else {
                value
            };
            out.push_str(&paragraph(&format!("  {label:<LABEL$}"), value));
        }
        out.push('\n');
    }
    out.push_str(&format!("{}\n", crate::report::MADE_BY));
    out
}

/// A figure with its unit, which no line parts.
fn whole(figure: String) -> String {
    figure.replace(' ', "\u{a0}")
}

/// Columns of a label.
const LABEL: usize = 18;

impl Words<'_> {
    /// What to set at a pump, and what its unit's display should then show.
    fn pump_card(&self, p: &PumpSetting) -> Card {
        let s = &self.speak;
        let (network, balance) = (self.network, self.balance);
        let info = &network.pumps[p.pump];
        let mut lines = Vec::new();
        let mut line = |label: &str, value: String| lines.push((label.to_owned(), value));
        if p.short_pa > 0.0 {
            line("Set pump", "full speed".into());
            let text = format!(
                "it lacks {}: no valve makes up for that",
                s.pressure(p.short_pa)
            );
            line("Mind", text);
        } else {
            let flow = p.least_m3_s.unwrap_or(p.flow_m3_s);
            line("Set pump", self.control(p.control, flow));
            match p.least_m3_s {
                None => self
                    .other_modes(p)
                    .into_iter()
                    .for_each(|mode| line("or", mode)),
                Some(_) => line("Mind", "the unit's least flow; in no other mode".into()),
            }
        }
        line("Head needed", s.pressure(p.needed_pa));
        line("Flow", s.flow(p.flow_m3_s));
        let days = [
            ("Design day", Some(&balance.design)),
            (
                "Mild day",
                match &balance.mild {
                    Mild::Day(day) => Some(&**day),
                    Mild::NotColder | Mild::NoAnswer => None,
                },
            ),
        ];
        for (label, day) in days {
            let at = day.into_iter().flat_map(|d| &d.sources);
            for at in at.filter(|at| Some(at.source) == info.source) {
                let text = format!(
                    "flow {}, return {}, {}",
                    whole(s.temperature(at.flow_c)),
                    whole(s.temperature(at.return_c)),
                    whole(s.flow(at.flow_m3_s))
                );
                line(label, text);
            }
        }
        let read = if info.source.is_some() {
            "Display reads"
        } else {
            "Read"
        };
        line(read, String::new());
        line("Left at", String::new());
        Card {
            head: super::super::layout::name(&info.name, 30),
            place: "pump, to be set before the walk".into(),
            lines,
        }
    }

    fn card(&self, number: usize, i: usize) -> Card {
        let s = &self.speak;
        let n = &s.show;
        let (network, balance) = (self.network, self.balance);
        let (e, v) = (&network.emitters[i], &balance.valves[i]);
        let room = network
            .rooms
            .get(e.room)
            .map(|r| s.name(&r.name))
            .unwrap_or_default();
        let mut place = vec![format!(
            "{number} of {} on the walk",
            balance.walk.order.len()
        )];
        if let Some(storey) = &balance.walk.storeys[i] {
            place.push(format!("storey {}", s.name(storey)));
        }
        if room != e.name {
            place.push(room);
        }
        let mut lines = Vec::new();
        let mut line = |label: &str, value: String| lines.push((label.to_owned(), value));
        if let (Some(setter), Some(kv)) = (v.setter, v.kv_m3h) {
            let mut set = format!("kv {}", n.number(kv, 2));
            if v.open {
                set.push_str(", fully open");
            }
            if let Some(mark) = v.mark {
                set = format!("{} ({set})", self.mark(mark, v.open));
            }
            line(&format!("Set {}", word(setter.kind)), set);
        }
        for (k, text) in self.minds(v).into_iter().enumerate() {
            line(if k == 0 { "Mind" } else { "" }, text);
        }
        let mut flow = s.mass_flow(v.wanted_kg_s);
        if v.why.is_some() {
            flow = format!("{flow} wanted, gets {}", s.mass_flow(v.gets_kg_s));
        }
        line("Flow", flow);
        let drop = |k: f64| format!("{} ± {}", s.difference(k), s.difference(CLAMP_K));
        if let Some(a) = balance.design.emitters[i] {
            let text = format!(
                "{} in, {} out",
                s.temperature(a.in_c),
                s.temperature(a.out_c)
            );
            line("Design day", text);
            line("Design drop", drop(a.drop_k()));
        }
        if let Mild::Day(day) = &balance.mild
            && let Some(a) = day.emitters[i]
        {
            let text = format!(
                "{} in, {} out",
                s.temperature(a.in_c),
                s.temperature(a.out_c)
            );
            line("Mild day", text);
            line("Mild drop", drop(a.drop_k()));
        }
        line("Read in / out", String::new());
        line("Left at", String::new());
        Card {
            head: super::super::layout::name(&e.name, 30),
            place: place.join(", "),
            lines,
        }
    }
}
