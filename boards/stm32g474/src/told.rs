//! Why the board is in its safe state, for a person to read off the lamp "stop", and kept over a reset.
//!
//! A cause has a number of two figures: as many flashes as the first, a pause, as many as the second, a longer pause. Lit and dark both mean
//! stop. The table is [`Cause`]; the board's page has the same, and a test compares them.

use core::sync::atomic::{AtomicU8, AtomicU32, Ordering};

use embedded_hal::digital::{ErrorType, OutputPin};
use shaftwork_app::Fault;
use shaftwork_core::judge::notice::Begin;

use crate::settings::Refused;

/// A cause, its number, and its words.
macro_rules! causes {
    ($($name:ident $number:literal $words:literal)*) => {
        /// Why the outputs are safe.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        #[repr(u8)]
        pub enum Cause {
            $(#[doc = $words] $name = $number,)*
        }

        impl Cause {
            /// All of them.
            pub const ALL: &[Self] = &[$(Self::$name),*];

            /// As the page has it.
            pub const fn words(self) -> &'static str {
                match self {
                    $(Self::$name => $words,)*
                }
            }
        }
    };
}

causes! {
    FramesLost 11 "frames were lost: the queue ran over, or the interrupt missed rounds"
    Silent 12 "the converters are silent"
    HalfReference 13 "half the reference is wrong by 2 %"
    Reference 14 "the reference is wrong by 2 %, by the processor's own"
    Supply 15 "the supply fell below its detector's level"
    Output 16 "an output cannot be set"
    LoopHung 21 "the loop hung: the watchdog came, and nothing else was noted"
    Panicked 22 "the program panicked"
    Processor 23 "the processor met a wrong address or instruction"
    Crystal 24 "the crystal stopped"
    ProgramMemory 25 "the program's own flash has an error"
    UnknownReset 26 "a reset that the processor does not tell"
    Options 31 "BOR_LEV, nSWBOOT0 or nBOOT0 is not as this page says"
    Banks 32 "DBANK or BFB2 is not as this page says"
    SettingsBlank 33 "nobody has flashed settings"
    SettingsUnreadable 34 "settings are cut, changed or of another layout"
    SettingsOther 35 "settings are for other converters, or outside their ranges"
    StoreLayout 41 "the store in the flash is of another firmware"
    StoreForgotten 42 "the store does not give what it kept"
    Injecting 51 "commissioning: elements are tried, outputs are blocked"
    Proven 52 "commissioning is over: all proven"
    NotProven 53 "commissioning is over: NOT all proven, or an output did not do what it should"
}

impl Cause {
    /// Two figures, none of them nought.
    pub const fn number(self) -> u8 {
        self as u8
    }

    /// Why the loop keeps the outputs safe.
    pub const fn of_fault(fault: Fault) -> Self {
        match fault {
            Fault::Missing(_) => Self::FramesLost,
            Fault::Silent => Self::Silent,
            Fault::Pin => Self::Output,
            Fault::Supply => Self::Supply,
            Fault::Forgotten => Self::StoreForgotten,
        }
    }

    /// Why settings are refused.
    pub const fn of_settings(refused: Refused) -> Self {
        match refused {
            Refused::Blank => Self::SettingsBlank,
            Refused::Unreadable(_) => Self::SettingsUnreadable,
            Refused::OtherConverters => Self::SettingsOther,
        }
    }

    /// Why the life before ended, from what reset the processor and from what that life left. Where there is anything to tell the outputs stay safe until a
    /// person has pressed "reset": else a fault that comes again would make the relay chatter.
    ///
    /// After a person's reset there is nothing, nor after power, unless memory outlasts a dip in which one was waited for. A reset by software is a person's
    /// with a probe, for no code here asks for one: a panic and a fault wait for the watchdog.
    pub const fn of_life_before(begin: Begin, left: Option<Self>) -> Option<Self> {
        match (begin, left) {
            (Begin::Watchdog, Some(left)) => Some(left),
            (Begin::Watchdog, None) => Some(Self::LoopHung),
            (Begin::PowerOn | Begin::BrownOut, None | Some(Self::Supply)) | (Begin::Software | Begin::Pin, _) => None,
            (Begin::PowerOn | Begin::BrownOut, left) => left,
            _ => Some(Self::UnknownReset),
        }
    }

    /// What is left in memory while a person is waited for. A loop that hung after the supply had failed must not look like a supply that failed:
    /// from that the life after begins by itself.
    #[must_use]
    pub const fn until_pressed(self) -> Self {
        match self {
            Self::Supply => Self::LoopHung,
            cause => cause,
        }
    }
}

/// What reset the processor, with what the life before left: power that sags and power that comes have one flag, but before it sagged its detector told.
pub const fn begin(reset: Begin, left: Option<Cause>) -> Begin {
    match (reset, left) {
        (Begin::PowerOn, Some(Cause::Supply)) => Begin::BrownOut,
        _ => reset,
    }
}

/// In front of a number that is kept over a reset: what memory holds when power comes is anything.
const MARK: u32 = 0x5afe_c500;

/// What is left in memory for the life after: it counts with its complement beside it.
pub const fn words(cause: Option<Cause>) -> [u32; 2] {
    let word = MARK | if let Some(cause) = cause { cause.number() as u32 } else { 0 };
    [word, !word]
}

/// What the life before has left, if anything.
pub fn left([word, complement]: [u32; 2]) -> Option<Cause> {
    if word != !complement {
        return None;
    }
    Cause::ALL.iter().copied().find(|cause| words(Some(*cause))[0] == word)
}

/// A flash, lit and dark, ms.
const FLASH_MS: u32 = 500;
const LIT_MS: u32 = 200;
/// Dark between the figures, and after them, beside a flash's own dark part.
const BETWEEN_MS: u32 = 1_000;
const AFTER_MS: u32 = 2_500;

/// Whether the lamp is lit.
const fn lit(number: u8, ms: u32) -> bool {
    let [first, second] = [number / 10, number % 10];
    let [first, second] = [first as u32 * FLASH_MS, second as u32 * FLASH_MS];
    let at = ms % (first + BETWEEN_MS + second + AFTER_MS);
    let second_at = at.wrapping_sub(first + BETWEEN_MS);
    (at < first || second_at < second) && (if at < first { at } else { second_at }) % FLASH_MS < LIT_MS
}

/// What is told, and the time.
#[derive(Debug)]
pub struct Telling {
    number: AtomicU8,
    ms: AtomicU32,
}

impl Telling {
    /// Nothing is wrong.
    #[expect(clippy::new_without_default, reason = "made as a static")]
    pub const fn new() -> Self {
        Self { number: AtomicU8::new(0), ms: AtomicU32::new(0) }
    }

    /// From now on this is told, from its first flash on.
    pub fn tell(&self, cause: Option<Cause>) {
        let number = cause.map_or(0, Cause::number);
        if self.number.swap(number, Ordering::Relaxed) != number {
            self.ms.store(0, Ordering::Relaxed);
        }
    }

    /// A millisecond has passed. Called by one interrupt alone.
    pub fn tick(&self) {
        self.ms.store(self.ms.load(Ordering::Relaxed).wrapping_add(1), Ordering::Relaxed);
    }

    fn lit(&self) -> bool {
        let number = self.number.load(Ordering::Relaxed);
        number == 0 || lit(number, self.ms.load(Ordering::Relaxed))
    }
}

/// The lamp "stop": flashes while it should be lit and there is something to tell. It has to be written again and again, as the safe state is.
#[derive(Debug)]
pub struct StopLamp<P> {
    pin: P,
    telling: &'static Telling,
}

impl<P> StopLamp<P> {
    /// On this pin.
    pub const fn new(pin: P, telling: &'static Telling) -> Self {
        Self { pin, telling }
    }
}

impl<P: ErrorType> ErrorType for StopLamp<P> {
    type Error = P::Error;
}

impl<P: OutputPin> OutputPin for StopLamp<P> {
    fn set_low(&mut self) -> Result<(), P::Error> {
        self.pin.set_low()
    }

    fn set_high(&mut self) -> Result<(), P::Error> {
        self.pin.set_state(self.telling.lit().into())
    }
}

#[cfg(test)]
mod tests;
