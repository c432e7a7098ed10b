//! `man [COMMAND]`: the manual page of the program or of one command.

use super::io::Io;
use super::target::{self, Target};
use super::trouble::{Status, Trouble};

#[derive(clap::Args)]
pub struct Args {
    /// One command's page; the program's if not given
    command: Option<String>,
    #[command(flatten)]
    target: Target,
}

pub fn run(args: &Args, io: &mut Io<'_>) -> Result<Status, Trouble> {
    args.target.permit(None, io)?;
    let mut whole = super::command();
    whole.build();
    let page = match &args.command {
        None => whole,
        Some(name) => {
            let names: Vec<&str> = whole
                .get_subcommands()
                .map(clap::Command::get_name)
                .collect();
            whole.find_subcommand(name).cloned().ok_or_else(|| {
                Trouble::with_help(
                    format!("there is no command `{name}`"),
                    format!("the commands are {}", names.join(", ")),
                )
            })?
        }
    };
    let mut bytes = Vec::new();
    clap_mangen::Man::new(page)
        .render(&mut bytes)
        .map_err(|error| Trouble::printing(&error))?;
    target::put(&args.target.take(bytes), io)?;
    Ok(Status::Holds)
}
