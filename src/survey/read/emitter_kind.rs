//! What an emitter is: rated output, panel, floor loop; its room, valves and sizes.

use super::emitter::Body;
use super::reader::{Fields, Reader, Value, list, short, what};
use super::text::Text;
use crate::catalogue::PanelProblem;
use crate::diag::Diagnostic;
use crate::quantity::{Celsius, Kv, Metre, Watt};
use crate::survey::keys::Dim;
use crate::survey::{At, EmitterKind, EmitterValve, RoomRef};
use crate::units::Sign;
use std::collections::BTreeSet;

/// Narrowest and lowest wall for a radiator, m: less is a slip of the unit.
const LEAST_WALL_M: f64 = 0.1;

impl Reader<'_> {
    pub(super) fn emitter_kind(
        &mut self,
        fields: &mut Fields<'_, '_>,
        body: Option<&Body>,
    ) -> Option<EmitterKind> {
        match body.map(|(k, _)| *k) {
            Some("rated") => self.rated(fields),
            Some("panel") => self.panel(fields),
            Some("loop") => {
                let circuit = self.leg(fields, "loop");
                let w_per_k = self.number(fields, "per_kelvin");
                let area_m2 = self.number(fields, "area");
                let spacing = self.size(fields, "spacing");
                let covering_m2k_w = self.number(fields, "covering");
                let resistance_m2k_w = self.number(fields, "resistance");
                let zone = self
                    .choice(fields, "surface")
                    .map(|w| At::new(w.value.to_owned(), w.span));
                Some(EmitterKind::Floor {
                    w_per_k,
                    area_m2,
                    spacing,
                    covering_m2k_w,
                    resistance_m2k_w,
                    zone,
                    circuit: circuit?,
                })
            }
            Some(_) => Some(EmitterKind::Fixed),
            None => {
                let also = self.emitter_word(fields);
                self.say(
                    Diagnostic::error("emitter-kind-missing", fields.span.clone(), format!("{} does not say how much it can give", fields.subject))
                        .label("`rated`, `panel`, `loop` or `draws` is missing")
                        .help(match also {
                            Some(kind) => format!("give the rated output of the {}: `rated = \"500 W\"`", kind.value),
                            None => "a radiator: `rated = \"2400 W\"` or `panel = \"22 600x1600\"`; a floor loop: `loop = \"ml16 92m\"`; anything of fixed heat: `draws = \"3 kW\"`".to_owned(),
                        }),
                );
                None
            }
        }
    }

    pub(super) fn rated(&mut self, fields: &mut Fields<'_, '_>) -> Option<EmitterKind> {
        let kind = self
            .emitter_word(fields)
            .map_or_else(|| "radiator".to_owned(), |k| k.value);
        let exponent = self.number(fields, "exponent");
        let value = fields.get("rated")?;
        let what = what(fields, "rated");
        let Some(s) = value.get_ref().as_str() else {
            let output = self.power_of(&what, value)?;
            return Some(EmitterKind::Rated {
                output,
                at: None,
                exponent,
                kind,
            });
        };
        let text = Text::new(self.file, value.span(), s);
        let Some((output, at)) = super::pump::split_word(&text.s, "at") else {
            let output = self.power_of(&what, value)?;
            return Some(EmitterKind::Rated {
                output,
                at: None,
                exponent,
                kind,
            });
        };
        let output = self.figure_in(&what, &text, output, Dim::Power, Sign::Positive);
        let parts: Vec<&str> = at.split('/').collect();
        let [flow, back, room] = parts.as_slice() else {
            self.say(
                Diagnostic::error(
                    "rating",
                    text.span_of(at),
                    format!("{what}: the rating conditions are three temperatures"),
                )
                .label("expected flow/return/room")
                .help("write it like `\"2400 W at 75/65/20\"`"),
            );
            return None;
        };
        let mut one = |part| self.figure_in(&what, &text, part, Dim::Temperature, Sign::Any);
        let (flow_c, back_c, room_c) = (one(flow), one(back), one(room));
        let (flow_c, back_c, room_c) = (flow_c?, back_c?, room_c?);
        if !(flow_c > back_c && back_c > room_c) {
            self.say(
                Diagnostic::error(
                    "rating",
                    text.span_of(at),
                    format!("{what}: flow must be warmer than return, and return than the room"),
                )
                .label("expected flow/return/room, falling")
                .help("write it like `\"2400 W at 75/65/20\"`"),
            );
            return None;
        }
        let at = At::new(
            (Celsius(flow_c), Celsius(back_c), Celsius(room_c)),
            text.span_of(at),
        );
        Some(EmitterKind::Rated {
            output: At::new(Watt(output?), value.span()),
            at: Some(at),
            exponent,
            kind,
        })
    }

    pub(super) fn emitter_word(&mut self, fields: &mut Fields<'_, '_>) -> Option<At<String>> {
        let word = self.word(fields, "kind")?;
        if let Some(row) = self.catalogue.emitter(&word.value) {
            return Some(At::new(row.word.clone(), word.span));
        }
        let words: Vec<&str> = self
            .catalogue
            .emitters
            .iter()
            .map(|e| e.word.as_str())
            .collect();
        self.unknown_word(&what(fields, "kind"), &word.value, word.span, &words);
        None
    }

    pub(super) fn power_of(&mut self, what: &str, value: &Value<'_>) -> Option<At<Watt>> {
        let v = self.figure(what, value, Dim::Power, Sign::Positive)?;
        Some(At::new(Watt(v.value), v.span))
    }

    pub(super) fn panel(&mut self, fields: &mut Fields<'_, '_>) -> Option<EmitterKind> {
        const EXAMPLE: &str = "\"22 600x1600\" (type, height x width in mm)";
        let value = fields.get("panel")?;
        let what = what(fields, "panel");
        let text = self.text(&what, value, EXAMPLE)?;
        let s = text.s.trim();
        let Some((panel_type, size)) = s.split_once(char::is_whitespace) else {
            self.say(
                Diagnostic::error("panel-size", text.whole(), format!("{what} has no size"))
                    .label("expected type and size")
                    .help(format!("write it like {EXAMPLE}")),
            );
            return None;
        };
        let size = size.trim();
        let sizes = self.sizes(&what, &text, size, 2, EXAMPLE)?;
        let [height, width] = sizes.as_slice() else {
            return None;
        };
        let (height, width) = (Metre(*height), Metre(*width));
        if let Err(problem) = self.catalogue.panel(panel_type, height, width) {
            self.no_panel(&what, &text, panel_type, size, problem);
            return None;
        }
        Some(EmitterKind::Panel {
            panel_type: panel_type.to_owned(),
            height,
            width,
            span: text.whole(),
        })
    }

    pub(super) fn no_panel(
        &mut self,
        what: &str,
        text: &Text,
        panel_type: &str,
        size: &str,
        problem: PanelProblem,
    ) {
        let types = || {
            list(
                self.catalogue
                    .panel_types
                    .iter()
                    .map(|t| t.panel_type.as_str()),
            )
        };
        let diagnostic = match problem {
            PanelProblem::UnknownType(near) => Diagnostic::error(
                "panel-type",
                text.span_of(panel_type),
                format!(
                    "{what}: the catalogue has no panel radiator of type `{}`",
                    short(panel_type)
                ),
            )
            .label("not a type of panel")
            .help(match near {
                Some(near) => format!("did you mean `{near}`? The types are {}", types()),
                None => format!(
                    "the types are {}; for any other radiator write its `rated` output",
                    types()
                ),
            }),
            PanelProblem::Height(low, high) => {
                let mm = |m: Metre| (m.0 * 1000.0).round();
                Diagnostic::error(
                    "panel-size",
                    text.span_of(size),
                    format!("{what}: the catalogue has this type from {} to {} mm high", mm(low), mm(high)),
                )
                .label("the first figure is the height")
                .help("the size is height x width in mm, as in `\"22 600x1600\"`; for any other size write its `rated` output")
            }
        };
        self.say(diagnostic);
    }

    /// `600x1600`, `1200x700x150`: sizes in mm, or with a unit at the end for all or at each.
    pub(super) fn sizes(
        &mut self,
        what: &str,
        text: &Text,
        part: &str,
        n: usize,
        example: &str,
    ) -> Option<Vec<f64>> {
        let words: Vec<&str> = part.split(['x', 'X', '×', '*']).collect();
        if words.len() != n {
            self.say(
                Diagnostic::error(
                    "panel-size",
                    text.span_of(part),
                    format!("{what} expects {n} sizes, and finds {}", words.len()),
                )
                .label(format!("expected {n} sizes joined by `x`"))
                .help(format!("write it like {example}")),
            );
            return None;
        }
        // `600 x 1600 cm` would mean cm for both
        let unit = words.last().map(|w| {
            w.trim_start_matches(|c: char| c.is_ascii_digit() || c == '.' || c.is_whitespace())
        });
        let unit = unit.filter(|_| {
            words[..n - 1]
                .iter()
                .all(|w| w.trim().ends_with(|c: char| c.is_ascii_digit()))
        });
        let mut sizes = Vec::with_capacity(n);
        for word in &words {
            let m = self.figure_in(what, text, word.trim(), Dim::Size, Sign::Positive)?;
            sizes.push(m);
        }
        if let (Some(unit), Some((_, first))) =
            (unit.filter(|u| !u.trim().is_empty()), sizes.split_last())
            && let Ok(one) = crate::units::read(Dim::Size, &format!("1 {}", unit.trim()))
        {
            let scaled: Vec<f64> = first.iter().map(|m| m * 1000.0 * one).collect();
            sizes.splice(..n - 1, scaled);
        }
        Some(sizes)
    }

    pub(super) fn wall(
        &mut self,
        fields: &mut Fields<'_, '_>,
    ) -> Option<At<(Metre, Metre, Metre)>> {
        const EXAMPLE: &str = "\"1200x700x150\" (width x height x depth in mm)";
        let value = fields.get("wall")?;
        let what = what(fields, "wall");
        let text = self.text(&what, value, EXAMPLE)?;
        let sizes = self.sizes(&what, &text, text.s.trim(), 3, EXAMPLE)?;
        let [width, height, depth] = sizes.as_slice() else {
            return None;
        };
        // metres written as millimetres, most likely
        if *width < LEAST_WALL_M || *height < LEAST_WALL_M {
            self.say(
                Diagnostic::error(
                    "wall-size",
                    value.span(),
                    format!(
                        "{what} is too small for any radiator: {}",
                        short(text.s.trim())
                    ),
                )
                .label("expected the widest, highest and deepest radiator that fits, mm")
                .help(format!("write it like {EXAMPLE}; plain numbers are mm")),
            );
            return None;
        }
        Some(At::new(
            (Metre(*width), Metre(*height), Metre(*depth)),
            value.span(),
        ))
    }

    pub(super) fn room_ref(
        &mut self,
        fields: &mut Fields<'_, '_>,
        rooms: &BTreeSet<String>,
    ) -> Option<At<RoomRef>> {
        let value = fields.get("room")?;
        let what = what(fields, "room");
        let name = value.get_ref().as_str().map(str::trim);
        let is_name = |s: &str| {
            rooms.contains(s) || !s.starts_with(|c: char| c.is_ascii_digit() || "+-−.".contains(c))
        };
        if let Some(name) = name.filter(|s| !s.is_empty() && is_name(s)) {
            let name = At::new(name.to_owned(), value.span());
            if !rooms.contains(&name.value) {
                self.unknown_name("room", &name, rooms.iter().map(String::as_str));
                return None;
            }
            return Some(At::new(RoomRef::Named(name.value), name.span));
        }
        let t = self.figure(&what, value, Dim::Temperature, Sign::Any)?;
        Some(At::new(RoomRef::Temperature(Celsius(t.value)), t.span))
    }

    pub(super) fn valves(
        &mut self,
        fields: &mut Fields<'_, '_>,
        radiator: bool,
    ) -> (Option<At<EmitterValve>>, Option<At<Kv>>) {
        let mut valve = self.valve(fields, "valve");
        let mut lockshield = self.kv_or_none(fields, "lockshield");
        if !radiator {
            return (valve, lockshield.flatten());
        }
        // a silent file means the usual valves: no place of their own in the text
        if let (false, Some(row)) = (fields.has("valve"), self.catalogue.valve("thermostatic")) {
            self.assume(
                &fields.subject,
                format!("{} valve kv {}", row.word, row.kv.0),
                row.source.as_str(),
            );
            valve = Some(At::new(
                EmitterValve {
                    kind: row.word.clone(),
                    kv: row.kv,
                },
                0..0,
            ));
        }
        if let (false, Some(row)) = (fields.has("lockshield"), self.catalogue.valve("lockshield")) {
            self.assume(
                &fields.subject,
                format!("lockshield kv {} fully open", row.kv.0),
                row.source.as_str(),
            );
            lockshield = Some(Some(At::new(row.kv, 0..0)));
        }
        (valve, lockshield.flatten())
    }

    /// A kv, or `none`: then `Some(None)`.
    pub(super) fn kv_or_none(
        &mut self,
        fields: &mut Fields<'_, '_>,
        key: &'static str,
    ) -> Option<Option<At<Kv>>> {
        let none = fields
            .get(key)?
            .get_ref()
            .as_str()
            .is_some_and(|s| s.trim().eq_ignore_ascii_case("none"));
        if none {
            return Some(None);
        }
        self.kv(fields, key).map(Some)
    }
}
