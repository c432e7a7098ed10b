//! A plan along several loops: all run at one multiple of what is required, and what a look in full finds lacking is asked for.

use super::super::guess::wants_flow;
use super::super::labels::{Lean, Stages, Way};
use super::super::others::Point;
use super::super::search::{Fails, FailsBy, Plan};
use super::super::step::Step;
use super::{Laid, Set, Several};
use rayon::prelude::*;
use std::sync::Arc;

/// Multiples of the flow that is required, at which a plan is sought.
const PLANS: [f64; 4] = [1.0, 1.05, 1.12, 1.25];
/// Sets of shared pipes that are mended towards a plan at one flow, and looks in full at each.
const BEST: usize = 3;
const LOOKS: usize = 25;
/// Share of heat and Pa by which what was found wanting is asked for more at least, and Pa where a unit lacks water.
const MORE: f64 = 0.0005;
const MORE_PA: f64 = 5.0;
const MORE_FLOW_PA: f64 = 100.0;

/// What a unit that lacks water as it runs is given.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Gives {
    /// More head for the loops.
    Loops,
    /// More head for all that it serves.
    All,
    /// Less heat to make.
    LessHeat,
}

/// A set of changes on the way to a plan.
#[derive(Clone)]
struct Draft {
    set: Set,
    /// By loop: what can stand beside it.
    points: Vec<Arc<Vec<Point>>>,
    /// By loop: its main between the tees, what can be chosen along it, and what is.
    laid: Vec<(usize, Stages)>,
    ways: Vec<Way>,
    /// What is chosen by its heat beside the loop.
    point: Point,
    price: i64,
    /// What is kept from ways beside the loops, Pa, and from the loop, W.
    less_pa: f64,
    kept_w: f64,
}

impl Several<'_> {
    /// A plan, if one is found.
    pub fn plan(&self) -> Option<Plan> {
        let mut best: Option<(i64, Plan)> = None;
        for times in PLANS {
            let cap = best.as_ref().map_or(i64::MAX, |(price, _)| price - 1);
            best = self.plan_at(times, cap).or(best);
        }
        best.map(|(_, plan)| plan)
    }

    fn plan_at(&self, times: f64, cap: i64) -> Option<(i64, Plan)> {
        let times = vec![times; self.loops.len()];
        let sets: Vec<&Set> = self.sets.iter().collect();
        let laid = self.laid_at(&times, &sets)?;
        let drafts = { sets.par_iter().enumerate() }
            .filter_map(|(at, set)| self.draft(&laid, (at, set), cap));
        let mut drafts: Vec<Draft> = drafts.collect();
        drafts.sort_by_key(|draft| draft.price);
        let mut best = None;
        for draft in drafts.into_iter().take(BEST) {
            best = self.tried(&draft, best, cap);
        }
        best
    }

    /// A plan with some shared pipes where each loop runs at its own multiple of what is required.
    pub fn plan_with(&self, set: usize, times: &[f64], cap: i64) -> Option<(i64, Plan)> {
        let set = &self.sets[set];
        let laid = self.laid_at(times, &[set])?;
        let draft = self.draft(&laid, (0, set), cap)?;
        self.tried(&draft, None, cap)
    }

    fn laid_at(&self, times: &[f64], sets: &[&Set]) -> Option<Vec<Laid>> {
        let laid = self.loops.iter().zip(times).map(|(one, &times)| {
            let step = Step::at(self.search, self.model, one, (times, times))?;
            self.laid(one, &step, Lean::Plan, sets)
        });
        laid.collect()
    }

    /// The cheapest with a set of shared pipes, as far as what was laid tells.
    fn draft(&self, laid: &[Laid], (at, set): (usize, &Set), cap: i64) -> Option<Draft> {
        let mut draft = Draft {
            set: set.clone(),
            points: laid.iter().map(|laid| laid.points.clone()).collect(),
            laid: Vec::new(),
            ways: Vec::new(),
            point: Point::NOTHING,
            price: set.rest,
            less_pa: 0.0,
            kept_w: 0.0,
        };
        for (one, laid) in self.loops.iter().zip(laid) {
            let mut best: Option<(i64, Point, Way, (usize, Stages))> = None;
            for hub in 0..one.hubs {
                let stages = laid.with(hub, at);
                let least = best.as_ref().map_or(i64::MAX, |(price, ..)| *price);
                let cap = cap.saturating_sub(draft.price).min(least - 1);
                let (_, found) = self.with_others(one, (&stages, &laid.points), cap, 0.0);
                let found = found.map(|(price, point, way)| (price, point, way, (hub, stages)));
                best = found.or(best);
            }
            let (price, point, way, laid) = best?;
            draft.price += price;
            draft.point = point;
            draft.ways.push(way);
            draft.laid.push(laid);
        }
        Some(draft)
    }

    /// The cheapest plan that a draft leads to, if it is cheaper than the best and no dearer than the cap.
    fn tried(&self, draft: &Draft, mut best: Option<(i64, Plan)>, cap: i64) -> Option<(i64, Plan)> {
        let mut rows = self.model.problem.rows.iter();
        let beside = rows.any(|row| row.tied.is_empty());
        let gives = [
            (true, Gives::Loops),
            (beside, Gives::All),
            (self.others.is_some(), Gives::LessHeat),
        ];
        for (_, gives) in gives.into_iter().filter(|(can, _)| *can) {
            let cap = best.as_ref().map_or(cap, |(price, _)| price - 1);
            if draft.price <= cap {
                best = self.mended(draft.clone(), gives, cap).or(best);
            }
        }
        best
    }

    /// A plan from what is nearly one.
    fn mended(&self, mut draft: Draft, gives: Gives, cap: i64) -> Option<(i64, Plan)> {
        for _ in 0..LOOKS {
            let mut picks = draft.set.picks.clone();
            for (d, c) in &draft.point.picks {
                picks[*d] = *c;
            }
            let ways = draft.laid.iter().zip(&draft.ways);
            for (one, ((hub, _), way)) in self.loops.iter().zip(ways) {
                one.put(self.model, *hub, way, &mut picks);
            }
            let fails = match self.search.verify(self.model, &picks) {
                Ok(plan) => {
                    let price = self.search.objective.price(plan.money, plan.disruption);
                    return (price <= cap).then_some((price, plan));
                }
                Err(fails) => fails,
            };
            if !self.ask(&fails, &mut draft, gives) {
                return None;
            }
            draft.price = draft.set.rest;
            for (l, one) in self.loops.iter().enumerate() {
                let cap = cap.saturating_sub(draft.price);
                let of = (&draft.laid[l].1, &draft.points[l][..]);
                let (_, found) = self.with_others(one, of, cap, draft.kept_w);
                let (price, point, way) = found?;
                draft.price += price;
                (draft.point, draft.ways[l]) = (point, way);
            }
        }
        None
    }

    /// Asks for what a look in full found lacking; false where that is none of a loop.
    fn ask(&self, fails: &Fails, draft: &mut Draft, gives: Gives) -> bool {
        let emitters = &self.search.house.network.emitters;
        match &fails.by {
            FailsBy::Head(_, through, short_pa, _) => {
                let Some(e) = emitters.iter().position(|e| e.name == *through) else {
                    return false;
                };
                let own = self.loops.iter().zip(&mut draft.laid);
                let mut own = own.filter(|(one, _)| self.model.tied[one.ties()].contains(&e));
                let own = own.next();
                own.map(|(_, (_, s))| s.limit_pa -= short_pa + MORE_PA)
                    .is_some()
            }
            by if wants_flow(by) => {
                if let (Gives::LessHeat, Some(share)) = (gives, too_much_heat(by)) {
                    let made_w = self
                        .others
                        .as_ref()
                        .map_or(0.0, |o| o.made_w(&self.loops[0]));
                    draft.kept_w += (share + MORE) * made_w;
                    return true;
                }
                { draft.laid.iter_mut() }.for_each(|(_, s)| s.limit_pa -= MORE_FLOW_PA);
                if gives == Gives::All {
                    draft.less_pa += MORE_FLOW_PA;
                    let choices = draft.set.choices.clone();
                    let Some(Some(set)) = self.beside(choices, draft.less_pa) else {
                        return false;
                    };
                    draft.set = set;
                }
                true
            }
            _ => {
                let mut asked = false;
                for (emitter, share) in &fails.lacking {
                    for (one, (_, stages)) in self.loops.iter().zip(&mut draft.laid) {
                        let tied = &self.model.tied[one.ties()];
                        if let Some(t) = tied.iter().position(|e| e == emitter) {
                            stages.ask(t, share + MORE);
                            asked = true;
                        }
                    }
                }
                asked
            }
        }
    }
}

/// Share of heat by which a unit cools its water too far.
fn too_much_heat(by: &FailsBy) -> Option<f64> {
    match by {
        FailsBy::Check(about) if about.0.check == "source-drop" => about.0.margin.map(|m| -m),
        _ => None,
    }
}
