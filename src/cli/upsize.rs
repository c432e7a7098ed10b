//! `upsize FILE`: the cheapest and the least disruptive set of changes that works, with the proof.

use super::input::Text;
use super::io::Io;
use super::options;
use super::target::{self, Target};
use super::trouble::{Status, Trouble};
use super::unanswered;
use super::{drawing, house};
use crate::draw::{House, Scene, Style, plots, svg};
use crate::plan::price::PriceList;
use crate::plan::problem::Objective;
use crate::plan::rewrite::rewrite;
use crate::plan::search::Stop;
use crate::plan::temperature::{RunningCost, Step, sweep};
use crate::plan::upsize::{Ask, Upsize, upsize};
use crate::report::{self, MADE_BY};
use crate::survey::Survey;
use std::path::{Path, PathBuf};

#[derive(clap::Args)]
pub struct Args {
    /// The house: a network file in TOML, or - for standard input
    file: PathBuf,
    #[command(flatten)]
    target: Target,
    /// What is to be least: money, disruption (then money), or mix (see --room-day)
    #[arg(long, value_name = "WHAT", default_value = "money")]
    least: Least,
    /// Money that one room upset for one day counts as, with --least mix
    #[arg(long, value_name = "MONEY", default_value_t = 100.0)]
    room_day: f64,
    /// Show every best trade between money and disruption
    #[arg(long)]
    frontier: bool,
    /// Let one emitter have a larger drop than the design's (up to 10 K) where that comes cheaper
    #[arg(long)]
    larger_drop: bool,
    /// Sets of changes to look at in full before the search ends and states its gap; ten times as many while that is over 5 %
    #[arg(long, value_name = "N", default_value_t = crate::plan::search::MOST_LOOKS)]
    looks: usize,
    /// Find the cheapest plan for each flow temperature from 35 to 55 °C and each drop from 5 to 10 K
    #[arg(long)]
    temperatures: bool,
    /// Print JSON (its schema is in the repository: src/report/upsize.schema.json)
    #[arg(long, conflicts_with = "csv")]
    json: bool,
    /// Print the shopping list as CSV
    #[arg(long)]
    csv: bool,
    #[command(flatten)]
    look: options::Look,
}

/// What a result is written as; a file's ending says so.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Form {
    Text,
    Json,
    Csv,
    Changed,
    Drawing,
}

#[derive(clap::ValueEnum, Clone, Copy, Debug, PartialEq, Eq)]
enum Least {
    /// Money; among equals, disruption
    Money,
    /// Disruption first, then money
    Disruption,
    /// Money and disruption added
    Mix,
}

/// Flow temperatures of the table, °C.
const FLOWS_C: [f64; 5] = [35.0, 40.0, 45.0, 50.0, 55.0];
/// Drops of the table, K.
const DROPS_K: [f64; 6] = [5.0, 6.0, 7.0, 8.0, 9.0, 10.0];

pub fn run(args: &Args, io: &mut Io<'_>) -> Result<Status, Trouble> {
    args.target.permit(Some(&args.file), io)?;
    let units = args.look.units()?;
    if !args.room_day.is_finite() || args.room_day < 0.0 {
        return Err(Trouble::with_help(
            "--room-day is money, zero or more",
            "for example --room-day 150",
        ));
    }
    let (text, survey, mut network) = house::survey(&args.file, io)?;
    if let Some(units) = &units {
        units.apply(&mut network.units);
    }
    let stopped = |stop: Stop| match stop {
        Stop::Solve(error) => unanswered::trouble(&text, &network, &error),
        Stop::NothingRequired => Trouble::with_help(
            "nothing in this house asks for heat, so nothing need change",
            "say what each room needs",
        ),
        Stop::Broken(_) => Trouble::said("the house does not close once its guesses are settled"),
    };
    let objective = match args.least {
        Least::Money => Objective::Money,
        Least::Disruption => Objective::Disruption,
        // disruption counts in tenths of a room-day, money in hundredths
        Least::Mix => Objective::Weighted((args.room_day * 10.0).round().min(1e12) as i64),
    };
    let ask = Ask {
        objective,
        frontier: args.frontier,
        larger_drop: args.larger_drop,
        most_looks: args.looks.clamp(1, 1_000_000),
    };
    let found = upsize(&survey, ask).map_err(stopped)?;
    let cost = RunningCost::of(&found.house);
    let steps = if args.temperatures {
        sweep(
            &found.house.survey,
            &found.offers,
            &found.excused,
            &cost,
            &FLOWS_C,
            &DROPS_K,
        )
        .map_err(stopped)?
    } else {
        Vec::new()
    };
    let asked = match (args.json, args.csv) {
        (true, _) => Form::Json,
        (_, true) => Form::Csv,
        _ => Form::Text,
    };
    let write = |form: Form| -> Result<Vec<u8>, Trouble> {
        Ok(match form {
            Form::Text => report::upsize::text(&found, &steps, &cost, &network.units),
            Form::Json => report::json_upsize::text(&found, &steps, &cost),
            Form::Csv => report::json_upsize::list(&found),
            Form::Changed => changed(&text, &survey, &found)?,
            // drawings have names and sheets of their own
            Form::Drawing => String::new(),
        }
        .into_bytes())
    };
    let mut results = Vec::new();
    let mut unmade = Vec::new();
    for path in &args.target.output {
        let of_a_plan = matches!(form(path, asked), Form::Drawing | Form::Changed);
        if of_a_plan && found.best().is_none() {
            unmade.push(path);
            continue;
        }
        if form(path, asked) == Form::Drawing {
            results.extend(drawings(&found, &steps, &cost, path)?);
            continue;
        }
        results.push(target::Result {
            path: Some(path.clone()),
            bytes: write(form(path, asked))?,
        });
    }
    if !args.target.output.iter().any(|p| form(p, asked) == asked) {
        results.push(target::Result {
            path: None,
            bytes: write(asked)?,
        });
    }
    // drawings before the plan and of temperatures have names that nobody typed
    args.target.permit_all(&results, &args.file, io)?;
    target::put(&results, io)?;
    for path in unmade {
        // what the report says remains to be read
        let _ = writeln!(
            io.err,
            "pipecarry: no plan works, so {} is not written",
            path.display()
        );
    }
    // a plan that another value of a guess would break is none to rely on
    Ok(if found.best().is_some() && found.guesses().is_empty() {
        Status::Holds
    } else {
        Status::Fails
    })
}

fn form(path: &Path, asked: Form) -> Form {
    let ending = path.extension().map(|e| e.to_ascii_lowercase());
    match ending.as_ref().and_then(|e| e.to_str()) {
        Some("toml") => Form::Changed,
        Some("json") => Form::Json,
        Some("csv") => Form::Csv,
        Some("svg") => Form::Drawing,
        _ => asked,
    }
}

/// The file with the plan's changes in place.
fn changed(text: &Text, survey: &Survey, found: &Upsize) -> Result<String, Trouble> {
    let Some(best) = found.best() else {
        return Err(Trouble::said(
            "no plan works, so there is no changed file to write",
        ));
    };
    rewrite(
        &text.text,
        survey,
        &best.changes,
        found.drop.as_ref(),
        &best.study.network,
    )
    .map_err(|why| Trouble::said(format!("the changed file is not written: {why}")))
}

/// The house after the plan under the name that was typed, before it beside that, and works and running by flow
/// temperature where those were asked for.
fn drawings(
    found: &Upsize,
    steps: &[Step],
    cost: &RunningCost,
    path: &Path,
) -> Result<Vec<target::Result>, Trouble> {
    let Some(best) = found.best() else {
        return Err(Trouble::said("no plan works, so there is nothing to draw"));
    };
    let style = Style::default();
    let state = found.before.required.first().map_or(0, |r| r.state);
    let after =
        House::of(&best.study, state).after(&found.before.network, "after the plan", &style);
    let before =
        House::of(&found.before, state).before(&best.study.network, "before the plan", &style);
    if after.is_empty() || before.is_empty() {
        return Err(Trouble::said("no sheet up to A1 holds this house"));
    }
    let marked = |scenes: &[Scene]| {
        let text = |s| format!("<!-- {MADE_BY} -->\n{}\n", svg::render(s).trim_end()).into_bytes();
        scenes.iter().map(text).collect::<Vec<_>>()
    };
    let mut results = drawing::files(path, marked(&after));
    results.extend(drawing::files(&beside(path, "before"), marked(&before)));
    let prices = PriceList::new(found.survey());
    let network = &found.before.network;
    let note = match (steps.iter().any(|s| !s.own), !cost.own[3]) {
        (true, true) => ", invented prices",
        (true, false) => ", works at invented prices",
        (false, true) => ", electricity at an invented price",
        (false, false) => "",
    };
    if let Some(chart) = plots::frontier(network, steps, prices.currency(), note, &style) {
        results.push(target::Result {
            path: Some(beside(path, "temperatures")),
            bytes: format!("<!-- {MADE_BY} -->\n{chart}\n").into_bytes(),
        });
    }
    Ok(results)
}

/// `plan-before.svg` beside `plan.svg`.
fn beside(path: &Path, word: &str) -> PathBuf {
    let mut name = path.file_stem().unwrap_or_default().to_owned();
    name.push(format!("-{word}"));
    if let Some(ending) = path.extension() {
        name.push(".");
        name.push(ending);
    }
    path.with_file_name(name)
}
