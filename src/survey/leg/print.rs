//! A leg written back in its own language, every value so that it reads the same again.

use super::cursor::ends_word;
use crate::catalogue::Catalogue;
use crate::quantity::{Head, Metre};
use crate::survey::{Item, ItemKind, Leg, PipeOption, PipeSize, Range, Side};
use crate::units::{self, Quantity};
use std::fmt::Write;

/// The leg in its own language; reading it again gives an equal leg.
pub fn print(leg: &Leg) -> String {
    let mut text = String::new();
    let options: Vec<String> = leg.pipe.options.iter().map(option).collect();
    text.push_str(&options.join(" | "));
    if leg.pipe.guess || leg.pipe.shared.is_some() {
        let apart =
            leg.pipe.options.len() > 1 || options.first().is_some_and(|o| o.starts_with("bore"));
        let _ = write!(
            text,
            "{}?{}",
            if apart { " " } else { "" },
            leg.pipe.shared.as_deref().unwrap_or_default()
        );
    }
    if leg.pipe.options.len() > 1 {
        text.push(',');
    }
    let _ = write!(
        text,
        " {}",
        range(&leg.length, Quantity::RunLength, &[("m", 1.0)])
    );
    if let Some(shared) = &leg.length_shared {
        let _ = write!(text, "?{shared}");
    }
    for (at, each) in leg.items.iter().enumerate() {
        text.push_str(if at == 0 { " " } else { ", " });
        item(&mut text, each);
    }
    let mut words = Vec::new();
    if let Some(row) = leg.lies.and_then(|lies| Catalogue::embedded().place(lies)) {
        words.push(row.word.clone());
    }
    if let Some(thick) = leg.lagging {
        words.push(format!("lagging {}", size(thick)));
    }
    words.extend(leg.condition.clone());
    if let Some(storey) = &leg.storey {
        // the very words that are read without quotes; one with an apostrophe inside can only stand so
        let plain = !storey.starts_with('\'') && !storey.contains(ends_word);
        words.push(if plain {
            format!("storey {storey}")
        } else {
            format!("storey '{storey}'")
        });
    }
    for (at, word) in words.iter().enumerate() {
        text.push_str(if at == 0 && !leg.items.is_empty() {
            ", "
        } else {
            " "
        });
        text.push_str(word);
    }
    text
}

fn option(option: &PipeOption) -> String {
    let mut text = match &option.pipe {
        PipeSize::Word(word) => word.clone(),
        PipeSize::Bore { bore, roughness } => {
            let mut text = format!(
                "bore {}",
                range(bore, Quantity::Size, &[("mm", 1e-3), ("m", 1.0)])
            );
            if let Some(k) = roughness {
                let _ = write!(text, " roughness {}", size(*k));
            }
            text
        }
    };
    if let Some(odds) = option.odds {
        let _ = write!(text, " {odds}");
    }
    text
}

fn item(text: &mut String, item: &Item) {
    if item.count != 1 {
        let _ = write!(text, "{} ", item.count);
    }
    match &item.kind {
        ItemKind::Named {
            word,
            kv,
            insert,
            opening,
            holds,
        } => {
            text.push_str(word);
            if let Some(kv) = kv {
                let _ = write!(text, " kv {}", kv.0);
            }
            if let Some(insert) = insert {
                let _ = write!(text, " insert {}", size(*insert));
            }
            if let Some(opening) = opening {
                let _ = write!(text, " opens at {}", pressure(opening.0));
            }
            if let Some(flow) = holds {
                let _ = write!(text, " holds {}", self::flow(flow.0));
            }
        }
        ItemKind::Zeta(zeta) => {
            let _ = write!(text, "zeta {zeta}");
        }
        ItemKind::Kv(kv) => {
            let _ = write!(text, "kv {}", kv.0);
        }
        ItemKind::Loss(at) => {
            let loss = match at.loss {
                Head::Fluid(metres) => format!("{}m", metres.0),
                Head::Pressure(p) => pressure(p.0),
            };
            let _ = write!(text, "loss {loss} at {}", flow(at.flow.0));
            if at.exponent != 2.0 {
                let _ = write!(text, " exponent {}", at.exponent);
            }
        }
        ItemKind::FrictionShare(share) => {
            let _ = write!(
                text,
                "fittings +{}",
                exact(*share, Quantity::Share, &[("%", 1e-2), ("", 1.0)])
            );
        }
    }
    match item.side {
        Some(Side::Flow) => text.push_str(" on flow"),
        Some(Side::Return) => text.push_str(" on return"),
        None => {}
    }
}

fn range(range: &Range<Metre>, quantity: Quantity, written: &[(&str, f64)]) -> String {
    let high = exact(range.high.0, quantity, written);
    if range.low == range.high {
        return high;
    }
    format!("{}..{high}", exact(range.low.0, quantity, written))
}

fn size(size: Metre) -> String {
    exact(size.0, Quantity::Size, &[("mm", 1e-3), ("m", 1.0)])
}

fn pressure(pa: f64) -> String {
    exact(pa, Quantity::Pressure, &[("kPa", 1e3), ("Pa", 1.0)])
}

fn flow(m3_s: f64) -> String {
    exact(
        m3_s,
        Quantity::Flow,
        &[
            ("l/min", 1e-3 / 60.0),
            ("l/s", 1e-3),
            ("m3/h", 1.0 / 3600.0),
            ("m3/s", 1.0),
        ],
    )
}

/// The first of the units in which a short decimal reads back as exactly this value; the last one takes any value.
fn exact(value: f64, quantity: Quantity, written: &[(&str, f64)]) -> String {
    let short = |unit: &str, factor: f64| {
        let number = format!("{:.9}", value / factor);
        let number = number
            .trim_end_matches('0')
            .trim_end_matches('.')
            .to_owned();
        format!("{number}{unit}")
    };
    let fits = |text: &String| units::read(quantity, text) == Ok(value);
    let found = written
        .iter()
        .map(|(unit, factor)| short(unit, *factor))
        .find(fits);
    found.unwrap_or_else(|| format!("{value}{}", written.last().map_or("", |(unit, _)| unit)))
}
