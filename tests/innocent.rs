//! Drives a correct box in Rust through a campaign and tells the outcome as the `sprag` command does.
//!
//! `innocent BOX SPEC RANDOM-DRIVES EVIDENCE-FOLDER [SEED]`

use std::process::ExitCode;

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let ([name, spec, random, evidence], seed) = (match arguments.as_slice() {
        [most @ .., seed] if arguments.len() == 5 => (most, seed.as_str()),
        all => (all, "1"),
    }) else {
        eprintln!("innocent BOX SPEC RANDOM-DRIVES EVIDENCE-FOLDER [SEED]");
        return ExitCode::from(2);
    };
    let (Ok(random), Ok(seed)) = (random.parse(), seed.parse()) else {
        eprintln!("{random} or {seed} is no whole number");
        return ExitCode::from(2);
    };
    let make = |spec: &sprag::spec::Spec| {
        sprag_tests::boxes::named(name, spec).unwrap_or_else(|| panic!("there is no box \"{name}\""))
    };
    match sprag::own_build::test(spec, name, make).random(random).seed(seed).evidence(evidence).run() {
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
