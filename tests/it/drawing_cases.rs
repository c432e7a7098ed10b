//! Drawings of what nobody draws by hand: very large, very odd, and houses that say where things are.

use crate::drawing::{complete, draw_study, files, house, joined, load, strokes};
use pipecarry::check::{Options, study};
use pipecarry::draw::scene::{About, Item, Label, Scene, Shape};
use pipecarry::draw::{self, Level, Paper, Style};
use pipecarry::network::Network;
use std::fmt::Write as _;

fn expand(text: &str) -> Network {
    let (survey, problems) = pipecarry::survey::read::read(text);
    let survey = survey.unwrap_or_else(|| panic!("{problems:?}"));
    pipecarry::network::expand(&survey)
        .unwrap_or_else(|p| panic!("{p:?}"))
        .0
}

fn labels(sheets: &[Scene]) -> Vec<&Label> {
    sheets
        .iter()
        .flat_map(|s| &s.items)
        .filter_map(|i| match i {
            Item::Label(l) => Some(l),
            _ => None,
        })
        .collect()
}

fn says(sheets: &[Scene], words: &str) -> bool {
    labels(sheets)
        .iter()
        .flat_map(|l| &l.lines)
        .any(|l| l.text.replace('\u{a0}', " ").contains(words))
}

fn unsolved(network: &Network) -> Vec<Scene> {
    draw::scene(network, None, None, &[], &Style::default())
}

const HEAD: &str = "job = \"Made up\"\ndesign = { flow_temperature = \"50 C\", drop = \"5 K\" }\n\
    [source.pump]\noutput = \"9 kW\"\nfree_head = [\"7 m at 0 l/min\", \"3 m at 40 l/min\"]\n";

fn emitter(name: &str, from: &str, more: &str) -> String {
    format!(
        "\"{name}\" = {{ from = \"{from}\", leg = \"cu15 3m\", panel = \"22 600x1000\", room = 20, needs = \"500 W\"{more} }}\n"
    )
}

/// Storeys of twelve radiators along a main each.
fn tall(storeys: usize) -> String {
    let mut text = format!("{HEAD}[pair]\n");
    let mut emitters = String::from("[emitter]\n");
    let mut below = "pump".to_string();
    for s in 0..storeys {
        let _ = writeln!(text, "r{s} = [\"{below}\", \"landing {s}\", \"cu35 3m\"]");
        below = format!("landing {s}");
        let mut at = below.clone();
        for r in 0..12 {
            if (1..11).contains(&r) {
                let _ = writeln!(text, "p{s}x{r} = [\"{at}\", \"tee {s} {r}\", \"cu22 4m\"]");
                at = format!("tee {s} {r}");
            }
            emitters += &emitter(&format!("room {s} {r}"), &at, "");
        }
    }
    text + &emitters
}

#[test]
fn a_thousand_runs_get_numbers_and_a_schedule() {
    let network = expand(&tall(22));
    assert!(network.runs.len() >= 1000, "{}", network.runs.len());
    let sheets = unsolved(&network);
    complete("a thousand runs", &network, &sheets);
    joined("a thousand runs", &network, &sheets);
    assert!(says(&sheets, "figures in the schedule") && says(&sheets, "Not solved"));
    assert!(sheets.iter().all(|s| s.paper == Paper::A3));
    let last = &network.runs.last().expect("a run").tag;
    assert!(says(&sheets, last));
}

#[test]
fn more_than_a_sheet_holds_goes_on_behind_numbered_arrows() {
    let network = house("burdock");
    let found = study(&network, &Options::default()).expect("an answer");
    let sheets = draw::scene(
        &network,
        found.required.first(),
        found.running.first(),
        &found.findings,
        &Style::default(),
    );
    complete("burdock", &network, &sheets);
    joined("burdock", &network, &sheets);
    assert!((2..=4).contains(&sheets.len()) && sheets.iter().all(|s| s.paper == Paper::A3));
    let mut seen = 0;
    for (k, sheet) in sheets.iter().enumerate() {
        for label in labels(std::slice::from_ref(sheet)) {
            let About::Away(id, flow) = label.about else {
                continue;
            };
            // `to sheet 2: F7 · 28 Cu`
            let text = label.lines[0].text.replace('\u{a0}', " ");
            let sheet = text.split(':').next().and_then(|t| t.rsplit(' ').next());
            let number: usize = sheet.and_then(|n| n.parse().ok()).expect("a number");
            assert_ne!(number, k + 1, "{text}");
            let there = &sheets[number - 1];
            let partner = labels(std::slice::from_ref(there))
                .into_iter()
                .find(|l| l.about == About::Away(id, flow))
                .expect("the same arrow there");
            let back = partner.lines[0].text.replace('\u{a0}', " ");
            assert!(back.contains(&format!("sheet {}", k + 1)), "{back}");
            // both say the same run, so that arrows can be told apart
            let whole = |l: &draw::scene::Label| {
                let lines = l.lines.iter().map(|l| l.text.clone());
                lines.collect::<Vec<_>>().join(" ")
            };
            let tag = network.runs.iter().find(|r| {
                let said = |l: &draw::scene::Label| {
                    let words = whole(l).replace([',', ':', '·'], " ");
                    words.split_whitespace().any(|w| w == r.tag)
                };
                said(label) && said(partner)
            });
            assert!(tag.is_some(), "{} and {}", whole(label), whole(partner));
            seen += 1;
        }
    }
    assert!(seen >= 4, "flow and return on both sheets");
    let hops: usize = sheets.iter().map(|s| s.audit.hops).sum();
    let may: usize = sheets
        .iter()
        .map(|s| s.rows.saturating_sub(1) + s.plant_loops)
        .sum();
    assert!(hops <= may, "{hops} hops");
}

/// What a drawing of six emitters or more has to keep, beside having no fault.
pub(crate) fn measured(name: &str, network: &Network, sheets: &[Scene]) {
    let sum = |of: &dyn Fn(&Scene) -> usize| sheets.iter().map(of).sum::<usize>();
    let hops = sum(&|s| s.audit.hops);
    let may = sum(&|s| s.rows.saturating_sub(1) + s.plant_loops);
    let few = network.emitters.len() < 6;
    assert!(few || hops <= may, "{name}: {hops} hops, {may} allowed");
    let (bends, strokes) = (sum(&|s| s.audit.bends), sum(&|s| s.audit.strokes));
    assert!(
        few || bends as f64 <= 0.35 * strokes as f64,
        "{name}: {bends}"
    );
    for sheet in sheets.iter().filter(|s| s.audit.strokes > 0) {
        let a = &sheet.audit;
        assert!(a.bends_max <= 2, "{name}: {a:?}");
        assert!(few || a.length_rel <= 4.0, "{name}: {a:?}");
        assert!(few || (1.2..=1.7).contains(&a.aspect), "{name}: {a:?}");
        assert!(a.cells >= 0.3, "{name}: little on it, {a:?}");
        assert!(a.smallest_cap >= 1.795, "{name}: {a:?}");
    }
}

#[test]
fn sheets_keep_their_measures() {
    let houses = files("networks", "toml");
    for file in houses
        .into_iter()
        .chain(files("tests/data/networks", "json"))
    {
        let network = load(&file);
        let found = study(&network, &Options::default()).ok();
        let sheets = draw_study(&network, found.as_ref(), &Style::default());
        let name = file.display().to_string();
        assert!(sheets.iter().all(|s| s.paper <= Paper::A3), "{name}");
        measured(&name, &network, &sheets);
    }
}

/// No fault, nothing of the sheet's own words cut, and text drawings no wider than a terminal.
fn reads(name: &str, network: &Network, style: &Style) {
    let found = study(network, &Options::default()).ok();
    let sheets = draw_study(network, found.as_ref(), style);
    assert!(!sheets.is_empty(), "{name}");
    for sheet in &sheets {
        assert_eq!(sheet.audit.faults(), 0, "{name}: {:?}", sheet.audit);
        if let Some(paper) = style.paper {
            assert_eq!(sheet.paper, paper, "{name}");
        }
    }
    for label in labels(&sheets) {
        let own = label.about == About::Sheet && label.letter == draw::scene::Letter::Note;
        assert!(!own || label.full.is_none(), "{name}: {label:?} is cut");
    }
    let required = found.as_ref().and_then(|s| s.required.first());
    let running = found.as_ref().and_then(|s| s.running.first());
    let words = draw::text(network, required, running, &[], style);
    assert!(words.lines().all(|l| l.chars().count() <= 100), "{name}");
}

#[test]
fn every_level_of_every_house_reads_and_cuts_no_word_of_its_own() {
    for file in files("networks", "toml") {
        let network = load(&file);
        for level in [Level::Overview, Level::Full, Level::Schedule] {
            let style = Style {
                level,
                decimal: ',',
                shows: draw::Shows::Running,
                ..Style::default()
            };
            reads(&format!("{} {level:?}", file.display()), &network, &style);
        }
    }
}

#[test]
fn every_paper_and_theme_reads() {
    let network = house("larch");
    let levels = [Level::Overview, Level::Normal, Level::Full, Level::Schedule];
    let themes = [
        draw::Theme::Auto,
        draw::Theme::Light,
        draw::Theme::Dark,
        draw::Theme::Ink,
    ];
    for (paper, theme) in Paper::ALL.into_iter().zip(themes) {
        for level in levels {
            let style = Style {
                level,
                paper: Some(paper),
                theme,
                ticks: true,
                ..Style::default()
            };
            reads(&format!("{paper:?} {level:?}"), &network, &style);
        }
    }
}

#[test]
fn a_way_home_is_as_wide_and_as_marked_as_what_leads_to_it() {
    let network = house("campion");
    let found = study(&network, &Options::default()).expect("an answer");
    let sheets = draw_study(&network, Some(&found), &Style::default());
    let bars: Vec<_> = sheets
        .iter()
        .flat_map(strokes)
        .filter(|s| s.about == About::Sheet)
        .collect();
    let home = bars
        .iter()
        .find(|s| s.water == draw::scene::Water::Return && s.points.len() > 2)
        .expect("a bar leads home");
    assert!(home.index, "{home:?}");
    let casings = sheets.iter().flat_map(|s| &s.items);
    let casings = casings.filter(|i| matches!(i, Item::Symbol(s) if s.shape == Shape::Casing));
    assert_eq!(casings.count(), 2, "the unit with its pump, and the key");
}

#[test]
fn one_emitter_alone_is_drawn_large() {
    let network = expand(&format!(
        "{HEAD}[emitter]\n{}",
        emitter("lounge", "pump", "")
    ));
    let sheets = unsolved(&network);
    complete("alone", &network, &sheets);
    let [sheet] = &sheets[..] else {
        panic!("one sheet")
    };
    assert_eq!(sheet.paper, Paper::A4);
    assert!(sheet.scale > 1.0 && sheet.audit.cells >= 0.27);
}

#[test]
fn the_order_asked_for_is_kept_among_emitters_of_one_place() {
    let names = ["a", "b", "c", "d"];
    let draw = |orders: [&str; 4]| {
        let mut text =
            format!("{HEAD}[pair]\nout = [\"pump\", \"hall\", \"cu22 5m\"]\n[emitter]\n");
        for (name, order) in names.iter().zip(orders) {
            text += &emitter(name, "hall", order);
        }
        let network = expand(&text);
        let sheets = unsolved(&network);
        complete("order", &network, &sheets);
        joined("order", &network, &sheets);
        let mut at: Vec<(f64, String)> = sheets[0]
            .items
            .iter()
            .filter_map(|i| match i {
                Item::Symbol(s) => match s.about {
                    About::Emitter(e) => Some((s.rect.x, network.emitters[e].name.clone())),
                    _ => None,
                },
                _ => None,
            })
            .collect();
        at.sort_by(|a, b| a.0.total_cmp(&b.0));
        at.into_iter().map(|(_, n)| n).collect::<String>()
    };
    assert_eq!(draw([""; 4]), "abcd");
    let some = draw(["", ", order = 2", "", ", order = 1"]);
    assert_eq!(some, "dbac", "those without stand behind, as written");
    let all = draw([
        ", order = 4",
        ", order = 3",
        ", order = 2.5",
        ", order = -1",
    ]);
    assert_eq!(all, "dcba");
}

#[test]
fn names_of_any_length_and_script() {
    let long = "long ".repeat(1000);
    let names = [
        long.trim(),
        "Гостиная на первом этаже",
        "غرفة المعيشة الكبيرة",
        "居間",
        "a\u{301}\u{202e}b",
    ];
    let mut text = format!("{HEAD}[pair]\nout = [\"pump\", \"hall\", \"cu22 5m\"]\n[emitter]\n");
    for name in names {
        text += &emitter(name, "hall", "");
    }
    let network = expand(&text);
    for level in [Level::Overview, Level::Normal, Level::Full] {
        let style = Style {
            level,
            ..Style::default()
        };
        let sheets = draw::scene(&network, None, None, &[], &style);
        complete("names", &network, &sheets);
        joined("names", &network, &sheets);
        for name in &names[1..4] {
            let first = name.split(' ').next().expect("a word");
            assert!(says(&sheets, first), "{name}");
        }
        // cut on the sheet, whole for those who hover
        let whole = labels(&sheets)
            .into_iter()
            .any(|l| l.full.as_deref() == Some(long.trim()));
        assert!(whole);
        let svg: String = sheets.iter().map(draw::svg::render).collect();
        roxmltree::Document::parse(&svg).expect("well-formed");
        assert!(!svg.contains('\u{202e}'));
    }
}

#[test]
fn an_emitter_without_a_name_and_nothing_solved() {
    let mut network = expand(&format!(
        "{HEAD}[pair]\nout = [\"pump\", \"hall\", \"cu22 5m\"]\n[emitter]\n{}{}",
        emitter("one", "hall", ""),
        emitter("two", "hall", "")
    ));
    network.emitters[0].name = String::new();
    network.emitters[1].name = " \u{7}\n".into();
    let sheets = unsolved(&network);
    complete("no names", &network, &sheets);
    joined("no names", &network, &sheets);
    assert!(says(&sheets, "(no name)"));
    assert!(says(&sheets, "Not solved: no figures to show") && says(&sheets, "not solved"));
    assert!(says(&sheets, "–") && !says(&sheets, "0 m/s") && !says(&sheets, "l/min"));
}

#[test]
fn several_parts_are_all_drawn() {
    // two circuits that water does not join, and one behind an exchanger
    let part = |k: usize| {
        format!(
            r#"{{"id":"s{k}","from":"a{k}","to":"b{k}","type":"resistance","dp_ref_pa":9000.0,"q_ref_m3h":1.0,"exponent":2.0,"thermal":{{"kind":"source","flow_c":50.0}}}},
            {{"id":"p{k}","from":"b{k}","to":"c{k}","type":"pipe","length_m":4.0,"bore_m":0.02,"roughness_m":1.5e-6,"zeta":1.0}},
            {{"id":"e{k}","from":"c{k}","to":"d{k}","type":"resistance","dp_ref_pa":800.0,"q_ref_m3h":0.15,"exponent":2.0,"thermal":{{"kind":"emitter","q_n_w":1500.0,"n":1.3,"room_c":20.0}}}},
            {{"id":"q{k}","from":"d{k}","to":"a{k}","type":"pipe","length_m":4.0,"bore_m":0.02,"roughness_m":1.5e-6,"zeta":1.0}}"#
        )
    };
    let nodes: Vec<String> = (0..2)
        .flat_map(|k| ["a", "b", "c", "d"].map(|n| format!(r#"{{"id":"{n}{k}"}}"#)))
        .collect();
    let text = format!(
        r#"{{"id":"parts","fluid":{{"rho_kg_m3":990.0,"mu_pa_s":6e-4,"cp_j_kgk":4180.0}},"reference_node":"a0","reference_pressure_pa":0.0,"nodes":[{}],"elements":[{},{}]}}"#,
        nodes.join(","),
        part(0),
        part(1)
    );
    let network = pipecarry::network::reference::load(&text).unwrap_or_else(|e| panic!("{e}"));
    let sheets = unsolved(&network);
    complete("parts", &network, &sheets);
    joined("parts", &network, &sheets);
    let sources = sheets.iter().flat_map(|s| &s.items);
    let sources = sources.filter(
        |i| matches!(i, Item::Symbol(s) if s.shape == Shape::HeatPump && s.about != About::Sheet),
    );
    assert_eq!(sources.count(), 2);
}

#[test]
fn storeys_zones_and_order_are_obeyed() {
    // written upstairs first: the ground floor is the lowest row all the same, and names stand beside the rows
    let mut text = format!("{HEAD}[pair]\nup = [\"pump\", \"landing\", \"cu22 5m\"]\n");
    text += "far = [\"landing\", \"end\", \"cu22 3m\"]\ndown = [\"pump\", \"hall\", \"cu22 5m\"]\nnear = [\"hall\", \"back\", \"cu22 2m\"]\n[emitter]\n";
    for (name, from, storey) in [
        ("bed 1", "landing", "first floor"),
        ("bed 2", "landing", "first floor"),
        ("bath", "end", "first floor"),
        ("lounge", "hall", "ground floor"),
        ("study", "hall", "ground floor"),
        ("kitchen", "back", "ground floor"),
    ] {
        text += &emitter(name, from, &format!(", storey = \"{storey}\""));
    }
    let network = expand(&text);
    let sheets = unsolved(&network);
    complete("storeys", &network, &sheets);
    joined("storeys", &network, &sheets);
    let [sheet] = &sheets[..] else {
        panic!("one sheet")
    };
    let at = |name: &str| {
        let found = sheet.items.iter().find_map(|i| match i {
            Item::Symbol(s) => match s.about {
                About::Emitter(e) if network.emitters[e].name == name => Some(s.rect),
                _ => None,
            },
            _ => None,
        });
        found.expect("drawn")
    };
    for up in ["bed 1", "bed 2", "bath"] {
        for down in ["lounge", "study", "kitchen"] {
            assert!(at(up).bottom() < at(down).y, "{up} above {down}");
        }
    }
    assert!(at("bed 1").x < at("bed 2").x && at("bed 2").x < at("bath").x);
    assert!(at("lounge").x < at("study").x && at("study").x < at("kitchen").x);
    for name in ["first floor", "ground floor"] {
        let label = labels(&sheets)
            .into_iter()
            .find(|l| l.lines[0].text == name)
            .unwrap_or_else(|| panic!("{name} stands beside its row"));
        let row = at(if name == "first floor" {
            "bath"
        } else {
            "kitchen"
        });
        assert!(label.rect.y < row.bottom() && label.rect.bottom() > row.y);
    }
    // written the other way round, the order on the sheet turns
    let turned = text
        .replace("\"bed 1\"", "\"bed 9\"")
        .replace("\"bed 2\"", "\"bed 1\"")
        .replace("\"bed 9\"", "\"bed 2\"");
    let other = expand(&turned);
    let again = unsolved(&other);
    let x = |name: &str| {
        again[0]
            .items
            .iter()
            .find_map(|i| match i {
                Item::Symbol(s) => match s.about {
                    About::Emitter(e) if other.emitters[e].name == name => Some(s.rect.x),
                    _ => None,
                },
                _ => None,
            })
            .expect("drawn")
    };
    assert!(x("bed 2") < x("bed 1"));
}

#[test]
fn a_unit_says_its_free_head_and_a_manifold_has_bars() {
    let network = house("burdock");
    let found = study(&network, &Options::default()).expect("an answer");
    let draw = |required| draw::scene(&network, required, None, &[], &Style::default());
    let sheets = draw(found.required.first());
    assert!(says(&sheets, "free head"));
    assert!(!says(&draw(None), "free head"), "no figure, no words");
    let bars = sheets
        .iter()
        .flat_map(strokes)
        .filter(|s| s.about == About::Sheet && s.width >= 1.4);
    assert!(bars.count() >= 2, "flow bar and return bar");
}
