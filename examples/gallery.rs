//! Draws networks as SVG and prints what each sheet measures.
//!
//! `cargo run --release --example gallery -- FOLDER [--level LEVEL] [--made N] [--case SEED SIZE] [--plants N] [FILE…]`.
//! Without files it draws every house in `networks/`; files ending in `.json` are reference cases; `--made N` adds N made-up
//! networks, `--plants N` as many made-up houses. An asterisk stands at what misses its bound (hops, bends, pipe length and aspect bind from six emitters on).

use pipecarry::check::{Options, Study, study};
use pipecarry::draw::{self, Level, Scene, Style};
use pipecarry::network::Network;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::time::Instant;

#[path = "../tests/it/drawing_made.rs"]
mod made;
#[path = "../tests/it/drawing_plants.rs"]
mod plants;

fn load(path: &Path) -> Result<Network, String> {
    let text = std::fs::read_to_string(path).map_err(|e| e.to_string())?;
    if path.extension().is_some_and(|e| e == "json") {
        return pipecarry::network::reference::load(&text).map_err(|e| e.to_string());
    }
    survey(&text)
}

fn survey(text: &str) -> Result<Network, String> {
    let (survey, problems) = pipecarry::survey::read::read(text);
    let survey = survey.ok_or_else(|| format!("{problems:?}"))?;
    let (network, _) =
        pipecarry::network::expand(&survey).map_err(|problems| format!("{problems:?}"))?;
    Ok(network)
}

/// One line of the table; an asterisk where a bound is missed.
fn measures(name: &str, network: &Network, sheets: &[Scene], bytes: usize, ms: f64) -> String {
    let sum = |of: &dyn Fn(&Scene) -> usize| sheets.iter().map(of).sum::<usize>();
    let most = |of: &dyn Fn(&Scene) -> f64| sheets.iter().map(of).fold(0.0, f64::max);
    let least = |of: &dyn Fn(&Scene) -> f64| sheets.iter().map(of).fold(f64::INFINITY, f64::min);
    let drawn: Vec<&Scene> = sheets.iter().filter(|s| s.audit.strokes > 0).collect();
    let bound = network.emitters.len() >= 6;
    let star = |miss: bool| if miss { "*" } else { " " };
    let hops = sum(&|s| s.audit.hops);
    let may = sum(&|s| s.rows.saturating_sub(1) + s.plant_loops);
    let bends = sum(&|s| s.audit.bends) as f64 / sum(&|s| s.audit.strokes).max(1) as f64;
    let bends_most = most(&|s| s.audit.bends_max as f64);
    let length = most(&|s| s.audit.length_rel);
    let aspects: Vec<f64> = drawn.iter().map(|s| s.audit.aspect).collect();
    let (low, high) = (
        aspects.iter().copied().fold(f64::INFINITY, f64::min),
        aspects.iter().copied().fold(0.0, f64::max),
    );
    let may_bytes = 20_000 * sheets.len() + 2_000 * network.runs.len();
    format!(
        "{name:<26} {:>4} {:>3} {}x{:<2} {:>3}{} {:>3}/{:<3}{} {bends:>5.2}{} {bends_most:>2}{} {:>4.1}{} {low:>4.2}-{high:<4.2}{} {:>4.2}{} {length:>5.2}{} {:>4}k{} {ms:>6.0}",
        network.runs.len(),
        network.emitters.len(),
        sheets.first().map_or("--", |s| s.paper.name()),
        sheets.len(),
        sum(&|s| s.audit.faults()),
        star(sum(&|s| s.audit.faults()) > 0),
        hops,
        may,
        star(bound && hops > may),
        star(bound && bends > 0.35),
        star(bound && bends_most > 2.0),
        least(&|s| s.audit.smallest_cap),
        star(least(&|s| s.audit.smallest_cap) < 1.795),
        star(bound && (low < 1.2 || high > 1.7)),
        least(&|s| s.audit.cells),
        star(least(&|s| s.audit.cells) < 0.3),
        star(bound && length > 4.0),
        bytes / 1000,
        star(bytes > may_bytes),
    )
}

fn main() -> Result<(), String> {
    let mut arguments = std::env::args().skip(1);
    let folder = PathBuf::from(arguments.next().unwrap_or_else(|| "out/drawings".into()));
    let mut style = Style::default();
    let mut files: Vec<PathBuf> = Vec::new();
    let mut cases: Vec<(u64, usize)> = Vec::new();
    let mut plants = 0;
    let number = |text: Option<String>| text.and_then(|t| t.parse::<u64>().ok()).unwrap_or(0);
    while let Some(argument) = arguments.next() {
        match argument.as_str() {
            "--level" => {
                style.level = match arguments.next().as_deref() {
                    Some("overview") => Level::Overview,
                    Some("full") => Level::Full,
                    Some("schedule") => Level::Schedule,
                    _ => Level::Normal,
                };
            }
            "--plants" => plants = number(arguments.next()),
            "--made" => cases.extend((0..number(arguments.next())).map(made::case)),
            "--case" => {
                let seed = number(arguments.next());
                cases.push((seed, number(arguments.next()) as usize));
            }
            _ => files.push(argument.into()),
        }
    }
    if files.is_empty() && cases.is_empty() && plants == 0 {
        let entries = std::fs::read_dir("networks").map_err(|e| e.to_string())?;
        files = entries
            .filter_map(|e| Some(e.ok()?.path()))
            .filter(|p| p.extension().is_some_and(|e| e == "toml"))
            .collect();
        files.sort();
    }
    std::fs::create_dir_all(&folder).map_err(|e| e.to_string())?;
    let mut out = std::io::stdout().lock();
    let head = "network                    runs emi sheets flt   hops     bends     caps    aspect   cells  length  bytes    ms\n";
    out.write_all(head.as_bytes()).map_err(|e| e.to_string())?;
    let mut all: Vec<(String, Network)> = Vec::new();
    for file in &files {
        let network = load(file).map_err(|e| format!("{}: {e}", file.display()))?;
        let stem = file.file_stem().unwrap_or_default().to_string_lossy();
        all.push((stem.into_owned(), network));
    }
    for (seed, size) in cases {
        let text = made::made(seed, size);
        let network = pipecarry::network::reference::load(&text).map_err(|e| e.to_string())?;
        all.push((format!("made-{seed}-{size}"), network));
    }
    for seed in 0..plants {
        let network = survey(&plants::house(seed))?;
        all.push((format!("plant-{seed}"), network));
    }
    for (stem, network) in &all {
        let found: Option<Study> = study(network, &Options::default()).ok();
        let required = found.as_ref().and_then(|s| s.required.first());
        let running = found.as_ref().and_then(|s| s.running.first());
        let findings = found.as_ref().map_or(&[][..], |s| &s.findings);
        let begin = Instant::now();
        let sheets = draw::scene(network, required, running, findings, &style);
        let ms = begin.elapsed().as_secs_f64() * 1e3;
        let n = sheets.len();
        let mut bytes = 0;
        for (i, sheet) in sheets.iter().enumerate() {
            let name = if n == 1 {
                format!("{stem}.svg")
            } else {
                format!("{stem}-{}.svg", i + 1)
            };
            let svg = draw::svg::render(sheet);
            bytes += svg.len();
            std::fs::write(folder.join(&name), svg).map_err(|e| e.to_string())?;
        }
        let line = measures(stem, network, &sheets, bytes, ms);
        writeln!(out, "{line}").map_err(|e| e.to_string())?;
        for said in sheets.iter().flat_map(|s| &s.audit.said) {
            writeln!(out, "    {said}").map_err(|e| e.to_string())?;
        }
        if n == 0 {
            return Err(format!("{stem}: no sheet holds it"));
        }
    }
    Ok(())
}
