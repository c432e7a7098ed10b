//! `compare A B`: what differs between two houses, or two states of one.

use super::io::Io;
use super::target::{self, Result as Output, Target};
use super::trouble::{Status, Trouble};
use super::{drawing, house, options};
use crate::check::Study;
use crate::draw::{House, Style};
use crate::network::StateKind;
use crate::report::compare::{Side, text};
use std::path::PathBuf;

#[derive(clap::Args)]
pub struct Args {
    /// The first house: a network file in TOML or a reference case ending in .json
    a: PathBuf,
    /// The second house, or with --then the same
    b: PathBuf,
    /// State of the second house, if not that of the first: `compare house.toml house.toml --state heating --then "hot water"`
    #[arg(long, value_name = "NAME")]
    then: Option<String>,
    #[command(flatten)]
    target: Target,
    #[command(flatten)]
    look: options::Look,
}

pub fn run(args: &Args, io: &mut Io<'_>) -> Result<Status, Trouble> {
    args.target.permit(Some(&args.a), io)?;
    args.target.permit(Some(&args.b), io)?;
    let units = args.look.units()?;
    let study = |path: &PathBuf, io: &mut Io<'_>| -> Result<(Study, Option<String>), Trouble> {
        let (source, mut network) = house::read(path, io)?;
        if let Some(units) = &units {
            units.apply(&mut network.units);
        }
        let study = house::study(&source, &network, &args.look.options())?;
        Ok((study, (!source.json).then_some(source.text)))
    };
    let ((a, text_a), (b, text_b)) = (study(&args.a, io)?, study(&args.b, io)?);
    let second = match &args.then {
        Some(then) => args.look.clone().in_state(then),
        None => args.look.clone(),
    };
    let first = |study: &Study| {
        study
            .network
            .states
            .iter()
            .position(|s| s.kind == StateKind::Heating)
            .unwrap_or(0)
    };
    let from = args.look.state(&a.network)?.unwrap_or_else(|| first(&a));
    let to = second.state(&b.network)?.unwrap_or_else(|| first(&b));
    let file = |path: &PathBuf, study: &Study, state: usize| {
        let name = path.file_name().map_or_else(
            || path.display().to_string(),
            |n| n.to_string_lossy().into_owned(),
        );
        match (&args.then, study.network.states.get(state)) {
            (Some(_), Some(state)) => format!("{name} [{}]", state.name),
            _ => name,
        }
    };
    let (name_a, name_b) = (file(&args.a, &a, from), file(&args.b, &b, to));
    let side = |study, name, state, source| Side {
        study,
        name,
        state,
        source,
    };
    let said = text(
        side(&a, &name_a, from, text_a.as_deref()),
        side(&b, &name_b, to, text_b.as_deref()),
        &a.network.units,
    );
    let mut results = Vec::new();
    let mut said_in_file = false;
    for path in &args.target.output {
        if path
            .extension()
            .is_some_and(|e| e.eq_ignore_ascii_case("svg"))
        {
            let mut style = Style::default();
            if let Some(state) = b.network.states.get(to) {
                style.shut.clone_from(&state.shut);
            }
            let scenes =
                House::of(&b, to).after(&a.network, &format!("changed against {name_a}"), &style);
            results.extend(drawing::files(path, drawing::all(&scenes)?));
        } else {
            said_in_file = true;
            results.push(Output {
                path: Some(path.clone()),
                bytes: said.clone().into_bytes(),
            });
        }
    }
    args.target.permit_all(&results, &args.a, io)?;
    if !said_in_file {
        results.push(Output {
            path: None,
            bytes: said.into_bytes(),
        });
    }
    target::put(&results, io)?;
    Ok(Status::Holds)
}
