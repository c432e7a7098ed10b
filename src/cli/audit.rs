//! `audit FILE CLAIMS`: somebody else's stated figures against recomputed ones, and against one another.

use super::io::Io;
use super::target::{self, Target};
use super::trouble::{Input, Status, Trouble};
use super::{house, input, options, unanswered};
use crate::audit::{self, exit_status};
use crate::report::{audit as text, csv_audit, json_audit};
use std::path::{Path, PathBuf};

#[derive(clap::Args)]
pub struct Args {
    /// The house: a network file in TOML, or - for standard input
    file: PathBuf,
    /// What is stated: a short TOML, or a schedule with named columns ending in .csv
    claims: PathBuf,
    #[command(flatten)]
    target: Target,
    /// Print JSON (its schema is in the repository: src/report/audit.schema.json)
    #[arg(long, conflicts_with = "csv")]
    json: bool,
    /// Print every claim with its answer as CSV
    #[arg(long)]
    csv: bool,
    /// Exit with 1 also if a claim could not be shown
    #[arg(long)]
    strict: bool,
    #[command(flatten)]
    look: options::Look,
}

pub fn run(args: &Args, io: &mut Io<'_>) -> Result<Status, Trouble> {
    args.target.permit(Some(&args.file), io)?;
    args.target.permit(Some(&args.claims), io)?;
    if args.file == args.claims {
        return Err(Trouble::with_help(
            "the same file is named as house and as claims",
            "claims stand in a file of their own: `pipecarry audit house.toml claims.toml`",
        ));
    }
    let units = args.look.units()?;
    let (house_text, mut network) = house::read(&args.file, io)?;
    if let Some(units) = units {
        units.apply(&mut network.units);
    }
    let options = args.look.options();
    if let Some(open) = options.lockshields_open {
        network.design.lockshields_open = open;
    }
    let claims_text = input::text(&args.claims, io)?;
    let (claims, said) = audit::read::read(&claims_text.text, is_csv(&args.claims), &network);
    let remarks = Input {
        name: claims_text.name.clone(),
        text: claims_text.text,
        diagnostics: said,
    };
    let Some(claims) = claims else {
        return Err(Trouble::Input(Box::new(remarks)));
    };
    input::say(&remarks, io);
    let study = house::study(&house_text, &network, &options)?;
    let audit = audit::audit(&study, &claims)
        .map_err(|error| unanswered::trouble(&house_text, &network, &error))?;
    let shown = text::Shown {
        study: &study,
        claims: &claims,
        audit: &audit,
        house: &house_text.name,
        house_text: &house_text.text,
        schedule: &claims_text.name,
    };
    let bytes = if args.json {
        json_audit::text(&shown)
    } else if args.csv {
        csv_audit::text(&shown)
    } else {
        text::text(&shown)
    };
    target::put(&args.target.take(bytes.into_bytes()), io)?;
    Ok(match exit_status(&audit, args.strict) {
        0 => Status::Holds,
        _ => Status::Fails,
    })
}

fn is_csv(path: &Path) -> bool {
    path.extension()
        .is_some_and(|e| e.eq_ignore_ascii_case("csv"))
}
