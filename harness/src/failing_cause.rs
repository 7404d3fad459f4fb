//! The failing cause of a broken rule: who is at fault, and at what kind of instant. A waiver names a rule and one of
//! these, so that it covers the fault that somebody looked at and no other.
//!
//! Written "map, upshift 3>4", "build, engaging", or "build" alone where the instant is none of those below.

use std::fmt;

/// Who is at fault.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Culprit {
    /// The reference with the same map and signals keeps the rule.
    Build,
    /// The reference breaks it too, and another map would cure it.
    Map,
}

/// The kind of instant at which a rule is broken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Instant {
    /// An up command in this gear.
    Upshift(u8),
    /// A down command in this gear.
    Downshift(u8),
    /// A pair of gears, whichever the way, by its lower gear: for rules on going to and fro.
    Gears(u8),
    /// The box shows itself engaged.
    Engaging,
    /// One of [`CAUSES`] to disengage.
    After(&'static str),
    /// Any other.
    Otherwise,
}

/// What makes a box disengage, in the words of a failing cause.
pub const CAUSES: [&str; 6] =
    ["ignition off", "lost data", "range left high", "lever out of the gate", "driver's tap", "stuck signals"];

/// No gearbox of a spec has more forward gears.
const MOST_GEARS: u8 = 10;

/// Who, and at what kind of instant.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct FailingCause {
    /// Who is at fault.
    pub culprit: Culprit,
    /// When.
    pub instant: Instant,
}

impl FailingCause {
    /// Reads "map, upshift 3>4".
    ///
    /// # Errors
    /// What would be right.
    pub fn parse(text: &str) -> Result<Self, String> {
        let (who, when) = text.split_once(',').map_or((text, ""), |(who, when)| (who, when));
        let culprit = match who.trim() {
            "build" => Culprit::Build,
            "map" => Culprit::Map,
            _ => return Err(format!("\"{text}\" does not begin with who is at fault: \"build\" or \"map\"")),
        };
        let when = when.trim();
        let instant =
            if when.is_empty() && !text.contains(',') { Some(Instant::Otherwise) } else { Instant::read(when) };
        instant.map(|instant| Self { culprit, instant }).ok_or_else(|| {
            let causes = CAUSES.map(|cause| format!("\"after {cause}\"")).join(", ");
            format!(
                "\"{when}\" is no instant of a failing cause: a failing moment shows its own; one of \"upshift 3>4\", \
                 \"downshift 4>3\", \"gears 3-4\", \"engaging\", {causes}, or none at all"
            )
        })
    }
}

impl Instant {
    fn read(text: &str) -> Option<Self> {
        let gear = |text: &str| text.parse::<u8>().ok().filter(|gear| (1..=MOST_GEARS).contains(gear));
        let pair = |text: &str, by: char| {
            let (a, b) = text.split_once(by)?;
            Some((gear(a)?, gear(b)?))
        };
        let up = |(low, high): (u8, u8)| (low + 1 == high).then_some(low);
        if let Some(gears) = text.strip_prefix("upshift ") {
            pair(gears, '>').and_then(up).map(Self::Upshift)
        } else if let Some(gears) = text.strip_prefix("downshift ") {
            pair(gears, '>').and_then(|(high, low)| up((low, high)).map(|_| Self::Downshift(high)))
        } else if let Some(gears) = text.strip_prefix("gears ") {
            pair(gears, '-').and_then(up).map(Self::Gears)
        } else if let Some(cause) = text.strip_prefix("after ") {
            CAUSES.into_iter().find(|&known| known == cause).map(Self::After)
        } else {
            (text == "engaging").then_some(Self::Engaging)
        }
    }
}

impl fmt::Display for Culprit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Build => "build",
            Self::Map => "map",
        })
    }
}

impl fmt::Display for FailingCause {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.culprit)?;
        match self.instant {
            Instant::Upshift(gear) => write!(f, ", upshift {gear}>{}", gear.saturating_add(1)),
            Instant::Downshift(gear) => write!(f, ", downshift {gear}>{}", gear.saturating_sub(1)),
            Instant::Gears(low) => write!(f, ", gears {low}-{}", low.saturating_add(1)),
            Instant::Engaging => f.write_str(", engaging"),
            Instant::After(cause) => write!(f, ", after {cause}"),
            Instant::Otherwise => Ok(()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_printed_reads_back_the_same() {
        let mut instants = vec![
            (Instant::Upshift(3), "map, upshift 3>4"),
            (Instant::Downshift(4), "map, downshift 4>3"),
            (Instant::Gears(3), "map, gears 3-4"),
            (Instant::Engaging, "map, engaging"),
            (Instant::Otherwise, "map"),
        ];
        let after: Vec<_> = CAUSES.iter().map(|cause| (*cause, format!("map, after {cause}"))).collect();
        instants.extend(after.iter().map(|(cause, text)| (Instant::After(cause), text.as_str())));
        for (instant, text) in instants {
            let cause = FailingCause { culprit: Culprit::Map, instant };
            assert_eq!(cause.to_string(), text);
            assert_eq!(FailingCause::parse(text), Ok(cause));
        }
        assert_eq!(FailingCause::parse("build").unwrap().culprit, Culprit::Build);
    }

    #[test]
    fn a_slip_is_refused_and_covers_nothing() {
        for text in [
            "upshift 3>4",
            "",
            "rig",
            "build,",
            "build, ",
            "build, upshift 3>5",
            "build, upshift 4>3",
            "build, downshift 3>4",
            "build, gears 4-3",
            "build, upshift 10>11",
            "build, upshift 0>1",
            "build, after the tap",
            "build, engages",
            "build upshift 3>4",
            "build, upshift 3>4, 4>5",
        ] {
            assert!(FailingCause::parse(text).is_err(), "{text}");
        }
    }
}
