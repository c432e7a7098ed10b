//! The file that `new` writes: a small invented house with a comment at every line, which reads and solves as it is.

/// The starter file's text, TOML.
pub fn starter() -> &'static str {
    include_str!("starter.toml")
}
