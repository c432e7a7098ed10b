//! Long one-pipe loops and reverse returns of twenty radiators: a plan, and a gap of at most 5 %.

use pipecarry::plan::problem::Objective;
use pipecarry::plan::search::{Excused, Found, MOST_LOOKS, Search, WIDE_GAP, prepare};
use pipecarry::survey;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

const RADIATORS: usize = 20;

fn found(text: &str) -> Found {
    let (read, faults) = survey::read(text);
    let read = read.unwrap_or_else(|| panic!("{faults:#?}\n{text}"));
    let (house, offers) = prepare(&read).unwrap();
    let search = Search {
        house: &house,
        offers: &offers,
        objective: Objective::Money,
        excused: &Excused::default(),
        most_looks: MOST_LOOKS,
        thorough: true,
    };
    search.run().unwrap()
}

fn source(kpa: f64) -> String {
    format!("[source.hp]\nfree_head = [\"{kpa} kPa at 0 l/min\", \"{kpa} kPa at 90 l/min\"]\n")
}

/// A loop whose tees send little through the radiators, of which some are too small for that.
fn one_pipe(seed: u64) -> String {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let (mut main, mut emitters) = (String::new(), String::new());
    let mut prices = String::from("\"ground cu22\" = 260\n");
    for i in 0..RADIATORS {
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
fn reverse_return(seed: u64) -> String {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let size = |share: f64| match share {
        s if s > 0.7 => "cu28",
        s if s > 0.3 => "cu22",
        _ => "cu15",
    };
    let (mut flow, mut back, mut emitters) = (Vec::new(), Vec::new(), String::new());
    for i in 0..RADIATORS {
        let share = (RADIATORS - i) as f64 / RADIATORS as f64;
        flow.push(format!(
            "{} {}m 2 elbow",
            size(share),
            rng.random_range(2..6)
        ));
        flow.push(format!("r{i}"));
        back.push(format!("r{i}"));
        if i + 1 < RADIATORS {
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
        source(f64::from(rng.random_range(13..20_u32)))
    )
}

#[test]
fn twenty_radiators_on_a_one_pipe_loop_are_proved() {
    let mut changed = 0;
    for seed in 0..4 {
        let text = one_pipe(seed);
        let found = found(&text);
        let best = found
            .best
            .as_ref()
            .unwrap_or_else(|| panic!("seed {seed}: none\n{text}"));
        assert!(found.gap <= WIDE_GAP, "seed {seed}: {}", found.gap);
        changed += usize::from(best.money > 0);
    }
    assert!(changed >= 2, "{changed}");
}

#[test]
fn twenty_radiators_on_a_reverse_return_end_within_5_percent() {
    let mut changed = 0;
    for seed in 0..3 {
        let text = reverse_return(seed);
        let found = found(&text);
        let best = found
            .best
            .as_ref()
            .unwrap_or_else(|| panic!("seed {seed}: none\n{text}"));
        assert!(found.tangled);
        assert!(found.gap <= WIDE_GAP, "seed {seed}: {}", found.gap);
        changed += usize::from(best.money > 0);
    }
    assert!(changed >= 2, "{changed}");
}
