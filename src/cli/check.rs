//! `check FILE`: does it work? Required and as it runs, every check, the limiting run named.

use super::io::Io;
use super::target::{self, Result as Output, Target};
use super::trouble::{Status, Trouble};
use super::{drawing, house, options};
use crate::check::{Study, exit_status};
use crate::draw::Style;
use crate::report::{csv, json, text};
use std::path::{Path, PathBuf};

#[derive(clap::Args)]
pub struct Args {
    /// The house: a network file in TOML, a reference case ending in .json, or - for standard input
    file: PathBuf,
    #[command(flatten)]
    target: Target,
    /// Print JSON (its schema is in the repository: src/report/check.schema.json)
    #[arg(long, conflicts_with = "csv")]
    json: bool,
    /// Print a table as CSV
    #[arg(long, value_name = "TABLE")]
    csv: Option<Table>,
    /// Exit with 1 also if a check could not be shown
    #[arg(long)]
    strict: bool,
    #[command(flatten)]
    look: options::Look,
}

#[derive(clap::ValueEnum, Clone, Copy, Debug, PartialEq, Eq)]
enum Table {
    /// Every pipe in every state
    Runs,
    /// Every emitter in every state
    Emitters,
}

/// What a result is written as.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Form {
    Text,
    Json,
    Csv(Table),
    Drawing,
}

pub fn run(args: &Args, io: &mut Io<'_>) -> Result<Status, Trouble> {
    args.target.permit(Some(&args.file), io)?;
    let units = args.look.units()?;
    let (text, mut network) = house::read(&args.file, io)?;
    if let Some(units) = units {
        units.apply(&mut network.units);
    }
    let state = args.look.state(&network)?;
    let study = house::study(&text, &network, &args.look.options())?;
    let asked = match (args.json, args.csv) {
        (true, _) => Form::Json,
        (false, Some(table)) => Form::Csv(table),
        (false, None) => Form::Text,
    };
    let mut results: Vec<Output> = Vec::new();
    let mut taken = false;
    for path in &args.target.output {
        let form = form(path, asked);
        taken |= form == asked;
        if form == Form::Drawing {
            let sheets = drawing::sheets(&study, state, &Style::default())?;
            results.extend(drawing::files(path, sheets));
        } else {
            let bytes = write(form, &study, state, false);
            results.push(Output {
                path: Some(path.clone()),
                bytes,
            });
        }
    }
    // further sheets have names that nobody typed: they too may not be somebody's work
    args.target.permit_all(&results, &args.file, io)?;
    if !taken {
        let bytes = write(asked, &study, state, io.colour_out);
        results.push(Output { path: None, bytes });
    }
    target::put(&results, io)?;
    Ok(match exit_status(&study, args.strict) {
        0 => Status::Holds,
        _ => Status::Fails,
    })
}

/// What a file holds, by its ending: a drawing, JSON, CSV, or what was asked for.
fn form(path: &Path, asked: Form) -> Form {
    let ending = path.extension().map(|e| e.to_ascii_lowercase());
    match ending.as_ref().and_then(|e| e.to_str()) {
        Some("svg") => Form::Drawing,
        Some("json") => Form::Json,
        Some("csv") => match asked {
            Form::Csv(table) => Form::Csv(table),
            Form::Text | Form::Json | Form::Drawing => Form::Csv(Table::Runs),
        },
        _ => asked,
    }
}

fn write(form: Form, study: &Study, state: Option<usize>, colour: bool) -> Vec<u8> {
    let data = || json::check(study, state);
    match form {
        // drawings have names and sheets of their own; on standard output `check` is a report
        Form::Text | Form::Drawing => {
            let style = text::Style {
                units: study.network.units.clone(),
                colour,
                state,
            };
            text::check(study, &style).into_bytes()
        }
        Form::Json => json::text(&data()).into_bytes(),
        Form::Csv(Table::Runs) => csv::runs(&data()).into_bytes(),
        Form::Csv(Table::Emitters) => csv::emitters(&data()).into_bytes(),
    }
}
