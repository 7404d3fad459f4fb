//! What a campaign drives: saved drives, manoeuvres, random drives, in this order; each has an index and a name.

use crate::drive::Drive;
use crate::make::{self, Trace};
use crate::spec::Spec;
use crate::spec::link::Run;
use std::collections::BTreeMap;

/// The drives of a campaign; random ones are made when they are asked for, from (seed, index) alone.
pub struct Plan<'a> {
    spec: &'a Spec,
    named: Vec<(String, Drive)>,
    manoeuvres: usize,
    /// What drives of some manoeuvres follow, by index.
    traces: BTreeMap<usize, Trace>,
    random: u32,
    seed: u64,
    length_ms: u32,
}

impl<'a> Plan<'a> {
    /// The plan of a run. With `only`, these manoeuvres alone and no random drives.
    ///
    /// # Errors
    /// A name in `only` that no manoeuvre has; the sentence lists the names.
    pub fn new(
        spec: &'a Spec,
        run: &Run,
        saved: Vec<(String, Drive)>,
        only: &[String],
        random: Option<u32>,
        seed: Option<u64>,
        long: bool,
    ) -> Result<Self, String> {
        let all = make::manoeuvres();
        if let Some(unknown) = only.iter().find(|name| all.iter().all(|m| m.name != name.as_str())) {
            let names: Vec<&str> = all.iter().map(|m| m.name).collect();
            return Err(format!("there is no manoeuvre \"{unknown}\"; there are: {}", names.join(", ")));
        }
        let mut named = saved;
        let before = named.len();
        let mut traces = BTreeMap::new();
        for manoeuvre in all
            .iter()
            .filter(|m| if only.is_empty() { long || !m.long } else { only.iter().any(|name| name == m.name) })
        {
            let first = named.len();
            traces.extend(make::traces(manoeuvre.name).into_iter().enumerate().map(|(at, t)| (first + at, t)));
            for (at, drive) in (manoeuvre.drives)(spec).into_iter().enumerate() {
                named.push((format!("{} {}", manoeuvre.name, at + 1), drive));
            }
        }
        let manoeuvres = named.len() - before;
        let random = random.unwrap_or(if only.is_empty() { run.random_drives } else { 0 });
        Ok(Self {
            spec,
            named,
            manoeuvres,
            traces,
            random,
            seed: seed.unwrap_or(run.seed),
            length_ms: run.drive_length.ms(),
        })
    }

    /// How many drives there are.
    #[must_use]
    pub fn len(&self) -> usize {
        self.named.len() + self.random as usize
    }

    /// Whether there are none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// (saved, manoeuvre, random) drives among the first `count`.
    #[must_use]
    pub fn kinds(&self, count: usize) -> (u32, u32, u32) {
        let saved = self.named.len() - self.manoeuvres;
        let named = count.min(self.named.len());
        let small = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
        (small(named.min(saved)), small(named.saturating_sub(saved)), small(count - named))
    }

    /// The seed of the random drives.
    #[must_use]
    pub fn seed(&self) -> u64 {
        self.seed
    }

    /// A drive by index.
    #[must_use]
    pub fn drive(&self, index: usize) -> Drive {
        match self.named.get(index) {
            Some((_, drive)) => drive.clone(),
            None => make::random_drive(self.spec, self.seed, self.random_index(index), self.length_ms),
        }
    }

    /// Whether it is a saved drive or one of a manoeuvre.
    #[must_use]
    pub fn is_named(&self, index: usize) -> bool {
        index < self.named.len()
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
        match self.named.get(index) {
            Some((name, _)) => name.clone(),
            None => format!("random {}", self.random_index(index) + 1),
        }
    }

    /// The trace that a drive follows, if any.
    #[must_use]
    pub fn trace(&self, index: usize) -> Option<&Trace> {
        self.traces.get(&index)
    }

    fn random_index(&self, index: usize) -> u32 {
        u32::try_from(index - self.named.len()).unwrap_or(u32::MAX)
    }
}
