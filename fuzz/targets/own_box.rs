//! A maker's own controller: `tests/own-crate` stands for yours. Kept to ten lines, they are shown in the README.

#![no_main]

use libfuzzer_sys::{fuzz_mutator, fuzz_target};
use own_crate::TableBox;
use sprag::fuzz::Fuzz;

const VAN: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../specs/van.toml");

thread_local!(static BOX: Fuzz = Fuzz::new(VAN, "table box", |spec| Box::new(TableBox::new(spec))).unwrap());
fuzz_target!(|input: &[u8]| BOX.with(|fuzz| fuzz.drive(input)));
fuzz_mutator!(|data: &mut [u8], size: usize, most: usize, number: u32| {
    BOX.with(|fuzz| fuzz.change(data, size, most, number))
});
