//! The contacts: what the box asks for, as a pulse where it only requests, and how the gearbox gets it.

use super::ClosedLoop;
use crate::signal::{Action, Contacts, Direction};
use crate::spec::facts::{Answers, TapWiring};
use crate::vehicle::Body;

/// Makes an ideal pulse from a request.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Pulser {
    direction: Option<Direction>,
    closed_until_ms: u32,
    free_from_ms: u32,
}

impl<B: Body> ClosedLoop<B> {
    /// The contacts from this tick on; on shared wires they close like the driver's.
    #[inline]
    pub(super) fn act(&mut self, action: Action, now_ms: u32) -> Contacts {
        let contacts = match action {
            Action::Contacts(contacts) => contacts,
            Action::Request(wish) => self.pulse(wish, now_ms),
        };
        if self.wiring == TapWiring::Shared && contacts != Contacts::OPEN {
            // Read back in parallel with the lever: a closing contact is an edge at the box's next tick.
            for (edges, closed, was) in [
                (0, contacts.up, self.contacts.up || now_ms < self.tap_until_ms[0]),
                (1, contacts.down, self.contacts.down || now_ms < self.tap_until_ms[1]),
            ] {
                if closed && !was {
                    self.tap_edges[edges] = self.tap_edges[edges].saturating_add(1);
                }
            }
        }
        contacts
    }

    fn pulse(&mut self, wish: Option<Direction>, now_ms: u32) -> Contacts {
        let Answers::Requests { width, gap } = self.answers_with else {
            // The box requests although the spec says it drives contacts: one tick of closed contact per request.
            return Contacts { up: wish == Some(Direction::Up), down: wish == Some(Direction::Down) };
        };
        if let (Some(direction), true) = (wish, now_ms >= self.pulser.free_from_ms) {
            self.pulser.direction = Some(direction);
            self.pulser.closed_until_ms = now_ms + width.ms();
            self.pulser.free_from_ms = self.pulser.closed_until_ms + gap.ms();
        }
        let closed = now_ms < self.pulser.closed_until_ms;
        Contacts {
            up: closed && self.pulser.direction == Some(Direction::Up),
            down: closed && self.pulser.direction == Some(Direction::Down),
        }
    }

    /// The contacts as the gearbox gets them.
    pub(super) fn tapped(&self, contacts: Contacts) -> Contacts {
        let Contacts { up, down } = contacts;
        if self.swapped { Contacts { up: down, down: up } } else { contacts }
    }
}
