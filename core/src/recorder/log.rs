//! Log: what happened, numbered, the latest of it.

use super::account::Account;
use super::ring::Ring;
use crate::judge::event::Event;

/// An event with its number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Entry {
    /// One more than that of the event before; after 2^32 - 1 comes nothing again.
    pub sequence: u32,
    /// What happened.
    pub event: Event,
    /// What came before it; of decisions.
    pub account: Option<Account>,
}

/// The latest events, in lent memory.
///
/// Who reads it over a link asks for what came after the last number that was seen, and sees by the first number of the answer whether something
/// was written over meanwhile.
///
/// ```
/// use shaftwork_core::{Event, EventKind, recorder::Log, time::Instant};
/// let mut memory = [None; 2];
/// let mut log = Log::new(&mut memory, 7);
/// for _ in 0..3 {
///     log.write(Event { at: Instant(0), kind: EventKind::Stop }, None);
/// }
/// assert!(log.after(6).map(|entry| entry.sequence).eq([8, 9]), "7 was written over");
/// assert_eq!(log.after(9).count(), 0);
/// assert_eq!(log.next(), 10);
/// ```
#[derive(Debug)]
pub struct Log<'a> {
    entries: Ring<'a, Option<Entry>>,
    next: u32,
}

impl<'a> Log<'a> {
    /// Empty; the first event gets the number `next`. After a power cut that is the one that a board has kept, so that numbers
    /// go on.
    #[must_use]
    pub const fn new(entries: &'a mut [Option<Entry>], next: u32) -> Self {
        Self { entries: Ring::new(entries), next }
    }

    /// Appends an event.
    pub fn write(&mut self, event: Event, account: Option<Account>) -> Entry {
        let entry = Entry { sequence: self.next, event, account };
        self.next = self.next.wrapping_add(1);
        self.entries.push(Some(entry));
        entry
    }

    /// The number that the next event gets.
    #[must_use]
    pub const fn next(&self) -> u32 {
        self.next
    }

    /// All that it holds, oldest first.
    pub fn entries(&self) -> impl DoubleEndedIterator<Item = &Entry> {
        self.entries.iter().flatten()
    }

    /// What it holds of the events after number `seen`, oldest first.
    pub fn after(&self, seen: u32) -> impl DoubleEndedIterator<Item = &Entry> {
        // By how many they are older than the next: numbers may have run over.
        let fresh = self.next.wrapping_sub(seen).wrapping_sub(1);
        self.entries().filter(move |entry| self.next.wrapping_sub(entry.sequence) <= fresh)
    }
}
