//! States of the house: water that goes the wrong way, through what should stand still, or straight back.

use super::{Measured, Tight, given};
use crate::check::facts::Facts;
use crate::check::{Kind, Subject};
use crate::network::VesselKind;
use crate::view::limits::limit;
use crate::view::{Running, Through};

/// Share of its design flow that an emitter may carry backwards, or in an idle circuit, before it counts.
const STRAY: f64 = 0.01;
/// Share of a unit's water that may come straight back through a vessel before the vessel counts as a short circuit.
const SHORT: f64 = 0.5;
/// Where both figures are from.
const PRACTICE: &str = "common practice, no source";

/// Flow of each emitter in a running view as a share of its required flow, with its name.
fn shares<'a>(facts: &'a Facts, run: &'a Running) -> impl Iterator<Item = (usize, f64)> + use<'a> {
    let design = facts.heating();
    let emitters = run.emitters.iter().enumerate();
    emitters.filter_map(move |(i, at)| {
        let required = design?.emitters[i].flow_kg_s;
        (required > 0.0).then(|| (i, at.flow_kg_s / required))
    })
}

/// One figure a state: the greatest of `shares`, with the names of those over the limit.
fn worst(facts: &Facts, run: &Running, shares: impl Iterator<Item = (usize, f64)>) -> Measured {
    let (mut worst, mut names) = (0.0_f64, Vec::new());
    for (i, share) in shares {
        worst = worst.max(share);
        if share > STRAY {
            names.push(facts.network.emitters[i].name.clone());
        }
    }
    let limit = given(STRAY, PRACTICE);
    let mut m =
        Measured::at_most(Subject::House, run.state, Kind::Ratio, worst, &limit).named(names);
    // a margin of one per cent of the design flow is no narrow escape: nothing is tight here
    m.tight = Tight::Never;
    m
}

/// Water that passes an emitter backwards, in every state.
pub(in crate::check) fn reverse(facts: &Facts, list: &mut Vec<Measured>) {
    for run in &facts.running {
        let backwards = shares(facts, run).map(|(i, share)| (i, -share));
        list.push(worst(facts, run, backwards));
    }
}

/// Water that passes the emitters of a pump that stands still, in every state that stops one.
pub(in crate::check) fn idle(facts: &Facts, list: &mut Vec<Measured>) {
    let Some(heating) = facts.heating() else {
        return;
    };
    for run in &facts.running {
        let stopped = &facts.network.states[run.state].stopped;
        let idle: Vec<usize> = heating
            .circuits
            .iter()
            .filter(|c| c.pump.is_some_and(|p| stopped.contains(&p)))
            .flat_map(|c| &c.paths)
            .filter_map(|p| match p.through {
                Through::Emitter(i) => Some(i),
                Through::Cylinder(_)
                | Through::Vessel(_)
                | Through::Manifold(_)
                | Through::Exchanger(_)
                | Through::Bypass(_) => None,
            })
            .collect();
        if idle.is_empty() {
            continue;
        }
        let through = shares(facts, run).filter(|(i, _)| idle.contains(i));
        list.push(worst(
            facts,
            run,
            through.map(|(i, share)| (i, share.abs())),
        ));
    }
}

/// Share of a unit's water that comes straight back through a vessel, in every state.
pub(in crate::check) fn short_circuit(facts: &Facts, list: &mut Vec<Measured>) {
    for run in &facts.running {
        for (i, vessel) in facts.network.vessels.iter().enumerate() {
            let top = match vessel.kind {
                VesselKind::Series { .. } => continue,
                VesselKind::FourPort { top, .. } | VesselKind::ThreePort { top, .. } => top,
            };
            let sources = &facts.network.states[run.state].sources;
            let bodies = sources
                .iter()
                .map(|&s| facts.network.sources[s].body.index());
            let primary: f64 = bodies.map(|body| run.solved.flow_kg_s[body].abs()).sum();
            let down = run.solved.flow_kg_s[vessel.body.index()]
                * if facts.network.ends(vessel.body).0 == top {
                    1.0
                } else {
                    -1.0
                };
            if primary <= 0.0 {
                continue;
            }
            let limit = given(SHORT, PRACTICE);
            let share = (down / primary).max(0.0);
            let mut m =
                Measured::at_most(Subject::Vessel(i), run.state, Kind::Ratio, share, &limit);
            m.tight = Tight::Never;
            list.push(
                m.with(&[("primary_kg_s", primary)])
                    .named([vessel.name.clone()]),
            );
        }
    }
}

/// How far the two flows at a vessel are apart in plain heating, and what the emitters lose by it.
pub(in crate::check) fn mixing(facts: &Facts, list: &mut Vec<Measured>) {
    let Some(heating) = facts.heating() else {
        return;
    };
    let Some(limit) = limit(facts.network, "vessel balance", None) else {
        return;
    };
    let running = facts.run_of(heating.state);
    for required in &heating.mixing {
        let run = running.and_then(|r| r.mixing.iter().find(|m| m.vessel == required.vessel));
        let now = run.unwrap_or(required);
        let apart = (now.primary_kg_s - now.secondary_kg_s).abs()
            / now.primary_kg_s.max(now.secondary_kg_s);
        let subject = Subject::Vessel(required.vessel);
        let m = Measured::at_most(subject, heating.state, Kind::Ratio, apart, &limit);
        let detail = [
            ("primary_kg_s", now.primary_kg_s),
            ("secondary_kg_s", now.secondary_kg_s),
            ("lost_on_flow_k", now.lost_on_flow_k),
            ("lost_on_mean_k", now.lost_on_mean_k),
            ("required_primary_kg_s", required.primary_kg_s),
            ("required_secondary_kg_s", required.secondary_kg_s),
            ("required_lost_on_mean_k", required.lost_on_mean_k),
        ];
        let name = facts.network.vessels[required.vessel].name.clone();
        list.push(m.with(&detail).named([name]));
    }
}
