//! What a maker would write in place of Sprag's own generators: the same loop and rules, driven by plain proptest
//! strategies. The baseline of the search's figures; nothing here may learn from Sprag's generators.

use proptest::prelude::*;
use proptest::sample::select;
use sprag::drive::{Beyond, Condition, Demand, Drive, Event, Happening, Start, Step, When, Which};
use sprag::signal::{Direction, Lever, Range, SIGNALS};

/// A drive of a minute, the lever into the gate after two seconds, everything else uniform; `brake` says how hard.
fn drive(brake: impl Strategy<Value = u16> + 'static) -> impl Strategy<Value = Drive> {
    let demand = prop_oneof![
        (0..=1000_u16).prop_map(Demand::Pedal),
        (0..=1000_u16).prop_map(Demand::PedalTo),
        (0..=1500_u16).prop_map(Demand::Hold),
    ];
    let step = (500..=10_000_u32, demand, brake, -100..=100_i16);
    let step = step.prop_map(|(ms, demand, brake, grade)| Step { ms: ms / 10 * 10, demand, brake, grade });
    let event = (when(), happening()).prop_map(|(when, what)| Event { when, what });
    let start = (0..=1000_u16, 1..=6_u8, any::<u64>(), 0..100_u16);
    (start, prop::collection::vec(step, 12), prop::collection::vec(event, 0..=4)).prop_map(
        |((speed, gear, link_key, poll_phase_ms), steps, mut events)| {
            // Half of them start at rest: a box may not take over fast.
            let (speed, gear) = if link_key % 2 == 0 { (0, 1) } else { (speed, gear) };
            events.push(Event { when: When::At(2000), what: Happening::Lever(Lever::Gate) });
            Drive { start: Start { speed, gear, link_key, poll_phase_ms, ..Start::default() }, steps, events }
        },
    )
}

/// All fields uniform.
pub fn uniform() -> impl Strategy<Value = Drive> {
    drive(0..=1000_u16)
}

/// The same with the foot off the brake in three steps of four.
pub fn brake_mostly_off() -> impl Strategy<Value = Drive> {
    drive(prop_oneof![3 => Just(0_u16), 1 => 0..=1000_u16])
}

fn when() -> impl Strategy<Value = When> {
    let direction = || select(vec![Direction::Up, Direction::Down]);
    let condition = prop_oneof![
        (0..=1500_u16).prop_map(Condition::SpeedAbove),
        (0..=1500_u16).prop_map(Condition::SpeedBelow),
        (1..=6_u8).prop_map(Condition::Gear),
        direction().prop_map(Condition::Closes),
        direction().prop_map(Condition::Opens),
        Just(Condition::ShiftBegins),
        Just(Condition::ShiftEnds),
    ];
    prop_oneof![
        (0..6000_u32).prop_map(|at| When::At(at * 10)),
        (condition, 0..=300_u32).prop_map(|(condition, later)| When::After(condition, later * 10)),
    ]
}

fn happening() -> impl Strategy<Value = Happening> {
    let which = || prop_oneof![Just(Which::All), select(&SIGNALS[..2]).prop_map(Which::One)];
    let levers = vec![Lever::Gate, Lever::D, Lever::N, Lever::R, Lever::P];
    let (short, long) = (|| (1..=200_u16).prop_map(|t| t * 10), || (1..=800_u32).prop_map(|t| t * 10));
    let beyond = select(vec![Beyond::Above, Beyond::Below]);
    let driver = prop_oneof![
        select(levers).prop_map(Happening::Lever),
        (select(vec![Direction::Up, Direction::Down]), short()).prop_map(|(way, ms)| Happening::Tap(way, ms)),
        select(vec![Range::Low, Range::Transit, Range::High]).prop_map(Happening::Range),
        any::<bool>().prop_map(Happening::Ignition),
        any::<bool>().prop_map(Happening::Engine),
    ];
    let vehicle = prop_oneof![
        (0..=12_000_u16, short()).prop_map(|(mv, ms)| Happening::Supply(mv, ms)),
        Just(Happening::Reset),
        short().prop_map(Happening::WheelLock),
        (0..=600_u16, short()).prop_map(|(by, ms)| Happening::WheelSpin(by, ms)),
        (1..=4_u8).prop_map(Happening::Refuse),
        short().prop_map(Happening::SlowShifts),
        (1..=6_u8).prop_map(Happening::SelfShift),
        any::<bool>().prop_map(Happening::Swapped),
    ];
    let link = prop_oneof![
        (which(), long()).prop_map(|(which, ms)| Happening::Lost(which, ms)),
        (which(), long()).prop_map(|(which, ms)| Happening::Frozen(which, ms)),
        (which(), short(), long()).prop_map(|(which, by, ms)| Happening::Delayed(which, by, ms)),
        (which(), long()).prop_map(|(which, ms)| Happening::Negative(which, ms)),
        (which(), beyond, long()).prop_map(|(which, beyond, ms)| Happening::Garbled(which, beyond, ms)),
        (which(), long()).prop_map(|(which, ms)| Happening::Duplicated(which, ms)),
        (-500..=500_i16, long()).prop_map(|(off, ms)| Happening::SecondSpeed(off, ms)),
    ];
    prop_oneof![driver, vehicle, link]
}
