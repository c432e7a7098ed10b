//! From a file to a house ready to solve, and to a study of it; used by every command that takes FILE.

use super::input::{self, Text};
use super::io::Io;
use super::trouble::{Input, Trouble};
use super::unanswered;
use crate::check::{self, Study};
use crate::diag::{Diagnostic, any_error};
use crate::network::{Network, expand, reference};
use crate::survey::{self, Survey};
use std::path::Path;

/// Reads a house: TOML, or a reference case in JSON by its ending. Questions about it are said on the error stream.
///
/// # Errors
/// What cannot be read, or all mistakes of the file.
pub fn read(path: &Path, io: &mut Io<'_>) -> Result<(Text, Network), Trouble> {
    let text = input::text(path, io)?;
    if text.json {
        return solved_case(text);
    }
    let (text, _, network) = written(text, io)?;
    Ok((text, network))
}

fn solved_case(text: Text) -> Result<(Text, Network), Trouble> {
    let network = reference::load(&text.text).map_err(|error| {
        Trouble::with_help(
            format!("{} is not a reference case: {error}", text.name),
            "a house of your own is written in TOML, with an ending other than .json",
        )
    })?;
    Ok((text, network))
}

/// Reads a house, with the survey where somebody wrote it: a reference case has none.
///
/// # Errors
/// As [`read`].
pub fn read_whole(
    path: &Path,
    io: &mut Io<'_>,
) -> Result<(Text, Option<Survey>, Network), Trouble> {
    let text = input::text(path, io)?;
    if !text.json {
        let (text, survey, network) = written(text, io)?;
        return Ok((text, Some(survey), network));
    }
    let (text, network) = solved_case(text)?;
    Ok((text, None, network))
}

/// Reads a house that somebody wrote, with the survey that it says.
///
/// # Errors
/// What cannot be read, all mistakes of the file, or a reference case, which has no words that could be changed.
pub fn survey(path: &Path, io: &mut Io<'_>) -> Result<(Text, Survey, Network), Trouble> {
    let text = input::text(path, io)?;
    if text.json {
        return Err(Trouble::with_help(
            format!(
                "{} is a solved case, not a house that can be changed",
                text.name
            ),
            "name a network file in TOML",
        ));
    }
    written(text, io)
}

fn written(text: Text, io: &mut Io<'_>) -> Result<(Text, Survey, Network), Trouble> {
    let mistakes = |diagnostics| {
        Trouble::Input(Box::new(Input {
            name: text.name.clone(),
            text: text.text.clone(),
            diagnostics,
        }))
    };
    let (read, mut said) = survey::read(&text.text);
    let Some(survey) = read.filter(|_| !any_error(&said)) else {
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
    Ok((text, survey, network))
}

/// Reads a house with readings from a file of their own: as if they stood at its end. Mistakes are shown in the file in
/// which they are.
///
/// # Errors
/// As [`read`]; readings that do not begin with a heading, or that belong to a reference case.
pub fn read_with(
    path: &Path,
    readings: &Path,
    io: &mut Io<'_>,
) -> Result<(Text, Network), Trouble> {
    let mut text = input::text(path, io)?;
    let more = input::text(readings, io)?;
    if text.json || more.json {
        return Err(Trouble::with_help(
            "readings go with a house in TOML",
            "name a network file and a file of readings, neither of them JSON",
        ));
    }
    let lines = more.text.lines().map(str::trim);
    let first = lines.clone().find(|l| !l.is_empty() && !l.starts_with('#'));
    let headings = lines.filter(|l| l.starts_with('['));
    let foreign = headings.clone().find(|l| !l.starts_with("[reading"));
    if first.is_none_or(|l| !l.starts_with('[')) || foreign.is_some() {
        return Err(Trouble::with_help(
            format!("{} is not a file of readings", more.name),
            "it begins with the heading [reading] and has a line for each emitter: lounge = { drop = \"3.5 K\" }",
        ));
    }
    if !text.text.ends_with('\n') {
        text.text.push('\n');
    }
    let begins = text.text.len();
    let name = text.name.clone();
    text.text.push_str(&more.text);
    let (survey, mut said) = survey::read(&text.text);
    let network = match survey.filter(|_| !any_error(&said)) {
        None => None,
        Some(survey) => match expand(&survey) {
            Ok((network, asked)) => {
                said.extend(asked);
                Some(network)
            }
            Err(errors) => {
                said.extend(errors);
                None
            }
        },
    };
    let in_readings = |d: &Diagnostic| d.span.as_ref().is_some_and(|s| s.start >= begins);
    let (mut late, mut early): (Vec<_>, Vec<_>) = said.into_iter().partition(in_readings);
    early
        .iter_mut()
        .for_each(|d| d.also.retain(|(s, _)| s.end <= begins));
    for d in &mut late {
        let shifted = |s: &mut crate::diag::Span| *s = s.start - begins..s.end - begins;
        d.span.iter_mut().for_each(shifted);
        d.also.retain(|(s, _)| s.start >= begins);
        d.also.iter_mut().for_each(|(s, _)| shifted(s));
    }
    let mut files = Vec::new();
    for (name, text, diagnostics) in [
        (name, text.text[..begins].to_owned(), early),
        (more.name, more.text, late),
    ] {
        if !diagnostics.is_empty() {
            files.push(Input {
                name,
                text,
                diagnostics,
            });
        }
    }
    let Some(network) = network else {
        let last = files.pop();
        files.iter().for_each(|f| input::say(f, io));
        return Err(last.map_or_else(
            || Trouble::said("the readings cannot be used"),
            |input| Trouble::Input(Box::new(input)),
        ));
    };
    files.iter().for_each(|f| input::say(f, io));
    Ok((text, network))
}

/// Looks at a house from all sides.
///
/// # Errors
/// No converged answer, with what stopped it.
pub fn study(text: &Text, network: &Network, options: &check::Options) -> Result<Study, Trouble> {
    check::study(network, options).map_err(|error| unanswered::trouble(text, network, &error))
}
