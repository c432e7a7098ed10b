//! What a plan rests on: its changes made in the file as written, with all that is guessed there.

use super::search::Plan;
use crate::check::{self, Finding, Study, Verdict};
use crate::network::expand;
use crate::quantity::Kelvin;
use crate::survey::{At, Survey};

/// A guess on which the plan rests.
#[derive(Clone, Debug, PartialEq)]
pub struct Guess<'s> {
    /// Index into the network's doubts.
    pub doubt: usize,
    /// Checks that another value of it would break, the worst first.
    pub checks: Vec<&'s Finding>,
}

/// The plan from all sides with what is guessed; `None` where nothing is.
pub fn rests(survey: &Survey, plan: &Plan, drop: Option<&(String, f64)>) -> Option<Study> {
    let mut survey = survey.clone();
    for change in &plan.changes {
        change.apply(&mut survey);
    }
    if let Some((name, k)) = drop {
        let mut emitters = survey.emitters.iter_mut();
        let own = emitters.find(|e| e.name.value == *name)?;
        own.drop = Some(At::new(Kelvin(*k), 0..0));
    }
    let (network, _) = expand(&survey).ok()?;
    if network.doubts.is_empty() {
        return None;
    }
    check::study(&network, &check::Options::default()).ok()
}

/// Guesses that decide, that which most checks rest on first.
pub fn guesses(study: &Study) -> Vec<Guess<'_>> {
    let depends = study.findings.iter();
    let depends: Vec<&Finding> = depends.filter(|f| f.verdict == Verdict::Depends).collect();
    let mut list: Vec<Guess<'_>> = (0..study.network.doubts.len())
        .map(|doubt| {
            let rests = |f: &&&Finding| f.rests_on.iter().any(|(d, _)| *d == doubt);
            let checks = depends.iter().filter(rests).copied().collect();
            Guess { doubt, checks }
        })
        .filter(|g| !g.checks.is_empty())
        .collect();
    list.sort_by_key(|g| std::cmp::Reverse(g.checks.len()));
    list
}
