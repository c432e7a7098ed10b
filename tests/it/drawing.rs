//! See `main.rs`.
