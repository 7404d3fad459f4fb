//! The gearbox's own schedule in D, and under the limit of a range-limit gate. Invented: engine speeds over the pedal.

/// Share of the span from idle to redline at which it shifts up: at a released pedal, and more at a full one.
const UP: (f64, f64) = (0.27, 0.58);
/// Share at which it shifts down.
const DOWN: (f64, f64) = (0.05, 0.27);
/// A downshift waits until it would land this far below the upshift speed, so the two never chase each other.
const APART: f64 = 0.85;
/// Under a limit, the higher gear is taken when it would turn this much faster than the downshift speed.
const EAGER: f64 = 1.1;

/// A schedule for a gearbox.
#[derive(Debug, Clone)]
pub struct Schedule {
    idle_rpm: f64,
    span_rpm: f64,
}

impl Schedule {
    /// For an engine with this idle and redline.
    #[must_use]
    pub fn new(idle_rpm: f64, redline_rpm: f64) -> Self {
        Self { idle_rpm, span_rpm: redline_rpm - idle_rpm }
    }

    fn speeds(&self, pedal: f64) -> (f64, f64) {
        let square = pedal * pedal;
        let at = |(least, more): (f64, f64)| self.idle_rpm + self.span_rpm * (least + more * square);
        (at(UP), at(DOWN))
    }

    /// The gear wanted in D. `rpm` is the engine speed in a gear with nothing slipping.
    #[inline]
    pub fn wants(&self, gear: u8, top: u8, pedal: f64, rpm: impl Fn(u8) -> f64) -> u8 {
        let (up, down) = self.speeds(pedal);
        if gear < top && rpm(gear) > up {
            return gear + 1;
        }
        lower(gear, up, down, rpm)
    }

    /// The gear wanted under a limit: the highest up to the limit that doesn't ask for a downshift.
    #[inline]
    pub fn wants_under(&self, gear: u8, limit: u8, pedal: f64, rpm: impl Fn(u8) -> f64) -> u8 {
        let (up, down) = self.speeds(pedal);
        if gear < limit && rpm(gear + 1) > EAGER * down {
            return gear + 1;
        }
        lower(gear, up, down, rpm)
    }
}

fn lower(mut gear: u8, up: f64, down: f64, rpm: impl Fn(u8) -> f64) -> u8 {
    while gear > 1 && rpm(gear) < down && rpm(gear - 1) < APART * up {
        gear -= 1;
    }
    gear
}

#[cfg(test)]
mod tests {
    use super::*;

    /// rpm per km/h of the demo van.
    const RPM: [f64; 6] = [99.5, 57.8, 38.2, 28.3, 21.7, 18.8];

    fn rpm_at(kmh: f64) -> impl Fn(u8) -> f64 {
        move |gear| RPM[usize::from(gear) - 1] * kmh
    }

    /// Idle 750, redline 4,400: at a released pedal up at 750 + 0.27·3650 = 1,735.5 rpm, down at 932.5 rpm;
    /// first reaches 1,735.5 rpm at 17.44 km/h; second falls to 932.5 rpm at 16.13 km/h, but goes down only where first
    /// turns less than 0.85·1,735.5 rpm: at 14.83 km/h; third falls to 932.5 rpm at 24.41 km/h, where second turns 1,411;
    /// at full pedal up at 3,852.5 rpm, which first gets to at 38.72 km/h.
    #[test]
    fn the_schedule_shifts_where_its_formula_says() {
        let schedule = Schedule::new(750.0, 4400.0);
        for (gear, kmh, pedal, wanted) in [
            (1, 17.4, 0.0, 1),
            (1, 17.5, 0.0, 2),
            (2, 14.9, 0.0, 2),
            (2, 14.8, 0.0, 1),
            (3, 24.5, 0.0, 3),
            (3, 24.4, 0.0, 2),
            (1, 38.7, 1.0, 1),
            (1, 38.8, 1.0, 2),
            (6, 200.0, 0.0, 6),
            (6, 0.0, 0.0, 1),
        ] {
            assert_eq!(schedule.wants(gear, 6, pedal, rpm_at(kmh)), wanted, "gear {gear} at {kmh} km/h");
        }
    }

    #[test]
    fn up_and_down_never_chase_each_other() {
        let schedule = Schedule::new(750.0, 4400.0);
        for pedal in [0.0, 0.3, 0.6, 1.0] {
            for tenth in 0..2000 {
                let kmh = f64::from(tenth) * 0.1;
                for gear in 1..6 {
                    if schedule.wants(gear, 6, pedal, rpm_at(kmh)) == gear + 1 {
                        assert!(schedule.wants(gear + 1, 6, pedal, rpm_at(kmh)) > gear, "{gear} at {kmh} km/h");
                    }
                }
            }
        }
    }

    #[test]
    fn under_a_limit_the_highest_gear_allowed_is_taken() {
        let schedule = Schedule::new(750.0, 4400.0);
        assert_eq!(schedule.wants_under(3, 4, 0.0, rpm_at(60.0)), 4);
        assert_eq!(schedule.wants_under(4, 4, 0.0, rpm_at(60.0)), 4);
        assert_eq!(schedule.wants_under(4, 6, 0.0, rpm_at(20.0)), 2);
    }
}
