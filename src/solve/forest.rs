//! Spanning forest of the classes that may flow: flows follow from it by balance, pressures by a walk.

use super::classes::NONE;

/// A forest over the rows of the nodal matrix.
#[derive(Clone, Debug, Default)]
pub(super) struct Forest {
    /// Rows, each after the row above it.
    pub walk: Vec<u32>,
    /// Row above each row; [`NONE`] for a root.
    pub above: Vec<u32>,
    /// Class that leads there, and its sign: +1 if it points upwards.
    pub class: Vec<u32>,
    pub sign: Vec<f64>,
    pub depth: Vec<u32>,
    /// Root of each row.
    pub root: Vec<u32>,
    pub roots: Vec<u32>,
    /// By class.
    pub in_tree: Vec<bool>,
    /// Classes that may flow and are not in the tree: one for each independent loop.
    pub chords: Vec<u32>,
    // room kept from one build to the next
    parent: Vec<u32>,
    first: Vec<u32>,
    next_to: Vec<u32>,
}

impl Forest {
    /// Builds the forest of all classes for which `may_flow`, trying them in the order of `ease`, so that what resists
    /// least is in the tree.
    pub fn build(
        &mut self,
        rows: usize,
        ends: &[(u32, u32)],
        ease: &[u32],
        may_flow: impl Fn(usize) -> bool,
    ) {
        self.parent.clear();
        self.parent.extend(0..rows as u32);
        self.in_tree.clear();
        self.in_tree.resize(ends.len(), false);
        self.chords.clear();
        self.first.clear();
        self.first.resize(rows + 1, 0);
        for &c in ease {
            if !may_flow(c as usize) {
                continue;
            }
            let (a, b) = ends[c as usize];
            let (ra, rb) = (find(&mut self.parent, a), find(&mut self.parent, b));
            if ra == rb {
                self.chords.push(c);
            } else {
                self.parent[ra as usize] = rb;
                self.in_tree[c as usize] = true;
                self.first[a as usize + 1] += 1;
                self.first[b as usize + 1] += 1;
            }
        }
        self.chords.sort_unstable();
        for r in 0..rows {
            self.first[r + 1] += self.first[r];
        }
        self.next_to.clear();
        self.next_to.resize(self.first[rows] as usize, 0);
        // `parent` has served; it now counts what is placed
        self.parent.copy_from_slice(&self.first[..rows]);
        for (c, &(a, b)) in ends.iter().enumerate() {
            if self.in_tree[c] {
                for row in [a, b] {
                    self.next_to[self.parent[row as usize] as usize] = c as u32;
                    self.parent[row as usize] += 1;
                }
            }
        }
        self.hang(rows, ends);
    }

    fn hang(&mut self, rows: usize, ends: &[(u32, u32)]) {
        for list in [&mut self.above, &mut self.class, &mut self.root] {
            list.clear();
            list.resize(rows, NONE);
        }
        self.sign.clear();
        self.sign.resize(rows, 0.0);
        self.depth.clear();
        self.depth.resize(rows, 0);
        self.walk.clear();
        self.roots.clear();
        for start in 0..rows {
            if self.root[start] != NONE {
                continue;
            }
            self.roots.push(start as u32);
            self.root[start] = start as u32;
            let mut head = self.walk.len();
            self.walk.push(start as u32);
            while head < self.walk.len() {
                let row = self.walk[head];
                head += 1;
                for k in self.first[row as usize] as usize..self.first[row as usize + 1] as usize {
                    let c = self.next_to[k];
                    let (a, b) = ends[c as usize];
                    let (to, sign) = if a == row { (b, -1.0) } else { (a, 1.0) };
                    let to_index = to as usize;
                    if self.root[to_index] == NONE {
                        self.root[to_index] = start as u32;
                        self.above[to_index] = row;
                        self.class[to_index] = c;
                        self.sign[to_index] = sign;
                        self.depth[to_index] = self.depth[row as usize] + 1;
                        self.walk.push(to);
                    }
                }
            }
        }
    }

    /// Flows of the tree's classes from `surplus`, what each row receives from all other classes; it is used up. What is
    /// left at a root does not balance.
    #[inline]
    pub fn balance(&self, surplus: &mut [f64], flow: &mut [f64]) {
        for &row in self.walk.iter().rev() {
            let row = row as usize;
            let above = self.above[row];
            if above != NONE {
                flow[self.class[row] as usize] = self.sign[row] * surplus[row];
                surplus[above as usize] += surplus[row];
                surplus[row] = 0.0;
            }
        }
    }

    /// Pressure of each row above its root from the losses of the classes.
    #[inline]
    pub fn pressures(&self, loss: &[f64], pressure: &mut [f64]) {
        for &row in &self.walk {
            let row = row as usize;
            let above = self.above[row];
            pressure[row] = if above == NONE {
                0.0
            } else {
                // the class points upwards: p(row) − p(above) = loss
                pressure[above as usize] + self.sign[row] * loss[self.class[row] as usize]
            };
        }
    }

    /// The loop that a chord closes: the chord, then classes of the tree with their sign.
    pub fn cycle(&self, chord: u32, ends: &[(u32, u32)], members: &mut Vec<(u32, f64)>) {
        members.clear();
        members.push((chord, 1.0));
        let (mut v, mut u) = ends[chord as usize];
        while u != v {
            let (up, down) = (u as usize, v as usize);
            if self.depth[up] >= self.depth[down] {
                members.push((self.class[up], self.sign[up]));
                u = self.above[up];
            } else {
                members.push((self.class[down], -self.sign[down]));
                v = self.above[down];
            }
        }
    }
}

/// Root of a disjoint set, halving the way there.
pub(super) fn find(parent: &mut [u32], mut x: u32) -> u32 {
    while parent[x as usize] != x {
        parent[x as usize] = parent[parent[x as usize] as usize];
        x = parent[x as usize];
    }
    x
}
