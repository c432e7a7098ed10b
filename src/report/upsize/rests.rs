//! What the plan rests on of what is guessed, and what to look at first.

use super::super::prose::Prose;
use super::super::speak::Speak;
use super::super::words;
use super::Report;
use crate::check::{Finding, Verdict};

/// Checks that are said in full.
const MOST: usize = 4;

impl Report<'_> {
    /// What the plan rests on of what is guessed.
    pub(super) fn rests(&self, out: &mut Prose) {
        let guesses = self.upsize.guesses();
        let (Some(study), Some(first)) = (&self.upsize.rests, guesses.first()) else {
            return;
        };
        let speak = Speak::of(&study.network, self.units);
        let doubt = &study.network.doubts[first.doubt];
        let depends = study.findings.iter();
        let depends: Vec<&Finding> = depends.filter(|f| f.verdict == Verdict::Depends).collect();
        let checks = match depends.len() {
            1 => "One check DEPENDS".to_owned(),
            n => format!("{n} checks DEPEND"),
        };
        let others = match guesses.len() {
            1 => String::new(),
            _ => {
                let names = guesses[1..].iter().take(MOST);
                let names: Vec<String> = names
                    .map(|g| speak.name(&study.network.doubts[g.doubt].name))
                    .collect();
                format!(", then at {}", names.join(", "))
            }
        };
        out.say(
            "",
            &format!(
                "{checks} on a guess. Before any work look first at {} (taken as {}){others}.",
                speak.name(&doubt.name),
                speak.clean(&doubt.likeliest)
            ),
        );
        for finding in depends.iter().take(MOST) {
            let said = words::say(&speak, finding, &speak.subject(finding.subject));
            out.say("  - ", &said.found);
        }
        if depends.len() > MOST {
            let more = depends.len() - MOST;
            out.say(
                "  - ",
                &format!(
                    "{more} more: run check on the file with the plan in place (-o new.toml)."
                ),
            );
        }
    }
}
