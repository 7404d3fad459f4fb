//! Where a program runs: on one core with the thread that drives it. They take turns, and waking a process on another
//! core costs several times the answer itself. Where this fails, all works as well, only slower.

use nix::sched::{CpuSet, sched_getaffinity, sched_getcpu, sched_setaffinity};
use nix::unistd::Pid;
use std::cell::Cell;
use std::sync::{Mutex, MutexGuard, OnceLock, PoisonError};

thread_local! {
    /// The core that this thread is kept on.
    static KEPT_ON: Cell<Option<usize>> = const { Cell::new(None) };
}

/// A core that we may use, and how many programs run there.
struct Core {
    number: usize,
    programs: usize,
}

/// All of them, as they were before any thread was kept on one.
fn cores() -> MutexGuard<'static, Vec<Core>> {
    static CORES: OnceLock<Mutex<Vec<Core>>> = OnceLock::new();
    let all = || {
        let allowed = sched_getaffinity(Pid::from_raw(0)).unwrap_or_default();
        let numbers = (0..CpuSet::count()).filter(|&number| allowed.is_set(number).unwrap_or(false));
        Mutex::new(numbers.map(|number| Core { number, programs: 0 }).collect())
    };
    CORES.get_or_init(all).lock().unwrap_or_else(PoisonError::into_inner)
}

/// A place on one core, for a program and whichever thread drives it.
pub(super) struct Place {
    core: Option<usize>,
}

impl Place {
    /// The core that this thread is kept on already, else one with the fewest programs; of those, the one this thread
    /// is on, so that several harnesses at once don't all crowd on the first.
    pub fn take() -> Self {
        let mut cores = cores();
        let here = KEPT_ON.get();
        let now = sched_getcpu().ok();
        let best = match here {
            Some(kept) => cores.iter_mut().find(|core| core.number == kept),
            None => cores.iter_mut().min_by_key(|core| (core.programs, Some(core.number) != now)),
        };
        let core = best.map(|core| {
            core.programs += 1;
            core.number
        });
        Self { core }
    }

    /// Keeps this thread, and with it the processes it starts, on the core: threads change, the program stays.
    pub fn stay(&self) {
        let Some(core) = self.core.filter(|&core| KEPT_ON.get() != Some(core)) else { return };
        if move_to(&[core]) {
            KEPT_ON.set(Some(core));
        }
    }
}

impl Drop for Place {
    /// Lets this thread go, so that threads it starts later have all cores.
    fn drop(&mut self) {
        let Some(core) = self.core else { return };
        let mut cores = cores();
        if let Some(core) = cores.iter_mut().find(|c| c.number == core) {
            core.programs = core.programs.saturating_sub(1);
        }
        if KEPT_ON.get() == Some(core) {
            let all: Vec<usize> = cores.iter().map(|core| core.number).collect();
            if move_to(&all) {
                KEPT_ON.set(None);
            }
        }
    }
}

fn move_to(cores: &[usize]) -> bool {
    let mut set = CpuSet::new();
    cores.iter().all(|&core| set.set(core).is_ok()) && sched_setaffinity(Pid::from_raw(0), &set).is_ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The cores that this thread may run on.
    fn allowed() -> Vec<usize> {
        let set = sched_getaffinity(Pid::from_raw(0)).unwrap();
        (0..CpuSet::count()).filter(|&core| set.is_set(core).unwrap()).collect()
    }

    #[test]
    fn a_thread_is_kept_while_it_has_a_place_and_another_thread_can_take_it_over() {
        let before = allowed();
        let place = Place::take();
        place.stay();
        let kept = allowed();
        assert_eq!(kept, [place.core.unwrap()]);
        let beside = Place::take();
        assert_eq!(beside.core, place.core, "a second program of the same thread");
        drop(beside);
        assert_eq!(allowed(), before);
        let (place, elsewhere) = std::thread::spawn(move || {
            place.stay();
            let elsewhere = allowed();
            (place, elsewhere)
        })
        .join()
        .unwrap();
        assert_eq!(elsewhere, kept);
        drop(place);
        assert_eq!(allowed(), before);
    }

    /// Other tests' programs come and go meanwhile, so only what holds whatever they do: a place goes where fewest are.
    #[test]
    fn places_spread_over_the_cores() {
        let places: Vec<Place> = (0..64 * allowed().len()).map(|_| Place::take()).collect();
        let of = |core: usize| places.iter().filter(|place| place.core == Some(core)).count();
        let counts: Vec<usize> = allowed().into_iter().map(of).collect();
        assert!(counts.iter().all(|&count| (32..=96).contains(&count)), "{counts:?}");
    }
}
