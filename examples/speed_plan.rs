//! Time of the exact search: 40 runs × 4 choices with 10 emitters × 4 choices, and 150 runs, each with its proof.
//!
//! `cargo run --profile fast --example speed_plan`; the figures stand in DEVELOPERS.md.

use pipecarry::plan::cheapest;
use pipecarry::plan::problem::{Choice, Decision, Objective, Opening, Problem, Row};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::io::Write;
use std::time::Instant;

/// Houses of each size, of which the slowest is told.
const HOUSES: u64 = 10;

fn main() -> std::io::Result<()> {
    let mut out = std::io::stdout();
    for (runs, emitters) in [(40, 10), (150, 0), (150, 40)] {
        let mut slowest = 0.0_f64;
        let (mut nodes, mut proved, mut none) = (0, 0, 0);
        for seed in 0..HOUSES {
            let problem = house(runs, emitters, seed);
            let begun = Instant::now();
            let found = cheapest(&problem, Objective::Money, &[]);
            slowest = slowest.max(begun.elapsed().as_secs_f64());
            match found {
                Some(a) => {
                    nodes = nodes.max(a.nodes);
                    proved += u64::from(a.gap() == 0.0);
                }
                None => none += 1,
            }
        }
        writeln!(
            out,
            "{runs} runs x 4, {emitters} emitters x 4: slowest of {HOUSES} {:.3} s, at most {nodes} parts, \
             {proved} proved, {none} without a plan",
            slowest
        )?;
    }
    Ok(())
}

/// A tree of runs over shared openings; every emitter hangs on a leaf with choices of its own; tees lose a little more
/// on one way than on the other.
fn house(runs: usize, emitters: usize, seed: u64) -> Problem {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let parent: Vec<usize> = (0..runs)
        .map(|i| if i < 2 { 0 } else { rng.random_range(i / 2..i) })
        .collect();
    let openings: Vec<Opening> = (0..runs / 4)
        .map(|_| Opening {
            money: rng.random_range(5_000..60_000),
            disruption: rng.random_range(1..30),
        })
        .collect();
    let mut decisions: Vec<Decision> = (0..runs)
        .map(|i| {
            let place = (i / 4).min(openings.len() - 1);
            let mut load = rng.random_range(400.0..3_000.0);
            let mut money = 0;
            let choices = (0..4).map(|c| {
                let choice = Choice {
                    money,
                    load_pa: load,
                    opens: if c > 0 { vec![place] } else { Vec::new() },
                };
                money += rng.random_range(8_000..50_000);
                load *= rng.random_range(0.35..0.6);
                choice
            });
            Decision {
                choices: choices.collect(),
            }
        })
        .collect();
    let leaves: Vec<usize> = (1..runs).filter(|i| !parent.contains(i)).collect();
    let mut rows = Vec::new();
    for (k, &leaf) in leaves.iter().enumerate() {
        let mut way = vec![leaf];
        while way[way.len() - 1] != 0 {
            way.push(parent[way[way.len() - 1]]);
        }
        way.sort_unstable();
        let most: f64 = way.iter().map(|&d| decisions[d].choices[0].load_pa).sum();
        let also = way
            .iter()
            .skip(1)
            .step_by(3)
            .map(|&d| {
                let more = rng.random_range(0.0..120.0);
                (d, vec![more, more * 0.5, more * 0.3, more * 0.2])
            })
            .collect();
        if k < emitters {
            let choices = (0..4).map(|c| Choice {
                money: 15_000 * c,
                load_pa: 1_500.0 / f64::from(c as i32 + 1),
                opens: Vec::new(),
            });
            decisions.push(Decision {
                choices: choices.collect(),
            });
            way.push(decisions.len() - 1);
        }
        rows.push(Row {
            decisions: way,
            limit_pa: most * rng.random_range(0.55..0.8),
            also,
            tied: Vec::new(),
        });
    }
    Problem {
        decisions,
        openings,
        rows,
        ties: Vec::new(),
    }
}
