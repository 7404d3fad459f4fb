//! The manoeuvres: drive families that a test driver would do, made from the spec's own numbers.

mod cycles;
mod day;
mod driver;
mod engage;
mod gearbox;
mod grade;
mod line;
mod link;
mod misfit;
mod mishaps;
mod power;
mod pull;
mod range;
mod rounds;
mod slow;
#[cfg(test)]
mod tests;
mod ties;
mod tours;

pub use cycles::{Trace, traces};

use super::draft::{Draft, small_hash};
use crate::drive::Drive;
use crate::spec::Spec;

/// A drive family.
#[derive(Clone, Copy)]
pub struct Manoeuvre {
    /// Its name.
    pub name: &'static str,
    /// What is done, in a sentence.
    pub about: &'static str,
    /// Its drives for a spec, always the same for the same spec.
    pub drives: fn(&Spec) -> Vec<Drive>,
    /// Hours of it: not in the run `commit`, unless asked for.
    pub long: bool,
    /// Much in each drive, so that each comes to what many rules ask about: these come first.
    pub rich: bool,
}

/// The manoeuvre whose drives are one for each damage of the map, in their order.
pub const MAP_CORRUPTION: &str = "map-corruption";

/// All manoeuvres, in the order in which they are driven.
#[must_use]
pub fn manoeuvres() -> &'static [Manoeuvre] {
    const fn m(name: &'static str, about: &'static str, drives: fn(&Spec) -> Vec<Drive>) -> Manoeuvre {
        Manoeuvre { name, about, drives, long: false, rich: false }
    }
    const fn rich(name: &'static str, about: &'static str, drives: fn(&Spec) -> Vec<Drive>) -> Manoeuvre {
        Manoeuvre { rich: true, ..m(name, about, drives) }
    }
    const ALL: &[Manoeuvre] = &[
        rich(
            "answers",
            "Answers are missing or mean nothing, too short to be lost and longer, with a kick due.",
            rounds::answers,
        ),
        rich(
            "tours",
            "Each kind of driving in each pair of gears, an ordinary disturbance before each part.",
            tours::tours,
        ),
        rich(
            "rounds",
            "Take-overs in a row, each ended by another cause: about a pulse up, a pulse down, a kick.",
            rounds::rounds,
        ),
        rich(
            "mishaps",
            "The gearbox refuses and goes the wrong way, the engine stalls, wheels lock, answers stand still.",
            mishaps::mishaps,
        ),
        rich(
            "tie-engaging",
            "Each cause to let go, tick by tick about the time at which the box engages.",
            ties::engaging,
        ),
        rich(
            "supply-sag",
            "Each cause to let go while the supply sags and the box still works, with a kick due.",
            rounds::sags,
        ),
        rich("hand-over-often", "The lever out and in again, more often than the box may engage.", rounds::often),
        rich(
            "hand-over-eager",
            "Handing over on a ramp with a shift due at once, all right or only just.",
            rounds::eager,
        ),
        m("ignition-on", "Power comes, or comes back, with the lever already in the gate.", power::ignition_on),
        m(
            "supply-dip",
            "The supply dips and the box is reset while it has engaged and while it shifts.",
            power::supply_dip,
        ),
        m("ignition-off", "The ignition goes off at rest, while driving and for good.", power::ignition_off),
        m("bus-watch", "A whole drive, then five minutes with the ignition off.", power::bus_watch),
        m("clock-wrap", "The box is driven while counters of its clock run over.", power::clock_wrap),
        m("engage-and-creep", "Into the gate at rest, creeping, and around the engagement ceiling.", engage::creep),
        m("one-condition-missing", "Into the gate with all but one condition met.", engage::one_missing),
        m("button", "The button too early, too late, too long and again; only where there is one.", engage::button),
        m("tie-matrix", "Two causes fall into one tick, or just before and after each other.", ties::matrix),
        m("light-pedal", "Pulling away with a light pedal.", pull::light_pedal),
        m(
            "full-pedal",
            "Pulling away with the pedal on the floor, up to top speed, on slow ports too.",
            pull::full_pedal,
        ),
        m(
            "kickdown-ladder",
            "In each gear, 10 km/h by 10 km/h, the pedal stabbed to 88, 90, 92 and 100 %.",
            pull::kickdown_ladder,
        ),
        m("two-step-kick", "Nearly off the pedal, a little, and then all of it.", pull::two_step_kick),
        m("stab-and-lift", "Pedal to the floor and off again, second by second.", pull::stab_and_lift),
        m("unsteady-foot", "The pedal twitches for a minute at a steady pace.", pull::unsteady_foot),
        m("coast-to-stop", "Foot off, from each gear to a stop at 0.3, 1, 3 and 8 m/s².", slow::coast_to_stop),
        m("stop-and-go", "Stops and restarts, with the engine off at the stops.", slow::stop_and_go),
        m(
            "wheel-lock",
            "Braking with wheels that lock and read as standstill, on dry roads, snow and ice.",
            slow::wheel_lock,
        ),
        m("wheel-spin", "Driven wheels spin and grip again.", slow::wheel_spin),
        m("line-cruising", "Cruising on and beside each line of the map.", line::cruising),
        m(
            "grade-hunt",
            "Holding the speed of a line on the grade where one gear can and the next can't.",
            line::grade_hunt,
        ),
        m("crest-and-dip", "Up a hill, over the top, down and up again.", grade::crest_and_dip),
        m("long-descent", "Two minutes downhill with the foot off.", grade::long_descent),
        m("mixed-day", "Town, country, motorway and hills by turns, ten minutes with light faults.", day::mixed_day),
        m("soak-and-wrap", "A mixed drive that begins 5 s before each counter of the clock runs over.", day::soak),
        m("roll-back", "Rolling back and stalling on a hill in the gate.", grade::roll_back),
        m(
            "driver-override",
            "The driver taps before, inside and after the box's own pulses, and in each gear.",
            driver::tap,
        ),
        m("lever-fidget", "The lever leaves the gate, for good, for a while and for a bounce.", driver::lever_fidget),
        m("low-range", "The transfer case goes to low range, stays in between, and glitches.", range::low_range),
        m("link-loss", "Answers of one or all signals stop for a while.", link::loss),
        m("link-disorder", "Answers come late, twice, negative, or from two responders.", link::disorder),
        m(
            MAP_CORRUPTION,
            "From D into the gate at rest, the box told one damaged map after the other.",
            link::map_corruption,
        ),
        m("freeze", "Answers keep coming and no longer change.", link::freeze),
        m(
            "wrong-vehicle-data",
            "Speed read 8 % too high or low, as with other tyres, and a pedal that ends at 8 and 88 %.",
            misfit::wrong_data,
        ),
        m("gearbox-misbehaves", "The gearbox refuses taps, is slow, and shifts by itself.", gearbox::misbehaves),
        m("swapped-taps", "The gearbox takes taps the other way round, from the start or suddenly.", gearbox::swapped),
        m(
            "limp-mode",
            "Fourth and nothing else, no top gear while cold, and a refusal before a stop.",
            gearbox::limp_mode,
        ),
        m("lift-off", "Foot off high in each gear, on a dry road and on ice.", slow::lift_off),
        m("uphill", "Uphill slowly for the gear, with the foot and with cruise control.", grade::uphill),
        m("cycles", "Public speed cycles, followed second by second.", cycles::public),
        Manoeuvre { long: true, ..m("mixed-days", "Twenty mixed drives of 45 minutes.", day::mixed_days) },
        Manoeuvre { long: true, ..m("long-soak", "Eight hours of soak-and-wrap each time.", day::long_soak) },
        Manoeuvre {
            long: true,
            ..m("measured-drives", "Speeds recorded on the road, followed second by second.", cycles::recorded)
        },
    ];
    ALL
}

/// The finished drives, each meeting the link in another phase and with other latencies; the first keeps the nominal
/// ones.
fn keyed(name: &str, drafts: Vec<Draft>) -> Vec<Drive> {
    let mut drives = Vec::with_capacity(drafts.len());
    for (index, draft) in (0_u32..).zip(drafts) {
        let mut drive = draft.drive;
        let hash = small_hash(name, index);
        // Odd phases from 1 to 99 ms; the remainder fits.
        drive.start.poll_phase_ms = (hash % 50) as u16 * 2 + 1;
        drive.start.link_key = if index == 0 { 0 } else { hash };
        drives.push(drive);
    }
    drives
}
