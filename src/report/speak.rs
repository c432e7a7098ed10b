//! What the words of a report need at hand: the house, the user's units, names made harmless.

use super::layout::name;
use crate::check::{Kind, Study, Subject};
use crate::hydraulics::liquid;
use crate::network::{Network, Run};
use crate::quantity::{
    Celsius, Gradient, Kelvin, MassFlow, Pressure, Velocity, Volume, VolumeFlow, Watt,
};
use crate::survey::Units;
use crate::units::Show;

/// Columns that a name takes at most within a sentence.
const IN_SENTENCE: usize = 40;
/// Decimals beyond the usual that a figure may take: the last is that to which the plan's temperatures are held.
const MOST_MORE: usize = 6;

/// A house and how to speak of it.
#[derive(Clone, Copy)]
pub(crate) struct Speak<'a> {
    pub network: &'a Network,
    pub show: Show<'a>,
    /// Density of the first fluid at the middle of design flow and return, kg/m³.
    density: f64,
}

impl<'a> Speak<'a> {
    pub(crate) fn new(study: &'a Study, units: &'a Units) -> Self {
        Self::of(&study.network, units)
    }

    pub(crate) fn of(network: &'a Network, units: &'a Units) -> Self {
        let design = &network.design;
        let middle_c = design.flow_temperature_c - design.drop_k / 2.0;
        let density = network
            .fluids
            .first()
            .and_then(|f| liquid(f).at(middle_c).ok())
            .map_or(1000.0, |p| p.rho_kg_m3);
        Self {
            network,
            show: Show::new(units).density(density),
            density,
        }
    }

    /// Density with which flows are shown, kg/m³.
    pub(crate) fn density(&self) -> f64 {
        self.density
    }

    pub(crate) fn mass_flow(&self, kg_s: f64) -> String {
        self.show.mass_flow(MassFlow(kg_s), self.density)
    }

    pub(crate) fn flow(&self, m3_s: f64) -> String {
        self.show.flow(VolumeFlow(m3_s))
    }

    pub(crate) fn pressure(&self, pa: f64) -> String {
        self.show.pressure(Pressure(pa))
    }

    pub(crate) fn power(&self, w: f64) -> String {
        self.show.power(Watt(w))
    }

    pub(crate) fn kilowatt(&self, w: f64) -> String {
        self.show.kilowatt(Watt(w))
    }

    pub(crate) fn temperature(&self, c: f64) -> String {
        self.show.temperature(Celsius(c))
    }

    pub(crate) fn difference(&self, k: f64) -> String {
        self.show.difference(Kelvin(k))
    }

    /// A drop as people say it: `5 K`, `7.5 K`.
    pub(crate) fn drop(&self, k: f64) -> String {
        self.difference(k).replacen(".0 ", " ", 1)
    }

    pub(crate) fn velocity(&self, m_s: f64) -> String {
        self.show.velocity(Velocity(m_s))
    }

    pub(crate) fn gradient(&self, pa_m: f64) -> String {
        self.show.gradient(Gradient(pa_m))
    }

    pub(crate) fn volume(&self, m3: f64) -> String {
        self.show.volume(Volume(m3))
    }

    /// A figure of a finding.
    pub(crate) fn kind(&self, kind: Kind, value: f64) -> String {
        match kind {
            Kind::VelocityMs => self.velocity(value),
            Kind::GradientPaM => self.gradient(value),
            Kind::PressurePa => self.pressure(value),
            Kind::MassFlowKgS => self.mass_flow(value),
            Kind::VolumeFlowM3S => self.flow(value),
            Kind::PowerW => self.power(value),
            Kind::TemperatureC => self.temperature(value),
            Kind::DifferenceK => self.difference(value),
            Kind::VolumeM3 => self.volume(value),
            Kind::Ratio => self.show.percent(value),
            Kind::Count => self.show.number(value, 0),
        }
    }

    /// Two figures with as many decimals as tell them apart, so that a failure does not read as equality.
    pub(crate) fn apart(
        &self,
        a: f64,
        b: f64,
        shown: impl Fn(&Self, f64) -> String,
    ) -> (String, String) {
        let pair = |s: &Self| (shown(s, a), shown(s, b));
        let told = |(a, b): &(String, String)| a != b;
        let finer = self.finer().map(|s| pair(&s)).find(told);
        finer.unwrap_or_else(|| pair(self))
    }

    /// A figure with as many decimals as it needs not to read as nothing.
    pub(crate) fn some(&self, value: f64, shown: impl Fn(&Self, f64) -> String) -> String {
        let said = |text: &String| text.contains(|c| matches!(c, '1'..='9'));
        let finer = self.finer().map(|s| shown(&s, value)).find(said);
        finer.unwrap_or_else(|| shown(self, value))
    }

    fn finer(&self) -> impl Iterator<Item = Self> {
        let own = *self;
        (0..=MOST_MORE).map(move |more| Self {
            show: own.show.more(more),
            ..own
        })
    }

    /// A name within a sentence.
    pub(crate) fn name(&self, text: &str) -> String {
        name(text, IN_SENTENCE)
    }

    /// Words of the file or the catalogue within a sentence.
    pub(crate) fn clean(&self, text: &str) -> String {
        name(text, 200)
    }

    /// `hall F2`, or `hall F2/R2` for both pipes.
    pub(crate) fn run(&self, run: &Run, both: bool) -> String {
        let partner = run
            .partner
            .filter(|_| both)
            .and_then(|p| self.network.runs.get(p));
        match partner {
            Some(partner) => format!("{} {}/{}", self.name(&run.name), run.tag, partner.tag),
            None => format!("{} {}", self.name(&run.name), run.tag),
        }
    }

    /// What a finding is about, in words.
    pub(crate) fn subject(&self, subject: Subject) -> String {
        let network = self.network;
        let known = |name: Option<&String>| name.map(|n| self.name(n)).unwrap_or_default();
        match subject {
            Subject::House => "the house".into(),
            Subject::Run(i) => network
                .runs
                .get(i)
                .map(|r| self.run(r, false))
                .unwrap_or_default(),
            Subject::Emitter(i) => known(network.emitters.get(i).map(|e| &e.name)),
            Subject::Room(i) => known(network.rooms.get(i).map(|r| &r.name)),
            Subject::Source(i) => known(network.sources.get(i).map(|s| &s.name)),
            Subject::Pump(i) => known(network.pumps.get(i).map(|p| &p.name)),
            Subject::Vessel(i) => known(network.vessels.get(i).map(|v| &v.name)),
            Subject::Manifold(i) => known(network.manifolds.get(i).map(|m| &m.name)),
            Subject::Cylinder(i) => known(network.cylinders.get(i).map(|c| &c.name)),
            Subject::Exchanger(i) => known(network.exchangers.get(i).map(|e| &e.name)),
            Subject::Bypass(i) => known(network.bypasses.get(i).map(|b| &b.name)),
        }
    }

    /// Name of a state.
    pub(crate) fn state(&self, state: usize) -> String {
        self.network
            .states
            .get(state)
            .map(|s| self.name(&s.name))
            .unwrap_or_default()
    }
}

/// The number of a shown quantity where its column is headed with `unit`; number and unit where they differ.
pub(crate) fn bare(shown: &str, unit: &str) -> String {
    match shown.strip_suffix(unit) {
        Some(number) => number.trim_end().to_owned(),
        None => shown.to_owned(),
    }
}

/// The unit of a shown quantity, for the heading of its column.
pub(crate) fn unit(shown: &str) -> String {
    shown
        .split_once(' ')
        .map(|(_, unit)| unit.to_owned())
        .unwrap_or_default()
}
