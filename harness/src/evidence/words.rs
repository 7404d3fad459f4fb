//! Numbers as people read them.

/// "2,143".
#[must_use]
pub fn count(n: u64) -> String {
    let digits = n.to_string();
    let mut text = String::with_capacity(digits.len() + digits.len() / 3);
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && (digits.len() - at).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    text
}

/// "1 rule", "2,143 drives".
#[must_use]
pub fn counted(n: u64, one: &str) -> String {
    if n == 1 { format!("1 {one}") } else { format!("{} {one}s", count(n)) }
}

/// "61.3 simulated hours": cut, not rounded, so that no more is claimed than was driven.
#[must_use]
pub fn simulated(ms: u64) -> String {
    let (unit_ms, unit) = match ms {
        3_600_000.. => (3_600_000, "hours"),
        60_000.. => (60_000, "minutes"),
        _ => (1_000, "seconds"),
    };
    let tenths = ms / (unit_ms / 10);
    format!("{}.{} simulated {unit}", count(tenths / 10), tenths % 10)
}

/// "3.42 s".
#[must_use]
pub fn seconds(ms: u32) -> String {
    let text = format!("{}.{:03}", ms / 1000, ms % 1000);
    format!("{} s", text.trim_end_matches('0').trim_end_matches('.'))
}

/// A margin with at most three decimals; a margin below 0 never shows as 0.
#[must_use]
pub fn margin(value: f64) -> String {
    if !value.is_finite() {
        return if value.is_nan() {
            "no number"
        } else if value > 0.0 {
            "infinite"
        } else {
            "-infinite"
        }
        .to_owned();
    }
    let decimals = match value.abs() {
        1000.0.. => 0,
        100.0.. => 1,
        10.0.. => 2,
        _ => 3,
    };
    let text = format!("{value:.decimals$}");
    let text = if decimals == 0 { &text } else { text.trim_end_matches('0').trim_end_matches('.') };
    match text {
        "0" | "-0" if value < 0.0 => format!("{value:.0e}"),
        "-0" => "0".to_owned(),
        _ => text.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thousands_are_parted() {
        for (n, text) in [(0, "0"), (7, "7"), (999, "999"), (1000, "1,000"), (2143, "2,143"), (1_234_567, "1,234,567")]
        {
            assert_eq!(count(n), text);
        }
        assert_eq!(counted(1, "rule"), "1 rule");
        assert_eq!(counted(0, "rule"), "0 rules");
    }

    #[test]
    fn simulated_time_is_never_overstated() {
        assert_eq!(simulated(220_999_999), "61.3 simulated hours"); // 61.3889 h
        assert_eq!(simulated(3_599_999), "59.9 simulated minutes");
        assert_eq!(simulated(59_999), "59.9 simulated seconds");
        assert_eq!(simulated(0), "0.0 simulated seconds");
    }

    #[test]
    fn seconds_drop_their_zeros() {
        for (ms, text) in [(3420, "3.42 s"), (5, "0.005 s"), (2000, "2 s"), (10_000, "10 s")] {
            assert_eq!(seconds(ms), text);
        }
    }

    #[test]
    fn a_margin_shows_three_decimals_and_a_broken_one_never_as_zero() {
        for (value, text) in [
            (0.4, "0.4"),
            (-8.0, "-8"),
            (0.0, "0"),
            (-0.0, "0"),
            (1.23456, "1.235"),
            (-12.345, "-12.35"),
            (123.46, "123.5"),
            (1442.4, "1442"),
            (1400.0, "1400"),
            (-0.0004, "-4e-4"),
            (-1e-13, "-1e-13"),
            (1e-13, "0"),
            (f64::NAN, "no number"),
        ] {
            assert_eq!(margin(value), text, "{value:e}");
        }
    }
}
