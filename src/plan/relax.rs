//! Relaxations of a part of the search space, solved exactly by a dynamic programme on a tree of rows.

use super::exact::{Aim, ROUNDING_PA, Search};
use super::frontier::{Point, Step, Trail, join, prune};
use super::problem::{Problem, Side, Tie};
use std::collections::{BTreeMap, BTreeSet};

/// A part of the search space.
#[derive(Clone)]
pub(super) struct Node {
    pub(super) allowed: Vec<Vec<bool>>,
    /// `Some(true)` paid, `Some(false)` shut, `None` free for now.
    pub(super) openings: Vec<Option<bool>>,
    /// Prices on rows that its bound goes by, per Pa; empty until one was asked for.
    pub(super) per_pa: Vec<f64>,
}

impl Node {
    pub(super) fn root(problem: &Problem) -> Self {
        Self {
            allowed: problem
                .decisions
                .iter()
                .map(|d| vec![true; d.choices.len()])
                .collect(),
            openings: vec![None; problem.openings.len()],
            per_pa: Vec::new(),
        }
    }

    pub(super) fn fix(&mut self, decision: usize, choice: usize) {
        for (c, allowed) in self.allowed[decision].iter_mut().enumerate() {
            *allowed &= c == choice;
        }
    }
}

/// A node of the tree of row sets.
pub(super) struct Group {
    /// Decisions that lie in exactly these rows.
    pub(super) decisions: Vec<usize>,
    /// Ties that exactly these rows count; their decisions that lie in the same rows go with them.
    pub(super) ties: Vec<usize>,
    /// Rows that end here.
    pub(super) ends: Vec<usize>,
    pub(super) children: Vec<usize>,
}

/// Solution of a relaxation.
pub(super) struct Relaxed {
    pub(super) picks: Vec<usize>,
    pub(super) cost: i64,
    pub(super) excess_pa: f64,
}

impl Search<'_> {
    /// A part for every choice of the decisions that ties hang on: within one of them ties do not touch each other.
    pub(super) fn parts(&self, root: Node) -> Vec<Node> {
        let hubs: BTreeSet<usize> = self.problem.ties.iter().filter_map(|t| t.hub).collect();
        let mut parts = vec![root];
        for hub in hubs {
            let split = |node: &Node| -> Vec<Node> {
                let choices = 0..node.allowed[hub].len();
                let allowed = choices.filter(|c| node.allowed[hub][*c]);
                let fixed = allowed.map(|c| {
                    let mut part = node.clone();
                    part.fix(hub, c);
                    part
                });
                fixed.collect()
            };
            parts = parts.iter().flat_map(split).collect();
        }
        parts
    }

    /// Price of a choice in a node; `None` if it needs a place that the node keeps shut.
    pub(super) fn choice_price(&self, node: &Node, decision: usize, choice: usize) -> Option<i64> {
        if !node.allowed[decision][choice] {
            return None;
        }
        let choice = &self.problem.decisions[decision].choices[choice];
        let mut price = self.price(choice.money, 0);
        let mut counted = BTreeSet::new();
        for &place in &choice.opens {
            if !counted.insert(place) {
                continue;
            }
            match node.openings[place] {
                Some(false) => return None,
                Some(true) => {}
                None if self.branches_on(place) => {}
                None => {
                    let opening = &self.problem.openings[place];
                    price += self.price(opening.money, opening.disruption);
                }
            }
        }
        Some(price)
    }

    /// The combinations of a tie that a node allows, by choice of its hub and place in the list; each with its price and
    /// what it puts into the rows that count the tie, Pa. What lies in a row of the family by itself (`apart`) is neither
    /// priced nor counted. In the order of the list.
    fn tied(
        &self,
        node: &Node,
        tie: &Tie,
        apart: &BTreeSet<usize>,
    ) -> Vec<(i64, f64, (usize, usize))> {
        let decisions = &self.problem.decisions;
        let prices: Vec<Vec<Option<i64>>> = tie
            .of
            .iter()
            .map(|&d| {
                let choices = 0..decisions[d].choices.len();
                choices.map(|c| self.choice_price(node, d, c)).collect()
            })
            .collect();
        let free: Vec<bool> = tie.of.iter().map(|d| !apart.contains(d)).collect();
        let sum = |combination: &[usize]| -> Option<(i64, f64)> {
            let (mut money, mut load_pa) = (0, 0.0);
            for (i, &c) in combination.iter().enumerate() {
                let price = prices[i][c]?;
                if free[i] {
                    money += price;
                    load_pa += decisions[tie.of[i]].choices[c].load_pa;
                }
            }
            Some((money, load_pa))
        };
        let hubs = (0..tie.can.len()).filter(|h| {
            let allowed = tie.hub.map(|hub| &node.allowed[hub]);
            allowed.is_none_or(|allowed| allowed[*h])
        });
        let all = hubs.flat_map(|h| tie.can[h].iter().enumerate().map(move |(k, c)| (h, k, c)));
        let kinds = tie.sides.each_ref().map(|side| self.kinds(node, side));
        let kinds = [kinds[0].as_slice(), kinds[1].as_slice()];
        all.filter_map(|(h, k, combination)| {
            if !tie.can_go((h, k), kinds) {
                return None;
            }
            let (money, own) = sum(combination)?;
            let load = tie.load_pa.get(h).map_or(0.0, |by| by[k]);
            Some((money, own + load, (h, k)))
        })
        .collect()
    }

    /// Kinds that a node allows on a side of a tie.
    pub(super) fn kinds(&self, node: &Node, side: &Side) -> Vec<usize> {
        let Some(d) = side.decision else {
            return vec![0];
        };
        let allowed = (0..node.allowed[d].len()).filter(|c| node.allowed[d][*c]);
        let mut kinds: Vec<usize> = allowed.map(|c| side.kind(c)).collect();
        kinds.sort_unstable();
        kinds.dedup();
        kinds
    }

    /// The least that a choice puts into a row by the ties that it counts, as far as a node allows, Pa.
    pub(super) fn tied_pa(
        &self,
        node: &Node,
        tied: &[usize],
        decision: usize,
        choice: usize,
    ) -> f64 {
        let of = |&t: &usize| -> f64 {
            let tie = &self.problem.ties[t];
            let Some(at) = tie.of.iter().position(|d| *d == decision) else {
                return 0.0;
            };
            let all = self
                .tied(node, tie, &BTreeSet::from([decision]))
                .into_iter();
            let own = all.filter(|(.., (h, k))| tie.can[*h][*k][at] == choice);
            own.map(|(_, load, _)| load).reduce(f64::min).unwrap_or(0.0)
        };
        tied.iter().map(of).sum::<f64>() + self.beside_pa(node, decision, choice)
    }

    /// What a choice puts into all rows of its decision beside its own load, for the hubs that a node allows, Pa.
    fn beside_pa(&self, node: &Node, decision: usize, choice: usize) -> f64 {
        let of = |tie: &Tie| -> f64 {
            let Some((_, by)) = tie.beside.iter().find(|(d, _)| *d == decision) else {
                return 0.0;
            };
            let allowed = |h: &usize| tie.hub.is_none_or(|hub| node.allowed[hub][*h]);
            let least = (0..by.len()).filter(allowed).map(|h| by[h][choice]);
            least.reduce(f64::min).unwrap_or(0.0)
        };
        self.problem.ties.iter().map(of).sum()
    }

    /// The least that choices which the node allows add to one row alone, Pa.
    fn least_also(&self, node: &Node, row: usize) -> f64 {
        let least = |(d, by): &(usize, Vec<f64>)| {
            let allowed = by.iter().zip(&node.allowed[*d]);
            let least = allowed
                .filter(|(_, allowed)| **allowed)
                .map(|(pa, _)| *pa)
                .fold(f64::INFINITY, f64::min);
            if least.is_finite() { least } else { 0.0 }
        };
        self.problem.rows[row].also.iter().map(least).sum()
    }

    /// The optimum of a node for a family of rows that forms a tree.
    pub(super) fn relax(&self, node: &Node, rows: &[usize], cap: i64) -> Option<Relaxed> {
        let decisions = &self.problem.decisions;
        let groups = self
            .tree(rows)
            .expect("the family was checked when it grew");
        let mut base: i64 = node
            .openings
            .iter()
            .zip(&self.problem.openings)
            .filter(|(state, _)| **state == Some(true))
            .map(|(_, o)| self.price(o.money, o.disruption))
            .sum();
        let mut picks = vec![usize::MAX; decisions.len()];
        let grouped: BTreeSet<usize> = groups
            .iter()
            .flat_map(|g| g.decisions.iter().copied())
            .collect();
        let counted: BTreeSet<usize> = groups.iter().flat_map(|g| g.ties.clone()).collect();
        let mut tied = BTreeSet::new();
        for (t, tie) in self.problem.ties.iter().enumerate() {
            tied.extend(tie.of.iter().copied());
            if counted.contains(&t) {
                continue;
            }
            let all = self.tied(node, tie, &grouped).into_iter();
            let (price, _, (h, k)) = all.min_by_key(|(price, ..)| *price)?;
            base += price;
            for (&d, &c) in tie.of.iter().zip(&tie.can[h][k]) {
                if !grouped.contains(&d) {
                    picks[d] = c;
                }
            }
        }
        for d in (0..decisions.len()).filter(|d| !grouped.contains(d) && !tied.contains(d)) {
            let cheapest = (0..decisions[d].choices.len())
                .filter_map(|c| Some((self.choice_price(node, d, c)?, c)))
                .min()?;
            base += cheapest.0;
            picks[d] = cheapest.1;
        }
        if base > cap {
            return None;
        }
        let cap = cap - base;
        let mut trail = Trail::default();
        let start = trail.push(Step::Start);
        let mut frontiers: Vec<Vec<Point>> = Vec::with_capacity(groups.len());
        for group in &groups {
            // children stand before their parents
            let least = group
                .ends
                .iter()
                .map(|&r| self.least_also(node, r) - self.problem.rows[r].limit_pa)
                .fold(f64::NEG_INFINITY, f64::max);
            let mut points = vec![Point {
                cost: 0,
                excess_pa: least,
                trail: start,
            }];
            for &child in &group.children {
                points = join(&points, &frontiers[child], cap, &mut trail);
            }
            for &d in &group.decisions {
                let mut next = Vec::new();
                for (c, choice) in decisions[d].choices.iter().enumerate() {
                    let Some(price) = self.choice_price(node, d, c) else {
                        continue;
                    };
                    let load_pa = choice.load_pa + self.beside_pa(node, d, c);
                    for p in points.iter().filter(|p| p.cost + price <= cap) {
                        next.push(Point {
                            cost: p.cost + price,
                            excess_pa: p.excess_pa + load_pa,
                            trail: trail.push(Step::Pick {
                                decision: d,
                                choice: c,
                                before: p.trail,
                            }),
                        });
                    }
                }
                prune(&mut next);
                points = next;
            }
            for &t in &group.ties {
                let all = self.tied(node, &self.problem.ties[t], &grouped);
                points = with_tie(&points, t, all, cap, &mut trail);
            }
            frontiers.push(points);
        }
        let best = match self.aim {
            Aim::Cheapest => {
                let root = frontiers.last()?;
                root.iter().find(|p| p.excess_pa <= ROUNDING_PA)
            }
            Aim::LeastExcess => frontiers.last()?.last(),
        }?;
        trail.read(best.trail, &mut picks, |t, (h, k), picks| {
            let tie = &self.problem.ties[t];
            for (&d, &c) in tie.of.iter().zip(&tie.can[h][k]) {
                if !grouped.contains(&d) {
                    picks[d] = c;
                }
            }
        });
        Some(Relaxed {
            picks,
            cost: base + best.cost,
            excess_pa: best.excess_pa,
        })
    }

    /// The tree of a family of rows: decisions that lie in the same rows share a group, a group hangs under the
    /// smallest group of rows that contains its own. The last group is the root of all. `None` if two groups overlap
    /// without one containing the other.
    pub(super) fn tree(&self, rows: &[usize]) -> Option<Vec<Group>> {
        let mut sets: BTreeMap<BTreeSet<usize>, Group> = BTreeMap::new();
        let mut of_decision: BTreeMap<usize, BTreeSet<usize>> = BTreeMap::new();
        for &r in rows {
            for &d in &self.problem.rows[r].decisions {
                of_decision.entry(d).or_default().insert(r);
            }
            // a row ends in a leaf of its own
            let leaf = sets.entry(BTreeSet::from([r])).or_insert_with(Group::empty);
            leaf.ends.push(r);
        }
        let mut of_tie: BTreeMap<usize, BTreeSet<usize>> = BTreeMap::new();
        for &r in rows {
            for &t in &self.problem.rows[r].tied {
                of_tie.entry(t).or_default().insert(r);
            }
        }
        for (t, set) in of_tie {
            for d in &self.problem.ties[t].of {
                if of_decision.get(d) == Some(&set) {
                    of_decision.remove(d);
                }
            }
            sets.entry(set).or_insert_with(Group::empty).ties.push(t);
        }
        for (d, set) in of_decision {
            sets.entry(set)
                .or_insert_with(Group::empty)
                .decisions
                .push(d);
        }
        let mut ordered: Vec<(BTreeSet<usize>, Group)> = sets.into_iter().collect();
        ordered.sort_by(|a, b| a.0.len().cmp(&b.0.len()).then(a.0.cmp(&b.0)));
        let mut groups: Vec<Group> = Vec::with_capacity(ordered.len() + 1);
        let mut root = Group::empty();
        let keys: Vec<BTreeSet<usize>> = ordered.iter().map(|(k, _)| k.clone()).collect();
        groups.extend(ordered.into_iter().map(|(_, g)| g));
        for i in 0..keys.len() {
            let mut parent = None;
            for (j, larger) in keys.iter().enumerate().skip(i + 1) {
                if keys[i].is_subset(larger) {
                    parent = parent.or(Some(j));
                } else if !keys[i].is_disjoint(larger) {
                    return None;
                }
            }
            match parent {
                Some(j) => groups[j].children.push(i),
                None => root.children.push(i),
            }
        }
        groups.push(root);
        Some(groups)
    }
}

impl Group {
    fn empty() -> Self {
        Self {
            decisions: Vec::new(),
            ties: Vec::new(),
            ends: Vec::new(),
            children: Vec::new(),
        }
    }
}

/// Points with a tie's combinations on top.
fn with_tie(
    points: &[Point],
    tie: usize,
    mut all: Vec<(i64, f64, (usize, usize))>,
    cap: i64,
    trail: &mut Trail,
) -> Vec<Point> {
    // what something at most as dear beats in its load can go before it is laid on every point
    all.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)).then(a.2.cmp(&b.2)));
    let mut least = f64::INFINITY;
    all.retain(|(_, load, _)| {
        let keep = *load < least;
        least = least.min(*load);
        keep
    });
    let mut next = Vec::new();
    let mut steps = Vec::new();
    for (price, load_pa, combination) in all {
        for p in points.iter().filter(|p| p.cost + price <= cap) {
            next.push(Point {
                cost: p.cost + price,
                excess_pa: p.excess_pa + load_pa,
                trail: steps.len(),
            });
            steps.push(Step::Tie {
                tie,
                combination,
                before: p.trail,
            });
        }
    }
    prune(&mut next);
    for p in &mut next {
        p.trail = trail.push(steps[p.trail]);
    }
    next
}
