//! `new`: a commented starter file that solves.

use super::io::Io;
use super::target::{self, Target};
use super::trouble::{Status, Trouble};
use crate::survey::starter;

#[derive(clap::Args)]
pub struct Args {
    #[command(flatten)]
    target: Target,
}

pub fn run(args: &Args, io: &mut Io<'_>) -> Result<Status, Trouble> {
    args.target.permit(None, io)?;
    let bytes = starter::starter().as_bytes().to_vec();
    target::put(&args.target.take(bytes), io)?;
    Ok(Status::Holds)
}
