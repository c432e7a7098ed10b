//! Quantities with their unit in the type, for the borders of the program.
//!
//! A value that a person wrote or will read is one of these newtypes; inside the kernel it becomes a plain `f64` in SI
//! whose name carries the unit (`dp_pa`, `flow_kg_s`). Only operations with a physical meaning exist: a temperature
//! ([`Celsius`]) is not a temperature difference ([`Kelvin`]), and two temperatures cannot be added.

use std::ops::{Add, Div, Mul, Neg, Sub};

macro_rules! quantity {
    ($($(#[$doc:meta])* $name:ident $unit:literal;)*) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
        pub struct $name(pub f64);

        impl $name {
            /// The SI unit that the inner number is in.
            pub const UNIT: &'static str = $unit;
        }
        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self { Self(self.0 + other.0) }
        }
        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self { Self(self.0 - other.0) }
        }
        impl Neg for $name {
            type Output = Self;
            fn neg(self) -> Self { Self(-self.0) }
        }
        impl Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self { Self(self.0 * factor) }
        }
        impl Div<f64> for $name {
            type Output = Self;
            fn div(self, divisor: f64) -> Self { Self(self.0 / divisor) }
        }
        impl Div for $name {
            type Output = f64;
            fn div(self, other: Self) -> f64 { self.0 / other.0 }
        }
        impl std::iter::Sum for $name {
            fn sum<I: Iterator<Item = Self>>(values: I) -> Self { Self(values.map(|v| v.0).sum()) }
        }
    )*};
}

quantity! {
    /// Pressure or loss of pressure, in Pa.
    Pressure "Pa";
    /// Loss of pressure per metre of pipe, in Pa/m.
    Gradient "Pa/m";
    /// Length, in m.
    Metre "m";
    /// Mass flow, in kg/s.
    MassFlow "kg/s";
    /// Volume flow, in m³/s.
    VolumeFlow "m3/s";
    /// Velocity, in m/s.
    Velocity "m/s";
    /// Power or heat flow, in W.
    Watt "W";
    /// Temperature difference, in K.
    Kelvin "K";
    /// Volume, in m³.
    Volume "m3";
    /// Flow factor of a valve: m³/h of water (1000 kg/m³) at a loss of 1 bar.
    Kv "m3/h";
    /// Mass, in kg.
    Kilogram "kg";
    /// Time, in s.
    Second "s";
}

/// A temperature in °C: a point on the scale, not a difference.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Celsius(pub f64);

impl Sub for Celsius {
    type Output = Kelvin;
    fn sub(self, other: Self) -> Kelvin {
        Kelvin(self.0 - other.0)
    }
}

impl Add<Kelvin> for Celsius {
    type Output = Celsius;
    fn add(self, difference: Kelvin) -> Celsius {
        Celsius(self.0 + difference.0)
    }
}

impl Sub<Kelvin> for Celsius {
    type Output = Celsius;
    fn sub(self, difference: Kelvin) -> Celsius {
        Celsius(self.0 - difference.0)
    }
}

/// A pressure that may have been written as metres of the pumped fluid.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Head {
    /// Metres of the fluid that is pumped: becomes Pa with that fluid's density.
    Fluid(Metre),
    /// A pressure outright (`kPa`, `mbar`, `m water`).
    Pressure(Pressure),
}
