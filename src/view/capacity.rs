//! Turned round: how much heat each run and each whole circuit could carry at several drops before a limit bites.
//!
//! Velocity, gradient and head limit the flow; the heat is that flow times heat capacity times drop.

use super::limits::{limit, noise_limit};
use super::losses::{ByGroup, by_group, in_pipe, properties, row};
use super::required::head_bound;
use super::{Bites, PumpedCircuit, Required, RunCapacity};
use crate::fluid::Properties;
use crate::hydraulics::local;
use crate::network::{ElementId, Law, Network, PartGroup, Run};
use crate::solve::SolveError;

/// The drops for which capacities are shown, K.
pub const DROPS_K: [f64; 3] = [5.0, 7.0, 10.0];

/// Fills in what runs and circuits could carry.
pub(crate) fn fill(
    network: &Network,
    required: &mut Required,
    groups: &[ByGroup],
) -> Result<(), SolveError> {
    let figures = run_figures(network, required)?;
    for circuit in 0..required.circuits.len() {
        let carries = circuit_carries(network, required, groups, &figures, circuit)?;
        required.circuits[circuit].carries = carries;
    }
    let left = head_left(network, required);
    required.capacity = figures
        .iter()
        .map(|f| run_capacity(network, required, f, left[f.run]))
        .collect();
    Ok(())
}

/// A run that carries water, at the fastest of its pipes.
#[derive(Clone, Debug)]
pub(crate) struct RunFigures {
    pub run: usize,
    pub element: ElementId,
    pub at: Properties,
    pub flow_kg_s: f64,
    pub velocity_m_s: f64,
    pub gradient_pa_m: f64,
    pub reynolds: f64,
}

/// Figures of every run that carries water in a required view.
pub(crate) fn run_figures(
    network: &Network,
    required: &Required,
) -> Result<Vec<RunFigures>, SolveError> {
    let mut list = Vec::new();
    for (i, run) in network.runs.iter().enumerate() {
        let mut fastest: Option<RunFigures> = None;
        for &id in &run.elements {
            let flow_kg_s = required.flow_kg_s[id.index()].abs();
            if flow_kg_s == 0.0 {
                continue;
            }
            let at = properties(network, id, required.temperature_c[id.index()])?;
            let Some(pipe) = in_pipe(&network.element(id).law, at, flow_kg_s) else {
                continue;
            };
            if fastest
                .as_ref()
                .is_none_or(|f| pipe.velocity_m_s > f.velocity_m_s)
            {
                fastest = Some(RunFigures {
                    run: i,
                    element: id,
                    at,
                    flow_kg_s,
                    velocity_m_s: pipe.velocity_m_s,
                    gradient_pa_m: pipe.gradient_pa_m,
                    reynolds: pipe.reynolds,
                });
            }
        }
        list.extend(fastest);
    }
    Ok(list)
}

fn run_capacity(
    network: &Network,
    required: &Required,
    f: &RunFigures,
    left_pa: Option<f64>,
) -> RunCapacity {
    let run = &network.runs[f.run];
    let law = &network.element(f.element).law;
    let by_velocity =
        noise_limit(network, run).map_or(f64::INFINITY, |l| f.flow_kg_s * l.value / f.velocity_m_s);
    let by_gradient = limit(network, "gradient", Some(&run.name)).map_or(f64::INFINITY, |limit| {
        let gradient = |q: f64| in_pipe(law, f.at, q).map_or(0.0, |p| p.gradient_pa_m);
        flow_at(gradient, limit.value, f.flow_kg_s)
    });
    let loss = |q: f64| run_loss_pa(network, required, run, q / f.flow_kg_s);
    let loss_pa = loss(f.flow_kg_s);
    let by_head = left_pa.map(|left| flow_at(loss, loss_pa + left, f.flow_kg_s));
    let cp = f.at.cp_j_kgk;
    RunCapacity {
        run: f.run,
        duty_w: f.flow_kg_s * cp * drop_k(network, required, run),
        loss_pa,
        velocity_m_s: f.velocity_m_s,
        gradient_pa_m: f.gradient_pa_m,
        reynolds: f.reynolds,
        carries: DROPS_K
            .into_iter()
            .map(|k| {
                (
                    k,
                    by_velocity * cp * k,
                    by_gradient * cp * k,
                    by_head.map(|q| q * cp * k),
                )
            })
            .collect(),
    }
}

/// Loss of a whole run with all its flows multiplied by `factor`, Pa; its share of tees goes with the square.
fn run_loss_pa(network: &Network, required: &Required, run: &Run, factor: f64) -> f64 {
    let loss = |id: &ElementId| scaled(network, required, *id, factor).iter().sum::<f64>();
    run.elements.iter().map(loss).sum()
}

/// Loss of an element by group with its flow multiplied by `factor`.
fn scaled(network: &Network, required: &Required, id: ElementId, factor: f64) -> ByGroup {
    let i = id.index();
    let at = properties(network, id, required.temperature_c[i]);
    let Ok(at) = at else { return [0.0; 8] };
    let mut own = by_group(&network.element(id).law, at, required.flow_kg_s[i] * factor);
    own[row(PartGroup::Tees)] += required.tee_loss_pa[i] * factor * factor;
    own
}

/// Temperature that the water loses beyond a run, K: between the run and its partner, else the job's drop.
fn drop_k(network: &Network, required: &Required, run: &Run) -> f64 {
    let entry = |run: &Run| {
        run.elements
            .first()
            .and_then(|id| required.ends_c[id.index()])
    };
    let partner = run.partner.map(|p| &network.runs[p]);
    match (entry(run), partner.and_then(entry)) {
        (Some((a, _)), Some((b, _))) => (a - b).abs(),
        _ => network.design.drop_k,
    }
}

/// By run: head that the worst path through it leaves, Pa, if the pump's curve is known.
fn head_left(network: &Network, required: &Required) -> Vec<Option<f64>> {
    let mut left: Vec<Option<f64>> = vec![None; network.runs.len()];
    for circuit in &required.circuits {
        let Some(available_pa) = circuit.available_pa else {
            continue;
        };
        for path in &circuit.paths {
            for (id, _) in &path.elements {
                if let Some(run) = network.element(*id).run {
                    let own = available_pa - path.loss_pa;
                    left[run] = Some(left[run].map_or(own, |old| old.min(own)));
                }
            }
        }
    }
    left
}

/// What a whole circuit carries at each drop and which limit bites: all its flows grow together until the first limit.
fn circuit_carries(
    network: &Network,
    required: &Required,
    groups: &[ByGroup],
    figures: &[RunFigures],
    circuit: usize,
) -> Result<Vec<(f64, f64, Bites)>, SolveError> {
    let circuit = &required.circuits[circuit];
    let Some(&(drive, _)) = circuit
        .paths
        .get(circuit.index)
        .and_then(|p| p.elements.first())
    else {
        return Ok(Vec::new());
    };
    let mut bites: Vec<(f64, Bites)> = Vec::new();
    if circuit.available_pa.is_some() {
        bites.push((head_factor(network, required, groups, circuit), Bites::Head));
    }
    let on_circuit = |run: usize| {
        let on = |id: &ElementId| network.element(*id).run == Some(run);
        circuit
            .paths
            .iter()
            .any(|p| p.elements.iter().any(|(id, _)| on(id)))
    };
    for f in figures.iter().filter(|f| on_circuit(f.run)) {
        let run = &network.runs[f.run];
        if let Some(noise) = noise_limit(network, run).filter(|l| l.counts) {
            bites.push((noise.value / f.velocity_m_s, Bites::Velocity(f.run)));
        }
        let gradient = limit(network, "gradient", Some(&run.name)).filter(|l| l.counts);
        if let Some(gradient) = gradient {
            let law = &network.element(f.element).law;
            let of = |q: f64| in_pipe(law, f.at, q).map_or(0.0, |p| p.gradient_pa_m);
            let factor = flow_at(of, gradient.value, f.flow_kg_s) / f.flow_kg_s;
            bites.push((factor, Bites::Gradient(f.run)));
        }
    }
    let source = circuit
        .pump
        .and_then(|p| network.pumps[p].source)
        .map(|s| &network.sources[s]);
    if let Some(greatest) = source.and_then(|s| s.greatest_flow_m3_s) {
        bites.push((greatest / circuit.flow_m3_s, Bites::SourceFlow));
    }
    let first = bites
        .into_iter()
        .reduce(|a, b| if b.0 < a.0 { b } else { a });
    let cp = properties(network, drive, required.temperature_c[drive.index()])?.cp_j_kgk;
    Ok(first.map_or_else(Vec::new, |(factor, bite)| {
        let carries = |k: f64| (k, factor * circuit.flow_kg_s * cp * k, bite);
        DROPS_K.into_iter().map(carries).collect()
    }))
}

/// Factor on all flows of a circuit at which its head is just enough.
fn head_factor(
    network: &Network,
    required: &Required,
    groups: &[ByGroup],
    circuit: &PumpedCircuit,
) -> f64 {
    // paths whose loss cannot overtake the index path's while flows double are left out of the search
    let worst = circuit
        .paths
        .iter()
        .filter(|p| p.loss_pa >= 0.5 * circuit.needed_pa);
    let worst: Vec<_> = worst.collect();
    let mut wanted = vec![false; groups.len()];
    for (id, _) in worst.iter().flat_map(|p| &p.elements) {
        wanted[id.index()] = true;
    }
    let excess_pa = |factor: f64| {
        let mut loss = vec![0.0; wanted.len()];
        for id in network.element_ids().filter(|id| wanted[id.index()]) {
            loss[id.index()] = scaled(network, required, id, factor).iter().sum();
        }
        let mut worst_pa = f64::NEG_INFINITY;
        for path in &worst {
            let mut pa = 0.0;
            for &(id, forward) in &path.elements {
                let i = id.index();
                let along = forward == (required.flow_kg_s[i] >= 0.0);
                pa += if along { loss[i] } else { -loss[i] };
                let pump = network.pumps.iter().find(|p| p.element == id);
                if let (Some(pump), Law::Pump(_)) = (pump, &network.element(id).law)
                    && let Ok(at) = properties(network, id, required.temperature_c[i])
                {
                    let q = required.flow_kg_s[i].abs() * factor / at.rho_kg_m3 * local::M3_H;
                    pa -= head_bound(pump, network.element(id), q).unwrap_or(0.0);
                }
            }
            worst_pa = worst_pa.max(pa);
        }
        worst_pa
    };
    flow_at(excess_pa, 0.0, 1.0)
}

/// The argument at which a rising function reaches `target`, from a guess > 0, to ten digits; 0 if it never lies below.
fn flow_at(f: impl Fn(f64) -> f64, target: f64, guess: f64) -> f64 {
    if f(guess * 1e-6) >= target {
        return 0.0;
    }
    let (mut low, mut high) = (guess * 1e-6, guess);
    for _ in 0..60 {
        if f(high) >= target {
            break;
        }
        low = high;
        high *= 2.0;
    }
    let (mut at_low, mut at_high) = (f(low) - target, f(high) - target);
    if at_high < 0.0 {
        return f64::INFINITY;
    }
    // regula falsi in the Illinois form: bracketed, and faster than halving
    for _ in 0..100 {
        if high - low <= 1e-10 * high {
            break;
        }
        let x = (low * at_high - high * at_low) / (at_high - at_low);
        let x = if x > low && x < high {
            x
        } else {
            0.5 * (low + high)
        };
        let y = f(x) - target;
        if y == 0.0 {
            return x;
        }
        if y < 0.0 {
            (low, at_low) = (x, y);
            at_high *= 0.5;
        } else {
            (high, at_high) = (x, y);
            at_low *= 0.5;
        }
    }
    0.5 * (low + high)
}
