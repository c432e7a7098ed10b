//! Sources: pump and water side between the return and the flow connection, and the plain figures of the data sheet.

use super::build::{Builder, Ports};
use super::piece::Piece;
use crate::diag::Diagnostic;
use crate::network::{Heat, Part, PartGroup, Role, Source};
use crate::survey::{self, Side, SourceHead};

impl<'a> Builder<'a> {
    /// Every source of the survey.
    pub fn sources(&mut self) {
        let survey = self.survey;
        for source in &survey.sources {
            self.one_source(source);
        }
    }

    fn one_source(&mut self, s: &'a survey::Source) {
        let index = self.network.sources.len();
        let name = s.name.value.as_str();
        let flow_place = self.place(&format!("{name} (flow)"), Some(name), Some(Side::Flow));
        let return_place = self.place(&format!("{name} (return)"), Some(name), Some(Side::Return));
        let ports = Ports {
            flow_in: flow_place,
            flow_out: flow_place,
            return_in: return_place,
            return_out: return_place,
        };
        self.ports.insert(name.to_owned(), ports);

        let flow_temperature_c = s
            .flow_temperature
            .as_ref()
            .map_or(self.network.design.flow_temperature_c, |t| t.value.0);
        let (curve, free_head, parts) = match &s.head {
            Some(SourceHead::Free(curve)) => (Some(curve), Some(true), Vec::new()),
            Some(SourceHead::Total { curve, own_loss }) => (
                Some(curve),
                Some(false),
                self.unit_loss(s, own_loss.as_ref()),
            ),
            None => (None, None, Vec::new()),
        };
        let span = Some(s.span.clone());
        let body = Piece::parts("", Role::SourceBody, parts, span.clone())
            .heat(Heat::Source(index))
            .volume(s.water.as_ref().map_or(0.0, |v| v.value.0));
        // the unit's pump stands in its return, before the exchanger
        let mut pieces = Vec::new();
        if let Some(curve) = curve {
            pieces.push(Piece::pump("pump", curve.span.clone()));
        }
        pieces.push(body);
        let ids = self.chain(return_place, flow_place, name, pieces, None, None);
        let body = ids.last().copied().unwrap_or_default();
        let pump = match (curve, ids.as_slice()) {
            (Some(curve), [pump, _]) => {
                let at_c = flow_temperature_c - self.network.design.drop_k;
                let mode = s.mode.as_ref();
                let span = curve.span.clone();
                Some(self.pump_of(name, *pump, &curve.value, mode, Some(index), at_c, span))
            }
            _ => None,
        };
        if pump.is_none() {
            self.faults.push(
                Diagnostic::warning(
                    "no-head",
                    s.name.span.clone(),
                    format!("`{name}` says nothing about its pump's head"),
                )
                .label("neither `free_head` nor `total_head`")
                .help("copy a few points of the data sheet's curve: free_head = [\"7.0 m at 0 l/min\", \"3.1 m at 30 l/min\"]"),
            );
        }
        let watt = |at: &Option<survey::At<crate::quantity::Watt>>| at.as_ref().map(|p| p.value.0);
        let flow =
            |at: &Option<survey::At<crate::quantity::VolumeFlow>>| at.as_ref().map(|q| q.value.0);
        self.network.sources.push(Source {
            name: name.to_owned(),
            body,
            pump,
            flow_place,
            return_place,
            output_w: watt(&s.output),
            least_output_w: watt(&s.least_output),
            least_flow_m3_s: flow(&s.least_flow),
            greatest_flow_m3_s: flow(&s.greatest_flow),
            nominal_flow_m3_s: flow(&s.nominal_flow),
            defrost_flow_m3_s: flow(&s.defrost_flow),
            defrost_energy_j: s.defrost_energy_j.as_ref().map(|e| e.value),
            defrost_fall_k: s.defrost_fall.as_ref().map(|k| k.value.0),
            defrost_return_c: s.defrost_return.as_ref().map(|t| t.value.0),
            least_water_m3: s.least_water.as_ref().map(|v| v.value.0),
            least_run_s: s.least_run_s.as_ref().map(|t| t.value),
            least_stop_s: s.least_stop_s.as_ref().map(|t| t.value),
            control_band_k: s.control_band.as_ref().map(|k| k.value.0),
            flow_temperature_c,
            free_head,
            span,
        });
    }

    fn unit_loss(
        &mut self,
        s: &survey::Source,
        own: Option<&survey::At<survey::LossAt>>,
    ) -> Vec<Part> {
        let Some(own) = own else {
            self.faults.push(
                Diagnostic::error(
                    "own-loss-missing",
                    s.name.span.clone(),
                    format!("`{}` gives a total head but not its own loss", s.name.value),
                )
                .label("total head includes the unit's own loss")
                .help("add own_loss = \"1.2 m at 20 l/min\", or write free_head if the sheet says what is left for the circuit"),
            );
            return Vec::new();
        };
        vec![Part {
            group: PartGroup::Source,
            words: "the unit itself".to_owned(),
            symbol: String::new(),
            count: 1,
            law: self.loss(own.value, 1.0),
            source: crate::network::THE_FILE.to_owned(),
            span: Some(own.span.clone()),
        }]
    }
}
