//! The invented price table. It says of itself that it is invented, and so does everything that is reckoned with it.

use super::Lies;
use crate::quantity::Metre;
use serde::Deserialize;
use std::sync::LazyLock;

/// The embedded table. Money is in units of the currency.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PriceTable {
    /// What the table says of itself.
    pub note: String,
    /// Pipes.
    pub pipe: Vec<PipePrice>,
    /// Work by where a run lies.
    pub work: Vec<WorkPrice>,
    /// Fittings, valves and devices.
    pub item: ItemPrices,
    /// Second pipes beside old ones.
    pub beside: BesidePrice,
    /// Devices and valves of a freer pattern.
    pub freer: FreerPrices,
    /// Radiators.
    pub radiator: RadiatorPrices,
    /// Valve bodies.
    pub valve: ValvePrice,
    /// Running.
    pub running: RunningFigures,
}

/// A pipe on sale.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PipePrice {
    /// Word of the catalogue.
    pub word: String,
    /// Money per metre.
    pub per_m: f64,
    /// Length in which it is sold, m.
    pub stock: f64,
}

/// Work on a run.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WorkPrice {
    /// Words of the place.
    pub lies: String,
    /// Money per metre of one pipe.
    pub per_m: f64,
    /// More money per metre for each mm of outside diameter.
    pub grows: f64,
    /// Opening and closing the place once.
    pub open: f64,
    /// Rooms that are upset.
    pub rooms: f64,
    /// Days for which they are.
    pub days: f64,
}

/// A sum that grows with the size.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Growing {
    /// Money each.
    pub each: f64,
    /// More for each mm of the pipe's outside diameter.
    pub grows: f64,
}

/// What is met along a leg.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ItemPrices {
    /// Elbow, coupling, reducer.
    pub fitting: Growing,
    /// Valve.
    pub valve: Growing,
    /// Strainer, meter, filter.
    pub device: Growing,
    /// Taking a valve or device out and putting it back.
    pub again: f64,
    /// Work of putting one bend in the place of an elbow.
    pub bend_work: f64,
}

/// A second pipe beside an old one.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BesidePrice {
    /// Share of the work per metre of pipe that is taken out and laid anew.
    pub work: f64,
}

/// A device or valve of a freer pattern, fitted.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FreerPrices {
    /// Money each.
    pub each: f64,
    /// More for each mm of the pipe's outside diameter.
    pub grows: f64,
    /// Rooms upset by fitting one.
    pub rooms: f64,
    /// Days for which they are.
    pub days: f64,
    /// What takes the place of valves that are narrow by design.
    pub swaps: Vec<Swap>,
}

/// A valve and what takes its place.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Swap {
    /// Word of the catalogue.
    pub from: String,
    /// Word of the catalogue.
    pub to: String,
}

/// Panel radiators.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RadiatorPrices {
    /// Widths on sale, mm.
    pub widths: Vec<f64>,
    /// Weight from which two people and a wall that bears it are wanted, kg.
    pub heavy_kg: f64,
    /// By type.
    pub r#type: Vec<RadiatorPrice>,
    /// Rooms upset by hanging one.
    pub rooms: f64,
    /// Days for which they are.
    pub days: f64,
}

/// A type of panel radiator, hung.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RadiatorPrice {
    /// `11`, `21`, `22`, `33`.
    pub r#type: String,
    /// Money each.
    pub each: f64,
    /// More per square metre of face.
    pub per_m2: f64,
    /// Weight with water, kg per square metre.
    pub kg_per_m2: f64,
}

/// A valve body, fitted.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ValvePrice {
    /// Money each.
    pub each: f64,
}

/// What running costs are reckoned with.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RunningFigures {
    /// Seasonal efficiency at the file's own flow temperature.
    pub scop: f64,
    /// Percent of it that one kelvin costs.
    pub slope: f64,
    /// Heat of a year over the design need, h.
    pub full_load_hours: f64,
    /// Money per kWh.
    pub per_kwh: f64,
}

impl PriceTable {
    /// The table that is built in.
    pub fn embedded() -> &'static Self {
        static EMBEDDED: LazyLock<PriceTable> = LazyLock::new(|| {
            toml::from_str(include_str!("prices.toml")).expect("the embedded prices are whole")
        });
        &EMBEDDED
    }

    /// The row of a pipe word.
    pub fn pipe(&self, word: &str) -> Option<&PipePrice> {
        self.pipe.iter().find(|p| p.word == word)
    }

    /// The row of a place.
    pub fn work(&self, lies: Lies) -> Option<&WorkPrice> {
        let catalogue = super::Catalogue::embedded();
        self.work
            .iter()
            .find(|w| catalogue.lies(&w.lies) == Some(lies))
    }

    /// The row of a type of radiator.
    pub fn radiator(&self, panel_type: &str) -> Option<&RadiatorPrice> {
        self.radiator.r#type.iter().find(|t| t.r#type == panel_type)
    }
}

impl RadiatorPrice {
    /// Weight with water, kg.
    pub fn weight_kg(&self, height: Metre, width: Metre) -> f64 {
        self.kg_per_m2 * height.0 * width.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::Catalogue;

    #[test]
    fn every_word_is_one_of_the_catalogue_and_every_place_has_its_work() {
        let (table, catalogue) = (PriceTable::embedded(), Catalogue::embedded());
        assert!(table.note.contains("invented"));
        for pipe in &table.pipe {
            assert_eq!(
                catalogue.pipe(&pipe.word).map(|p| &p.word),
                Some(&pipe.word)
            );
            assert!(pipe.per_m > 0.0 && pipe.stock > 0.0);
        }
        for swap in &table.freer.swaps {
            assert!(catalogue.item(&swap.from).is_some() && catalogue.item(&swap.to).is_some());
        }
        for row in &catalogue.lies {
            assert!(table.work(row.lies).is_some(), "{:?}", row.lies);
        }
        for kind in &table.radiator.r#type {
            assert!(
                catalogue
                    .panel_types
                    .iter()
                    .any(|t| t.panel_type == kind.r#type)
            );
        }
    }
}
