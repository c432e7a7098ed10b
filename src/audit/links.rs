//! The published list of relations, laid between the claims of one schedule.
//!
//! Only claims, constants of nature and what the file says of a room or an emitter's exponent enter; recomputed figures
//! do not, so that a contradiction stands whoever is right about the house.

use super::claim::{About, Claim, Claims, Value, What};
use super::conflict::{self, smallest_contradictions};
use super::figures::Seen;
use super::links_parts::{emitters, ways_round};
use super::relation::{Consistent, Interval, Relation, consistent_within};
use crate::catalogue::Catalogue;
use crate::fluid::Liquid;
use crate::hydraulics::liquid;
use crate::network::Network;
use crate::solve::SolveError;
use crate::survey::Fluid;
use std::collections::{BTreeMap, BTreeSet};

/// The list of relations, by name and in words.
pub const RELATIONS: &[(&str, &str)] = &[
    (
        "heat-flow-drop",
        "heat = density x heat capacity x flow x drop",
    ),
    ("flow-bore-velocity", "flow = pi/4 x bore2 x velocity"),
    (
        "gradient-length-loss",
        "loss >= gradient x length of all its pipe",
    ),
    (
        "parts-sum",
        "a whole is the sum of its parts, or not less than those that are stated",
    ),
    (
        "head-loss",
        "where it passes, head available >= head needed",
    ),
    (
        "rating-excess-output",
        "output = rated output x (mean water temperature less room / 50 K)^n",
    ),
    (
        "volume-parts",
        "water in the system >= water that circulates, and >= that of the vessels",
    ),
    (
        "flow-return-drop",
        "return temperature = flow temperature - drop",
    ),
];

/// A smallest set of claims that cannot all be true.
#[derive(Clone, Debug, PartialEq)]
pub struct Contradiction {
    /// Claims by index.
    pub claims: Vec<usize>,
    /// Names of the relations that they break together.
    pub relations: Vec<&'static str>,
}

/// What the claims say to one another.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Contradictions {
    /// The smallest sets, at most [`MOST`].
    pub sets: Vec<Contradiction>,
    /// False if there may be more.
    pub complete: bool,
    /// Claims that stand in none of them.
    pub survivors: Vec<usize>,
}

/// Sets listed at most.
pub const MOST: usize = 20;

/// Any positive value.
pub(super) const ANY: Interval = Interval {
    low: 1e-9,
    high: 1e9,
};
/// What is left over: nothing or more.
const REST: Interval = Interval {
    low: 0.0,
    high: 1e9,
};

/// A quantity between claims.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Variable {
    /// What is or could be stated.
    Stated(About, What),
    /// Heat that a volume of what flows takes up, J/(m³ K).
    Capacity,
    /// Help of one relation, by number.
    Help(usize),
}

/// Quantities between claims and the relations among them.
#[derive(Default)]
pub(super) struct Links {
    index: BTreeMap<Variable, usize>,
    bounds: Vec<Interval>,
    pub relations: Vec<(&'static str, Relation)>,
}

impl Links {
    pub fn at(&mut self, variable: Variable, bounds: Interval) -> usize {
        if let Some(&i) = self.index.get(&variable) {
            return i;
        }
        self.bounds.push(bounds);
        self.index.insert(variable, self.bounds.len() - 1);
        self.bounds.len() - 1
    }

    pub fn stated(&mut self, about: About, what: What) -> usize {
        self.at(Variable::Stated(about, what), ANY)
    }

    pub fn help(&mut self, bounds: Interval) -> usize {
        self.at(Variable::Help(self.bounds.len()), bounds)
    }

    pub fn product(&mut self, name: &'static str, result: usize, factors: &[usize], constant: f64) {
        let relation = Relation::Product {
            result,
            factors: factors.iter().map(|f| (*f, 1.0)).collect(),
            constant,
        };
        self.relations.push((name, relation));
    }

    pub fn sum(
        &mut self,
        name: &'static str,
        result: usize,
        terms: &[(usize, f64)],
        constant: f64,
    ) {
        let relation = Relation::Sum {
            result,
            terms: terms.to_vec(),
            constant,
        };
        self.relations.push((name, relation));
    }

    /// result = the terms + something that is not negative.
    pub fn at_least(&mut self, name: &'static str, result: usize, terms: &[usize]) {
        let rest = self.help(REST);
        let mut all: Vec<(usize, f64)> = terms.iter().map(|t| (*t, 1.0)).collect();
        all.push((rest, 1.0));
        self.sum(name, result, &all, 0.0);
    }
}

/// What claims about a house say to one another, without an answer to any of them.
///
/// # Errors
/// Whatever stops the solver: the ways round the house are those of its required flows.
pub fn between(network: &Network, claims: &Claims) -> Result<Contradictions, SolveError> {
    let seen = Seen::of(network, false, network.design.lockshields_open)?;
    Ok(contradictions(&seen, claims))
}

/// What claims say to one another, by the list of relations.
pub(super) fn contradictions(seen: &Seen, claims: &Claims) -> Contradictions {
    let mut links = links(seen, claims);
    let bounds: Vec<Option<(usize, Interval)>> =
        claims.list.iter().map(|c| bound(&mut links, c)).collect();
    prune(&mut links, &bounds);
    let all: BTreeSet<usize> = (0..claims.list.len())
        .filter(|i| bounds.get(*i).is_some_and(Option::is_some))
        .collect();
    let relations: Vec<Relation> = links.relations.iter().map(|(_, r)| r.clone()).collect();
    let breaks = |set: &BTreeSet<usize>, relations: &[Relation]| {
        let mut now = links.bounds.clone();
        for (at, interval) in set.iter().filter_map(|i| bounds.get(*i).copied().flatten()) {
            if let Some(b) = now.get_mut(at) {
                b.low = b.low.max(interval.low);
                b.high = b.high.min(interval.high);
            }
        }
        now.iter().any(|b| b.low > b.high)
            || consistent_within(&now, relations, PARTS) == Consistent::No
    };
    let (sets, complete) = smallest_contradictions(&all, MOST, |set| breaks(set, &relations));
    let survivors = conflict::survivors(&(0..claims.list.len()).collect(), &sets);
    let sets = sets
        .into_iter()
        .map(|set| Contradiction {
            relations: broken(&links.relations, |r| breaks(&set, r)),
            claims: set.into_iter().collect(),
        })
        .collect();
    Contradictions {
        sets,
        complete,
        survivors: survivors.into_iter().collect(),
    }
}

/// Parts of a box looked at before a set counts as possible: most contradictions need no splitting at all.
const PARTS: usize = 60;

/// Names of the relations without which a set would not contradict itself.
fn broken(
    relations: &[(&'static str, Relation)],
    breaks: impl Fn(&[Relation]) -> bool,
) -> Vec<&'static str> {
    let mut left: Vec<&(&'static str, Relation)> = relations.iter().collect();
    let mut i = 0;
    while i < left.len() {
        let gone = left.remove(i);
        let without: Vec<Relation> = left.iter().map(|(_, r)| r.clone()).collect();
        if !breaks(&without) {
            left.insert(i, gone);
            i += 1;
        }
    }
    let names: BTreeSet<&str> = left.iter().map(|(name, _)| *name).collect();
    RELATIONS
        .iter()
        .map(|(name, _)| *name)
        .filter(|n| names.contains(n))
        .collect()
}

/// What a claim says of a quantity.
fn bound(links: &mut Links, claim: &Claim) -> Option<(usize, Interval)> {
    let around = |x: f64, half: f64| Interval {
        low: x - half,
        high: x + half,
    };
    match &claim.value {
        Value::Figure { si, .. } => {
            let at = links
                .index
                .get(&Variable::Stated(claim.about, claim.row.what))?;
            Some((*at, around(*si, claim.allowed(*si))))
        }
        Value::Pipe(word) => {
            let at = links
                .index
                .get(&Variable::Stated(claim.about, What::Bore))?;
            let pipe = Catalogue::embedded().pipe(word)?;
            let low = pipe.bore_low.unwrap_or(pipe.bore).0;
            let high = pipe.bore_high.unwrap_or(pipe.bore).0;
            Some((
                *at,
                Interval {
                    low: low * 0.99,
                    high: high * 1.01,
                },
            ))
        }
        Value::Flag(true) if claim.row.what == What::Passes => {
            let at = links
                .index
                .get(&Variable::Stated(About::House, What::Passes))?;
            Some((*at, REST))
        }
        Value::Fluid(fluid) => {
            let at = links.index.get(&Variable::Capacity)?;
            Some((*at, capacity(fluid)?))
        }
        _ => None,
    }
}

/// Heat that a volume of a fluid takes up between 20 and 70 °C, J/(m³ K).
fn capacity(fluid: &Fluid) -> Option<Interval> {
    let liquid = match *fluid {
        Fluid::Water => Liquid::Water,
        Fluid::Glycol { propylene, percent } if propylene => Liquid::Propylene(percent),
        Fluid::Glycol { percent, .. } => Liquid::Ethylene(percent),
        Fluid::Given { .. } => return None,
    };
    of_liquid(&liquid)
}

fn of_liquid(liquid: &Liquid) -> Option<Interval> {
    let at = |c: f64| liquid.at(c).ok().map(|p| p.rho_kg_m3 * p.cp_j_kgk);
    let (a, b) = (at(20.0)?, at(70.0)?);
    Some(Interval {
        low: a.min(b) * 0.998,
        high: a.max(b) * 1.002,
    })
}

fn hull(a: Interval, b: Interval) -> Interval {
    Interval {
        low: a.low.min(b.low),
        high: a.high.max(b.high),
    }
}

fn links(seen: &Seen, claims: &Claims) -> Links {
    let mut links = Links::default();
    let network = seen.network;
    // a claimed fluid may narrow this, never widen it, so that one claim more never mends a contradiction
    let file = network.fluids.first().and_then(|f| of_liquid(&liquid(f)));
    let claimed = claims.list.iter().find_map(|c| match &c.value {
        Value::Fluid(f) => capacity(f),
        _ => None,
    });
    let bounds = match (file, claimed) {
        (Some(a), Some(b)) => hull(a, b),
        (Some(a), None) | (None, Some(a)) => a,
        (None, None) => ANY,
    };
    let capacity = links.at(Variable::Capacity, bounds);
    let house = |l: &mut Links, what| l.stated(About::House, what);

    let [load, drop, flow] = [What::Load, What::Drop, What::Flow].map(|w| house(&mut links, w));
    links.product("heat-flow-drop", load, &[capacity, flow, drop], 1.0);
    let [carries, runs] = [What::Carries, What::OperatingFlow].map(|w| house(&mut links, w));
    links.product("heat-flow-drop", carries, &[capacity, runs, drop], 1.0);

    let [hot, cold] =
        [What::FlowTemperature, What::ReturnTemperature].map(|w| house(&mut links, w));
    links.sum("flow-return-drop", hot, &[(cold, 1.0), (drop, 1.0)], 0.0);

    let [head, available] = [What::Head, What::HeadAvailable].map(|w| house(&mut links, w));
    let spare = links.at(
        Variable::Stated(About::House, What::Passes),
        Interval {
            low: -1e9,
            high: 1e9,
        },
    );
    links.sum("head-loss", available, &[(head, 1.0), (spare, 1.0)], 0.0);

    let [system, moving, vessel] =
        [What::SystemVolume, What::CirculatingVolume, What::Volume].map(|w| house(&mut links, w));
    links.at_least("volume-parts", system, &[moving]);
    links.at_least("volume-parts", system, &[vessel]);
    let single: Vec<usize> = stated_of(claims, |a| matches!(a, About::Vessel(_)))
        .into_iter()
        .map(|a| links.stated(a, What::Volume))
        .collect();
    if !single.is_empty() {
        links.at_least("volume-parts", vessel, &single);
        links.at_least("volume-parts", system, &single);
    }

    for about in stated_of(claims, |a| matches!(a, About::Pair(_) | About::Pipe(_))) {
        let ways = seen.pipes(about).len() as f64;
        let of = |l: &mut Links, what| l.stated(about, what);
        let [heat, flow, bore, velocity] =
            [What::Heat, What::Flow, What::Bore, What::Velocity].map(|w| of(&mut links, w));
        links.product("heat-flow-drop", heat, &[capacity, flow, drop], 1.0);
        links.relations.push((
            "flow-bore-velocity",
            Relation::Product {
                result: flow,
                factors: vec![(bore, 2.0), (velocity, 1.0)],
                constant: std::f64::consts::FRAC_PI_4,
            },
        ));
        let [gradient, length, loss] =
            [What::Gradient, What::Length, What::Loss].map(|w| of(&mut links, w));
        let straight = links.help(ANY);
        links.product("gradient-length-loss", straight, &[gradient, length], ways);
        links.at_least("gradient-length-loss", loss, &[straight]);
    }
    emitters(seen, claims, &mut links);
    ways_round(seen, claims, &mut links);
    links
}

/// What claims are about, each once, in order.
pub(super) fn stated_of(claims: &Claims, wanted: impl Fn(&About) -> bool) -> Vec<About> {
    let all: BTreeSet<About> = claims.list.iter().map(|c| c.about).filter(wanted).collect();
    all.into_iter().collect()
}

/// Leaves out products that hold a quantity about which nothing else is said: they can always be satisfied.
fn prune(links: &mut Links, bounds: &[Option<(usize, Interval)>]) {
    let claimed: BTreeSet<usize> = bounds.iter().flatten().map(|(at, _)| *at).collect();
    let members = |r: &Relation| -> Vec<usize> {
        match r {
            Relation::Product {
                result, factors, ..
            } => factors.iter().map(|f| f.0).chain([*result]).collect(),
            Relation::Sum { result, terms, .. } => {
                terms.iter().map(|t| t.0).chain([*result]).collect()
            }
        }
    };
    loop {
        let mut met: BTreeMap<usize, usize> = BTreeMap::new();
        for (_, relation) in &links.relations {
            for at in members(relation) {
                *met.entry(at).or_default() += 1;
            }
        }
        let free = |at: &usize| {
            let wide = links.bounds.get(*at) == Some(&ANY);
            wide && !claimed.contains(at) && met.get(at) == Some(&1)
        };
        // in a sum a free result or term takes up whatever the others leave, as long as it is positive
        let idle = |r: &Relation| match r {
            Relation::Product { .. } => members(r).iter().any(free),
            Relation::Sum { result, terms, .. } => {
                free(result) && terms.iter().all(|(_, c)| *c > 0.0)
            }
        };
        let before = links.relations.len();
        let kept: Vec<_> = links
            .relations
            .iter()
            .filter(|(_, r)| !idle(r))
            .cloned()
            .collect();
        links.relations = kept;
        if links.relations.len() == before {
            return;
        }
    }
}
