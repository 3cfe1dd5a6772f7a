//! Events that wait to be taken.

use super::event::{Event, EventKind};
use crate::time::Instant;
use heapless::Deque;

/// One half cycle gives at most nineteen: thirteen elements', a change of the motor, two of the mill, three warnings. The end of
/// a trace closes up to three: what does not change in each of them leaves room.
const EVENTS: usize = 32;

/// First in, first out.
#[derive(Debug, Clone, Default)]
pub(super) struct Queue(Deque<Event, EVENTS>);

impl Queue {
    /// Appends an event; a full queue counts it as lost.
    pub(super) fn push(&mut self, lost: &mut u32, at: Instant, kind: EventKind) {
        if self.0.push_back(Event { at, kind }).is_err() {
            *lost = lost.saturating_add(1);
        }
    }

    /// The oldest.
    pub(super) fn pop(&mut self) -> Option<Event> {
        self.0.pop_front()
    }
}
