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

    fn runs(&mut self, view: &Required) {
        let network = &self.study().network;
        let speak = self.speak;
        let length = unit(&speak.show.length(Metre(1.0)));
        let (flow, speed) = (unit(&speak.mass_flow(0.1)), unit(&speak.velocity(1.0)));
        let (gradient, loss) = (unit(&speak.gradient(100.0)), unit(&speak.pressure(1e4)));
        let heads = [
            "Run".to_owned(),
            "Size".into(),
            format!("#Length, {length}"),
            "#Heat".into(),
            format!("#Flow, {flow}"),
            format!("#Velocity, {speed}"),
            format!("#Friction, {gradient}"),
            format!("#Loss, {loss}"),
            "Verdict".into(),
        ];
        let heads: Vec<&str> = heads.iter().map(String::as_str).collect();
        let caption = format!("Runs as duty requires, {}", speak.state(view.state));
        let mut table = Table::new(caption, &heads);
        for capacity in &view.capacity {
            let Some(run) = network.runs.get(capacity.run) else {
                continue;
            };
            let q = run
                .elements
                .iter()
                .map(|id| view.flow_kg_s[id.index()].abs())
                .fold(0.0, f64::max);
            table.row(vec![
                Text::to(
                    self.run_name(run),
                    self.way(What::Run(capacity.run), Some(view.state)),
                ),
                speak.clean(&run.size).into(),
                bare(&speak.show.length(Metre(run.length_m)), &length).into(),
                speak.power(capacity.duty_w).into(),
                bare(&speak.mass_flow(q), &flow).into(),
                bare(&speak.velocity(capacity.velocity_m_s), &speed).into(),
                bare(&speak.gradient(capacity.gradient_pa_m), &gradient).into(),
                bare(&speak.pressure(capacity.loss_pa), &loss).into(),
                self.mark(view.state, |s| s == Subject::Run(capacity.run))
                    .into(),
            ]);
        }
        self.table(table);
    }

    fn run_name(&self, run: &Run) -> String {
        format!("{} {}", run.tag, self.speak.name(&run.name))
    }

    fn emitters(&mut self, view: &Running) {
        let study = self.study();
        let speak = self.speak;
        let required = study.required.iter().find(|r| r.state == view.state);
        let flow = unit(&speak.mass_flow(0.1));
        let heads = [
            "Emitter".to_owned(),
            "Type".into(),
            "Room".into(),
            "#Needs".into(),
            "#Gives".into(),
            format!("#Required flow, {flow}"),
            format!("#Flow as it runs, {flow}"),
            "#In".into(),
            "#Out".into(),
            "#Asks for at the source".into(),
            "Verdict".into(),
        ];
        let heads: Vec<&str> = heads.iter().map(String::as_str).collect();
        let caption = format!("Emitters as the house runs, {}", speak.state(view.state));
        let mut table = Table::new(caption, &heads);
        let degrees = |c: Option<f64>| c.map_or("–".to_owned(), |c| speak.temperature(c));
        for (i, (emitter, runs)) in study
            .network
            .emitters
            .iter()
            .zip(&view.emitters)
            .enumerate()
        {
            let asks = required.and_then(|r| r.emitters.get(i));
            if runs.flow_kg_s == 0.0 && asks.is_none_or(|a| a.flow_kg_s == 0.0) {
                continue;
            }
            let room = study.network.rooms.get(emitter.room);
            let about = |s: Subject| s == Subject::Emitter(i) || s == Subject::Room(emitter.room);
            table.row(vec![
                Text::to(
                    speak.name(&emitter.name),
                    self.way(What::Emitter(i), Some(view.state)),
                ),
                speak.clean(&emitter.type_words).into(),
                room.map_or(String::new(), |r| {
                    format!(
                        "{} {}",
                        speak.name(&r.name),
                        speak.temperature(r.temperature_c)
                    )
                })
                .into(),
                speak.power(runs.need_w).into(),
                speak.power(runs.heat_w).into(),
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
