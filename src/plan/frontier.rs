//! Frontiers of (cost, excess): what each further bit of money buys in head.
//!
//! A point is worth keeping only if nothing cheaper has as little excess. Two branches of a tree merge in linear time,
//! since their costs add and the larger excess counts (a min–max dynamic programme on the tree; Bellman's principle).

/// A point of a frontier and how it was reached.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// Cost so far.
    pub cost: i64,
    /// Largest sum of loads less limit among the rows below, Pa.
    pub excess_pa: f64,
    /// Index into the trail of decisions taken, for reading the picks back.
    pub trail: usize,
}

/// How a point came about.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Step {
    /// Nothing decided yet.
    Start,
    /// A decision takes a choice on top of an earlier trail.
    Pick {
        /// Index of the decision.
        decision: usize,
        /// Index of the choice.
        choice: usize,
        /// What was decided before.
        before: usize,
    },
    /// A tie takes a combination on top of an earlier trail.
    Tie {
        /// Index of the tie.
        tie: usize,
        /// Choice of its hub, and which of the combinations that can be with it.
        combination: (usize, usize),
        /// What was decided before.
        before: usize,
    },
    /// Two branches joined.
    Join(usize, usize),
}

/// All steps of one run of the programme.
#[derive(Clone, Debug, Default)]
pub struct Trail {
    steps: Vec<Step>,
}

impl Trail {
    /// Remembers a step and returns its index.
    pub fn push(&mut self, step: Step) -> usize {
        self.steps.push(step);
        self.steps.len() - 1
    }

    /// Writes the choices along a trail into `picks`; what a tie's combination is, `lay` knows.
    pub fn read(
        &self,
        from: usize,
        picks: &mut [usize],
        lay: impl Fn(usize, (usize, usize), &mut [usize]),
    ) {
        let mut open = vec![from];
        while let Some(at) = open.pop() {
            match self.steps[at] {
                Step::Start => {}
                Step::Pick {
                    decision,
                    choice,
                    before,
                } => {
                    picks[decision] = choice;
                    open.push(before);
                }
                Step::Tie {
                    tie,
                    combination,
                    before,
                } => {
                    lay(tie, combination, picks);
                    open.push(before);
                }
                Step::Join(a, b) => open.extend([a, b]),
            }
        }
    }
}

/// Sorts by cost and drops every point that something at most as dear beats or equals in excess.
pub fn prune(points: &mut Vec<Point>) {
    // on a tie the earlier trail stays, so that the answer does not depend on anything but the input's order
    points.sort_by(|a, b| {
        a.cost
            .cmp(&b.cost)
            .then(a.excess_pa.total_cmp(&b.excess_pa))
            .then(a.trail.cmp(&b.trail))
    });
    let mut least = f64::INFINITY;
    points.retain(|p| {
        let keep = p.excess_pa < least;
        if keep {
            least = p.excess_pa;
        }
        keep
    });
}

/// Joins two frontiers: costs add, the larger excess counts. Both must be pruned; so is the result.
pub fn join(a: &[Point], b: &[Point], cap: i64, trail: &mut Trail) -> Vec<Point> {
    // for each excess met, the cheapest of either side that does not exceed it: walk both from dear to cheap
    let (mut i, mut j) = (a.len(), b.len());
    let mut out = Vec::with_capacity(i + j);
    if i == 0 || j == 0 {
        return out;
    }
    let (mut x, mut y) = (a[i - 1], b[j - 1]);
    i -= 1;
    j -= 1;
    loop {
        let excess_pa = x.excess_pa.max(y.excess_pa);
        // give each side the cheapest point that stays within the other's excess
        while i > 0 && a[i - 1].excess_pa <= excess_pa {
            i -= 1;
            x = a[i];
        }
        while j > 0 && b[j - 1].excess_pa <= excess_pa {
            j -= 1;
            y = b[j];
        }
        let cost = x.cost + y.cost;
        if cost <= cap {
            out.push(Point {
                cost,
                excess_pa,
                trail: trail.push(Step::Join(x.trail, y.trail)),
            });
        }
        // the next step up in excess, on whichever side it is smaller
        match (i > 0, j > 0) {
            (false, false) => break,
            (true, false) => {
                i -= 1;
                x = a[i];
            }
            (false, true) => {
                j -= 1;
                y = b[j];
            }
            (true, true) => {
                if a[i - 1].excess_pa <= b[j - 1].excess_pa {
                    i -= 1;
                    x = a[i];
                } else {
                    j -= 1;
                    y = b[j];
                }
            }
        }
    }
    prune(&mut out);
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn points(values: &[(i64, f64)], trail: &mut Trail) -> Vec<Point> {
        values
            .iter()
            .map(|&(cost, excess_pa)| Point {
                cost,
                excess_pa,
                trail: trail.push(Step::Start),
            })
            .collect()
    }

    #[test]
    fn join_equals_all_pairs() {
        let mut trail = Trail::default();
        let a = points(&[(0, 9.0), (3, 5.0), (7, -2.0)], &mut trail);
        let b = points(&[(1, 8.0), (2, 6.0), (4, 1.0), (9, -3.0)], &mut trail);
        let mut pairs: Vec<Point> = a
            .iter()
            .flat_map(|x| {
                b.iter().map(|y| Point {
                    cost: x.cost + y.cost,
                    excess_pa: x.excess_pa.max(y.excess_pa),
                    trail: 0,
                })
            })
            .collect();
        prune(&mut pairs);
        let joined = join(&a, &b, i64::MAX, &mut trail);
        let plain = |v: &[Point]| v.iter().map(|p| (p.cost, p.excess_pa)).collect::<Vec<_>>();
        assert_eq!(plain(&joined), plain(&pairs));
    }
}
