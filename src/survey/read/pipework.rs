//! Pairs, single runs, rings, one-pipe loops and manifolds.

use super::names::Role;
use super::reader::{Fields, Reader, Value, in_order, short, what};
use super::text::Text;
use crate::diag::{Diagnostic, Span};
use crate::quantity::{Kelvin, Metre};
use crate::survey::keys;
use crate::survey::leg;
use crate::survey::{
    At, Leg, Manifold, Pair, PipeOption, PipeSize, PipeWord, Range, Ring, SingleRun, Stretch,
};
use toml::de::DeTable;

const ROUTE: &str = "[\"cupboard\", \"landing\", \"cu22 3m 2 elbow\"]";

/// From, to, leg.
struct Route {
    name: At<String>,
    from: At<String>,
    to: At<String>,
    leg: At<Leg>,
}

impl Reader<'_> {
    /// `[pair]`.
    pub fn pairs(&mut self, table: &DeTable<'_>) -> Vec<Pair> {
        let routes = self.routes("pair", table);
        routes
            .into_iter()
            .map(
                |Route {
                     name,
                     from,
                     to,
                     leg,
                 }| Pair {
                    name,
                    from,
                    to,
                    leg,
                },
            )
            .collect()
    }

    /// `[run]`.
    pub fn runs(&mut self, table: &DeTable<'_>) -> Vec<SingleRun> {
        let routes = self.routes("run", table);
        routes
            .into_iter()
            .map(
                |Route {
                     name,
                     from,
                     to,
                     leg,
                 }| SingleRun {
                    name,
                    from,
                    to,
                    leg,
                },
            )
            .collect()
    }

    fn routes(&mut self, sort: &str, table: &DeTable<'_>) -> Vec<Route> {
        let mut routes = Vec::new();
        for (name, value) in in_order(table) {
            let what = format!("{sort} `{}`", short(&name.value));
            let Some(parts) = self.list(&what, value, ROUTE) else {
                continue;
            };
            let [from, to, leg] = parts else {
                self.say(
                    Diagnostic::error(
                        "route-parts",
                        value.span(),
                        format!("{what} has {} parts, expected three", parts.len()),
                    )
                    .label("expected [from, to, leg]")
                    .help(format!("write it like `{} = {ROUTE}`", short(&name.value))),
                );
                continue;
            };
            let from = self.name_in(&what, from);
            let to = self.name_in(&what, to);
            let roles = match sort {
                "pair" => (Role::PairFrom, Role::PairTo),
                _ => (Role::RunFrom, Role::RunTo),
            };
            for (end, role) in [(&from, roles.0), (&to, roles.1)] {
                if let Some(end) = end {
                    self.meet(end, role, &what);
                }
            }
            let leg = self.leg_of(&what, leg);
            if let (Some(from), Some(to)) = (&from, &to)
                && from.value == to.value
            {
                self.say(
                    Diagnostic::error(
                        "run-to-itself",
                        to.span.clone(),
                        format!("{what} begins and ends at `{}`", short(&to.value)),
                    )
                    .label("the same place")
                    .also(from.span.clone(), "where it begins")
                    .help("name the place that it leads to"),
                );
                continue;
            }
            // a leg that cannot be read still joins its two places, so that one mistake gives one message
            let leg = leg.unwrap_or_else(|| At::new(no_leg(value.span()), value.span()));
            if let (Some(from), Some(to)) = (from, to) {
                routes.push(Route {
                    name,
                    from,
                    to,
                    leg,
                });
            }
        }
        routes
    }

    pub(super) fn name_in(&mut self, what: &str, value: &Value<'_>) -> Option<At<String>> {
        let text = self.text(what, value, "\"cupboard\"")?;
        Some(At::new(text.s.trim().to_owned(), value.span()))
    }

    /// The leg of a key.
    pub fn leg(&mut self, fields: &mut Fields<'_, '_>, key: &'static str) -> Option<At<Leg>> {
        let value = fields.get(key)?;
        self.leg_of(&what(fields, key), value)
    }

    /// A leg that stands at `value`.
    pub fn leg_of(&mut self, what: &str, value: &Value<'_>) -> Option<At<Leg>> {
        let text = self.text(what, value, "\"cu22 4m 3 elbow\"")?;
        self.leg_text(&text).map(|leg| At::new(leg, value.span()))
    }

    /// `[ring.NAME]`.
    pub fn rings(&mut self, table: &DeTable<'_>) -> Vec<Ring> {
        self.each("ring", table, |r, name, fields| {
            let from = r.place(fields, "from");
            if from.is_none() && !fields.has("from") {
                r.missing(fields, "from", ": the place that it is fed from");
            }
            let flow = r.walk(fields, "flow", false);
            let back = r.walk(fields, "return", true);
            let ((_, flow), (start, back)) = (flow?, back?);
            let (from, start) = (from?, start?);
            r.ring_agrees(&from, &flow, &start, &back);
            Some(Ring {
                name,
                from,
                flow,
                return_start: start,
                back,
            })
        })
    }

    /// Legs and names in turn; the first name apart if the walk begins with one.
    fn walk(
        &mut self,
        fields: &mut Fields<'_, '_>,
        key: &'static str,
        named_first: bool,
    ) -> Option<(Option<At<String>>, Vec<Stretch>)> {
        let Some(value) = fields.get(key) else {
            self.missing(fields, key, "");
            return None;
        };
        let what = what(fields, key);
        let example = keys::section("ring")
            .and_then(|s| s.key(key))
            .map_or("", |k| k.example);
        let parts = self.list(&what, value, example)?;
        let (start, rest) = match parts.split_first() {
            Some((first, rest)) if named_first => (self.name_in(&what, first), rest),
            _ => (None, parts),
        };
        if let Some(start) = &start {
            self.meet(start, Role::RingVisit, &fields.subject);
        }
        let mut good = !named_first || start.is_some();
        let mut stretches = Vec::new();
        for two in rest.chunks(2) {
            let [leg, to] = two else {
                let last = two.first().map_or(value.span(), |v| v.span());
                self.say(
                    Diagnostic::error(
                        "walk-order",
                        last,
                        format!("{what} ends with a leg that leads nowhere"),
                    )
                    .label("expected a name after this leg")
                    .help(format!("legs and names stand in turn: {example}")),
                );
                return None;
            };
            let (leg, to) = (self.leg_of(&what, leg), self.name_in(&what, to));
            if let Some(to) = &to {
                self.meet(to, Role::RingVisit, &fields.subject);
            }
            match (leg, to) {
                (Some(leg), Some(to)) => stretches.push(Stretch { leg, to }),
                _ => good = false,
            }
        }
        if rest.is_empty() {
            self.say(
                Diagnostic::error("walk-order", value.span(), format!("{what} visits nothing"))
                    .label("expected legs and names in turn")
                    .help(format!("write it like {example}")),
            );
            good = false;
        }
        good.then_some((start, stretches))
    }

    /// Flow and return of a ring visit the same emitters in the same order, and the return comes home.
    fn ring_agrees(
        &mut self,
        from: &At<String>,
        flow: &[Stretch],
        start: &At<String>,
        back: &[Stretch],
    ) {
        let out: Vec<&At<String>> = flow.iter().map(|s| &s.to).collect();
        let mut home: Vec<&At<String>> = std::iter::once(start)
            .chain(back.iter().map(|s| &s.to))
            .collect();
        let last = home.pop();
        if let Some(last) = last.filter(|l| l.value != from.value) {
            self.say(
                Diagnostic::error(
                    "ring-not-closed",
                    last.span.clone(),
                    format!(
                        "the return of the ring ends at `{}`, not at `{}`",
                        short(&last.value),
                        short(&from.value)
                    ),
                )
                .label(format!("expected `{}`", short(&from.value)))
                .also(from.span.clone(), "the ring is fed from here")
                .help("the last name of `return` is the place that feeds the ring"),
            );
            return;
        }
        for (a, b) in out.iter().zip(&home) {
            if a.value != b.value {
                let reversed = out
                    .iter()
                    .rev()
                    .map(|a| &a.value)
                    .eq(home.iter().map(|b| &b.value));
                self.say(
                    Diagnostic::error("ring-order", b.span.clone(), format!("the return of the ring meets `{}` where its flow meets `{}`", short(&b.value), short(&a.value)))
                        .label(format!("expected `{}`", short(&a.value)))
                        .also(a.span.clone(), "the flow's order")
                        .help(if reversed {
                            "this is a direct return: write it with [pair]; in a reverse return both pipes visit the emitters in the same order"
                        } else {
                            "both pipes visit the same emitters in the same order"
                        }),
                );
                return;
            }
        }
        if out.len() != home.len() {
            let longer = if out.len() > home.len() { &out } else { &home };
            if let Some(extra) = longer.get(out.len().min(home.len())) {
                self.say(
                    Diagnostic::error(
                        "ring-order",
                        extra.span.clone(),
                        format!("only one pipe of the ring visits `{}`", short(&extra.value)),
                    )
                    .label("not on the other pipe")
                    .help("both pipes visit the same emitters in the same order"),
                );
            }
        }
    }

    /// `[manifold.NAME]`.
    pub fn manifolds(&mut self, table: &DeTable<'_>, drop: Kelvin) -> Vec<Manifold> {
        self.each("manifold", table, |r, name, fields| {
            let (from, leg) = r.fed_from(fields);
            let blend = r.celsius(fields, "blend");
            let own_drop = r.kelvin(fields, "drop");
            let pump = r.pump(fields, own_drop.as_ref().map_or(drop, |d| d.value));
            if let (Some(blend), None, false) = (&blend, &pump, fields.has("pump")) {
                r.say(
                    Diagnostic::error("blend-without-pump", blend.span.clone(), format!("{} blends but has no `pump` of its own", fields.subject))
                        .label("blending needs a pump")
                        .help("give the pump's curve: `pump = [\"5 m at 0 l/min\", \"0.5 m at 25 l/min\"]`"),
                );
            }
            let port = r.kv_or_none(fields, "port").flatten();
            Some(Manifold { name, from, leg, blend, pump, port, port_table: r.word(fields, "port_table"), drop: own_drop })
        })
    }

    /// `from` and `leg` of a thing that may instead stand at the end of a pair.
    pub fn fed_from(
        &mut self,
        fields: &mut Fields<'_, '_>,
    ) -> (Option<At<String>>, Option<At<Leg>>) {
        let from = self.place(fields, "from");
        let leg = self.leg(fields, "leg");
        match (fields.has("from"), fields.has("leg")) {
            (true, false) => self.missing(fields, "leg", ": the pipe from there"),
            (false, true) => self.missing(fields, "from", ": where its leg begins"),
            _ => {}
        }
        (from, leg)
    }

    /// The place that a key names.
    pub fn place(&mut self, fields: &mut Fields<'_, '_>, key: &'static str) -> Option<At<String>> {
        let name = self.word(fields, key)?;
        self.meet(&name, Role::Feeds, &fields.subject);
        Some(name)
    }

    /// Reads each named table of a section.
    pub fn each<'d, 'i, T>(
        &mut self,
        section: &'static str,
        table: &'d DeTable<'i>,
        mut read: impl FnMut(&mut Self, At<String>, &mut Fields<'d, 'i>) -> Option<T>,
    ) -> Vec<T> {
        let Some(section) = keys::section(section) else {
            return Vec::new();
        };
        let mut all = Vec::new();
        for (name, value) in in_order(table) {
            let subject = format!("{} `{}`", section.name, short(&name.value));
            let example = format!("[{}.{}]", section.name, short(&name.value));
            if let Some(table) = self.table(&subject, value, &example) {
                let mut fields = self.fields(section, subject, name.span.clone(), table);
                all.extend(read(self, name, &mut fields));
                self.finish(&fields);
            }
        }
        all
    }

    fn leg_text(&mut self, text: &Text) -> Option<Leg> {
        match leg::parse_placed(&text.s, &|r| text.span(r), self.catalogue) {
            Ok(leg) => Some(leg),
            Err(found) => {
                self.found.extend(found);
                None
            }
        }
    }
}

/// Stands for a leg that could not be read; never leaves the reader, because the file has an error then.
fn no_leg(span: Span) -> Leg {
    let none = Range {
        likeliest: Metre(1.0),
        low: Metre(1.0),
        high: Metre(1.0),
    };
    Leg {
        pipe: PipeWord {
            options: vec![PipeOption {
                pipe: PipeSize::Bore {
                    bore: none.clone(),
                    roughness: None,
                },
                odds: None,
                span: span.clone(),
            }],
            guess: false,
            shared: None,
        },
        length: none,
        length_shared: None,
        items: Vec::new(),
        lies: None,
        lagging: None,
        storey: None,
        condition: None,
        span,
    }
}
