//! A step of a one-pipe loop's flow: from one multiple of what is required to another.

use super::laid::Loop;
use super::model::{Model, loss_pa};
use super::offer::Offer;
use super::problem::Problem;
use super::search::{Search, views};
use super::ties::needing;
use crate::network::Network;
use crate::view::Required;

/// A step of the main's flow: what is lost at its lower end.
pub(super) struct Step {
    /// Its ends, as multiples of the flow that is required.
    pub times: f64,
    pub until: f64,
    pub problem: Problem,
    /// The view that asks for heat.
    required: Required,
}

impl Step {
    /// A step between two multiples of the flow that is required.
    pub fn at(
        search: &Search<'_>,
        model: &Model,
        one: &Loop,
        (times, until): (f64, f64),
    ) -> Option<Self> {
        let network = needing(search.house.network.clone(), times.max(1.0));
        let mut required = views(&network).ok()?;
        let mut scaled = model.clone();
        scaled.lay_rows(&network, &required, search.offers).ok()?;
        Some(Self {
            times,
            until,
            problem: scaled.problem,
            required: required.swap_remove(one.view),
        })
    }

    /// Flow at which losses are counted. Under the flow that is required a loop runs only as far as its water is colder than the
    /// required view has it, which asks for the head at that flow all the same.
    pub fn lost_at(&self) -> f64 {
        self.times.max(1.0)
    }

    /// Whether losses are those of the water as it runs.
    pub fn colder(&self) -> bool {
        self.times >= 1.0
    }

    /// What a pipe loses more with water of a temperature than the rows have it, Pa; `now` names its elements.
    pub fn more_pa(&self, network: &Network, (now, offer): (&Offer, &Offer), at_c: f64) -> f64 {
        let each = now.laws.iter().map(|(id, own)| {
            let law = offer
                .laws
                .iter()
                .find(|(e, _)| e == id)
                .map_or(own, |(_, law)| law);
            let flow = self.required.flow_kg_s[id.index()].abs();
            let lost = |c: f64| {
                let at = crate::view::properties(network, *id, c).ok()?;
                Some(loss_pa(law, at, flow))
            };
            let row_c = self.required.temperature_c[id.index()];
            Some(lost(at_c)? - lost(row_c)?)
        });
        each.map(|more| more.unwrap_or(0.0)).sum()
    }
}
