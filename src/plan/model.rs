//! The numbers of a choice: rows for every way round every pumped circuit, and which choices a limit rules out by itself.
//!
//! Where sums fix the flows, the loss of a run depends on its own pipe alone; only a tee's loss hangs on the bore of its
//! common leg and on which of the other two is the wider. It is taken as the least that any sizes on offer can make it,
//! so that every set whose required view passes satisfies the rows; the sets that satisfy them are then checked in full.

use super::offer::{Offers, Slot};
use super::passage::tees;
use super::problem::{Choice, Decision, Opening, Problem, Row};
use crate::fluid::Properties;
use crate::network::{ElementId, Law, Network};
use crate::solve::SolveError;
use crate::view::Required;
use crate::view::limits::{limit, noise_limit};
use crate::view::required::inlet_for;
use std::collections::BTreeMap;

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
    /// Circuits without a pump curve, which no row can hold.
    pub no_curve: Vec<String>,
}

impl Model {
    /// Offers of a set of picks, by slot.
    pub fn chosen(&self, picks: &[usize]) -> Vec<usize> {
        picks
            .iter()
            .enumerate()
            .map(|(d, &p)| self.offers[d][p])
            .collect()
    }
}

/// Radiators that are weighed at one emitter: the cheapest that give enough.
const RADIATORS: usize = 3;

/// The model of a house at the flows that its required views ask for.
///
/// # Errors
/// Where properties of the water are not known.
pub fn model(
    network: &Network,
    required: &[Required],
    offers: &Offers,
) -> Result<Model, SolveError> {
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
        too_cold: too_cold(network, required, &offers.slots),
        no_curve: Vec::new(),
    };
    for (s, slot) in offers.slots.iter().enumerate() {
        let heats = slot.offers.iter().any(|offer| offer.heat.is_some());
        let mut decision = Decision::default();
        let mut kept = Vec::new();
        for (o, offer) in slot.offers.iter().enumerate() {
            match ruled_out(network, required, slot, o)? {
                Some((why, figures)) => m.ruled_out.push(RuledOut {
                    slot: s,
                    offer: o,
                    why,
                    figures,
                }),
                // radiators stand by price and lose the same: the cheapest that give enough will do
                None if o > 0 && heats && kept.iter().filter(|k| **k > 0).count() >= RADIATORS => {}
                None => {
                    kept.push(o);
                    decision.choices.push(Choice {
                        money: offer.money,
                        load_pa: 0.0,
                        opens: offer.opens.clone(),
                    });
                }
            }
        }
        if kept.is_empty() {
            m.impossible.push(s);
        }
        m.offers.push(kept);
        m.problem.decisions.push(decision);
    }
    if m.impossible.is_empty() {
        rows(network, required, offers, &mut m)?;
    }
    Ok(m)
}

/// Emitters that no slot can change and that ask for more than they get.
fn too_cold(network: &Network, required: &[Required], slots: &[Slot]) -> Vec<(usize, f64, f64)> {
    let mut list = Vec::new();
    for r in required {
        for (i, asks) in r.emitters.iter().enumerate() {
            let changes = slots
                .iter()
                .any(|s| s.emitter == Some(i) && s.offers.iter().any(|o| o.heat.is_some()));
            let Some((_, (c_in, _))) = asks.inlet_c.zip(r.ends_c[network.emitters[i].body.index()])
            else {
                continue;
            };
            let inlet = asks.inlet_c.unwrap_or(c_in);
            if !changes && inlet > c_in + HAIR_K {
                list.push((i, inlet, c_in));
            }
        }
    }
    list
}

/// Temperatures are held to this, K: rounding of a closed form.
const HAIR_K: f64 = 1e-7;

/// What breaks, what it comes to and the limit, SI.
type Broken = (Breaks, (f64, f64));

/// What one choice breaks by itself.
fn ruled_out(
    network: &Network,
    required: &[Required],
    slot: &Slot,
    offer: usize,
) -> Result<Option<Broken>, SolveError> {
    let offer = &slot.offers[offer];
    for r in required {
        if let Some(i) = slot
            .emitter
            .filter(|_| matches!(slot.site, super::site::Site::Radiator(_)))
        {
            let e = &network.emitters[i];
            let (law, duty_w) = offer.heat.unwrap_or((e.law, e.duty_w));
            if let Some((c_in, _)) = r.ends_c[e.body.index()] {
                let room_c = network.rooms[e.room].temperature_c;
                let asks = inlet_for(&law, duty_w, r.emitters[i].drop_k, room_c);
                if let Some(asks) = asks.filter(|asks| *asks > c_in + HAIR_K) {
                    return Ok(Some((Breaks::FlowTemperature, (asks, c_in))));
                }
            }
        }
        for (id, law) in &offer.laws {
            let flow = r.flow_kg_s[id.index()].abs();
            let Some(run) = network.element(*id).run.map(|run| &network.runs[run]) else {
                continue;
            };
            if flow == 0.0 {
                continue;
            }
            let at = crate::view::properties(network, *id, r.temperature_c[id.index()])?;
            let Some(pipe) = crate::view::in_pipe(law, at, flow) else {
                continue;
            };
            let material = offer.material.as_ref().unwrap_or(&run.material);
            let (v, name) = (pipe.velocity_m_s, Some(run.name.as_str()));
            let over = |value: f64, most: f64| value > most * (1.0 + 1e-12);
            if let Some(l) = noise_limit(network, run).filter(|l| l.counts && over(v, l.value)) {
                return Ok(Some((Breaks::Velocity, (v, l.value))));
            }
            let l = limit(network, "erosion", name).filter(|l| l.counts && material == "copper");
            if let Some(l) = l.filter(|l| over(v, l.value)) {
                return Ok(Some((Breaks::Erosion, (v, l.value))));
            }
            let l = limit(network, "gradient", name).filter(|l| l.counts);
            if let Some(l) = l.filter(|l| over(pipe.gradient_pa_m, l.value)) {
                return Ok(Some((Breaks::Gradient, (pipe.gradient_pa_m, l.value))));
            }
            use crate::network::RunKind::{FloorLoop, LoopBetween, Tail};
            let main = !matches!(run.kind, Tail | FloorLoop | LoopBetween);
            let l = limit(network, "low velocity", name).filter(|l| l.counts && main);
            if let Some(l) = l.filter(|l| over(l.value, v)) {
                return Ok(Some((Breaks::Slow, (v, l.value))));
            }
        }
    }
    Ok(None)
}

/// Loss of an element's own law, Pa.
fn loss_pa(law: &Law, at: Properties, flow_kg_s: f64) -> f64 {
    crate::view::by_group(law, at, flow_kg_s).iter().sum()
}

fn rows(
    network: &Network,
    required: &[Required],
    offers: &Offers,
    m: &mut Model,
) -> Result<(), SolveError> {
    // which slot owns an element; a slot's offers all name the same elements
    let mut owner: BTreeMap<ElementId, usize> = BTreeMap::new();
    for (s, slot) in offers.slots.iter().enumerate() {
        for (id, _) in &slot.offers[0].laws {
            owner.entry(*id).or_insert(s);
        }
    }
    let n = offers.slots.len();
    // by row: the slots in it with what each of their choices loses there
    let mut found: Vec<(f64, BTreeMap<usize, Vec<f64>>)> = Vec::new();
    for r in required {
        let tees = tees(network, r, &owner, m, offers)?;
        for circuit in &r.circuits {
            let Some(available) = circuit.available_pa else {
                if !m.no_curve.contains(&circuit.name) {
                    m.no_curve.push(circuit.name.clone());
                }
                continue;
            };
            for path in &circuit.paths {
                let mut limit = available.max(0.0);
                let mut by_slot: BTreeMap<usize, Vec<f64>> = BTreeMap::new();
                for (id, _) in &path.elements {
                    let e = id.index();
                    let flow = r.flow_kg_s[e].abs();
                    let of_tees = r.tee_loss_pa[e];
                    limit -= of_tees;
                    let Some(&s) = owner.get(id) else {
                        limit -= r.loss_pa[e] - of_tees;
                        continue;
                    };
                    let at = crate::view::properties(network, *id, r.temperature_c[e])?;
                    let loads = by_slot
                        .entry(s)
                        .or_insert_with(|| vec![0.0; m.offers[s].len()]);
                    for (load, &offer) in loads.iter_mut().zip(&m.offers[s]) {
                        let laws = &offers.slots[s].offers[offer].laws;
                        if let Some((_, law)) = laws.iter().find(|(e, _)| e == id) {
                            *load += loss_pa(law, at, flow);
                        }
                    }
                }
                for t in tees.iter().filter(|t| t.on(path)) {
                    match t.slot {
                        None => limit -= t.change_pa[0],
                        Some(s) => {
                            let loads = by_slot
                                .entry(s)
                                .or_insert_with(|| vec![0.0; m.offers[s].len()]);
                            for (load, change) in loads.iter_mut().zip(&t.change_pa) {
                                *load += change;
                            }
                        }
                    }
                }
                found.push((limit, by_slot));
                m.ways.push(Way {
                    circuit: circuit.name.clone(),
                    through: path.through.name(network),
                    available_pa: available,
                });
            }
        }
    }
    // what a choice loses at least in every row that it is in goes to the choice, the rest to the row; loads are not
    // negative, so that a gain at a tee goes to the limit
    let mut least: Vec<Vec<f64>> = (0..n)
        .map(|s| vec![f64::INFINITY; m.offers[s].len()])
        .collect();
    for (limit, by_slot) in &mut found {
        for (&s, loads) in by_slot.iter_mut() {
            let low = loads.iter().copied().fold(f64::INFINITY, f64::min).min(0.0);
            *limit -= low;
            for (load, least) in loads.iter_mut().zip(&mut least[s]) {
                *load -= low;
                *least = least.min(*load);
            }
        }
    }
    for (s, loads) in least.iter().enumerate() {
        for (choice, load) in m.problem.decisions[s].choices.iter_mut().zip(loads) {
            choice.load_pa = if load.is_finite() { *load } else { 0.0 };
        }
    }
    for (limit_pa, by_slot) in found {
        let mut row = Row {
            decisions: by_slot.keys().copied().collect(),
            limit_pa,
            also: Vec::new(),
        };
        for (s, loads) in by_slot {
            let more: Vec<f64> = loads
                .iter()
                .zip(&least[s])
                .map(|(a, b)| (a - b).max(0.0))
                .collect();
            if more.iter().any(|m| *m > 1e-9) {
                row.also.push((s, more));
            }
        }
        m.problem.rows.push(row);
    }
    Ok(())
}

/// Whether any choice on offer moves the flows that the design asks for: then the rows are no bound.
///
/// # Errors
/// What stops the solver.
pub fn moves_flows(
    network: &Network,
    required: &[Required],
    offers: &Offers,
) -> Result<Vec<usize>, SolveError> {
    let mut moving = Vec::new();
    for (s, slot) in offers.slots.iter().enumerate() {
        let Some(last) = slot
            .offers
            .iter()
            .rev()
            .find(|o| o.laws != slot.offers[0].laws)
        else {
            continue;
        };
        let mut changed = network.clone();
        for (id, law) in &last.laws {
            changed.graph[*id].law = law.clone();
        }
        for r in required {
            let other = crate::view::look(&changed, r.state, 1.0, false)?;
            let largest = r.flow_kg_s.iter().fold(0.0_f64, |m, f| m.max(f.abs()));
            let moved = r
                .flow_kg_s
                .iter()
                .zip(&other.flow_kg_s)
                .any(|(a, b)| (a - b).abs() > 1e-6 * largest);
            if moved {
                moving.push(s);
                break;
            }
        }
    }
    Ok(moving)
}
