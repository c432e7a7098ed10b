//! How emitters give heat: rated output at its conditions, panel radiators of the catalogue, floor loops by EN 1264.

use super::build::Builder;
use super::floor;
use super::lookup;
use crate::catalogue::Catalogue;
use crate::diag::Diagnostic;
use crate::network::{HeatLaw, excess_k};
use crate::survey::{self, EmitterKind};

/// Rating conditions of EN 442, °C: flow, return, room.
const RATING_C: (f64, f64, f64) = (75.0, 65.0, 20.0);

impl Builder<'_> {
    /// The heat law of an emitter.
    pub fn heat_law(&mut self, e: &survey::Emitter) -> HeatLaw {
        let mean = self.network.design.mean;
        let subject = e.name.value.as_str();
        match &e.kind {
            EmitterKind::Rated {
                output,
                at,
                exponent,
                kind,
            } => {
                let known = Catalogue::embedded().emitter(kind);
                let exponent = match (exponent, known) {
                    (Some(n), _) => n.value,
                    (None, Some(row)) => {
                        let said = format!("{kind} exponent {}", lookup::short(row.exponent));
                        self.assume(subject, &said, &row.source);
                        row.exponent
                    }
                    (None, None) => 1.3,
                };
                let (flow, back, room) = match at {
                    Some(at) => (at.value.0.0, at.value.1.0, at.value.2.0),
                    None => {
                        self.assume(subject, "output rated at 75/65/20", "EN 442-2");
                        RATING_C
                    }
                };
                let base_k = excess_k(mean, flow, back, room);
                HeatLaw::Rated {
                    output_w: output.value.0 * e.factor,
                    base_k,
                    exponent,
                    mean,
                }
            }
            EmitterKind::Panel {
                panel_type,
                height,
                width,
                span,
            } => {
                let Ok(panel) = Catalogue::embedded().panel(panel_type, *height, *width) else {
                    self.faults.push(Diagnostic::error(
                        "panel-size",
                        span.clone(),
                        format!("the catalogue has no panel `{panel_type}` of this height"),
                    ));
                    return HeatLaw::Fixed(0.0);
                };
                self.assume(
                    subject,
                    "panel radiator's output by type and size, middle of the range at 75/65/20",
                    &panel.source,
                );
                let (flow, back, room) = RATING_C;
                let base_k = excess_k(mean, flow, back, room);
                let output_w = panel.output.0 * e.factor;
                HeatLaw::Rated {
                    output_w,
                    base_k,
                    exponent: panel.exponent,
                    mean,
                }
            }
            EmitterKind::Floor { .. } => floor::law(self, e),
            EmitterKind::Fixed => HeatLaw::Fixed(e.needs.as_ref().map_or(0.0, |w| w.value.0)),
        }
    }

    /// Water in an emitter's body, m³.
    pub fn emitter_water(&mut self, e: &survey::Emitter) -> f64 {
        if let Some(water) = &e.water {
            return water.value.0;
        }
        match &e.kind {
            EmitterKind::Panel {
                panel_type,
                height,
                width,
                ..
            } => {
                let Ok(panel) = Catalogue::embedded().panel(panel_type, *height, *width) else {
                    return 0.0;
                };
                self.assume(
                    &e.name.value,
                    "water content by type and size",
                    &panel.source,
                );
                panel.water.0
            }
            EmitterKind::Rated {
                output, kind, at, ..
            } => {
                let Some(known) = Catalogue::embedded().emitter(kind) else {
                    return 0.0;
                };
                // the catalogue's figure is per W at 75/65/20
                let (flow, back, room) = at
                    .as_ref()
                    .map_or(RATING_C, |at| (at.value.0.0, at.value.1.0, at.value.2.0));
                let mean = self.network.design.mean;
                let ratio = excess_k(mean, RATING_C.0, RATING_C.1, RATING_C.2)
                    / excess_k(mean, flow, back, room);
                let at_50 = output.value.0 * crate::maths::pow(ratio, known.exponent);
                let said = format!(
                    "{kind} holds {} l per kW at 75/65/20",
                    lookup::short(known.water_m3_w * 1e6)
                );
                self.assume(&e.name.value, &said, &known.source);
                at_50 * known.water_m3_w
            }
            EmitterKind::Floor { .. } | EmitterKind::Fixed => 0.0,
        }
    }
}
