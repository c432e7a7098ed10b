//! What can be chosen along a one-pipe loop, what it costs, and what it loses at some multiple of the flow that is required.

use super::labels::{Fitting, Lean, Pipe, Stage, Stages, Water, Way};
use super::lefts::{Cooler, Lefts};
use super::model::Model;
use super::problem::{COLD_K, Problem, Row, Side, Tie};
use super::search::Search;
use super::splits::{Splits, Thin};
use super::step::Step;
use super::ties::{Looked, Own};
use crate::check::Subject;
use crate::hydraulics::heat::Body;
use crate::maths;
use crate::network::Source;
use crate::view::Required;
use crate::view::limits::drop_limit;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// Share by which a heat may be wrong beyond what the shares of the water leave open.
const SLACK: f64 = 0.0005;
/// Share by which a loss may be less for a kelvin by which water runs warmer than the required view has it: friction in
/// laminar flow falls by 2 %, in turbulent by a quarter of that.
const WARMER_PER_K: f64 = 0.006;
/// Kelvins over which it is looked at how much more colder water loses.
const COLDER_K: [f64; 3] = [1.0, 3.0, 6.0];

/// Heat that stands for none, W.
const LEAST_W: f64 = 1e-3;
/// Share by which what lies between water in the tails and at the inlet is reckoned for a loss where a plan is sought.
const USUALLY_THICKER: f64 = 0.2;

/// One loop on its pump, by itself or beside others.
pub(super) struct Loop {
    /// Its first tie; the others follow.
    first: usize,
    pub hub: Option<usize>,
    pub hubs: usize,
    /// Which required view asks for heat.
    pub view: usize,
    /// Capacity of the main's water at the flow that is required, W/K.
    pub main_w_k: f64,
    /// That flow, kg/s.
    pub flow_kg_s: f64,
    /// The design's drop, K.
    drop_k: f64,
    /// Temperature at which it begins, °C.
    pub start_c: f64,
    /// How far the unit may cool it as the house runs, K; no limit where that is not known.
    greatest_drop_k: f64,
    /// What the unit makes at most, W.
    output_w: Option<f64>,
    thin: Thin,
    /// By place of the tie, where its combination is noted, and kinds on its sides.
    splits: BTreeMap<(usize, usize, [usize; 2]), Arc<Splits>>,
    /// By tie: what its radiator gives at least, W.
    needs_w: Vec<f64>,
    /// By tie and choice of its radiator: how it cools water, and what it must give, W.
    bodies: Vec<Vec<(Cooler, f64)>>,
    lefts: Arc<Lefts>,
    looked: Looked,
    /// By opening: decisions that use it.
    users: Vec<i64>,
    /// Decisions that are made elsewhere.
    pub apart: BTreeSet<usize>,
}

impl Search<'_> {
    /// What can be chosen along the loop, stage by stage, with one main between the tees.
    pub(super) fn stages(
        &self,
        model: &Model,
        one: &Loop,
        step: &Step,
        hub: usize,
        lean: Lean,
    ) -> Option<Stages> {
        let problem = &step.problem;
        let row = one.row(problem)?;
        // at the flow that is required rows are the required view's own
        let warmer_k = one.drop_k * (1.0 - 1.0 / step.lost_at);
        let warmer_pa = WARMER_PER_K * warmer_k * problem.rows[row].limit_pa;
        let (slack, spare_pa) = match lean {
            Lean::Bound => (SLACK, warmer_pa),
            Lean::Plan => (0.0, 0.0),
        };
        let bill = Bill {
            hub,
            lean,
            ..Bill::new(self, one, problem, row)
        };
        let ends = match lean {
            Lean::Bound => [step.times, step.until],
            Lean::Plan => [step.times; 2],
        };
        let w_k = ends.map(|times| times * one.main_w_k);
        let water = Water {
            ln_times: ends.map(maths::ln),
            ln_lost: maths::ln(step.lost_at),
            colder: step.colder(),
            w_k,
            ln_w_k: w_k.map(maths::ln),
            thin: one.thin.clone(),
            lefts: one.lefts.clone(),
        };
        let mut done: BTreeSet<usize> = one.hub.into_iter().collect();
        let mut stages = Vec::new();
        let mut top_c = one.start_c;
        let mains = &one.looked.mains;
        let ties = problem.ties[one.ties()].iter();
        for (t, (tie, own)) in ties.zip(&one.looked.own).enumerate() {
            let e = &self.house.network.emitters[own.emitter];
            done.extend(tie.of.iter().copied());
            done.extend(mains.slots[own.at]);
            let (mut fittings, splits) = self.fittings(one, (&bill, t), (&water, top_c));
            for f in &mut fittings {
                f.need_w = (f.need_w * (1.0 - slack)).max(LEAST_W);
            }
            let asks_k = one.needs_w[t] * (1.0 - slack) / water.w_k[1];
            stages.push(Stage {
                pipes: self.pipes(model, &bill, mains.side(own.at), (step, top_c)),
                kinds: [own.at, own.at + 1].map(|k| mains.kinds_of(k).len()),
                room_c: self.house.network.rooms[e.room].temperature_c,
                top_c,
                asks_k,
                least_c: f64::NEG_INFINITY,
                fittings,
                splits,
            });
            top_c -= asks_k;
        }
        let last = one.ties().len();
        done.extend(mains.slots[last]);
        let hub_load = one.hub.map_or(0.0, |d| bill.load_pa(d, hub));
        let mut all = Stages {
            stages,
            home_pipes: self.pipes(model, &bill, mains.side(last), (step, top_c)),
            home_top_c: top_c,
            rest: Vec::new(),
            base: one.hub.map_or(0, |d| bill.price(d, hub)),
            limit_pa: problem.rows[row].limit_pa - hub_load + spare_pa,
            start_c: one.start_c,
            water,
            lean,
        };
        let apart = |d: &usize| one.apart.contains(d);
        for d in (0..problem.decisions.len()).filter(|d| !done.contains(d) && !apart(d)) {
            let choices = 0..problem.decisions[d].choices.len();
            all.rest
                .push((d, choices.map(|c| bill.pipe(d, c, 0)).collect()));
        }
        // a unit that reaches its output first cools the water no further, whatever the radiators could give
        let w_k = all.water.w_k[1];
        let most_w = one.greatest_drop_k * w_k;
        if one.output_w.is_none_or(|output| output > most_w) {
            all.end_above(one.start_c - one.greatest_drop_k);
        }
        Some(all)
    }

    /// What a stretch of the main can be, with water that comes at most at a temperature.
    fn pipes(
        &self,
        model: &Model,
        bill: &Bill,
        side: Side,
        (step, top_c): (&Step, f64),
    ) -> Vec<Pipe> {
        let Some(d) = side.decision else {
            return vec![Pipe {
                choice: 0,
                kind: 0,
                price: 0,
                load_pa: 0.0,
                colder_pa_k: 0.0,
            }];
        };
        let slot = &self.offers.slots[d];
        let choices = 0..bill.problem.decisions[d].choices.len();
        let pipes = choices.map(|c| {
            let mut pipe = bill.pipe(d, c, side.kind(c));
            let offer = &slot.offers[model.offers[d][c]];
            // of water that is shared with a second pipe it is not looked at
            if offer.beside.is_empty() && step.colder() {
                let network = &self.house.network;
                let of = (&slot.offers[0], offer);
                let more = |at_c: f64| step.more_pa(network, of, at_c);
                let top = more(top_c);
                let colder = COLDER_K.map(|k| (more(top_c - k) - top) / k);
                pipe.load_pa += COLDER_K
                    .map(|k| more(top_c - k))
                    .into_iter()
                    .fold(top, f64::min);
                pipe.colder_pa_k = colder.into_iter().fold(f64::INFINITY, f64::min).max(0.0);
            }
            pipe
        });
        pipes.collect()
    }

    /// What can stand at a radiator, by the kinds of main that it goes with.
    fn fittings(
        &self,
        one: &Loop,
        (bill, t): (&Bill, usize),
        (water, top_c): (&Water, f64),
    ) -> (Vec<Fitting>, Vec<Arc<Splits>>) {
        let (looked, hub) = (&one.looked, bill.hub);
        let (tie, own) = (&bill.problem.ties[one.first + t], &looked.own[t]);
        let sides = [own.at, own.at + 1].map(|k| looked.mains.kinds_of(k));
        let radiator = tie.of.iter().position(|d| Some(*d) == own.radiator);
        // many combinations differ by their radiator alone, and that splits no water
        let mut known: BTreeMap<usize, Vec<Option<(usize, f64)>>> = BTreeMap::new();
        let (mut fittings, mut splits) = (Vec::new(), Vec::new());
        for (at, combination) in tie.can[hub].iter().enumerate() {
            let noted = looked.noted(own, hub, combination);
            let known = known.entry(noted).or_insert_with(|| {
                let pairs = looked.mains.pairs(own.at).into_iter();
                let mut of = |pair| {
                    let own = one.splits.get(&(t, noted, pair))?;
                    let loss_pa = lost_pa(own, (water, bill.lean), top_c)?;
                    splits.push(own.clone());
                    Some((splits.len() - 1, loss_pa))
                };
                pairs.map(&mut of).collect()
            });
            let choice = radiator.map_or(0, |i| combination[i]);
            let (body, need_w) = one.bodies[t][choice];
            let each = || tie.of.iter().zip(combination);
            let price = each().map(|(&d, &c)| bill.price(d, c)).sum();
            let load_pa: f64 = each().map(|(&d, &c)| bill.load_pa(d, c)).sum();
            for (pair, split) in known.iter().enumerate() {
                let goes = tie.spare_k[hub][at][pair] >= COLD_K;
                let Some((splits, loss_pa)) = split.filter(|_| goes) else {
                    continue;
                };
                fittings.push(Fitting {
                    sides: [pair / sides[1].len(), pair % sides[1].len()],
                    at,
                    price,
                    load_pa: load_pa + loss_pa,
                    between_pa: loss_pa,
                    body,
                    need_w,
                    splits,
                });
            }
        }
        (fittings, splits)
    }
}

/// What is lost between the tees of a radiator, Pa, with water that comes at most at a temperature. Nothing where a plan cannot
/// rest on it.
fn lost_pa(splits: &Splits, (water, lean): (&Water, Lean), top_c: f64) -> Option<f64> {
    let thin = water.thin.at(top_c);
    let thick = maths::exp(-2.0 * thin);
    match lean {
        // the warmest water loses the least
        Lean::Bound => Some(splits.least_pa(water.ln_lost + thin) * thick),
        Lean::Plan => {
            let split = splits.at(water.ln_lost + thin, USUALLY_THICKER)?;
            Some(split.loss_pa * thick)
        }
    }
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
        for (d, decision) in problem.decisions.iter().enumerate() {
            let choices = decision.choices.iter().enumerate().map(|(c, choice)| {
                // all that use a place pay for it together at most once
                let places: BTreeSet<usize> = choice.opens.iter().copied().collect();
                let share = |o: usize| {
                    let opening = &problem.openings[o];
                    search.objective.price(opening.money, opening.disruption) / one.users[o].max(1)
                };
                let opens: i64 = places.into_iter().map(share).sum();
                let price = search.objective.price(choice.money, 0) + opens;
                (price, problem.choice_pa(row, d, c))
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
            colder_pa_k: 0.0,
        }
    }
}

impl Loop {
    /// A loop of a house whose first tie is given, if everything on it is known.
    pub(super) fn of(
        search: &Search,
        model: &Model,
        mut looked: Looked,
        first_tie: usize,
    ) -> Option<Self> {
        let house = search.house;
        let (network, problem) = (&house.network, &model.problem);
        let ties = &problem.ties[first_tie..first_tie + looked.own.len()];
        let unknown = |t: &Tie| t.load_pa.is_empty() || t.spare_k.is_empty();
        if ties.iter().any(unknown) {
            return None;
        }
        let tied = &model.tied[first_tie..first_tie + looked.own.len()];
        let first = &network.emitters[*tied.first()?];
        let heats = |r: usize| house.required[r].flow_kg_s[first.body.index()] > 0.0;
        let mut views = (0..house.required.len()).filter(|r| heats(*r));
        let (Some(view), None) = (views.next(), views.next()) else {
            return None;
        };
        let r = &house.required[view];
        let by = first.one_pipe?.between.index();
        let flow_kg_s = r.flow_kg_s[first.body.index()].abs() + r.flow_kg_s[by].abs();
        let inlets = tied.iter().filter_map(|e| {
            let (c, _) = r.ends_c[network.emitters[*e].body.index()]?;
            Some(c)
        });
        // as it runs no water is warmer than what the source makes
        let start_c = inlets.fold(network.design.flow_temperature_c, f64::max);
        let mean_c = start_c - first.drop_k / 2.0;
        let properties = |c: f64| crate::view::properties(network, first.body, c).ok();
        let at = properties(mean_c)?;
        // radiators with the same tails share a table
        let (mut splits, mut alike) = (BTreeMap::new(), BTreeMap::<_, Vec<Arc<Splits>>>::new());
        for ((t, noted, sides), block) in std::mem::take(&mut looked.blocks) {
            let block = block?;
            let known = alike.entry((noted, sides)).or_default();
            let same = known.iter().find(|s| s.is_of(&block)).cloned();
            let own = same.unwrap_or_else(|| {
                let own = Arc::new(Splits::new(block, flow_kg_s, at));
                known.push(own.clone());
                own
            });
            splits.insert((t, noted, sides), own);
        }
        let mut users = vec![0; problem.openings.len()];
        for decision in &problem.decisions {
            let opens = decision
                .choices
                .iter()
                .flat_map(|c| c.opens.iter().copied());
            let opens: BTreeSet<usize> = opens.collect();
            opens.into_iter().for_each(|o| users[o] += 1);
        }
        let mut lefts = Lefts::default();
        // a room that may go on lacking heat asks for none
        let asks = |own: &Own, need_w: f64| {
            let fails = ("room-heat", Subject::Emitter(own.emitter));
            if search.excused.0.contains(&fails) {
                0.0
            } else {
                need_w
            }
        };
        let needs_w = looked.own.iter();
        let needs_w = needs_w.map(|own| asks(own, network.emitters[own.emitter].duty_w));
        let needs_w = needs_w.collect();
        let bodies = looked.own.iter().map(|own| {
            let e = &network.emitters[own.emitter];
            let now = vec![(e.law, e.duty_w)];
            let of = own.radiator.map_or(now, |d| {
                let offers = &search.offers.slots[d].offers;
                let heats = model.offers[d].iter().map(|&o| offers[o].heat);
                heats.map(|h| h.unwrap_or((e.law, e.duty_w))).collect()
            });
            let body = |(law, need_w)| (lefts.cooler(&Body::new(&law)), asks(own, need_w));
            of.into_iter().map(body).collect()
        });
        let bodies = bodies.collect();
        Some(Self {
            first: first_tie,
            apart: BTreeSet::new(),
            hub: ties[0].hub,
            hubs: ties[0].can.len(),
            view,
            main_w_k: flow_kg_s * at.cp_j_kgk,
            flow_kg_s,
            drop_k: first.drop_k,
            start_c,
            greatest_drop_k: greatest_drop_k(search, r, flow_kg_s),
            output_w: network.sources.first().and_then(|s| s.output_w),
            thin: Thin::new(mean_c, |c| Some(properties(c)?.mu_pa_s))?,
            splits,
            needs_w,
            bodies,
            lefts: Arc::new(lefts),
            looked,
            users,
        })
    }

    /// Its ties.
    pub(super) fn ties(&self) -> std::ops::Range<usize> {
        self.first..self.first + self.looked.own.len()
    }

    /// What decides on the first and the last stretch of its main.
    pub(super) fn ends(&self) -> [Option<usize>; 2] {
        let slots = &self.looked.mains.slots;
        let last = slots.get(self.ties().len()).copied().flatten();
        [slots.first().copied().flatten(), last]
    }

    /// Decisions along it.
    pub(super) fn along(&self, problem: &Problem) -> BTreeSet<usize> {
        let of_ties = problem.ties[self.ties()].iter().flat_map(|t| t.of.clone());
        let mains = self.looked.mains.slots.iter().flatten();
        of_ties.chain(mains.copied()).chain(self.hub).collect()
    }

    /// The way round it, which counts all its ties.
    pub(super) fn row(&self, problem: &Problem) -> Option<usize> {
        let all = |row: &Row| self.ties().all(|t| row.tied.contains(&t));
        problem.rows.iter().position(all)
    }

    /// Puts a way among choices.
    pub(super) fn put(&self, model: &Model, hub: usize, way: &Way, picks: &mut [usize]) {
        let looked = &self.looked;
        if let Some(d) = self.hub {
            picks[d] = hub;
        }
        let mains = &looked.mains;
        let ties = model.problem.ties[self.ties()].iter().zip(&looked.own);
        for ((tie, own), &(pipe, at)) in ties.zip(&way.stages) {
            if let Some(d) = mains.slots[own.at] {
                picks[d] = pipe;
            }
            for (&d, &c) in tie.of.iter().zip(&tie.can[hub][at]) {
                picks[d] = c;
            }
        }
        if let Some(d) = mains.slots[self.ties().len()] {
            picks[d] = way.home;
        }
        for (d, c) in &way.rest {
            picks[*d] = *c;
        }
    }
}

/// How far the unit may cool the water as the house runs, K; no limit where that does not hang on the loop alone.
fn greatest_drop_k(search: &Search, r: &Required, flow_kg_s: f64) -> f64 {
    let network = &search.house.network;
    let excused = |(check, _): &(&str, Subject)| *check == "source-drop";
    let alone = |s: &Source| {
        let own = r.flow_kg_s[s.body.index()].abs();
        (own - flow_kg_s).abs() <= 1e-6 * flow_kg_s
    };
    let all_alone = network.sources.len() == 1 && network.sources.iter().all(alone);
    if !all_alone || !network.bypasses.is_empty() || search.excused.0.iter().any(excused) {
        return f64::INFINITY;
    }
    drop_limit(network, network.design.drop_k).map_or(f64::INFINITY, |l| l.value)
}
