//! `report FILE`: one document of a house.

use super::io::Io;
use super::target::{self, Result as Output, Target};
use super::trouble::{Status, Trouble};
use super::{house, options};
use crate::balance;
use crate::check::exit_status;
use crate::diag::nearest;
use crate::network::{Network, StateKind};
use crate::plan::problem::Objective;
use crate::plan::search;
use crate::plan::upsize::{Ask, Upsize, upsize};
use crate::report::document::{Choice, Material, Reader, Section, html, markdown};
use crate::report::sheet::Sheet;
use crate::report::{csv, schedules};
use crate::shut::valves::closable;
use crate::shut::{self, Options, Shut, Stop};
use crate::survey::Survey;
use std::path::{Path, PathBuf};

#[derive(clap::Args)]
pub struct Args {
    /// The house: a network file in TOML, a reference case ending in .json, or - for standard input
    file: PathBuf,
    #[command(flatten)]
    target: Target,
    /// Markdown instead of HTML, without drawings; also chosen by a file name that ends in .md
    #[arg(long)]
    markdown: bool,
    /// One schedule as CSV instead; a file name that ends in .csv gets the one that it is named after, runs by default
    #[arg(long, value_name = "SCHEDULE", conflicts_with = "markdown", value_parser = clap::builder::PossibleValuesParser::new(schedules::NAMES))]
    csv: Option<String>,
    /// Whom it is for: how deep it goes
    #[arg(long = "for", value_name = "READER", default_value = "reviewer")]
    reader: For,
    /// Only these sections, such as "verdict, drawing, schedules"
    #[arg(long, value_name = "LIST")]
    sections: Option<String>,
    #[command(flatten)]
    look: options::Look,
}

#[derive(clap::ValueEnum, Clone, Copy, Debug)]
enum For {
    /// Verdict, findings, drawing, what to change
    Client,
    /// With schedules, settings and the commissioning sheet
    Installer,
    /// Everything, with every key figure traced to its inputs
    Reviewer,
}

pub fn run(args: &Args, io: &mut Io<'_>) -> Result<Status, Trouble> {
    args.target.permit(Some(&args.file), io)?;
    let forms = forms(args)?;
    let units = args.look.units()?;
    let reader = match args.reader {
        For::Client => Reader::Client,
        For::Installer => Reader::Installer,
        For::Reviewer => Reader::Reviewer,
    };
    let sections = match &args.sections {
        Some(list) => chosen(list)?,
        None => reader.sections(),
    };
    let (source, survey, mut network) = house::read_whole(&args.file, io)?;
    if let Some(units) = units {
        units.apply(&mut network.units);
    }
    let state = args.look.state(&network)?;
    let study = house::study(&source, &network, &args.look.options())?;
    let wants = |section: Section| forms.iter().any(|(_, form)| form.wants(section, &sections));
    let balance = match wants(Section::Settings) {
        true => balance::balance(&network).map_err(|stop| {
            match stop {
                balance::Stop::NoHeating => "the house has no state in which it heats",
                balance::Stop::Solve(_) => "the house has no answer with its valves set",
            }
            .to_owned()
        }),
        false => Err("not asked for".to_owned()),
    };
    let plan = match wants(Section::Plan) {
        true => planned(survey.as_ref(), &network),
        false => Err("not asked for".to_owned()),
    };
    let shut = match wants(Section::Valves) {
        true => valves(
            &network,
            args.look.options().lockshields_open.unwrap_or(false),
        ),
        false => Err("not asked for".to_owned()),
    };
    let choice = Choice {
        reader,
        sections: sections.clone(),
        state,
    };
    let file = args
        .file
        .file_name()
        .map_or("standard input".into(), |n| n.to_string_lossy());
    let file = if file == "-" {
        "standard input".into()
    } else {
        file
    };
    let material = Material {
        study: &study,
        source: &source.text,
        file: &file,
        shut: shut.as_ref().map_err(String::as_str),
        plan: plan.as_ref().map_err(String::as_str),
        balance: balance.as_ref().map_err(String::as_str),
    };
    let mut results: Vec<Output> = Vec::new();
    for (path, form) in &forms {
        let bytes = match form {
            Form::Html => html(&material, &choice).into_bytes(),
            Form::Markdown => markdown(&material, &choice).into_bytes(),
            Form::Csv(name) => schedules::one(&material, state, name)
                .map_or_else(Vec::new, |sheet| csv::text(&sheet).into_bytes()),
            Form::Spreadsheet => spreadsheet(&schedules::all(&material, state))?,
        };
        results.push(Output {
            path: path.clone(),
            bytes,
        });
    }
    target::put(&results, io)?;
    Ok(match exit_status(&study, false) {
        0 => Status::Holds,
        _ => Status::Fails,
    })
}

/// Runs and emitters of a house for whose document changes are searched for; beyond, that takes its time.
const MOST_TO_PLAN: usize = 120;

/// What to change, or in words why that is not shown.
fn planned(survey: Option<&Survey>, network: &Network) -> Result<Upsize, String> {
    let Some(survey) = survey else {
        return Err("a solved case has no words that could be changed".to_owned());
    };
    if network.runs.len() + network.emitters.len() > MOST_TO_PLAN {
        return Err(
            "the house is large, and the search takes its time; pipecarry's command upsize goes through it"
                .to_owned(),
        );
    }
    let ask = Ask {
        objective: Objective::Money,
        frontier: false,
        larger_drop: false,
        most_looks: crate::plan::search::MOST_LOOKS,
    };
    upsize(survey, ask).map_err(|stop| {
        match stop {
            search::Stop::Solve(_) => "a house with its guesses settled has no answer",
            search::Stop::NothingRequired => "nothing in this house asks for heat",
            search::Stop::Broken(_) => "the house does not close once its guesses are settled",
        }
        .to_owned()
    })
}

/// Valves that may close in a house whose document counts every combination of them; beyond, that takes its time.
const MOST_VALVES: usize = 9;

/// What happens when valves close, or in words why that is not shown.
fn valves(network: &Network, lockshields_open: bool) -> Result<Shut, String> {
    let heating = network.states.iter().find(|s| s.kind == StateKind::Heating);
    let found = heating.map_or(0, |state| closable(network, state).len());
    if found > MOST_VALVES {
        return Err(format!(
            "{found} valves can close; pipecarry's command shut goes through their combinations"
        ));
    }
    let options = Options {
        lockshields_open,
        keep: false,
        ..Options::default()
    };
    shut::study(network, &options, &|_, _| {}, &|| false).map_err(|stop| match stop {
        Stop::NoHeating => "the house has no state in which it heats".to_owned(),
        Stop::TooMany(found, most) => {
            format!("{found} valves can close; up to {most} can be told apart")
        }
        Stop::Solve(_) | Stop::Interrupted => "a state with valves shut has no answer".to_owned(),
    })
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Form {
    Html,
    Markdown,
    /// A schedule by its word.
    Csv(&'static str),
    Spreadsheet,
}

impl Form {
    /// Whether it needs what a section of the document rests on.
    fn wants(self, section: Section, sections: &[Section]) -> bool {
        match self {
            Form::Html | Form::Markdown => sections.contains(&section),
            Form::Spreadsheet => section != Section::Valves,
            Form::Csv("job") => section != Section::Valves,
            Form::Csv("plan" | "shopping") => section == Section::Plan,
            Form::Csv("valves" | "pumps" | "readings" | "displays") => section == Section::Settings,
            Form::Csv(_) => false,
        }
    }
}

/// What is written where: a document to standard output if nothing is said.
fn forms(args: &Args) -> Result<Vec<(Option<PathBuf>, Form)>, Trouble> {
    let schedule = args.csv.as_deref().and_then(named);
    let asked = match (schedule, args.markdown) {
        (Some(name), _) => Form::Csv(name),
        (None, true) => Form::Markdown,
        (None, false) => Form::Html,
    };
    let files = args.target.output.iter();
    let mut forms: Vec<(Option<PathBuf>, Form)> = files
        .map(|path| (Some(path.clone()), form(path, asked)))
        .collect();
    let left = schedule.is_some() && forms.iter().all(|(_, form)| *form != asked);
    if forms.is_empty() || left {
        forms.push((None, asked));
    }
    let sheet = forms.iter().find(|(_, form)| *form == Form::Spreadsheet);
    if let (Some((Some(path), _)), false) = (sheet, cfg!(feature = "xlsx")) {
        return Err(Trouble::with_help(
            format!("{}: this build writes no spreadsheets", path.display()),
            "build it with `cargo build --release --features xlsx`, or name a file that ends in .csv: every spreadsheet \
             program opens it",
        ));
    }
    Ok(forms)
}

fn named(word: &str) -> Option<&'static str> {
    schedules::NAMES.into_iter().find(|name| *name == word)
}

/// What a file holds, by its ending; CSV, unless a schedule was asked for, by what it is named after.
fn form(path: &Path, asked: Form) -> Form {
    let ending = path.extension().map(|e| e.to_ascii_lowercase());
    match ending.as_ref().and_then(|e| e.to_str()) {
        Some("md" | "markdown") => Form::Markdown,
        Some("html" | "htm") => Form::Html,
        Some("xlsx") => Form::Spreadsheet,
        Some("csv") => match asked {
            Form::Csv(name) => Form::Csv(name),
            Form::Html | Form::Markdown | Form::Spreadsheet => {
                let stem = path
                    .file_stem()
                    .and_then(|s| s.to_str())
                    .unwrap_or_default();
                let last = stem.rsplit(['-', '_', '.', ' ']).next().unwrap_or(stem);
                Form::Csv(named(&last.to_ascii_lowercase()).unwrap_or("runs"))
            }
        },
        _ => asked,
    }
}

#[cfg(feature = "xlsx")]
fn spreadsheet(sheets: &[Sheet]) -> Result<Vec<u8>, Trouble> {
    crate::report::xlsx::workbook(sheets)
        .map_err(|why| Trouble::said(format!("the spreadsheet cannot be written: {why}")))
}

#[cfg(not(feature = "xlsx"))]
fn spreadsheet(_: &[Sheet]) -> Result<Vec<u8>, Trouble> {
    Err(Trouble::said("this build writes no spreadsheets"))
}

/// Sections by their words, in the order of the document.
fn chosen(list: &str) -> Result<Vec<Section>, Trouble> {
    let mut sections = Vec::new();
    for word in list.split(',').map(str::trim).filter(|w| !w.is_empty()) {
        let found = Section::ALL
            .into_iter()
            .find(|s| s.word().eq_ignore_ascii_case(word));
        let Some(section) = found else {
            let words = Section::ALL.map(Section::word);
            let all = format!("the sections are {}", words.join(", "));
            let help = match nearest(word, words) {
                Some(near) => format!("did you mean `{near}`? {all}"),
                None => all,
            };
            return Err(Trouble::with_help(
                format!("the report has no section `{word}`"),
                help,
            ));
        };
        if !sections.contains(&section) {
            sections.push(section);
        }
    }
    if sections.is_empty() {
        return Err(Trouble::said("no section is named"));
    }
    sections.sort();
    Ok(sections)
}
