//! A settings card for each emitter: what to set, what to read, and room to write.

use super::{Words, word};
use crate::balance::{Balance, CLAMP_K, Mild};
use crate::network::Network;
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

/// A card for each emitter whose valve can be set, in the order of the walk.
pub fn cards(network: &Network, balance: &Balance, units: &Units) -> Vec<Card> {
    let words = Words {
        network,
        balance,
        speak: Speak::of(network, units),
    };
    let order = balance.walk.order.iter().enumerate();
    order
        .map(|(number, &i)| words.card(number + 1, i))
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
            out.push_str(&format!("  {label:<26}{value}\n"));
        }
        out.push('\n');
    }
    out.push_str(&format!("{}\n", crate::report::MADE_BY));
    out
}

impl Words<'_> {
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
            place.push(s.name(storey));
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
            line(&format!("Set {} to", word(setter.kind)), set);
        }
        line("Flow", s.mass_flow(v.wanted_kg_s));
        let drop = |k: f64| format!("{} ± {}", s.difference(k), s.difference(CLAMP_K));
        if let Some(a) = balance.design.emitters[i] {
            let text = format!(
                "{} in, {} out",
                s.temperature(a.in_c),
                s.temperature(a.out_c)
            );
            line("Design day", text);
            line("  drop", drop(a.drop_k()));
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
            line("  drop", drop(a.drop_k()));
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
