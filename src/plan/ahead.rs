//! What the rest of a loop costs at least, from every temperature, where each Pa has a price of its own.
//!
//! With a price on head (Lagrange) one resource is left, the heat in the water; the least for that is found backwards from
//! the end, at steps of temperature, for several prices at once. A temperature between two steps counts as the warmer of
//! them, so that nothing costs more than is said here.

use super::heats::Table;
use super::labels::{Pipe, Stages, at_price};

/// Steps of temperature, K.
const STEP_K: f64 = 0.08;

/// The least that is still to be paid, by stretch.
pub(super) struct Ahead {
    /// Prices of a Pa.
    pub prices: Vec<f64>,
    stretches: Vec<Stretch>,
}

struct Stretch {
    /// By its kind, steps under the warmest water, and price; that stretch included.
    by: Vec<Vec<f64>>,
    top_c: f64,
    home: bool,
}

impl Ahead {
    /// Of what can be chosen and its tables.
    pub fn of(all: &Stages, tables: &[Table], prices: Vec<f64>) -> Self {
        let kinds = all.stages.last().map_or(1, |s| s.kinds[1]);
        let deep_k = tables.last().map_or(0.0, Table::deep_k);
        let end = |kind: usize| {
            let at = (0..=steps(deep_k)).flat_map(|i| prices.iter().map(move |p| (i, *p)));
            let pay = |(i, per_pa): (usize, f64)| {
                let rest = all.rest.iter();
                let rest = rest.map(|(_, pipes)| cheapest(pipes, None, (0.0, per_pa)));
                let home = cheapest(&all.home_pipes, Some(kind), (STEP_K * i as f64, per_pa));
                rest.sum::<f64>() + home
            };
            at.map(pay).collect()
        };
        let mut stretches = vec![Stretch {
            by: (0..kinds).map(end).collect(),
            top_c: all.home_top_c,
            home: true,
        }];
        for (stage, table) in all.stages.iter().zip(tables).rev() {
            let next = &stretches[stretches.len() - 1];
            let own = (0..stage.kinds[0]).map(|a| {
                let mut own = Vec::new();
                for i in 0..=steps(table.deep_k()) {
                    let under_k = STEP_K * i as f64;
                    let c = stage.top_c - under_k;
                    let begin = own.len();
                    own.resize(begin + prices.len(), f64::INFINITY);
                    let here = &mut own[begin..];
                    for b in 0..stage.kinds[1] {
                        for (i, heat) in table.at([a, b], c) {
                            let after_c = c - heat.cools_k;
                            let Some(go) = next.go(b, after_c, prices.len()) else {
                                continue;
                            };
                            if after_c >= stage.least_c {
                                let f = &stage.fittings[i];
                                let lost_pa = f.load_pa + heat.more_pa;
                                for ((least, go), per_pa) in here.iter_mut().zip(go).zip(&prices) {
                                    *least = least.min(at_price(f.price, lost_pa, *per_pa) + go);
                                }
                            }
                        }
                    }
                    for (least, per_pa) in here.iter_mut().zip(&prices) {
                        *least += cheapest(&stage.pipes, Some(a), (under_k, *per_pa));
                    }
                }
                own
            });
            let by = own.collect();
            stretches.push(Stretch {
                by,
                top_c: stage.top_c,
                home: false,
            });
        }
        stretches.reverse();
        Self { prices, stretches }
    }

    /// What is still to be paid before a stretch with water of a temperature, by price; the stretch home comes last. Nothing
    /// where no way leads on.
    pub fn go(&self, stretch: usize, kind: usize, c: f64) -> Option<&[f64]> {
        self.stretches[stretch].go(kind, c, self.prices.len())
    }
}

impl Stretch {
    fn go(&self, kind: usize, c: f64, prices: usize) -> Option<&[f64]> {
        let by = &self.by[kind];
        let at = ((self.top_c - c) / STEP_K).max(0.0) as usize;
        // beyond its end nothing gives enough, save on the way home
        let end = by.len() / prices;
        let at = if self.home { at.min(end - 1) } else { at };
        by.get(at * prices..(at + 1) * prices)
    }
}

fn steps(deep_k: f64) -> usize {
    (deep_k / STEP_K).ceil() as usize
}

/// The cheapest pipe of a kind, so many kelvins under the warmest water.
fn cheapest(pipes: &[Pipe], kind: Option<usize>, (under_k, per_pa): (f64, f64)) -> f64 {
    let of = pipes.iter().filter(|p| kind.is_none_or(|k| p.kind == k));
    let prices = of.map(|p| at_price(p.price, p.load_pa + under_k * p.colder_pa_k, per_pa));
    prices.fold(f64::INFINITY, f64::min)
}
