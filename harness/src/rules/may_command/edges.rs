//! Take-overs: what the driver does that lets the box engage.

use super::{Edge, Monitor, Now, REARM_MS};
use crate::signal::Lever;
use crate::spec::facts::{ReArm, TakeOver};

impl Monitor {
    /// Lever and button: take-over edges. A lever excursion that the box may not have seen may be one or not.
    pub(super) fn take_edge(&mut self, now: &Now) {
        let in_gate = now.lever == Lever::Gate;
        if !in_gate {
            let since = *self.out_since.get_or_insert(now.ms);
            // It may only bounce, and the box still take it for in the gate.
            let bounces = now.ms - since <= self.times.unseen;
            let pressed = self.take_over == TakeOver::Button && now.button_pressed;
            if pressed && bounces && self.powered_up_ms.is_some_and(|up| up < since) && self.opened.is_none() {
                self.new_edge(Edge::Doubtful(now.ms));
            }
            return;
        }
        let excursion_ms = self.out_since.take().map(|since| now.ms - since);
        if excursion_ms.is_some() {
            self.in_since = Some(now.ms);
        }
        if let Some(ms) = excursion_ms.filter(|&ms| ms <= self.times.unseen || self.take_over == TakeOver::Button) {
            // The box may have seen it leave and let go, or taken it for a bounce and gone on.
            self.doubt = true;
            if let (Edge::Fresh(at) | Edge::Doubtful(at), true) = (self.edge, ms > self.times.bounce) {
                // Where it has seen it leave before it could engage, the return is a take-over.
                let anew = self.take_over == TakeOver::Lever && self.opened.is_none();
                (self.edge, self.perhaps_let_go) = (Edge::Doubtful(if anew { now.ms } else { at }), true);
            }
        }
        if now.button_pressed && self.perhaps_let_go && self.opened.is_some() {
            // Where it has let go this is a new hand-over, and no pause binds it any longer.
            (self.pause_until, self.perhaps_paused, self.perhaps_anew) = (None, true, true);
            self.edge = Edge::Doubtful(now.ms);
        }
        if let Some(ms) = excursion_ms.filter(|&ms| self.rearms_after(ms)) {
            let sure = ms >= REARM_MS && self.engaged_once;
            self.new_edge(if sure { Edge::Fresh(now.ms) } else { Edge::Doubtful(now.ms) });
        }
        match (self.take_over, excursion_ms) {
            (TakeOver::Lever, Some(ms)) if ms >= REARM_MS => self.new_edge(Edge::Fresh(now.ms)),
            (TakeOver::Lever, Some(ms)) if ms > self.times.unseen => self.new_edge(Edge::Doubtful(now.ms)),
            (TakeOver::Lever, Some(_)) if self.opened.is_none() && self.edge == Edge::None => {
                self.new_edge(Edge::Doubtful(now.ms));
            }
            (TakeOver::Button, _) if now.button_pressed && self.opened.is_none() => {
                // A press while the lever may still bounce: the box may not have seen it in the gate.
                let bounced_ms = self.times.unseen + self.times.tick;
                let settled = self.in_since.is_none_or(|since| now.ms - since >= bounced_ms);
                self.new_edge(if settled { Edge::Fresh(now.ms) } else { Edge::Doubtful(now.ms) });
            }
            _ => {}
        }
    }

    /// The lever, back in the gate after so long, arms a box with a button once more, or may. While the engagement still
    /// stands there is nothing to arm.
    fn rearms_after(&self, out_ms: u32) -> bool {
        let moved = out_ms + self.times.tick >= self.times.bounce;
        self.re_arm == ReArm::BackInGate && self.opened_once && self.opened.is_none() && moved
    }

    fn new_edge(&mut self, edge: Edge) {
        let at_ms = match edge {
            Edge::Fresh(at) | Edge::Doubtful(at) => at,
            Edge::None => 0,
        };
        self.perhaps_missed = self.powered_up_ms.is_some_and(|up| at_ms < up + self.times.boot);
        (self.perhaps_let_go, self.perhaps_anew) = (false, false);
        self.edge = edge;
        self.closed = None;
        self.opened = None;
        self.due_from = None;
        self.sure = false;
        self.doubt = matches!(edge, Edge::Doubtful(_));
        self.perhaps_paused = false;
        self.shown = false;
        if self.take_over == TakeOver::Lever {
            self.right_since = None;
        }
        self.strictly_since = None;
        self.right_but_ceiling = false;
    }
}
