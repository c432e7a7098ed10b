//! Radiators on offer: what fits a wall, and what it gives.

use super::change::{Change, What};
use super::offer::Finder;
use super::site::Site;
use crate::catalogue::{Catalogue, PriceTable};
use crate::network::{HeatLaw, expand};
use crate::survey::{Mean, Panel};

impl Finder<'_> {
    /// Radiators that fit the wall, without those that a cheaper one equals at every temperature of the water: its own loss
    /// is that of its tails whatever it is, so that such a one can win nothing.
    pub fn radiators(&mut self, emitter: usize, name: &str) -> Vec<What> {
        let e = &self.survey.emitters[emitter];
        let own = self.prices.panels(&e.name.value);
        let Some(wall) = &e.wall else {
            if own.is_empty() {
                self.offers.left_out.push(format!(
                    "{name}: no `wall` size, so no other radiator is offered"
                ));
            }
            // radiators that the file prices for this emitter were measured by whoever priced them
            return own.into_iter().cloned().map(What::Radiator).collect();
        };
        let (width, height, depth) = &wall.value;
        let catalogue = Catalogue::embedded();
        let table = PriceTable::embedded();
        let mut sizes: Vec<Panel> = own.into_iter().cloned().collect();
        if self.prices.uses_invented() {
            for row in &catalogue.panels {
                sizes.extend(table.radiator.widths.iter().map(|mm| Panel {
                    panel_type: row.panel_type.clone(),
                    height: row.height,
                    width: crate::quantity::Metre(mm / 1e3),
                }));
            }
        }
        // what a radiator gives at the rating and at a tenth of its excess: outputs are powers of the excess, and two
        // powers cross at most once, so that what is beaten at both is beaten everywhere between
        let mut fit: Vec<(i64, [f64; 2], Panel)> = Vec::new();
        for panel in sizes {
            let Ok(out) = catalogue.panel(&panel.panel_type, panel.height, panel.width) else {
                continue;
            };
            let fits = panel.width.0 <= width.0 + 1e-9
                && panel.height.0 <= height.0 + 1e-9
                && out.depth.0 <= depth.0 + 1e-9;
            let change = Change {
                site: Site::Radiator(emitter),
                what: What::Radiator(panel.clone()),
            };
            if let (true, Ok(bill)) = (fits, self.prices.bill(&change)) {
                let faint = out.output.0 * crate::maths::pow(0.1, out.exponent);
                let money = bill.iter().map(|l| l.money).sum();
                fit.push((money, [out.output.0, faint], panel));
            }
        }
        fit.sort_by(|a, b| a.0.cmp(&b.0).then(b.1[0].total_cmp(&a.1[0])));
        let mut kept: Vec<(i64, [f64; 2], Panel)> = Vec::new();
        for (money, gives, panel) in fit {
            let beaten = |k: &(i64, [f64; 2], Panel)| k.1[0] >= gives[0] && k.1[1] >= gives[1];
            if !kept.iter().any(beaten) {
                kept.push((money, gives, panel));
            }
        }
        let fit = kept;
        if fit.is_empty() {
            self.offers
                .left_out
                .push(format!("{name}: no priced radiator fits its wall"));
        }
        fit.into_iter().map(|(_, _, p)| What::Radiator(p)).collect()
    }

    /// The heat law of another radiator, by laying the house again with it.
    pub fn heat(&self, change: &Change, emitter: Option<usize>) -> Option<(HeatLaw, f64)> {
        let (What::Radiator(panel), Site::Radiator(i), Some(at)) =
            (&change.what, change.site, emitter)
        else {
            return None;
        };
        let e = self.base.emitters.get(at)?;
        let out = Catalogue::embedded()
            .panel(&panel.panel_type, panel.height, panel.width)
            .ok()?;
        let mean = self.base.design.mean;
        // the base is that of 75/65/20 by the same mean
        let base_k = crate::network::excess_k(mean, 75.0, 65.0, 20.0);
        let law = HeatLaw::Rated {
            output_w: out.output.0 * self.survey.emitters[i].factor,
            base_k: if mean == Mean::Arithmetic {
                50.0
            } else {
                base_k
            },
            exponent: out.exponent,
            mean,
        };
        let room = &self.base.rooms[e.room];
        if room.emitters.len() == 1 {
            return Some((law, e.duty_w));
        }
        // several emitters share the room's need by what they give
        let mut survey = self.survey.clone();
        change.apply(&mut survey);
        let (changed, _) = expand(&survey).ok()?;
        let changed = changed.emitters.get(at)?;
        Some((changed.law, changed.duty_w))
    }
}
