//! At what kind of instant a mark stands, so that a waiver covers one failing cause and hides no other.

use super::may_command::Cause;
use super::story::Story;
use crate::failing_cause::Instant;
use crate::signal::Direction;

/// Rules on going to and fro: which of the two commands comes last is chance.
const TO_AND_FRO: [&str; 3] = ["hunting count", "opposite-shift dwell", "dither immunity"];
/// Rules that count shifts whatever their gears: which one is one too many is chance.
const COUNTING: [&str; 1] = ["busy-ness"];

/// Which marks of a rule count.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Marks {
    /// All but those at these kinds of instant.
    Except(Vec<Instant>),
    /// Those at this kind of instant alone.
    Only(Instant),
}

/// The kinds of instant of one story.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Instants(Vec<(u32, Instant)>);

impl Instants {
    /// Of a story, as a rule of this name tells them.
    #[must_use]
    pub fn of(story: &Story, rule: &str) -> Self {
        if COUNTING.contains(&rule) {
            return Self(Vec::new());
        }
        let commands = story.commands.iter().map(|c| {
            // The gear that the box decided by, where it could know one: the same that the sentence names.
            let gear = c.gear_seen.unwrap_or(c.gear_true);
            let instant = match c.direction {
                _ if TO_AND_FRO.contains(&rule) => Instant::Gears(c.lower_gear()),
                Direction::Up => Instant::Upshift(gear),
                Direction::Down => Instant::Downshift(gear),
            };
            (c.at_ms, instant)
        });
        let engagings = story.engagings.iter().map(|e| (e.at_ms, Instant::Engaging));
        let releases = story.releases.iter().map(|r| (r.closing.at_ms, Instant::After(words(r.closing.cause))));
        // The first one found at a time counts: a command says more than an engagement that it shows.
        Self(commands.chain(engagings).chain(releases).collect())
    }

    /// The kind of instant at a time.
    #[must_use]
    pub fn at(&self, at_ms: u32) -> Instant {
        self.0.iter().find(|(ms, _)| *ms == at_ms).map_or(Instant::Otherwise, |&(_, instant)| instant)
    }
}

impl Marks {
    /// Whether a mark at this kind of instant counts.
    #[must_use]
    pub fn count(&self, instant: Instant) -> bool {
        match self {
            Self::Except(these) => !these.contains(&instant),
            Self::Only(this) => *this == instant,
        }
    }
}

/// A cause to disengage as [`crate::failing_cause::CAUSES`] has it.
fn words(cause: Cause) -> &'static str {
    match cause {
        Cause::Ignition => "ignition off",
        Cause::Data => "lost data",
        Cause::Range => "range left high",
        Cause::Lever => "lever out of the gate",
        Cause::Tap => "driver's tap",
        Cause::Stuck => "stuck signals",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::failing_cause::CAUSES;

    #[test]
    fn the_words_are_those_of_a_failing_cause() {
        let all = [Cause::Ignition, Cause::Data, Cause::Range, Cause::Lever, Cause::Tap, Cause::Stuck].map(words);
        assert_eq!(all, CAUSES);
    }

    #[test]
    fn marks_are_told_apart_by_their_instants() {
        let instants = Instants(vec![(100, Instant::Upshift(3)), (200, Instant::Engaging)]);
        assert_eq!(
            [instants.at(100), instants.at(200), instants.at(300)],
            [Instant::Upshift(3), Instant::Engaging, Instant::Otherwise]
        );
        let but = Marks::Except(vec![Instant::Upshift(3), Instant::Otherwise]);
        assert_eq!([100, 200, 300].map(|at| but.count(instants.at(at))), [false, true, false]);
        let only = Marks::Only(Instant::Upshift(3));
        assert_eq!([100, 200, 300].map(|at| only.count(instants.at(at))), [true, false, false]);
    }
}
