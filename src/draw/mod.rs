//! The schematic: layout by structure → scene → SVG, a text drawing, and companion plots.

mod audit;
mod away;
mod bars;
mod body;
mod cards;
mod cells;
mod chart;
mod cuts;
mod device;
mod draft;
mod failing;
mod figures;
mod fit;
mod glyph;
mod hops;
mod index;
mod ink;
mod joins;
mod key;
mod layout;
mod loops;
mod pages;
mod pen;
mod plan;
mod plan_series;
mod rail;
mod reduce;
mod risers;
mod route;
mod rows;
pub mod scene;
mod sheet;
mod shown;
mod storeys;
pub mod style;
mod summary;
pub mod svg;
mod svg_axes;
mod svg_band;
mod svg_capacity;
mod svg_frontier;
mod svg_mark;
mod svg_path;
mod svg_plot;
mod svg_shut;
mod svg_style;
mod table;
mod text;
mod tracks;
mod words;
mod words_long;
mod wrap;

/// Companion plots.
pub mod plots {
    pub use super::svg_capacity::capacity;
    pub use super::svg_frontier::frontier;
    pub use super::svg_plot::{pressure, pump, tightest};
    pub use super::svg_shut::{flow_by_open, weather};
}

pub use cards::{Card, cards};
pub use scene::Scene;
pub use shown::House;
pub use style::{Level, Paper, Shows, Style, Theme};

use crate::check::Finding;
use crate::network::Network;
use crate::view::{Required, Running};
use figures::Figures;
use scene::About;
use words::Words;

/// Draw a network: one sheet, or several that count as one drawing.
///
/// `required` and `running` are the two views of one state of the house; without either the sheet says that nothing is
/// solved. Findings put marks and words at what fails, depends or is tight. The same input gives the same scene.
pub fn scene(
    network: &Network,
    required: Option<&Required>,
    running: Option<&Running>,
    findings: &[Finding],
    style: &Style,
) -> Vec<Scene> {
    let figures = Figures::new(network, required, running, findings, style);
    let density = density_of(network);
    let parts = layout::parts(network, style);
    let mut sheets = pages::sheets(&parts, &figures, density, style);
    let words = Words::new(network, style, density);
    for sheet in &mut sheets {
        for i in 0..network.runs.len() {
            sheet
                .words
                .push((About::Run(i), words.run_in_words(&figures, i)));
            sheet.ids.push((About::Run(i), run_id(network, i)));
        }
    }
    sheets
}

/// The same drawing in plain text, 100 columns at most.
pub fn text(
    network: &Network,
    required: Option<&Required>,
    running: Option<&Running>,
    findings: &[Finding],
    style: &Style,
) -> String {
    let figures = Figures::new(network, required, running, findings, style);
    let words = Words::new(network, style, density_of(network));
    let parts = layout::parts(network, style);
    // a terminal breaks no-break blanks badly
    text::draw(&parts, &figures, &words, style).replace('\u{a0}', " ")
}

/// Density at the mean temperature of the design, kg/m³: for heads in metres.
fn density_of(network: &Network) -> f64 {
    // between flow and return, as the views do
    network.element_ids().next().map_or(1000.0, |id| {
        figures::density(
            network,
            id,
            network.design.flow_temperature_c - network.design.drop_k / 2.0,
        )
    })
}

/// Anchor of a run in the SVG: `run-F3`.
pub fn run_id(network: &Network, run: usize) -> String {
    let tag: String = network
        .runs
        .get(run)
        .map_or("", |r| r.tag.as_str())
        .chars()
        .filter(char::is_ascii_alphanumeric)
        .take(16)
        .collect();
    let clash = network.runs.iter().take(run).any(|r| {
        r.tag
            .chars()
            .filter(char::is_ascii_alphanumeric)
            .take(16)
            .eq(tag.chars())
    });
    if tag.is_empty() || clash {
        format!("run-{}", run + 1)
    } else {
        format!("run-{tag}")
    }
}
