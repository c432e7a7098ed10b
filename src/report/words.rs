//! Every finding as words: what was found with its figures, what it is held against and where that is from, and what
//! to do (`remedy`). The one place where a check's code becomes a sentence.

use super::{remedy, speak::Speak};
use crate::check::{Finding, TightBecause, Verdict};

/// What a finding says.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Said {
    /// What was found.
    pub found: String,
    /// What to do, where the verdict asks for something.
    pub to_do: Option<String>,
}

/// The word of a verdict.
pub(crate) fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Fails => "fails",
        Verdict::Depends => "depends",
        Verdict::Tight => "tight",
        Verdict::Holds => "holds",
        Verdict::NotShown => "not shown",
        Verdict::Note => "note",
    }
}

/// Words of one finding; `who` is its subject, both pipes of a pair where both are meant.
pub(crate) fn say(speak: &Speak<'_>, finding: &Finding, who: &str) -> Said {
    let words = Words {
        speak,
        finding,
        who,
    };
    let found = match (finding.measured, finding.limit) {
        (Some(measured), Some(limit)) => words.against(measured, limit),
        (Some(measured), None) => words.alone(measured),
        (None, _) => words.missing(),
    };
    let found = format!("{found}{}{}", words.source(), words.rests());
    Said {
        found,
        to_do: remedy::to_do(finding).map(str::to_owned),
    }
}

/// A finding in a few words, where another of its kind has been said in full: `bed 1 47.3 °C`, with its own limit where
/// that differs.
pub(crate) fn brief(speak: &Speak<'_>, finding: &Finding, who: &str, said: &Finding) -> String {
    let figure = |value: Option<f64>| {
        value
            .map(|v| speak.kind(finding.kind, v))
            .unwrap_or_default()
    };
    let measured = figure(finding.measured);
    if finding.limit == said.limit {
        format!("{who} ({measured})")
    } else {
        format!("{who} ({measured} against {})", figure(finding.limit))
    }
}

struct Words<'a> {
    speak: &'a Speak<'a>,
    finding: &'a Finding,
    who: &'a str,
}

impl Words<'_> {
    fn detail(&self, key: &str) -> Option<f64> {
        self.finding.detail(key)
    }

    fn named(&self, i: usize) -> String {
        self.finding
            .names
            .get(i)
            .map(|n| self.speak.name(n))
            .unwrap_or_default()
    }

    fn figure(&self, value: f64) -> String {
        self.speak.kind(self.finding.kind, value)
    }

    /// A measured value held against a limit.
    fn against(&self, measured: f64, limit: f64) -> String {
        let (s, who) = (self.speak, self.who);
        let (m, l) = match self.finding.verdict {
            Verdict::Fails | Verdict::Note => {
                s.apart(measured, limit, |s, v| s.kind(self.finding.kind, v))
            }
            _ => (self.figure(measured), self.figure(limit)),
        };
        let over = measured > limit;
        match self.finding.check {
            "head" => {
                let through = self.named(1);
                let at = self
                    .detail("flow_m3_s")
                    .map(|q| format!(" at {}", s.flow(q)))
                    .unwrap_or_default();
                let left = limit - measured;
                let rest = if left < 0.0 {
                    format!("{} short", s.some(-left, Speak::pressure))
                } else {
                    format!("{} left", s.pressure(left))
                };
                format!(
                    "{who}: the way through {through} needs {m}{at}, the pump gives {l}: {rest}"
                )
            }
            "pump-curve" if over => {
                format!("{who}: {m} is asked for, but the sheet's curve ends at {l}")
            }
            "pump-curve" => format!("{who}: {m} is asked for, the sheet's curve reaches to {l}"),
            "source-output" => format!("{who}: {m} is asked for, it makes {l} at design"),
            "flow-temperature" if self.detail("set_c").is_some() => {
                format!(
                    "{who} asks its manifold for {m} to give what its room needs; it mixes down to {l}"
                )
            }
            "flow-temperature" => {
                let asks =
                    format!("{who} asks for {m} at the heat source to give what its room needs");
                let drives = if self.detail("drives") == Some(1.0) {
                    ", the most of all rooms"
                } else {
                    ""
                };
                let little = match (self.detail("design_drop_k"), self.detail("drop_k")) {
                    (Some(design), Some(drop)) => format!(
                        ", with so little water that it cools by {} instead of {}",
                        s.difference(drop),
                        s.difference(design)
                    ),
                    _ => String::new(),
                };
                format!("{asks}{drives}{little}; the design makes {l}")
            }
            "room-heat" => format!("{who} gets {m} at the flow that it really gets, and needs {l}"),
            "velocity" if over => format!("{who}: water at {m} is heard; {l} is the most here"),
            "velocity" => format!("{who}: water at {m}, of {l} at most here"),
            "erosion" if over => format!("{who}: water at {m} wears copper away; {l} is the most"),
            "erosion" => format!("{who}: water at {m}, of {l} at most in copper"),
            "gradient" => format!(
                "{who}: friction of {m}, {} {l}",
                if over { "over" } else { "within" }
            ),
            "source-least-flow" if over => format!("{who} gets {m} and runs from {l} up"),
            "source-least-flow" => format!("{who} gets {m}, and trips under {l}"),
            "source-greatest-flow" => format!("{who} carries {m}, and its maker allows {l}"),
            "source-drop" => {
                format!("{who}: the water falls by {m} across it as it runs, against {l} at most")
            }
            "small-drop" => format!(
                "{who}: the water falls by only {m} across it as it runs, under {l}. At part load that is normal; \
                 else water is going round that no emitter needs"
            ),
            "warm-return" => format!(
                "{who}: its water comes back at {m} and it makes {l}: it gives nothing as long as another unit does"
            ),
            "defrost-flow" => format!(
                "{who}: {m} goes through it with its pump at full speed; a defrost needs {l}"
            ),
            "valve-noise" if over => {
                format!("the valve of {who} stands against {m} and is heard over {l}")
            }
            "valve-noise" => {
                format!("the valve of {who} stands against {m}, of {l} before it is heard")
            }
            "floor-surface" => {
                let open = self.detail("as_runs_c").filter(|c| *c > measured + 0.05);
                let open = open.map_or(String::new(), |c| {
                    format!(
                        "; with its valve open all day it would reach {}",
                        s.temperature(c)
                    )
                });
                format!("the floor of {who} is at {m} on average, of {l} at most{open}")
            }
            "reverse-flow" if over => format!(
                "water passes {} backwards: {m} of its design flow",
                self.list()
            ),
            "reverse-flow" => "no water passes an emitter backwards".into(),
            "idle-flow" if over => {
                format!(
                    "water passes {} while the pump stands still: {m} of its design flow",
                    self.list()
                )
            }
            "idle-flow" => "no water passes the emitters of a pump that stands still".into(),
            "vessel-short-circuit" => {
                let rest = if over {
                    "it acts as a short circuit over"
                } else {
                    "a short circuit begins at"
                };
                format!("{who}: {m} of the unit's water comes straight back through it; {rest} {l}")
            }
            "vessel-mixing" => {
                let flow = |key| self.detail(key).map(|q| s.mass_flow(q)).unwrap_or_default();
                let lost = self.detail("lost_on_mean_k").map_or(String::new(), |k| {
                    format!(
                        "; the emitters' mean temperature loses {} by it",
                        s.difference(k)
                    )
                });
                format!(
                    "{who}: {} from the unit meet {} to the emitters, {m} apart against {l}{lost}",
                    flow("primary_kg_s"),
                    flow("secondary_kg_s"),
                )
            }
            "antifreeze-glycol" if over => {
                format!(
                    "antifreeze valves on {} would let the glycol out and are set for water",
                    self.list()
                )
            }
            "antifreeze-glycol" => "antifreeze valves and glycol do not meet".into(),
            "low-velocity" => format!("{who}: water at {m}, under {l}: sludge and air can settle"),
            other => format!("{who}: `{other}` {m} against {l}"),
        }
    }

    /// A measured value with nothing to hold it against.
    fn alone(&self, measured: f64) -> String {
        let (s, who) = (self.speak, self.who);
        let m = self.figure(measured);
        match self.finding.check {
            "head" => format!(
                "{who}: the way through {} needs {m}; no pump curve is given, so nothing is known of what is left",
                self.named(1)
            ),
            "source-output" => format!("{who}: {m} is known, the other side is not given"),
            "least-output" => {
                let least = self
                    .detail("least_output_w")
                    .map(|w| format!(", and it can make no less than {}", s.power(w)));
                format!(
                    "{who}: the house takes {m}{}: it stops and starts",
                    least.unwrap_or_default()
                )
            }
            "head-kind" => match (
                self.detail("total_head_m3_s"),
                self.detail("read_as_free_m3_s"),
            ) {
                (Some(right), Some(wrong)) => format!(
                    "{who}: the curve is the pump's total head, so its own loss is taken off and {} flow; read as \
                     free head it would promise {}",
                    s.flow(right),
                    s.flow(wrong)
                ),
                _ if measured <= 0.0 => {
                    format!("{who}: the curve is taken as free head; see on the sheet that it is")
                }
                _ => format!(
                    "{who}: the curve is taken as free head. Were it the pump's total head, a loss of {m} in the unit \
                     itself would already use up all that is left"
                ),
            },
            "glycol-curve" => format!(
                "{who}: the maker's curve is measured with water; with glycol ask the maker, or allow for less"
            ),
            "transitional" => format!(
                "{who}: Reynolds number {m}, between laminar and turbulent, where no law is agreed; the figure is a \
                 blend of both"
            ),
            "source-least-flow" => {
                format!("{who} gets {m}; the least flow that it needs is not given")
            }
            "defrost-flow" => format!(
                "{who}: {m} goes through it at full speed; what a defrost needs is not given"
            ),
            other => format!("{who}: `{other}` {m}"),
        }
    }

    /// Data that a check lacked.
    fn missing(&self) -> String {
        let who = self.who;
        match self.finding.check {
            "source-output" => format!("{who}: its output at design is not given"),
            "source-least-flow" => format!("{who}: its least flow is not given"),
            "defrost-flow" => format!("{who}: the flow that a defrost needs is not given"),
            "floor-surface" => format!("the floor of {who}: its area is not given"),
            "head" => format!("{who}: no pump curve is given"),
            other => format!("{who}: data for `{other}` are missing"),
        }
    }

    fn list(&self) -> String {
        const MOST: usize = 4;
        let shown: Vec<String> = self
            .finding
            .names
            .iter()
            .take(MOST)
            .map(|n| self.speak.name(n))
            .collect();
        let more = self.finding.names.len().saturating_sub(MOST);
        let more = if more > 0 {
            format!(" and {more} more")
        } else {
            String::new()
        };
        format!("{}{more}", shown.join(", "))
    }

    fn source(&self) -> String {
        let counts = !matches!(self.finding.verdict, Verdict::NotShown);
        if counts && !self.finding.limit_source.is_empty() && self.finding.limit.is_some() {
            format!(" ({}).", self.speak.clean(&self.finding.limit_source))
        } else {
            ".".into()
        }
    }

    /// What the verdict rests on.
    fn rests(&self) -> String {
        let mut text = String::new();
        for &(doubt, value) in self.finding.rests_on.iter().take(3) {
            let Some(doubt) = self.speak.network.doubts.get(doubt) else {
                continue;
            };
            let Some(value) = doubt.alternatives.get(value) else {
                continue;
            };
            let name = self.speak.name(&doubt.name);
            let words = self.speak.clean(&value.words);
            let verb = if self.finding.verdict == Verdict::Fails {
                "would hold"
            } else {
                "would fail"
            };
            text.push_str(&format!(
                " It {verb} if {name} is {words}, not {}.",
                self.speak.clean(&doubt.likeliest)
            ));
        }
        let more = self.finding.rests_on.len().saturating_sub(3);
        if more > 0 {
            text.push_str(&format!(" {more} more guesses would do the same."));
        }
        match self.finding.tight_because {
            Some(TightBecause::Margin) => {
                match self.left() {
                    _ if self.finding.margin.is_some_and(|m| m < 0.001) => {
                        text.push_str(" It stands right at the limit.");
                    }
                    Some(left) => text.push_str(&format!(" Only {left} is left.")),
                    None => {}
                }
            }
            Some(TightBecause::Guess) => text.push_str(
                " What is guessed leaves it little room: hardly any is left if all guesses go the wrong way.",
            ),
            Some(TightBecause::Fittings) => {
                text.push_str(" It would fail if the fittings cost 30 % more.")
            }
            Some(TightBecause::Strainer) => {
                text.push_str(" It would fail with the strainer half blocked.")
            }
            None => {}
        }
        text
    }

    /// What is left of a limit: a share, or the figure where a share would mislead.
    fn left(&self) -> Option<String> {
        let margin = self.finding.margin?;
        let left = (self.finding.measured? - self.finding.limit?).abs();
        Some(match self.finding.check {
            // a share of a temperature has no meaning
            "flow-temperature" | "floor-surface" => self.speak.difference(left),
            "head" => self.speak.pressure(left),
            _ if margin < 0.01 => "less than 1 % of the limit".to_owned(),
            // rounded down: `only 10 %` of a margin that must be 10 % would be no reason
            _ => format!(
                "{} of the limit",
                self.speak.show.percent((margin * 100.0).floor() / 100.0)
            ),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check::{CHECKS, Kind, Subject};
    use crate::network::reference;
    use crate::survey::Units;

    fn finding(check: &'static str, measured: Option<f64>, limit: Option<f64>) -> Finding {
        Finding {
            check,
            subject: Subject::House,
            state: None,
            kind: Kind::Ratio,
            measured,
            limit,
            margin: None,
            limit_source: String::new(),
            verdict: Verdict::Fails,
            rests_on: Vec::new(),
            tight_because: None,
            detail: Vec::new(),
            names: Vec::new(),
        }
    }

    #[test]
    fn every_check_has_words_of_its_own() {
        let case = include_str!("../../tests/data/networks/buffer_4port_40.json");
        let network = reference::load(case).unwrap();
        let units = Units::default();
        let speak = Speak::of(&network, &units);
        for check in CHECKS {
            // codes without words of their own are shown between grave accents
            let spoken = |measured, limit| {
                !say(&speak, &finding(check.code, measured, limit), "it")
                    .found
                    .contains('`')
            };
            let over = spoken(Some(2.0), Some(1.0));
            let under = spoken(Some(1.0), Some(2.0));
            assert!(
                over && under || spoken(Some(1.0), None),
                "{}: no words",
                check.code
            );
        }
    }
}
