//! Sprag drives a shift controller in closed loop with a vehicle and judges what it did.
//!
//! `DEVELOPERS.md` lists the modules, their layers and how data flows.

pub mod controller;
pub mod drive;
pub mod drive_check;
pub mod drive_file;
pub mod drive_text;
pub mod make;
pub mod recording;
pub mod signal;
pub mod spec;
pub mod units;
