//! What a campaign drives: saved drives, manoeuvres, random drives, event orders, one after the other; each has an index
//! and a name.

use crate::drive::Drive;
use crate::make::{self, Orders, Trace};
use crate::outcome::Kinds;
use crate::spec::Spec;
use crate::spec::link::Run;
use std::collections::BTreeMap;

/// Where a drive comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Origin {
    /// A saved drive or one of a manoeuvre.
    Named(usize),
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
    /// What drives of some manoeuvres follow, by index among the named.
    traces: BTreeMap<usize, Trace>,
    orders: Orders<'a>,
    order: Vec<Origin>,
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
        let mut order: Vec<Origin> = (0..named.len()).map(Origin::Named).collect();
        order.extend((0..random).map(Origin::Random));
        order.extend((0..orders.len()).map(Origin::Order));
        let (seed, length_ms) = (asked.seed.unwrap_or(run.seed), run.drive_length.ms());
        Ok(Self { spec, named, saved, traces, orders, order, seed, length_ms })
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
        }
    }

    fn random(&self, at: u32) -> Drive {
        make::random_drive(self.spec, self.seed, at, self.length_ms)
    }

    fn origin(&self, index: usize) -> Origin {
        self.order.get(index).copied().unwrap_or(Origin::Random(0))
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
        }
    }

    /// The trace that a drive follows, if any.
    #[must_use]
    pub fn trace(&self, index: usize) -> Option<&Trace> {
        let Origin::Named(at) = self.origin(index) else { return None };
        self.traces.get(&at)
    }
}
