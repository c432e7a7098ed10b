//! The order in which water carries temperature from place to place, and the places that must be torn for there to be one.

use super::setting::Setting;
use crate::network::{ElementId, Heat, Network};

/// A flow below this share of the largest carries no heat.
pub(super) const STILL: f64 = 1e-12;
const NONE: u32 = u32::MAX;

/// An element with its water running from `up` to `down`.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Route {
    pub element: u32,
    pub up: u32,
    pub down: u32,
}

/// Routes in an order in which every inlet is known before it is met. It holds as long as no flow turns, starts or stops.
#[derive(Clone, Debug, Default)]
pub(super) struct Order {
    /// Direction of each element's flow when the order was found.
    turn: Vec<i8>,
    turns: Vec<i8>,
    pub routes: Vec<Route>,
    /// Places in order, each with its range of `routes`.
    pub steps: Vec<(u32, u32, u32)>,
    pub torn_places: Vec<u32>,
    /// By place, its number among the torn.
    torn: Vec<u32>,
    /// Mass flow into each place, kg/s.
    pub inflow: Vec<f64>,
    /// Mass flow, kg/s, and capacity flow, W/K, through each element.
    pub mass: Vec<f64>,
    pub capacity: Vec<f64>,
    /// Place from which each element's water comes.
    pub up: Vec<u32>,
    /// Ends of each element.
    ends: Vec<(u32, u32)>,
    /// An order without torn places that was found before, and the directions it was found for: with part of that at rest,
    /// what is left of it is an order, too.
    whole: Whole,
    // room for the search
    first: Vec<u32>,
    next_to: Vec<u32>,
    pairs: Vec<(u32, u32)>,
    colour: Vec<u8>,
    stack: Vec<(u32, u32)>,
    finished: Vec<u32>,
    rank: Vec<u32>,
    sorted: Vec<Route>,
}

/// An order that parts of it can be taken from.
#[derive(Clone, Debug, Default)]
struct Whole {
    turn: Vec<i8>,
    routes: Vec<Route>,
    steps: Vec<(u32, u32, u32)>,
}

impl Order {
    /// Number of a place among the torn.
    pub fn torn(&self, place: usize) -> Option<usize> {
        Some(self.torn[place])
            .filter(|k| *k != NONE)
            .map(|k| k as usize)
    }

    /// Inlet place of the other side of an exchanger, if the element is one of its sides.
    pub fn partner(&self, network: &Network, element: usize) -> Option<usize> {
        match network.graph[ElementId::new(element)].heat {
            Heat::Exchanger(i, near) => {
                let exchanger = &network.exchangers[i];
                let other = if near { exchanger.far } else { exchanger.near }.index();
                (self.capacity[other] > 0.0).then(|| self.up[other] as usize)
            }
            _ => None,
        }
    }

    /// Takes up flows in kg/s and mean heat capacities in J/(kg K).
    pub fn follow(&mut self, network: &Network, setting: &Setting, flow: &[f64], cp: &[f64]) {
        let places = network.graph.node_count();
        if self.ends.len() != flow.len() {
            let ends = network.element_ids().map(|id| network.ends(id));
            self.ends = ends
                .map(|(a, b)| (a.index() as u32, b.index() as u32))
                .collect();
        }
        let largest = flow.iter().fold(0.0_f64, |m, f| m.max(f.abs()));
        self.inflow.clear();
        self.inflow.resize(places, 0.0);
        for vector in [&mut self.mass, &mut self.capacity] {
            vector.resize(flow.len(), 0.0);
        }
        self.turns.resize(flow.len(), 0);
        self.up.resize(flow.len(), 0);
        let carried = self.mass.iter_mut().zip(&mut self.capacity);
        let led = self.turns.iter_mut().zip(&mut self.up);
        let given = self.ends.iter().zip(flow).zip(cp);
        for (((&(from, to), &flow), &cp), ((mass, capacity), (turn, up))) in
            given.zip(carried.zip(led))
        {
            let (above, below) = if flow < 0.0 { (to, from) } else { (from, to) };
            let still = flow.abs() <= STILL * largest || flow == 0.0;
            *up = above;
            *mass = if still { 0.0 } else { flow.abs() };
            *capacity = *mass * cp;
            *turn = i8::from(!still && flow > 0.0) - i8::from(!still && flow < 0.0);
            self.inflow[below as usize] += *mass;
        }
        if self.turns != self.turn {
            std::mem::swap(&mut self.turn, &mut self.turns);
            if !self.part_of_whole(places) {
                self.find(network, setting, places);
                if self.torn_places.is_empty() {
                    self.whole.turn.clone_from(&self.turn);
                    self.whole.routes.clone_from(&self.routes);
                    self.whole.steps.clone_from(&self.steps);
                }
            }
        }
    }

    /// Takes the order from that of more that flowed the same way; false if there is none.
    fn part_of_whole(&mut self, places: usize) -> bool {
        let Whole {
            turn,
            routes,
            steps,
        } = &self.whole;
        let part = |(now, then): (&i8, &i8)| *now == 0 || now == then;
        if turn.len() != self.turn.len() || !self.turn.iter().zip(turn).all(part) {
            return false;
        }
        self.torn_places.clear();
        self.torn.clear();
        self.torn.resize(places, NONE);
        self.routes.clear();
        self.steps.clear();
        for &(place, from, to) in steps {
            let first = self.routes.len() as u32;
            let flowing = routes[from as usize..to as usize].iter();
            let flowing = flowing.filter(|r| self.turn[r.element as usize] != 0);
            self.routes.extend(flowing);
            let last = self.routes.len() as u32;
            if last > first {
                self.steps.push((place, first, last));
            }
        }
        true
    }

    fn find(&mut self, network: &Network, setting: &Setting, places: usize) {
        let down = |e: usize| {
            let (from, to) = network.ends(ElementId::new(e));
            if self.turn[e] < 0 { from } else { to }.index() as u32
        };
        self.routes.clear();
        self.pairs.clear();
        for e in (0..self.turn.len()).filter(|&e| self.turn[e] != 0) {
            let route = Route {
                element: e as u32,
                up: self.up[e],
                down: down(e),
            };
            self.routes.push(route);
            // what a running source makes does not depend on what it gets
            let breaks = matches!(network.graph[ElementId::new(e)].heat, Heat::Source(s) if setting.sources[s].runs);
            if !breaks {
                self.pairs.push((route.up, route.down));
            }
        }
        for exchanger in &network.exchangers {
            let (near, far) = (exchanger.near.index(), exchanger.far.index());
            for (a, b) in [(near, far), (far, near)] {
                if self.turn[a] != 0 && self.turn[b] != 0 {
                    self.pairs.push((self.up[a], down(b)));
                }
            }
        }
        self.first.clear();
        self.first.resize(places + 1, 0);
        for &(up, _) in &self.pairs {
            self.first[up as usize + 1] += 1;
        }
        for p in 0..places {
            self.first[p + 1] += self.first[p];
        }
        self.next_to.clear();
        self.next_to.resize(self.pairs.len(), 0);
        self.rank.clear();
        self.rank.extend_from_slice(&self.first[..places]);
        for &(up, down) in &self.pairs {
            self.next_to[self.rank[up as usize] as usize] = down;
            self.rank[up as usize] += 1;
        }
        self.search(places);
        self.torn.clear();
        self.torn.resize(places, NONE);
        for (k, &place) in self.torn_places.iter().enumerate() {
            self.torn[place as usize] = k as u32;
        }
        // downstream; a torn place is known from the start and checked at the end, when all that flows to it is known
        self.rank.clear();
        self.rank.resize(places, NONE);
        self.steps.clear();
        for torn in [false, true] {
            for &place in self.finished.iter().rev() {
                if (self.torn[place as usize] != NONE) == torn {
                    self.rank[place as usize] = self.steps.len() as u32;
                    self.steps.push((place, 0, 0));
                }
            }
        }
        // routes by the place they lead to, in the order of places and there in that of elements
        for route in &self.routes {
            self.steps[self.rank[route.down as usize] as usize].2 += 1;
        }
        let mut next = 0;
        for step in &mut self.steps {
            let count = step.2;
            (step.1, step.2) = (next, next);
            next += count;
        }
        self.sorted.clear();
        self.sorted.resize(self.routes.len(), Route::default());
        for route in &self.routes {
            let step = &mut self.steps[self.rank[route.down as usize] as usize];
            self.sorted[step.2 as usize] = *route;
            step.2 += 1;
        }
        std::mem::swap(&mut self.routes, &mut self.sorted);
    }

    /// Places in the reverse of an order of flow, and those that must be torn: the targets of the back edges of a
    /// depth-first search.
    fn search(&mut self, places: usize) {
        self.colour.clear();
        self.colour.resize(places, 0);
        self.finished.clear();
        self.torn_places.clear();
        for root in 0..places {
            if self.inflow[root] <= 0.0 || self.colour[root] != 0 {
                continue;
            }
            self.stack.push((root as u32, self.first[root]));
            self.colour[root] = 1;
            while let Some((place, next)) = self.stack.last_mut() {
                if *next < self.first[*place as usize + 1] {
                    let to = self.next_to[*next as usize];
                    *next += 1;
                    match self.colour[to as usize] {
                        0 => {
                            self.colour[to as usize] = 1;
                            self.stack.push((to, self.first[to as usize]));
                        }
                        1 if !self.torn_places.contains(&to) => self.torn_places.push(to),
                        _ => {}
                    }
                } else {
                    self.colour[*place as usize] = 2;
                    self.finished.push(*place);
                    self.stack.pop();
                }
            }
        }
    }
}
