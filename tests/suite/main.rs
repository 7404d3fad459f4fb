//! Tests through the public door: whole runs and outside checks.

mod boxes;
mod protocol;
mod python_twin;
