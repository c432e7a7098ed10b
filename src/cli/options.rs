//! Options that several commands share: units, state of the house, how unset lockshields stand.

use super::trouble::Trouble;
use crate::check;
use crate::diag::nearest;
use crate::network::Network;
use crate::survey::Units;
use crate::units::{Quantity, shown_unit};

/// Units of results.
#[derive(clap::Args, Clone, Debug, Default)]
pub struct Shown {
    /// Units to show figures in, such as "l/s, mbar, W"; where a unit could mean two things, "pressure=m" or "length=ft"
    #[arg(long, value_name = "LIST")]
    units: Option<String>,
}

impl Shown {
    /// The units chosen.
    ///
    /// # Errors
    /// A word that is no unit, or could be meant for two things.
    pub fn chosen(&self) -> Result<Option<Chosen>, Trouble> {
        self.units.as_deref().map(Chosen::read).transpose()
    }
}

/// How to look at a house.
#[derive(clap::Args, Clone, Debug, Default)]
pub struct Look {
    #[command(flatten)]
    units: Shown,
    /// Show only this state of the house, such as heating or "hot water"
    #[arg(long, value_name = "NAME")]
    state: Option<String>,
    /// How lockshields stand on which the file is silent
    #[arg(long, value_name = "HOW")]
    unset: Option<Unset>,
}

/// How to look at every state of a house at once.
#[derive(clap::Args, Clone, Debug, Default)]
pub struct Every {
    #[command(flatten)]
    units: Shown,
    /// How lockshields stand on which the file is silent
    #[arg(long, value_name = "HOW")]
    unset: Option<Unset>,
}

impl Every {
    /// The units chosen.
    ///
    /// # Errors
    /// A word that is no unit, or could be meant for two things.
    pub fn units(&self) -> Result<Option<Chosen>, Trouble> {
        self.units.chosen()
    }

    /// Whether lockshields on which the file is silent stand open.
    pub fn lockshields_open(&self) -> bool {
        self.unset == Some(Unset::Open)
    }
}

#[derive(clap::ValueEnum, Clone, Copy, Debug, PartialEq, Eq)]
enum Unset {
    /// As balancing would set them
    Balanced,
    /// Fully open
    Open,
}

/// Units chosen, where any is.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Chosen {
    flow: Option<&'static str>,
    pressure: Option<&'static str>,
    power: Option<&'static str>,
    temperature: Option<&'static str>,
    length: Option<&'static str>,
}

impl Chosen {
    /// Puts the chosen units in the place of the file's.
    pub fn apply(&self, units: &mut Units) {
        let set = |unit: Option<&'static str>, to: &mut String| {
            if let Some(unit) = unit {
                *to = unit.into();
            }
        };
        set(self.flow, &mut units.flow);
        set(self.pressure, &mut units.pressure);
        set(self.power, &mut units.power);
        set(self.temperature, &mut units.temperature);
        set(self.length, &mut units.length);
    }

    fn read(list: &str) -> Result<Self, Trouble> {
        let mut chosen = Self::default();
        for word in list.split(',').map(str::trim).filter(|w| !w.is_empty()) {
            let (of, unit) = match word.split_once('=') {
                Some((of, unit)) => (Some(of.trim()), unit.trim()),
                None => (None, word),
            };
            let mut fits: Vec<(&'static str, &'static str)> = Vec::new();
            for (name, quantity) in KINDS {
                if of.is_none_or(|of| of.eq_ignore_ascii_case(name)) {
                    fits.extend(shown_unit(quantity, unit).map(|unit| (name, unit)));
                }
            }
            match fits[..] {
                [(name, unit)] => chosen.set(name, unit),
                [] => return Err(unknown(word, of)),
                [(a, _), (b, _), ..] => {
                    return Err(Trouble::with_help(
                        format!("the unit `{unit}` could be meant for {a} or for {b}"),
                        format!("write {a}={unit} or {b}={unit}"),
                    ));
                }
            }
        }
        Ok(chosen)
    }

    fn set(&mut self, name: &str, unit: &'static str) {
        *match name {
            "flow" => &mut self.flow,
            "pressure" => &mut self.pressure,
            "power" => &mut self.power,
            "temperature" => &mut self.temperature,
            _ => &mut self.length,
        } = Some(unit);
    }
}

const KINDS: [(&str, Quantity); 5] = [
    ("flow", Quantity::Flow),
    ("pressure", Quantity::Pressure),
    ("power", Quantity::Power),
    ("temperature", Quantity::Temperature),
    ("length", Quantity::RunLength),
];

fn unknown(word: &str, of: Option<&str>) -> Trouble {
    let kinds = KINDS.map(|(name, _)| name);
    if let Some(of) = of.filter(|of| !kinds.iter().any(|k| k.eq_ignore_ascii_case(of))) {
        let help = match nearest(of, kinds) {
            Some(near) => format!("did you mean {near}? The kinds are {}", kinds.join(", ")),
            None => format!("the kinds are {}", kinds.join(", ")),
        };
        return Trouble::with_help(format!("there is no kind of unit `{of}`"), help);
    }
    Trouble::with_help(
        format!("results cannot be shown in `{word}`"),
        "flow: l/min, l/s, l/h, m3/h, gpm, kg/s; pressure: kPa, Pa, mbar, bar, m, mm water, ft, psi; power: W, kW, \
         BTU/h; temperature: C, F; length: m, ft",
    )
}

impl Look {
    /// The units chosen.
    ///
    /// # Errors
    /// A word that is no unit, or could be meant for two things.
    pub fn units(&self) -> Result<Option<Chosen>, Trouble> {
        self.units.chosen()
    }

    /// The same with another state named.
    pub fn in_state(self, name: &str) -> Self {
        Self {
            state: Some(name.to_owned()),
            ..self
        }
    }

    /// What a study may choose.
    pub fn options(&self) -> check::Options {
        check::Options {
            lockshields_open: self.unset.map(|u| u == Unset::Open),
        }
    }

    /// Index of the state named.
    ///
    /// # Errors
    /// A name that the house does not have.
    pub fn state(&self, network: &Network) -> Result<Option<usize>, Trouble> {
        let Some(wanted) = &self.state else {
            return Ok(None);
        };
        let found = network
            .states
            .iter()
            .position(|s| s.name.eq_ignore_ascii_case(wanted.trim()));
        found.map(Some).ok_or_else(|| {
            let names: Vec<&str> = network.states.iter().map(|s| s.name.as_str()).collect();
            let list = format!("its states are {}", names.join(", "));
            Trouble::with_help(
                format!("the house has no state `{wanted}`"),
                match nearest(wanted, names) {
                    Some(near) => format!("did you mean `{near}`? {list}"),
                    None => list,
                },
            )
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_list_of_units_is_read() {
        let chosen = Chosen::read("l/s, m3/h, W, pressure=m, F").unwrap();
        assert_eq!(
            chosen,
            Chosen {
                flow: Some("m3/h"),
                pressure: Some("m"),
                power: Some("W"),
                temperature: Some("F"),
                length: None
            }
        );
        for (list, says) in [
            ("m", "could be meant for pressure or for length"),
            ("furlong", "cannot be shown in `furlong`"),
            ("presure=m", "no kind of unit `presure`"),
            ("flow=kPa", "cannot be shown in `flow=kPa`"),
        ] {
            let Err(Trouble::Said { what, .. }) = Chosen::read(list) else {
                panic!("{list} passes")
            };
            assert!(what.contains(says), "{list}: {what}");
        }
    }
}
