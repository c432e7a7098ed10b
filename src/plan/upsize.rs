//! The whole answer to "what to change": the plan, its proof, its neighbours, the order of work.

use super::beside::{Next, Trades};
use super::ladder::{Ladder, ladder};
use super::near::Near;
use super::offer::Offers;
use super::problem::Objective;
use super::rests::{Guess, guesses, rests};
use super::search::{Excused, Found, House, Plan, Search, Stop, prepare};
use super::stages::{Stage, stages};
use crate::check::{self, Finding, Study, Verdict};
use crate::survey::Survey;

/// What can be asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ask {
    /// What is to be least.
    pub objective: Objective,
    /// The frontier between money and disruption too.
    pub frontier: bool,
    /// One emitter may get a larger drop than the design's.
    pub larger_drop: bool,
    /// Sets that are looked at in full before a search ends and states its gap; ten times as many where that is wide.
    pub most_looks: usize,
}

/// The answer.
#[derive(Clone, Debug)]
pub struct Upsize {
    /// The house as it is, doubts settled.
    pub house: House,
    /// What is on offer.
    pub offers: Offers,
    /// The house as it is, from all sides.
    pub before: Study,
    /// What may go on failing because nothing on offer mends it.
    pub excused: Excused,
    /// The search.
    pub found: Found,
    /// A larger drop at one emitter that the plan goes with: its name and K.
    pub drop: Option<(String, f64)>,
    /// Larger drops at one emitter were tried: not on tangled ways or along several loops unless asked for, nor where nothing need be paid.
    pub drops_tried: bool,
    /// What a larger drop at one emitter would save, where that was not asked for: emitter, K, and the plan then.
    pub other_drop: Option<(String, f64, Plan)>,
    /// Cheaper sets that come nearest to holding.
    pub cheaper: Near,
    /// The next-best plan; nothing where the best changes nothing.
    pub next: Option<Next>,
    /// The frontier between money and disruption, where it was asked for.
    pub frontier: Option<Trades>,
    /// Order of work.
    pub stages: Vec<Stage>,
    /// Which emitter drives the flow temperature, then which, and what each buys.
    pub ladder: Ladder,
    /// The plan with what is guessed in the file; nothing where nothing is, or without a plan.
    pub rests: Option<Study>,
    /// What was asked for.
    pub ask: Ask,
}

impl Upsize {
    /// The plan.
    pub fn best(&self) -> Option<&Plan> {
        self.found.best.as_ref()
    }

    /// The house that the plan's changes are made in, with the drop that it goes with.
    pub fn survey(&self) -> &Survey {
        &self.house.survey
    }

    /// Guesses that another value of would break the plan.
    pub fn guesses(&self) -> Vec<Guess<'_>> {
        self.rests.as_ref().map_or_else(Vec::new, guesses)
    }

    /// Checks that fail and go on failing.
    pub fn remaining(&self) -> Vec<&Finding> {
        let Some(best) = self.best() else {
            return Vec::new();
        };
        let failing = best.study.findings.iter();
        failing.filter(|f| f.verdict == Verdict::Fails).collect()
    }
}

/// Drops that are tried at one emitter, K.
const DROPS_K: [f64; 5] = [6.0, 7.0, 8.0, 9.0, 10.0];

/// What to change in a house.
///
/// # Errors
/// No answer for the house as it is.
pub fn upsize(survey: &Survey, ask: Ask) -> Result<Upsize, Stop> {
    let (house, offers) = prepare(survey)?;
    let before = check::study(&house.network, &check::Options::default())?;
    let excused = Excused::of(&house, &before, &offers);
    let search = Search {
        house: &house,
        offers: &offers,
        objective: ask.objective,
        excused: &excused,
        most_looks: ask.most_looks,
        thorough: true,
    };
    let mut found = search.run()?;
    let mut drop = None;
    let mut other_drop = None;
    let mut house = house;
    // on tangled ways and along several loops each of these many searches takes long: only where it is asked for
    let tried = ask.larger_drop || !(found.tangled || found.beside_loops);
    let drops_tried = tried && found.best.as_ref().is_none_or(|b| b.money > 0);
    if drops_tried {
        let mut least = found.bound.0;
        let mut best: Option<(String, f64, House, Found)> = None;
        for (i, emitter) in house.survey.emitters.iter().enumerate() {
            let name = &emitter.name.value;
            let now = house.network.emitters.iter().find(|e| e.name == *name);
            let Some(now) = now.filter(|e| e.one_pipe.is_none()) else {
                continue;
            };
            for k in DROPS_K.into_iter().filter(|k| *k > now.drop_k + 0.5) {
                let known = best.as_ref().map_or(&found, |(_, _, _, f)| f);
                let (better, bound) = with_drop(&house, &offers, &ask, &excused, known, i, k)?;
                least = least.min(bound);
                if let Some((h, f)) = better {
                    best = Some((name.clone(), k, h, f));
                }
            }
        }
        if let Some((name, k, h, f)) = best {
            if ask.larger_drop {
                (house, found, drop) = (h, f, Some((name, k)));
            } else if let Some(plan) = f.best {
                other_drop = Some((name, k, plan));
            }
        }
        if ask.larger_drop {
            // a drop whose search ended on its limit may hide something cheaper
            found.stopped |= least < found.bound.1.max(1);
            found.bounded(ask.objective, least);
        }
    }
    let search = Search {
        house: &house,
        offers: &offers,
        objective: ask.objective,
        excused: &excused,
        most_looks: ask.most_looks,
        thorough: true,
    };
    let cheaper = search.near(&found);
    let next = search.next_best(&found);
    let frontier = (ask.frontier && found.best.is_some()).then(|| search.frontier(&found));
    let stages = match &found.best {
        Some(best) => stages(&search, &found, best),
        None => Vec::new(),
    };
    let made = found.best.as_ref().map_or(&[][..], |b| &b.changes);
    let ladder = ladder(&house, &offers, made);
    let plan = found.best.as_ref();
    let rests = plan.and_then(|plan| rests(survey, plan, drop.as_ref()));
    Ok(Upsize {
        house,
        before,
        excused,
        found,
        drop,
        drops_tried,
        other_drop,
        cheaper,
        next,
        frontier,
        stages,
        ladder,
        rests,
        ask,
        offers,
    })
}

/// The search with a larger drop at one emitter, if that comes cheaper than what is known; and the price under which
/// nothing works with it.
fn with_drop(
    house: &House,
    offers: &Offers,
    ask: &Ask,
    excused: &Excused,
    known: &Found,
    emitter: usize,
    drop_k: f64,
) -> Result<(Option<(House, Found)>, i64), Stop> {
    let mut survey = house.survey.clone();
    let e = &mut survey.emitters[emitter];
    e.drop = Some(crate::survey::At::new(
        crate::quantity::Kelvin(drop_k),
        0..0,
    ));
    let Ok(other) = House::new(survey) else {
        return Ok((None, i64::MAX));
    };
    let search = Search {
        house: &other,
        offers,
        objective: ask.objective,
        excused,
        most_looks: ask.most_looks,
        thorough: true,
    };
    let rough = super::model::model(&other.network, &other.required, offers)?;
    if !(rough.impossible.is_empty() && rough.stuck.is_empty()) {
        return Ok((None, i64::MAX));
    }
    let bound = super::cheapest(&rough.problem, ask.objective, &[]).map(|b| b.bound.0);
    let reached = known.best.as_ref().map_or(i64::MAX, |_| known.bound.1);
    let Some(bound) = bound.filter(|b| *b < reached) else {
        return Ok((None, bound.unwrap_or(i64::MAX)));
    };
    let found = search.run()?;
    let least = match (&found.best, found.stopped) {
        (None, false) => i64::MAX,
        _ => found.bound.0.max(bound),
    };
    let better = found.best.is_some() && found.bound.1 < reached;
    Ok((better.then_some((other, found)), least))
}
