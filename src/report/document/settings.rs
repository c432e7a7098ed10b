//! Settings as balancing finds them, and a commissioning sheet with blanks for what is read.

use super::{Maker, Reader, Table};
use crate::report::balance::{BY_DROP, Part, parts, sheet};
use crate::report::layout::name;
use crate::report::speak::{bare, unit};

/// A blank to write in.
const BLANK: &str = "________";

impl Maker<'_> {
    pub(super) fn settings(&mut self) {
        let network = &self.study().network;
        let balance = match self.material.balance {
            Ok(balance) => balance,
            Err(why) => {
                let why = name(why, 300);
                return self.paragraph(format!("How the house is to be set is not shown: {why}."));
            }
        };
        let shown: &[Part] = match self.choice.reader {
            Reader::Client => &[Part::First, Part::Pumps],
            Reader::Installer => &[
                Part::First,
                Part::Next,
                Part::Pumps,
                Part::Remarks,
                Part::Walk,
            ],
            Reader::Reviewer => &[Part::First, Part::Next, Part::Pumps, Part::Remarks],
        };
        self.prose(&parts(network, balance, &network.units, shown));
        let (lines, displays) = sheet(network, balance, &network.units);
        let degree = unit(&self.speak.temperature(20.0));
        let (kelvin, flow) = (
            unit(&self.speak.difference(5.0)),
            unit(&self.speak.mass_flow(0.1)),
        );
        let heads = [
            format!("#Flow, {flow}"),
            format!("#Design drop, {kelvin}"),
            format!("#Mild drop, {kelvin}"),
            format!("Flow pipe, {degree}"),
            format!("Return pipe, {degree}"),
            format!("Drop, {kelvin}"),
        ];
        let mut table = Table::new(
            "Commissioning sheet: each emitter in the order of the walk, heads open; the last four are to be written in",
            &[
                "Emitter", "Set", "#Kv", "To", &heads[0], &heads[1], &heads[2], "Set to",
                &heads[3], &heads[4], &heads[5],
            ],
        );
        let by_drop = lines.iter().any(|line| line.to == BY_DROP);
        for line in lines {
            let Some(emitter) = network.emitters.get(line.emitter) else {
                continue;
            };
            let mut cells = vec![
                self.speak.name(&emitter.name).into(),
                line.what.unwrap_or("nothing").into(),
                line.kv.into(),
                line.to.into(),
                bare(&line.flow, &flow).into(),
                bare(&line.drop, &kelvin).into(),
                bare(&line.mild, &kelvin).into(),
            ];
            cells.extend([BLANK; 4].map(Into::into));
            table.row(cells);
        }
        self.table(table);
        let mut at_unit = Table::new(
            "At the unit",
            &[
                "Display",
                "#Flow temperature",
                "#Return temperature",
                "#Flow",
                "#Output",
            ],
        );
        let mut met: Vec<String> = Vec::new();
        for display in displays {
            let mut cells = vec![format!("{}, {}", display.source, display.day).into()];
            cells.extend(display.reads.map(Into::into));
            at_unit.row(cells);
            if !met.contains(&display.source) {
                met.push(display.source);
            }
        }
        for source in met {
            let mut cells = vec![format!("{source}, read").into()];
            cells.extend([BLANK; 4].map(Into::into));
            at_unit.row(cells);
        }
        self.table(at_unit);
        let mut rest = Table::new("Beside the readings", &["What", "Written here"]);
        for what in [
            "Pressure of the system, cold",
            "Strainer cleaned after the first run",
            "Air let out at every emitter and high point",
            "Outside temperature during the readings",
            "Name, date",
        ] {
            rest.row(vec![what.into(), BLANK.repeat(3).into()]);
        }
        self.table(rest);
        if by_drop {
            self.paragraph(
                "By drop: no turns are known, so close the valve until its drop reads as listed for such a day.",
            );
        }
        self.paragraph(
            "Expected figures are of steady heating with the heads open and everything set as above. Temperatures are read \
             after an hour of steady running, with clamps on clean bare metal.",
        );
    }
}
