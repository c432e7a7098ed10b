//! What of a house a drawing shows: as required, as it runs, with chosen valves shut, before and after a plan.

use super::figures::Figures;
use super::scene::Scene;
use super::style::{Shows, Style};
use super::words::tidy;
use crate::check::{Finding, Study, Verdict};
use crate::network::{ElementId, Law, Network, Part, PartLaw, Run};
use crate::solve::{PumpState, SourceLimit, SourceState, State, Stats};
use crate::view::{Required, Running};

/// A house in one of its states, with what is known of it.
#[derive(Clone, Copy, Debug)]
pub struct House<'a> {
    /// The house.
    pub network: &'a Network,
    /// What duty requires of every pipe in this state.
    pub required: Option<&'a Required>,
    /// How it runs in this state.
    pub running: Option<&'a Running>,
    /// What was found of it.
    pub findings: &'a [Finding],
}

impl<'a> House<'a> {
    /// Of a study; `state` is an index into `Network::states`.
    pub fn of(study: &'a Study, state: usize) -> Self {
        Self {
            network: &study.network,
            required: study.required.iter().find(|r| r.state == state),
            running: study.running.iter().find(|r| r.state == state),
            findings: &study.findings,
        }
    }

    fn scene(&self, style: &Style) -> Vec<Scene> {
        super::scene(
            self.network,
            self.required,
            self.running,
            self.findings,
            style,
        )
    }

    /// With the figures that duty requires.
    pub fn as_required(&self, style: &Style) -> Vec<Scene> {
        self.scene(&Style {
            shows: Shows::Required,
            ..style.clone()
        })
    }

    /// With the figures as it runs.
    pub fn as_it_runs(&self, style: &Style) -> Vec<Scene> {
        self.scene(&Style {
            shows: Shows::Running,
            ..style.clone()
        })
    }

    /// With chosen elements shut: their valves are drawn shut and pipes without flow thin and without arrows.
    ///
    /// `solved` is the state with them shut, `None` if nothing moves then. `name` stands under the title: `lounge shut`.
    /// Findings are left out, since they are about the state that was checked.
    pub fn with_shut(
        &self,
        shut: &[ElementId],
        solved: Option<&State>,
        name: &str,
        style: &Style,
    ) -> Vec<Scene> {
        let running = Running {
            state: self
                .running
                .map(|r| r.state)
                .or_else(|| self.required.map(|r| r.state))
                .unwrap_or(0),
            solved: solved.cloned().unwrap_or_else(|| at_rest(self.network)),
            emitters: Vec::new(),
            lockshields: Vec::new(),
            mixing: Vec::new(),
        };
        let house = House {
            required: None,
            running: Some(&running),
            findings: &[],
            ..*self
        };
        let mut style = style.clone();
        style.shut.extend_from_slice(shut);
        style.subtitle = name.into();
        house.as_it_runs(&style)
    }

    /// Before a plan that ends in `after`: the runs to be changed carry a mark and what they become.
    pub fn before(&self, after: &Network, name: &str, style: &Style) -> Vec<Scene> {
        self.marked(after, "to be", name, style)
    }

    /// After a plan that began with `before`: the changed runs carry a mark and what they were.
    pub fn after(&self, before: &Network, name: &str, style: &Style) -> Vec<Scene> {
        self.marked(before, "was", name, style)
    }

    /// Second pipes that only this house has: their index, that of the pipe beside which they lie, and their words there.
    /// What fails of them has to carry a mark of its own, so that they are drawn by themselves.
    fn folded(&self, other: &Network, style: &Style) -> Vec<(usize, usize, String)> {
        let network = self.network;
        let figures = Figures::new(network, self.required, self.running, self.findings, style);
        let words = super::Words::new(network, style, 1000.0);
        let runs = network.runs.iter().enumerate();
        runs.filter(|(i, run)| {
            !is_in(other, run) && figures.run_status[*i].is_none_or(|s| s.verdict >= Verdict::Tight)
        })
        .filter_map(|(i, run)| {
            let first = alongside((network, run), network, |r| is_in(other, r))?;
            let first = network.runs.iter().position(|r| std::ptr::eq(r, first))?;
            let flow = figures.runs[i]
                .m3_s
                .map_or(String::new(), |q| format!(", {}", words.flow(q)));
            Some((i, first, format!("+\u{a0}{}{flow}, new", words.size(run))))
        })
        .collect()
    }

    fn marked(&self, other: &Network, verb: &str, name: &str, style: &Style) -> Vec<Scene> {
        let words = super::Words::new(other, style, 1000.0);
        let folded = self.folded(other, style);
        let put = |what: &str| format!("{verb}\u{a0}{}", tidy(what, 20).0);
        let mut changed: Vec<(usize, String)> = self
            .network
            .runs
            .iter()
            .enumerate()
            // a second pipe is told at the first, which stands where it is laid
            .filter(|(i, _)| !folded.iter().any(|(second, ..)| second == i))
            .filter_map(|(i, run)| {
                let Some(there) = partner(other, run, i) else {
                    // only after a plan is there a run that the other house does not have
                    let first = alongside((self.network, run), self.network, |r| is_in(other, r));
                    let first = first.map(|r| format!(", beside\u{a0}{}", tidy(&r.name, 20).0));
                    return Some((i, format!("new{}", first.unwrap_or_default())));
                };
                if let Some((_, _, flow)) = folded.iter().find(|(_, first, _)| *first == i) {
                    return Some((i, flow.clone()));
                }
                let second = alongside((self.network, run), other, |r| !is_in(self.network, r));
                if let Some(second) = second {
                    let sizes = [there, second].map(|r| words.size(r)).join(" + ");
                    return Some((i, format!("{verb}\u{a0}{sizes}")));
                }
                let same = there.pipe == run.pipe
                    && there.bore_m == run.bore_m
                    && there.outside_m == run.outside_m;
                if !same {
                    return Some((i, put(&words.size(there))));
                }
                Some((i, put(&other_part(self.network, run, other, there)?)))
            })
            .collect();
        // one label speaks for both pipes of a pair
        for (i, words) in changed.clone() {
            let partner = self.network.runs.get(i).and_then(|r| r.partner);
            if let Some(p) = partner.filter(|p| !changed.iter().any(|(r, _)| r == p)) {
                changed.push((p, words));
            }
        }
        let emitters = self.network.emitters.iter().enumerate();
        let changed_emitters = emitters
            .filter_map(|(i, emitter)| {
                let there = other.emitters.iter().find(|e| e.name == emitter.name)?;
                let another = there.type_words != emitter.type_words || there.law != emitter.law;
                let valve = |network: &Network, e: &crate::network::Emitter| {
                    parts(network, &[e.valve?]).find_map(|p| match p.law {
                        PartLaw::Kv { kv_m3h } => Some(kv_m3h),
                        _ => None,
                    })
                };
                let (now, then) = (valve(self.network, emitter), valve(other, there));
                match then.filter(|_| now != then) {
                    Some(kv) if another => {
                        Some((i, put(&format!("{}, kv {kv}", there.type_words))))
                    }
                    Some(kv) => Some((i, put(&format!("valve kv {kv}")))),
                    None => another.then(|| (i, put(&there.type_words))),
                }
            })
            .collect();
        self.scene(&Style {
            changed,
            changed_emitters,
            folded: folded.iter().map(|(s, f, _)| (*s, *f)).collect(),
            subtitle: name.into(),
            ..style.clone()
        })
    }
}

fn parts<'n>(network: &'n Network, elements: &'n [ElementId]) -> impl Iterator<Item = &'n Part> {
    let laws = elements.iter().map(|id| &network.element(*id).law);
    laws.flat_map(|law| match law {
        Law::Parts(parts) => parts.as_slice(),
        _ => &[],
    })
}

/// What stands in the other house's run of the same pipe and not in this one, in its words.
fn other_part(network: &Network, run: &Run, other: &Network, there: &Run) -> Option<String> {
    let own: Vec<&Part> = parts(network, &run.elements).collect();
    // what more than three pipes at a place add is nobody's change
    let theirs = parts(other, &there.elements).filter(|p| p.span.is_some());
    theirs
        .filter(|p| !own.iter().any(|o| o.symbol == p.symbol && o.law == p.law))
        .map(|p| match p.law {
            PartLaw::Kv { kv_m3h } => format!("{} kv {kv_m3h}", p.symbol),
            _ => p.words.clone(),
        })
        .next()
}

/// The same run in another network: by name, side and kind, else by its number if nothing tells them apart.
fn partner<'a>(other: &'a Network, run: &Run, index: usize) -> Option<&'a Run> {
    // a pair and an emitter's tails may bear one name
    let same = |r: &&Run| r.name == run.name && r.side == run.side && r.kind == run.kind;
    other
        .runs
        .get(index)
        .filter(same)
        .or_else(|| other.runs.iter().find(same))
}

/// Whether a network has a run of that name and side.
fn is_in(network: &Network, run: &Run) -> bool {
    partner(network, run, usize::MAX).is_some()
}

/// Another run between the same two places, by name, that is as asked for.
fn alongside<'n>(
    (network, run): (&Network, &Run),
    of: &'n Network,
    asked: impl Fn(&Run) -> bool,
) -> Option<&'n Run> {
    let ends = |n: &Network, r: &Run| [r.from, r.to].map(|p| n.graph[p].name.clone());
    let here = ends(network, run);
    of.runs.iter().find(|r| {
        r.name != run.name
            && (r.side, r.kind) == (run.side, run.kind)
            && ends(of, r) == here
            && asked(r)
    })
}

/// A house in which nothing moves.
fn at_rest(network: &Network) -> State {
    let (elements, places) = (network.graph.edge_count(), network.graph.node_count());
    State {
        flow_kg_s: vec![0.0; elements],
        dp_pa: vec![None; elements],
        tee_dp_pa: vec![0.0; elements],
        pressure_pa: vec![None; places],
        place_c: vec![None; places],
        in_c: vec![None; elements],
        out_c: vec![None; elements],
        heat_w: vec![0.0; elements],
        at_c: vec![network.design.flow_temperature_c; elements],
        pumps: vec![PumpState::default(); network.pumps.len()],
        sources: vec![
            SourceState {
                output_w: 0.0,
                flow_c: None,
                return_c: None,
                limit: SourceLimit::Idle,
            };
            network.sources.len()
        ],
        stats: Stats::default(),
    }
}
