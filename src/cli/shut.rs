//! `shut FILE`: what happens when valves close, in every combination.

use super::drawing;
use super::house;
use super::io::Io;
use super::options;
use super::target::{self, Result as Output, Target};
use super::trouble::{Status, Trouble};
use super::unanswered;
use crate::draw::{House, Style, plots, svg};
use crate::network::Network;
use crate::report::{self, MADE_BY};
use crate::shut::state::{facts, with_shut};
use crate::shut::study::names;
use crate::shut::{self, Options, Shut, Stop, sets::Mask};
use crate::solve::Solver;
use std::path::PathBuf;
use std::sync::mpsc;

#[derive(clap::Args)]
pub struct Args {
    /// The house: a network file in TOML, or - for standard input
    file: PathBuf,
    #[command(flatten)]
    target: Target,
    /// Print JSON (its schema is in the repository: src/report/shut.schema.json)
    #[arg(long, conflicts_with = "csv")]
    json: bool,
    /// Print every combination that was solved as CSV
    #[arg(long)]
    csv: bool,
    /// What is shut in the drawing: names with commas between, `all`, `none`, `worst`, or `nearest` (to a trip)
    #[arg(long, value_name = "NAMES", default_value = "worst")]
    state: String,
    /// Also draw the schematic in that state, as SVG into this file
    #[arg(long, value_name = "FILE")]
    svg: Vec<PathBuf>,
    /// Also plot flow against valves open, and starts and run time against the weather, as SVG into this file (and -2, -3)
    #[arg(long, value_name = "FILE")]
    chart: Vec<PathBuf>,
    #[command(flatten)]
    look: options::Every,
}

pub fn run(args: &Args, io: &mut Io<'_>) -> Result<Status, Trouble> {
    let mut all = args.target.clone();
    all.output
        .extend(args.svg.iter().chain(&args.chart).cloned());
    all.permit(Some(&args.file), io)?;
    let units = args.look.units()?;
    let (text, mut network) = house::read(&args.file, io)?;
    if let Some(units) = units {
        units.apply(&mut network.units);
    }
    let options = Options {
        lockshields_open: args.look.lockshields_open(),
        keep: args.csv,
        ..Options::default()
    };
    let shut = study(&network, &options, io).map_err(|stop| match stop {
        Stop::NoHeating => Trouble::said("the house has no state in which it heats"),
        Stop::TooMany(found, most) => Trouble::with_help(
            format!("{found} valves can close; up to {most} can be told apart"),
            "give emitters that close together one `zone`",
        ),
        Stop::Solve(error) => unanswered::trouble(&text, &network, &error),
        Stop::Interrupted => Trouble::said("interrupted"),
    })?;
    let mask = chosen(&args.state, &shut)?;
    let bytes = if args.json {
        report::json_shut::text(&network, &shut)
    } else if args.csv {
        report::json_shut::combinations(&shut)
    } else {
        report::shut::text(&network, &shut, &network.units)
    };
    let mut results = args.target.take(bytes.into_bytes());
    if !args.svg.is_empty() {
        let sheets = sheets(&network, &shut, mask)
            .map_err(|error| unanswered::trouble(&text, &network, &error))?;
        if sheets.is_empty() {
            return Err(Trouble::said("no sheet up to A1 holds this house"));
        }
        for path in &args.svg {
            results.extend(drawing::files(path, sheets.clone()));
        }
    }
    let charts = charts(&network, &shut);
    for path in &args.chart {
        results.extend(drawing::files(path, charts.clone()));
    }
    // names of further sheets were not known before
    let named: Vec<Output> = results
        .iter()
        .filter(|r| r.path.as_ref().is_some_and(|p| !all.output.contains(p)))
        .map(|r| Output {
            path: r.path.clone(),
            bytes: Vec::new(),
        })
        .collect();
    args.target.permit_all(&named, &args.file, io)?;
    target::put(&results, io)?;
    Ok(if fails(&shut) {
        Status::Fails
    } else {
        Status::Holds
    })
}

/// Whether something is wrong or not known.
fn fails(shut: &Shut) -> bool {
    let trips =
        shut.open.margin.is_finite() && (shut.combinations.tripping() > 0 || shut.open.trips());
    let short = shut.rules.iter().any(|r| r.short_m3() > 0.0);
    let unknown = !shut.combinations.tally.unanswered.is_empty() || !shut.missing.is_empty();
    trips || short || unknown || !shut.leaks.is_empty() || !shut.cut_off.is_empty()
}

/// Looks at all combinations; on a terminal, with a line that tells how far it is and that goes away in the end.
///
/// An interruption (Ctrl-C) ends the program by the signal's own way: nothing has been printed or written by then, for
/// results are put out whole after the last of them is known.
fn study(network: &Network, options: &Options, io: &mut Io<'_>) -> Result<Shut, Stop> {
    if !io.colour_err {
        return shut::study(network, options, &|_, _| {}, &|| false);
    }
    let (tell, told) = mpsc::channel();
    std::thread::scope(|scope| {
        let work = scope.spawn(move || {
            let tell = std::sync::Mutex::new(tell);
            let progress = |done: usize, of: usize| {
                if let Ok(tell) = tell.lock() {
                    // whoever listened may have gone; the answer matters more
                    let _ = tell.send((done, of));
                }
            };
            shut::study(network, options, &progress, &|| false)
        });
        let mut shown = None;
        for (done, of) in told {
            let percent = 100 * done / of.max(1);
            if of > 1000 && shown != Some(percent) {
                shown = Some(percent);
                let _ = write!(io.err, "\r{done} of {of} combinations, {percent} %\x1b[K");
                let _ = io.err.flush();
            }
        }
        if shown.is_some() {
            let _ = write!(io.err, "\r\x1b[K");
            let _ = io.err.flush();
        }
        match work.join() {
            Ok(result) => result,
            Err(panic) => std::panic::resume_unwind(panic),
        }
    })
}

/// What `--state` names.
fn chosen(state: &str, shut: &Shut) -> Result<Mask, Trouble> {
    let all = (0..shut.valves.len()).fold(0, |mask, v| mask | 1 << v);
    let facts = |facts: Option<&shut::state::Facts>| facts.map_or(0, |f| f.shut);
    match state.trim() {
        "all" => return Ok(all),
        "none" => return Ok(0),
        "worst" => return Ok(facts(shut.combinations.worst())),
        "nearest" => return Ok(facts(shut.combinations.nearest_miss())),
        _ => {}
    }
    let mut mask = 0;
    for name in state
        .split([',', ';'])
        .map(str::trim)
        .filter(|n| !n.is_empty())
    {
        match shut.valves.iter().position(|v| v.name == name) {
            Some(valve) => mask |= 1 << valve,
            None => {
                let known = shut.valves.iter().map(|v| v.name.as_str());
                let help = match crate::diag::nearest(name, known) {
                    Some(near) => format!("did you mean `{near}`?"),
                    None => "these can: ".to_owned() + &names(&shut.valves, all).join(", "),
                };
                return Err(Trouble::with_help(
                    format!("nothing called `{name}` can shut by itself in this house"),
                    help,
                ));
            }
        }
    }
    Ok(mask)
}

/// The schematic with what is shut drawn dead.
fn sheets(
    network: &Network,
    shut: &Shut,
    mask: Mask,
) -> Result<Vec<Vec<u8>>, crate::solve::SolveError> {
    let setting = with_shut(&shut.base, &shut.valves, mask);
    let (looked_at, state) = facts(network, &Solver::new(network), &setting, mask)?;
    let elements: Vec<_> = shut
        .valves
        .iter()
        .enumerate()
        .filter(|(v, _)| mask >> v & 1 == 1)
        .flat_map(|(_, valve)| valve.elements.iter().copied())
        .collect();
    let name = match names(&shut.valves, mask) {
        names if names.is_empty() => "everything open".to_owned(),
        names if names.len() == shut.valves.len() => "shut: all that can close".to_owned(),
        names => format!("shut: {}", names.join(", ")),
    };
    let name = match looked_at.trips() {
        true => format!("THE UNIT TRIPS, {name}"),
        false => name,
    };
    let house = House {
        network,
        required: None,
        running: None,
        findings: &[],
    };
    let scenes = house.with_shut(&elements, state.as_ref(), &name, &Style::default());
    Ok(scenes
        .iter()
        .map(|scene| marked(&svg::render(scene)))
        .collect())
}

/// Flow against valves open, starts against the weather, run time against the weather; those that there are.
fn charts(network: &Network, shut: &Shut) -> Vec<Vec<u8>> {
    let style = Style::default();
    [
        plots::flow_by_open(network, shut, &style),
        plots::weather(network, shut, false, &style),
        plots::weather(network, shut, true, &style),
    ]
    .iter()
    .flatten()
    .map(|plot| marked(plot))
    .collect()
}

fn marked(svg: &str) -> Vec<u8> {
    format!("<!-- {MADE_BY} -->\n{}\n", svg.trim_end()).into_bytes()
}
