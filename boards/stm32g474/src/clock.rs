//! The clocks: a crystal of 8 MHz, from which the processor, all timers and, by a fourth, the converters get theirs.

use embassy_stm32::Config;
use embassy_stm32::rcc::{Hse, HseMode, Pll, PllMul, PllPreDiv, PllRDiv, PllSource, Sysclk, mux};
use embassy_stm32::time::Hertz;
use shaftwork_stm32g474::timing;

const CRYSTAL_HZ: u32 = 8_000_000;
const _: () = assert!(CRYSTAL_HZ / 2 * 85 / 2 == timing::TIMER_HZ, "what is set below");

/// 8 MHz / 2 x 85 / 2 = 170 MHz. Without the crystal the start waits for ever, all outputs as a reset leaves them.
pub fn config() -> Config {
    let mut config = Config::default();
    config.rcc.hsi48 = None;
    config.rcc.hse = Some(Hse { freq: Hertz(CRYSTAL_HZ), mode: HseMode::Oscillator });
    config.rcc.pll = Some(Pll {
        source: PllSource::HSE,
        prediv: PllPreDiv::DIV2,
        mul: PllMul::MUL85,
        divp: None,
        divq: None,
        divr: Some(PllRDiv::DIV2),
    });
    config.rcc.sys = Sysclk::PLL1_R;
    config.rcc.boost = true; // wanted above 150 MHz
    config.rcc.mux.adc12sel = mux::Adcsel::SYS;
    config.rcc.mux.adc345sel = mux::Adcsel::SYS;
    config
}
