//! What a person or a program reads of a study: text for a terminal, JSON, CSV. Nothing is computed here that a stage
//! below has not found; figures are rounded at this edge and nowhere else.

pub mod audit;
mod audit_words;
pub mod balance;
pub mod compare;
pub mod csv;
pub mod csv_audit;
pub mod document;
pub mod explain;
pub mod json;
pub mod json_audit;
pub mod json_balance;
pub mod json_shut;
pub mod json_upsize;
mod layout;
mod prose;
mod remedy;
pub mod schedules;
pub mod sheet;
pub mod shut;
pub mod sketch;
mod sketch_lines;
mod sketch_summary;
mod sketch_things;
mod speak;
pub mod text;
pub mod upsize;
mod words;
#[cfg(feature = "xlsx")]
pub mod xlsx;

/// The words that mark a drawing or a report as made by this program, so that it may be written over.
pub const MADE_BY: &str = concat!("Made by pipecarry ", env!("CARGO_PKG_VERSION"));

/// Seven significant figures, so that the last digits of a solver's tolerance do not show; `None` if not finite.
pub(crate) fn rounded(value: f64) -> Option<f64> {
    if !value.is_finite() {
        return None;
    }
    let rounded: f64 = format!("{value:.6e}").parse().ok()?;
    Some(if rounded == 0.0 { 0.0 } else { rounded }) // no minus before a rounded nothing
}
