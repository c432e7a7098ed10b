//! Time and memory of one whole `check`: file read, solved, judged, worded.
//!
//! `cargo run --profile fast --example speed_check [FILE]`; the figures stand in DEVELOPERS.md.

use pipecarry::cli::{self, Disk, Io, Status};
use std::error::Error;
use std::io::Write;
use std::time::Instant;

/// Runs of which the median is taken.
const RUNS: usize = 21;

fn main() -> Result<(), Box<dyn Error>> {
    let file = std::env::args_os()
        .nth(1)
        .unwrap_or_else(|| "networks/burdock.toml".into());
    let mut seconds = Vec::new();
    for _ in 0..RUNS {
        let (mut out, mut err) = (Vec::new(), Vec::new());
        let mut io = Io {
            out: &mut out,
            err: &mut err,
            files: &mut Disk,
            colour_out: false,
            colour_err: false,
        };
        let begun = Instant::now();
        let status = cli::run(["pipecarry".into(), "check".into(), file.clone()], &mut io);
        seconds.push(begun.elapsed().as_secs_f64());
        if status == Status::Trouble {
            std::io::stderr().write_all(&err)?;
            return Err("no answer".into());
        }
    }
    let first = seconds[0];
    seconds.sort_by(f64::total_cmp);
    let mut out = std::io::stdout();
    writeln!(
        out,
        "check {}: first {:.1} ms, median of {RUNS} {:.1} ms",
        file.display(),
        first * 1e3,
        seconds[RUNS / 2] * 1e3
    )?;
    // the kernel's own count of the most memory that was in use
    if let Ok(status) = std::fs::read_to_string("/proc/self/status") {
        for line in status.lines().filter(|line| line.starts_with("VmHWM")) {
            writeln!(
                out,
                "most memory in use: {}",
                line.trim_start_matches("VmHWM:").trim()
            )?;
        }
    }
    Ok(())
}
