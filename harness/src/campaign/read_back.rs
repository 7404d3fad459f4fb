//! What a box reads on a tap input that is wired in parallel with its own contacts, when a recording is put before it
//! again: the pulses that it gives now, not those of the recording.

use crate::recording::Row;
use crate::signal::{Action, Contacts, Inputs, Output};
use crate::spec::Spec;
use crate::spec::facts::TapWiring;

/// Contacts and their closing edges since the last tick, recorded and given now.
pub(super) struct ReadBack {
    shared: bool,
    recorded: Wire,
    now: Wire,
}

#[derive(Clone, Copy, Default)]
struct Wire {
    contacts: Contacts,
    edges: [u8; 2],
}

impl Wire {
    /// A contact that closes where the driver doesn't already hold the wire is an edge at the next tick.
    fn next(self, contacts: Contacts, row: &Row) -> Self {
        let edge = |closed: bool, was: bool, driver: bool| u8::from(closed && !was && !driver);
        let edges = [
            edge(contacts.up, self.contacts.up, row.truth.driver_up),
            edge(contacts.down, self.contacts.down, row.truth.driver_down),
        ];
        Self { contacts, edges }
    }
}

impl ReadBack {
    pub(super) fn new(spec: &Spec) -> Self {
        let shared = spec.facts.tap_wiring == TapWiring::Shared;
        Self { shared, recorded: Wire::default(), now: Wire::default() }
    }

    /// The inputs of a row, with the box's pulses of now on the wire.
    pub(super) fn inputs(&mut self, row: &Row) -> Inputs {
        let mut inputs = row.inputs;
        if row.restarted {
            // A box that starts afresh has let go of its contacts.
            (self.recorded.contacts, self.now.contacts) = (Contacts::default(), Contacts::default());
        }
        if self.shared {
            inputs.tap_up = row.truth.driver_up || self.now.contacts.up;
            inputs.tap_down = row.truth.driver_down || self.now.contacts.down;
            let edges = |read: u8, at: usize| read.saturating_sub(self.recorded.edges[at]) + self.now.edges[at];
            inputs.tap_up_edges = edges(inputs.tap_up_edges, 0);
            inputs.tap_down_edges = edges(inputs.tap_down_edges, 1);
        }
        inputs
    }

    /// What the box gave on a row. Pulses of a box that only wishes for shifts are taken as recorded.
    pub(super) fn gave(&mut self, row: &Row, output: &Output) {
        let given = match output.action {
            Action::Contacts(contacts) => contacts,
            Action::Request(_) => row.contacts,
        };
        (self.recorded, self.now) = (self.recorded.next(row.contacts, row), self.now.next(given, row));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::campaign::rig::Rig;
    use crate::controller::in_process::Builtin;
    use crate::make::random_drive;
    use std::path::Path;

    /// Where the box gives what it gave, it reads what it read; and a pulse that comes later is read later.
    #[test]
    fn a_box_reads_its_own_pulses_back() {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("specs/hauler.toml");
        let spec = crate::spec::load(&path).unwrap_or_else(|errors| panic!("{errors}"));
        assert_eq!(spec.facts.tap_wiring, TapWiring::Shared);
        let source = Builtin { fault: None };
        let mut rig = Rig::new(&spec, &source, 5.0).unwrap();
        let (mut pulses, mut taps) = (0, 0);
        for number in 0..8 {
            rig.drive(&random_drive(&spec, 1, number, 60_000));
            let rows = &rig.recording().rows;
            let (mut same, mut late) = (ReadBack::new(&spec), ReadBack::new(&spec));
            let (mut was, mut gave) = (Contacts::default(), Contacts::default());
            for row in rows.iter().filter(|row| row.powered) {
                assert_eq!(same.inputs(row), row.inputs, "at {} ms", row.t_ms);
                let read = late.inputs(row);
                assert_eq!(read.tap_up, row.truth.driver_up || gave.up && !row.restarted, "at {} ms", row.t_ms);
                taps += usize::from(row.truth.driver_up);
                pulses += usize::from(row.contacts.up);
                let gives = |contacts| Output { action: Action::Contacts(contacts), ..Output::OPEN };
                same.gave(row, &gives(row.contacts));
                late.gave(row, &gives(was));
                (gave, was) = (was, row.contacts);
            }
        }
        assert!(pulses > 20 && taps > 5, "{pulses} ticks of pulses, {taps} of taps");
    }
}
