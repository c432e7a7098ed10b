//! Vessels, cylinders, exchangers, tees, bypasses, zones and named states.

use super::reader::{Reader, in_order, short};
use crate::diag::Diagnostic;
use crate::quantity::Kelvin;
use crate::survey::{
    At, Bypass, Cylinder, Exchanger, NamedState, Side, Tee, Vessel, VesselKind, Zone,
};
use toml::de::{DeTable, DeValue};

impl Reader<'_> {
    /// `[vessel.NAME]`.
    pub fn vessels(&mut self, table: &DeTable<'_>, drop: Kelvin) -> Vec<Vessel> {
        self.each("vessel", table, |r, name, fields| {
            let water = r.volume(fields, "water");
            let on = r.word(fields, "on");
            let ports = fields.get("ports");
            let (from, leg) = r.fed_from(fields);
            let pump = r.pump(fields, drop);
            if fields.has("on") {
                for key in ["ports", "from", "leg", "pump", "mode"] {
                    if let Some(span) = fields.key_span(key) {
                        r.say(
                            Diagnostic::error("key-does-not-fit", span, format!("{} stands in series (`on`), so it has no `{key}`", fields.subject))
                                .label("not with `on`")
                                .help("a vessel in series has two ports; for three or four ports take `on` out"),
                        );
                    }
                }
                let on = on?;
                let (pair, side) = match split_side(&on.value) {
                    (pair, Some(side)) => (pair.to_owned(), side),
                    (pair, None) => {
                        r.say(
                            Diagnostic::error("side-missing", on.span.clone(), format!("{} does not say on which pipe of `{}` it stands", fields.subject, short(pair)))
                                .label("flow or return?")
                                .help(format!("write `on = \"{}.return\"` or `on = \"{}.flow\"`", short(pair), short(pair))),
                        );
                        return None;
                    }
                };
                if water.is_none() && !fields.has("water") {
                    r.missing(fields, "water", ": a volume vessel is there for its water");
                }
                let kind = VesselKind::Series { on: At::new(pair, on.span), side };
                return Some(Vessel { name, water, kind, span: fields.span.clone() });
            }
            let Some(ports) = ports else {
                r.missing(fields, "ports", ", nor `on` for a vessel in series");
                return None;
            };
            let four = match ports.get_ref() {
                DeValue::Integer(i) if i.as_str() == "4" => true,
                DeValue::Integer(i) if i.as_str() == "3" => false,
                _ => {
                    r.wrong_type(&format!("`ports` of {}", fields.subject), ports, "3 or 4", "`ports = 4`");
                    return None;
                }
            };
            let kind = match four {
                true => VesselKind::FourPort { from, leg, pump },
                false => VesselKind::ThreePort { from, leg, pump },
            };
            Some(Vessel { name, water, kind, span: fields.span.clone() })
        })
    }

    /// `[cylinder.NAME]`.
    pub fn cylinders(&mut self, table: &DeTable<'_>) -> Vec<Cylinder> {
        self.each("cylinder", table, |r, name, fields| {
            let from = r.place(fields, "from");
            let leg = r.leg(fields, "leg");
            let coil = r.loss(fields, "coil");
            for (key, why) in [
                ("from", ": the place where its diverter stands"),
                ("leg", ": the pipe from the diverter to the coil"),
                ("coil", ": the loss of its coil"),
            ] {
                if !fields.has(key) {
                    r.missing(fields, key, why);
                }
            }
            let coil_area_m2 = r.number(fields, "coil_area");
            let diverter = r.kv_or_none(fields, "diverter").flatten();
            let water = r.volume(fields, "water");
            let store = r.celsius(fields, "store");
            let flow_temperature = r.celsius(fields, "flow_temperature");
            let coil_water = r.volume(fields, "coil_water");
            let unvented = r.flag(fields, "unvented");
            let drop = r.kelvin(fields, "drop");
            Some(Cylinder {
                name,
                from: from?,
                leg: leg?,
                coil: coil?,
                coil_area_m2,
                diverter,
                water,
                store,
                flow_temperature,
                coil_water,
                unvented,
                drop,
            })
        })
    }

    /// `[exchanger.NAME]`.
    pub fn exchangers(&mut self, table: &DeTable<'_>, drop: Kelvin) -> Vec<Exchanger> {
        self.each("exchanger", table, |r, name, fields| {
            let (from, leg) = r.fed_from(fields);
            let near_loss = r.loss(fields, "near");
            let far_loss = r.loss(fields, "far");
            let ua_w_k = r.number(fields, "ua");
            let pump = r.pump(fields, drop);
            let subject = super::reader::what(fields, "fluid");
            let fluid = fields.get("fluid").and_then(|v| r.fluid(&subject, v));
            for (key, why) in [
                ("near", ": its loss on the near side"),
                ("far", ": its loss on the far side"),
                ("ua", ": how much heat it carries"),
                ("pump", ": the far circuit needs one"),
            ] {
                if !fields.has(key) {
                    r.missing(fields, key, why);
                }
            }
            Some(Exchanger {
                name,
                from,
                leg,
                near_loss,
                far_loss,
                ua_w_k,
                pump,
                fluid,
                span: fields.span.clone(),
            })
        })
    }

    /// `[zone.NAME]`.
    pub fn zones(&mut self, table: &DeTable<'_>, drop: Kelvin) -> Vec<Zone> {
        self.each("zone", table, |r, name, fields| {
            let on = r.names(fields, "on");
            let kv = r.kv_or_none(fields, "valve").flatten();
            let pump = r.pump(fields, drop);
            Some(Zone { name, on, kv, pump })
        })
    }

    /// `[bypass.NAME]`.
    pub fn bypasses(&mut self, table: &DeTable<'_>) -> Vec<Bypass> {
        self.each("bypass", table, |r, name, fields| {
            let at = r.place(fields, "at");
            let opening = r.pressure(fields, "opening");
            let kv = r.kv(fields, "kv");
            let leg = r.leg(fields, "leg");
            for (key, why) in [
                ("at", ": the place where it joins flow and return"),
                ("kv", ""),
            ] {
                if !fields.has(key) {
                    r.missing(fields, key, why);
                }
            }
            Some(Bypass {
                name,
                at: at?,
                opening,
                kv: kv?,
                leg,
            })
        })
    }

    /// `[tee]`.
    pub fn tees(&mut self, table: &DeTable<'_>) -> Vec<Tee> {
        let mut tees = Vec::new();
        for (place, value) in in_order(table) {
            let what = format!("tee `{}`", short(&place.value));
            let Some(text) = self.text(&what, value, "\"bull-head\"") else {
                continue;
            };
            let s = text.s.trim().to_lowercase();
            let mut tee = Tee {
                place,
                bull_head: false,
                straight: None,
                none: false,
            };
            match s.replace('-', " ").as_str() {
                "plain" => {}
                "bull head" | "bullhead" => tee.bull_head = true,
                "no loss" | "none" => tee.none = true,
                _ => match super::pump::strip_words(text.s.trim(), "straight on to") {
                    Some(run) if !run.is_empty() => {
                        tee.straight =
                            Some(At::new(run.trim().to_owned(), text.span_of(run.trim())));
                    }
                    _ => {
                        self.unknown_word(
                            &what,
                            &s,
                            text.whole(),
                            &["plain", "bull-head", "no loss", "straight on to"],
                        );
                        continue;
                    }
                },
            }
            tees.push(tee);
        }
        tees
    }

    /// `[state.NAME]`.
    pub fn states(&mut self, table: &DeTable<'_>) -> Vec<NamedState> {
        self.each("state", table, |r, name, fields| {
            let sources = r.names(fields, "sources");
            let shut = r.names(fields, "shut");
            let stopped = r.names(fields, "stopped");
            let hot_water = r.flag(fields, "hot_water");
            Some(NamedState {
                name,
                sources,
                shut,
                stopped,
                hot_water,
            })
        })
    }
}

/// `out.return` into the name and the side.
pub(super) fn split_side(name: &str) -> (&str, Option<Side>) {
    if let Some(base) = name.strip_suffix(".flow") {
        (base.trim_end(), Some(Side::Flow))
    } else if let Some(base) = name.strip_suffix(".return") {
        (base.trim_end(), Some(Side::Return))
    } else {
        (name, None)
    }
}
