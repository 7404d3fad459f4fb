//! One worker's bench: a closed loop around the rolling road, and a controller, kept from one measurement to the next.

use super::pace::Pace;
use super::plan::{Crossing, Span, count, hand_over, phase_ms, span, true_kmh};
use super::road::{Ended, RollingRoad, Task};
use super::{Found, Shifted};
use crate::closed_loop::ClosedLoop;
use crate::controller::{NotStarted, Port, Source};
use crate::drive::{Demand, Drive, Event, Happening, Start, Step, When};
use crate::recording::{Delivered, Recording, Row};
use crate::signal::{Announcement, Content, Direction, Lever, Signal};
use crate::spec::Spec;
use crate::spec::facts::TakeOver;

/// A ramp that met its shift too early begins this much further from where it came, km/h.
const FURTHER_KMH: f64 = 6.0;
/// How often it begins further back.
const MOST_TRIES: usize = 12;
/// How long the button is pressed, ms (common practice, no source).
const BUTTON_MS: u16 = 300;

/// The bench.
pub(super) struct Bench<'a> {
    spec: &'a Spec,
    source: &'a dyn Source,
    /// `None` after the controller fell silent and could not be started again.
    port: Option<Box<dyn Port>>,
    looped: ClosedLoop<RollingRoad>,
    pace: Pace,
    /// Simulated so far, ms.
    pub simulated_ms: u64,
}

impl<'a> Bench<'a> {
    pub(super) fn new(spec: &'a Spec, source: &'a dyn Source) -> Result<Self, NotStarted> {
        let pace = Pace::of(spec);
        // Nothing on the bench is integrated: a step is a whole tick.
        let looped = ClosedLoop::around(spec, pace.tick_ms, |_| RollingRoad::new(spec, pace));
        Ok(Self { spec, source, port: Some(source.start(spec)?), looped, pace, simulated_ms: 0 })
    }

    /// Drives a task; the sentence says why the controller fell silent.
    fn drive(&mut self, task: Task, from_count: u8, demand: u16, index: usize) -> Result<(), String> {
        let (spec, pace) = (self.spec, &self.pace);
        let mut events = vec![Event { when: When::At(pace.lever_ms), what: Happening::Lever(Lever::Gate) }];
        if spec.facts.take_over == TakeOver::Button {
            events.push(Event { when: When::At(pace.button_ms), what: Happening::Button(BUTTON_MS) });
        }
        let step = |ms, demand| Step { ms, demand, brake: 0, grade: 0 };
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a speed that the port can show")]
        let speed = (true_kmh(from_count, spec.link.speed_rounding) * 10.0) as u16;
        let drive = Drive {
            start: Start {
                speed,
                gear: spec.facts.lowest_gear,
                poll_phase_ms: phase_ms(index, pace),
                link_key: index as u64,
                ..Start::default()
            },
            steps: vec![
                step(pace.pedal_ms, Demand::Pedal(0)),
                step(pace.pedal_moves_ms, Demand::PedalTo(demand)),
                step(pace.longest_ms(), Demand::Pedal(demand)),
            ],
            events,
        };
        self.looped.body().set(task);
        let Some(port) = &mut self.port else { return Err("it could not be started again".into()) };
        let recording = self.looped.run(&drive, port.as_mut());
        self.simulated_ms += recording.rows.last().map_or(0, |r| u64::from(r.t_ms + recording.tick_ms));
        let silence = recording.silence.as_ref().map(ToString::to_string);
        let Some(why) = silence else { return Ok(()) };
        self.port = self.source.start(self.spec).ok();
        Err(why)
    }

    /// Measures one line at one pedal position.
    pub(super) fn past(&mut self, at: &Crossing, index: usize) -> Found {
        let span = match span(self.spec, at) {
            Ok(span) => span,
            Err(why) => return Found::NotReached(why),
        };
        let way = at.way();
        let mut start_kmh = span.usual_start_kmh(way);
        for _ in 0..MOST_TRIES {
            let task =
                Task::Past { gear: at.from, way, line_kmh: span.line_kmh, start_kmh, end_kmh: span.end_kmh(way) };
            if let Err(why) = self.drive(task, hand_over(self.spec), at.demand(), index) {
                return Found::Silent(why);
            }
            let stopped_kmh = self.looped.body().speed_kmh();
            let ended = self.looped.body().ended();
            let further = span.start_kmh(way, (span.line_kmh - stopped_kmh).abs() + FURTHER_KMH);
            if ended != Some(Ended::Early) || further == start_kmh {
                break;
            }
            start_kmh = further;
        }
        self.found(at, &span)
    }

    fn found(&mut self, at: &Crossing, span: &Span) -> Found {
        let (ended, from_ms) = (self.looped.body().ended(), self.looped.body().began_ms());
        let recording = self.looped.recording();
        match ended {
            // A box that keeps shifting away by the map itself, before the ramp can begin, is not early.
            Some(Ended::Early) if was_due(recording, at.way(), span) => {
                Found::NotReached(format!("the box did not stay in gear {} where the ramp begins", at.from))
            }
            Some(Ended::Done | Ended::Early) => match shifted(recording, at, from_ms, span) {
                Some(shifted) => Found::Shifted(shifted),
                None => Found::OtherWay(read(recording)),
            },
            Some(Ended::NoCommand) if !engaged(recording) => {
                Found::NotReached("the box did not engage, or no longer was engaged".into())
            }
            Some(Ended::NoCommand) => Found::NoCommand(read(recording)),
            Some(Ended::NeverThere(_)) if !engaged(recording) => Found::NotReached("the box did not engage".into()),
            Some(Ended::NeverThere(gear)) => {
                Found::NotReached(format!("the box could not be held in gear {}: the last one was {gear}", at.from))
            }
            None => Found::NotReached("the drive on the bench was not long enough".into()),
        }
    }

    /// Whether it shifts up and down between a gear and the next when the speed read swings between two counts.
    pub(super) fn swings(&mut self, up: &Crossing, low: u8, high: u8, index: usize) -> Result<bool, String> {
        let Ok(span) = span(self.spec, up) else { return Ok(false) };
        let rounding = self.spec.link.speed_rounding;
        let (low_kmh, high_kmh) = (true_kmh(low, rounding), true_kmh(high, rounding));
        let wait_kmh = low_kmh.max(span.back_kmh).min(high_kmh);
        let task = Task::Swing { gear: up.from, wait_kmh, low_kmh, high_kmh };
        self.drive(task, hand_over(self.spec), up.demand(), index)?;
        let Some(from_ms) = self.looped.body().began_ms() else { return Ok(false) };
        let count = |way| closings(self.looped_rows(), from_ms, way).count();
        // Two rounds: once may be a gear that settles.
        Ok(count(Direction::Up) >= 2 && count(Direction::Down) >= 2)
    }

    fn looped_rows(&self) -> &[Row] {
        &self.looped.recording().rows
    }

    /// Whether it engages at a speed read.
    pub(super) fn engages(&mut self, at: u8, index: usize) -> Result<bool, String> {
        let lowest = self.spec.facts.lowest_gear;
        let line_kmh = self.spec.map.up_kmh(lowest, 0.0).unwrap_or(0.0);
        let raise_kmh = (line_kmh + FURTHER_KMH).min(super::road::TOP_KMH);
        self.drive(Task::Engage { raise_kmh }, at, 0, index)?;
        Ok(engaged_ever(self.looped.recording()))
    }
}

/// Rows in which a contact closes, from a time on.
fn closings(rows: &[Row], from_ms: f64, way: Direction) -> impl Iterator<Item = (usize, &Row)> {
    let closed = move |row: &Row| if way == Direction::Up { row.contacts.up } else { row.contacts.down };
    let pairs = rows.iter().zip(rows.iter().skip(1)).enumerate();
    pairs
        .filter(move |(_, (old, new))| closed(new) && !closed(old) && f64::from(new.t_ms) >= from_ms)
        .map(|(at, (_, new))| (at + 1, new))
}

/// The command that ended the drive, and what the box had read.
fn shifted(recording: &Recording, crossing: &Crossing, from_ms: Option<f64>, span: &Span) -> Option<Shifted> {
    let way = crossing.way();
    let last = recording.rows.len().checked_sub(1)?;
    let (at, row) = closings(&recording.rows, 0.0, way).last().filter(|(at, _)| *at == last)?;
    let end = row.answers_from as usize + usize::from(row.answers);
    let arrived = recording.delivered.get(..end)?;
    let mut speeds = arrived.iter().rev().filter_map(speed);
    let (_, read_kmh) = speeds.next()?;
    let before_kmh = speeds.next().map_or(read_kmh, |(_, before)| before);
    let due = |kmh: f64| if way == Direction::Up { kmh >= span.first_kmh } else { kmh <= span.first_kmh };
    let first_ms = from_ms.and_then(|from_ms| {
        arrived.iter().filter_map(speed).find(|&(ms, kmh)| f64::from(ms) >= from_ms && due(kmh)).map(|(ms, _)| ms)
    });
    Some(Shifted {
        read_kmh,
        before_kmh,
        true_kmh: row.truth.speed_kmh,
        pedal_pct: crossing.stops.travel_pct(recording.last_value(at, Signal::Pedal)?),
        delay_ms: first_ms.map(|ms| row.t_ms - ms),
        before_ramp: from_ms.is_none(),
    })
}

/// The newest speed read makes the shift due.
fn was_due(recording: &Recording, way: Direction, span: &Span) -> bool {
    let kmh = read(recording);
    if way == Direction::Up { kmh >= span.first_kmh } else { kmh <= span.first_kmh }
}

/// Arrival and value of a speed answer.
fn speed(delivered: &Delivered) -> Option<(u32, f64)> {
    match delivered.answer.content {
        Content::Value(kmh) if delivered.answer.signal == Signal::Speed => Some((delivered.arrived_ms, kmh)),
        _ => None,
    }
}

/// The last speed read, km/h.
fn read(recording: &Recording) -> f64 {
    recording.delivered.iter().rev().find_map(speed).map_or(0.0, |(_, kmh)| kmh)
}

/// It shows that it is engaged at the end, or, showing nothing, has commanded.
fn engaged(recording: &Recording) -> bool {
    recording.rows.last().and_then(|r| r.engaged).unwrap_or_else(|| {
        let said = recording.rows.iter().rev().find_map(|r| r.announcement.filter(|a| *a != Announcement::Ready));
        said.map_or_else(|| engaged_ever(recording), |said| said == Announcement::Engaged)
    })
}

/// It has engaged at some time, by its flag, announcement or a command.
fn engaged_ever(recording: &Recording) -> bool {
    recording.rows.iter().any(|r| {
        r.engaged == Some(true) || r.announcement == Some(Announcement::Engaged) || r.contacts.up || r.contacts.down
    })
}

/// The count at which it shifted, of a measured point.
pub(super) fn at_count(found: &Found) -> Option<u8> {
    match found {
        Found::Shifted(shifted) => Some(count(shifted.read_kmh)),
        _ => None,
    }
}
