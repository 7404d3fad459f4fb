//! Any text is read as a shift map or refused in sentences; a map that is read holds plain numbers in order.

#![no_main]

use libfuzzer_sys::fuzz_target;
use sprag::spec::parse_map_csv;

/// Gears of the vehicle that the map is for.
const TOP_GEAR: u8 = 6;

fuzz_target!(|text: &str| {
    match parse_map_csv(text, "input", TOP_GEAR) {
        Ok(map) => {
            assert!(map.pedal.iter().all(|pedal| (0.0..=100.0).contains(&pedal.0)));
            assert!(map.pedal.windows(2).all(|pair| pair[0].0 < pair[1].0));
            for line in &map.lines {
                assert!((1..=TOP_GEAR).contains(&line.from) && line.from.abs_diff(line.to) == 1);
                assert_eq!(line.speeds.len(), map.pedal.len());
                assert!(line.speeds.iter().all(|speed| speed.0.is_finite() && speed.0 >= 0.0));
            }
        }
        Err(errors) => assert!(!errors.to_string().trim().is_empty()),
    }
});
