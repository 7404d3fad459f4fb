//! Any text is read as a drive file or refused in a sentence; what is read is written and reads back the same.

#![no_main]

use libfuzzer_sys::fuzz_target;
use sprag::drive_file::{DriveFile, check};

fuzz_target!(|text: &str| {
    match DriveFile::parse(text, "input") {
        Ok(file) => {
            assert_eq!(check(&file.drive), Ok(()));
            assert_eq!(DriveFile::parse(&file.to_text(), "output").as_ref(), Ok(&file));
        }
        Err(error) => assert!(error.line > 0 && error.column > 0 && !error.message.is_empty()),
    }
});
