//! `sprag schema`: the JSON Schema of the spec.

use super::exit::Ended;
use super::exit::Failure;
use super::out;
use crate::outcome::Exit;

/// Runs the command.
pub fn run() -> Result<Ended, Failure> {
    let schema = crate::spec::schema_json();
    out::print(&format!("{}\n", schema.trim_end()))?;
    Ok(Exit::Kept.into())
}
