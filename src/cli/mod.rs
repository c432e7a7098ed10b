//! The thin shell: arguments, files, exit codes.

pub mod term;
