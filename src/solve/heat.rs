//! Temperatures in a network whose flows are known.
//!
//! Water carries temperature downstream, so places are visited in the order of flow and each element's outlet follows
//! from its inlet. Where water comes round again (a vessel that recirculates, a mixing set, a circuit behind an
//! exchanger, a source at the limit of its output) a few temperatures are unknowns: each sweep carries its derivatives by
//! them, and Newton's method closes the few loops.

use super::dense;
use super::setting::Setting;
use crate::hydraulics::heat::{self, Outlet};
use crate::network::{Heat, Network};

/// Temperatures and heat, by place and by element.
#[derive(Clone, Debug, Default)]
pub(super) struct Temperatures {
    pub place_c: Vec<Option<f64>>,
    pub in_c: Vec<Option<f64>>,
    pub out_c: Vec<Option<f64>>,
    pub heat_w: Vec<f64>,
    /// By source: whether its output limits it.
    pub limited: Vec<bool>,
}

/// The largest change of temperature, K, with which a sweep counts as closed; Newton's last step has squared it.
const CLOSED_K: f64 = 1e-11;
/// A flow below this share of the largest carries no heat.
pub(super) const STILL: f64 = 1e-12;

struct Arrow {
    element: usize,
    up: usize,
    down: usize,
    capacity: f64,
}

struct Sweep<'a> {
    network: &'a Network,
    setting: &'a Setting,
    /// In an order in which every arrow's inlet is known before it is met, grouped by `down`.
    arrows: Vec<Arrow>,
    /// Places in order, each with its range of `arrows`.
    order: Vec<(usize, std::ops::Range<usize>)>,
    /// Parameter index of a place that is torn.
    torn: Vec<Option<usize>>,
    torn_places: Vec<usize>,
    inflow: Vec<f64>,
    capacity_of: Vec<f64>,
    up_of: Vec<usize>,
}

/// Solves temperatures for mass flows in kg/s and heat capacities in J/(kg K) by element.
///
/// # Errors
/// The last change in K if the loops do not close.
pub(super) fn solve(
    network: &Network,
    setting: &Setting,
    flow: &[f64],
    cp: &[f64],
) -> Result<Temperatures, f64> {
    let sweep = Sweep::new(network, setting, flow, cp);
    let mut limited = vec![false; network.sources.len()];
    // a source changes between its two laws a few times at most
    for _ in 0..2 * network.sources.len() + 2 {
        let (found, made) = sweep.newton(&limited)?;
        let mut changed = false;
        for (s, source) in network.sources.iter().enumerate() {
            let (aim, e) = (&setting.sources[s], source.body.index());
            let (Some(limit), true) = (aim.output_w, sweep.capacity_of[e] > 0.0) else {
                continue;
            };
            let now = if limited[s] {
                made[s] <= aim.flow_c
            } else {
                -found.heat_w[e] > limit
            };
            if aim.runs && now != limited[s] {
                limited[s] = now;
                changed = true;
            }
        }
        if !changed {
            return Ok(Temperatures { limited, ..found });
        }
    }
    // both laws meet at the limit, where the last answer holds for either
    let (found, _) = sweep.newton(&limited)?;
    Ok(Temperatures { limited, ..found })
}

impl<'a> Sweep<'a> {
    fn new(network: &'a Network, setting: &'a Setting, flow: &[f64], cp: &[f64]) -> Self {
        let places = network.graph.node_count();
        let largest = flow.iter().fold(0.0_f64, |m, f| m.max(f.abs()));
        let mut inflow = vec![0.0; places];
        let mut capacity_of = vec![0.0; flow.len()];
        let mut up_of = vec![0; flow.len()];
        let mut arrows = Vec::new();
        let mut out_of: Vec<Vec<usize>> = vec![Vec::new(); places];
        for id in network.element_ids() {
            let e = id.index();
            let (from, to) = network.ends(id);
            let (up, down) = if flow[e] < 0.0 {
                (to.index(), from.index())
            } else {
                (from.index(), to.index())
            };
            up_of[e] = up;
            if flow[e].abs() <= STILL * largest || flow[e] == 0.0 {
                continue;
            }
            capacity_of[e] = flow[e].abs() * cp[e];
            inflow[down] += capacity_of[e];
            arrows.push(Arrow {
                element: e,
                up,
                down,
                capacity: capacity_of[e],
            });
        }
        for arrow in &arrows {
            // what a running source makes does not depend on what it gets
            let breaks = matches!(network.graph[crate::network::ElementId::new(arrow.element)].heat, Heat::Source(s) if setting.sources[s].runs);
            if !breaks {
                out_of[arrow.up].push(arrow.down);
            }
        }
        for exchanger in &network.exchangers {
            for (a, b) in [
                (exchanger.near, exchanger.far),
                (exchanger.far, exchanger.near),
            ] {
                let (a, b) = (a.index(), b.index());
                if capacity_of[a] > 0.0 && capacity_of[b] > 0.0 {
                    let (from, to) = network.ends(crate::network::ElementId::new(b));
                    out_of[up_of[a]].push(if flow[b] < 0.0 {
                        from.index()
                    } else {
                        to.index()
                    });
                }
            }
        }
        let (mut sequence, torn_places) = order(&out_of, &inflow);
        let mut torn = vec![None; places];
        for (k, &place) in torn_places.iter().enumerate() {
            torn[place] = Some(k);
        }
        // a torn place is known from the start and checked at the end, when all that flows to it is known
        sequence.sort_by_key(|&place| torn[place].is_some());
        let mut rank = vec![usize::MAX; places];
        for (k, &place) in sequence.iter().enumerate() {
            rank[place] = k;
        }
        arrows.sort_by_key(|a| (rank[a.down], a.element));
        let mut order = Vec::with_capacity(sequence.len());
        let mut next = 0;
        for &place in &sequence {
            let start = next;
            while next < arrows.len() && arrows[next].down == place {
                next += 1;
            }
            order.push((place, start..next));
        }
        Self {
            network,
            setting,
            arrows,
            order,
            torn,
            torn_places,
            inflow,
            capacity_of,
            up_of,
        }
    }

    /// Closes the loops with each source either at its flow temperature or at its output.
    fn newton(&self, limited: &[bool]) -> Result<(Temperatures, Vec<f64>), f64> {
        let sources = &self.network.sources;
        let mut made: Vec<f64> = self.setting.sources.iter().map(|s| s.flow_c).collect();
        let start_c = made.iter().copied().fold(self.setting.return_c, f64::max);
        let mut at = vec![start_c; self.torn_places.len()];
        let tears = at.len();
        let free: Vec<usize> = (0..sources.len())
            .filter(|&s| {
                limited[s]
                    && self.setting.sources[s].runs
                    && self.capacity_of[sources[s].body.index()] > 0.0
            })
            .collect();
        let n = tears + free.len();
        let mut state = Dual::new(self.inflow.len(), self.capacity_of.len(), n);
        let mut change = 0.0;
        for _ in 0..60 {
            self.sweep(&at, &made, &free, tears, &mut state);
            if n == 0 {
                return Ok((self.collect(&state), made));
            }
            let mut matrix = vec![0.0; n * n];
            let mut rhs = vec![0.0; n];
            for k in 0..tears {
                let place = self.torn_places[k];
                rhs[k] = state.mixed[k] - at[k];
                for j in 0..n {
                    matrix[k * n + j] = f64::from(u8::from(j == k)) - state.mixed_slope[k * n + j];
                }
                debug_assert!(self.torn[place] == Some(k));
            }
            for (f, &s) in free.iter().enumerate() {
                let (row, e) = (tears + f, sources[s].body.index());
                let up = self.up_of[e];
                let limit = self.setting.sources[s].output_w.unwrap_or(0.0);
                rhs[row] = state.value[up] + limit / self.capacity_of[e] - made[s];
                for j in 0..n {
                    matrix[row * n + j] = f64::from(u8::from(j == row)) - state.slope[up * n + j];
                }
            }
            dense::eliminate(&mut matrix, n, &mut rhs);
            change = rhs.iter().fold(0.0_f64, |m, x| m.max(x.abs()));
            if !change.is_finite() {
                return Err(change);
            }
            for k in 0..tears {
                at[k] += rhs[k];
            }
            for (f, &s) in free.iter().enumerate() {
                made[s] += rhs[tears + f];
            }
            if change <= CLOSED_K {
                self.sweep(&at, &made, &free, tears, &mut state);
                return Ok((self.collect(&state), made));
            }
        }
        Err(change)
    }

    fn outlet(&self, arrow: &Arrow, in_c: f64, other_c: Option<f64>) -> (Outlet, f64) {
        let still = (
            Outlet {
                out_c: in_c,
                slope: 1.0,
            },
            0.0,
        );
        let network = self.network;
        match network.graph[crate::network::ElementId::new(arrow.element)].heat {
            Heat::None | Heat::Source(_) => still,
            Heat::Loss {
                u_w_mk,
                length_m,
                ambient_c,
            } => (
                heat::pipe(in_c, arrow.capacity, u_w_mk, length_m, ambient_c),
                0.0,
            ),
            Heat::Emitter(i) => {
                let emitter = &network.emitters[i];
                let room_c = network.rooms[emitter.room].temperature_c;
                (
                    heat::emitter(&emitter.law, in_c, arrow.capacity, room_c),
                    0.0,
                )
            }
            Heat::Cylinder(i) => {
                let cylinder = &network.cylinders[i];
                match (cylinder.coil_area_m2, cylinder.store_c) {
                    (Some(area), Some(store_c)) => (
                        heat::pipe(in_c, arrow.capacity, heat::COIL_W_M2K * area, 1.0, store_c),
                        0.0,
                    ),
                    _ => (
                        // a coil of which only the drop is known takes that at its flow temperature, and less as the
                        // water cools: half of what is over twice the drop below it, so that heat and output can meet
                        Outlet {
                            out_c: in_c
                                - (in_c - cylinder.flow_temperature_c + 2.0 * cylinder.drop_k)
                                    / 2.0,
                            slope: 0.5,
                        },
                        0.0,
                    ),
                }
            }
            Heat::Exchanger(i, near) => {
                let exchanger = &network.exchangers[i];
                let other = if near { exchanger.far } else { exchanger.near };
                let (own, theirs) = (arrow.capacity, self.capacity_of[other.index()]);
                let Some(other_c) = other_c.filter(|_| theirs > 0.0) else {
                    return still;
                };
                let share = heat::counterflow_effectiveness(exchanger.ua_w_k, own, theirs)
                    * own.min(theirs)
                    / own;
                (
                    Outlet {
                        out_c: in_c - share * (in_c - other_c),
                        slope: 1.0 - share,
                    },
                    share,
                )
            }
        }
    }

    /// Inlet place of the other side of an exchanger, if the arrow is one of its sides.
    fn partner(&self, arrow: &Arrow) -> Option<usize> {
        match self.network.graph[crate::network::ElementId::new(arrow.element)].heat {
            Heat::Exchanger(i, near) => {
                let exchanger = &self.network.exchangers[i];
                let other = if near { exchanger.far } else { exchanger.near };
                (self.capacity_of[other.index()] > 0.0).then(|| self.up_of[other.index()])
            }
            _ => None,
        }
    }

    fn sweep(&self, at: &[f64], made: &[f64], free: &[usize], tears: usize, state: &mut Dual) {
        let n = state.n;
        state.slope.fill(0.0);
        state.mixed_slope.fill(0.0);
        for (k, &place) in self.torn_places.iter().enumerate() {
            state.value[place] = at[k];
            state.slope[place * n + k] = 1.0;
        }
        let mut gradient = vec![0.0; n];
        for (place, range) in &self.order {
            let mut sum = 0.0;
            gradient.fill(0.0);
            for arrow in &self.arrows[range.clone()] {
                let weight = arrow.capacity / self.inflow[*place];
                let heat = self.network.graph[crate::network::ElementId::new(arrow.element)].heat;
                if let Heat::Source(s) = heat
                    && self.setting.sources[s].runs
                {
                    state.out[arrow.element] = made[s];
                    sum += weight * made[s];
                    if let Some(f) = free.iter().position(|&x| x == s) {
                        gradient[tears + f] += weight;
                    }
                    continue;
                }
                let partner = self.partner(arrow);
                let (outlet, cross) = self.outlet(
                    arrow,
                    state.value[arrow.up],
                    partner.map(|p| state.value[p]),
                );
                state.out[arrow.element] = outlet.out_c;
                sum += weight * outlet.out_c;
                for j in 0..n {
                    gradient[j] += weight * outlet.slope * state.slope[arrow.up * n + j];
                    if let Some(p) = partner {
                        gradient[j] += weight * cross * state.slope[p * n + j];
                    }
                }
            }
            if let Some(k) = self.torn[*place] {
                state.mixed[k] = sum;
                state.mixed_slope[k * n..(k + 1) * n].copy_from_slice(&gradient);
            } else {
                state.value[*place] = sum;
                state.slope[place * n..(place + 1) * n].copy_from_slice(&gradient);
            }
        }
    }

    fn collect(&self, state: &Dual) -> Temperatures {
        let elements = self.capacity_of.len();
        let place_c = (0..self.inflow.len())
            .map(|p| (self.inflow[p] > 0.0).then(|| state.value[p]))
            .collect();
        let mut all = Temperatures {
            place_c,
            in_c: vec![None; elements],
            out_c: vec![None; elements],
            heat_w: vec![0.0; elements],

            limited: Vec::new(),
        };
        for arrow in &self.arrows {
            let e = arrow.element;
            let (in_c, out_c) = (state.value[arrow.up], state.out[e]);
            all.in_c[e] = Some(in_c);
            all.out_c[e] = Some(out_c);
            all.heat_w[e] = arrow.capacity * (in_c - out_c);
        }
        all
    }
}

/// Temperatures with their derivatives by the unknowns.
struct Dual {
    n: usize,
    value: Vec<f64>,
    slope: Vec<f64>,
    out: Vec<f64>,
    mixed: Vec<f64>,
    mixed_slope: Vec<f64>,
}

impl Dual {
    fn new(places: usize, elements: usize, n: usize) -> Self {
        Self {
            n,
            value: vec![0.0; places],
            slope: vec![0.0; places * n],
            out: vec![0.0; elements],
            mixed: vec![0.0; n],
            mixed_slope: vec![0.0; n * n],
        }
    }
}

/// Places in an order of flow, and the places that must be torn for there to be one: the targets of the back edges of a
/// depth-first search.
fn order(out_of: &[Vec<usize>], inflow: &[f64]) -> (Vec<usize>, Vec<usize>) {
    let mut colour = vec![0_u8; out_of.len()];
    let (mut finished, mut torn) = (Vec::new(), Vec::new());
    for root in 0..out_of.len() {
        if inflow[root] <= 0.0 || colour[root] != 0 {
            continue;
        }
        let mut stack = vec![(root, 0)];
        colour[root] = 1;
        while let Some((place, next)) = stack.last_mut() {
            if let Some(&to) = out_of[*place].get(*next) {
                *next += 1;
                match colour[to] {
                    0 => {
                        colour[to] = 1;
                        stack.push((to, 0));
                    }
                    1 if !torn.contains(&to) => torn.push(to),
                    _ => {}
                }
            } else {
                colour[*place] = 2;
                finished.push(*place);
                stack.pop();
            }
        }
    }
    finished.reverse();
    (finished, torn)
}
