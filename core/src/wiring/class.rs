//! Sets of faults that explain the same figures, and the search for the smallest.

use super::fault::Faults;

/// Sets of faults that explain the same figures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Hash)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Class {
    sets: [Faults; Class::LARGEST],
    count: u8,
}

impl Class {
    /// Sets that are kept.
    pub const LARGEST: usize = 8;

    /// The sets, the likeliest first; none when nothing explains the figures.
    #[must_use]
    pub fn sets(&self) -> &[Faults] {
        self.sets.get(..usize::from(self.count)).unwrap_or(&[])
    }

    fn add(&mut self, set: Faults) {
        if self.sets().contains(&set) {
            return;
        }
        if let Some(place) = self.sets.get_mut(usize::from(self.count)) {
            *place = set;
            self.count += 1;
        }
    }
}

/// The explanations with the fewest faults.
pub(super) struct Best {
    /// As far as they are known.
    pub(super) class: Class,
    /// How many faults each of its sets has.
    pub(super) count: u32,
    off: u32,
}

impl Default for Best {
    fn default() -> Self {
        Self { class: Class::default(), count: u32::MAX, off: 0 }
    }
}

impl Best {
    /// A set with what it leaves unexplained, 1/1000.
    pub(super) fn offer(&mut self, set: Faults, off: u32) {
        let count = set.count();
        if count > self.count {
            return;
        }
        if count < self.count {
            *self = Self { class: Class::default(), count, off };
        }
        if off < self.off {
            // The likeliest comes first.
            let mut class = Class::default();
            class.add(set);
            self.class.sets().iter().for_each(|other| class.add(*other));
            (self.class, self.off) = (class, off);
        } else {
            self.class.add(set);
        }
    }
}
