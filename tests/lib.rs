//! Shared pieces of the tests through the public door.

pub mod boxes;
pub mod recorded;
pub mod traced;
