//! Sprag drives a shift controller in closed loop with a vehicle and judges what it did.
//!
//! `DEVELOPERS.md` lists the modules, their layers and how data flows.

pub mod cli;
pub mod controller;
pub mod drive;
pub mod evidence;
pub mod outcome;
pub mod recording;
pub mod signal;
pub mod spec;
pub mod units;
