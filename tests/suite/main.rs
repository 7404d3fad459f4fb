//! Tests through the public door: whole runs and outside checks. One file per concern.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may end in a panic")]

mod boxes;
mod chart_box;
mod cli;
mod dead_controller;
mod determinism;
mod equal_force_table;
mod fuzz_seeds;
mod fuzzed;
mod hostile;
mod innocence;
mod instances;
mod layering;
mod loop_effects;
mod manoeuvres;
mod once;
mod outside_cycles;
mod outside_engine_speed;
mod outside_gtr15;
mod protocol;
mod python_twin;
mod recorded_digest;
mod rtamt_goldens;
mod runs;
mod second_faults;
mod seeded_faults;
mod selftest;
mod specs;
mod ties;
mod traces;
mod variants;
mod waivers;
mod wander;
mod widening;
