//! The `pipecarry` program: turns the shell's status into an exit code.
fn main() {}
