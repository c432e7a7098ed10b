//! Rings (reverse return) and one-pipe loops: pipework written as a walk from emitter to emitter.

use super::build::{Builder, LoopEnds, Ports, RunSpec};
use super::leg::Laying;
use super::lines::valve_part;
use crate::catalogue::Pipe;
use crate::diag::Span;
use crate::network::{ElementId, Law, OnePipe, PlaceId, RunKind};
use crate::survey::{self, At, Leg, LoopTee, Side};

impl Builder<'_> {
    /// Every ring: the flow pipe visits places in order, the return pipe collects from them in the same order.
    pub fn rings(&mut self) {
        let survey = self.survey;
        for ring in &survey.rings {
            let name = ring.name.value.as_str();
            let start = self.ports(&ring.from.value);
            let mut here = start.flow_out;
            for stretch in &ring.flow {
                let next = self.ports(&stretch.to.value).flow_in;
                let words = format!("{name} to {}", stretch.to.value);
                self.stretch(
                    &words,
                    &stretch.leg,
                    Some(Side::Flow),
                    RunKind::Ring,
                    (here, next),
                );
                here = next;
            }
            let first = self.ports(&ring.return_start.value);
            let (mut here, mut last) = (first.return_out, ring.return_start.value.as_str());
            for stretch in &ring.back {
                let Ports {
                    return_in,
                    return_out,
                    ..
                } = self.ports(&stretch.to.value);
                let words = format!("{name} from {last}");
                self.stretch(
                    &words,
                    &stretch.leg,
                    Some(Side::Return),
                    RunKind::Ring,
                    (here, return_in),
                );
                (here, last) = (return_out, stretch.to.value.as_str());
            }
        }
    }

    fn stretch(
        &mut self,
        name: &str,
        leg: &At<Leg>,
        side: Option<Side>,
        kind: RunKind,
        ends: (PlaceId, PlaceId),
    ) -> usize {
        let laid = self.lay(&leg.value, name, Laying::single());
        let span = Some(leg.span.clone());
        self.laid_stretch(name, leg, side, kind, ends, laid.pipe, laid.pieces, span)
    }

    #[allow(clippy::too_many_arguments)]
    fn laid_stretch(
        &mut self,
        name: &str,
        leg: &At<Leg>,
        side: Option<Side>,
        kind: RunKind,
        (from, to): (PlaceId, PlaceId),
        pipe: Pipe,
        pieces: Vec<super::piece::Piece>,
        span: Option<Span>,
    ) -> usize {
        let spec = RunSpec {
            name,
            element_name: name.to_owned(),
            side,
            kind,
            pipe,
            leg: &leg.value,
            pieces,
            span,
        };
        let run = self.run(spec, from, to);
        let entry = match side {
            Some(Side::Return) => (None, Some(run)),
            _ => (Some(run), None),
        };
        self.lines.entry(name.to_owned()).or_insert(entry);
        run
    }

    /// Every one-pipe loop: main to the first tee of a radiator, a piece between its tees, main to the next.
    pub fn loops(&mut self) {
        let survey = self.survey;
        for (index, one) in survey.loops.iter().enumerate() {
            self.one_pipe_loop(index, one);
        }
    }

    fn one_pipe_loop(&mut self, index: usize, one: &survey::OnePipeLoop) {
        let name = one.name.value.as_str();
        let Ports {
            flow_out,
            return_in,
            ..
        } = self.ports(&one.from.value);
        let drop_k = one.drop.as_ref().map(|k| k.value.0);
        let mut here = flow_out;
        for (i, stretch) in one.main.iter().enumerate() {
            let emitter = stretch.to.value.as_str();
            let tee = one
                .tees
                .iter()
                .find(|(n, _)| n.value == emitter)
                .map_or(one.tee, |(_, t)| *t);
            let first = self.place(
                &format!("{name}: first tee of {emitter}"),
                Some(emitter),
                Some(Side::Flow),
            );
            let second = self.place(
                &format!("{name}: second tee of {emitter}"),
                Some(emitter),
                Some(Side::Return),
            );
            let side = (i == 0).then_some(Side::Flow);
            self.stretch(
                &format!("{name} to {emitter}"),
                &stretch.leg,
                side,
                RunKind::Loop,
                (here, first),
            );
            let between = self.between(one, emitter, tee, (first, second));
            let share = match tee {
                LoopTee::Plain => {
                    self.straight_at.insert(first, between);
                    self.straight_at.insert(second, between);
                    None
                }
                // a diverter's kv and a known share hold the tee's loss in them
                LoopTee::Diverter(_) => {
                    self.no_tees.extend([first, second]);
                    None
                }
                LoopTee::Share(share) => {
                    self.no_tees.extend([first, second]);
                    Some(share)
                }
            };
            let one_pipe = OnePipe {
                between,
                share,
                loop_index: index,
            };
            self.loop_ends.insert(
                emitter.to_owned(),
                LoopEnds {
                    ends: (first, second),
                    one_pipe,
                    drop_k,
                },
            );
            here = second;
        }
        self.stretch(
            &format!("{name} home"),
            &one.home,
            Some(Side::Return),
            RunKind::Loop,
            (here, return_in),
        );
    }

    fn between(
        &mut self,
        one: &survey::OnePipeLoop,
        emitter: &str,
        tee: LoopTee,
        ends: (PlaceId, PlaceId),
    ) -> ElementId {
        let name = format!("{} past {emitter}", one.name.value);
        let laid = self.lay(&one.between.value, &name, Laying::single());
        let mut pieces = laid.pieces;
        if let LoopTee::Diverter(kv) = tee {
            let part = valve_part("diverter tee", kv.0, Some(one.name.span.clone()));
            match pieces.iter_mut().find(|p| matches!(p.law, Law::Parts(_))) {
                Some(super::piece::Piece {
                    law: Law::Parts(parts),
                    ..
                }) => parts.push(part),
                _ => pieces.push(super::piece::Piece::parts(
                    "diverter tee",
                    crate::network::Role::Valve,
                    vec![part],
                    None,
                )),
            }
        }
        let span = Some(one.between.span.clone());
        let run = self.laid_stretch(
            &name,
            &one.between,
            None,
            RunKind::LoopBetween,
            ends,
            laid.pipe,
            pieces,
            span,
        );
        self.network.runs[run]
            .elements
            .first()
            .copied()
            .unwrap_or_default()
    }
}
