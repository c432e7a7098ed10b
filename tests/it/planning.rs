//! Houses to plan for, made up by seed, and what the tests of planning share.

use pipecarry::plan::model::Model;
use pipecarry::plan::offer::{Offers, offers};
use pipecarry::plan::problem::{Choice, Objective};
use pipecarry::plan::search::{Excused, Found, House, MOST_LOOKS, Plan, Search};
use pipecarry::plan::site::settled;
use pipecarry::survey;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// A house with what is on offer there.
pub(crate) struct Planned {
    pub house: House,
    pub offers: Offers,
    pub excused: Excused,
}

impl Planned {
    pub fn of(text: &str) -> Self {
        let (house, offers) = house(text);
        Self {
            house,
            offers,
            excused: Excused::default(),
        }
    }

    /// A search for the least money.
    pub fn search(&self) -> Search<'_> {
        Search {
            house: &self.house,
            offers: &self.offers,
            objective: Objective::Money,
            excused: &self.excused,
            most_looks: MOST_LOOKS,
            thorough: true,
        }
    }
}

pub(crate) fn house(text: &str) -> (House, Offers) {
    let (read, faults) = survey::read(text);
    let read = read.unwrap_or_else(|| panic!("{faults:#?}\n{text}"));
    let house = House::new(settled(&read)).unwrap_or_else(|e| panic!("{e:?}\n{text}"));
    let offers = offers(&house.survey, &house.network);
    (house, offers)
}

/// The same model with every offer as a choice, ruled out or not.
pub(crate) fn with_all(model: &Model, offers: &Offers) -> Model {
    let mut all = model.clone();
    for (s, slot) in offers.slots.iter().enumerate() {
        all.offers[s] = (0..slot.offers.len()).collect();
        let choices = slot.offers.iter().map(|o| Choice {
            money: o.money,
            load_pa: 0.0,
            opens: o.opens.clone(),
        });
        all.problem.decisions[s].choices = choices.collect();
    }
    all
}

/// Every set of choices, ruled out or not.
pub(crate) fn all_sets(all: &Model) -> Vec<Vec<usize>> {
    all.offers.iter().fold(vec![Vec::new()], |sets, choices| {
        sets.iter()
            .flat_map(|set: &Vec<usize>| {
                choices.iter().map(move |&c| {
                    let mut next = set.clone();
                    next.push(c);
                    next
                })
            })
            .collect()
    })
}

/// The cheapest plan that works: all sets, cheapest first, each looked at in full.
pub(crate) fn by_brute_force(search: &Search<'_>, found: &Found) -> Option<Plan> {
    let all = with_all(&found.model, search.offers);
    let mut sets = all_sets(&all);
    sets.sort_by_key(|set| all.problem.cost(set));
    sets.iter().find_map(|set| search.verify(&all, set).ok())
}

/// A small house of one of four kinds: a tree, a tree whose trunk may be doubled, pipes that close a loop, a one-pipe loop
/// or a reverse return; lengths, needs and prices by chance.
pub(crate) fn made_up(seed: u64) -> String {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut next = |least: u64, most: u64| rng.random_range(least..=most);
    let head = |kpa: u64| {
        format!("[source.hp]\nfree_head = [\"{kpa} kPa at 0 l/min\", \"{kpa} kPa at 90 l/min\"]\n")
    };
    let emitters = "[defaults]\nemitter = { leg = \"cu15 2m\", valve = \"manual kv 1.2\" }\n";
    let end = "[limits]\nvelocity = \"2.2 m/s\"\n[plan]\nprices = \"own\"\n";
    match seed % 5 {
        kind @ (0 | 1) => {
            let (a, b, c) = (next(3, 12), next(3, 12), next(3, 9));
            let mut prices = String::from("[prices]\n");
            for run in ["trunk", "north", "south"] {
                prices += &format!("\"{run} cu28\" = {}\n", next(100, 500));
            }
            if kind == 1 {
                prices += &format!("\"trunk beside cu22\" = {}\n", next(100, 300));
                prices += &format!("\"north beside cu15\" = {}\n", next(60, 200));
            } else {
                prices += &format!("\"trunk cu35\" = {}\n", next(300, 800));
            }
            format!(
                "{}[pair]\ntrunk = [\"hp\", \"hall\", \"cu22 {a}m 3 elbow\"]\n\
                 north = [\"hall\", \"n\", \"cu22 {b}m 2 elbow\"]\nsouth = [\"hall\", \"s\", \"cu15 {c}m\"]\n\
                 {emitters}[emitter]\na = {{ from = \"n\", draws = \"{} W\" }}\n\
                 b = {{ from = \"n\", draws = \"{} W\" }}\nc = {{ from = \"s\", draws = \"{} W\" }}\n{prices}{end}",
                head(if kind == 1 { next(10, 26) } else { next(14, 34) }),
                next(1500, 3500),
                next(800, 2500),
                next(600, 1800)
            )
        }
        2 => {
            let mut prices = String::from("[prices]\n");
            for run in ["trunk", "west", "east", "link"] {
                prices += &format!("\"{run} cu28\" = {}\n", next(100, 500));
            }
            format!(
                "{}[pair]\ntrunk = [\"hp\", \"hall\", \"cu22 {}m 3 elbow\"]\n\
                 west = [\"hall\", \"w\", \"cu22 {}m 2 elbow\"]\neast = [\"hall\", \"e\", \"cu15 {}m\"]\n\
                 link = [\"w\", \"e\", \"cu15 {}m\"]\n\
                 {emitters}[emitter]\na = {{ from = \"w\", draws = \"{} W\" }}\n\
                 b = {{ from = \"e\", draws = \"{} W\" }}\n{prices}{end}",
                head(next(12, 26)),
                next(3, 10),
                next(3, 12),
                next(3, 12),
                next(2, 9),
                next(1500, 4000),
                next(1500, 4000)
            )
        }
        3 => format!(
            "{}design = {{ flow_temperature = \"48 C\", drop = \"6 K\" }}\n[loop.ground]\nfrom = \"hp\"\n\
             main = [\"cu22 {}m\", \"one\", \"cu22 {}m\", \"two\", \"cu22 6m\"]\n\
             between = \"cu22 0.6m\"\ntee = \"plain\"\n\
             [defaults.emitter]\nleg = \"cu15 1m\"\nvalve = \"manual kv 2.5\"\nlockshield = \"none\"\nroom = 20\n\
             [emitter]\none = {{ rated = \"{} W\", needs = \"1000 W\" }}\ntwo = {{ rated = \"{} W\", needs = \"1000 W\" }}\n\
             [prices]\n\"ground cu15\" = {}\n\"ground cu28\" = {}\n\"one cu22\" = {}\n\"two cu22\" = {}\n\
             \"one 22 600x1400\" = {}\n\"two 22 600x1600\" = {}\n{end}",
            head(next(3, 20)),
            next(3, 9),
            next(3, 9),
            next(2400, 4400),
            next(2400, 4600),
            next(20, 90),
            next(60, 200),
            next(30, 120),
            next(30, 120),
            next(150, 400),
            next(150, 400)
        )
        .replacen("[source.hp]", "@", 1)
        .split_once("design")
        .map(|(source, rest)| {
            let (design, rest) = rest.split_once('\n').unwrap_or_default();
            format!("design{design}\n{}{rest}", source.replace('@', "[source.hp]"))
        })
        .unwrap_or_default(),
        _ => format!(
            "{}[ring.house]\nfrom = \"hp\"\nflow = [\"cu22 {}m\", \"a\", \"cu15 {}m\", \"b\"]\n\
             return = [\"a\", \"cu15 {}m\", \"b\", \"cu22 {}m\", \"hp\"]\n{emitters}[emitter]\n\
             a = {{ draws = \"{} W\" }}\nb = {{ draws = \"{} W\" }}\n\
             [prices]\n\"house cu22\" = {}\n\"house cu28\" = {}\n\"a cu22\" = {}\n\"b cu22\" = {}\n{end}",
            head(next(9, 24)),
            next(3, 9),
            next(3, 9),
            next(3, 9),
            next(6, 15),
            next(1500, 3500),
            next(1500, 3500),
            next(60, 200),
            next(100, 400),
            next(30, 120),
            next(30, 120)
        ),
    }
}

/// Two small one-pipe loops on one pump behind one trunk, and beside them, of every other house, a circuit that is none.
pub(crate) fn two_loops(seed: u64) -> String {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut next = |least: u64, most: u64| rng.random_range(least..=most);
    let mut text = format!(
        "design = {{ flow_temperature = \"48 C\", drop = \"6 K\" }}\n{}[pair]\n\
         trunk = [\"hp\", \"hall\", \"cu22 {}m\"]\n",
        source(next(15, 40) as f64 / 10.0),
        next(3, 8)
    );
    let (mut emitters, mut prices) = (String::new(), String::from("[prices]\n"));
    for (name, tee) in [("ground", "plain"), ("upper", "diverter kv 9")] {
        let first = &name[..1];
        text += &format!(
            "[loop.{name}]\nfrom = \"hall\"\nmain = [\"cu22 {}m\", \"{first}1\", \"cu22 {}m\", \"{first}2\", \
             \"cu22 {}m\"]\nbetween = \"cu15 0.6m\"\ntee = \"{tee}\"\n",
            next(3, 9),
            next(3, 9),
            next(3, 9)
        );
        for i in 1..=2 {
            emitters += &format!(
                "{first}{i} = {{ rated = \"{} W\", needs = \"800 W\" }}\n",
                next(2500, 3600)
            );
        }
        prices += &format!("\"{name} cu28\" = {}\n", next(60, 200));
        prices += &format!("\"{first}1 cu22\" = {}\n", next(30, 120));
        prices += &format!("\"{first}2 22 600x2400\" = {}\n", next(150, 400));
    }
    if seed % 2 == 1 {
        emitters += &format!(
            "x = {{ from = \"hall\", draws = \"{} W\" }}\n",
            next(800, 2500)
        );
        prices += &format!("\"x cu22\" = {}\n", next(30, 120));
    }
    prices += &format!("\"trunk cu28\" = {}\n", next(60, 300));
    text + "[defaults.emitter]\nleg = \"cu15 1m\"\nvalve = \"manual kv 2.5\"\nlockshield = \"none\"\nroom = 20\n[emitter]\n"
        + &emitters
        + &prices
        + "[limits]\nvelocity = \"2.2 m/s\"\n[plan]\nprices = \"own\"\n"
}

/// A loop of two radiators beside a balanced pair of which some give far more than they must, on a weak pump: what the pair gives
/// too much cools the water of the unit.
pub(crate) fn loop_and_pair(seed: u64) -> String {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut next = |least: u64, most: u64| rng.random_range(least..=most);
    let mut text = format!(
        "design = {{ flow_temperature = \"48 C\", drop = \"6 K\" }}\n{}[pair]\n\
         trunk = [\"hp\", \"hall\", \"cu22 {}m\"]\npair = [\"hall\", \"landing\", \"cu15 {}m\"]\n\
         [loop.ground]\nfrom = \"hall\"\nmain = [\"cu22 {}m\", \"g1\", \"cu22 {}m\", \"g2\", \"cu22 {}m\"]\n\
         between = \"cu15 0.6m\"\ntee = \"plain\"\n",
        source(next(25, 60) as f64 / 10.0),
        next(3, 8),
        next(2, 6),
        next(3, 9),
        next(3, 9),
        next(3, 9)
    );
    let mut prices = format!(
        "[prices]\n\"ground cu28\" = {}\n\"trunk cu28\" = {}\n\"pair cu22\" = {}\n",
        next(60, 200),
        next(60, 300),
        next(30, 120)
    );
    text +=
        "[defaults.emitter]\nleg = \"cu15 1m\"\nvalve = \"manual kv 2.5\"\nroom = 20\n[emitter]\n";
    for i in 1..=2 {
        let rated = next(2200, 3400);
        text += &format!(
            "g{i} = {{ rated = \"{rated} W\", needs = \"800 W\", lockshield = \"none\" }}\n"
        );
        prices += &format!("\"g{i} cu22\" = {}\n", next(30, 120));
        prices += &format!("\"g{i} 22 600x2400\" = {}\n", next(150, 400));
        let rated = next(3400, 7000);
        text += &format!(
            "x{i} = {{ from = \"landing\", rated = \"{rated} W\", needs = \"700 W\", lockshield = \"kv 2.0\" }}\n"
        );
        prices += &format!("\"x{i} 22 600x1200\" = {}\n", next(100, 400));
    }
    text + &prices + "[limits]\nvelocity = \"2.2 m/s\"\n[plan]\nprices = \"own\"\n"
}

fn source(kpa: f64) -> String {
    format!("[source.hp]\nfree_head = [\"{kpa} kPa at 0 l/min\", \"{kpa} kPa at 90 l/min\"]\n")
}

/// A loop whose tees send little through the radiators, of which some are too small for that.
pub(crate) fn one_pipe(seed: u64, radiators: usize) -> String {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let (mut main, mut emitters) = (String::new(), String::new());
    let mut prices = String::from("\"ground cu22\" = 260\n");
    for i in 0..radiators {
        main += &format!("\"cu28 {}m\", \"r{i}\", ", rng.random_range(2..6));
        let needs = 50 * rng.random_range(6..14);
        let rated = f64::from(needs) * rng.random_range(2.3..3.6) * (1.0 + 0.02 * i as f64);
        emitters += &format!("r{i} = {{ rated = \"{rated:.0} W\", needs = \"{needs} W\" }}\n");
        prices += &format!("\"r{i} cu22\" = {}\n", rng.random_range(40..90));
        for width in [1400, 2000, 2600] {
            let money = width / 8 + rng.random_range(0..60);
            prices += &format!("\"r{i} 22 600x{width}\" = {money}\n");
        }
    }
    format!(
        "design = {{ flow_temperature = \"50 C\", drop = \"7 K\" }}\n{}[loop.ground]\nfrom = \"hp\"\n\
         main = [{main}\"cu28 8m\"]\nbetween = \"cu28 0.6m\"\ntee = \"plain\"\n\
         [defaults.emitter]\nleg = \"cu15 1m 2 elbow\"\nvalve = \"manual kv 2.0\"\nlockshield = \"none\"\nroom = 20\n\
         [emitter]\n{emitters}[prices]\n{prices}[limits]\nvelocity = \"2 m/s\"\n[plan]\nprices = \"own\"\n",
        source(60.0)
    )
}

/// A reverse return whose pump is too weak for its pipes.
pub(crate) fn reverse_return(seed: u64, radiators: usize) -> String {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let size = |share: f64| match share {
        s if s > 0.7 => "cu28",
        s if s > 0.3 => "cu22",
        _ => "cu15",
    };
    let (mut flow, mut back, mut emitters) = (Vec::new(), Vec::new(), String::new());
    for i in 0..radiators {
        let share = (radiators - i) as f64 / radiators as f64;
        flow.push(format!(
            "{} {}m 2 elbow",
            size(share),
            rng.random_range(2..6)
        ));
        flow.push(format!("r{i}"));
        back.push(format!("r{i}"));
        if i + 1 < radiators {
            let pipe = size(1.05 - share);
            back.push(format!("{pipe} {}m 1 elbow", rng.random_range(2..6)));
        }
        let needs = 50 * rng.random_range(6..16);
        emitters += &format!("r{i} = {{ draws = \"{needs} W\" }}\n");
    }
    back.extend(["cu28 10m 4 elbow".to_owned(), "hp".to_owned()]);
    format!(
        "{}[ring.house]\nfrom = \"hp\"\nflow = {flow:?}\nreturn = {back:?}\n\
         [defaults]\nemitter = {{ leg = \"cu15 2m 2 elbow\", valve = \"manual kv 0.9\" }}\n[emitter]\n{emitters}\
         [prices]\ncu22 = 11.3\ncu28 = 16.9\ncu35 = 24.1\nelbow = 4.7\n\"work under boards\" = 9.1\n\
         \"open under boards\" = 61\n[limits]\nvelocity = \"2 m/s\"\n[plan]\nprices = \"own\"\n",
        source(f64::from(rng.random_range(13..20_u32)) * (radiators as f64 / 20.0))
    )
}

/// A house of five or six radiators, each with few choices: a tree whose radiators have no lockshields, a one-pipe loop or a
/// reverse return.
pub(crate) fn with_more_radiators(seed: u64) -> String {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut next = |least: u64, most: u64| rng.random_range(least..=most);
    let (mut emitters, mut prices) = (String::new(), String::from("[prices]\n"));
    let kind = seed % 3;
    let kpa = [next(5, 10), next(14, 24), next(7, 14)][kind as usize];
    let count = if kind == 0 { 6 } else { 5 };
    for i in 0..count {
        let needs = if kind == 1 {
            next(450, 800)
        } else {
            next(600, 1400)
        };
        let from = ["north", "south"][i % 2];
        emitters += &match kind {
            0 => format!(
                "r{i} = {{ from = \"{from}\", {}rated = \"{} W\", needs = \"{needs} W\" }}\n",
                // some take far more than their share, since nothing throttles them
                ["leg = \"cu22 1m\", valve = \"manual kv 8\", ", ""][i % 2],
                needs * next(235, 250) / 100
            ),
            1 => format!(
                "r{i} = {{ rated = \"{} W\", needs = \"{needs} W\" }}\n",
                needs * next(22, 36) / 10
            ),
            _ => format!("r{i} = {{ draws = \"{needs} W\" }}\n"),
        };
        if kind == 2 || i < 2 {
            prices += &format!("\"r{i} cu22\" = {}\n", next(30, 120));
        }
        if kind == 1 && i > 1 {
            prices += &format!("\"r{i} 22 600x2400\" = {}\n", next(150, 400));
        }
    }
    let plant = match kind {
        0 => {
            for (run, pipe) in [
                ("trunk", "cu28"),
                ("trunk", "cu35"),
                ("a", "cu28"),
                ("b", "cu22"),
            ] {
                prices += &format!("\"{run} {pipe}\" = {}\n", next(100, 500));
            }
            format!(
                "[pair]\ntrunk = [\"hp\", \"hall\", \"cu22 {}m 3 elbow\"]\na = [\"hall\", \"north\", \"cu22 {}m\"]\n\
                 b = [\"hall\", \"south\", \"cu15 {}m\"]\n[defaults.emitter]\nleg = \"cu15 2m\"\nvalve = \"manual kv 2\"\n\
                 lockshield = \"none\"\nroom = 20\n",
                next(2, 6),
                next(2, 12),
                next(1, 3)
            )
        }
        1 => {
            let main: String = (0..count)
                .map(|i| format!("\"cu28 {}m\", \"r{i}\", ", next(2, 6)))
                .collect();
            format!(
                "[loop.ground]\nfrom = \"hp\"\nmain = [{main}\"cu28 8m\"]\nbetween = \"cu28 0.6m\"\ntee = \"plain\"\n\
                 [defaults.emitter]\nleg = \"cu15 1m\"\nvalve = \"manual kv 2\"\nlockshield = \"none\"\nroom = 20\n"
            )
        }
        _ => {
            let (mut flow, mut back) = (Vec::new(), Vec::new());
            for i in 0..count {
                flow.extend([format!("cu22 {}m", next(2, 6)), format!("r{i}")]);
                back.extend([format!("r{i}"), format!("cu22 {}m", next(2, 6))]);
            }
            back.push("hp".to_owned());
            format!(
                "[ring.house]\nfrom = \"hp\"\nflow = {flow:?}\nreturn = {back:?}\n[defaults.emitter]\n\
                 leg = \"cu15 6m 8 elbow\"\nvalve = \"manual kv 0.9\"\n"
            )
        }
    };
    format!(
        "design = {{ flow_temperature = \"{} C\", drop = \"6 K\" }}\n[source.hp]\n\
         free_head = [\"{kpa} kPa at 0 l/min\", \"{kpa} kPa at 90 l/min\"]\n{plant}[emitter]\n{emitters}{prices}\
         [limits]\nvelocity = \"2.2 m/s\"\n[plan]\nprices = \"own\"\n",
        [51, 58, 51][kind as usize]
    )
}

/// A tree of three radiators on walls, one of them in a room with a fourth; prices of the embedded table.
pub(crate) fn with_walls(seed: u64) -> String {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut next = |least: u64, most: u64| rng.random_range(least..=most);
    let mut emitters = String::new();
    for (i, from) in ["north", "north", "south", "south"].iter().enumerate() {
        let needs = next(500, 1100);
        let (room, needs_words) = match i {
            // these two share one room and its need
            2 | 3 => ("\"study\"".to_owned(), String::new()),
            _ => ("20".to_owned(), format!(", needs = \"{needs} W\"")),
        };
        emitters += &format!(
            "r{i} = {{ from = \"{from}\", rated = \"{} W\", room = {room}{needs_words}, wall = \"{}x{}x{}\" }}\n",
            needs * next(18, 30) / 10,
            next(12, 26) * 100,
            next(45, 75) * 10,
            next(12, 18) * 10
        );
    }
    format!(
        "design = {{ flow_temperature = \"{} C\", drop = \"6 K\" }}\n{}[pair]\n\
         trunk = [\"hp\", \"hall\", \"cu22 {}m 3 elbow in sight\"]\n\
         a = [\"hall\", \"north\", \"cu22 {}m in sight\"]\nb = [\"hall\", \"south\", \"cu15 {}m in sight\"]\n\
         [room]\nstudy = {{ temperature = \"20 C\", needs = \"{} W\" }}\n\
         [defaults.emitter]\nleg = \"cu15 2m in sight\"\nvalve = \"manual kv 1.2\"\n[emitter]\n{emitters}\
         [plan]\nleave = [\"trunk\", \"a\", \"b\"]\n",
        next(44, 50),
        source(f64::from(u32::try_from(next(20, 40)).unwrap_or(20))),
        next(3, 9),
        next(2, 6),
        next(2, 6),
        next(700, 1500)
    )
}

/// Twelve radiators on a thin main, made up by chance.
pub(crate) const SHORT_LOOP: &str = r#"design = { flow_temperature = "54 C", drop = "6 K" }
[source.hp]
free_head = ["26 kPa at 0 l/min", "20 kPa at 40 l/min"]
[loop.ground]
from = "hp"
main = ["cu22 4m 2 elbow", "r0", "cu22 3m 2 elbow", "r1", "cu22 6m 2 elbow", "r2", "cu22 6m 2 elbow", "r3", "cu22 3m 2 elbow", "r4", "cu22 5m 2 elbow", "r5", "cu22 4m 2 elbow", "r6", "cu22 4m 2 elbow", "r7", "cu22 4m 2 elbow", "r8", "cu22 2m 2 elbow", "r9", "cu22 5m 2 elbow", "r10", "cu22 3m 2 elbow", "r11", "cu22 8m 3 elbow"]
between = "cu22 0.6m"
tee = "plain"
[defaults.emitter]
leg = "cu15 1m 2 elbow"
valve = "thermostatic kv 1.6"
lockshield = "kv 2.0"
room = 20
[emitter]
r0 = { panel = "21 450x1000", needs = "325 W", wall = "1400x600x160" }
r1 = { panel = "11 450x1000", needs = "600 W", wall = "1700x600x160" }
r2 = { panel = "22 600x1600", needs = "475 W", wall = "2600x750x160" }
r3 = { panel = "21 600x1200", needs = "525 W", wall = "1900x700x130" }
r4 = { panel = "22 600x800", needs = "350 W", wall = "1100x750x200" }
r5 = { panel = "21 450x1000", needs = "350 W", wall = "1400x550x160" }
r6 = { panel = "11 450x900", needs = "500 W", wall = "1400x550x200" }
r7 = { panel = "21 450x1400", needs = "575 W", wall = "2400x550x200" }
r8 = { panel = "21 600x1500", needs = "500 W", wall = "2700x850x130" }
r9 = { panel = "11 600x1200", needs = "250 W", wall = "2100x850x200" }
r10 = { panel = "21 450x700", needs = "450 W", wall = "1300x550x200" }
r11 = { panel = "21 450x1300", needs = "425 W", wall = "2300x550x130" }
[plan]
prices = "invented"
"#;

/// Two one-pipe loops of four radiators on one weak pump.
pub(crate) const SHORT_LOOPS: &str = r#"design = { flow_temperature = "53 C", drop = "7 K" }
[source.hp]
free_head = ["7 kPa at 0 l/min", "4 kPa at 40 l/min"]
[pair]
main = ["hp", "s1", "cu28 4m 4 elbow"]
[loop.ground]
from = "s1"
main = ["cu15 3m 2 elbow", "g0", "cu15 5m 2 elbow", "g1", "cu15 4m 2 elbow", "g2", "cu15 4m 2 elbow", "g3", "cu15 8m 3 elbow"]
between = "cu15 0.6m"
tee = "plain"
[loop.upper]
from = "s1"
main = ["cu15 2m 2 elbow", "u0", "cu15 4m 2 elbow", "u1", "cu15 6m 2 elbow", "u2", "cu15 3m 2 elbow", "u3", "cu15 10m 5 elbow"]
between = "cu15 0.6m"
tee = "plain"
[defaults.emitter]
leg = "cu15 1m 2 elbow"
valve = "thermostatic kv 1.6"
lockshield = "kv 2.0"
room = 20
[emitter]
g0 = { panel = "21 450x800", needs = "500 W", wall = "1600x550x130" }
g1 = { panel = "21 450x1000", needs = "500 W", wall = "1800x550x130" }
g2 = { panel = "22 450x800", needs = "350 W", wall = "1500x550x160" }
g3 = { panel = "11 450x800", needs = "375 W", wall = "1700x550x130" }
u0 = { panel = "21 450x1400", needs = "275 W", wall = "2100x550x160" }
u1 = { panel = "22 450x1500", needs = "325 W", wall = "1800x550x130" }
u2 = { panel = "11 600x800", needs = "300 W", wall = "1400x700x200" }
u3 = { panel = "21 450x900", needs = "525 W", wall = "2000x600x200" }
[plan]
prices = "invented"
"#;

/// A one-pipe loop beside a pair of pipes on one weak pump.
pub(crate) const SHORT_BESIDE: &str = r#"design = { flow_temperature = "51 C", drop = "7 K" }
[source.hp]
free_head = ["9 kPa at 0 l/min", "6 kPa at 40 l/min"]
[pair]
main = ["hp", "s1", "cu28 4m 4 elbow"]
p0 = ["s1", "t0", "cu15 3m 2 elbow"]
p1 = ["t0", "t1", "cu15 4m 2 elbow"]
p2 = ["t0", "t2", "cu15 4m 2 elbow"]
[loop.ground]
from = "s1"
main = ["cu15 4m 2 elbow", "g0", "cu15 5m 2 elbow", "g1", "cu15 6m 2 elbow", "g2", "cu15 5m 2 elbow", "g3", "cu15 4m 2 elbow", "g4", "cu15 8m 3 elbow"]
between = "cu15 0.6m"
tee = "plain"
[defaults.emitter]
leg = "cu15 1m 2 elbow"
valve = "thermostatic kv 1.6"
lockshield = "kv 2.0"
room = 20
[emitter]
g0 = { panel = "21 450x1300", needs = "425 W", wall = "2300x600x130" }
g1 = { panel = "11 600x1100", needs = "450 W", wall = "1900x700x160" }
g2 = { panel = "22 600x1600", needs = "275 W", wall = "1900x700x200" }
g3 = { panel = "22 600x1600", needs = "600 W", wall = "2000x850x130" }
g4 = { panel = "22 600x1000", needs = "600 W", wall = "2000x700x130" }
u0 = { panel = "22 450x1500", needs = "600 W", wall = "2500x600x130", from = "t0", leg = "cu15 3m 4 elbow" }
u1 = { panel = "22 450x600", needs = "400 W", wall = "1200x700x200", from = "t1", leg = "cu15 2m 4 elbow" }
u2 = { panel = "11 450x1100", needs = "475 W", wall = "1500x600x130", from = "t2", leg = "cu15 1m 4 elbow" }
[plan]
prices = "invented"
"#;
