//! Ports of a manifold: what an emitter's tails lose on leaving the flow bar and on entering the return bar.

use super::build::Builder;
use super::emitter::Branch;
use super::leg::LaidLeg;
use super::lines::valve_part;
use super::piece::Piece;
use crate::network::{ElementId, Law, Part, PartGroup, PartLaw};
use crate::survey::At;

impl Builder<'_> {
    /// Port of a manifold at each end of an emitter's tails: by kv if given, else in and out of the bar by ζ.
    pub fn ports_of_manifold(&mut self, manifold: usize, branch: &mut Branch) {
        let survey = self.survey;
        let name = self.network.manifolds[manifold].name.clone();
        let kv = survey
            .manifolds
            .iter()
            .find(|m| m.name.value == name)
            .and_then(|m| m.port.as_ref());
        let port = |bore_m: f64, zeta: f64| match kv {
            Some(kv) => valve_part("manifold port", kv.value.0, Some(kv.span.clone())),
            None => Part {
                group: PartGroup::Fittings,
                words: "manifold port".to_owned(),
                symbol: "manifold port".to_owned(),
                count: 1,
                law: PartLaw::Zeta { zeta, bore_m },
                source: "DIN 1988-3, reprinted in a public press-fitting manual".to_owned(),
                span: None,
            },
        };
        if kv.is_none() {
            self.assume(
                &name,
                "ports ζ 0.5 out of the flow bar, 1.0 into the return bar",
                "DIN 1988-3, reprinted in a public press-fitting manual",
            );
        }
        let body = branch.body.get(branch.body_at);
        let body_bore_m = body.and_then(first_bore);
        let tail_bore_m = |tail: &Option<LaidLeg>| tail.as_ref().map(|t| t.pipe.bore.0);
        let flow_bore_m = tail_bore_m(&branch.flow_tail).or(body_bore_m);
        let back_bore_m = tail_bore_m(&branch.return_tail).or(body_bore_m);
        // without a known bore there is nothing that a ζ could refer to
        let out = flow_bore_m.or(kv.map(|_| 0.0)).map(|bore| port(bore, 0.5));
        let back = back_bore_m.or(kv.map(|_| 0.0)).map(|bore| port(bore, 1.0));
        let at = branch.body_at;
        if let Some(part) = out {
            let first = match &mut branch.flow_tail {
                Some(tail) => tail
                    .pieces
                    .iter_mut()
                    .find(|p| matches!(p.law, Law::Parts(_))),
                None => branch.body.get_mut(at),
            };
            if let Some(Piece {
                law: Law::Parts(parts),
                ..
            }) = first
            {
                parts.insert(0, part);
            }
        }
        if let Some(part) = back {
            let last = match &mut branch.return_tail {
                Some(tail) => tail
                    .pieces
                    .iter_mut()
                    .rev()
                    .find(|p| matches!(p.law, Law::Parts(_))),
                None => branch.body.get_mut(at),
            };
            if let Some(Piece {
                law: Law::Parts(parts),
                ..
            }) = last
            {
                parts.push(part);
            }
        }
    }
}

impl Builder<'_> {
    /// The port with a kv at the flow end of a branch: element and part.
    pub fn port_of(&self, branch: &[ElementId]) -> Option<(ElementId, usize)> {
        branch.iter().find_map(|&id| {
            let Law::Parts(parts) = &self.network.element(id).law else {
                return None;
            };
            let port = |p: &Part| p.words == "manifold port" && matches!(p.law, PartLaw::Kv { .. });
            Some((id, parts.iter().position(port)?))
        })
    }

    /// Index of a valve's table by its name.
    pub fn valve_table(&self, name: Option<&At<String>>) -> Option<usize> {
        let name = &name?.value;
        let tables = &self.survey.valve_tables;
        tables.iter().position(|t| &t.name.value == name)
    }
}

fn first_bore(piece: &Piece) -> Option<f64> {
    let Law::Parts(parts) = &piece.law else {
        return None;
    };
    parts.iter().find_map(|part| match part.law {
        PartLaw::Friction { bore_m, .. } => Some(bore_m),
        _ => None,
    })
}
