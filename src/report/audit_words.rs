//! Words of an audit: what a claim is about, figures in the user's units, what a figure rests on, one claim as a sentence.

use super::audit::Shown;
use super::layout::name;
use super::speak::Speak;
use crate::audit::claim::{About, Claim, Sort, Value, What};
use crate::audit::{Answer, Expected, about_name};
use crate::check;
use crate::quantity::{Kv, Metre, Volume};
use crate::survey::Units;
use crate::units::{Quantity, shown_unit};
use crate::view::BasisUsed;
use std::collections::BTreeSet;

impl<'a> Shown<'a> {
    pub(super) fn speak(&self) -> Speak<'a> {
        Speak::new(self.study, &self.study.network.units)
    }

    pub(super) fn claim(&self, i: usize) -> Option<(&'a Claim, &'a Answer)> {
        Some((self.claims.list.get(i)?, self.audit.answers.get(i)?))
    }

    /// `velocity of primary`, `flow`.
    pub(super) fn subject(&self, claim: &Claim) -> String {
        let key = claim.row.key.replace('_', " ");
        match about_name(&self.study.network, claim.about) {
            Some(thing) => format!("{key} of {}", name(&thing, 40)),
            None => key,
        }
    }

    /// The user's units, with the claim's own in their place where results can be shown in it.
    fn units_of(&self, claim: &Claim) -> Units {
        let mut units = self.study.network.units.clone();
        let Sort::Figure(quantity) = claim.row.sort else {
            return units;
        };
        let words = claim.words.trim();
        let at = words.rfind(|c: char| c.is_ascii_digit() || c == '.');
        let unit = at.and_then(|at| words.get(at + 1..)).unwrap_or("");
        // `m3/h` and `mm` end in letters, a superscript or a degree sign are understood, too
        let spelt = match quantity {
            Quantity::Flow => words
                .to_lowercase()
                .replace('³', "3")
                .find("m3/h")
                .map(|_| "m3/h"),
            _ => None,
        };
        let Some(unit) = shown_unit(quantity, spelt.unwrap_or(unit)) else {
            return units;
        };
        match quantity {
            Quantity::Flow => units.flow = unit.into(),
            Quantity::Head | Quantity::Pressure => units.pressure = unit.into(),
            Quantity::Power => units.power = unit.into(),
            Quantity::Temperature => units.temperature = unit.into(),
            _ => {}
        }
        units
    }

    /// A figure of a claim's kind in the unit in which it was stated, else in the user's; with no fewer decimals than the
    /// claim has, where it is in the claim's own unit.
    pub(super) fn figure(&self, claim: &Claim, si: f64) -> String {
        let shown = self.figure_as_usual(claim, si);
        self.as_finely_as_stated(claim, si, &shown).unwrap_or(shown)
    }

    fn as_finely_as_stated(&self, claim: &Claim, si: f64, shown: &str) -> Option<String> {
        const MOST: usize = 4;
        let Value::Figure {
            si: stated,
            number,
            rounding,
        } = claim.value
        else {
            return None;
        };
        let zero = matches!(claim.row.sort, Sort::Figure(Quantity::Temperature));
        let factor = stated / number;
        if zero || !factor.is_finite() || factor <= 0.0 {
            return None;
        }
        let step = 2.0 * rounding / factor;
        let decimals = (0..=MOST).find(|k| (step * 10f64.powi(*k as i32) - 1.0).abs() < 1e-6)?;
        let (head, unit) = shown.split_once(' ')?;
        let value: f64 = head.parse().ok()?;
        let has = head.split_once('.').map_or(0, |(_, d)| d.len());
        let off = (value - si / factor).abs();
        let same_unit = off <= 0.51 * 10f64.powi(-(has as i32));
        (same_unit && has < decimals).then(|| {
            let speak = self.speak();
            format!("{} {unit}", speak.show.number(si / factor, decimals))
        })
    }

    fn figure_as_usual(&self, claim: &Claim, si: f64) -> String {
        let units = self.units_of(claim);
        let speak = Speak::new(self.study, &units);
        let show = &speak.show;
        let quantity = match claim.row.sort {
            Sort::Figure(quantity) => quantity,
            Sort::Level => return show.with_unit(show.number(si, 1), "dB"),
            Sort::Mark => return show.number(si, 2),
            Sort::Number => return show.three_figures(si),
            Sort::Pipe | Sort::Name | Sort::Flag | Sort::Fluid => return String::new(),
        };
        match quantity {
            Quantity::Flow => speak.flow(si),
            Quantity::Head | Quantity::Pressure => speak.pressure(si),
            Quantity::Power if claim.words.to_lowercase().ends_with("kw") => {
                show.with_unit(show.number(si / 1e3, 2), "kW")
            }
            Quantity::Power => speak.power(si),
            Quantity::Temperature => speak.temperature(si),
            Quantity::Difference => speak.difference(si),
            Quantity::Volume => show.volume(Volume(si)),
            Quantity::RunLength => show.length(Metre(si)),
            Quantity::Size => show.size(Metre(si)),
            Quantity::Velocity => speak.velocity(si),
            Quantity::Gradient => speak.gradient(si),
            Quantity::Kv => format!("kv {}", show.kv(Kv(si)).replace("kv", "").trim()),
            _ => show.three_figures(si),
        }
    }

    /// A difference or tolerance: of temperatures it is in K.
    fn apart(&self, claim: &Claim, si: f64) -> String {
        match claim.row.sort {
            Sort::Figure(Quantity::Temperature) => self.speak().difference(si),
            _ => self.figure(claim, si),
        }
    }

    /// What is expected, in words.
    pub(super) fn expected(&self, claim: &Claim, expected: &Expected) -> String {
        match expected {
            Expected::Figure(si) => self.figure(claim, *si),
            Expected::AtLeast(si) => format!("at least {}", self.figure(claim, *si)),
            Expected::Words(words) => name(words, 40),
            Expected::Flag(true) => "it passes".into(),
            Expected::Flag(false) => "it does not pass".into(),
        }
    }

    /// Line of the network file on which something stands.
    fn line(&self, at: usize) -> usize {
        let before = self.house_text.as_bytes().iter().take(at);
        1 + before.filter(|&&b| b == b'\n').count()
    }

    /// Numbers of the findings that a claim stands in.
    pub(super) fn numbers(&self, claim: usize) -> Vec<usize> {
        let list = self.audit.findings.iter().enumerate();
        list.filter(|(_, f)| f.claims.contains(&claim))
            .map(|(n, _)| n + 1)
            .collect()
    }

    /// `lines 4, 5 and 6`.
    pub(super) fn lines(&self, claims: &[usize]) -> String {
        let lines: BTreeSet<usize> = claims
            .iter()
            .filter_map(|&i| self.claim(i))
            .map(|(c, _)| c.line)
            .collect();
        let lines: Vec<String> = lines.iter().map(usize::to_string).collect();
        match lines.split_last() {
            Some((last, [])) => format!("line {last}"),
            Some((last, rest)) => format!("lines {} and {last}", rest.join(", ")),
            None => String::new(),
        }
    }

    /// What a claim rests on in the house: its pipes with their line, guesses among them said.
    pub(super) fn rests_on(&self, claim: &Claim, answer: &Answer) -> String {
        self.basis(claim, answer).join("; ")
    }

    pub(super) fn basis(&self, claim: &Claim, answer: &Answer) -> Vec<String> {
        let network = &self.study.network;
        let speak = self.speak();
        let mut parts: Vec<String> = Vec::new();
        let first = answer.runs.first().and_then(|&i| network.runs.get(i));
        if let Some(run) = first {
            let line = run
                .span
                .as_ref()
                .map(|s| format!(", line {} of {}", self.line(s.start), name(self.house, 60)));
            parts.push(format!(
                "{} ({}, bore {}, {} long{})",
                speak.run(run, matches!(claim.about, About::Pair(_))),
                name(&run.size, 40),
                speak.show.size(Metre(run.bore_m)),
                speak.show.length(Metre(run.length_m)),
                line.unwrap_or_default()
            ));
        }
        for &doubt in answer
            .runs
            .iter()
            .filter_map(|&i| network.runs.get(i))
            .flat_map(|r| &r.doubts)
            .collect::<BTreeSet<_>>()
        {
            if let Some(doubt) = network.doubts.get(doubt) {
                parts.push(format!("the guess {}", name(&doubt.name, 60)));
            }
        }
        if let About::Emitter(i) = claim.about
            && let Some(span) = network.emitters.get(i).and_then(|e| e.span.as_ref())
        {
            parts.push(format!(
                "{} (line {} of {})",
                name(&network.emitters[i].name, 40),
                self.line(span.start),
                name(self.house, 60)
            ));
        }
        let design = &network.design;
        let basis = self.study.required.first().and_then(|r| r.basis.first());
        let from_flows = matches!(
            claim.row.what,
            What::Flow
                | What::Head
                | What::HeadAvailable
                | What::Index
                | What::Heat
                | What::Velocity
                | What::Gradient
                | What::Loss
                | What::Setting
        );
        if let Some(basis) = basis.filter(|_| from_flows) {
            let units_own = match claim.about {
                About::House => true,
                About::Pair(i) | About::Pipe(i) => self.carries(i, basis.flow_kg_s),
                About::Emitter(_) | About::Vessel(_) | About::Circuit(_) | About::Cylinder(_) => {
                    false
                }
            };
            let drop_k = match claim.about {
                About::Emitter(i) => network.emitters.get(i).map_or(design.drop_k, |e| e.drop_k),
                _ => design.drop_k,
            };
            let needs_w = match claim.about {
                About::Emitter(i) => network.emitters.get(i).map_or(basis.rooms_w, |e| e.duty_w),
                _ => basis.rooms_w,
            };
            let by_heat = |what: &str, w: f64| {
                let (w, drop) = (speak.kilowatt(w), speak.drop(drop_k));
                format!("{what} of {w} and a drop of {drop}")
            };
            let flow = speak.mass_flow(basis.flow_kg_s);
            parts.push(match basis.used {
                BasisUsed::Nominal if units_own => format!("the unit's nominal flow of {flow}"),
                BasisUsed::HeldFlow if units_own => {
                    format!("the flow of {flow} that the pump is held to")
                }
                BasisUsed::Load if units_own => {
                    by_heat("a declared load", basis.load_w.unwrap_or(basis.rooms_w))
                }
                BasisUsed::Output if units_own => {
                    let source = network.sources.first().and_then(|s| s.output_w);
                    by_heat("the unit's output", source.unwrap_or(basis.rooms_w))
                }
                _ => by_heat("needs", needs_w),
            });
        }
        if claim.row.what == What::Output {
            parts.push(format!(
                "a flow of {} at the unit and a drop of {}",
                speak.temperature(design.flow_temperature_c),
                speak.drop(design.drop_k)
            ));
        }
        parts
    }

    /// Whether all that the unit moves passes a run.
    fn carries(&self, run: usize, flow_kg_s: f64) -> bool {
        let view = self.study.required.first();
        let first = self
            .study
            .network
            .runs
            .get(run)
            .and_then(|r| r.elements.first());
        let flow = view
            .zip(first)
            .and_then(|(v, id)| v.flow_kg_s.get(id.index()));
        flow.is_some_and(|q| (q.abs() - flow_kg_s).abs() <= 1e-6 * flow_kg_s)
    }

    /// One claim that differs, as a sentence.
    pub(super) fn sentence(&self, claim: &Claim, answer: &Answer) -> String {
        let stated = format!(
            "Line {} states {} as {}",
            claim.line,
            self.subject(claim),
            name(&claim.words, 60)
        );
        let Some(expected) = &answer.expected else {
            return format!("{stated}.");
        };
        let expected_words = self.expected(claim, expected);
        let mut more = String::new();
        if let (Some(d), Some(t)) = (answer.difference, answer.tolerance) {
            let sign = if d > 0.0 { "+" } else { "" };
            let (apart, allowed) = (self.apart(claim, d), self.apart(claim, t));
            let just = match apart.trim_start_matches('-') == allowed {
                true => "just over the tolerance of",
                false => "tolerance",
            };
            more = format!(" (difference {sign}{apart}, {just} {allowed})");
        }
        match (&claim.value, expected) {
            (Value::Flag(_), Expected::Flag(passes)) => {
                let verb = if *passes {
                    "it does".to_owned()
                } else {
                    format!("it does not: {}", self.failing())
                };
                format!(
                    "Line {} states that the house works; by the checks {verb}.",
                    claim.line
                )
            }
            (Value::Flag(_), _) => format!("{stated}."),
            _ => format!("{stated}; {expected_words} is expected{more}."),
        }
    }

    /// The checks that fail, the first few of them.
    fn failing(&self) -> String {
        const MOST: usize = 4;
        let speak = self.speak();
        let worst =
            |v: check::Verdict| matches!(v, check::Verdict::Fails | check::Verdict::Depends);
        let all: Vec<String> = self
            .study
            .findings
            .iter()
            .filter(|f| worst(f.verdict))
            .map(|f| format!("{} of {}", f.check, speak.subject(f.subject)))
            .collect();
        let more = all.len().saturating_sub(MOST);
        let shown = all.into_iter().take(MOST).collect::<Vec<_>>().join(", ");
        if more > 0 {
            format!("{shown} and {more} more")
        } else {
            shown
        }
    }
}
