//! The exact search: a dynamic programme where the rows form a tree, inside a branch and bound that takes care of
//! shared openings, of rows that do not (a reverse return), of forbidden sets and of a bound on disruption.
//!
//! Every bound is the optimum of a relaxation: openings not yet decided are free, and only a family of rows that
//! forms a tree is looked at. Nodes are taken best bound first (Land and Doig 1960), so the first node whose own
//! solution satisfies everything is the optimum, and the bound of the queue is the proof.

use super::answer::{Answer, Cut, End, Look};
use super::branch::Untrue;
use super::priced::Loads;
use super::problem::{Objective, Problem};
use super::relax::{Node, Relaxed};
use super::search::WIDE_GAP;
use std::cell::Cell;
use std::cmp::Reverse;
use std::collections::{BTreeSet, BinaryHeap};

/// Nodes after which a search stops and states its gap instead of going on for hours.
const NODE_LIMIT: usize = 20_000;
/// The same where rows form no tree and a part takes longer; and once the gap to a plan that is known is not wide.
const TANGLED_LIMIT: usize = 3_000;
const TANGLED_NEAR: usize = 400;
/// Where ties count in rows a part takes about as long as the square of its decisions: parts, times that square, after which
/// a search stops; and once the gap to a plan that is known is not wide.
const TIED_LIMIT: usize = 4_000_000;
const TIED_NEAR: usize = 2_000_000;
/// The same for all searches together that seek what comes nearest.
const TIED_NEAREST: usize = 16_000_000;
/// A row is held if it is over by no more than this, Pa: the rounding of a sum of losses of tens of kPa.
pub(super) const ROUNDING_PA: f64 = 1e-9;

/// Whole sets as cuts.
fn whole(sets: &[Vec<usize>]) -> Vec<Cut> {
    let cuts = sets.iter();
    cuts.map(|set| set.iter().copied().enumerate().collect())
        .collect()
}

/// The least set of choices for which every row holds, `None` if there is none.
///
/// `forbidden` are whole sets of picks that were tried and found wanting by other means.
pub fn cheapest(
    problem: &Problem,
    objective: Objective,
    forbidden: &[Vec<usize>],
) -> Option<Answer> {
    let search = Search::new(problem, objective, Aim::Cheapest);
    let mut cuts = whole(forbidden);
    search
        .run(Node::root(problem), &mut cuts, i64::MAX, None)
        .answer()
}

/// The least set for which every row holds and that `look` finds to work, dearer than nothing by at most `cap`.
///
/// Every set that fails joins the cuts, and the search goes on where it was.
pub fn cheapest_that(
    problem: &Problem,
    objective: Objective,
    cuts: &mut Vec<Cut>,
    cap: i64,
    most_disruption: Option<u32>,
    look: &mut dyn FnMut(&Answer) -> Look,
) -> End {
    let mut search = Search::new(problem, objective, Aim::Cheapest);
    search.most_disruption = most_disruption;
    search.run(Node::root(problem), cuts, cap, Some(look))
}

/// The least set that does not contain all changes of `best` (choices other than `keep` of each decision).
pub fn not_containing(
    problem: &Problem,
    objective: Objective,
    best: &[usize],
    keep: &[usize],
    forbidden: &[Vec<usize>],
) -> Option<Answer> {
    let search = Search::new(problem, objective, Aim::Cheapest);
    let mut cuts = whole(forbidden);
    cuts.push(changes(best, keep));
    search
        .run(Node::root(problem), &mut cuts, i64::MAX, None)
        .answer()
}

/// The changes of a set as a cut: what no plan contains that leaves something of it out.
pub fn changes(best: &[usize], keep: &[usize]) -> Cut {
    let all = best.iter().copied().enumerate();
    all.filter(|(d, pick)| keep[*d] != *pick).collect()
}

/// Up to `count` sets that cost less than `best` and break a row, the ones nearest to holding first. Nothing where
/// that ended on a limit.
pub fn nearest_cheaper(
    problem: &Problem,
    objective: Objective,
    best: &Answer,
    count: usize,
) -> Option<Vec<Answer>> {
    let mut search = Search::new(problem, objective, Aim::LeastExcess);
    search.most_work = TIED_NEAREST;
    let cap = best.bound.1 - 1;
    // Murty (1968): take the best of each part, then split its part so that it is left out
    let mut parts: Vec<(Answer, Node)> = Vec::new();
    let root = Node::root(problem);
    let run = |node: Node| search.run(node, &mut Vec::new(), cap, None).answer();
    parts.extend(run(root.clone()).map(|a| (a, root)));
    let mut found = Vec::new();
    while found.len() < count && !parts.is_empty() {
        if search.ended.get() {
            return None;
        }
        let at = (0..parts.len())
            .min_by(|&a, &b| {
                let key = |i: usize| (parts[i].0.excess_pa.0, parts[i].0.money);
                key(a)
                    .0
                    .total_cmp(&key(b).0)
                    .then(key(a).1.cmp(&key(b).1))
                    .then(a.cmp(&b))
            })
            .expect("not empty");
        let (answer, node) = parts.remove(at);
        let mut rest = node;
        for d in 0..problem.decisions.len() {
            if rest.allowed[d].iter().filter(|&&a| a).count() < 2 {
                continue;
            }
            let mut part = rest.clone();
            part.allowed[d][answer.picks[d]] = false;
            parts.extend(run(part.clone()).map(|a| (a, part)));
            rest.fix(d, answer.picks[d]);
        }
        if answer.excess_pa.0 > ROUNDING_PA {
            found.push(answer);
        }
    }
    (!search.ended.get()).then_some(found)
}

/// The frontier between money and disruption: least disruption first, then ever cheaper and more disruptive.
///
/// Every plan on it is the cheapest for its disruption; the flag of a plan is false if the search for it ended on
/// its node limit, so that it may not be the last word.
pub fn frontier_of_disruption(problem: &Problem, forbidden: &[Vec<usize>]) -> Vec<(Answer, bool)> {
    let mut cuts = whole(forbidden);
    let mut out: Vec<(Answer, bool)> = Vec::new();
    let mut most = None;
    loop {
        let mut search = Search::new(problem, Objective::Money, Aim::Cheapest);
        search.most_disruption = most;
        let end = search.run(Node::root(problem), &mut cuts, i64::MAX, None);
        let Some(answer) = end.answer() else {
            break;
        };
        let last = answer.disruption;
        let proved = answer.gap() == 0.0;
        out.push((answer, proved));
        if last == 0 {
            break;
        }
        most = Some(last - 1);
    }
    out.reverse();
    out
}

/// What a node's own solution aims at.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Aim {
    /// Least objective with every row held.
    Cheapest,
    /// Least excess within a cap on the objective.
    LeastExcess,
}

/// Parts still to look at, and the family of rows that relaxations heed.
pub(super) struct Queue {
    cap: i64,
    heap: BinaryHeap<Reverse<((i64, i64), usize)>>,
    nodes: Vec<Option<(Node, Relaxed)>>,
    rows: Vec<usize>,
    /// A row was broken that no tree could hold: bounds by prices then help.
    tangled: bool,
}

pub(super) struct Search<'p> {
    pub(super) problem: &'p Problem,
    objective: Objective,
    pub(super) aim: Aim,
    most_disruption: Option<u32>,
    /// Openings that more than one decision uses; the others are folded into their choices.
    shared: Vec<bool>,
    pub(super) loads: Loads,
    /// Parts where ties count in rows, times the square of decisions: those of all searches so far, and how many may be.
    worked: Cell<usize>,
    most_work: usize,
    /// One of them ended on a limit.
    ended: Cell<bool>,
}

impl<'p> Search<'p> {
    fn new(problem: &'p Problem, objective: Objective, aim: Aim) -> Self {
        let mut users = vec![BTreeSet::new(); problem.openings.len()];
        for (d, decision) in problem.decisions.iter().enumerate() {
            for &place in decision.choices.iter().flat_map(|c| &c.opens) {
                users[place].insert(d);
            }
        }
        let shared = users.iter().map(|u| u.len() > 1).collect();
        Self {
            problem,
            objective,
            aim,
            most_disruption: None,
            shared,
            loads: Loads::of(problem),
            worked: Cell::new(0),
            most_work: usize::MAX,
            ended: Cell::new(false),
        }
    }

    pub(super) fn cheapest(problem: &'p Problem, objective: Objective) -> Self {
        Self::new(problem, objective, Aim::Cheapest)
    }

    pub(super) fn price(&self, money: i64, disruption: u32) -> i64 {
        self.objective.price(money, disruption)
    }

    /// Best first over parts of the space; `cap` is the most that an answer may cost. With `look` only what that finds
    /// to work is an answer.
    fn run(
        &self,
        root: Node,
        cuts: &mut Vec<Cut>,
        cap: i64,
        mut look: Option<&mut dyn FnMut(&Answer) -> Look>,
    ) -> End {
        let mut queue = Queue {
            cap,
            heap: BinaryHeap::new(),
            nodes: Vec::new(),
            rows: Vec::new(),
            tangled: false,
        };
        for part in self.parts(root) {
            self.enqueue(part, &mut queue);
        }
        let mut best: Option<Answer> = None;
        let mut seen = 0;
        while let Some(Reverse((key, at))) = queue.heap.pop() {
            if best
                .as_ref()
                .is_some_and(|b| self.key(b.bound.1, b.excess_pa.0) <= key)
            {
                break;
            }
            seen += 1;
            if self.enough(seen, key.0, &queue) {
                self.ended.set(true);
                match &mut best {
                    Some(b) => b.bound.0 = b.bound.0.min(key.0),
                    None => return End::Stopped(key.0),
                }
                break;
            }
            let Some((node, relaxed)) = queue.nodes[at].take() else {
                continue;
            };
            let picks = &relaxed.picks;
            let (money, disruption) = self.problem.cost(picks);
            let cost = self.price(money, disruption);
            let excess_pa = self.problem.excess(picks);
            let cut = cuts
                .iter()
                .position(|cut| cut.iter().all(|&(d, c)| picks[d] == c));
            let goes = self.problem.ties.iter().all(|tie| tie.goes(picks));
            let holds = self.aim == Aim::LeastExcess || excess_pa.0 <= ROUNDING_PA && goes;
            let within = self.most_disruption.is_none_or(|most| disruption <= most);
            let better = best
                .as_ref()
                .is_none_or(|b| self.key(cost, excess_pa.0) < self.key(b.bound.1, b.excess_pa.0));
            let mut untrue = self.untrue(&node, &relaxed, excess_pa, cut);
            if cut.is_none() && holds && within && cost <= cap && better {
                let answer = Answer {
                    picks: picks.clone(),
                    money,
                    disruption,
                    excess_pa,
                    bound: (cost, cost),
                    nodes: seen,
                };
                match (&mut look, &untrue) {
                    (None, _) => best = Some(answer),
                    // a look costs much: only at what would be the answer
                    (Some(look), None) => match look(&answer) {
                        Look::Works => return End::Found(answer),
                        Look::Enough => return End::Stopped(key.0),
                        Look::Fails(decisions) => {
                            cuts.push(decisions.into_iter().map(|d| (d, picks[d])).collect());
                            untrue = Some(Untrue::Cut(cuts.len() - 1));
                        }
                    },
                    (Some(_), Some(_)) => {}
                }
            }
            if let Some(untrue) = untrue {
                self.branch(node, &relaxed.picks, cuts, untrue, &mut queue);
            }
        }
        match best {
            Some(mut b) => {
                b.nodes = seen;
                End::Found(b)
            }
            None => End::None,
        }
    }

    /// Whether a search has gone on for long enough.
    fn enough(&self, seen: usize, least: i64, queue: &Queue) -> bool {
        let cap = queue.cap;
        let near = cap < i64::MAX && (cap - least) as f64 <= WIDE_GAP * cap as f64;
        if self.ties_count() {
            let work = queue.nodes.len() * self.problem.decisions.len().pow(2);
            let all = self.worked.get() > self.most_work;
            return all || work > if near { TIED_NEAR } else { TIED_LIMIT };
        }
        match queue.tangled {
            true if near => seen > TANGLED_NEAR,
            true => seen > TANGLED_LIMIT,
            false => seen > NODE_LIMIT,
        }
    }

    /// What is untrue about a relaxation's solution, if anything.
    fn untrue(
        &self,
        node: &Node,
        relaxed: &Relaxed,
        excess_pa: (f64, usize),
        cut: Option<usize>,
    ) -> Option<Untrue> {
        let dearest = self
            .problem
            .decisions
            .iter()
            .zip(&relaxed.picks)
            .flat_map(|(d, &pick)| &d.choices[pick].opens)
            .copied()
            .filter(|&o| node.openings[o].is_none() && self.branches_on(o))
            .max_by_key(|&o| {
                let opening = &self.problem.openings[o];
                (self.price(opening.money, opening.disruption), Reverse(o))
            });
        let allowance = match self.aim {
            Aim::Cheapest => ROUNDING_PA,
            Aim::LeastExcess => relaxed.excess_pa + ROUNDING_PA,
        };
        if let Some(opening) = dearest {
            Some(Untrue::Opening(opening))
        } else if excess_pa.0 > allowance {
            Some(Untrue::Row(excess_pa.1))
        } else {
            let mut ties = 0..self.problem.ties.len();
            let cold = ties.find(|&t| !self.problem.ties[t].goes(&relaxed.picks));
            cold.map(Untrue::Sides).or(cut.map(Untrue::Cut))
        }
    }

    /// Order of nodes and answers: the aim first, then the other figure.
    fn key(&self, cost: i64, excess_pa: f64) -> (i64, i64) {
        // nano-pascals as whole numbers keep the order of excesses and compare exactly
        let excess = (excess_pa.clamp(-1e9, 1e9) * 1e9) as i64;
        match self.aim {
            Aim::Cheapest => (cost, 0),
            Aim::LeastExcess => (excess, cost),
        }
    }

    pub(super) fn enqueue(&self, mut node: Node, queue: &mut Queue) {
        if let Some(most) = self.most_disruption {
            let paid: u32 = node
                .openings
                .iter()
                .zip(&self.problem.openings)
                .filter(|(state, _)| **state == Some(true))
                .map(|(_, opening)| opening.disruption)
                .sum();
            if paid > most {
                return;
            }
        }
        let mut least = i64::MIN;
        let target = (queue.cap < i64::MAX).then(|| queue.cap + 1);
        if queue.tangled {
            match self.priced(&mut node, target) {
                Some((bound, _)) if bound <= queue.cap => least = bound,
                _ => return,
            }
        }
        // rows that a relaxation breaks are taken in for good as long as the family stays a tree
        loop {
            if self.ties_count() {
                let work = self.problem.decisions.len().pow(2);
                self.worked.set(self.worked.get() + work);
            }
            let Some(relaxed) = self.relax(&node, &queue.rows, queue.cap) else {
                return;
            };
            let allowance = match self.aim {
                Aim::Cheapest => ROUNDING_PA,
                Aim::LeastExcess => relaxed.excess_pa + ROUNDING_PA,
            };
            let mut broken: Vec<(f64, usize)> = (0..self.problem.rows.len())
                .filter(|r| !queue.rows.contains(r))
                .map(|r| (self.row_excess(r, &relaxed.picks), r))
                .filter(|&(over, _)| over > allowance)
                .collect();
            broken.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
            let next = broken.iter().map(|&(_, r)| r).find(|&r| {
                let mut family = queue.rows.clone();
                family.push(r);
                self.tree(&family).is_some()
            });
            match next {
                Some(r) => queue.rows.push(r),
                None => {
                    if !broken.is_empty() && !queue.tangled && self.aim == Aim::Cheapest {
                        queue.tangled = true;
                        if let Some((bound, _)) = self.priced(&mut node, target) {
                            least = bound;
                        }
                    }
                    let key = self.key(relaxed.cost.max(least), relaxed.excess_pa);
                    queue.nodes.push(Some((node, relaxed)));
                    queue.heap.push(Reverse((key, queue.nodes.len() - 1)));
                    return;
                }
            }
        }
    }

    /// Whether ties count in rows.
    fn ties_count(&self) -> bool {
        self.problem.rows.iter().any(|row| !row.tied.is_empty())
    }

    fn row_excess(&self, row: usize, picks: &[usize]) -> f64 {
        self.problem.loss_pa(row, picks) - self.problem.rows[row].limit_pa
    }

    /// Whether an opening is decided by branching rather than priced into the only decision that uses it.
    pub(super) fn branches_on(&self, opening: usize) -> bool {
        self.shared[opening]
            || (self.most_disruption.is_some() && self.problem.openings[opening].disruption > 0)
    }
}
