//! The pins of this board: the emulator has no wires, so levels are kept in memory and counted.

use core::convert::Infallible;
use core::sync::atomic::{AtomicBool, AtomicU32, Ordering};

use embedded_hal::digital::{ErrorType, OutputPin};

struct Level {
    high: AtomicBool,
    changes: AtomicU32,
}

static LEVELS: [Level; 5] = [const { Level { high: AtomicBool::new(false), changes: AtomicU32::new(0) } }; 5];

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

    /// What a board does in a panic, without the pins' owner.
    pub fn all_safe() {
        for mut lamp in [Self::RELAY, Self::START, Self::FEED, Self::WAIT] {
            lamp.set(false);
        }
        Self::STOP.clone().set(true);
    }

    /// How often its level changed.
    pub fn changes(self) -> u32 {
        LEVELS[self.0].changes.load(Ordering::Relaxed)
    }

    fn set(&mut self, high: bool) {
        let level = &LEVELS[self.0];
        if level.high.load(Ordering::Relaxed) != high {
            level.high.store(high, Ordering::Relaxed);
            level.changes.store(level.changes.load(Ordering::Relaxed).wrapping_add(1), Ordering::Relaxed);
        }
    }
}

impl ErrorType for Lamp {
    type Error = Infallible;
}

impl OutputPin for Lamp {
    fn set_low(&mut self) -> Result<(), Infallible> {
        self.set(false);
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Infallible> {
        self.set(true);
        Ok(())
    }
}
