//! Every key figure traced to its inputs: what decides in full, everything else as its arithmetic in one row, with the
//! formulas once above.

use super::{Block, Maker, Reader, Table, Text};
use crate::report::explain::{si, speak_long, title, users, value, whence};
use crate::report::text;
use crate::trace::{Evidence, Step, Trace, What, trace};

/// Anchor of a trace by its number.
pub(super) fn anchor(number: usize) -> String {
    format!("trace-{}", number + 1)
}

/// What is traced for a reader: the head balance and the flow for all; what stands in the way for who does the work;
/// every run and emitter for who has to be convinced.
pub(super) fn wanted(make: &Maker<'_>) -> Vec<(What, Option<usize>)> {
    let study = make.study();
    let first = make.first();
    let Some(view) = study.required.iter().find(|r| Some(r.state) == first) else {
        return Vec::new();
    };
    let mut list: Vec<(What, Option<usize>)> = Vec::new();
    list.extend((0..view.circuits.len()).map(|i| (What::Circuit(i), first)));
    if make.choice.reader != Reader::Client {
        // every head of the table of key figures, in every state that is shown
        let shown = make.choice.state;
        let others = study
            .required
            .iter()
            .filter(|r| Some(r.state) != first && shown.is_none_or(|only| only == r.state));
        list.extend(
            others.flat_map(|r| (0..r.circuits.len()).map(|i| (What::Circuit(i), Some(r.state)))),
        );
    }
    let at_work = view
        .basis
        .iter()
        .enumerate()
        .filter(|(_, b)| b.flow_kg_s > 0.0);
    list.extend(at_work.map(|(i, _)| (What::Source(i), first)));
    if make.choice.reader == Reader::Client {
        return list;
    }
    const MOST: usize = 20;
    let numbered = text::numbered(study, make.choice.state);
    list.extend(
        numbered
            .into_iter()
            .take(MOST)
            .map(|i| (What::Finding(i), None)),
    );
    if make.choice.reader == Reader::Installer {
        return list;
    }
    list.extend(view.capacity.iter().map(|c| (What::Run(c.run), first)));
    let emitters = view
        .emitters
        .iter()
        .enumerate()
        .filter(|(_, e)| e.flow_kg_s > 0.0);
    list.extend(emitters.map(|(i, _)| (What::Emitter(i), first)));
    list
}

impl Maker<'_> {
    pub(super) fn traces(&mut self) {
        let all = self.traced.clone();
        if all.is_empty() {
            return;
        }
        self.paragraph(
            "Formulas are in SI units and can be put into a calculator as they stand. Of runs and emitters each row holds the \
             arithmetic alone; pipecarry's command explain prints any of them with its formulas, its inputs and their sources.",
        );
        let mut rows = Table::new("Arithmetic", &["Of", "Worked out"]).fine();
        let mut formulas: Vec<(String, String)> = Vec::new();
        let first = self.first();
        for (number, (what, state)) in all.into_iter().enumerate() {
            let found = trace(self.study(), what, state);
            if matches!(what, What::Circuit(0) | What::Source(0)) && state == first {
                self.full(number, &found);
                continue;
            }
            let steps = self.own_steps(&found);
            for step in &steps {
                let formula = step.formula.symbols();
                if !formula.contains(['*', '/', '(', '^']) {
                    continue; // a plain sum needs no formula
                }
                let words = match step.symbol.starts_with("zeta_tee") {
                    true => {
                        "zeta_tee = straight between two rows of the table, as put in below".into()
                    }
                    false => format!("{} = {}", general(&step.symbol), general(&formula)),
                };
                let pair = (words, step.source.clone());
                if !formulas.iter().any(|(known, _)| *known == pair.0) {
                    formulas.push(pair);
                }
            }
            rows.rows.push((
                Some(anchor(number)),
                vec![
                    self.head(&found).into(),
                    self.row_words(&found, &steps).into(),
                ],
            ));
        }
        if !formulas.is_empty() {
            let mut table = Table::new(
                "Formulas of the rows below; dp is a loss, _a, _b tell parts of one run apart",
                &["Formula", "Method"],
            )
            .fine();
            for (formula, source) in formulas {
                table.row(vec![formula.into(), self.speak.clean(&source).into()]);
            }
            self.table(table);
        }
        self.table(rows);
    }

    /// The arithmetic of a row. Of a return pipe whose flow pipe has one, only what comes out of the same formulas.
    fn row_words(&self, found: &Trace, steps: &[&Step]) -> String {
        let network = &self.study().network;
        let twin = match found.what {
            What::Run(i) => network.runs.get(i).and_then(|r| {
                let p = r.partner.filter(|p| *p < i)?;
                self.way(What::Run(p), found.state)?;
                network.runs.get(p)
            }),
            _ => None,
        };
        let mut parts: Vec<String> = Vec::new();
        if let Some(twin) = twin {
            parts.push(format!("as {}", twin.tag));
            let fluid = found
                .inputs
                .iter()
                .filter(|i| matches!(i.symbol.as_str(), "rho" | "mu"));
            parts.extend(fluid.map(|i| format!("{} = {}", i.symbol, value(&self.speak, i))));
            parts.extend(steps.iter().map(|s| {
                let what = match s.symbol.starts_with("dp") && s.symbol != "dp" {
                    true => format!("{}: ", self.speak.clean(&s.what)),
                    false => String::new(),
                };
                format!("{what}{} = {}", s.symbol, si(s.value, s.unit))
            }));
        } else {
            parts.extend(steps.iter().map(|s| self.brief(s)));
        }
        let see = found
            .see
            .last()
            .copied()
            .filter(|_| matches!(found.what, What::Finding(_)));
        if let Some(what) = see {
            parts.push(format!("see {}", title(self.study(), &self.speak, what)));
        }
        format!(
            "{}.{}",
            parts.join("; "),
            if twin.is_some() {
                String::new()
            } else {
                self.unsure(found)
            }
        )
    }

    /// What a row is about, with its line.
    fn head(&self, found: &Trace) -> String {
        let study = self.study();
        let mut head = title(study, &self.speak, found.what);
        let span = match found.what {
            What::Finding(index) => {
                let numbered = text::numbered(study, self.choice.state);
                if let Some(place) = numbered.iter().position(|i| *i == index) {
                    head = format!("Finding {}: {head}", place + 1);
                }
                if let Some(state) = found.state.filter(|_| study.network.states.len() > 1) {
                    head.push_str(&format!(", {}", self.speak.state(state)));
                }
                None
            }
            What::Run(i) => study.network.runs.get(i).and_then(|r| r.span.as_ref()),
            What::Emitter(i) => study.network.emitters.get(i).and_then(|e| e.span.as_ref()),
            What::Circuit(_) | What::Source(_) => {
                if found.state != self.first()
                    && let Some(state) = found.state
                {
                    head.push_str(&format!(", {}", self.speak.state(state)));
                }
                None
            }
        };
        if let Some(line) = crate::report::explain::line(self.material.source, span) {
            head.push_str(&format!(", line {line}"));
        }
        head
    }

    /// Steps of a trace; of a finding whose subject has a row of its own only what it adds.
    fn own_steps<'t>(&self, found: &'t Trace) -> Vec<&'t Step> {
        let covered = matches!(found.what, What::Finding(_))
            && found
                .see
                .last()
                .is_some_and(|w| self.way(*w, found.state).is_some());
        if covered {
            return found
                .steps
                .iter()
                .filter(|s| s.symbol == "margin")
                .collect();
        }
        found.steps.iter().collect()
    }

    /// `v = 4*0.46/(pi*0.0326^2*988) = 0.558 m/s`; a loss says what loses it.
    fn brief(&self, step: &Step) -> String {
        let comes = si(step.value, step.unit);
        let numbers = step.numbers();
        let same = comes.split(' ').next() == Some(numbers.as_str());
        let sum = match same {
            true => comes,
            false => format!("{numbers} = {comes}"),
        };
        let what = match step.symbol.starts_with("dp") && !step.symbol.starts_with("dp_tee") {
            true => format!("{}: ", self.speak.clean(&step.what)),
            false => String::new(),
        };
        format!("{what}{} = {sum}", step.symbol)
    }

    /// Inputs that the file does not state outright, without what tables of the fluid and the catalogue give.
    fn unsure(&self, found: &Trace) -> String {
        let mut said: Vec<String> = Vec::new();
        for input in &found.inputs {
            let word = match input.evidence {
                Evidence::Assumed | Evidence::Guessed | Evidence::Measured => input.evidence.word(),
                Evidence::Seen | Evidence::Stated | Evidence::Table | Evidence::Found => continue,
            };
            let what = match input.what.split_once(" of ") {
                Some((what, _)) if input.symbol.contains('_') => what,
                _ => &input.what,
            };
            let words = format!("{word}: {} {}", self.speak.clean(what), input.symbol);
            if !said.contains(&words) {
                said.push(words);
            }
        }
        match said.is_empty() {
            true => String::new(),
            false => format!(" Not stated in the file: {}.", said.join("; ")),
        }
    }

    fn full(&mut self, number: usize, found: &Trace) {
        let head = self.head(found);
        self.blocks.push(Block::Heading(Some(anchor(number)), head));
        self.steps(&found.steps);
        let mut table = Table::new("Put in", &["Symbol", "#Value", "What", "Known by"]).fine();
        for input in &found.inputs {
            table.row(vec![
                input.symbol.clone().into(),
                value(&self.speak, input).into(),
                self.speak.clean(&input.what).into(),
                whence(&self.speak, self.material.source, input).into(),
            ]);
        }
        self.table(table);
        self.list(found.notes.iter().map(|n| speak_long(n)).collect());
        let ways: Vec<Text> = found
            .see
            .iter()
            .filter_map(|w| {
                let way = self.way(*w, found.state)?;
                Some(Text::to(title(self.study(), &self.speak, *w), Some(way)))
            })
            .collect();
        if !ways.is_empty() {
            let mut pieces: Vec<Text> = vec!["Its parts: ".into()];
            for (i, way) in ways.into_iter().enumerate() {
                if i > 0 {
                    pieces.push(", ".into());
                }
                pieces.push(way);
            }
            pieces.push(".".into());
            self.blocks.push(Block::Paragraph(pieces, false));
        }
    }

    fn steps(&mut self, steps: &[Step]) {
        let mut lines = Vec::new();
        for step in steps {
            let source = if step.source.is_empty() {
                String::new()
            } else {
                format!(" [{}]", step.source)
            };
            lines.push(format!("{}{source}", self.speak.clean(&step.what)));
            let (formula, numbers) = (step.formula.symbols(), step.numbers());
            if formula != numbers {
                lines.push(format!("  {} = {formula}", step.symbol));
            }
            let comes = si(step.value, step.unit);
            let users = users(&self.speak, step.value, step.unit).filter(|u| *u != comes);
            let users = users.map_or(String::new(), |u| format!(", shown as {u}"));
            lines.push(format!("  {} = {numbers} = {comes}{users}", step.symbol));
        }
        if !lines.is_empty() {
            self.blocks.push(Block::Formula(lines));
        }
    }
}

/// A formula without the numbers and letters that tell one part from another: `rho_a` and `rho` are `rho`.
fn general(formula: &str) -> String {
    let mut out = String::with_capacity(formula.len());
    let mut word = String::new();
    for letter in formula.chars().chain([' ']) {
        if letter.is_ascii_alphabetic()
            || (!word.is_empty() && (letter.is_ascii_digit() || letter == '_'))
        {
            word.push(letter);
            continue;
        }
        out.push_str(plain(&word));
        word.clear();
        out.push(letter);
    }
    out.trim_end().to_owned()
}

fn plain(word: &str) -> &str {
    // names whose last letter or number is their own
    if matches!(word, "dT_x" | "t_1" | "t_2" | "log10") {
        return word;
    }
    let bare = word.trim_end_matches(|c: char| c.is_ascii_digit());
    let bare = bare.trim_end_matches('_');
    match bare.rsplit_once('_') {
        Some((name, tag)) if tag.len() == 1 && !name.is_empty() => name,
        _ => bare,
    }
}

#[cfg(test)]
mod tests {
    use super::general;

    #[test]
    fn parts_of_a_run_share_a_formula() {
        for (one, all) in [
            ("4*m_a/(pi*d_a^2*rho_a)", "4*m/(pi*d^2*rho)"),
            ("R2*L12", "R*L"),
            ("1/(2*log10(eps1/d/3.7))^2", "1/(2*log10(eps/d/3.7))^2"),
            ("(t_1 - t_2)/dT_x", "(t_1 - t_2)/dT_x"),
            ("zeta_tee_1*m_total_1^2", "zeta_tee*m_total^2"),
            ("kv_b2", "kv"),
        ] {
            assert_eq!(general(one), all);
        }
    }
}
