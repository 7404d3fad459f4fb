//! Cures until nothing fails that a cure can mend.

use super::Desk;
use super::check;
use super::ledger::Severity;
use crate::spec::Spec;
use crate::spec::written::Written;
use crate::spec::written::WrittenMap;
use crate::units::Kmh;
use std::collections::BTreeMap;
use std::collections::BTreeSet;

/// One cure may call for the next; what still fails after so many rounds is said.
const MOST_ROUNDS: u32 = 100;

/// A spec with its map cured.
#[derive(Debug, Clone)]
pub struct Cured {
    /// The spec with the cured map.
    pub spec: Spec,
    /// The speeds that changed: by gear left, gear entered and pedal position.
    pub speeds: BTreeMap<(u8, u8, usize), Written>,
    /// What the checks say of it: what still fails, no speed of the map can mend.
    pub desk: Desk,
}

/// Puts cures into a map, round by round, until none is left to put in. Warnings are left as they are.
///
/// Down lines only ever go down. Up lines go up, unless the engine or the road set a limit from above: where both are
/// asked of one speed the upper limit stands, and what it breaks goes on failing.
#[must_use]
pub fn cure(spec: &Spec, written: Option<&WrittenMap>) -> Cured {
    let mut cured = Cured { spec: spec.clone(), speeds: BTreeMap::new(), desk: check(spec, written) };
    let mut capped = BTreeSet::new();
    for _ in 0..MOST_ROUNDS {
        let failing = cured.desk.findings.iter().filter(|f| f.severity == Severity::Fails);
        let mut cures: Vec<_> = failing.flat_map(|f| f.cures.iter().copied()).collect();
        // Limits from above come first, so that what is raised in this round knows them.
        cures.sort_by_key(|c| c.raises);
        let mut changed = false;
        for cure in cures {
            let key = (cure.from, cure.to, cure.position);
            let line = cured.spec.map.lines.iter_mut().find(|l| (l.from, l.to) == (cure.from, cure.to));
            let Some(speed) = line.and_then(|l| l.speeds.get_mut(cure.position)) else { continue };
            let better = cure.speed.kmh();
            if cure.raises && (better <= speed.0 || capped.contains(&key)) || !cure.raises && better >= speed.0 {
                continue;
            }
            if !cure.raises && cure.to > cure.from {
                capped.insert(key);
            }
            *speed = Kmh(better);
            cured.speeds.insert(key, cure.speed);
            changed = true;
        }
        if !changed {
            break;
        }
        cured.desk = check(&cured.spec, written);
    }
    cured
}
