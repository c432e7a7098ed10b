//! What keeps plans from working, in words.

use super::super::layout::name;
use super::super::prose::Prose;
use super::super::speak::Speak;
use super::{Report, figures};
use crate::plan::change::What;
use crate::plan::missing::{Missing, missing};
use crate::plan::model::Breaks;
use crate::survey::Units;

/// What is missing: the fact with its figures, and what would help.
pub(in crate::report) fn lack(speak: &Speak<'_>, units: &Units, m: &Missing) -> (String, String) {
    let fact = |words: String, help: &str| (words, help.to_owned());
    match m {
        Missing::Place {
            name: who,
            with: what,
            why,
            figures,
        } => {
            let (who, with) = (name(who, 40), with(what));
            let (is, limit) = against(speak, *why, *figures);
            match why {
                Breaks::Velocity => fact(
                    format!(
                        "{who}: {with} the water still runs at {is} where the limit is {limit}"
                    ),
                    "a larger size with a price is missing",
                ),
                Breaks::Erosion => fact(
                    format!(
                        "{who}: {with} the water would wear the copper at {is} where the limit is {limit}"
                    ),
                    "a larger size with a price is missing",
                ),
                Breaks::Gradient => fact(
                    format!("{who}: {with} friction is {is} where the limit is {limit}"),
                    "a larger size with a price is missing",
                ),
                Breaks::Slow => fact(
                    format!("{who}: {with} the water runs at {is} where the least is {limit}"),
                    "no size keeps both limits",
                ),
                Breaks::FlowTemperature => fact(
                    format!("{who}: {with} it asks for {is} and gets {limit}"),
                    "a larger radiator does not fit its wall, or has no price",
                ),
            }
        }
        Missing::Stuck {
            run,
            why,
            figures,
            left_out,
        } => {
            let (is, limit) = against(speak, *why, *figures);
            let what = match why {
                Breaks::Gradient => "friction is",
                _ => "the water runs at",
            };
            let left_out = left_out
                .as_ref()
                .map_or(String::new(), |l| format!(" ({l})"));
            (
                format!("{}: {what} {is} where the limit is {limit}", name(run, 40)),
                format!("no other pipe is on offer there{left_out}"),
            )
        }
        Missing::Cold {
            emitter,
            figures,
            one_pipe,
            mixed,
            left_out,
        } => {
            let (asks, gets) = against(speak, Breaks::FlowTemperature, *figures);
            let help = match (mixed, left_out) {
                (Some((manifold, set_c)), _) => format!(
                    "{} mixes down to {}: see first whether its floors may be fed warmer",
                    name(manifold, 40),
                    speak.temperature(*set_c)
                ),
                (None, Some(left_out)) => left_out.clone(),
                (None, None) => format!("{}: nothing larger is on offer", name(emitter, 40)),
            };
            let emitter = name(emitter, 40);
            let water = match one_pipe {
                true => " even with all the water of its main,",
                false => "",
            };
            (
                format!("{emitter} asks for {asks}{water} and gets {gets}"),
                help,
            )
        }
        Missing::Head {
            through,
            circuit,
            over_pa,
            available_pa,
        } => fact(
            format!(
                "with the least loss that anything on offer allows, the way through {} still asks the pump of {} for {} \
                 more than its {}",
                name(through, 40),
                name(circuit, 40),
                speak.some(*over_pa, Speak::pressure),
                speak.pressure(*available_pa)
            ),
            "a stronger pump, a larger drop or larger sizes with a price are missing",
        ),
        Missing::Check(about) => {
            let (finding, network) = &**about;
            let said = figures(&Speak::of(network, units), finding);
            fact(
                format!("with the largest of everything on offer {}", said),
                "no change on offer mends that",
            )
        }
        Missing::Sets(count, stopped, last) => {
            let last = last.as_ref().map_or(String::new(), |about| {
                let (finding, network) = &**about;
                format!("the last: {}", figures(&Speak::of(network, units), finding))
            });
            let fact = match stopped {
                true if *count == 1 => {
                    "one set was looked at in full and fails; the search ended there".to_owned()
                }
                true => format!(
                    "{count} sets were looked at in full and all fail; the search ended there"
                ),
                false => format!(
                    "all {count} sets that the pump could serve fail a check as the house runs"
                ),
            };
            (fact, last)
        }
    }
}

/// The same in one sentence.
pub(in crate::report) fn lacks(speak: &Speak<'_>, units: &Units, m: &Missing) -> String {
    match lack(speak, units, m) {
        (fact, help) if help.is_empty() => fact,
        (fact, help) => format!("{fact}; {help}"),
    }
}

/// What it comes to and the limit, told apart.
pub(super) fn against(speak: &Speak<'_>, why: Breaks, (is, limit): (f64, f64)) -> (String, String) {
    match why {
        Breaks::Velocity | Breaks::Erosion | Breaks::Slow => {
            speak.apart(is, limit, Speak::velocity)
        }
        Breaks::Gradient => speak.apart(is, limit, Speak::gradient),
        Breaks::FlowTemperature => speak.apart(is, limit, Speak::temperature),
    }
}

fn with(what: &What) -> String {
    match what {
        What::Keep => "as it is".to_owned(),
        What::Pipe(word, false) => format!("with {word}"),
        What::Pipe(word, true) => format!("with {word} and bends"),
        What::Beside(word) => format!("with {word} beside it"),
        What::Bends => "with bends".to_owned(),
        What::Radiator(panel) => format!("with {}", panel.words()),
        What::Valve(word, _) | What::Device(word, _) => format!("with {word}"),
    }
}

impl Report<'_> {
    pub(super) fn none(&self) -> Prose {
        let upsize = self.upsize;
        let mut out = Prose::of(
            "",
            match upsize.found.stopped {
                true => "No plan was found before the search reached its limit; one may exist.",
                false => "No plan within this catalogue works.",
            },
        );
        for m in missing(&upsize.house, &upsize.offers, &upsize.found) {
            out.say("  - ", &format!("{}.", lacks(&self.speak, self.units, &m)));
        }
        if let Some((emitter, k, plan)) = &upsize.other_drop {
            out.say(
                "",
                &format!(
                    "If the water falls by {} in {} (more than the design's drop), a plan for {} works: --larger-drop plans \
                     so.",
                    self.speak.drop(*k),
                    name(emitter, 40),
                    self.plan_money(plan)
                ),
            );
        }
        out.gap();
        out
    }
}
