//! What is missing where no plan on offer works.

use super::change::What;
use super::model::{Breaks, Model, RuledOut};
use super::offer::Offers;
use super::search::{FailsBy, Found, House};
use super::site::Site;
use crate::check::Finding;
use crate::network::Network;

/// One thing that keeps every plan from working; the report words it.
#[derive(Clone, Debug)]
pub enum Missing {
    /// Every choice at a place breaks a limit; this is the one that comes nearest.
    Place {
        /// The run, or the emitter.
        name: String,
        /// What would be done there.
        with: What,
        /// What breaks.
        why: Breaks,
        /// What it comes to and the limit, SI.
        figures: (f64, f64),
    },
    /// A run breaks a limit, and no other pipe is on offer there.
    Stuck {
        /// The run.
        run: String,
        /// What breaks.
        why: Breaks,
        /// What it comes to and the limit, SI.
        figures: (f64, f64),
        /// Why none is on offer.
        left_out: Option<String>,
    },
    /// An emitter that nothing on offer can help.
    Cold {
        /// The emitter.
        emitter: String,
        /// °C asked for and °C given.
        figures: (f64, f64),
        /// It hangs on a one-pipe main, and the first figure is that with all the water of the main.
        one_pipe: bool,
        /// The manifold whose setting holds it back, and the setting, °C.
        mixed: Option<(String, f64)>,
        /// Why no other radiator is on offer.
        left_out: Option<String>,
    },
    /// The head of a way with the least loss that anything on offer allows.
    Head {
        /// What it goes through at its far end.
        through: String,
        /// The pumped circuit.
        circuit: String,
        /// Short by this, Pa.
        over_pa: f64,
        /// What the pump gives, Pa.
        available_pa: f64,
    },
    /// A check that fails with the largest change on offer everywhere, and the house that it is about.
    Check(Box<(Finding, Network)>),
    /// So many sets were looked at in full and all fail; whether the search ended on its limit, and by what the last failed.
    Sets(usize, bool, Option<Box<(Finding, Network)>>),
}

impl Missing {
    /// How far it is from holding, as a share: temperatures by an excess of 25 K.
    pub fn short(&self) -> f64 {
        match self {
            Self::Place { why, figures, .. } | Self::Stuck { why, figures, .. } => match why {
                Breaks::FlowTemperature => (figures.0 - figures.1) / 25.0,
                _ => over(*figures),
            },
            Self::Cold { figures, .. } => (figures.0 - figures.1) / 25.0,
            Self::Head {
                over_pa,
                available_pa,
                ..
            } => over_pa / available_pa.max(1.0),
            Self::Check(about) => about.0.margin.map_or(1.0, |m| -m),
            Self::Sets(..) => 0.0,
        }
    }

    /// Whether another says the same with other figures.
    pub fn is_like(&self, other: &Self) -> bool {
        match (self, other) {
            (
                Self::Place { name, why, .. },
                Self::Place {
                    name: n, why: w, ..
                },
            ) => name == n && why == w,
            (Self::Stuck { run, why, .. }, Self::Stuck { run: r, why: w, .. }) => {
                run == r && why == w
            }
            (Self::Cold { emitter, .. }, Self::Cold { emitter: e, .. }) => emitter == e,
            (Self::Head { through, .. }, Self::Head { through: t, .. }) => through == t,
            (Self::Check(a), Self::Check(b)) => {
                a.0.check == b.0.check && a.0.subject == b.0.subject
            }
            (Self::Sets(..), Self::Sets(..)) => true,
            _ => false,
        }
    }
}

/// What by itself keeps every plan from working, whatever is chosen elsewhere.
pub(super) fn of_model(house: &House, offers: &Offers, model: &Model) -> Vec<Missing> {
    let mut list = Vec::new();
    for &s in &model.impossible {
        // the choice that comes nearest says what is missing
        let ruled_out = model.ruled_out.iter().filter(|r| r.slot == s);
        let nearest = ruled_out.min_by(|a, b| over(a.figures).total_cmp(&over(b.figures)));
        list.extend(nearest.map(|r| of_place(house, offers, r)));
    }
    for &(run, (why, figures)) in &model.stuck {
        let run = house.network.runs[run].name.clone();
        let own = |l: &&String| l.split(": ").next().is_some_and(|who| run.starts_with(who));
        let left_out = offers.left_out.iter().find(own).cloned();
        list.push(Missing::Stuck {
            run,
            why,
            figures,
            left_out,
        });
    }
    for &(i, asks_c, gets_c) in &model.too_cold {
        let emitter = &house.network.emitters[i];
        let manifold = emitter.manifold.map(|m| &house.network.manifolds[m]);
        let mixed = manifold.and_then(|m| Some((m.name.clone(), m.blend?.set_c)));
        let radiator = format!("radiator {}:", emitter.name);
        let mut left_out = offers.left_out.iter();
        list.push(Missing::Cold {
            emitter: emitter.name.clone(),
            figures: (asks_c, gets_c),
            one_pipe: emitter.one_pipe.is_some(),
            // what holds it back is a setting, which no purchase changes
            mixed: mixed.filter(|(_, set_c)| *set_c <= gets_c),
            left_out: left_out.find(|l| l.starts_with(&radiator)).cloned(),
        });
    }
    list
}

/// Each thing that keeps every plan from working.
pub fn missing(house: &House, offers: &Offers, found: &Found) -> Vec<Missing> {
    let mut list = of_model(house, offers, &found.model);
    if list.is_empty() && found.best.is_none() {
        // every way with the largest of everything
        let problem = &found.model.problem;
        let mut worst: Option<(f64, usize)> = None;
        for (r, row) in problem.rows.iter().enumerate() {
            let least: f64 = row
                .decisions
                .iter()
                .map(|&d| {
                    let loads = problem.decisions[d]
                        .choices
                        .iter()
                        .enumerate()
                        .map(|(c, x)| {
                            let also = row.also.iter().find(|(of, _)| *of == d);
                            x.load_pa + also.map_or(0.0, |(_, by)| by[c])
                        });
                    loads.fold(f64::INFINITY, f64::min)
                })
                .sum();
            if worst.is_none_or(|(w, _)| least - row.limit_pa > w) {
                worst = Some((least - row.limit_pa, r));
            }
        }
        list.push(match worst.filter(|(over, _)| *over > 0.0) {
            Some((over_pa, r)) => {
                let way = &found.model.ways[r];
                Missing::Head {
                    through: way.through.clone(),
                    circuit: way.circuit.clone(),
                    over_pa,
                    available_pa: way.available_pa,
                }
            }
            None => Missing::Sets(found.looked_at, found.stopped, last(found)),
        });
    }
    list
}

fn of_place(house: &House, offers: &Offers, r: &RuledOut) -> Missing {
    let slot = &offers.slots[r.slot];
    Missing::Place {
        name: match slot.site {
            // where a device's pipe breaks a limit it is the pipe that is too small
            Site::Device(route, ..) => route.name(&house.survey),
            Site::Radiator(_) => slot.site.owner(&house.survey).to_owned(),
            _ => slot.name.clone(),
        },
        with: slot.offers[r.offer].change.what.clone(),
        why: r.why,
        figures: r.figures,
    }
}

/// What the last set that was looked at failed by.
fn last(found: &Found) -> Option<Box<(Finding, Network)>> {
    match found.cut.last().map(|f| &f.by) {
        Some(FailsBy::Check(about)) => Some(about.clone()),
        _ => None,
    }
}

/// How far a figure is from its limit, as a share.
fn over((is, limit): (f64, f64)) -> f64 {
    (is / limit - 1.0).abs()
}
