//! Both pipes of a pair mostly say the same: one finding then speaks for both, wherever findings are listed or counted.

use super::{Finding, Subject};
use crate::network::Network;

/// A finding as it is listed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Listed<'a> {
    /// The finding; of a pair the worse of the two.
    pub finding: &'a Finding,
    /// Index of the flow pipe, if the finding speaks for both pipes of its pair.
    pub pair: Option<usize>,
}

/// Findings in their order; of two on the pipes of a pair with the same verdict in the same state only the one with less
/// left, the first on a tie.
pub fn listed<'a>(network: &Network, findings: &[&'a Finding]) -> Vec<Listed<'a>> {
    let twin = |f: &Finding| {
        let Subject::Run(run) = f.subject else {
            return None;
        };
        let partner = network.runs.get(run)?.partner?;
        let same = |o: &&&Finding| {
            o.check == f.check
                && o.state == f.state
                && o.verdict == f.verdict
                && o.subject == Subject::Run(partner)
        };
        findings.iter().find(same).map(|o| (run, partner, *o))
    };
    let left = |f: &Finding| f.margin.unwrap_or(0.0);
    let mut all = Vec::new();
    for &finding in findings {
        let pair = match twin(finding) {
            Some((run, partner, other)) => {
                let speaks =
                    left(finding) < left(other) || (left(finding) == left(other) && run < partner);
                if !speaks {
                    continue;
                }
                Some(run.min(partner))
            }
            None => None,
        };
        all.push(Listed { finding, pair });
    }
    all
}
