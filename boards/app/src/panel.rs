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
//! again by itself when a guard closes. A switch that opens is believed at once, one that closes when it has settled. A button presses
//! when it closes after it has been open for a while: one that is down from the beginning, welded, chattering or not to be read presses
//! nothing.

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
    chain: Switch,
    permit: Switch,
    manual: Switch,
    release: Button,
    reset: Button,
}

impl<C: InputPin, P: InputPin, L: InputPin, R: InputPin, M: InputPin> Panel<C, P, L, R, M> {
    /// A contact has closed, and a button has opened, when it was so in `settles` readings in a row: at one a block of 4 kHz ten are
    /// 20 ms, enough for a button.
    pub fn new(contacts: Contacts<C, P, L, R, M>, settles: u16) -> Self {
        let (switch, button) = (Switch::default(), Button::default());
        Self { contacts, settles, chain: switch, permit: switch, manual: switch, release: button, reset: button }
    }

    /// The same contacts, read at another pace from now on. Nothing has settled: a button that is down has to be let go first.
    #[must_use]
    pub fn anew(self, settles: u16) -> Self {
        Self::new(self.contacts, settles)
    }

    /// To be called once a block; `speed` is what the feeder's speed is set to by hand, permille.
    pub fn read(&mut self, speed: u16) -> Read {
        let Self { contacts, settles, .. } = self;
        let was_pressed = self.reset.pressed;
        let chain = self.chain.take(contacts.chain.is_high().ok(), *settles);
        let permit = self.permit.take(contacts.permit.is_high().ok(), *settles);
        let manual = self.manual.take(contacts.manual.is_high().ok(), *settles);
        self.release.take(contacts.release.is_high().ok(), *settles);
        self.reset.take(contacts.reset.is_high().ok(), *settles);
        let mode = if manual == Some(true) { FeedMode::Manual(speed.min(1000)) } else { FeedMode::Automatic };
        let permit = chain.zip(permit).map(|(chain, permit)| chain && permit);
        let feed = FeedInputs { permit, mode, release: self.release.pressed };
        Read { feed, reset: self.reset.pressed && !was_pressed }
    }
}

/// A contact that stands where it was put.
#[derive(Debug, Clone, Copy, Default)]
struct Switch {
    /// Readings in a row in which it was closed.
    closed: u16,
}

impl Switch {
    /// Whether it is closed; `None` when it cannot be read. Open is believed at once.
    fn take(&mut self, closed: Option<bool>, settles: u16) -> Option<bool> {
        self.closed = if closed == Some(true) { self.closed.saturating_add(1) } else { 0 };
        closed.map(|_| self.closed >= settles)
    }
}

/// A button: it presses when it closes after it has been open for a while, and only then.
#[derive(Debug, Clone, Copy, Default)]
struct Button {
    pressed: bool,
    /// It has been open for long enough since it was pressed, or could not be read.
    armed: bool,
    /// Readings in a row in which it was open, or closed.
    open: u16,
    closed: u16,
}

impl Button {
    #[inline(never)] // one for both buttons
    fn take(&mut self, closed: Option<bool>, settles: u16) {
        self.open = if closed == Some(false) { self.open.saturating_add(1) } else { 0 };
        self.closed = if closed == Some(true) { self.closed.saturating_add(1) } else { 0 };
        match closed {
            Some(true) if self.armed && self.closed >= settles => (self.pressed, self.armed) = (true, false),
            Some(true) => {}
            Some(false) => (self.pressed, self.armed) = (false, self.armed || self.open >= settles),
            None => (self.pressed, self.armed) = (false, false),
        }
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
    fn at_another_pace_nothing_has_settled() {
        let mut panel = panel();
        panel.contacts.permit.high = true;
        panel.contacts.chain.high = true;
        after(&mut panel, SETTLES);
        panel.contacts.reset.high = true;
        assert!(after(&mut panel, SETTLES).reset);
        let mut panel = panel.anew(2 * SETTLES);
        let read = after(&mut panel, 2 * SETTLES - 1);
        assert_eq!((read.feed.permit, read.reset), (Some(false), false));
        assert_eq!(after(&mut panel, 1).feed.permit, Some(true));
        assert!((0..99).all(|_| !panel.read(0).reset), "down since before");
        panel.contacts.reset.high = false;
        after(&mut panel, 2 * SETTLES);
        panel.contacts.reset.high = true;
        assert!(!after(&mut panel, 2 * SETTLES - 1).reset && after(&mut panel, 1).reset);
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

    /// What the reset and the release do over some readings: `-` open, `#` closed, `?` not to be read; how often each is pressed.
    fn presses(readings: &str) -> [u32; 2] {
        let mut panel = panel();
        let (mut count, mut released) = ([0, 0], false);
        for reading in readings.chars() {
            for button in [&mut panel.contacts.reset, &mut panel.contacts.release] {
                button.high = reading == '#';
                button.broken.set(reading == '?');
            }
            let read = panel.read(0);
            count[0] += u32::from(read.reset);
            // As the core counts it: when it goes down.
            count[1] += u32::from(read.feed.release && !released);
            released = read.feed.release;
        }
        count
    }

    #[test]
    fn a_button_presses_once_when_it_closes_after_it_was_open() {
        for (readings, pressed) in [
            ("---######---", 1),
            ("---######---###---", 2),
            // Bounces, and a contact that chatters while it is held or welded.
            ("---#-##-#-####---", 1),
            ("---####-####-#####", 1),
            ("---##-##-##", 0),
            // Down from the beginning, or never settled open.
            ("############", 0),
            ("--##########", 0),
            ("#####-#####--####", 0),
            ("#####---###", 1),
            // What cannot be read presses nothing, nor does what comes after it before it was seen open.
            ("---????????", 0),
            ("---???#####", 0),
            ("???########", 0),
            ("---??---###", 1),
            ("---####??####", 1),
        ] {
            assert_eq!(presses(readings), [pressed; 2], "{readings}");
        }
    }

    #[test]
    fn by_hand_the_speed_is_what_was_set() {
        let mut panel = panel();
        assert_eq!(panel.read(400).feed.mode, FeedMode::Automatic);
        panel.contacts.manual.high = true;
        after(&mut panel, SETTLES);
        assert_eq!(panel.read(400).feed.mode, FeedMode::Manual(400));
        assert_eq!(panel.read(4000).feed.mode, FeedMode::Manual(1000));
    }
}
