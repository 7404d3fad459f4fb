//! Sprag drives a shift controller in closed loop with a vehicle and judges what it did.
//!
//! `DEVELOPERS.md` lists the modules, their layers and how data flows.

pub mod campaign;
pub mod cli;
pub mod closed_loop;
pub mod controller;
pub mod date;
pub mod desk;
pub mod digest;
pub mod drive;
pub mod drive_check;
pub mod drive_file;
pub mod drive_text;
pub mod driver;
pub mod evidence;
pub mod failing_cause;
pub mod fuzz;
pub mod hazards;
pub mod link;
pub mod make;
pub mod outcome;
pub mod own_build;
pub mod recording;
pub mod replay;
pub mod rules;
pub mod search;
pub mod selftest;
pub mod shift_points;
pub mod shrink;
pub mod signal;
pub mod spec;
pub mod ticks;
pub mod units;
pub mod vehicle;
