//! Prints the digest of the pinned recording as this build makes it; exit 1 if it is another than the committed one.

use sprag::closed_loop::ClosedLoop;
use sprag::controller::Source;
use sprag::controller::in_process::Builtin;
use sprag::vehicle::STEP_MS;
use sprag_tests::recorded::{DIGEST, bytes, long_drive};
use std::process::ExitCode;

fn main() -> ExitCode {
    let spec = sprag::selftest::demo_spec().unwrap_or_else(|errors| panic!("{errors}"));
    let mut port = Builtin { fault: None }.start(&spec).unwrap_or_else(|why| panic!("{why}"));
    let digest = sprag::digest::sha256_hex(&bytes(ClosedLoop::new(&spec, STEP_MS).run(&long_drive(), port.as_mut())));
    println!("{digest}");
    ExitCode::from(u8::from(digest != DIGEST))
}
