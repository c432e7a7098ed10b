//! Spanning tree and loops: what a set of free elements leaves open once each place balances.

use super::edge::Edge;

/// Spanning tree, loops, and the flows that held elements impose.
pub(super) struct Loops {
    /// Element behind each free edge that is a chord.
    pub chords: Vec<usize>,
    /// By loop: elements with their sign, the chord itself first.
    pub members: Vec<Vec<(usize, f64)>>,
    /// Flow of each element with all chords at zero.
    pub particular: Vec<f64>,
    /// Elements that lie on some loop.
    pub on_loops: Vec<usize>,
}

/// A cap or a hold that the rest cannot balance.
pub(super) struct Unbalanced {
    pub place: usize,
    pub flow_kg_s: f64,
}

impl Loops {
    /// `ease` orders the elements for the tree: least resistance first, so that a vessel is never a chord.
    pub fn new(places: usize, edges: &[Edge], ease: &[usize]) -> Result<Self, Unbalanced> {
        let mut parent: Vec<usize> = (0..places).collect();
        fn find(parent: &mut [usize], mut x: usize) -> usize {
            while parent[x] != x {
                parent[x] = parent[parent[x]];
                x = parent[x];
            }
            x
        }
        let mut in_tree = vec![false; edges.len()];
        let mut next_to: Vec<Vec<(usize, usize, f64)>> = vec![Vec::new(); places];
        for &e in ease.iter().filter(|&&e| edges[e].is_free()) {
            let (a, b) = edges[e].ends;
            let (ra, rb) = (find(&mut parent, a), find(&mut parent, b));
            if ra != rb {
                parent[ra] = rb;
                in_tree[e] = true;
                next_to[a].push((b, e, 1.0));
                next_to[b].push((a, e, -1.0));
            }
        }
        // surplus of each place from what is held
        let mut surplus = vec![0.0; places];
        let mut held_scale = 0.0_f64;
        let mut particular = vec![0.0; edges.len()];
        for (e, edge) in edges.iter().enumerate() {
            if let Some(flow) = edge.fixed_flow() {
                particular[e] = flow;
                held_scale = held_scale.max(flow.abs());
                if edge.ends.0 != edge.ends.1 {
                    surplus[edge.ends.0] -= flow;
                    surplus[edge.ends.1] += flow;
                }
            }
        }
        // walk each tree from a root; (parent place, element, sign of the element from place to parent), depth
        let mut up: Vec<Option<(usize, usize, f64)>> = vec![None; places];
        let mut depth = vec![usize::MAX; places];
        let mut walk = Vec::with_capacity(places);
        for root in 0..places {
            if depth[root] != usize::MAX {
                continue;
            }
            depth[root] = 0;
            let mut head = walk.len();
            walk.push(root);
            while head < walk.len() {
                let place = walk[head];
                head += 1;
                for &(to, e, sign) in &next_to[place] {
                    if depth[to] == usize::MAX {
                        depth[to] = depth[place] + 1;
                        up[to] = Some((place, e, -sign));
                        walk.push(to);
                    }
                }
            }
        }
        for &place in walk.iter().rev() {
            match up[place] {
                Some((above, e, sign)) => {
                    particular[e] = sign * surplus[place];
                    surplus[above] += surplus[place];
                }
                None if surplus[place].abs() > 1e-9 * held_scale => {
                    return Err(Unbalanced {
                        place,
                        flow_kg_s: surplus[place],
                    });
                }
                None => {}
            }
        }
        let mut loops = Self {
            chords: Vec::new(),
            members: Vec::new(),
            particular,
            on_loops: Vec::new(),
        };
        let mut on = vec![false; edges.len()];
        for e in (0..edges.len()).filter(|&e| edges[e].is_free() && !in_tree[e]) {
            let mut members = vec![(e, 1.0)];
            // back from the chord's head to its tail through the tree
            let (mut u, mut v) = (edges[e].ends.1, edges[e].ends.0);
            while u != v {
                if depth[u] >= depth[v] {
                    let Some((above, t, sign)) = up[u] else { break };
                    members.push((t, sign));
                    u = above;
                } else {
                    let Some((above, t, sign)) = up[v] else { break };
                    members.push((t, -sign));
                    v = above;
                }
            }
            members.iter().for_each(|m| on[m.0] = true);
            loops.chords.push(e);
            loops.members.push(members);
        }
        loops.on_loops = (0..edges.len()).filter(|&e| on[e]).collect();
        Ok(loops)
    }

    /// Flows of all elements from those of the chords.
    pub fn flows(&self, chord_flows: &[f64], flow: &mut [f64]) {
        flow.copy_from_slice(&self.particular);
        for (members, y) in self.members.iter().zip(chord_flows) {
            for &(e, sign) in members {
                flow[e] += sign * y;
            }
        }
    }
}
