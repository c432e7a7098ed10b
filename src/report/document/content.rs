//! Verdict, job, findings, plan, valves, assumptions, cautions.

use super::{Block, Maker, Reader, Table, Text};
use crate::check::cautions::cautions;
use crate::check::{CHECKS, Finding, Verdict};
use crate::report::layout::name;
use crate::report::{shut, text, upsize, words};
use crate::trace::What;

impl Maker<'_> {
    pub(super) fn verdict(&mut self) {
        let (verdict, paragraphs) = text::first_words(self.study(), &self.speak, self.choice.state);
        let mut first = verdict.to_owned();
        first[..1].make_ascii_uppercase();
        self.blocks
            .push(Block::Paragraph(vec![format!("{first}.").into()], true));
        for (i, paragraph) in paragraphs.into_iter().enumerate() {
            let mut pieces: Vec<Text> = vec![paragraph.into()];
            let state = self.study().required.first().map(|r| r.state);
            let way = if i == 0 {
                self.way(What::Circuit(0), state)
            } else {
                None
            };
            if way.is_some() {
                pieces.push(" ".into());
                pieces.push(Text::to("How the head balance came about", way));
                let source = self.way(What::Source(0), state);
                if source.is_some() {
                    pieces.push("; ".into());
                    pieces.push(Text::to("how the flow came about", source));
                }
                pieces.push(".".into());
            }
            self.blocks.push(Block::Paragraph(pieces, false));
        }
        if self.choice.reader != Reader::Client {
            self.key_figures();
        }
    }

    /// Head on each circuit in each state, with ways to how it came about.
    fn key_figures(&mut self) {
        let study = self.study();
        let speak = self.speak;
        let mut table = Table::new(
            "Head on the index circuits",
            &[
                "Circuit",
                "Index, through",
                "#Flow",
                "#Needs",
                "#Pump gives",
                "#Left",
            ],
        );
        let shown = self.choice.state;
        for view in study
            .required
            .iter()
            .filter(|r| shown.is_none_or(|only| only == r.state))
        {
            for (i, circuit) in view.circuits.iter().enumerate() {
                let pa = |pa: Option<f64>| pa.map_or("–".to_owned(), |pa| speak.pressure(pa));
                let state = match study.network.states.len() {
                    1 => String::new(),
                    _ => format!(" [{}]", speak.state(view.state)),
                };
                let through = circuit.paths.get(circuit.index);
                table.row(vec![
                    Text::to(
                        format!("{}{state}", speak.name(&circuit.name)),
                        self.way(What::Circuit(i), Some(view.state)),
                    ),
                    through
                        .map(|p| speak.name(&p.through.name(&study.network)))
                        .unwrap_or_default()
                        .into(),
                    speak.flow(circuit.flow_m3_s).into(),
                    speak.pressure(circuit.needed_pa).into(),
                    pa(circuit.available_pa).into(),
                    pa(circuit.available_pa.map(|a| a - circuit.needed_pa)).into(),
                ]);
            }
        }
        self.table(table);
    }

    pub(super) fn job(&mut self) {
        let network = &self.study().network;
        let speak = self.speak;
        let mut table = Table::new("Basis of the design", &["Item", "Value"]);
        let design = &network.design;
        let mut row = |what: &str, value: String| table.row(vec![what.into(), value.into()]);
        row("Job", name(&network.title, 200));
        row(
            "Flow temperature at the source",
            speak.temperature(design.flow_temperature_c),
        );
        row("Drop of temperature", speak.drop(design.drop_k));
        if let Some(outside) = design.outside_c {
            row("Outside temperature", speak.temperature(outside));
        }
        if let Some(load) = design.load_w {
            row("Declared load of the building", speak.power(load));
        }
        let needs: f64 = network.emitters.iter().map(|e| e.duty_w).sum();
        row("Heat that the rooms need", speak.power(needs));
        for source in &network.sources {
            let mut says = Vec::new();
            says.extend(
                source
                    .output_w
                    .map(|w| format!("output {} at design", speak.power(w))),
            );
            says.extend(
                source
                    .least_flow_m3_s
                    .map(|q| format!("least flow {}", speak.flow(q))),
            );
            says.extend(
                source
                    .greatest_flow_m3_s
                    .map(|q| format!("greatest flow {}", speak.flow(q))),
            );
            says.extend(
                source
                    .nominal_flow_m3_s
                    .map(|q| format!("nominal flow {}", speak.flow(q))),
            );
            says.extend(source.free_head.map(|free| {
                let kind = if free {
                    "free head, what the unit leaves"
                } else {
                    "total head of its pump"
                };
                format!("curve taken as {kind}")
            }));
            row(
                &format!("Source {}", speak.name(&source.name)),
                says.join("; "),
            );
        }
        let states: Vec<String> = network.states.iter().map(|s| speak.name(&s.name)).collect();
        row("States looked at", states.join(", "));
        row("Designed by, date", "____________________".into());
        row("Checked by, date", "____________________".into());
        self.table(table);
    }

    pub(super) fn findings(&mut self) {
        let study = self.study();
        let noted = text::noted(study, &self.speak, self.choice.state);
        let mut table = Table::new(
            "What stands in the way, by verdict",
            &["No.", "Verdict", "Check", "What was found, and what to do"],
        );
        let title = |code: &str| {
            CHECKS
                .iter()
                .find(|c| c.code == code)
                .map_or(code.to_owned(), |c| c.title.to_owned())
        };
        for n in noted.iter().filter(|n| n.number.is_some()) {
            let Some(finding) = study.findings.get(n.finding) else {
                continue;
            };
            let number = n.number.unwrap_or(0);
            let way = self.way(What::Finding(n.finding), None);
            let anchor = Some(format!("finding-{number}"));
            let cells = vec![
                Text::to(number.to_string(), way),
                words::verdict(finding.verdict).into(),
                title(finding.check).into(),
                match &n.to_do {
                    Some(to_do) => format!("{} To do: {to_do}.", n.found),
                    None => n.found.clone(),
                }
                .into(),
            ];
            table.rows.push((anchor, cells));
        }
        if table.rows.is_empty() {
            self.paragraph("Nothing stands in the way.");
        }
        self.table(table);
        let of = |verdict: Verdict| {
            noted.iter().filter(move |n| {
                study
                    .findings
                    .get(n.finding)
                    .is_some_and(|f| f.verdict == verdict)
            })
        };
        let missing: Vec<String> = of(Verdict::NotShown).map(|n| n.found.clone()).collect();
        if !missing.is_empty() {
            self.heading("Not shown, for want of data");
            self.list(missing);
        }
        if self.choice.reader == Reader::Client {
            return;
        }
        let notes = text::notes_together(study, &self.speak, self.choice.state);
        if !notes.is_empty() {
            self.heading("Notes, which never count");
            self.list(notes);
        }
    }

    pub(super) fn plan(&mut self) {
        let plan = match self.material.plan {
            Ok(plan) => plan,
            Err(why) => {
                let why = name(why, 300);
                return self.paragraph(format!("What to change is not shown: {why}."));
            }
        };
        use upsize::Part;
        let parts: &[Part] = match self.choice.reader {
            Reader::Client => &[Part::First, Part::Stages],
            Reader::Installer => &[Part::First, Part::Stages, Part::Buy, Part::Granted],
            Reader::Reviewer => &[
                Part::First,
                Part::Proof,
                Part::Nearest,
                Part::Stages,
                Part::Ladder,
                Part::Granted,
            ],
        };
        // where nothing need change, nothing more need be read
        let idle = plan.best().is_some_and(|best| best.changes.is_empty());
        let parts = if idle { &[Part::First][..] } else { parts };
        let units = &self.study().network.units;
        self.prose(&upsize::parts(plan, units, parts));
    }

    pub(super) fn valves(&mut self) {
        let shut = match self.material.shut {
            Ok(shut) => shut,
            Err(why) => {
                let why = name(why, 300);
                self.paragraph(format!(
                    "What happens when valves close is not shown: {why}."
                ));
                return;
            }
        };
        use shut::Part;
        let parts: &[Part] = match self.choice.reader {
            Reader::Client => &[Part::First],
            Reader::Installer => &[
                Part::First,
                Part::Sets,
                Part::Noise,
                Part::Windows,
                Part::Water,
                Part::Defrost,
                Part::KeptOpen,
            ],
            Reader::Reviewer => &[
                Part::First,
                Part::Sets,
                Part::ByOpen,
                Part::Noise,
                Part::Windows,
                Part::Water,
                Part::Defrost,
                Part::Beside,
                Part::Rests,
            ],
        };
        let network = &self.study().network;
        self.prose(&shut::parts(network, shut, &network.units, parts));
    }

    pub(super) fn assumptions(&mut self) {
        let study = self.study();
        let defaults = text::defaults(study);
        if !defaults.is_empty() {
            self.heading("Assumed, because the file does not say");
            self.list(defaults);
        }
        if self.choice.reader == Reader::Client {
            return;
        }
        self.checks();
        self.heading("Methods");
        self.list(METHODS.iter().map(|m| (*m).to_owned()).collect());
    }

    /// Every check with how many passed, what is left, its limits and their sources.
    fn checks(&mut self) {
        let study = self.study();
        let mut table = Table::new(
            "Checks and the limits that were applied",
            &[
                "Check",
                "#Hold",
                "#Do not",
                "#Least left",
                "#Limit",
                "Source of the limit",
            ],
        )
        .fine();
        for check in CHECKS {
            let of: Vec<&Finding> = study
                .findings
                .iter()
                .filter(|f| f.check == check.code && f.measured.is_some())
                .collect();
            let counted =
                |verdicts: &[Verdict]| of.iter().filter(|f| verdicts.contains(&f.verdict)).count();
            let holds = counted(&[Verdict::Holds]);
            let bad = counted(&[Verdict::Fails, Verdict::Depends, Verdict::Tight]);
            // a share of a temperature has no meaning
            let share = !matches!(check.code, "flow-temperature" | "floor-surface");
            let least = of.iter().filter(|_| share).filter_map(|f| f.margin);
            let least = least.min_by(f64::total_cmp);
            let mut limits: Vec<(String, &str)> = Vec::new();
            for f in of.iter().filter(|f| !f.limit_source.is_empty()) {
                let Some(limit) = f.limit else { continue };
                let entry = (self.speak.kind(f.kind, limit), f.limit_source.as_str());
                if !limits.contains(&entry) {
                    limits.push(entry);
                }
            }
            let (limit, source) = match &limits[..] {
                [] => continue,
                [(limit, source)] => (limit.clone(), self.speak.clean(source)),
                [(_, source), rest @ ..] => {
                    let same = rest.iter().all(|(_, s)| s == source);
                    let more = if same { "" } else { "; others by subject" };
                    (
                        "by subject".into(),
                        format!("{}{more}", self.speak.clean(source)),
                    )
                }
            };
            table.row(vec![
                check.title.into(),
                if holds > 0 {
                    holds.to_string()
                } else {
                    "–".into()
                }
                .into(),
                if bad > 0 {
                    bad.to_string()
                } else {
                    "–".into()
                }
                .into(),
                least
                    .map_or("–".to_owned(), |m| self.speak.show.percent(m))
                    .into(),
                limit.into(),
                source.into(),
            ]);
        }
        self.table(table);
    }

    pub(super) fn cautions(&mut self) {
        let all = cautions(&self.study().network);
        self.list(all.iter().map(|c| c.text.to_owned()).collect());
    }
}

/// How figures are made, with the source of each method.
const METHODS: &[&str] = &[
    "Friction: Darcy-Weisbach; laminar to Reynolds 2300 after Hagen-Poiseuille, from 4000 after Colebrook (1939), between them \
     the cubic that meets both.",
    "Fittings and devices: loss coefficient, equivalent length or kv (IEC 60534) as the catalogue's source has them; tees by \
     how the flow splits.",
    "Water: IAPWS-IF97 at each pipe's own temperature; glycol after tables by Melinder.",
    "Emitters: characteristic equation of EN 442-2 on the rating conditions; floors in watts per kelvin, surface after EN 1264.",
    "Flow and heat are solved together (Todini and Pilati 1988); a state that does not converge is never shown.",
    "Fails: the limit is broken at the likeliest values. Depends: a value that the file admits breaks it. Tight: under 10 % (for \
     head also under 3 kPa) is left, or dearer fittings or a dirty strainer would break it.",
];
