//! Where drives come from: manoeuvres as a test driver does them, random drives that know the spec, and drives out of a
//! fuzzer's bytes. Chance is spent here; from then on a drive is plain data.

mod aim;
mod arbitrary;
mod damage;
mod dice;
mod draft;
mod happenings;
mod manoeuvres;
mod orders;
mod random;
mod road;
#[cfg(test)]
pub(crate) mod test_spec;
mod town;

pub use aim::aimed_drive;
pub use damage::{DAMAGES, Damage};
pub use dice::{Dice, dealt};
pub use draft::name_number;
pub(crate) use happenings::{Trouble, Troubles};
pub use manoeuvres::{MAP_CORRUPTION, Manoeuvre, Trace, manoeuvres, traces};
pub use orders::Orders;
pub use random::{GENERATOR, cut, random_drive};

/// The gear in which one usually drives at this speed.
#[must_use]
pub fn usual_gear(spec: &crate::spec::Spec, speed_kmh: f64) -> u8 {
    draft::gear_for(spec, speed_kmh)
}
