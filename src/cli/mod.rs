//! The thin shell: arguments, files, exit codes.
