//! What to do about what was read.

use super::Words;
use crate::balance::Read;
use crate::network::PumpControl;
use crate::report::layout::Table;
use crate::report::prose::Prose;

/// A valve that would move by less than this share of its kv is left alone.
const STEP: f64 = 0.02;

impl Words<'_> {
    pub(super) fn next(&self) -> Prose {
        let Some(next) = &self.balance.next else {
            return Prose::default();
        };
        let n = &self.speak.show;
        let mut out = Prose::headed("After these readings");
        for r in &next.read {
            out.say("  - ", &self.one(r));
        }
        let starved = next.read.iter().filter(|r| {
            let open = self.balance.valves[r.emitter].setter.map(|s| s.open_kv_m3h);
            let opened = open.is_some_and(|kv| r.stood_kv_m3h >= kv * (1.0 - STEP));
            opened && !r.within && !r.held && r.flow_kg_s < r.wanted_kg_s
        });
        let starved: Vec<usize> = starved.map(|r| r.emitter).collect();
        if !starved.is_empty() {
            let text = format!(
                "{}: open and still short of water. Look for the cause first: a head that does not open, air, dirt, a pipe \
                 that is not as written. What follows cures it by the pump, as if it were to stay.",
                self.list(&starved)
            );
            out.say("  ", &text);
        }
        for pump in &self.balance.pumps {
            let name = self.speak.name(&self.network.pumps[pump.pump].name);
            let ran = self.control(next.ran[pump.pump], pump.flow_m3_s);
            out.say("  ", &format!("Taken with {name} run so: {ran}."));
        }
        let mut table = Table::new(&["<emitter", "stood", "now", "<that is"]);
        for &i in &self.balance.walk.order {
            let (Some(stood), Some(kv)) = (next.stood[i], next.kv[i]) else {
                continue;
            };
            let own = next.read.iter().find(|r| r.emitter == i);
            table.row(vec![
                self.name(i),
                n.number(stood, 2),
                n.number(kv, 2),
                match own {
                    Some(r) if r.held => "leave it: its flow-holding valve is at work".into(),
                    Some(r) if r.within => "leave it: within what the instrument tells".into(),
                    Some(_) => self.step(i, stood, kv),
                    None if (kv / stood - 1.0).abs() < STEP => "leave it: not read".into(),
                    None => format!("{}, not read", self.step(i, stood, kv)),
                },
            ]);
        }
        out.heading("  Next adjustments (kv)");
        out.table(table);
        let circuits = self.balance.required.circuits.iter();
        for (circuit, found) in circuits.zip(&next.settled.circuits) {
            let Some(p) = circuit.pump else { continue };
            let (ran, now) = (next.ran[p], next.control[p]);
            if ran != now && !matches!(ran, PumpControl::HeldToDrop { .. }) {
                let name = self.speak.name(&self.network.pumps[p].name);
                let text = if found.short_pa > 0.0 {
                    let lacks = self.speak.pressure(found.short_pa);
                    format!("{name}: now full speed, and even so {lacks} are lacking.")
                } else {
                    format!("{name}: now {}.", self.control(now, found.flow_m3_s))
                };
                out.say("  ", &text);
            }
        }
        let moved = next.if_left.iter().enumerate().filter_map(|(i, off)| {
            let (off, stood, kv) = ((*off)?, next.stood[i]?, next.kv[i]?);
            let moves = (kv / stood - 1.0).abs() >= STEP;
            moves.then(|| format!("{} {}", self.name(i), self.much(off)))
        });
        let moved: Vec<String> = moved.collect();
        if !moved.is_empty() {
            let text = format!(
                "Not read, but moved: left as they stand while the rest is set, they would get by the file: {}.",
                moved.join(", ")
            );
            out.say("  ", &text);
        }
        let text = "Emitters that were not read are taken to be as the file says. Set what is to be set, let the house \
                    settle, write into the file how pumps and valves now stand, and read again.";
        out.say("  ", text);
        out
    }

    fn one(&self, r: &Read) -> String {
        let s = &self.speak;
        let name = self.name(r.emitter);
        let much = self.much(r.flow_kg_s / r.wanted_kg_s - 1.0);
        let wanted = s.mass_flow(r.wanted_kg_s);
        match (r.drop_k, r.should_k) {
            (Some(drop), Some(should)) => {
                let admits = if r.admits_kg_s.1.is_finite() {
                    format!(
                        "{} to {}",
                        s.mass_flow(r.admits_kg_s.0),
                        s.mass_flow(r.admits_kg_s.1)
                    )
                } else {
                    format!("{} or more", s.mass_flow(r.admits_kg_s.0))
                };
                format!(
                    "{name}: the drop was {}, at its flow it would be {}. That means {} (the clamps admit {admits}) where \
                     {wanted} is wanted: {much}.",
                    s.difference(drop),
                    s.difference(should),
                    s.mass_flow(r.flow_kg_s)
                )
            }
            (Some(drop), None) => format!(
                "{name}: the drop was {}: {} where {wanted} is wanted, {much}.",
                s.difference(drop),
                s.mass_flow(r.flow_kg_s)
            ),
            (None, _) => format!(
                "{name}: {} at the meter where {wanted} is wanted: {much}.",
                s.mass_flow(r.flow_kg_s)
            ),
        }
    }

    fn much(&self, off: f64) -> String {
        let way = if off > 0.0 { "too much" } else { "too little" };
        format!("{} {way}", self.speak.show.percent(off.abs()))
    }

    /// The way from one kv to another, in turns where its table is known.
    fn step(&self, emitter: usize, stood: f64, kv: f64) -> String {
        let n = &self.speak.show;
        if (kv / stood - 1.0).abs() < STEP {
            return "leave it".into();
        }
        let way = if kv > stood { "open" } else { "close" };
        let table = self.balance.valves[emitter]
            .setter
            .and_then(|s| s.table)
            .and_then(|t| self.network.valve_tables.get(t));
        match table {
            Some(t) if t.presets => {
                format!(
                    "{way} from {} to {}",
                    n.number(t.mark(stood), 1),
                    n.number(t.mark(kv), 1)
                )
            }
            Some(t) => {
                let turns = (t.mark(kv) - t.mark(stood)).abs();
                format!(
                    "{way} by {} turns to {}",
                    n.number(turns, 1),
                    n.number(t.mark(kv), 1)
                )
            }
            None => format!("{way} to {} of what it stood at", n.percent(kv / stood)),
        }
    }
}
