//! What a survey holds of prices and of what a plan may touch.

use super::{At, Lies};
use crate::quantity::Metre;

/// `[prices]`: what the user pays, in place of the embedded table.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Prices {
    /// Sign or word of the currency.
    pub currency: Option<String>,
    /// What is priced, and its money in units of the currency.
    pub rows: Vec<(Priced, At<f64>)>,
}

/// What a price is of.
#[derive(Clone, Debug, PartialEq)]
pub enum Priced {
    /// A metre of pipe, by its word in the catalogue.
    Pipe(String),
    /// Work on a metre of one pipe that lies so.
    Work(Lies),
    /// Opening and closing a place that lies so, once.
    Open(Lies),
    /// A fitting, valve or device, each, by its word in the catalogue.
    Item(String),
    /// A panel radiator, hung.
    Panel(Panel),
    /// The whole of a run in another pipe, all included.
    Run {
        /// Name of the run, or of the emitter whose tails are meant.
        run: String,
        /// Word of the pipe.
        pipe: String,
    },
    /// The whole of a second pipe beside a run, all included.
    Beside {
        /// Name of the run.
        run: String,
        /// Word of the second pipe.
        pipe: String,
    },
    /// Another radiator at one emitter, all included.
    Radiator {
        /// Name of the emitter.
        emitter: String,
        /// What is hung.
        panel: Panel,
    },
}

/// Type and size of a panel radiator.
#[derive(Clone, Debug, PartialEq)]
pub struct Panel {
    /// `11`, `21`, `22`, `33`.
    pub panel_type: String,
    /// Height.
    pub height: Metre,
    /// Width.
    pub width: Metre,
}

impl Panel {
    /// As a file says it: `22 600x1600`.
    pub fn words(&self) -> String {
        let mm = |m: Metre| (m.0 * 1e3).round();
        format!("{} {}x{}", self.panel_type, mm(self.height), mm(self.width))
    }
}

/// `[opening.NAME]`: a place that is opened once for all runs in it.
#[derive(Clone, Debug, PartialEq)]
pub struct Opening {
    /// Its name.
    pub name: At<String>,
    /// Runs, or emitters whose tails, lie in it.
    pub runs: Vec<At<String>>,
    /// Money for opening and closing it, in units of the currency.
    pub price: Option<At<f64>>,
    /// Rooms that are upset.
    pub rooms: Option<At<f64>>,
    /// Days for which they are.
    pub days: Option<At<f64>>,
}

/// `[plan]`: what a plan may touch, and what running costs are reckoned with.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct PlanWords {
    /// Runs and emitters that stay as they are.
    pub leave: Vec<At<String>>,
    /// Families of pipe that may be laid; those of the embedded table if empty.
    pub families: Vec<At<String>>,
    /// Only the user's own prices count.
    pub own_prices: bool,
    /// Seasonal efficiency at the file's own flow temperature.
    pub scop: Option<At<f64>>,
    /// Percent of it that one kelvin of flow temperature costs.
    pub slope: Option<At<f64>>,
    /// Heat of a year, J.
    pub heat_j: Option<At<f64>>,
    /// Money per kWh.
    pub per_kwh: Option<At<f64>>,
}
