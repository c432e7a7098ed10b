//! Symbol and words of what stands between the rails.

use super::chart::Block;
use super::pen::{Pen, Raw};
use super::rail::{Band, Reach};
use super::rows::Entry;
use super::scene::{About, Align, Letter, Shape};
use super::tracks::At;
use super::words::Text;
use crate::network::ElementId;

impl Pen<'_> {
    /// Symbol and words of a body.
    pub(crate) fn body_text(&self, block: Block) -> (Shape, Text, About) {
        match block {
            Block::Emitter(i) => (
                self.emitter_shape(i),
                self.words.emitter(self.figures, i, self.style),
                About::Emitter(i),
            ),
            Block::Source(i) => (Shape::HeatPump, self.source_text(i), About::Source(i)),
            Block::Cylinder(i) => (Shape::Cylinder, self.cylinder_text(i), About::Cylinder(i)),
            Block::Vessel(i) => (Shape::Vessel, self.vessel_text(i), About::Vessel(i)),
            Block::Exchanger(i, _) => (
                Shape::Exchanger,
                self.exchanger_text(i),
                About::Exchanger(i),
            ),
            Block::Device(id) => (
                Shape::FixedLoad,
                self.device_text(id),
                About::Device(u32::try_from(id.index()).unwrap_or(u32::MAX), 0),
            ),
        }
    }

    /// A four-port vessel: its ports are the tees of both rails.
    pub(crate) fn between_rails(&mut self, bit: &super::chart::Bit, band: Band) -> Reach {
        let super::chart::Bit::Block(block, _) = bit else {
            return Reach {
                left: 0.0,
                right: 0.0,
            };
        };
        let (shape, text, about) = self.body_text(*block);
        let (tw, th) = text.size(self.lettering.value);
        let words: Vec<String> = text.lines.iter().map(|l| l.text.clone()).collect();
        self.raw.push(Raw::Symbol {
            shape,
            a: (band.x.plus(-6.0), band.flow.plus(-4.5)),
            b: (band.x.plus(6.0), band.back.plus(4.5)),
            turn: 0,
            about,
            words: words.join(", "),
            shut: false,
        });
        self.y.keep(band.flow, band.back, th + 14.0, 0.3);
        self.raw.push(Raw::Text {
            at: (band.x.plus(7.5), band.flow.plus(band.under.max(5.0))),
            size: (tw, th),
            text,
            letter: Letter::Name,
            align: Align::Left,
            about,
        });
        Reach {
            left: 7.0,
            right: 8.5 + tw,
        }
    }

    /// An exchanger as tall as the circuit behind it, which leaves on its right.
    pub(crate) fn exchanger(&mut self, i: usize, band: Band, right: At) -> (At, At, Reach) {
        let row = self.far.remove(&i).unwrap_or_default();
        let text = self.exchanger_text(i);
        let (tw, th) = text.size(self.lettering.value);
        let (top, foot) = (self.y.track(), self.y.track());
        let (flow, back) = (self.y.track(), self.y.track());
        self.y.keep(top, flow, 4.0, 0.0);
        self.y.keep(back, foot, 4.0, 0.0);
        self.y.keep(flow, back, th + 6.0, 0.0);
        self.y.keep(top, band.middle, 6.0 + th / 2.0, 0.0);
        self.y.keep(band.middle, foot, 6.0 + th / 2.0, 0.0);
        let words: Vec<String> = text.lines.iter().map(|l| l.text.clone()).collect();
        self.raw.push(Raw::Symbol {
            shape: Shape::Exchanger,
            a: (band.x.plus(-5.0), top),
            b: (band.x.plus(5.0), foot),
            turn: 0,
            about: About::Exchanger(i),
            words: words.join(", "),
            shut: false,
        });
        let edge = band.x.plus(5.0);
        self.raw.push(Raw::Text {
            at: (band.x.plus(7.0), band.middle.plus(-th / 2.0)),
            size: (tw, th),
            text,
            letter: Letter::Name,
            align: Align::Left,
            about: About::Exchanger(i),
        });
        let entry = Entry {
            flow_x: edge,
            flow_lead: Vec::new(),
            back_x: edge,
            back_tail: Vec::new(),
            left: edge.plus(2.0 + tw),
            back_left: edge,
            bounds: None,
            wide: None,
        };
        let taken = self.row(&row, entry, flow, back);
        self.y.keep(band.flow, taken.top, band.under + 1.0, 0.0);
        self.y.keep(taken.bottom, band.back, band.over + 1.0, 0.0);
        // labels of the circuit behind stay beside the exchanger, clear of those in front of it
        self.y.keep(top, taken.top, 1.0, 0.0);
        self.y.keep(taken.bottom, foot, 1.0, 0.0);
        self.y.keep(flow, band.middle, th / 2.0 + 3.0, 0.0);
        self.y.keep(band.middle, back, th / 2.0 + 3.0, 0.0);
        self.x.keep(taken.right, right, 0.0, 0.0);
        let reach = Reach {
            left: 6.0,
            right: 9.0 + tw,
        };
        (top, foot, reach)
    }

    fn emitter_shape(&self, i: usize) -> Shape {
        match self
            .figures
            .network
            .emitters
            .get(i)
            .map_or("", |e| e.symbol)
        {
            "floor loop" => Shape::FloorLoop,
            "fan convector" => Shape::FanConvector,
            "towel rail" => Shape::TowelRail,
            "fixed" => Shape::FixedLoad,
            _ => Shape::Radiator,
        }
    }

    fn named(&self, name: &str, more: Vec<String>) -> Text {
        let (mut lines, cut) = self.words.name_lines(name, 12);
        lines.extend(
            more.into_iter()
                .map(|text| super::scene::Line { text, bold: false }),
        );
        Text {
            lines,
            mark: None,
            full: cut.then(|| name.to_string()),
        }
    }

    /// A source: its name and output.
    pub(crate) fn source_text(&self, i: usize) -> Text {
        let Some(source) = self.figures.network.sources.get(i) else {
            return Text::default();
        };
        // as it runs, what it gives then
        let now = self
            .figures
            .running
            .filter(|_| self.figures.required.is_none());
        let gives = match now.and_then(|r| r.solved.sources.get(i)) {
            Some(state) => Some(self.words.power(state.output_w)),
            None => source.output_w.map(|w| self.words.power(w)),
        };
        let mut more: Vec<String> = gives.into_iter().collect();
        more.extend(self.head_words(i));
        let mut text = self.named(&source.name, more);
        let status = self.figures.source_status[i].filter(|s| {
            use crate::check::Verdict::{Depends, Fails, Tight};
            matches!(s.verdict, Fails | Depends | Tight)
        });
        if let Some(status) = status {
            let (value, reason) = self.words.status_lines(status);
            text.lines.push(value);
            if status.verdict != crate::check::Verdict::Tight {
                text.lines.push(reason);
            }
            let when = self.when(status.finding).map(super::words::plain);
            text.lines.extend(when);
            text.mark = super::words::Words::status_mark(Some(status));
        }
        if let Some((flow, least)) = self.figures.trip(i) {
            let bare = self.words.flow(least);
            let bare = bare.split('\u{a0}').next().unwrap_or_default().to_owned();
            let value = format!("{} < {bare}", self.words.flow(flow));
            text.lines.push(super::words::bold(value));
            text.lines.push(super::words::plain("trips"));
            text.mark = Some(super::scene::MarkKind::Fails);
        }
        text
    }

    /// When a flow of the source was found that is not the one required, which stands above it.
    fn when(&self, finding: &crate::check::Finding) -> Option<&'static str> {
        let required = self.figures.required?;
        let asked = |flow: f64| required.circuits.iter().any(|c| c.flow_m3_s == flow);
        match finding.check {
            "defrost-flow" => Some("while defrosting"),
            "source-least-flow" => Some("as it runs"),
            "source-greatest-flow" => {
                (!finding.measured.is_some_and(asked)).then_some("as it runs")
            }
            _ => None,
        }
    }

    /// What the unit's pump leaves for the pipes at the flow drawn, where the sheet shows figures.
    fn head_words(&self, source: usize) -> Vec<String> {
        let figures = self.figures;
        let network = figures.network;
        let level = self.style.level;
        if !matches!(
            level,
            super::style::Level::Normal | super::style::Level::Full
        ) {
            return Vec::new();
        }
        // a further source is drawn as a small symbol, which has no room for it
        if source > 0 {
            return Vec::new();
        }
        let info = &network.sources[source];
        let (Some(free), Some(pump)) = (info.free_head, info.pump) else {
            return Vec::new();
        };
        if let Some(running) = figures.running.filter(|_| figures.required.is_none()) {
            let Some(state) = running.solved.pumps.get(pump) else {
                return Vec::new();
            };
            return vec![
                self.words.pressure(state.head_pa),
                format!("at\u{a0}{}", self.words.flow(state.flow_m3_s)),
            ];
        }
        let circuits = figures.required.map_or(&[][..], |r| &r.circuits);
        let Some(circuit) = circuits.iter().find(|c| c.pump == Some(pump)) else {
            return Vec::new();
        };
        let Some(head) = circuit.available_pa else {
            return Vec::new();
        };
        let word = if free { "free head" } else { "total head" };
        vec![
            word.into(),
            self.words.pressure(head),
            format!("at\u{a0}{}", self.words.flow(circuit.flow_m3_s)),
        ]
    }

    fn cylinder_text(&self, i: usize) -> Text {
        let Some(cylinder) = self.figures.network.cylinders.get(i) else {
            return Text::default();
        };
        let litres = cylinder
            .volume_m3
            .map(|v| format!("{}\u{a0}l", self.words.number(v * 1e3, 0)));
        self.named(&cylinder.name, litres.into_iter().collect())
    }

    fn vessel_text(&self, i: usize) -> Text {
        let Some(vessel) = self.figures.network.vessels.get(i) else {
            return Text::default();
        };
        let litres = (vessel.volume_m3 > 0.0)
            .then(|| format!("{}\u{a0}l", self.words.number(vessel.volume_m3 * 1e3, 0)));
        self.named(&vessel.name, litres.into_iter().collect())
    }

    fn exchanger_text(&self, i: usize) -> Text {
        let name = self
            .figures
            .network
            .exchangers
            .get(i)
            .map_or("", |x| x.name.as_str());
        self.named(name, Vec::new())
    }

    fn device_text(&self, id: ElementId) -> Text {
        self.named(&self.figures.network.element(id).name, Vec::new())
    }
}
