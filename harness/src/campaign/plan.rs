//! What a campaign drives: saved drives, rich manoeuvres and the first random drives, then by turns manoeuvres, random
//! drives, search drives and event orders; each has an index and a name.
//!
//! Rich manoeuvres first, as each of their drives comes to what many rules ask about: measured, what is wrong on ordinary
//! roads shows within the first dozens. Then by turns, because no one kind is best at every fault: what one finds late,
//! another finds early, and the first drive of each manoeuvre tells more than the tenth of one.

use super::turns::{Origin, by_turns};
use crate::drive::{Drive, Happening};
use crate::make::{self, Orders, Trace};
use crate::outcome::Kinds;
use crate::search::{Lesson, Next, Search};
use crate::signal::Lever;
use crate::spec::Spec;
use crate::spec::link::Run;
use std::collections::BTreeMap;

/// What is asked for instead of what the run says.
#[derive(Debug, Clone, Default)]
pub struct Asked<'a> {
    /// These manoeuvres alone, and nothing else unless asked for.
    pub only: &'a [String],
    /// Number of random drives.
    pub random: Option<u32>,
    /// Only so many, from the plan's start, after the saved ones.
    pub first: Option<u32>,
    /// Seed of the random drives.
    pub seed: Option<u64>,
    /// Most events of an order.
    pub orders: Option<u8>,
    /// Number of search drives.
    pub search: Option<u32>,
    /// The manoeuvres that take hours too.
    pub long: bool,
}

/// The drives of a campaign; random ones and orders are made when they are asked for, search drives once those before
/// them are done.
pub struct Plan<'a> {
    spec: &'a Spec,
    named: Vec<(String, Drive)>,
    saved: usize,
    /// What drives of some manoeuvres follow, by index among the named.
    traces: BTreeMap<usize, Trace>,
    orders: Orders<'a>,
    search: Search<'a>,
    order: Vec<Origin>,
    /// The drives that are driven after an hour of idling too, by index.
    idle: Vec<usize>,
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
        let (mut rich, mut families) = (Vec::new(), Vec::new());
        for manoeuvre in all
            .iter()
            .filter(|m| if only.is_empty() { asked.long || !m.long } else { only.iter().any(|name| name == m.name) })
        {
            let first = named.len();
            traces.extend(make::traces(manoeuvre.name).into_iter().enumerate().map(|(at, t)| (first + at, t)));
            for (at, drive) in (manoeuvre.drives)(spec).into_iter().enumerate() {
                named.push((format!("{} {}", manoeuvre.name, at + 1), drive));
            }
            let of = if manoeuvre.rich { &mut rich } else { &mut families };
            of.push((first..named.len()).collect::<Vec<usize>>());
        }
        let whole = only.is_empty();
        let random = asked.random.unwrap_or(if whole { run.random_drives } else { 0 });
        let orders = Orders::new(spec, asked.orders.unwrap_or(if whole { run.order_events } else { 0 }));
        let search = asked.search.unwrap_or(if whole { run.search_drives.min(random) } else { 0 });
        let mut order: Vec<Origin> = (0..saved).map(Origin::Named).collect();
        order.extend(by_turns(&rich, &families, random, orders.len(), search));
        order.truncate(asked.first.map_or(usize::MAX, |first| saved.saturating_add(first as usize)));
        let (seed, length_ms) = (asked.seed.unwrap_or(run.seed), run.drive_length.ms());
        let next = order.iter().enumerate().filter_map(|(index, origin)| match *origin {
            Origin::Search(number) => Some(Next::Breed(index, number)),
            origin => teaches(&named, length_ms, origin).then_some(Next::Learn(index)),
        });
        let search = Search::new(spec, seed, length_ms, next);
        let idle = idle(&named, length_ms, &order);
        Ok(Self { spec, named, saved, traces, orders, search, order, idle, seed, length_ms })
    }

    /// How many drives there are.
    #[must_use]
    pub fn len(&self) -> usize {
        self.order.len()
    }

    /// Whether there are none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.order.is_empty()
    }

    /// The kinds of the first `count` drives.
    #[must_use]
    pub fn kinds(&self, count: usize) -> Kinds {
        let mut kinds = Kinds::default();
        for origin in self.order.iter().take(count) {
            match origin {
                Origin::Named(at) if *at < self.saved => kinds.saved += 1,
                Origin::Named(_) => kinds.manoeuvre += 1,
                Origin::Random(_) => kinds.random += 1,
                Origin::Order(_) => kinds.orders += 1,
                Origin::Search(_) => kinds.search += 1,
            }
        }
        kinds
    }

    /// The seed of the random drives.
    #[must_use]
    pub fn seed(&self) -> u64 {
        self.seed
    }

    /// A drive by index; past the end the first random one.
    #[must_use]
    pub fn drive(&self, index: usize) -> Drive {
        match self.origin(index) {
            Origin::Named(at) => self.named.get(at).map_or_else(|| self.random(0), |(_, drive)| drive.clone()),
            Origin::Random(at) => self.random(at),
            Origin::Order(at) => self.orders.drive(at),
            Origin::Search(number) => self.search.drive(number),
        }
    }

    /// Whether a drive is known: a search drive is once all that its island has to learn before has been learned.
    pub fn ready(&self, index: usize) -> bool {
        if let Origin::Search(number) = self.origin(index) { self.search.ready(index, number) } else { true }
    }

    /// Whether the search learns from a drive.
    #[must_use]
    pub fn teaches(&self, index: usize) -> bool {
        teaches(&self.named, self.length_ms, self.origin(index))
    }

    /// What a drive taught; nothing, where the controller fell silent.
    pub fn learn(&self, index: usize, lesson: Option<Box<Lesson>>) {
        if self.teaches(index) {
            self.search.learn(index, lesson.map(|lesson| *lesson).unwrap_or_default());
        }
    }

    fn random(&self, at: u32) -> Drive {
        make::random_drive(self.spec, self.seed, at, self.length_ms)
    }

    fn origin(&self, index: usize) -> Origin {
        self.order.get(index).copied().unwrap_or(Origin::Random(0))
    }

    /// The saved drives and those of the manoeuvres, family by family.
    pub fn named(&self) -> impl Iterator<Item = &Drive> {
        self.named.iter().map(|(_, drive)| drive)
    }

    /// The number that decides which checks it gets beyond one run: a random drive's own, and one that follows from the
    /// name of any other. So a manoeuvre more leaves the checks of all other drives as they were.
    #[must_use]
    pub fn turn(&self, index: usize) -> usize {
        match self.origin(index) {
            Origin::Named(at) => self.named.get(at).map_or(0, |(name, _)| make::name_number(name) as usize),
            Origin::Random(at) | Origin::Search(at) => at as usize,
            Origin::Order(at) => at,
        }
    }

    /// Whether it is a saved drive or one of a manoeuvre.
    #[must_use]
    pub fn is_named(&self, index: usize) -> bool {
        matches!(self.origin(index), Origin::Named(_))
    }

    /// Whether it is one of the event orders: short, and so many that no single one is driven more than once.
    #[must_use]
    pub fn is_order(&self, index: usize) -> bool {
        matches!(self.origin(index), Origin::Order(_))
    }

    /// Whether it is bred by the search.
    #[must_use]
    pub fn is_search(&self, index: usize) -> bool {
        matches!(self.origin(index), Origin::Search(_))
    }

    /// Whether it is driven after an hour of idling too.
    #[must_use]
    pub fn idles(&self, index: usize) -> bool {
        self.idle.contains(&index)
    }

    /// The damage of the map that a drive is for, if it is.
    #[must_use]
    pub fn damage(&self, index: usize) -> Option<usize> {
        let Origin::Named(at) = self.origin(index) else { return None };
        let (name, _) = self.named.get(at)?;
        let number: usize = name.strip_prefix(make::MAP_CORRUPTION)?.trim().parse().ok()?;
        number.checked_sub(1)
    }

    /// Its name.
    #[must_use]
    pub fn name(&self, index: usize) -> String {
        match self.origin(index) {
            Origin::Named(at) => self.named.get(at).map(|(name, _)| name.clone()).unwrap_or_default(),
            Origin::Random(at) => format!("random {}", at + 1),
            Origin::Order(at) => format!("event order {}", at + 1),
            Origin::Search(at) => format!("search {}", at + 1),
        }
    }

    /// The trace that a drive follows, if any.
    #[must_use]
    pub fn trace(&self, index: usize) -> Option<&Trace> {
        let Origin::Named(at) = self.origin(index) else { return None };
        self.traces.get(&at)
    }
}

/// The search learns from drives that are at most so many times as long as a random one: a longer one holds nothing that a
/// shorter can't.
pub(crate) const MOST_LENGTHS: u32 = 2;

/// Whether the search learns from a drive: the children of a long one would take as long.
fn teaches(named: &[(String, Drive)], length_ms: u32, origin: Origin) -> bool {
    match origin {
        Origin::Named(at) => named.get(at).is_some_and(|(_, drive)| drive.length_ms() <= MOST_LENGTHS * length_ms),
        Origin::Random(_) | Origin::Order(_) | Origin::Search(_) => true,
    }
}

/// So many drives are driven after an hour of idling too: an hour of a program in another process is a second or more.
const MOST_IDLE: usize = 4;

/// The first drives of manoeuvres, or saved ones, that begin at rest with the lever out of the gate and are driven into it.
fn idle(named: &[(String, Drive)], length_ms: u32, order: &[Origin]) -> Vec<usize> {
    let fits = |drive: &Drive| {
        let into_gate = drive.events.iter().any(|event| event.what == Happening::Lever(Lever::Gate));
        let at_rest = drive.start.speed == 0 && drive.start.lever != Lever::Gate;
        at_rest && into_gate && drive.length_ms() <= MOST_LENGTHS * length_ms
    };
    let of = |origin: &Origin| matches!(origin, Origin::Named(at) if named.get(*at).is_some_and(|(_, d)| fits(d)));
    (0..order.len()).filter(|&at| order.get(at).is_some_and(of)).take(MOST_IDLE).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 7 phases of each of the 14 letters and 2 of each of the 45 link faults: 98 and 90 orders of one event.
    #[test]
    fn kinds_names_and_turns_follow_the_order() {
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("specs/van.toml");
        let spec = crate::spec::load(&path).unwrap();
        let (run, only) = (&spec.runs["commit"], ["button".to_owned(), "limp-mode".to_owned()]);
        let saved = vec![("kept".to_owned(), make::random_drive(&spec, 9, 9, 1000))];
        let asked = Asked { only: &only, random: Some(9), orders: Some(1), ..Asked::default() };
        let plan = Plan::new(&spec, run, saved.clone(), &asked).unwrap();
        let manoeuvre = u32::try_from(plan.len()).unwrap() - 1 - 9 - 188;
        assert_eq!(plan.kinds(usize::MAX), Kinds { saved: 1, manoeuvre, random: 9, orders: 188, search: 0 });
        assert_eq!(plan.kinds(11), Kinds { saved: 1, manoeuvre: 1, random: 9, ..Kinds::default() });
        let names = [0, 1, 8, 9, 10].map(|index| plan.name(index));
        assert_eq!(names, ["kept", "random 1", "random 8", "random 9", "limp-mode 1"]);
        assert_eq!(plan.name(plan.len() - 1), "event order 188");
        assert_eq!((plan.drive(0), plan.is_named(0), plan.is_named(1)), (saved[0].1.clone(), true, false));
        assert!(plan.is_order(plan.len() - 1) && !plan.is_order(9));
        // The random drives keep their turns, and so do the manoeuvre's, whatever is driven before them.
        let alone = Plan::new(&spec, run, Vec::new(), &asked).unwrap();
        assert!((1..plan.len()).all(|at| plan.turn(at) == alone.turn(at - 1) && plan.name(at) == alone.name(at - 1)));
        assert_eq!([1, 2, 8].map(|at| plan.turn(at)), [0, 1, 7]);
        let start = Plan::new(&spec, run, saved.clone(), &Asked { first: Some(9), ..asked.clone() }).unwrap();
        assert_eq!((start.len(), start.name(9)), (10, plan.name(9)));
        let none = Plan::new(&spec, run, Vec::new(), &Asked { first: Some(0), ..asked }).unwrap();
        assert!(none.is_empty());
    }
}
