//! `completions SHELL`: what the shell needs to complete commands and options.

use super::io::Io;
use super::target::{self, Target};
use super::trouble::{Status, Trouble};

#[derive(clap::Args)]
pub struct Args {
    /// The shell
    shell: clap_complete::Shell,
    #[command(flatten)]
    target: Target,
}

pub fn run(args: &Args, io: &mut Io<'_>) -> Result<Status, Trouble> {
    args.target.permit(None, io)?;
    let mut bytes = Vec::new();
    clap_complete::generate(args.shell, &mut super::command(), "pipecarry", &mut bytes);
    target::put(&args.target.take(bytes), io)?;
    Ok(Status::Holds)
}
