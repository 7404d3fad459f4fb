//! Printing. A closed pipe (`sprag rules | head`) ends quietly.

use super::exit::Failure;
use crate::outcome::Exit;
use std::io;
use std::io::Write;
use std::path::Path;

/// Prints results to stdout.
pub fn print(text: &str) -> Result<(), Failure> {
    let mut stdout = io::stdout().lock();
    match stdout.write_all(text.as_bytes()).and_then(|()| stdout.flush()) {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
            Err(Failure::new(Exit::NotWritten, format!("what was found could not be printed: {error}")))
        }
        _ => Ok(()),
    }
}

/// Writes a file that the user named.
pub fn write(file: &Path, text: &str) -> Result<(), Failure> {
    let failed = |error| Failure::new(Exit::NotWritten, format!("{} could not be written: {error}", file.display()));
    std::fs::write(file, text).map_err(failed)
}

/// Prints a complaint to stderr; there is nowhere to complain about a closed stderr.
pub fn complain(text: &str) {
    let _ = writeln!(io::stderr().lock(), "sprag: {text}");
}
