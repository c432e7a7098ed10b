//! What stands at a radiator does to water of any temperature: tables by half a kelvin, straight between.

use super::labels::{Fitting, Lean, Stage, Water};
use super::lefts::Inlet;
use super::splits::Splits;
use crate::maths;

/// Steps of temperature by which heats are tabled, K.
pub(super) const GRID_K: f64 = 0.5;
/// Share of a need that rounding and tables of cooling may cost.
const ROUNDING: f64 = 1e-6;
/// Rows of such a table at most.
const MOST_ROWS: usize = 80;
/// Rounds of share and cooling for the hottest row; each row after it begins with the one before.
const FIRST_ROUNDS: usize = 3;

/// What a fitting does to water of some temperature.
#[derive(Clone, Copy)]
pub(super) struct Heat {
    /// Heat over need, less one.
    pub over: f64,
    /// What the main cools by, K.
    pub cools_k: f64,
    /// What is lost between its tees more than with the warmest water, Pa.
    pub more_pa: f64,
}

/// The same by row of the table.
type Heats = Vec<Heat>;

/// A stage's table, down to the coldest water with which anything gives what it must.
pub(super) struct Table {
    heats: Vec<Heats>,
    /// By pair of kinds and row: what is worth choosing from there to the next row.
    cells: Vec<Vec<Vec<usize>>>,
    top_c: f64,
    kinds: [usize; 2],
}

impl Table {
    /// Down to the coldest water that may come.
    pub fn of(stage: &Stage, at: (&Water, Lean), coldest_c: f64) -> Self {
        let rows = ((stage.top_c - coldest_c) / GRID_K).max(0.0).ceil() as usize;
        let heats = stage.heats(at, rows.saturating_add(2).min(MOST_ROWS));
        Self {
            cells: stage.cells(&heats),
            heats,
            top_c: stage.top_c,
            kinds: stage.kinds,
        }
    }

    /// How far under the warmest water it goes, K.
    pub fn deep_k(&self) -> f64 {
        let rows = self.heats.first().map_or(0, Vec::len);
        GRID_K * rows.saturating_sub(1) as f64
    }

    /// What is worth choosing between two kinds with water of a temperature, and what it does.
    pub fn at(&self, [a, b]: [usize; 2], c: f64) -> impl Iterator<Item = (usize, Heat)> {
        let at = ((self.top_c - c) / GRID_K).max(0.0);
        let row = at.floor() as usize;
        let part = at - row as f64;
        let can = self.cells[a * self.kinds[1] + b].get(row);
        let own = move |i: &usize| {
            let (p, q) = (self.heats[*i][row], self.heats[*i][row + 1]);
            let of = |p: f64, q: f64| p + part * (q - p);
            let heat = Heat {
                over: of(p.over, q.over),
                cools_k: of(p.cools_k, q.cools_k),
                more_pa: of(p.more_pa, q.more_pa),
            };
            (heat.over >= 0.0).then_some((*i, heat))
        };
        can.into_iter().flatten().filter_map(own)
    }
}

impl Stage {
    /// Heats of all fittings by rows of a table, hottest first, so many of them at most and as long as anything gives what it
    /// must.
    fn heats(&self, (water, lean): (&Water, Lean), most: usize) -> Vec<Heats> {
        let mut givers: Vec<Giver> = self.fittings.iter().map(|_| Giver::new()).collect();
        let mut heats: Vec<Heats> = vec![Vec::with_capacity(most); self.fittings.len()];
        for row in 0..most {
            let c = self.top_c - GRID_K * row as f64;
            let inlet = Inlet::new(c, self.room_c);
            let mut any = false;
            for ((f, giver), heats) in self.fittings.iter().zip(&mut givers).zip(&mut heats) {
                let splits = &self.splits[f.splits];
                // how far the water cools in it hangs on its share, and that a little on how far it cools
                if row == 0 {
                    for _ in 0..FIRST_ROUNDS {
                        giver.heats((water, lean), (f, splits), inlet, c);
                    }
                }
                let [least, most] = giver.heats((water, lean), (f, splits), inlet, c);
                let over = most / f.need_w - 1.0 + ROUNDING;
                heats.push(Heat {
                    over,
                    // what stands here gives its need at least
                    cools_k: least.max(f.need_w) / water.w_k[1],
                    more_pa: (giver.between_pa - f.between_pa).max(0.0),
                });
                any |= over >= 0.0;
            }
            if !any {
                break;
            }
        }
        heats
    }

    /// Leaves out what does not give enough with the warmest water that can come there; false if none is left.
    pub fn warm(&mut self, at: (&Water, Lean)) -> bool {
        let mut heats = self.heats(at, 1).into_iter();
        self.fittings.retain(|_| {
            let warmest = heats.next().and_then(|rows| rows.first().copied());
            warmest.is_some_and(|heat| heat.over >= 0.0)
        });
        !self.fittings.is_empty()
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
            for &i in pair.iter().filter(|i| heats[**i][row].over >= 0.0) {
                let (f, own) = (&self.fittings[i], &heats[i][row..row + 2]);
                let beaten = kept.iter().any(|&k| {
                    let (g, other) = (&self.fittings[k], &heats[k][row..row + 2]);
                    let less = |i: usize| {
                        g.load_pa + other[i].more_pa <= f.load_pa + own[i].more_pa
                            && other[i].cools_k <= own[i].cools_k
                    };
                    other[1].over >= 0.0 && less(0) && less(1)
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

/// A fitting as the water gets colder.
struct Giver {
    /// How far the water cools in it, K.
    drop_k: f64,
    /// What is lost between its tees, Pa.
    between_pa: f64,
}

impl Giver {
    fn new() -> Self {
        Self {
            drop_k: 0.0,
            between_pa: 0.0,
        }
    }

    /// What it gives at least and at most, W, with water that comes at a temperature.
    fn heats(
        &mut self,
        (water, lean): (&Water, Lean),
        (f, splits): (&Fitting, &Splits),
        inlet: Inlet,
        c: f64,
    ) -> [f64; 2] {
        let thin = water.thin.at(c);
        // by what the water thickens on its way through
        let thicker = thin - water.thin.at(c - self.drop_k);
        let [from, to] = water.ln_times.map(|ln| ln + thin);
        let shares = match lean {
            Lean::Bound => splits.within(from, to, thicker),
            Lean::Plan => [splits.share(from, thicker); 2],
        };
        if water.colder {
            let lost_pa = splits.lost_pa(water.ln_lost + thin, thicker);
            self.between_pa = lost_pa * maths::exp(-2.0 * thin);
        }
        let mut drops_k = [0.0; 2];
        let mut heats_w = [0.0; 2];
        for i in 0..2 {
            let w_k = shares[i] * water.w_k[i];
            let ln_w_k = maths::ln(shares[i]) + water.ln_w_k[i];
            drops_k[i] = water.lefts.drop_k(f.body, inlet, (w_k, ln_w_k));
            heats_w[i] = w_k * drops_k[i];
        }
        self.drop_k = 0.5 * (drops_k[0] + drops_k[1]);
        heats_w
    }
}
