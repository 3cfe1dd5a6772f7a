//! What comes beside the frames: speed and mass, told with the block that they came with.

use embedded_hal::digital::InputPin;
use shaftwork_app::{Beside, FrameSource, Source};
use shaftwork_core::{BLOCK, Frame};

use crate::tacho::{Edge, Tacho};

/// A contact that closes once for a mass: a belt scale's pulses.
#[derive(Debug)]
pub struct Pulses<P> {
    contact: P,
    settles: u16,
    open: u16,
    closed: u16,
    armed: bool,
}

impl<P: InputPin> Pulses<P> {
    /// A pulse counts when the contact has been closed in `settles` readings in a row after it was open in as many. There is one
    /// reading a block: where `settles` are 8 ms, pulses of 10 ms and more count, fifty a second.
    pub const fn new(contact: P, settles: u16) -> Self {
        Self { contact, settles, open: 0, closed: 0, armed: false }
    }

    /// Whether there was a pulse. A contact that cannot be read gives none, and has to be seen open anew.
    pub fn read(&mut self) -> bool {
        let closed = self.contact.is_high().ok();
        self.open = if closed == Some(false) { self.open.saturating_add(1) } else { 0 };
        self.closed = if closed == Some(true) { self.closed.saturating_add(1) } else { 0 };
        self.armed = closed.is_some() && (self.armed || self.open >= self.settles);
        let pulse = self.armed && self.closed >= self.settles;
        self.armed &= !pulse;
        pulse
    }
}

/// A tachometer's timer, as the loop sees it.
pub trait Edges {
    /// What it has seen since it was asked before.
    fn edge(&mut self) -> Edge;
}

/// Frames from `S`, with what the instruments tell.
#[derive(Debug)]
pub struct Inputs<S, E, P> {
    frames: S,
    tacho: Option<(E, Tacho)>,
    mass: Option<(Pulses<P>, u64)>,
    mass_mg: u64,
    blocks: u32,
}

impl<S: FrameSource, E: Edges, P: InputPin> Inputs<S, E, P> {
    /// Without instruments.
    pub const fn new(frames: S) -> Self {
        Self { frames, tacho: None, mass: None, mass_mg: 0, blocks: 0 }
    }

    /// With a tachometer.
    #[must_use]
    pub fn with_tacho(self, timer: E, tacho: Tacho) -> Self {
        Self { tacho: Some((timer, tacho)), ..self }
    }

    /// With a scale whose pulse stands for so many milligrams.
    #[must_use]
    pub fn with_mass(self, pulses: Pulses<P>, pulse_mg: u64) -> Self {
        Self { mass: Some((pulses, pulse_mg)), ..self }
    }

    /// Blocks that have arrived, modulo 2^32: while this moves the converters are alive.
    pub const fn blocks(&self) -> u32 {
        self.blocks
    }

    fn beside(&mut self) -> Beside {
        let mut beside = Beside::default();
        if let Some((timer, tacho)) = &mut self.tacho {
            beside.speed = tacho.read(timer.edge());
        }
        if let Some((pulses, pulse_mg)) = &mut self.mass {
            self.mass_mg = self.mass_mg.saturating_add(if pulses.read() { *pulse_mg } else { 0 });
            beside.mass_mg = Some(self.mass_mg);
        }
        beside
    }
}

impl<S: FrameSource, E: Edges, P: InputPin> FrameSource for Inputs<S, E, P> {
    fn block(&mut self, into: &mut [Frame; BLOCK]) -> Source {
        match self.frames.block(into) {
            Source::Block(_) => {
                self.blocks = self.blocks.wrapping_add(1);
                Source::Block(self.beside())
            }
            // A gap stands before a block, which asks the instruments.
            other => other,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tacho::TIMER_HZ;
    use crate::timing;
    use core::convert::Infallible;
    use embedded_hal::digital::ErrorType;
    use shaftwork_core::settings::CHANNELS;
    use shaftwork_report_bits::Speed;

    struct Contact(Vec<bool>);

    impl ErrorType for Contact {
        type Error = Infallible;
    }

    impl InputPin for Contact {
        fn is_high(&mut self) -> Result<bool, Infallible> {
            Ok(self.0.pop().unwrap_or(false))
        }
        fn is_low(&mut self) -> Result<bool, Infallible> {
            self.is_high().map(|high| !high)
        }
    }

    fn contact(levels: &str) -> Contact {
        Contact(levels.chars().rev().map(|level| level == '#').collect())
    }

    #[test]
    fn a_pulse_counts_once_when_it_has_settled() {
        for (levels, count) in [
            ("--###----###--", 2),
            ("--#-#-##--", 1),
            ("--#-#-#--", 0),
            ("####--####", 1),
            ("--##########", 1),
            ("-##-##", 0),
        ] {
            let mut pulses = Pulses::new(contact(levels), 2);
            assert_eq!((0..levels.len()).filter(|_| pulses.read()).count(), count, "{levels}");
        }
    }

    /// As the board asks: once a block, some of them late by half of one.
    #[test]
    fn pulses_of_ten_milliseconds_count_at_every_rate() {
        for rate_mhz in [2_000_000_u32, 2_500_000, 4_000_000, 8_000_000, 16_000_000] {
            let block_us = 8_000_000 / (rate_mhz / 1_000);
            let reads = (0..10_000_000 / block_us).map(|n| {
                let late = n.wrapping_mul(2_654_435_761) >> 16; // 0 to 65 535
                n * block_us + ((block_us.min(2_000) / 2 * late) >> 16)
            });
            let levels: String = reads.map(|us| if us % 20_000 < 10_000 { '-' } else { '#' }).collect();
            let mut pulses = Pulses::new(contact(&levels), timing::blocks_in(8, rate_mhz) as u16);
            assert_eq!((0..levels.len()).filter(|_| pulses.read()).count(), 500, "{rate_mhz}");
        }
    }

    struct Script(Vec<Source>);

    impl FrameSource for Script {
        fn block(&mut self, _: &mut [Frame; BLOCK]) -> Source {
            self.0.pop().unwrap_or(Source::Nothing)
        }
    }

    struct Steps(u32);

    impl Edges for Steps {
        fn edge(&mut self) -> Edge {
            self.0 += 40_000 * (TIMER_HZ / 1_000_000);
            Edge::At(self.0)
        }
    }

    #[test]
    fn instruments_are_asked_once_a_block_and_told_with_it() {
        let block = Source::Block(Beside::default());
        let script = vec![Source::Silent, block, block, Source::Nothing, block];
        let mut inputs = Inputs::new(Script(script))
            .with_tacho(Steps(0), Tacho::new(1, 9))
            .with_mass(Pulses::new(contact("-##"), 1), 250_000);
        let mut into = [Frame([0; CHANNELS]); BLOCK];
        let told: Vec<_> = (0..5).map(|_| inputs.block(&mut into)).collect();
        let Source::Block(first) = told[0] else { panic!("{told:?}") };
        assert_eq!((first.mass_mg, first.speed), (Some(0), Speed::Unchanged));
        let Source::Block(second) = told[2] else { panic!("{told:?}") };
        assert_eq!(second.mass_mg, Some(250_000));
        assert!(matches!(second.speed, Speed::At(rpm) if rpm.to_bits() == 1_500 << 12));
        assert_eq!((told[1], told[4], inputs.blocks()), (Source::Nothing, Source::Silent, 3));
    }
}
