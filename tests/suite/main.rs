//! Tests through the public door: whole runs and outside checks.

mod specs;
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may end in a panic")]

mod boxes;
mod protocol;
mod python_twin;
mod seeded_faults;
mod wander;
