//! Starts the box with damaged maps and looks whether it engages.

use super::rig::Rig;
use crate::closed_loop::ClosedLoop;
use crate::drive::Drive;
use crate::make::DAMAGES;
use crate::outcome::Measure;
use crate::rules::bad_map_refused;
use crate::signal::Announcement;
use crate::spec::Spec;
use crate::spec::facts::MapFrom;
use crate::vehicle::STEP_MS;

impl Rig<'_> {
    /// The measure on a drive with one damaged map, or with all until one is taken.
    pub fn with_damaged_maps(&mut self, drive: &Drive, one: Option<usize>) -> Measure {
        if self.spec().facts.map_from == MapFrom::Own {
            return Measure::default();
        }
        let mut tried = 0;
        for (at, damage) in DAMAGES.iter().enumerate().filter(|(at, _)| one.is_none_or(|one| one == *at)) {
            let mut told = self.spec().clone();
            (damage.make)(&mut told.map);
            tried += 1;
            if let Some(at_ms) = self.engages_on(&told, drive) {
                self.note(format!("{}, damage {} of {}", damage.name, at + 1, DAMAGES.len()));
                return bad_map_refused(tried, 1, at_ms);
            }
        }
        bad_map_refused(tried, 0, drive.length_ms())
    }

    /// When it engages or commands, told this spec; a box that refuses to start, or falls silent, does not.
    fn engages_on(&self, told: &Spec, drive: &Drive) -> Option<u32> {
        let mut port = self.source().start(told).ok()?;
        let mut looped = ClosedLoop::new(self.spec(), STEP_MS);
        let rows = &looped.run(drive, port.as_mut()).rows;
        let shows = rows.iter().find(|r| {
            let closed = r.contacts.up || r.contacts.down;
            closed || r.engaged == Some(true) || r.announcement == Some(Announcement::Engaged)
        });
        shows.map(|r| r.t_ms)
    }
}
