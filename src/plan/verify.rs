//! Looking at a set of changes in full: required and as it runs, every check.

use super::change::Change;
use super::loose::Loose;
use super::model::{HAIR_K, Model};
use super::offer::Offers;
use super::price::Line;
use super::rows::scope_of_way;
use super::search::{House, Search, views};
use crate::check::{self, Finding, Study, Subject, Verdict};
use crate::network::{Network, expand};
use crate::solve::SolveError;
use crate::survey::Survey;
use crate::view::Required;
use crate::view::required::inlet_for;
use std::collections::BTreeSet;

/// Checks that pipes, radiators and valves can mend; any other that fails before and after the largest change on offer is
/// not theirs.
const MENDED: [&str; 6] = [
    "head",
    "flow-temperature",
    "velocity",
    "erosion",
    "gradient",
    "low-velocity",
];
/// Checks of one run at its required flow.
const OF_A_RUN: [&str; 4] = ["velocity", "erosion", "gradient", "low-velocity"];

/// A set of changes that was looked at in full.
#[derive(Clone, Debug)]
pub struct Plan {
    /// Choice of every decision of the model.
    pub picks: Vec<usize>,
    /// Changes, in the order of the sites.
    pub changes: Vec<Change>,
    /// Their bills, by change.
    pub bills: Vec<Vec<Line>>,
    /// Indices of opened places.
    pub opens: Vec<usize>,
    /// Money, hundredths.
    pub money: i64,
    /// Disruption, tenths of a room for a day.
    pub disruption: u32,
    /// The changed survey, settled.
    pub survey: Survey,
    /// The changed house from all sides.
    pub study: Study,
}

/// A set that fails, and what.
#[derive(Clone, Debug)]
pub struct Fails {
    /// Decisions on which that failure hangs: every set with these choices fails so.
    pub scope: Vec<usize>,
    /// Decisions on which it hangs most likely; a guide, no proof.
    pub likely: Vec<usize>,
    /// Changes in words.
    pub changes: Vec<String>,
    /// Money, hundredths.
    pub money: i64,
    /// All of it by prices of the file.
    pub own: bool,
    /// Disruption.
    pub disruption: u32,
    /// What fails.
    pub by: FailsBy,
    /// Emitters that give too little as the house runs, and the share that is lacking.
    pub lacking: Vec<(usize, f64)>,
}

/// What a set fails by.
#[derive(Clone, Debug)]
pub enum FailsBy {
    /// The head on a way: circuit, far end, Pa too much, Pa there.
    Head(String, String, f64, f64),
    /// A check as a finding, with the house that it is about.
    Check(Box<(Finding, Network)>),
    /// An emitter asks for more than it gets: its name, °C asked for, °C given.
    Cold(String, f64, f64),
    /// No converged answer.
    NoAnswer(SolveError),
}

impl FailsBy {
    /// How far it is from holding, as a share of what is asked for: heads by the head, temperatures by an excess of 25 K.
    pub fn short(&self) -> f64 {
        match self {
            Self::Head(_, _, over, there) => over / there.max(1.0),
            Self::Cold(_, asks, gets) => (asks - gets) / 25.0,
            Self::Check(about) => about.0.margin.map_or(1.0, |m| -m),
            Self::NoAnswer(_) => f64::INFINITY,
        }
    }
}

/// A check and what it is about, in words.
pub fn named(network: &Network, check: &str, subject: Subject) -> String {
    let title = check::CHECKS.iter().find(|c| c.code == check);
    let title = title.map_or(check, |c| c.title);
    let of = |name: Option<&String>| name.map_or(title.to_owned(), |n| format!("{title}: {n}"));
    match subject {
        Subject::Run(i) => of(network.runs.get(i).map(|r| &r.name)),
        Subject::Emitter(i) => of(network.emitters.get(i).map(|e| &e.name)),
        Subject::Room(i) => of(network.rooms.get(i).map(|r| &r.name)),
        Subject::Source(i) => of(network.sources.get(i).map(|s| &s.name)),
        Subject::Pump(i) => of(network.pumps.get(i).map(|p| &p.name)),
        _ => title.to_owned(),
    }
}

/// The house from all sides with the largest change on offer everywhere; `None` if it has no answer.
pub(super) fn with_largest(house: &House, offers: &Offers) -> Option<Study> {
    let mut survey = house.survey.clone();
    for slot in &offers.slots {
        if let Some(largest) = slot.largest() {
            largest.change.apply(&mut survey);
        }
    }
    let (network, _) = expand(&survey).ok()?;
    check::study(&network, &check::Options::default()).ok()
}

/// What may fail before and after because nothing on offer mends it.
#[derive(Clone, Debug, Default)]
pub struct Excused(pub Vec<(&'static str, Subject)>);

impl Excused {
    /// Failing checks of a house that the largest change on offer leaves failing.
    pub fn of(house: &House, before: &Study, offers: &Offers) -> Self {
        let fails = |s: &Study| -> Vec<(&'static str, Subject)> {
            let failing = s.findings.iter().filter(|f| f.verdict == Verdict::Fails);
            failing.map(|f| (f.check, f.subject)).collect()
        };
        let mut list = fails(before);
        list.retain(|(check, _)| !MENDED.contains(check));
        list.dedup();
        if list.is_empty() {
            return Self(list);
        }
        match with_largest(house, offers) {
            Some(after) => {
                let after = fails(&after);
                list.retain(|f| after.contains(f));
            }
            None => list.clear(),
        }
        Self(list)
    }

    /// The worst failing check of a study that is not excused.
    pub fn first_failing<'s>(&self, study: &'s Study) -> Option<&'s Finding> {
        study
            .findings
            .iter()
            .find(|f| f.verdict == Verdict::Fails && !self.0.contains(&(f.check, f.subject)))
    }
}

impl Search<'_> {
    /// Changes of a set of offers.
    pub(super) fn changes(&self, chosen: &[usize]) -> Vec<(usize, usize)> {
        let slots = chosen.iter().enumerate();
        slots
            .filter(|(_, o)| **o != 0)
            .map(|(s, o)| (s, *o))
            .collect()
    }

    /// Looks at a set in full.
    ///
    /// # Errors
    /// What fails.
    #[allow(clippy::result_large_err)] // a few hundred of them live for seconds; a box would only be in the way
    pub fn verify(&self, model: &Model, picks: &[usize]) -> Result<Plan, Fails> {
        let chosen = self.changes(&model.chosen(picks));
        self.look(model, &chosen, picks)
    }

    /// Looks in full at offers, by slot, also at such as the model rules out; `picks` are a plan's own where they are its.
    ///
    /// # Errors
    /// What fails.
    #[allow(clippy::result_large_err)] // as above
    pub(super) fn look(
        &self,
        model: &Model,
        chosen: &[(usize, usize)],
        picks: &[usize],
    ) -> Result<Plan, Fails> {
        let (money, disruption) = self.offers.cost(chosen);
        let mut survey = self.house.survey.clone();
        let mut plan_changes = Vec::new();
        let mut bills = Vec::new();
        let mut opens: Vec<usize> = Vec::new();
        for &(s, o) in chosen {
            let offer = &self.offers.slots[s].offers[o];
            offer.change.apply(&mut survey);
            plan_changes.push(offer.change.clone());
            bills.push(offer.bill.clone());
            opens.extend(
                offer
                    .opens
                    .iter()
                    .filter(|o| !opens.contains(o))
                    .copied()
                    .collect::<Vec<_>>(),
            );
        }
        opens.sort_unstable();
        let fails = |by| Fails {
            scope: self.all(),
            likely: self.all(),
            changes: self.words(chosen),
            money,
            own: self.offers.own(chosen),
            disruption,
            by,
            lacking: Vec::new(),
        };
        let Ok((network, _)) = expand(&survey) else {
            return Err(fails(FailsBy::NoAnswer(SolveError::NothingMoves)));
        };
        // the required view alone is far cheaper, and most sets that fail fail there
        let required = views(&network).map_err(|e| match self.frozen(model, &network) {
            Some((by, scope)) => Fails {
                likely: scope.clone(),
                scope,
                ..fails(by)
            },
            None => fails(FailsBy::NoAnswer(e)),
        })?;
        if let Some((by, scope)) = self.short(model, &network, &required) {
            return Err(Fails {
                likely: scope.clone(),
                scope,
                ..fails(by)
            });
        }
        let study = check::study(&network, &check::Options::default())
            .map_err(|e| fails(FailsBy::NoAnswer(e)))?;
        if let Some(finding) = self.excused.first_failing(&study) {
            let scope = self.scope_of(model, finding, &study.network);
            let by = FailsBy::Check(Box::new((finding.clone(), study.network.clone())));
            let likely = self.likely(model, finding).unwrap_or(scope.clone());
            let failing = study.findings.iter().filter(|f| {
                f.verdict == Verdict::Fails && !self.excused.0.contains(&(f.check, f.subject))
            });
            let lacking = failing.filter_map(|f| match f.subject {
                Subject::Emitter(i) => Some((i, -f.margin?)),
                _ => None,
            });
            return Err(Fails {
                scope,
                likely,
                lacking: lacking.collect(),
                ..fails(by)
            });
        }
        Ok(Plan {
            picks: picks.to_vec(),
            changes: plan_changes,
            bills,
            opens,
            money,
            disruption,
            survey,
            study,
        })
    }

    /// The first way whose head is short, or emitter that the moved flows leave too cold, with its scope.
    fn short(
        &self,
        model: &Model,
        network: &Network,
        required: &[Required],
    ) -> Option<(FailsBy, Vec<usize>)> {
        for (r, view) in required.iter().enumerate() {
            for circuit in &view.circuits {
                let Some(available) = circuit.available_pa.map(|a| a.max(0.0)) else {
                    continue;
                };
                // a fresh pump makes other ways the index; the same way is found again by what it goes through
                if circuit.needed_pa <= available {
                    continue;
                }
                let far = circuit.paths.get(circuit.index);
                let base = self.house.required.get(r).and_then(|base| {
                    let same = base.circuits.iter().find(|c| c.name == circuit.name)?;
                    same.paths
                        .iter()
                        .find(|p| Some(p.through) == far.map(|f| f.through))
                });
                let scope = base.zip(model.loose.get(r)).map(|(path, loose)| {
                    self.unless_shared(model, scope_of_way(&self.house.network, loose, path))
                });
                let by = FailsBy::Head(
                    circuit.name.clone(),
                    far.map(|p| p.through.name(network)).unwrap_or_default(),
                    circuit.needed_pa - available,
                    available,
                );
                return Some((by, scope.unwrap_or_else(|| self.all())));
            }
            for (i, asks) in view.emitters.iter().enumerate() {
                let e = &network.emitters[i];
                let Some((asks, (gets, _))) = asks.inlet_c.zip(view.ends_c[e.body.index()]) else {
                    continue;
                };
                if asks > gets + HAIR_K {
                    let scope = model
                        .loose
                        .get(r)
                        .map(|l| self.scope_of_emitter(model, l, i));
                    return Some((
                        FailsBy::Cold(e.name.clone(), asks, gets),
                        scope.unwrap_or_else(|| self.all()),
                    ));
                }
            }
        }
        None
    }

    /// The first emitter whose duty would cool its share of the water below the room, where that leaves no answer.
    fn frozen(&self, model: &Model, network: &Network) -> Option<(FailsBy, Vec<usize>)> {
        for (base, loose) in self.house.required.iter().zip(&model.loose) {
            let Ok((_, ends_c)) = crate::view::required::flows(network, base.state) else {
                continue;
            };
            for (i, e) in network.emitters.iter().enumerate() {
                let room_c = network.rooms[e.room].temperature_c;
                let asks = ends_c[e.body.index()].and_then(|(c_in, c_out)| {
                    Some((inlet_for(&e.law, e.duty_w, c_in - c_out, room_c)?, c_in))
                });
                if let Some((asks, gets)) = asks.filter(|(asks, gets)| *asks > gets + HAIR_K) {
                    let scope = self.scope_of_emitter(model, loose, i);
                    return Some((FailsBy::Cold(e.name.clone(), asks, gets), scope));
                }
            }
        }
        None
    }

    /// Every decision.
    fn all(&self) -> Vec<usize> {
        (0..self.offers.slots.len()).collect()
    }

    /// Where rooms are shared, duties hang on radiators all over the house, and so does everything else.
    fn unless_shared(&self, model: &Model, scope: Vec<usize>) -> Vec<usize> {
        if model.loose.iter().any(|l| !l.rooms.is_empty()) {
            self.all()
        } else {
            scope
        }
    }

    fn scope_of_emitter(&self, model: &Model, loose: &Loose, emitter: usize) -> Vec<usize> {
        let e = &self.house.network.emitters[emitter];
        let mut scope: BTreeSet<usize> = BTreeSet::new();
        for id in e
            .branch
            .iter()
            .chain(e.one_pipe.as_ref().map(|o| &o.between))
        {
            scope.extend(&loose.by[id.index()]);
        }
        let slots = self.offers.slots.iter().enumerate();
        scope.extend(
            slots
                .filter(|(_, s)| s.emitter == Some(emitter))
                .map(|(s, _)| s),
        );
        self.unless_shared(model, scope.into_iter().collect())
    }

    /// Decisions on which a failing check of an emitter or a room hangs most likely: what is changed there itself. As the
    /// house runs, its flow hangs on everything else too, if less.
    fn likely(&self, model: &Model, finding: &Finding) -> Option<Vec<usize>> {
        let network = &self.house.network;
        let emitters = match finding.subject {
            Subject::Emitter(i) => vec![i],
            Subject::Room(i) => network.rooms.get(i)?.emitters.clone(),
            _ => return None,
        };
        let mut scope: BTreeSet<usize> = BTreeSet::new();
        for i in emitters {
            let name = &network.emitters.get(i)?.name;
            let slots = self.offers.slots.iter().enumerate();
            let own = slots.filter(|(_, s)| s.site.owner(&self.house.survey) == name);
            scope.extend(own.map(|(s, _)| s));
            for loose in &model.loose {
                scope.extend(self.scope_of_emitter(model, loose, i));
            }
        }
        (!scope.is_empty()).then(|| scope.into_iter().collect())
    }

    /// Decisions on which a failing check hangs: of a run at its required flow, what moves that flow and what it is.
    fn scope_of(&self, model: &Model, finding: &Finding, network: &Network) -> Vec<usize> {
        let Subject::Run(run) = finding.subject else {
            return self.all();
        };
        if !OF_A_RUN.contains(&finding.check) {
            return self.all();
        }
        let base = &self.house.network;
        let name = network.runs.get(run).map(|r| r.name.as_str());
        let mut scope: BTreeSet<usize> = BTreeSet::new();
        for id in base.element_ids() {
            let own = base.element(id).run.and_then(|r| base.runs.get(r));
            // a second pipe's name begins with that of the first
            if !own
                .zip(name)
                .is_some_and(|(own, name)| name.starts_with(&own.name))
            {
                continue;
            }
            for loose in &model.loose {
                scope.extend(&loose.by[id.index()]);
                let (a, b) = base.ends(id);
                for place in [a, b] {
                    scope.extend(loose.at_place.get(&place).into_iter().flatten());
                }
            }
        }
        if scope.is_empty() {
            return self.all();
        }
        self.unless_shared(model, scope.into_iter().collect())
    }

    /// Changes in words.
    pub fn words(&self, chosen: &[(usize, usize)]) -> Vec<String> {
        chosen
            .iter()
            .map(|&(s, o)| {
                self.offers.slots[s].offers[o]
                    .change
                    .words(&self.house.survey)
            })
            .collect()
    }
}
