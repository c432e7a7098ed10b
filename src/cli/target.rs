//! Where results go: standard output, and the files that `-o` names. A file that pipecarry did not make is kept.

use super::io::Io;
use super::trouble::Trouble;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

/// Bytes of a file that are read at most.
pub const CAP: u64 = 50 * 1024 * 1024;

/// The words that mark a file as made by this program, in drawings and text reports.
const MARK: &[u8] = b"Made by pipecarry";

/// `-o` and `--force`.
#[derive(clap::Args, Clone, Debug, Default)]
pub struct Target {
    /// Write the result to this file instead of standard output, whole or not at all
    #[arg(short, long, value_name = "FILE")]
    pub output: Vec<PathBuf>,
    /// Overwrite a file even if pipecarry did not make it
    #[arg(long)]
    pub force: bool,
}

/// One result and where it goes.
pub struct Result {
    /// Standard output if `None`.
    pub path: Option<PathBuf>,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

impl Target {
    /// Files that must not be written over: refused before anything is computed or touched.
    ///
    /// # Errors
    /// A file that is the input, or that exists and is not ours.
    pub fn permit(
        &self,
        input: Option<&Path>,
        io: &mut Io<'_>,
    ) -> std::result::Result<(), Trouble> {
        for (i, path) in self.output.iter().enumerate() {
            if input.is_some_and(|input| io.files.same(input, path)) {
                return Err(Trouble::with_help(
                    format!("{} is the file that is read", path.display()),
                    "name another file for the result",
                ));
            }
            if self
                .output
                .iter()
                .take(i)
                .any(|other| io.files.same(other, path))
            {
                return Err(Trouble::said(format!("{} is named twice", path.display())));
            }
            if self.force {
                continue;
            }
            match io.files.read(path, CAP) {
                Ok(bytes) if is_ours(&bytes) => {}
                Ok(_) => {
                    return Err(Trouble::with_help(
                        format!(
                            "{} exists and was not made by pipecarry: it is kept",
                            path.display()
                        ),
                        "name another file, or add --force to write over it",
                    ));
                }
                Err(error) if error.kind() == ErrorKind::NotFound => {}
                // what cannot be read is met again on writing, with a better message
                Err(error) if error.kind() == ErrorKind::IsADirectory => {
                    return Err(Trouble::writing(path, &error));
                }
                Err(error) => {
                    return Err(Trouble::with_help(
                        format!(
                            "{} exists and cannot be looked at ({error}): it is kept",
                            path.display()
                        ),
                        "name another file, or add --force to write over it",
                    ));
                }
            }
        }
        Ok(())
    }
}

impl Target {
    /// The same of results whose names were made up from what was typed.
    ///
    /// # Errors
    /// As [`Target::permit`].
    pub fn permit_all(
        &self,
        results: &[Result],
        input: &Path,
        io: &mut Io<'_>,
    ) -> std::result::Result<(), Trouble> {
        let output = results.iter().filter_map(|r| r.path.clone()).collect();
        Self {
            output,
            force: self.force,
        }
        .permit(Some(input), io)
    }

    /// One result into every file named, or to standard output if none is.
    pub fn take(&self, bytes: Vec<u8>) -> Vec<Result> {
        if self.output.is_empty() {
            return vec![Result { path: None, bytes }];
        }
        let files = self.output.iter();
        files
            .map(|p| Result {
                path: Some(p.clone()),
                bytes: bytes.clone(),
            })
            .collect()
    }
}

/// Puts results where they belong: files first, so that a closed pipe does not lose them.
///
/// # Errors
/// The first that could not be written.
pub fn put(results: &[Result], io: &mut Io<'_>) -> std::result::Result<(), Trouble> {
    for result in results {
        if let Some(path) = &result.path {
            io.files
                .write(path, &result.bytes)
                .map_err(|error| Trouble::writing(path, &error))?;
            // a remark; whoever has closed the error stream does not miss it
            let _ = writeln!(io.err, "wrote {}", path.display());
        }
    }
    for result in results.iter().filter(|r| r.path.is_none()) {
        io.out
            .write_all(&result.bytes)
            .and_then(|()| io.out.flush())
            .map_err(|error| Trouble::printing(&error))?;
    }
    Ok(())
}

/// Whether a file was made by this program (or is empty, so that nothing is lost): a drawing or report with our mark
/// on a line of its own, JSON of our schema, or CSV with our header.
fn is_ours(bytes: &[u8]) -> bool {
    let text = bytes.trim_ascii();
    text.is_empty()
        || text.split(|&b| b == b'\n').any(|line| {
            let line = line.trim_ascii();
            let line = line
                .strip_prefix(b"<!--")
                .unwrap_or(line)
                .trim_ascii_start();
            line.starts_with(MARK)
        })
        || (text.starts_with(b"<!DOCTYPE html>")
            && text
                .get(..600)
                .is_some_and(|head| head.windows(MARK.len()).any(|words| words == MARK)))
        || text.starts_with(b"{\n  \"schema\": \"pipecarry.")
        || text.starts_with(crate::report::csv::RUNS_BEGIN.as_bytes())
        || text.starts_with(crate::report::csv::EMITTERS_BEGIN.as_bytes())
        || text.starts_with(crate::report::csv_audit::BEGIN.as_bytes())
        || text.starts_with(crate::report::json_balance::BEGIN.as_bytes())
        || text.starts_with(crate::report::json_upsize::CSV_BEGIN.as_bytes())
        || text.starts_with(crate::report::json_shut::COMBINATIONS_BEGIN.as_bytes())
        || crate::report::schedules::begins_like_one(text)
        || spreadsheet(bytes)
}

#[cfg(feature = "xlsx")]
fn spreadsheet(bytes: &[u8]) -> bool {
    crate::report::xlsx::is_ours(bytes)
}

#[cfg(not(feature = "xlsx"))]
fn spreadsheet(_: &[u8]) -> bool {
    false
}
