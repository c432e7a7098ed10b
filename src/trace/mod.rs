//! A figure traced back to what it is made of: formula, numbers put in, intermediate values, inputs with where they are
//! from, source of the method. Nothing is solved here: every step names a figure that a stage below has found, and its
//! formula comes to that figure.

pub mod arithmetic;
mod circuit;
mod emitter;
mod finding;
mod loss;
mod own;
mod plant;
mod run;
mod source;
mod states;
mod target;
mod tee;

pub use target::{What, find, names};

use crate::check::{Kind, Study};
use crate::diag::Span;
use crate::fluid::Properties;
use crate::hydraulics;
use crate::network::{ElementId, Known, Network};
use crate::view::{Required, Running};
use arithmetic::Expr;

/// Where an input is from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Evidence {
    /// Read in the house, at a meter or a thermometer.
    Measured,
    /// Looked at in the house.
    Seen,
    /// Stated in the file.
    Stated,
    /// Stated in the file as a guess or a range; the likeliest value is used.
    Guessed,
    /// Not in the file; a default is used.
    Assumed,
    /// A row of a table, a sheet or a property of the fluid.
    Table,
    /// Worked out: by the solver, or in a trace of its own.
    Found,
}

impl Evidence {
    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Measured => "measured",
            Self::Seen => "seen",
            Self::Stated => "stated",
            Self::Guessed => "guessed",
            Self::Assumed => "assumed",
            Self::Table => "table",
            Self::Found => "worked out",
        }
    }
}

/// What a formula starts from.
#[derive(Clone, Debug, PartialEq)]
pub struct Input {
    /// Its symbol in the formulas; empty if it is only named.
    pub symbol: String,
    /// What it is: `bore of hall F2, 22 mm copper`.
    pub what: String,
    /// Its value, SI.
    pub value: f64,
    /// Its unit.
    pub unit: Unit,
    /// Where it is from.
    pub evidence: Evidence,
    /// The source in words, if it has one.
    pub source: String,
    /// Its words in the file.
    pub span: Option<Span>,
}

/// Unit of a figure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// Shown in the user's unit beside SI.
    Kind(Kind),
    /// Length of a run, m: shown in the user's unit beside SI.
    Length,
    /// SI alone; empty for a plain number.
    Plain(&'static str),
}

impl Unit {
    /// The SI unit that formulas are in.
    pub fn si(self) -> &'static str {
        match self {
            Self::Length => "m",
            Self::Plain(unit) => unit,
            Self::Kind(kind) => match kind {
                Kind::VelocityMs => "m/s",
                Kind::GradientPaM => "Pa/m",
                Kind::PressurePa => "Pa",
                Kind::MassFlowKgS => "kg/s",
                Kind::VolumeFlowM3S => "m3/s",
                Kind::PowerW => "W",
                Kind::TemperatureC => "°C",
                Kind::DifferenceK => "K",
                Kind::VolumeM3 => "m3",
                Kind::Ratio | Kind::Count => "",
            },
        }
    }
}

/// One figure and how it is come by.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// What it is: `velocity in the pipe`.
    pub what: String,
    /// Its symbol.
    pub symbol: String,
    /// How it is come by, in words, where that is more than the formula: which regime, which rows of a table.
    pub how: String,
    /// The formula.
    pub formula: Expr,
    /// What the program found, SI.
    pub value: f64,
    /// Its unit.
    pub unit: Unit,
    /// Source of the method.
    pub source: String,
    /// Significant figures with which the numbers are put in, so that they come to the value as shown.
    pub figures: usize,
}

/// Significant figures to which an intermediate value is shown.
pub const SHOWN: usize = 5;

impl Step {
    /// A step whose numbers are written with as many figures as bring its value back as shown.
    pub fn new(
        what: impl Into<String>,
        symbol: impl Into<String>,
        formula: Expr,
        value: f64,
        unit: Unit,
    ) -> Self {
        // a sum of parts that nearly cancel, or a value near the edge of rounding, wants more figures than six
        let comes_back = |figures: &usize| {
            let found = formula.value(*figures);
            let alike = |k: usize| arithmetic::digits(found, k) == arithmetic::digits(value, k);
            (2..=SHOWN).all(alike) && (found - value).abs() <= 2e-6 * value.abs().max(1e-12)
        };
        let figures = (6..=15).find(comes_back).unwrap_or(15);
        Self {
            what: what.into(),
            symbol: symbol.into(),
            how: String::new(),
            formula,
            value,
            unit,
            source: String::new(),
            figures,
        }
    }

    /// With the source of the method.
    pub fn from(mut self, source: impl Into<String>) -> Self {
        self.source = source.into();
        self
    }

    /// With words on how.
    pub fn by(mut self, how: impl Into<String>) -> Self {
        self.how = how.into();
        self
    }

    /// The formula with its numbers put in.
    pub fn numbers(&self) -> String {
        self.formula.numbers(self.figures)
    }

    /// Whether the numbers as written come to the value as shown.
    pub fn holds(&self) -> bool {
        arithmetic::digits(self.formula.value(self.figures), SHOWN)
            == arithmetic::digits(self.value, SHOWN)
    }
}

/// A figure with all that it rests on.
#[derive(Clone, Debug, PartialEq)]
pub struct Trace {
    /// What is traced.
    pub what: What,
    /// Index into `Network::states`, where it is of one state.
    pub state: Option<usize>,
    /// Steps, each from inputs and steps before it.
    pub steps: Vec<Step>,
    /// What the steps start from.
    pub inputs: Vec<Input>,
    /// What else has to be known: how flows were found, what is left out.
    pub notes: Vec<String>,
    /// Further traces that belong to it.
    pub see: Vec<What>,
}

impl Trace {
    fn new(what: What, state: Option<usize>) -> Self {
        Self {
            what,
            state,
            steps: Vec::new(),
            inputs: Vec::new(),
            notes: Vec::new(),
            see: Vec::new(),
        }
    }

    /// Adds an input once.
    fn input(&mut self, input: Input) {
        if !self.inputs.contains(&input) {
            self.inputs.push(input);
        }
    }
}

/// The trace of a thing in a state of the house; plain heating, or the first state with figures, if none is named.
pub fn trace(study: &Study, what: What, state: Option<usize>) -> Trace {
    let view = state.map_or_else(
        || study.required.first(),
        |state| study.required.iter().find(|r| r.state == state),
    );
    let mut trace = match what {
        What::Run(run) => run::trace(study, run, view),
        What::Emitter(emitter) => emitter::trace(study, emitter, view),
        What::Circuit(circuit) => circuit::trace(study, circuit, view),
        What::Source(source) => source::trace(study, source, view),
        What::Finding(finding) => finding::trace(study, finding),
    };
    known(&mut trace, &study.network);
    trace
}

/// What was seen or measured in the house is not only stated.
fn known(trace: &mut Trace, network: &Network) {
    let name = match trace.what {
        What::Run(i) => network.runs.get(i).map(|r| &r.name),
        What::Emitter(i) => network.emitters.get(i).map(|e| &e.name),
        What::Source(i) => network.sources.get(i).map(|s| &s.name),
        What::Circuit(_) | What::Finding(_) => None,
    };
    let Some(known) = name.and_then(|name| network.known(name)) else {
        return;
    };
    let (evidence, how) = match known {
        Known::Seen => (Evidence::Seen, "looked at"),
        Known::Measured => (Evidence::Measured, "measured"),
    };
    let own = name.map_or("", String::as_str);
    for input in &mut trace.inputs {
        // what a run carries and what a room needs is never seen
        let solid = matches!(input.unit, Unit::Length)
            || matches!(trace.what, What::Emitter(_) | What::Source(_));
        if input.evidence == Evidence::Stated && solid && !input.what.starts_with("heat that") {
            input.evidence = evidence;
        }
    }
    trace.notes.push(format!(
        "{own} was {how} in the house, as the file's [evidence] says."
    ));
}

fn running<'a>(study: &'a Study, view: Option<&Required>) -> Option<&'a Running> {
    let state = view.map_or(0, |v| v.state);
    study.running.iter().find(|r| r.state == state)
}

/// Properties at an element's temperature in a view; those of water at 40 °C never stand in: `None` if unknown.
fn properties(network: &Network, id: ElementId, celsius: f64) -> Option<Properties> {
    let fluid = network.fluids.get(network.element(id).fluid)?;
    hydraulics::liquid(fluid).at(celsius).ok()
}

/// Where properties of a fluid are from.
fn fluid_source(network: &Network, id: ElementId) -> &'static str {
    use crate::fluid::Liquid;
    let fluid = network.fluids.get(network.element(id).fluid);
    match fluid.map(hydraulics::liquid) {
        Some(Liquid::Water) => "water, IAPWS-IF97",
        Some(Liquid::Propylene(_) | Liquid::Ethylene(_)) => "glycol, after tables by Melinder",
        _ => "constant, as given",
    }
}

/// An input that is a property of the fluid.
fn property(
    network: &Network,
    id: ElementId,
    celsius: f64,
    (symbol, what, value, unit): (&str, &str, f64, &'static str),
) -> Input {
    Input {
        symbol: symbol.into(),
        what: format!("{what} at {celsius:.1} °C"),
        value,
        unit: Unit::Plain(unit),
        evidence: Evidence::Table,
        source: fluid_source(network, id).into(),
        span: None,
    }
}
