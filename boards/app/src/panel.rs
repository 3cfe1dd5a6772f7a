//! The panel: what a person at the mill and the guards tell, each contact settled before it is believed.
//!
//! | contact | closed | open, or a broken wire |
//! |---|---|---|
//! | chain | guards and emergency stops are closed | no permit |
//! | permit | the local switch lets the feeder run | no permit |
//! | release | the button is pressed: the feed is released when it goes down | as it is |
//! | reset | the button is pressed: trips and faults are cleared when it goes down | as it is |
//! | manual | the feeder's speed is set by hand | by the governor |
//!
//! `chain` is a *status* contact of the safety circuit, which acts by wires of its own; it is read here so that the feeder does not set off
//! again by itself when a guard closes. A contact that opens is believed at once where that stops something, one that closes when it has
//! settled. A button that is down from the beginning, or welded, presses nothing.

use embedded_hal::digital::InputPin;
use shaftwork_core::{FeedInputs, FeedMode};

/// The contacts: high is closed. Each may be of another type.
#[derive(Debug)]
pub struct Contacts<C, P, L, R, M> {
    /// Status of the safety circuit.
    pub chain: C,
    /// The local switch.
    pub permit: P,
    /// Button "release the feed".
    pub release: L,
    /// Button "reset".
    pub reset: R,
    /// Switch "by hand".
    pub manual: M,
}

/// What the panel tells.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Read {
    /// For the core.
    pub feed: FeedInputs,
    /// The reset was pressed just now.
    pub reset: bool,
}

/// The contacts, settled.
#[derive(Debug)]
pub struct Panel<C, P, L, R, M> {
    contacts: Contacts<C, P, L, R, M>,
    settles: u16,
    chain: Contact,
    permit: Contact,
    release: Contact,
    reset: Contact,
    manual: Contact,
}

impl<C: InputPin, P: InputPin, L: InputPin, R: InputPin, M: InputPin> Panel<C, P, L, R, M> {
    /// A contact has closed when it was so in `settles` readings in a row: at one a block of 4 kHz ten are 20 ms, enough for a button.
    pub fn new(contacts: Contacts<C, P, L, R, M>, settles: u16) -> Self {
        let [switch, button] = [false, true].map(|closed| Contact { closed, readings: 0 });
        Self { contacts, settles, chain: switch, permit: switch, release: button, reset: button, manual: switch }
    }

    /// To be called once a block; `speed` is what the feeder's speed is set to by hand, permille.
    pub fn read(&mut self, speed: u16) -> Read {
        let Self { contacts, settles, .. } = self;
        let was_down = self.reset.closed;
        let chain = self.chain.take(contacts.chain.is_high().ok(), *settles, false);
        let permit = self.permit.take(contacts.permit.is_high().ok(), *settles, false);
        // A button that cannot be read has to be seen open before it presses anything.
        self.release.take(contacts.release.is_high().ok(), *settles, true);
        self.reset.take(contacts.reset.is_high().ok(), *settles, true);
        self.manual.take(contacts.manual.is_high().ok(), *settles, false);
        let mode = if self.manual.closed { FeedMode::Manual(speed.min(1000)) } else { FeedMode::Automatic };
        let permit = chain.zip(permit).map(|(chain, permit)| chain && permit);
        Read { feed: FeedInputs { permit, mode, release: self.release.closed }, reset: self.reset.closed && !was_down }
    }
}

/// One contact.
#[derive(Debug, Clone, Copy)]
struct Contact {
    /// What is believed. Of a button, at first, that it is down: nobody has pressed it yet.
    closed: bool,
    /// Readings in a row in which it was closed.
    readings: u16,
}

impl Contact {
    /// Whether it is closed; `None` when it cannot be read, and `unread` is believed.
    fn take(&mut self, closed: Option<bool>, settles: u16, unread: bool) -> Option<bool> {
        self.readings = if closed == Some(true) { self.readings.saturating_add(1) } else { 0 };
        self.closed = match closed {
            Some(true) => self.closed || self.readings >= settles,
            Some(false) => false,
            None => unread,
        };
        closed.map(|_| self.closed)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::testing::Mock;

    type Mocks = Panel<Mock, Mock, Mock, Mock, Mock>;

    const SETTLES: u16 = 3;

    fn panel() -> Mocks {
        let [chain, permit, release, reset, manual] = [const { false }; 5].map(|_| Mock::default());
        Panel::new(Contacts { chain, permit, release, reset, manual }, SETTLES)
    }

    fn after(panel: &mut Mocks, readings: u16) -> Read {
        (1..readings).for_each(|_| {
            panel.read(0);
        });
        panel.read(0)
    }

    #[test]
    fn a_permit_needs_both_and_is_gone_at_once() {
        let mut panel = panel();
        assert_eq!(after(&mut panel, 9).feed.permit, Some(false));
        panel.contacts.chain.high = true;
        assert_eq!(after(&mut panel, 9).feed.permit, Some(false));
        panel.contacts.permit.high = true;
        assert_eq!(after(&mut panel, SETTLES - 1).feed.permit, Some(false), "not settled yet");
        assert_eq!(after(&mut panel, 1).feed.permit, Some(true));
        panel.contacts.chain.high = false;
        assert_eq!(panel.read(0).feed.permit, Some(false));
    }

    #[test]
    fn what_cannot_be_read_is_no_permit() {
        let mut panel = panel();
        (panel.contacts.chain.high, panel.contacts.permit.high) = (true, true);
        assert_eq!(after(&mut panel, 9).feed.permit, Some(true));
        panel.contacts.permit.broken.set(true);
        assert_eq!(panel.read(0).feed.permit, None);
    }

    /// A bounce of a few readings is no press; a long press is one.
    #[test]
    fn a_reset_counts_once_when_it_goes_down() {
        let mut panel = panel();
        after(&mut panel, 1);
        let mut presses = 0;
        for down in [true, false, true, false, false, true, true, true, true, true, true, false, false] {
            panel.contacts.reset.high = down;
            presses += u8::from(panel.read(0).reset);
        }
        assert_eq!(presses, 1);
    }

    #[test]
    fn a_button_that_is_down_from_the_beginning_presses_nothing() {
        let mut panel = panel();
        panel.contacts.reset.high = true;
        assert!((0..20).all(|_| !panel.read(0).reset));
        let mut panel = self::panel();
        panel.contacts.reset.broken.set(true);
        assert!((0..20).all(|_| !panel.read(0).reset));
        panel.contacts.reset.broken.set(false);
        panel.contacts.reset.high = true;
        assert!((0..20).all(|_| !panel.read(0).reset), "it was never seen open");
        // The core counts a release when it goes down: one that is down from the beginning must not seem to.
        let mut panel = self::panel();
        panel.contacts.release.high = true;
        assert!((0..20).all(|_| panel.read(0).feed.release));
    }

    #[test]
    fn by_hand_the_speed_is_what_was_set() {
        let mut panel = panel();
        assert_eq!(panel.read(400).feed.mode, FeedMode::Automatic);
        panel.contacts.manual.high = true;
        after(&mut panel, SETTLES);
        assert_eq!(panel.read(400).feed.mode, FeedMode::Manual(400));
        assert_eq!(panel.read(4000).feed.mode, FeedMode::Manual(1000));
        assert!(!panel.read(0).feed.release);
        panel.contacts.release.high = true;
        assert!(!panel.read(0).feed.release && after(&mut panel, SETTLES).feed.release);
    }
}
