//! Limits that pipework is held against: the catalogue's, unless the file sets its own.

use crate::catalogue::Catalogue;
use crate::network::{Network, Run};
use crate::survey::Lies;

/// A limit with where it is from.
#[derive(Clone, Debug, PartialEq)]
pub struct Limit {
    /// In SI.
    pub value: f64,
    /// Source of the figure; `the file` where the file sets it.
    pub source: String,
    /// It counts for the verdict: a limit of the catalogue, or whatever the file sets.
    pub counts: bool,
    /// The file sets it.
    pub from_file: bool,
}

/// The limit of `key`, as the file has it, else as the catalogue has it. A file may set one for a single run or emitter:
/// `"velocity hall"` goes before `velocity`.
pub fn limit(network: &Network, key: &str, of: Option<&str>) -> Option<Limit> {
    let set = |wanted: &dyn Fn(&str) -> bool| {
        network
            .limits
            .iter()
            .find(|(k, _)| wanted(k))
            .map(|(_, value)| *value)
    };
    let own = of.and_then(|name| {
        set(&|k| k.strip_prefix(key).and_then(|rest| rest.strip_prefix(' ')) == Some(name))
    });
    match own.or_else(|| set(&|k| k == key)) {
        Some(value) => Some(Limit {
            value,
            source: crate::network::THE_FILE.to_owned(),
            counts: true,
            from_file: true,
        }),
        None => default(key),
    }
}

/// The greatest drop across a unit that is designed for some drop, K: a quarter more than a design drop that is wider by
/// intention, unless the file says.
pub(crate) fn drop_limit(network: &Network, design_k: f64) -> Option<Limit> {
    let limit = limit(network, "greatest drop", None)?;
    let wider = limit.value.max(1.25 * design_k);
    let value = if limit.from_file { limit.value } else { wider };
    Some(Limit { value, ..limit })
}

fn default(key: &str) -> Option<Limit> {
    let catalogue = Catalogue::embedded();
    let row = catalogue.limit(key)?;
    Some(Limit {
        value: row.value,
        counts: row.counts,
        source: row.source.clone(),
        from_file: false,
    })
}

/// The velocity above which a run is heard, m/s: more is allowed where nobody sits.
pub fn noise_limit(network: &Network, run: &Run) -> Option<Limit> {
    let own = limit(network, "velocity", Some(&run.name));
    let unoccupied = matches!(
        run.lies,
        Some(Lies::PlantSpace | Lies::Garage | Lies::Loft | Lies::Outdoors)
    );
    match own {
        Some(own) if !own.from_file && unoccupied => limit(network, "velocity plant", None),
        own => own,
    }
}
