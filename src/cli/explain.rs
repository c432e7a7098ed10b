//! `explain FILE WHAT`: one figure traced to its inputs.

use super::io::Io;
use super::target::{self, Target};
use super::trouble::{Status, Trouble};
use super::{house, options};
use crate::check::Study;
use crate::report::{explain, text};
use crate::trace::{self, What};
use std::path::PathBuf;

#[derive(clap::Args)]
pub struct Args {
    /// The house: a network file in TOML, a reference case ending in .json, or - for standard input
    file: PathBuf,
    /// A run or its tag (hall, F2), an emitter, a room, the source, `index`, a check (head, velocity), or the number of a
    /// finding as `check` lists it
    what: String,
    #[command(flatten)]
    target: Target,
    #[command(flatten)]
    look: options::Look,
}

pub fn run(args: &Args, io: &mut Io<'_>) -> Result<Status, Trouble> {
    args.target.permit(Some(&args.file), io)?;
    let units = args.look.units()?;
    let (source, mut network) = house::read(&args.file, io)?;
    if let Some(units) = units {
        units.apply(&mut network.units);
    }
    let state = args.look.state(&network)?;
    let study = house::study(&source, &network, &args.look.options())?;
    let what = find(&study, &args.what, state)?;
    let text = explain::text(&study, &study.network.units, &source.text, &what, state);
    target::put(&args.target.take(text.into_bytes()), io)?;
    Ok(Status::Holds)
}

/// A finding by its number, anything else by its name.
fn find(study: &Study, word: &str, state: Option<usize>) -> Result<Vec<What>, Trouble> {
    let named = trace::find(study, word);
    let number: Option<usize> = word.trim().trim_start_matches('#').parse().ok();
    let (Err(near), Some(number)) = (&named, number) else {
        return named.map_err(|near| unknown(word, &near));
    };
    let numbered = text::numbered(study, state);
    match number.checked_sub(1).and_then(|i| numbered.get(i)) {
        Some(finding) => Ok(vec![What::Finding(*finding)]),
        None if near.is_empty() => Err(Trouble::with_help(
            format!("there is no finding {number}"),
            match numbered.len() {
                0 => "nothing stands in the way of this house; name a run, an emitter or a check"
                    .to_owned(),
                last => format!("`check` numbers what stands in the way from 1 to {last}"),
            },
        )),
        None => Err(unknown(word, near)),
    }
}

fn unknown(word: &str, near: &[String]) -> Trouble {
    let help = "name a run or its tag, an emitter, a room, the source, `index`, a check, or the number of a finding";
    Trouble::with_help(
        format!("nothing in this house is called `{word}`"),
        match near {
            [] => help.to_owned(),
            near => format!("did you mean `{}`? You can {help}", near.join("`, `")),
        },
    )
}
