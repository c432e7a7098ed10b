//! `shut FILE`: what happens when valves close, in every combination.

use super::house;
use super::io::Io;
use super::options;
use super::target::{self, Target};
use super::trouble::{Status, Trouble};
use super::unanswered;
use crate::report;
use crate::shut::{self, Options, Stop};
use std::path::PathBuf;

#[derive(clap::Args)]
pub struct Args {
    /// The house: a network file in TOML, or - for standard input
    file: PathBuf,
    #[command(flatten)]
    target: Target,
    /// Print JSON
    #[arg(long, conflicts_with = "csv")]
    json: bool,
    /// Print every combination that was solved as CSV
    #[arg(long)]
    csv: bool,
    #[command(flatten)]
    look: options::Look,
}

pub fn run(args: &Args, io: &mut Io<'_>) -> Result<Status, Trouble> {
    args.target.permit(Some(&args.file), io)?;
    let units = args.look.units()?;
    let (text, mut network) = house::read(&args.file, io)?;
    if let Some(units) = units {
        units.apply(&mut network.units);
    }
    let options = Options {
        lockshields_open: args.look.options().lockshields_open.unwrap_or(false),
        keep: args.csv,
    };
    let shut =
        shut::study(&network, &options, &|_, _| {}, &|| false).map_err(|stop| match stop {
            Stop::NoHeating => Trouble::said("the house has no state in which it heats"),
            Stop::TooMany(found, most) => Trouble::with_help(
                format!("{found} valves can close; up to {most} can be told apart"),
                "give emitters that close together one `zone`",
            ),
            Stop::Solve(error) => unanswered::trouble(&text, &network, &error),
            Stop::Interrupted => Trouble::said("interrupted"),
        })?;
    let bytes = if args.json {
        report::json_shut::text(&network, &shut)
    } else if args.csv {
        report::json_shut::combinations(&shut)
    } else {
        report::shut::text(&network, &shut, &network.units)
    };
    target::put(&args.target.take(bytes.into_bytes()), io)?;
    let knows = shut.open.margin.is_finite();
    let short = shut.rules.iter().any(|r| r.short_m3() > 0.0);
    let unknown = !shut.combinations.tally.unanswered.is_empty() || !shut.missing.is_empty();
    Ok(
        if (knows && shut.combinations.tripping() > 0) || short || unknown {
            Status::Fails
        } else {
            Status::Holds
        },
    )
}
