//! Damages of a shift map, each beyond doubt: what a box that is told such a map must refuse.

use crate::spec::map::{Line, ShiftMap};
use crate::units::{Kmh, Percent};

/// One damage.
#[derive(Clone, Copy)]
pub struct Damage {
    /// What is wrong with the map afterwards.
    pub name: &'static str,
    /// Does it.
    pub make: fn(&mut ShiftMap),
}

/// All damages. A map that they leave as it was, for want of lines or positions, must be refused all the same.
pub const DAMAGES: &[Damage] = &[
    Damage { name: "no lines", make: |map| map.lines.clear() },
    Damage { name: "no pedal positions", make: |map| map.pedal.clear() },
    Damage { name: "neither lines nor pedal positions", make: |map| *map = ShiftMap { pedal: vec![], lines: vec![] } },
    Damage {
        name: "one line cut short",
        make: |map| middle(map, |line| line.speeds.truncate(line.speeds.len().div_ceil(2))),
    },
    Damage {
        name: "the last column lost",
        make: |map| {
            for line in &mut map.lines {
                line.speeds.pop();
            }
        },
    },
    Damage {
        name: "the last pedal position lost",
        make: |map| {
            map.pedal.pop();
        },
    },
    Damage { name: "an upshift line missing", make: |map| lose(map, |line| line.to > line.from) },
    Damage { name: "a downshift line missing", make: |map| lose(map, |line| line.to < line.from) },
    Damage { name: "pedal positions that fall", make: |map| map.pedal.reverse() },
    Damage {
        name: "a pedal position twice",
        make: |map| {
            if let [first, second, ..] = map.pedal.as_mut_slice() {
                *second = *first;
            }
        },
    },
    Damage {
        name: "pedal positions as raw bytes, 0 to 255",
        make: |map| map.pedal.iter_mut().for_each(|p| *p = Percent(p.0 * 2.55)),
    },
    Damage {
        name: "a negative pedal position",
        make: |map| {
            if let Some(first) = map.pedal.first_mut() {
                *first = Percent(-10.0);
            }
        },
    },
    Damage {
        name: "a negative speed",
        make: |map| middle(map, |line| line.speeds.iter_mut().take(1).for_each(|v| *v = Kmh(-v.0 - 1.0))),
    },
    Damage {
        name: "a speed beyond 255 km/h",
        make: |map| middle(map, |line| line.speeds.iter_mut().rev().take(1).for_each(|v| *v = Kmh(v.0 + 1000.0))),
    },
    Damage { name: "an upshift line of zeros", make: |map| middle(map, |line| line.speeds.fill(Kmh(0.0))) },
    Damage {
        name: "up and down lines swapped",
        make: |map| {
            for line in &mut map.lines {
                (line.from, line.to) = (line.to, line.from);
            }
        },
    },
    Damage { name: "a line from gear 0", make: |map| middle(map, |line| (line.from, line.to) = (0, 1)) },
    Damage {
        name: "a line beyond the top gear",
        make: |map| {
            let top = map.top_gear();
            middle(map, |line| (line.from, line.to) = (top + 3, top + 4));
        },
    },
    Damage { name: "a line that skips a gear", make: |map| middle(map, |line| line.to = line.from + 2) },
    Damage { name: "a line into its own gear", make: |map| middle(map, |line| line.to = line.from) },
    Damage {
        name: "a line twice",
        make: |map| {
            let again = map.lines.get(map.lines.len() / 4).cloned();
            let shifted = |v: &Kmh| Kmh(v.0 * 0.8);
            map.lines.extend(again.map(|l| Line { speeds: l.speeds.iter().map(shifted).collect(), ..l }));
        },
    },
];

/// Damages one upshift line in the middle of the gears.
fn middle(map: &mut ShiftMap, make: impl FnOnce(&mut Line)) {
    let ups = map.lines.iter().filter(|l| l.to > l.from).count();
    if let Some(line) = map.lines.iter_mut().filter(|l| l.to > l.from).nth(ups / 2) {
        make(line);
    }
}

/// Takes one line of a kind out, in the middle.
fn lose(map: &mut ShiftMap, kind: fn(&Line) -> bool) {
    let count = map.lines.iter().filter(|l| kind(l)).count();
    let at = map.lines.iter().enumerate().filter(|(_, l)| kind(l)).map(|(at, _)| at).nth(count / 2);
    if let Some(at) = at {
        map.lines.remove(at);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::make::test_spec::van;

    #[test]
    fn each_damage_changes_the_map_in_a_way_of_its_own() {
        let whole = van().map;
        let mut seen = vec![whole.clone()];
        for damage in DAMAGES {
            let mut map = whole.clone();
            (damage.make)(&mut map);
            assert!(!seen.contains(&map), "{}", damage.name);
            seen.push(map);
        }
        assert!(DAMAGES.len() >= 15);
    }

    /// Whatever is done to it, an empty map makes no damage panic.
    #[test]
    fn an_empty_map_is_damaged_too() {
        for damage in DAMAGES {
            let mut map = ShiftMap { pedal: vec![], lines: vec![] };
            (damage.make)(&mut map);
        }
    }
}
