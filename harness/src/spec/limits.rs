//! Limits: the numbers the rules judge by. Two have no default: the maker states them.

use crate::units::{Kmh, KmhPerS, Ms, Percent, Rpm};
use schemars::JsonSchema;
use serde::Serialize;

/// All limits of a spec. The source of each default stands in its sentence.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct Limits {
    /// The box may engage at this speed read or below. No default.
    pub engagement_speed_ceiling: Kmh,
    /// An upshift must land at this engine speed or above. No default.
    pub rpm_floor: Rpm,
    /// A downshift must land this far below the redline. Default 300 rpm: invented.
    pub redline_guard: Rpm,
    /// All conditions must hold this long before engaging. Default 200 ms: invented.
    pub conditions_held: Ms,
    /// With all conditions held, the box engages within this time. Default 1 s: invented.
    pub engages_within: Ms,
    /// A lever excursion shorter than this is contact bounce; one that is over within `lever_release` may still be taken
    /// for it. Default 30 ms: common practice, no source.
    pub lever_bounce: Ms,
    /// After the driver's tap contacts are open within this time. Default 100 ms: invented.
    pub tap_release: Ms,
    /// After leaving the gate contacts are open within this time. Default 100 ms: invented.
    pub lever_release: Ms,
    /// After low range contacts are open within this time. Default 200 ms: invented.
    pub range_release: Ms,
    /// After low range, in between too, a command waits until the range has been high this long. Default 1 s: invented.
    pub range_high_for: Ms,
    /// Data older than this are lost. Default 1 s: invented.
    pub data_lost: Ms,
    /// After losing data contacts are open within this time. Default 100 ms: invented.
    pub data_release: Ms,
    /// Each command rests on data no older than this. Default 500 ms: the usual age of 200 ms (a period of 100 ms and
    /// two answers of at most 50 ms, the server limit P2 of ISO 15765-3 table 2) and three missed updates.
    pub data_fresh: Ms,
    /// A command waits this long after a shift has ended. Default 100 ms: invented.
    pub shift_settle: Ms,
    /// Without a gear signal, a command waits this long after the command before. Default 1 s: invented.
    pub shift_blind: Ms,
    /// Opposite commands stay this far apart. Default 2 s: UN GTR 15 annex 2 §4(a), by analogy.
    pub opposite_dwell: Ms,
    /// A pedal change of this much excuses an earlier opposite command. Default 25 %: invented.
    pub opposite_pedal: Percent,
    /// A reversal is an opposite shift of the same pair within this time. Default 10 s: our closed-loop experiments.
    pub hunting_window: Ms,
    /// At most this many reversals in 60 s of steady driving. Default 1: invented.
    pub hunting_reversals: u8,
    /// Below this speed read nothing is commanded but steps towards the lowest gear. Default 3 km/h: invented.
    pub standstill: Kmh,
    /// Speed read that falls faster than this is implausible. Default 40 km/h/s (1.13 g): above dry peak friction.
    pub fall_limit: KmhPerS,
    /// Speed read that rises faster than this is implausible. Default 25 km/h/s: invented.
    pub rise_limit: KmhPerS,
    /// Longest contact pulse. Default 250 ms: a held tap can mean 'lowest gear' (owner manuals).
    pub longest_pulse: Ms,
    /// Shortest contact pulse. Default 60 ms: common practice, no source.
    pub shortest_pulse: Ms,
    /// No command comes sooner than this after engaging. Default 500 ms: invented.
    pub quiet_after_engaging: Ms,
    /// After engaging, steps towards the map's gear are this far apart. Default 1 s: invented.
    pub entry_step: Ms,
    /// At most this many engagements in 10 s. Default 5: invented.
    pub most_engagements: u8,
    /// A disengagement has its cause within this time before it. Default 300 ms: invented.
    pub cause_window: Ms,
    /// Without supply, after a reset or a crash, contacts are open within this time. Default 50 ms: invented.
    pub contacts_open: Ms,
    /// No engaging sooner than this after power-up. Default 0 s: a take-over since power-up is what counts.
    pub boot_quiet: Ms,
    /// Nothing is expected of the box sooner than this after power-up. Default 2 s: invented.
    pub boot_ready: Ms,
    /// After an implausible speed, no shift that it asks for until speed was plausible for this long. Default 500 ms: invented.
    pub plausible_for: Ms,
    /// A box with a witness of live data disengages within this time of a freeze. Default 3 s: invented.
    pub stuck_noticed: Ms,
    /// At most this many diagnostic requests a second. Default 40: invented.
    pub most_requests: u8,
    /// Diagnostic requests end within this time of ignition off. Default 60 s: invented.
    pub sleeps_within: Ms,
    /// Both contacts stay open this long between pulses. Default 100 ms: common practice, no source.
    pub pulse_gap: Ms,
    /// At most this many down commands within the cascade window. Default 2: invented.
    pub cascade_steps: u8,
    /// The window of the cascade limit. Default 1.5 s: invented.
    pub cascade_window: Ms,
    /// A shift that has not come within this time after its command was refused. Default 1.5 s: invented.
    pub shift_confirmed: Ms,
    /// At most this many repetitions of a refused command. Default 1: invented.
    pub refused_retries: u8,
    /// At most this many further shifts after one that went the wrong way. Default 1: invented.
    pub wrong_shifts: u8,
    /// The counted gear agrees again within this time after the gear has changed. Default 2 s: invented.
    pub count_settles: Ms,
    /// A closed-pedal downshift needs no more grip than this share of the weight on the driven axle. Default 15 %: ice
    /// gives 10 to 15 %, packed snow 20 to 25 % (friction tables as publicly quoted from Noon 1994).
    pub grip_needed: Percent,
    /// Below this engine speed a loaded engine lugs. Default 1300 rpm: common practice, no source.
    pub lugging_rpm: Rpm,
    /// Load beyond this share of full-load torque counts as loaded. Default 70 %: invented.
    pub lugging_load: Percent,
    /// It may lug this long where a lower gear is allowed. Default 3 s: invented.
    pub lugging_for: Ms,
    /// At most this many shifts in 60 s outside launch and stop. Default 12: the shifts that UN GTR 15 asks of 39
    /// vehicles on class 3b come to 11.
    pub busy_shifts: u8,
    /// At most this many shifts in 60 s while speed and pedal only dither about a line. Default 1: invented.
    pub dither_shifts: u8,
    /// A shift that the map asks for is commanded within this many updates of the link. Default 3: invented.
    pub response_updates: u8,
    /// With steady inputs the gear is one the map allows within this time. Default 3 s: invented.
    pub settles_within: Ms,
    /// Each further step may take this much longer. Default 1 s: invented.
    pub settles_step: Ms,
    /// A pedal read at this or below is light. Default 15 %: common practice, no source.
    pub light_pedal: Percent,
    /// A coasting downshift comes within this much below its line. Default 5 km/h: invented.
    pub coast_window: Kmh,
    /// A pedal read at this or above is kickdown. Default 90 %: common practice, no source.
    pub kickdown_pedal: Percent,
    /// Kickdown brings the downshift within this many updates of the link. Default 5: invented.
    pub kickdown_updates: u8,
    /// No upshift for this long after a kickdown downshift. Default 1 s: common practice, no source.
    pub kickdown_hold: Ms,
    /// Each transition is announced within this time. Default 500 ms: invented.
    pub announced_within: Ms,
    /// At most this many announcements in 10 s. Default 12: five engagements and five disengagements must fit.
    pub most_announcements: u8,
    /// With closed pedal and rising speed no upshift is commanded below this engine speed. Off unless stated.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub downhill_rpm: Option<Rpm>,
}

impl Limits {
    /// All defaults, with the two limits that have none.
    #[must_use]
    pub fn stated(engagement_speed_ceiling: Kmh, rpm_floor: Rpm) -> Self {
        Self {
            engagement_speed_ceiling,
            rpm_floor,
            redline_guard: Rpm(300.0),
            conditions_held: Ms::new(200.0),
            engages_within: Ms::new(1000.0),
            lever_bounce: Ms::new(30.0),
            tap_release: Ms::new(100.0),
            lever_release: Ms::new(100.0),
            range_release: Ms::new(200.0),
            range_high_for: Ms::new(1000.0),
            data_lost: Ms::new(1000.0),
            data_release: Ms::new(100.0),
            data_fresh: Ms::new(500.0),
            shift_settle: Ms::new(100.0),
            shift_blind: Ms::new(1000.0),
            opposite_dwell: Ms::new(2000.0),
            opposite_pedal: Percent(25.0),
            hunting_window: Ms::new(10_000.0),
            hunting_reversals: 1,
            standstill: Kmh(3.0),
            fall_limit: KmhPerS(40.0),
            rise_limit: KmhPerS(25.0),
            longest_pulse: Ms::new(250.0),
            shortest_pulse: Ms::new(60.0),
            quiet_after_engaging: Ms::new(500.0),
            entry_step: Ms::new(1000.0),
            most_engagements: 5,
            cause_window: Ms::new(300.0),
            contacts_open: Ms::new(50.0),
            boot_quiet: Ms::new(0.0),
            boot_ready: Ms::new(2000.0),
            plausible_for: Ms::new(500.0),
            stuck_noticed: Ms::new(3000.0),
            most_requests: 40,
            sleeps_within: Ms::new(60_000.0),
            pulse_gap: Ms::new(100.0),
            cascade_steps: 2,
            cascade_window: Ms::new(1500.0),
            shift_confirmed: Ms::new(1500.0),
            refused_retries: 1,
            wrong_shifts: 1,
            count_settles: Ms::new(2000.0),
            grip_needed: Percent(15.0),
            lugging_rpm: Rpm(1300.0),
            lugging_load: Percent(70.0),
            lugging_for: Ms::new(3000.0),
            busy_shifts: 12,
            dither_shifts: 1,
            response_updates: 3,
            settles_within: Ms::new(3000.0),
            settles_step: Ms::new(1000.0),
            light_pedal: Percent(15.0),
            coast_window: Kmh(5.0),
            kickdown_pedal: Percent(90.0),
            kickdown_updates: 5,
            kickdown_hold: Ms::new(1000.0),
            announced_within: Ms::new(500.0),
            most_announcements: 12,
            downhill_rpm: None,
        }
    }

    /// A box may not see a lever that is out of the gate for no longer than this: it may take that for a bounce, and has
    /// the release time to tell.
    #[must_use]
    pub fn unseen_out(&self) -> Ms {
        if self.lever_bounce > self.lever_release { self.lever_bounce } else { self.lever_release }
    }
}
