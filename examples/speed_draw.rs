//! Time of a drawing: `cargo run --profile fast --example speed_draw`.
//!
//! Draws made-up houses of about 50, 200 and 1000 runs, on storeys of twelve radiators, and the largest of the made-up
//! networks of the tests; prints runs, sheets, faults, and the least of five times for layout and for SVG.

use pipecarry::draw::{self, Style};
use pipecarry::network::Network;
use std::fmt::Write as _;
use std::io::Write;
use std::time::Instant;

#[path = "../tests/it/drawing_made.rs"]
mod made;

/// A house of storeys, each a pair from the riser with radiators along it.
fn house(storeys: usize, radiators: usize) -> String {
    let mut text = String::from(
        "job = \"A tall house\"\ndesign = { flow_temperature = \"50 C\", drop = \"5 K\" }\n\
         [source.pump]\noutput = \"90 kW\"\nfree_head = [\"9 m at 0 l/min\", \"7 m at 300 l/min\"]\n[pair]\n",
    );
    let mut below = "pump".to_string();
    let mut emitters = String::from("[emitter]\n");
    for s in 0..storeys {
        let _ = writeln!(text, "r{s} = [\"{below}\", \"landing {s}\", \"cu35 3m\"]");
        below = format!("landing {s}");
        let mut at = below.clone();
        for r in 0..radiators {
            if r > 0 && r + 1 < radiators {
                let _ = writeln!(text, "p{s}x{r} = [\"{at}\", \"tee {s} {r}\", \"cu22 4m\"]");
                at = format!("tee {s} {r}");
            }
            let _ = writeln!(
                emitters,
                "\"room {s} {r}\" = {{ from = \"{at}\", leg = \"cu15 3m 4 elbow\", panel = \"22 600x1000\", room = \"20 C\", needs = \"600 W\", storey = \"{s}\" }}"
            );
        }
    }
    text + &emitters
}

fn network(text: &str) -> Result<Network, String> {
    let (survey, problems) = pipecarry::survey::read::read(text);
    let survey = survey.ok_or_else(|| format!("{problems:?}"))?;
    pipecarry::network::expand(&survey)
        .map(|n| n.0)
        .map_err(|p| format!("{p:?}"))
}

fn main() -> Result<(), String> {
    let mut all: Vec<(String, Network)> = Vec::new();
    let only = std::env::args().nth(1);
    for (storeys, radiators) in [(2, 6), (4, 12), (20, 12)] {
        let name = format!("{storeys} storeys of {radiators}");
        if only.as_ref().is_none_or(|o| name.contains(o.as_str())) {
            all.push((name, network(&house(storeys, radiators))?));
        }
    }
    let (seed, size) = (0..300)
        .map(made::case)
        .max_by_key(|c| c.1)
        .unwrap_or((1, 20));
    let text = made::made(seed, size);
    let made = pipecarry::network::reference::load(&text).map_err(|e| e.to_string())?;
    all.push((format!("made-up {seed}"), made));
    let mut out = std::io::stdout().lock();
    for (name, network) in &all {
        let running = pipecarry::view::running(network, 0).ok();
        let (mut layout, mut writing) = (f64::INFINITY, f64::INFINITY);
        let mut said = String::new();
        for _ in 0..5 {
            let begin = Instant::now();
            let sheets = draw::scene(network, None, running.as_ref(), &[], &Style::default());
            let drawn = begin.elapsed().as_secs_f64();
            let bytes: usize = sheets.iter().map(|s| draw::svg::render(s).len()).sum();
            writing = writing.min(begin.elapsed().as_secs_f64() - drawn);
            layout = layout.min(drawn);
            let faults: usize = sheets.iter().map(|s| s.audit.faults()).sum();
            said = format!(
                "{} runs, {} sheets {}, {faults} faults, {bytes} bytes",
                network.runs.len(),
                sheets.len(),
                sheets.first().map_or("-", |s| s.paper.name())
            );
        }
        let line = format!(
            "{name}: {said}; layout {:.0} ms, SVG {:.0} ms\n",
            layout * 1e3,
            writing * 1e3
        );
        out.write_all(line.as_bytes()).map_err(|e| e.to_string())?;
    }
    Ok(())
}
