//! Balancing: what is said of it, on paper and on cards; what no setting brings; the walk.

use crate::balance::{A10, balanced, house, houses, json};
use crate::cli::{World, run_in};
use pipecarry::balance::{Lack, Mild, Why};
use pipecarry::cli::Status;
use pipecarry::draw;
use pipecarry::report;
use serde_json::Value;
use std::path::Path;

#[test]
fn what_cannot_be_balanced_says_so() {
    let bare = A10.replace(
        "free_head = [\"4 m at 0 l/min\", \"3 m at 20 l/min\"]\npump = \"constant head 25 kPa\"\n",
        "",
    );
    let ran = run_in(
        &mut World::with("house.toml", &bare),
        &["balance", "house.toml"],
    );
    assert_eq!(ran.status, Status::Trouble);
    assert!(
        ran.err.contains("give the source its `free_head`"),
        "{}",
        ran.err
    );
    // a pump that cannot: exit 1, by how much, and settings all the same
    let weak = A10.replace(
        "4 m at 0 l/min\", \"3 m at 20",
        "1 m at 0 l/min\", \"0.8 m at 20",
    );
    let ran = run_in(
        &mut World::with("house.toml", &weak),
        &["balance", "house.toml"],
    );
    assert_eq!(ran.status, Status::Fails);
    assert!(
        ran.out.contains("2 OF 2 EMITTERS do not") && ran.out.contains("its pump lacks"),
        "{}",
        ran.out
    );
    let kv = |out: &Value| out["valves"][0]["kv_m3_h"].as_f64().unwrap();
    assert!((kv(&json(&weak, &[])) / kv(&json(A10, &[])) - 1.0).abs() < 1e-6);
}

/// Words of a text, without what only keeps words apart.
fn words(text: &str) -> Vec<String> {
    text.split_whitespace().map(str::to_owned).collect()
}

#[test]
fn cards_print_as_text_and_on_sheets_without_a_fault() {
    for (name, network) in houses() {
        let b = balanced(&network);
        let cards = report::balance::cards(&network, &b, &network.units);
        assert_eq!(cards.len(), b.pumps.len() + b.walk.order.len(), "{name}");
        let for_print: Vec<draw::Card> = cards
            .iter()
            .map(|c| draw::Card {
                head: c.head.clone(),
                place: c.place.clone(),
                lines: c.lines.clone(),
            })
            .collect();
        let sheets = draw::cards(&network.title, &for_print);
        assert_eq!(sheets.len(), cards.len().div_ceil(6), "{name}");
        for sheet in &sheets {
            assert_eq!(sheet.audit.faults(), 0, "{name}: {:?}", sheet.audit.said);
        }
        assert!(
            !sheets.iter().any(|s| draw::svg::render(s).contains('…')),
            "{name}: cut short"
        );
        // each card's name and every word of every line of it stands on its sheet, in this order
        let mut drawn: Vec<String> = Vec::new();
        for sheet in &sheets {
            for item in &sheet.items {
                if let draw::scene::Item::Label(label) = item {
                    let text = label.lines.iter().map(|l| l.text.clone());
                    drawn.extend(text.flat_map(|t| words(&t)));
                    assert!(label.rect.bottom() < sheet.paper.size_mm().1, "{name}");
                }
            }
        }
        let mut wanted: Vec<String> = Vec::new();
        for card in &cards {
            wanted.extend(
                [&card.head, &card.place, &network.title]
                    .into_iter()
                    .flat_map(|t| words(t)),
            );
            let lines = card.lines.iter().flat_map(|(label, value)| [label, value]);
            wanted.extend(lines.flat_map(|t| words(t)));
        }
        assert_eq!(drawn, wanted, "{name}");
        // what speaks against a valve stands on its card, and so does the setting of each pump
        for (card, &i) in cards[b.pumps.len()..].iter().zip(&b.walk.order) {
            let minds = card.lines.iter().skip_while(|(label, _)| label != "Mind");
            let minds = minds.take_while(|(label, _)| label == "Mind" || label.is_empty());
            assert!(
                minds.count() >= b.valves[i].warnings.len(),
                "{name}: {card:?}"
            );
        }
        for (card, pump) in cards.iter().zip(&b.pumps) {
            let (label, value) = &card.lines[0];
            assert_eq!(label, "Set pump", "{name}");
            assert_eq!(
                value == "full speed",
                pump.short_pa > 0.0,
                "{name}: {value}"
            );
        }
    }
    let text = std::fs::read_to_string("networks/linnet.toml").unwrap();
    let mut world = World::with("house.toml", &text);
    let ran = run_in(&mut world, &["balance", "house.toml", "--cards"]);
    assert!(
        ran.out.contains("Set lockshield") && ran.out.contains("Left at"),
        "{}",
        ran.out
    );
    let ran = run_in(
        &mut world,
        &[
            "balance",
            "house.toml",
            "-o",
            "cards.svg",
            "-o",
            "set.csv",
            "-o",
            "set.json",
            "-o",
            "set.txt",
        ],
    );
    assert_eq!(ran.status, Status::Holds, "{}", ran.err);
    assert!(world.text("cards.svg").contains("<svg"));
    assert!(world.text("set.csv").starts_with("walk,emitter,"));
    // and may be written over
    let again = run_in(
        &mut world,
        &[
            "balance",
            "house.toml",
            "-o",
            "cards.svg",
            "-o",
            "set.csv",
            "-o",
            "set.json",
        ],
    );
    assert_eq!(again.status, Status::Holds, "{}", again.err);
}

#[test]
fn a_mild_day_is_milder_and_takes_its_share() {
    for (name, network) in houses() {
        let b = balanced(&network);
        let Mild::Day(day) = &b.mild else {
            panic!("{name}: {:?}", b.mild)
        };
        let given: f64 = day.emitters.iter().flatten().map(|a| a.heat_w).sum();
        let duty: f64 = network.emitters.iter().map(|e| e.duty_w).sum();
        assert!(
            (given / (day.share * duty) - 1.0).abs() < 0.005,
            "{name}: {given} of {duty}"
        );
        assert!(day.sources[0].flow_c < b.design.sources[0].flow_c, "{name}");
    }
    let warm = house(&A10.replace("[source.hp]", "design = { outside = \"8 C\" }\n[source.hp]"));
    assert_eq!(balanced(&warm).mild, Mild::NotColder);
}

#[test]
fn the_walk_finishes_a_storey_before_the_next() {
    let network = house(&std::fs::read_to_string("networks/burdock.toml").unwrap());
    let mut storeyed = network.clone();
    for (i, e) in storeyed.emitters.iter_mut().enumerate() {
        e.storey = Some(if i % 3 == 0 { "above" } else { "ground" }.to_owned());
    }
    let b = balanced(&storeyed);
    let storeys: Vec<&str> = b
        .walk
        .order
        .iter()
        .map(|&i| b.walk.storeys[i].as_deref().unwrap())
        .collect();
    let changes = storeys.windows(2).filter(|w| w[0] != w[1]).count();
    assert_eq!(changes, 1, "{storeys:?}");
    let mut all = b.walk.order.clone();
    all.sort();
    assert_eq!(all, (0..20).collect::<Vec<_>>());
}

#[test]
fn text_reads_at_eighty_columns_and_the_same_every_time() {
    for (name, network) in houses() {
        let b = balanced(&network);
        let text = report::balance::text(&network, &b, &network.units);
        for line in text.lines() {
            assert!(
                unicode_width::UnicodeWidthStr::width(line) <= 80,
                "{name}: {line}"
            );
        }
        assert_eq!(
            text,
            report::balance::text(&network, &balanced(&network), &network.units)
        );
        let example = Path::new("out").join(format!("{name}-balance.txt"));
        if example.exists() {
            assert!(
                std::fs::read_to_string(example).unwrap().starts_with(&text),
                "{name}"
            );
        }
    }
}

#[test]
fn a_unit_that_moves_more_than_the_emitters_are_to_get_is_named() {
    let text = A10
        .replace(
            "pump = \"constant head 25 kPa\"",
            "least_flow = \"8 l/min\"\ngreatest_flow = \"20 l/min\"",
        )
        .replace(
            "4 m at 0 l/min\", \"3 m at 20",
            "6 m at 0 l/min\", \"5 m at 20",
        )
        .replace("[source.hp]", "[source.hp]\noutput = \"4 kW\"");
    let network = house(&text);
    let b = balanced(&network);
    for v in &b.valves {
        assert!(matches!(v.why, Some(Why::LeastFlow(0, _))), "{:?}", v.why);
        // 8 l/min instead of 2 · 2.4
        assert!((v.gets_kg_s / v.wanted_kg_s - 8.0 / 4.8).abs() < 0.01);
    }
    let said = report::balance::text(&network, &b, &network.units);
    assert!(said.contains("moves 8.00 l/min at least"), "{said}");
}

/// Flows may come out while the unit would stop on a fault or rooms stay cold: then the settings do not hold.
#[test]
fn what_no_setting_brings_is_said_first_and_fails() {
    let constant = "pump = \"constant head 25 kPa\"";
    let too_little = format!("{constant}\nleast_flow = \"8 l/min\"");
    let too_much = format!("{constant}\nleast_flow = \"1 l/min\"\ngreatest_flow = \"3 l/min\"");
    // what is changed, the lack's word in JSON, words of the report; the duties of the story are 0.8 kW at 45 °C
    let cases = [
        (
            A10.replace(constant, &too_little),
            "least flow",
            "less than its least flow, 8.00 l/min",
        ),
        (
            A10.replace(constant, &too_much),
            "greatest flow",
            "more than its greatest flow, 3.00 l/min",
        ),
        (
            A10.replace(
                "draws = \"829.2 W\"",
                "rated = \"1200 W\"\nneeds = \"829.2 W\"\nroom = \"20 C\"",
            ),
            "heat",
            "of their heat on the design day",
        ),
    ];
    for (text, lack, words) in cases {
        assert_ne!(text, A10, "{lack}: nothing was changed");
        let mut world = World::with("house.toml", &text);
        let ran = run_in(&mut world, &["balance", "house.toml"]);
        let plain = ran.out.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(plain.contains(words), "{lack}: {plain}");
        assert!(
            plain.find("BUT").unwrap() < plain.find("Pumps").unwrap(),
            "{plain}"
        );
        assert_eq!(ran.status, Status::Fails, "{lack}");
        let out = json(&text, &[]);
        let said: Vec<&str> = out["lacks"]
            .as_array()
            .unwrap()
            .iter()
            .map(|l| l["lack"].as_str().unwrap())
            .collect();
        assert!(said.contains(&lack), "{said:?}");
    }
}

/// What is said to be short is what the solved day shows, and nothing else, on every house.
#[test]
fn rooms_said_to_be_cold_are_those_that_the_design_day_leaves_short() {
    for (name, network) in houses() {
        let b = balanced(&network);
        let cold: Vec<usize> = b
            .lacks
            .iter()
            .filter_map(|l| match l {
                Lack::Heat {
                    room,
                    gets_w,
                    needs_w,
                    ..
                } => {
                    assert!(gets_w < needs_w, "{name}");
                    Some(*room)
                }
                Lack::LeastFlow { .. } | Lack::GreatestFlow { .. } => None,
            })
            .collect();
        for (i, room) in network.rooms.iter().enumerate() {
            let short = room.emitters.iter().any(|&e| {
                b.valves[e].why != Some(Why::NotAsked)
                    && b.design.emitters[e]
                        .is_some_and(|a| a.heat_w < 0.99 * network.emitters[e].duty_w)
            });
            // a room with one emitter is short exactly where that is
            if room.emitters.len() == 1 && room.needs_w.is_some() {
                assert_eq!(cold.contains(&i), short, "{name}: {}", room.name);
            }
        }
    }
}

/// A run that climbs from a tee does not take along the emitter that hangs on the tee.
#[test]
fn a_storey_is_that_of_the_run_that_leads_to_the_tee() {
    let text = A10.replace(
            "trunk = [\"hp\", \"tee\", \"bore 100mm 0.001m\"]",
            "trunk = [\"hp\", \"tee\", \"bore 100mm 0.001m\"]\nup = [\"tee\", \"landing\", \"cu22 3m storey first\"]",
        )
        + "far = { from = \"landing\", leg = \"cu15 3m\" }\n";
    let network = house(&text);
    let b = balanced(&network);
    let of = |name: &str| {
        let i = network
            .emitters
            .iter()
            .position(|e| e.name == name)
            .unwrap();
        b.walk.storeys[i].as_deref()
    };
    assert_eq!(
        (of("near"), of("index"), of("far")),
        (None, None, Some("first"))
    );
}
