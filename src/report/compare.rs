//! What differs between two houses, or between two states of one: in the inputs, in the results, in the findings.

use super::MADE_BY;
use super::layout::{Table, name, paragraph};
use super::speak::Speak;
use super::text::{first_words, noted};
use crate::check::{Study, Verdict};
use crate::network::Run;
use crate::quantity::Metre;
use crate::survey::Units;
use crate::survey::read::{Difference, differences};

/// One side of a comparison.
#[derive(Clone, Copy, Debug)]
pub struct Side<'a> {
    /// The house.
    pub study: &'a Study,
    /// What it is called: the file's name, or the state's.
    pub name: &'a str,
    /// State looked at, index into `Network::states`.
    pub state: usize,
    /// The text of its file, if somebody wrote it.
    pub source: Option<&'a str>,
}

/// Columns that a value of the file takes at most.
const VALUE: usize = 160;

/// Share by which a figure has to change to be shown.
const WORTH: f64 = 0.005;

/// The whole comparison as text.
pub fn text(a: Side<'_>, b: Side<'_>, units: &Units) -> String {
    let (speak_a, speak_b) = (Speak::new(a.study, units), Speak::new(b.study, units));
    let both = Both {
        a,
        b,
        speak_a,
        speak_b,
    };
    let mut out = paragraph(
        "",
        &format!("{} against {}", name(b.name, 60), name(a.name, 60)),
    );
    for side in [&both.a, &both.b] {
        let (verdict, _) = first_words(side.study, &both.speak_a, Some(side.state));
        out.push_str(&paragraph(
            "  ",
            &format!("{}: {verdict}.", name(side.name, 60)),
        ));
    }
    let inputs = both.inputs();
    out.push_str("\nInputs that differ\n");
    if inputs.is_empty() {
        out.push_str("  None.\n");
    }
    for line in inputs {
        out.push_str(&paragraph("  - ", &line));
    }
    out.push_str(&both.circuits());
    out.push_str(&both.runs());
    out.push_str(&both.emitters());
    out.push_str(&both.findings());
    out.push_str(&format!("\n{MADE_BY}\n"));
    out
}

struct Both<'a> {
    a: Side<'a>,
    b: Side<'a>,
    speak_a: Speak<'a>,
    speak_b: Speak<'a>,
}

/// Whether two figures differ by more than rounding.
fn differ(a: f64, b: f64) -> bool {
    (a - b).abs() > WORTH * a.abs().max(b.abs())
}

fn same(a: &Run, b: &Run) -> bool {
    a.name == b.name && a.side == b.side && a.kind == b.kind
}

/// `emitter.lounge.needs: "1.5 kW" → "1.8 kW".`
fn in_words(d: &Difference) -> String {
    let value = |v: &Option<String>| v.as_ref().map_or("not there".into(), |v| name(v, VALUE));
    format!(
        "{}: {} → {}.",
        name(&d.key, 80),
        value(&d.first),
        value(&d.second)
    )
}

impl Both<'_> {
    /// What the files say differently, in their own words.
    fn inputs(&self) -> Vec<String> {
        let texts = self.a.source.zip(self.b.source);
        match texts.and_then(|(a, b)| differences(a, b)) {
            Some(list) => list.iter().map(in_words).collect(),
            None => self.inputs_of_networks(),
        }
    }

    /// Design, sources, runs and emitters, where one of them is no text that somebody wrote.
    fn inputs_of_networks(&self) -> Vec<String> {
        let (s, t) = (self.speak_a, self.speak_b);
        let (m, n) = (&self.a.study.network, &self.b.study.network);
        let mut lines = Vec::new();
        let mut say = |what: String, a: Option<String>, b: Option<String>| {
            if a != b {
                let word = |v: Option<String>| v.unwrap_or_else(|| "not there".into());
                lines.push(format!("{what}: {} → {}.", word(a), word(b)));
            }
        };
        let (d, e) = (&m.design, &n.design);
        say(
            "design flow temperature".into(),
            Some(s.temperature(d.flow_temperature_c)),
            Some(t.temperature(e.flow_temperature_c)),
        );
        say(
            "design drop".into(),
            Some(s.drop(d.drop_k)),
            Some(t.drop(e.drop_k)),
        );
        say(
            "outside temperature".into(),
            d.outside_c.map(|c| s.temperature(c)),
            e.outside_c.map(|c| t.temperature(c)),
        );
        say(
            "declared load".into(),
            d.load_w.map(|w| s.power(w)),
            e.load_w.map(|w| t.power(w)),
        );
        for (i, source) in m.sources.iter().enumerate() {
            let other = n
                .sources
                .iter()
                .find(|o| o.name == source.name)
                .or_else(|| n.sources.get(i));
            let who = s.name(&source.name);
            say(
                format!("{who}, output"),
                source.output_w.map(|w| s.power(w)),
                other.and_then(|o| o.output_w).map(|w| t.power(w)),
            );
            say(
                format!("{who}, least flow"),
                source.least_flow_m3_s.map(|q| s.flow(q)),
                other.and_then(|o| o.least_flow_m3_s).map(|q| t.flow(q)),
            );
        }
        let pipe = |speak: &Speak<'_>, run: &Run| {
            format!(
                "{}, {}",
                speak.clean(&run.size),
                speak.show.length(Metre(run.length_m))
            )
        };
        for run in &m.runs {
            let other = n.runs.iter().find(|o| same(run, o));
            say(
                s.run(run, false),
                Some(pipe(&s, run)),
                other.map(|o| pipe(&t, o)),
            );
        }
        for run in n.runs.iter().filter(|o| !m.runs.iter().any(|r| same(r, o))) {
            say(t.run(run, false), None, Some(pipe(&t, run)));
        }
        let words = |speak: &Speak<'_>, e: &crate::network::Emitter| {
            format!("{}, {}", speak.clean(&e.type_words), speak.power(e.duty_w))
        };
        for emitter in &m.emitters {
            let other = n.emitters.iter().find(|o| o.name == emitter.name);
            say(
                s.name(&emitter.name),
                Some(words(&s, emitter)),
                other.map(|o| words(&t, o)),
            );
        }
        for emitter in n
            .emitters
            .iter()
            .filter(|o| !m.emitters.iter().any(|e| e.name == o.name))
        {
            say(t.name(&emitter.name), None, Some(words(&t, emitter)));
        }
        lines
    }

    fn circuits(&self) -> String {
        let view = |side: &Side<'_>| {
            side.study
                .required
                .iter()
                .position(|r| r.state == side.state)
        };
        let (Some(i), Some(j)) = (view(&self.a), view(&self.b)) else {
            return String::new();
        };
        let (s, t) = (self.speak_a, self.speak_b);
        let mut table = Table::new(&["<circuit", "flow", "needs", "pump gives", "left"]);
        let mut add = |study: &Study, view: usize, speak: &Speak<'_>, who: &str| {
            for c in &study.required[view].circuits {
                let left = c.available_pa.map(|pa| pa - c.needed_pa);
                let pa = |pa: Option<f64>| pa.map_or("–".into(), |pa| speak.pressure(pa));
                table.row(vec![
                    format!("{}: {}", name(who, 24), name(&c.name, 20)),
                    speak.flow(c.flow_m3_s),
                    speak.pressure(c.needed_pa),
                    pa(c.available_pa),
                    pa(left),
                ]);
            }
        };
        add(self.a.study, i, &s, self.a.name);
        add(self.b.study, j, &t, self.b.name);
        format!("\nHead on the index circuits\n{}", table.text())
    }

    fn runs(&self) -> String {
        let view = |side: &Side<'_>| {
            side.study
                .required
                .iter()
                .find(|r| r.state == side.state)
                .map(|r| r.capacity.clone())
        };
        let (a, b) = (
            view(&self.a).unwrap_or_default(),
            view(&self.b).unwrap_or_default(),
        );
        let (s, t) = (self.speak_a, self.speak_b);
        let mut table = Table::new(&[
            "<run", "velocity", "then", "friction", "then", "loss", "then",
        ]);
        for c in &a {
            let run = &self.a.study.network.runs[c.run];
            let other = b
                .iter()
                .find(|o| same(run, &self.b.study.network.runs[o.run]));
            let Some(o) = other
                .filter(|o| differ(c.velocity_m_s, o.velocity_m_s) || differ(c.loss_pa, o.loss_pa))
            else {
                continue;
            };
            table.row(vec![
                format!("{} {}", name(&run.name, 14), run.tag),
                s.velocity(c.velocity_m_s),
                t.velocity(o.velocity_m_s),
                s.gradient(c.gradient_pa_m),
                t.gradient(o.gradient_pa_m),
                s.pressure(c.loss_pa),
                t.pressure(o.loss_pa),
            ]);
        }
        match table.is_empty() {
            true => "\nNo run changes as duty requires.\n".into(),
            false => format!("\nRuns as duty requires, that change\n{}", table.text()),
        }
    }

    fn emitters(&self) -> String {
        let view = |side: &Side<'_>| {
            side.study
                .running
                .iter()
                .find(|r| r.state == side.state)
                .map(|r| r.emitters.clone())
        };
        let (a, b) = (
            view(&self.a).unwrap_or_default(),
            view(&self.b).unwrap_or_default(),
        );
        let (s, t) = (self.speak_a, self.speak_b);
        let mut table = Table::new(&["<emitter", "flow", "then", "heat", "then"]);
        for (e, from) in self.a.study.network.emitters.iter().zip(&a) {
            let other = self
                .b
                .study
                .network
                .emitters
                .iter()
                .position(|o| o.name == e.name);
            let Some(to) = other.and_then(|i| b.get(i)) else {
                continue;
            };
            if differ(from.flow_kg_s, to.flow_kg_s) || differ(from.heat_w, to.heat_w) {
                table.row(vec![
                    name(&e.name, 24),
                    s.mass_flow(from.flow_kg_s),
                    t.mass_flow(to.flow_kg_s),
                    s.power(from.heat_w),
                    t.power(to.heat_w),
                ]);
            }
        }
        match table.is_empty() {
            true => "\nNo emitter changes as the house runs.\n".into(),
            false => format!(
                "\nEmitters as the house runs, that change\n{}",
                table.text()
            ),
        }
    }

    /// Findings that are new, gone, or of another verdict; by check and subject.
    fn findings(&self) -> String {
        let list = |side: &Side<'_>, speak: &Speak<'_>| -> Vec<(String, Verdict, String)> {
            noted(side.study, speak, Some(side.state))
                .into_iter()
                .filter_map(|n| {
                    let finding = side.study.findings.get(n.finding)?;
                    let key = format!("{} {}", finding.check, speak.subject(finding.subject));
                    n.number.map(|_| (key, finding.verdict, n.found))
                })
                .collect()
        };
        let (a, b) = (list(&self.a, &self.speak_a), list(&self.b, &self.speak_b));
        let word = super::words::verdict;
        let mut lines = Vec::new();
        for (key, verdict, found) in &a {
            match b.iter().find(|(other, ..)| other == key) {
                None => lines.push(format!("gone: {} {found}", word(*verdict))),
                Some((_, now, said)) if now != verdict => {
                    lines.push(format!("{} → {}: {said}", word(*verdict), word(*now)))
                }
                Some(_) => {}
            }
        }
        for (_, verdict, found) in b
            .iter()
            .filter(|(key, ..)| !a.iter().any(|(other, ..)| other == key))
        {
            lines.push(format!("new: {} {found}", word(*verdict)));
        }
        let stay = a
            .iter()
            .filter(|(key, v, _)| b.iter().any(|(other, w, _)| other == key && w == v))
            .count();
        let mut out = String::from("\nFindings that differ\n");
        if lines.is_empty() {
            out.push_str("  None.\n");
        }
        for line in lines {
            out.push_str(&paragraph("  - ", &line));
        }
        if stay > 0 {
            out.push_str(&paragraph(
                "  ",
                &format!("{stay} stand in the way of both alike."),
            ));
        }
        out
    }
}
