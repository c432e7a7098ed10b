//! What is known only when all is laid: separate circuits with their fluid and reference place, pump curves in Pa, and
//! the draw of blended manifolds.

use super::build::{Builder, GRAVITY_M_S2, PendingPump, fluid_data};
use super::lookup;
use crate::diag::Diagnostic;
use crate::network::{Law, PlaceId, PumpControl, PumpCurve, VesselKind};
use crate::survey::{Curve, Head, PumpMode};
use petgraph::unionfind::UnionFind;
use std::collections::BTreeMap;

impl Builder<'_> {
    /// Gives each separate circuit its fluid and its reference place.
    pub fn circuits(&mut self) {
        let circuit_of = self.circuit_of();
        let survey = self.survey;
        let mut fluid_of: BTreeMap<u32, (usize, usize)> = BTreeMap::new();
        for (index, x) in survey.exchangers.iter().enumerate() {
            let (Some(fluid), Some(laid)) = (&x.fluid, self.network.exchangers.get(index)) else {
                continue;
            };
            let far = self.network.ends(laid.far).0;
            let near = self.network.ends(laid.near).0;
            let (far, near) = (circuit_of[far.index()], circuit_of[near.index()]);
            if far == near {
                self.faults.push(
                    Diagnostic::error(
                        "exchanger-joined",
                        x.name.span.clone(),
                        format!("both sides of the exchanger `{}` belong to the same circuit", x.name.value),
                    )
                    .label("its two sides are joined by a pipe")
                    .help("pairs that begin at its name belong to the far side; the near side is fed by `from` or by a pair that ends at its name"),
                );
                continue;
            }
            let data = fluid_data(fluid.value.clone());
            let slot = match self.network.fluids.iter().position(|f| *f == data) {
                Some(known) => known,
                None => {
                    self.network.fluids.push(data);
                    self.network.fluids.len() - 1
                }
            };
            match fluid_of.get(&far) {
                Some((other, first)) if *other != slot => {
                    let also = survey.exchangers[*first]
                        .fluid
                        .as_ref()
                        .map_or(x.name.span.clone(), |f| f.span.clone());
                    self.faults.push(
                        Diagnostic::error(
                            "two-fluids",
                            fluid.span.clone(),
                            "one circuit is said to hold two fluids",
                        )
                        .label("another fluid than that of the other exchanger")
                        .also(also, "the other one")
                        .help(
                            "both exchangers feed the same circuit: write the same fluid at both",
                        ),
                    );
                }
                _ => {
                    fluid_of.insert(far, (slot, index));
                }
            }
        }
        let mut met: BTreeMap<u32, PlaceId> = BTreeMap::new();
        for place in self.network.place_ids() {
            met.entry(circuit_of[place.index()]).or_insert(place);
        }
        let mut reference: Vec<PlaceId> = met.into_values().collect();
        reference.sort_unstable();
        self.network.reference = reference.into_iter().map(|place| (place, 0.0)).collect();
        for id in self.network.element_ids() {
            let circuit = circuit_of[self.network.ends(id).0.index()];
            if let Some((fluid, _)) = fluid_of.get(&circuit) {
                self.network.graph[id].fluid = *fluid;
            }
        }
    }

    /// By place: a number that is the same for all places that water joins.
    pub fn circuit_of(&self) -> Vec<u32> {
        let graph = &self.network.graph;
        let mut sets: UnionFind<u32> = UnionFind::new(graph.node_count());
        for id in self.network.element_ids() {
            let (a, b) = self.network.ends(id);
            sets.union(a.index() as u32, b.index() as u32);
        }
        sets.into_labeling()
    }

    /// Turns the curves and modes of all pumps into Pa and kg/s of the fluid that they pump.
    pub fn pumps(&mut self) {
        for pending in self.take_pending_pumps() {
            let element = self.network.pumps[pending.pump].element;
            let fluid = &self.network.fluids[self.network.graph[element].fluid];
            let density = lookup::density(fluid, pending.at_c);
            let curve = curve_pa(pending.curve, density);
            self.network.pumps[pending.pump].mode = self.control(&pending, &curve, density);
            self.network.graph[element].law = Law::Pump(curve);
        }
    }

    fn control(&mut self, pending: &PendingPump, curve: &PumpCurve, density: f64) -> PumpControl {
        let info = &self.network.pumps[pending.pump];
        let (name, source) = (
            info.name.clone(),
            info.source.and_then(|s| self.source(s)).cloned(),
        );
        let bound = |drop_k: f64| {
            let range = |q: Option<f64>| q.map(|q| q * density);
            let least = source.as_ref().and_then(|s| range(s.least_flow_m3_s));
            let greatest = source.as_ref().and_then(|s| range(s.greatest_flow_m3_s));
            PumpControl::HeldToDrop {
                drop_k,
                least_kg_s: least.unwrap_or(0.0),
                // no bound but the curve's own end
                greatest_kg_s: greatest.unwrap_or(flow_at(curve, 0.0) / 3600.0 * density),
            }
        };
        match pending.mode {
            Some(PumpMode::FixedSpeed(share)) => PumpControl::FixedSpeed(share),
            Some(PumpMode::ConstantHead(head)) => PumpControl::ConstantHead(pascal(head, density)),
            Some(PumpMode::ProportionalHead(head)) => {
                let head_pa = pascal(head, density);
                PumpControl::ProportionalHead {
                    head_pa,
                    at_m3h: flow_at(curve, head_pa),
                }
            }
            Some(PumpMode::HeldToFlow(flow)) => PumpControl::HeldToFlow(flow.0 * density),
            Some(PumpMode::HeldToDrop(drop)) => bound(drop.0),
            None => {
                let ranged = source
                    .as_ref()
                    .is_some_and(|s| s.least_flow_m3_s.is_some() && s.greatest_flow_m3_s.is_some());
                if ranged {
                    let drop_k = self.network.design.drop_k;
                    self.assume(
                        &name,
                        &format!(
                            "its pump holds a drop of {} K between its least and greatest flow",
                            lookup::short(drop_k)
                        ),
                        "common practice, no source",
                    );
                    bound(drop_k)
                } else {
                    self.assume(
                        &name,
                        "its pump runs at full speed",
                        "how pipecarry reckons",
                    );
                    PumpControl::FixedSpeed(1.0)
                }
            }
        }
    }

    /// What a mixing set draws at design: Σ duty/(cp·(flow − return)), with the return a drop below the set temperature.
    pub fn blends(&mut self) {
        for index in 0..self.network.manifolds.len() {
            let manifold = &self.network.manifolds[index];
            let Some(blend) = manifold.blend else {
                continue;
            };
            let design_c = self.network.design.flow_temperature_c;
            let (mut heat_w, mut flow_kg_s) = (0.0, 0.0);
            let fluid = &self.network.fluids[self.network.graph[blend.inlet].fluid];
            let cp = lookup::heat_capacity(fluid, blend.set_c);
            for &e in &manifold.emitters {
                let e = &self.network.emitters[e];
                heat_w += e.duty_w;
                flow_kg_s += e.duty_w / (cp * e.drop_k);
            }
            let back_c = if flow_kg_s > 0.0 {
                blend.set_c - heat_w / (cp * flow_kg_s)
            } else {
                blend.set_c
            };
            let draw = if design_c > blend.set_c {
                heat_w / (cp * (design_c - back_c))
            } else {
                flow_kg_s
            };
            if let Law::HoldFlow { flow_kg_s, .. } = &mut self.network.graph[blend.inlet].law {
                *flow_kg_s = draw;
            }
            let written = self
                .survey
                .manifolds
                .get(index)
                .and_then(|m| m.blend.as_ref());
            if let (Some(written), true) = (written, blend.set_c > design_c) {
                let name = self.network.manifolds[index].name.clone();
                self.faults.push(
                    Diagnostic::warning(
                        "blend-above-flow",
                        written.span.clone(),
                        format!(
                            "`{name}` is to mix to {} °C, but only {} °C arrives",
                            lookup::short(blend.set_c),
                            lookup::short(design_c)
                        ),
                    )
                    .label("warmer than the flow")
                    .help("mix to a lower temperature, or raise design flow_temperature"),
                );
            }
        }
    }

    /// Elements of vessels' and headers' ends, where circuits of several pumps meet without disturbing each other.
    pub fn headers(&self) -> Vec<(PlaceId, PlaceId)> {
        let ends = |v: &crate::network::Vessel| match v.kind {
            VesselKind::FourPort { top, bottom, .. }
            | VesselKind::ThreePort { top, bottom, .. } => Some((top, bottom)),
            VesselKind::Series { .. } => None,
        };
        self.network.vessels.iter().filter_map(ends).collect()
    }
}

fn pascal(head: Head, density: f64) -> f64 {
    match head {
        Head::Pressure(p) => p.0,
        Head::Fluid(m) => m.0 * GRAVITY_M_S2 * density,
    }
}

fn curve_pa(curve: &Curve, density: f64) -> PumpCurve {
    match curve {
        Curve::Points(points) => PumpCurve::Points(
            points
                .iter()
                .map(|(q, head)| (q.0 * 3600.0, pascal(*head, density)))
                .collect(),
        ),
        Curve::Coefficients { a, b, c } => PumpCurve::Quadratic {
            a_pa: pascal(*a, density),
            b_pa: pascal(*b, density),
            c_pa: pascal(*c, density),
        },
    }
}

/// Flow at which a curve at full speed has fallen to a head, m³/h. A curve that never falls so far ends at ten times
/// its last point.
pub(super) fn flow_at(curve: &PumpCurve, head_pa: f64) -> f64 {
    match curve {
        PumpCurve::Points(points) => {
            let mut pieces = points.windows(2).peekable();
            while let Some(piece) = pieces.next() {
                let [(q0, h0), (q1, h1)] = piece else {
                    continue;
                };
                let last = pieces.peek().is_none();
                if h1 < h0 && (*h1 <= head_pa || last) {
                    return (q0 + (q1 - q0) * (h0 - head_pa) / (h0 - h1)).max(0.0);
                }
            }
            points.last().map_or(0.0, |(q, _)| q * 10.0)
        }
        // a + bQ + cQ² = head, the positive root in the form that does not cancel
        PumpCurve::Quadratic { a_pa, b_pa, c_pa } => {
            let over = a_pa - head_pa;
            if over <= 0.0 {
                return 0.0;
            }
            let root = (b_pa * b_pa - 4.0 * c_pa * over).max(0.0).sqrt();
            let below = root - b_pa;
            if below > 0.0 { 2.0 * over / below } else { 0.0 }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_curve_is_read_backwards() {
        let points = PumpCurve::Points(vec![(0.0, 60e3), (1.0, 50e3), (2.0, 20e3)]);
        assert!((flow_at(&points, 35e3) - 1.5).abs() < 1e-12);
        assert!((flow_at(&points, 0.0) - 8.0 / 3.0).abs() < 1e-12);
        let quadratic = PumpCurve::Quadratic {
            a_pa: 75e3,
            b_pa: 0.0,
            c_pa: -9e3,
        };
        assert!((flow_at(&quadratic, 39e3) - 2.0).abs() < 1e-12);
    }
}
