//! For each rule, whether it is critical, and the manoeuvres that reach it.

use super::RuleLink;

const fn critical(rule: &'static str, manoeuvres: &'static [&'static str]) -> RuleLink {
    RuleLink { rule, critical: true, manoeuvres }
}

const fn other(rule: &'static str, manoeuvres: &'static [&'static str]) -> RuleLink {
    RuleLink { rule, critical: false, manoeuvres }
}

/// All rules, grouped as they are told: engaging, letting go, data, shifting, stability, map, announcing, robustness.
pub const RULE_LINKS: &[RuleLink] = &[
    critical("engages only when all is right", &["one-condition-missing", "engage-and-creep"]),
    critical("engagement speed ceiling", &["engage-and-creep"]),
    critical("engage on lever movement only", &["ignition-on", "supply-dip"]),
    other("engages when it should", &["engage-and-creep", "light-pedal"]),
    other("no shift right after engaging", &["engage-and-creep", "hand-over-eager"]),
    other("re-arm needs lever cycle", &["driver-override", "lever-fidget", "hand-over-often"]),
    critical("driver's tap wins", &["driver-override", "tie-matrix", "rounds", "supply-sag"]),
    other("own tap is not a driver tap", &["light-pedal", "full-pedal"]),
    critical("leaving the gate disengages", &["lever-fidget", "tie-matrix", "rounds", "supply-sag"]),
    critical("low range disengages", &["low-range", "tie-matrix"]),
    critical("lost data disengages", &["link-loss", "answers"]),
    critical("disengaging wins ties", &["tie-matrix", "tie-engaging"]),
    critical("no command when it may not", &["driver-override", "low-range", "link-loss", "lever-fidget"]),
    critical("contacts open at rest", &["supply-dip"]),
    critical("fresh data at every command", &["link-loss", "light-pedal"]),
    critical("implausible speed holds", &["wheel-lock", "wheel-spin"]),
    critical("invalid answer is not a number", &["link-disorder", "answers"]),
    other("order and duplicate immunity", &["link-disorder"]),
    other("stuck signals noticed", &["freeze"]),
    other("read-only link and sleep", &["bus-watch", "ignition-off", "full-pedal"]),
    other("rpm floor after upshift", &["light-pedal", "line-cruising", "stab-and-lift"]),
    critical("over-rev after downshift", &["kickdown-ladder", "coast-to-stop", "wheel-lock"]),
    critical("never commands first", &["coast-to-stop", "gearbox-misbehaves"]),
    other("gear range ends", &["full-pedal"]),
    critical("one step per tap", &["full-pedal", "kickdown-ladder"]),
    other("not while shifting", &["stab-and-lift", "kickdown-ladder"]),
    critical("downshift cascade limit", &["wheel-lock", "coast-to-stop"]),
    other("refused shift handled", &["gearbox-misbehaves"]),
    critical("wrong direction disengages", &["swapped-taps"]),
    other("counted gear agrees", &["gearbox-misbehaves", "light-pedal"]),
    critical("no shift when stopped, reversing or engine off", &["roll-back", "stop-and-go", "mishaps"]),
    other("grip needed by a downshift", &["coast-to-stop", "wheel-lock"]),
    critical("grip needed on a slippery road", &["lift-off"]),
    other("no lugging under load", &["uphill"]),
    other("opposite-shift dwell", &["stab-and-lift", "line-cruising"]),
    other("hunting count", &["grade-hunt", "line-cruising"]),
    other("busy-ness", &["crest-and-dip", "grade-hunt"]),
    other("dither immunity", &["line-cruising"]),
    other("only on the line", &["light-pedal", "line-cruising"]),
    other("map as specified", &[]),
    other("response deadline", &["light-pedal", "full-pedal"]),
    other("settles on map gear", &["light-pedal", "freeze", "tours"]),
    other("light-pedal minimum upshift speed", &["light-pedal", "stab-and-lift"]),
    other("coasting downshift", &["coast-to-stop"]),
    other("kickdown", &["kickdown-ladder", "two-step-kick"]),
    other("keeps the gear downhill", &["long-descent"]),
    other("every transition announced", &["engage-and-creep", "lever-fidget", "link-loss"]),
    other("no false announcement", &["lever-fidget", "driver-override"]),
    critical("answers each tick", &["light-pedal", "full-pedal"]),
    critical("clock-wrap invariance", &["clock-wrap"]),
    critical("idle-hour invariance", &["engage-and-creep", "light-pedal"]),
    critical("power-up quiet", &["supply-dip", "tie-matrix"]),
    critical("bad map refused", &["map-corruption"]),
    critical("determinism", &["light-pedal", "link-disorder"]),
];
