//! Valves whose branches leave the same place and come back to the same place, as the loops of a manifold do: which of
//! them shut takes most flow away is then a matter of their branches alone.
//!
//! At one pressure difference between the two places a branch carries a flow of its own, whatever else is open. Put in the
//! order of those flows, any k of the group shut leave at least what the k easiest shut leave, and at most what the k
//! hardest leave. Where the order of two branches changes with the pressure difference, the branch in a place of the order
//! stands in for the place: its losses are scaled until they bound that place's at every difference that can come up.

use super::valves::{Closable, ClosableKind};
use crate::fluid::Properties;
use crate::hydraulics;
use crate::network::{ElementId, Law, Network, PartLaw, PlaceId};
use crate::solve::Setting;
use std::collections::{BTreeMap, BTreeSet};

/// Valves of one group.
#[derive(Clone, Debug, PartialEq)]
pub struct Group {
    /// Indices of the valves; of a group of several those whose branches carry most at one pressure difference first.
    pub valves: Vec<usize>,
    /// Places that their branches join; `None` for a valve by itself.
    pub ends: Option<(PlaceId, PlaceId)>,
}

/// Which side of the house a scaled law has to lie on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// Loses at least as much.
    Hard,
    /// Loses at most as much.
    Easy,
}

/// Pressure differences at which branches are compared, between the ends of a range.
const POINTS: usize = 128;
/// A pressure difference across the branch of an emitter, Pa, where none is known.
const USUAL_PA: f64 = 10_000.0;
/// What inverting a loss may be off, share.
const GUARD: f64 = 1e-9;
/// Flows at one pressure difference that differ by more than this factor part a group in two: counts of loops and of large
/// radiators say little when they are added up.
const APART: f64 = 1.6;

/// The valves that can close by groups, in the order of their first valve. Zones and what is part of one stand alone.
pub fn groups(network: &Network, valves: &[Closable]) -> Vec<Group> {
    let mut at: BTreeMap<(PlaceId, PlaceId), usize> = BTreeMap::new();
    let mut out: Vec<Group> = Vec::new();
    for (index, valve) in valves.iter().enumerate() {
        let ends = match (valve.kind, &valve.elements[..]) {
            (ClosableKind::Emitter(e), [element]) if valve.pumps.is_empty() => {
                let emitter = &network.emitters[e];
                let own = emitter.branch.contains(element) && emitter.one_pipe.is_none();
                own.then_some(emitter.ends)
            }
            _ => None,
        };
        let known = ends.and_then(|ends| at.get(&ends).copied());
        match known {
            Some(group) => out[group].valves.push(index),
            None => {
                if let Some(ends) = ends {
                    at.insert(ends, out.len());
                }
                out.push(Group {
                    valves: vec![index],
                    ends,
                });
            }
        }
    }
    out
}

/// Parts groups where their branches differ much in what they carry at one pressure difference; the parts of each stand
/// in the order of what they carry, least first. `house` has one fluid of constant properties.
pub fn parted(
    house: &Network,
    valves: &[Closable],
    groups: Vec<Group>,
    at: Properties,
) -> Vec<Group> {
    let mut out = Vec::new();
    for group in groups {
        let carries = |v: usize| carried(house, branch(house, &valves[v]), at, USUAL_PA);
        let mut flows: Vec<(f64, usize)> = group.valves.iter().map(|v| (carries(*v), *v)).collect();
        flows.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let parts = flows.chunk_by(|a, b| b.0 <= APART * a.0);
        out.extend(parts.map(|part| {
            let mut valves: Vec<usize> = part.iter().map(|(_, v)| *v).collect();
            valves.sort_unstable();
            let ends = group.ends;
            Group { valves, ends }
        }));
    }
    out
}

/// What a group is called: its manifold or its place where it holds all that can close there, else its valves.
pub fn name(network: &Network, valves: &[Closable], all: &[Group], group: &Group) -> String {
    let own = |v: &usize| valves.get(*v).map_or_else(String::new, |v| v.name.clone());
    let first = || group.valves.first().map_or_else(String::new, own);
    let Some((flow, _)) = group.ends.filter(|_| group.valves.len() > 1) else {
        return first();
    };
    if all.iter().filter(|g| g.ends == group.ends).count() > 1 {
        let last = group.valves.last().map_or_else(String::new, own);
        return match group.valves.len() {
            0..4 => group.valves.iter().map(own).collect::<Vec<_>>().join("/"),
            _ => format!("{} … {last}", first()),
        };
    }
    let bar = network.manifolds.iter().find(|m| m.bars.0 == flow);
    let place = &network.graph[flow];
    let user = place.user.as_ref().unwrap_or(&place.name);
    bar.map_or_else(|| user.clone(), |m| m.name.clone())
}

/// Elements of a valve's branch.
pub fn branch<'n>(network: &'n Network, valve: &Closable) -> &'n [ElementId] {
    match valve.kind {
        ClosableKind::Emitter(e) => &network.emitters[e].branch,
        ClosableKind::Zone(_) => &[],
    }
}

/// Puts a group in order and scales the laws of its branches in `house`, which has one fluid of constant properties, for
/// pressure differences within `range` (Pa); `None` where the range is too wide to compare by.
pub fn put_in_order(
    house: &mut Network,
    valves: &[Closable],
    group: &mut Group,
    range: Option<(f64, f64)>,
    side: Side,
    at: Properties,
) -> Option<()> {
    if group.valves.len() < 2 {
        return Some(());
    }
    let branches: Vec<Vec<ElementId>> = group
        .valves
        .iter()
        .map(|v| branch(house, &valves[*v]).to_vec())
        .collect();
    let middle_pa = range.map_or(USUAL_PA, |(from, to)| (from * to).sqrt());
    let mut order: Vec<(f64, usize)> = branches
        .iter()
        .enumerate()
        .map(|(k, b)| (carried(house, b, at, middle_pa), k))
        .collect();
    order.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    let sums: Vec<Coefficients> = branches.iter().map(|b| coefficients(house, b)).collect();
    let settled = order
        .windows(2)
        .all(|w| nowhere_less(&sums[w[1].1], &sums[w[0].1]));
    if !settled {
        let (from, to) = range.filter(|(from, to)| *from > 0.0 && to > from)?;
        let step = crate::maths::pow(to / from, 1.0 / POINTS as f64);
        let points: Vec<f64> = (0..=POINTS)
            .scan(from, |p, _| {
                let here = *p;
                *p *= step;
                Some(here)
            })
            .collect();
        // by point: flows of the branches in falling order
        let ranked: Vec<Vec<f64>> = points
            .iter()
            .map(|pa| {
                let mut flows: Vec<f64> = branches
                    .iter()
                    .map(|b| carried(house, b, at, *pa))
                    .collect();
                flows.sort_by(|a, b| b.total_cmp(a));
                flows
            })
            .collect();
        let scales: Vec<f64> = order
            .iter()
            .enumerate()
            .map(|(rank, (_, k))| {
                let loss = |flow: f64| loss(house, &branches[*k], at, flow).0;
                // between two points a flow lies between its values at both
                let pairs = points.windows(2).zip(ranked.windows(2));
                match side {
                    Side::Hard => pairs
                        .map(|(pa, flows)| pa[1] / loss(flows[0][rank]))
                        .fold(1.0, f64::max),
                    Side::Easy => pairs
                        .map(|(pa, flows)| pa[0] / loss(flows[1][rank]))
                        .fold(1.0, f64::min),
                }
            })
            .collect();
        for ((_, k), scale) in order.iter().zip(scales) {
            if !scale.is_finite() {
                return None;
            }
            let scale = match side {
                Side::Hard if scale > 1.0 => scale * (1.0 + GUARD),
                Side::Easy if scale < 1.0 => scale * (1.0 - GUARD),
                _ => continue,
            };
            for id in &branches[*k] {
                scale_law(&mut house.graph[*id].law, scale);
            }
        }
    }
    group.valves = order.iter().map(|(_, k)| group.valves[*k]).collect();
    Some(())
}

/// Loss of a branch at a flow, Pa, and its slope.
fn loss(house: &Network, branch: &[ElementId], at: Properties, kg_s: f64) -> (f64, f64) {
    branch.iter().fold((0.0, 0.0), |(pa, slope), id| {
        let (more, steeper) = hydraulics::element(&house.element(*id).law, at, kg_s);
        (pa + more, slope + steeper)
    })
}

/// Flow that a branch carries at a pressure difference, kg/s: Newton within a bracket.
fn carried(house: &Network, branch: &[ElementId], at: Properties, pa: f64) -> f64 {
    let (mut low, mut high) = (0.0, 1e-3);
    while loss(house, branch, at, high).0 < pa && high < 1e3 {
        (low, high) = (high, 2.0 * high);
    }
    let mut x = high;
    for _ in 0..100 {
        let (found, slope) = loss(house, branch, at, x);
        if found < pa {
            low = x;
        } else {
            high = x;
        }
        let next = x - (found - pa) / slope;
        let next = if next > low && next < high {
            next
        } else {
            0.5 * (low + high)
        };
        if (next - x).abs() <= 1e-11 * high {
            return next;
        }
        x = next;
    }
    x
}

/// Factors of what a loss is a sum of: friction by bore and roughness, powers of the flow by exponent. Where none of one
/// branch's is less than another's, its loss is nowhere less.
type Coefficients = BTreeMap<(u64, u64), f64>;

fn coefficients(house: &Network, branch: &[ElementId]) -> Coefficients {
    let mut sums = Coefficients::new();
    for id in branch {
        let Law::Parts(parts) = &house.element(*id).law else {
            continue;
        };
        for part in parts {
            let (key, more) = match &part.law {
                PartLaw::Friction {
                    length_m,
                    bore_m,
                    roughness_m,
                } => ((bore_m.to_bits(), roughness_m.to_bits()), *length_m),
                // squares in the same units, so that they add up: kv 1 and ζ 1 in a bore of 1 m by their loss at 1 m³/h
                PartLaw::Zeta { .. } | PartLaw::Kv { .. } => {
                    ((2.0_f64.to_bits(), 0), square(&part.law))
                }
                PartLaw::Power {
                    dp_ref_pa,
                    q_ref_m3h,
                    exponent,
                } => (
                    (exponent.to_bits(), 1),
                    dp_ref_pa / crate::maths::pow(*q_ref_m3h, *exponent),
                ),
            };
            *sums.entry(key).or_insert(0.0) += more;
        }
    }
    sums
}

/// Loss of a ζ or a kv at 1 m³/h of water of 1000 kg/m³, Pa.
fn square(law: &PartLaw) -> f64 {
    let at = Properties {
        rho_kg_m3: 1000.0,
        mu_pa_s: 1e-3,
        cp_j_kgk: 4180.0,
    };
    hydraulics::part(law, at, 1.0 / 3.6).0
}

fn nowhere_less(a: &Coefficients, b: &Coefficients) -> bool {
    b.iter()
        .all(|(key, factor)| a.get(key).is_some_and(|mine| mine >= factor))
}

/// Multiplies the loss of a law.
fn scale_law(law: &mut Law, by: f64) {
    let Law::Parts(parts) = law else {
        return;
    };
    for part in parts {
        match &mut part.law {
            PartLaw::Friction { length_m, .. } => *length_m *= by,
            PartLaw::Zeta { zeta, .. } => *zeta *= by,
            PartLaw::Kv { kv_m3h } => *kv_m3h /= by.sqrt(),
            PartLaw::Power { dp_ref_pa, .. } => *dp_ref_pa *= by,
        }
    }
}

/// Least loss at a flow, Pa, along what is always open, from one place to the others; places without such a way are absent.
///
/// No element of a passive network carries more than the whole flow, so that the pressure falls by no more than this.
pub fn falls_by(
    house: &Network,
    base: &Setting,
    valves: &[Closable],
    from: PlaceId,
    at: Properties,
    kg_s: f64,
) -> BTreeMap<PlaceId, f64> {
    let can_shut: BTreeSet<ElementId> = valves.iter().flat_map(|v| v.elements.clone()).collect();
    let mut ways: BTreeMap<PlaceId, Vec<(PlaceId, f64)>> = BTreeMap::new();
    for id in house.element_ids() {
        let element = house.element(id);
        let stays = element.open && !base.shut[id.index()] && !can_shut.contains(&id);
        if !stays || matches!(element.law, Law::Pump(_)) {
            continue;
        }
        let (a, b) = house.ends(id);
        let pa = hydraulics::element(&element.law, at, kg_s).0.abs();
        ways.entry(a).or_default().push((b, pa));
        ways.entry(b).or_default().push((a, pa));
    }
    let mut known: BTreeMap<PlaceId, f64> = BTreeMap::from([(from, 0.0)]);
    let mut next: Vec<PlaceId> = vec![from];
    while let Some(place) = next.pop() {
        let here = known[&place];
        for (other, pa) in ways.get(&place).into_iter().flatten() {
            if known.get(other).is_none_or(|old| here + pa < *old) {
                known.insert(*other, here + pa);
                next.push(*other);
            }
        }
    }
    known
}

/// Whether what is open joins two places by ways in series and in parallel only.
pub fn is_series_parallel(house: &Network, base: &Setting, ends: (PlaceId, PlaceId)) -> bool {
    let mut near: BTreeMap<PlaceId, BTreeSet<PlaceId>> = BTreeMap::new();
    for id in house.element_ids() {
        let element = house.element(id);
        let (a, b) = house.ends(id);
        if element.open && !base.shut[id.index()] && !matches!(element.law, Law::Pump(_)) && a != b
        {
            near.entry(a).or_default().insert(b);
            near.entry(b).or_default().insert(a);
        }
    }
    let inner = |p: &PlaceId| *p != ends.0 && *p != ends.1;
    // a place with one neighbour is a dead end; with two, it lies along a way
    while let Some(place) = near
        .iter()
        .find(|(p, others)| inner(p) && others.len() < 3)
        .map(|(p, _)| *p)
    {
        let others: Vec<PlaceId> = near.remove(&place).into_iter().flatten().collect();
        for other in &others {
            if let Some(list) = near.get_mut(other) {
                list.remove(&place);
            }
        }
        if let [a, b] = others[..] {
            near.entry(a).or_default().insert(b);
            near.entry(b).or_default().insert(a);
        }
    }
    near.keys().all(|p| !inner(p))
}
