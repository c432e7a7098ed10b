//! Time and memory of all combinations of a house's valves, heat included, and of a whole `shut` of a file.
//!
//! `cargo run --profile fast --example speed_shut [FILE]`; the figures stand in DEVELOPERS.md. The house is that of
//! `tests/data/houses/sixteen.toml`: sixteen radiators, 120 elements. With fewer valves that may shut, the others stay open.

use pipecarry::cli::{self, Disk, Io, Status};
use pipecarry::network::{Network, StateKind, expand};
use pipecarry::shut::enumerate::{Asked, Extent, combinations, ways};
use pipecarry::shut::valves::closable;
use pipecarry::solve::Solver;
use pipecarry::survey;
use pipecarry::view::running;
use std::error::Error;
use std::io::Write;
use std::ops::ControlFlow;
use std::time::Instant;

/// The kernel's own count of the most memory that was in use, kB.
fn most_memory_kb() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|l| l.starts_with("VmHWM"))?;
    line.split_whitespace().nth(1)?.parse().ok()
}

fn house(path: &str) -> Result<Network, Box<dyn Error>> {
    let (survey, _) = survey::read(&std::fs::read_to_string(path)?);
    let survey = survey.ok_or("the house cannot be read")?;
    Ok(expand(&survey).map_err(|d| format!("{d:?}"))?.0)
}

fn main() -> Result<(), Box<dyn Error>> {
    let mut out = std::io::stdout();
    let network = house("tests/data/houses/sixteen.toml")?;
    let state = network
        .states
        .iter()
        .position(|s| s.kind == StateKind::Heating)
        .ok_or("no heating")?;
    let required = running::heating(&network);
    let lockshields = running::lockshields(&network, false, required.as_ref());
    let base = running::setting(&network, state, &lockshields);
    let all = closable(&network, &network.states[state]);
    writeln!(
        out,
        "{} elements, {} valves, {} threads",
        network.graph.edge_count(),
        all.len(),
        rayon::current_num_threads()
    )?;
    for valves in [12, 14, 16] {
        let begun = Instant::now();
        let found = combinations(&Asked {
            network: &network,
            base: &base,
            valves: all.get(..valves).unwrap_or(&all),
            spots: &[],
            keep: false,
            extent: Extent::default(),
            sets: true,
            progress: &|_, _| {},
            interrupted: &|| false,
        })
        .map_err(|e| format!("{e:?}"))?;
        let seconds = begun.elapsed().as_secs_f64();
        writeln!(
            out,
            "2^{valves}: {} solved, {} trip, {seconds:.3} s, {:.1} µs each, {} kB at most so far",
            found.tally.solved,
            found.tripping(),
            1e6 * seconds / found.tally.solved.max(1) as f64,
            most_memory_kb().unwrap_or(0)
        )?;
    }
    let (mut rounds, mut steps) = (0, 0);
    let ended = Solver::new(&network).fold_states(
        &base,
        &ways(&all),
        1 << all.len(),
        |k| k,
        || (0, 0),
        |sum, _, answer| {
            if let Ok(light) = answer {
                sum.0 += u64::from(light.stats().heat_rounds);
                sum.1 += u64::from(light.stats().iterations);
            }
        },
        |block, _| {
            rounds += block.0;
            steps += block.1;
            ControlFlow::Continue(())
        },
    );
    // the fold is never broken off here
    let _: ControlFlow<()> = ended.map_err(|e| format!("{e:?}"))?;
    let states = 2_f64.powi(all.len() as i32);
    writeln!(
        out,
        "a state takes {:.2} rounds and {:.2} Newton steps",
        rounds as f64 / states,
        steps as f64 / states
    )?;
    let file = std::env::args_os()
        .nth(1)
        .unwrap_or_else(|| "networks/burdock.toml".into());
    let (mut said, mut err) = (Vec::new(), Vec::new());
    let mut io = Io {
        out: &mut said,
        err: &mut err,
        files: &mut Disk,
        colour_out: false,
        colour_err: false,
    };
    let begun = Instant::now();
    let status = cli::run(["pipecarry".into(), "shut".into(), file.clone()], &mut io);
    if status == Status::Trouble {
        std::io::stderr().write_all(&err)?;
        return Err("no answer".into());
    }
    writeln!(
        out,
        "whole shut of {}: {:.2} s, {} kB at most",
        file.display(),
        begun.elapsed().as_secs_f64(),
        most_memory_kb().unwrap_or(0)
    )?;
    Ok(())
}
