//! Bounds where sets are too many to be found one by one: by how many valves of each group are shut, whichever they are.
//!
//! Holds where [`super::monotone`] holds. Of all ways to shut k valves of a group of [`super::alike`] the house flows least
//! with the k easiest shut and most with the k hardest shut; so one solve of each kind speaks for all of them, and the
//! combinations of forty loops on four manifolds come down to some ten thousand counts.
//!
//! *Which pressure differences can come up.* Whether a combination trips is decided at the least flow M and the head H that
//! the pump has there. Driven with H, a combination that trips carries less than M, no part of a passive network
//! carries more than that, and the pressure differences inside are at most H: so a group's is at least H less the losses
//! at M along what is always open. That is the range for "may trip". Driven with M, a combination that does not trip needs at
//! most H; in a network of ways in series and in parallel a group's difference is then at least what it is with everything
//! open. That is the range for "is sure to trip".

use super::alike::{Group, Side, falls_by, groups, is_series_parallel, parted, put_in_order};
use super::enumerate::ways;
use super::monotone::{Houses, WhyNot};
use super::sets::Mask;
use super::valves::Closable;
use crate::fluid::Properties;
use crate::hydraulics::pump;
use crate::network::{Law, Network, PumpControl};
use crate::solve::{Setting, SolveError, Solver};
use std::ops::ControlFlow;

/// Counts up to which all are solved.
const MOST: u64 = 60_000;
/// Patterns kept of each kind.
const KEPT: usize = 200;
/// Share of the least difference inside with everything open by which the range for "sure to trip" begins lower, since
/// branches are eased afterwards.
const LOWER: f64 = 0.8;

/// What is proved by counts of valves shut.
#[derive(Clone, Debug, PartialEq)]
pub struct Counted {
    /// Groups, a count each in every pattern below.
    pub groups: Vec<Group>,
    /// With up to so many shut, whichever, it never trips; `None` if it may with everything open.
    pub safe_up_to: Option<usize>,
    /// With so many shut or more, whichever, it always trips; `None` if not even with everything shut, or not provable.
    pub trips_from: Option<usize>,
    /// Combinations that are sure to trip and those that may.
    pub tripping: (f64, f64),
    /// Least counts shut that are sure to trip, whichever of each group.
    pub trips: Vec<Vec<usize>>,
    /// Least counts that are sure to be safe if they never close, whichever of each group.
    pub safe: Vec<Vec<usize>>,
    /// A set of fewest valves among those that are sure to be safe if they never close.
    pub least_safe: Option<Mask>,
    /// Likely smallest sets of shut valves that trip, for the house itself to say whether they do: fewest first, the easiest
    /// of each group.
    pub ask: Vec<Mask>,
    /// Combinations solved for it.
    pub solves: u64,
}

impl Counted {
    /// How many smallest sets there are at least, for a search that would list them one by one.
    pub fn sets(&self) -> f64 {
        let each = |counts: &Vec<usize>| -> f64 {
            let groups = self.groups.iter().zip(counts);
            groups.map(|(g, k)| choose(g.valves.len(), *k)).product()
        };
        let sum = |patterns: &[Vec<usize>]| patterns.iter().map(each).sum::<f64>();
        sum(&self.trips).max(sum(&self.safe))
    }
}

/// Proves by counts; `progress` is told how many are solved of how many, for each of the three kinds of solves anew.
///
/// # Errors
/// [`WhyNot::TooMany`] where the counts are too many or no two valves are alike, [`WhyNot::Unanswered`].
pub fn counted(
    network: &Network,
    valves: &[Closable],
    houses: &Houses,
    progress: &dyn Fn(usize, usize),
) -> Result<Counted, WhyNot> {
    let least_kg_s = houses.least_kg_s;
    let mut of_valves = groups(network, valves);
    if let Some(at) = houses.properties() {
        let parts = parted(&houses.hard, valves, of_valves.clone(), at);
        if Counts::of(&parts).number().is_some_and(|n| n <= MOST) {
            of_valves = parts;
        }
    }
    if Counts::of(&of_valves).number().is_none_or(|n| n > MOST) {
        return Err(WhyNot::TooMany);
    }
    let hard = Ordered::of(houses, valves, &of_valves, least_kg_s.1, Side::Hard);
    let easy = Ordered::of(houses, valves, &of_valves, least_kg_s.0, Side::Easy);
    let (hard, easy) = (hard.ok_or(WhyNot::TooMany)?, easy);
    let counts = Counts::of(&hard.groups);
    let number = counts.number().ok_or(WhyNot::TooMany)?;
    if counts.sizes.iter().all(|n| *n < 2) {
        return Err(WhyNot::TooMany);
    }
    let (source, setting) = (
        network.sources.first().ok_or(WhyNot::Pumps)?,
        &houses.setting,
    );
    let ask = |house: &Network, short_kg_s: f64, mask: &(dyn Fn(u64) -> Mask + Sync)| {
        let told = (number, progress);
        flows(house, setting, valves, source.body, told, mask).map(|flows| {
            flows
                .iter()
                .map(|kg_s| *kg_s < short_kg_s)
                .collect::<Vec<bool>>()
        })
    };
    let easiest = |k: u64| mask(&hard.groups, &counts.at(k));
    let may = ask(&hard.house, least_kg_s.1, &easiest)?;
    let sure = match &easy {
        Some(easy) => {
            let hardest = |k: u64| {
                let shut = counts.at(k);
                let left: Vec<usize> = counts.sizes.iter().zip(&shut).map(|(n, k)| n - k).collect();
                all_of(valves.len()) & !mask(&easy.groups, &left)
            };
            ask(&easy.house, least_kg_s.0, &hardest)?
        }
        None => vec![false; number as usize],
    };
    // a set that is safe is one state of the harder house, whatever the order of its group is
    let left_open = |k: u64| all_of(valves.len()) & !mask(&hard.groups, &counts.at(k));
    let unsafe_alone = ask(&houses.hard, least_kg_s.1, &left_open)?;
    let by_size = |k: &u64| (counts.at(*k).iter().sum::<usize>(), *k);
    let least_safe = (0..number)
        .filter(|k| !unsafe_alone[*k as usize])
        .min_by_key(by_size)
        .map(left_open)
        .map(|shut| all_of(valves.len()) & !shut);
    let shut_of = |k: u64| counts.at(k).iter().sum::<usize>();
    let first_may = (0..number).filter(|k| may[*k as usize]).map(shut_of).min();
    let last_not = (0..number)
        .filter(|k| !sure[*k as usize])
        .map(shut_of)
        .max();
    let safe_up_to = match first_may {
        Some(0) => None,
        Some(first) => Some(first - 1),
        None => Some(valves.len()),
    };
    let trips_from = last_not.map_or(Some(0), |last| (last < valves.len()).then_some(last + 1));
    let sum = |of: &[bool]| {
        let chosen = (0..number).filter(|k| of[*k as usize]);
        chosen.map(|k| counts.ways(k)).sum::<f64>()
    };
    let (from, to) = (
        first_may.unwrap_or(valves.len() + 1),
        trips_from.unwrap_or(valves.len()),
    );
    let mut near: Vec<u64> = (0..number)
        .filter(|k| may[*k as usize] && (from..=to).contains(&shut_of(*k)))
        .collect();
    near.sort_by_key(by_size);
    let mut safe: Vec<Vec<usize>> = Vec::new();
    let mut trips: Vec<Vec<usize>> = Vec::new();
    for k in 0..number {
        if !may[k as usize] && counts.more(k).all(|other| may[other as usize]) {
            let shut = counts.at(k);
            safe.push(counts.sizes.iter().zip(shut).map(|(n, k)| n - k).collect());
        }
        if sure[k as usize] && counts.less(k).all(|other| !sure[other as usize]) {
            trips.push(counts.at(k));
        }
    }
    for list in [&mut safe, &mut trips] {
        list.sort_by_key(|counts| (counts.iter().sum::<usize>(), counts.clone()));
        list.truncate(KEPT);
    }
    Ok(Counted {
        safe_up_to,
        trips_from,
        tripping: (sum(&sure), sum(&may)),
        trips,
        safe,
        least_safe,
        ask: near.into_iter().map(easiest).collect(),
        solves: 2 * number + if easy.is_some() { number } else { 0 },
        groups: hard.groups,
    })
}

/// A house whose groups are in order.
struct Ordered {
    house: Network,
    groups: Vec<Group>,
}

impl Ordered {
    /// `None` where the order is not sure.
    fn of(
        houses: &Houses,
        valves: &[Closable],
        groups: &[Group],
        least_kg_s: f64,
        side: Side,
    ) -> Option<Self> {
        let mut house = match side {
            Side::Hard => houses.hard.clone(),
            Side::Easy => houses.easy.clone(),
        };
        let base = &houses.setting;
        let pump = house.pumps.first()?.element;
        let at = houses.properties()?;
        let (back, out) = house.ends(pump);
        let head_pa = head_pa(&house, base, at, least_kg_s)?;
        let open_pa = match side {
            Side::Hard => None,
            Side::Easy => {
                is_series_parallel(&house, base, (out, back)).then_some(())?;
                Some(differences(&house, base, groups, least_kg_s)?)
            }
        };
        let down = falls_by(&house, base, valves, out, at, least_kg_s);
        let up = falls_by(&house, base, valves, back, at, least_kg_s);
        let mut ordered = groups.to_vec();
        for (g, group) in ordered.iter_mut().enumerate() {
            let Some((a, b)) = group.ends.filter(|_| group.valves.len() > 1) else {
                continue;
            };
            let range = match &open_pa {
                None => down
                    .get(&a)
                    .zip(up.get(&b))
                    .map(|(down, up)| (head_pa - down - up, head_pa)),
                Some(open_pa) => Some((LOWER * open_pa[g], head_pa)),
            };
            let range = range.filter(|(from, to)| *from > 0.0 && to > from);
            put_in_order(&mut house, valves, group, range, side, at)?;
        }
        if let Some(before) = open_pa {
            // easing the branches may not have lowered a difference below where the comparison began
            let after = differences(&house, base, groups, least_kg_s)?;
            if after.iter().zip(&before).any(|(a, b)| *a < LOWER * b) {
                return None;
            }
        }
        Some(Self {
            house,
            groups: ordered,
        })
    }
}

/// Head of the pump of a house at a flow, Pa.
fn head_pa(house: &Network, base: &Setting, at: Properties, kg_s: f64) -> Option<f64> {
    let Some(PumpControl::FixedSpeed(speed)) = base.control.first() else {
        return None;
    };
    match &house.element(house.pumps.first()?.element).law {
        Law::Pump(curve) => Some(pump::head(curve, *speed, 3600.0 * kg_s / at.rho_kg_m3).0),
        _ => None,
    }
}

/// Pressure difference of each group with everything open and a flow through the source, Pa.
fn differences(house: &Network, base: &Setting, groups: &[Group], kg_s: f64) -> Option<Vec<f64>> {
    let mut held = base.clone();
    *held.control.first_mut()? = PumpControl::HeldToFlow(kg_s);
    let state = Solver::new(house).solve(&held).ok()?;
    let body = house.sources.first()?.body.index();
    // the pump may not reach that flow; then nothing is known of it
    if (state.flow_kg_s[body].abs() / kg_s - 1.0).abs() > 1e-6 {
        return None;
    }
    let of = |group: &Group| match group.ends {
        None => Some(0.0),
        Some((a, b)) => {
            let pa = |p: crate::network::PlaceId| state.pressure_pa[p.index()];
            Some((pa(a)? - pa(b)?).abs())
        }
    };
    groups.iter().map(of).collect()
}

/// Flow through the source with each of many combinations shut, kg/s; none where nothing moves.
fn flows(
    house: &Network,
    setting: &Setting,
    valves: &[Closable],
    source: crate::network::ElementId,
    (number, progress): (u64, &dyn Fn(usize, usize)),
    mask: &(dyn Fn(u64) -> Mask + Sync),
) -> Result<Vec<f64>, WhyNot> {
    let mut all: Vec<Option<f64>> = Vec::with_capacity(number as usize);
    let ended = Solver::new(house).fold_states(
        setting,
        &ways(valves),
        number,
        mask,
        Vec::new,
        |list, _, answer| {
            list.push(match answer {
                Ok(light) => Some(light.flow_kg_s(source).abs()),
                Err(SolveError::NothingMoves) => Some(0.0),
                Err(_) => None,
            });
        },
        |list: Vec<Option<f64>>, done| {
            all.extend(list);
            progress(done as usize, number as usize);
            ControlFlow::Continue(())
        },
    );
    // the fold is never broken off here
    let _: ControlFlow<()> = ended.map_err(|_| WhyNot::Unanswered)?;
    all.into_iter()
        .collect::<Option<Vec<f64>>>()
        .ok_or(WhyNot::Unanswered)
}

/// A mask with all of `n` valves.
fn all_of(n: usize) -> Mask {
    (0..n).fold(0, |mask, v| mask | 1 << v)
}

/// The first so many valves of each group.
fn mask(groups: &[Group], counts: &[usize]) -> Mask {
    let chosen = groups.iter().zip(counts);
    chosen
        .flat_map(|(g, k)| g.valves.iter().take(*k))
        .fold(0, |mask, v| mask | 1 << v)
}

/// All counts of valves of each group, numbered.
struct Counts {
    sizes: Vec<usize>,
}

impl Counts {
    fn of(groups: &[Group]) -> Self {
        let sizes = groups.iter().map(|g| g.valves.len()).collect();
        Self { sizes }
    }

    fn number(&self) -> Option<u64> {
        let mut each = self.sizes.iter().map(|n| *n as u64 + 1);
        each.try_fold(1_u64, u64::checked_mul)
    }

    fn at(&self, mut k: u64) -> Vec<usize> {
        let digit = |n: &usize| {
            let radix = *n as u64 + 1;
            let digit = k % radix;
            k /= radix;
            digit as usize
        };
        self.sizes.iter().map(digit).collect()
    }

    /// Numbers of the counts with one more shut somewhere.
    fn more(&self, k: u64) -> impl Iterator<Item = u64> + '_ {
        let places = self.at(k).into_iter().zip(self.steps());
        let sizes = places.zip(&self.sizes);
        sizes
            .filter(|((count, _), n)| count < n)
            .map(move |((_, step), _)| k + step)
    }

    /// Numbers of the counts with one less shut somewhere.
    fn less(&self, k: u64) -> impl Iterator<Item = u64> + '_ {
        let places = self.at(k).into_iter().zip(self.steps());
        places
            .filter(|(count, _)| *count > 0)
            .map(move |(_, step)| k - step)
    }

    fn steps(&self) -> impl Iterator<Item = u64> + '_ {
        self.sizes.iter().scan(1_u64, |step, n| {
            let here = *step;
            *step *= *n as u64 + 1;
            Some(here)
        })
    }

    /// Combinations of a count.
    fn ways(&self, k: u64) -> f64 {
        let counts = self.at(k);
        self.sizes
            .iter()
            .zip(counts)
            .map(|(n, k)| choose(*n, k))
            .product()
    }
}

/// Ways to choose `k` of `n`.
pub fn choose(n: usize, k: usize) -> f64 {
    (0..k.min(n - k)).fold(1.0, |product, i| product * (n - i) as f64 / (i + 1) as f64)
}
