//! From a file to a house ready to solve, and to a study of it; used by every command that takes FILE.

use super::input::{self, Text};
use super::io::Io;
use super::trouble::{Input, Trouble};
use super::unanswered;
use crate::check::{self, Study};
use crate::diag::any_error;
use crate::network::{Network, expand, reference};
use crate::survey;
use std::path::Path;

/// Reads a house: TOML, or a reference case in JSON by its ending. Questions about it are said on the error stream.
///
/// # Errors
/// What cannot be read, or all mistakes of the file.
pub fn read(path: &Path, io: &mut Io<'_>) -> Result<(Text, Network), Trouble> {
    let text = input::text(path, io)?;
    if text.json {
        let network = reference::load(&text.text).map_err(|error| {
            Trouble::with_help(
                format!("{} is not a reference case: {error}", text.name),
                "a house of your own is written in TOML, with an ending other than .json",
            )
        })?;
        return Ok((text, network));
    }
    let mistakes = |diagnostics| {
        Trouble::Input(Box::new(Input {
            name: text.name.clone(),
            text: text.text.clone(),
            diagnostics,
        }))
    };
    let (survey, mut said) = survey::read(&text.text);
    let Some(survey) = survey.filter(|_| !any_error(&said)) else {
        return Err(mistakes(said));
    };
    let network = match expand(&survey) {
        Ok((network, asked)) => {
            said.extend(asked);
            network
        }
        Err(errors) => {
            said.extend(errors);
            return Err(mistakes(said));
        }
    };
    if !said.is_empty() {
        let questions = Input {
            name: text.name.clone(),
            text: text.text.clone(),
            diagnostics: said,
        };
        input::say(&questions, io);
    }
    Ok((text, network))
}

/// Looks at a house from all sides.
///
/// # Errors
/// No converged answer, with what stopped it.
pub fn study(text: &Text, network: &Network, options: &check::Options) -> Result<Study, Trouble> {
    check::study(network, options).map_err(|error| unanswered::trouble(text, network, &error))
}
