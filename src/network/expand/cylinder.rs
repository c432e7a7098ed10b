//! Cylinders: a diverter that splits its place into before and after, the coil, and the way back.

use super::build::{Builder, Ports};
use super::leg::Laying;
use super::lines::valve_part;
use super::lookup::short;
use super::piece::Piece;
use crate::catalogue::Catalogue;
use crate::network::{Cylinder, Heat, Law, Part, PartGroup, PartLaw, Role, RunKind};
use crate::survey::{self, Side};

const PRACTICE: &str = "common practice, no source";

impl Builder<'_> {
    /// Diverters of cylinders: they split the flow side of their place into before and after.
    pub fn diverters(&mut self) {
        let survey = self.survey;
        for (index, c) in survey.cylinders.iter().enumerate() {
            self.one_cylinder(index, c);
        }
    }

    fn one_cylinder(&mut self, index: usize, c: &survey::Cylinder) {
        let name = c.name.value.as_str();
        let from = c.from.value.as_str();
        let ports = self.ports(from);
        let before = ports.flow_out;
        let after = self.place(&format!("{from} (heating)"), Some(from), Some(Side::Flow));
        self.ports.insert(
            from.to_owned(),
            Ports {
                flow_out: after,
                ..ports
            },
        );
        let laid = self.lay(&c.leg.value, name, Laying::pair(Side::Flow));
        let kv = match &c.diverter {
            Some(kv) => kv.value.0,
            None => self.usual_kv("diverter", &laid.pipe, name),
        };
        let span = c.diverter.as_ref().map(|d| d.span.clone());
        let way = |words: &str| {
            let part = valve_part("diverter", kv, span.clone());
            Piece::parts(words, Role::Valve, vec![part], Some(c.name.span.clone()))
        };
        let diverter_heating = self.element(before, after, name, way("diverter to heating"), None);
        let inlet = self.place(&format!("{name} (diverted)"), None, Some(Side::Flow));
        let diverter_coil = self.element(before, inlet, name, way("diverter to the coil"), None);
        let coil_in = self.place(&format!("{name} coil (in)"), None, Some(Side::Flow));
        let coil_out = self.place(&format!("{name} coil (out)"), None, Some(Side::Return));
        let part = self.own_loss(
            "coil",
            PartGroup::Plant,
            &c.coil.value,
            Some(laid.pipe.bore.0),
            &c.coil.span,
        );
        let coil = Piece::parts("coil", Role::Coil, vec![part], Some(c.name.span.clone()))
            .heat(Heat::Cylinder(index))
            .volume(c.coil_water.as_ref().map_or(0.0, |v| v.value.0));
        let coil = self.element(coil_in, coil_out, name, coil, None);
        let near = Ports {
            flow_in: inlet,
            flow_out: inlet,
            return_in: ports.return_in,
            return_out: ports.return_in,
        };
        let far = Ports {
            flow_in: coil_in,
            flow_out: coil_in,
            return_in: coil_out,
            return_out: coil_out,
        };
        let span = Some(c.leg.span.clone());
        let kind = RunKind::Plant;
        let (_, back) = self.pair_runs(name, &c.leg, (near, far), kind, span);
        self.join_alone(back);
        self.no_tees.insert(before);
        let flow_temperature_c = match &c.flow_temperature {
            Some(t) => t.value.0,
            None => {
                let design_c = self.network.design.flow_temperature_c;
                let store_c = c.store.as_ref().map_or(50.0, |t| t.value.0);
                let flow_c = design_c.max(store_c + 5.0);
                self.assume(
                    name,
                    &format!(
                        "heated with {} °C: 5 K above its store, no less than heating",
                        short(flow_c)
                    ),
                    PRACTICE,
                );
                flow_c
            }
        };
        let drop_k = match &c.drop {
            Some(k) => k.value.0,
            None => self.network.design.drop_k,
        };
        self.network.cylinders.push(Cylinder {
            name: name.to_owned(),
            coil,
            diverter_coil,
            diverter_heating,
            place: before,
            coil_area_m2: c.coil_area_m2.as_ref().map(|a| a.value),
            volume_m3: c.water.as_ref().map(|v| v.value.0),
            store_c: c.store.as_ref().map(|t| t.value.0),
            flow_temperature_c,
            drop_k,
            unvented: c.unvented,
        });
    }

    /// The coil's return meets the heating return at a tee, but never at the same time: alone it passes that tee as its
    /// branch with all the flow, and the heating return passes it straight.
    fn join_alone(&mut self, run: usize) {
        let bore_m = self.network.runs[run].bore_m;
        let Some(last) = self.network.runs[run].elements.last().copied() else {
            return;
        };
        self.aside.insert(last);
        let branch = Catalogue::embedded().tees.iter().find(|row| row.q >= 1.0);
        if let (Some(row), Law::Parts(parts)) = (branch, &mut self.network.graph[last].law) {
            parts.push(Part {
                group: PartGroup::Fittings,
                words: "tee branch".to_owned(),
                symbol: "tee branch".to_owned(),
                count: 1,
                law: PartLaw::Zeta {
                    zeta: row.combining_branch,
                    bore_m,
                },
                source: row.source.clone(),
                span: None,
            });
        }
    }
}
