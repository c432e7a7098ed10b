//! The schedules of a document as tables of data, for CSV and spreadsheets: the same figures and units as in the JSON.

use super::document::{Material, digest};
use super::json::published;
use super::sheet::{Row, Sheet, row};
use super::speak::Speak;
use super::{MADE_BY, csv, json, json_balance, json_upsize, rounded, text, words};
use crate::balance::{Balance, Day, Mild};
use crate::hydraulics::local::M3_H;

/// Schedules by the words by which they are chosen.
pub const NAMES: [&str; 11] = [
    "job", "findings", "plan", "shopping", "runs", "emitters", "valves", "pumps", "readings",
    "displays", "assumed",
];

row! {
    struct JobRow {
        what: &'static str,
        is: String,
    }
}

row! {
    struct FindingRow {
        number: Option<usize>,
        verdict: &'static str,
        check: &'static str,
        of: String,
        state: String,
        measured: Option<f64>,
        limit: Option<f64>,
        unit: &'static str,
        margin: Option<f64>,
        limit_source: String,
        rests_on: String,
        found: String,
        to_do: String,
    }
}

row! {
    struct PlanRow {
        change: String,
        money: Option<f64>,
        currency: String,
        prices_are: &'static str,
    }
}

row! {
    struct ReadingRow {
        walk: Option<usize>,
        emitter: String,
        design_drop_k: Option<f64>,
        mild_drop_k: Option<f64>,
        set_to: Option<f64>,
        read_flow_pipe_c: Option<f64>,
        read_return_pipe_c: Option<f64>,
        read_drop_k: Option<f64>,
    }
}

row! {
    struct DisplayRow {
        source: String,
        day: &'static str,
        outside_c: Option<f64>,
        flow_c: Option<f64>,
        return_c: Option<f64>,
        flow_m3_h: Option<f64>,
        output_w: Option<f64>,
        read_flow_c: Option<f64>,
        read_return_c: Option<f64>,
        read_flow_m3_h: Option<f64>,
        read_output_w: Option<f64>,
    }
}

row! {
    struct AssumedRow {
        subject: String,
        value: String,
        source: String,
    }
}

/// Whether a text begins like a schedule of this program that no other command writes.
pub fn begins_like_one(text: &[u8]) -> bool {
    let heads: [&[&str]; 6] = [
        JobRow::HEADS,
        FindingRow::HEADS,
        PlanRow::HEADS,
        ReadingRow::HEADS,
        DisplayRow::HEADS,
        AssumedRow::HEADS,
    ];
    let first = text.split(|b| *b == b'\n').next().unwrap_or_default();
    heads
        .iter()
        .any(|h| first.trim_ascii_end() == h.join(",").as_bytes())
        || first.starts_with(b"pump,mode,flow_m3_h,needed_pa,")
}

/// Every schedule of a house that has rows; `state` leaves only one state of the house.
pub fn all(material: &Material<'_>, state: Option<usize>) -> Vec<Sheet> {
    let found = NAMES.iter().filter_map(|name| one(material, state, name));
    found.filter(|sheet| !sheet.rows.is_empty()).collect()
}

/// One schedule by its word; one that the house has nothing for has headings alone.
pub fn one(material: &Material<'_>, state: Option<usize>, name: &str) -> Option<Sheet> {
    let network = &material.study.network;
    let balance = material.balance.ok();
    let data = || json::check(material.study, state);
    Some(match name {
        "job" => job(material),
        "findings" => findings(material, state),
        "plan" => plan(material),
        "shopping" => match material.plan {
            Ok(upsize) => json_upsize::to_buy(upsize),
            Err(_) => json_upsize::nothing_to_buy(),
        },
        "runs" => csv::run_sheet(&data()),
        "emitters" => csv::emitter_sheet(&data()),
        "valves" => json_balance::valves(network, balance),
        "pumps" => json_balance::pumps(network, balance),
        "readings" => readings(material, balance),
        "displays" => displays(material, balance),
        "assumed" => Sheet::of(
            "assumed",
            network.assumed.iter().map(|a| AssumedRow {
                subject: a.subject.clone(),
                value: a.value.clone(),
                source: a.source.clone(),
            }),
        ),
        _ => return None,
    })
}

fn job(material: &Material<'_>) -> Sheet {
    let study = material.study;
    let design = &study.network.design;
    let line = |what, is: String| JobRow { what, is };
    let whether = |found: Result<(), &str>| match found {
        Ok(()) => "in this file".to_owned(),
        Err(why) => format!("not shown: {why}"),
    };
    let rows = [
        line("job", study.network.title.clone()),
        line("inputs", material.file.to_owned()),
        line("sha256", digest(material.source)),
        line("made by", MADE_BY.trim_start_matches("Made by ").to_owned()),
        line("verdict", words::verdict(study.verdict).to_owned()),
        line("checks without data", study.not_shown.to_string()),
        line("flow temperature, c", design.flow_temperature_c.to_string()),
        line("drop, k", design.drop_k.to_string()),
        line("plan", whether(material.plan.map(drop))),
        line("settings", whether(material.balance.map(drop))),
    ];
    Sheet::of("job", rows.into_iter())
}

fn findings(material: &Material<'_>, state: Option<usize>) -> Sheet {
    let study = material.study;
    let speak = Speak::new(study, &study.network.units);
    let rows = text::noted(study, &speak, state)
        .into_iter()
        .filter_map(|noted| {
            let finding = study.findings.get(noted.finding)?;
            let (unit, factor) = published(finding.kind);
            let figure = |si: Option<f64>| si.and_then(|x| rounded(x * factor));
            let rests = finding.rests_on.iter().filter_map(|&(doubt, value)| {
                let doubt = study.network.doubts.get(doubt)?;
                let value = doubt.alternatives.get(value)?;
                Some(format!("{}: {}", doubt.name, value.words))
            });
            Some(FindingRow {
                number: noted.number,
                verdict: words::verdict(finding.verdict),
                check: finding.check,
                of: speak.subject(finding.subject),
                state: finding.state.map(|s| speak.state(s)).unwrap_or_default(),
                measured: figure(finding.measured),
                limit: figure(finding.limit),
                unit,
                margin: finding.margin.and_then(rounded),
                limit_source: finding.limit_source.clone(),
                rests_on: rests.collect::<Vec<_>>().join("; "),
                found: noted.found,
                to_do: noted.to_do.unwrap_or_default(),
            })
        });
    Sheet::of("findings", rows)
}

fn plan(material: &Material<'_>) -> Sheet {
    let upsize = material.plan.ok();
    let rows = upsize.into_iter().flat_map(json_upsize::changes);
    let rows = rows.map(|(change, money, currency, prices_are)| PlanRow {
        change,
        money,
        currency,
        prices_are,
    });
    Sheet::of("plan", rows)
}

fn mild(balance: &Balance) -> Option<&Day> {
    match &balance.mild {
        Mild::Day(day) => Some(day),
        Mild::NotColder | Mild::NoAnswer => None,
    }
}

/// What is read at each emitter once everything is set, with blanks for it, in the order of the walk.
fn readings(material: &Material<'_>, balance: Option<&Balance>) -> Sheet {
    let network = &material.study.network;
    let rows = balance.into_iter().flat_map(|b| {
        let place = |i: usize| b.walk.order.iter().position(|&k| k == i);
        let mut order: Vec<usize> = (0..network.emitters.len()).collect();
        order.sort_by_key(|&i| (place(i).unwrap_or(usize::MAX), i));
        order.into_iter().filter_map(move |i| {
            let drop = |day: &Day| {
                let at = day.emitters.get(i).copied().flatten()?;
                rounded(at.drop_k())
            };
            Some(ReadingRow {
                walk: place(i).map(|k| k + 1),
                emitter: network.emitters.get(i)?.name.clone(),
                design_drop_k: drop(&b.design),
                mild_drop_k: mild(b).and_then(drop),
                set_to: None,
                read_flow_pipe_c: None,
                read_return_pipe_c: None,
                read_drop_k: None,
            })
        })
    });
    Sheet::of("readings", rows)
}

/// What the units' displays should read on the design day and on a mild one, with blanks for what they do read.
fn displays(material: &Material<'_>, balance: Option<&Balance>) -> Sheet {
    let sources = &material.study.network.sources;
    let days = balance.into_iter().flat_map(|b| {
        let mild = mild(b).map(|day| ("mild day", day));
        [("design day", &b.design)].into_iter().chain(mild)
    });
    let rows = days.flat_map(|(word, day)| {
        day.sources.iter().filter_map(move |at| {
            Some(DisplayRow {
                source: sources.get(at.source)?.name.clone(),
                day: word,
                outside_c: day.outside_c.and_then(rounded),
                flow_c: rounded(at.flow_c),
                return_c: rounded(at.return_c),
                flow_m3_h: rounded(at.flow_m3_s * M3_H),
                output_w: rounded(at.output_w),
                read_flow_c: None,
                read_return_c: None,
                read_flow_m3_h: None,
                read_output_w: None,
            })
        })
    });
    Sheet::of("displays", rows)
}
