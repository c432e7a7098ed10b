//! Temperatures in a network whose flows are known.
//!
//! Water carries heat downstream, so places are visited in the order of flow and each element's outlet follows from its
//! inlet, with the mean heat capacity between the two. Where several waters meet, their enthalpies mix. Where water comes round again (a vessel that recirculates, a mixing set, a circuit behind an
//! exchanger, a source at the limit of its output) a few temperatures are unknowns: each sweep carries its derivatives by
//! them, and Newton's method closes the few loops. Room to work in, the order and a start for the unknowns are kept from
//! one solve to the next.

use super::dense;
use super::heat_order::{Order, Route};
use super::setting::Setting;
use crate::fluid::Liquid;
use crate::hydraulics::{
    self,
    heat::{self, Begun, Body, Outlet},
};
use crate::network::{ElementId, Heat, Network};

/// Temperatures and heat, by place and by element.
#[derive(Clone, Debug, Default)]
pub(super) struct Temperatures {
    pub place_c: Vec<Option<f64>>,
    pub in_c: Vec<Option<f64>>,
    pub out_c: Vec<Option<f64>>,
    pub heat_w: Vec<f64>,
    /// Mean heat capacity between inlet and outlet, J/(kg K); zero where they are the same.
    pub mean_cp: Vec<f64>,
    /// By source: what decides what it makes.
    pub made_by: Vec<Made>,
}

/// What decides the temperature that a running source makes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Made {
    /// Its flow temperature.
    Aim,
    /// Its output: the flow temperature falls until heat equals output.
    Output,
    /// The water it gets, which is warmer than its flow temperature: it gives nothing, and takes nothing.
    Nothing,
}

/// Newton's last step squares what is left, so a change of this much, K, leaves less than rounding.
const CLOSED_K: f64 = 1e-7;
/// A loop is at rest if its water comes back within this, K, whatever it left with.
const REST_K: f64 = 1e-12;

/// Unknowns' part of a sweep: temperatures with their derivatives.
#[derive(Clone, Debug, Default)]
struct Dual {
    n: usize,
    value: Vec<f64>,
    slope: Vec<f64>,
    out: Vec<f64>,
    mixed: Vec<f64>,
    mixed_slope: Vec<f64>,
    gradient: Vec<f64>,
}

/// Heat of one network, with room to work in.
#[derive(Clone, Debug)]
pub(super) struct Heats {
    order: Order,
    /// Liquids by the network's fluid.
    liquids: Vec<Liquid>,
    /// By emitter, and by element the start for its body's unknown.
    bodies: Vec<Body>,
    begun: Vec<Begun>,
    /// By cylinder: conductance of its coil, W/K, and store, °C.
    coils: Vec<(f64, f64)>,
    made_by: Vec<Made>,
    made: Vec<f64>,
    at: Vec<f64>,
    dual: Dual,
    matrix: Vec<f64>,
    rhs: Vec<f64>,
    pub found: Temperatures,
}

impl Heats {
    pub fn new(network: &Network) -> Self {
        let output_w: Option<f64> = network.sources.iter().map(|s| s.output_w).sum();
        let coils = network
            .cylinders
            .iter()
            .map(|c| match (c.coil_area_m2, c.store_c) {
                (Some(area), Some(store_c)) => (heat::COIL_W_M2K * area, store_c),
                _ => heat::coil_by_drop(c.flow_temperature_c, c.drop_k, output_w),
            });
        Self {
            order: Order::default(),
            liquids: network.fluids.iter().map(hydraulics::liquid).collect(),
            bodies: network.emitters.iter().map(|e| Body::new(&e.law)).collect(),
            begun: vec![Begun::NOTHING; network.graph.edge_count()],
            coils: coils.collect(),
            made_by: vec![Made::Aim; network.sources.len()],
            made: vec![f64::NAN; network.sources.len()],
            at: Vec::new(),
            dual: Dual::default(),
            matrix: Vec::new(),
            rhs: Vec::new(),
            found: Temperatures::default(),
        }
    }

    /// Forgets what earlier solves left, so that the next does not depend on them.
    pub fn forget(&mut self) {
        self.begun.fill(Begun::NOTHING);
        self.made_by.fill(Made::Aim);
        self.made.fill(f64::NAN);
    }

    /// Where the search for each emitter's outlet begins next, by element.
    pub fn begun(&self) -> impl Iterator<Item = f64> + '_ {
        self.begun.iter().map(Begun::start)
    }

    /// Lets it begin elsewhere.
    pub fn begin(&mut self, at: &[f64]) {
        self.begun
            .iter_mut()
            .zip(at)
            .for_each(|(b, z)| *b = Begun::at(*z));
    }

    /// Solves temperatures for mass flows in kg/s and mean heat capacities in J/(kg K) by element, into `found`.
    ///
    /// # Errors
    /// The last change in K if the loops do not close.
    pub fn solve(
        &mut self,
        network: &Network,
        setting: &Setting,
        flow: &[f64],
        cp: &[f64],
    ) -> Result<(), f64> {
        self.order.follow(network, setting, flow, cp);
        // always from above: a circuit without heat ends as cold as its coldest room, whatever went before
        self.at.clear();
        let sources = network.sources.len();
        // a source changes between its laws a few times at most
        for _ in 0..3 * sources + 3 {
            self.newton(network, setting)?;
            let mut changed = false;
            for (s, source) in network.sources.iter().enumerate() {
                let (aim, e) = (&setting.sources[s], source.body.index());
                if !aim.runs || self.order.capacity[e] <= 0.0 {
                    continue;
                }
                let output_w = -self.found.heat_w[e];
                let limit = aim.output_w.unwrap_or(f64::INFINITY);
                let made_by = match self.made_by[s] {
                    Made::Aim if output_w > limit => Made::Output,
                    // more than rounding: what comes back without having given heat is not warmer
                    Made::Aim if output_w < -REST_K * self.order.capacity[e] => Made::Nothing,
                    Made::Output if self.made[s] > aim.flow_c => Made::Aim,
                    Made::Nothing if self.made[s] < aim.flow_c => Made::Aim,
                    same => same,
                };
                changed |= made_by != self.made_by[s];
                self.made_by[s] = made_by;
            }
            if !changed {
                return Ok(());
            }
        }
        // two laws meet at a limit, where the last answer holds for either
        self.newton(network, setting)
    }

    /// Closes the loops with each source by its law.
    fn newton(&mut self, network: &Network, setting: &Setting) -> Result<(), f64> {
        let tears = self.order.torn_places.len();
        let sources = network.sources.iter().zip(&setting.sources).enumerate();
        let mut free = Vec::new();
        let mut start_c = setting.return_c;
        for (s, (source, aim)) in sources {
            start_c = start_c.max(aim.flow_c);
            let flows = aim.runs && self.order.capacity[source.body.index()] > 0.0;
            if flows && self.made_by[s] != Made::Aim {
                free.push(s);
            } else {
                self.made[s] = aim.flow_c;
            }
            if self.made[s].is_nan() {
                self.made[s] = aim.flow_c;
            }
        }
        if self.at.len() != tears {
            self.at.clear();
            self.at.resize(tears, start_c);
        }
        let n = tears + free.len();
        self.dual
            .size(self.order.inflow.len(), self.order.capacity.len(), n);
        let mut change = 0.0;
        for _ in 0..60 {
            self.sweep(network, setting, &free, tears);
            if n == 0 {
                self.collect(network);
                return Ok(());
            }
            let (matrix, rhs, dual) = (&mut self.matrix, &mut self.rhs, &self.dual);
            matrix.clear();
            matrix.resize(n * n, 0.0);
            rhs.clear();
            for k in 0..tears {
                rhs.push(dual.mixed[k] - self.at[k]);
                for j in 0..n {
                    matrix[k * n + j] = f64::from(u8::from(j == k)) - dual.mixed_slope[k * n + j];
                }
            }
            for (f, &s) in free.iter().enumerate() {
                let (row, e) = (tears + f, network.sources[s].body.index());
                let up = self.order.up[e] as usize;
                let gives_w = match self.made_by[s] {
                    Made::Output => setting.sources[s].output_w.unwrap_or(0.0),
                    Made::Aim | Made::Nothing => 0.0,
                };
                rhs.push(dual.value[up] + gives_w / self.order.capacity[e] - self.made[s]);
                for j in 0..n {
                    matrix[row * n + j] = f64::from(u8::from(j == row)) - dual.slope[up * n + j];
                }
            }
            // water that goes round without heat, as cold as its room: any temperature closes its loop, so it stays
            for (k, row) in matrix.chunks_mut(n).enumerate() {
                if rhs[k].abs() <= REST_K && row.iter().all(|x| x.abs() <= REST_K) {
                    row.fill(0.0);
                    row[k] = 1.0;
                    rhs[k] = 0.0;
                }
            }
            dense::eliminate(matrix, n, rhs);
            change = rhs.iter().fold(0.0_f64, |m, x| m.max(x.abs()));
            // `max` swallows what is not a number
            if rhs.iter().any(|x| !x.is_finite()) {
                return Err(f64::INFINITY);
            }
            for k in 0..tears {
                self.at[k] += rhs[k];
            }
            for (f, &s) in free.iter().enumerate() {
                self.made[s] += rhs[tears + f];
            }
            if change <= CLOSED_K {
                self.sweep(network, setting, &free, tears);
                self.collect(network);
                return Ok(());
            }
        }
        Err(change)
    }

    /// Outlet of an element, and what it rises per kelvin of the other side of an exchanger.
    fn outlet(
        &mut self,
        network: &Network,
        route: &Route,
        capacity: f64,
        other_c: Option<f64>,
    ) -> (Outlet, f64) {
        let e = route.element as usize;
        let in_c = self.dual.value[route.up as usize];
        let still = Outlet {
            out_c: in_c,
            slope: 1.0,
        };
        let outlet = match network.graph[ElementId::new(e)].heat {
            Heat::None | Heat::Source(_) => still,
            Heat::Loss {
                u_w_mk,
                length_m,
                ambient_c,
            } => heat::pipe(in_c, capacity, u_w_mk, length_m, ambient_c),
            Heat::Emitter(i) => {
                let room_c = network.rooms[network.emitters[i].room].temperature_c;
                self.bodies[i].outlet(in_c, capacity, room_c, &mut self.begun[e])
            }
            Heat::Cylinder(i) => {
                let (ua_w_k, store_c) = self.coils[i];
                heat::pipe(in_c, capacity, ua_w_k, 1.0, store_c)
            }
            Heat::Exchanger(i, near) => {
                let exchanger = &network.exchangers[i];
                let other = if near { exchanger.far } else { exchanger.near };
                let theirs = self.order.capacity[other.index()];
                let Some(other_c) = other_c.filter(|_| theirs > 0.0) else {
                    return (still, 0.0);
                };
                let share = heat::counterflow_effectiveness(exchanger.ua_w_k, capacity, theirs)
                    * capacity.min(theirs)
                    / capacity;
                let outlet = Outlet {
                    out_c: in_c - share * (in_c - other_c),
                    slope: 1.0 - share,
                };
                return (outlet, share);
            }
        };
        (outlet, 0.0)
    }

    fn sweep(&mut self, network: &Network, setting: &Setting, free: &[usize], tears: usize) {
        let n = self.dual.n;
        self.dual.slope.fill(0.0);
        self.dual.mixed_slope.fill(0.0);
        for (k, &place) in self.order.torn_places.iter().enumerate() {
            self.dual.value[place as usize] = self.at[k];
            self.dual.slope[place as usize * n + k] = 1.0;
        }
        for step in 0..self.order.steps.len() {
            let (place, from, to) = self.order.steps[step];
            let (place, mut mix) = (place as usize, Mix::default());
            self.dual.gradient.fill(0.0);
            for k in from..to {
                let route = self.order.routes[k as usize];
                let e = route.element as usize;
                let weight = if to - from == 1 {
                    1.0
                } else {
                    self.order.mass[e] / self.order.inflow[place]
                };
                let element = &network.graph[ElementId::new(e)];
                let liquid = self.liquids[element.fluid];
                if let Heat::Source(s) = element.heat
                    && setting.sources[s].runs
                {
                    self.dual.out[e] = self.made[s];
                    let weight = mix.add(weight, self.made[s], liquid, to - from);
                    if let Some(f) = free.iter().position(|&x| x == s) {
                        self.dual.gradient[tears + f] += weight;
                    }
                    continue;
                }
                let partner = self.order.partner(network, e);
                let other_c = partner.map(|p| self.dual.value[p]);
                let capacity = self.order.capacity[e];
                let (outlet, cross) = self.outlet(network, &route, capacity, other_c);
                let dual = &mut self.dual;
                dual.out[e] = outlet.out_c;
                let weight = mix.add(weight, outlet.out_c, liquid, to - from);
                let up = route.up as usize;
                for j in 0..n {
                    dual.gradient[j] += weight * outlet.slope * dual.slope[up * n + j];
                    if let Some(p) = partner {
                        dual.gradient[j] += weight * cross * dual.slope[p * n + j];
                    }
                }
            }
            let dual = &mut self.dual;
            let (mixed_c, per_j_kgk) = mix.mixed();
            dual.gradient.iter_mut().for_each(|g| *g *= per_j_kgk);
            if let Some(k) = self.order.torn(place) {
                dual.mixed[k] = mixed_c;
                dual.mixed_slope[k * n..(k + 1) * n].copy_from_slice(&dual.gradient);
            } else {
                dual.value[place] = mixed_c;
                dual.slope[place * n..(place + 1) * n].copy_from_slice(&dual.gradient);
            }
        }
    }

    fn collect(&mut self, network: &Network) {
        let (order, dual, all) = (&self.order, &self.dual, &mut self.found);
        all.place_c.clear();
        let places = order.inflow.iter().zip(&dual.value);
        all.place_c
            .extend(places.map(|(inflow, c)| (*inflow > 0.0).then_some(*c)));
        let elements = order.mass.len();
        for side in [&mut all.in_c, &mut all.out_c] {
            side.clear();
            side.resize(elements, None);
        }
        all.heat_w.clear();
        all.heat_w.resize(elements, 0.0);
        all.mean_cp.clear();
        all.mean_cp.resize(elements, 0.0);
        all.made_by.clear();
        all.made_by.extend_from_slice(&self.made_by);
        for route in &order.routes {
            let e = route.element as usize;
            let (in_c, out_c) = (dual.value[route.up as usize], dual.out[e]);
            all.in_c[e] = Some(in_c);
            all.out_c[e] = Some(out_c);
            if in_c != out_c {
                let liquid = &self.liquids[network.graph[ElementId::new(e)].fluid];
                all.mean_cp[e] = liquid.mean_cp_j_kgk(in_c, out_c);
                all.heat_w[e] = order.mass[e] * all.mean_cp[e] * (in_c - out_c);
            }
        }
    }
}

/// Waters that meet at a place: what comes out has their mean enthalpy by mass.
#[derive(Default)]
struct Mix {
    sum_c: f64,
    enthalpy_j_kg: f64,
    liquid: Option<Liquid>,
}

impl Mix {
    /// Adds a share of the mass at `t_c`; how much enthalpy, J/kg, the mixture gets per kelvin of it (one of several), or
    /// how much temperature.
    fn add(&mut self, share: f64, t_c: f64, liquid: Liquid, ways: u32) -> f64 {
        self.sum_c += share * t_c;
        if ways == 1 || liquid.is_constant() {
            return share;
        }
        let (h, cp) = liquid.heat(t_c);
        self.enthalpy_j_kg += share * h;
        self.liquid = Some(liquid);
        share * cp
    }

    /// Temperature of the mixture, °C, and what it changes for each unit that [`Mix::add`] spoke of.
    fn mixed(&self) -> (f64, f64) {
        match self.liquid {
            None => (self.sum_c, 1.0),
            Some(liquid) => {
                let (t_c, cp) = liquid.at_enthalpy(self.enthalpy_j_kg, self.sum_c);
                (t_c, 1.0 / cp)
            }
        }
    }
}

impl Dual {
    fn size(&mut self, places: usize, elements: usize, n: usize) {
        self.n = n;
        for (vector, length) in [
            (&mut self.value, places),
            (&mut self.slope, places * n),
            (&mut self.out, elements),
            (&mut self.mixed, n),
            (&mut self.mixed_slope, n * n),
            (&mut self.gradient, n),
        ] {
            vector.resize(length, 0.0);
        }
    }
}
