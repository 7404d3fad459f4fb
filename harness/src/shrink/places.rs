//! The numbers of a drive, each with its place and its kind, so that all are treated alike.

use crate::drive::{Demand, Drive, Happening, When, put};

/// Where a number stands in a drive; steps and events by index.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Place {
    /// Speed at the start, 0.1 km/h.
    StartSpeed,
    /// Length of a step, ms.
    StepMs(usize),
    /// Pedal of a step, the first of two where there are two, 0.1 %.
    Pedal(usize),
    /// The second pedal of a step, 0.1 %.
    OtherPedal(usize),
    /// Length of a turn, ms.
    EveryMs(usize),
    /// The speed that a step holds, 0.1 km/h.
    Kept(usize),
    /// Brake of a step, 0.1 %.
    Brake(usize),
    /// Grade of a step, 0.1 %.
    Grade(usize),
    /// When an event comes, or how long after its condition, ms.
    EventAt(usize),
    /// How long what happens lasts, ms.
    EventMs(usize),
    /// By how much a speed is off in what happens, 0.1 km/h.
    EventKmh(usize),
}

/// What kind of number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A time, ms.
    Time,
    /// A speed, 0.1 km/h.
    Speed,
    /// A pedal, 0.1 %.
    Pedal,
    /// A brake or a grade, 0.1 %.
    Share,
}

impl Place {
    /// The kind of number that stands here.
    #[must_use]
    pub fn kind(self) -> Kind {
        match self {
            Self::StartSpeed | Self::Kept(_) | Self::EventKmh(_) => Kind::Speed,
            Self::StepMs(_) | Self::EveryMs(_) | Self::EventAt(_) | Self::EventMs(_) => Kind::Time,
            Self::Pedal(_) | Self::OtherPedal(_) => Kind::Pedal,
            Self::Brake(_) | Self::Grade(_) => Kind::Share,
        }
    }

    /// All places of a drive that hold a number, from the start to the last event.
    #[must_use]
    pub fn all(drive: &Drive) -> Vec<Self> {
        let step = |at| {
            let here = [Self::Pedal(at), Self::OtherPedal(at), Self::EveryMs(at), Self::Kept(at)];
            here.into_iter().chain([Self::Brake(at), Self::Grade(at), Self::StepMs(at)])
        };
        let event = |at| [Self::EventAt(at), Self::EventMs(at), Self::EventKmh(at)];
        let steps = (0..drive.steps.len()).flat_map(step);
        let all = std::iter::once(Self::StartSpeed).chain(steps).chain((0..drive.events.len()).flat_map(event));
        all.filter(|place| place.get(drive).is_some()).collect()
    }

    /// The number that stands here, if one does.
    #[must_use]
    pub fn get(self, drive: &Drive) -> Option<i64> {
        let mut found = None;
        self.visit(&mut drive.clone(), &mut |value| {
            found = Some(value);
            value
        });
        found
    }

    /// Puts a number here; what the place can't hold leaves the drive as it is.
    pub fn set(self, drive: &mut Drive, value: i64) {
        self.visit(drive, &mut |_| value);
    }

    fn visit(self, drive: &mut Drive, with: &mut dyn FnMut(i64) -> i64) {
        match self {
            Self::StartSpeed => put(&mut drive.start.speed, with),
            Self::StepMs(at) | Self::Pedal(at) | Self::OtherPedal(at) | Self::EveryMs(at) => {
                let Some(step) = drive.steps.get_mut(at) else { return };
                match (self, &mut step.demand) {
                    (Self::StepMs(_), _) => put(&mut step.ms, with),
                    (Self::Pedal(_), Demand::Pedal(p) | Demand::PedalTo(p) | Demand::InTurn(p, ..)) => put(p, with),
                    (Self::OtherPedal(_), Demand::InTurn(_, p, _)) => put(p, with),
                    (Self::EveryMs(_), Demand::InTurn(.., ms)) => put(ms, with),
                    _ => {}
                }
            }
            Self::Kept(at) | Self::Brake(at) | Self::Grade(at) => {
                let Some(step) = drive.steps.get_mut(at) else { return };
                match (self, &mut step.demand) {
                    (Self::Kept(_), Demand::Hold(kept) | Demand::Cruise(kept)) => put(kept, with),
                    (Self::Brake(_), _) => put(&mut step.brake, with),
                    (Self::Grade(_), _) => put(&mut step.grade, with),
                    _ => {}
                }
            }
            Self::EventAt(at) => {
                let Some(event) = drive.events.get_mut(at) else { return };
                let (When::At(ms) | When::After(_, ms)) = &mut event.when;
                put(ms, with);
            }
            Self::EventMs(at) | Self::EventKmh(at) => {
                let Some(event) = drive.events.get_mut(at) else { return };
                if matches!(self, Self::EventMs(_)) { event.what.relast(with) } else { is_off(&mut event.what, with) }
            }
        }
    }
}

fn is_off(what: &mut Happening, with: &mut dyn FnMut(i64) -> i64) {
    match what {
        Happening::SecondSpeed(off, _) => put(off, with),
        Happening::WheelSpin(by, _) => put(by, with),
        _ => {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drive::{Event, Start, Step, Which};

    #[test]
    fn each_number_is_found_and_set_where_it_stands() {
        let step = |demand| Step { ms: 900, demand, brake: 0, grade: -20 };
        let event = Event { when: When::At(300), what: Happening::Lost(Which::All, 700) };
        let mut drive = Drive {
            start: Start { speed: 50, ..Start::default() },
            steps: vec![step(Demand::InTurn(200, 10, 40)), step(Demand::Hold(510))],
            events: vec![event],
        };
        let found: Vec<i64> = Place::all(&drive).iter().filter_map(|place| place.get(&drive)).collect();
        // The start; pedal, pedal, turn, brake, grade, length; kept speed, brake, grade, length; when, how long.
        assert_eq!(found, [50, 200, 10, 40, 0, -20, 900, 510, 0, -20, 900, 300, 700]);
        for place in Place::all(&drive) {
            place.set(&mut drive, 123);
            assert_eq!(place.get(&drive), Some(123), "{place:?}");
        }
        Place::StartSpeed.set(&mut drive, -1);
        assert_eq!(drive.start.speed, 123, "a speed below none is left out");
    }
}
