//! Text with a unit, read into quantities and shown again in the user's own units.
//!
//! The table of units is here; `read` turns text into SI numbers and says as data what is wrong with it; `show` is the
//! one formatter of each quantity. A plain number means the default unit of what it stands for; flow and head must
//! always carry theirs, because the trade uses five of each.

mod number;
mod problem;
mod read;
mod show;

pub use problem::{Problem, UnitError};
pub use read::{
    Prefix, Sign, area_m2, celsius, energy_j, flow, gradient, head, head_in, kelvin, kv, plain,
    power, prefix, prefix_head, pressure, read, read_signed, resistance_m2k_w, run_length, seconds,
    size, velocity, volume, w_per_k,
};
pub use show::{Show, Signs, Units, shown_unit};

/// What a text with a unit stands for. Two of the same physical kind differ in their default unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Quantity {
    /// Volume flow, m³/s; always with its unit.
    Flow,
    /// Mass flow, kg/s; always with its unit.
    MassFlow,
    /// Head of the pumped fluid, or a pressure; always with its unit. See [`head`].
    Head,
    /// Pressure, Pa; always with its unit.
    Pressure,
    /// Length of a run, m; plain numbers are m.
    RunLength,
    /// Size of a thing, m; plain numbers are mm.
    Size,
    /// Power, W; plain numbers are W.
    Power,
    /// Temperature, °C; plain numbers are °C.
    Temperature,
    /// Temperature difference, K; plain numbers are K.
    Difference,
    /// Volume, m³; plain numbers are l.
    Volume,
    /// Flow factor, m³/h at 1 bar; plain numbers are kv.
    Kv,
    /// Energy, J; plain numbers are kWh.
    Energy,
    /// Time, s; always with its unit.
    Time,
    /// Velocity, m/s; plain numbers are m/s.
    Velocity,
    /// Pressure gradient, Pa/m; plain numbers are Pa/m.
    Gradient,
    /// Heat per kelvin, W/K; plain numbers are W/K.
    HeatPerKelvin,
    /// Area, m²; plain numbers are m².
    Area,
    /// Thermal resistance of an area, m²K/W; plain numbers are m²K/W.
    HeatResistance,
    /// Density, kg/m³; plain numbers are kg/m³.
    Density,
    /// Heat capacity, J/(kg K); plain numbers are J/(kg K).
    HeatCapacity,
    /// Viscosity, Pa s; plain numbers are Pa s.
    Viscosity,
    /// A share: `0.8` or `80%`, as a number between 0 and 1.
    Share,
    /// A number without a unit.
    Number,
}

/// The physical kind of a unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Dimension {
    Flow,
    MassFlow,
    Pressure,
    Length,
    Power,
    Temperature,
    Volume,
    Kv,
    Energy,
    Time,
    Velocity,
    Gradient,
    HeatPerKelvin,
    Area,
    HeatResistance,
    Density,
    HeatCapacity,
    Viscosity,
    Share,
}

impl Dimension {
    pub(crate) fn words(self) -> &'static str {
        match self {
            Self::Flow => "a flow",
            Self::MassFlow => "a mass flow",
            Self::Pressure => "a pressure",
            Self::Length => "a length",
            Self::Power => "a power",
            Self::Temperature => "a temperature",
            Self::Volume => "a volume",
            Self::Kv => "a flow factor",
            Self::Energy => "an energy",
            Self::Time => "a time",
            Self::Velocity => "a velocity",
            Self::Gradient => "a pressure gradient",
            Self::HeatPerKelvin => "a heat per kelvin",
            Self::Area => "an area",
            Self::HeatResistance => "a thermal resistance",
            Self::Density => "a density",
            Self::HeatCapacity => "a heat capacity",
            Self::Viscosity => "a viscosity",
            Self::Share => "a share",
        }
    }
}

impl Quantity {
    /// What it is, with its article: `a flow`.
    pub fn words(self) -> &'static str {
        match self {
            Self::Head => "a head",
            Self::Difference => "a temperature difference",
            Self::Size => "a size",
            Self::Number => "a number",
            other => other.dimension().map_or("a number", Dimension::words),
        }
    }

    /// How one is written: `12 l/min`.
    pub fn example(self) -> &'static str {
        match self {
            Self::Flow => "\"12 l/min\", \"0.2 l/s\" or \"0.72 m3/h\"",
            Self::MassFlow => "\"0.2 kg/s\"",
            Self::Head => "\"3.5 m\" (of the pumped fluid), \"34 kPa\" or \"340 mbar\"",
            Self::Pressure => "\"20 kPa\", \"200 mbar\" or \"2 m water\"",
            Self::RunLength => "5, \"5 m\" or \"16 ft\"",
            Self::Size => "600, \"600 mm\" or \"0.6 m\"",
            Self::Power => "1100, \"1100 W\" or \"1.1 kW\"",
            Self::Temperature => "45, \"45 C\" or \"113 F\"",
            Self::Difference => "5, \"5 K\" or \"9 F\"",
            Self::Volume => "40, \"40 l\" or \"0.04 m3\"",
            Self::Kv => "2.5, \"kv 2.5\" or \"cv 2.9\"",
            Self::Energy => "\"0.2 kWh\" or \"0.72 MJ\"",
            Self::Time => "\"10 min\" or \"600 s\"",
            Self::Velocity => "\"1.0 m/s\"",
            Self::Gradient => "\"300 Pa/m\" or \"3 mbar/m\"",
            Self::HeatPerKelvin => "\"75 W/K\"",
            Self::Area => "14 or \"14 m2\"",
            Self::HeatResistance => "\"0.1 m2K/W\"",
            Self::Density => "\"992 kg/m3\"",
            Self::HeatCapacity => "\"4180 J/kgK\" or \"4.18 kJ/kgK\"",
            Self::Viscosity => "\"0.00065 Pa s\" or \"0.65 mPa s\"",
            Self::Share => "0.8 or \"80%\"",
            Self::Number => "1.3",
        }
    }

    pub(crate) fn dimension(self) -> Option<Dimension> {
        Some(match self {
            Self::Flow => Dimension::Flow,
            Self::MassFlow => Dimension::MassFlow,
            Self::Head | Self::Pressure => Dimension::Pressure,
            Self::RunLength | Self::Size => Dimension::Length,
            Self::Power => Dimension::Power,
            Self::Temperature | Self::Difference => Dimension::Temperature,
            Self::Volume => Dimension::Volume,
            Self::Kv => Dimension::Kv,
            Self::Energy => Dimension::Energy,
            Self::Time => Dimension::Time,
            Self::Velocity => Dimension::Velocity,
            Self::Gradient => Dimension::Gradient,
            Self::HeatPerKelvin => Dimension::HeatPerKelvin,
            Self::Area => Dimension::Area,
            Self::HeatResistance => Dimension::HeatResistance,
            Self::Density => Dimension::Density,
            Self::HeatCapacity => Dimension::HeatCapacity,
            Self::Viscosity => Dimension::Viscosity,
            Self::Share => Dimension::Share,
            Self::Number => return None,
        })
    }

    /// Factor from a plain number to SI; `None` where a unit must be written.
    pub(crate) fn plain_factor(self) -> Option<f64> {
        match self {
            Self::Flow | Self::MassFlow | Self::Head | Self::Pressure | Self::Time => None,
            Self::Size | Self::Volume => Some(1e-3),
            Self::Energy => Some(3.6e6),
            _ => Some(1.0),
        }
    }

    /// Whether a written value may be negative or zero: only points on the temperature scale and bare numbers.
    pub(crate) fn sign(self) -> Sign {
        match self {
            Self::Temperature | Self::Number => Sign::Any,
            _ => Sign::Positive,
        }
    }
}

/// One spelling of a unit.
pub(crate) struct Unit {
    /// Lower case, single blanks, `3` for ³, no degree sign.
    pub(crate) spelling: &'static str,
    pub(crate) dimension: Dimension,
    /// SI value = number × factor + offset (°C for temperatures; differences take the factor alone).
    pub(crate) factor: f64,
    pub(crate) offset: f64,
}

const LITRE: f64 = 1e-3;
const FOOT: f64 = 0.3048; // exact, international yard and pound agreement, 1959
const US_GALLON: f64 = 3.785411784e-3; // exact, 231 cubic inches
const BTU: f64 = 1055.05585262; // international table British thermal unit, J
const METRE_WATER: f64 = 9806.65; // conventional metre of water, ISO 80000-4
const PSI: f64 = 6894.757293168; // pound-force per square inch

const fn unit(spelling: &'static str, dimension: Dimension, factor: f64) -> Unit {
    Unit {
        spelling,
        dimension,
        factor,
        offset: 0.0,
    }
}

/// Every spelling that is read. Within one dimension the first of several names of a unit is its usual one.
pub(crate) const UNITS: &[Unit] = &[
    unit("l/min", Dimension::Flow, LITRE / 60.0),
    unit("lpm", Dimension::Flow, LITRE / 60.0),
    unit("litres/min", Dimension::Flow, LITRE / 60.0),
    unit("l/minute", Dimension::Flow, LITRE / 60.0),
    unit("l/s", Dimension::Flow, LITRE),
    unit("litres/s", Dimension::Flow, LITRE),
    unit("l/sec", Dimension::Flow, LITRE),
    unit("l/h", Dimension::Flow, LITRE / 3600.0),
    unit("l/hr", Dimension::Flow, LITRE / 3600.0),
    unit("litres/h", Dimension::Flow, LITRE / 3600.0),
    unit("m3/h", Dimension::Flow, 1.0 / 3600.0),
    unit("m3/hr", Dimension::Flow, 1.0 / 3600.0),
    unit("m3/s", Dimension::Flow, 1.0),
    unit("gpm", Dimension::Flow, US_GALLON / 60.0),
    unit("us gpm", Dimension::Flow, US_GALLON / 60.0),
    unit("gal/min", Dimension::Flow, US_GALLON / 60.0),
    unit("kg/s", Dimension::MassFlow, 1.0),
    unit("kg/h", Dimension::MassFlow, 1.0 / 3600.0),
    unit("kpa", Dimension::Pressure, 1e3),
    unit("pa", Dimension::Pressure, 1.0),
    unit("hpa", Dimension::Pressure, 100.0),
    unit("mpa", Dimension::Pressure, 1e6),
    unit("mbar", Dimension::Pressure, 100.0),
    unit("bar", Dimension::Pressure, 1e5),
    unit("psi", Dimension::Pressure, PSI),
    unit("m water", Dimension::Pressure, METRE_WATER),
    unit("mwater", Dimension::Pressure, METRE_WATER),
    unit("mwg", Dimension::Pressure, METRE_WATER),
    unit("m wg", Dimension::Pressure, METRE_WATER),
    unit("mh2o", Dimension::Pressure, METRE_WATER),
    unit("m h2o", Dimension::Pressure, METRE_WATER),
    unit("mm water", Dimension::Pressure, METRE_WATER / 1e3),
    unit("mmwater", Dimension::Pressure, METRE_WATER / 1e3),
    unit("mmwg", Dimension::Pressure, METRE_WATER / 1e3),
    unit("mm wg", Dimension::Pressure, METRE_WATER / 1e3),
    unit("mmh2o", Dimension::Pressure, METRE_WATER / 1e3),
    unit("mm h2o", Dimension::Pressure, METRE_WATER / 1e3),
    unit("ft water", Dimension::Pressure, METRE_WATER * FOOT),
    unit("in water", Dimension::Pressure, METRE_WATER * FOOT / 12.0),
    unit("m", Dimension::Length, 1.0),
    unit("metre", Dimension::Length, 1.0),
    unit("metres", Dimension::Length, 1.0),
    unit("meter", Dimension::Length, 1.0),
    unit("meters", Dimension::Length, 1.0),
    unit("mm", Dimension::Length, 1e-3),
    unit("cm", Dimension::Length, 1e-2),
    unit("ft", Dimension::Length, FOOT),
    unit("ft head", Dimension::Length, FOOT),
    unit("m head", Dimension::Length, 1.0),
    unit("feet", Dimension::Length, FOOT),
    unit("foot", Dimension::Length, FOOT),
    unit("'", Dimension::Length, FOOT),
    unit("in", Dimension::Length, FOOT / 12.0),
    unit("inch", Dimension::Length, FOOT / 12.0),
    unit("inches", Dimension::Length, FOOT / 12.0),
    unit("\"", Dimension::Length, FOOT / 12.0),
    unit("w", Dimension::Power, 1.0),
    unit("watt", Dimension::Power, 1.0),
    unit("watts", Dimension::Power, 1.0),
    unit("kw", Dimension::Power, 1e3),
    unit("btu/h", Dimension::Power, BTU / 3600.0),
    unit("btu/hr", Dimension::Power, BTU / 3600.0),
    unit("btuh", Dimension::Power, BTU / 3600.0),
    unit("c", Dimension::Temperature, 1.0),
    unit("celsius", Dimension::Temperature, 1.0),
    unit("degc", Dimension::Temperature, 1.0),
    unit("deg c", Dimension::Temperature, 1.0),
    Unit {
        spelling: "k",
        dimension: Dimension::Temperature,
        factor: 1.0,
        offset: -273.15,
    },
    Unit {
        spelling: "f",
        dimension: Dimension::Temperature,
        factor: 5.0 / 9.0,
        offset: -160.0 / 9.0,
    },
    Unit {
        spelling: "fahrenheit",
        dimension: Dimension::Temperature,
        factor: 5.0 / 9.0,
        offset: -160.0 / 9.0,
    },
    Unit {
        spelling: "degf",
        dimension: Dimension::Temperature,
        factor: 5.0 / 9.0,
        offset: -160.0 / 9.0,
    },
    unit("l", Dimension::Volume, LITRE),
    unit("litre", Dimension::Volume, LITRE),
    unit("litres", Dimension::Volume, LITRE),
    unit("liter", Dimension::Volume, LITRE),
    unit("liters", Dimension::Volume, LITRE),
    unit("m3", Dimension::Volume, 1.0),
    unit("gal", Dimension::Volume, US_GALLON),
    unit("us gal", Dimension::Volume, US_GALLON),
    unit("kv", Dimension::Kv, 1.0),
    unit("kvs", Dimension::Kv, 1.0),
    // 1 US gallon a minute at 1 psi: US_GALLON·60 m³/h, times the root of 1 bar over 1 psi
    unit("cv", Dimension::Kv, 0.864_977_655),
    unit("kwh", Dimension::Energy, 3.6e6),
    unit("wh", Dimension::Energy, 3.6e3),
    unit("mj", Dimension::Energy, 1e6),
    unit("kj", Dimension::Energy, 1e3),
    unit("j", Dimension::Energy, 1.0),
    unit("btu", Dimension::Energy, BTU),
    unit("s", Dimension::Time, 1.0),
    unit("sec", Dimension::Time, 1.0),
    unit("seconds", Dimension::Time, 1.0),
    unit("min", Dimension::Time, 60.0),
    unit("minutes", Dimension::Time, 60.0),
    unit("minute", Dimension::Time, 60.0),
    unit("h", Dimension::Time, 3600.0),
    unit("hr", Dimension::Time, 3600.0),
    unit("hour", Dimension::Time, 3600.0),
    unit("hours", Dimension::Time, 3600.0),
    unit("m/s", Dimension::Velocity, 1.0),
    unit("ft/s", Dimension::Velocity, FOOT),
    unit("pa/m", Dimension::Gradient, 1.0),
    unit("kpa/m", Dimension::Gradient, 1e3),
    unit("mbar/m", Dimension::Gradient, 100.0),
    unit("mm/m", Dimension::Gradient, METRE_WATER / 1e3),
    unit("mm water/m", Dimension::Gradient, METRE_WATER / 1e3),
    unit("mmwg/m", Dimension::Gradient, METRE_WATER / 1e3),
    unit("ft/100ft", Dimension::Gradient, METRE_WATER / 100.0),
    unit("ft/100 ft", Dimension::Gradient, METRE_WATER / 100.0),
    unit("w/k", Dimension::HeatPerKelvin, 1.0),
    unit("kw/k", Dimension::HeatPerKelvin, 1e3),
    unit("m2", Dimension::Area, 1.0),
    unit("sq m", Dimension::Area, 1.0),
    unit("sqm", Dimension::Area, 1.0),
    unit("ft2", Dimension::Area, FOOT * FOOT),
    unit("m2k/w", Dimension::HeatResistance, 1.0),
    unit("m2 k/w", Dimension::HeatResistance, 1.0),
    unit("kg/m3", Dimension::Density, 1.0),
    unit("j/kgk", Dimension::HeatCapacity, 1.0),
    unit("j/kg k", Dimension::HeatCapacity, 1.0),
    unit("j/(kg k)", Dimension::HeatCapacity, 1.0),
    unit("kj/kgk", Dimension::HeatCapacity, 1e3),
    unit("kj/kg k", Dimension::HeatCapacity, 1e3),
    unit("kj/(kg k)", Dimension::HeatCapacity, 1e3),
    unit("pa s", Dimension::Viscosity, 1.0),
    unit("mpa s", Dimension::Viscosity, 1e-3),
    unit("cp", Dimension::Viscosity, 1e-3),
    unit("%", Dimension::Share, 1e-2),
    unit("percent", Dimension::Share, 1e-2),
];

/// How a unit's spelling is written for people.
pub(crate) fn proper(spelling: &'static str) -> &'static str {
    match spelling {
        "kpa" => "kPa",
        "pa" => "Pa",
        "hpa" => "hPa",
        "mpa" => "MPa",
        "w" => "W",
        "kw" => "kW",
        "btu/h" | "btu/hr" | "btuh" => "BTU/h",
        "btu" => "BTU",
        "c" => "C",
        "k" => "K",
        "f" => "F",
        "kwh" => "kWh",
        "wh" => "Wh",
        "mj" => "MJ",
        "kj" => "kJ",
        "j" => "J",
        "pa/m" => "Pa/m",
        "kpa/m" => "kPa/m",
        "w/k" => "W/K",
        "kw/k" => "kW/K",
        "m2k/w" | "m2 k/w" => "m2K/W",
        "j/kgk" => "J/kgK",
        "kj/kgk" => "kJ/kgK",
        "pa s" => "Pa s",
        "mpa s" => "mPa s",
        "mh2o" | "m h2o" => "m water",
        "mmh2o" | "mm h2o" => "mm water",
        other => other,
    }
}

#[cfg(test)]
mod tests;
