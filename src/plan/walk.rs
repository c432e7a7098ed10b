//! Partial ways along a loop, by labels of price, loss and temperature, and which of them are worth keeping.
//!
//! Stage by stage a label is kept for every partial way that nothing at most as dear beats: that loses as little and leaves
//! the water as warm (a shortest path with resources; Desrochers and Soumis 1988, from memory), as long as it can lead home
//! within the cap.

use super::ahead::Ahead;
use super::heats::Table;
use super::labels::{Lean, Pipe, Stages, Way};

/// Labels that are worth telling apart: K and Pa. A bound rounds each of them its own way.
const BIN_K: f64 = 0.0005;
const BIN_PA: f64 = 0.5;
/// The same where a plan is sought and nothing is rounded.
const PLAN_BIN_K: f64 = 0.005;
const PLAN_BIN_PA: f64 = 5.0;
/// Labels of one kind beyond which they are told apart by twice as much, for a bound and for a plan.
const MOST_LABELS: usize = 1_500;
const PLAN_LABELS: usize = 1_500;

#[derive(Clone, Copy)]
struct Label {
    price: i64,
    loss_pa: f64,
    c: f64,
    before: u32,
    what: u32,
}

/// One search along a loop.
pub(super) struct Walk<'s> {
    all: &'s Stages,
    tables: &'s [Table],
    ahead: &'s Ahead,
    cap: i64,
    /// Ways that were looked at.
    looks: u64,
    /// What stands before, and what was chosen.
    trail: Vec<(u32, u32)>,
}

impl<'s> Walk<'s> {
    /// With what may be spent beside what stands in any case.
    pub fn new(all: &'s Stages, tables: &'s [Table], ahead: &'s Ahead, cap: i64) -> Self {
        Self {
            all,
            tables,
            ahead,
            cap,
            looks: 0,
            trail: vec![(u32::MAX, 0)],
        }
    }

    /// The cheapest way, and how many partial ones were looked at.
    pub fn walk(mut self) -> (Option<Way>, u64) {
        let way = self.along();
        (way, self.looks)
    }

    fn along(&mut self) -> Option<Way> {
        let all = self.all;
        let start = Label {
            price: 0,
            loss_pa: 0.0,
            c: all.start_c,
            before: 0,
            what: 0,
        };
        let kinds = all.stages.first().map_or(1, |s| s.kinds[0]);
        let mut here = vec![vec![start]; kinds];
        for (k, stage) in all.stages.iter().enumerate() {
            let mut laid = lay(&here, &stage.pipes, stage.top_c);
            for labels in &mut laid {
                self.keep(labels);
            }
            here = self.pass(k, &laid);
        }
        let mut last: Vec<Label> = lay(&here, &all.home_pipes, all.home_top_c).concat();
        // where the water ends it may be as cold as it likes
        for l in &mut last {
            l.c = 0.0;
        }
        self.keep(&mut last);
        for (_, pipes) in &all.rest {
            let own: Vec<Pipe> = pipes.iter().map(|p| Pipe { kind: 0, ..*p }).collect();
            last = lay(&[last], &own, f64::NEG_INFINITY).concat();
            self.keep(&mut last);
        }
        last.retain(|l| l.loss_pa <= all.limit_pa && l.price <= self.cap);
        let best = last
            .iter()
            .min_by(|a, b| a.price.cmp(&b.price).then(a.before.cmp(&b.before)))?;
        Some(self.read(best))
    }

    /// Labels after a radiator, by kind of what follows.
    fn pass(&mut self, k: usize, laid: &[Vec<Label>]) -> Vec<Vec<Label>> {
        let stage = &self.all.stages[k];
        let mut next: Vec<Vec<Label>> = vec![Vec::new(); stage.kinds[1]];
        for (a, labels) in laid.iter().enumerate() {
            for l in labels {
                for (b, next) in next.iter_mut().enumerate() {
                    for (i, heat) in self.tables[k].at([a, b], l.c) {
                        self.looks += 1;
                        let f = &stage.fittings[i];
                        let then = Label {
                            price: l.price + f.price,
                            loss_pa: l.loss_pa + f.load_pa + heat.more_pa,
                            c: l.c - heat.cools_k,
                            before: l.before,
                            what: i as u32,
                        };
                        if then.c >= stage.least_c && self.leads(k + 1, b, &then) {
                            next.push(then);
                        }
                    }
                }
            }
        }
        for labels in &mut next {
            self.keep(labels);
        }
        next
    }

    /// Whether what was spent before a stretch can lead home within cap and head.
    fn leads(&self, stage: usize, kind: usize, l: &Label) -> bool {
        let left_pa = self.all.limit_pa - l.loss_pa;
        let most = self.cap as f64 * (1.0 + 1e-12) + 1.0;
        let go = self.ahead.go(stage, kind, l.c);
        go.is_some_and(|go| {
            let mut each = go.iter().zip(&self.ahead.prices);
            each.all(|(go, per_pa)| l.price as f64 + go - per_pa * left_pa <= most)
        })
    }

    /// Keeps what nothing at most as dear beats in loss and temperature, and remembers how it came about.
    fn keep(&mut self, labels: &mut Vec<Label>) {
        let (mut bin_pa, mut bin_k, most) = match self.all.lean {
            Lean::Bound => (BIN_PA, BIN_K, MOST_LABELS),
            Lean::Plan => (PLAN_BIN_PA, PLAN_BIN_K, PLAN_LABELS),
        };
        labels.sort_unstable_by(|a, b| {
            let by_loss = a.loss_pa.total_cmp(&b.loss_pa);
            let by_heat = b.c.total_cmp(&a.c);
            let by_trail = (a.before, a.what).cmp(&(b.before, b.what));
            a.price
                .cmp(&b.price)
                .then(by_loss)
                .then(by_heat)
                .then(by_trail)
        });
        loop {
            self.prune(labels, bin_pa, bin_k);
            if labels.len() <= most {
                break;
            }
            (bin_pa, bin_k) = (2.0 * bin_pa, 2.0 * bin_k);
        }
        for l in labels.iter_mut() {
            self.trail.push((l.before, l.what));
            l.before = self.trail.len() as u32 - 1;
        }
    }

    /// Drops labels, in the order of their prices, that one before them beats as far as bins tell them apart.
    fn prune(&self, labels: &mut Vec<Label>, bin_pa: f64, bin_k: f64) {
        // losses rising, and with them temperatures: the stair of what was kept
        let mut stair: Vec<(f64, f64)> = Vec::new();
        let bound = self.all.lean == Lean::Bound;
        labels.retain_mut(|l| {
            let loss = (l.loss_pa / bin_pa).floor();
            let heat = l.c / bin_k;
            let heat = if bound { heat.ceil() } else { heat.floor() };
            let at = stair.partition_point(|s| s.0 <= loss);
            if at > 0 && stair[at - 1].1 >= heat {
                return false;
            }
            let beaten = stair[at..].partition_point(|s| s.1 <= heat);
            let same = at > 0 && stair[at - 1].0 == loss;
            stair.splice(at - usize::from(same)..at + beaten, [(loss, heat)]);
            if bound {
                (l.loss_pa, l.c) = (loss * bin_pa, heat * bin_k);
            }
            true
        });
    }

    fn read(&self, best: &Label) -> Way {
        let mut at = best.before;
        let mut next = || {
            let (before, what) = self.trail[at as usize];
            at = before;
            what as usize
        };
        let beside = self.all.rest.iter().rev();
        let rest = beside.map(|(d, pipes)| (*d, pipes[next()].choice));
        let rest: Vec<(usize, usize)> = rest.collect();
        let home = self.all.home_pipes[next()].choice;
        let stages = self.all.stages.iter().rev().map(|stage| {
            let fitting = stage.fittings[next()].at;
            (stage.pipes[next()].choice, fitting)
        });
        let mut stages: Vec<(usize, usize)> = stages.collect();
        stages.reverse();
        Way {
            price: self.all.base + best.price,
            stages,
            home,
            rest,
        }
    }
}

/// Labels with a pipe after them, by its kind; `top_c` the warmest that water can be there.
fn lay(here: &[Vec<Label>], pipes: &[Pipe], top_c: f64) -> Vec<Vec<Label>> {
    let mut next = vec![Vec::new(); here.len()];
    for (i, pipe) in pipes.iter().enumerate() {
        next[pipe.kind].extend(here[pipe.kind].iter().map(|l| Label {
            price: l.price + pipe.price,
            loss_pa: l.loss_pa + pipe.load_pa + pipe.colder_pa_k * (top_c - l.c).max(0.0),
            what: i as u32,
            ..*l
        }));
    }
    next
}
