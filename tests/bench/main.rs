//! The benchmark table: each figure beside what it must reach, all measured side by side in this one run.
//!
//! `bench [GROUP...]` prints the rows of these groups, or of all, as they are measured; exit 1 where a figure doesn't
//! reach what it must. A benchmark never decides a test.
#![allow(clippy::disallowed_methods, clippy::disallowed_types, reason = "a benchmark looks at the clock")]
#![allow(clippy::expect_used, clippy::unwrap_used, reason = "a benchmark that can't run says so and ends")]

mod cores;
mod fuzzed;
mod monitors;
mod plain;
mod process;
mod row;
mod search;
mod shrinking;
mod speed;

use row::Row;
use std::process::ExitCode;

/// A group of figures that are measured together.
struct Group {
    name: &'static str,
    measure: fn(&mut dyn FnMut(Row)),
}

const GROUPS: &[Group] = &[
    Group { name: "cores", measure: cores::measure },
    Group { name: "monitors", measure: monitors::measure },
    Group { name: "process", measure: process::measure },
    Group { name: "search", measure: search::measure },
    Group { name: "shrinking", measure: shrinking::measure },
    Group { name: "speed", measure: speed::measure },
];

fn main() -> ExitCode {
    if process::asked_for_part() {
        return ExitCode::SUCCESS;
    }
    let asked: Vec<String> = std::env::args().skip(1).collect();
    if let Some(unknown) = asked.iter().find(|name| GROUPS.iter().all(|group| group.name != name.as_str())) {
        let names: Vec<&str> = GROUPS.iter().map(|group| group.name).collect();
        eprintln!("there is no group \"{unknown}\"; there are: {}", names.join(", "));
        return ExitCode::from(2);
    }
    println!("{}", row::HEAD);
    let mut missed = 0;
    for group in GROUPS.iter().filter(|group| asked.is_empty() || asked.iter().any(|name| name == group.name)) {
        (group.measure)(&mut |row: Row| {
            missed += u32::from(!row.reached());
            println!("{row}");
        });
    }
    println!("{missed} of the figures don't reach what they must.");
    ExitCode::from(u8::from(missed > 0))
}
