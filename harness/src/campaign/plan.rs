//! What a campaign drives: saved drives, manoeuvres, random drives, event orders, one after the other; each has an index
//! and a name.

use crate::drive::Drive;
use crate::make::{self, Orders, Trace};
use crate::outcome::Kinds;
use crate::spec::Spec;
use crate::spec::link::Run;
use std::collections::BTreeMap;

/// Where a drive comes from.
enum Origin<'a> {
    /// A saved drive or one of a manoeuvre.
    Named(&'a (String, Drive)),
    /// A random drive.
    Random(u32),
    /// An event order.
    Order(usize),
}

/// What is asked for instead of what the run says.
#[derive(Debug, Clone, Default)]
pub struct Asked<'a> {
    /// These manoeuvres alone, and nothing else unless asked for.
    pub only: &'a [String],
    /// Number of random drives.
    pub random: Option<u32>,
    /// Seed of the random drives.
    pub seed: Option<u64>,
    /// Most events of an order.
    pub orders: Option<u8>,
    /// The manoeuvres that take hours too.
    pub long: bool,
}

/// The drives of a campaign; random ones and orders are made when they are asked for.
pub struct Plan<'a> {
    spec: &'a Spec,
    named: Vec<(String, Drive)>,
    saved: usize,
    /// What drives of some manoeuvres follow, by index.
    traces: BTreeMap<usize, Trace>,
    random: u32,
    orders: Orders<'a>,
    seed: u64,
    length_ms: u32,
}

impl<'a> Plan<'a> {
    /// The plan of a run.
    ///
    /// # Errors
    /// A name in `only` that no manoeuvre has; the sentence lists the names.
    pub fn new(spec: &'a Spec, run: &Run, saved: Vec<(String, Drive)>, asked: &Asked<'_>) -> Result<Self, String> {
        let Asked { only, .. } = *asked;
        let all = make::manoeuvres();
        if let Some(unknown) = only.iter().find(|name| all.iter().all(|m| m.name != name.as_str())) {
            let names: Vec<&str> = all.iter().map(|m| m.name).collect();
            return Err(format!("there is no manoeuvre \"{unknown}\"; there are: {}", names.join(", ")));
        }
        let mut named = saved;
        let saved = named.len();
        let mut traces = BTreeMap::new();
        for manoeuvre in all
            .iter()
            .filter(|m| if only.is_empty() { asked.long || !m.long } else { only.iter().any(|name| name == m.name) })
        {
            let first = named.len();
            traces.extend(make::traces(manoeuvre.name).into_iter().enumerate().map(|(at, t)| (first + at, t)));
            for (at, drive) in (manoeuvre.drives)(spec).into_iter().enumerate() {
                named.push((format!("{} {}", manoeuvre.name, at + 1), drive));
            }
        }
        let whole = only.is_empty();
        let random = asked.random.unwrap_or(if whole { run.random_drives } else { 0 });
        let orders = Orders::new(spec, asked.orders.unwrap_or(if whole { run.order_events } else { 0 }));
        let (seed, length_ms) = (asked.seed.unwrap_or(run.seed), run.drive_length.ms());
        Ok(Self { spec, named, saved, traces, random, orders, seed, length_ms })
    }

    /// How many drives there are.
    #[must_use]
    pub fn len(&self) -> usize {
        self.named.len() + self.random as usize + self.orders.len()
    }

    /// Whether there are none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The kinds of the first `count` drives.
    #[must_use]
    pub fn kinds(&self, count: usize) -> Kinds {
        let among = |from: usize, to: usize| u32::try_from(count.clamp(from, to) - from).unwrap_or(u32::MAX);
        let orders_from = self.named.len() + self.random as usize;
        Kinds {
            saved: among(0, self.saved),
            manoeuvre: among(self.saved, self.named.len()),
            random: among(self.named.len(), orders_from),
            orders: among(orders_from, self.len()),
        }
    }

    /// The seed of the random drives.
    #[must_use]
    pub fn seed(&self) -> u64 {
        self.seed
    }

    /// A drive by index.
    #[must_use]
    pub fn drive(&self, index: usize) -> Drive {
        match self.origin(index) {
            Origin::Named((_, drive)) => drive.clone(),
            Origin::Random(at) => make::random_drive(self.spec, self.seed, at, self.length_ms),
            Origin::Order(at) => self.orders.drive(at),
        }
    }

    fn origin(&self, index: usize) -> Origin<'_> {
        let later = index.saturating_sub(self.named.len());
        match (self.named.get(index), u32::try_from(later)) {
            (Some(named), _) => Origin::Named(named),
            (None, Ok(at)) if at < self.random => Origin::Random(at),
            _ => Origin::Order(later.saturating_sub(self.random as usize)),
        }
    }

    /// The number that decides which checks it gets beyond one run: a random drive's own, and one that follows from the
    /// name of any other. So a manoeuvre more leaves the checks of all other drives as they were.
    #[must_use]
    pub fn turn(&self, index: usize) -> usize {
        match self.origin(index) {
            Origin::Named((name, _)) => make::name_number(name) as usize,
            Origin::Random(at) => at as usize,
            Origin::Order(at) => at,
        }
    }

    /// Whether it is a saved drive or one of a manoeuvre.
    #[must_use]
    pub fn is_named(&self, index: usize) -> bool {
        index < self.named.len()
    }

    /// Whether it is one of the event orders: short, and so many that no single one is driven more than once.
    #[must_use]
    pub fn is_order(&self, index: usize) -> bool {
        matches!(self.origin(index), Origin::Order(_))
    }

    /// The damage of the map that a drive is for, if it is.
    #[must_use]
    pub fn damage(&self, index: usize) -> Option<usize> {
        let (name, _) = self.named.get(index)?;
        let number: usize = name.strip_prefix(make::MAP_CORRUPTION)?.trim().parse().ok()?;
        number.checked_sub(1)
    }

    /// Its name.
    #[must_use]
    pub fn name(&self, index: usize) -> String {
        match self.origin(index) {
            Origin::Named((name, _)) => name.clone(),
            Origin::Random(at) => format!("random {}", at + 1),
            Origin::Order(at) => format!("event order {}", at + 1),
        }
    }

    /// The trace that a drive follows, if any.
    #[must_use]
    pub fn trace(&self, index: usize) -> Option<&Trace> {
        self.traces.get(&index)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 7 phases of each of the 14 letters and 2 of each of the 45 link faults: 98 and 90 orders of one event.
    #[test]
    fn kinds_and_names_follow_one_another() {
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("specs/van.toml");
        let spec = crate::spec::load(&path).unwrap();
        let (run, only) = (&spec.runs["commit"], ["button".to_owned(), "limp-mode".to_owned()]);
        let saved = vec![("kept".to_owned(), make::random_drive(&spec, 9, 9, 1000))];
        let asked = Asked { only: &only, random: Some(3), orders: Some(1), ..Asked::default() };
        let plan = Plan::new(&spec, run, saved.clone(), &asked).unwrap();
        let manoeuvre = u32::try_from(plan.len()).unwrap() - 1 - 3 - 188;
        assert_eq!(plan.kinds(usize::MAX), Kinds { saved: 1, manoeuvre, random: 3, orders: 188 });
        let first = plan.len() - 188;
        assert_eq!(plan.kinds(first + 2), Kinds { saved: 1, manoeuvre, random: 3, orders: 2 });
        assert_eq!(plan.kinds(2), Kinds { saved: 1, manoeuvre: 1, ..Kinds::default() });
        let names = [0, 1, first - 1, first, plan.len() - 1].map(|index| plan.name(index));
        assert_eq!(names, ["kept", "limp-mode 1", "random 3", "event order 1", "event order 188"]);
        // The random drives keep their turns, and so do the manoeuvre's, whatever is driven before them.
        let alone = Plan::new(&spec, run, Vec::new(), &asked).unwrap();
        let turns = |plan: &Plan, from: usize| (from..plan.len()).map(|at| plan.turn(at)).collect::<Vec<_>>();
        assert_eq!((turns(&plan, 1), &turns(&plan, first - 3)[..3]), (turns(&alone, 0), &[0, 1, 2][..]));
        assert_eq!((plan.drive(0), plan.is_named(first - 3), plan.is_order(first)), (saved[0].1.clone(), false, true));
    }
}
