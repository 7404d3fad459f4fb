//! Tests through the public door: whole runs and outside checks.

mod specs;
