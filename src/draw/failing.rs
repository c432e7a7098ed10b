//! What fails, in words for the summary box: runs by their tags, everything else by its name, other states named.

use super::figures::check_word;
use super::scene::Line;
use super::sheet::{Strip, line};
use super::words::tidy;
use crate::check::{Finding, Subject, Verdict, listed};

impl Strip<'_> {
    /// One line for each finding with one of these verdicts, verdict by verdict in the order of the report.
    pub(crate) fn told(&self, verdicts: &[(Verdict, &str)]) -> Vec<Line> {
        let f = self.figures;
        let all: Vec<&Finding> = f.findings.iter().collect();
        let all = listed(f.network, &all);
        let mut out = Vec::new();
        for &(want, verb) in verdicts {
            for listed in all.iter().filter(|l| l.finding.verdict == want) {
                let finding = listed.finding;
                let kind = match check_word(finding) {
                    "" => String::new(),
                    word => format!("{word} "),
                };
                let figure = finding
                    .measured
                    .map_or("–".into(), |m| self.words.figure(finding.kind, m));
                let limit = finding.limit.map_or(String::new(), |l| {
                    format!(", limit {}", self.words.figure(finding.kind, l))
                });
                let (state, name) = (
                    self.elsewhere(finding),
                    self.name(finding.subject, listed.pair),
                );
                out.push(line(
                    format!("{state}{name} {verb}: {kind}{figure}{limit}"),
                    want == Verdict::Fails,
                ));
            }
        }
        out
    }

    /// The state of a finding, if it is not the one drawn.
    fn elsewhere(&self, finding: &Finding) -> String {
        let f = self.figures;
        let required = f.required.map(|r| r.state);
        let drawn = required.or_else(|| f.running.map(|r| r.state));
        let name = finding
            .state
            .filter(|s| Some(*s) != drawn)
            .and_then(|s| f.network.states.get(s));
        name.map_or(String::new(), |s| format!("[{}] ", tidy(&s.name, 24).0))
    }

    fn name(&self, subject: Subject, pair: Option<usize>) -> String {
        let n = self.figures.network;
        let tag = |i: usize| n.runs.get(i).map_or("", |r| r.tag.as_str());
        let name: Option<&str> = match subject {
            Subject::House => Some("the house"),
            Subject::Run(i) => {
                // both pipes of a pair, the flow first
                let flow = pair.unwrap_or(i);
                let partner = pair.and_then(|p| n.runs.get(p)?.partner);
                let words = match partner {
                    Some(back) => format!("{}/{}", tag(flow), tag(back)),
                    None => tag(i).to_string(),
                };
                return tidy(&words, 24).0;
            }
            Subject::Emitter(i) => n.emitters.get(i).map(|e| e.name.as_str()),
            Subject::Room(i) => n.rooms.get(i).map(|r| r.name.as_str()),
            Subject::Source(i) => n.sources.get(i).map(|s| s.name.as_str()),
            Subject::Pump(i) => n.pumps.get(i).map(|p| p.name.as_str()),
            Subject::Vessel(i) => n.vessels.get(i).map(|v| v.name.as_str()),
            Subject::Manifold(i) => n.manifolds.get(i).map(|m| m.name.as_str()),
            Subject::Cylinder(i) => n.cylinders.get(i).map(|c| c.name.as_str()),
            Subject::Exchanger(i) => n.exchangers.get(i).map(|e| e.name.as_str()),
            Subject::Bypass(i) => n.bypasses.get(i).map(|b| b.name.as_str()),
        };
        match tidy(name.unwrap_or_default(), 24).0 {
            name if name.trim().is_empty() => "(no name)".into(),
            name => name,
        }
    }
}
