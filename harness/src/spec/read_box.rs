//! Reads what the maker declares: box facts, limits, link and runs.

use super::facts::{
    AfterEdge, Answers, BoxFacts, CeilingBinds, MapFrom, OnCause, OutOfFirst, ReArm, Signals, TakeOver, TapWiring,
};
use super::limits::Limits;
use super::link::{Link, MOST_ORDER_EVENTS, Rounding, Run, SpeedSource};
use super::pedal::{LEAST_TRAVEL, PedalIdentifier, PedalStops};
use super::reader::Table;
use super::terms;
use crate::units::{Kmh, Ms, Rpm};
use std::collections::BTreeMap;

/// Reads the box; `gears` is the number of forward gears, where the vehicle could be read.
pub fn facts(t: &Table<'_>, gears: Option<u8>) -> Option<BoxFacts> {
    let name = t.text("name", true);
    let tick = t.or("tick", 1.0..=20.0, Ms::new(10.0));
    let s = t.table_or_empty("signals");
    let signals = Signals {
        engine_speed: s.flag("engine-speed", false),
        gear: s.flag("gear", false),
        // A box that should see the range and doesn't must not pass by a default.
        range: s.flag("range", true),
    };
    s.done();
    let take_over = t.pick("take-over", &[("lever", TakeOver::Lever), ("button", TakeOver::Button)], None);
    let arms = [("take-over", ReArm::TakeOver), ("back-in-gate", ReArm::BackInGate)];
    let re_arm = t.pick("re-arm", &arms, Some(ReArm::TakeOver));
    if take_over == Some(TakeOver::Lever) && re_arm == Some(ReArm::BackInGate) {
        t.fail("re-arm", "a box that takes over by the lever is armed by the lever anyhow: `re-arm = \"back-in-gate\"` is for one with a button");
    }
    let after_edge =
        t.pick_or("after-edge", &[("any-time", AfterEdge::AnyTime)], &["within-ms"], Some(AfterEdge::AnyTime), |e| {
            millis(e, "within-ms", 1).map(AfterEdge::WithinMs)
        });
    let binds = [("every", CeilingBinds::Every), ("first", CeilingBinds::First)];
    let ceiling_binds = t.pick("ceiling-binds", &binds, Some(CeilingBinds::Every));
    let driver_tap = on_cause(t, "driver-tap");
    let lost_data = on_cause(t, "lost-data");
    let wirings = [("separate", TapWiring::Separate), ("shared", TapWiring::Shared)];
    let tap_wiring = t.pick("tap-wiring", &wirings, None);
    let answers =
        t.pick_or("answers", &[("contacts", Answers::Contacts)], &["requests"], Some(Answers::Contacts), |a| {
            let r = a.table("requests")?;
            let (width, gap) = (r.must("width", 1.0..=2_000.0), r.must("gap", 1.0..=5_000.0));
            r.done();
            Some(Answers::Requests { width: width?, gap: gap? })
        });
    let announces = t.flag("announces", false);
    let highest_lowest = i64::from(gears.unwrap_or(10)) - 1;
    let lowest_gear = t.byte("lowest-gear", 2..=highest_lowest, None);
    let out_of_first = out_of_first(t, signals, lowest_gear);
    let notices_stuck = t.flag("notices-stuck", false);
    if notices_stuck && !signals.engine_speed {
        t.fail("notices-stuck", "`notices-stuck` needs a witness: without `engine-speed` in `signals` a constant speed can't be told from a stuck one");
    }
    let sends_requests = t.flag("sends-requests", false);
    // A box with a map of its own can't show what it does with a bad one: unless it says otherwise, nothing is asked.
    let map_from = t.pick("map-from", &[("hello", MapFrom::Hello), ("own", MapFrom::Own)], Some(MapFrom::Own));
    Some(BoxFacts {
        name: name?.to_owned(),
        tick,
        signals,
        take_over: take_over?,
        re_arm: re_arm?,
        after_edge: after_edge?,
        ceiling_binds: ceiling_binds?,
        driver_tap: driver_tap?,
        lost_data: lost_data?,
        tap_wiring: tap_wiring?,
        answers: answers?,
        announces,
        lowest_gear: lowest_gear?,
        out_of_first: out_of_first?,
        notices_stuck,
        sends_requests,
        map_from: map_from?,
    })
}

fn out_of_first(t: &Table<'_>, signals: Signals, lowest_gear: Option<u8>) -> Option<OutOfFirst> {
    let whose = [("by-itself", OutOfFirst::ByItself), ("commanded", OutOfFirst::Commanded)];
    let out_of_first = t.pick("out-of-first", &whose, Some(OutOfFirst::ByItself));
    if out_of_first == Some(OutOfFirst::Commanded) {
        if !signals.gear {
            t.fail("out-of-first", "a box that commands out of first must read the `gear` (in `signals`): nothing else tells it that the gearbox has gone down to first");
        }
        if lowest_gear.is_some_and(|lowest| lowest > 2) {
            t.fail(
                "out-of-first",
                "out of first it goes into second: `out-of-first = \"commanded\"` needs `lowest-gear = 2`",
            );
        }
    }
    out_of_first
}

fn on_cause(t: &Table<'_>, key: &'static str) -> Option<OnCause> {
    t.pick_or(key, &[("disengages", OnCause::Disengages)], &["pauses-ms"], None, |p| {
        millis(p, "pauses-ms", 0).map(OnCause::PausesMs)
    })
}

fn millis(t: &Table<'_>, key: &'static str, least: i64) -> Option<u32> {
    t.integer(key, least..=600_000, None).and_then(|ms| u32::try_from(ms).ok())
}

/// Times of limits, ms.
const TIME: std::ops::RangeInclusive<f64> = 0.0..=60_000.0;

/// Reads the limits; `redline` is the engine's, where the vehicle could be read.
pub fn limits(t: &Table<'_>, redline: Option<Rpm>) -> Option<Limits> {
    let ceiling = t.stated("engagement-speed-ceiling", 0.0..=255.0);
    let rpm_floor = t.stated("rpm-floor", 300.0..=15_000.0);
    let hunting_reversals = t.byte("hunting-reversals", 0..=100, Some(1));
    let d = Limits::stated(ceiling.unwrap_or(Kmh(0.0)), rpm_floor.unwrap_or(Rpm(0.0)));
    let limits = Limits {
        engagement_speed_ceiling: d.engagement_speed_ceiling,
        rpm_floor: d.rpm_floor,
        redline_guard: t.or("redline-guard", 0.0..=5_000.0, d.redline_guard),
        conditions_held: t.or("conditions-held", TIME, d.conditions_held),
        engages_within: t.or("engages-within", TIME, d.engages_within),
        lever_bounce: t.or("lever-bounce", TIME, d.lever_bounce),
        tap_release: t.or("tap-release", TIME, d.tap_release),
        lever_release: t.or("lever-release", TIME, d.lever_release),
        range_release: t.or("range-release", TIME, d.range_release),
        range_high_for: t.or("range-high-for", TIME, d.range_high_for),
        data_lost: t.or("data-lost", 1.0..=60_000.0, d.data_lost),
        data_release: t.or("data-release", TIME, d.data_release),
        data_fresh: t.or("data-fresh", 1.0..=60_000.0, d.data_fresh),
        shift_settle: t.or("shift-settle", TIME, d.shift_settle),
        shift_blind: t.or("shift-blind", TIME, d.shift_blind),
        opposite_dwell: t.or("opposite-dwell", TIME, d.opposite_dwell),
        opposite_pedal: t.or("opposite-pedal", 0.0..=100.0, d.opposite_pedal),
        hunting_window: t.or("hunting-window", 1.0..=60_000.0, d.hunting_window),
        hunting_reversals: hunting_reversals.unwrap_or(d.hunting_reversals),
        standstill: t.or("standstill", 0.0..=30.0, d.standstill),
        fall_limit: t.or("fall-limit", 1.0..=1_000.0, d.fall_limit),
        rise_limit: t.or("rise-limit", 1.0..=1_000.0, d.rise_limit),
        longest_pulse: t.or("longest-pulse", 1.0..=10_000.0, d.longest_pulse),
        shortest_pulse: t.or("shortest-pulse", 1.0..=10_000.0, d.shortest_pulse),
        quiet_after_engaging: t.or("quiet-after-engaging", TIME, d.quiet_after_engaging),
        entry_step: t.or("entry-step", TIME, d.entry_step),
        most_engagements: t.byte("most-engagements", 0..=100, Some(d.most_engagements)).unwrap_or(d.most_engagements),
        cause_window: t.or("cause-window", TIME, d.cause_window),
        contacts_open: t.or("contacts-open", TIME, d.contacts_open),
        boot_quiet: t.or("boot-quiet", TIME, d.boot_quiet),
        boot_ready: t.or("boot-ready", TIME, d.boot_ready),
        plausible_for: t.or("plausible-for", TIME, d.plausible_for),
        stuck_noticed: t.or("stuck-noticed", 1.0..=60_000.0, d.stuck_noticed),
        most_requests: t.byte("most-requests", 1..=255, Some(d.most_requests)).unwrap_or(d.most_requests),
        sleeps_within: t.or("sleeps-within", 0.0..=600_000.0, d.sleeps_within),
        pulse_gap: t.or("pulse-gap", 0.0..=10_000.0, d.pulse_gap),
        cascade_steps: t.byte("cascade-steps", 1..=20, Some(d.cascade_steps)).unwrap_or(d.cascade_steps),
        cascade_window: t.or("cascade-window", TIME, d.cascade_window),
        shift_confirmed: t.or("shift-confirmed", TIME, d.shift_confirmed),
        refused_retries: t.byte("refused-retries", 0..=20, Some(d.refused_retries)).unwrap_or(d.refused_retries),
        wrong_shifts: t.byte("wrong-shifts", 0..=20, Some(d.wrong_shifts)).unwrap_or(d.wrong_shifts),
        count_settles: t.or("count-settles", TIME, d.count_settles),
        grip_needed: t.or("grip-needed", 1.0..=200.0, d.grip_needed),
        lugging_rpm: t.or("lugging-rpm", 300.0..=15_000.0, d.lugging_rpm),
        lugging_load: t.or("lugging-load", 0.0..=100.0, d.lugging_load),
        lugging_for: t.or("lugging-for", TIME, d.lugging_for),
        busy_shifts: t.byte("busy-shifts", 1..=255, Some(d.busy_shifts)).unwrap_or(d.busy_shifts),
        dither_shifts: t.byte("dither-shifts", 0..=20, Some(d.dither_shifts)).unwrap_or(d.dither_shifts),
        response_updates: t.byte("response-updates", 1..=100, Some(d.response_updates)).unwrap_or(d.response_updates),
        settles_within: t.or("settles-within", TIME, d.settles_within),
        settles_step: t.or("settles-step", TIME, d.settles_step),
        light_pedal: t.or("light-pedal", 0.0..=100.0, d.light_pedal),
        coast_window: t.or("coast-window", 0.0..=100.0, d.coast_window),
        kickdown_pedal: t.or("kickdown-pedal", 1.0..=100.0, d.kickdown_pedal),
        kickdown_updates: t.byte("kickdown-updates", 1..=100, Some(d.kickdown_updates)).unwrap_or(d.kickdown_updates),
        kickdown_hold: t.or("kickdown-hold", TIME, d.kickdown_hold),
        announced_within: t.or("announced-within", TIME, d.announced_within),
        most_announcements: t
            .byte("most-announcements", 1..=255, Some(d.most_announcements))
            .unwrap_or(d.most_announcements),
        downhill_rpm: t.may("downhill-rpm", 300.0..=15_000.0),
    };
    if limits.shortest_pulse > limits.longest_pulse {
        let (short, long) = (limits.shortest_pulse, limits.longest_pulse);
        t.fail("shortest-pulse", &format!("`shortest-pulse` ({short}) is longer than `longest-pulse` ({long})"));
    }
    if let (Some(floor), Some(redline)) = (rpm_floor, redline)
        && floor.0 + limits.redline_guard.0 >= redline.0
    {
        let guard = limits.redline_guard;
        t.fail("rpm-floor", &format!("no engine speed is left between `rpm-floor` ({floor}) and the redline ({redline}) less `redline-guard` ({guard})"));
    }
    ceiling.and(rpm_floor)?;
    Some(limits)
}

/// Reads the link.
pub fn link(t: &Table<'_>, tick: Ms) -> Option<Link> {
    let period = t.or("period", 1.0..=10_000.0, Ms::new(100.0));
    let answer_least = t.or("answer-least", 0.0..=5_000.0, Ms::new(5.0));
    let answer_most = t.or("answer-most", 0.0..=5_000.0, Ms::new(50.0));
    let roundings = [("floor", Rounding::Floor), ("nearest", Rounding::Nearest)];
    let speed_rounding = t.pick("speed-rounding", &roundings, Some(Rounding::Floor));
    let sources = [
        ("all-wheels", SpeedSource::AllWheels),
        ("driven-axle", SpeedSource::DrivenAxle),
        ("output-shaft", SpeedSource::OutputShaft),
    ];
    let speed_source = t.pick("speed-source", &sources, Some(SpeedSource::AllWheels));
    let identifiers = [("d", PedalIdentifier::D), ("e", PedalIdentifier::E), ("relative", PedalIdentifier::Relative)];
    let pedal_identifier = t.pick("pedal-identifier", &identifiers, Some(PedalIdentifier::D));
    let pedal_stops = pedal_stops(t, pedal_identifier);
    if period < tick {
        t.fail("period", &format!("`period` ({period}) is shorter than the box's tick ({tick})"));
    }
    if answer_least > answer_most {
        t.fail(
            "answer-least",
            &format!("`answer-least` ({answer_least}) is longer than `answer-most` ({answer_most})"),
        );
    }
    Some(Link {
        period,
        answer_least,
        answer_most,
        speed_rounding: speed_rounding?,
        speed_source: speed_source?,
        pedal_identifier: pedal_identifier?,
        pedal_stops: pedal_stops?,
    })
}

fn pedal_stops(t: &Table<'_>, identifier: Option<PedalIdentifier>) -> Option<PedalStops> {
    let s = t.table_or_empty("pedal-stops");
    let whole = PedalStops::WHOLE;
    let stops = (s.byte("released", 0..=255, Some(whole.released)), s.byte("floored", 0..=255, Some(whole.floored)));
    let read = if let (Some(released), Some(floored)) = stops {
        if i32::from(floored) - i32::from(released) < i32::from(LEAST_TRAVEL) {
            let key = if s.has("floored") { "floored" } else { "released" };
            s.fail(
                key,
                &format!("`floored` ({floored}) must be at least {LEAST_TRAVEL} codes above `released` ({released})"),
            );
        }
        if identifier == Some(PedalIdentifier::Relative) && released > 0 {
            s.fail("released", "the relative pedal position counts from the released stop: `released` must be 0");
        }
        Some(PedalStops { released, floored })
    } else {
        None
    };
    s.done();
    read
}

/// The run for every commit, and what other runs default to.
fn commit() -> Run {
    Run {
        random_drives: 2_400,
        search_drives: 1_200,
        order_events: 0,
        seed: 1,
        drive_length: Ms::new(90_000.0),
        must_reach: None,
        shrink_drives: 2800,
        top_speed: Kmh(130.0),
    }
}

/// Reads the runs: `commit`, `release` and `nightly` are always there, and may be changed or joined by others.
pub fn runs(t: &Table<'_>) -> BTreeMap<String, Run> {
    let of = |random_drives, order_events| {
        let search_drives = random_drives / 2;
        Run { random_drives, search_drives, order_events, ..commit() }
    };
    let mut runs = BTreeMap::from([
        ("commit".to_owned(), commit()),
        ("release".to_owned(), of(20_000, 3)),
        ("nightly".to_owned(), of(100_000, 4)),
    ]);
    let named = t.entries();
    if named.len() > 32 {
        t.fail("", &format!("{} runs: at most 32 are read", named.len()));
        return runs;
    }
    for (name, part) in named {
        let default = runs.get(name).cloned().unwrap_or_else(commit);
        let read = run(&part, &default);
        part.done();
        if let Some(read) = read {
            runs.insert(name.to_owned(), read);
        }
    }
    runs
}

fn run(t: &Table<'_>, default: &Run) -> Option<Run> {
    let random_drives = t.integer("random-drives", 0..=10_000_000, Some(default.random_drives.into()));
    let search_drives = t.integer("search-drives", 0..=10_000_000, Some(default.search_drives.into()));
    let order_events = t.integer("order-events", 0..=MOST_ORDER_EVENTS.into(), Some(default.order_events.into()));
    // TOML's whole numbers end at 2^63 − 1.
    let seed = t.integer("seed", 0..=i64::MAX, i64::try_from(default.seed).ok());
    let drive_length = t.or("drive-length", 1_000.0..=3_600_000.0, default.drive_length);
    let must_reach = t.list("must-reach", "string", 200, false).map(|rules| terms::rule_names(t, "must-reach", rules));
    let shrink_drives = t.integer("shrink-drives", 0..=1_000_000, Some(default.shrink_drives.into()));
    let top_speed = t.or("top-speed", 10.0..=255.0, default.top_speed);
    Some(Run {
        random_drives: u32::try_from(random_drives?).ok()?,
        search_drives: u32::try_from(search_drives?).ok()?,
        order_events: u8::try_from(order_events?).ok()?,
        seed: u64::try_from(seed?).ok()?,
        drive_length,
        must_reach: must_reach.or_else(|| default.must_reach.clone()),
        shrink_drives: u32::try_from(shrink_drives?).ok()?,
        top_speed,
    })
}
