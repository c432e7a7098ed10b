//! One-pipe mains: their tees share the water out, so only the flow of the whole main can be set, by the pump or by a
//! balancing valve.

use super::settle::Ground;
use crate::network::ElementId;
use crate::solve::State;
use crate::view::{BasisUsed, Path, Through};

/// A one-pipe main beside emitters that are set one by one.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Main {
    /// An element that all of its water passes, and no other.
    pub element: ElementId,
    /// Emitters on it.
    pub emitters: Vec<usize>,
    /// Flow that it is to carry, along the element, kg/s.
    pub flow_kg_s: f64,
}

impl Ground<'_> {
    /// One-pipe mains on circuits that also have emitters of which each has a valve to set.
    pub(super) fn mains(&self) -> Vec<Main> {
        let mut mains: Vec<Main> = Vec::new();
        for (c, circuit) in self.required.circuits.iter().enumerate() {
            if !self.carried(c) {
                continue;
            }
            let on = |path: &Path| match path.through {
                Through::Emitter(i) => {
                    let one = self.network.emitters[i].one_pipe.as_ref()?;
                    (self.required.emitters[i].flow_kg_s > 0.0).then_some((one.loop_index, i))
                }
                _ => None,
            };
            let mut loops: Vec<usize> = circuit
                .paths
                .iter()
                .filter_map(|p| Some(on(p)?.0))
                .collect();
            loops.sort_unstable();
            loops.dedup();
            for index in loops {
                let (own, others): (Vec<&Path>, Vec<&Path>) = circuit
                    .paths
                    .iter()
                    .partition(|p| on(p).is_some_and(|(l, _)| l == index));
                let passes = |path: &Path, id: ElementId| path.elements.iter().any(|e| e.0 == id);
                let element = own[0].elements.iter().map(|e| e.0).find(|&id| {
                    own.iter().all(|p| passes(p, id)) && !others.iter().any(|p| passes(p, id))
                });
                mains.extend(element.map(|element| Main {
                    element,
                    emitters: own.iter().filter_map(|p| Some(on(p)?.1)).collect(),
                    flow_kg_s: self.required.flow_kg_s[element.index()],
                }));
            }
        }
        mains
    }

    /// Factor on the flow of a circuit none of whose emitters can be set. `None` where a declared load or the maker asks for
    /// another flow, or where the pump gives all that it has.
    pub(super) fn even_circuit(&self, circuit: usize, solved: &State) -> Option<f64> {
        let own = &self.required.circuits[circuit];
        let pump = own.pump?;
        let source = self.network.pumps[pump].source;
        let asked = source.is_some_and(|s| self.required.basis[s].used != BasisUsed::Rooms);
        if asked || solved.pumps[pump].limited {
            return None;
        }
        let emitters = own.paths.iter().filter_map(|p| match p.through {
            Through::Emitter(i) => Some(i),
            _ => None,
        });
        self.even(&emitters.collect::<Vec<_>>(), solved)
    }

    /// Factor on the flow that emitters share which leaves the one with most and the one with least water equally far from
    /// their design. The required view splits flows at the design's mean temperature, and cooler water is thicker where it
    /// flows slowly.
    pub(super) fn even(&self, emitters: &[usize], solved: &State) -> Option<f64> {
        let shares = emitters.iter().filter_map(|&i| {
            let wanted = self.required.emitters[i].flow_kg_s;
            let body = self.network.emitters[i].body.index();
            (wanted > 0.0).then(|| solved.flow_kg_s[body].abs() / wanted)
        });
        let range = shares.fold(None, |range: Option<(f64, f64)>, share| {
            Some(range.map_or((share, share), |(a, b)| (a.min(share), b.max(share))))
        });
        let (least, most) = range.filter(|(_, most)| *most > 0.0)?;
        Some(2.0 / (least + most))
    }
}
