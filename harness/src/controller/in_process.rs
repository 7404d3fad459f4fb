//! Controllers in the harness's own process: the maker's Rust, and the reference with its seeded faults.

use super::hello::Hello;
use super::reference::{FAULTS, Fault, Firmware, Reference, SECOND_FAULTS};
use super::{Controller, NotStarted, Port, Source};
use crate::recording::Silence;
use crate::signal::{Answer, Inputs, Output, Request};
use crate::spec::Spec;
use std::cell::{Cell, RefCell};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Once;

/// A source that makes controllers with a function: `InProcess("my box", |spec| Box::new(MyBox::new(spec)))`.
pub struct InProcess<F>(pub String, pub F);

impl<F: Fn(&Spec) -> Box<dyn Controller> + Sync> Source for InProcess<F> {
    fn start(&self, spec: &Spec) -> Result<Box<dyn Port>, NotStarted> {
        match guarded(|| (self.1)(spec)) {
            Ok(controller) => Ok(guard(controller)),
            Err(message) => Err(NotStarted(format!("{} panicked at its start: {message}", self.0))),
        }
    }

    fn name(&self) -> String {
        self.0.clone()
    }
}

/// The reference, or one of its seeded faults.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Builtin {
    /// The fault; none for the reference itself.
    pub fault: Option<Fault>,
}

/// How built-in controllers are named: `builtin:reference`, `builtin:no-dwell`.
pub const BUILTIN: &str = "builtin:";

impl Builtin {
    /// The built-in controller of a name, with or without its `builtin:`.
    ///
    /// # Errors
    /// A sentence with the nearest names.
    pub fn named(name: &str) -> Result<Self, String> {
        let short = name.strip_prefix(BUILTIN).unwrap_or(name);
        if short == "reference" {
            return Ok(Self { fault: None });
        }
        Fault::named(short).map(|fault| Self { fault: Some(fault) }).ok_or_else(|| {
            let mut names: Vec<&str> =
                FAULTS.iter().chain(SECOND_FAULTS).map(|card| card.name).chain(["reference"]).collect();
            names.sort_by_key(|known| distance(known, short));
            names.truncate(3);
            format!("there is no built-in controller \"{short}\"; the nearest names are {}", names.join(", "))
        })
    }
}

impl Source for Builtin {
    fn start(&self, spec: &Spec) -> Result<Box<dyn Port>, NotStarted> {
        Ok(guard(match self.fault.filter(|fault| fault.is_second()) {
            Some(fault) => Box::new(Firmware::new(Hello::of(spec), fault)),
            None => Box::new(Reference::new(Hello::of(spec), self.fault)),
        }))
    }

    fn name(&self) -> String {
        format!("{BUILTIN}{}", self.fault.map_or("reference", Fault::name))
    }
}

/// Edits that lead from one word to another: letters put in, taken out or replaced.
fn distance(from: &str, to: &str) -> usize {
    let mut row: Vec<usize> = (0..=to.chars().count()).collect();
    for (i, a) in from.chars().enumerate() {
        let mut next = vec![i + 1];
        for (b, pair) in to.chars().zip(row.windows(2)) {
            let left = next.last().copied().unwrap_or(0);
            if let [diagonal, above] = *pair {
                next.push((left + 1).min(above + 1).min(diagonal + usize::from(a != b)));
            }
        }
        row = next;
    }
    row.last().copied().unwrap_or(0)
}

/// Makes a port of a controller: its panics become findings.
#[must_use]
pub fn guard(controller: Box<dyn Controller>) -> Box<dyn Port> {
    Box::new(Guarded { controller, panicked: None })
}

/// A controller whose panics become findings.
struct Guarded {
    controller: Box<dyn Controller>,
    panicked: Option<String>,
}

impl Guarded {
    fn call<T>(&mut self, act: impl FnOnce(&mut dyn Controller) -> T) -> Result<T, Silence> {
        if let Some(message) = &self.panicked {
            return Err(Silence::Panicked(message.clone()));
        }
        let controller = self.controller.as_mut();
        guarded(|| act(controller)).map_err(|message| {
            self.panicked = Some(message.clone());
            Silence::Panicked(message)
        })
    }
}

impl Port for Guarded {
    fn reset(&mut self) -> Result<(), Silence> {
        self.call(|controller| controller.reset())
    }

    fn step(&mut self, inputs: &Inputs, answers: &[Answer]) -> Result<Output, Silence> {
        self.call(|controller| controller.step(inputs, answers))
    }

    fn requests(&mut self, sent: &mut Vec<Request>) -> Result<(), Silence> {
        self.call(|controller| controller.requests(sent))
    }
}

thread_local! {
    static GUARDED: Cell<bool> = const { Cell::new(false) };
    static MESSAGE: RefCell<String> = const { RefCell::new(String::new()) };
}

/// Runs foreign code; a panic comes back as its message and place, and nothing is printed. Panics elsewhere in the
/// process print as ever: the hook of before stays in charge of them.
fn guarded<T>(act: impl FnOnce() -> T) -> Result<T, String> {
    static HOOK: Once = Once::new();
    HOOK.call_once(|| {
        let before = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |info| {
            if GUARDED.get() {
                let payload = info.payload();
                let text = payload.downcast_ref::<&str>().map(ToString::to_string);
                let text = text.or_else(|| payload.downcast_ref::<String>().cloned()).unwrap_or_default();
                let place = info.location().map_or(String::new(), |place| format!(" at {place}"));
                MESSAGE.with_borrow_mut(|message| *message = format!("{text}{place}"));
            } else {
                before(info);
            }
        }));
    });
    let outer = GUARDED.replace(true);
    let result = catch_unwind(AssertUnwindSafe(act));
    GUARDED.set(outer);
    result.map_err(|_| MESSAGE.take())
}

#[cfg(test)]
mod tests {
    use super::*;

    struct Bad;

    impl Controller for Bad {
        fn reset(&mut self) {}
        fn step(&mut self, inputs: &Inputs, _: &[Answer]) -> Output {
            assert!(inputs.time_ms < 20, "too late at {}", inputs.time_ms);
            Output::OPEN
        }
    }

    #[test]
    fn a_panic_is_a_finding_with_its_message() {
        let mut port = guard(Box::new(Bad));
        let mut inputs = Inputs {
            time_ms: 10,
            lever: crate::signal::Lever::D,
            range: None,
            ignition: true,
            supply_mv: 12_000,
            button: None,
            tap_up: false,
            tap_down: false,
            tap_up_edges: 0,
            tap_down_edges: 0,
        };
        assert_eq!(port.step(&inputs, &[]), Ok(Output::OPEN));
        inputs.time_ms = 20;
        let Err(Silence::Panicked(message)) = port.step(&inputs, &[]) else { panic!("it must not answer") };
        assert!(message.starts_with("too late at 20 at "), "{message}");
        assert!(port.reset().is_err());
    }

    struct Shy;

    impl Controller for Shy {
        fn reset(&mut self) {}
        fn step(&mut self, _: &Inputs, _: &[Answer]) -> Output {
            Output::OPEN
        }
        fn requests(&mut self, _: &mut Vec<Request>) {
            panic!("asked what it asks for");
        }
    }

    #[test]
    fn a_panic_over_requests_is_a_finding_at_once() {
        let Err(Silence::Panicked(message)) = guard(Box::new(Shy)).requests(&mut Vec::new()) else {
            panic!("it must not answer")
        };
        assert!(message.starts_with("asked what it asks for at "), "{message}");
    }

    #[test]
    fn names_are_found_and_wrong_ones_get_a_hint() {
        assert_eq!(Builtin::named("builtin:reference"), Ok(Builtin { fault: None }));
        assert_eq!(Builtin::named("no-dwell").map(|b| b.name()), Ok("builtin:no-dwell".to_owned()));
        let error = Builtin::named("builtin:nodwel").unwrap_err();
        assert!(error.contains("\"nodwel\"; the nearest names are no-dwell, "), "{error}");
        assert_eq!(distance("kitten", "sitting"), 3);
    }
}
