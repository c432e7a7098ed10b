//! The cheapest way along a loop, by labels of price, loss and temperature.
//!
//! Stage by stage a label is kept for every partial way that nothing at most as dear beats: that loses as little and leaves
//! the water as warm (a shortest path with resources; Desrochers and Soumis 1988). What cannot lead to a way within the cap
//! goes beforehand, by the price of the cheapest rest where head has a price of its own (Lagrange; Beasley and Christofides
//! 1989).

use crate::hydraulics::heat::{Begun, Body};

/// Steps of temperature by which heats are tabled, K.
const GRID_K: f64 = 0.5;
/// Share of a need that rounding may cost.
const ROUNDING: f64 = 1e-9;
/// Rows of such a table at most.
const MOST_ROWS: usize = 80;
/// Labels that are worth telling apart: K and Pa. A bound rounds each of them its own way.
const BIN_K: f64 = 0.002;
const BIN_PA: f64 = 2.0;
/// The same where a plan is sought and nothing is rounded.
const PLAN_BIN_K: f64 = 0.03;
const PLAN_BIN_PA: f64 = 30.0;
/// Labels of one kind beyond which they are told apart by twice as much, for a bound and for a plan.
const MOST_LABELS: usize = 1_500;
const PLAN_LABELS: usize = 500;
/// Prices of head that are tried, as multiples of the dearest choice over all the head there is.
const PRICES: [f64; 9] = [0.0, 0.03, 0.1, 0.2, 0.4, 0.8, 1.6, 4.0, 12.0];

/// Which way a figure may be wrong.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Lean {
    /// Towards ways that work: for a bound.
    Bound,
    /// Towards nothing: for a plan.
    Plan,
}

/// What a stretch of the main can be.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pipe {
    pub choice: usize,
    /// Which kind of stretch that is.
    pub kind: usize,
    pub price: i64,
    pub load_pa: f64,
}

/// What stands at a radiator between two kinds of main.
#[derive(Clone, Debug)]
pub(super) struct Fitting {
    /// Kinds before and after.
    pub sides: [usize; 2],
    /// Which combination of its tie.
    pub at: usize,
    pub price: i64,
    pub load_pa: f64,
    pub body: Body,
    /// Heat that is asked of it, W.
    pub need_w: f64,
    /// Capacity of its share of the water, the least and the greatest, W/K.
    pub share_w_k: [f64; 2],
}

/// A stretch of the main and the radiator after it.
#[derive(Debug)]
pub(super) struct Stage {
    pub pipes: Vec<Pipe>,
    /// How many kinds there are before and after the radiator.
    pub kinds: [usize; 2],
    pub room_c: f64,
    /// The warmest that the water can be here, °C.
    pub top_c: f64,
    pub fittings: Vec<Fitting>,
}

/// All of a loop.
#[derive(Debug)]
pub(super) struct Stages {
    pub stages: Vec<Stage>,
    /// The stretch home.
    pub home_pipes: Vec<Pipe>,
    /// What lies on the way beside the loop.
    pub rest: Vec<(usize, Vec<Pipe>)>,
    /// Price of what stands in any case.
    pub base: i64,
    /// What may be lost, Pa.
    pub limit_pa: f64,
    pub start_c: f64,
    /// Capacity of the main's water, W/K.
    pub main_w_k: f64,
    pub lean: Lean,
}

/// The cheapest way.
pub(super) struct Way {
    pub price: i64,
    /// Choice of the pipe and place of the combination, by stage.
    pub stages: Vec<(usize, usize)>,
    pub home: usize,
    /// Of what lies beside the loop: decision and choice.
    pub rest: Vec<(usize, usize)>,
}

/// Heats of a fitting by row of the table: heat over need, less one, and what the main cools by, K.
type Heats = Vec<(f64, f64)>;

#[derive(Clone, Copy)]
struct Label {
    price: i64,
    loss_pa: f64,
    c: f64,
    before: u32,
    what: u32,
}

/// Price of a choice where each Pa costs so much.
fn at_price(price: i64, load_pa: f64, per_pa: f64) -> f64 {
    price as f64 + per_pa * load_pa
}

fn cheapest(pipes: &[Pipe], kind: Option<usize>, per_pa: f64) -> f64 {
    let of = pipes.iter().filter(|p| kind.is_none_or(|k| p.kind == k));
    let prices = of.map(|p| at_price(p.price, p.load_pa, per_pa));
    prices.fold(f64::INFINITY, f64::min)
}

/// The cheapest that can stand before and after each radiator, by kind, where each Pa costs so much.
struct Priced {
    per_pa: f64,
    /// By stage and kind of its stretch, that stretch included.
    before: Vec<Vec<f64>>,
    /// By stage and kind after its radiator, the next stretch included.
    after: Vec<Vec<f64>>,
}

impl Stages {
    fn priced(&self, per_pa: f64) -> Priced {
        let n = self.stages.len();
        let rest: f64 = self
            .rest
            .iter()
            .map(|(_, pipes)| cheapest(pipes, None, per_pa))
            .sum();
        let (mut before, mut after) = (Vec::with_capacity(n), vec![Vec::new(); n]);
        let mut come = vec![0.0; self.stages.first().map_or(1, |s| s.kinds[0])];
        for stage in &self.stages {
            let here: Vec<f64> = (0..stage.kinds[0])
                .map(|kind| come[kind] + cheapest(&stage.pipes, Some(kind), per_pa))
                .collect();
            come = vec![f64::INFINITY; stage.kinds[1]];
            for f in &stage.fittings {
                let [a, b] = f.sides;
                come[b] = come[b].min(here[a] + at_price(f.price, f.load_pa, per_pa));
            }
            before.push(here);
        }
        let last = self.stages.last().map_or(1, |s| s.kinds[1]);
        let mut go: Vec<f64> = (0..last)
            .map(|kind| rest + cheapest(&self.home_pipes, Some(kind), per_pa))
            .collect();
        for (k, stage) in self.stages.iter().enumerate().rev() {
            let mut here = vec![f64::INFINITY; stage.kinds[0]];
            for f in &stage.fittings {
                let [a, b] = f.sides;
                here[a] = here[a].min(go[b] + at_price(f.price, f.load_pa, per_pa));
            }
            after[k] = go;
            let own = |kind: usize| here[kind] + cheapest(&stage.pipes, Some(kind), per_pa);
            go = (0..stage.kinds[0]).map(own).collect();
        }
        Priced {
            per_pa,
            before,
            after,
        }
    }

    /// Leaves out fittings that no way within the cap holds; false if none is left.
    fn thin(&mut self, cap: i64, prices: &[f64]) -> bool {
        let spent = self.base as f64;
        // prices of a few hundred million steps, added in doubles
        let over = (cap as f64) * (1.0 + 1e-12) + 1.0;
        for &per_pa in prices {
            let priced = self.priced(per_pa);
            let paid = per_pa * self.limit_pa;
            for (k, stage) in self.stages.iter_mut().enumerate() {
                stage.fittings.retain(|f| {
                    let [a, b] = f.sides;
                    let own = at_price(f.price, f.load_pa, per_pa);
                    spent + priced.before[k][a] + own + priced.after[k][b] - paid <= over
                });
                if stage.fittings.is_empty() {
                    return false;
                }
            }
        }
        true
    }

    /// Prices of head that are tried.
    fn prices(&self) -> Option<[f64; 9]> {
        let fittings = self.stages.iter().flat_map(|s| &s.fittings);
        let dearest = fittings.map(|f| f.price).max()? as f64;
        (self.limit_pa > 0.0).then(|| PRICES.map(|p| p * dearest / self.limit_pa))
    }

    /// The same without what no way within a cap holds; nothing if none is.
    pub fn thinned(mut self, cap: i64) -> Option<Self> {
        let prices = self.prices()?;
        // what is left out first makes the rest dearer
        (self.thin(cap, &prices) && self.thin(cap, &prices)).then_some(self)
    }

    /// The cheapest way that costs at most `cap`, as far as labels tell ways apart.
    pub fn cheapest(self, cap: i64) -> Option<Way> {
        let prices = self.prices()?;
        let all = self.thinned(cap)?;
        let priced: Vec<Priced> = prices.iter().map(|p| all.priced(*p)).collect();
        Walk {
            all: &all,
            priced,
            cap: cap.saturating_sub(all.base),
            trail: vec![(u32::MAX, 0)],
        }
        .walk()
    }
}

impl Stage {
    /// Heats of all fittings by rows of a table, hottest first, down to what the coldest water calls for and as long as anything
    /// gives what it must.
    fn heats(&self, main_w_k: f64, coldest_c: f64) -> Vec<Heats> {
        let mut begun = vec![[Begun::NOTHING; 2]; self.fittings.len()];
        let mut heats: Vec<Heats> = vec![Vec::new(); self.fittings.len()];
        let rows = ((self.top_c - coldest_c) / GRID_K).max(0.0) as usize + 2;
        for row in 0..rows.min(MOST_ROWS) {
            let c = self.top_c - GRID_K * row as f64;
            let mut any = false;
            for (i, f) in self.fittings.iter().enumerate() {
                let [low, high] = f.share_w_k;
                let mut give = |side: usize, w_k: f64| {
                    w_k * (c - f
                        .body
                        .outlet(c, w_k, self.room_c, &mut begun[i][side])
                        .out_c)
                };
                let most = give(1, high);
                let least = if low == high { most } else { give(0, low) };
                // what stands here gives its need at least
                let over = most / f.need_w - 1.0 + ROUNDING;
                heats[i].push((over, least.max(f.need_w) / main_w_k));
                any |= over >= 0.0;
            }
            if !any {
                break;
            }
        }
        heats
    }

    /// By pair of kinds and step of the table: fittings that give enough there, without those that another beats all over the
    /// step: no dearer, no more loss, no more heat taken from the water.
    fn cells(&self, heats: &[Heats]) -> Vec<Vec<Vec<usize>>> {
        let rows = heats.iter().map(Vec::len).max().unwrap_or(0);
        let mut pairs = vec![Vec::new(); self.kinds[0] * self.kinds[1]];
        for (i, f) in self.fittings.iter().enumerate() {
            pairs[f.sides[0] * self.kinds[1] + f.sides[1]].push(i);
        }
        for pair in &mut pairs {
            pair.sort_by(|&x, &y| {
                let (a, b) = (&self.fittings[x], &self.fittings[y]);
                let by_load = a.load_pa.total_cmp(&b.load_pa);
                a.price.cmp(&b.price).then(by_load).then(x.cmp(&y))
            });
        }
        let cell = |pair: &Vec<usize>, row: usize| {
            let mut kept: Vec<usize> = Vec::new();
            for &i in pair.iter().filter(|i| heats[**i][row].0 >= 0.0) {
                let (f, own) = (&self.fittings[i], &heats[i][row..row + 2]);
                let beaten = kept.iter().any(|&k| {
                    let (g, other) = (&self.fittings[k], &heats[k][row..row + 2]);
                    g.load_pa <= f.load_pa
                        && other[1].0 >= 0.0
                        && other[0].1 <= own[0].1
                        && other[1].1 <= own[1].1
                });
                if !beaten {
                    kept.push(i);
                }
            }
            kept
        };
        pairs
            .iter()
            .map(|pair| (1..rows).map(|row| cell(pair, row - 1)).collect())
            .collect()
    }
}

/// One search along a loop.
struct Walk<'s> {
    all: &'s Stages,
    priced: Vec<Priced>,
    cap: i64,
    /// What stands before, and what was chosen.
    trail: Vec<(u32, u32)>,
}

impl Walk<'_> {
    fn walk(mut self) -> Option<Way> {
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
            let mut laid = lay(&here, &stage.pipes);
            for labels in &mut laid {
                self.keep(labels);
            }
            here = self.pass(k, stage, &laid);
        }
        let mut last: Vec<Label> = lay(&here, &all.home_pipes).concat();
        // where the water ends it may be as cold as it likes
        for l in &mut last {
            l.c = 0.0;
        }
        self.keep(&mut last);
        for (_, pipes) in &all.rest {
            let own: Vec<Pipe> = pipes.iter().map(|p| Pipe { kind: 0, ..*p }).collect();
            last = lay(&[last], &own).concat();
            self.keep(&mut last);
        }
        last.retain(|l| l.loss_pa <= all.limit_pa && l.price <= self.cap);
        let best = last
            .iter()
            .min_by(|a, b| a.price.cmp(&b.price).then(a.before.cmp(&b.before)))?;
        Some(self.read(best))
    }

    /// Labels after a radiator, by kind of what follows.
    fn pass(&mut self, k: usize, stage: &Stage, laid: &[Vec<Label>]) -> Vec<Vec<Label>> {
        let coldest_c = laid.iter().flatten().map(|l| l.c);
        let coldest_c = coldest_c.fold(f64::INFINITY, f64::min);
        let heats = stage.heats(self.all.main_w_k, coldest_c);
        let cells = stage.cells(&heats);
        let mut next: Vec<Vec<Label>> = vec![Vec::new(); stage.kinds[1]];
        for (a, labels) in laid.iter().enumerate() {
            for l in labels {
                let at = ((stage.top_c - l.c) / GRID_K).max(0.0);
                let row = at.floor() as usize;
                let part = at - row as f64;
                for (b, next) in next.iter_mut().enumerate() {
                    let can = cells[a * stage.kinds[1] + b].get(row);
                    for &i in can.into_iter().flatten() {
                        let (f, [p, q]) = (&stage.fittings[i], [heats[i][row], heats[i][row + 1]]);
                        let over = p.0 + part * (q.0 - p.0);
                        let price = l.price + f.price;
                        let loss_pa = l.loss_pa + f.load_pa;
                        if over >= 0.0 && self.leads(k, b, price, loss_pa) {
                            next.push(Label {
                                price,
                                loss_pa,
                                c: l.c - (p.1 + part * (q.1 - p.1)),
                                before: l.before,
                                what: i as u32,
                            });
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

    /// Whether what was spent up to a radiator can lead home within cap and head.
    fn leads(&self, k: usize, kind: usize, price: i64, loss_pa: f64) -> bool {
        let left_pa = self.all.limit_pa - loss_pa;
        self.priced.iter().all(|priced| {
            let go = price as f64 + priced.after[k][kind] - priced.per_pa * left_pa;
            go <= self.cap as f64 * (1.0 + 1e-12) + 1.0
        })
    }

    /// Keeps what nothing at most as dear beats in loss and temperature, and remembers how it came about.
    fn keep(&mut self, labels: &mut Vec<Label>) {
        let (mut bin_pa, mut bin_k, most) = match self.all.lean {
            Lean::Bound => (BIN_PA, BIN_K, MOST_LABELS),
            Lean::Plan => (PLAN_BIN_PA, PLAN_BIN_K, PLAN_LABELS),
        };
        labels.sort_by(|a, b| {
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

/// Labels with a pipe after them, by its kind.
fn lay(here: &[Vec<Label>], pipes: &[Pipe]) -> Vec<Vec<Label>> {
    let mut next = vec![Vec::new(); here.len()];
    for (i, pipe) in pipes.iter().enumerate() {
        next[pipe.kind].extend(here[pipe.kind].iter().map(|l| Label {
            price: l.price + pipe.price,
            loss_pa: l.loss_pa + pipe.load_pa,
            what: i as u32,
            ..*l
        }));
    }
    next
}
