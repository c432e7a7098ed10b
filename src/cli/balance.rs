//! `balance FILE`: what each valve and pump is set to, in which order to walk, and what to do about what was read.

use super::io::Io;
use super::options;
use super::target::{self, Result as Written, Target};
use super::trouble::{Status, Trouble};
use super::unanswered;
use super::{drawing, house};
use crate::balance::{self, Balance, Lack, Stop, Why};
use crate::draw;
use crate::network::Network;
use crate::report;
use std::path::PathBuf;

#[derive(clap::Args)]
pub struct Args {
    /// The house: a network file in TOML, or - for standard input
    file: PathBuf,
    /// Readings in a file of their own, in the words of the network file's `[reading]`; the next adjustments follow
    #[arg(long, value_name = "FILE")]
    readings: Option<PathBuf>,
    #[command(flatten)]
    target: Target,
    /// Print a settings card for each emitter; to a file that ends in .svg, sheets of cards to cut
    #[arg(long, conflicts_with_all = ["json", "csv"])]
    cards: bool,
    /// Print JSON
    #[arg(long, conflicts_with = "csv")]
    json: bool,
    /// Print a row for each valve as CSV
    #[arg(long)]
    csv: bool,
    #[command(flatten)]
    units: options::Shown,
}

pub fn run(args: &Args, io: &mut Io<'_>) -> Result<Status, Trouble> {
    args.target.permit(Some(&args.file), io)?;
    let units = args.units.chosen()?;
    let (text, mut network) = match &args.readings {
        None => house::read(&args.file, io)?,
        Some(readings) => house::read_with(&args.file, readings, io)?,
    };
    if let Some(units) = units {
        units.apply(&mut network.units);
    }
    let balance = balance::balance(&network).map_err(|stop| match stop {
        Stop::NoHeating => Trouble::said("the house has no state in which it heats"),
        Stop::Solve(error) => unanswered::trouble(&text, &network, &error),
    })?;
    if args.readings.is_some() && balance.next.is_none() {
        return Err(Trouble::with_help(
            "none of the readings tells a flow",
            "give the drop, the return or a metered rate at an emitter whose valve can be set",
        ));
    }
    let mut results = Vec::new();
    for result in args.target.take(Vec::new()) {
        results.extend(written(args, &network, &balance, result.path));
    }
    args.target.permit_all(&results, &args.file, io)?;
    target::put(&results, io)?;
    let short = balance
        .valves
        .iter()
        .any(|v| !matches!(v.why, None | Some(Why::NotAsked)));
    let lacks = |l: &Lack| {
        !matches!(
            l,
            Lack::Heat {
                heads_open: true,
                ..
            }
        )
    };
    let short = short || balance.lacks.iter().any(lacks);
    Ok(if short { Status::Fails } else { Status::Holds })
}

/// What one file is to hold, by its ending and what was asked; a drawing may take several sheets.
fn written(
    args: &Args,
    network: &Network,
    balance: &Balance,
    path: Option<PathBuf>,
) -> Vec<Written> {
    let ends = |word: &str| {
        let ending = path.as_ref().and_then(|p| p.extension());
        ending.is_some_and(|e| e.eq_ignore_ascii_case(word))
    };
    let units = &network.units;
    if let Some(path) = path.as_ref().filter(|_| ends("svg")) {
        let cards: Vec<draw::Card> = report::balance::cards(network, balance, units)
            .into_iter()
            .map(|c| draw::Card {
                head: c.head,
                place: c.place,
                lines: c.lines,
            })
            .collect();
        let sheets = draw::cards(&network.title, &cards);
        return drawing::files(path, sheets.iter().map(drawing::marked).collect());
    }
    let bytes = if args.json || ends("json") {
        report::json_balance::text(network, balance)
    } else if args.csv || ends("csv") {
        report::json_balance::rows(network, balance)
    } else if args.cards {
        report::balance::cards_text(network, balance, units)
    } else {
        report::balance::text(network, balance, units)
    };
    vec![Written {
        path,
        bytes: bytes.into_bytes(),
    }]
}
