//! Text with a unit into an SI number, or what is wrong with it.

use super::number::{Number, number};
use super::{Dimension, Problem, Quantity, UNITS, Unit, UnitError, proper};
use crate::diag::nearest;
use crate::quantity::Head;
use crate::quantity::{
    Celsius, Gradient, Kelvin, Kv, Metre, Pressure, Second, Velocity, Volume, VolumeFlow, Watt,
};
use std::ops::Range;

/// Which signs a value may have.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sign {
    /// Any finite number.
    Any,
    /// Zero or more.
    NotNegative,
    /// More than zero.
    Positive,
}

/// A value at the beginning of a longer text.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Prefix {
    /// In SI.
    pub value: f64,
    /// Bytes read, leading blanks included.
    pub len: usize,
    /// Whether a unit was written.
    pub has_unit: bool,
    /// A length where a head was asked for: metres of the pumped fluid.
    pub fluid: bool,
}

/// Reads a whole text as one value, in SI (temperatures in °C).
///
/// # Errors
/// What is wrong and with which word; signs are those that make sense for the quantity.
pub fn read(quantity: Quantity, text: &str) -> Result<f64, UnitError> {
    read_signed(quantity, text, quantity.sign())
}

/// The same with other bounds, for a place where zero makes sense.
///
/// # Errors
/// As [`read`].
pub fn read_signed(quantity: Quantity, text: &str, sign: Sign) -> Result<f64, UnitError> {
    Ok(whole(quantity, text, sign)?.value)
}

/// A plain number of the file, without a unit.
///
/// # Errors
/// If the quantity needs its unit, or the number is not finite or has the wrong sign; the span is empty.
pub fn plain(quantity: Quantity, number: f64, sign: Sign) -> Result<f64, UnitError> {
    let word = format!("{number}");
    let error = |problem| UnitError {
        problem,
        span: 0..0,
        word: word.clone(),
        expected: quantity,
    };
    if !number.is_finite() {
        return Err(error(Problem::NotFinite));
    }
    let factor = quantity
        .plain_factor()
        .ok_or_else(|| error(Problem::UnitMissing))?;
    let value = number * factor;
    bounds(value, sign).map_or(Ok(value), |problem| Err(error(problem)))
}

/// Reads a value from the beginning of `text` and leaves the rest; a unit may be joined to the number or stand apart.
///
/// # Errors
/// As [`read`]; the error's span ends where reading can go on.
pub fn prefix(quantity: Quantity, text: &str, sign: Sign) -> Result<Prefix, UnitError> {
    let (number, start, end) = number(quantity, text)?;
    let rest = &text[end..];
    let joined = rest
        .chars()
        .next()
        .is_some_and(|c| !boundary(c) && !rest.starts_with(".."));
    let found: Vec<_> = ends_of_words(rest)
        .filter_map(|end| Some((end, lookup(quantity, &rest[..end])?)))
        .collect();
    let fitting = found.iter().rfind(|(_, unit)| fits(quantity, unit));
    let best = fitting.or(found.last()).copied();
    match best {
        Some((len, unit)) => convert(
            quantity,
            text,
            number,
            start..end,
            unit,
            end..end + len,
            sign,
        ),
        None if joined => {
            let len = ends_of_words(rest).next().unwrap_or(rest.len());
            Err(unknown(quantity, text, end..end + len))
        }
        None => {
            // a unit must follow and a word like one does: it is misspelt rather than missing
            let len = ends_of_words(rest).next().unwrap_or(0);
            let word = rest[..len].trim();
            let like_a_unit = word.contains('/') || word.chars().count() > 2;
            if quantity.plain_factor().is_none() && like_a_unit {
                let error = unknown(quantity, text, end..end + len);
                if matches!(error.problem, Problem::UnitUnknown(Some(_))) {
                    return Err(error);
                }
            }
            without_unit(quantity, text, number, start..end, sign)
        }
    }
}

/// [`prefix`] for a head.
///
/// # Errors
/// As [`prefix`].
pub fn prefix_head(text: &str, sign: Sign) -> Result<(Head, usize), UnitError> {
    let read = prefix(Quantity::Head, text, sign)?;
    Ok((as_head(read), read.len))
}

fn as_head(read: Prefix) -> Head {
    if read.fluid {
        Head::Fluid(Metre(read.value))
    } else {
        Head::Pressure(Pressure(read.value))
    }
}

fn whole(quantity: Quantity, text: &str, sign: Sign) -> Result<Prefix, UnitError> {
    let (number, start, end) = number(quantity, text)?;
    let rest = &text[end..];
    let trimmed = rest.trim();
    if trimmed.is_empty() {
        return without_unit(quantity, text, number, start..end, sign);
    }
    let begin = end + (rest.len() - rest.trim_start().len());
    let place = begin..begin + trimmed.len();
    match lookup(quantity, trimmed) {
        Some(unit) => convert(quantity, text, number, start..end, unit, place, sign),
        None => Err(unknown(quantity, text, place)),
    }
}

fn without_unit(
    quantity: Quantity,
    text: &str,
    number: Number,
    place: Range<usize>,
    sign: Sign,
) -> Result<Prefix, UnitError> {
    let fault = |problem| fault(quantity, text, place.clone(), problem);
    let factor = match number.prefix_unit {
        Some(unit) => unit.factor,
        None => quantity
            .plain_factor()
            .ok_or_else(|| fault(Problem::UnitMissing))?,
    };
    let value = number.value * factor;
    if let Some(problem) = bounds(value, sign) {
        return Err(fault(problem));
    }
    Ok(Prefix {
        value,
        len: place.end,
        has_unit: number.prefix_unit.is_some(),
        fluid: false,
    })
}

fn convert(
    quantity: Quantity,
    text: &str,
    number: Number,
    digits: Range<usize>,
    unit: &'static Unit,
    place: Range<usize>,
    sign: Sign,
) -> Result<Prefix, UnitError> {
    let fluid = quantity == Quantity::Head && unit.dimension == Dimension::Length;
    if !fits(quantity, unit) {
        return Err(fault(
            quantity,
            text,
            trim_start(text, place),
            Problem::WrongKind(unit.dimension.words()),
        ));
    }
    let offset = if quantity == Quantity::Difference {
        0.0
    } else {
        unit.offset
    };
    // one rounding only for the round units that people write most
    let value = if unit.factor < 1.0 && (1.0 / unit.factor).fract() == 0.0 {
        number.value / (1.0 / unit.factor) + offset
    } else {
        number.value * unit.factor + offset
    };
    if quantity == Quantity::Temperature && unit.spelling == "k" && number.value < 150.0 {
        return Err(fault(
            quantity,
            text,
            digits.start..place.end,
            Problem::DifferenceNotTemperature,
        ));
    }
    if let Some(problem) = bounds(value, sign) {
        return Err(fault(quantity, text, digits, problem));
    }
    Ok(Prefix {
        value,
        len: place.end,
        has_unit: true,
        fluid,
    })
}

fn bounds(value: f64, sign: Sign) -> Option<Problem> {
    match sign {
        _ if !value.is_finite() => Some(Problem::NotFinite),
        Sign::Any => None,
        Sign::NotNegative | Sign::Positive if value < 0.0 => Some(Problem::Negative),
        Sign::Positive if value == 0.0 => Some(Problem::Zero),
        _ => None,
    }
}

pub(super) fn fault(
    quantity: Quantity,
    text: &str,
    span: Range<usize>,
    problem: Problem,
) -> UnitError {
    const LONGEST: usize = 40;
    let whole = text.get(span.clone()).unwrap_or_default().trim();
    let mut word: String = whole.chars().take(LONGEST).collect();
    if word.len() < whole.len() {
        word.push('…');
    }
    UnitError {
        problem,
        span,
        word,
        expected: quantity,
    }
}

fn unknown(quantity: Quantity, text: &str, place: Range<usize>) -> UnitError {
    let place = trim_start(text, place);
    let word = normal(&text[place.clone()]);
    let fitting = UNITS.iter().filter(|u| {
        Some(u.dimension) == quantity.dimension()
            || (quantity == Quantity::Head && u.dimension == Dimension::Length)
    });
    let near = nearest(&word, fitting.map(|u| u.spelling)).map(proper);
    fault(quantity, text, place, Problem::UnitUnknown(near))
}

fn trim_start(text: &str, place: Range<usize>) -> Range<usize> {
    let word = &text[place.clone()];
    place.end - word.trim_start().len()..place.end
}

fn fits(quantity: Quantity, unit: &Unit) -> bool {
    let head_as_length = quantity == Quantity::Head && unit.dimension == Dimension::Length;
    head_as_length || Some(unit.dimension) == quantity.dimension()
}

/// Finds a unit by its spelling, one that fits the quantity first.
pub(super) fn lookup(quantity: Quantity, text: &str) -> Option<&'static Unit> {
    if text.len() > 40 {
        return None;
    }
    let word = normal(text);
    let mut found = UNITS.iter().filter(|u| u.spelling == word);
    let first = found.clone().next();
    found
        .find(|u| Some(u.dimension) == quantity.dimension())
        .or(first)
}

/// Lower case, single blanks, plain digits for raised ones, no degree sign, `/` for `per`.
fn normal(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '³' => out.push('3'),
            '²' => out.push('2'),
            '°' | 'º' => {}
            '″' | '”' => out.push('"'),
            '′' | '’' => out.push('\''),
            '·' | '⋅' | '\u{a0}' | '\u{202f}' => out.push(' '),
            c => out.extend(c.to_lowercase()),
        }
    }
    let words: Vec<&str> = out
        .split_whitespace()
        .map(|w| if w == "per" { "/" } else { w })
        .collect();
    words
        .join(" ")
        .replace(" / ", "/")
        .replace("/ ", "/")
        .replace(" /", "/")
}

pub(super) fn boundary(c: char) -> bool {
    c.is_whitespace() || matches!(c, ',' | ';' | '|' | '?' | ')')
}

/// Ends of the first few words of `rest`, nearest first.
fn ends_of_words(rest: &str) -> impl Iterator<Item = usize> + '_ {
    const MOST: usize = 4; // `m water`, `ft / 100 ft`
    let mut inside = false;
    let mut ends = Vec::new();
    for (at, c) in rest.char_indices() {
        let ends_here = boundary(c) || rest[at..].starts_with("..");
        if ends_here && inside {
            ends.push(at);
            if ends.len() == MOST {
                break;
            }
        }
        inside = !ends_here;
        if ends_here && !c.is_whitespace() {
            break;
        }
    }
    if inside && ends.len() < MOST {
        ends.push(rest.len());
    }
    ends.into_iter()
}

macro_rules! typed {
    ($($(#[$doc:meta])* $name:ident: $quantity:ident -> $type:ident;)*) => {$(
        $(#[$doc])*
        ///
        /// # Errors
        /// What is wrong and with which word.
        pub fn $name(text: &str) -> Result<$type, UnitError> {
            read(Quantity::$quantity, text).map($type)
        }
    )*};
}

typed! {
    /// A volume flow, `12 l/min`.
    flow: Flow -> VolumeFlow;
    /// A pressure, `20 kPa`, `2 m water`; bare metres are refused because they are head of the pumped fluid.
    pressure: Pressure -> Pressure;
    /// A length of run, `5 m`; plain numbers are m.
    run_length: RunLength -> Metre;
    /// A size, `600 mm`; plain numbers are mm.
    size: Size -> Metre;
    /// A power, `1.1 kW`; plain numbers are W.
    power: Power -> Watt;
    /// A temperature, `45 C`; plain numbers are °C.
    celsius: Temperature -> Celsius;
    /// A temperature difference, `5 K`; plain numbers are K.
    kelvin: Difference -> Kelvin;
    /// A volume, `40 l`; plain numbers are litres.
    volume: Volume -> Volume;
    /// A flow factor, `kv 2.5`, `cv 2.9`; plain numbers are kv.
    kv: Kv -> Kv;
    /// A time, `10 min`.
    seconds: Time -> Second;
    /// A velocity, `1.0 m/s`.
    velocity: Velocity -> Velocity;
    /// A gradient, `300 Pa/m`.
    gradient: Gradient -> Gradient;
}

/// A head: metres of the pumped fluid (`3.5 m`, `11 ft`) or a pressure.
///
/// # Errors
/// What is wrong and with which word.
pub fn head(text: &str) -> Result<Head, UnitError> {
    head_in(text, Sign::Positive)
}

/// [`head`] with other bounds.
///
/// # Errors
/// As [`head`].
pub fn head_in(text: &str, sign: Sign) -> Result<Head, UnitError> {
    whole(Quantity::Head, text, sign).map(as_head)
}

/// An energy, J; plain numbers are kWh.
///
/// # Errors
/// What is wrong and with which word.
pub fn energy_j(text: &str) -> Result<f64, UnitError> {
    read(Quantity::Energy, text)
}

/// A heat per kelvin, W/K.
///
/// # Errors
/// What is wrong and with which word.
pub fn w_per_k(text: &str) -> Result<f64, UnitError> {
    read(Quantity::HeatPerKelvin, text)
}

/// An area, m².
///
/// # Errors
/// What is wrong and with which word.
pub fn area_m2(text: &str) -> Result<f64, UnitError> {
    read(Quantity::Area, text)
}

/// A thermal resistance, m²K/W.
///
/// # Errors
/// What is wrong and with which word.
pub fn resistance_m2k_w(text: &str) -> Result<f64, UnitError> {
    read_signed(Quantity::HeatResistance, text, Sign::NotNegative)
}
