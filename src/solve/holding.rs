//! One setting solved again and again while flows that it holds are searched for: ordering, laws and the last answer stay.

use super::begin::Start;
use super::couple::Coupled;
use super::flow::Finish;
use super::state::{SolveError, State};
use super::states::Light;
use super::{Setting, Solver};
use crate::network::ElementId;

/// A setting with held flows that may be changed: see [`Solver::holding`].
pub struct Holding<'a> {
    coupled: Coupled<'a>,
    cold: Start,
    begun: bool,
}

impl<'a> Solver<'a> {
    /// Makes a setting ready to be solved with other flows through the elements that it holds, each time from the answer
    /// before; the first time from `near`, a state of this network or of one with the same elements, if there is one.
    ///
    /// # Errors
    /// Held flows that contradict each other; a temperature out of range.
    pub fn holding<'s>(
        &'s self,
        setting: &'s Setting,
        near: Option<&State>,
    ) -> Result<Holding<'s>, SolveError> {
        let mut coupled = Coupled::new(self.network, setting, &self.classes, &self.nodal)?;
        let cold = coupled.start();
        let begun = near.is_some_and(|state| coupled.take(state));
        Ok(Holding {
            coupled,
            cold,
            begun,
        })
    }
}

impl Holding<'_> {
    /// Holds another flow, kg/s, through an element that the setting holds.
    pub fn hold(&mut self, id: ElementId, flow_kg_s: f64) {
        self.coupled.hydraulics.hold(id, flow_kg_s);
    }

    /// Solves to the last digit.
    ///
    /// # Errors
    /// As [`super::solve`].
    pub fn solve(&mut self) -> Result<Light<'_>, SolveError> {
        let near = std::mem::replace(&mut self.begun, true);
        if !near || self.coupled.run(Finish::Full, true).is_err() {
            // a start that is far away is no reason to have no answer
            self.coupled.restore(&self.cold);
            self.coupled.run(Finish::Full, false)?;
        }
        Ok(Light {
            coupled: &self.coupled,
        })
    }
}
