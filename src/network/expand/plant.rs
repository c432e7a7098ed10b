//! Manifolds, vessels, cylinders and exchangers: what stands between the source's pipes and those beyond.

use super::build::{Builder, Ports};
use super::leg::Laying;
use super::lines::valve_part;
use super::lookup::short;
use super::piece::{Mark, Piece};
use crate::catalogue::{Catalogue, Loss, Pipe};
use crate::diag::Diagnostic;
use crate::network::{
    Blend, Cylinder, Exchanger, Heat, Law, Manifold, Part, PartGroup, PartLaw, PlaceId, Role,
    Vessel, VesselKind,
};
use crate::quantity::Metre;
use crate::survey::{self, At, ItemKind, Leg, Side};

/// Kv of a mixing set's controlled inlet where the file is silent.
const BLEND_KV: f64 = 3.0;
/// Length of a mixing set's own pipe between return and flow, m.
const MIXING_M: f64 = 0.3;
/// Bore of plant pipes where no leg tells, m: 22 mm copper.
const PLANT_BORE: Metre = Metre(0.0202);
const PRACTICE: &str = "common practice, no source";

impl<'a> Builder<'a> {
    /// Manifolds: only their nodes, sets and pumps; the feeding legs come later.
    pub fn manifolds(&mut self) {
        let survey = self.survey;
        for m in &survey.manifolds {
            self.one_manifold(m);
        }
    }

    fn one_manifold(&mut self, m: &'a survey::Manifold) {
        let name = m.name.value.as_str();
        let back = self.place(&format!("{name} (return)"), Some(name), Some(Side::Return));
        let bar = self.place(&format!("{name} (flow)"), Some(name), Some(Side::Flow));
        let blend = match (&m.blend, &m.pump) {
            (Some(blend), Some(pump)) => {
                let inlet = self.place(&format!("{name} (inlet)"), None, Some(Side::Flow));
                let mixed = self.place(&format!("{name} (mixed)"), None, Some(Side::Flow));
                self.ports.insert(
                    name.to_owned(),
                    Ports {
                        flow_in: inlet,
                        flow_out: bar,
                        return_in: back,
                        return_out: back,
                    },
                );
                Some(self.mixing_set(name, blend, pump, (inlet, mixed, bar, back)))
            }
            (Some(blend), None) => {
                self.faults.push(
                    Diagnostic::error(
                        "blend-without-pump",
                        blend.span.clone(),
                        format!("the manifold `{name}` mixes but has no pump of its own"),
                    )
                    .label("mixing needs a pump behind it")
                    .also(m.name.span.clone(), "add it here")
                    .help("add pump = [\"5 m at 0 l/min\", \"3.5 m at 15 l/min\"], or leave out `blend` if it is fed directly"),
                );
                None
            }
            (None, pump) => {
                let inlet = match pump {
                    None => bar,
                    Some(pump) => {
                        let inlet = self.place(&format!("{name} (inlet)"), None, Some(Side::Flow));
                        let piece = Piece::pump("pump", pump.curve.span.clone());
                        let id = self.element(inlet, bar, name, piece, None);
                        let at_c = self.network.design.flow_temperature_c;
                        self.pump(&format!("{name} pump"), id, pump, None, at_c);
                        inlet
                    }
                };
                self.ports.insert(
                    name.to_owned(),
                    Ports {
                        flow_in: inlet,
                        flow_out: bar,
                        return_in: back,
                        return_out: back,
                    },
                );
                None
            }
        };
        self.network.manifolds.push(Manifold {
            name: name.to_owned(),
            bars: (bar, back),
            blend,
            emitters: Vec::new(),
        });
        self.no_tees.extend([bar, back]);
    }

    fn mixing_set(
        &mut self,
        name: &str,
        blend: &At<crate::quantity::Celsius>,
        pump: &'a survey::Pump,
        (inlet_at, mixed, bar, back): (PlaceId, PlaceId, PlaceId, PlaceId),
    ) -> Blend {
        let law = Law::HoldFlow {
            flow_kg_s: 0.0,
            kv_m3h: BLEND_KV,
        };
        let span = Some(blend.span.clone());
        let inlet = Piece {
            law,
            ..Piece::parts("inlet", Role::BlendInlet, Vec::new(), span.clone())
        };
        let inlet = self.element(inlet_at, mixed, name, inlet, None);
        self.assume(
            name,
            &format!(
                "mixing set: inlet kv {}, mixing pipe {} m of 22 mm",
                short(BLEND_KV),
                MIXING_M
            ),
            PRACTICE,
        );
        let friction = Part {
            group: PartGroup::Plant,
            words: "mixing pipe".to_owned(),
            symbol: String::new(),
            count: 1,
            law: PartLaw::Friction {
                length_m: MIXING_M,
                bore_m: PLANT_BORE.0,
                roughness_m: 1.5e-6,
            },
            source: PRACTICE.to_owned(),
            span: span.clone(),
        };
        let mixing = Piece::parts("mixing pipe", Role::Mixing, vec![friction], span);
        let mixing = self.element(back, mixed, name, mixing, None);
        let piece = Piece::pump("pump", pump.curve.span.clone());
        let id = self.element(mixed, bar, name, piece, None);
        let pump = self.pump(&format!("{name} pump"), id, pump, None, blend.value.0);
        self.no_tees.extend([mixed, inlet_at]);
        Blend {
            set_c: blend.value.0,
            inlet,
            mixing,
            pump: Some(pump),
            mixed,
        }
    }

    /// Vessels and headers; one in series is laid with its run.
    pub fn vessels(&mut self) {
        let survey = self.survey;
        for (index, v) in survey.vessels.iter().enumerate() {
            let volume_m3 = v.water.as_ref().map_or(0.0, |w| w.value.0);
            self.network.vessels.push(Vessel {
                name: v.name.value.clone(),
                volume_m3,
                body: Default::default(),
                kind: VesselKind::Series { run: 0 },
                span: Some(v.span.clone()),
            });
            match &v.kind {
                survey::VesselKind::Series { .. } => {}
                survey::VesselKind::FourPort { pump, .. } => {
                    self.header(index, v, pump.as_ref(), true)
                }
                survey::VesselKind::ThreePort { pump, .. } => {
                    self.header(index, v, pump.as_ref(), false)
                }
            }
        }
    }

    fn header(
        &mut self,
        index: usize,
        v: &'a survey::Vessel,
        pump: Option<&'a survey::Pump>,
        four: bool,
    ) {
        let name = v.name.value.as_str();
        let top = self.place(&format!("{name} (top)"), Some(name), Some(Side::Flow));
        let bottom = self.place(&format!("{name} (bottom)"), Some(name), Some(Side::Return));
        let volume_m3 = self.network.vessels[index].volume_m3;
        let body = Piece::parts(
            "",
            Role::Vessel,
            vec![self.vessel_body(name, volume_m3)],
            Some(v.span.clone()),
        )
        .volume(volume_m3)
        .mark(Mark::Vessel(index));
        self.element(top, bottom, name, body, None);
        let mut flow_out = top;
        let pump = pump.map(|pump| {
            flow_out = self.place(&format!("{name} (flow)"), Some(name), Some(Side::Flow));
            let piece = Piece::pump("secondary pump", pump.curve.span.clone());
            let id = self.element(top, flow_out, name, piece, None);
            let at_c = self.network.design.flow_temperature_c;
            self.pump(&format!("{name} secondary"), id, pump, None, at_c)
        });
        self.ports.insert(
            name.to_owned(),
            Ports {
                flow_in: top,
                flow_out,
                return_in: bottom,
                return_out: bottom,
            },
        );
        self.no_tees.extend([top, bottom]);
        self.network.vessels[index].kind = match four {
            true => VesselKind::FourPort { top, bottom, pump },
            false => VesselKind::ThreePort { top, bottom, pump },
        };
    }

    /// The way through a vessel from top to bottom: a tube three times as high as wide, next to no loss.
    fn vessel_body(&mut self, name: &str, volume_m3: f64) -> Part {
        let volume = if volume_m3 > 0.0 {
            volume_m3
        } else {
            self.assume(name, "a header of 10 l", PRACTICE);
            0.010
        };
        // V = π/4 d²·3d
        let bore_m = crate::maths::pow(volume * 4.0 / (3.0 * std::f64::consts::PI), 1.0 / 3.0);
        Part {
            group: PartGroup::Plant,
            words: "through the vessel".to_owned(),
            symbol: "vessel".to_owned(),
            count: 1,
            law: PartLaw::Friction {
                length_m: 3.0 * bore_m,
                bore_m,
                roughness_m: 4.6e-5,
            },
            source: "geometry: three times as high as wide".to_owned(),
            span: None,
        }
    }

    /// Diverters of cylinders: they split the flow side of their place into before and after.
    pub fn diverters(&mut self) {
        let survey = self.survey;
        for (index, c) in survey.cylinders.iter().enumerate() {
            self.one_cylinder(index, c);
        }
    }

    fn one_cylinder(&mut self, index: usize, c: &survey::Cylinder) {
        let name = c.name.value.as_str();
        let from = c.from.value.as_str();
        let ports = self.ports(from);
        let before = ports.flow_out;
        let after = self.place(&format!("{from} (heating)"), Some(from), Some(Side::Flow));
        self.ports.insert(
            from.to_owned(),
            Ports {
                flow_out: after,
                ..ports
            },
        );
        let laid = self.lay(&c.leg.value, name, Laying::pair(Side::Flow));
        let kv = match &c.diverter {
            Some(kv) => kv.value.0,
            None => self.usual_kv("diverter", &laid.pipe, name),
        };
        let span = c.diverter.as_ref().map(|d| d.span.clone());
        let way = |words: &str| {
            let part = valve_part("diverter", kv, span.clone());
            Piece::parts(words, Role::Valve, vec![part], Some(c.name.span.clone()))
        };
        let diverter_heating = self.element(before, after, name, way("diverter to heating"), None);
        let inlet = self.place(&format!("{name} (diverted)"), None, Some(Side::Flow));
        let diverter_coil = self.element(before, inlet, name, way("diverter to the coil"), None);
        let coil_in = self.place(&format!("{name} coil (in)"), None, Some(Side::Flow));
        let coil_out = self.place(&format!("{name} coil (out)"), None, Some(Side::Return));
        let part = self.own_loss(
            "coil",
            PartGroup::Plant,
            &c.coil.value,
            Some(laid.pipe.bore.0),
            &c.coil.span,
        );
        let coil = Piece::parts("coil", Role::Coil, vec![part], Some(c.name.span.clone()))
            .heat(Heat::Cylinder(index))
            .volume(c.coil_water.as_ref().map_or(0.0, |v| v.value.0));
        let coil = self.element(coil_in, coil_out, name, coil, None);
        let near = Ports {
            flow_in: inlet,
            flow_out: inlet,
            return_in: ports.return_in,
            return_out: ports.return_in,
        };
        let far = Ports {
            flow_in: coil_in,
            flow_out: coil_in,
            return_in: coil_out,
            return_out: coil_out,
        };
        let span = Some(c.leg.span.clone());
        self.pair_runs(
            name,
            &c.leg,
            (near, far),
            crate::network::RunKind::Plant,
            span,
        );
        self.no_tees.insert(before);
        let flow_temperature_c = match &c.flow_temperature {
            Some(t) => t.value.0,
            None => {
                let design_c = self.network.design.flow_temperature_c;
                let store_c = c.store.as_ref().map_or(50.0, |t| t.value.0);
                let flow_c = design_c.max(store_c + 5.0);
                self.assume(
                    name,
                    &format!(
                        "heated with {} °C: 5 K above its store, no less than heating",
                        short(flow_c)
                    ),
                    PRACTICE,
                );
                flow_c
            }
        };
        let drop_k = match &c.drop {
            Some(k) => k.value.0,
            None => self.network.design.drop_k,
        };
        self.network.cylinders.push(Cylinder {
            name: name.to_owned(),
            coil,
            diverter_coil,
            diverter_heating,
            place: before,
            coil_area_m2: c.coil_area_m2.as_ref().map(|a| a.value),
            volume_m3: c.water.as_ref().map(|v| v.value.0),
            store_c: c.store.as_ref().map(|t| t.value.0),
            flow_temperature_c,
            drop_k,
            unvented: c.unvented,
        });
    }

    /// Exchangers: two sides that share heat and no water.
    pub fn exchangers(&mut self) {
        let survey = self.survey;
        for (index, x) in survey.exchangers.iter().enumerate() {
            self.one_exchanger(index, x);
        }
    }

    fn one_exchanger(&mut self, index: usize, x: &'a survey::Exchanger) {
        let name = x.name.value.as_str();
        let near_in = self.place(&format!("{name} near (flow)"), Some(name), Some(Side::Flow));
        let near_out = self.place(
            &format!("{name} near (return)"),
            Some(name),
            Some(Side::Return),
        );
        let far_flow = self.place(&format!("{name} far (flow)"), Some(name), Some(Side::Flow));
        let far_return = self.place(
            &format!("{name} far (return)"),
            Some(name),
            Some(Side::Return),
        );
        self.ports.insert(
            name.to_owned(),
            Ports {
                flow_in: near_in,
                flow_out: far_flow,
                return_in: far_return,
                return_out: near_out,
            },
        );
        let near = self.side_loss(name, "near side", x.near_loss.as_ref(), &x.span);
        let near = near.heat(Heat::Exchanger(index, true));
        let near = self.element(near_in, near_out, name, near, None);
        let far = self.side_loss(name, "far side", x.far_loss.as_ref(), &x.span);
        let far = far.heat(Heat::Exchanger(index, false));
        let (far, pump) = match &x.pump {
            Some(pump) => {
                let middle = self.place(&format!("{name} far (pumped)"), None, Some(Side::Return));
                let id = self.element(
                    far_return,
                    middle,
                    name,
                    Piece::pump("pump", pump.curve.span.clone()),
                    None,
                );
                let far = self.element(middle, far_flow, name, far, None);
                let at_c = self.network.design.flow_temperature_c - self.network.design.drop_k;
                (
                    far,
                    Some(self.pump(&format!("{name} far side"), id, pump, None, at_c)),
                )
            }
            None => (self.element(far_return, far_flow, name, far, None), None),
        };
        let ua_w_k = match &x.ua_w_k {
            Some(ua) => ua.value,
            None => {
                self.faults.push(
                    Diagnostic::error("ua-missing", x.name.span.clone(), format!("the exchanger `{name}` does not say how much heat it carries"))
                        .label("`ua` is missing")
                        .help("add ua = \"2400 W/K\": heat carried over the logarithmic difference of the sheet's temperatures"),
                );
                1.0
            }
        };
        self.network.exchangers.push(Exchanger {
            name: name.to_owned(),
            near,
            far,
            ua_w_k,
            pump,
        });
    }

    fn side_loss(
        &mut self,
        name: &str,
        words: &str,
        loss: Option<&At<ItemKind>>,
        span: &crate::diag::Span,
    ) -> Piece {
        let parts = match loss {
            Some(loss) => {
                vec![self.own_loss(words, PartGroup::Plant, &loss.value, None, &loss.span)]
            }
            None => {
                self.assume(
                    name,
                    &format!("{words} without loss, none is given"),
                    "nothing known",
                );
                Vec::new()
            }
        };
        Piece::parts(words, Role::ExchangerSide, parts, Some(span.clone()))
    }

    /// Legs that feed manifolds, vessels and exchangers.
    pub fn feeds(&mut self) {
        let survey = self.survey;
        for m in &survey.manifolds {
            if let Some(ports) = self.ports.get(&m.name.value).copied() {
                self.feed(&m.name.value, m.from.as_ref(), m.leg.as_ref(), ports);
            }
        }
        for v in &survey.vessels {
            let (survey::VesselKind::FourPort { from, leg, .. }
            | survey::VesselKind::ThreePort { from, leg, .. }) = &v.kind
            else {
                continue;
            };
            if let Some(ports) = self.ports.get(&v.name.value).copied() {
                self.feed(&v.name.value, from.as_ref(), leg.as_ref(), ports);
            }
        }
        for x in &survey.exchangers {
            if let Some(ports) = self.ports.get(&x.name.value).copied() {
                self.feed(&x.name.value, x.from.as_ref(), x.leg.as_ref(), ports);
            }
        }
    }

    /// Kv of a catalogue valve in a pipe, noted as assumed.
    pub fn usual_kv(&mut self, word: &str, pipe: &Pipe, subject: &str) -> f64 {
        match Catalogue::embedded().item_loss(word, pipe, None) {
            Some(known) => {
                let kv = match known.loss {
                    Loss::Kv(kv) | Loss::Hold(kv) | Loss::OneWay(_, kv) => kv.0,
                    Loss::Zeta(_) | Loss::Length(_) | Loss::None => 6.5,
                };
                self.assume(subject, &format!("{word} kv {}", short(kv)), &known.source);
                kv
            }
            None => 6.5,
        }
    }

    /// Kv of a zone's valve on a pipe; `None` if the zone has only a pump.
    pub fn zone_kv(&mut self, zone: &survey::Zone, leg: &Leg) -> Option<f64> {
        if let Some(kv) = &zone.kv {
            return Some(kv.value.0);
        }
        if zone.pump.is_some() {
            return None;
        }
        let pipe = self.leg_pipe(leg, &zone.name.value);
        Some(self.usual_kv("zone valve", &pipe, &zone.name.value))
    }
}
