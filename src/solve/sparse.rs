//! The one seam to sparse linear algebra: a symmetric nodal matrix of conductances, factorised as LDLᵀ.
//!
//! Ordering (approximate minimum degree) and the pattern of L are found once for a network; each factorisation then walks
//! the rows, and the right-hand side is carried along, so that only the back substitution remains. `nalgebra-sparse` is
//! the reference in the tests.

use super::classes::NONE;

/// Ordering and pattern, and room for the numbers.
#[derive(Clone, Debug)]
pub(super) struct Nodal {
    n: usize,
    /// Row of each node.
    row: Vec<u32>,
    /// By edge: its row pair's slot in `off`; `NONE` for an edge from a node to itself.
    slot: Vec<u32>,
    /// By edge: rows of both ends.
    rows: Vec<(u32, u32)>,
    /// Off-diagonal entries of row k left of the diagonal: columns, in the order of `off`.
    a_first: Vec<u32>,
    a_column: Vec<u32>,
    /// Columns of row k of L, ascending.
    l_first: Vec<u32>,
    l_column: Vec<u32>,
    /// First entry of each column of L.
    column_first: Vec<u32>,
    column_row: Vec<u32>,
    // numbers
    diagonal: Vec<f64>,
    off: Vec<f64>,
    right: Vec<f64>,
    l: Vec<f64>,
    inverse: Vec<f64>,
    filled: Vec<u32>,
    y: Vec<f64>,
}

impl Nodal {
    /// Orders and analyses the matrix of a graph of `nodes` nodes with an entry for each edge.
    pub fn new(nodes: usize, ends: &[(u32, u32)]) -> Self {
        let row = order(nodes, ends);
        let rows: Vec<(u32, u32)> = ends
            .iter()
            .map(|&(a, b)| (row[a as usize], row[b as usize]))
            .collect();
        // entries below the diagonal, one for each pair of rows
        let mut pairs: Vec<(u32, u32)> = rows
            .iter()
            .filter(|(a, b)| a != b)
            .map(|&(a, b)| (a.max(b), a.min(b)))
            .collect();
        pairs.sort_unstable();
        pairs.dedup();
        let slot_of = |&(a, b): &(u32, u32)| {
            if a == b {
                NONE
            } else {
                pairs
                    .binary_search(&(a.max(b), a.min(b)))
                    .map_or(NONE, |k| k as u32)
            }
        };
        let slot = rows.iter().map(slot_of).collect();
        let mut a_first = vec![0_u32; nodes + 1];
        pairs.iter().for_each(|p| a_first[p.0 as usize + 1] += 1);
        (0..nodes).for_each(|k| a_first[k + 1] += a_first[k]);
        let a_column: Vec<u32> = pairs.iter().map(|p| p.1).collect();
        let (l_first, l_column) = pattern(nodes, &a_first, &a_column);
        let mut column_first = vec![0_u32; nodes + 1];
        l_column
            .iter()
            .for_each(|&c| column_first[c as usize + 1] += 1);
        (0..nodes).for_each(|k| column_first[k + 1] += column_first[k]);
        let mut at = column_first.clone();
        let mut column_row = vec![0_u32; l_column.len()];
        for k in 0..nodes {
            for &c in &l_column[l_first[k] as usize..l_first[k + 1] as usize] {
                column_row[at[c as usize] as usize] = k as u32;
                at[c as usize] += 1;
            }
        }
        Self {
            n: nodes,
            row,
            slot,
            rows,
            a_first,
            l_first,
            column_first,
            diagonal: vec![0.0; nodes],
            off: vec![0.0; a_column.len()],
            right: vec![0.0; nodes],
            l: vec![0.0; l_column.len()],
            inverse: vec![0.0; nodes],
            filled: vec![0; nodes],
            y: vec![0.0; nodes],
            a_column,
            l_column,
            column_row,
        }
    }

    /// Row of a node: solutions are in rows.
    pub fn row(&self, node: usize) -> usize {
        self.row[node] as usize
    }

    /// Rows of an edge's ends.
    pub fn rows(&self, edge: usize) -> (usize, usize) {
        let (a, b) = self.rows[edge];
        (a as usize, b as usize)
    }

    /// Empties matrix and right-hand side.
    pub fn clear(&mut self) {
        self.diagonal.fill(0.0);
        self.off.fill(0.0);
        self.right.fill(0.0);
    }

    /// Adds an edge of a conductance, through which `flow` leaves its first node and enters its second.
    #[inline]
    pub fn add(&mut self, edge: usize, conductance: f64, flow: f64) {
        let (a, b) = self.rows(edge);
        self.right[a] -= flow;
        self.right[b] += flow;
        if a != b {
            self.diagonal[a] += conductance;
            self.diagonal[b] += conductance;
            self.off[self.slot[edge] as usize] -= conductance;
        }
    }

    /// Adds a flow alone.
    #[inline]
    pub fn add_flow(&mut self, edge: usize, flow: f64) {
        let (a, b) = self.rows(edge);
        self.right[a] -= flow;
        self.right[b] += flow;
    }

    /// Holds a row at zero by a conductance to nowhere: what enters a connected part leaves it again, so nothing flows
    /// there.
    pub fn ground(&mut self, row: usize) {
        let own = self.diagonal[row];
        self.diagonal[row] += if own > 0.0 { own } else { 1.0 };
    }

    /// Factorises and solves; the potential of each row is in the returned slice.
    pub fn solve(&mut self) -> &[f64] {
        let Self {
            n,
            y,
            l,
            inverse,
            filled,
            diagonal,
            off,
            right,
            ..
        } = self;
        let n = *n;
        filled.copy_from_slice(&self.column_first[..n]);
        for k in 0..n {
            for s in self.a_first[k] as usize..self.a_first[k + 1] as usize {
                y[self.a_column[s] as usize] = off[s];
            }
            let (mut d, mut z) = (diagonal[k], right[k]);
            for &column in &self.l_column[self.l_first[k] as usize..self.l_first[k + 1] as usize] {
                let i = column as usize;
                let value = y[i];
                y[i] = 0.0;
                let (start, end) = (self.column_first[i] as usize, filled[i] as usize);
                for (&r, &lij) in self.column_row[start..end].iter().zip(&l[start..end]) {
                    y[r as usize] -= lij * value;
                }
                let lki = value * inverse[i];
                d -= lki * value;
                z -= lki * right[i];
                l[end] = lki;
                filled[i] += 1;
            }
            // a part that nothing joins and nothing grounds has no potential of its own: zero
            inverse[k] = if d > 1e-14 * diagonal[k] {
                1.0 / d
            } else {
                0.0
            };
            right[k] = z;
        }
        for k in (0..n).rev() {
            let (start, end) = (
                self.column_first[k] as usize,
                self.column_first[k + 1] as usize,
            );
            let mut sum = right[k] * inverse[k];
            for (&r, &lij) in self.column_row[start..end].iter().zip(&l[start..end]) {
                sum -= lij * right[r as usize];
            }
            right[k] = sum;
        }
        right
    }
}

/// Row of each node by approximate minimum degree (P. Amestoy, T. Davis, I. Duff 1996).
fn order(nodes: usize, ends: &[(u32, u32)]) -> Vec<u32> {
    let mut columns: Vec<(u32, u32)> = Vec::with_capacity(2 * ends.len());
    for &(a, b) in ends.iter().filter(|(a, b)| a != b) {
        columns.push((a, b));
        columns.push((b, a));
    }
    columns.sort_unstable();
    columns.dedup();
    let mut first = vec![0_usize; nodes + 1];
    columns.iter().for_each(|c| first[c.0 as usize + 1] += 1);
    (0..nodes).for_each(|k| first[k + 1] += first[k]);
    let entries: Vec<usize> = columns.iter().map(|c| c.1 as usize).collect();
    let mut row: Vec<u32> = (0..nodes as u32).collect();
    if entries.is_empty() {
        return row; // nothing to order, and the ordering does not take an empty matrix
    }
    // without an order the answer is the same, only slower
    if let Ok((permutation, _, _)) = amd::order(nodes, &first, &entries, &amd::Control::default()) {
        for (position, &node) in permutation.iter().enumerate() {
            row[node] = position as u32;
        }
    }
    row
}

/// Rows of L from the rows of A by the elimination tree.
fn pattern(n: usize, a_first: &[u32], a_column: &[u32]) -> (Vec<u32>, Vec<u32>) {
    let mut parent = vec![NONE; n];
    let mut mark = vec![NONE; n];
    let (mut first, mut columns) = (vec![0_u32; n + 1], Vec::new());
    for k in 0..n {
        mark[k] = k as u32;
        let start = columns.len();
        for &c in &a_column[a_first[k] as usize..a_first[k + 1] as usize] {
            let mut i = c as usize;
            while mark[i] != k as u32 {
                mark[i] = k as u32;
                columns.push(i as u32);
                if parent[i] == NONE {
                    parent[i] = k as u32;
                }
                i = parent[i] as usize;
            }
        }
        columns[start..].sort_unstable();
        first[k + 1] = columns.len() as u32;
    }
    (first, columns)
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::DMatrix;
    use nalgebra_sparse::factorization::CscCholesky;
    use nalgebra_sparse::{CooMatrix, CscMatrix};

    /// A ladder with rungs, some doubled, and a loop at a node.
    fn graph() -> (usize, Vec<(u32, u32)>) {
        let mut ends = vec![(0, 1), (0, 1), (3, 3)];
        for i in 0..12_u32 {
            ends.push((2 * i, 2 * i + 2));
            ends.push((2 * i + 3, 2 * i + 1));
            ends.push((2 * i, 2 * i + 1));
            ends.push(((7 * i) % 26, (5 * i + 3) % 26));
        }
        (26, ends)
    }

    #[test]
    fn factorisation_agrees_with_the_general_library() {
        let (n, ends) = graph();
        let mut nodal = Nodal::new(n, &ends);
        let mut coo = CooMatrix::new(n, n);
        let mut right = DMatrix::zeros(n, 1);
        for round in 1..3 {
            nodal.clear();
            coo = CooMatrix::new(n, n);
            right.fill(0.0);
            for (e, &(a, b)) in ends.iter().enumerate() {
                let (g, flow) = (0.1 + (e * round % 7) as f64, (e % 5) as f64 - 2.0);
                nodal.add(e, g, flow);
                let (a, b) = (a as usize, b as usize);
                right[a] -= flow;
                right[b] += flow;
                if a != b {
                    coo.push(a, a, g);
                    coo.push(b, b, g);
                    coo.push(a, b, -g);
                    coo.push(b, a, -g);
                }
            }
            let root = nodal.row(0);
            let own: f64 = coo
                .triplet_iter()
                .filter(|(i, j, _)| *i == 0 && *j == 0)
                .map(|(_, _, v)| v)
                .sum();
            nodal.ground(root);
            coo.push(0, 0, own);
        }
        let matrix = CscMatrix::from(&coo);
        let want = CscCholesky::factor(&matrix)
            .expect("positive definite")
            .solve(&right);
        let rows: Vec<usize> = (0..n).map(|node| nodal.row(node)).collect();
        let got = nodal.solve();
        for node in 0..n {
            assert!(
                (got[rows[node]] - want[node]).abs() < 1e-12,
                "node {node}: {} {}",
                got[rows[node]],
                want[node]
            );
        }
        assert!(got[rows[0]].abs() < 1e-13);
    }
}
