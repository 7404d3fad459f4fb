//! Decimal numbers that stand for whole numbers on the grid, without a detour through floats.

/// How a quantity is written and kept: the kept number is the written one times the unit's factor.
pub struct Scale {
    /// What is measured, for messages.
    pub what: &'static str,
    /// Unit names and factors.
    pub units: &'static [(&'static str, i64)],
    /// The grid, for messages.
    pub finest: &'static str,
    /// A correct example.
    pub example: &'static str,
}

/// Times, kept in ms.
pub const TIME: Scale =
    Scale { what: "time", units: &[("s", 1000), ("ms", 1), ("min", 60_000)], finest: "1 ms", example: "12.5 s" };
/// Speeds, kept in 0.1 km/h.
pub const SPEED: Scale = Scale { what: "speed", units: &[("km/h", 10)], finest: "0.1 km/h", example: "51 km/h" };
/// Shares, kept in 0.1 %.
pub const SHARE: Scale = Scale { what: "percentage", units: &[("%", 10)], finest: "0.1 %", example: "35 %" };
/// Voltages, kept in mV.
pub const VOLTAGE: Scale = Scale { what: "voltage", units: &[("V", 1000), ("mV", 1)], finest: "1 mV", example: "6 V" };
/// Friction coefficients, kept in 0.01.
pub const GRIP: Scale = Scale { what: "grip", units: &[("", 100)], finest: "0.01", example: "0.9" };

impl Scale {
    /// Reads a number and its unit; it must lie on the grid and in the kept type.
    ///
    /// # Errors
    /// What is wrong and what would be right.
    pub fn read<T: TryFrom<i64>>(&self, text: &str) -> Result<T, String> {
        let text = text.trim();
        let split = text
            .char_indices()
            .find(|&(_, c)| !(c.is_ascii_digit() || matches!(c, '.' | '-' | '+')))
            .map_or(text.len(), |(at, _)| at);
        let (number, unit) = text.split_at(split);
        let unit = unit.trim();
        let example = format!("write for example \"{}\"", self.example);
        let Some((digits, power)) = decimal(number) else {
            return Err(format!("\"{text}\" is no {}: {example}", self.what));
        };
        let Some(&(_, factor)) = self.units.iter().find(|&&(name, _)| name == unit) else {
            return Err(match unit {
                "" => format!("\"{text}\" has no unit: {example}"),
                _ if unit.starts_with(',') => format!("\"{text}\" has a comma: decimals follow a point; {example}"),
                _ => format!("\"{unit}\" is no unit of {} here: {example}", self.what),
            });
        };
        let product = digits * i128::from(factor);
        if product % power != 0 {
            return Err(format!("\"{text}\" is finer than {}, the grid of a drive", self.finest));
        }
        let out = || format!("\"{text}\" is out of range for this {}", self.what);
        T::try_from(i64::try_from(product / power).map_err(|_| out())?).map_err(|_| out())
    }
}

/// Digits and power of ten of a plain decimal number of at most 20 characters.
fn decimal(text: &str) -> Option<(i128, i128)> {
    let (negative, unsigned) = match text.strip_prefix('-') {
        Some(rest) => (true, rest),
        None => (false, text.strip_prefix('+').unwrap_or(text)),
    };
    let (whole, fraction) = unsigned.split_once('.').unwrap_or((unsigned, ""));
    let all_digits = |part: &str| part.bytes().all(|b| b.is_ascii_digit());
    if whole.is_empty() || unsigned.ends_with('.') || unsigned.len() > 20 || !all_digits(whole) || !all_digits(fraction)
    {
        return None;
    }
    let digits = whole.bytes().chain(fraction.bytes()).fold(0, |sum: i128, b| sum * 10 + i128::from(b - b'0'));
    let power = fraction.bytes().fold(1, |power: i128, _| power * 10);
    Some((if negative { -digits } else { digits }, power))
}

/// A whole number of 1/`scale` (10, 100 or 1000) as a decimal without trailing zeros: 125 tenths are "12.5".
#[must_use]
pub fn scaled_text(value: i64, scale: u32) -> String {
    let (size, scale) = (value.unsigned_abs(), u64::from(scale.max(1)));
    let sign = if value < 0 { "-" } else { "" };
    let (whole, rest) = (size / scale, size % scale);
    if rest == 0 {
        return format!("{sign}{whole}");
    }
    // The rest plus the scale prints as a 1 and the decimals with their leading zeros.
    let decimals = (rest + scale).to_string();
    format!("{sign}{whole}.{}", decimals[1..].trim_end_matches('0'))
}

/// A time: below a second in ms, else in s.
#[must_use]
pub fn duration_text(ms: u32) -> String {
    if ms < 1000 { format!("{ms} ms") } else { format!("{} s", scaled_text(ms.into(), 1000)) }
}
