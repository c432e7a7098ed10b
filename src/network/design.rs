//! What the house is designed for, and what its running is reckoned with.

use crate::survey::Mean;

/// Temperatures and drop of the design.
#[derive(Clone, Debug, PartialEq)]
pub struct Design {
    /// °C at the source.
    pub flow_temperature_c: f64,
    /// K over the emitters.
    pub drop_k: f64,
    /// °C outside, if given.
    pub outside_c: Option<f64>,
    /// Declared building load, W.
    pub load_w: Option<f64>,
    /// How excess temperatures are formed.
    pub mean: Mean,
    /// Unset lockshields stand open rather than as balancing would set them.
    pub lockshields_open: bool,
    /// Title block: key and text.
    pub sheet: Vec<(String, String)>,
    /// What a year of running is reckoned with.
    pub year: Year,
}

/// Figures of a year that the file gives.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Year {
    /// Seasonal efficiency at the file's own flow temperature.
    pub scop: Option<f64>,
    /// Percent of it that one kelvin of flow temperature costs.
    pub slope_percent: Option<f64>,
    /// Heat of a year, J.
    pub heat_j: Option<f64>,
    /// Money per kWh of electricity.
    pub per_kwh: Option<f64>,
}
