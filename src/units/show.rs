//! Quantities as people read them: one formatter of each, in the user's own units and to a stated precision.

use super::{Dimension, Quantity, UNITS, proper};
use crate::quantity::{
    Celsius, Gradient, Kelvin, Kv, MassFlow, Metre, Pressure, Second, Velocity, Volume, VolumeFlow,
    Watt,
};

/// Units that results are shown in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Units {
    /// `l/min`, `l/s`, `l/h`, `m3/h`, `gpm`, `kg/s`.
    pub flow: String,
    /// `kPa`, `m`, `mbar`, `bar`, `mm water`, `ft`.
    pub pressure: String,
    /// `W` or `kW`, or `BTU/h`.
    pub power: String,
    /// `C` or `F`.
    pub temperature: String,
    /// `m` or `ft`.
    pub length: String,
}

impl Default for Units {
    fn default() -> Self {
        let s = str::to_owned;
        Self {
            flow: s("l/min"),
            pressure: s("kPa"),
            power: s("kW"),
            temperature: s("C"),
            length: s("m"),
        }
    }
}

/// Which signs a text may use.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Signs {
    /// Plain minus and blank, for terminals and files that machines read.
    Plain,
    /// True minus and no-break blank, for drawings and documents.
    Print,
}

/// Shows quantities in a set of units. Precision is that of the drawing rules: flow three significant figures, length
/// 0.1 m, velocity 0.01 m/s, pressure 0.1 kPa or Pa below 0.1 kPa, power whole W below 10 kW.
#[derive(Clone, Copy, Debug)]
pub struct Show<'a> {
    units: &'a Units,
    signs: Signs,
    density_kg_m3: f64,
    /// Decimals beyond the usual.
    more: usize,
}

/// The unit as `Units` holds it for a text such as `L/Min` or `m³/h`; `None` if results cannot be shown in it.
pub fn shown_unit(quantity: Quantity, text: &str) -> Option<&'static str> {
    let known: &[&'static str] = match quantity {
        Quantity::Flow => &["l/min", "l/s", "l/h", "m3/h", "gpm", "kg/s"],
        Quantity::Pressure | Quantity::Head => &[
            "kPa", "Pa", "mbar", "bar", "m", "mm water", "m water", "ft", "psi",
        ],
        Quantity::Power => &["kW", "W", "BTU/h"],
        Quantity::Temperature => &["C", "F"],
        Quantity::RunLength => &["m", "ft"],
        _ => return None,
    };
    let word = text.trim().replace('³', "3").replace('°', "");
    known
        .iter()
        .copied()
        .find(|k| k.eq_ignore_ascii_case(&word))
}

impl<'a> Show<'a> {
    /// In the user's units, with plain signs and heads of a fluid of 1000 kg/m³.
    pub fn new(units: &'a Units) -> Self {
        Self {
            units,
            signs: Signs::Plain,
            density_kg_m3: 1000.0,
            more: 0,
        }
    }

    /// With so many decimals beyond the usual, for figures that would otherwise read as equal.
    pub fn more(self, decimals: usize) -> Self {
        Self {
            more: decimals,
            ..self
        }
    }

    /// With these signs.
    pub fn signs(self, signs: Signs) -> Self {
        Self { signs, ..self }
    }

    /// With the density of the pumped fluid, kg/m³: pressures shown in metres are head of that fluid, and flows shown
    /// in kg/s are mass flows at it.
    pub fn density(self, kg_m3: f64) -> Self {
        Self {
            density_kg_m3: kg_m3,
            ..self
        }
    }

    /// A number with fixed decimals in these signs; `–` if it is not finite.
    pub fn number(&self, value: f64, decimals: usize) -> String {
        if !value.is_finite() {
            return "–".into();
        }
        let decimals = decimals + self.more;
        let text = format!("{value:.decimals$}");
        let zero = text.bytes().all(|b| matches!(b, b'-' | b'0' | b'.'));
        match text.strip_prefix('-') {
            Some(digits) if zero => digits.into(), // no minus before a rounded nothing
            Some(digits) if self.signs == Signs::Print => format!("−{digits}"),
            _ => text,
        }
    }

    /// A number to three significant figures, whole from 100 up.
    pub fn three_figures(&self, value: f64) -> String {
        let decimals = |a: f64| match a {
            a if a >= 99.95 => 0,
            a if a >= 9.995 => 1,
            a if a >= 0.9995 || a == 0.0 => 2,
            a if a >= 0.09995 => 3,
            _ => 4,
        };
        self.number(value, decimals(value.abs()))
    }

    /// Number and unit with the right blank between them.
    pub fn with_unit(&self, number: String, unit: &str) -> String {
        if number == "–" {
            return number;
        }
        let blank = if self.signs == Signs::Print {
            '\u{a0}'
        } else {
            ' '
        };
        format!("{number}{blank}{}", self.unit(unit))
    }

    fn unit(&self, unit: &str) -> String {
        match (self.signs, unit) {
            (_, "C") => "°C".into(),
            (_, "F") => "°F".into(),
            (Signs::Print, "m3/h") => "m³/h".into(),
            (Signs::Print, unit) => unit.replace(' ', "\u{a0}"),
            (Signs::Plain, unit) => unit.into(),
        }
    }

    /// A volume flow, at its own density.
    pub fn flow(&self, flow: VolumeFlow) -> String {
        let (one, unit) = self.flow_unit();
        self.with_unit(self.three_figures(flow.0 / one), unit)
    }

    /// One of the user's unit of flow in m³/s, and its word: for axes, whose figures stand without it.
    pub fn flow_unit(&self) -> (f64, &'a str) {
        match self.units.flow.as_str() {
            "kg/s" => (1.0 / self.density_kg_m3, "kg/s"),
            unit => match factor(Dimension::Flow, unit) {
                Some(one) => (one, unit),
                None => (1e-3 / 60.0, "l/min"),
            },
        }
    }

    /// A mass flow, shown as the user's flow at `density_kg_m3`.
    pub fn mass_flow(&self, flow: MassFlow, density_kg_m3: f64) -> String {
        self.density(density_kg_m3)
            .flow(VolumeFlow(flow.0 / density_kg_m3))
    }

    /// A pressure or a head.
    pub fn pressure(&self, pressure: Pressure) -> String {
        let pa = pressure.0;
        let (one, unit) = match self.pressure_unit() {
            (_, "kPa") if pa.abs() < 99.5 => (1.0, "Pa"),
            known => known,
        };
        let decimals = match unit {
            "m" | "m water" | "psi" => 2,
            "ft" | "kPa" => 1,
            "mbar" => usize::from(pa.abs() < 1e3),
            "bar" => 3,
            _ => 0,
        };
        self.with_unit(self.number(pa / one, decimals), unit)
    }

    /// One of the user's unit of pressure or head in Pa, and its word: for axes, whose figures stand without it.
    pub fn pressure_unit(&self) -> (f64, &'a str) {
        let metre_pa = self.density_kg_m3 * 9.80665;
        match self.units.pressure.as_str() {
            "m" => (metre_pa, "m"),
            "ft" => (metre_pa * 0.3048, "ft"),
            "mbar" => (100.0, "mbar"),
            "bar" => (1e5, "bar"),
            "Pa" => (1.0, "Pa"),
            "mm water" => (9.80665, "mm water"),
            "m water" => (9806.65, "m water"),
            "psi" => (6894.757293168, "psi"),
            _ => (1e3, "kPa"),
        }
    }

    /// A pressure gradient, whole Pa/m (or the user's unit of it where the trade has one).
    pub fn gradient(&self, gradient: Gradient) -> String {
        match self.units.pressure.as_str() {
            "mbar" | "bar" => self.with_unit(self.number(gradient.0 / 100.0, 2), "mbar/m"),
            "mm water" => self.with_unit(self.number(gradient.0 / 9.80665, 1), "mm/m"),
            "ft" | "psi" => self.with_unit(self.number(gradient.0 / 98.0665, 2), "ft/100ft"),
            _ => self.with_unit(self.number(gradient.0, 0), "Pa/m"),
        }
    }

    /// A power: whole W below 10 kW, else kW with two decimals (one above 100 kW); BTU/h if that is the user's unit.
    pub fn power(&self, power: Watt) -> String {
        let w = power.0;
        match self.units.power.as_str() {
            "BTU/h" => self.with_unit(self.number(w * 3600.0 / 1055.05585262, 0), "BTU/h"),
            "W" => self.with_unit(self.number(w, 0), "W"),
            _ if w.abs() < 9999.5 => self.with_unit(self.number(w, 0), "W"),
            _ => self.with_unit(
                self.number(w / 1e3, if w.abs() < 1e5 { 2 } else { 1 }),
                "kW",
            ),
        }
    }

    /// A power in kW with one decimal even below 10 kW, for headlines; BTU/h if that is the user's unit.
    pub fn kilowatt(&self, power: Watt) -> String {
        match self.units.power.as_str() {
            "BTU/h" => self.power(power),
            _ => self.with_unit(self.number(power.0 / 1e3, 1), "kW"),
        }
    }

    /// A temperature, one decimal.
    pub fn temperature(&self, temperature: Celsius) -> String {
        match self.units.temperature.as_str() {
            "F" => self.with_unit(self.number(temperature.0 * 1.8 + 32.0, 1), "F"),
            _ => self.with_unit(self.number(temperature.0, 1), "C"),
        }
    }

    /// A temperature difference, one decimal.
    pub fn difference(&self, difference: Kelvin) -> String {
        match self.units.temperature.as_str() {
            "F" => self.with_unit(self.number(difference.0 * 1.8, 1), "F"),
            _ => self.with_unit(self.number(difference.0, 1), "K"),
        }
    }

    /// A velocity, 0.01 m/s (0.1 ft/s where lengths are in ft).
    pub fn velocity(&self, velocity: Velocity) -> String {
        match self.units.length.as_str() {
            "ft" => self.with_unit(self.number(velocity.0 / 0.3048, 1), "ft/s"),
            _ => self.with_unit(self.number(velocity.0, 2), "m/s"),
        }
    }

    /// A length of run, 0.1 m.
    pub fn length(&self, length: Metre) -> String {
        match self.units.length.as_str() {
            "ft" => self.with_unit(self.number(length.0 / 0.3048, 1), "ft"),
            _ => self.with_unit(self.number(length.0, 1), "m"),
        }
    }

    /// A size in mm, with the decimals it needs, one at most.
    pub fn size(&self, size: Metre) -> String {
        let mm = size.0 * 1e3;
        let whole = (mm - mm.round()).abs() < 0.05;
        self.with_unit(self.number(mm, usize::from(!whole)), "mm")
    }

    /// A volume: whole litres from 10 l up, else 0.1 l; US gallons where flow is in gpm.
    pub fn volume(&self, volume: Volume) -> String {
        let (value, unit) = match self.units.flow.as_str() {
            "gpm" => (volume.0 / 3.785411784e-3, "gal"),
            _ => (volume.0 * 1e3, "l"),
        };
        self.with_unit(self.number(value, usize::from(value.abs() < 9.95)), unit)
    }

    /// A flow factor, three significant figures, without a unit.
    pub fn kv(&self, kv: Kv) -> String {
        format!("kv {}", self.three_figures(kv.0))
    }

    /// A time: seconds below two minutes, minutes below two hours, else hours.
    pub fn time(&self, time: Second) -> String {
        match time.0 {
            s if s.abs() < 119.5 => self.with_unit(self.number(s, 0), "s"),
            s if s.abs() < 7170.0 => self.with_unit(self.number(s / 60.0, 0), "min"),
            s => self.with_unit(self.number(s / 3600.0, 1), "h"),
        }
    }

    /// A share as whole percent.
    pub fn percent(&self, share: f64) -> String {
        self.with_unit(self.number(share * 100.0, 0), "%")
    }
}

fn factor(dimension: Dimension, unit: &str) -> Option<f64> {
    UNITS
        .iter()
        .find(|u| u.dimension == dimension && proper(u.spelling) == unit)
        .map(|u| u.factor)
}
