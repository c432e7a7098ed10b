//! `catalogue [WORD]`: what words exist, each with its source.

use super::io::Io;
use super::target::{self, Target};
use super::trouble::{Status, Trouble};
use crate::catalogue::{self, Catalogue};

#[derive(clap::Args)]
pub struct Args {
    /// A family or a word, such as pipes or cu22; everything if not given
    filter: Option<String>,
    #[command(flatten)]
    target: Target,
}

pub fn run(args: &Args, io: &mut Io<'_>) -> Result<Status, Trouble> {
    args.target.permit(None, io)?;
    let filter = args.filter.as_deref().unwrap_or_default();
    let text = catalogue::print(Catalogue::embedded(), filter);
    if text.is_empty() {
        return Err(Trouble::with_help(
            format!("the catalogue has nothing by the name `{filter}`"),
            "`pipecarry catalogue` prints all of it",
        ));
    }
    target::put(&args.target.take(text.into_bytes()), io)?;
    Ok(Status::Holds)
}
