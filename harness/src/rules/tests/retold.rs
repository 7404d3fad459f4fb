//! What the tests on the story of a recording share: telling it, and changing what was read.

use super::made::Made;
use crate::recording::{Delivered, Row};
use crate::rules::story::Story;
use crate::rules::story::handed::Excuses;
use crate::signal::{Answer, Content, Lever, Signal};
use crate::spec::Spec;

/// The story of what has been made so far.
pub(super) fn told(made: &Made) -> Story {
    let mut story = Story::default();
    story.tell(&made.spec, &made.recorded());
    story
}

/// The row of a time, ms.
pub(super) fn row(made: &mut Made, ms: u32) -> &mut Row {
    let tick = made.recording.tick_ms;
    &mut made.recording.rows[(ms / tick) as usize]
}

/// One answer more. It arrives in the tick of that time or the next one, before what that tick brings anyway.
pub(super) fn arrives(made: &mut Made, signal: Signal, content: Content, arrived_ms: u32) {
    let tick = made.recording.tick_ms;
    let answer = Answer { signal, content, arrival_ms: u64::from(arrived_ms) };
    let row = row(made, arrived_ms.next_multiple_of(tick));
    row.answers += 1;
    let (t_ms, at) = (row.t_ms, row.answers_from as usize);
    let sampled_ms = arrived_ms.saturating_sub(20);
    made.recording.delivered.insert(at, Delivered { answer, sampled_ms, arrived_ms });
    for later in made.recording.rows.iter_mut().filter(|r| r.t_ms > t_ms) {
        later.answers_from += 1;
    }
}

/// What the answer of a signal that arrives at a time holds instead.
pub(super) fn reads(made: &mut Made, signal: Signal, arrived_ms: u32, content: Content) {
    let answers = made.recording.delivered.iter_mut();
    for d in answers.filter(|d| d.answer.signal == signal && d.arrived_ms == arrived_ms) {
        d.answer.content = content;
    }
}

/// As `Made::engaged`, with a flag that rises at 800 ms.
pub(super) fn flagged(spec: Spec) -> Made {
    let mut made = Made::of(spec);
    flagged_as(&mut made);
    made
}

/// The same, of a recording in the making.
pub(super) fn flagged_as(made: &mut Made) {
    made.until(500);
    made.lever = Lever::Gate;
    made.run(300);
    made.flag = Some(true);
    made.run(200);
}

/// The flag falls now.
pub(super) fn lets_go(mut made: Made) -> Made {
    made.flag = Some(false);
    made.run(10);
    made
}

/// What could have made the box let go last.
pub(super) fn excuses(made: &Made) -> Excuses {
    told(made).hand.let_go.last().expect("the flag falls").excuses
}
