//! `draw FILE`: the annotated schematic.

use super::io::Io;
use super::target::{self, Result as Output, Target};
use super::trouble::{Status, Trouble};
use super::{drawing, house, options};
use crate::check::exit_status;
use crate::draw::{Level, Paper, Shows, Style, Theme, plots};
use std::path::PathBuf;

#[derive(clap::Args)]
pub struct Args {
    /// The house: a network file in TOML, a reference case ending in .json, or - for standard input
    file: PathBuf,
    #[command(flatten)]
    target: Target,
    /// Plain text instead of SVG: what hangs on what
    #[arg(long)]
    text: bool,
    /// One of the plots beside the schematic instead of it
    #[arg(long, value_name = "WHAT", conflicts_with = "text")]
    plot: Option<Plot>,
    /// How much the drawing says
    #[arg(long, value_name = "LEVEL", default_value = "normal")]
    level: Says,
    /// Paper; the smallest of A4 and A3 that holds the level, then larger, if not given
    #[arg(long, value_name = "PAPER")]
    sheet: Option<Sheet>,
    /// Colours
    #[arg(long, value_name = "THEME", default_value = "auto")]
    theme: Colours,
    /// Show the figures as the house runs, not those that duty requires
    #[arg(long)]
    running: bool,
    /// Show a tick on what holds, too
    #[arg(long)]
    ticks: bool,
    /// Decimal sign of the figures
    #[arg(long, value_name = "SIGN", default_value = "point")]
    decimal: Sign,
    /// Exit with 1 also if a check could not be shown
    #[arg(long)]
    strict: bool,
    #[command(flatten)]
    look: options::Look,
}

#[derive(clap::ValueEnum, Clone, Copy, Debug)]
enum Says {
    /// Diameters and names: for a client
    Overview,
    /// With flow, velocity, output and devices: for checking a design
    Normal,
    /// With length, loss, valves and temperatures: for the record
    Full,
    /// Numbers on the drawing, figures in a table beside it: for large systems
    Schedule,
}

#[derive(clap::ValueEnum, Clone, Copy, Debug)]
enum Plot {
    /// The pump's curve against the index circuit, with the points required and run at
    Pump,
    /// Pressure along the index circuit, part by part
    Pressure,
    /// What each run could carry against what it has to
    Capacity,
}

#[derive(clap::ValueEnum, Clone, Copy, Debug)]
enum Sign {
    /// 1.36 m/s
    Point,
    /// 1,36 m/s
    Comma,
}

#[derive(clap::ValueEnum, Clone, Copy, Debug)]
enum Sheet {
    A4,
    A3,
    A2,
    A1,
}

#[derive(clap::ValueEnum, Clone, Copy, Debug)]
enum Colours {
    /// Light, dark where the viewer asks for it, light in print
    Auto,
    /// Light only
    Light,
    /// Dark only
    Dark,
    /// Ink only: dashes, widths and marks carry everything
    Ink,
}

impl Args {
    fn style(&self) -> Style {
        Style {
            level: match self.level {
                Says::Overview => Level::Overview,
                Says::Normal => Level::Normal,
                Says::Full => Level::Full,
                Says::Schedule => Level::Schedule,
            },
            paper: self.sheet.map(|sheet| match sheet {
                Sheet::A4 => Paper::A4,
                Sheet::A3 => Paper::A3,
                Sheet::A2 => Paper::A2,
                Sheet::A1 => Paper::A1,
            }),
            theme: match self.theme {
                Colours::Auto => Theme::Auto,
                Colours::Light => Theme::Light,
                Colours::Dark => Theme::Dark,
                Colours::Ink => Theme::Ink,
            },
            shows: if self.running {
                Shows::Running
            } else {
                Shows::Required
            },
            ticks: self.ticks,
            decimal: match self.decimal {
                Sign::Point => '.',
                Sign::Comma => ',',
            },
            ..Style::default()
        }
    }
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
    let sheets = if args.text {
        vec![drawing::sketch(&study, state, args.running)]
    } else if let Some(what) = args.plot {
        let style = args.style();
        vec![drawing::plot(
            &study,
            state,
            |network, required, running| match what {
                // of several pumps the one with the least head left
                Plot::Pump => {
                    let of = plots::tightest(required);
                    plots::pump(network, required, running, of, &style)
                }
                Plot::Pressure => {
                    plots::pressure(network, required, plots::tightest(required), &style)
                }
                Plot::Capacity => plots::capacity(network, required, &style),
            },
        )?]
    } else {
        drawing::sheets(&study, state, &args.style())?
    };
    let mut results = Vec::new();
    for path in &args.target.output {
        results.extend(drawing::files(path, sheets.clone()));
    }
    args.target.permit_all(&results, &args.file, io)?;
    if results.is_empty() {
        results.extend(sheets.into_iter().map(|bytes| Output { path: None, bytes }));
    }
    target::put(&results, io)?;
    Ok(match exit_status(&study, args.strict) {
        0 => Status::Holds,
        _ => Status::Fails,
    })
}
