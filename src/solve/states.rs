//! Thousands of states of one setting that differ in what is shut: each starts from the state with nothing more shut, so
//! that no answer depends on the order or on the number of threads.

use super::couple::{Coupled, Start};
use super::flow::Finish;
use super::state::{SolveError, Stats};
use crate::network::{ElementId, PlaceId};

/// One setting, ready for many states. Clone-free: make one per thread by [`super::Solver::states`].
pub struct States<'a> {
    pub(super) coupled: Coupled<'a>,
    pub(super) start: Start,
}

/// A solved state, looked at in place until the next one. Flows are within 1e-9 of the largest; where properties go with
/// temperature, temperatures are within 1e-4 K.
pub struct Light<'s> {
    coupled: &'s Coupled<'s>,
}

impl<'a> States<'a> {
    /// Solves the state in which these elements are shut beyond the setting.
    ///
    /// # Errors
    /// As [`super::solve`]; [`SolveError::NothingMoves`] where every way is shut.
    pub fn solve(
        &mut self,
        shut: impl IntoIterator<Item = ElementId>,
    ) -> Result<Light<'_>, SolveError> {
        self.coupled.restore(&self.start);
        self.coupled.hydraulics.shut(shut);
        self.coupled.run(Finish::Quick, true)?;
        Ok(Light {
            coupled: &self.coupled,
        })
    }
}

impl Light<'_> {
    /// Mass flow of an element, kg/s, positive from `from` to `to`.
    pub fn flow_kg_s(&self, id: ElementId) -> f64 {
        self.coupled.flow[id.index()]
    }

    /// Heat that an element gives off, W; negative for a source; zero if heat was not asked for.
    pub fn heat_w(&self, id: ElementId) -> f64 {
        self.coupled
            .found
            .as_ref()
            .map_or(0.0, |f| f.heat_w[id.index()])
    }

    /// Temperature where the water enters an element, °C.
    pub fn in_c(&self, id: ElementId) -> Option<f64> {
        self.coupled.found.as_ref().and_then(|f| f.in_c[id.index()])
    }

    /// Temperature where it leaves, °C.
    pub fn out_c(&self, id: ElementId) -> Option<f64> {
        self.coupled
            .found
            .as_ref()
            .and_then(|f| f.out_c[id.index()])
    }

    /// Temperature of a place, °C.
    pub fn place_c(&self, id: PlaceId) -> Option<f64> {
        self.coupled
            .found
            .as_ref()
            .and_then(|f| f.place_c[id.index()])
    }

    /// Whether a source (by index) makes its full output.
    pub fn output_limited(&self, source: usize) -> bool {
        self.coupled
            .found
            .as_ref()
            .is_some_and(|f| f.limited[source])
    }

    /// Work done.
    pub fn stats(&self) -> Stats {
        self.coupled.stats
    }
}

/// One setting made ready, to be solved from a cold start again and again: for benchmarks, which also want to know what
/// an evaluation of all laws, filling the matrix and factorising it take on their own.
pub struct Ready<'a> {
    pub(super) coupled: Coupled<'a>,
}

impl Ready<'_> {
    /// Hydraulics from a cold start to 1e-10 of the largest flow; Newton steps taken.
    ///
    /// # Errors
    /// As [`super::solve`].
    pub fn solve(&mut self) -> Result<u32, SolveError> {
        let mut stats = Stats::default();
        self.coupled.hydraulics.forget();
        self.coupled
            .hydraulics
            .solve(Finish::Quick, false, &mut stats)?;
        Ok(stats.iterations)
    }

    /// Evaluates every law once at the flows that stand.
    pub fn laws(&mut self) {
        self.coupled.hydraulics.laws();
    }

    /// Fills the matrix once.
    pub fn assemble(&mut self) {
        self.coupled.hydraulics.assemble();
    }

    /// Factorises and solves what [`Ready::assemble`] filled.
    pub fn factorise(&mut self) {
        self.coupled.hydraulics.factorise();
    }
}
