//! How a search begins: with a plan that something leads to, and then the proof that nothing cheaper works.

use super::along::Along;
use super::model::{Model, model};
use super::priced::tangled;
use super::search::{Aim, Found, Plan, Search, Stop, WIDE_GAP};
use super::several::Several;
use super::ties::{Looked, tie};

impl Search<'_> {
    fn price(&self, plan: &Plan) -> i64 {
        self.objective.price(plan.money, plan.disruption)
    }

    /// The bound of what works as the house runs by itself, for a look at it: the price under which nothing does, where something
    /// is known to at `known`. Nothing where no one-pipe loop is heated, or something on one is not known.
    ///
    /// # Errors
    /// As [`Search::run`].
    pub fn bound_along(&self, known: i64) -> Result<Option<i64>, Stop> {
        let (house, offers) = (self.house, self.offers);
        let mut model = model(&house.network, &house.required, offers)?;
        let mut looked = tie(house, offers, &mut model);
        model.lay_rows(&house.network, &house.required, offers)?;
        if self.alone(&model, &looked) {
            let along = looked.pop().and_then(|l| Along::of(self, &model, l));
            return Ok(along.and_then(|mut along| Some(along.bound(known)?.0)));
        }
        let several = Several::of(self, &model, looked);
        Ok(several.and_then(|several| Some(several.bound(known)?.0)))
    }

    /// Whether a one-pipe loop is all that is heated.
    fn alone(&self, model: &Model, looked: &[Looked]) -> bool {
        looked.len() == 1 && model.problem.ties.len() == self.house.network.emitters.len()
    }

    /// Where no ties are known: a guide first, as if the flows of today stood and as if a room's failure hung on what is
    /// changed there alone.
    pub(super) fn untied(&self, found: &mut Found) {
        let guide = found.model.guide.take();
        let problem = guide.as_ref().unwrap_or(&found.model.problem).clone();
        found.tangled = guide.is_none() && tangled(&found.model.problem);
        // where ways round are tangled, a plan that is near the best spares the proof most of its work
        let guess = match guide {
            None => self.guess(&found.model, &found.model.problem, None),
            Some(_) => None,
        };
        let exact = guess.is_none() && guide.is_none();
        let guided = match guess {
            Some(plan) => Ok(plan),
            None => self.seek(&problem, found, None, Aim::Guide),
        };
        found.model.guide = guide;
        // a guide that left nothing out and was not stopped is a proof
        if exact && found.sure && !matches!(guided, Err(Some(_))) {
            found.best = guided.ok();
            let lower = found.best.as_ref().map_or(0, |plan| self.price(plan));
            found.bounded(self.objective, lower);
            return;
        }
        let (mut guided, mut thorough) = (guided.ok(), self.thorough);
        if guided.is_none() {
            let plan = self.by_tightening(found);
            guided = plan.or_else(|| self.by_leaving_out(&found.model));
            // far from the best there is no end to what lies between
            thorough = false;
        }
        let lower = self.proved(found, guided, thorough);
        found.bounded(self.objective, lower);
    }

    /// On one-pipe loops: what can stand together is known, and the flows of today would only mislead. What rows leave out is
    /// about the same for all sets.
    pub(super) fn tied(&self, found: &mut Found, mut looked: Vec<Looked>) {
        found.model.guide = None;
        found.tangled = tangled(&found.model.problem);
        let problem = found.model.problem.clone();
        let first = match self.seek(&problem, found, None, Aim::First) {
            Err(Some(lower)) => lower,
            proved => {
                found.best = proved.ok();
                let lower = found.best.as_ref().map_or(0, |plan| self.price(plan));
                found.bounded(self.objective, lower);
                return;
            }
        };
        let model = found.model.clone();
        let (mut along, mut several) = (None, None);
        if self.alone(&model, &looked) {
            along = looked.pop().and_then(|l| Along::of(self, &model, l));
        } else {
            several = Several::of(self, &model, looked);
            found.beside_loops = several.is_some();
        }
        let mut guided = match &mut along {
            Some(along) => along.plan(),
            None => several.as_ref().and_then(Several::plan),
        };
        if guided.is_none() {
            guided = self.by_tightening(found);
        }
        let far = guided.is_none();
        if far {
            guided = self.by_leaving_out(&found.model);
        }
        if let (Some(along), Some(plan)) = (&mut along, &guided)
            && let Some((lower, better)) = along.bound(self.price(plan))
        {
            found.running_bound = Some(lower);
            guided = better.or(guided);
        }
        if let (Some(several), Some(plan)) = (&several, &guided) {
            let bound = several.bound(self.price(plan));
            found.running_bound = bound.as_ref().map(|(lower, _)| *lower);
            guided = bound.and_then(|(_, better)| better).or(guided);
        }
        let lower = found.running_bound.unwrap_or(first).max(first);
        let near = guided.as_ref().is_some_and(|plan| {
            let price = self.price(plan);
            (price - lower) as f64 <= WIDE_GAP * price as f64
        });
        let lower = lower.max(self.proved(found, guided, self.thorough && !far && !near));
        found.bounded(self.objective, lower);
        found.stopped &= found.gap > 0.0 || found.best.is_none();
    }

    /// Seeks what is cheaper than a plan that is known; returns the price under which nothing works.
    fn proved(&self, found: &mut Found, guided: Option<Plan>, thorough: bool) -> i64 {
        let known = guided.as_ref().map(|plan| self.price(plan));
        let problem = found.model.problem.clone();
        let proof = Search { thorough, ..*self };
        match proof.seek(&problem, found, known, Aim::Proof) {
            Ok(plan) => {
                let reached = self.price(&plan);
                found.best = Some(plan);
                reached
            }
            Err(lower) => {
                found.best = guided;
                found.stopped = lower.is_some();
                if !problem.ties.is_empty() && found.stopped {
                    let best = found.best.take();
                    found.best = best.map(|plan| self.left_out(&found.model, plan));
                }
                lower.unwrap_or_else(|| found.best.as_ref().map_or(0, |plan| self.price(plan)))
            }
        }
    }
}
