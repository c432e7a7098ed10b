//! A bound by prices on rows, and a first plan: for rows that form no tree, as on a reverse return, where every way round
//! shares something else with every other.
//!
//! Each row gets a price per Pa that is lost in it (Lagrange multipliers; Held and Karp 1971, "The travelling-salesman
//! problem and minimum spanning trees: Part II"); with them every decision is free of the others, and what the cheapest
//! choices then come to, less what the limits allow, is no more than the least plan. Prices follow broken rows by subgradient
//! steps (Polyak 1969).

use super::exact::{ROUNDING_PA, Search};
use super::problem::{Objective, Problem};
use super::relax::Node;

/// Steps at the root, and at every node after its parent's prices.
const STEPS: (usize, usize) = (1_500, 15);
/// Rounds of exchange in pairs for a first plan.
const EXCHANGES: usize = 40;

/// By decision and choice: what it loses in which row, Pa.
pub(super) struct Loads {
    by: Vec<Vec<Vec<(usize, f64)>>>,
}

impl Loads {
    pub(super) fn of(problem: &Problem) -> Self {
        let mut by: Vec<Vec<Vec<(usize, f64)>>> = problem
            .decisions
            .iter()
            .map(|d| vec![Vec::new(); d.choices.len()])
            .collect();
        for (r, row) in problem.rows.iter().enumerate() {
            for &d in &row.decisions {
                let also = row.also.iter().find(|(of, _)| *of == d);
                for (c, choice) in problem.decisions[d].choices.iter().enumerate() {
                    let load = choice.load_pa + also.map_or(0.0, |(_, by)| by[c]);
                    if load > 0.0 {
                        by[d][c].push((r, load));
                    }
                }
            }
        }
        Self { by }
    }

    fn excess(&self, problem: &Problem, picks: &[usize]) -> Vec<f64> {
        let mut excess: Vec<f64> = problem.rows.iter().map(|r| -r.limit_pa).collect();
        for (d, &c) in picks.iter().enumerate() {
            for &(r, load) in &self.by[d][c] {
                excess[r] += load;
            }
        }
        excess
    }
}

impl Search<'_> {
    /// A bound on the price of everything in a node, and the picks that it comes from; `None` if nothing is in it. `target`
    /// is a price that the bound is wanted to reach. The node keeps the prices for its parts.
    pub(super) fn priced(&self, node: &mut Node, target: Option<i64>) -> Option<(i64, Vec<usize>)> {
        let problem = self.problem;
        let base: i64 = node
            .openings
            .iter()
            .zip(&problem.openings)
            .filter(|(state, _)| **state == Some(true))
            .map(|(_, o)| self.price(o.money, o.disruption))
            .sum();
        let prices: Vec<Vec<Option<i64>>> = problem
            .decisions
            .iter()
            .enumerate()
            .map(|(d, of)| {
                let choices = 0..of.choices.len();
                choices.map(|c| self.choice_price(node, d, c)).collect()
            })
            .collect();
        let steps = if node.per_pa.is_empty() {
            node.per_pa = vec![0.0; problem.rows.len()];
            STEPS.0
        } else {
            STEPS.1
        };
        let (mut best, mut best_picks) = (f64::NEG_INFINITY, Vec::new());
        let mut per_pa = node.per_pa.clone();
        let (mut pace, mut since) = (1.0, 0);
        for _ in 0..steps {
            let mut sum = base as f64;
            let mut picks = Vec::with_capacity(prices.len());
            for (d, of) in prices.iter().enumerate() {
                let cost = |c: usize| {
                    let price = of[c]? as f64;
                    let rows = self.loads.by[d][c].iter();
                    Some(rows.fold(price, |sum, &(r, load)| sum + per_pa[r] * load))
                };
                let all = (0..of.len()).filter_map(|c| Some((cost(c)?, c)));
                let (least, c) = all.min_by(|a, b| a.0.total_cmp(&b.0))?;
                sum += least;
                picks.push(c);
            }
            let excess = self.loads.excess(problem, &picks);
            let limits = problem.rows.iter().zip(&per_pa);
            sum -= limits.map(|(row, per)| per * row.limit_pa).sum::<f64>();
            if sum > best {
                (best, since) = (sum, 0);
                best_picks = picks;
                node.per_pa.clone_from(&per_pa);
            } else {
                since += 1;
                if since > 8 {
                    (pace, since) = (pace * 0.6, 0);
                }
            }
            let goal = target.map_or(sum.abs() * 1.1 + 1e6, |t| t as f64);
            if best > goal {
                break;
            }
            let square: f64 = excess
                .iter()
                .zip(&per_pa)
                .filter(|(e, per)| **e > 0.0 || **per > 0.0)
                .map(|(e, _)| e * e)
                .sum();
            if square <= 0.0 {
                break;
            }
            let step = pace * (goal - sum).max(goal.abs() * 1e-4) / square;
            for (per, e) in per_pa.iter_mut().zip(&excess) {
                *per = (*per + step * e).max(0.0);
            }
        }
        // sums of a few hundred figures of 1e12 are good to far less than this
        let bound = (best - 1.0 - best.abs() * 1e-9).ceil();
        Some((bound as i64, best_picks))
    }
}

/// Whether rows form no tree, so that a search goes by prices; ties are looked after by themselves.
pub fn tangled(problem: &Problem) -> bool {
    let rows: Vec<usize> = (0..problem.rows.len()).collect();
    let search = Search::cheapest(problem, Objective::Money);
    problem.ties.is_empty() && search.tree(&rows).is_none()
}

/// A set for which every row holds, by repairing what the prices choose, or `from`, and then saving on it; no more than a
/// beginning. Only where rows form no tree; elsewhere the search is exact at once.
pub fn first_guess(
    problem: &Problem,
    objective: Objective,
    from: Option<Vec<usize>>,
) -> Option<Vec<usize>> {
    if !tangled(problem) {
        return None;
    }
    let search = Search::cheapest(problem, objective);
    let picks = match from {
        Some(picks) => picks,
        None => search.priced(&mut Node::root(problem), None)?.1,
    };
    let mut guess = Guess::new(&search, picks);
    guess.repair()?;
    for _ in 0..EXCHANGES {
        if !guess.save() {
            break;
        }
    }
    Some(guess.picks)
}

struct Guess<'s, 'p> {
    search: &'s Search<'p>,
    picks: Vec<usize>,
    excess: Vec<f64>,
    /// By place: how many choices open it.
    open: Vec<usize>,
}

impl<'s, 'p> Guess<'s, 'p> {
    fn new(search: &'s Search<'p>, picks: Vec<usize>) -> Self {
        let problem = search.problem;
        let excess = search.loads.excess(problem, &picks);
        let mut open = vec![0; problem.openings.len()];
        for (d, &c) in picks.iter().enumerate() {
            for &o in &problem.decisions[d].choices[c].opens {
                open[o] += 1;
            }
        }
        Self {
            search,
            picks,
            excess,
            open,
        }
    }

    /// What another choice would cost more.
    fn more(&self, d: usize, c: usize) -> i64 {
        let problem = self.search.problem;
        let choices = &problem.decisions[d].choices;
        let (old, new) = (&choices[self.picks[d]], &choices[c]);
        let mut more = self.search.price(new.money - old.money, 0);
        let place = |o: usize| {
            self.search
                .price(problem.openings[o].money, problem.openings[o].disruption)
        };
        for &o in new.opens.iter().filter(|o| self.open[**o] == 0) {
            more += place(o);
        }
        for &o in old
            .opens
            .iter()
            .filter(|o| self.open[**o] == 1 && !new.opens.contains(o))
        {
            more -= place(o);
        }
        more
    }

    /// Sum of what rows are over, after another choice, Pa.
    fn over(&self, d: usize, c: usize) -> f64 {
        let mut excess = self.excess.clone();
        self.lay(&mut excess, d, c);
        excess.iter().map(|e| e.max(0.0)).sum()
    }

    fn lay(&self, excess: &mut [f64], d: usize, c: usize) {
        for &(r, load) in &self.search.loads.by[d][self.picks[d]] {
            excess[r] -= load;
        }
        for &(r, load) in &self.search.loads.by[d][c] {
            excess[r] += load;
        }
    }

    fn take(&mut self, d: usize, c: usize) {
        let mut excess = std::mem::take(&mut self.excess);
        self.lay(&mut excess, d, c);
        self.excess = excess;
        let choices = &self.search.problem.decisions[d].choices;
        for &o in &choices[self.picks[d]].opens {
            self.open[o] -= 1;
        }
        for &o in &choices[c].opens {
            self.open[o] += 1;
        }
        self.picks[d] = c;
    }

    /// Every other choice of every decision.
    fn others(&self) -> Vec<(usize, usize)> {
        let decisions = self.search.problem.decisions.iter().enumerate();
        let all = decisions.flat_map(|(d, of)| (0..of.choices.len()).map(move |c| (d, c)));
        all.filter(|&(d, c)| self.picks[d] != c).collect()
    }

    /// Takes what mends most for its money until every row holds.
    fn repair(&mut self) -> Option<()> {
        loop {
            let over: f64 = self.excess.iter().map(|e| e.max(0.0)).sum();
            if self.excess.iter().all(|e| *e <= ROUNDING_PA) {
                return Some(());
            }
            let worth = |&(d, c): &(usize, usize)| {
                let mends = over - self.over(d, c);
                (mends > 1e-6).then(|| self.more(d, c).max(1) as f64 / mends)
            };
            let others = self.others();
            let best = others.iter().filter_map(|o| Some((worth(o)?, *o)));
            let (_, (d, c)) = best.min_by(|a, b| a.0.total_cmp(&b.0))?;
            self.take(d, c);
        }
    }

    /// The best saving by one other choice, else by two; whether there was one.
    fn save(&mut self) -> bool {
        let others = self.others();
        let holds = |excess: &[f64]| excess.iter().all(|e| *e <= ROUNDING_PA);
        let mut best: Option<(i64, Vec<(usize, usize)>)> = None;
        for &(d, c) in &others {
            let more = self.more(d, c);
            let mut excess = self.excess.clone();
            self.lay(&mut excess, d, c);
            if holds(&excess) {
                if more < best.as_ref().map_or(0, |b| b.0) {
                    best = Some((more, vec![(d, c)]));
                }
                continue;
            }
            if more >= 0 {
                continue;
            }
            // a saving that breaks a row, and what mends it for less
            for &(e, k) in others.iter().filter(|o| o.0 != d) {
                let sum = more + self.more(e, k);
                if sum < best.as_ref().map_or(0, |b| b.0) {
                    let mut both = excess.clone();
                    self.lay(&mut both, e, k);
                    if holds(&both) {
                        best = Some((sum, vec![(d, c), (e, k)]));
                    }
                }
            }
        }
        let Some((_, takes)) = best else {
            return false;
        };
        let before = self.search.problem.cost(&self.picks);
        let old = self.picks.clone();
        for (d, c) in &takes {
            self.take(*d, *c);
        }
        // places that both open or both leave may make it dearer than the sum of two savings
        let after = self.search.problem.cost(&self.picks);
        let price = |(money, disruption): (i64, u32)| self.search.price(money, disruption);
        if price(after) >= price(before) {
            for (d, _) in takes {
                self.take(d, old[d]);
            }
            return false;
        }
        true
    }
}
