//! Tees by flow split.
