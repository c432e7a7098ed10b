//! What is heated beside a one-pipe loop: how much heat its radiators give together, and what it costs that they give less.
//!
//! The unit cools the water of all by no more than it is made for, so what they give beyond their need the loop must do
//! without. They are balanced to the same share of their flow, and that is about the loop's own: a way round that is evened to
//! the index loses as much as that one at the same share.

use super::labels::Lean;
use super::laid::Loop;
use super::model::Model;
use super::problem::Problem;
use super::search::Search;
use super::site::Site;
use crate::check::Subject;
use crate::hydraulics::heat::{self, Outlet};
use crate::network::HeatLaw;
use crate::view::limits::drop_limit;
use std::collections::BTreeSet;

/// Share by which they may run at more of their flow than the loop, for its colder water and another kind of loss.
const MORE_FLOW: f64 = 0.02;
/// Share by which two flows of one circuit may differ.
const SAME: f64 = 1e-6;
/// Share by which a heat may be wrong.
const SLACK: f64 = 0.0005;
/// W by which a sum has to be less to be worth more.
const BIN_W: f64 = 1.0;
/// Share of a price within which a bound is not looked for further, and looks for one.
const NEAR: f64 = 0.003;
const MOST: usize = 16;

/// A radiator beside the loop.
struct Other {
    /// Its capacity at the flow that is required, W/K.
    w_k: f64,
    in_c: f64,
    room_c: f64,
    /// What decides on it alone, if anything does.
    decision: Option<usize>,
    /// By choice: how it gives heat, what is asked of it, W, and its price with what is opened for it alone.
    bodies: Vec<(HeatLaw, f64, i64)>,
}

/// All that is heated beside a loop.
pub(super) struct Others {
    all: Vec<Other>,
    /// How far the unit may cool the water, K.
    limit_k: f64,
    output_w: Option<f64>,
}

/// Price, heat in W, and decision with its choice, if it is one.
type Chosen = (i64, f64, Option<(usize, usize)>);

/// What they can give together, and what that costs.
#[derive(Clone, Debug)]
pub(super) struct Point {
    pub price: i64,
    heat_w: f64,
    /// What the loop may give beside them, W; no limit where that is not known, or the unit reaches its output first.
    pub leaves_w: f64,
    pub picks: Vec<(usize, usize)>,
}

impl Point {
    pub const NOTHING: Self = Self {
        price: 0,
        heat_w: 0.0,
        leaves_w: f64::INFINITY,
        picks: Vec::new(),
    };
}

impl Others {
    /// Nothing where the unit's drop hangs on more than one loop and what is balanced beside it.
    pub fn of(search: &Search, model: &Model, loops: &[Loop]) -> Option<Self> {
        let [one] = loops else { return None };
        let (network, problem) = (&search.house.network, &model.problem);
        let r = &search.house.required[one.view];
        let ([source], true) = (&network.sources[..], network.bypasses.is_empty()) else {
            return None;
        };
        let excused = |check: &str, about: Option<usize>| {
            let mut all = search.excused.0.iter();
            all.any(|(c, s)| *c == check && about.is_none_or(|e| *s == Subject::Emitter(e)))
        };
        let shared = !model.loose.get(one.view)?.rooms.is_empty();
        if excused("source-drop", None) || network.design.lockshields_open || shared {
            return None;
        }
        let tied = &model.tied[one.ties()];
        let mut flow_kg_s = 0.0;
        let mut all = Vec::new();
        for (i, e) in network.emitters.iter().enumerate() {
            let own_kg_s = r.flow_kg_s[e.body.index()].abs();
            if tied.contains(&i) || own_kg_s == 0.0 {
                continue;
            }
            let balanced = network.setter(i)?.stands_kv_m3h.is_none() && e.one_pipe.is_none();
            let (in_c, out_c) = r.ends_c[e.body.index()]?;
            if !balanced || (in_c - one.start_c).abs() > 1e-6 {
                return None;
            }
            flow_kg_s += own_kg_s;
            let mut slots = search.offers.slots.iter();
            let slot =
                slots.position(|s| s.emitter == Some(i) && matches!(s.site, Site::Radiator(_)));
            let now = (e.law, e.duty_w);
            let bodies = slot.map_or(vec![now], |d| {
                let offers = &search.offers.slots[d].offers;
                let heats = model.offers[d].iter().map(|&o| offers[o].heat);
                heats.map(|heat| heat.unwrap_or(now)).collect()
            });
            let decision = slot.filter(|d| !problem.ties.iter().any(|tie| tie.of.contains(d)));
            let asks = |(c, (law, need_w))| {
                let excused = excused("room-heat", Some(i));
                let price = decision.map_or(0, |d| own_price(search, problem, d, c));
                (law, if excused { 0.0 } else { need_w }, price)
            };
            all.push(Other {
                w_k: own_kg_s
                    * crate::view::properties(network, e.body, 0.5 * (in_c + out_c))
                        .ok()?
                        .cp_j_kgk,
                in_c,
                room_c: network.rooms[e.room].temperature_c,
                decision,
                bodies: bodies.into_iter().enumerate().map(asks).collect(),
            });
        }
        let whole = r.flow_kg_s[source.body.index()].abs();
        let sum = flow_kg_s + one.flow_kg_s;
        let alike = (whole - sum).abs() <= SAME * whole;
        alike.then_some(Self {
            all,
            limit_k: drop_limit(network, network.design.drop_k)?.value,
            output_w: source.output_w,
        })
    }

    /// What they can give where the loop runs at a multiple of what is required, dearer and less from one to the next.
    pub fn points(&self, one: &Loop, times: f64, lean: Lean) -> Vec<Point> {
        let mut points = vec![Point::NOTHING];
        for other in &self.all {
            let w_k = Self::runs_at(times, lean) * other.w_k;
            let gives = |law: &HeatLaw| {
                let Outlet { out_c, .. } = heat::emitter(law, other.in_c, w_k, other.room_c);
                w_k * (other.in_c - out_c)
            };
            let bodies = other.bodies.iter().enumerate();
            let enough = bodies
                .map(|(c, (law, asks_w, price))| (c, gives(law), *asks_w, *price))
                .filter(|(_, gives_w, asks_w, _)| *gives_w >= asks_w * (1.0 - SLACK));
            let mut choices: Vec<Chosen> = enough
                .map(|(c, w, _, price)| (price, w, other.decision.map(|d| (d, c))))
                .collect();
            if other.decision.is_none() {
                choices.sort_by(|a, b| a.1.total_cmp(&b.1));
                choices.truncate(1);
            }
            let mut next = Vec::with_capacity(points.len() * choices.len());
            for p in &points {
                for (price, heat_w, pick) in &choices {
                    let own = p.picks.iter().copied().chain(*pick);
                    next.push(Point {
                        price: p.price + price,
                        heat_w: p.heat_w + heat_w,
                        leaves_w: p.leaves_w,
                        picks: own.collect(),
                    });
                }
            }
            next.sort_by(|a, b| a.price.cmp(&b.price).then(a.heat_w.total_cmp(&b.heat_w)));
            let mut least_w = f64::INFINITY;
            next.retain(|p| {
                let worth = p.heat_w < least_w - BIN_W;
                if worth {
                    least_w = p.heat_w;
                }
                worth
            });
            points = next;
        }
        for point in &mut points {
            point.leaves_w = self.leaves_w(one, point.heat_w, times, lean);
        }
        points
    }

    /// Radiators that are chosen by their heat, and by choice what each costs.
    pub fn decide(&self) -> impl Iterator<Item = (usize, Vec<i64>)> {
        let all = self.all.iter();
        all.filter_map(|o| Some((o.decision?, o.bodies.iter().map(|b| b.2).collect())))
    }

    /// Share of their flow at which they run at most, where the loop runs at a multiple of what is required.
    fn runs_at(times: f64, lean: Lean) -> f64 {
        match lean {
            Lean::Bound => times * (1.0 + MORE_FLOW),
            Lean::Plan => times,
        }
    }

    /// What the unit may make at the flow that is required, W.
    pub fn made_w(&self, one: &Loop) -> f64 {
        let own_w_k: f64 = self.all.iter().map(|o| o.w_k).sum();
        self.limit_k * (own_w_k + one.main_w_k)
    }

    /// The most that the loop may give beside such a heat, W; no limit where the unit reaches its output first.
    fn leaves_w(&self, one: &Loop, heat_w: f64, times: f64, lean: Lean) -> f64 {
        let own_w_k: f64 = self.all.iter().map(|o| o.w_k).sum();
        let w_k = Self::runs_at(times, lean) * own_w_k + times * one.main_w_k;
        let most_w = self.limit_k * w_k;
        if self.output_w.is_some_and(|output| output <= most_w) {
            return f64::INFINITY;
        }
        let bins_w = match lean {
            Lean::Bound => BIN_W * self.all.len() as f64,
            Lean::Plan => 0.0,
        };
        most_w - heat_w + bins_w
    }
}

/// Price of a choice with what is opened for it alone.
fn own_price(search: &Search, problem: &Problem, d: usize, c: usize) -> i64 {
    let choice = &problem.decisions[d].choices[c];
    let (mut money, mut disruption) = (choice.money, 0);
    let elsewhere = |o: usize| {
        let others = problem
            .decisions
            .iter()
            .enumerate()
            .filter(|(of, _)| *of != d);
        { others }.any(|(_, of)| of.choices.iter().any(|c| c.opens.contains(&o)))
    };
    let own: BTreeSet<usize> = choice
        .opens
        .iter()
        .copied()
        .filter(|o| !elsewhere(*o))
        .collect();
    for o in own {
        money += problem.openings[o].money;
        disruption += problem.openings[o].disruption;
    }
    search.objective.price(money, disruption)
}

/// The cheapest over points, dearer from one to the next, of what is cheaper with each than with those before: `at` looks for it
/// within a price. Returns what nothing is cheaper than (one more than the cap if that is all that is known) and the best found.
pub(super) fn cheapest<T>(
    points: &[Point],
    cap: i64,
    mut at: impl FnMut(usize, i64) -> Option<(i64, T)>,
) -> (i64, Option<(i64, usize, T)>) {
    let mut best: Option<(i64, usize, T)> = None;
    // from one point to another, and what is the least with the last of them
    let mut open: Vec<(usize, usize, i64)> = Vec::new();
    let Some(last) = points.len().checked_sub(1) else {
        return (cap.saturating_add(1), None);
    };
    let mut look = |best: &mut Option<(i64, usize, T)>, from: usize, k: usize| {
        let worth = best
            .as_ref()
            .map_or(cap, |(price, ..)| (price - 1).min(cap));
        let own = worth.saturating_sub(points[from].price);
        let Some((price, what)) = at(k, own) else {
            return own.saturating_add(1);
        };
        if points[k].price + price <= worth {
            *best = Some((points[k].price + price, k, what));
        }
        price
    };
    let first = look(&mut best, 0, last);
    open.push((0, last, first));
    for _ in 0..MOST {
        let next =
            (0..open.len()).min_by_key(|&i| points[open[i].0].price.saturating_add(open[i].2));
        let Some(i) = next else { break };
        let (from, to, price) = open[i];
        let lower = points[from].price.saturating_add(price);
        let worth = best
            .as_ref()
            .map_or(cap.saturating_add(1), |(price, ..)| *price);
        if from == to || lower as f64 >= worth as f64 * (1.0 - NEAR) {
            break;
        }
        let middle = (from + to) / 2;
        open[i] = (middle + 1, to, price);
        let own = look(&mut best, from, middle);
        open.push((from, middle, own.max(price)));
    }
    let lower = { open.iter() }.map(|(from, _, price)| points[*from].price.saturating_add(*price));
    let lower = lower.min().unwrap_or(cap).min(cap.saturating_add(1));
    (lower, best)
}
