//! Ctrl-C and SIGTERM: the run stops early, and what was found until then is written. A second one ends at once.

use super::exit::Failure;
use crate::outcome::Exit;
use signal_hook::consts::SIGINT;
use signal_hook::consts::SIGTERM;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;
use std::sync::atomic::AtomicUsize;
use std::sync::atomic::Ordering;

/// Watches for signals.
#[derive(Debug)]
pub struct Interrupt {
    /// Set by the first signal; the campaign looks at it between drives.
    pub stop: Arc<AtomicBool>,
    signal: Arc<AtomicUsize>,
}

impl Interrupt {
    /// Starts to watch.
    pub fn watch() -> Result<Self, Failure> {
        let stop = Arc::new(AtomicBool::new(false));
        let signal = Arc::new(AtomicUsize::new(0));
        for (number, code) in [(SIGINT, 130), (SIGTERM, 143)] {
            // Order counts: the first signal finds `stop` unset and sets it, the second ends the process.
            signal_hook::flag::register_conditional_shutdown(number, code, Arc::clone(&stop))
                .and_then(|_| {
                    let value = usize::try_from(number).unwrap_or(0);
                    signal_hook::flag::register_usize(number, Arc::clone(&signal), value)
                })
                .and_then(|_| signal_hook::flag::register(number, Arc::clone(&stop)))
                .map_err(|error| Failure::new(Exit::OurBug, format!("signals can't be watched: {error}")))?;
        }
        Ok(Self { stop, signal })
    }

    /// The signal that came, if one did.
    pub fn signal(&self) -> Option<i32> {
        i32::try_from(self.signal.load(Ordering::SeqCst)).ok().filter(|&signal| signal != 0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_signal_asks_to_stop_and_is_known_by_its_number() {
        let interrupt = Interrupt::watch().unwrap();
        assert_eq!(interrupt.signal(), None);
        assert!(!interrupt.stop.load(Ordering::SeqCst));
        signal_hook::low_level::raise(SIGTERM).unwrap();
        assert!(interrupt.stop.load(Ordering::SeqCst));
        assert_eq!(interrupt.signal(), Some(15));
    }
}
