//! Head curves, pump modes, losses and valves: texts of several words.

use super::reader::{Fields, Reader, Value, what};
use super::text::Text;
use crate::diag::{Diagnostic, Span};
use crate::quantity::{Kelvin, Kv, Metre, Pressure, VolumeFlow};
use crate::survey::keys::Dim;
use crate::survey::{At, Curve, EmitterValve, Head, ItemKind, LossAt, Pump, PumpMode};
use crate::units::Sign;

const CURVE_EXAMPLE: &str = "[\"7.0 m at 0 l/min\", \"5.6 m at 20 l/min\", \"3.1 m at 30 l/min\"]";
/// Conventional metre of water, only to compare heads that were written in different units.
const PA_PER_M: f64 = 9806.65;
/// Pa that a kv is stated at: 1 bar.
const BAR_PA: f64 = 1e5;
const MODES: &[&str] = &[
    "fixed speed",
    "constant head",
    "proportional head",
    "held to drop",
    "held to",
];

impl Reader<'_> {
    /// The curve of a key, if it is written.
    pub fn curve(&mut self, fields: &mut Fields<'_, '_>, key: &'static str) -> Option<At<Curve>> {
        let value = fields.get(key)?;
        let what = what(fields, key);
        let curve = if value.get_ref().is_str() {
            let text = self.text(&what, value, CURVE_EXAMPLE)?;
            self.coefficients(&what, &text)?
        } else {
            self.points(&what, value)?
        };
        Some(At::new(curve, value.span()))
    }

    fn points(&mut self, what: &str, value: &Value<'_>) -> Option<Curve> {
        let values = self.list(what, value, CURVE_EXAMPLE)?;
        let mut points: Vec<(VolumeFlow, Head, Span)> = Vec::new();
        for v in values {
            if let Some(text) = self.text(what, v, "\"5.6 m at 20 l/min\"")
                && let Some((head, flow)) =
                    self.head_at_flow(what, &text, &text.s, Sign::NotNegative)
            {
                points.push((flow, head, v.span()));
            }
        }
        if values.len() < 2 {
            self.say(
                Diagnostic::error(
                    "curve-one-point",
                    value.span(),
                    format!("{what} needs at least two points"),
                )
                .label(match values.len() {
                    0 => "no point",
                    _ => "one point only",
                })
                .help(format!(
                    "read two or three off the data sheet: {CURVE_EXAMPLE}"
                )),
            );
            return None;
        }
        if points.len() < values.len() {
            return None; // said already
        }
        let mut good = true;
        for pair in points.windows(2) {
            let [(q0, h0, span0), (q1, h1, span1)] = pair else {
                continue;
            };
            let wrong = if q1.0 <= q0.0 {
                Some((
                    "curve-order",
                    "has flows that do not rise from point to point",
                    "this flow is not above the one before",
                ))
            } else if compare_pa(*h1) > compare_pa(*h0) {
                Some((
                    "curve-rises",
                    "rises: more head at more flow, which no pump in a heating circuit gives",
                    "more head than the point before",
                ))
            } else {
                None
            };
            if let Some((code, says, label)) = wrong {
                good = false;
                self.say(
                    Diagnostic::error(code, span1.clone(), format!("{what} {says}"))
                        .label(label)
                        .also(span0.clone(), "the point before")
                        .help("write the points from no flow upwards, head falling or level; check for a slipped decimal point"),
                );
            }
        }
        good.then(|| Curve::Points(points.into_iter().map(|(q, h, _)| (q, h)).collect()))
    }

    /// `7.5 m - 0.1 m per m3/h - 0.9 m per (m3/h)^2`.
    fn coefficients(&mut self, what: &str, text: &Text) -> Option<Curve> {
        let mut terms: [Option<Head>; 3] = [None; 3];
        for (sign, term) in signed_terms(&text.s) {
            let (head, per) = match split_word(term, "per") {
                Some((head, per)) => (head, Some(per)),
                None => (term, None),
            };
            let power = match per {
                None => 0,
                Some(p) if p.contains('²') || p.replace(' ', "").ends_with("^2") => 2,
                Some(_) => 1,
            };
            let scale = match per {
                None => 1.0,
                Some(p) => {
                    let unit = p.trim().trim_end_matches("^2").trim_end_matches('²').trim();
                    let unit = unit
                        .strip_prefix('(')
                        .and_then(|u| u.strip_suffix(')'))
                        .unwrap_or(unit);
                    let one = format!("1 {unit}");
                    match crate::units::read(Dim::Flow, &one) {
                        Ok(m3_s) => (1.0 / (m3_s * 3600.0)).powi(power),
                        Err(e) => {
                            self.say(e.diagnostic(what, |_| text.span_of(p)));
                            return None;
                        }
                    }
                }
            };
            let head = self.head_in(what, text, head, Sign::Any)?;
            let head = scaled(head, sign * scale);
            let slot = terms.get_mut(power.unsigned_abs() as usize)?;
            if slot.is_some() {
                self.say(
                    Diagnostic::error(
                        "curve-coefficients",
                        text.span_of(term),
                        format!("{what} has two terms of the same power"),
                    )
                    .label("second of its kind")
                    .help("write it like `\"7.5 m - 0.1 m per m3/h - 0.9 m per (m3/h)^2\"`"),
                );
                return None;
            }
            *slot = Some(head);
        }
        let [Some(a), b, c] = terms else {
            self.say(
                Diagnostic::error(
                    "curve-coefficients",
                    text.whole(),
                    format!("{what} has no head at no flow"),
                )
                .label("the first term is missing")
                .help("write it like `\"7.5 m - 0.9 m per (m3/h)^2\"`, or give points"),
            );
            return None;
        };
        if compare_pa(a) <= 0.0 || [b, c].iter().flatten().any(|h| compare_pa(*h) > 0.0) {
            self.say(
                Diagnostic::error(
                    "curve-rises",
                    text.whole(),
                    format!("{what} does not fall as the flow grows"),
                )
                .label("the head must start above zero and fall")
                .help("a falling curve has minus signs: `\"7.5 m - 0.9 m per (m3/h)^2\"`"),
            );
            return None;
        }
        let none = scaled(a, 0.0);
        Some(Curve::Coefficients {
            a,
            b: b.unwrap_or(none),
            c: c.unwrap_or(none),
        })
    }

    /// `5.6 m at 20 l/min`.
    fn head_at_flow(
        &mut self,
        what: &str,
        text: &Text,
        part: &str,
        sign: Sign,
    ) -> Option<(Head, VolumeFlow)> {
        let Some((head, flow)) = split_word(part, "at") else {
            self.say(
                Diagnostic::error(
                    "at-missing",
                    text.span_of(part),
                    format!("{what} needs a head and the flow it is met at"),
                )
                .label("expected `… at …`")
                .help("write it like `\"5.6 m at 20 l/min\"`"),
            );
            return None;
        };
        let head = self.head_in(what, text, head, sign);
        let flow = self.figure_in(what, text, flow, Dim::Flow, sign);
        Some((head?, VolumeFlow(flow?)))
    }

    /// The curve and mode of a thing's own pump.
    pub fn pump(&mut self, fields: &mut Fields<'_, '_>, drop: Kelvin) -> Option<Pump> {
        let curve = self.curve(fields, "pump");
        let mode = self.mode(fields, "mode", drop);
        if let Some(mode) = &mode
            && curve.is_none()
            && !fields.has("pump")
        {
            self.say(
                Diagnostic::error(
                    "key-missing",
                    mode.span.clone(),
                    format!("{} has a `mode` but no `pump`", fields.subject),
                )
                .label("a mode of which pump?")
                .help(format!("give the pump's curve: `pump = {CURVE_EXAMPLE}`")),
            );
        }
        Some(Pump {
            curve: curve?,
            mode,
        })
    }

    /// How a pump is held; `drop` is what `held to drop` means by itself.
    pub fn mode(
        &mut self,
        fields: &mut Fields<'_, '_>,
        key: &'static str,
        drop: Kelvin,
    ) -> Option<At<PumpMode>> {
        let value = fields.get(key)?;
        let what = what(fields, key);
        let text = self.text(&what, value, "\"constant head 20 kPa\"")?;
        let s = text.s.as_str();
        let after = |words| strip_words(s, words);
        let mode = if let Some(rest) = after("fixed speed") {
            match rest.trim() {
                "" => PumpMode::FixedSpeed(1.0),
                rest => PumpMode::FixedSpeed(self.speed(&what, &text, rest)?),
            }
        } else if let Some(rest) = after("constant head") {
            PumpMode::ConstantHead(self.head_in(&what, &text, rest, Sign::Positive)?)
        } else if let Some(rest) = after("proportional head") {
            PumpMode::ProportionalHead(self.head_in(&what, &text, rest, Sign::Positive)?)
        } else if let Some(rest) = after("held to drop") {
            match rest.trim() {
                "" => PumpMode::HeldToDrop(drop),
                rest => PumpMode::HeldToDrop(Kelvin(self.figure_in(
                    &what,
                    &text,
                    rest,
                    Dim::Difference,
                    Sign::Positive,
                )?)),
            }
        } else if let Some(rest) = after("held to") {
            PumpMode::HeldToFlow(VolumeFlow(self.figure_in(
                &what,
                &text,
                rest,
                Dim::Flow,
                Sign::Positive,
            )?))
        } else {
            let words = s.trim_end_matches(|c: char| !c.is_alphabetic());
            self.unknown_word(&what, words, value.span(), MODES);
            return None;
        };
        Some(At::new(mode, value.span()))
    }

    fn speed(&mut self, what: &str, text: &Text, part: &str) -> Option<f64> {
        let speed = self.figure_in(what, text, part, Dim::Share, Sign::Positive)?;
        if speed > 1.0 {
            self.say(
                Diagnostic::error(
                    "share-wrong",
                    text.span_of(part),
                    format!("{what} asks for more than full speed"),
                )
                .label("at most 100%")
                .help("write it like `\"fixed speed 80%\"`"),
            );
            return None;
        }
        Some(speed)
    }

    /// A loss: `kv 4`, `zeta 3`, or `15 kPa at 25 l/min exponent 1.8`.
    pub fn loss(&mut self, fields: &mut Fields<'_, '_>, key: &'static str) -> Option<At<ItemKind>> {
        let value = fields.get(key)?;
        let what = what(fields, key);
        let text = self.text(&what, value, "\"15 kPa at 25 l/min\" or \"kv 4\"")?;
        let s = text.s.trim();
        let kind = if s.to_lowercase().starts_with("kv") || s.to_lowercase().starts_with("cv") {
            ItemKind::Kv(Kv(self.figure_in(
                &what,
                &text,
                s,
                Dim::Kv,
                Sign::Positive,
            )?))
        } else if let Some(n) = strip_words(s, "zeta").or_else(|| s.strip_prefix('ζ')) {
            ItemKind::Zeta(self.figure_in(&what, &text, n, Dim::Number, Sign::NotNegative)?)
        } else {
            let s = strip_words(s, "loss").unwrap_or(s);
            let (s, exponent) = match split_word(s, "exponent") {
                Some((s, n)) => (
                    s,
                    self.figure_in(&what, &text, n, Dim::Number, Sign::Positive)?,
                ),
                None => (s, 2.0),
            };
            if !(1.0..=2.5).contains(&exponent) {
                self.say(
                    Diagnostic::error(
                        "exponent-wrong",
                        value.span(),
                        format!("{what} has an exponent of {exponent}"),
                    )
                    .label("expected 1 (laminar) to 2 (turbulent)")
                    .help("leave it out for 2, which fits valves, strainers and most exchangers"),
                );
                return None;
            }
            let (loss, flow) = self.head_at_flow(&what, &text, s, Sign::Positive)?;
            ItemKind::Loss(LossAt {
                loss,
                flow,
                exponent,
            })
        };
        Some(At::new(kind, value.span()))
    }

    /// The unit's own loss as a loss at a flow: a kv is the loss of 1 bar at so many m³/h.
    pub fn own_loss(
        &mut self,
        fields: &mut Fields<'_, '_>,
        key: &'static str,
    ) -> Option<At<LossAt>> {
        let loss = self.loss(fields, key)?;
        let at = match loss.value {
            ItemKind::Loss(at) => at,
            ItemKind::Kv(kv) => LossAt {
                loss: Head::Pressure(Pressure(BAR_PA)),
                flow: VolumeFlow(kv.0 / 3600.0),
                exponent: 2.0,
            },
            _ => {
                self.say(
                    Diagnostic::error(
                        "unknown-word",
                        loss.span,
                        format!("{} cannot be a zeta: no bore is known", what(fields, key)),
                    )
                    .label("expected a loss at a flow, or a kv")
                    .help("write it like `\"1.2 m at 20 l/min\"`"),
                );
                return None;
            }
        };
        Some(At::new(at, loss.span))
    }

    /// `thermostatic kv 0.5`, or `none`. The kv may be left out if the catalogue knows one.
    pub fn valve(
        &mut self,
        fields: &mut Fields<'_, '_>,
        key: &'static str,
    ) -> Option<At<EmitterValve>> {
        let value = fields.get(key)?;
        let what = what(fields, key);
        let text = self.text(&what, value, "\"thermostatic kv 0.5\"")?;
        let s = text.s.trim();
        if s.eq_ignore_ascii_case("none") {
            let valve = EmitterValve {
                kind: "open".to_owned(),
                kv: Kv(f64::INFINITY),
            };
            return Some(At::new(valve, value.span()));
        }
        let (word, kv) = match split_word(s, "kv").or_else(|| split_word(s, "cv")) {
            Some((word, _)) => (word, Some(s.get(word.len()..).unwrap_or("").trim())),
            None => (s, None),
        };
        let Some(row) = self.catalogue.valve(word) else {
            let words: Vec<&str> = self
                .catalogue
                .valves
                .iter()
                .map(|v| v.word.as_str())
                .chain(["none"])
                .collect();
            let span = if word.is_empty() {
                text.whole()
            } else {
                text.span_of(word)
            };
            self.unknown_word(&what, word, span, &words);
            return None;
        };
        let kv = match kv {
            Some(kv) => self.figure_in(&what, &text, kv, Dim::Kv, Sign::Positive)?,
            None => {
                self.assume(
                    &fields.subject,
                    format!("{} valve kv {}", row.word, row.kv.0),
                    row.source.as_str(),
                );
                row.kv.0
            }
        };
        Some(At::new(
            EmitterValve {
                kind: row.word.clone(),
                kv: Kv(kv),
            },
            value.span(),
        ))
    }
}

/// Pa of a head, metres taken as cold water: good enough to compare two heads, not to calculate with.
fn compare_pa(head: Head) -> f64 {
    match head {
        Head::Fluid(Metre(m)) => m * PA_PER_M,
        Head::Pressure(Pressure(pa)) => pa,
    }
}

fn scaled(head: Head, by: f64) -> Head {
    match head {
        Head::Fluid(m) => Head::Fluid(m * by),
        Head::Pressure(p) => Head::Pressure(p * by),
    }
}

/// `a - b + c` into its terms with their signs; a sign counts only between blanks.
fn signed_terms(s: &str) -> Vec<(f64, &str)> {
    let mut terms = Vec::new();
    let (mut sign, mut start) = (1.0, 0);
    let mut before_blank = false;
    for (i, c) in s.char_indices() {
        let end = i + c.len_utf8();
        if before_blank && "+-−–".contains(c) && s[end..].starts_with(char::is_whitespace) {
            terms.push((sign, s[start..i].trim()));
            sign = if c == '+' { 1.0 } else { -1.0 };
            start = end;
        }
        before_blank = c.is_whitespace();
    }
    terms.push((sign, s[start..].trim()));
    terms
}

/// What stands before and after a word that stands by itself.
pub(super) fn split_word<'t>(s: &'t str, word: &str) -> Option<(&'t str, &'t str)> {
    let mut start = 0;
    for part in s.split_inclusive(char::is_whitespace) {
        if part.trim().eq_ignore_ascii_case(word) {
            return Some((s[..start].trim(), s[start + part.len()..].trim()));
        }
        start += part.len();
    }
    None
}

/// The rest of a text that begins with these words, whatever their case and blanks.
pub(super) fn strip_words<'t>(s: &'t str, words: &str) -> Option<&'t str> {
    let mut rest = s.trim_start();
    for word in words.split(' ') {
        let head = rest.get(..word.len())?;
        if !head.eq_ignore_ascii_case(word) {
            return None;
        }
        let after = &rest[word.len()..];
        if after.starts_with(char::is_alphanumeric) {
            return None;
        }
        rest = after.trim_start();
    }
    Some(rest)
}
