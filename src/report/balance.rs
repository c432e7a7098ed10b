//! How to set a house, in words: whether it comes out, pumps, valves in walking order, what should be read, and what to
//! do about what was.

mod cards;
mod next;
mod pumps;
mod reading;
mod remarks;
mod sheet;

pub use cards::{Card, cards, cards_text};
pub(crate) use sheet::sheet;

use super::layout::Table;
use super::prose::Prose;
use super::speak::Speak;
use crate::balance::{Balance, Lack, Mark, Valve, Why};
use crate::network::{Network, SetterKind};
use crate::survey::Units;

/// How a valve is set of which no turns are known.
pub(crate) const BY_DROP: &str = "by drop";

/// Columns of a name in a table.
const NAME: usize = 18;

/// Parts of the report, in their order.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Part {
    /// Whether every emitter gets its flow.
    First,
    /// What to do after readings.
    Next,
    /// How each pump is set.
    Pumps,
    /// How each valve is set.
    Valves,
    /// What speaks against it.
    Remarks,
    /// The order of walking.
    Walk,
    /// What should then be read.
    Readings,
    /// What a turn does.
    Answers,
    /// How it was reached.
    Rests,
}

/// The whole report.
pub fn text(network: &Network, balance: &Balance, units: &Units) -> String {
    let mut out = Prose::of("", &format!("{}: how to set it", network.title));
    out.gap();
    out.join(parts(
        network,
        balance,
        units,
        &[
            Part::First,
            Part::Next,
            Part::Pumps,
            Part::Valves,
            Part::Remarks,
            Part::Walk,
            Part::Readings,
            Part::Answers,
            Part::Rests,
        ],
    ));
    out.gap();
    out.say("", super::MADE_BY);
    out.text()
}

/// Some parts of it.
pub(crate) fn parts(network: &Network, balance: &Balance, units: &Units, parts: &[Part]) -> Prose {
    let words = Words {
        network,
        balance,
        speak: Speak::of(network, units),
    };
    let mut out = Prose::default();
    for part in parts {
        out.join(match part {
            Part::First => words.first(),
            Part::Next => words.next(),
            Part::Pumps => words.pumps(),
            Part::Valves => words.valves(),
            Part::Remarks => words.remarks(),
            Part::Walk => words.walk(),
            Part::Readings => words.readings(),
            Part::Answers => words.answers(),
            Part::Rests => words.rests(),
        });
    }
    out
}

/// A house, how it is set, and how to speak of it.
pub(super) struct Words<'a> {
    network: &'a Network,
    balance: &'a Balance,
    speak: Speak<'a>,
}

impl Words<'_> {
    fn name(&self, emitter: usize) -> String {
        let e = self.network.emitters.get(emitter);
        e.map(|e| super::layout::name(&e.name, NAME))
            .unwrap_or_default()
    }

    fn list(&self, emitters: &[usize]) -> String {
        let names: Vec<String> = emitters.iter().map(|&i| self.name(i)).collect();
        match names.split_last() {
            Some((last, [])) => last.clone(),
            Some((last, rest)) => format!("{} and {last}", rest.join(", ")),
            None => String::new(),
        }
    }

    fn first(&self) -> Prose {
        let asked: Vec<usize> = (0..self.balance.valves.len())
            .filter(|&i| self.balance.valves[i].why != Some(Why::NotAsked))
            .collect();
        let off: Vec<usize> = asked
            .iter()
            .copied()
            .filter(|&i| self.balance.valves[i].why.is_some())
            .collect();
        let mut out = if off.is_empty() {
            let who = match asked.len() {
                1 => "THE ONE EMITTER gets its".to_owned(),
                many => format!("ALL {many} EMITTERS get their"),
            };
            let text =
                format!("{who} design flow within 1 % with the pumps and valves set as below.");
            Prose::of("", &text)
        } else {
            let text = format!(
                "{} OF {} EMITTERS {} design flow within 1 % even when everything is set as below: {}.",
                off.len(),
                asked.len(),
                if off.len() == 1 {
                    "does not get its"
                } else {
                    "do not get their"
                },
                self.list(&off)
            );
            Prose::of("", &text)
        };
        for why in self.whys(&off) {
            out.say("  ", &why);
        }
        for pump in &self.balance.pumps {
            if let Some(index) = pump.index {
                let what = self.balance.valves[index]
                    .setter
                    .map_or("valve", |s| word(s.kind));
                let text = format!(
                    "Index emitter of {}: {}, whose {what} stands fully open.",
                    self.speak.name(&self.network.pumps[pump.pump].name),
                    self.name(index)
                );
                out.say("  ", &text);
            }
        }
        for text in self.lacks() {
            out.say("  ", &text);
        }
        out
    }

    /// Whether a pump is short of head at the design flow.
    fn lacks_head(&self) -> bool {
        self.balance.pumps.iter().any(|p| p.short_pa > 0.0)
    }

    /// What no setting brings, alike ones together.
    fn lacks(&self) -> Vec<String> {
        let s = &self.speak;
        let mut said = Vec::new();
        let (mut cold, mut waits) = (Vec::new(), Vec::new());
        for lack in &self.balance.lacks {
            match *lack {
                Lack::LeastFlow {
                    source,
                    flow_m3_s,
                    least_m3_s,
                } => said.push(format!(
                    "BUT {} then moves {}, less than its least flow, {}: it would stop on a fault. {}",
                    s.name(&self.network.sources[source].name),
                    s.flow(flow_m3_s),
                    s.flow(least_m3_s),
                    if self.lacks_head() {
                        "The head that it lacks comes first."
                    } else {
                        "Part the flows with a vessel of four ports, or ask the emitters for a smaller drop."
                    }
                )),
                Lack::GreatestFlow {
                    source,
                    flow_m3_s,
                    greatest_m3_s,
                } => said.push(format!(
                    "BUT {} then moves {}, more than its greatest flow, {}. Ask the emitters for a larger drop.",
                    s.name(&self.network.sources[source].name),
                    s.flow(flow_m3_s),
                    s.flow(greatest_m3_s)
                )),
                Lack::Heat {
                    room,
                    gets_w,
                    needs_w,
                    heads_open,
                } => {
                    let list = if heads_open { &mut waits } else { &mut cold };
                    list.push(format!(
                        "{} {} of {}",
                        s.name(&self.network.rooms[room].name),
                        s.power(gets_w),
                        s.power(needs_w)
                    ));
                }
            }
        }
        if !cold.is_empty() {
            let (who, their) = if cold.len() == 1 {
                ("1 ROOM stays", "its")
            } else {
                (&*format!("{} ROOMS stay", cold.len()), "their")
            };
            said.push(format!(
                "BUT {who} short of {their} heat on the design day: {}. {} (`pipecarry check` says which).",
                cold.join("; "),
                if self.lacks_head() {
                    "No valve cures that: the flow that is lacking, warmer water or a larger emitter does"
                } else {
                    "No valve cures that: warmer water, a larger emitter or a larger source does"
                }
            ));
        }
        if !waits.is_empty() {
            said.push(format!(
                "With all heads open on the design day: {}. The emitters before it on the main then take more than \
                 their rooms need; once their heads throttle, its water is warm enough.",
                waits.join("; ")
            ));
        }
        said
    }

    /// Why emitters are off, alike ones together.
    fn whys(&self, off: &[usize]) -> Vec<String> {
        let mut said: Vec<(Option<Why>, Vec<usize>)> = Vec::new();
        for &i in off {
            let why = self.balance.valves[i].why.clone();
            match said.iter_mut().find(|(w, _)| *w == why) {
                Some((_, list)) => list.push(i),
                None => said.push((why, vec![i])),
            }
        }
        let says = said.into_iter().map(|(why, list)| {
            let names = self.list(&list);
            match why {
                Some(Why::PumpShort(pump, pa)) => format!(
                    "{}: its pump lacks {} at the design flow; the valves share what there is in proportion. \
                     `pipecarry upsize` finds the cheapest change that cures it; balance the file that it writes.",
                    self.speak.name(&self.network.pumps[pump].name),
                    self.speak.pressure(pa)
                ),
                Some(Why::LeastFlow(pump, m3_s)) => format!(
                    "{}: the unit moves {} at least, more than these emitters are to get; each gets more in \
                     proportion. Ask the emitters for a smaller drop, or part the flows with a vessel of four ports.",
                    self.speak.name(&self.network.pumps[pump].name),
                    self.speak.flow(m3_s)
                ),
                Some(Why::OnePipe) => format!(
                    "{names}: the tees of a one-pipe main share its water out; only the main as a whole can be set. \
                     Beside other radiators put a balancing valve into one of its legs."
                ),
                Some(Why::NothingToSet) => self.nothing_to_set(&names, &list),
                Some(Why::Held(kg_s)) => format!(
                    "{names}: the flow-holding valve lets through {} at most.",
                    self.speak.mass_flow(kg_s)
                ),
                Some(Why::Others) => format!("{names}: drawn along by those that cannot be set."),
                Some(Why::NotAsked) | None => format!("{names}: no cause was found."),
            }
        });
        says.collect()
    }

    /// What is missing at emitters that have nothing to set.
    fn nothing_to_set(&self, names: &str, list: &[usize]) -> String {
        let n = &self.speak.show;
        let stands = list.iter().filter_map(|&i| {
            let fit = self.balance.valves[i].fit?;
            let open = fit.kv_m3h >= fit.open_kv_m3h;
            let at = if open {
                "open".to_owned()
            } else {
                format!("at kv {}", n.number(fit.kv_m3h, 2))
            };
            let usual = n.number(fit.open_kv_m3h, 1);
            Some(match list.len() {
                1 => format!("One of kv {usual} fully open would stand {at}"),
                _ => format!(
                    "at {} one of kv {usual} fully open would stand {at}",
                    self.name(i)
                ),
            })
        });
        let stands: Vec<String> = stands.collect();
        let mut text = format!(
            "{names}: nothing there can be set. Fit a lockshield or a valve with presetting."
        );
        if !stands.is_empty() {
            text.push_str(&format!(
                " {}. Write it into the file as `lockshield` and balance again: the other valves move with it.",
                stands.join(", ")
            ));
        }
        text
    }

    /// A setting: `open`, `1.4 turns`, `number 4`; without a table, until its drop is as it should be.
    fn setting(&self, v: &Valve) -> String {
        match (v.mark, v.open) {
            (None, true) => "open".to_owned(),
            (None, false) => BY_DROP.to_owned(),
            (Some(mark), _) => self.mark(mark, v.open),
        }
    }

    fn mark(&self, mark: Mark, open: bool) -> String {
        let table = &self.network.valve_tables[mark.table];
        let top = table.points.last().map(|p| p.0);
        let n = &self.speak.show;
        match (mark.nearest, open && Some(mark.mark) == top) {
            (Some((number, _)), _) => format!("no. {}", n.number(number, decimals(number))),
            (None, true) => format!("{} t, open", n.number(mark.mark, 1)),
            (None, false) => format!("{} turns", n.number(mark.mark, 1)),
        }
    }

    fn valves(&self) -> Prose {
        let mut table = Table::new(&["<emitter", "<set", "kv", "<to", "flow", "takes", "drop"]);
        let n = &self.speak.show;
        let order = self.balance.walk.order.iter().copied();
        let rest = (0..self.balance.valves.len()).filter(|i| !self.balance.walk.order.contains(i));
        for i in order.chain(rest) {
            let v = &self.balance.valves[i];
            let at = self.balance.design.emitters[i];
            let (what, kv, to) = match (v.setter, v.kv_m3h) {
                (Some(s), Some(kv)) => (word(s.kind), n.number(kv, 2), self.setting(v)),
                _ => ("nothing", "–".into(), "–".into()),
            };
            table.row(vec![
                self.name(i),
                what.into(),
                kv,
                to,
                self.speak.mass_flow(v.gets_kg_s),
                v.setter
                    .map_or("–".into(), |_| self.speak.pressure(v.loss_pa)),
                at.map_or("–".into(), |a| self.speak.difference(a.drop_k())),
            ]);
        }
        let mut out = Prose::headed("Valves, in the order of the walk").and(table);
        let unmarked = |v: &Valve| v.setter.is_some() && v.mark.is_none() && !v.open;
        if self.balance.valves.iter().any(unmarked) {
            let text = "By drop: no turns are known, so close the valve until its drop reads as listed below for such a \
                        day. Turns follow where the file names the valve's own table (`[valve_table]`).";
            out.say("  ", text);
        }
        for v in &self.balance.branches {
            if let (Some(s), Some(kv)) = (v.setter, v.kv_m3h) {
                let text = format!(
                    "Balancing valve of {}: kv {} ({}).",
                    self.speak.name(&self.network.element(s.element).name),
                    n.number(kv, 2),
                    if v.open {
                        "open"
                    } else {
                        "it takes what all behind it have too much of"
                    }
                );
                out.say("  ", &text);
            }
        }
        out
    }

    fn rests(&self) -> Prose {
        let text = "Every emitter was held at its design flow (duty over heat capacity and drop) and the house solved with \
                    its heat: the pressure left over at an emitter is what its valve takes. The pump was turned down \
                    until the index emitter had none left over. What is shown is the house solved once more, as it \
                    runs with these settings.";
        let caution = "Pipes and bodies at these temperatures can burn; do not force a seized spindle on a system under \
                       pressure. Design information only: the maker's instructions, local codes and licensed practice \
                       come first.";
        let mut out = Prose::headed("How this was reached");
        out.say("  ", text);
        out.say("  ", caution);
        out
    }
}

/// What is set, in a word.
fn word(kind: SetterKind) -> &'static str {
    match kind {
        SetterKind::Lockshield => "lockshield",
        SetterKind::Valve => "valve",
        SetterKind::Port => "port",
        SetterKind::Branch => "branch",
    }
}

/// Decimals that a number of a ring needs.
fn decimals(number: f64) -> usize {
    usize::from(number != (number as i64) as f64)
}
