//! What a plan takes beyond its bills: joints between new pipe and what stays, and what a price for the whole covers. They
//! are listed so that they can be ordered; their money is in the work, or in the price for the whole.

use super::change::{What, second};
use super::price::{Goods, Line};
use super::search::Plan;
use super::shopping::{Counted, Purchase, listed};
use super::site::{Route, Site, likeliest_word};
use crate::catalogue::PriceTable;
use crate::network::{Network, Run, RunKind};
use crate::survey::{ItemKind, Leg, Survey};
use std::collections::BTreeMap;

/// The rest of the list: by name, without money.
pub fn unpriced(plan: &Plan, before: &Survey, network: &Network) -> Vec<Purchase> {
    let mut list = covered(plan, before);
    list.extend(joints(plan, before, network));
    list
}

/// Pipe, fittings and radiators of changes that have a price for the whole.
fn covered(plan: &Plan, before: &Survey) -> Vec<Purchase> {
    let mut lines = Vec::new();
    for (change, bill) in plan.changes.iter().zip(&plan.bills) {
        let whole = bill.iter().any(|l| l.goods == Goods::Whole);
        let (Site::Pipe(route), true) = (change.site, whole) else {
            continue;
        };
        match &change.what {
            What::Pipe(word, _) => {
                for (leg, pipes) in route.legs(&plan.survey) {
                    laid(&mut lines, leg, pipes, word);
                }
            }
            What::Beside(word) => {
                for (leg, pipes) in route.legs(before) {
                    laid(&mut lines, &second(leg, word), pipes, word);
                }
            }
            _ => {}
        }
    }
    let lines: Vec<Line> = lines
        .into_iter()
        .map(|(goods, quantity)| Line {
            goods,
            quantity,
            money: 0,
            own: true,
        })
        .collect();
    listed(&[lines], Counted::InWhole)
}

/// Pipe and fittings of a leg that is laid anew; devices with a kv of their own stay.
fn laid(lines: &mut Vec<(Goods, f64)>, leg: &Leg, pipes: u32, word: &str) {
    let metres = leg.length.likeliest.0 * f64::from(pipes);
    lines.push((Goods::Pipe(word.to_owned()), metres));
    for item in &leg.items {
        if let ItemKind::Named {
            word: item_word,
            kv: None,
            ..
        } = &item.kind
        {
            let count = item.count * if item.side.is_some() { 1 } else { pipes };
            let goods = Goods::Item(item_word.clone(), word.to_owned());
            lines.push((goods, f64::from(count)));
        }
    }
}

/// What joins new pipe to what stays and to itself.
fn joints(plan: &Plan, before: &Survey, network: &Network) -> Vec<Purchase> {
    let after = &plan.study.network;
    let mut count: BTreeMap<String, u32> = BTreeMap::new();
    let mut add = |what: String, n: u32| {
        if n > 0 {
            *count.entry(what).or_default() += n;
        }
    };
    let new: Vec<bool> = after.runs.iter().map(|run| is_new(run, network)).collect();
    let second: Vec<bool> = after
        .runs
        .iter()
        .map(|run| runs_beside(run, network, after))
        .collect();
    for place in after.place_ids() {
        let ends = |run: &Run| usize::from(run.from == place) + usize::from(run.to == place);
        // a second pipe's tees are in its bill
        let there: Vec<usize> = (0..after.runs.len())
            .filter(|&i| !second[i])
            .flat_map(|i| vec![i; ends(&after.runs[i])])
            .collect();
        if !there.iter().any(|&i| new[i]) {
            continue;
        }
        let mut words: Vec<&Run> = there.iter().map(|&i| &after.runs[i]).collect();
        words.sort_by(|a, b| b.bore_m.total_cmp(&a.bore_m).then(a.pipe.cmp(&b.pipe)));
        let words: Vec<&str> = words.iter().map(|r| r.pipe.as_str()).collect();
        match words[..] {
            [one] => add(
                format!("connection of {one} to a unit, a bar or a valve"),
                1,
            ),
            [a, b] if a == b => add(format!("coupling for {a}"), 1),
            [a, b] => add(format!("reducer {a} to {b}"), 1),
            [a, b, c] => add(format!("tee {a} x {b} x {c}"), 1),
            _ => add(format!("tees for {}", words.join(", ")), 1),
        }
    }
    for (i, run) in after.runs.iter().enumerate().filter(|(i, _)| new[*i]) {
        let stock = PriceTable::embedded().pipe(&run.pipe).map(|p| p.stock);
        let bars = stock.map_or(1.0, |m| (run.length_m / m - 1e-9).ceil().max(1.0));
        // no house has more bars than fit a count
        add(
            format!("coupling for {}", after.runs[i].pipe),
            bars as u32 - 1,
        );
    }
    for change in &plan.changes {
        if let (Site::Pipe(route), What::Pipe(word, _)) = (change.site, &change.what) {
            for (old, n) in put_back(before, route, word) {
                add(format!("reducer {old} to {word}"), n);
            }
        }
    }
    let lines: Vec<Line> = count
        .into_iter()
        .map(|(what, n)| Line {
            goods: Goods::Joint(what),
            quantity: f64::from(n),
            money: 0,
            own: false,
        })
        .collect();
    listed(&[lines], Counted::Not)
}

/// Whether a run's pipe is another than before, or it was not there.
fn is_new(run: &Run, before: &Network) -> bool {
    let same = |r: &&Run| r.name == run.name && r.side == run.side && r.kind == run.kind;
    let was = before.runs.iter().find(same);
    run.kind != RunKind::FloorLoop && was.is_none_or(|was| was.pipe != run.pipe)
}

/// Whether it is a second pipe that the plan lays: not there before, and beside one between the same places.
fn runs_beside(run: &Run, before: &Network, after: &Network) -> bool {
    let name = |r: &&Run| r.name == run.name;
    let beside = |r: &Run| r.name != run.name && (r.from, r.to) == (run.from, run.to);
    before.runs.iter().find(name).is_none() && after.runs.iter().any(beside)
}

/// Both ends of devices that are put back into a line of another size: their size and how many.
fn put_back(before: &Survey, route: Route, word: &str) -> Vec<(String, u32)> {
    let mut list = Vec::new();
    for (leg, pipes) in route.legs(before) {
        let old = likeliest_word(leg);
        if old.is_empty() || old == word {
            continue;
        }
        for item in &leg.items {
            if matches!(&item.kind, ItemKind::Named { kv: Some(_), .. }) {
                let count = item.count * if item.side.is_some() { 1 } else { pipes };
                list.push((old.clone(), 2 * count));
            }
        }
    }
    list
}
