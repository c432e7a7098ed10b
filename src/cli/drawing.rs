//! A study as a schematic, marked as made by this program.

use super::target::Result as Output;
use super::trouble::Trouble;
use crate::check::Study;
use crate::draw::{self, Scene, Style, svg};
use crate::network::Network;
use crate::report::{MADE_BY, sketch};
use crate::view::{Required, Running};
use std::path::{Path, PathBuf};

/// The sheets of one state of the house, as SVG; the first state that asks anything of the pipes if none is named.
///
/// # Errors
/// A house that no sheet holds.
pub fn sheets(study: &Study, state: Option<usize>, style: &Style) -> Result<Vec<Vec<u8>>, Trouble> {
    let state = shown(study, state);
    let required = study.required.iter().find(|r| r.state == state);
    let running = study.running.iter().find(|r| r.state == state);
    let mut style = style.clone();
    if let Some(house_state) = study.network.states.get(state) {
        style.shut.clone_from(&house_state.shut);
        if study.network.states.len() > 1 && style.subtitle.is_empty() {
            style.subtitle.clone_from(&house_state.name);
        }
    }
    let scenes = draw::scene(&study.network, required, running, &study.findings, &style);
    all(&scenes)
}

/// Scenes as SVG, marked as made by this program.
///
/// # Errors
/// None, because no sheet holds the house.
pub fn all(scenes: &[Scene]) -> Result<Vec<Vec<u8>>, Trouble> {
    if scenes.is_empty() {
        return Err(Trouble::with_help(
            "no sheet up to A1 holds this house at this level",
            "try --level overview or --level schedule",
        ));
    }
    Ok(scenes.iter().map(marked).collect())
}

/// A sheet as SVG that says who made it.
pub fn marked(scene: &Scene) -> Vec<u8> {
    format!("<!-- {MADE_BY} -->\n{}\n", svg::render(scene).trim_end()).into_bytes()
}

/// A plot of one state of the house.
///
/// # Errors
/// Nothing to plot: no flow is required in that state, or the circuit's pump has no curve.
pub fn plot(
    study: &Study,
    state: Option<usize>,
    draw: impl Fn(&Network, &Required, Option<&Running>) -> Option<String>,
) -> Result<Vec<u8>, Trouble> {
    let state = shown(study, state);
    let required = study.required.iter().find(|r| r.state == state);
    let running = study.running.iter().find(|r| r.state == state);
    let text = required.and_then(|r| draw(&study.network, r, running));
    let text = text.ok_or_else(|| {
        Trouble::with_help(
            "nothing to plot: no flow is required here, or the pump has no curve",
            "name another state with --state, or give the pump's curve in the file",
        )
    })?;
    Ok(format!("<!-- {MADE_BY} -->\n{}\n", text.trim_end()).into_bytes())
}

/// The schematic as plain text: as duty requires, or as it runs.
pub fn sketch(study: &Study, state: Option<usize>, as_it_runs: bool) -> Vec<u8> {
    let state = shown(study, state);
    let text = sketch::text(study, &study.network.units, state, as_it_runs);
    format!("{text}\n{MADE_BY}\n").into_bytes()
}

/// The state asked for, else the first that asks anything of the pipes.
fn shown(study: &Study, state: Option<usize>) -> usize {
    state
        .or_else(|| study.required.first().map(|r| r.state))
        .unwrap_or(0)
}

/// The files that hold the sheets, the first under the name that was typed.
pub fn files(path: &Path, sheets: Vec<Vec<u8>>) -> Vec<Output> {
    let of = sheets.len();
    let named = sheets.into_iter().enumerate();
    named
        .map(|(i, bytes)| Output {
            path: Some(numbered(path, i, of)),
            bytes,
        })
        .collect()
}

/// Name of one of several sheets: `house.svg`, `house-2.svg`, …
fn numbered(path: &Path, sheet: usize, of: usize) -> PathBuf {
    if of < 2 || sheet == 0 {
        return path.to_owned();
    }
    let mut name = path.file_stem().unwrap_or_default().to_owned();
    name.push(format!("-{}", sheet + 1));
    if let Some(ending) = path.extension() {
        name.push(".");
        name.push(ending);
    }
    path.with_file_name(name)
}
