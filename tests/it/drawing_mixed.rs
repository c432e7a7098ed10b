//! Made-up houses for drawing that mix at one place what is seldom mixed: a ring, a one-pipe loop down to a single
//! radiator, and radiators teed off one another, over storeys. From a seed, as the text of a file.

use crate::drawing::{complete, joined};
use pipecarry::draw::{self, Level, Style};
use std::fmt::Write as _;

struct Made(u64);

impl Made {
    fn next(&mut self, below: u64) -> u64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % below.max(1)
    }

    fn of<'a>(&mut self, all: &[&'a str]) -> &'a str {
        all[self.next(all.len() as u64) as usize]
    }

    /// Names, some of them long.
    fn names(&mut self, what: &str, count: u64) -> Vec<String> {
        let more = ["", "a ", "bay window ", "upper east corridor ", "wc "];
        let mut name = |i| format!("{what} {}{i}", self.of(&more));
        (0..count).map(&mut name).collect()
    }
}

const HEAD: &str = r#"design = { flow_temperature = "47 C", drop = "6 K" }
defaults = { emitter = { leg = "cu15 1m 2 elbow", valve = "thermostatic kv 0.9", lockshield = "kv 1.6" } }
[source."heat pump"]
output = "11 kW"
free_head = ["7 m at 0 l/min", "6 m at 25 l/min", "3 m at 40 l/min"]
"#;

const BUFFER: &str = r#"[vessel.buffer]
water = "60 l"
ports = 4
from = "heat pump"
leg = "cu28 3m 4 elbow"
pump = ["6 m at 0 l/min", "5 m at 30 l/min", "1 m at 55 l/min"]
"#;

/// The text of a house, with its mix: radiators of the ring, of the loop, and teed.
fn house(seed: u64) -> (String, (u64, u64, u64)) {
    let mut m = Made(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15));
    // a ring has two at least; every other house a loop with one
    let ring = [0, 2 + m.next(9)][m.next(4).min(1) as usize];
    let looped = [1, m.next(7)][(seed % 2) as usize];
    let teed = [m.next(8), 3][usize::from(ring + looped == 0)];
    let mut text = format!("job = \"Mixed {seed}\"\n{HEAD}");
    let mut root = "heat pump";
    if m.next(2) == 0 {
        text += BUFFER;
        root = "buffer";
    }
    let _ = writeln!(text, "[pair]\ntrunk = [\"{root}\", \"split\", \"cu28 4m\"]");
    let (mut more, mut emitters) = (String::new(), String::from("[emitter]\n"));
    let mut emitter = |m: &mut Made, name: &str, from: Option<&str>, storeys: &[&str]| {
        let from = from.map_or(String::new(), |f| format!("from = \"{f}\", "));
        let storey = match m.of(storeys) {
            "" => String::new(),
            name => format!(", storey = \"{name}\""),
        };
        let (rated, needs) = (800 + 100 * m.next(32), 200 + 100 * m.next(7));
        let _ = writeln!(
            emitters,
            "\"{name}\" = {{ {from}rated = \"{rated} W\", room = 20, needs = \"{needs} W\"{storey} }}"
        );
    };
    if looped > 0 {
        text += "up = [\"split\", \"upper\", \"cu22 4m 2 elbow\"]\n";
        let names = m.names("loop", looped);
        let main: Vec<String> = names
            .iter()
            .map(|n| format!("\"{n}\", \"cu22 4m\""))
            .collect();
        let tee = m.of(&["plain", "diverter kv 2.1"]);
        let _ = writeln!(
            more,
            "[loop.first]\nfrom = \"upper\"\nmain = [\"cu22 4m\", {}]\nbetween = \"cu22 0.6m\"\ntee = \"{tee}\"",
            main.join(", ")
        );
        names
            .iter()
            .for_each(|n| emitter(&mut m, n, None, &["", "first"]));
    }
    if ring > 0 {
        let names = m.names("ring", ring);
        let (mut out, mut home) = (Vec::new(), Vec::new());
        for name in &names {
            out.push(format!(
                "\"{} 4m\", \"{name}\"",
                m.of(&["cu22", "cu15", "cu28"])
            ));
            home.push(format!("\"{name}\", \"{} 4m\"", m.of(&["cu22", "cu15"])));
        }
        let _ = writeln!(
            more,
            "[ring.ground]\nfrom = \"split\"\nflow = [{}]\nreturn = [{}, \"split\"]",
            out.join(", "),
            home.join(", ")
        );
        names
            .iter()
            .for_each(|n| emitter(&mut m, n, None, &["", "ground"]));
    }
    let mut before = String::from("split");
    for (i, name) in m.names("tee", teed).iter().enumerate() {
        let from = if m.next(10) < 7 {
            before.as_str()
        } else {
            "split"
        };
        let _ = writeln!(text, "p{i} = [\"{from}\", \"t{i}\", \"cu22 3m\"]");
        before = format!("t{i}");
        emitter(
            &mut m,
            name,
            Some(&before),
            &["", "ground", "first", "second"],
        );
    }
    (text + &more + &emitters, (ring, looped, teed))
}

#[test]
fn mixed_houses_have_no_fault_at_any_level() {
    // `PIPECARRY_CASES=200` for a long run
    crate::drawing_random::all(16, |seed| {
        let (text, mix) = house(seed);
        let (survey, problems) = pipecarry::survey::read::read(&text);
        let survey = survey.unwrap_or_else(|| panic!("mixed {seed}: {problems:?}\n{text}"));
        let network = pipecarry::network::expand(&survey);
        let (network, _) = network.unwrap_or_else(|p| panic!("mixed {seed}: {p:?}\n{text}"));
        let running = pipecarry::view::running(&network, 0).ok();
        for level in [Level::Overview, Level::Normal, Level::Full, Level::Schedule] {
            let style = Style {
                level,
                ..Style::default()
            };
            let sheets = draw::scene(&network, None, running.as_ref(), &[], &style);
            let name = format!("mixed {seed} {mix:?} {level:?}");
            if level == Level::Normal {
                complete(&name, &network, &sheets);
                joined(&name, &network, &sheets);
            }
            for sheet in &sheets {
                assert_eq!(sheet.audit.faults(), 0, "{name}: {:?}", sheet.audit);
            }
        }
    });
}
