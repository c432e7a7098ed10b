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
    /// Flow at which losses are counted.
    pub lost_at: f64,
    pub problem: Problem,
    network: Network,
    /// All required views, and which asks for heat.
    views: Vec<Required>,
    view: usize,
}

impl Step {
    /// A step between two multiples of the flow that is required. Under the flow that is required a loop runs only as far as its
    /// water is colder than the required view has it, or others take more; both ask for the head at that flow all the same.
    pub fn at(
        search: &Search<'_>,
        model: &Model,
        one: &Loop,
        (times, until): (f64, f64),
    ) -> Option<Self> {
        let lost_at = times.max(1.0);
        Self::beside(search, model, one, (times, until), (lost_at, lost_at))
    }

    /// The same, with losses counted at one flow of the loop and at one of all else.
    pub fn beside(
        search: &Search<'_>,
        model: &Model,
        one: &Loop,
        (times, until): (f64, f64),
        (lost_at, others_at): (f64, f64),
    ) -> Option<Self> {
        let own: Vec<usize> = model.tied[one.ties()].to_vec();
        let by = |e: usize| if own.contains(&e) { lost_at } else { others_at };
        let network = needing(search.house.network.clone(), by);
        let views = views(&network).ok()?;
        let mut scaled = model.clone();
        scaled.lay_rows(&network, &views, search.offers).ok()?;
        Some(Self {
            times,
            until,
            lost_at,
            problem: scaled.problem,
            network,
            views,
            view: one.view,
        })
    }

    /// The problem with some choices left alone: what hangs on two of them says more then.
    pub fn with(
        &self,
        search: &Search<'_>,
        model: &Model,
        made: &[(usize, Vec<usize>)],
    ) -> Option<Problem> {
        let mut only = model.clone();
        for (d, left) in made {
            only.offers[*d] = left.iter().map(|c| only.offers[*d][*c]).collect();
            let decision = &mut only.problem.decisions[*d];
            let own = left.iter().map(|c| decision.choices[*c].clone());
            decision.choices = own.collect();
        }
        only.lay_rows(&self.network, &self.views, search.offers)
            .ok()?;
        Some(only.problem)
    }

    /// Whether losses are those of the water as it runs.
    pub fn colder(&self) -> bool {
        self.times >= 1.0 && self.times == self.lost_at
    }

    /// What a pipe loses more with water of a temperature than the rows have it, Pa; `now` names its elements.
    pub fn more_pa(&self, network: &Network, (now, offer): (&Offer, &Offer), at_c: f64) -> f64 {
        let required = &self.views[self.view];
        let each = now.laws.iter().map(|(id, own)| {
            let law = offer
                .laws
                .iter()
                .find(|(e, _)| e == id)
                .map_or(own, |(_, law)| law);
            let flow = required.flow_kg_s[id.index()].abs();
            let lost = |c: f64| {
                let at = crate::view::properties(network, *id, c).ok()?;
                Some(loss_pa(law, at, flow))
            };
            let row_c = required.temperature_c[id.index()];
            Some(lost(at_c)? - lost(row_c)?)
        });
        each.map(|more| more.unwrap_or(0.0)).sum()
    }
}
