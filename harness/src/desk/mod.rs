//! The map on paper: what a shift map and its vehicle say before anything is driven.
mod equal_force;
mod paper;

pub use equal_force::EqualForce;
pub use equal_force::equal_force;
