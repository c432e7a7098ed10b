//! What must be true of any plan, on made-up houses of every kind: more head and a further choice never cost more, every
//! step is needed, and radiators that are left out of what is offered would win nothing.

use super::planning::{
    Planned, made_up, one_pipe, reverse_return, with_more_radiators, with_walls,
};
use pipecarry::catalogue::{Catalogue, PriceTable};
use pipecarry::network::expand;
use pipecarry::plan::change::{Change, What};
use pipecarry::plan::offer::Offer;
use pipecarry::plan::price::PriceList;
use pipecarry::plan::site::Site;
use pipecarry::quantity::Metre;
use pipecarry::survey::Panel;

/// Money of the plan, hundredths, and the bound that is proved.
#[derive(Clone, Copy, Debug)]
struct Cost {
    money: i64,
    bound: i64,
}

/// The least cost of a house; on the way, that no change of the plan could be done without, unless it is free.
fn cost(text: &str) -> Option<Cost> {
    let planned = Planned::of(text);
    let search = planned.search();
    let found = search.run().unwrap();
    let best = found.best.as_ref()?;
    let keep = found.model.keep();
    for d in 0..best.picks.len() {
        if best.picks[d] == keep[d] || keep[d] == usize::MAX {
            continue;
        }
        let mut without = best.picks.clone();
        without[d] = keep[d];
        if search.verify(&found.model, &without).is_ok() {
            let less = found.model.problem.cost(&without).0;
            assert_eq!(less, best.money, "{}\n{text}", planned.offers.slots[d].name);
        }
    }
    Some(Cost {
        money: best.money,
        bound: found.bound_money,
    })
}

/// Whether more of something left the cost where it was or lowered it. Where the gap is not closed, what is proved counts.
fn never_more(plain: Option<Cost>, with_more: Option<Cost>) -> bool {
    plain.is_none_or(|plain| with_more.is_some_and(|more| more.bound <= plain.money))
}

fn more_head(text: &str) -> String {
    let (_, rest) = text.split_once("free_head = [\"").unwrap();
    let kpa = rest.split(' ').next().unwrap();
    let more = kpa.parse::<f64>().unwrap() + 3.0;
    text.replace(&format!("\"{kpa} kPa at"), &format!("\"{more} kPa at"))
}

fn more_choice(text: &str, price: &str) -> String {
    match text.contains("[prices]\n") {
        true => text.replacen("[prices]\n", &format!("[prices]\n{price}\n"), 1),
        false => format!("{text}[prices]\n{price}\n"),
    }
}

/// Houses by kind with a further choice for each.
fn houses() -> Vec<(&'static str, String, &'static str)> {
    let mut list: Vec<(&str, String, &str)> = Vec::new();
    for seed in 200..240_u64 {
        let (kind, price) = match seed % 5 {
            0 => ("tree", "\"trunk cu42\" = 55"),
            1 => ("doubled trunk", "\"trunk cu42\" = 55"),
            2 => ("closed loop", "\"trunk cu42\" = 55"),
            3 => ("one-pipe", "\"one cu28\" = 55"),
            _ => ("ring", "\"a cu28\" = 20"),
        };
        list.push((kind, made_up(seed), price));
    }
    for seed in 0..4 {
        let price = "\"r1 22 600x3000\" = 120";
        list.push(("long one-pipe", one_pipe(seed, 5), price));
        list.push((
            "reverse return",
            reverse_return(seed, 5),
            "\"r0 cu28\" = 30",
        ));
    }
    for seed in 0..12_u64 {
        list.push(match seed % 3 {
            0 => (
                "no lockshields",
                with_more_radiators(seed),
                "\"a cu35\" = 60",
            ),
            1 => (
                "one-pipe",
                with_more_radiators(seed),
                "\"r0 22 600x2400\" = 90",
            ),
            _ => ("ring", with_more_radiators(seed), "\"r3 cu28\" = 20"),
        });
    }
    for seed in 0..8_u64 {
        list.push(("walls", with_walls(seed), "\"r0 33 450x600\" = 130"));
    }
    list
}

#[test]
fn more_never_costs_more_and_nothing_is_needless() {
    let (mut changed, mut lowered) = (0, 0);
    for (kind, text, price) in houses() {
        let plain = cost(&text);
        let choice = cost(&more_choice(&text, price));
        assert!(
            never_more(plain, choice),
            "{kind}: {plain:?} {choice:?}\n{text}"
        );
        let head = cost(&more_head(&text));
        assert!(
            never_more(plain, head),
            "{kind}: {plain:?} {head:?}\n{text}"
        );
        changed += usize::from(plain.is_some_and(|p| p.money > 0));
        let less = |c: Option<Cost>| c.map(|c| c.money) < plain.map(|p| p.money) && c.is_some();
        lowered += usize::from(less(choice)) + usize::from(less(head));
    }
    // or nothing would have been held to anything
    assert!(changed >= 25 && lowered >= 12, "{changed} {lowered}");
}

/// Every radiator that the table has and that fits the wall, whatever a cheaper one gives.
fn with_every_radiator(planned: &mut Planned) -> usize {
    let survey = planned.house.survey.clone();
    let prices = PriceList::new(&survey);
    let (catalogue, table) = (Catalogue::embedded(), PriceTable::embedded());
    let mut added = 0;
    for slot in &mut planned.offers.slots {
        let (Site::Radiator(i), Some(at)) = (slot.site, slot.emitter) else {
            continue;
        };
        let Some(wall) = survey.emitters[i].wall.clone() else {
            continue;
        };
        let like: Offer = slot.offers[1].clone();
        for row in &catalogue.panels {
            for mm in &table.radiator.widths {
                let panel = Panel {
                    panel_type: row.panel_type.clone(),
                    height: row.height,
                    width: Metre(mm / 1e3),
                };
                let Ok(out) = catalogue.panel(&panel.panel_type, panel.height, panel.width) else {
                    continue;
                };
                let (width, height, depth) = wall.value;
                if panel.width > width || panel.height > height || out.depth > depth {
                    continue;
                }
                let change = Change {
                    site: slot.site,
                    what: What::Radiator(panel),
                };
                if slot.offers.iter().any(|o| o.change == change) {
                    continue;
                }
                let mut changed = survey.clone();
                change.apply(&mut changed);
                let emitter = expand(&changed).unwrap().0.emitters[at].clone();
                let bill = prices.bill(&change).unwrap();
                slot.offers.push(Offer {
                    money: bill.iter().map(|l| l.money).sum(),
                    bill,
                    heat: Some((emitter.law, emitter.duty_w)),
                    change,
                    ..like.clone()
                });
                added += 1;
            }
        }
    }
    added
}

/// Only radiators that no cheaper one equals are offered; with all the others the cost is the same.
#[test]
fn radiators_that_are_left_out_would_win_nothing() {
    let (mut changed, mut added) = (0, 0);
    for seed in 0..24_u64 {
        let text = with_walls(seed);
        let mut planned = Planned::of(&text);
        let few = planned.search().run().unwrap().best.map(|b| b.money);
        added += with_every_radiator(&mut planned);
        let all = planned.search().run().unwrap().best.map(|b| b.money);
        assert_eq!(few, all, "seed {seed}\n{text}");
        changed += usize::from(few.is_some_and(|m| m > 0));
    }
    assert!(changed >= 10 && added > 1000, "{changed} {added}");
}
