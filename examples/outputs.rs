//! Rebuilds `out/`: drawing and report of every house in `networks/`, as the program itself writes them, and the lines
//! of the README that quote one. Schematics and texts stand in the folder itself, plots and cards in its `plots`.
//!
//! `cargo run --release --example outputs [FOLDER]`; the same files, byte for byte, on every machine.

use pipecarry::cli::{self, Disk, Io, Status};
use std::error::Error;
use std::ffi::OsString;
use std::io::Write;
use std::path::{Path, PathBuf};

fn main() -> Result<(), Box<dyn Error>> {
    let folder = PathBuf::from(std::env::args_os().nth(1).unwrap_or_else(|| "out".into()));
    let plots = folder.join("plots");
    std::fs::create_dir_all(&plots)?;
    let mut houses: Vec<PathBuf> = std::fs::read_dir("networks")?
        .map(|entry| Ok(entry?.path()))
        .collect::<std::io::Result<_>>()?;
    houses.retain(|path| path.extension().is_some_and(|ending| ending == "toml"));
    houses.sort();
    for house in &houses {
        let name = house.file_stem().unwrap_or_default();
        let mut args: Vec<OsString> = vec!["check".into(), house.into()];
        for ending in ["svg", "txt"] {
            args.extend(["-o".into(), folder.join(name).with_extension(ending).into()]);
        }
        run(&args)?;
    }
    // one house set by hand, as an example of the report and the cards
    for target in [
        folder.join("linnet-balance.txt"),
        plots.join("linnet-cards.svg"),
    ] {
        run(&[
            "balance".into(),
            "networks/linnet.toml".into(),
            "-o".into(),
            target.into(),
        ])?;
    }
    for house in &houses {
        let name = house.file_stem().unwrap_or_default().to_string_lossy();
        let claims = Path::new("examples/claims").join(format!("{name}.toml"));
        if claims.exists() {
            let target = folder.join(format!("{name}-audit.txt"));
            run(&[
                "audit".into(),
                house.into(),
                claims.into(),
                "-o".into(),
                target.into(),
            ])?;
        }
    }
    // two houses when valves close
    for house in ["larch", "linnet"] {
        let file = |ending: &str| folder.join(format!("{house}-shut{ending}")).into();
        run(&[
            "shut".into(),
            format!("networks/{house}.toml").into(),
            "-o".into(),
            file(".txt"),
            "--svg".into(),
            file(".svg"),
            "--chart".into(),
            plots.join(format!("{house}-shut-chart.svg")).into(),
        ])?;
    }
    // one document of each kind, as a reader of it gets it
    for (reader, ending) in [("client", "html"), ("installer", "md")] {
        let target = folder.join(format!("larch-{reader}.{ending}"));
        run(&[
            "report".into(),
            "networks/larch.toml".into(),
            "--for".into(),
            reader.into(),
            "-o".into(),
            target.into(),
        ])?;
    }
    // the plots beside a schematic
    for what in ["pump", "pressure", "capacity"] {
        let target = plots.join(format!("larch-{what}.svg"));
        run(&[
            "draw".into(),
            "networks/larch.toml".into(),
            "--plot".into(),
            what.into(),
            "-o".into(),
            target.into(),
        ])?;
    }
    // one house with something to change: report, shopping list, changed file, drawings
    for ending in ["plan.txt", "plan.csv", "plan.toml", "plan.svg"] {
        let target = folder.join(format!("larch-{ending}"));
        run(&[
            "upsize".into(),
            "networks/larch.toml".into(),
            "--temperatures".into(),
            "--force".into(),
            "-o".into(),
            target.into(),
        ])?;
    }
    // the chart of temperatures is written beside the drawing of the plan
    let chart = "larch-plan-temperatures.svg";
    std::fs::rename(folder.join(chart), plots.join(chart))?;
    if folder == Path::new("out") {
        quote("README.md", "out/larch.txt")?;
    }
    writeln!(
        std::io::stdout(),
        "{} houses drawn and reported in {}",
        houses.len(),
        folder.display()
    )?;
    Ok(())
}

/// Runs the program as its user does.
fn run(args: &[OsString]) -> Result<(), Box<dyn Error>> {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let mut io = Io {
        out: &mut out,
        err: &mut err,
        files: &mut Disk,
        colour_out: false,
        colour_err: false,
    };
    let all = std::iter::once("pipecarry".into()).chain(args.iter().cloned());
    if cli::run(all, &mut io) == Status::Trouble {
        std::io::stderr().write_all(&err)?;
        return Err(format!("no answer: {args:?}").into());
    }
    Ok(())
}

/// Puts the first paragraphs of a report between the marks that stand for them.
fn quote(document: &str, report: &str) -> Result<(), Box<dyn Error>> {
    let text = std::fs::read_to_string(document)?;
    let first = std::fs::read_to_string(report)?;
    let first: String = first.split_inclusive("\n\n").take(2).collect();
    let begins = format!("<!-- first lines of {report} -->\n```text\n");
    let (before, after) = text
        .split_once(&begins)
        .ok_or("the document quotes no report")?;
    let (_, after) = after
        .split_once("```")
        .ok_or("the quotation does not end")?;
    std::fs::write(
        document,
        format!("{before}{begins}{}\n```{after}", first.trim_end()),
    )?;
    Ok(())
}
