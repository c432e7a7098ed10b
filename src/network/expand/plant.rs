//! Manifolds, vessels, cylinders and exchangers: what stands between the source's pipes and those beyond.

use super::build::{Builder, Ports};
use super::lookup::short;
use super::piece::{Mark, Piece};
use crate::catalogue::{Catalogue, Loss, Pipe};
use crate::diag::Diagnostic;
use crate::network::{
    Blend, Law, Manifold, Part, PartGroup, PartLaw, PlaceId, Role, Vessel, VesselKind,
};
use crate::quantity::Metre;
use crate::survey::{self, At, Leg, Side};

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
