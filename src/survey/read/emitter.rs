//! Emitters, with what `like` and `defaults` give them.

use super::reader::{Fields, Reader, Value, in_order, list, short};
use crate::diag::{Diagnostic, nearest};
use crate::quantity::{Celsius, Metre};
use crate::survey::keys;
use crate::survey::{At, Emitter, EmitterKind, Range, RoomRef};
use std::collections::{BTreeMap, BTreeSet};
use toml::de::DeTable;

/// Room temperature where nothing is said.
const ROOM: Celsius = Celsius(20.0);

/// Longest chain of emitters that are each like the next; a person loses track far earlier.
const LONGEST_LIKE: usize = 16;

/// A key that decides what an emitter is, and the keys that go with it alone.
pub(super) type Body = (&'static str, &'static [&'static str]);

/// What an emitter may be.
const BODIES: &[Body] = &[
    ("rated", &["kind", "exponent"]),
    ("panel", &[]),
    (
        "loop",
        &[
            "per_kelvin",
            "area",
            "spacing",
            "covering",
            "resistance",
            "surface",
        ],
    ),
    ("draws", &[]),
];

type Entries<'d, 'i> = Vec<(At<String>, &'d Value<'i>)>;

/// What the emitters' tables stand on.
pub(super) struct Ground<'d, 'i> {
    /// `defaults.emitter`.
    pub defaults: Entries<'d, 'i>,
    /// Emitters that a ring, a loop or a run names.
    pub on_the_way: BTreeSet<String>,
    /// Rooms of the `[room]` table.
    pub rooms: BTreeSet<String>,
}

impl Reader<'_> {
    /// `defaults = { emitter = { … } }`.
    pub fn defaults<'d, 'i>(&mut self, value: &'d Value<'i>) -> Entries<'d, 'i> {
        let example = "`[defaults.emitter]` with lines below it";
        let Some(table) = self.table("`defaults`", value, example) else {
            return Vec::new();
        };
        let (Some(section), Some(emitter)) = (keys::section("defaults"), keys::section("emitter"))
        else {
            return Vec::new();
        };
        let mut fields = self.fields(section, "`defaults`".into(), value.span(), table);
        let Some(table) = fields
            .get("emitter")
            .and_then(|v| self.table("`defaults.emitter`", v, example))
        else {
            return Vec::new();
        };
        let fields = self.fields(emitter, "`defaults.emitter`".into(), value.span(), table);
        let entries = in_order(table);
        self.body(&fields, &entries);
        if let Some(span) = fields.key_span("like") {
            self.say(
                Diagnostic::error(
                    "key-does-not-fit",
                    span,
                    "`defaults.emitter` cannot be like an emitter",
                )
                .label("not here")
                .help("write the keys out, or write `like` at each emitter"),
            );
        }
        entries
    }

    /// All emitters, in file order.
    pub fn emitters<'d, 'i>(
        &mut self,
        table: &'d DeTable<'i>,
        ground: &Ground<'d, 'i>,
    ) -> Vec<Emitter> {
        let mut tables: BTreeMap<String, Entries<'d, 'i>> = BTreeMap::new();
        let names = in_order(table);
        for (name, value) in &names {
            if let Some(t) = value.get_ref().as_table() {
                tables.insert(name.value.clone(), in_order(t));
            }
        }
        let mut emitters = Vec::new();
        for (name, value) in &names {
            let subject = format!("emitter `{}`", short(&name.value));
            let example = "{ from = \"landing\", leg = \"cu15 4m\", rated = \"2400 W\", room = 18, needs = 800 }";
            let Some(table) = self.table(&subject, value, example) else {
                continue;
            };
            let Some(section) = keys::section("emitter") else {
                continue;
            };
            let mut fields = self.fields(section, subject, name.span.clone(), table);
            let own = self.body(&fields, &in_order(table));
            let mut inherited: Vec<&Entries<'d, 'i>> = self.likes(name, &mut fields, &tables);
            inherited.push(&ground.defaults);
            let mut body = own;
            for layer in inherited {
                let mut except: Vec<&str> = vec!["like"];
                if ground.on_the_way.contains(&name.value) {
                    except.push("from");
                }
                // the defaults' tails are those of radiators; a floor loop ends on its manifold unless it says more
                let loop_of_its_own = body.is_some_and(|(kept, _)| *kept == "loop");
                if loop_of_its_own && std::ptr::eq(layer, &ground.defaults) {
                    except.extend(["leg", "return_leg"]);
                }
                let theirs = BODIES
                    .iter()
                    .find(|(k, _)| layer.iter().any(|(key, _)| key.value == *k));
                let keep = body.or(theirs);
                for (k, with) in BODIES {
                    if keep.is_some_and(|(kept, _)| kept != k) {
                        except.push(k);
                        except.extend_from_slice(with);
                    }
                }
                fields.fall_back(layer, &except);
                body = keep;
            }
            if let Some(emitter) = self.emitter(name, &mut fields, body, ground) {
                emitters.push(emitter);
            }
            self.finish(&fields);
        }
        emitters
    }

    /// What the emitter's own table says that it is; two things at once are an error.
    fn body(
        &mut self,
        fields: &Fields<'_, '_>,
        entries: &[(At<String>, &Value<'_>)],
    ) -> Option<&'static Body> {
        let place = |k: &str| {
            entries
                .iter()
                .find(|(key, _)| key.value == k)
                .map(|(key, _)| key.span.clone())
        };
        let mut bodies = BODIES.iter().filter(|(k, _)| place(k).is_some());
        let first = bodies.next()?;
        if let (Some(second), Some(at)) = (bodies.next(), place(first.0))
            && let Some(span) = place(second.0)
        {
            self.say(
                Diagnostic::error(
                    "emitter-two-kinds",
                    span,
                    format!("{} is two things at once", fields.subject),
                )
                .label(format!("`{}` beside `{}`", second.0, first.0))
                .also(at, "here it is said already")
                .help("keep the one that is true"),
            );
        }
        for (other, with) in BODIES.iter().filter(|(k, _)| *k != first.0) {
            for key in *with {
                if let Some(span) = place(key) {
                    self.say(
                        Diagnostic::error(
                            "key-does-not-fit",
                            span,
                            format!("{} has `{key}`, which goes with `{other}`", fields.subject),
                        )
                        .label(format!("not with `{}`", first.0))
                        .help(format!(
                            "take `{key}` out, or write `{other}` in place of `{}`",
                            first.0
                        )),
                    );
                }
            }
        }
        Some(first)
    }

    /// The tables that an emitter is like, nearest first.
    fn likes<'t, 'd, 'i>(
        &mut self,
        name: &At<String>,
        fields: &mut Fields<'d, 'i>,
        tables: &'t BTreeMap<String, Entries<'d, 'i>>,
    ) -> Vec<&'t Entries<'d, 'i>> {
        let mut chain = Vec::new();
        let mut met = vec![name.value.clone()];
        let Some(mut next) = self.word(fields, "like") else {
            return chain;
        };
        loop {
            let Some(entries) = tables.get(&next.value) else {
                // a wrong word further down the chain is said at the emitter that holds it
                if met.len() == 1 {
                    self.unknown_name("emitter", &next, tables.keys().map(String::as_str));
                }
                return chain;
            };
            if met.contains(&next.value) {
                if met.first() == Some(&next.value) {
                    self.say(
                        Diagnostic::error(
                            "like-cycle",
                            next.span.clone(),
                            format!(
                                "{} is like itself: {} → {}",
                                fields.subject,
                                met.join(" → "),
                                next.value
                            ),
                        )
                        .label("leads back")
                        .help("one emitter of the circle must be written out in full"),
                    );
                }
                return chain;
            }
            if met.len() >= LONGEST_LIKE {
                self.say(
                    Diagnostic::error(
                        "like-cycle",
                        next.span.clone(),
                        format!(
                            "{} is like another that is like another, and so on without end",
                            fields.subject
                        ),
                    )
                    .label(format!("more than {LONGEST_LIKE} emitters along"))
                    .help("let each be like the one that is written out in full"),
                );
                return chain;
            }
            met.push(next.value.clone());
            chain.push(entries);
            let like = entries.iter().find(|(k, _)| k.value == "like");
            let Some((word, span)) =
                like.and_then(|(_, v)| Some((v.get_ref().as_str()?, v.span())))
            else {
                return chain;
            };
            next = At::new(word.trim().to_owned(), span);
        }
    }

    /// Says that a name is none of those that the file has.
    pub fn unknown_name<'n>(
        &mut self,
        sort: &str,
        name: &At<String>,
        names: impl Iterator<Item = &'n str> + Clone,
    ) {
        let near = if self.full() {
            None
        } else {
            nearest(&name.value, names.clone())
        };
        let help = match near {
            Some(near) => format!("did you mean `{near}`?"),
            None => {
                let some: Vec<&str> = names.take(12).collect();
                match some.is_empty() {
                    true => format!("the file has no {sort} at all"),
                    false => format!("in the file there is {}", list(some)),
                }
            }
        };
        let code = match sort {
            "emitter" => "unknown-emitter",
            "room" => "unknown-room",
            "zone" => "unknown-zone",
            "pair" => "unknown-pair",
            "place" => "unknown-place",
            _ => "unknown-name",
        };
        self.say(
            Diagnostic::error(
                code,
                name.span.clone(),
                format!("there is no {sort} `{}`", short(&name.value)),
            )
            .label(format!("no {sort} has this name"))
            .help(help),
        );
    }

    fn emitter(
        &mut self,
        name: &At<String>,
        fields: &mut Fields<'_, '_>,
        body: Option<&Body>,
        ground: &Ground<'_, '_>,
    ) -> Option<Emitter> {
        let from = self.place(fields, "from");
        let mut leg = self.leg(fields, "leg");
        if let (Some(leg), Some(own)) = (&mut leg, self.number(fields, "length")) {
            let length = Metre(own.value);
            leg.value.length = Range {
                likeliest: length,
                low: length,
                high: length,
            };
        }
        let return_leg = self.leg(fields, "return_leg");
        let room = self.room_ref(fields, &ground.rooms);
        let mut needs = self.power(fields, "needs");
        let draws = self.power(fields, "draws");
        let kind = self.emitter_kind(fields, body);
        if let Some(EmitterKind::Fixed) = &kind {
            needs = needs.or_else(|| draws.clone());
        }
        let drop = self.kelvin(fields, "drop");
        let (valve, lockshield) = self.valves(
            fields,
            matches!(
                kind,
                Some(EmitterKind::Rated { .. } | EmitterKind::Panel { .. })
            ),
        );
        let valve_table = self.word(fields, "valve_table");
        let lockshield_table = self.word(fields, "lockshield_table");
        let lockshield_set = self.kv_or_none(fields, "set").flatten();
        let loss = self.loss(fields, "loss");
        let always_open = self.flag(fields, "always_open");
        let water = self.volume(fields, "water");
        let wall = self.wall(fields);
        let storey = self.word(fields, "storey").map(|s| s.value);
        let order = self.number(fields, "order").map(|o| o.value);
        let zone = self.word(fields, "zone");
        let factor = self.number(fields, "factor").map_or(1.0, |f| f.value);
        let on_the_way = ground.on_the_way.contains(&name.value);
        if let (Some(from), true) = (&from, on_the_way) {
            self.say(
                Diagnostic::error(
                    "joined-twice",
                    from.span.clone(),
                    format!(
                        "{} is joined twice: by `from` and by a ring, loop or run that names it",
                        fields.subject
                    ),
                )
                .label("a second joint")
                .help("take `from` out"),
            );
        }
        if from.is_none() && !on_the_way && !fields.has("from") {
            self.say(
                Diagnostic::error(
                    "emitter-not-joined",
                    name.span.clone(),
                    format!("{} is joined to nothing", fields.subject),
                )
                .label("no `from`, and no ring, loop or run names it")
                .help("say where its tails are teed from: `from = \"landing\"`"),
            );
        }
        let by_run = on_the_way && !fields.has("leg");
        if !fields.has("leg") && !fields.has("loop") && !by_run {
            self.missing(
                fields,
                "leg",
                ": the pipe, length and fittings of one of its tails",
            );
        }
        let needs_is_elsewhere = matches!(
            room,
            Some(At {
                value: RoomRef::Named(_),
                ..
            })
        );
        if !fields.has("needs") && !fields.has("draws") && !needs_is_elsewhere {
            self.missing(
                fields,
                "needs",
                ": the heat that its room needs on the design day",
            );
        }
        let room = match room {
            None if !fields.has("room") && !matches!(kind, Some(EmitterKind::Fixed)) => {
                self.assume(
                    &fields.subject,
                    format!("room at {} °C", ROOM.0),
                    "a usual living room, EN 12831",
                );
                Some(At::new(RoomRef::Temperature(ROOM), 0..0))
            }
            other => other,
        };
        Some(Emitter {
            name: name.clone(),
            from,
            leg,
            return_leg,
            kind: kind?,
            room,
            needs,
            drop,
            valve,
            lockshield,
            lockshield_set,
            valve_table,
            lockshield_table,
            loss,
            always_open,
            water,
            wall,
            storey,
            order,
            zone,
            factor,
            span: name.span.clone(),
        })
    }
}
