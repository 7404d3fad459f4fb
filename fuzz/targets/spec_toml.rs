//! Any text is read as a spec or refused in sentences; what is read stands alone and reads back equal.

#![no_main]

use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    let mut refuse = |file: &str| Err(format!("{file}: there are no files here"));
    match sprag::spec::parse(text, "input", &mut refuse) {
        Ok(spec) => {
            let whole = spec.to_toml();
            let again = sprag::spec::parse(&whole, "output", &mut refuse);
            assert_eq!(again.as_ref().ok(), Some(&spec), "{again:?}\n{whole}");
        }
        Err(errors) => assert!(!errors.to_string().trim().is_empty()),
    }
});
