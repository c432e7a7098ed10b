//! What a lockshield would have to take where an emitter has nothing that could be set.

use super::settle::{Ground, Laws, kv_part};
use crate::catalogue::Catalogue;
use crate::network::{Law, Setter, SetterKind};
use crate::solve::SolveError;

/// A lockshield that is missing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fit {
    /// Kv of a usual one fully open, m³/h (the catalogue's).
    pub open_kv_m3h: f64,
    /// Kv at which it would stand, m³/h.
    pub kv_m3h: f64,
}

/// By emitter that something is asked of and that has nothing to set: the lockshield to fit, all of them fitted together.
/// On a one-pipe main none is wanted: there the open tees make the design flow.
///
/// # Errors
/// Whatever stops the solver.
pub(super) fn missing(ground: &Ground<'_>) -> Result<Vec<Option<Fit>>, SolveError> {
    let count = ground.setters.len();
    let bare: Vec<usize> = (0..count)
        .filter(|&i| {
            ground.setters[i].is_none()
                && ground.network.emitters[i].one_pipe.is_none()
                && ground.required.emitters[i].flow_kg_s > 0.0
        })
        .collect();
    let usual = Catalogue::embedded().valve("lockshield");
    let (Some(usual), false) = (usual, bare.is_empty()) else {
        return Ok(vec![None; count]);
    };
    let open_kv_m3h = usual.kv.0;
    let mut network = ground.network.clone();
    let mut setters = ground.setters.clone();
    for &i in &bare {
        let element = network.emitters[i].body;
        if let Law::Parts(parts) = &mut network.graph[element].law {
            setters[i] = Some(Setter {
                element,
                part: parts.len(),
                kind: SetterKind::Lockshield,
                open_kv_m3h,
                stands_kv_m3h: None,
                table: None,
            });
            parts.push(kv_part(open_kv_m3h));
        }
    }
    let fitted = Ground {
        network: &network,
        setters,
        ..ground.clone()
    };
    let settled = fitted.settle(&Laws::new(), &[])?;
    let fit = |i: usize| {
        let kv_m3h = settled.kv[i].filter(|_| bare.contains(&i))?;
        Some(Fit {
            open_kv_m3h,
            kv_m3h,
        })
    };
    Ok((0..count).map(fit).collect())
}
