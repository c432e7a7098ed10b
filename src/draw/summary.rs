//! The summary box: what the pumps have to do, what is over a limit, what a plan changes; and the sheet's description.

use super::scene::{Item, Letter, Line, Rect};
use super::sheet::{Strip, cut, line, strip_scale};
use super::svg_plot::tightest;
use super::words::{line_width, pitch, tidy};
use super::wrap::wrap;
use crate::check::{Finding, Verdict, listed};
use crate::network::FluidData;
use crate::survey::Fluid;

/// From this width on, mm on A4 and A3, the box may have two columns.
const BROAD: f64 = 100.0;

impl Strip<'_> {
    /// The index circuit of every pump, and what that pump has to do.
    pub(crate) fn circuits(&self) -> Vec<[Line; 2]> {
        let f = self.figures;
        let all = f.required.map_or(&[][..], |r| &r.circuits).iter();
        // of several the one with the least head left decides
        let decides = f.required.filter(|r| r.circuits.len() > 1).map(tightest);
        all.enumerate()
            .filter_map(|(i, circuit)| {
                let path = circuit.paths.get(circuit.index)?;
                let name = tidy(&circuit.name, 18).0;
                let through = tidy(&path.through.name(f.network), 20).0;
                let has = circuit.available_pa.map_or(String::new(), |p| {
                    format!(", has {}", self.words.pressure(p))
                });
                let duty = format!(
                    "{name}: {} at {}{has}",
                    self.words.flow(circuit.flow_m3_s),
                    self.words.pressure(circuit.needed_pa)
                );
                let least = if decides == Some(i) {
                    ", least left"
                } else {
                    ""
                };
                let loss = self.words.pressure(path.loss_pa);
                let index = format!("Index {through}: {loss}{least}");
                Some([line(index, true), line(duty, false)])
            })
            .collect()
    }

    /// What the sheet says in short; where room is short, further pumps come after what fails.
    fn summary_lines(&self, short: bool) -> Vec<Line> {
        let f = self.figures;
        let mut lines = Vec::new();
        if !f.solved {
            lines.push(line("Not solved: no figures to show", true));
        } else if f.still {
            lines.push(line(
                "Nothing moves: every way is shut, or no pump runs",
                true,
            ));
        }
        let circuits = self.circuits();
        let (first, others) = circuits.split_at(circuits.len().min(1));
        lines.extend(first.iter().flatten().cloned());
        if !short {
            lines.extend(others.iter().flatten().cloned());
        }
        if f.required.is_none() {
            for (i, pump) in f
                .running
                .map_or(&[][..], |r| &r.solved.pumps)
                .iter()
                .enumerate()
            {
                let name = f.network.pumps.get(i).map_or("pump", |p| p.name.as_str());
                let duty = if pump.flow_m3_s > 0.0 {
                    let flow = self.words.flow(pump.flow_m3_s);
                    format!("{flow} at {}", self.words.pressure(pump.head_pa))
                } else if pump.head_pa > 0.0 {
                    let head = self.words.pressure(pump.head_pa);
                    format!("no flow, runs against shut valves at {head}")
                } else {
                    "no flow".to_owned()
                };
                lines.push(line(format!("{}: {duty}", tidy(name, 18).0), false));
            }
        }
        if let Some((run, v)) = f.fastest().filter(|_| f.solved && !f.still) {
            lines.push(line(
                format!(
                    "Highest velocity {} in {}",
                    self.words.velocity(v),
                    self.words.whereabouts(run)
                ),
                false,
            ));
        }
        lines.extend(self.trips());
        lines.extend(self.changes());
        let mut counts = [0_usize; 4];
        let all: Vec<&Finding> = f.findings.iter().collect();
        for listed in listed(f.network, &all) {
            let slot = match listed.finding.verdict {
                Verdict::Fails => 0,
                Verdict::Depends => 1,
                Verdict::Tight => 2,
                Verdict::Holds => 3,
                _ => continue,
            };
            counts[slot] += 1;
        }
        if !f.findings.is_empty() {
            lines.push(line(
                format!(
                    "Checks: {} fail, {} depend, {} tight, {} hold",
                    counts[0], counts[1], counts[2], counts[3]
                ),
                counts[0] > 0,
            ));
        }
        let grave = [(Verdict::Fails, "fails"), (Verdict::Depends, "depends")];
        lines.extend(self.told(&grave));
        if short {
            lines.extend(others.iter().flatten().cloned());
        }
        lines.extend(self.told(&[(Verdict::Tight, "tight")]));
        if f.network.emitters.is_empty() {
            lines.push(line("No emitters in this network", false));
        }
        lines
    }

    /// In one column, on broad sheets in two where it needs them.
    pub(crate) fn summary(&self, r: Rect) -> Vec<Item> {
        let (_, note) = self.caps();
        let most = ((r.h - 3.0) / pitch(note)).floor() as usize;
        let broken = |short, width| -> Vec<Vec<Line>> {
            let lines = self.summary_lines(short);
            lines.iter().map(|l| wrap(l, note, width)).collect()
        };
        let height = |said: &[Vec<Line>]| said.iter().map(Vec::len).sum::<usize>();
        let whole = r.w - 4.0;
        let mut said = broken(false, whole);
        let two = height(&said) > most && r.w >= BROAD * strip_scale(self.paper);
        let width = if two { whole / 2.0 - 1.0 } else { whole };
        if two {
            said = broken(false, width);
        }
        let columns = if two { 2 } else { 1 };
        let room = columns * most;
        // an entry that would begin in one column and end in the next leaves less room
        let all = height(&said) + (columns - 1) <= room;
        if !all {
            said = broken(true, width);
        }
        let mut filled: Vec<Vec<Line>> = vec![Vec::new()];
        let mut left = said.len();
        for entry in said {
            let last = filled.len() == columns;
            let most = if last && !all { most - 1 } else { most };
            let now = filled.last_mut().expect("one at least");
            if now.len() + entry.len() <= most {
                now.extend(entry);
            } else if last {
                break;
            } else {
                filled.push(entry);
            }
            left -= 1;
        }
        if left > 0 {
            let more = line(format!("and {left} more, see the report"), false);
            filled.last_mut().expect("one at least").push(more);
        }
        let mut items = vec![Item::Frame(r, 0.35)];
        for (k, lines) in filled.into_iter().enumerate() {
            let x = r.x + 2.0 + k as f64 * (width + 2.0);
            items.push(self.label(x, r.y + 1.5, width, lines, note, Letter::Note));
        }
        items
    }

    pub(crate) fn desc(&self) -> String {
        let f = self.figures;
        let n = f.network;
        let mut words = format!(
            "Heating pipework: {} sources, {} emitters, {} runs.",
            n.sources.len(),
            n.emitters.len(),
            n.runs.len()
        );
        for l in self.summary_lines(false) {
            words.push(' ');
            words.push_str(&l.text);
            words.push('.');
        }
        tidy(&words, 900).0
    }

    /// Units that trip in a state without findings of its own: the flow they get, and the least they need.
    fn trips(&self) -> Vec<Line> {
        let f = self.figures;
        let sources = f.network.sources.iter().enumerate();
        sources
            .filter_map(|(i, source)| {
                let (flow, least) = f.trip(i)?;
                let name = tidy(&source.name, 18).0;
                let (flow, least) = (self.words.flow(flow), self.words.flow(least));
                Some(line(format!("{name} trips: {flow}, least {least}"), true))
            })
            .collect()
    }

    /// What a plan changes, a line each: runs by their tags, then emitters.
    fn changes(&self) -> Vec<Line> {
        let (n, style) = (self.figures.network, self.style);
        let changed = |run: usize| style.changed.iter().any(|(i, _)| *i == run);
        let runs = style.changed.iter().filter_map(|(i, what)| {
            let run = n.runs.get(*i)?;
            let partner = run.partner.filter(|p| changed(*p));
            if partner.is_some_and(|p| p < *i) {
                return None; // said with the other pipe of the pair
            }
            let back = partner.and_then(|p| n.runs.get(p));
            let back = back.map_or(String::new(), |r| format!("/{}", r.tag));
            let size = self.words.size(run);
            Some(format!("{}{back}: {size}, {what}", run.tag))
        });
        let emitters = style.changed_emitters.iter().filter_map(|(i, what)| {
            let emitter = n.emitters.get(*i)?;
            Some(format!("{}: {what}", tidy(&emitter.name, 24).0))
        });
        let all = runs.chain(emitters);
        all.map(|text| line(format!("Changed {}", tidy(&text, 80).0), false))
            .collect()
    }

    /// Under the title: the state or the plan, the design point, and what flows, as far as there is room.
    pub(crate) fn under_title(&self, cap: f64, width: f64) -> Line {
        let n = self.figures.network;
        let mut parts: Vec<String> = Vec::new();
        if !self.style.subtitle.is_empty() {
            parts.push(tidy(&self.style.subtitle, 60).0);
        }
        let d = &n.design;
        parts.push(format!(
            "{} flow, {} drop",
            self.words.temperature(d.flow_temperature_c),
            self.words.difference(d.drop_k)
        ));
        if let Some(outside) = d.outside_c {
            parts.push(format!("{} outside", self.words.temperature(outside)));
        }
        let mut fluids: Vec<String> = n.fluids.iter().filter_map(fluid_words).collect();
        fluids.dedup();
        if !fluids.is_empty() {
            parts.push(fluids.join(" and "));
        }
        let joined = |parts: &[String]| line(parts.join(" · "), false);
        while parts.len() > 1 && line_width(&joined(&parts), cap) > width {
            parts.pop();
        }
        cut(joined(&parts), cap, width)
    }
}

fn fluid_words(fluid: &FluidData) -> Option<String> {
    match fluid {
        FluidData::ByTemperature(Fluid::Water) => Some("water".into()),
        FluidData::ByTemperature(Fluid::Glycol { propylene, percent }) => {
            let kind = if *propylene { "propylene" } else { "ethylene" };
            Some(format!("{kind} glycol {percent}\u{a0}%"))
        }
        FluidData::ByTemperature(Fluid::Given { .. }) | FluidData::Constant { .. } => None,
    }
}
