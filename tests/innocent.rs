//! Drives a correct box in Rust through a campaign and tells the outcome as the `sprag` command does.
//!
//! `innocent BOX SPEC RANDOM-DRIVES EVIDENCE-FOLDER`

use std::process::ExitCode;

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [name, spec, random, evidence] = arguments.as_slice() else {
        eprintln!("innocent BOX SPEC RANDOM-DRIVES EVIDENCE-FOLDER");
        return ExitCode::from(2);
    };
    let Ok(random) = random.parse() else {
        eprintln!("{random} is no number of drives");
        return ExitCode::from(2);
    };
    let make = |spec: &sprag::spec::Spec| {
        sprag_tests::boxes::named(name, spec).unwrap_or_else(|| panic!("there is no box \"{name}\""))
    };
    match sprag::own_build::test(spec, name, make).random(random).evidence(evidence).run() {
        Ok(ran) => {
            print!("{}", ran.screen());
            ExitCode::from(ran.exit() as u8)
        }
        Err(why) => {
            eprintln!("{why}");
            ExitCode::from(2)
        }
    }
}
