//! Valves' tables and readings.

use super::build::Builder;
use crate::network::{Known, Reading, ValveTable};

impl Builder<'_> {
    /// Valves' own tables, in file order.
    pub fn valve_tables(&mut self) {
        let tables = self.survey.valve_tables.iter();
        self.network.valve_tables = tables
            .map(|t| ValveTable {
                name: t.name.value.clone(),
                presets: t.presets,
                points: t.points.clone(),
                source: t
                    .source
                    .clone()
                    .unwrap_or_else(|| crate::network::THE_FILE.to_owned()),
            })
            .collect();
    }

    /// Readings at emitters and sources that were laid, and what was seen or measured.
    pub fn readings(&mut self) {
        let evidence = &self.survey.evidence;
        for (names, known) in [
            (&evidence.seen, Known::Seen),
            (&evidence.measured, Known::Measured),
        ] {
            let names = names.iter().map(|n| (n.value.clone(), known));
            self.network.evidence.extend(names);
        }
        for r in &self.survey.readings {
            let name = &r.name.value;
            let emitter = self.network.emitters.iter().position(|e| &e.name == name);
            let source = self.network.sources.iter().position(|s| &s.name == name);
            let Some(at) = emitter.or(source) else {
                continue;
            };
            self.network.readings.push(Reading {
                at,
                source: emitter.is_none(),
                flow_c: r.flow.as_ref().map(|v| v.value.0),
                return_c: r.back.as_ref().map(|v| v.value.0),
                drop_k: r.drop.as_ref().map(|v| v.value.0),
                rate_m3_s: r.rate.as_ref().map(|v| v.value.0),
                room_c: r.room.as_ref().map(|v| v.value.0),
                stood_kv_m3h: r.kv.as_ref().map(|v| v.value.0),
                stood: r.turns.as_ref().map(|v| v.value),
                span: Some(r.name.span.clone()),
            });
        }
    }
}
