//! Schedules: every run and every emitter in each state that asks something of them.

use super::{Maker, Table, Text};
use crate::check::{Subject, Verdict};
use crate::network::Run;
use crate::quantity::Metre;
use crate::report::speak::{bare, unit};
use crate::report::words;
use crate::trace::What;
use crate::view::{Required, Running};

impl Maker<'_> {
    pub(super) fn schedules(&mut self) {
        let study = self.study();
        let shown = self.choice.state;
        let shows = |state: usize| shown.is_none_or(|only| only == state);
        for view in study.required.iter().filter(|r| shows(r.state)) {
            self.runs(view);
        }
        for view in study.running.iter().filter(|r| shows(r.state)) {
            self.emitters(view);
        }
    }

    /// The worst verdict that counts on a subject in a state.
    fn mark(&self, state: usize, about: impl Fn(Subject) -> bool) -> &'static str {
        let of = self
            .study()
            .findings
            .iter()
            .filter(|f| f.state == Some(state) && about(f.subject));
        match of.map(|f| f.verdict).min() {
            Some(v @ (Verdict::Fails | Verdict::Depends | Verdict::Tight)) => words::verdict(v),
            _ => "",
        }
    }

    /// Runs of a state; both pipes of a pair in one row, with the larger of their figures, their losses added up.
    fn runs(&mut self, view: &Required) {
        let network = &self.study().network;
        let speak = self.speak;
        let length = unit(&speak.show.length(Metre(1.0)));
        let (flow, speed) = (unit(&speak.mass_flow(0.1)), unit(&speak.velocity(1.0)));
        let (gradient, loss) = (unit(&speak.gradient(100.0)), unit(&speak.pressure(1e4)));
        let heads = [
            "Run".to_owned(),
            "#Line".into(),
            "Size".into(),
            "Known by".into(),
            format!("#Length, {length}"),
            "#Heat, kW".into(),
            format!("#Flow, {flow}"),
            format!("#Velocity, {speed}"),
            format!("#Friction, {gradient}"),
            format!("#Loss, {loss}"),
            "Verdict".into(),
        ];
        let heads: Vec<&str> = heads.iter().map(String::as_str).collect();
        let caption = format!(
            "Runs as duty requires, {}; length of one pipe, loss of both",
            speak.state(view.state)
        );
        let mut table = Table::new(caption, &heads).fine();
        let of = |run: usize| view.capacity.iter().find(|c| c.run == run);
        for capacity in &view.capacity {
            let Some(run) = network.runs.get(capacity.run) else {
                continue;
            };
            let partner = run
                .partner
                .and_then(|p| Some((p, network.runs.get(p)?, of(p)?)));
            let both = partner.filter(|(_, other, c)| {
                other.size == run.size
                    && other.length_m == run.length_m
                    && (c.duty_w - capacity.duty_w).abs() <= 0.01 * capacity.duty_w.abs()
            });
            if both.is_some_and(|(p, ..)| p < capacity.run) {
                continue; // said with its flow pipe
            }
            let q = run
                .elements
                .iter()
                .map(|id| view.flow_kg_s[id.index()].abs())
                .fold(0.0, f64::max);
            let other = both.map(|(_, _, c)| c);
            let most = |a: f64, b: Option<f64>| a.max(b.unwrap_or(a));
            let about = |s: Subject| {
                s == Subject::Run(capacity.run) || both.is_some_and(|(p, ..)| s == Subject::Run(p))
            };
            let name = match both {
                Some(_) => speak.run(run, true),
                None => self.run_name(run),
            };
            table.row(vec![
                Text::to(name, self.way(What::Run(capacity.run), Some(view.state))),
                self.line(run.span.as_ref()).into(),
                speak.clean(&run.size).into(),
                self.known(run).into(),
                bare(&speak.show.length(Metre(run.length_m)), &length).into(),
                bare(&speak.kilowatt(capacity.duty_w), "kW").into(),
                bare(&speak.mass_flow(q), &flow).into(),
                bare(
                    &speak.velocity(most(capacity.velocity_m_s, other.map(|c| c.velocity_m_s))),
                    &speed,
                )
                .into(),
                bare(
                    &speak.gradient(most(capacity.gradient_pa_m, other.map(|c| c.gradient_pa_m))),
                    &gradient,
                )
                .into(),
                bare(
                    &speak.pressure(capacity.loss_pa + other.map_or(0.0, |c| c.loss_pa)),
                    &loss,
                )
                .into(),
                self.mark(view.state, about).into(),
            ]);
        }
        self.table(table);
    }

    fn run_name(&self, run: &Run) -> String {
        format!("{} {}", self.speak.name(&run.name), run.tag)
    }

    fn emitters(&mut self, view: &Running) {
        let study = self.study();
        let speak = self.speak;
        let required = study.required.iter().find(|r| r.state == view.state);
        let flow = unit(&speak.mass_flow(0.1));
        let (degree, watt) = (unit(&speak.temperature(20.0)), unit(&speak.power(500.0)));
        let heads = [
            "Emitter".to_owned(),
            "#Line".into(),
            "Type".into(),
            format!("#Room, {degree}"),
            format!("#Needs, {watt}"),
            format!("#Gives, {watt}"),
            format!("#Required, {flow}"),
            format!("#As it runs, {flow}"),
            format!("#In, {degree}"),
            format!("#Out, {degree}"),
            format!("#Asks for, {degree}"),
            "Verdict".into(),
        ];
        let heads: Vec<&str> = heads.iter().map(String::as_str).collect();
        let caption = format!(
            "Emitters as the house runs, {}; what each asks for is the flow temperature at the source",
            speak.state(view.state)
        );
        let mut table = Table::new(caption, &heads).fine();
        let degrees =
            |c: Option<f64>| c.map_or("–".to_owned(), |c| bare(&speak.temperature(c), &degree));
        for (i, (emitter, runs)) in study
            .network
            .emitters
            .iter()
            .zip(&view.emitters)
            .enumerate()
        {
            let asks = required.and_then(|r| r.emitters.get(i));
            // what is left of rounding is no flow
            if runs.flow_kg_s < 1e-9 && asks.is_none_or(|a| a.flow_kg_s == 0.0) {
                continue;
            }
            let room = study.network.rooms.get(emitter.room);
            let about = |s: Subject| s == Subject::Emitter(i) || s == Subject::Room(emitter.room);
            table.row(vec![
                Text::to(
                    speak.name(&emitter.name),
                    self.way(What::Emitter(i), Some(view.state)),
                ),
                self.line(emitter.span.as_ref()).into(),
                speak.clean(&emitter.type_words).into(),
                degrees(room.map(|r| r.temperature_c)).into(),
                bare(&speak.power(runs.need_w), &watt).into(),
                bare(&speak.power(runs.heat_w), &watt).into(),
                asks.map_or("–".to_owned(), |a| {
                    bare(&speak.mass_flow(a.flow_kg_s), &flow)
                })
                .into(),
                bare(&speak.mass_flow(runs.flow_kg_s), &flow).into(),
                degrees(runs.in_c).into(),
                degrees(runs.out_c).into(),
                degrees(asks.and_then(|a| a.source_c)).into(),
                self.mark(view.state, about).into(),
            ]);
        }
        self.table(table);
    }
}
