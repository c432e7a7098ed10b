//! Longer words: the table of loops, and all of a run for those who hover or listen.

use super::figures::Figures;
use super::style::{Level, Style};
use super::words::{Words, tidy};

impl Words<'_> {
    /// A numbered loop in the table beside its manifold: number, name, output, pipe and figures.
    pub(crate) fn loop_line(
        &self,
        figures: &Figures,
        i: usize,
        number: usize,
        style: &Style,
    ) -> String {
        let Some(emitter) = self.network.emitters.get(i) else {
            return String::new();
        };
        let mut parts = vec![format!("{number}\u{a0}{}", tidy(&emitter.name, 16).0)];
        let run = self
            .network
            .runs
            .iter()
            .position(|r| r.elements.contains(&emitter.body));
        if self.level >= Level::Normal && self.level != Level::Schedule {
            let heat = figures.emitters[i].heat_w;
            parts.extend(heat.map(|w| self.power(w)));
            if let Some(run) = run {
                let text = self.run(figures, run, style);
                parts.extend(text.lines.into_iter().map(|l| l.text));
            }
        }
        parts.join(" · ")
    }

    /// All of a run in words, for those who hover or listen.
    pub(crate) fn run_in_words(&self, figures: &Figures, i: usize) -> String {
        let Some(run) = self.network.runs.get(i) else {
            return String::new();
        };
        let show = figures.runs[i];
        let mut parts = vec![format!("{} {}", run.tag, run.name), run.size.clone()];
        parts.push(self.length(run.length_m));
        if let Some(q) = show.m3_s {
            parts.push(if show.idle {
                "no flow".into()
            } else {
                self.flow(q)
            });
        }
        if let Some(v) = show.velocity {
            parts.push(self.velocity(v));
        }
        if let Some(p) = show.loss_pa {
            parts.push(self.pressure(p));
        }
        let fittings: Vec<String> = run
            .elements
            .iter()
            .flat_map(|&e| match &self.network.element(e).law {
                crate::network::Law::Parts(parts) => parts
                    .iter()
                    .filter(|p| !p.symbol.is_empty())
                    .map(|p| p.words.clone())
                    .collect::<Vec<_>>(),
                _ => Vec::new(),
            })
            .collect();
        if !fittings.is_empty() {
            parts.push(fittings.join(" "));
        }
        if show.index {
            parts.push("index circuit".into());
        }
        if let Some(status) = figures.run_status[i] {
            let (value, reason) = self.status_lines(status);
            parts.push(format!("{} {}", value.text, reason.text).trim().to_string());
        }
        tidy(&parts.join(", "), 300).0
    }

    /// A run's tag, and the line's name where the file gives one.
    pub(crate) fn whereabouts(&self, run: usize) -> String {
        let Some(run) = self.network.runs.get(run) else {
            return String::new();
        };
        let tag = tidy(&run.tag, 12).0;
        match tidy(&run.name, 18).0 {
            name if name.trim().is_empty() || name == tag => tag,
            name => format!("{tag}, {name}"),
        }
    }
}
