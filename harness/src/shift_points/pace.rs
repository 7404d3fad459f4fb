//! How fast the rolling road moves and how long it waits, from the link and the limits of a spec: slow enough that no
//! hold or dwell of a box that keeps its limits binds while a line is measured.

use crate::spec::Spec;
use crate::spec::facts::TakeOver;

/// The speed stays on one count for this long at least during a ramp, ms: ten updates of the usual link, so that a box
/// that smooths the speed over some 100 ms or confirms it is done with one count before the next (invented).
const LEAST_COUNT_MS: f64 = 1000.0;
/// On the way to a ramp, km/h per s (invented); never beyond half of what the spec calls plausible.
const FAST_KMH_PER_S: f64 = 6.0;
/// The driver moves the pedal from released to its place in this time, ms.
const PEDAL_MS: f64 = 1000.0;
/// For what is not declared anywhere, on top of each wait, ms.
const SPARE_MS: f64 = 1000.0;
/// A box that has not come to the gear after this long never will, ms.
const GIVE_UP_MS: f64 = 150_000.0;

/// Times and rates of all measurements with a spec.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Pace {
    pub tick_ms: f64,
    /// The longest time from one answer of a signal to the next, ms.
    pub update_ms: f64,
    /// When the lever goes into the gate.
    pub lever_ms: u32,
    /// When the button is pressed, where there is one.
    pub button_ms: u32,
    /// When the pedal begins to move.
    pub pedal_ms: u32,
    /// How long it moves.
    pub pedal_moves_ms: u32,
    /// From here on the road moves: the driver has handed over, the pedal stands.
    pub from_ms: f64,
    /// After a command the road stands still for this long on its way.
    pub breath_ms: f64,
    /// In the gear and before the ramp for this long.
    pub settle_ms: f64,
    /// At the end of a ramp a box has this long for a last answer.
    pub reply_ms: f64,
    pub give_up_ms: f64,
    pub fast_kmh_per_s: f64,
    pub slow_kmh_per_s: f64,
    /// On the way the speed read is at most this far from the true one, km/h.
    pub lag_kmh: f64,
}

impl Pace {
    pub(super) fn of(spec: &Spec) -> Self {
        let limits = &spec.limits;
        let tick_ms = f64::from(spec.facts.tick.ms().max(1));
        let signals = spec.facts.signals.polled().count() as f64;
        let update_ms = spec.link.period.get().max(signals * spec.link.answer_most.get());
        let response_ms = f64::from(limits.response_updates) * update_ms;
        let whole = |ms: f64| (ms / tick_ms).ceil() * tick_ms;
        let lever_ms = whole(limits.boot_ready.get().max(limits.boot_quiet.get()) + SPARE_MS);
        let button_ms = whole(lever_ms + limits.lever_bounce.get() + SPARE_MS);
        let handed_ms = if spec.facts.take_over == TakeOver::Button { button_ms } else { lever_ms };
        let engages_ms = limits.lever_bounce.get() + limits.conditions_held.get() + limits.engages_within.get();
        let pedal_ms = whole(handed_ms + engages_ms + limits.quiet_after_engaging.get() + SPARE_MS);
        let fast_kmh_per_s = FAST_KMH_PER_S.min(0.5 * limits.rise_limit.0).min(0.5 * limits.fall_limit.0);
        let dwell_ms = [limits.opposite_dwell, limits.shift_blind, limits.entry_step, limits.kickdown_hold]
            .iter()
            .fold(limits.plausible_for.get(), |most, one| most.max(one.get()));
        Self {
            tick_ms,
            update_ms,
            lever_ms: ms(lever_ms),
            button_ms: ms(button_ms),
            pedal_ms: ms(pedal_ms),
            pedal_moves_ms: ms(whole(PEDAL_MS)),
            from_ms: pedal_ms + whole(PEDAL_MS) + whole(2.0 * update_ms),
            breath_ms: limits.shift_blind.get() + 2.0 * update_ms,
            // Twice, for boxes that are calmer than they must be.
            settle_ms: 2.0 * dwell_ms + SPARE_MS,
            reply_ms: response_ms + 2.0 * SPARE_MS,
            give_up_ms: GIVE_UP_MS,
            fast_kmh_per_s,
            slow_kmh_per_s: 1000.0 / LEAST_COUNT_MS.max(response_ms + 2.0 * update_ms),
            lag_kmh: 1.0 + fast_kmh_per_s * (3.0 * update_ms + response_ms + tick_ms) / 1000.0,
        }
    }

    /// No drive on the bench is longer, ms.
    pub(super) fn longest_ms(&self) -> u32 {
        ms(self.from_ms + self.give_up_ms + 4.0 * self.settle_ms + 2.0 * LONGEST_KMH / self.slow_kmh_per_s * 1000.0)
    }
}

/// No ramp begins further from its line, km/h.
pub(super) const LONGEST_KMH: f64 = 60.0;

/// Whole ms of a time that is not negative; the cast saturates.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "times of a spec are whole and small")]
fn ms(time: f64) -> u32 {
    time as u32
}
