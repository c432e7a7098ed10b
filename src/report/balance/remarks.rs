//! What speaks against the settings, alike ones together.

use super::Words;
use crate::balance::{Mark, Valve, Warning};
use crate::report::prose::Prose;
use crate::view::limits::Limit;

impl Words<'_> {
    pub(super) fn remarks(&self) -> Prose {
        let mut said = Vec::new();
        for (i, v) in self.balance.valves.iter().enumerate() {
            let mut of = |text: String| said.push(format!("{}: {text}", self.name(i)));
            v.warnings
                .iter()
                .filter_map(|w| self.alone(w))
                .for_each(&mut of);
            self.moved(v).into_iter().for_each(&mut of);
            self.rounded_off(v).into_iter().for_each(&mut of);
        }
        let n = &self.speak.show;
        let loud = |w: &Warning| match w {
            Warning::Noise(pa, limit) => Some((self.speak.pressure(*pa), limit.clone())),
            _ => None,
        };
        if let Some((each, limit)) = self.together(loud) {
            said.push(format!(
                "Valves that take more than {} and may be heard ({}): {each}.",
                self.speak.pressure(limit.value),
                self.speak.clean(&limit.source)
            ));
        }
        let meek = |w: &Warning| match w {
            Warning::LowAuthority(share, limit) => Some((self.under(*share, limit), limit.clone())),
            _ => None,
        };
        if let Some((each, limit)) = self.together(meek) {
            said.push(format!(
                "Thermostatic heads with authority under {} (share of their valve in the loss from tee to tee): {each}. They change the \
                 flow only when nearly shut; a valve with a presetting of its own in place of the lockshield is steadier.",
                n.number(limit.value, 1)
            ));
        }
        if said.is_empty() {
            return Prose::default();
        }
        let mut out = Prose::headed("What speaks against it");
        said.iter().for_each(|text| out.say("  - ", text));
        out
    }

    /// Every emitter with a warning of one kind, with its figure, and the limit of that kind.
    fn together(
        &self,
        figure: impl Fn(&Warning) -> Option<(String, Limit)>,
    ) -> Option<(String, Limit)> {
        let valves = self.balance.valves.iter().enumerate();
        let all: Vec<(String, Limit)> = valves
            .flat_map(|(i, v)| v.warnings.iter().map(move |w| (i, w)))
            .filter_map(|(i, w)| {
                figure(w).map(|(text, limit)| (format!("{} {text}", self.name(i)), limit))
            })
            .collect();
        let limit = all.first()?.1.clone();
        let each: Vec<String> = all.into_iter().map(|(text, _)| text).collect();
        Some((each.join(", "), limit))
    }

    /// A warning that stands by itself.
    fn alone(&self, warning: &Warning) -> Option<String> {
        let n = &self.speak.show;
        match warning {
            Warning::BelowTable(least) => Some(format!(
                "below the least kv of its table, {}: it lets more through than is wanted even at its smallest setting.",
                n.number(*least, 2)
            )),
            Warning::AboveTable(greatest) => Some(format!(
                "above the greatest kv of its table, {}: it cannot open so far.",
                n.number(*greatest, 2)
            )),
            Warning::NearlyShut(share) => Some(format!(
                "nearly shut, {} of its open kv: a hand hardly sets that, dirt shuts it. A valve of smaller kv is better.",
                n.percent(*share)
            )),
            Warning::Noise(..) | Warning::LowAuthority(..) => None,
        }
    }

    /// A share that is under a limit, with so many decimals that it reads so.
    fn under(&self, share: f64, limit: &Limit) -> String {
        let reads_so = |&d: &i32| {
            let scale = 10.0_f64.powi(d);
            (share * scale).round() < (limit.value * scale).round()
        };
        let decimals = (2..6).find(reads_so).unwrap_or(6);
        self.speak.show.number(share, decimals as usize)
    }

    /// What the card of a valve says of it, in few words.
    pub(super) fn minds(&self, v: &Valve) -> Vec<String> {
        let (s, n) = (&self.speak, &self.speak.show);
        let mut said: Vec<String> = v
            .warnings
            .iter()
            .map(|w| match w {
                Warning::BelowTable(least) => {
                    format!(
                        "below its table, which begins at kv {}",
                        n.number(*least, 2)
                    )
                }
                Warning::AboveTable(most) => {
                    format!("above its table, which ends at kv {}", n.number(*most, 2))
                }
                Warning::NearlyShut(share) => {
                    format!("nearly shut ({} of open): dirt shuts it", n.percent(*share))
                }
                Warning::LowAuthority(share, limit) => format!(
                    "authority {}, under {}: the head hardly steers",
                    self.under(*share, limit),
                    n.number(limit.value, 1)
                ),
                Warning::Noise(pa, limit) => format!(
                    "takes {}, over {}: may be heard",
                    s.pressure(*pa),
                    s.pressure(limit.value)
                ),
            })
            .collect();
        said.extend(self.moved(v));
        said.extend(self.rounded_off(v));
        said
    }

    /// A valve that stands elsewhere now.
    fn moved(&self, v: &Valve) -> Option<String> {
        let stands = v.setter?.stands_kv_m3h?;
        let n = &self.speak.show;
        let (from, to) = (n.number(stands, 2), n.number(v.kv_m3h?, 2));
        (from != to).then(|| format!("it stands at kv {from} now and goes to {to}."))
    }

    /// A ring whose numbers do not come near.
    fn rounded_off(&self, v: &Valve) -> Option<String> {
        let Some(Mark {
            nearest: Some((_, kv)),
            ..
        }) = v.mark
        else {
            return None;
        };
        let wanted = v.kv_m3h.filter(|w| (kv / w - 1.0).abs() > 0.05)?;
        let n = &self.speak.show;
        Some(format!(
            "the nearest number has kv {} where {} is wanted.",
            n.number(kv, 2),
            n.number(wanted, 2)
        ))
    }
}
