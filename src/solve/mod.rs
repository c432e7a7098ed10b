//! Flow, pressure and temperature of a network in one setting: global-gradient Newton on any topology, heat and flow
//! together, converged or an error that says what stopped it.

mod asked;
mod begin;
mod broyden;
mod classes;
mod couple;
mod dense;
mod edge;
mod flow;
mod forest;
mod gates;
mod heat;
mod heat_order;
mod holding;
mod loops;
mod newton;
mod result;
pub mod setting;
mod sparse;
pub mod state;
mod states;
mod tees;
mod terms;

use classes::Classes;
use couple::Coupled;
use flow::Finish;
use sparse::Nodal;

pub use holding::Holding;
pub use setting::{Setting, SourceSetting};
pub use state::{PumpState, SolveError, SourceLimit, SourceState, State, Stats};
pub use states::{Light, Ready, States, Way};

use crate::fluid::OutOfRange;
use crate::hydraulics;
use crate::network::{ElementId, Network, Part};

/// Solves a network in one setting.
///
/// # Errors
/// Each way in which there is no answer: see [`SolveError`]. An unconverged state is never returned.
pub fn solve(network: &Network, setting: &Setting) -> Result<State, SolveError> {
    Solver::new(network).solve(setting)
}

/// A network made ready to be solved in many settings.
pub struct Solver<'a> {
    network: &'a Network,
    classes: Classes,
    nodal: Nodal,
}

impl<'a> Solver<'a> {
    /// Does once what does not depend on the setting.
    pub fn new(network: &'a Network) -> Self {
        let ends: Vec<(u32, u32)> = network
            .element_ids()
            .map(|id| {
                let (from, to) = network.ends(id);
                (from.index() as u32, to.index() as u32)
            })
            .collect();
        let classes = Classes::new(network.graph.node_count(), &ends);
        let nodal = Nodal::new(classes.nodes, &classes.ends);
        Self {
            network,
            classes,
            nodal,
        }
    }

    /// Solves one setting.
    ///
    /// # Errors
    /// As [`solve`].
    pub fn solve(&self, setting: &Setting) -> Result<State, SolveError> {
        let mut coupled = Coupled::new(self.network, setting, &self.classes, &self.nodal)?;
        coupled.run(Finish::Full, false)?;
        Ok(result::state(&coupled))
    }

    /// Solves one setting and says how every flow answers if the loss of an element grows a little: for each (element,
    /// Pa in the direction of its `from` to `to`) the change of flow by element, kg/s, to first order. Fluid properties,
    /// what heat decides (a pump held to a drop, a mixing set's draw) and elements at their bounds stay as they are.
    ///
    /// # Errors
    /// As [`solve`]; [`SolveError::NotConverged`] for more loops than a dense matrix is for.
    pub fn tangents(
        &self,
        setting: &Setting,
        changes: &[(ElementId, f64)],
    ) -> Result<(State, Vec<Vec<f64>>), SolveError> {
        let mut coupled = Coupled::new(self.network, setting, &self.classes, &self.nodal)?;
        coupled.run(Finish::Full, false)?;
        let answers = coupled.hydraulics.tangents(changes);
        let answers = answers.ok_or(SolveError::NotConverged {
            element: changes.first().map_or(ElementId::new(0), |c| c.0),
            residual_pa: 0.0,
            iterations: 0,
        })?;
        Ok((result::state(&coupled), answers))
    }

    /// Makes one setting ready to be solved from a cold start many times.
    ///
    /// # Errors
    /// Held flows that contradict each other; a temperature out of range.
    pub fn ready<'s>(&'s self, setting: &'s Setting) -> Result<Ready<'s>, SolveError> {
        Ok(Ready {
            coupled: Coupled::new(self.network, setting, &self.classes, &self.nodal)?,
        })
    }
}

/// Loss of an element by its own law at a mass flow in kg/s and a temperature in °C: p(from) − p(to) in Pa without the
/// tees at its ends. A pump counts at full speed, a one-way or flow-holding element as fully open.
///
/// # Errors
/// A temperature at which the fluid's properties are not known.
pub fn element_loss(
    network: &Network,
    id: ElementId,
    flow_kg_s: f64,
    temperature_c: f64,
) -> Result<f64, OutOfRange> {
    let element = network.element(id);
    let at = hydraulics::liquid(&network.fluids[element.fluid]).at(temperature_c)?;
    Ok(hydraulics::element(&element.law, at, flow_kg_s).0)
}

/// Loss of one part of an element, Pa, with the sign of the flow; `element` says which fluid flows.
///
/// # Errors
/// As [`element_loss`].
pub fn part_loss(
    network: &Network,
    element: ElementId,
    part: &Part,
    flow_kg_s: f64,
    temperature_c: f64,
) -> Result<f64, OutOfRange> {
    let at =
        hydraulics::liquid(&network.fluids[network.element(element).fluid]).at(temperature_c)?;
    Ok(hydraulics::part(&part.law, at, flow_kg_s).0)
}
