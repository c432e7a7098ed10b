//! From figures to verdicts: the house as the file has it, every value that a doubt admits tried one by one, all that
//! are adverse together, fittings dearer and the strainer half blocked.

use super::facts::{Effort, Facts, gather};
use super::measure::{Measured, Tight};
use super::{CHECKS, Finding, Options, Study, Subject, TightBecause, Verdict};
use crate::network::{Law, Network, PartGroup, PartLaw};
use crate::solve::SolveError;
use crate::view::limits::limit;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Rounding that a limit forgives, as a share of it: a flow held at its limit is not over it.
const ROUNDING: f64 = 1e-9;

/// Where a figure belongs: check, subject, state.
type Key = (usize, Subject, Option<usize>);
/// Margins of one trial, and how much less than the limit was left in the value's own unit.
type Margins = BTreeMap<Key, (f64, f64)>;

/// Looks at a house from all sides.
///
/// # Errors
/// Whatever stops the solver, in the house as the file has it or under a value that a doubt admits.
pub fn study(network: &Network, options: &Options) -> Result<Study, SolveError> {
    let open = options
        .lockshields_open
        .unwrap_or(network.design.lockshields_open);
    let effort = Effort {
        open,
        tees: 1.0,
        full: true,
    };
    let facts = gather(network, effort, None)?;
    let measured: Vec<(usize, Measured)> = measure(&facts);
    let trials = Trials::run(network, &facts, effort)?;
    let mut findings: Vec<Finding> = measured
        .into_iter()
        .map(|(check, m)| trials.judge(network, check, m))
        .collect();
    findings.sort_by_key(|f| f.verdict);
    let not_shown = findings
        .iter()
        .filter(|f| f.verdict == Verdict::NotShown)
        .count();
    let verdict = findings
        .iter()
        .map(|f| f.verdict)
        .filter(|v| *v <= Verdict::Holds)
        .min()
        .unwrap_or(Verdict::NotShown);
    let Facts {
        required, running, ..
    } = facts;
    Ok(Study {
        network: network.clone(),
        required,
        running,
        findings,
        verdict,
        not_shown,
    })
}

fn measure(facts: &Facts) -> Vec<(usize, Measured)> {
    let mut all = Vec::new();
    for (i, check) in CHECKS.iter().enumerate() {
        let mut list = Vec::new();
        (check.measure)(facts, &mut list);
        all.extend(list.into_iter().map(|m| (i, m)));
    }
    all
}

fn margins(facts: &Facts) -> Margins {
    let of = |(check, m): (usize, Measured)| {
        let margin = m.margin()?;
        let scale = m.scale.or(m.limit)?.abs();
        Some(((check, m.subject, m.state), (margin, margin * scale)))
    };
    measure(facts).into_iter().filter_map(of).collect()
}

/// The house under other assumptions.
struct Trials {
    /// By doubt and alternative.
    doubts: Vec<((usize, usize), Margins)>,
    /// The adverse alternative of each doubt that has one, and all of them together.
    adverse: Option<(Vec<(usize, usize)>, Margins)>,
    fittings: Option<Margins>,
    strainer: Option<Margins>,
    /// Share of a limit under which a pass is tight.
    tight: f64,
}

impl Trials {
    fn run(network: &Network, base: &Facts, effort: Effort) -> Result<Self, SolveError> {
        let effort = Effort {
            full: false,
            ..effort
        };
        let head = needed_pa(base);
        let which: Vec<(usize, usize)> = network
            .doubts
            .iter()
            .enumerate()
            .flat_map(|(d, doubt)| (0..doubt.alternatives.len()).map(move |a| (d, a)))
            .collect();
        // each trial is a house of its own; results are collected in the order of the file
        let tried: Vec<(f64, Margins)> = which
            .par_iter()
            .map(|&(d, a)| {
                let changed = network.with(d, a);
                let facts = gather(&changed, effort, Some(base))?;
                Ok((needed_pa(&facts), margins(&facts)))
            })
            .collect::<Result<_, SolveError>>()?;
        let mut adverse: Vec<(usize, usize)> = Vec::new();
        let mut worst = 0.0;
        for (&(d, a), &(needed, _)) in which.iter().zip(&tried) {
            let same = adverse.last().is_some_and(|(doubt, _)| *doubt == d);
            let least = if same { worst } else { head * (1.0 + ROUNDING) };
            if needed > least {
                worst = needed;
                if same {
                    adverse.pop();
                }
                adverse.push((d, a));
            }
        }
        let tried = tried.into_iter().map(|(_, margins)| margins);
        let doubts: Vec<_> = which.into_iter().zip(tried).collect();
        let adverse = if adverse.len() > 1 {
            let mut changed = network.clone();
            for &(d, a) in &adverse {
                changed = changed.with(d, a);
            }
            Some((adverse, margins(&gather(&changed, effort, Some(base))?)))
        } else {
            None
        };
        let spread = limit(network, "fittings spread", None).map(|l| 1.0 + l.value);
        let fittings = match spread {
            Some(factor) => {
                let changed = dearer(network, factor, |part| part.group == PartGroup::Fittings);
                Some(margins(&gather(
                    &changed,
                    Effort {
                        tees: factor,
                        ..effort
                    },
                    Some(base),
                )?))
            }
            None => None,
        };
        let half = limit(network, "blocked strainer", None).map(|l| 1.0 / (l.value * l.value));
        let strainer = match half.filter(|_| any_strainer(network)) {
            Some(factor) => {
                let changed = dearer(network, factor, |part| is_strainer(&part.symbol));
                Some(margins(&gather(&changed, effort, Some(base))?))
            }
            None => None,
        };
        let tight = limit(network, "margin", None).map_or(0.0, |l| l.value);
        Ok(Self {
            doubts,
            adverse,
            fittings,
            strainer,
            tight,
        })
    }

    /// The verdict on one figure.
    fn judge(&self, network: &Network, check: usize, m: Measured) -> Finding {
        let key = (check, m.subject, m.state);
        let base = m.margin();
        let (mut rests_on, mut tight_because) = (Vec::new(), None);
        let verdict = match base {
            _ if !m.counts => Verdict::Note,
            None => Verdict::NotShown,
            Some(margin) => {
                rests_on = self.flips(&key, margin);
                if broken(margin) {
                    Verdict::Fails
                } else if !rests_on.is_empty() {
                    Verdict::Depends
                } else {
                    tight_because = self.tight(&key, &m, margin);
                    if tight_because.is_some() {
                        Verdict::Tight
                    } else {
                        Verdict::Holds
                    }
                }
            }
        };
        debug_assert!(rests_on.iter().all(|(d, _)| *d < network.doubts.len()));
        Finding {
            check: CHECKS[check].code,
            subject: m.subject,
            state: m.state,
            kind: m.kind,
            measured: m.value,
            limit: m.limit,
            margin: base,
            limit_source: m.limit_source,
            verdict,
            rests_on,
            tight_because,
            detail: m.detail,
            names: m.names,
        }
    }

    /// Alternatives that turn a verdict round; if none does alone but all adverse ones together do, those of them that
    /// take from the margin.
    fn flips(&self, key: &Key, base: f64) -> Vec<(usize, usize)> {
        let alone = |margins: &Margins| margins.get(key).map(|(margin, _)| *margin);
        let turned = |margin: f64| broken(margin) != broken(base);
        let single: Vec<(usize, usize)> = self
            .doubts
            .iter()
            .filter(|(_, margins)| alone(margins).is_some_and(turned))
            .map(|(which, _)| *which)
            .collect();
        if !single.is_empty() {
            return single;
        }
        match &self.adverse {
            Some((chosen, together)) if alone(together).is_some_and(turned) => {
                let takes = |which: &&(usize, usize)| {
                    let trial = self.doubts.iter().find(|(other, _)| other == *which);
                    let margin = trial.and_then(|(_, margins)| alone(margins));
                    margin.is_some_and(|margin| margin < base - ROUNDING)
                };
                chosen.iter().filter(takes).copied().collect()
            }
            _ => Vec::new(),
        }
    }

    /// Why a pass is narrow, if it is.
    fn tight(&self, key: &Key, m: &Measured, margin: f64) -> Option<TightBecause> {
        let scale = m.scale.or(m.limit).map_or(0.0, f64::abs);
        let narrow = |margin: f64, left: f64| match m.tight {
            Tight::Never => false,
            Tight::ByShare => margin < self.tight,
            Tight::ByShareOr(least) => margin < self.tight || left < least,
        };
        let all = self.doubts.iter().map(|(_, margins)| margins);
        let mut admitted = all.chain(self.adverse.iter().map(|(_, margins)| margins));
        let in_trial =
            |margins: &Margins| margins.get(key).is_some_and(|(m, left)| narrow(*m, *left));
        let breaks = |trial: &Option<Margins>| {
            trial
                .as_ref()
                .and_then(|t| t.get(key))
                .is_some_and(|(margin, _)| broken(*margin))
        };
        if narrow(margin, margin * scale) {
            Some(TightBecause::Margin)
        } else if admitted.any(in_trial) {
            Some(TightBecause::Guess)
        } else if breaks(&self.fittings) {
            Some(TightBecause::Fittings)
        } else if breaks(&self.strainer) {
            Some(TightBecause::Strainer)
        } else {
            None
        }
    }
}

fn broken(margin: f64) -> bool {
    // not-a-number is no pass
    margin < -ROUNDING || margin.is_nan()
}

/// Sum of the heads that all circuits need: what an adverse alternative raises.
fn needed_pa(facts: &Facts) -> f64 {
    facts
        .required
        .iter()
        .flat_map(|r| &r.circuits)
        .map(|c| c.needed_pa)
        .sum()
}

/// The network with some losses multiplied by a factor.
fn dearer(
    network: &Network,
    factor: f64,
    which: impl Fn(&crate::network::Part) -> bool,
) -> Network {
    let mut changed = network.clone();
    for element in changed.graph.edge_weights_mut() {
        let Law::Parts(parts) = &mut element.law else {
            continue;
        };
        for part in parts.iter_mut().filter(|part| which(part)) {
            match &mut part.law {
                PartLaw::Friction { length_m, .. } => *length_m *= factor,
                PartLaw::Zeta { zeta, .. } => *zeta *= factor,
                PartLaw::Kv { kv_m3h } => *kv_m3h /= factor.sqrt(),
                PartLaw::Power { dp_ref_pa, .. } => *dp_ref_pa *= factor,
            }
        }
    }
    changed
}

fn is_strainer(symbol: &str) -> bool {
    matches!(symbol, "strainer" | "filter" | "magnetic filter")
}

fn any_strainer(network: &Network) -> bool {
    network
        .graph
        .edge_weights()
        .any(|element| match &element.law {
            Law::Parts(parts) => parts.iter().any(|part| is_strainer(&part.symbol)),
            Law::Pump(_) | Law::OneWay { .. } | Law::HoldFlow { .. } => false,
        })
}
