//! Somebody else's figures against recomputed ones, and against one another.
//!
//! Every claim is recomputed from the network; where it differs, the classic errors are tried one by one, each by
//! working the house out with the mistake ([`cause`]). Claims are held against one another by a published list of
//! relations ([`links`]).

mod beside;
pub mod cause;
pub mod claim;
pub mod conflict;
mod figures;
mod findings;
pub mod links;
mod links_parts;
pub mod read;
pub mod relation;
mod trial;
mod water;

pub use figures::Expected;
pub use read::about_name;

use crate::check::Study;
use crate::network::Network;
use crate::solve::SolveError;
use cause::{Cause, Wrong, causes};
use claim::{About, Claims, ROWS, What};
use figures::{Seen, agrees, asks_how_it_runs};
use links::{Contradictions, contradictions};

/// What became of a claim.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Verdict {
    /// It differs from what is expected by more than its tolerance.
    Differs,
    /// It cannot be true together with others.
    Contradicts,
    /// It cannot be recomputed, or it rests on something that the file does not know.
    NotShown,
    /// It agrees within its tolerance.
    Agrees,
}

/// A claim and what became of it.
#[derive(Clone, Debug)]
pub struct Answer {
    /// What became of it.
    pub verdict: Verdict,
    /// What it should say.
    pub expected: Option<Expected>,
    /// Stated less expected, SI.
    pub difference: Option<f64>,
    /// How far it may be off, SI.
    pub tolerance: Option<f64>,
    /// Mistakes that give the stated figure, the likeliest first.
    pub causes: Vec<Cause>,
    /// Why it cannot be shown.
    pub why: Option<String>,
    /// Runs that it rests on, by index.
    pub runs: Vec<usize>,
    /// A guess of the file under which it would agree: doubt and alternative.
    pub under: Option<(usize, usize)>,
    /// Contradictions that it stands in, by index.
    pub sets: Vec<usize>,
}

/// How much a finding weighs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// A figure is wrong on the side that does harm, or the house does not work as stated.
    Serious,
    /// Figures contradict each other, or are wrong without saying which side does harm.
    Wrong,
    /// A figure is wrong on the safe side.
    Minor,
}

/// What a reviewer has to say: one cause with the claims that it explains, or one contradiction.
#[derive(Clone, Debug)]
pub struct Finding {
    /// How much it weighs.
    pub severity: Severity,
    /// Claims that it rests on, by index.
    pub claims: Vec<usize>,
    /// The cause, where one was found.
    pub cause: Option<Cause>,
    /// The contradiction, by index.
    pub contradiction: Option<usize>,
}

/// A schedule, answered.
#[derive(Clone, Debug)]
pub struct Audit {
    /// By claim.
    pub answers: Vec<Answer>,
    /// What claims say to one another.
    pub contradictions: Contradictions,
    /// Worst first.
    pub findings: Vec<Finding>,
    /// Keys of the house's claims that the schedule does not make.
    pub silent: Vec<&'static str>,
}

/// Answers every claim about a house.
///
/// # Errors
/// Whatever stops the solver in the house as the file has it.
pub fn audit(study: &Study, claims: &Claims) -> Result<Audit, SolveError> {
    let network = &study.network;
    let runs = asks_how_it_runs(claims);
    let seen = Seen::of(network, runs, network.design.lockshields_open)?.judged(study);
    let mut answers: Vec<Answer> = claims
        .list
        .iter()
        .map(|claim| {
            let expected = seen.expected(claim, claims);
            let figure = match &expected {
                Ok(Expected::Figure(x) | Expected::AtLeast(x)) => Some(*x),
                _ => None,
            };
            let verdict = match &expected {
                Ok(x) if agrees(claim, x, network) => Verdict::Agrees,
                Ok(_) => Verdict::Differs,
                Err(_) => Verdict::NotShown,
            };
            Answer {
                verdict,
                difference: figure.and_then(|x| Some(claim.figure()? - x)),
                tolerance: figure.map(|x| claim.allowed(x)),
                why: expected.as_ref().err().cloned(),
                expected: expected.ok(),
                causes: Vec::new(),
                runs: seen.pipes(claim.about),
                under: None,
                sets: Vec::new(),
            }
        })
        .collect();
    admit_guesses(network, claims, runs, &mut answers);
    name_causes(&seen, claims, &mut answers);
    let contradictions = contradictions(&seen, claims);
    for (s, set) in contradictions.sets.iter().enumerate() {
        for &c in &set.claims {
            if let Some(answer) = answers.get_mut(c) {
                answer.sets.push(s);
                if answer.verdict == Verdict::NotShown {
                    answer.verdict = Verdict::Contradicts;
                }
            }
        }
    }
    let findings = findings::findings(claims, &answers, &contradictions);
    let stated = |what: What| {
        claims
            .list
            .iter()
            .any(|c| c.about == About::House && c.row.what == what)
    };
    let silent = ROWS
        .iter()
        .filter(|r| r.of == claim::Of::House && !stated(r.what))
        .map(|r| r.key)
        .collect();
    Ok(Audit {
        answers,
        contradictions,
        findings,
        silent,
    })
}

/// A claim that differs at the likeliest values but agrees under a value that the file admits cannot be called wrong.
fn admit_guesses(network: &Network, claims: &Claims, runs: bool, answers: &mut [Answer]) {
    let open = network.design.lockshields_open;
    for (d, doubt) in network.doubts.iter().enumerate() {
        for a in 0..doubt.alternatives.len() {
            let differs = |x: &Answer| x.verdict == Verdict::Differs;
            if !answers.iter().any(differs) {
                return;
            }
            let other = network.with(d, a);
            let Ok(seen) = Seen::of(&other, runs, open) else {
                continue;
            };
            for (claim, answer) in claims.list.iter().zip(answers.iter_mut()) {
                if answer.verdict != Verdict::Differs {
                    continue;
                }
                if seen
                    .expected(claim, claims)
                    .is_ok_and(|x| agrees(claim, &x, &other))
                {
                    answer.verdict = Verdict::NotShown;
                    answer.under = Some((d, a));
                }
            }
        }
    }
}

fn name_causes(seen: &Seen, claims: &Claims, answers: &mut [Answer]) {
    let differing: Vec<usize> = answers
        .iter()
        .enumerate()
        .filter(|(_, a)| a.verdict == Verdict::Differs)
        .map(|(i, _)| i)
        .collect();
    let wrong: Vec<Wrong> = differing
        .iter()
        .filter_map(|&i| {
            Some(Wrong {
                claim: claims.list.get(i)?,
                expected: answers.get(i)?.expected.as_ref()?,
            })
        })
        .collect();
    let found = causes(seen, claims, &wrong);
    for (i, causes) in differing.into_iter().zip(found) {
        if let Some(answer) = answers.get_mut(i) {
            answer.causes = causes;
        }
    }
}

/// Exit status of a program that shows an audit: 0 if every claim that could be shown agrees and none contradict; 1 if
/// one differs or some contradict, with `strict` also if one could not be shown. (2 belongs to files that cannot be read.)
pub fn exit_status(audit: &Audit, strict: bool) -> u8 {
    let any = |v: Verdict| audit.answers.iter().any(|a| a.verdict == v);
    let wrong = any(Verdict::Differs) || !audit.contradictions.sets.is_empty();
    u8::from(wrong || (strict && any(Verdict::NotShown)))
}
