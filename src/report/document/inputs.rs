//! What the file says, and how sure it is: guesses first, since they are what a visit can settle; then readings and the
//! file itself. What every run and emitter is known by stands in the schedules.

use super::{Block, Maker, Reader, Table};
use crate::check::Verdict;
use crate::network::{Known, Run};
use crate::report::explain::line;
use crate::report::words;

impl Maker<'_> {
    pub(super) fn inputs(&mut self) {
        self.evidence();
        self.guesses();
        self.readings();
        if self.choice.reader == Reader::Reviewer {
            self.file();
        }
    }

    fn guesses(&mut self) {
        let study = self.study();
        let mut table = Table::new(
            "Guesses: look at or measure these",
            &[
                "Guess",
                "Line",
                "Taken as",
                "Also admitted",
                "What rests on it",
            ],
        );
        for (d, doubt) in study.network.doubts.iter().enumerate() {
            let others: Vec<String> = doubt
                .alternatives
                .iter()
                .map(|a| self.speak.clean(&a.words))
                .collect();
            let rests: Vec<&crate::check::Finding> = study
                .findings
                .iter()
                .filter(|f| f.rests_on.iter().any(|(x, _)| *x == d))
                .collect();
            let worst = rests.iter().map(|f| f.verdict).min();
            let rests = match worst {
                Some(verdict @ (Verdict::Fails | Verdict::Depends | Verdict::Tight)) => {
                    format!(
                        "{} findings, the worst {}",
                        rests.len(),
                        words::verdict(verdict)
                    )
                }
                _ => "no verdict turns with it".into(),
            };
            table.row(vec![
                self.speak.name(&doubt.name).into(),
                self.line(doubt.span.as_ref()).into(),
                self.speak.clean(&doubt.likeliest).into(),
                others.join("; ").into(),
                rests.into(),
            ]);
        }
        if table.rows.is_empty() {
            self.paragraph("The file states every pipe; nothing in it is marked as a guess.");
        }
        self.table(table);
    }

    pub(super) fn line(&self, span: Option<&crate::diag::Span>) -> String {
        line(self.material.source, span).map_or("–".into(), |line| line.to_string())
    }

    fn readings(&mut self) {
        let network = &self.study().network;
        let speak = self.speak;
        let mut table = Table::new("Measured in the house", &["Where", "Line", "Reading"]);
        for reading in &network.readings {
            let at = if reading.source {
                network.sources.get(reading.at).map(|s| &s.name)
            } else {
                network.emitters.get(reading.at).map(|e| &e.name)
            };
            let mut says = Vec::new();
            says.extend(
                reading
                    .flow_c
                    .map(|c| format!("flow {}", speak.temperature(c))),
            );
            says.extend(
                reading
                    .return_c
                    .map(|c| format!("return {}", speak.temperature(c))),
            );
            says.extend(
                reading
                    .drop_k
                    .map(|k| format!("drop {}", speak.difference(k))),
            );
            says.extend(
                reading
                    .rate_m3_s
                    .map(|q| format!("flow rate {}", speak.flow(q))),
            );
            says.extend(
                reading
                    .room_c
                    .map(|c| format!("room {}", speak.temperature(c))),
            );
            says.extend(reading.stood.map(|turns| format!("valve at {turns}")));
            table.row(vec![
                at.map(|n| speak.name(n)).unwrap_or_default().into(),
                self.line(reading.span.as_ref()).into(),
                says.join(", ").into(),
            ]);
        }
        if table.rows.is_empty() {
            self.paragraph("No reading taken in the house is given.");
        }
        self.table(table);
    }

    /// How a run is known.
    pub(super) fn known(&self, run: &Run) -> &'static str {
        match (run.doubts.is_empty(), self.study().network.known(&run.name)) {
            (true, Some(Known::Measured)) => "measured",
            (true, Some(Known::Seen)) => "seen",
            (true, None) => "stated",
            (false, None) => "guessed",
            (false, Some(_)) => "part guessed",
        }
    }

    /// What was seen and measured, in one sentence each.
    fn evidence(&mut self) {
        let network = &self.study().network;
        for (known, word) in [(Known::Seen, "Seen"), (Known::Measured, "Measured")] {
            let names = network.evidence.iter().filter(|(_, k)| *k == known);
            let names: Vec<String> = names.map(|(name, _)| self.speak.name(name)).collect();
            if !names.is_empty() {
                self.paragraph(format!("{word} in the house: {}.", names.join(", ")));
            }
        }
        self.paragraph(match network.evidence.is_empty() {
            true => "The file does not say what of it was seen or measured in the house: what is no guess is stated.",
            false => "What is neither seen, measured nor guessed is stated in the file.",
        });
    }

    /// The file with numbered lines, so that every line that is named can be looked up.
    fn file(&mut self) {
        const MOST: usize = 400;
        if self.material.source.trim_start().starts_with('{') {
            return; // a solved case, not written by hand
        }
        self.heading("The file");
        let lines = self.material.source.lines().enumerate().take(MOST);
        let lines = lines
            .map(|(i, line)| format!("{:>3}  {}", i + 1, crate::report::layout::name(line, 400)));
        self.blocks.push(Block::Formula(lines.collect()));
        let more = self.material.source.lines().count().saturating_sub(MOST);
        if more > 0 {
            self.paragraph(format!("{more} more lines are not shown."));
        }
    }

    /// The state that figures are of where none is named.
    pub(super) fn first(&self) -> Option<usize> {
        self.choice
            .state
            .or_else(|| self.study().required.first().map(|r| r.state))
    }
}
