//! The hello: everything a box is told at its start, as plain numbers with units in their names.

use crate::signal::Signal;
use crate::spec::Spec;
use crate::spec::facts::{AfterEdge, Answers, CeilingBinds, OnCause, OutOfFirst, ReArm, TakeOver, TapWiring};
use crate::spec::pedal::PedalIdentifier;
use crate::spec::vehicle::{EntryGear, GateMeans};
use serde::Serialize;

/// Version of the protocol: the first number must match, the second may be higher on the harness's side.
pub const PROTOCOL: [u32; 2] = [1, 6];

/// A line of the map: the speed at which a shift is due, at each pedal position of the map.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HelloLine {
    /// The gear left.
    pub from: u8,
    /// The gear entered.
    pub to: u8,
    /// Speeds, km/h.
    pub speed_kmh: Vec<f64>,
}

/// The shift map.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HelloMap {
    /// Pedal positions, %, rising.
    pub pedal_pct: Vec<f64>,
    /// The lines.
    pub lines: Vec<HelloLine>,
}

/// What the box is expected to answer with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum HelloAnswers {
    /// The state of each contact, every tick.
    Contacts,
    /// A wish for a shift; the harness makes the pulse.
    Requests {
        /// Width of the pulse, ms.
        width_ms: u32,
        /// Least time between pulses, ms.
        gap_ms: u32,
    },
}

/// Everything a box is told at its start.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Hello {
    /// Version of the protocol.
    pub protocol: [u32; 2],
    /// Time from one tick to the next, ms.
    pub tick_ms: u32,
    /// Signals polled over the diagnostic port.
    pub signals: Vec<Signal>,
    /// Which pedal position is polled.
    pub pedal_identifier: PedalIdentifier,
    /// What it reads with the pedal released, %.
    pub pedal_released_pct: f64,
    /// What it reads with the pedal on the floor, %; the map's positions are shares of the travel between the two.
    pub pedal_floored_pct: f64,
    /// The range of the transfer case is wired to the box.
    pub range_wired: bool,
    /// The shift map.
    pub map: HelloMap,
    /// Engagement speed ceiling, km/h.
    pub ceiling_kmh: f64,
    /// Which engagements the ceiling binds.
    pub ceiling_binds: CeilingBinds,
    /// Highest gear of the map.
    pub top_gear: u8,
    /// Lowest gear the box commands.
    pub lowest_gear: u8,
    /// Who shifts up out of first: the gearbox by itself, or the box on the line 1>2.
    pub out_of_first: OutOfFirst,
    /// What the gate does.
    pub gate: GateMeans,
    /// Which gear (or limit) holds when the lever enters the gate.
    pub entry: EntryGear,
    /// Engine speed with nothing slipping per road speed, r/min per km/h, from first gear on.
    pub rpm_per_kmh: Vec<f64>,
    /// Redline, r/min.
    pub redline_rpm: f64,
    /// The gearbox shifts down by itself near standstill.
    pub shifts_down_itself: bool,
    /// How the driver hands over.
    pub take_over: TakeOver,
    /// What arms the box again after it has disengaged.
    pub re_arm: ReArm,
    /// When the hand-over lets the box engage.
    pub after_edge: AfterEdge,
    /// What the driver's tap does.
    pub driver_tap: OnCause,
    /// What lost data does.
    pub lost_data: OnCause,
    /// How taps are wired.
    pub tap_wiring: TapWiring,
    /// What the box answers with.
    pub answers: HelloAnswers,
    /// It announces engaging and disengaging.
    pub announces: bool,
    /// All conditions hold this long before engaging, ms.
    pub conditions_held_ms: u32,
    /// After low range, in between too, no command until the range has been high this long, ms.
    pub range_high_for_ms: u32,
    /// At most this many engagements in 10 s.
    pub most_engagements: u8,
    /// No engaging sooner than this after power-up, ms.
    pub boot_quiet_ms: u32,
    /// No command comes sooner than this after engaging, ms.
    pub quiet_after_engaging_ms: u32,
    /// A lever excursion shorter than this may be bounce, ms.
    pub lever_bounce_ms: u32,
    /// Data older than this are lost, ms.
    pub data_lost_ms: u32,
    /// Each command rests on data no older than this, ms.
    pub data_fresh_ms: u32,
    /// With a gear signal: time from the end of a shift to the next command, ms.
    pub shift_settle_ms: u32,
    /// Time from one command to the next, ms.
    pub shift_blind_ms: u32,
    /// With a gear signal: a gear that hasn't come this long after its command is refused, and not sooner, ms.
    pub shift_confirmed_ms: u32,
    /// Time from one command to the opposite one, ms.
    pub opposite_dwell_ms: u32,
    /// A pedal change of this much excuses an earlier opposite command, %.
    pub opposite_pedal_pct: f64,
    /// With a closed pedal (below 3 %) and rising speed no upshift below this engine speed, r/min; absent where unstated.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub downhill_rpm: Option<f64>,
    /// Below this speed nothing is commanded but steps towards the lowest gear, km/h.
    pub standstill_kmh: f64,
    /// Speed read that falls faster is implausible, km/h per s.
    pub fall_limit_kmh_per_s: f64,
    /// Speed read that rises faster is implausible, km/h per s.
    pub rise_limit_kmh_per_s: f64,
    /// After an implausible speed no shift that it asks for until speed has been plausible this long, ms.
    pub plausible_for_ms: u32,
    /// The box is expected to notice that all it reads stands still although the engine runs.
    pub notices_stuck: bool,
    /// Within this time, ms.
    pub stuck_noticed_ms: u32,
    /// The box is expected to say which diagnostic requests it sends.
    pub sends_requests: bool,
    /// No more of them than this in a second.
    pub most_requests: u8,
    /// None later than this after ignition off, ms.
    pub sleeps_within_ms: u32,
    /// Shortest contact pulse, ms.
    pub shortest_pulse_ms: u32,
    /// Longest contact pulse, ms.
    pub longest_pulse_ms: u32,
    /// At most this many repetitions of a refused command.
    pub refused_retries: u8,
    /// At most this many further shifts after one that went the wrong way.
    pub wrong_shifts: u8,
}

impl Hello {
    /// The lowest gear out of which the box commands an upshift.
    #[must_use]
    pub fn lowest_up_from(&self) -> u8 {
        self.out_of_first.lowest_up_from(self.lowest_gear)
    }

    /// The hello for a spec.
    #[must_use]
    pub fn of(spec: &Spec) -> Self {
        let (facts, limits, gearbox) = (&spec.facts, &spec.limits, &spec.vehicle.gearbox);
        let line = |line: &crate::spec::map::Line| HelloLine {
            from: line.from,
            to: line.to,
            speed_kmh: line.speeds.iter().map(|v| v.0).collect(),
        };
        let [pedal_released_pct, pedal_floored_pct] = spec.link.pedal_stops.read_pct();
        Self {
            protocol: PROTOCOL,
            tick_ms: facts.tick.ms(),
            signals: facts.signals.polled().collect(),
            pedal_identifier: spec.link.pedal_identifier,
            pedal_released_pct,
            pedal_floored_pct,
            range_wired: facts.signals.range,
            map: HelloMap {
                pedal_pct: spec.map.pedal.iter().map(|p| p.0).collect(),
                lines: spec.map.lines.iter().map(line).collect(),
            },
            ceiling_kmh: limits.engagement_speed_ceiling.0,
            ceiling_binds: facts.ceiling_binds,
            top_gear: spec.map.top_gear(),
            lowest_gear: facts.lowest_gear,
            out_of_first: facts.out_of_first,
            gate: gearbox.gate.means,
            entry: gearbox.gate.entry,
            rpm_per_kmh: (1..=spec.gears()).map(|gear| spec.rpm_per_kmh(gear)).collect(),
            redline_rpm: spec.vehicle.engine.redline.get(),
            shifts_down_itself: gearbox.protection.down_below.is_some(),
            take_over: facts.take_over,
            re_arm: facts.re_arm,
            after_edge: facts.after_edge,
            driver_tap: facts.driver_tap,
            lost_data: facts.lost_data,
            tap_wiring: facts.tap_wiring,
            answers: match facts.answers {
                Answers::Contacts => HelloAnswers::Contacts,
                Answers::Requests { width, gap } => HelloAnswers::Requests { width_ms: width.ms(), gap_ms: gap.ms() },
            },
            announces: facts.announces,
            conditions_held_ms: limits.conditions_held.ms(),
            range_high_for_ms: limits.range_high_for.ms(),
            most_engagements: limits.most_engagements,
            boot_quiet_ms: limits.boot_quiet.ms(),
            quiet_after_engaging_ms: limits.quiet_after_engaging.ms(),
            lever_bounce_ms: limits.lever_bounce.ms(),
            data_lost_ms: limits.data_lost.ms(),
            data_fresh_ms: limits.data_fresh.ms(),
            shift_settle_ms: limits.shift_settle.ms(),
            shift_blind_ms: limits.shift_blind.ms(),
            shift_confirmed_ms: limits.shift_confirmed.ms(),
            opposite_dwell_ms: limits.opposite_dwell.ms(),
            opposite_pedal_pct: limits.opposite_pedal.0,
            downhill_rpm: limits.downhill_rpm.map(|rpm| rpm.0),
            standstill_kmh: limits.standstill.0,
            fall_limit_kmh_per_s: limits.fall_limit.0,
            rise_limit_kmh_per_s: limits.rise_limit.0,
            plausible_for_ms: limits.plausible_for.ms(),
            notices_stuck: facts.notices_stuck,
            stuck_noticed_ms: limits.stuck_noticed.ms(),
            sends_requests: facts.sends_requests,
            most_requests: limits.most_requests,
            sleeps_within_ms: limits.sleeps_within.ms(),
            shortest_pulse_ms: limits.shortest_pulse.ms(),
            longest_pulse_ms: limits.longest_pulse.ms(),
            refused_retries: limits.refused_retries,
            wrong_shifts: limits.wrong_shifts,
        }
    }
}
