//! The numbers of a choice: rows for every way round every pumped circuit, and which choices a limit rules out by itself.
//!
//! A row never asks more than the required view does, so that every set whose required view passes satisfies the rows; the
//! sets that satisfy them are then checked in full. Where sums fix the flows, the loss of a run depends on its own pipe
//! alone, and rows are sharp. Where sizes move the flows ([`super::loose`]), rows count no loss at all; a second problem,
//! at the flows of today, then guides to a plan.

use super::loose::{Loose, loose};
use super::offer::Offers;
use super::problem::{Choice, Decision, Opening, Problem};
use super::rows::{Flows, rows};
use super::ruled::{Broken, laid_anew, ruled_out, stuck, too_cold};
use crate::fluid::Properties;
use crate::network::{Law, Network};
use crate::solve::SolveError;
use crate::view::Required;
use std::collections::BTreeSet;

/// Why a choice is out of the question whatever else is changed.
#[derive(Clone, Debug, PartialEq)]
pub struct RuledOut {
    /// Index into the slots.
    pub slot: usize,
    /// Index into its offers.
    pub offer: usize,
    /// What breaks.
    pub why: Breaks,
    /// What it comes to, and the limit, SI.
    pub figures: (f64, f64),
}

/// What a choice breaks by itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Breaks {
    /// Velocity that is heard, m/s.
    Velocity,
    /// Velocity that wears copper, m/s.
    Erosion,
    /// Friction per metre, where the file makes it a limit, Pa/m.
    Gradient,
    /// Velocity too low, where the file makes it a limit, m/s.
    Slow,
    /// Flow temperature that it asks for, °C.
    FlowTemperature,
}

/// A row of the problem for people.
#[derive(Clone, Debug, PartialEq)]
pub struct Way {
    /// The pumped circuit.
    pub circuit: String,
    /// What it goes through at its far end.
    pub through: String,
    /// Head that the pump gives, Pa.
    pub available_pa: f64,
}

/// A problem and how it hangs together with the offers.
#[derive(Clone, Debug)]
pub struct Model {
    /// The numbers; decision `i` is slot `i`.
    pub problem: Problem,
    /// By decision and choice: index of the offer.
    pub offers: Vec<Vec<usize>>,
    /// Ways, one per row.
    pub ways: Vec<Way>,
    /// Choices that are out of the question.
    pub ruled_out: Vec<RuledOut>,
    /// Slots of which no choice is left.
    pub impossible: Vec<usize>,
    /// Emitters outside the slots that ask for more than the design's flow temperature: index, °C asked for, °C given.
    pub too_cold: Vec<(usize, f64, f64)>,
    /// Runs that nothing on offer changes and that break a limit whatever is chosen.
    pub stuck: Vec<(usize, Broken)>,
    /// Circuits without a pump curve, which no row can hold.
    pub no_curve: Vec<String>,
    /// Slots whose choices move the design flows.
    pub moving: Vec<usize>,
    /// The problem as if the flows of today stood, where some move: it guides to a plan and proves nothing.
    pub guide: Option<Problem>,
    /// What moves, by required view.
    pub loose: Vec<Loose>,
    /// By tie of the problem: its emitter.
    pub tied: Vec<usize>,
}

impl Model {
    /// By decision: the choice that keeps things as they are; out of reach where that is out of the question.
    pub fn keep(&self) -> Vec<usize> {
        let keeps = |offers: &Vec<usize>| offers.iter().position(|&o| o == 0);
        self.offers
            .iter()
            .map(|o| keeps(o).unwrap_or(usize::MAX))
            .collect()
    }

    /// Lays the rows anew: at first, and once more is known of what they count.
    ///
    /// # Errors
    /// Where properties of the water are not known.
    pub(super) fn lay_rows(
        &mut self,
        network: &Network,
        required: &[Required],
        offers: &Offers,
    ) -> Result<(), SolveError> {
        let mut problem = self.problem.clone();
        problem.rows.clear();
        let laid = rows(network, required, offers, self, &mut problem, Flows::Sure)?;
        (self.ways, self.no_curve) = laid;
        self.problem = problem;
        Ok(())
    }

    /// Offers of a set of picks, by slot.
    pub fn chosen(&self, picks: &[usize]) -> Vec<usize> {
        picks
            .iter()
            .enumerate()
            .map(|(d, &p)| self.offers[d][p])
            .collect()
    }
}

/// Money that stands for "not at the flows of today" in the guide, hundredths: more than any plan costs.
const OUT_OF_THE_WAY: i64 = 1_000_000_000;

/// The model of a house at the flows that its required views ask for.
///
/// # Errors
/// Where properties of the water are not known.
pub fn model(
    network: &Network,
    required: &[Required],
    offers: &Offers,
) -> Result<Model, SolveError> {
    let mut moves = Vec::new();
    for r in required {
        moves.push(loose(network, r, offers)?);
    }
    let moving: BTreeSet<usize> = moves
        .iter()
        .flat_map(|l| &l.by)
        .flatten()
        .copied()
        .collect();
    let mut m = Model {
        problem: Problem {
            openings: offers
                .openings
                .iter()
                .map(|p| p.cost.clone())
                .collect::<Vec<Opening>>(),
            ..Problem::default()
        },
        offers: Vec::new(),
        ways: Vec::new(),
        ruled_out: Vec::new(),
        impossible: Vec::new(),
        too_cold: too_cold(network, required, &moves, &offers.slots),
        stuck: Vec::new(),
        no_curve: Vec::new(),
        moving: moving.into_iter().collect(),
        guide: None,
        loose: moves,
        tied: Vec::new(),
    };
    let mut out_of_the_way = Vec::new();
    let anew = laid_anew(&offers.slots);
    m.stuck = stuck(network, required, &m.loose, &anew)?;
    for (s, slot) in offers.slots.iter().enumerate() {
        let mut decision = Decision::default();
        let mut kept = Vec::new();
        for (o, offer) in slot.offers.iter().enumerate() {
            let broken = |sure| ruled_out(network, required, &m.loose, &anew, (slot, offer), sure);
            if let Some((why, figures)) = broken(true)? {
                m.ruled_out.push(RuledOut {
                    slot: s,
                    offer: o,
                    why,
                    figures,
                });
                continue;
            }
            if !m.moving.is_empty() && broken(false)?.is_some() {
                out_of_the_way.push((s, kept.len()));
            }
            kept.push(o);
            decision.choices.push(Choice {
                money: offer.money,
                load_pa: 0.0,
                opens: offer.opens.clone(),
            });
        }
        if kept.is_empty() {
            m.impossible.push(s);
        }
        m.offers.push(kept);
        m.problem.decisions.push(decision);
    }
    if m.impossible.is_empty() {
        if !m.moving.is_empty() {
            let mut guide = m.problem.clone();
            rows(network, required, offers, &m, &mut guide, Flows::OfToday)?;
            for (d, c) in out_of_the_way {
                guide.decisions[d].choices[c].money += OUT_OF_THE_WAY;
            }
            m.guide = Some(guide);
        }
        m.lay_rows(network, required, offers)?;
    }
    Ok(m)
}

/// Temperatures are held to this, K: rounding of a closed form.
pub(super) const HAIR_K: f64 = 1e-7;

/// Loss of an element's own law, Pa.
pub(super) fn loss_pa(law: &Law, at: Properties, flow_kg_s: f64) -> f64 {
    crate::view::by_group(law, at, flow_kg_s).iter().sum()
}
