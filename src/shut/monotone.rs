//! Where shutting one more valve can only lower the flow, a few solves speak for all combinations.
//!
//! Between the two ends of one pump whose head falls with flow, in a network of passive elements whose loss rises with
//! flow, the flow falls when any element's loss rises, and shutting a valve is the limit of that (Birkhoff and Diaz 1956,
//! Non-linear network problems). A set of shut valves that trips the unit then makes all larger sets trip, and one that
//! does not clears all smaller ones. The claim ends with tees whose loss depends on the split, with valves that act by
//! themselves, and with controlled or several pumps.
//!
//! Where viscosity and density follow the temperature, and that the valves, the claim holds for the two houses of
//! [`super::admissible`] between which this one lies: what does not trip the one that resists more is safe, what trips the one
//! that resists less trips. Where both agree the sets are exact.

use super::admissible;
use super::sets::{Mask, hit_one, minimal};
use super::valves::Closable;
use crate::hydraulics::liquid;
use crate::network::{ElementId, Law, Network, PartLaw, PumpControl};
use crate::solve::{Light, Setting, SolveError, Solver};

/// Solves after which the search is given up.
const SOLVES: usize = 4_000;
/// Tripping sets up to which the number of tripping combinations is counted (2ⁿ terms).
const COUNTED: usize = 16;

/// Why bounds cannot be used.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WhyNot {
    /// Every combination was solved: no need.
    NotNeeded,
    /// Tees by flow split.
    Tees,
    /// A check, overflow or flow-holding valve, a mixing set.
    ActsByItself,
    /// A part whose loss does not rise with flow.
    Falls,
    /// A pump that is controlled, or several.
    Pumps,
    /// Properties of the water go with its temperature, and that has no bounds known beforehand.
    Water,
    /// The sets are too many to be found one by one.
    TooMany,
    /// A combination on the way had no answer.
    Unanswered,
}

/// What was proved.
#[derive(Clone, Debug, PartialEq)]
pub struct Proved {
    /// Smallest sets of shut valves that are sure to trip: every combination with one of them shut does.
    pub trips: Vec<Mask>,
    /// Smallest sets that are sure to be safe: no combination with one of them open trips.
    pub safe: Vec<Mask>,
    /// Both lists are complete and their sets the smallest that there are.
    pub exact: bool,
    /// Combinations solved for it.
    pub solves: usize,
    /// Combinations that are sure to trip and those that are not sure not to, counted from the sets; `None` if the sets
    /// are too many for that.
    pub tripping: Option<(f64, f64)>,
    /// Coldest and hottest water that was allowed for, °C; `None` where its properties are constant.
    pub water_c: Option<(f64, f64)>,
}

/// Sets of a family of which every larger set is a member too.
#[derive(Clone, Debug, PartialEq)]
pub struct Family {
    /// The smallest members.
    pub least: Vec<Mask>,
    /// Smallest sets that share a valve with each of them.
    pub hitting: Vec<Mask>,
    /// Questions asked for it.
    pub asked: usize,
}

/// Whether the claim holds for a house in a setting.
///
/// # Errors
/// The first thing that ends it.
pub fn provable(network: &Network, base: &Setting, valves: &[Closable]) -> Result<(), WhyNot> {
    if !network.tees.is_empty() {
        return Err(WhyNot::Tees);
    }
    if base.held_kg_s.iter().any(Option::is_some) {
        return Err(WhyNot::ActsByItself);
    }
    let open = |id: &ElementId| network.element(*id).open && !base.shut[id.index()];
    for id in network.element_ids().filter(open) {
        match base.law.get(&id).unwrap_or(&network.element(id).law) {
            Law::Parts(parts) => {
                let falls =
                    |law: &PartLaw| matches!(law, PartLaw::Zeta { zeta, .. } if *zeta < 0.0);
                if parts.iter().any(|p| falls(&p.law)) {
                    return Err(WhyNot::Falls);
                }
            }
            Law::Pump(_) => {}
            Law::OneWay { .. } | Law::HoldFlow { .. } => return Err(WhyNot::ActsByItself),
        }
    }
    let running: Vec<_> = network.sources.iter().zip(&base.sources).collect();
    let [(source, _)] = running[..] else {
        return Err(WhyNot::Pumps);
    };
    let own = source.pump.filter(|_| network.pumps.len() == 1);
    let Some(PumpControl::FixedSpeed(_)) = own.and_then(|p| base.control.get(p)) else {
        return Err(WhyNot::Pumps);
    };
    if valves.iter().any(|v| !v.pumps.is_empty()) {
        return Err(WhyNot::Pumps);
    }
    Ok(())
}

/// How far the flow of a state may be off, share: beyond what the solver leaves ([`crate::solve::Light`]).
const GUARD: f64 = 1e-6;

/// Two houses of constant properties between which a house lies, for which the claim holds.
pub struct Houses {
    /// Loses at least as much everywhere.
    pub hard: Network,
    /// Loses at most as much everywhere.
    pub easy: Network,
    /// The setting of both, heat left out.
    pub setting: Setting,
    /// Flows through the source at which it is decided, kg/s: a combination of the easier house under the first is sure to
    /// trip, one of the harder house that is not under the second is sure not to.
    pub least_kg_s: (f64, f64),
    /// Coldest and hottest water that was allowed for, °C; `None` where its properties are constant.
    pub water_c: Option<(f64, f64)>,
}

impl Houses {
    /// Properties of what both houses are filled with.
    pub fn properties(&self) -> Option<crate::fluid::Properties> {
        let pump = self.hard.pumps.first()?.element;
        let fluid = self.hard.fluids.get(self.hard.element(pump).fluid)?;
        liquid(fluid).at(self.setting.flow_c).ok()
    }

    /// Of a house in a setting; `None` where there is no least flow.
    ///
    /// # Errors
    /// Why the claim does not hold.
    pub fn of(
        network: &Network,
        base: &Setting,
        valves: &[Closable],
    ) -> Result<Option<Self>, WhyNot> {
        provable(network, base, valves)?;
        let source = network.sources.first().ok_or(WhyNot::Pumps)?;
        let Some(least_m3_s) = source.least_flow_m3_s else {
            return Ok(None);
        };
        if !network.fluids.iter().all(|f| liquid(f).is_constant()) {
            let between = admissible::between(network, base)?;
            // as litres, whatever the water's temperature at the source is
            let short_kg_s = least_m3_s * between.rho.0 * (1.0 - 2.0 * GUARD);
            let sure_kg_s = least_m3_s * between.rho.1 * (1.0 + GUARD);
            return Ok(Some(Self {
                hard: between.hard,
                easy: between.easy,
                setting: between.setting,
                least_kg_s: (short_kg_s, sure_kg_s),
                water_c: Some(between.water_c),
            }));
        }
        let fluid = network.fluids.get(network.element(source.body).fluid);
        let at = fluid.and_then(|f| liquid(f).at(base.flow_c).ok());
        let rho_kg_m3 = at.ok_or(WhyNot::Water)?.rho_kg_m3;
        let mut house = network.clone();
        for (id, law) in &base.law {
            house.graph[*id].law = law.clone();
        }
        let mut setting = base.clone();
        setting.law.clear();
        // flows do not depend on heat here
        setting.heat = false;
        // as `Facts::trips` has it
        let least_kg_s = least_m3_s * rho_kg_m3 * (1.0 - GUARD);
        Ok(Some(Self {
            hard: house.clone(),
            easy: house,
            setting,
            least_kg_s: (least_kg_s, least_kg_s),
            water_c: None,
        }))
    }
}

/// Finds the smallest tripping and safe sets of a house for which the claim holds.
///
/// # Errors
/// Why it does not, or why the search ended.
pub fn prove(network: &Network, base: &Setting, valves: &[Closable]) -> Result<Proved, WhyNot> {
    let Some(houses) = Houses::of(network, base, valves)? else {
        // nothing trips where nobody says on what
        return Ok(Proved {
            trips: Vec::new(),
            safe: vec![0],
            exact: true,
            solves: 0,
            tripping: Some((0.0, 0.0)),
            water_c: None,
        });
    };
    prove_between(network, &houses, valves)
}

/// The same between two houses that are known.
///
/// # Errors
/// Why the search ended.
pub fn prove_between(
    network: &Network,
    houses: &Houses,
    valves: &[Closable],
) -> Result<Proved, WhyNot> {
    let source = network.sources.first().ok_or(WhyNot::Pumps)?;
    let under = |house: &Network, kg_s: f64| {
        family(house, &houses.setting, valves, &|_, light, _| {
            light.flow_kg_s(source.body).abs() < kg_s
        })
    };
    let count_of = |family: &Family| count(valves.len(), &family.least);
    let may = under(&houses.hard, houses.least_kg_s.1)?;
    let must = match houses.water_c {
        None => may.clone(),
        Some(_) => under(&houses.easy, houses.least_kg_s.0)?,
    };
    let twice = usize::from(houses.water_c.is_some());
    Ok(Proved {
        exact: may.least == must.least,
        tripping: count_of(&must).zip(count_of(&may)),
        trips: must.least,
        safe: may.hitting,
        solves: may.asked + twice * must.asked,
        water_c: houses.water_c,
    })
}

/// What a house trips on, by a question about a solved state.
fn family(
    network: &Network,
    setting: &Setting,
    valves: &[Closable],
    is_in: &dyn Fn(&Network, &Light<'_>, Mask) -> bool,
) -> Result<Family, WhyNot> {
    let (solver, ways) = (Solver::new(network), super::enumerate::ways(valves));
    let mut states = solver
        .states(setting, &ways)
        .map_err(|_| WhyNot::Unanswered)?;
    let mut trips = |mask: Mask| match states.solve(mask) {
        Ok(light) => Ok(is_in(network, &light, mask)),
        Err(SolveError::NothingMoves) => Ok(true),
        Err(_) => Err(WhyNot::Unanswered),
    };
    search(valves.len(), SOLVES, &mut trips)
}

/// Finds all smallest tripping and safe sets by asking at most `most` times which sets trip, where larger sets trip if
/// smaller ones do.
///
/// Tripping sets and safe sets are each other's transversals. A candidate that hits every tripping set found so far
/// either is safe, or leaves a set that trips, which shrinks to a smallest one not yet known (Gunopulos, Khardon,
/// Mannila and Toivonen 1997, Data mining, hypergraph transversals, and machine learning: dualise and advance).
///
/// # Errors
/// What `trips` returns, or [`WhyNot::TooMany`].
pub fn search(
    valves: usize,
    most: usize,
    trips: &mut dyn FnMut(Mask) -> Result<bool, WhyNot>,
) -> Result<Family, WhyNot> {
    let all: Mask = (0..valves).fold(0, |mask, v| mask | 1 << v);
    let mut found: Vec<Mask> = Vec::new();
    let mut hitting: Vec<Mask> = vec![0];
    let mut known_safe: std::collections::BTreeSet<Mask> = std::collections::BTreeSet::new();
    let mut solves = 0;
    while let Some(&open) = hitting.iter().find(|h| !known_safe.contains(h)) {
        let mut shut = all & !open;
        solves += 1;
        if solves > most {
            return Err(WhyNot::TooMany);
        }
        if !trips(shut)? {
            known_safe.insert(open);
            continue;
        }
        for valve in (0..valves).filter(|v| all >> v & 1 == 1) {
            let less = shut & !(1 << valve);
            if less != shut {
                solves += 1;
                if trips(less)? {
                    shut = less;
                }
            }
        }
        found.push(shut);
        hitting = hit_one(&hitting, shut).ok_or(WhyNot::TooMany)?;
    }
    Ok(Family {
        least: minimal(found),
        hitting,
        asked: solves,
    })
}

/// Number of sets that contain one of `sets`, by inclusion and exclusion.
fn count(valves: usize, sets: &[Mask]) -> Option<f64> {
    if sets.len() > COUNTED {
        return None;
    }
    let mut sum = 0.0;
    for chosen in 1_u32..1 << sets.len() {
        let union = (0..sets.len())
            .filter(|k| chosen >> k & 1 == 1)
            .fold(0, |union, k| union | sets[k]);
        let free = valves as i32 - union.count_ones() as i32;
        let sign = if chosen.count_ones() % 2 == 1 {
            1.0
        } else {
            -1.0
        };
        sum += sign * 2f64.powi(free);
    }
    Some(sum)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shut::sets::{smallest_hitting, smallest_trips};
    use proptest::prelude::*;

    proptest! {
        #![proptest_config(ProptestConfig { rng_seed: proptest::test_runner::RngSeed::Fixed(20), ..ProptestConfig::with_cases(64) })]

        #[test]
        fn a_search_finds_what_enumeration_finds(seeds in prop::collection::vec(1_u64..64, 0..6)) {
            // any family of sets, and all that contain one of them trip
            let trips: Vec<bool> = (0..64_u64)
                .map(|mask| seeds.iter().any(|s| s & mask == *s))
                .collect();
            let found = search(6, SOLVES, &mut |mask| Ok(trips[mask as usize])).unwrap();
            let expected = smallest_trips(6, &trips);
            prop_assert_eq!(&found.least, &expected);
            prop_assert_eq!(found.hitting, smallest_hitting(&expected, 1000).unwrap());
            let tripping = trips.iter().filter(|t| **t).count();
            prop_assert_eq!(count(6, &expected), Some(tripping as f64));
        }
    }

    #[test]
    fn too_many_sets_are_given_up() {
        // any ten of forty open are safe: more sets than anybody lists
        let found = search(40, 2_000, &mut |mask| Ok(mask.count_ones() > 30));
        assert_eq!(found, Err(WhyNot::TooMany));
    }
}
