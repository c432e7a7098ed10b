//! Flows by Newton's method in the space of circulations: continuity holds by construction, to rounding.
//!
//! A spanning tree of the free elements leaves one chord for each independent loop. Unknowns are the chords' flows; the
//! tree's flows follow by balance. For each loop the losses must sum to zero. On laws that rise with flow this is the
//! minimum of a convex function (the content, E. Cherry and W. Millar 1951), so that Newton's method with a line search
//! converges from any start.

use super::dense;
use super::edge::{Edge, Gate, Mode};
use super::loops::{Loops, Unbalanced};
use super::state::{SolveError, Stats};
use crate::network::ElementId;
use crate::network::PlaceId;

/// Flows of all elements with their modes as they are.
///
/// # Errors
/// [`SolveError::NotConverged`], [`SolveError::NotFinite`].
pub(super) fn newton(
    loops: &Loops,
    edges: &[Edge],
    nominal: &[f64],
    extra: &mut Extra,
    stats: &mut Stats,
) -> Result<Vec<f64>, SolveError> {
    let n = loops.chords.len();
    let mut flow = loops.particular.clone();
    if n == 0 {
        return Ok(flow);
    }
    let mut y = vec![0.0; n];
    let (mut h, mut slope) = (vec![0.0; edges.len()], vec![0.0; edges.len()]);
    let floor: Vec<f64> = edges
        .iter()
        .zip(nominal)
        .map(|(e, &m)| 1e-9 * e.loss(m).0.abs() / m + 1e-3)
        .collect();
    // first step: straight lines through the loss at a usual flow
    let still = |e: usize| edges[e].loss(0.0).0;
    for &e in &loops.on_loops {
        slope[e] = ((edges[e].loss(nominal[e]).0 - still(e)) / nominal[e]).max(floor[e]);
        h[e] = edges[e].loss(flow[e]).0;
    }
    let mut matrix = vec![0.0; n * n];
    let mut step = vec![0.0; n];
    let mut best = f64::INFINITY;
    let mut stalled = 0;
    for round in 0..MOST_STEPS {
        direction(loops, &h, &slope, &mut matrix, &mut step);
        stats.iterations += 1;
        let before: f64 = dot(loops, &h, &step);
        let mut share = 1.0;
        let trial = |share: f64,
                     y: &[f64],
                     flow: &mut [f64],
                     h: &mut [f64],
                     slope: &mut [f64],
                     extra: &mut Extra| {
            let moved: Vec<f64> = y.iter().zip(&step).map(|(y, s)| y + share * s).collect();
            loops.flows(&moved, flow);
            evaluate(loops, edges, &floor, flow, h, slope, extra);
            moved
        };
        let mut moved = trial(1.0, &y, &mut flow, &mut h, &mut slope, extra);
        if let Some(&e) = loops.on_loops.iter().find(|&&e| !h[e].is_finite()) {
            return Err(SolveError::NotFinite {
                element: ElementId::new(e),
            });
        }
        let after = dot(loops, &h, &step);
        // the content falls along the step while h·step stays negative; shorten a step that overshoots the minimum far
        if round > 0 && before < 0.0 && after > 0.5 * -before {
            let (mut low, mut high) = (0.0, 1.0);
            for _ in 0..40 {
                share = 0.5 * (low + high);
                moved = trial(share, &y, &mut flow, &mut h, &mut slope, extra);
                let here = dot(loops, &h, &step);
                if here > 0.0 {
                    high = share
                } else {
                    low = share
                }
                stats.step_halvings += 1;
                if here.abs() < 0.1 * before.abs() {
                    break;
                }
            }
        }
        y = moved;
        let largest = flow.iter().fold(0.0_f64, |m, f| m.max(f.abs()));
        let change = step.iter().fold(0.0_f64, |m, s| m.max((share * s).abs()));
        let (residual, _) = residual(loops, &h);
        if largest == 0.0 || change == 0.0 {
            return Ok(flow);
        }
        // Newton's last steps no longer shrink: rounding has the word
        if change <= CHANGE * largest || residual < RESIDUAL {
            if residual >= 0.5 * best || residual == 0.0 {
                stalled += 1;
            }
            if stalled > 0 || change <= 1e-15 * largest {
                return Ok(flow);
            }
        }
        best = best.min(residual);
    }
    let (residual_pa, at) = {
        let (relative, at) = residual(loops, &h);
        (relative * h.iter().fold(0.0_f64, |m, x| m.max(x.abs())), at)
    };
    Err(SolveError::NotConverged {
        element: ElementId::new(loops.chords[at]),
        residual_pa,
        iterations: stats.iterations,
    })
}

/// Newton steps before giving up; houses take five to ten.
const MOST_STEPS: usize = 200;
/// A step below this share of the largest flow: quadratic convergence has then left 1e-16 or rounding.
const CHANGE: f64 = 1e-9;
/// Loop sums below this share of the largest loss.
const RESIDUAL: f64 = 1e-14;

/// Losses that depend on more than an element's own flow (tees); added to what the edges say.
pub(super) struct Extra<'a> {
    pub add: &'a Addition,
}

/// Adds to losses and slopes, from the flows of all elements.
type Addition = dyn Fn(&[f64], &mut [f64], &mut [f64]);

fn evaluate(
    loops: &Loops,
    edges: &[Edge],
    floor: &[f64],
    flow: &[f64],
    h: &mut [f64],
    slope: &mut [f64],
    extra: &mut Extra,
) {
    for &e in &loops.on_loops {
        let (loss, rise) = edges[e].loss(flow[e]);
        h[e] = loss;
        slope[e] = rise.max(floor[e]);
    }
    (extra.add)(flow, h, slope);
}

fn dot(loops: &Loops, h: &[f64], step: &[f64]) -> f64 {
    let sums = loops
        .members
        .iter()
        .map(|members| members.iter().map(|&(e, sign)| sign * h[e]).sum::<f64>());
    sums.zip(step).map(|(sum, s)| sum * s).sum()
}

/// Largest loop sum over the largest loss, and its loop.
fn residual(loops: &Loops, h: &[f64]) -> (f64, usize) {
    let scale = loops
        .on_loops
        .iter()
        .fold(0.0_f64, |m, &e| m.max(h[e].abs()));
    let mut worst = (0.0, 0);
    for (k, members) in loops.members.iter().enumerate() {
        let sum = members
            .iter()
            .map(|&(e, sign)| sign * h[e])
            .sum::<f64>()
            .abs();
        if sum > worst.0 {
            worst = (sum, k);
        }
    }
    (if scale > 0.0 { worst.0 / scale } else { 0.0 }, worst.1)
}

/// Newton's direction: NᵀDN·step = −Nᵀh with D the slopes and N the loops.
fn direction(loops: &Loops, h: &[f64], slope: &[f64], matrix: &mut [f64], step: &mut [f64]) {
    let n = loops.chords.len();
    matrix.fill(0.0);
    let mut through: Vec<Vec<(usize, f64)>> = vec![Vec::new(); h.len()];
    for (k, members) in loops.members.iter().enumerate() {
        step[k] = -members.iter().map(|&(e, sign)| sign * h[e]).sum::<f64>();
        for &(e, sign) in members {
            for &(j, other) in &through[e] {
                matrix[k * n + j] += sign * other * slope[e];
            }
            matrix[k * n + k] += slope[e];
            through[e].push((k, sign));
        }
    }
    dense::cholesky(matrix, n, step);
}

/// Switches what must switch until every gate is content with the flows.
///
/// # Errors
/// As [`newton`]; [`SolveError::HeldFlowImpossible`] and [`SolveError::Contradiction`] for flows that do not balance.
pub(super) fn settle(
    places: usize,
    edges: &mut [Edge],
    nominal: &[f64],
    extra: &mut Extra,
    stats: &mut Stats,
) -> Result<Vec<f64>, SolveError> {
    let mut ease: Vec<usize> = (0..edges.len()).collect();
    let resistance: Vec<f64> = edges
        .iter()
        .zip(nominal)
        .map(|(e, &m)| e.loss(m).1)
        .collect();
    ease.sort_by(|&a, &b| resistance[a].total_cmp(&resistance[b]).then(a.cmp(&b)));
    let mut seen = std::collections::BTreeSet::new();
    let mut singly = false;
    let mut newest = None;
    for _ in 0..MOST_SWITCHES {
        let loops = match Loops::new(places, edges, &ease) {
            Ok(loops) => loops,
            Err(unbalanced) => {
                release(edges, newest, &unbalanced)?;
                stats.switches += 1;
                continue;
            }
        };
        let flow = newton(&loops, edges, nominal, extra, stats)?;
        let dp = drops(places, edges, &flow, extra);
        let Some(wishes) = wishes(edges, &flow, &dp) else {
            return Ok(flow);
        };
        let key: Vec<u8> = edges.iter().map(|e| e.mode as u8).collect();
        singly |= !seen.insert(key);
        // caps one at a time, the worst first: several at once may contradict each other
        let worst = wishes
            .iter()
            .filter(|w| w.1 == Mode::AtCap)
            .max_by(|a, b| a.2.total_cmp(&b.2))
            .copied();
        if singly {
            // least index: finite for monotone laws
            if let Some(&(e, mode, _)) = wishes.first() {
                edges[e].mode = mode;
                newest = Some(e);
            }
        } else {
            for &(e, mode, _) in wishes.iter().filter(|w| w.1 != Mode::AtCap) {
                edges[e].mode = mode;
            }
            if let Some((e, mode, _)) = worst {
                edges[e].mode = mode;
                newest = Some(e);
            }
        }
        stats.switches += 1;
    }
    let element = edges
        .iter()
        .position(|e| !matches!(e.gate, Gate::None | Gate::Closed | Gate::Held(_)))
        .unwrap_or(0);
    Err(SolveError::NotConverged {
        element: ElementId::new(element),
        residual_pa: 0.0,
        iterations: stats.iterations,
    })
}

/// Changes of gates before giving up.
const MOST_SWITCHES: usize = 500;

/// Caps that do not balance with the newest: they let go.
fn release(
    edges: &mut [Edge],
    newest: Option<usize>,
    unbalanced: &Unbalanced,
) -> Result<(), SolveError> {
    let mut any = false;
    for (e, edge) in edges.iter_mut().enumerate() {
        if edge.mode == Mode::AtCap && Some(e) != newest {
            edge.mode = Mode::Free;
            any = true;
        }
    }
    if any {
        return Ok(());
    }
    if let Some(edge) = newest
        .map(|e| &mut edges[e])
        .filter(|e| e.mode == Mode::AtCap)
    {
        edge.mode = Mode::Free;
        return Ok(());
    }
    let place = unbalanced.place;
    match edges.iter().position(|e| {
        matches!(e.gate, Gate::Held(f) if f != 0.0) && (e.ends.0 == place || e.ends.1 == place)
    }) {
        Some(e) => Err(SolveError::HeldFlowImpossible {
            element: ElementId::new(e),
            flow_kg_s: unbalanced.flow_kg_s,
        }),
        None => Err(SolveError::Contradiction {
            place: PlaceId::new(place),
            imbalance_kg_s: unbalanced.flow_kg_s,
        }),
    }
}

/// Pressure above a first place of each part that free elements join, and which part: None across parts.
pub(super) struct Drops {
    pub pressure: Vec<f64>,
    pub part: Vec<usize>,
    /// Loss of each free element by its own law, tees included.
    pub loss: Vec<f64>,
}

impl Drops {
    /// p(from) − p(to), if something joins them.
    pub fn across(&self, edge: &Edge) -> Option<f64> {
        let (a, b) = edge.ends;
        (self.part[a] == self.part[b]).then(|| self.pressure[a] - self.pressure[b])
    }
}

pub(super) fn drops(places: usize, edges: &[Edge], flow: &[f64], extra: &mut Extra) -> Drops {
    let mut loss = vec![0.0; edges.len()];
    let mut slope = vec![0.0; edges.len()];
    let mut next_to: Vec<Vec<(usize, f64)>> = vec![Vec::new(); places];
    for (e, edge) in edges.iter().enumerate().filter(|(_, e)| e.is_free()) {
        loss[e] = edge.loss(flow[e]).0;
        // an open one-way element without flow may bear any smaller difference
        if edge.gate == Gate::OneWay && flow[e] == 0.0 {
            continue;
        }
        next_to[edge.ends.0].push((e, 1.0));
        next_to[edge.ends.1].push((e, -1.0));
    }
    (extra.add)(flow, &mut loss, &mut slope);
    let mut pressure = vec![0.0; places];
    let mut part = vec![usize::MAX; places];
    for root in 0..places {
        if part[root] != usize::MAX {
            continue;
        }
        part[root] = root;
        let mut stack = vec![root];
        while let Some(place) = stack.pop() {
            for &(e, sign) in &next_to[place] {
                let to = if sign > 0.0 {
                    edges[e].ends.1
                } else {
                    edges[e].ends.0
                };
                if part[to] == usize::MAX {
                    part[to] = root;
                    pressure[to] = pressure[place] - sign * loss[e];
                    stack.push(to);
                }
            }
        }
    }
    Drops {
        pressure,
        part,
        loss,
    }
}

/// Elements that must switch, with the mode they want and how badly; `None` if all are content.
fn wishes(edges: &[Edge], flow: &[f64], dp: &Drops) -> Option<Vec<(usize, Mode, f64)>> {
    let largest = flow.iter().fold(0.0_f64, |m, f| m.max(f.abs()));
    let pressures = dp.loss.iter().fold(0.0_f64, |m, x| m.max(x.abs()));
    let (bit, pa) = (1e-12 * largest, 1e-10 * pressures);
    let mut wishes = Vec::new();
    for (e, edge) in edges.iter().enumerate() {
        let across = dp.across(edge);
        let cap = match edge.gate {
            Gate::Valve(cap) | Gate::Pump(cap) => cap,
            _ => 0.0,
        };
        let wish = match (edge.gate, edge.mode) {
            (Gate::OneWay, Mode::Free) if flow[e] < -bit => Some((Mode::Shut, -flow[e] / largest)),
            (Gate::OneWay, Mode::Shut) => across
                .map(|x| x - edge.loss(0.0).0)
                .filter(|x| *x > pa)
                .map(|x| (Mode::Free, x)),
            (Gate::Valve(_) | Gate::Pump(_), Mode::Free) if flow[e] > cap + bit => {
                Some((Mode::AtCap, flow[e] / cap.max(bit)))
            }
            (Gate::Valve(_), Mode::AtCap) => across
                .filter(|x| *x < edge.loss(cap).0 - pa)
                .map(|_| (Mode::Free, 0.0)),
            (Gate::Pump(_), Mode::AtCap) => match across {
                Some(x) if x < edge.loss(cap).0 - pa => Some((Mode::Free, 0.0)),
                Some(x) if x > pa => Some((Mode::Pushed, 0.0)),
                _ => None,
            },
            (Gate::Pump(_), Mode::Pushed) if flow[e] < cap - bit => Some((Mode::AtCap, 0.0)),
            _ => None,
        };
        wishes.extend(wish.map(|(mode, how)| (e, mode, how)));
    }
    (!wishes.is_empty()).then_some(wishes)
}
