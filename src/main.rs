//! The `pipecarry` program: hands the process's streams and files to the shell and turns its status into an exit code.

use pipecarry::cli::{self, Disk, Io};
use std::io::{self, IsTerminal};
use std::process::ExitCode;

fn main() -> ExitCode {
    let mut out = io::BufWriter::new(anstream::stdout());
    let mut err = anstream::stderr();
    let colour_out = anstream::AutoStream::choice(&io::stdout()) != anstream::ColorChoice::Never;
    let colour_err = anstream::AutoStream::choice(&io::stderr()) != anstream::ColorChoice::Never;
    let status = cli::run(
        std::env::args_os(),
        &mut Io {
            out: &mut out,
            err: &mut err,
            files: &mut Disk,
            colour_out: colour_out && io::stdout().is_terminal(),
            colour_err: colour_err && io::stderr().is_terminal(),
        },
    );
    ExitCode::from(status.code())
}
