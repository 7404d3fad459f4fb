//! Rules that compare two drives of one box: what counts as a difference, what is excused, and where clocks run over.

use super::data::{gives, margin, ten_seconds};
use super::made::{Made, spec};
use crate::recording::{Delivered, Recording};
use crate::rules::fed::Fed;
use crate::rules::{clock_wrap, idle_hour, order_immunity};
use crate::signal::Direction::{Down, Up};
use crate::signal::{Action, Announcement, Direction, Lever, Signal};
use crate::spec::vehicle::GateMeans;

/// A drive of 20 s in the gate, in which the contacts close at 8, 10, 12 and 14 s.
fn four_commands() -> Made {
    let mut made = Made::van();
    made.lever = Lever::Gate;
    for (at_ms, direction) in [(8000, Up), (10_000, Down), (12_000, Up), (14_000, Down)] {
        made.until(at_ms);
        made.pulse(direction, 100);
    }
    made.until(20_000);
    made
}

/// Always at 5 s; half a second after the first command, and 1.2 s after the middle one, which of four is the third.
#[test]
fn clocks_run_over_while_the_box_waits_after_a_command() {
    assert_eq!(clock_wrap::instants(&four_commands().recording), [5000, 8500, 13_200]);
    // A contact that is closed in the first row has closed before the drive: no command. Of one alone both follow.
    let mut made = Made::van();
    made.pulse(Down, 100);
    made.until(7000);
    made.pulse(Down, 100);
    made.until(20_000);
    assert_eq!(clock_wrap::instants(&made.recording), [5000, 7500, 8200]);
}

/// A drive of 20 s with the flag as given, up from one time to another, and one announcement.
fn shows(flag_ms: Option<(u32, u32)>, said_ms: &[u32]) -> Recording {
    let mut made = Made::van();
    made.run(20_000);
    for row in &mut made.recording.rows {
        row.engaged = flag_ms.map(|(from, to)| (from..to).contains(&row.t_ms));
        row.announcement = said_ms.contains(&row.t_ms).then_some(Announcement::Engaged);
    }
    made.recording
}

/// 100 ms before the box first shows itself engaged: by its flag, or by a word later than the first second, in which it
/// tells that it is up.
#[test]
fn clocks_run_over_while_the_box_is_about_to_engage() {
    let at = |flag_ms, said_ms: &[u32]| clock_wrap::instants(&shows(flag_ms, said_ms));
    assert_eq!(at(None, &[]), [5000]);
    assert_eq!(at(None, &[3000]), [5000, 2900]);
    assert_eq!(at(None, &[1000, 3000]), [5000, 2900]);
    assert_eq!(at(None, &[1010, 3000]), [5000, 910]);
    assert_eq!(at(Some((700, 9000)), &[3000]), [5000, 600]);
    assert_eq!(at(Some((4000, 9000)), &[]), [5000, 3900]);
    // Not before the drive, nor with its first row: that is another start, not a clock that runs over.
    assert_eq!(at(Some((100, 9000)), &[]), [5000]);
    assert_eq!(at(Some((110, 9000)), &[]), [5000, 10]);
}

/// 400 ms after the last answer before a silence of more than 600 ms.
#[test]
fn clocks_run_over_while_data_have_stopped_coming() {
    let silent_until = |ms: u32| {
        let mut made = Made::van();
        made.until(3000);
        made.link = [false; 2];
        made.until(ms);
        made.link = [true; 2];
        made.until(20_000);
        clock_wrap::instants(&made.recording)
    };
    // Answered last at 2900 ms, then again at 3500 or 3600 ms.
    assert_eq!(silent_until(3500), [5000]);
    assert_eq!(silent_until(3600), [5000, 3300]);
    assert_eq!(silent_until(6000), [5000, 3300]);
}

/// A clock that would run over with the last row or later runs over in no drive.
#[test]
fn clocks_run_over_within_the_drive_alone() {
    let lasts = |last_row_ms: u32| {
        let mut made = Made::van();
        made.run(last_row_ms + 10);
        clock_wrap::instants(&made.recording)
    };
    assert_eq!(lasts(5000), [0; 0]);
    assert_eq!(lasts(5010), [5000]);
}

/// The second situation: from a command to just before 2 s after it.
#[test]
fn a_clock_that_runs_over_soon_after_a_command() {
    let plain = gives(&[(3000, Up), (6500, Down)]);
    let reached = |wrap_ms: u32| {
        let measure = clock_wrap::compare(&ten_seconds(false), &plain, &[(wrap_ms, plain.clone())]);
        [measure.reached[0], measure.reached[1]]
    };
    for (wrap_ms, soon) in [(2990, 0), (3000, 1), (4990, 1), (5000, 0), (6490, 0), (6500, 1), (8490, 1), (8500, 0)] {
        assert_eq!(reached(wrap_ms), [1, soon], "{wrap_ms}");
    }
}

/// What the box gives, and says at these times; its flag, where it has one, is up between two times.
fn says(mut fed: Fed, words: &[(u32, Announcement)], flag_ms: Option<(u32, u32)>) -> Fed {
    for (at_ms, output) in &mut fed.given {
        output.announcement = words.iter().find(|(ms, _)| ms == at_ms).map(|(_, word)| *word);
        output.engaged = flag_ms.map(|(from, to)| (from..to).contains(at_ms));
    }
    fed
}

/// Announcements and the flag count as commands do: two ticks of 10 ms are free, a third is not, nor is another word.
#[test]
fn what_is_said_after_an_idle_hour_counts_as_commands_do() {
    let commands = || gives(&[(3000, Up)]);
    let compare = |short: &Fed, long: Fed| margin(&idle_hour::compare(&ten_seconds(false), short, short, &long));
    let word = |at_ms: u32, word| says(commands(), &[(at_ms, word)], None);
    let short = word(4000, Announcement::Engaged);
    assert_eq!(compare(&short, short.clone()), Some((1.0, 9990)));
    assert_eq!(compare(&short, word(4020, Announcement::Engaged)), Some((1.0, 9990)));
    assert_eq!(compare(&short, word(4030, Announcement::Engaged)), Some((-1.0, 4000)));
    assert_eq!(compare(&short, word(4000, Announcement::Fault)), Some((-1.0, 4000)));
    assert_eq!(compare(&short, commands()), Some((-1.0, 4000)));
    // A command that is missing, and the word.
    assert_eq!(compare(&short, gives(&[])), Some((-2.0, 3000)));
    let flag = |from_ms: u32, to_ms: u32| says(commands(), &[], Some((from_ms, to_ms)));
    let short = flag(4000, 6000);
    assert_eq!(compare(&short, flag(4020, 6020)), Some((1.0, 9990)));
    assert_eq!(compare(&short, flag(4000, 6030)), Some((-1.0, 6000)));
    assert_eq!(compare(&short, flag(4000, 20_000)), Some((-1.0, 6000)));
    // A box that says one thing and commands nothing shows something, too.
    let silent = says(gives(&[]), &[(4000, Announcement::Ready)], None);
    assert_eq!(compare(&silent, silent.clone()), Some((1.0, 9990)));
}

/// A box that asks for shifts instead of closing contacts commands when its wish begins.
#[test]
fn a_wish_for_a_shift_is_a_command() {
    let wishes = |commands: &[(u32, Direction)]| {
        let mut fed = gives(commands);
        for (_, output) in &mut fed.given {
            if let Action::Contacts(contacts) = output.action {
                let wish = if contacts.up { Some(Up) } else { contacts.down.then_some(Down) };
                output.action = Action::Request(wish);
            }
        }
        fed
    };
    let commands = [(3000, Up), (6000, Down), (6100, Up)];
    assert_eq!(wishes(&commands).commands(), commands);
    assert_eq!(gives(&commands).commands(), commands);
}

/// Determinism is another rule's: what the box gave in the drive itself it must give again, all of it.
#[test]
fn a_box_that_does_not_repeat_itself_is_not_compared() {
    let plain = gives(&[(3000, Up)]);
    let compare = |again: &Fed| margin(&clock_wrap::compare(&ten_seconds(false), again, &[(5000, plain.clone())]));
    assert_eq!(compare(&plain), Some((1.0, 5000)));
    let mut shorter = plain.clone();
    shorter.given.pop();
    assert_eq!(compare(&shorter), None);
    assert_eq!(compare(&Fed { silent_ms: Some(9990), ..plain.clone() }), None);
    assert_eq!(compare(&Fed { silent_ms: Some(9990), ..shorter }), None);
}

/// No drive may follow on idling that begins with the ignition off or without supply.
#[test]
fn a_drive_follows_on_idling_only_in_a_box_that_is_awake() {
    let begins = |powered: bool, ignition: bool| {
        let mut made = Made::van();
        (made.powered, made.ignition, made.speed) = (powered, ignition, 0.0);
        made.run(100);
        idle_hour::may_follow(&made.recording)
    };
    assert!(begins(true, true));
    assert!(!begins(false, true) && !begins(true, false) && !begins(false, false));
}

/// The margin and time where one command makes the difference: the box left it out because of the extra answers, or
/// gave it because of them.
fn missing(recording: &Recording, at_ms: u32, left_out: bool) -> Option<(f64, u32)> {
    let (with, without) = (gives(&[(at_ms, Up)]), gives(&[]));
    let (whole, first) = if left_out { (&without, &with) } else { (&with, &without) };
    margin(&order_immunity::compare(&spec("van.toml"), recording, whole, first, None))
}

/// A leap at 5 s excuses what comes one poll and two ticks before it, 120 ms, to half a second, in which a speed must
/// be plausible, and 3 s of doubt after it.
#[test]
fn a_leap_excuses_for_its_time_of_doubt() {
    let leapt = ten_seconds(true);
    for left_out in [true, false] {
        for (at_ms, excused) in [(4870, false), (4880, true), (5000, true), (8500, true), (8510, false)] {
            let expected = if excused { (1.0, 9990) } else { (-1.0, at_ms) };
            assert_eq!(missing(&leapt, at_ms, left_out), Some(expected), "{at_ms} {left_out}");
        }
        // The recording ends at 9990 ms: at 9870 ms and later the counterpart may lie behind its end.
        assert_eq!(missing(&leapt, 9860, left_out), Some((-1.0, 9860)));
        assert_eq!(missing(&leapt, 9870, left_out), Some((1.0, 9990)));
    }
}

/// Between two answers 100 ms apart a speed may fall by 40 km/h/s and rise by 25 km/h/s, and two counts of rounding
/// besides: by 6 and by 4.5 km/h.
#[test]
fn what_is_a_leap_of_the_speed() {
    let excused = |from_kmh: f64, to_kmh: f64| {
        let mut made = Made::van();
        (made.speed, made.pedal) = (from_kmh, 60.0);
        made.until(5000);
        made.speed = to_kmh;
        made.until(10_000);
        [true, false].map(|left_out| missing(&made.recording, 6000, left_out).is_some_and(|(margin, _)| margin > 0.0))
    };
    for (from, to, leap) in
        [(50.0, 50.0, false), (50.0, 54.0, false), (50.0, 55.0, true), (50.0, 44.0, false), (50.0, 43.0, true)]
    {
        assert_eq!(excused(from, to), [leap; 2], "{from} to {to}");
    }
    // A pedal leaps as it likes.
    let mut made = Made::van();
    made.until(5000);
    made.pedal = 90.0;
    made.until(10_000);
    assert_eq!(missing(&made.recording, 6000, true), Some((-1.0, 6000)));
}

/// The link is lost from 4 s to 5.5 s; an answer that comes again at 4.4 s is all that the box reads meanwhile. Without it
/// the data are old half a second sooner, which may end or prevent what follows.
#[test]
fn answers_that_alone_keep_the_data_fresh_are_no_extras() {
    let spec = spec("van.toml");
    let lost = |again: bool| {
        let mut made = Made::van();
        made.until(4000);
        made.link = [false; 2];
        made.until(5500);
        made.link = [true; 2];
        made.until(10_000);
        let at = made.recording.delivered.iter().position(|d| d.arrived_ms > 4000).unwrap();
        let last = made.recording.delivered[at - 1];
        if again {
            made.recording.delivered.insert(at, Delivered { arrived_ms: 4400, ..last });
        }
        made.recording
    };
    let at = |again: bool, ms: u32| {
        margin(&order_immunity::compare(&spec, &lost(again), &gives(&[(ms, Up)]), &gives(&[]), None))
    };
    // The other way round, a command that comes only without them.
    let only_without =
        |ms: u32| margin(&order_immunity::compare(&spec, &lost(true), &gives(&[]), &gives(&[(ms, Up)]), None));
    assert_eq!((only_without(4390), only_without(4400)), (Some((-1.0, 4390)), Some((1.0, 9990))));
    assert_eq!(at(true, 4390), Some((-1.0, 4390)));
    assert_eq!(at(true, 4400), Some((1.0, 9990)));
    assert_eq!(at(true, 7000), Some((1.0, 9990)));
    assert_eq!(at(false, 7000), Some((-1.0, 7000)));
}

/// No speed and no pedal come after 3.9 s; a gear comes again at 4.2 s. It keeps neither fresh, so that it is an extra like
/// any other. A speed that comes again does, where the others come 600 ms after the last; 500 ms is fresh.
#[test]
fn only_a_speed_or_pedal_keeps_itself_fresh_and_only_where_the_others_are_old() {
    let missing = |again: Signal, lost_until_ms: u32| {
        let mut made = Made::van();
        made.gear_read = Some(2.0);
        made.until(4000);
        (made.link, made.gear_read) = ([false; 2], None);
        made.until(lost_until_ms);
        (made.link, made.gear_read) = ([true; 2], Some(2.0));
        made.until(10_000);
        let delivered = &mut made.recording.delivered;
        let at = delivered.iter().position(|d| d.arrived_ms > 4000).unwrap();
        let last = *delivered[..at].iter().rfind(|d| d.answer.signal == again).unwrap();
        delivered.insert(at, Delivered { arrived_ms: 4200, ..last });
        missing(&made.recording, 7000, true)
    };
    let (counts, does_not) = (Some((-1.0, 7000)), Some((1.0, 9990)));
    assert_eq!((missing(Signal::Gear, 4400), missing(Signal::Gear, 4500)), (counts, counts));
    for again in [Signal::Speed, Signal::Pedal] {
        assert_eq!((missing(again, 4400), missing(again, 4500)), (counts, does_not), "{again:?}");
    }
}

/// A gear told at 5 s is overtaken. Under a limit a box may take it for a limit that is higher for as long as it drives; a
/// gear that is held is told again, and after 3 s of doubt and 500 ms of plausibility counts for nothing.
#[test]
fn an_overtaken_gear_misleads_for_longer_under_a_limit() {
    let at = |means: GateMeans, ms: u32| {
        let mut spec = spec("van.toml");
        spec.vehicle.gearbox.gate.means = means;
        spec.facts.signals.gear = true;
        let mut made = Made::of(spec);
        made.gear_read = Some(2.0);
        made.until(10_000);
        let gear = |d: &Delivered| d.answer.signal == Signal::Gear;
        let told: Vec<usize> =
            (0..made.recording.delivered.len()).filter(|&at| gear(&made.recording.delivered[at])).collect();
        let late = told.iter().position(|&at| made.recording.delivered[at].arrived_ms >= 5000).expect("told all along");
        made.recording.delivered[told[late]].sampled_ms = made.recording.delivered[told[late - 2]].sampled_ms + 1;
        margin(&order_immunity::compare(&made.spec, &made.recording, &gives(&[(ms, Up)]), &gives(&[]), None))
    };
    assert_eq!(at(GateMeans::HeldGear, 4000), Some((-1.0, 4000)));
    assert_eq!(at(GateMeans::RangeLimit, 4000), Some((-1.0, 4000)));
    assert_eq!(at(GateMeans::HeldGear, 9500), Some((-1.0, 9500)));
    assert_eq!(at(GateMeans::RangeLimit, 9500), Some((1.0, 9990)));
}
