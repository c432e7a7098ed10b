//! A house's file: read, decoded, and what is wrong with it said.

use super::io::Io;
use super::target::CAP;
use super::term;
use super::trouble::{Input, Trouble};
use std::path::Path;

/// Name shown for standard input.
const STDIN: &str = "standard input";

/// A text and the name it goes by.
pub struct Text {
    /// As the person gave it.
    pub name: String,
    /// The whole text.
    pub text: String,
    /// Whether it is a reference case in JSON.
    pub json: bool,
}

/// Reads a text file, or standard input for `-`.
///
/// # Errors
/// What the system says; more than 50 MB; not UTF-8 text.
pub fn text(path: &Path, io: &mut Io<'_>) -> Result<Text, Trouble> {
    let stdin = path.as_os_str() == "-";
    let name = if stdin {
        STDIN.to_owned()
    } else {
        path.display().to_string()
    };
    let bytes = if stdin {
        io.files.stdin(CAP)
    } else {
        io.files.read(path, CAP)
    }
    .map_err(|error| Trouble::reading(path, &error))?;
    if bytes.len() as u64 > CAP {
        return Err(Trouble::with_help(
            format!("{name} is larger than 50 MB"),
            "a house takes a few kilobytes: is this the right file?",
        ));
    }
    let text = decode(&name, bytes)?;
    let ending = path
        .extension()
        .is_some_and(|e| e.eq_ignore_ascii_case("json"));
    let json = ending || (stdin && text.trim_start().starts_with('{'));
    Ok(Text { name, text, json })
}

fn decode(name: &str, bytes: Vec<u8>) -> Result<String, Trouble> {
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        return Err(Trouble::with_help(
            format!("{name} is text in UTF-16"),
            "save it again with the encoding UTF-8",
        ));
    }
    if let Some(at) = bytes.iter().position(|&b| b == 0) {
        return Err(Trouble::with_help(
            format!(
                "{name} is not a text file: a zero byte stands at byte {}",
                at + 1
            ),
            "is this the right file? A house is described in plain text",
        ));
    }
    String::from_utf8(bytes).map_err(|error| {
        let at = error.utf8_error().valid_up_to();
        let before = error.as_bytes().iter().take(at);
        let line = 1 + before.filter(|&&b| b == b'\n').count();
        Trouble::with_help(
            format!("{name} is not UTF-8 text: line {line} holds a byte that is none"),
            "save it again with the encoding UTF-8",
        )
    })
}

/// Says what is wrong with an input on the error stream.
pub fn say(input: &Input, io: &mut Io<'_>) {
    let drawn = term::draw(&input.name, &input.text, &input.diagnostics, io.colour_err);
    // nobody is left to tell if the error stream is gone
    let _ = io.err.write_all(drawn.as_bytes());
}
