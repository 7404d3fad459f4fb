//! Sprag drives a shift controller in closed loop with a vehicle and judges what it did.
//!
//! `DEVELOPERS.md` lists the modules, their layers and how data flows.

//pub mod closed_loop;
pub mod controller;
pub mod drive;
pub mod driver;
pub mod link;
pub mod evidence;
pub mod outcome;
pub mod drive_check;
pub mod drive_file;
pub mod drive_text;
pub mod recording;
pub mod rules;
pub mod signal;
pub mod spec;
pub mod units;
