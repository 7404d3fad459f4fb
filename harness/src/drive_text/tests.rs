use super::*;
use proptest::prelude::*;

fn event(text: &str) -> Event {
    parse_event(text).unwrap_or_else(|why| panic!("{why}"))
}

#[test]
fn steps_read_as_a_driver_would_say_them() {
    let cases = [
        ("12.5 s: pedal 35 %", Step { ms: 12_500, demand: Demand::Pedal(350), brake: 0, grade: 0 }),
        (
            "3 s: pedal to 100 %, brake 20 %, grade 6 %",
            Step { ms: 3000, demand: Demand::PedalTo(1000), brake: 200, grade: 60 },
        ),
        ("60 s: hold 51 km/h, grade -4.5 %", Step { ms: 60_000, demand: Demand::Hold(510), brake: 0, grade: -45 }),
        (
            "60 s: pedal 20 % and 0 % in turn every 1.5 s",
            Step { ms: 60_000, demand: Demand::InTurn(200, 0, 1500), brake: 0, grade: 0 },
        ),
        ("250 ms: cruise 80.5 km/h", Step { ms: 250, demand: Demand::Cruise(805), brake: 0, grade: 0 }),
    ];
    for (text, step) in cases {
        assert_eq!(parse_step(text), Ok(step));
        assert_eq!(step_text(&step), text);
    }
}

#[test]
fn every_event_reads_as_a_driver_would_say_it() {
    let after = |condition, ms, what| Event { when: When::After(condition, ms), what };
    let at = |ms, what| Event { when: When::At(ms), what };
    let cases = [
        ("at 500 ms: lever gate", at(500, Happening::Lever(Lever::Gate))),
        (
            "at 1 s: lever gate and D in turn every 500 ms for 8 s",
            at(1000, Happening::LeverInTurn(Lever::Gate, Lever::D, 500, 8000)),
        ),
        (
            "200 ms after speed above 50 km/h: tap down for 100 ms",
            after(Condition::SpeedAbove(500), 200, Happening::Tap(Direction::Down, 100)),
        ),
        ("at once after down closes: reset", after(Condition::Closes(Direction::Down), 0, Happening::Reset)),
        (
            "1.05 s after up opens: range low",
            after(Condition::Opens(Direction::Up), 1050, Happening::Range(Range::Low)),
        ),
        (
            "10 ms after speed below 3.5 km/h: ignition off",
            after(Condition::SpeedBelow(35), 10, Happening::Ignition(false)),
        ),
        ("at once after gear 3: engine stalls", after(Condition::Gear(3), 0, Happening::Engine(false))),
        ("at once after shift begins: engine starts", after(Condition::ShiftBegins, 0, Happening::Engine(true))),
        ("at once after shift ends: button for 300 ms", after(Condition::ShiftEnds, 0, Happening::Button(300))),
        ("at 0 ms: supply 6.25 V for 100 ms", at(0, Happening::Supply(6250, 100))),
        ("at 61 s: lose speed for 1.5 s", at(61_000, Happening::Lost(Which::One(Signal::Speed), 1500))),
        ("at 1 s: freeze pedal for 2 s", at(1000, Happening::Frozen(Which::One(Signal::Pedal), 2000))),
        ("at 1 s: delay engine speed by 300 ms for 2 s", {
            at(1000, Happening::Delayed(Which::One(Signal::EngineSpeed), 300, 2000))
        }),
        ("at 1 s: negative answers to gear for 2 s", at(1000, Happening::Negative(Which::One(Signal::Gear), 2000))),
        ("at 1 s: double answers to all signals for 2 s", at(1000, Happening::Duplicated(Which::All, 2000))),
        ("at 1 s: second responder off by +12 km/h for 2 s", at(1000, Happening::SecondSpeed(120, 2000))),
        ("at 1 s: second responder off by -0.5 km/h for 2 s", at(1000, Happening::SecondSpeed(-5, 2000))),
        ("at 1 s: wheels lock for 2 s", at(1000, Happening::WheelLock(2000))),
        ("at 1 s: wheels spin by 40 km/h for 2 s", at(1000, Happening::WheelSpin(400, 2000))),
        ("at 1 s: gearbox refuses 1 tap", at(1000, Happening::Refuse(1))),
        ("at 1 s: gearbox refuses 255 taps", at(1000, Happening::Refuse(255))),
        ("at 1 s: shifts take 700 ms longer", at(1000, Happening::SlowShifts(700))),
        ("at 1 s: gearbox shifts to 3 by itself", at(1000, Happening::SelfShift(3))),
        ("at 1 s: gearbox takes taps the other way round", at(1000, Happening::Swapped(true))),
        ("at 1 s: speed reads 8 % too high", at(1000, Happening::SpeedOff(80))),
        ("at 1 s: speed reads 0.5 % too low", at(1000, Happening::SpeedOff(-5))),
        ("at 1 s: speed reads right", at(1000, Happening::SpeedOff(0))),
        ("at 1 s: gearbox takes taps the right way", at(1000, Happening::Swapped(false))),
    ];
    for (text, wanted) in cases {
        assert_eq!(event(text), wanted);
        assert_eq!(event_text(&wanted), text);
    }
}

#[test]
fn other_spellings_of_a_number_read_the_same() {
    assert_eq!(parse_step("0.1 min:pedal  35.0%"), parse_step("6 s: pedal 35 %"));
    assert_eq!(event("at 0.5 s: supply 6000 mV for 0.1 s"), event("at 500 ms: supply 6 V for 100 ms"));
}

#[test]
fn a_wrong_text_is_told_what_would_be_right() {
    for (text, say) in [
        ("pedal 35 %", "has no colon"),
        (": pedal 35 %", "\"\" is no time: write for example \"12.5 s\""),
        ("12,5 s: pedal 35 %", "\"12,5 s\" has a comma: decimals follow a point"),
        ("12: pedal 35 %", "\"12\" has no unit"),
        ("2 h: pedal 35 %", "\"h\" is no unit of time here"),
        ("-1 s: pedal 35 %", "\"-1 s\" is out of range"),
        ("1.0001 s: pedal 35 %", "finer than 1 ms"),
        ("1 s: pedal 35.25 %", "finer than 0.1 %"),
        ("1 s: pedal 35", "\"35\" has no unit"),
        ("1 s: hold 30 mph", "\"mph\" is no unit of speed here: write for example \"51 km/h\""),
        ("1 s: throttle 35 %", "nothing a driver's foot does"),
        ("1 s:", "nothing a driver's foot does"),
        ("1 s: pedal 35 %, clutch 3 %", "\"clutch 3 %\" is neither brake nor grade"),
        ("1 s: pedal 35 %, brake 3 %, brake 4 %", "gives the brake twice"),
        ("99999999999999999999999 s: pedal 35 %", "is no time"),
        ("9999999999 s: pedal 35 %", "out of range"),
    ] {
        let why = parse_step(text).unwrap_err();
        assert!(why.contains(say), "{text}: {why}");
    }
    for (text, say) in [
        ("lever gate", "has no colon"),
        ("soon: lever gate", "doesn't say when"),
        ("at 1 s: lever S", "\"S\" is no lever position: write P, R, N, D or gate"),
        ("at 1 s: lever d", "\"d\" is no lever position"),
        ("at 1 s: range mid", "high, transit or low"),
        ("at 1 s: tap left for 100 ms", "\"left\" is no direction"),
        ("at 1 s: tap up", "doesn't say for how long"),
        ("at 1 s: tap up for 100 s", "out of range"),
        ("at 1 s: lose rpm for 1 s", "\"rpm\" is no signal"),
        ("at 1 s: delay speed for 1 s", "nothing that can happen"),
        ("at 1 s: explode", "nothing that can happen"),
        ("at 1 s: gearbox refuses many taps", "\"many\" is no number of taps"),
        ("1 s after noon: reset", "\"noon\" is no condition"),
        ("after gear 3: reset", "\"\" is no time"),
        ("1 s after gear three: reset", "\"three\" is no gear"),
    ] {
        let why = parse_event(text).unwrap_err();
        assert!(why.contains(say), "{text}: {why}");
    }
}

#[test]
fn what_is_usual_at_the_start_stays_unsaid() {
    assert_eq!(start_text(&Start::default()), "0 km/h, gear 1, lever D");
    let start = Start {
        speed: 205,
        gear: 2,
        lever: Lever::Gate,
        range: Range::Low,
        clock_ms: 1 << 32,
        poll_phase_ms: 13,
        link_key: 255,
        grip: 30,
    };
    assert_eq!(
        start_text(&start),
        "20.5 km/h, gear 2, lever gate, range low, grip 0.3, clock at 4294967296 ms, first request after 13 ms, link \
         key 0xff"
    );
}

fn signals() -> impl Strategy<Value = Which> {
    prop_oneof![Just(Which::All), prop::sample::select(&crate::signal::SIGNALS[..]).prop_map(Which::One)]
}

fn happenings() -> impl Strategy<Value = Happening> {
    let direction = || prop::sample::select(&[Direction::Up, Direction::Down][..]);
    prop_oneof![
        (direction(), any::<u16>()).prop_map(|(d, ms)| Happening::Tap(d, ms)),
        any::<(u16, u16)>().prop_map(|(mv, ms)| Happening::Supply(mv, ms)),
        (signals(), any::<u32>()).prop_map(|(w, ms)| Happening::Lost(w, ms)),
        (signals(), any::<u16>(), any::<u32>()).prop_map(|(w, by, ms)| Happening::Delayed(w, by, ms)),
        any::<(i16, u32)>().prop_map(|(off, ms)| Happening::SecondSpeed(off, ms)),
        any::<(u16, u16)>().prop_map(|(by, ms)| Happening::WheelSpin(by, ms)),
        any::<u8>().prop_map(Happening::Refuse),
        any::<u16>().prop_map(Happening::SlowShifts),
        any::<u8>().prop_map(Happening::SelfShift),
        (any::<u16>(), any::<u32>()).prop_map(|(every, ms)| Happening::LeverInTurn(Lever::Gate, Lever::D, every, ms)),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 500, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn every_step_reads_back(ms: u32, kind in 0..5, number: u16, brake: u16, grade: i16) {
        let demand = match kind {
            0 => Demand::Pedal(number),
            1 => Demand::PedalTo(number),
            2 => Demand::InTurn(number, number / 2, number),
            3 => Demand::Hold(number),
            _ => Demand::Cruise(number),
        };
        let step = Step { ms, demand, brake, grade };
        prop_assert_eq!(parse_step(&step_text(&step)), Ok(step));
    }

    #[test]
    fn every_event_reads_back(ms: u32, speed: u16, gear: u8, kind in 0..4, what in happenings()) {
        let when = match kind {
            0 => When::At(ms),
            1 => When::After(Condition::SpeedAbove(speed), ms),
            2 => When::After(Condition::Gear(gear), ms),
            _ => When::After(Condition::Opens(Direction::Up), ms),
        };
        let event = Event { when, what };
        prop_assert_eq!(parse_event(&event_text(&event)), Ok(event));
    }

    #[test]
    fn no_text_makes_a_reader_panic(text in "\\PC{0,40}", words in "((at|after|for|once|1 s|lever|tap|gear|:|,|%| )){0,10}") {
        for text in [text, words] {
            let _ = (parse_step(&text), parse_event(&text));
        }
    }
}
