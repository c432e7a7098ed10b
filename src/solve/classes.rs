//! Elements that always carry the same flow, found once for a topology.
//!
//! A random circulation tells them: each edge outside a spanning tree gets a random number as its flow, the tree's edges
//! follow by balance, all in integers modulo 2^128. An edge with zero is a bridge and never carries flow; edges with
//! equal or opposite numbers carry the same flow in every circulation (two that do not would agree by a chance of
//! 2^-128). So dead ends, chains and the flow and return of a pair are found in one pass. One edge of each class is
//! kept, the others are contracted: the circulations stay the same.

use super::forest::find;

/// Index that stands for no class.
pub(super) const NONE: u32 = u32::MAX;

/// Classes of equal flow and the graph that is left when each is one edge.
#[derive(Clone, Debug)]
pub(super) struct Classes {
    /// Class of each element; [`NONE`] for a bridge.
    pub of: Vec<u32>,
    /// +1 if the element points as its class does, else −1.
    pub sign: Vec<f64>,
    /// Contracted nodes at the ends of each class.
    pub ends: Vec<(u32, u32)>,
    /// Elements of each class: `members[first[c]..first[c + 1]]`.
    pub first: Vec<u32>,
    pub members: Vec<u32>,
    /// Contracted node of each place.
    pub node: Vec<u32>,
    /// Number of contracted nodes.
    pub nodes: usize,
}

/// SplitMix64 (G. Steele, D. Lea, C. Flood 2014), twice.
fn random(state: &mut u64) -> u128 {
    let mut next = || {
        *state = state.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = *state;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    };
    (u128::from(next()) << 64) | u128::from(next())
}

/// A random circulation modulo 2^128 on the graph of `places` nodes and directed `ends`.
fn circulation(places: usize, ends: &[(u32, u32)]) -> Vec<u128> {
    let mut first = vec![0_u32; places + 1];
    for &(a, b) in ends {
        first[a as usize + 1] += 1;
        first[b as usize + 1] += 1;
    }
    for p in 0..places {
        first[p + 1] += first[p];
    }
    let mut at = first.clone();
    let mut next_to = vec![0_u32; 2 * ends.len()];
    for (e, &(a, b)) in ends.iter().enumerate() {
        for place in [a, b] {
            next_to[at[place as usize] as usize] = e as u32;
            at[place as usize] += 1;
        }
    }
    let mut up = vec![NONE; places];
    let mut seen = vec![false; places];
    let mut in_tree = vec![false; ends.len()];
    let mut walk: Vec<u32> = Vec::with_capacity(places);
    for root in 0..places {
        if seen[root] {
            continue;
        }
        seen[root] = true;
        let mut head = walk.len();
        walk.push(root as u32);
        while head < walk.len() {
            let place = walk[head] as usize;
            head += 1;
            for &e in &next_to[first[place] as usize..first[place + 1] as usize] {
                let (a, b) = ends[e as usize];
                let other = if a as usize == place { b } else { a } as usize;
                if !seen[other] {
                    seen[other] = true;
                    in_tree[e as usize] = true;
                    up[other] = e;
                    walk.push(other as u32);
                }
            }
        }
    }
    let mut label = vec![0_u128; ends.len()];
    let mut leaving = vec![0_u128; places];
    let mut seed = 1;
    for (e, &(a, b)) in ends.iter().enumerate() {
        if !in_tree[e] {
            label[e] = random(&mut seed);
            leaving[a as usize] = leaving[a as usize].wrapping_add(label[e]);
            leaving[b as usize] = leaving[b as usize].wrapping_sub(label[e]);
        }
    }
    for &place in walk.iter().rev() {
        let (place, e) = (place as usize, up[place as usize]);
        if e == NONE {
            continue;
        }
        let (a, b) = ends[e as usize];
        let out = leaving[place];
        let (above, from_here) = if a as usize == place {
            (b, true)
        } else {
            (a, false)
        };
        label[e as usize] = if from_here { out.wrapping_neg() } else { out };
        leaving[above as usize] = leaving[above as usize].wrapping_add(out);
    }
    label
}

impl Classes {
    /// Finds the classes of a graph of `places` nodes whose elements run between `ends`.
    pub fn new(places: usize, ends: &[(u32, u32)]) -> Self {
        let label = circulation(places, ends);
        let canon = |l: u128| l.min(l.wrapping_neg());
        let mut by_label: Vec<u32> = (0..ends.len() as u32)
            .filter(|&e| label[e as usize] != 0)
            .collect();
        by_label.sort_unstable_by_key(|&e| (canon(label[e as usize]), e));
        // the first element of each class leads it; classes are numbered by their leaders
        let mut leader = vec![NONE; ends.len()];
        let mut current = NONE;
        for (k, &e) in by_label.iter().enumerate() {
            let same = k > 0 && canon(label[by_label[k - 1] as usize]) == canon(label[e as usize]);
            current = if same { current } else { e };
            leader[e as usize] = current;
        }
        let mut of = vec![NONE; ends.len()];
        let mut count = 0;
        for e in 0..ends.len() {
            if leader[e] == NONE {
                continue;
            }
            if leader[e] as usize == e {
                of[e] = count;
                count += 1;
            } else {
                of[e] = of[leader[e] as usize];
            }
        }
        let mut sign = vec![1.0; ends.len()];
        let mut parent: Vec<u32> = (0..places as u32).collect();
        for e in 0..ends.len() {
            let leads = leader[e] as usize == e;
            if leader[e] != NONE && label[e] != label[leader[e] as usize] {
                sign[e] = -1.0;
            }
            if !leads {
                let (a, b) = (find(&mut parent, ends[e].0), find(&mut parent, ends[e].1));
                parent[a.max(b) as usize] = a.min(b);
            }
        }
        let mut node = vec![NONE; places];
        let mut nodes = 0;
        for p in 0..places {
            let root = find(&mut parent, p as u32) as usize;
            if node[root] == NONE {
                node[root] = nodes;
                nodes += 1;
            }
            node[p] = node[root];
        }
        let mut first = vec![0_u32; count as usize + 1];
        for &c in of.iter().filter(|&&c| c != NONE) {
            first[c as usize + 1] += 1;
        }
        for c in 0..count as usize {
            first[c + 1] += first[c];
        }
        let mut at = first.clone();
        let mut members = vec![0_u32; first[count as usize] as usize];
        let mut class_ends = vec![(0, 0); count as usize];
        for e in 0..ends.len() {
            if of[e] == NONE {
                continue;
            }
            let c = of[e] as usize;
            if leader[e] as usize == e {
                class_ends[c] = (node[ends[e].0 as usize], node[ends[e].1 as usize]);
            }
            members[at[c] as usize] = e as u32;
            at[c] += 1;
        }
        Self {
            of,
            sign,
            ends: class_ends,
            first,
            members,
            node,
            nodes: nodes as usize,
        }
    }

    /// Number of classes.
    pub fn count(&self) -> usize {
        self.ends.len()
    }

    /// Elements of a class.
    pub fn members(&self, class: usize) -> &[u32] {
        &self.members[self.first[class] as usize..self.first[class + 1] as usize]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pair_is_one_class_and_a_dead_end_none() {
        // source 0→1, pair 1→2 and 3→0 (return), two emitters 2→3, a dead end 2→4
        let ends = [(0, 1), (1, 2), (3, 0), (2, 3), (2, 3), (2, 4), (3, 2)];
        let classes = Classes::new(5, &ends);
        assert_eq!(classes.of[0], classes.of[1]);
        assert_eq!(classes.of[0], classes.of[2]);
        assert_eq!(classes.of[5], NONE);
        assert_eq!(classes.count(), 4);
        assert_ne!(classes.of[3], classes.of[4]);
        assert_eq!(classes.nodes, 2);
    }

    #[test]
    fn elements_drawn_against_their_class_are_negative() {
        let classes = Classes::new(3, &[(0, 1), (2, 1), (2, 0)]);
        assert_eq!(classes.of, vec![0, 0, 0]);
        assert_eq!(classes.sign, vec![1.0, -1.0, 1.0]);
        assert_eq!(classes.nodes, 1);
    }
}
