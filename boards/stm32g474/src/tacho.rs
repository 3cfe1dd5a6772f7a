//! The tachometer: the time between two pulses of the motor's shaft is its speed.

use shaftwork_core::unit::Rpm;
use shaftwork_report_bits::Speed;

use crate::timing;

/// Counts of the pulses' timer a second: the processor's clock undivided, for it times the rounds of the converters as well.
pub const TIMER_HZ: u32 = timing::TIMER_HZ;

/// What the timer has seen since it was asked before.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Edge {
    /// Nothing.
    None,
    /// A pulse, at this count.
    At(u32),
    /// More than one: pulses come too fast to be told apart.
    Several,
}

/// Speed from pulses. A pick-up that fails and a shaft that stands look alike, so silence is no speed rather than none.
#[derive(Debug)]
pub struct Tacho {
    pulses_per_turn: u16,
    patience: u16,
    last: Option<u32>,
    waited: u16,
}

impl Tacho {
    /// Pulses in a turn of the motor's shaft, at least one; after `patience` readings without a pulse, less than 25 s, the speed is not known.
    /// One reading a block, at most one pulse between two, or the speed is lost. The loop reads when it comes to a block, early or late by part of
    /// one: three pulses in five blocks leave room for that, 300 a second at 4 kHz, 150 at 2 kHz.
    pub const fn new(pulses_per_turn: u16, patience: u16) -> Self {
        Self { pulses_per_turn, patience, last: None, waited: 0 }
    }

    /// Takes what the timer has seen, once a block.
    pub fn read(&mut self, edge: Edge) -> Speed {
        match edge {
            Edge::At(now) => {
                self.waited = 0;
                // Less than the counter's 25 s apart, where patience is less.
                self.last.replace(now).map_or(Speed::Unchanged, |before| self.speed(now.wrapping_sub(before)))
            }
            Edge::None if self.waited >= self.patience => Speed::Unchanged,
            Edge::None => {
                self.waited += 1;
                if self.waited < self.patience { Speed::Unchanged } else { self.lose() }
            }
            Edge::Several => self.lose(),
        }
    }

    fn lose(&mut self) -> Speed {
        self.last = None;
        self.waited = self.patience;
        Speed::Lost
    }

    /// 60 s over the period and the pulses of a turn, Q12. What does not fit ±524 287 rpm is no speed.
    ///
    /// Width: 60 x 1.7e8 x 4 096 is 4.2e13 of 64 bits.
    fn speed(&mut self, period: u32) -> Speed {
        let turn = u64::from(period) * u64::from(self.pulses_per_turn);
        let bits = ((60 * u64::from(TIMER_HZ)) << 12).checked_div(turn).and_then(|bits| i32::try_from(bits).ok());
        bits.map_or_else(|| self.lose(), |bits| Speed::At(Rpm::from_bits(bits)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const US: u32 = TIMER_HZ / 1_000_000;

    #[test]
    fn the_time_of_a_turn_is_the_speed() {
        for (pulses, period, rpm) in
            [(1, 40_000, 1_500.0), (1, 40_541, 1_479.983), (4, 10_000, 1_500.0), (6, 60_000, 166.667)]
        {
            let mut tacho = Tacho::new(pulses, 1_000);
            assert_eq!(tacho.read(Edge::At(u32::MAX - 5)), Speed::Unchanged, "one pulse is no time");
            let Speed::At(speed) = tacho.read(Edge::At((u32::MAX - 5).wrapping_add(period * US))) else { panic!() };
            assert!((f64::from(speed.to_bits()) / 4_096.0 - rpm).abs() < 0.001, "{speed:?}");
        }
    }

    #[test]
    fn silence_and_a_crowd_are_no_speed() {
        let mut tacho = Tacho::new(1, 3);
        tacho.read(Edge::At(0));
        assert!(matches!(tacho.read(Edge::At(40_000 * US)), Speed::At(_)));
        assert_eq!(
            [(); 5].map(|()| tacho.read(Edge::None)).map(|speed| speed == Speed::Lost),
            [false, false, true, false, false]
        );
        assert_eq!(tacho.read(Edge::At(90_000 * US)), Speed::Unchanged, "the time since then is no turn");
        assert!(matches!(tacho.read(Edge::At(130_000 * US)), Speed::At(_)));
        assert_eq!(tacho.read(Edge::Several), Speed::Lost);
        assert_eq!(tacho.read(Edge::At(150_000 * US)), Speed::Unchanged);
        assert_eq!(tacho.read(Edge::At(150_000 * US)), Speed::Lost, "no time at all");
        assert_eq!(Tacho::new(0, 3).speed(40_000 * US), Speed::Lost);
    }
}
