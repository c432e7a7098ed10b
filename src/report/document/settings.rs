//! Settings, and a commissioning sheet with blanks for what is read.

use super::{Maker, Table};
use crate::network::PumpControl;
use crate::quantity::Kv;
use crate::view::LockshieldFrom;

/// A blank to write in.
const BLANK: &str = "________";

impl Maker<'_> {
    pub(super) fn settings(&mut self) {
        let study = self.study();
        let speak = self.speak;
        let Some(view) = study.running.iter().find(|r| self.shows(r.state)) else {
            return;
        };
        let mut pumps = Table::new(
            "Pumps",
            &[
                "Pump",
                "Set to",
                "#Flow expected",
                "#Head expected",
                "Set to, read",
                "Flow, read",
            ],
        );
        for (pump, at) in study.network.pumps.iter().zip(&view.solved.pumps) {
            let set = match pump.mode {
                PumpControl::FixedSpeed(share) => {
                    format!("fixed speed, {}", speak.show.percent(share))
                }
                PumpControl::ConstantHead(pa) => format!("constant head, {}", speak.pressure(pa)),
                PumpControl::ProportionalHead { head_pa, .. } => {
                    format!("proportional head, {}", speak.pressure(head_pa))
                }
                PumpControl::HeldToFlow(q) => format!("held to {}", speak.mass_flow(q)),
                PumpControl::HeldToDrop { drop_k, .. } => {
                    format!("held to a drop of {}", speak.drop(drop_k))
                }
            };
            let from = if pump.mode_given {
                ""
            } else {
                " (not in the file)"
            };
            pumps.row(vec![
                speak.name(&pump.name).into(),
                format!("{set}{from}").into(),
                speak.flow(at.flow_m3_s).into(),
                speak.pressure(at.head_pa).into(),
                BLANK.into(),
                BLANK.into(),
            ]);
        }
        self.table(pumps);
        let mut table = Table::new(
            "Lockshields and readings at each emitter",
            &[
                "Emitter",
                "Lockshield",
                "#Flow expected",
                "#Drop expected",
                "Turns, set",
                "Flow pipe, read",
                "Return pipe, read",
                "Drop, read",
            ],
        );
        for (i, (emitter, runs)) in study
            .network
            .emitters
            .iter()
            .zip(&view.emitters)
            .enumerate()
        {
            let stands = match view.lockshields.get(i) {
                Some((Some(kv), from)) => {
                    let from = match from {
                        LockshieldFrom::File => "as the file has it",
                        LockshieldFrom::Balanced => "as balancing sets it",
                        LockshieldFrom::Open => "fully open",
                        LockshieldFrom::None => "none",
                    };
                    format!("{}, {from}", speak.show.kv(Kv(*kv)))
                }
                _ => "none".into(),
            };
            let drop = runs
                .in_c
                .zip(runs.out_c)
                .map_or("–".into(), |(a, b)| speak.difference(a - b));
            table.row(vec![
                speak.name(&emitter.name).into(),
                stands.into(),
                speak.mass_flow(runs.flow_kg_s).into(),
                drop.into(),
                BLANK.into(),
                BLANK.into(),
                BLANK.into(),
                BLANK.into(),
            ]);
        }
        self.table(table);
        let mut sheet = Table::new("At the unit", &["Reading", "Expected", "Read"]);
        for (source, at) in study.network.sources.iter().zip(&view.solved.sources) {
            let who = speak.name(&source.name);
            let flow = source
                .pump
                .and_then(|p| view.solved.pumps.get(p))
                .map_or("–".into(), |p| speak.flow(p.flow_m3_s));
            let degrees = |c: Option<f64>| c.map_or("–".into(), |c| speak.temperature(c));
            for (what, expected) in [
                ("flow on its display", flow),
                ("flow temperature", degrees(at.flow_c)),
                ("return temperature", degrees(at.return_c)),
                ("output", speak.power(at.output_w)),
            ] {
                sheet.row(vec![
                    format!("{who}: {what}").into(),
                    expected.into(),
                    BLANK.into(),
                ]);
            }
        }
        for what in [
            "Pressure of the system, cold",
            "Strainer cleaned after the first run",
            "Air let out at every emitter and high point",
            "Outside temperature during the readings",
            "Name, date",
        ] {
            sheet.row(vec![what.into(), "–".into(), BLANK.into()]);
        }
        self.table(sheet);
        self.paragraph(
            "Expected figures are those of the design state, with the unit at its design flow temperature; on a mild day \
             temperatures and drops are smaller. The order of walking and the turns of valves with a table of their own come \
             from pipecarry's command balance.",
        );
    }
}
