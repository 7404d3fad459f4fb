//! A seeded fault, named by `SPRAG_FAULT`, until its rule is broken or `SPRAG_CAP_MS` have been driven: says how much
//! simulated time that was. The fuzzer's coverage leads here, over a campaign's drives, rules and changes; with `bytes` in
//! `SPRAG_CHANGES` the changes are the fuzzer's own, on bytes that make a drive.

#![no_main]

use arbitrary::{Arbitrary, Unstructured};
use libfuzzer_sys::{fuzz_mutator, fuzz_target, fuzzer_mutate};
use sprag::controller::in_process::Builtin;
use sprag::controller::reference::{FAULTS, SECOND_FAULTS};
use sprag::drive::Drive;
use sprag::fuzz::Fuzz;
use sprag::selftest::{demo_spec, spec_for};

/// Room for the text of a drive, bytes.
const TEXT: usize = 1 << 16;

fn fuzz() -> Fuzz {
    let name = std::env::var("SPRAG_FAULT").expect("SPRAG_FAULT names a seeded fault");
    let card = FAULTS.iter().chain(SECOND_FAULTS).find(|card| card.name == name).expect("a seeded fault");
    let spec = spec_for(&demo_spec().expect("it ships inside"), card);
    Fuzz::of(spec, Builtin { fault: Some(card.fault) }).expect("it starts").only(card.rule)
}

thread_local! {
    static FUZZ: Fuzz = fuzz();
    static CAP_MS: u64 = std::env::var("SPRAG_CAP_MS").map_or(u64::MAX, |ms| ms.parse().expect("SPRAG_CAP_MS in ms"));
    static BYTES: bool = std::env::var("SPRAG_CHANGES").is_ok_and(|changes| changes == "bytes");
}

fuzz_target!(|input: &[u8]| {
    FUZZ.with(|fuzz| {
        let mut text = vec![0; TEXT];
        let drive = BYTES.with(|bytes| *bytes).then(|| Drive::arbitrary(&mut Unstructured::new(input)).ok()).flatten();
        let input = match drive.and_then(|drive| fuzz.put(drive, &mut text, TEXT)) {
            Some(size) => &text[..size],
            None => input,
        };
        let caught = fuzz.finding(input).is_some();
        if caught || fuzz.driven_ms() >= CAP_MS.with(|cap_ms| *cap_ms) {
            println!("{} {}", if caught { "caught" } else { "capped" }, fuzz.driven_ms());
            std::process::exit(0);
        }
    });
});

fuzz_mutator!(|data: &mut [u8], size: usize, most: usize, number: u32| {
    if BYTES.with(|bytes| *bytes) {
        return fuzzer_mutate(data, size, most);
    }
    FUZZ.with(|fuzz| fuzz.change(data, size, most, number))
});
