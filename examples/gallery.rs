//! Draws networks as SVG: `cargo run --example gallery -- FOLDER [--level LEVEL] [FILE…]`.
//!
//! Without files it draws every house in `networks/`. Files ending in `.json` are reference cases.

use pipecarry::check::{Options, Study, study};
use pipecarry::draw::{self, Level, Style};
use pipecarry::network::Network;
use std::path::{Path, PathBuf};

fn load(path: &Path) -> Result<Network, String> {
    let text = std::fs::read_to_string(path).map_err(|e| e.to_string())?;
    if path.extension().is_some_and(|e| e == "json") {
        return pipecarry::network::reference::load(&text).map_err(|e| e.to_string());
    }
    let (survey, problems) = pipecarry::survey::read::read(&text);
    let survey = survey.ok_or_else(|| format!("{problems:?}"))?;
    let (network, _) =
        pipecarry::network::expand(&survey).map_err(|problems| format!("{problems:?}"))?;
    Ok(network)
}

fn main() -> Result<(), String> {
    let mut arguments = std::env::args().skip(1);
    let folder = PathBuf::from(arguments.next().unwrap_or_else(|| "out/drawings".into()));
    let mut style = Style::default();
    let mut files: Vec<PathBuf> = Vec::new();
    while let Some(argument) = arguments.next() {
        if argument == "--level" {
            style.level = match arguments.next().as_deref() {
                Some("overview") => Level::Overview,
                Some("full") => Level::Full,
                Some("schedule") => Level::Schedule,
                _ => Level::Normal,
            };
        } else {
            files.push(argument.into());
        }
    }
    if files.is_empty() {
        let entries = std::fs::read_dir("networks").map_err(|e| e.to_string())?;
        files = entries
            .filter_map(|e| Some(e.ok()?.path()))
            .filter(|p| p.extension().is_some_and(|e| e == "toml"))
            .collect();
        files.sort();
    }
    std::fs::create_dir_all(&folder).map_err(|e| e.to_string())?;
    for file in &files {
        let network = load(file).map_err(|e| format!("{}: {e}", file.display()))?;
        let found: Option<Study> = study(&network, &Options::default()).ok();
        let required = found.as_ref().and_then(|s| s.required.first());
        let running = found.as_ref().and_then(|s| s.running.first());
        let findings = found.as_ref().map_or(&[][..], |s| &s.findings);
        let sheets = draw::scene(&network, required, running, findings, &style);
        let stem = file.file_stem().unwrap_or_default().to_string_lossy();
        let n = sheets.len();
        for (i, sheet) in sheets.iter().enumerate() {
            let name = if n == 1 {
                format!("{stem}.svg")
            } else {
                format!("{stem}-{}.svg", i + 1)
            };
            let svg = draw::svg::render(sheet);
            std::fs::write(folder.join(&name), svg).map_err(|e| e.to_string())?;
            let line = format!(
                "{name} {} faults {} {:?}\n",
                sheet.paper.name(),
                sheet.audit.faults(),
                sheet.audit
            );
            use std::io::Write;
            let _ = std::io::stdout().write_all(line.as_bytes());
        }
        if n == 0 {
            return Err(format!("{}: no sheet holds it", file.display()));
        }
    }
    Ok(())
}
