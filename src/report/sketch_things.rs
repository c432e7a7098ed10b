//! What each line of the text drawing says of its pipe, emitter, device or piece of plant.

use super::layout::name;
use super::sketch::{Branch, Sketch};
use super::sketch_lines::{Line, Shape};
use super::sketch_summary::reason;
use super::words;
use crate::check::{Finding, Subject, Verdict};
use crate::network::{Element, ElementId, Law, PartGroup, Role, RunKind, VesselKind};
use crate::survey::Side;

impl Sketch<'_> {
    /// Words of a piece of plant that stands by itself.
    pub(super) fn plant(&self, id: ElementId) -> Option<(String, Subject)> {
        let n = self.network();
        let short = |text: &str| name(text, 24);
        if let Some(i) = n.vessels.iter().position(|v| v.body == id) {
            let v = &n.vessels[i];
            let litres = self.speak.show.volume(crate::quantity::Volume(v.volume_m3));
            let how = match v.kind {
                VesselKind::Series { .. } => "in series",
                VesselKind::FourPort { .. } => "four ports",
                VesselKind::ThreePort { .. } => "three ports",
            };
            let words = format!("{}: {litres}, {how}", short(&v.name));
            return Some((words, Subject::Vessel(i)));
        }
        if let Some(i) = n.cylinders.iter().position(|c| c.coil == id) {
            let c = &n.cylinders[i];
            let litres = c.volume_m3.map_or(String::new(), |v| {
                format!(" {}", self.speak.show.volume(crate::quantity::Volume(v)))
            });
            let words = format!("{}: cylinder{litres}, coil", short(&c.name));
            return Some((words, Subject::Cylinder(i)));
        }
        if let Some(i) = n.exchangers.iter().position(|x| x.near == id) {
            let words = format!("{}: plate exchanger", short(&n.exchangers[i].name));
            return Some((words, Subject::Exchanger(i)));
        }
        if let Some(i) = n.bypasses.iter().position(|b| b.element == id) {
            let opens = match n.element(id).law {
                Law::OneWay { opening_pa, .. } => {
                    format!(", opens at {}", self.speak.pressure(opening_pa))
                }
                _ => String::new(),
            };
            let words = format!("{}: bypass{opens}", short(&n.bypasses[i].name));
            return Some((words, Subject::Bypass(i)));
        }
        None
    }

    pub(super) fn through(&mut self, id: ElementId, lead: &str, below: &str) {
        let n = &self.study.network;
        let mut line = self.line(lead, below, self.index.contains(&id));
        line.flow = self.flow_words(id);
        if let Some((words, subject)) = self.plant(id) {
            line.shape = Shape::Plant;
            line.name = words;
            self.judge(&mut line, &[subject], None);
        } else if let Some(m) = n
            .manifolds
            .iter()
            .find(|m| m.blend.is_some_and(|b| b.inlet == id))
        {
            let set = m.blend.map_or(0.0, |b| b.set_c);
            line.shape = Shape::Plant;
            line.name = format!(
                "{}: mixed to {}",
                name(&m.name, 24),
                self.speak.temperature(set)
            );
        } else {
            line.shape = Shape::Device;
            line.name = name(&n.element(id).name, 36);
        }
        if self.is_shut(id) {
            line.notes.push("SHUT".into());
        }
        self.lines.push(line);
    }

    pub(super) fn line(&self, lead: &str, below: &str, index: bool) -> Line {
        Line {
            lead: lead.to_owned(),
            below: below.to_owned(),
            index,
            ..Line::default()
        }
    }

    pub(super) fn is_shut(&self, id: ElementId) -> bool {
        !self.network().element(id).open || self.shut.contains(&id)
    }

    pub(super) fn flow(&self, id: ElementId) -> Option<f64> {
        let required = self.required.and_then(|r| r.flow_kg_s.get(id.index()));
        let running = self
            .running
            .and_then(|r| r.solved.flow_kg_s.get(id.index()));
        required.or(running).copied()
    }

    pub(super) fn flow_words(&self, id: ElementId) -> String {
        const STILL: f64 = 1e-7; // kg/s, a thimble a day
        match self.flow(id) {
            Some(q) if q.abs() <= STILL => "no flow".into(),
            Some(q) => self.speak.mass_flow(q.abs()),
            None => String::new(),
        }
    }

    pub(super) fn velocity(&self, run: usize) -> Option<f64> {
        let of = &self.network().runs[run];
        let asked = self
            .required
            .and_then(|r| r.capacity.iter().find(|c| c.run == run));
        asked.map(|c| c.velocity_m_s).or_else(|| {
            let q = self.flow(*of.elements.first()?)?.abs();
            let area = std::f64::consts::PI * of.bore_m * of.bore_m / 4.0;
            (q > 0.0 && area > 0.0).then(|| q / self.speak.density() / area)
        })
    }

    pub(super) fn run(&mut self, i: usize, lead: &str, below: &str, joins: bool) {
        self.done.insert(Branch::Run(i));
        let run = &self.study.network.runs[i];
        let index = run.elements.iter().any(|e| self.index.contains(e));
        let mut line = self.line(lead, below, index);
        line.name = run.name.clone();
        line.tail = format!(" {}", name(&run.tag, 8));
        line.size = name(&run.size, 22);
        line.flow = run
            .elements
            .first()
            .map(|&e| self.flow_words(e))
            .unwrap_or_default();
        line.velocity = self
            .velocity(i)
            .map(|v| self.speak.velocity(v))
            .unwrap_or_default();
        self.judge(&mut line, &[Subject::Run(i)], run.partner);
        let devices = self.devices(i);
        if !devices.is_empty() {
            line.notes.push(format!("({})", devices.join(", ")));
        }
        let manifolds = &self.study.network.manifolds;
        if let Some(bar) = manifolds.iter().find(|m| m.bars.0 == run.to) {
            line.notes
                .push(format!("to manifold {}", name(&bar.name, 24)));
        }
        if joins && run.kind == RunKind::Loop {
            line.notes.push("home".into());
        } else if joins {
            line.notes.push("joins above".into());
        }
        self.lines.push(line);
    }

    /// Devices met along a pipe and along its return.
    pub(super) fn devices(&self, i: usize) -> Vec<String> {
        let n = self.network();
        let run = &n.runs[i];
        let mut all = Vec::new();
        let both = [(Some(i), ""), (run.partner, " on return")];
        for (run, side) in both {
            let Some(run) = run.and_then(|r| n.runs.get(r)) else {
                continue;
            };
            for &id in &run.elements {
                let shut = if self.is_shut(id) { " SHUT" } else { "" };
                for words in self.device_words(id, n.element(id)) {
                    all.push(format!("{words}{side}{shut}"));
                }
            }
        }
        all
    }

    pub(super) fn device_words(&self, id: ElementId, element: &Element) -> Vec<String> {
        match (&element.role, &element.law) {
            (Role::Vessel, _) => self.plant(id).into_iter().map(|p| p.0).collect(),
            (_, Law::Pump(_)) => {
                let pump = self.network().pumps.iter().find(|p| p.element == id);
                vec![name(pump.map_or(&element.name, |p| &p.name), 24)]
            }
            (Role::CheckValve, _) => vec!["check valve".into()],
            (_, Law::HoldFlow { flow_kg_s, .. }) => {
                vec![format!("holds {}", self.speak.mass_flow(*flow_kg_s))]
            }
            (_, Law::OneWay { .. }) => vec!["one-way valve".into()],
            (_, Law::Parts(parts)) => parts
                .iter()
                .filter(|p| {
                    !p.symbol.is_empty()
                        && matches!(p.group, PartGroup::Valves | PartGroup::Devices)
                })
                .map(|p| name(&p.words, 30))
                .collect(),
        }
    }

    pub(super) fn emitter(&mut self, i: usize, lead: &str, below: &str) {
        self.done.insert(Branch::Emitter(i));
        let n = &self.study.network;
        let emitter = &n.emitters[i];
        let mut line = self.line(lead, below, self.index.contains(&emitter.body));
        line.shape = Shape::Emitter;
        line.name = match emitter.name.trim() {
            "" => "(no name)".into(),
            _ => emitter.name.clone(),
        };
        line.tail = match emitter.type_words.as_str() {
            "" => String::new(),
            words => format!(" {}", name(words, 24)),
        };
        let running = self
            .running
            .filter(|_| self.required.is_none())
            .and_then(|r| r.emitters.get(i));
        let heat = running.map_or(emitter.duty_w, |r| r.heat_w);
        line.size = self.speak.power(heat);
        line.flow = self.flow_words(emitter.body);
        let mut about = vec![Subject::Emitter(i), Subject::Room(emitter.room)];
        let tails = [emitter.tails.0, emitter.tails.1];
        about.extend(tails.into_iter().flatten().map(Subject::Run));
        self.judge(&mut line, &about, None);
        if let Some(pipe) = n
            .element(emitter.body)
            .run
            .and_then(|r| n.runs.get(r))
            .filter(|r| r.kind == RunKind::FloorLoop)
        {
            let length = self
                .speak
                .show
                .length(crate::quantity::Metre(pipe.length_m));
            line.notes
                .push(format!("{} {length}", name(&pipe.size, 22)));
        }
        for id in [emitter.valve, emitter.lockshield].into_iter().flatten() {
            if self.is_shut(id) {
                line.notes.push("SHUT".into());
                break;
            }
        }
        self.lines.push(line);
    }

    /// The way home of each reverse return, which the tree of flow pipes cannot show.
    pub(super) fn rings(&mut self) {
        let n = &self.study.network;
        let mut begun: Option<&str> = None;
        let back =
            |r: &&crate::network::Run| r.kind == RunKind::Ring && r.side == Some(Side::Return);
        fn ring_of(run: &crate::network::Run) -> &str {
            run.name.split(" from ").next().unwrap_or_default()
        }
        for (i, run) in n.runs.iter().enumerate().filter(|(_, r)| back(r)) {
            let ring = ring_of(run);
            if begun != Some(ring) {
                begun = Some(ring);
                self.lines.push(Line::default());
                let words = format!(
                    "{}: reverse return, collects in the same order and goes home from the last",
                    name(ring, 24)
                );
                self.lines.push(Line {
                    name: words,
                    ..Line::default()
                });
            }
            let goes_on = n.runs.get(i + 1).filter(back).map(ring_of) == Some(ring);
            let (lead, below) = if goes_on {
                ("|> ", "|  ")
            } else {
                ("`> ", "   ")
            };
            self.run(i, lead, below, false);
        }
    }

    /// The worst finding about any of these, if it asks for anything: its verdict and why.
    pub(super) fn judge(&self, line: &mut Line, about: &[Subject], partner: Option<usize>) {
        let worst: Option<&Finding> = self
            .study
            .findings
            .iter()
            .filter(|f| f.state.is_none_or(|s| s == self.state))
            .filter(|f| {
                about.contains(&f.subject) || partner.is_some_and(|p| f.subject == Subject::Run(p))
            })
            .min_by_key(|f| f.verdict);
        if let Some(finding) = worst
            && let Verdict::Fails | Verdict::Depends | Verdict::Tight = finding.verdict
        {
            line.verdict = words::verdict(finding.verdict);
            // what is only tight is told at the head
            if finding.verdict != Verdict::Tight {
                line.notes.push(reason(&self.speak, finding));
            }
        }
    }
}
