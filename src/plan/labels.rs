//! The cheapest way along a loop: what can stand where, and what of it leads anywhere.
//!
//! What cannot lead to a way within the cap goes beforehand, by the price of the cheapest rest where head has a price of its
//! own (Lagrange; Beasley and Christofides 1989, from memory). What is left has its heats tabled ([`super::heats`]), then the
//! least that is still to be paid is found from the end ([`super::ahead`]), and then the ways from the beginning
//! ([`super::walk`]).

use super::ahead::Ahead;
use super::heats::Table;
use super::lefts::{Cooler, Lefts};
use super::splits::{Splits, Thin};
use super::walk::Walk;
use rayon::prelude::*;
use std::sync::Arc;

/// Caps that are tried, as multiples of what nothing is cheaper than: by price and head, and by the heat in the water too.
const FAR: [f64; 1] = [1.2];
const NEAR: [f64; 2] = [1.01, 1.05];
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
    /// With the warmest water that comes there.
    pub load_pa: f64,
    /// Pa more for each kelvin that it is colder.
    pub colder_pa_k: f64,
}

/// What stands at a radiator between two kinds of main.
#[derive(Clone, Debug)]
pub(super) struct Fitting {
    /// Kinds before and after.
    pub sides: [usize; 2],
    /// Which combination of its tie.
    pub at: usize,
    pub price: i64,
    /// With the warmest water that comes there.
    pub load_pa: f64,
    /// Of it what is lost between its tees.
    pub between_pa: f64,
    pub body: Cooler,
    /// Heat that is asked of it, W.
    pub need_w: f64,
    /// How the water splits there: which of its stage's.
    pub splits: usize,
}

/// A stretch of the main and the radiator after it.
#[derive(Clone, Debug)]
pub(super) struct Stage {
    pub pipes: Vec<Pipe>,
    /// How many kinds there are before and after the radiator.
    pub kinds: [usize; 2],
    pub room_c: f64,
    /// The warmest that the water can be here, °C.
    pub top_c: f64,
    /// What its radiator takes from it at least, K.
    pub asks_k: f64,
    /// The coldest that it may leave, °C.
    pub least_c: f64,
    pub fittings: Vec<Fitting>,
    pub splits: Vec<Arc<Splits>>,
}

/// The water of the main: its least and greatest flow.
#[derive(Clone, Debug)]
pub(super) struct Water {
    /// Logarithm of the flow as a multiple of what is required.
    pub ln_times: [f64; 2],
    /// The same of the flow at which losses are counted, and whether colder water loses more.
    pub ln_lost: f64,
    pub colder: bool,
    /// Capacity, W/K, and its logarithm.
    pub w_k: [f64; 2],
    pub ln_w_k: [f64; 2],
    pub thin: Thin,
    /// How it cools in what stands along the loop.
    pub lefts: Arc<Lefts>,
}

/// All of a loop.
#[derive(Clone, Debug)]
pub(super) struct Stages {
    pub stages: Vec<Stage>,
    /// The stretch home.
    pub home_pipes: Vec<Pipe>,
    /// The warmest that the water can be there, °C.
    pub home_top_c: f64,
    /// What lies on the way beside the loop.
    pub rest: Vec<(usize, Vec<Pipe>)>,
    /// Price of what stands in any case.
    pub base: i64,
    /// What may be lost, Pa.
    pub limit_pa: f64,
    pub start_c: f64,
    pub water: Water,
    pub lean: Lean,
}

/// The cheapest way.
#[derive(Clone, Debug)]
pub(super) struct Way {
    pub price: i64,
    /// Choice of the pipe and place of the combination, by stage.
    pub stages: Vec<(usize, usize)>,
    pub home: usize,
    /// Of what lies beside the loop: decision and choice.
    pub rest: Vec<(usize, usize)>,
}

/// Price of a choice where each Pa costs so much.
pub(super) fn at_price(price: i64, load_pa: f64, per_pa: f64) -> f64 {
    price as f64 + per_pa * load_pa
}

fn cheapest(pipes: &[Pipe], kind: Option<usize>, per_pa: f64) -> f64 {
    let of = pipes.iter().filter(|p| kind.is_none_or(|k| p.kind == k));
    let prices = of.map(|p| at_price(p.price, p.load_pa, per_pa));
    prices.fold(f64::INFINITY, f64::min)
}

/// The cheapest that can stand before and after each radiator, by kind, where each Pa costs so much.
struct Priced {
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
        Priced { before, after }
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

    /// Asks a share more heat of what stands at a radiator.
    pub fn ask(&mut self, stage: usize, more: f64) {
        for f in &mut self.stages[stage].fittings {
            f.need_w *= 1.0 + more;
        }
    }

    /// Lets the water end no colder than this, °C: what is left has to be enough for those after.
    pub fn end_above(&mut self, mut c: f64) {
        for stage in self.stages.iter_mut().rev() {
            stage.least_c = stage.least_c.max(c);
            c += stage.asks_k;
        }
    }

    /// Leaves out what does not give enough with the warmest water that can come there; false if none is left.
    fn warm(&mut self) -> bool {
        let at = (&self.water, self.lean);
        self.stages.par_iter_mut().all(|stage| stage.warm(at))
    }

    /// The price that no way is cheaper than, as far as price and head say, at one price of head.
    fn least(&self, per_pa: f64) -> f64 {
        let priced = self.priced(per_pa);
        let first = self.stages.first().map_or(&[][..], |s| &s.fittings);
        let ways = first.iter().map(|f| {
            let [a, b] = f.sides;
            let own = at_price(f.price, f.load_pa, per_pa);
            priced.before[0][a] + own + priced.after[0][b]
        });
        self.base as f64 + ways.fold(f64::INFINITY, f64::min) - per_pa * self.limit_pa
    }

    /// The cheapest way that costs at most `cap`, as far as labels tell ways apart.
    /// Counts partial ways.
    pub fn cheapest(&self, cap: i64, looks: &mut u64) -> Option<Way> {
        let prices = self.prices()?;
        let mut all = self.clone();
        if !(all.thin(cap, &prices) && all.warm()) {
            return None;
        }
        let least = prices.iter().map(|p| all.least(*p)).fold(0.0, f64::max);
        let far = FAR.iter().map(|share| (least * share) as i64);
        let caps: Vec<i64> = far.take_while(|far| *far < cap).chain([cap]).collect();
        caps.into_iter()
            .find_map(|cap| all.clone().within((cap, &prices), looks))
    }

    fn within(mut self, (cap, prices): (i64, &[f64]), looks: &mut u64) -> Option<Way> {
        // what is left out first makes the rest dearer
        if !(self.thin(cap, prices) && self.thin(cap, prices)) {
            return None;
        }
        let at = (&self.water, self.lean);
        let left = self.stages.iter().map(|s| s.least_c);
        let coldest = [self.start_c].into_iter().chain(left);
        let coldest: Vec<f64> = coldest.take(self.stages.len()).collect();
        let tables = self.stages.par_iter().zip(coldest);
        let tables: Vec<Table> = tables.map(|(s, c)| Table::of(s, at, c)).collect();
        let least = prices.iter().map(|p| self.least(*p));
        let best = least.enumerate().max_by(|a, b| a.1.total_cmp(&b.1))?.0;
        let near = &prices[best.saturating_sub(1)..(best + 2).min(prices.len())];
        let ahead = Ahead::of(&self, &tables, near.to_vec());
        let cap = cap.saturating_sub(self.base);
        let kinds = 0..self.stages.first().map_or(1, |s| s.kinds[0]);
        let ways = kinds.filter_map(|kind| ahead.go(0, kind, self.start_c));
        let whole = ways.map(|go| {
            let each = go.iter().zip(near);
            let each = each.map(|(go, per_pa)| go - per_pa * self.limit_pa);
            each.fold(0.0, f64::max)
        });
        let least = whole.fold(f64::INFINITY, f64::min);
        if least > cap as f64 {
            return None;
        }
        // the nearer a cap, the fewer ways lead on
        let near = NEAR.iter().map(|share| (least * share) as i64 + 1);
        let caps = near.take_while(|near| *near < cap);
        let walk = |cap: i64| {
            let (way, own) = Walk::new(&self, &tables, &ahead, cap).walk();
            *looks += own;
            way
        };
        caps.chain([cap]).find_map(walk)
    }
}
