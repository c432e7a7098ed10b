//! Will the pipes that are already in a house carry a heat pump's flow?
//!
//! A straight line, each stage a plain value that the next one reads; the core does no input or output:
//!
//! ```text
//! text ──read──▶ survey ──expand──▶ network ──solve──▶ state ──check──▶ findings ──show──▶ terminal · svg · html · json · csv
//! ```
#![forbid(unsafe_code)]
#![warn(missing_docs)]

pub mod audit;
pub mod balance;
pub mod catalogue;
pub mod check;
pub mod cli;
pub mod diag;
pub mod draw;
pub mod fluid;
pub mod hydraulics;
pub mod maths;
pub mod network;
pub mod plan;
pub mod quantity;
pub mod report;
pub mod shut;
pub mod solve;
pub mod survey;
pub mod trace;
pub mod units;
pub mod view;
