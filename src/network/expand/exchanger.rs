//! Plate exchangers: two sides that share heat and no water.

use super::build::{Builder, Ports};
use super::piece::Piece;
use crate::diag::{Diagnostic, Span};
use crate::network::{Exchanger, Heat, PartGroup, Role};
use crate::survey::{self, At, ItemKind, Side};

impl<'a> Builder<'a> {
    /// Exchangers: two sides that share heat and no water.
    pub fn exchangers(&mut self) {
        let survey = self.survey;
        for (index, x) in survey.exchangers.iter().enumerate() {
            self.one_exchanger(index, x);
        }
    }

    fn one_exchanger(&mut self, index: usize, x: &'a survey::Exchanger) {
        let name = x.name.value.as_str();
        let near_in = self.place(&format!("{name} near (flow)"), Some(name), Some(Side::Flow));
        let near_out = self.place(
            &format!("{name} near (return)"),
            Some(name),
            Some(Side::Return),
        );
        let far_flow = self.place(&format!("{name} far (flow)"), Some(name), Some(Side::Flow));
        let far_return = self.place(
            &format!("{name} far (return)"),
            Some(name),
            Some(Side::Return),
        );
        self.ports.insert(
            name.to_owned(),
            Ports {
                flow_in: near_in,
                flow_out: far_flow,
                return_in: far_return,
                return_out: near_out,
            },
        );
        let near = self.side_loss(name, "near side", x.near_loss.as_ref(), &x.span);
        let near = near.heat(Heat::Exchanger(index, true));
        let near = self.element(near_in, near_out, name, near, None);
        let far = self.side_loss(name, "far side", x.far_loss.as_ref(), &x.span);
        let far = far.heat(Heat::Exchanger(index, false));
        let (far, pump) = match &x.pump {
            Some(pump) => {
                let middle = self.place(&format!("{name} far (pumped)"), None, Some(Side::Return));
                let id = self.element(
                    far_return,
                    middle,
                    name,
                    Piece::pump("pump", pump.curve.span.clone()),
                    None,
                );
                let far = self.element(middle, far_flow, name, far, None);
                let at_c = self.network.design.flow_temperature_c - self.network.design.drop_k;
                (
                    far,
                    Some(self.pump(&format!("{name} far side"), id, pump, None, at_c)),
                )
            }
            None => (self.element(far_return, far_flow, name, far, None), None),
        };
        let ua_w_k = match &x.ua_w_k {
            Some(ua) => ua.value,
            None => {
                self.faults.push(
                    Diagnostic::error("ua-missing", x.name.span.clone(), format!("the exchanger `{name}` does not say how much heat it carries"))
                        .label("`ua` is missing")
                        .help("add ua = \"2400 W/K\": heat carried over the logarithmic difference of the sheet's temperatures"),
                );
                1.0
            }
        };
        self.network.exchangers.push(Exchanger {
            name: name.to_owned(),
            near,
            far,
            ua_w_k,
            pump,
        });
    }

    fn side_loss(
        &mut self,
        name: &str,
        words: &str,
        loss: Option<&At<ItemKind>>,
        span: &Span,
    ) -> Piece {
        let parts = match loss {
            Some(loss) => {
                vec![self.own_loss(words, PartGroup::Plant, &loss.value, None, &loss.span)]
            }
            None => {
                self.assume(
                    name,
                    &format!("{words} without loss, none is given"),
                    "nothing known",
                );
                Vec::new()
            }
        };
        Piece::parts(words, Role::ExchangerSide, parts, Some(span.clone()))
    }
}
