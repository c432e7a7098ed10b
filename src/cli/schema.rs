//! `schema [WHAT]`: JSON Schema, so that editors complete a network file and programs trust a result.

use super::io::Io;
use super::target::{self, Target};
use super::trouble::{Status, Trouble};
use crate::report::{json, json_audit, json_balance, json_shut, json_upsize};
use crate::survey::schema;

#[derive(clap::Args)]
pub struct Args {
    /// Of what
    #[arg(default_value = "network")]
    what: What,
    #[command(flatten)]
    target: Target,
}

#[derive(clap::ValueEnum, Clone, Copy, Debug)]
enum What {
    /// The network file
    Network,
    /// What `check --json` prints
    Check,
    /// What `audit --json` prints
    Audit,
    /// What `shut --json` prints
    Shut,
    /// What `upsize --json` prints
    Upsize,
    /// What `balance --json` prints
    Balance,
}

pub fn run(args: &Args, io: &mut Io<'_>) -> Result<Status, Trouble> {
    args.target.permit(None, io)?;
    let text = match args.what {
        What::Network => schema::schema(),
        What::Check => json::schema(),
        What::Audit => json_audit::schema(),
        What::Shut => json_shut::schema(),
        What::Upsize => json_upsize::schema(),
        What::Balance => json_balance::schema(),
    };
    target::put(&args.target.take(text.into_bytes()), io)?;
    Ok(Status::Holds)
}
