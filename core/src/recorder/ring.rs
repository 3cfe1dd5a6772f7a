//! A ring over lent memory: it holds the latest of what it was given.

/// Holds as many as the lent slice has room for; the oldest make room.
///
/// ```
/// use shaftwork_core::recorder::Ring;
/// let mut memory = [0; 3];
/// let mut ring = Ring::new(&mut memory);
/// (1..=4).for_each(|n| ring.push(n));
/// assert!(ring.iter().eq(&[2, 3, 4]));
/// ```
#[derive(Debug)]
pub struct Ring<'a, T> {
    slots: &'a mut [T],
    /// Place of the next one, below the slots' number but where there is none.
    next: usize,
    filled: usize,
}

impl<'a, T: Copy> Ring<'a, T> {
    /// Empty; what the slots hold is written over.
    #[must_use]
    pub const fn new(slots: &'a mut [T]) -> Self {
        Self { slots, next: 0, filled: 0 }
    }

    /// For how many there is room.
    #[must_use]
    pub const fn capacity(&self) -> usize {
        self.slots.len()
    }

    /// How many it holds.
    #[must_use]
    pub const fn len(&self) -> usize {
        self.filled
    }

    /// Whether it holds nothing.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.filled == 0
    }

    /// Appends one; without room for any, nothing happens.
    pub fn push(&mut self, one: T) {
        let Some(place) = self.slots.get_mut(self.next) else { return };
        *place = one;
        self.next = if self.next + 1 < self.slots.len() { self.next + 1 } else { 0 };
        self.filled = if self.filled < self.slots.len() { self.filled + 1 } else { self.slots.len() };
    }

    /// Forgets all.
    pub const fn clear(&mut self) {
        self.next = 0;
        self.filled = 0;
    }

    /// What it holds, oldest first.
    pub fn iter(&self) -> impl DoubleEndedIterator<Item = &T> {
        let full = self.filled == self.slots.len();
        let (earlier, later) = self.slots.split_at_checked(self.next).unwrap_or_default();
        let later = if full { later } else { &[] };
        later.iter().chain(earlier)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    extern crate std;
    use std::vec::Vec;

    #[test]
    fn holds_the_latest_of_any_number_in_any_room() {
        for room in 0..5 {
            let mut memory = [0; 5];
            let mut ring = Ring::new(&mut memory[..room]);
            for given in 0..12_usize {
                let wanted: Vec<_> = (given.saturating_sub(room)..given).collect();
                assert!(ring.iter().eq(&wanted), "{given} into {room}");
                assert_eq!((ring.len(), ring.is_empty(), ring.capacity()), (wanted.len(), wanted.is_empty(), room));
                assert!(ring.iter().rev().eq(wanted.iter().rev()));
                ring.push(given);
            }
            ring.clear();
            assert!(ring.iter().next().is_none());
        }
    }
}
