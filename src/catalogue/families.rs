//! Each family of the catalogue as rows of text.

use super::loss::{Between, Law, LossRow};
use super::print::wrap;
use super::{Catalogue, Class, Item, Pipe};
use crate::quantity::Metre;

/// One row, with the words that a filter may name it by.
pub(super) struct Row {
    pub(super) words: Vec<String>,
    pub(super) text: String,
    pub(super) source: String,
    pub(super) confidence: String,
}

/// A family.
pub(super) struct Section {
    pub(super) title: String,
    pub(super) keys: Vec<&'static str>,
    pub(super) head: String,
    pub(super) rows: Vec<Row>,
}

/// All families in the order of printing.
pub(super) fn sections(catalogue: &Catalogue) -> Vec<Section> {
    let mut sections = pipes(catalogue);
    for (class, title, keys) in [
        (Class::Fitting, "fittings", ["items", "fittings", "fitting"]),
        (
            Class::Valve,
            "valves of a leg",
            ["items", "valves", "valve"],
        ),
        (Class::Device, "devices", ["items", "devices", "device"]),
    ] {
        sections.push(items(catalogue, class, title, &keys));
    }
    sections.extend([
        tees(catalogue),
        panels(catalogue),
        emitters(catalogue),
        valves(catalogue),
        places(catalogue),
        conditions(catalogue),
        limits(catalogue),
    ]);
    sections
}

fn mm(length: Metre) -> f64 {
    (length.0 * 1e7).round() / 1e4
}

fn words(word: &str, also: &[String]) -> Vec<String> {
    std::iter::once(word.to_owned())
        .chain(also.iter().cloned())
        .collect()
}

fn pipes(catalogue: &Catalogue) -> Vec<Section> {
    let families: [(&str, &str, &[&str]); 7] = [
        ("copper", "copper pipe", &["copper", "cu"]),
        ("imperial", "old copper pipe sized in inches", &["imperial"]),
        ("steel", "steel pipe", &["steel"]),
        ("pb", "PB pipe (size of copper outside)", &["pb", "plastic"]),
        ("pex", "PE-X pipe", &["pex", "plastic"]),
        ("floor", "floor pipe", &["floor", "plastic"]),
        ("multilayer", "multilayer pipe", &["multilayer", "ml"]),
    ];
    let section = |(family, title, keys): (&str, &str, &[&'static str])| {
        let of_family: Vec<&Pipe> = catalogue
            .pipes
            .iter()
            .filter(|p| p.family == family)
            .collect();
        let roughness = of_family.first().map_or(String::new(), |p| {
            let text = format!(
                "roughness {} mm when new: {}",
                mm(p.roughness),
                p.roughness_source
            );
            format!("{}\n", wrap("", &text).trim_end())
        });
        let row = |p: &&Pipe| {
            let wall = p.outside.map_or(String::new(), |o| format!("{}", mm(o)));
            let admits: Vec<&str> = catalogue
                .guess(&p.word)
                .iter()
                .map(|p| p.word.as_str())
                .collect();
            Row {
                words: words(&p.word, &p.also),
                text: format!(
                    "{:<16}{:>8}{:>8}{:>9.4}  {}",
                    p.word,
                    wall,
                    mm(p.bore),
                    p.water_per_metre().0 * 1e3,
                    admits.join(", "),
                ),
                source: p.source.clone(),
                confidence: p.confidence.clone(),
            }
        };
        Section {
            title: title.into(),
            keys: [&["pipes", "pipe"], keys].concat(),
            head: format!(
                "{roughness}{:<16}{:>8}{:>8}{:>9}  a guess admits",
                "word", "outside", "bore mm", "l per m"
            ),
            rows: of_family.iter().map(row).collect(),
        }
    };
    families.into_iter().map(section).collect()
}

fn items(catalogue: &Catalogue, class: Class, title: &str, keys: &[&'static str]) -> Section {
    let rows = |item: &Item| -> Vec<Row> {
        let first = item.losses.first();
        let losses = item.losses.iter().map(|loss| {
            let own = first.is_some_and(|f| std::ptr::eq(f, loss));
            let lead = if own {
                let also = if item.also.is_empty() {
                    String::new()
                } else {
                    format!(" (also {})", item.also.join(", "))
                };
                wrap("", &format!("{}{also}: {}", item.word, item.what))
            } else {
                String::new()
            };
            Row {
                words: words(&item.word, &item.also),
                text: format!("{lead}{}", wrap("    ", &loss_words(loss)).trim_end()),
                source: loss.source.clone(),
                confidence: loss.confidence.clone(),
            }
        });
        losses.collect()
    };
    Section {
        title: title.into(),
        keys: keys.to_vec(),
        head: String::new(),
        rows: catalogue
            .items
            .iter()
            .filter(|i| i.class == class)
            .flat_map(rows)
            .collect(),
    }
}

fn loss_words(loss: &LossRow) -> String {
    let materials = match loss.materials.as_slice() {
        [one] if one == "*" => "any pipe".to_owned(),
        some => some.join(", "),
    };
    let (what, unit) = match loss.law {
        Law::None => return format!("{materials}: none"),
        Law::Zeta => ("zeta", ""),
        Law::Length => ("equivalent length", " m"),
        Law::Kv => ("kv", ""),
        Law::OneWay => ("kv", ""),
        Law::Hold => ("kv open", ""),
    };
    let size = if loss.by_outside { "outside" } else { "bore" };
    let mut values: Vec<String> = Vec::new();
    for (at, (mm, value)) in loss.rows.iter().enumerate() {
        let range = loss
            .range
            .get(at)
            .map_or(String::new(), |(low, high)| format!(" ({low} to {high})"));
        let to = match loss.between {
            Between::Band if at + 1 == loss.rows.len() => "larger".to_owned(),
            Between::Band => format!("to {mm} mm"),
            _ => format!("{mm} mm"),
        };
        values.push(if loss.rows.len() == 1 {
            format!("{value}{unit}{range}")
        } else {
            format!("{to}: {value}{unit}{range}")
        });
    }
    let by = if values.len() > 1 {
        format!(" by {size}")
    } else {
        String::new()
    };
    let note = if loss.note.is_empty() {
        String::new()
    } else {
        format!("; {}", loss.note)
    };
    format!("{materials}: {what}{by} {}{note}", values.join(", "))
}

fn tees(catalogue: &Catalogue) -> Section {
    let mut rows: Vec<Row> = Vec::new();
    for tee in &catalogue.tees {
        rows.push(Row {
            words: vec!["tee".into()],
            text: format!(
                "{:<8.1}{:>11}{:>12}{:>11}{:>12}",
                tee.q,
                tee.dividing_branch,
                tee.dividing_through,
                tee.combining_branch,
                tee.combining_through
            ),
            source: tee.source.clone(),
            confidence: tee.confidence.clone(),
        });
    }
    let head_on = &catalogue.bull_head;
    rows.push(Row {
        words: vec!["tee".into(), "bull-head".into()],
        text: format!(
            "head-on: zeta {} dividing, {} combining",
            head_on.dividing, head_on.combining
        ),
        source: head_on.source.clone(),
        confidence: head_on.confidence.clone(),
    });
    Section {
        title: "tees by split of flow (equal tees)".into(),
        keys: vec!["tees", "tee"],
        head: format!(
            "zeta on the velocity in the leg that carries the total flow; negative: the\nside stream gains pressure\n\
             {:<8}{:>11}{:>12}{:>11}{:>12}\n{:<8}{:>11}{:>12}{:>11}{:>12}",
            "share",
            "dividing:",
            "straight",
            "combining:",
            "straight",
            "of side",
            "branch",
            "on",
            "branch",
            "on"
        ),
        rows,
    }
}

fn panels(catalogue: &Catalogue) -> Section {
    let mut rows: Vec<Row> = Vec::new();
    for kind in &catalogue.panel_types {
        rows.push(Row {
            words: vec![
                kind.panel_type.clone(),
                format!("panel {}", kind.panel_type),
            ],
            text: wrap(
                "",
                &format!(
                    "type {}: {}, exponent {}, {} mm deep",
                    kind.panel_type,
                    kind.what,
                    kind.exponent,
                    mm(kind.depth)
                ),
            )
            .trim_end()
            .to_owned(),
            source: kind.source.clone(),
            confidence: kind.confidence.clone(),
        });
        for panel in catalogue
            .panels
            .iter()
            .filter(|p| p.panel_type == kind.panel_type)
        {
            rows.push(Row {
                words: vec![
                    kind.panel_type.clone(),
                    format!("panel {}", kind.panel_type),
                ],
                text: format!(
                    "    {:>4} mm high {:>6.0} to {:.0} W per m, {:.1} l per m",
                    mm(panel.height),
                    panel.low_w_m,
                    panel.high_w_m,
                    panel.water_m3_m * 1e3
                ),
                source: panel.source.clone(),
                confidence: panel.confidence.clone(),
            });
        }
    }
    Section {
        title: "panel radiators, output at 75/65/20".into(),
        keys: vec!["panels", "panel", "radiators"],
        head: "least and greatest over makers; the middle is used".into(),
        rows,
    }
}

fn emitters(catalogue: &Catalogue) -> Section {
    let row = |e: &super::EmitterRow| Row {
        words: words(&e.word, &e.also),
        text: wrap(
            "",
            &format!(
                "{}: exponent {} ({} to {}), {} l per kW rated; {}",
                e.word,
                e.exponent,
                e.exponent_range.0,
                e.exponent_range.1,
                (e.water_m3_w * 1e7).round() / 10.0,
                e.note
            ),
        )
        .trim_end()
        .to_owned(),
        source: e.source.clone(),
        confidence: e.confidence.clone(),
    };
    Section {
        title: "emitters by rated output".into(),
        keys: vec!["emitters", "emitter"],
        head: String::new(),
        rows: catalogue.emitters.iter().map(row).collect(),
    }
}

fn valves(catalogue: &Catalogue) -> Section {
    let row = |v: &super::ValveRow| Row {
        words: words(&v.word, &v.also),
        text: wrap(
            "",
            &format!(
                "{}: kv {} ({} to {}), {}",
                v.word, v.kv.0, v.range.0.0, v.range.1.0, v.note
            ),
        )
        .trim_end()
        .to_owned(),
        source: v.source.clone(),
        confidence: v.confidence.clone(),
    };
    Section {
        title: "valves of emitters".into(),
        keys: vec!["emitter valves", "valves", "valve"],
        head: String::new(),
        rows: catalogue.valves.iter().map(row).collect(),
    }
}

fn places(catalogue: &Catalogue) -> Section {
    let row = |l: &super::LiesRow| Row {
        words: words(&l.word, &l.also),
        text: format!(
            "{:<15}{:<14}{:<16}{}",
            l.word,
            l.air
                .map_or("outside air".into(), |t| format!("air at {} C", t.0)),
            if l.quiet {
                "must be quiet"
            } else {
                "out of hearing"
            },
            l.opening
        ),
        source: l.source.clone(),
        confidence: l.confidence.clone(),
    };
    Section {
        title: "where a run lies".into(),
        keys: vec!["places", "place", "lies"],
        head: String::new(),
        rows: catalogue.lies.iter().map(row).collect(),
    }
}

fn conditions(catalogue: &Catalogue) -> Section {
    let row = |c: &super::Condition| {
        let materials = if c.materials.iter().any(|m| m == "*") {
            "any pipe".into()
        } else {
            c.materials.join(", ")
        };
        let (k, loss) = (&c.roughness, &c.bore_loss);
        Row {
            words: vec![c.word.clone()],
            text: format!(
                "{} ({materials}): roughness {} ({} to {}) mm,\n    bore less by {} ({} to {}) mm",
                c.word,
                mm(k.0),
                mm(k.1),
                mm(k.2),
                mm(loss.0),
                mm(loss.1),
                mm(loss.2)
            ),
            source: c.source.clone(),
            confidence: c.confidence.clone(),
        }
    };
    Section {
        title: "age and condition".into(),
        keys: vec!["conditions", "condition"],
        head: "likeliest, and the band that the word admits".into(),
        rows: catalogue.conditions.iter().map(row).collect(),
    }
}

fn limits(catalogue: &Catalogue) -> Section {
    let row = |l: &super::Limit| Row {
        words: vec![l.key.clone()],
        text: format!(
            "{:<26}{:<10}{}",
            l.key,
            l.words,
            wrap(
                &" ".repeat(36),
                &format!("{}{}", if l.counts { "" } else { "note: " }, l.what)
            )
            .trim()
        ),
        source: l.source.clone(),
        confidence: l.confidence.clone(),
    };
    Section {
        title: "limits".into(),
        keys: vec!["limits", "limit"],
        head: "keys of [limits]; a note counts only if the file sets it".into(),
        rows: catalogue.limits.iter().map(row).collect(),
    }
}
