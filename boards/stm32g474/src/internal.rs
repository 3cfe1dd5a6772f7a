//! The processor's own reference, as a fifth converter reads it: against the board's, from which all converters measure.
//!
//! The four that sample have nothing to do with it: no conversion of theirs is begun, held or moved. The loop waits for eight conversions, some 125 µs, once a
//! minute, while the converters' interrupt goes on.

use cortex_m::asm;
use embassy_stm32::Peri;
use embassy_stm32::adc::{Adc, AdcConfig, SampleTime, VrefInt};
use embassy_stm32::peripherals::ADC5;
use shaftwork_stm32g474::{reference, timing};

/// Conversions that are added up.
const TIMES: u32 = 8;

/// The converter and its channel.
pub struct Internal {
    adc: Adc<'static, ADC5>,
    channel: VrefInt,
}

impl Internal {
    /// Before the other converters are set up: the third, the fourth and this one share a clock.
    pub fn new(adc: Peri<'static, ADC5>) -> Self {
        let adc = Adc::new(adc, AdcConfig::default());
        let channel = adc.enable_vrefint();
        asm::delay(timing::TIMER_HZ / 10_000); // 0.1 ms; it wants 12 µs (data sheet, from memory)
        Self { adc, channel }
    }

    /// Whether the board's reference is right.
    pub fn right(&mut self) -> bool {
        let mut sum = 0;
        for _ in 0..TIMES {
            // 15 µs to sample; it wants 4 (data sheet, from memory).
            sum += u32::from(self.adc.blocking_read(&mut self.channel, SampleTime::CYCLES640_5));
        }
        reference::right(sum / TIMES, self.channel.calibrated_value())
    }
}
