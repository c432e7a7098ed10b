//! The states between: every open head throttled alike, since a house trips with no valve quite shut.

use super::edge::narrow;
use super::state::{Facts, read};
use super::valves::{Closable, ClosableKind};
use crate::network::{ElementId, Law, Network, PartLaw};
use crate::solve::{Setting, SolveError, Solver};

/// Shares of the design kv that are shown.
const SHARES: [f64; 8] = [1.0, 0.7, 0.5, 0.35, 0.25, 0.15, 0.1, 0.05];
/// How closely the share at which the unit trips is found.
const CLOSE: f64 = 1e-6;

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
        let state = solver.solve(&setting)?;
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
        // a margin that counts as a trip counts as less than nothing
        let over = |f: &Facts| {
            if f.trips() {
                f.margin
            } else {
                f.margin.max(0.0)
            }
        };
        let end = |row: &(f64, Facts)| (row.0, over(&row.1));
        let (holds, _) = narrow(
            end(&rows[first - 1]),
            end(&rows[first]),
            CLOSE,
            &mut |share| at(share).map(|f| over(&f)),
        )?;
        trips_at = Some((holds, at(holds)?));
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
