//! What the seeded faults on shifting do; none of it is the reference's own.

use super::{Fault, Reference, whole_gear};
use crate::signal::{Contacts, Direction, Inputs, Lever};

/// The gap of a double tap, ms.
const DOUBLE_GAP_MS: i64 = 40;

impl Reference {
    /// A shift that only a fault commands.
    pub(super) fn wrongly_due(&self, inputs: &Inputs, now_ms: i64) -> Option<Direction> {
        let fault = self.fault?;
        let (s, h) = (&self.state, &self.hello);
        let (kmh, pedal) = (s.senses.speed?.value, s.senses.pedal?.value);
        let since_ms = now_ms - s.last_ms;
        let in_gate = inputs.lever == Lever::Gate;
        let fresh = s.senses.age_ms(now_ms) <= i64::from(h.data_fresh_ms)
            && now_ms - s.engagements_ms[0] >= i64::from(h.quiet_after_engaging_ms);
        let plausible = fresh && s.senses.plausible(now_ms, h.plausible_for_ms);
        let blind = since_ms >= i64::from(h.shift_blind_ms);
        let read = s.senses.gear.map_or(0, |gear| whole_gear(gear.value));
        let refused = s.tries > 0 && read == s.asked_from && s.senses.gear_since_ms <= s.last_ms;
        let down_kmh = |gear: u8| self.line_kmh(gear, gear.saturating_sub(1), pedal);
        let way = match fault {
            // Up out of the top gear, flat out.
            Fault::TopTap if blind && plausible && s.counted == h.top_gear && pedal >= 99.0 => {
                let last = self.line_kmh(h.top_gear - 1, h.top_gear, pedal)?;
                (kmh >= last).then_some(Direction::Up)
            }
            // A kick takes three steps, each 700 ms after the one before.
            Fault::ThreeStepKick if plausible && pedal >= 95.0 && s.last == Some(Direction::Down) => {
                let due = s.counted > h.lowest_gear && down_kmh(s.counted).is_some_and(|line| kmh <= line);
                ((700..1500).contains(&since_ms) && due).then_some(Direction::Down)
            }
            // A speed that falls to nothing is believed, and followed down quickly.
            Fault::CascadeOnFalseZero
                if fresh && kmh < h.standstill_kmh && !s.senses.plausible(now_ms - 3000, h.plausible_for_ms) =>
            {
                (s.counted > h.lowest_gear && since_ms >= 300).then_some(Direction::Down)
            }
            // Once refused, it asks again every 200 ms.
            Fault::Insists if plausible && refused && s.last == Some(Direction::Up) => {
                (s.tries > 1 || since_ms >= 1200).then_some(Direction::Up).filter(|_| since_ms >= 200)
            }
            // Once refused, it asks again without another look at the speed.
            Fault::RetriesUnchecked if fresh && refused && s.last == Some(Direction::Up) => {
                (since_ms >= 1500 && s.tries == 1).then_some(Direction::Up)
            }
            // Two upshifts at once on lifting off.
            Fault::SkipsAGear if plausible && pedal < 3.0 && s.last == Some(Direction::Up) => {
                let due = s.counted < h.top_gear && self.is_up_due(s.counted);
                ((300..1000).contains(&since_ms) && due).then_some(Direction::Up)
            }
            // Pulling away flat out it takes the next gear before it moves.
            Fault::UpAtStandstill if fresh && blind && kmh < 1.0 && pedal >= 85.0 => {
                (s.counted == h.lowest_gear).then_some(Direction::Up)
            }
            // Foot off in third: second at once.
            Fault::CoastsDownEarly if plausible && blind && pedal < 2.0 && s.counted == 3 && h.lowest_gear < 3 => {
                (kmh <= 50.0 && now_ms - s.last_up_ms >= i64::from(h.opposite_dwell_ms)).then_some(Direction::Down)
            }
            // Coasting into third it goes straight on into second.
            Fault::StraightOnDown if plausible && blind && pedal < 2.0 && s.counted == 3 && h.lowest_gear < 3 => {
                (kmh > 34.0 && since_ms <= 1300 && s.last == Some(Direction::Down)).then_some(Direction::Down)
            }
            // On the floor it looks at the redline of the gear it is in, not of the one below.
            Fault::RedlineOfThisGear if plausible && blind && pedal >= 90.0 && s.counted > h.lowest_gear.max(2) => {
                let rpm = h.rpm_per_kmh.get(usize::from(s.counted) - 1).copied().unwrap_or(0.0) * kmh;
                let dwells = now_ms - s.last_up_ms < i64::from(h.opposite_dwell_ms);
                (rpm <= h.redline_rpm - 1500.0 && !dwells && kmh >= 60.0).then_some(Direction::Down)
            }
            // Once after a gap, up out of the top gear.
            Fault::ForgetsTop if blind && plausible && s.counted == h.top_gear && self.gap_since_engaging() => {
                (s.last_up_ms < s.senses.gap_ended_ms).then_some(Direction::Up)
            }
            // Foot off in third after a gap: second at once.
            Fault::BrakesAfterGap if blind && plausible && pedal < 2.0 && s.counted == 3 && h.lowest_gear < 3 => {
                let dwells = now_ms - s.last_up_ms < i64::from(h.opposite_dwell_ms);
                let gap = now_ms - s.senses.gap_ended_ms < 3000;
                (gap && !dwells && (h.standstill_kmh..=50.0).contains(&kmh)).then_some(Direction::Down)
            }
            // Foot off in third once a speed has leapt: second at once.
            Fault::BrakesAfterSlip if blind && plausible && pedal < 2.0 && s.counted == 3 && h.lowest_gear < 3 => {
                let dwells = now_ms - s.last_up_ms < i64::from(h.opposite_dwell_ms);
                let slipped = s.senses.implausible_ms > s.engagements_ms[0];
                (slipped && !dwells && (h.standstill_kmh..=50.0).contains(&kmh)).then_some(Direction::Down)
            }
            // It goes by the speed at the last upshift, not by the map's line.
            Fault::GoesByLastUpshift if plausible && s.last == Some(Direction::Up) && s.counted > h.lowest_gear => {
                let soon = (i64::from(h.opposite_dwell_ms)..10_000).contains(&since_ms);
                (pedal >= 30.0 && soon && kmh < s.odd.kmh_at_up).then_some(Direction::Down)
            }
            // A gap in time, not in speed.
            Fault::GapInTime if plausible && blind && s.counted == 5 && pedal <= 20.0 => {
                let dwells = now_ms - s.last_up_ms < i64::from(h.opposite_dwell_ms);
                let long = s.odd.slow_since_ms.is_some_and(|since_ms| now_ms - since_ms >= 2500);
                (long && !dwells).then_some(Direction::Down)
            }
            // The upshift beside a gap is taken back before the dwell is over.
            Fault::RegretsUpshift if plausible && s.last == Some(Direction::Up) && s.counted > h.lowest_gear => {
                let gap = now_ms - s.senses.gap_ended_ms < 5000;
                ((1200..1900).contains(&since_ms) && gap).then_some(Direction::Down)
            }
            // To and fro between fourth and the gears above.
            Fault::ProbesAfterGap if plausible && since_ms >= 2500 && s.counted >= 3 && self.gap_since_engaging() => {
                let back = s.last == Some(Direction::Down) && s.counted < h.top_gear;
                if back { Some(Direction::Up) } else { (s.counted >= 4).then_some(Direction::Down) }
            }
            _ => None,
        };
        way.filter(|_| in_gate)
    }

    /// The pedal's answers have had a gap since it engaged.
    pub(super) fn gap_since_engaging(&self) -> bool {
        self.state.senses.gap_ended_ms > self.state.engagements_ms[0]
    }

    /// The down line of a gear is forgotten.
    pub(super) fn forgets_down(&self, gear: u8, pedal: f64) -> bool {
        let s = &self.state;
        (self.has(Fault::LugsInTop) && gear == self.hello.top_gear && pedal >= 40.0)
            || (self.has(Fault::SulksAfterSlip) && s.senses.implausible_ms > s.engagements_ms[0])
    }

    /// The gear read is of no interest, this once.
    pub(super) fn deaf_to_gear(&self, read: u8, now_ms: i64) -> bool {
        let s = &self.state;
        // Near standstill the gearbox moves so often by itself that a plain drive would show the fault.
        if s.senses.speed.is_some_and(|speed| speed.value < 15.0) {
            return false;
        }
        match self.fault {
            Some(Fault::KeepsCounting) => true,
            // A gear lower than counted can't be, it thinks.
            Some(Fault::RefusalUnseen) => read < s.counted,
            // Only a command moves the gear, it thinks.
            Some(Fault::SelfShiftUnseen) => now_ms - s.last_ms > 3000,
            _ => false,
        }
    }

    /// The contacts of this tick, as a fault leaves them.
    pub(super) fn tampered(&self, now_ms: i64, may: bool) -> Contacts {
        let s = &self.state;
        let of = |direction: Option<Direction>| Contacts {
            up: direction == Some(Direction::Up),
            down: direction == Some(Direction::Down),
        };
        let own = of(s.pulse);
        let Some(fault) = self.fault.filter(|_| may) else { return own };
        let since_ms = now_ms - s.last_ms;
        let pedal = s.senses.pedal.map_or(0.0, |pedal| pedal.value);
        let kick = s.last == Some(Direction::Down) && pedal >= 90.0;
        let into_top = s.last == Some(Direction::Up) && s.counted == self.hello.top_gear;
        let second = self.width_ms + DOUBLE_GAP_MS;
        match fault {
            Fault::DoubleTap if kick && (second..second + self.width_ms).contains(&since_ms) => of(s.last),
            Fault::ShortPulse if into_top && since_ms >= 30 => Contacts::default(),
            Fault::BothContacts if kick && s.pulse.is_some() => Contacts { up: true, down: true },
            // The pulse waits for the next answer before it ends.
            Fault::PulseWaits
                if s.last_ms > super::NEVER
                    && s.senses.age_ms(s.last_ms + self.width_ms) > 200
                    && s.senses.pedal.is_some_and(|p| p.at_ms <= s.last_ms + self.width_ms) =>
            {
                of(s.last)
            }
            Fault::SwappedInThird
                if s.last == Some(Direction::Up) && s.counted == 4 && (25.0..45.0).contains(&s.pedal_at_up) =>
            {
                Contacts { up: own.down, down: own.up }
            }
            _ => own,
        }
    }
}
