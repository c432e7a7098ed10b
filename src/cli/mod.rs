//! The shell: what was typed, files in and out, diagnostics drawn, exit codes. Everything that it shows is made by the
//! stages below; a command is one file here and one line in the table.

mod audit;
mod balance;
mod catalogue;
mod check;
mod compare;
mod completions;
mod draw;
mod drawing;
mod explain;
mod house;
mod input;
mod io;
mod man;
mod options;
mod report;
mod schema;
mod shut;
mod starter;
mod target;
pub mod term;
mod trouble;
mod unanswered;
mod upsize;

pub use io::{Disk, Files, Io};
pub use trouble::Status;

use clap::{CommandFactory, FromArgMatches, Parser, Subcommand};
use std::ffi::OsString;
use trouble::Trouble;

/// Makes the list of commands and hands each its arguments.
macro_rules! commands {
    ($($(#[$doc:meta])* $name:ident $module:ident;)*) => {
        #[derive(Subcommand)]
        enum Command {
            $($(#[$doc])* $name($module::Args),)*
        }

        impl Command {
            fn run(self, io: &mut Io<'_>) -> Result<Status, Trouble> {
                match self {
                    $(Self::$name(args) => $module::run(&args, io),)*
                }
            }
        }
    };
}

commands! {
    /// Say whether a house works: required and as it runs, every check, the limiting run named
    Check check;
    /// Say what happens when valves close: every combination, least flow, overflow valve, water left in circulation
    Shut shut;
    /// Hold somebody else's stated figures against recomputed ones, and against one another
    Audit audit;
    /// Make one document: HTML that opens offline and prints to A4, or Markdown
    Report report;
    /// Say what differs between two houses or two states: inputs, results, findings, and a marked drawing
    Compare compare;
    /// Trace one figure to its inputs: formula, numbers put in, where each is from
    Explain explain;
    /// Say how to set every valve and pump, in which order to walk, what to read then, and what to do about it
    Balance balance;
    /// Find the cheapest or least disruptive changes that make a house work, with the proof
    Upsize upsize;
    /// Draw the annotated schematic as SVG
    Draw draw;
    /// Print the words of pipes, fittings, valves, emitters and limits, each with its source
    Catalogue catalogue;
    /// Print the JSON Schema of the network file, so that editors complete it, or of check's JSON
    Schema schema;
    /// Print a commented starter file that solves
    #[command(name = "new")]
    Starter starter;
    /// Print shell completions
    Completions completions;
    /// Print the manual page
    Man man;
}

const EXIT: &str = "\
Exit codes: 0 it holds or is tight; 1 it fails, or depends on something not known (with --strict also if a check \
was not shown); 2 the file cannot be read, there is no converged answer, or a result could not be written.

Nothing is written but standard output unless -o names a file. The figures are for design; local codes, the \
maker's instructions and licensed practice come first.";

/// Will the pipes that are already in the house carry a heat pump's flow?
#[derive(Parser)]
#[command(name = "pipecarry", version, max_term_width = 100, after_help = EXIT)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

/// The whole command line, for help, completions and the manual page.
fn command() -> clap::Command {
    Cli::command()
}

/// Runs the program: `args` begins with the program's name.
pub fn run(args: impl IntoIterator<Item = OsString>, io: &mut Io<'_>) -> Status {
    let parsed = command()
        .try_get_matches_from(args)
        .and_then(|matches| Cli::from_arg_matches(&matches));
    let outcome = match parsed {
        Ok(cli) => cli.command.run(io),
        Err(error) => return usage(&error, io),
    };
    match outcome {
        Ok(status) => status,
        Err(Trouble::ClosedPipe) => Status::Holds,
        Err(Trouble::Said { what, help }) => {
            // nobody is left to tell if the error stream is gone
            let _ = writeln!(io.err, "pipecarry: {what}");
            if let Some(help) = help {
                let _ = writeln!(io.err, "  help: {help}");
            }
            Status::Trouble
        }
        Err(Trouble::Input(input)) => {
            input::say(&input, io);
            Status::Trouble
        }
    }
}

/// Help and version go to standard output, mistakes on the command line to the error stream.
fn usage(error: &clap::Error, io: &mut Io<'_>) -> Status {
    let text = error.render();
    let (stream, colour): (&mut dyn std::io::Write, bool) = if error.use_stderr() {
        (&mut *io.err, io.colour_err)
    } else {
        (&mut *io.out, io.colour_out)
    };
    let written = if colour {
        write!(stream, "{}", text.ansi())
    } else {
        write!(stream, "{text}")
    };
    match written.and_then(|()| stream.flush()) {
        _ if error.use_stderr() => Status::Trouble,
        Err(error) if error.kind() != std::io::ErrorKind::BrokenPipe => Status::Trouble,
        _ => Status::Holds,
    }
}
