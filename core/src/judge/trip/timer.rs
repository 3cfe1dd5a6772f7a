use crate::settings::Action;
use crate::time::{Instant, Span};

/// Whether something has been so for its delay: an element's memory, the feed's and the mill's.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(crate) enum Timer {
    /// Nothing.
    #[default]
    Quiet,
    /// Picked up at this moment.
    Picked(Instant),
    /// Does what it does.
    Given,
}

/// Where the measured figure lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Level {
    /// Past the pick-up.
    Beyond,
    /// Between pick-up and drop-out: what was picked up stays so.
    Between,
    /// Short of the drop-out.
    Short,
}

/// What changes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Turn {
    /// The delay is over.
    Given,
    /// It has dropped out.
    Ended,
}

impl Level {
    /// Of something that is so or is not.
    pub(crate) const fn when(holds: bool) -> Self {
        if holds { Self::Beyond } else { Self::Short }
    }

    /// Of a figure that is worse the higher it is.
    pub(crate) fn above<T: PartialOrd>(figure: &T, pickup: &T, dropout: &T) -> Self {
        if figure > pickup {
            Self::Beyond
        } else if figure >= dropout {
            Self::Between
        } else {
            Self::Short
        }
    }

    /// Of a figure that is worse the lower it is.
    pub(crate) fn below<T: PartialOrd>(figure: &T, pickup: &T, dropout: &T) -> Self {
        if figure < pickup {
            Self::Beyond
        } else if figure <= dropout {
            Self::Between
        } else {
            Self::Short
        }
    }
}

impl Timer {
    /// Forgets what was picked up but not given: the time until now was not seen, or counts no more.
    pub(crate) fn forget(&mut self) {
        if matches!(self, Self::Picked(_)) {
            *self = Self::Quiet;
        }
    }

    /// Takes the level that holds at `now`; tells what changes, each once.
    pub(crate) fn update(&mut self, now: Instant, level: Level, delay: Span, action: Action) -> Option<Turn> {
        match (*self, level) {
            (Self::Given, Level::Short) if action != Action::Trip => {
                *self = Self::Quiet;
                return Some(Turn::Ended);
            }
            (Self::Quiet, Level::Beyond) => *self = Self::Picked(now),
            (Self::Picked(_), Level::Short) => *self = Self::Quiet,
            _ => {}
        }
        if let Self::Picked(since) = *self
            && now.since(since) >= delay
        {
            *self = Self::Given;
            return Some(Turn::Given);
        }
        None
    }

    /// Whether something that is so or is not has held for a delay, and still does.
    pub(crate) fn held(&mut self, now: Instant, holds: bool, delay: Span) -> bool {
        self.update(now, Level::when(holds), delay, Action::FeedStop);
        *self == Self::Given
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn waits_forgets_and_latches() {
        let mut t = Timer::default();
        let delay = Span(5 << 16);
        let mut at = |n: u64, level| t.update(Instant(n << 16), level, delay, Action::Trip);
        assert_eq!(at(0, Level::Beyond), None);
        assert_eq!(at(4, Level::Between), None, "held between pick-up and drop-out");
        assert_eq!(at(4, Level::Short), None, "dropped out");
        assert_eq!(at(6, Level::Between), None, "between does not pick up");
        assert_eq!(at(7, Level::Beyond), None, "starts from zero");
        assert_eq!(at(11, Level::Beyond), None);
        assert_eq!(at(12, Level::Beyond), Some(Turn::Given));
        assert_eq!(at(99, Level::Beyond), None, "once");
        assert_eq!(at(100, Level::Short), None);
        assert_eq!(t, Timer::Given, "a trip never clears itself");
        let mut at_once = Timer::default();
        assert_eq!(at_once.update(Instant(3), Level::Beyond, Span::ZERO, Action::Trip), Some(Turn::Given));
    }

    #[test]
    fn what_is_held_is_so_until_it_ends() {
        let mut t = Timer::default();
        let told: [bool; 8] = core::array::from_fn(|n| {
            let holds = n != 0 && n != 5;
            t.held(Instant((n as u64) << 16), holds, Span(2 << 16))
        });
        assert_eq!(told, [false, false, false, true, true, false, false, false]);
        assert!(Timer::default().held(Instant(3), true, Span::ZERO), "no delay");
    }

    #[test]
    fn what_does_not_trip_ends_by_itself() {
        for action in [Action::FeedStop, Action::Warning] {
            let mut t = Timer::default();
            let mut at = |n: u64, level| t.update(Instant(n << 16), level, Span(2 << 16), action);
            assert_eq!(at(0, Level::Beyond), None);
            assert_eq!(at(2, Level::Beyond), Some(Turn::Given));
            assert_eq!(at(3, Level::Between), None, "not yet");
            assert_eq!(at(4, Level::Short), Some(Turn::Ended));
            assert_eq!(at(5, Level::Between), None);
            assert_eq!(at(6, Level::Beyond), None, "the delay begins anew");
        }
    }
}
