//! Series and parallel reduction of a component to one way between its terminals; what does not reduce is a strip
//! (reverse return) or is set aside, to be routed last. The general reduction is that of Valdes, Tarjan and Lawler
//! (SIAM J. Comput. 11, 1982); strips are our own addition, since a reverse return is not series-parallel.

use super::chart::{Bit, Block, Component, Par, Strip};
use std::collections::{BTreeMap, BTreeSet};

/// A way set aside: it joins two places, or ends blind.
#[derive(Clone, Debug)]
pub(crate) struct Aside {
    /// Where it begins.
    pub from: usize,
    /// Where it ends; `None` if it ends blind.
    pub to: Option<usize>,
    /// From `from` to `to`.
    pub bits: Vec<Bit>,
}

/// A component as one way from its flow terminal to its return terminal.
#[derive(Clone, Debug)]
pub(crate) struct Ladder {
    pub way: Vec<Bit>,
    pub aside: Vec<Aside>,
}

#[derive(Clone, Debug)]
struct Edge {
    u: usize,
    v: usize,
    bits: Vec<Bit>,
    /// Number of its first piece: input order.
    first: usize,
}

struct Work {
    edges: Vec<Option<Edge>>,
    around: BTreeMap<usize, BTreeSet<usize>>,
    terminals: [usize; 2],
    /// Places with more than two pieces: they stay visible when a way passes through them.
    joints: BTreeSet<usize>,
    aside: Vec<Aside>,
    todo: BTreeSet<usize>,
}

/// The same way walked backwards.
pub(crate) fn reversed(bits: Vec<Bit>) -> Vec<Bit> {
    bits.into_iter()
        .rev()
        .map(|bit| match bit {
            Bit::Line(i, r) => Bit::Line(i, !r),
            Bit::Dev(i, r) => Bit::Dev(i, !r),
            Bit::Block(b, r) => Bit::Block(b, !r),
            Bit::Node(p) => Bit::Node(p),
            Bit::Par(p) => Bit::Par(Par {
                u: p.v,
                v: p.u,
                kids: p.kids.into_iter().map(reversed).collect(),
            }),
            Bit::Strip(s) => Bit::Strip(turned(s)),
        })
        .collect()
}

/// A strip walked from its end: the rails change their part.
fn turned(s: Strip) -> Strip {
    let rev = |v: Vec<Vec<Bit>>| v.into_iter().rev().map(reversed).collect::<Vec<_>>();
    Strip {
        flow_at: s.return_at.into_iter().rev().collect(),
        return_at: s.flow_at.into_iter().rev().collect(),
        flow: rev(s.back),
        back: rev(s.flow),
        rungs: rev(s.rungs),
    }
}

/// Whether something between the rails is in it, so that it is more than pipe.
pub(crate) fn heavy(bits: &[Bit]) -> bool {
    bits.iter().any(|b| match b {
        Bit::Block(..) | Bit::Strip(_) => true,
        Bit::Par(p) => p.kids.iter().any(|k| heavy(k)),
        _ => false,
    })
}

/// Reduce; `floor_loops` says which runs are bodies.
pub(crate) fn reduce(component: &Component, is_body: &dyn Fn(usize) -> Option<usize>) -> Ladder {
    let mut degree: BTreeMap<usize, usize> = BTreeMap::new();
    for p in &component.pieces {
        *degree.entry(p.a).or_default() += 1;
        *degree.entry(p.b).or_default() += 1;
    }
    let mut work = Work {
        edges: Vec::new(),
        around: BTreeMap::new(),
        terminals: [component.from, component.to],
        joints: degree
            .iter()
            .filter(|(_, d)| **d > 2)
            .map(|(p, _)| *p)
            .collect(),
        aside: Vec::new(),
        todo: degree.keys().copied().collect(),
    };
    for t in [component.from, component.to] {
        if degree.get(&t).is_some_and(|d| *d > 1) {
            work.joints.insert(t);
        }
    }
    for (i, p) in component.pieces.iter().enumerate() {
        let mut bits = vec![p.bit.clone()];
        if let Bit::Line(run, rev) = p.bit
            && let Some(emitter) = is_body(run)
        {
            bits = vec![
                Bit::Line(run, rev),
                Bit::Block(Block::Emitter(emitter), rev),
            ];
        }
        work.add(Edge {
            u: p.a,
            v: p.b,
            bits,
            first: i,
        });
    }
    work.run();
    work.finish(component)
}

impl Work {
    fn add(&mut self, edge: Edge) {
        if edge.u == edge.v {
            self.joints.insert(edge.u);
            self.aside.push(Aside {
                from: edge.u,
                to: Some(edge.v),
                bits: edge.bits,
            });
            return;
        }
        // a second way between the same two places joins the first
        let (small, other) = if self.degree(edge.u) <= self.degree(edge.v) {
            (edge.u, edge.v)
        } else {
            (edge.v, edge.u)
        };
        let twin = self.around.get(&small).and_then(|set| {
            set.iter().copied().find(|&i| {
                self.edges[i]
                    .as_ref()
                    .is_some_and(|e| e.u == other || e.v == other)
            })
        });
        if let Some(twin) = twin
            && let Some(mut first) = self.take(twin)
        {
            let (u, v) = (first.u, first.v);
            let mut second = if edge.u == u {
                edge
            } else {
                Edge {
                    u,
                    v,
                    bits: reversed(edge.bits),
                    first: edge.first,
                }
            };
            if second.first < first.first {
                std::mem::swap(&mut first, &mut second);
            }
            // pipe beside pipe: the second is routed once the first has its place
            if !heavy(&first.bits) && !heavy(&second.bits) {
                self.joints.extend([u, v]);
                self.aside.push(Aside {
                    from: u,
                    to: Some(v),
                    bits: second.bits,
                });
                self.add(first);
                return;
            }
            let first_number = first.first;
            let mut kids = kids_of(first.bits);
            kids.extend(kids_of(second.bits));
            self.add(Edge {
                u,
                v,
                bits: vec![Bit::Par(Par { u, v, kids })],
                first: first_number,
            });
            return;
        }
        let id = self.edges.len();
        for p in [edge.u, edge.v] {
            self.around.entry(p).or_default().insert(id);
            self.todo.insert(p);
        }
        self.edges.push(Some(edge));
    }

    fn take(&mut self, id: usize) -> Option<Edge> {
        let edge = self.edges.get_mut(id)?.take()?;
        for p in [edge.u, edge.v] {
            if let Some(set) = self.around.get_mut(&p) {
                set.remove(&id);
            }
            self.todo.insert(p);
        }
        Some(edge)
    }

    fn degree(&self, place: usize) -> usize {
        self.around.get(&place).map_or(0, BTreeSet::len)
    }

    fn at(&self, place: usize) -> Vec<usize> {
        self.around
            .get(&place)
            .map(|s| s.iter().copied().collect())
            .unwrap_or_default()
    }

    fn run(&mut self) {
        loop {
            while let Some(place) = self.todo.pop_first() {
                self.step(place);
            }
            let alive: Vec<usize> = (0..self.edges.len())
                .filter(|&i| self.edges[i].is_some())
                .collect();
            if alive.len() <= 1 {
                return;
            }
            if self.strip() {
                continue;
            }
            let Some(cut) = self.to_cut(&alive) else {
                return;
            };
            if let Some(edge) = self.take(cut) {
                self.joints.insert(edge.u);
                self.joints.insert(edge.v);
                self.aside.push(Aside {
                    from: edge.u,
                    to: Some(edge.v),
                    bits: edge.bits,
                });
            }
        }
    }

    fn step(&mut self, place: usize) {
        if self.terminals.contains(&place) {
            return;
        }
        match self.at(place)[..] {
            [only] => {
                if let Some(edge) = self.take(only) {
                    let (from, bits) = if edge.v == place {
                        (edge.u, edge.bits)
                    } else {
                        (edge.v, reversed(edge.bits))
                    };
                    self.joints.insert(from);
                    self.aside.push(Aside {
                        from,
                        to: None,
                        bits,
                    });
                }
            }
            [one, two] => {
                let (Some(a), Some(b)) = (self.take(one), self.take(two)) else {
                    return;
                };
                let (u, mut bits) = if a.v == place {
                    (a.u, a.bits)
                } else {
                    (a.v, reversed(a.bits))
                };
                let (v, rest) = if b.u == place {
                    (b.v, b.bits)
                } else {
                    (b.u, reversed(b.bits))
                };
                if self.joints.contains(&place) {
                    bits.push(Bit::Node(place));
                }
                bits.extend(rest);
                self.add(Edge {
                    u,
                    v,
                    bits,
                    first: a.first.min(b.first),
                });
            }
            _ => {}
        }
    }

    /// The way between two neighbouring places, from the first to the second.
    fn between(&self, p: usize, q: usize) -> Option<usize> {
        self.at(p).into_iter().find(|&i| {
            self.edges[i]
                .as_ref()
                .is_some_and(|e| (e.u == p && e.v == q) || (e.u == q && e.v == p))
        })
    }

    fn far_end(&self, id: usize, p: usize) -> usize {
        self.edges[id]
            .as_ref()
            .map_or(p, |e| if e.u == p { e.v } else { e.u })
    }

    fn light(&self, id: usize) -> bool {
        self.edges[id].as_ref().is_some_and(|e| !heavy(&e.bits))
    }

    /// Whether a way is one body with pipes: only such rungs make a strip.
    fn single(&self, id: usize) -> bool {
        self.edges[id].as_ref().is_some_and(|e| {
            let bodies = e.bits.iter().filter(|b| matches!(b, Bit::Block(..)));
            let nested = e
                .bits
                .iter()
                .any(|b| matches!(b, Bit::Par(_) | Bit::Strip(_)));
            bodies.count() == 1 && !nested
        })
    }

    /// Find one strip and make it one way.
    fn strip(&mut self) -> bool {
        let places: Vec<usize> = self.around.keys().copied().collect();
        for u in places {
            for e_flow in self.at(u) {
                if !self.light(e_flow) {
                    continue;
                }
                for e_rung in self.at(u) {
                    if e_rung == e_flow || !self.single(e_rung) {
                        continue;
                    }
                    if let Some(found) = self.follow(u, e_flow, e_rung) {
                        self.contract(u, found);
                        return true;
                    }
                }
            }
        }
        false
    }

    /// Follow two rails from `u`: places of both and where they meet.
    fn follow(&self, u: usize, e_flow: usize, e_rung: usize) -> Option<(Vec<usize>, Vec<usize>)> {
        let (mut p, mut q) = (self.far_end(e_flow, u), self.far_end(e_rung, u));
        let (mut flow, mut back) = (vec![u], Vec::new());
        let (mut came_p, mut came_q) = (e_flow, e_rung);
        loop {
            if p == q || self.terminals.contains(&p) || self.terminals.contains(&q) {
                return None;
            }
            let rung = self.between(p, q)?;
            if !self.single(rung) || self.degree(p) != 3 || self.degree(q) != 3 {
                return None;
            }
            flow.push(p);
            back.push(q);
            let on = |place: usize, came: usize| {
                self.at(place).into_iter().find(|&e| e != came && e != rung)
            };
            let (next_p, next_q) = (on(p, came_p)?, on(q, came_q)?);
            if !self.light(next_q) {
                return None;
            }
            let (pp, qq) = (self.far_end(next_p, p), self.far_end(next_q, q));
            if pp == qq {
                if !self.single(next_p) || pp == u {
                    return None;
                }
                back.push(pp);
                return Some((flow, back));
            }
            if !self.light(next_p) || flow.contains(&pp) || back.contains(&qq) {
                return None;
            }
            (p, q, came_p, came_q) = (pp, qq, next_p, next_q);
        }
    }

    fn taken(&mut self, p: usize, q: usize) -> (Vec<Bit>, usize) {
        match self.between(p, q).and_then(|id| self.take(id)) {
            Some(e) if e.u == p => (e.bits, e.first),
            Some(e) => (reversed(e.bits), e.first),
            None => (Vec::new(), usize::MAX),
        }
    }

    fn contract(&mut self, u: usize, (flow_at, return_at): (Vec<usize>, Vec<usize>)) {
        let n = flow_at.len();
        let mut first = usize::MAX;
        let mut take = |work: &mut Self, p: usize, q: usize| {
            let (bits, number) = work.taken(p, q);
            first = first.min(number);
            bits
        };
        let mut rungs = vec![take(self, flow_at[0], return_at[0])];
        let (mut flow, mut back) = (Vec::new(), Vec::new());
        for i in 1..n {
            flow.push(take(self, flow_at[i - 1], flow_at[i]));
            rungs.push(take(self, flow_at[i], return_at[i - 1]));
            back.push(take(self, return_at[i - 1], return_at[i]));
        }
        let v = return_at[n - 1];
        rungs.push(take(self, flow_at[n - 1], v));
        self.add(Edge {
            u,
            v,
            bits: vec![Bit::Strip(Strip {
                flow_at,
                return_at,
                flow,
                back,
                rungs,
            })],
            first,
        });
    }

    /// The way to set aside: plain pipe before bodies, later before earlier, never one that holds the rest together.
    fn to_cut(&self, alive: &[usize]) -> Option<usize> {
        let mut order: Vec<usize> = alive.to_vec();
        order.sort_by_key(|&i| {
            let e = self.edges[i].as_ref();
            (
                e.is_some_and(|e| heavy(&e.bits)),
                std::cmp::Reverse(e.map_or(0, |e| e.first)),
            )
        });
        order.into_iter().find(|&i| self.is_spare(i))
    }

    fn is_spare(&self, cut: usize) -> bool {
        let Some(edge) = &self.edges[cut] else {
            return false;
        };
        let mut seen = BTreeSet::from([edge.u]);
        let mut stack = vec![edge.u];
        while let Some(p) = stack.pop() {
            for id in self.at(p) {
                let q = self.far_end(id, p);
                if id != cut && seen.insert(q) {
                    stack.push(q);
                }
            }
        }
        seen.contains(&edge.v)
    }

    fn finish(mut self, component: &Component) -> Ladder {
        let (from, to) = (component.from, component.to);
        let mut way = Vec::new();
        for i in 0..self.edges.len() {
            if let Some(edge) = self.take(i) {
                let bits = if edge.u == from && edge.v == to {
                    edge.bits
                } else if edge.v == from && edge.u == to {
                    reversed(edge.bits)
                } else {
                    self.aside.push(Aside {
                        from: edge.u,
                        to: Some(edge.v),
                        bits: edge.bits,
                    });
                    continue;
                };
                if way.is_empty() {
                    way = bits;
                }
            }
        }
        Ladder {
            way,
            aside: self.aside,
        }
    }
}

fn kids_of(bits: Vec<Bit>) -> Vec<Vec<Bit>> {
    match <[Bit; 1]>::try_from(bits) {
        Ok([Bit::Par(p)]) => p.kids,
        Ok([one]) => vec![vec![one]],
        Err(bits) => vec![bits],
    }
}
