//! The `sprag` command.

fn main() {}
