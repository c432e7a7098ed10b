//! How a part of the search space is split where the solution of its relaxation is none of the problem.

use super::answer::Cut;
use super::exact::{Queue, Search};
use super::relax::Node;
use std::collections::BTreeSet;

/// Why a relaxation's solution is not one of the problem.
pub(super) enum Untrue {
    /// It uses a place that nobody has paid for.
    Opening(usize),
    /// It breaks a row.
    Row(usize),
    /// It holds choices that must not stand together.
    Cut(usize),
    /// A tie's combination does not go together with what stands on its sides.
    Sides(usize),
}

impl Search<'_> {
    /// Splits a node where its relaxation is untrue: a free opening in use, a broken row, or a cut.
    /// A node whose own solution is true and allowed has nothing better inside and is not split.
    pub(super) fn branch(
        &self,
        node: Node,
        picks: &[usize],
        cuts: &[Cut],
        untrue: Untrue,
        queue: &mut Queue,
    ) {
        match untrue {
            Untrue::Opening(opening) => {
                for state in [true, false] {
                    let mut part = node.clone();
                    part.openings[opening] = Some(state);
                    self.enqueue(part, queue);
                }
            }
            Untrue::Cut(cut) => {
                // Murty (1968): parts that together leave out exactly the sets that hold all of it
                let mut rest = node;
                for &(d, pick) in &cuts[cut] {
                    if rest.allowed[d].iter().filter(|&&a| a).count() > 1 {
                        let mut part = rest.clone();
                        part.allowed[d][pick] = false;
                        self.enqueue(part, queue);
                        rest.fix(d, pick);
                    }
                }
            }
            Untrue::Sides(tie) => {
                // of one kind on one side, or of another: within a part whose sides stand only what goes with them is taken
                let sides = self.problem.ties[tie].sides.iter();
                let open = { sides }.find(|side| self.kinds(&node, side).len() > 1);
                let Some((side, d)) = open.and_then(|side| Some((side, side.decision?))) else {
                    return;
                };
                let kind = side.kind(picks[d]);
                for same in [true, false] {
                    let mut part = node.clone();
                    for (c, allowed) in part.allowed[d].iter_mut().enumerate() {
                        *allowed &= (side.kind(c) == kind) == same;
                    }
                    self.enqueue(part, queue);
                }
            }
            Untrue::Row(row) => {
                let also = |d: usize, c: usize| {
                    let own = self.problem.rows[row].also.iter().find(|(of, _)| *of == d);
                    own.map_or(0.0, |(_, by)| by[c])
                };
                let tied: Vec<usize> = self.problem.rows[row].tied.clone();
                let spread = |d: usize| {
                    let loads = self.problem.decisions[d]
                        .choices
                        .iter()
                        .enumerate()
                        .filter(|(c, _)| node.allowed[d][*c])
                        .map(|(c, choice)| {
                            choice.load_pa + also(d, c) + self.tied_pa(&node, &tied, d, c)
                        });
                    let (low, high) = loads.fold((f64::MAX, f64::MIN), |(low, high), x| {
                        (low.min(x), high.max(x))
                    });
                    high - low
                };
                let own = self.problem.rows[row].decisions.iter();
                let of_ties = tied.iter().flat_map(|&t| &self.problem.ties[t].of);
                let decisions: BTreeSet<usize> = own.chain(of_ties).copied().collect();
                let open = decisions
                    .into_iter()
                    .filter(|&d| node.allowed[d].iter().filter(|&&a| a).count() > 1);
                let widest = open.max_by(|&a, &b| spread(a).total_cmp(&spread(b)).then(b.cmp(&a)));
                let Some(d) = widest else { return };
                for c in 0..node.allowed[d].len() {
                    if node.allowed[d][c] {
                        let mut part = node.clone();
                        part.fix(d, c);
                        self.enqueue(part, queue);
                    }
                }
            }
        }
    }
}
