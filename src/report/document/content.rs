//! Verdict, job, findings, plan, valves, assumptions, cautions.

use super::{Block, Maker, Reader, Table, Text};
use crate::check::cautions::cautions;
use crate::check::{CHECKS, Verdict};
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
            "What stands in the way, worst first",
            &["No.", "Verdict", "Check", "What was found", "What to do"],
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
                n.found.clone().into(),
                n.to_do.clone().unwrap_or_default().into(),
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
        let notes: Vec<String> = of(Verdict::Note)
            .filter(|n| study.findings[n.finding].margin.is_none_or(|m| m < 0.0))
            .map(|n| n.found.clone())
            .collect();
        if !notes.is_empty() {
            self.heading("Notes, which never count");
            self.list(notes);
        }
        let mut held = Table::new("What holds", &["Check", "#Passed", "#Least left"]);
        for check in CHECKS {
            let of: Vec<_> = study
                .findings
                .iter()
                .filter(|f| f.check == check.code && f.verdict == Verdict::Holds)
                .collect();
            let least = of.iter().filter_map(|f| f.margin).min_by(f64::total_cmp);
            if !of.is_empty() {
                // a share of a temperature has no meaning
                let share =
                    least.filter(|_| !matches!(check.code, "flow-temperature" | "floor-surface"));
                let share = share.map_or("–".to_owned(), |m| self.speak.show.percent(m));
                held.row(vec![
                    check.title.into(),
                    of.len().to_string().into(),
                    share.into(),
                ]);
            }
        }
        self.table(held);
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
        let mut table = Table::new("Limits that were applied", &["Check", "#Limit", "Source"]);
        let mut seen: Vec<(&str, String, &str)> = Vec::new();
        for f in study
            .findings
            .iter()
            .filter(|f| f.verdict != Verdict::NotShown)
        {
            let Some(limit) = f.limit.filter(|_| !f.limit_source.is_empty()) else {
                continue;
            };
            let entry = (
                f.check,
                self.speak.kind(f.kind, limit),
                f.limit_source.as_str(),
            );
            if !seen.contains(&entry) {
                seen.push(entry);
            }
        }
        for check in CHECKS {
            const MOST: usize = 4;
            let own: Vec<_> = seen
                .iter()
                .filter(|(code, ..)| *code == check.code)
                .collect();
            for (_, limit, source) in own.iter().take(MOST) {
                table.row(vec![
                    check.title.into(),
                    limit.clone().into(),
                    self.speak.clean(source).into(),
                ]);
            }
            if let Some(more) = own.len().checked_sub(MOST).filter(|more| *more > 0) {
                table.row(vec![
                    check.title.into(),
                    "–".into(),
                    format!("and {more} more that differ by subject").into(),
                ]);
            }
        }
        self.table(table);
        self.heading("Methods");
        self.list(METHODS.iter().map(|m| (*m).to_owned()).collect());
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
