//! What every report says besides its outcomes: what it doesn't cover, and how to go on from here.

/// The caution in one sentence, for the screen.
pub const SHORT_CAUTION: &str = "This covers the named build, map and models only, and it is no permit for the road: \
    drive first on closed ground, slowly, in the dry, with a second person watching.";

/// What no simulation shows: work left for the bench and the vehicle.
pub const BENCH: &str = "contact levels, bounce and polarity; timing and watchdog on the box's own processor; supply \
    transients, radio disturbance and temperature; the real bus load and gateways; what the real gate and pedal do; \
    whether the driver hears the announcements and takes over in time; and the models against logs of the vehicle";

/// All cautions, for files and for help.
pub const CAUTIONS: [&str; 5] = [
    "An outcome holds for this build, this map and these models, and for nothing else. It is no permit for the road and \
     stands in for no inspection.",
    "Make the first drives on closed ground, slowly, in the dry, with a second person who watches, ready at any moment to \
     move the lever back to D and to unplug the box. Go further only step by step.",
    "Before driving on a road, find out what the law there says on type approval, inspection and the use of the \
     diagnostic port, and what insurer and warranty say: a changed vehicle can lose its approval and its cover.",
    "The decision to put a build on the road belongs to a competent engineer, licensed where the law asks for it. It is \
     not this tool's.",
    "Never try locked wheels, excess engine speed or swapped contacts on a road.",
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_caution_uses_a_word_that_promises() {
        let all = format!("{SHORT_CAUTION} {BENCH} {}", CAUTIONS.join(" "));
        for word in all.split(|c: char| !c.is_alphabetic()) {
            assert!(!["safe", "certified", "approved", "guaranteed", "passed"].contains(&word.to_lowercase().as_str()));
        }
    }
}
