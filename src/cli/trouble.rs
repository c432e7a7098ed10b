//! How a command ends: a status that becomes the exit code, or a trouble that is said on the error stream.

use crate::diag::Diagnostic;
use std::io;
use std::path::Path;

/// What the exit code says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Status {
    /// The house holds or is tight; or there was nothing to judge and the work is done.
    Holds,
    /// The house fails or depends on something not known (with `--strict`: or a check was not shown).
    Fails,
    /// The file cannot be read, there is no converged answer, or a result could not be written.
    Trouble,
}

impl Status {
    /// Exit code: 0, 1, 2.
    pub fn code(self) -> u8 {
        match self {
            Self::Holds => 0,
            Self::Fails => 1,
            Self::Trouble => 2,
        }
    }
}

/// Why a command did not come to an answer.
#[derive(Debug)]
pub enum Trouble {
    /// What went wrong and what to do.
    Said {
        /// In one sentence.
        what: String,
        /// What to do.
        help: Option<String>,
    },
    /// Mistakes in the person's file, which are drawn with their lines.
    Input(Box<Input>),
    /// Whoever reads the results has seen enough: no trouble at all.
    ClosedPipe,
}

/// A file, its text and what is to be said about it.
#[derive(Debug)]
pub struct Input {
    /// Name as the person gave it.
    pub name: String,
    /// Its text.
    pub text: String,
    /// In the order of the file.
    pub diagnostics: Vec<Diagnostic>,
}

impl Trouble {
    /// Something that went wrong.
    pub fn said(what: impl Into<String>) -> Self {
        Self::Said {
            what: what.into(),
            help: None,
        }
    }

    /// Something that went wrong, and what to do.
    pub fn with_help(what: impl Into<String>, help: impl Into<String>) -> Self {
        Self::Said {
            what: what.into(),
            help: Some(help.into()),
        }
    }

    /// A file that could not be read.
    pub fn reading(path: &Path, error: &io::Error) -> Self {
        let name = path.display();
        match error.kind() {
            io::ErrorKind::NotFound => Self::with_help(
                format!("there is no file {name}"),
                "check the spelling and the folder; `pipecarry new -o house.toml` makes a file to start from",
            ),
            io::ErrorKind::PermissionDenied => Self::with_help(
                format!("{name} may not be read"),
                "the system does not permit it: look at the file's permissions",
            ),
            io::ErrorKind::IsADirectory => Self::with_help(
                format!("{name} is a folder"),
                "name one file in it, such as house.toml",
            ),
            _ => Self::said(format!("{name} cannot be read: {error}")),
        }
    }

    /// A file that could not be written; whatever stood there is untouched.
    pub fn writing(path: &Path, error: &io::Error) -> Self {
        let name = path.display();
        let (why, help) = match error.kind() {
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => (
                "the disk is full".into(),
                "make room, or name a file on another disk",
            ),
            io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem => (
                "the system does not permit it".into(),
                "name a file in a folder of your own",
            ),
            io::ErrorKind::NotFound => {
                ("its folder does not exist".into(), "make the folder first")
            }
            io::ErrorKind::IsADirectory => ("it is a folder".into(), "name a file in it"),
            _ => (error.to_string(), "nothing was changed"),
        };
        Self::with_help(format!("{name} was not written: {why}"), help)
    }

    /// A result that could not be put on standard output.
    pub fn printing(error: &io::Error) -> Self {
        match error.kind() {
            io::ErrorKind::BrokenPipe => Self::ClosedPipe,
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => {
                Self::said("the result was not printed whole: the disk is full")
            }
            _ => Self::said(format!("the result was not printed whole: {error}")),
        }
    }
}
