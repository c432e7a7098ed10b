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
            format!(
                "nothing moves the water: no pump runs on a way that is open (pumps in the house: {})",
                network.pumps.len()
            ),
            "its water stands",
            None,
            "give the source its `free_head`, name a pump, or open a way",
        ),
        SolveError::HeldFlowImpossible { element, flow_kg_s } => (
            "held-flow",
            format!(
                "{:.4} kg/s are held in {} but cannot go anywhere",
                flow_kg_s,
                name(network, *element)
            ),
            "this flow has no way on",
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
            "at this end",
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
            "the balance is worst here",
            Some(*element),
            "look for a figure that is ten times too large or too small near this line",
        ),
        SolveError::NotFinite { element } => (
            "not-finite",
            format!(
                "the flow in {} grows beyond all bounds (1 of {} flows)",
                name(network, *element),
                network.graph.edge_count()
            ),
            "first met here",
            Some(*element),
            "look for a figure that is far too large or too small near this line",
        ),
        SolveError::HeatNotConverged { change_k, rounds } => (
            "heat-not-converged",
            format!(
                "flow and heat do not settle: after {rounds} rounds temperatures still change by {change_k:.4} K"
            ),
            "fed from here",
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
            "here",
            Some(*element),
            "look at the temperatures and at the heat that is drawn",
        ),
    };
    // where no element is to blame, what stands at the place, else the first source
    let near = match error {
        SolveError::Contradiction { place, .. } => network
            .graph
            .edges(*place)
            .find_map(|edge| edge.weight().span.clone()),
        _ => None,
    };
    let source = || network.sources.first().and_then(|s| s.span.clone());
    let span = element
        .and_then(|e| network.element(e).span.clone())
        .or(near)
        .or_else(source);
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::network::PlaceId;
    use crate::survey::read::read;

    /// Every exit has a name, a number, a place in the file and a remedy.
    #[test]
    fn every_exit_says_where_how_much_and_what_to_do() {
        let file = include_str!("../../networks/linnet.toml");
        let (survey, _) = read(file);
        let survey = survey.expect("a survey");
        let (network, _) = crate::network::expand(&survey).expect("a network");
        let text = Text {
            name: "linnet.toml".into(),
            text: file.into(),
            json: false,
        };
        let emitter = &network.emitters[0];
        let (element, place): (ElementId, PlaceId) = (emitter.body, emitter.ends.0);
        let exits = [
            (SolveError::NothingMoves, "nothing-moves", "1"),
            (
                SolveError::HeldFlowImpossible {
                    element,
                    flow_kg_s: 0.25,
                },
                "held-flow",
                "0.2500",
            ),
            (
                SolveError::Contradiction {
                    place,
                    imbalance_kg_s: 0.125,
                },
                "contradiction",
                "0.1250",
            ),
            (
                SolveError::NotConverged {
                    element,
                    residual_pa: 7.5,
                    iterations: 120,
                },
                "not-converged",
                "7.500",
            ),
            (SolveError::NotFinite { element }, "not-finite", "1"),
            (
                SolveError::HeatNotConverged {
                    change_k: 0.5,
                    rounds: 200,
                },
                "heat-not-converged",
                "0.5000",
            ),
            (
                SolveError::TemperatureOutOfRange {
                    element,
                    temperature_c: 130.0,
                },
                "temperature-range",
                "130.0",
            ),
        ];
        for (error, code, number) in exits {
            let Trouble::Input(input) = trouble(&text, &network, &error) else {
                panic!("{error:?} is no matter of the file");
            };
            let said = &input.diagnostics[0];
            assert_eq!(said.code, code);
            assert!(said.message.contains(number), "{}", said.message);
            let span = said.span.clone().expect("a place in the file");
            assert!(
                file.get(span).is_some_and(|words| !words.is_empty()),
                "{code}"
            );
            assert!(!said.label.is_empty(), "{code}");
            assert!(said.help.as_ref().is_some_and(|h| h.len() > 10), "{code}");
        }
    }
}
