//! Evidence: what a run says, for people and for machines. It prints outcomes and computes none.
//!
//! The same inputs give the same bytes in every file but `volatile.json`.

mod cautions;
mod folder;
mod junit;
mod results;
mod screen;
mod summary;
mod terms;
mod trace;
mod verdict;
mod visible;
mod words;

pub use cautions::BENCH;
pub use cautions::CAUTIONS;
pub use cautions::SHORT_CAUTION;
pub use folder::Files;
pub use folder::MANIFEST;
pub use folder::drive_path;
pub use folder::file_name;
pub use folder::write;
pub use folder::write_drive;
pub use junit::junit;
pub use results::card;
pub use results::results;
pub use screen::Look;
pub use screen::WIDTH;
pub use screen::screen;
pub use screen::shell_word;
pub use screen::wrap;
pub use summary::summary;
pub use verdict::claim;
pub use verdict::sentence;
pub use visible::line;
pub use words::count;
pub use words::margin;
pub use words::simulated;

#[cfg(test)]
mod example;
