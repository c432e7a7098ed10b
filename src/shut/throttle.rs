//! The states between: every open head throttled alike, since a house trips with no valve quite shut.

use super::state::{Facts, answer, read};
use super::valves::{Closable, ClosableKind};
use crate::network::{ElementId, Law, Network, PartLaw};
use crate::solve::{Setting, SolveError, Solver};

/// Shares of the design kv that are shown.
const SHARES: [f64; 8] = [1.0, 0.7, 0.5, 0.35, 0.25, 0.15, 0.1, 0.05];
/// Halvings for the share at which the unit trips.
const HALVINGS: usize = 40;

/// What throttling comes to.
#[derive(Clone, Debug, PartialEq)]
pub struct Throttled {
    /// Share of every head's design kv, and the facts at it.
    pub rows: Vec<(f64, Facts)>,
    /// Share at which the unit trips, and the facts just above it; `None` if it does not trip down to the last share.
    pub trips_at: Option<(f64, Facts)>,
}

/// Throttles all heads of emitters alike from their design kv down. Zones stay open.
///
/// # Errors
/// What stops the solver.
pub fn throttled(
    network: &Network,
    base: &Setting,
    valves: &[Closable],
) -> Result<Option<Throttled>, SolveError> {
    let heads: Vec<ElementId> = valves
        .iter()
        .filter(|v| matches!(v.kind, ClosableKind::Emitter(_)))
        .flat_map(|v| v.elements.iter().copied())
        .collect();
    if heads.is_empty() {
        return Ok(None);
    }
    let solver = Solver::new(network);
    let at = |share: f64| -> Result<Facts, SolveError> {
        let mut setting = base.clone();
        for &head in &heads {
            setting.law.insert(head, scaled(network, base, head, share));
        }
        let state = answer(network, &solver, &setting)?;
        Ok(read(network, &setting, &state, 0))
    };
    let mut rows = Vec::with_capacity(SHARES.len());
    for share in SHARES {
        rows.push((share, at(share)?));
    }
    let mut trips_at = None;
    if let Some(first) = rows
        .iter()
        .position(|(_, f)| f.trips())
        .filter(|first| *first > 0)
    {
        let (mut high, mut low) = (rows[first - 1].0, rows[first].0);
        for _ in 0..HALVINGS {
            let middle = 0.5 * (low + high);
            if at(middle)?.trips() {
                low = middle
            } else {
                high = middle
            }
        }
        trips_at = Some((high, at(high)?));
    }
    Ok(Some(Throttled { rows, trips_at }))
}

/// A valve's law in a setting with its kv times `share`.
fn scaled(network: &Network, base: &Setting, head: ElementId, share: f64) -> Law {
    let mut law = base
        .law
        .get(&head)
        .unwrap_or(&network.element(head).law)
        .clone();
    if let Law::Parts(parts) = &mut law {
        for part in parts {
            if let PartLaw::Kv { kv_m3h } = &mut part.law {
                *kv_m3h *= share;
            }
        }
    }
    law
}
