//! What can be chosen along a one-pipe loop, what it costs, and what it loses at some multiple of the flow that is required.

use super::blocks::Mains;
use super::labels::{Fitting, Lean, Pipe, Stage, Stages, Way};
use super::model::Model;
use super::problem::{COLD_K, Problem};
use super::search::{House, Search, views};
use super::ties::{Looked, Own, needing};
use crate::hydraulics::heat::Body;
use crate::maths;
use std::collections::{BTreeMap, BTreeSet};

/// Share by which a heat may be wrong beyond what the shares of the water leave open.
const SLACK: f64 = 0.001;
/// Share by which a loss may be less where water runs warmer than the required view has it.
const WARMER: f64 = 0.002;

/// Heat that stands for none, W.
const LEAST_W: f64 = 1e-3;
/// A share of the water that takes nothing.
const ALMOST_NONE: f64 = 1e-6;

/// One loop that is all that is heated.
pub(super) struct Loop {
    pub hub: Option<usize>,
    pub hubs: usize,
    /// Which required view asks for heat.
    view: usize,
    /// Capacity of the main's water at the flow that is required, W/K.
    main_w_k: f64,
    /// Temperature at which it begins, °C.
    start_c: f64,
    /// By opening: decisions that use it.
    users: Vec<i64>,
}

/// A step of the main's flow: what is lost at its lower end.
pub(super) struct Step {
    /// Its ends, as multiples of the flow that is required.
    pub times: f64,
    pub until: f64,
    pub problem: Problem,
}

/// Looks at combinations at several flows about a step, as multiples of the flow that is required.
pub(super) type Seens<'l> = Vec<(f64, &'l Looked)>;

/// What is asked beyond what a closed form says, after looks in full.
#[derive(Clone)]
pub(super) struct Margins {
    /// By emitter of the ties: share of its need.
    pub heat: Vec<f64>,
    pub head_pa: f64,
}

impl Search<'_> {
    /// What can be chosen along the loop, stage by stage, with one main between the tees.
    pub(super) fn stages(
        &self,
        model: &Model,
        one: &Loop,
        (step, seens): (&Step, &Seens),
        hub: usize,
        lean: Lean,
        margins: Option<&Margins>,
    ) -> Option<Stages> {
        let problem = &step.problem;
        let ties = 0..problem.ties.len();
        let holds_all = |row: usize| { ties.clone() }.all(|t| problem.rows[row].tied.contains(&t));
        let row = (0..problem.rows.len()).find(|row| holds_all(*row))?;
        // at the flow that is required rows are the required view's own
        let warmer_pa = if step.times > 1.0 {
            WARMER * problem.rows[row].limit_pa
        } else {
            0.0
        };
        let (slack, times, spare_pa) = match lean {
            Lean::Bound => (SLACK, step.until, warmer_pa),
            Lean::Plan => (0.0, step.times, -margins.map_or(0.0, |m| m.head_pa)),
        };
        let bill = Bill {
            hub,
            lean,
            ..Bill::new(self, one, problem, row)
        };
        let main_w_k = one.main_w_k * times;
        let mut done: BTreeSet<usize> = one.hub.into_iter().collect();
        let mut stages = Vec::new();
        let mut top_c = one.start_c;
        let looked = seens.first()?.1;
        let mains = &looked.mains;
        for (t, (tie, own)) in problem.ties.iter().zip(&looked.own).enumerate() {
            let e = &self.house.network.emitters[own.emitter];
            done.extend(tie.of.iter().copied());
            done.extend(mains.slots[own.at]);
            let more = margins.map_or(0.0, |m| m.heat[t]);
            let mut fittings = self.fittings(model, one, (step, seens), (&bill, own, t));
            for f in &mut fittings {
                f.need_w = (f.need_w * (1.0 + more - slack)).max(LEAST_W);
            }
            stages.push(Stage {
                pipes: bill.pipes(mains, own.at),
                kinds: [own.at, own.at + 1].map(|k| mains.kinds_of(k).len()),
                room_c: self.house.network.rooms[e.room].temperature_c,
                top_c,
                fittings,
            });
            top_c -= e.duty_w * (1.0 - slack) / main_w_k;
        }
        let last = problem.ties.len();
        done.extend(mains.slots[last]);
        let hub_load = one.hub.map_or(0.0, |d| bill.load_pa(d, hub));
        let mut all = Stages {
            stages,
            home_pipes: bill.pipes(mains, last),
            rest: Vec::new(),
            base: one.hub.map_or(0, |d| bill.price(d, hub)),
            limit_pa: problem.rows[row].limit_pa - hub_load + spare_pa,
            start_c: one.start_c,
            main_w_k,
            lean,
        };
        for d in (0..problem.decisions.len()).filter(|d| !done.contains(d)) {
            let choices = 0..problem.decisions[d].choices.len();
            all.rest
                .push((d, choices.map(|c| bill.pipe(d, c, 0)).collect()));
        }
        Some(all)
    }

    /// What can stand at a radiator, by the kinds of main that it goes with.
    fn fittings(
        &self,
        model: &Model,
        one: &Loop,
        (step, seens): (&Step, &Seens),
        (bill, own, t): (&Bill, &Own, usize),
    ) -> Vec<Fitting> {
        let (tie, hub) = (&step.problem.ties[t], bill.hub);
        let e = &self.house.network.emitters[own.emitter];
        let looked = seens[0].1;
        let sides = [own.at, own.at + 1].map(|k| looked.mains.kinds_of(k));
        let radiator = tie.of.iter().position(|d| Some(*d) == own.radiator);
        // many combinations differ by their radiator alone, and that splits no water
        let mut splits: BTreeMap<usize, Vec<Option<Split>>> = BTreeMap::new();
        let mut fittings = Vec::new();
        for (at, combination) in tie.can[hub].iter().enumerate() {
            let noted = looked.noted(own, hub, combination);
            let splits = splits.entry(noted).or_insert_with(|| {
                let pairs = sides[0]
                    .iter()
                    .flat_map(|a| sides[1].iter().map(|b| [*a, *b]));
                let split = |pair| one.split((step, seens), bill.lean, (t, noted), pair);
                pairs.map(split).collect()
            });
            let offer = radiator.and_then(|i| {
                let (d, c) = (tie.of[i], combination[i]);
                self.offers.slots[d].offers[model.offers[d][c]].heat
            });
            let (law, need_w) = offer.unwrap_or((e.law, e.duty_w));
            let body = Body::new(&law);
            let each = || tie.of.iter().zip(combination);
            let price = each().map(|(&d, &c)| bill.price(d, c)).sum();
            let load_pa: f64 = each().map(|(&d, &c)| bill.load_pa(d, c)).sum();
            for (pair, split) in splits.iter().enumerate() {
                let goes = tie.spare_k[hub][at][pair] >= COLD_K;
                let Some(split) = split.filter(|_| goes) else {
                    continue;
                };
                fittings.push(Fitting {
                    sides: [pair / sides[1].len(), pair % sides[1].len()],
                    at,
                    price,
                    load_pa: load_pa + split.loss_pa,
                    body,
                    need_w,
                    share_w_k: split.share_w_k,
                });
            }
        }
        fittings
    }
}

/// How water splits at a radiator between two kinds of main.
#[derive(Clone, Copy)]
struct Split {
    /// Capacity of its share of the water, the least and the greatest, W/K.
    share_w_k: [f64; 2],
    /// What is lost between its tees, Pa.
    loss_pa: f64,
}

/// What choices cost and lose with one main between the tees.
pub(super) struct Bill<'s> {
    problem: &'s Problem,
    hub: usize,
    lean: Lean,
    /// By decision and choice: price, and what is lost apart from what is lost between tees, Pa.
    by: Vec<Vec<(i64, f64)>>,
}

impl<'s> Bill<'s> {
    fn new(search: &'s Search<'s>, one: &'s Loop, problem: &'s Problem, row: usize) -> Self {
        let mut bill = Self {
            problem,
            hub: 0,
            lean: Lean::Plan,
            by: Vec::new(),
        };
        let of_row = &problem.rows[row];
        for (d, decision) in problem.decisions.iter().enumerate() {
            let also = of_row.also.iter().find(|(of, _)| *of == d);
            let in_row = of_row.decisions.contains(&d);
            let choices = decision.choices.iter().enumerate().map(|(c, choice)| {
                // all that use a place pay for it together at most once
                let places: BTreeSet<usize> = choice.opens.iter().copied().collect();
                let share = |o: usize| {
                    let opening = &problem.openings[o];
                    search.objective.price(opening.money, opening.disruption) / one.users[o].max(1)
                };
                let opens: i64 = places.into_iter().map(share).sum();
                let own = choice.load_pa + also.map_or(0.0, |(_, by)| by[c]);
                let price = search.objective.price(choice.money, 0) + opens;
                (price, if in_row { own } else { 0.0 })
            });
            bill.by.push(choices.collect());
        }
        bill
    }

    /// Price of a choice with its share of the places that it opens.
    fn price(&self, d: usize, c: usize) -> i64 {
        self.by[d][c].0
    }

    /// What a choice loses in the row, Pa.
    fn load_pa(&self, d: usize, c: usize) -> f64 {
        self.by[d][c].1
    }

    fn pipe(&self, d: usize, choice: usize, kind: usize) -> Pipe {
        Pipe {
            choice,
            kind,
            price: self.price(d, choice),
            load_pa: self.load_pa(d, choice),
        }
    }

    /// What a stretch of the main can be.
    fn pipes(&self, mains: &Mains, stretch: usize) -> Vec<Pipe> {
        let Some(d) = mains.slots[stretch] else {
            return vec![Pipe {
                choice: 0,
                kind: 0,
                price: 0,
                load_pa: 0.0,
            }];
        };
        let side = mains.side(stretch);
        let choices = 0..self.problem.decisions[d].choices.len();
        choices.map(|c| self.pipe(d, c, side.kind(c))).collect()
    }
}

impl Loop {
    /// The loop of a house, if it is all that is heated there and everything on it is known.
    pub(super) fn of(house: &House, model: &Model) -> Option<Self> {
        let (network, problem) = (&house.network, &model.problem);
        let ties = &problem.ties;
        let whole = house.survey.loops.len() == 1 && ties.len() == network.emitters.len();
        if !whole
            || ties
                .iter()
                .any(|t| t.load_pa.is_empty() || t.spare_k.is_empty())
        {
            return None;
        }
        let first = &network.emitters[*model.tied.first()?];
        let heats = |r: usize| house.required[r].flow_kg_s[first.body.index()] > 0.0;
        let mut views = (0..house.required.len()).filter(|r| heats(*r));
        let (Some(view), None) = (views.next(), views.next()) else {
            return None;
        };
        let r = &house.required[view];
        let by = first.one_pipe?.between.index();
        let flow_kg_s = r.flow_kg_s[first.body.index()].abs() + r.flow_kg_s[by].abs();
        let inlets = model.tied.iter().filter_map(|e| {
            let (c, _) = r.ends_c[network.emitters[*e].body.index()]?;
            Some(c)
        });
        let start_c = inlets.reduce(f64::max)?;
        let mean_c = start_c - first.drop_k / 2.0;
        let cp_j_kgk = crate::view::properties(network, first.body, mean_c)
            .ok()?
            .cp_j_kgk;
        let mut users = vec![0; problem.openings.len()];
        for decision in &problem.decisions {
            let opens = decision
                .choices
                .iter()
                .flat_map(|c| c.opens.iter().copied());
            let opens: BTreeSet<usize> = opens.collect();
            opens.into_iter().for_each(|o| users[o] += 1);
        }
        Some(Self {
            hub: ties[0].hub,
            hubs: ties[0].can.len(),
            view,
            main_w_k: flow_kg_s * cp_j_kgk,
            start_c,
            users,
        })
    }

    /// How water splits, from all looks about a step.
    fn split(
        &self,
        (step, seens): (&Step, &Seens),
        lean: Lean,
        (t, noted): (usize, usize),
        sides: [usize; 2],
    ) -> Option<Split> {
        let mut split: Option<(f64, f64, f64)> = None;
        for (at, looked) in seens {
            let seen = &looked.own[t].seen[noted][self.view];
            // no loss rises more slowly than its flow, and none faster than its square
            let more = step.times / at;
            let power = match lean {
                Lean::Plan => 1.8,
                Lean::Bound if more > 1.0 => 1.0,
                Lean::Bound => 2.0,
            };
            let (low, high, lost) = match seen.shares(sides) {
                Some((low, high)) => (low, high, seen.least_pa(sides) * maths::pow(more, power)),
                // where there was no answer anything may be
                None if seen.unknown && lean == Lean::Bound => (ALMOST_NONE, 1.0, 0.0),
                None => return None,
            };
            split = Some(split.map_or((low, high, lost), |s| {
                (s.0.min(low), s.1.max(high), s.2.min(lost))
            }));
        }
        let (low, high, loss_pa) = split?;
        let of_main = |share: f64, times: f64| share * times * self.main_w_k;
        let share_w_k = match lean {
            Lean::Bound => [of_main(low, step.times), of_main(high, step.until)],
            Lean::Plan => [of_main(0.5 * (low + high), step.times); 2],
        };
        Some(Split { share_w_k, loss_pa })
    }

    /// Where the combinations of some stages are noted, with the kinds on their sides.
    pub(super) fn noted(
        &self,
        model: &Model,
        looked: &Looked,
        hub: usize,
        all: &Stages,
    ) -> Vec<(usize, [usize; 2])> {
        let ties = model.problem.ties.iter().zip(&looked.own).zip(&all.stages);
        let each = ties.flat_map(|((tie, own), stage)| {
            let kinds = [own.at, own.at + 1].map(|k| looked.mains.kinds_of(k));
            stage.fittings.iter().map(move |f| {
                let noted = looked.noted(own, hub, &tie.can[hub][f.at]);
                (noted, [kinds[0][f.sides[0]], kinds[1][f.sides[1]]])
            })
        });
        each.collect()
    }

    /// A way as choices.
    pub(super) fn picks(
        &self,
        model: &Model,
        looked: &Looked,
        hub: usize,
        way: &Way,
    ) -> Vec<usize> {
        let mut picks = vec![0; model.problem.decisions.len()];
        if let Some(d) = self.hub {
            picks[d] = hub;
        }
        let mains = &looked.mains;
        let ties = model.problem.ties.iter().zip(&looked.own);
        for ((tie, own), &(pipe, at)) in ties.zip(&way.stages) {
            if let Some(d) = mains.slots[own.at] {
                picks[d] = pipe;
            }
            for (&d, &c) in tie.of.iter().zip(&tie.can[hub][at]) {
                picks[d] = c;
            }
        }
        if let Some(d) = mains.slots[model.problem.ties.len()] {
            picks[d] = way.home;
        }
        for (d, c) in &way.rest {
            picks[*d] = *c;
        }
        picks
    }
}

impl Step {
    /// A step between two multiples of the flow that is required.
    pub(super) fn at(
        search: &Search<'_>,
        model: &Model,
        (times, until): (f64, f64),
    ) -> Option<Self> {
        let network = needing(search.house.network.clone(), times);
        let required = views(&network).ok()?;
        let mut scaled = model.clone();
        scaled.lay_rows(&network, &required, search.offers).ok()?;
        Some(Self {
            times,
            until,
            problem: scaled.problem,
        })
    }
}
