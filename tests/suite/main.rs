//! Tests through the public door: whole runs and outside checks. One file per concern.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may end in a panic")]

mod boxes;
mod determinism;
mod fuzz_seeds;
mod hostile;
mod layering;
mod protocol;
mod python_twin;
mod seeded_faults;
mod specs;
mod wander;
