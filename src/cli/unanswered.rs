//! Why there is no answer, in the person's words: where, by how much, and what to do.

use super::input::Text;
use super::trouble::{Input, Trouble};
use crate::diag::Diagnostic;
use crate::network::{ElementId, Network};
use crate::solve::SolveError;

/// A solver's refusal at the line that it is about.
pub fn trouble(text: &Text, network: &Network, error: &SolveError) -> Trouble {
    let (code, what, label, element, help) = match error {
        SolveError::NothingMoves => (
            "nothing-moves",
            "nothing moves the water: no pump runs in this state".to_owned(),
            String::new(),
            None,
            "give the source its `free_head`, or name a pump",
        ),
        SolveError::HeldFlowImpossible { element, flow_kg_s } => (
            "held-flow",
            format!(
                "{:.4} kg/s are held in {} but cannot go anywhere",
                flow_kg_s,
                name(network, *element)
            ),
            "this flow has no way on".into(),
            Some(*element),
            "open a way behind it, or do not hold a flow here",
        ),
        SolveError::Contradiction {
            place,
            imbalance_kg_s,
        } => (
            "contradiction",
            format!(
                "the flows that are held at {} do not add up: {imbalance_kg_s:.4} kg/s are left over",
                network
                    .graph
                    .node_weight(*place)
                    .map(|p| p.name.as_str())
                    .unwrap_or_default()
            ),
            String::new(),
            None,
            "hold one flow less there, and let the rest follow",
        ),
        SolveError::NotConverged {
            element,
            residual_pa,
            iterations,
        } => (
            "not-converged",
            format!(
                "no answer was found in {iterations} steps: {} is still {residual_pa:.3} Pa away from balance",
                name(network, *element)
            ),
            "the balance is worst here".into(),
            Some(*element),
            "look for a figure that is ten times too large or too small near this line",
        ),
        SolveError::NotFinite { element } => (
            "not-finite",
            format!(
                "the flow in {} grows beyond all bounds",
                name(network, *element)
            ),
            "first met here".into(),
            Some(*element),
            "look for a figure that is far too large or too small near this line",
        ),
        SolveError::HeatNotConverged { change_k, rounds } => (
            "heat-not-converged",
            format!(
                "flow and heat do not settle: after {rounds} rounds temperatures still change by {change_k:.4} K"
            ),
            String::new(),
            None,
            "look at emitters that hardly any water reaches",
        ),
        SolveError::TemperatureOutOfRange {
            element,
            temperature_c,
        } => (
            "temperature-range",
            format!(
                "the water in {} would be at {temperature_c:.1} °C, where nothing is known of this fluid",
                name(network, *element)
            ),
            "here".into(),
            Some(*element),
            "look at the temperatures and at the heat that is drawn",
        ),
    };
    let span = element.and_then(|e| network.element(e).span.clone());
    let mut diagnostic = Diagnostic::error(code, span.clone().unwrap_or(0..0), what)
        .label(label)
        .help(help);
    diagnostic.span = span;
    Trouble::Input(Box::new(Input {
        name: text.name.clone(),
        text: text.text.clone(),
        diagnostics: vec![diagnostic],
    }))
}

fn name(network: &Network, element: ElementId) -> &str {
    &network.element(element).name
}
