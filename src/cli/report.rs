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
use crate::report::{csv, json};
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
    let wants = |section: Section| sections.contains(&section);
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
    let wants_shut = wants(Section::Valves);
    let choice = Choice {
        reader,
        sections,
        state,
    };
    let shut = if wants_shut {
        valves(
            &network,
            args.look.options().lockshields_open.unwrap_or(false),
        )
    } else {
        Err("not asked for".to_owned())
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
    let make = |form: Form| -> Vec<u8> {
        let data = || json::check(&study, state);
        match form {
            Form::Html => html(&material, &choice).into_bytes(),
            Form::Markdown => markdown(&material, &choice).into_bytes(),
            Form::Runs => csv::runs(&data()).into_bytes(),
        }
    };
    let asked = if args.markdown {
        Form::Markdown
    } else {
        Form::Html
    };
    let mut results: Vec<Output> = Vec::new();
    for path in &args.target.output {
        let bytes = make(form(path, asked));
        results.push(Output {
            path: Some(path.clone()),
            bytes,
        });
    }
    if results.is_empty() {
        results.push(Output {
            path: None,
            bytes: make(asked),
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
    Runs,
}

/// What a file holds, by its ending.
fn form(path: &Path, asked: Form) -> Form {
    let ending = path.extension().map(|e| e.to_ascii_lowercase());
    match ending.as_ref().and_then(|e| e.to_str()) {
        Some("md" | "markdown") => Form::Markdown,
        Some("html" | "htm") => Form::Html,
        Some("csv") => Form::Runs,
        _ => asked,
    }
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
