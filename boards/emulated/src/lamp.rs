//! The pins of this board: the emulator has no wires, so levels are kept in memory and counted.

use core::sync::atomic::{AtomicBool, AtomicU32, Ordering};

use embedded_hal::digital::{ErrorKind, ErrorType, OutputPin};

struct Level {
    high: AtomicBool,
    changes: AtomicU32,
    stuck: AtomicBool,
}

static LEVELS: [Level; 6] =
    [const { Level { high: AtomicBool::new(false), changes: AtomicU32::new(0), stuck: AtomicBool::new(false) } }; 6];

/// One pin.
#[derive(Clone, Copy)]
pub struct Lamp(usize);

impl Lamp {
    /// Trip relay.
    pub const RELAY: Self = Self(0);
    /// Lamp "feed".
    pub const FEED: Self = Self(1);
    /// Lamp "wait".
    pub const WAIT: Self = Self(2);
    /// Lamp "stop".
    pub const STOP: Self = Self(3);
    /// Start contact.
    pub const START: Self = Self(4);
    /// Contact "all is well".
    pub const WELL: Self = Self(5);

    /// What a board does in a panic, without the pins' owner.
    pub fn all_safe() {
        for mut lamp in [Self::RELAY, Self::START, Self::FEED, Self::WAIT, Self::WELL] {
            let _ = lamp.set(false); // nothing more can be done for one that fails
        }
        let _ = Self::STOP.clone().set(true);
    }

    /// How often its level changed.
    pub fn changes(self) -> u32 {
        LEVELS[self.0].changes.load(Ordering::Relaxed)
    }

    /// Whether it is high.
    pub fn high(self) -> bool {
        LEVELS[self.0].high.load(Ordering::Relaxed)
    }

    /// From now on it cannot be set, and says so.
    pub fn stick(self) {
        LEVELS[self.0].stuck.store(true, Ordering::Relaxed);
    }

    fn set(&mut self, high: bool) -> Result<(), ErrorKind> {
        let level = &LEVELS[self.0];
        if level.stuck.load(Ordering::Relaxed) {
            return Err(ErrorKind::Other);
        }
        if level.high.load(Ordering::Relaxed) != high {
            level.high.store(high, Ordering::Relaxed);
            level.changes.store(level.changes.load(Ordering::Relaxed).wrapping_add(1), Ordering::Relaxed);
        }
        Ok(())
    }
}

impl ErrorType for Lamp {
    type Error = ErrorKind;
}

impl OutputPin for Lamp {
    fn set_low(&mut self) -> Result<(), ErrorKind> {
        self.set(false)
    }

    fn set_high(&mut self) -> Result<(), ErrorKind> {
        self.set(true)
    }
}
